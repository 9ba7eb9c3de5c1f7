//! A lot read from a folder, planned, told, stored and read back: `cargo run --release --example plan_a_folder [FOLDER]`.

use quarterlight::output::show::Units;
use quarterlight::output::text;
use quarterlight::{Assessed, Options, assess};
use std::path::Path;

#[allow(dead_code, reason = "the test that repeats this includes the file and calls `plan_a_folder` itself")]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "data-samples/demo".into());
    let stored = std::env::temp_dir().join(format!("quarterlight-plan-{}.json", std::process::id()));
    print!("{}", plan_a_folder(folder.as_ref(), &stored)?);
    Ok(std::fs::remove_file(&stored)?)
}

/// Plans the lot in `folder`, stores the plan, and tells the forecast from what is read back.
///
/// # Errors
/// When the lot cannot be read or the plan not be stored.
pub fn plan_a_folder(folder: &Path, stored: &Path) -> Result<String, Box<dyn std::error::Error>> {
    let plan = assess(folder, &Options::default(), &|_| ())?;
    std::fs::write(stored, plan.to_json())?;
    let back = Assessed::from_json(&std::fs::read_to_string(stored)?)?;
    let same = if back == plan { "the same" } else { "something else" };
    Ok(format!("{}read back, it says {same}\n", text::forecast_lines(&back, Units::Mm)))
}
