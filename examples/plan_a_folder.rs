//! A lot read from a folder, planned, told, stored and read back: `cargo run --release --example plan_a_folder [FOLDER]`.

use quarterlight::output::text;
use quarterlight::{Assessed, Options, assess};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "data-samples/demo".into());
    let plan = assess(folder.as_ref(), &Options::default(), &|_| ())?;
    print!("{}", text::forecast_lines(&plan));
    let stored = std::env::temp_dir().join(format!("plan-{}.json", std::process::id()));
    std::fs::write(&stored, plan.to_json())?;
    let back = Assessed::from_json(&std::fs::read_to_string(&stored)?)?;
    std::fs::remove_file(&stored)?;
    println!("read back, it says the same: {}", if back == plan { "yes" } else { "no" });
    Ok(())
}
