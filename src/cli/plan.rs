//! `demo`, `split`, `screen` and `forecast`: four views of one plan.

use super::args::{DemoArgs, LotArgs, ShowArgs};
use super::diagnostics::{Failure, code_after, print_findings};
use super::job::{self, Job};
use super::{built_in, sink};
use quarterlight::output::json::results;
use quarterlight::output::text::wrapped;
use quarterlight::output::{cautions, doubts, tables, text};
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
    /// All of it.
    Whole,
}

/// `demo`: the whole job on the built-in lot.
pub fn demo(args: &DemoArgs) -> Result<ExitCode, Failure> {
    let job = job::plan_read(built_in::lot()?, &args.plan)?;
    show(&job, &args.show, View::Whole)?;
    Ok(code_after(&job.findings))
}

/// A view of the plan of a lot.
pub fn run(args: &LotArgs, view: View) -> Result<ExitCode, Failure> {
    let job = job::plan(&args.lot, &args.plan)?;
    print_findings(&job.findings, false);
    show(&job, &args.show, view)?;
    Ok(code_after(&job.findings))
}

fn show(job: &Job, show: &ShowArgs, view: View) -> Result<(), Failure> {
    let units = show.units.units();
    if show.json {
        let value = results(&job.results());
        return sink::put(&format!("{value:#}\n"), show);
    }
    let plans = job.plans();
    if show.csv {
        let table = match view {
            View::Split | View::Whole => tables::runs_table(&plans, units),
            View::Screen => tables::screen_table(&job.outcomes, &job.screened, job.lot.screen.least_blanks, units),
            View::Forecast => tables::forecast_table(&job.forecast, &job.lot, &plans),
        };
        return sink::put(&table.to_csv(), show);
    }
    let screening = || tables::screen_table(&job.outcomes, &job.screened, job.lot.screen.least_blanks, units).to_text();
    let forecast = || text::forecast_lines(&job.forecast, &job.lot, &job.outcomes);
    let doubted = doubts::doubt_lines(&job.lot, plans.iter().map(|p| &p.fit), units);
    let head = text::lot_line(&job.lot, job.options, units);
    let body = match view {
        View::Split => {
            let caution = wrapped(cautions::FIRST_OF_ALL);
            format!("{head}\n{}\n{doubted}\n{caution}", text::split_report(&job.outcomes, units))
        }
        View::Screen if doubted.is_empty() => format!("{head}\n{}", screening()),
        View::Screen => format!("{head}\n{}\n{doubted}", screening()),
        View::Forecast => format!("{head}\n{}", forecast()),
        View::Whole => format!(
            "{}\n{head}\n{}\n{}\n{}\n{doubted}\n{}\n{}",
            built_in::WORDS,
            tables::figures_table(&job.fits(), units).to_text(),
            screening(),
            text::split_report(&job.outcomes, units),
            forecast(),
            wrapped(cautions::FIRST_OF_ALL),
        ),
    };
    sink::put(&body, show)
}
