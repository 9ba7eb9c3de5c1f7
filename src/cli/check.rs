//! `check`: what is wrong or odd about a lot's files, and which readings do not agree with the rest of their tube.

use super::args::CheckArgs;
use super::diagnostics::{Failure, code_after};
use super::{job, sink};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::output::{doubts, json, scan_report, tables, text};
use quarterlight::readings::read_lot;
use quarterlight::tube::scan::unroll_lot;
use quarterlight::tube::{Model, ScanFigures};
use std::process::ExitCode;

/// Figures are not shown, so they need no more draws than the least.
const CHECKED: PlanOptions = PlanOptions { seed: 1, draws: 20 };

/// Reads the lot and lists every finding.
pub fn run(args: &CheckArgs) -> Result<ExitCode, Failure> {
    let mut read = read_lot(&args.lot)?;
    read.findings.extend(unroll_lot(&mut read.lot));
    let units = args.show.units.units();
    let model = Model::of(&read.lot);
    if let Ok(model) = &model {
        let fits = job::fit_all(&read.lot, model, CHECKED);
        read.findings.extend(doubts::doubts_found(&read.lot, fits.iter().filter_map(|f| f.fit.as_ref().ok()), units));
    }
    let shown = if args.show.json {
        let value = serde_json::json!({
            "format": 1,
            "lot": read.lot.name,
            "files": read.files,
            "tubes": read.lot.tubes.len(),
            "readings": read.lot.tubes.iter().map(|t| t.readings.len()).sum::<usize>(),
            "scans": read.lot.tubes.iter().filter(|t| t.scan.is_some()).map(|t| serde_json::json!({
                "tube": t.name, "scan": scan_report::scan_json(ScanFigures::of(t).as_ref()),
            })).collect::<Vec<_>>(),
            "tubes_in_doubt": read.lot.tubes.iter().filter(|t| t.in_doubt).map(|t| &t.name).collect::<Vec<_>>(),
            "findings": read.findings.iter().map(json::finding).collect::<Vec<_>>(),
        });
        format!("{value:#}\n")
    } else if args.show.csv {
        tables::findings_table(&read.findings).to_csv()
    } else {
        let mut out = String::new();
        for f in &read.findings {
            out.push_str(&format!("{f}\n"));
        }
        out.push_str(&scan_report::check_lines(&read.lot));
        out.push_str(&text::check_lines(&read.lot, &read.files, &read.findings));
        out
    };
    sink::put(&shown, &args.show)?;
    model.map_err(|e| Failure::Population { names: e.names })?;
    Ok(code_after(&read.findings))
}
