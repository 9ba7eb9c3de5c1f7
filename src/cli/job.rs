//! Reading a lot and planning it: what every command on a lot begins with.

use super::args::PlanArgs;
use super::diagnostics::Failure;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use quarterlight::decide::forecast::{Forecast, forecast};
use quarterlight::decide::plan::{FitOutcome, PlanOptions, TubeOutcome, TubePlan, fit_lot, plan_lot};
use quarterlight::decide::screen::{Screened, screen};
use quarterlight::decide::tube_view::{TubeView, plan_lot_with_views};
use quarterlight::domain::{Finding, Lot};
use quarterlight::numeric::summary::to_index;
use quarterlight::output::json::Results;
use quarterlight::readings::{LotRead, read_lot};
use quarterlight::tube::Model;
use quarterlight::tube::learn::{Learned, learn_population};
use quarterlight::tube::scan::unroll_lot;
use std::path::Path;
use std::sync::Once;
use std::time::{Duration, Instant};

/// Work shorter than this shows no progress bar.
const QUIET: Duration = Duration::from_secs(1);

/// A lot with its plan.
#[derive(Debug)]
pub struct Job {
    /// The lot, only the tubes asked for.
    pub lot: Lot,
    /// What was noticed about its files.
    pub findings: Vec<Finding>,
    /// Seed and draws.
    pub options: PlanOptions,
    /// Plans in the lot's order.
    pub outcomes: Vec<TubeOutcome>,
    /// Verdicts in the same order.
    pub screened: Vec<Option<Screened>>,
    /// The forecast over the planned tubes.
    pub forecast: Forecast,
}

impl Job {
    /// The tubes that have a plan.
    pub fn plans(&self) -> Vec<&TubePlan> {
        self.outcomes.iter().filter_map(|o| o.plan.as_deref().ok()).collect()
    }

    /// All of it, for the writers.
    pub fn results(&self) -> Results<'_> {
        Results {
            lot: &self.lot,
            options: self.options,
            outcomes: &self.outcomes,
            screened: &self.screened,
            forecast: &self.forecast,
            findings: &self.findings,
        }
    }

    /// The figures of every tube.
    pub fn fits(&self) -> Vec<FitOutcome> {
        self.outcomes.iter().map(FitOutcome::from).collect()
    }
}

/// A lot with its figures only.
#[derive(Debug)]
pub struct Figures {
    /// The lot, only the tubes asked for.
    pub lot: Lot,
    /// What was noticed about its files.
    pub findings: Vec<Finding>,
    /// Seed and draws.
    pub options: PlanOptions,
    /// Figures in the lot's order.
    pub fits: Vec<FitOutcome>,
}

/// Reads the lot at `path` and fits its tubes.
pub fn figures(path: &Path, args: &PlanArgs) -> Result<Figures, Failure> {
    let (lot, findings, model, options) = prepare(read_lot(path)?, args)?;
    let fits = fit_all(&lot, &model, options);
    Ok(Figures { lot, findings, options, fits })
}

/// Fits every tube, showing how far it is.
pub fn fit_all(lot: &Lot, model: &Model, options: PlanOptions) -> Vec<FitOutcome> {
    let bar = Bar::new(lot.tubes.len());
    let fits = fit_lot(lot, model, options, &|| bar.step());
    bar.done();
    fits
}

/// Reads the lot at `path` and learns the prior scales from its tubes.
pub fn learned(path: &Path, args: &PlanArgs) -> Result<(Vec<Finding>, Learned), Failure> {
    let (lot, findings, model, _) = prepare(read_lot(path)?, args)?;
    let bar = Bar::of_share();
    let learned = learn_population(&lot.tubes, &model, &|share| bar.reach(share));
    bar.done();
    let learned = learned?;
    Ok((findings, learned))
}

/// Reads the lot at `path` and plans it.
pub fn plan(path: &Path, args: &PlanArgs) -> Result<Job, Failure> {
    plan_read(read_lot(path)?, args)
}

/// Reads the lot at `path` and plans it, with what pictures need of every planned tube.
pub fn plan_with_views(path: &Path, args: &PlanArgs) -> Result<(Job, Vec<Option<TubeView>>), Failure> {
    let (lot, findings, model, options) = prepare(read_lot(path)?, args)?;
    let bar = Bar::new(lot.tubes.len());
    let (outcomes, views) = plan_lot_with_views(&lot, &model, options, &|| bar.step());
    bar.done();
    Ok((judged(lot, findings, options, outcomes), views))
}

/// Plans a lot that has been read.
pub fn plan_read(read: LotRead, args: &PlanArgs) -> Result<Job, Failure> {
    let (lot, findings, model, options) = prepare(read, args)?;
    let bar = Bar::new(lot.tubes.len());
    let outcomes = plan_lot(&lot, &model, options, &|| bar.step());
    bar.done();
    Ok(judged(lot, findings, options, outcomes))
}

fn judged(lot: Lot, findings: Vec<Finding>, options: PlanOptions, outcomes: Vec<TubeOutcome>) -> Job {
    let screened = outcomes.iter().map(|o| o.plan.as_ref().ok().map(|p| screen(p, &lot))).collect();
    let plans: Vec<&TubePlan> = outcomes.iter().filter_map(|o| o.plan.as_deref().ok()).collect();
    let forecast = forecast(&plans, &lot);
    Job { lot, findings, options, outcomes, screened, forecast }
}

fn prepare(read: LotRead, args: &PlanArgs) -> Result<(Lot, Vec<Finding>, Model, PlanOptions), Failure> {
    let LotRead { mut lot, mut findings, .. } = read;
    keep_tubes(&mut lot, &args.tubes)?;
    findings.extend(unroll_lot(&mut lot));
    let model = Model::of(&lot).map_err(|e| Failure::Population { names: e.names })?;
    Ok((lot, findings, model, PlanOptions { seed: args.seed, draws: args.draws }))
}

fn keep_tubes(lot: &mut Lot, names: &[String]) -> Result<(), Failure> {
    if names.is_empty() {
        return Ok(());
    }
    for name in names {
        if !lot.tubes.iter().any(|t| &t.name == name) {
            let known = lot.tubes.iter().map(|t| t.name.clone()).collect();
            return Err(Failure::NoSuchTube { name: name.clone(), known });
        }
    }
    lot.tubes.retain(|t| names.contains(&t.name));
    Ok(())
}

/// A progress bar on standard error: only on a terminal, only when the work takes over a second.
struct Bar {
    bar: ProgressBar,
    begun: Instant,
    shown: Once,
}

impl Bar {
    fn new(tubes: usize) -> Bar {
        Bar::with(u64::try_from(tubes).ok(), "{pos} of {len} tubes  {bar:40}  {eta} to go")
    }

    /// For work that tells its share of the longest it could take, and may well end sooner.
    fn of_share() -> Bar {
        Bar::with(Some(100), "learning  {bar:40}  {elapsed} so far")
    }

    fn with(length: Option<u64>, template: &str) -> Bar {
        let bar = ProgressBar::with_draw_target(length, ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=- "));
        }
        Bar { bar, begun: Instant::now(), shown: Once::new() }
    }

    fn step(&self) {
        self.show_when_long();
        self.bar.inc(1);
    }

    fn reach(&self, share: f64) {
        self.show_when_long();
        self.bar.set_position(u64::try_from(to_index(100.0 * share)).unwrap_or(0));
    }

    fn show_when_long(&self) {
        if self.begun.elapsed() > QUIET {
            self.shown.call_once(|| self.bar.set_draw_target(ProgressDrawTarget::stderr()));
        }
    }

    fn done(&self) {
        self.bar.finish_and_clear();
    }
}
