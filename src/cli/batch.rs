//! `batch`: piles of tubes, each for one sharpening of the edge tools.

use super::args::BatchArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::{job, sink};
use quarterlight::lot::batches::{BatchError, BatchRules};
use quarterlight::output::{batches, scales, text};
use std::process::ExitCode;

/// Divides a lot into piles.
pub fn run(args: &BatchArgs) -> Result<ExitCode, Failure> {
    let lot = job::prepared_as(&args.lot.lot, &args.lot.plan, args.fell)?;
    let plan = job::plan(&lot, &args.lot.plan)?;
    print_findings(&plan.findings, false);
    let rules = BatchRules { piles: args.piles.map(usize::from), by: args.by.divided_by(), all_tubes: args.all_tubes };
    let made = plan.batches(&rules).map_err(|e| Failure::Choice { what: e.to_string(), fix: fix(e) })?;
    let (show, units) = (&args.lot.show, args.lot.show.units(&lot.lot));
    if show.json {
        sink::put(&made.to_json(), show)?;
    } else if show.csv {
        sink::put(&batches::table(&made, plan.lot.weight_unit, units).to_csv(), show)?;
    } else {
        let scales = text::hanging(&scales::line(&plan.scales), 2);
        let head = format!("{}\n{scales}", text::lot_line(&lot.lot, plan.options, units));
        sink::put(&format!("{head}\n{}", batches::text(&made, plan.lot.weight_unit, units)), show)?;
    }
    Ok(code_after(&plan.findings))
}

fn fix(error: BatchError) -> String {
    match error {
        BatchError::NoBlanks => "give --piles N: unmeasured tubes are then divided by weight; or measure some of them",
        _ => "give --piles N, or put edge_life under [batch] in lot.toml: the blanks that one sharpening lasts",
    }
    .into()
}
