//! `report`: a page, tables and strips in one folder.

use super::args::{ReportArgs, UnitsArg};
use super::diagnostics::{Failure, code_after, print_findings};
use super::{built_in, folder, job, sink};
use quarterlight::decide::cut_plan::hold_rule;
use quarterlight::output::report::{FILES, ReportInput, report};
use std::process::ExitCode;

/// Plans the lot and writes its report; nothing is written when any file of it is in the way.
pub fn run(args: &ReportArgs) -> Result<ExitCode, Failure> {
    folder::room_for(&args.out, &FILES, args.force)?;
    let lot = job::prepared_as(&args.lot, &args.plan, args.fell)?;
    let (mut plan, views) = job::plan_with_views(&lot, &args.plan)?;
    job::ask_next(&lot, &mut plan)?;
    print_findings(&plan.findings, false);
    let input = ReportInput {
        results: &plan,
        lot: &lot.lot,
        views: &views,
        units: UnitsArg::or_of(args.units, &lot.lot),
        paper: args.paper.paper(),
        origin: if built_in::holds(&lot.lot) { built_in::ORIGIN } else { "" },
        hold: hold_rule(&plan.lot.saw, args.no_hands_mm),
    };
    let made = report(&input).map_err(|source| Failure::Draw { source })?;
    let files: Vec<(&str, &[u8])> = made.files.iter().map(|f| (f.name, f.bytes.as_slice())).collect();
    folder::write_all(&args.out, &FILES, &files, args.force)?;
    for line in &made.no_strip {
        sink::say(format_args!("note: no wrap strip for {line}"));
    }
    if !files.iter().any(|f| f.0 == "strips.pdf") {
        sink::say("note: strips.pdf was not written: no tube has a strip");
    }
    let mut said = String::new();
    for (name, bytes) in &files {
        said.push_str(&format!("{} ({} kB)\n", args.out.join(name).display(), bytes.len().div_ceil(1000)));
    }
    sink::print(&said)?;
    Ok(code_after(&plan.findings))
}
