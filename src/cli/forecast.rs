//! `forecast`: of one lot, or of several side by side.

use super::args::ForecastArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::{job, picture, plan, records, sink};
use quarterlight::domain::Finding;
use quarterlight::lot::{Assessed, Compared, Counting, LotError};
use quarterlight::output::compare;
use quarterlight::output::figures::lots as lots_picture;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Forecasts.
pub fn run(args: &ForecastArgs) -> Result<ExitCode, Failure> {
    if !args.from.is_empty() {
        return records::sum_up(args, counting(args));
    }
    match &args.lots[..] {
        [_] if args.picture.is_some() => Err(Failure::Choice {
            what: "--picture of one lot".into(),
            fix: "name several lots, or make a report: its page has the pictures of a lot".into(),
        }),
        [one] => alone(one, args),
        several => side_by_side(several, args),
    }
}

fn counting(args: &ForecastArgs) -> Counting {
    Counting { without_leave: args.without_leave, at_humidity_percent: args.at_humidity }
}

fn alone(path: &Path, args: &ForecastArgs) -> Result<ExitCode, Failure> {
    let lot = job::prepared_as(path, &args.plan, args.fell)?;
    let plan = job::plan(&lot, &args.plan)?;
    print_findings(&plan.findings, false);
    let plan = plan.counted(counting(args)).map_err(LotError::from)?;
    plan::show(&lot, &plan, &args.show, plan::View::Forecast)?;
    Ok(code_after(&plan.findings))
}

fn side_by_side(paths: &[PathBuf], args: &ForecastArgs) -> Result<ExitCode, Failure> {
    if !args.plan.tubes.is_empty() {
        return Err(Failure::Choice {
            what: "--tube with several lots".into(),
            fix: "compare whole lots, or name one lot".into(),
        });
    }
    sink::free(&args.show)?;
    picture::free(args.picture.as_deref(), args.show.force)?;
    let lots = job::several(paths, &args.plan, |path| job::prepared_as(path, &args.plan, args.fell))?;
    let findings: Vec<Finding> = lots.iter().flat_map(|(_, _, a)| a.findings.clone()).collect();
    let lots: Vec<(String, Assessed)> = lots.into_iter().map(|(name, _, a)| (name, a)).collect();
    let compared = Compared::counted(lots, counting(args)).map_err(LotError::from)?;
    let text = if args.show.json {
        compared.to_json()
    } else if args.show.csv {
        compare::table(&compared).to_csv()
    } else {
        compare::lines(&compared)
    };
    if let Some(path) = &args.picture {
        let missing = "write prices and bought weights into lot.toml, or weights into tubes.csv";
        picture::put(path, lots_picture::draw(&compared), missing, args.show.force)?;
    }
    sink::put(&text, &args.show)?;
    Ok(code_after(&findings))
}
