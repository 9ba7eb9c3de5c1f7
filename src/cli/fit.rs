//! `fit`: each tube's geometry, believed and measured directly.

use super::args::LotArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::{job, sink};
use quarterlight::output::{fit_report, tables, text};
use quarterlight::tube::direct::direct_figures;
use std::process::ExitCode;

/// Tubes up to this number are shown station by station.
const FEW_TUBES: usize = 2;

/// Figures of every tube; stations one by one where few tubes are asked for.
pub fn run(args: &LotArgs) -> Result<ExitCode, Failure> {
    let job = job::figures(&args.lot, &args.plan)?;
    print_findings(&job.findings, false);
    let units = args.show.units.units();
    let shown = if args.show.json {
        format!("{:#}\n", fit_report::fit_json(&job.lot, &job.fits, job.options, &job.findings))
    } else if args.show.csv {
        tables::figures_table(&job.fits, units).to_csv()
    } else {
        let table = tables::figures_table(&job.fits, units).to_text();
        let mut out = format!("{}\n{table}\n", text::lot_line(&job.lot, job.options));
        out.push_str(&format!("{}\n", fit_report::sight_table(&job.fits, units).to_text()));
        out.push_str(&fit_report::blind_lines(&job.lot, &job.fits));
        if job.lot.tubes.len() <= FEW_TUBES {
            for tube in job.lot.tubes.iter().filter(|t| !t.in_doubt) {
                out.push_str(&fit_report::station_block(tube, &direct_figures(tube, &job.lot.rigs), units));
            }
        } else {
            out.push_str("Station by station: add --tube NAME.\n");
        }
        out.push_str(&text::doubted_lines(&job.lot, job.fits.iter().filter_map(|f| f.fit.as_ref().ok())));
        out
    };
    sink::put(&shown, &args.show)?;
    Ok(code_after(&job.findings))
}
