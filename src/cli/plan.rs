//! `demo`, `split`, `screen` and `forecast`: views of one plan.

use super::args::{DemoArgs, ShowArgs, ViewArgs};
use super::diagnostics::{Failure, code_after, print_findings};
use super::{built_in, job, sink};
use quarterlight::lot::{Assessed, Prepared};
use quarterlight::output::text::wrapped;
use quarterlight::output::{at_a_glance, cautions, doubts, scales, tables, text};
use std::process::ExitCode;

/// Which part of the plan is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// Split angles, pieces and runs.
    Split,
    /// Verdicts.
    Screen,
    /// Blanks, yield and cost.
    Forecast,
    /// The lot, then a line a tube, then the answer.
    Glance,
    /// All of it.
    Whole,
}

/// `demo`: the whole job on the built-in lot.
pub fn demo(args: &DemoArgs) -> Result<ExitCode, Failure> {
    let lot = Prepared::of_read(built_in::lot()?, &args.plan.tubes)?;
    let mut plan = job::plan(&lot, &args.plan)?;
    let view = if args.detail || !args.plan.tubes.is_empty() { View::Whole } else { View::Glance };
    ask_next(&lot, &mut plan, &args.show, view)?;
    show(&lot, &plan, &args.show, view)?;
    Ok(code_after(&plan.findings))
}

/// A view of the plan of a lot.
pub fn run(args: &ViewArgs, view: View) -> Result<ExitCode, Failure> {
    let ViewArgs { lot: args, fell } = args;
    let lot = job::prepared_as(&args.lot, &args.plan, *fell)?;
    let mut plan = job::plan(&lot, &args.plan)?;
    ask_next(&lot, &mut plan, &args.show, view)?;
    print_findings(&plan.findings, false);
    show(&lot, &plan, &args.show, view)?;
    Ok(code_after(&plan.findings))
}

/// Asks what to measure next where the view says it of every tube; tables and records do not.
fn ask_next(lot: &Prepared, plan: &mut Assessed, show: &ShowArgs, view: View) -> Result<(), Failure> {
    if show.csv || show.json || matches!(view, View::Forecast | View::Glance) {
        Ok(())
    } else {
        job::ask_next(lot, plan)
    }
}

pub fn show(lot: &Prepared, plan: &Assessed, show: &ShowArgs, view: View) -> Result<(), Failure> {
    let units = show.units(&lot.lot);
    if show.json {
        return sink::put(&plan.to_json(), show);
    }
    let least = plan.lot.screen.least_blanks;
    if show.csv {
        let table = match view {
            View::Split | View::Whole | View::Glance => tables::runs_table(&plan.plans(), units),
            View::Screen => tables::screen_table(&plan.outcomes, least, units),
            View::Forecast => tables::forecast_table(&plan.forecast, &plan.plans(), plan.lot.weight_unit, units),
        };
        return sink::put(&table.to_csv(), show);
    }
    let screening = || tables::screen_table(&plan.outcomes, least, units).to_text() + &text::screen_notes(plan, units);
    let forecast = || text::forecast_lines(plan, units);
    let doubted = doubts::doubt_lines(&lot.lot, plan.plans().iter().map(|p| &p.fit), units);
    let head =
        text::lot_line(&lot.lot, plan.options, units) + "\n" + text::hanging(&scales::line(&plan.scales), 2).trim_end();
    let body = match view {
        View::Split => {
            let caution = wrapped(cautions::FIRST_OF_ALL);
            format!("{head}\n{}\n{}{caution}", text::split_report(plan, units), apart(&doubted))
        }
        View::Screen if doubted.is_empty() => format!("{head}\n{}", screening()),
        View::Screen => format!("{head}\n{}\n{doubted}", screening()),
        View::Forecast => format!("{head}\n{}", forecast()),
        View::Glance => format!("{}\n{head}\n{}", built_in::WORDS, at_a_glance::text(plan, built_in::NEXT, units)),
        View::Whole => format!(
            "{}\n{head}\n{}\n{}\n{}\n{}{}\n{}",
            built_in::WORDS,
            tables::figures_table(&plan.fits(), units).to_text(),
            screening(),
            text::split_report(plan, units),
            apart(&doubted),
            forecast(),
            wrapped(cautions::FIRST_OF_ALL),
        ),
    };
    sink::put(&body, show)
}

/// What is said with an empty line after it; nothing where nothing is said.
fn apart(said: &str) -> String {
    if said.is_empty() { String::new() } else { format!("{said}\n") }
}
