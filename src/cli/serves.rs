//! `screen --for`: what each tube serves best.

use super::args::ScreenArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::{job, sink};
use quarterlight::lot::serves::ServeOrder;
use quarterlight::output::{doubts, serves};
use std::process::ExitCode;

/// Plans a lot for several sets.
pub fn run(args: &ScreenArgs) -> Result<ExitCode, Failure> {
    let (plan, show) = (&args.view.lot.plan, &args.view.lot.show);
    let lot = job::prepared(&args.view.lot.lot, plan)?;
    let names: Vec<String> = args.sets.iter().map(|n| n.trim().to_string()).filter(|n| !n.is_empty()).collect();
    if names.is_empty() {
        return Err(Failure::Choice {
            what: "--for names no set".into(),
            fix: "name some, such as clarinet,oboe, or all".into(),
        });
    }
    let order = ServeOrder { names, values: args.values.clone() };
    let made = job::serve(&lot, &order, plan)?;
    print_findings(&made.findings, false);
    let units = show.units(&lot.lot);
    if show.json {
        sink::put(&made.to_json(), show)?;
    } else if show.csv {
        sink::put(&serves::table(&made, units).to_csv(), show)?;
    } else {
        let fits = made.tubes.iter().filter_map(|t| t.served.as_ref().ok()).map(|t| &t.fit);
        let doubted = doubts::doubt_lines(&lot.lot, fits, units);
        let apart = if doubted.is_empty() { String::new() } else { format!("\n{doubted}") };
        sink::put(&format!("{}{apart}", serves::text(&made, units)), show)?;
    }
    Ok(code_after(&made.findings))
}
