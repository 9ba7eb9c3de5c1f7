//! `forecast`: of one lot, or of several side by side.

use super::args::ForecastArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::say::say;
use super::{job, plan, sink};
use quarterlight::lot::{Assessed, Compared, Counting, LotError, Prepared};
use quarterlight::output::compare;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Forecasts.
pub fn run(args: &ForecastArgs) -> Result<ExitCode, Failure> {
    match &args.lots[..] {
        [one] => alone(one, args),
        several => side_by_side(several, args),
    }
}

fn counting(args: &ForecastArgs) -> Counting {
    Counting { without_leave: args.without_leave, at_humidity_percent: args.at_humidity }
}

fn assessed(path: &Path, args: &ForecastArgs) -> Result<(Prepared, Assessed), Failure> {
    let lot = job::prepared(path, &args.plan)?;
    let plan = job::plan(&lot, &args.plan)?;
    Ok((lot, plan))
}

fn alone(path: &Path, args: &ForecastArgs) -> Result<ExitCode, Failure> {
    let (lot, plan) = assessed(path, args)?;
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
    let mut lots: Vec<(String, Assessed)> = Vec::new();
    let mut findings = Vec::new();
    for path in paths {
        let (lot, plan) = assessed(path, args)?;
        if !plan.findings.is_empty() {
            say(format_args!("{}:", path.display()));
            print_findings(&plan.findings, false);
            findings.extend(plan.findings.iter().cloned());
        }
        lots.push((lot.lot.name.clone(), plan));
    }
    tell_apart(&mut lots, paths);
    let mut counting = counting(args);
    if counting.at_humidity_percent.is_none() && lots.iter().all(|(_, a)| a.lot.humidity_percent.is_some()) {
        counting.at_humidity_percent = lots[0].1.lot.humidity_percent;
    }
    let counted = |(name, a): (String, Assessed)| Ok((name, a.counted(counting)?));
    let lots: Vec<(String, Assessed)> = lots.into_iter().map(counted).collect::<Result<_, LotError>>()?;
    let compared = Compared::of(&lots);
    let text = if args.show.json {
        compared.to_json()
    } else if args.show.csv {
        compare::table(&compared).to_csv()
    } else {
        compare::lines(&compared)
    };
    sink::put(&text, &args.show)?;
    Ok(code_after(&findings))
}

/// Puts the path behind names that are no lot's own.
fn tell_apart(lots: &mut [(String, Assessed)], paths: &[PathBuf]) {
    let names: Vec<String> = lots.iter().map(|(name, _)| name.clone()).collect();
    for ((name, _), path) in lots.iter_mut().zip(paths) {
        if names.iter().filter(|n| *n == name).count() > 1 {
            *name = format!("{name} ({})", path.display());
        }
    }
}
