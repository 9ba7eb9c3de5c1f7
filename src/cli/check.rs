//! `check`: what is wrong or odd about a lot's files, and which readings do not agree with the rest of their tube.

use super::args::CheckArgs;
use super::diagnostics::{Failure, code_after};
use super::{folder, job, sink};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::output::{doubts, json, scan_report, tables, text};
use quarterlight::readings::read_lot;
use quarterlight::tube::Population;
use quarterlight::tube::ScanFigures;
use quarterlight::tube::scan::unroll_lot;
use std::process::ExitCode;

/// Figures are not shown, so they need no more draws than the least.
const CHECKED: PlanOptions = PlanOptions { seed: 1, draws: 20 };

/// Reads the lot and lists every finding.
pub fn run(args: &CheckArgs) -> Result<ExitCode, Failure> {
    let mut read = read_lot(&args.lot)?;
    read.findings.extend(unroll_lot(&mut read.lot));
    read.findings.extend(folder::unfinished_below(&args.lot));
    let units = args.show.units.units();
    let population = Population::with(&read.lot.population);
    if let Ok(population) = &population {
        let fits = job::fit_all(&read.lot, population, CHECKED);
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
    population.map_err(|names| Failure::Population { names })?;
    Ok(code_after(&read.findings))
}
