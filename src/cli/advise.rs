//! `advise`: what to measure next, and when to stop.

use super::args::AdviseArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::{job, sink};
use quarterlight::output::advice;
use std::process::ExitCode;

/// Advice on every tube of a lot.
pub fn run(args: &AdviseArgs) -> Result<ExitCode, Failure> {
    let lot = job::prepared(&args.lot.lot, &args.lot.plan)?;
    let advised = job::advise(&lot, args)?;
    print_findings(&lot.findings, false);
    let (show, units) = (&args.lot.show, args.lot.show.units(&lot.lot));
    if show.json {
        sink::put(&advised.to_json(), show)?;
    } else if show.csv {
        sink::put(&advice::table(&advised, units).to_csv(), show)?;
    } else {
        sink::put(&advice::text(&advised, units), show)?;
    }
    Ok(code_after(&lot.findings))
}
