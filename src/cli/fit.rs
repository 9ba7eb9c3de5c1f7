//! `fit`: each tube's geometry, believed and measured directly.

use super::args::{FitArgs, LotArgs};
use super::diagnostics::{Failure, code_after, print_findings};
use super::replace::{Beside, PART};
use super::say::say;
use super::{job, sink};
use quarterlight::lot::learned_json;
use quarterlight::output::{doubts, fit_report, population_report, scales, scan_report, tables, text, ways};
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
    sink::free(&args.show)?;
    let lot = job::prepared(&args.lot, &args.plan)?;
    let learned = lot.learned()?;
    print_findings(&lot.findings, false);
    let shown = if args.show.json {
        learned_json(learned)
    } else if args.show.csv {
        population_report::table(learned).to_csv()
    } else {
        population_report::section(learned)
    };
    // what is the user's own takes its place last, when nothing can be refused any more
    let kept = if keep { Some(keep_scales(&args.lot, learned)?) } else { None };
    sink::put(&shown, &args.show)?;
    if let Some(kept) = kept {
        let place = kept.take_place()?;
        say(format_args!("note: these scales stand in {} now, under [population]", place.display()));
    }
    Ok(code_after(&lot.findings))
}

/// Writes the learned scales beside `lot.toml` of a lot that is a folder, to take its place.
fn keep_scales(lot: &Path, learned: &Learned) -> Result<Beside, Failure> {
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
    Beside::write(&path, new.as_bytes(), PART, true)
}

/// Figures of every tube; stations one by one where few tubes are asked for.
fn figures(args: &LotArgs) -> Result<ExitCode, Failure> {
    let lot = job::prepared(&args.lot, &args.plan)?;
    let job = job::fit(&lot, args.plan.options())?;
    print_findings(&lot.findings, false);
    let units = args.show.units(&lot.lot);
    let shown = if args.show.json {
        job.to_json(&lot.lot, &lot.findings)
    } else if args.show.csv {
        fit_report::fit_table(&lot.lot, &job.fits, units).to_csv()
    } else {
        let table = tables::figures_table(&job.fits, units).to_text();
        let mut out = format!("{}\n{table}\n", text::lot_line(&lot.lot, job.options, units));
        if job.fitted().next().is_some() {
            out.push_str(&format!("{}\n", fit_report::sight_table(&job.fits, units).to_text()));
        }
        out.push_str(&ways::way_lines(&lot.lot, &job.fits, units));
        out.push_str(&fit_report::blind_lines(&lot.lot, &job.fits));
        out.push_str(&format!("\n{}", scales::block(&job.scales, units)));
        out.push_str(&scan_report::scans_block(job.fitted(), units));
        if lot.lot.tubes.len() <= FEW_TUBES {
            for tube in lot.lot.tubes.iter().filter(|t| !t.in_doubt) {
                out.push_str(&fit_report::station_block(tube, &direct_figures(tube, &lot.lot.rigs), units));
            }
        } else {
            out.push_str("Station by station: add --tube NAME.\n");
        }
        let doubts = doubts::doubt_lines(&lot.lot, job.fitted(), units);
        if !doubts.is_empty() {
            out.push_str(&format!("\n{doubts}"));
        }
        out
    };
    sink::put(&shown, &args.show)?;
    Ok(code_after(&lot.findings))
}
