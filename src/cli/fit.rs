//! `fit`: each tube's geometry, believed and measured directly.

use super::args::{FitArgs, LotArgs};
use super::diagnostics::{Failure, code_after, print_findings};
use super::replace::write_file;
use super::{job, sink};
use quarterlight::output::{doubts, fit_report, population_report, scan_report, tables, text};
use quarterlight::tube::direct::direct_figures;
use quarterlight::tube::learn::Learned;
use std::path::Path;
use std::process::ExitCode;

/// Tubes up to this number are shown station by station.
const FEW_TUBES: usize = 2;

/// Figures of every tube, or the scales learned from all of them.
pub fn run(args: &FitArgs) -> Result<ExitCode, Failure> {
    if args.learn_population { learn(&args.lot, args.keep) } else { figures(&args.lot) }
}

fn learn(args: &LotArgs, keep: bool) -> Result<ExitCode, Failure> {
    let (findings, learned) = job::learned(&args.lot, &args.plan)?;
    print_findings(&findings, false);
    let shown = if args.show.json {
        format!("{:#}\n", population_report::learned_json(&learned))
    } else if args.show.csv {
        population_report::table(&learned).to_csv()
    } else {
        population_report::section(&learned)
    };
    if keep {
        keep_scales(&args.lot, &learned)?;
    }
    sink::put(&shown, &args.show)?;
    Ok(code_after(&findings))
}

/// Writes the learned scales into `lot.toml` of a lot that is a folder.
fn keep_scales(lot: &Path, learned: &Learned) -> Result<(), Failure> {
    if !lot.is_dir() {
        return Err(Failure::Keep { why: "only a lot that is a folder has a lot.toml to keep them in".into() });
    }
    let path = lot.join("lot.toml");
    let text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(e) => return Err(Failure::Keep { why: format!("lot.toml cannot be read: {e}") }),
    };
    let new =
        population_report::kept_in(&text, learned).map_err(|why| Failure::Keep { why: format!("lot.toml: {why}") })?;
    write_file(&path, new.as_bytes(), true)
}

/// Figures of every tube; stations one by one where few tubes are asked for.
fn figures(args: &LotArgs) -> Result<ExitCode, Failure> {
    let job = job::figures(&args.lot, &args.plan)?;
    print_findings(&job.findings, false);
    let units = args.show.units.units();
    let shown = if args.show.json {
        format!("{:#}\n", fit_report::fit_json(&job.lot, &job.fits, job.options, &job.findings))
    } else if args.show.csv {
        fit_report::fit_table(&job.lot, &job.fits, units).to_csv()
    } else {
        let table = tables::figures_table(&job.fits, units).to_text();
        let mut out = format!("{}\n{table}\n", text::lot_line(&job.lot, job.options, units));
        if job.fits.iter().any(|f| f.fit.is_ok()) {
            out.push_str(&format!("{}\n", fit_report::sight_table(&job.fits, units).to_text()));
        }
        out.push_str(&fit_report::blind_lines(&job.lot, &job.fits));
        out.push_str(&scan_report::scans_block(job.fits.iter().filter_map(|f| f.fit.as_ref().ok()), units));
        if job.lot.tubes.len() <= FEW_TUBES {
            for tube in job.lot.tubes.iter().filter(|t| !t.in_doubt) {
                out.push_str(&fit_report::station_block(tube, &direct_figures(tube, &job.lot.rigs), units));
            }
        } else {
            out.push_str("Station by station: add --tube NAME.\n");
        }
        let doubts = doubts::doubt_lines(&job.lot, job.fits.iter().filter_map(|f| f.fit.as_ref().ok()), units);
        if !doubts.is_empty() {
            out.push_str(&format!("\n{doubts}"));
        }
        out
    };
    sink::put(&shown, &args.show)?;
    Ok(code_after(&job.findings))
}
