//! `check`: what is wrong or odd about a lot's files, and which readings do not agree with the rest of their tube.

use super::args::CheckArgs;
use super::diagnostics::{Failure, SCALE_NAMES, code_after};
use super::{folder, job, sink};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::{Finding, Place, Severity};
use quarterlight::lot::{Checked, LotError, Prepared};
use quarterlight::output::{doubts, scan_report, tables, text, ways};
use quarterlight::tube::{PopulationError, feet_asked};
use std::process::ExitCode;

/// Figures are not shown, so they need no more draws than the least.
const CHECKED: PlanOptions = PlanOptions { seed: 1, draws: 20 };

/// Reads the lot and lists every finding; what stops the fits is told after them.
pub fn run(args: &CheckArgs) -> Result<ExitCode, Failure> {
    let lot = Prepared::read(&args.lot, &[])?;
    let units = args.show.units(&lot.lot);
    let mut findings = lot.findings.clone();
    findings.extend(folder::unfinished_below(&args.lot));
    findings.extend(feet_asked(&lot.lot));
    let fits = job::fit(&lot, CHECKED);
    let no_scale = match &fits {
        Err(Failure::Lot(LotError::Population(e))) => Some(no_such_scale(e)),
        _ => None,
    };
    findings.splice(0..0, no_scale.clone());
    if let Ok(fits) = &fits {
        findings.extend(doubts::doubts_found(&lot.lot, fits.fitted(), units));
    }
    let shown = if args.show.json {
        Checked::of(&lot, findings.clone()).to_json()
    } else if args.show.csv {
        tables::findings_table(&findings).to_csv()
    } else {
        let mut out = String::new();
        for f in &findings {
            out.push_str(&format!("{f}\n"));
        }
        out.push_str(&scan_report::check_lines(&lot.lot, units));
        if let Ok(fits) = &fits {
            out.push_str(&ways::way_lines(&lot.lot, &fits.fits, units));
        }
        out.push_str(&text::check_lines(&lot.lot, &lot.files, &findings));
        out
    };
    sink::put(&shown, &args.show)?;
    if no_scale.is_none() {
        fits?;
    }
    Ok(code_after(&findings))
}

/// A name under `[population]` that is no scale, as a finding: to mend like any other.
fn no_such_scale(error: &PopulationError) -> Finding {
    Finding {
        severity: Severity::Error,
        place: Place { file: "lot.toml".into(), line: 0, column: "population".into() },
        found: error.names.join(", "),
        expected: "names of scales".into(),
        fix: SCALE_NAMES.into(),
        tube: None,
    }
}
