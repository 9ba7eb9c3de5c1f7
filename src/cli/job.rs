//! Reading a lot and planning it, with a bar that shows how far it is: what every command on a lot begins with.

use super::args::{AdviseArgs, FellArgs, PlanArgs};
use super::diagnostics::{Failure, print_findings};
use super::say::say;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::decide::tube_view::TubeView;
use quarterlight::domain::Tube;
use quarterlight::lot::serves::{ServeOrder, Serves};
use quarterlight::lot::{
    Advised, Assessed, BorneOut, CutLots, Fits, Gathered, Prepared, Progress, Which, learn_from, names_apart,
};
use quarterlight::study;
use quarterlight::study::whole::{Study, StudyOrder};
use rayon::prelude::*;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Once;
use std::time::{Duration, Instant};

/// Work shorter than this shows no progress bar.
const QUIET: Duration = Duration::from_secs(1);

/// Reads the lot at `path`.
pub fn prepared(path: &Path, args: &PlanArgs) -> Result<Prepared, Failure> {
    Ok(Prepared::read(path, &args.tubes)?)
}

/// The same, its tubes as they were split where that is asked for.
pub fn prepared_as(path: &Path, args: &PlanArgs, fell: FellArgs) -> Result<Prepared, Failure> {
    let mut lot = prepared(path, args)?;
    if fell.as_split {
        if !lot.lot.tubes.iter().any(Tube::is_split) {
            return Err(Failure::Choice {
                what: "nothing tells where a split line fell".into(),
                fix: "write the angles of the lines, or the widths of the pieces' backs, into cuts.csv: columns tube, split, back".into(),
            });
        }
        lot.lot.as_split = true;
    }
    Ok(lot)
}

/// Plans several lots, each read by `read`; what is wrong with their files is told under their paths. A lot's name has its
/// path behind it where another has the same.
pub fn several(
    paths: &[PathBuf],
    args: &PlanArgs,
    read: impl Fn(&Path) -> Result<Prepared, Failure>,
) -> Result<Vec<(String, Prepared, Assessed)>, Failure> {
    let mut lots = Vec::new();
    for path in paths {
        let lot = read(path)?;
        let plan = plan(&lot, args)?;
        if paths.len() > 1 && !plan.findings.is_empty() {
            say(format_args!("{}:", path.display()));
        }
        print_findings(&plan.findings, false);
        lots.push((lot.lot.name.clone(), lot, plan));
    }
    let known: Vec<(String, &Path)> = lots.iter().zip(paths).map(|(l, p)| (l.0.clone(), p.as_path())).collect();
    let names = names_apart(&known);
    lots.iter_mut().zip(names).for_each(|(lot, name)| lot.0 = name);
    Ok(lots)
}

/// Fits its tubes.
pub fn fit(lot: &Prepared, options: PlanOptions) -> Result<Fits, Failure> {
    with_bar(|told| Ok(lot.fit(options, told)?))
}

/// Plans it.
pub fn plan(lot: &Prepared, args: &PlanArgs) -> Result<Assessed, Failure> {
    with_bar(|told| Ok(lot.assess(args.options(), told)?))
}

/// Asks what to measure next on the tubes of a plan that leave much to gain.
pub fn ask_next(lot: &Prepared, plan: &mut Assessed) -> Result<(), Failure> {
    with_bar(|told| Ok(lot.ask_next(plan, told)?))
}

/// Plans it for several sets.
pub fn serve(lot: &Prepared, order: &ServeOrder, args: &PlanArgs) -> Result<Serves, Failure> {
    with_bar(|told| Ok(lot.serve(order, args.options(), told)?))
}

/// Advises on what to measure next.
pub fn advise(lot: &Prepared, args: &AdviseArgs) -> Result<Advised, Failure> {
    let options = args.lot.plan.options();
    with_bar(|told| Ok(lot.advise(options, &args.with, args.minutes, args.minute_blanks, told)?))
}

/// Learns from lots that were cut.
pub fn learn(lots: CutLots, args: &PlanArgs) -> Result<BorneOut, Failure> {
    with_bar(|told| Ok(learn_from(lots, args.options(), told)?))
}

/// Plans it, with what pictures need of every planned tube.
pub fn plan_with_views(lot: &Prepared, args: &PlanArgs) -> Result<(Assessed, Vec<Option<TubeView>>), Failure> {
    with_bar(|told| Ok(lot.assess_with_views(args.options(), told)?))
}

/// Plans tubes of it and writes each plan to `to` as soon as it is there.
pub fn write_lines(
    lot: &Prepared,
    options: PlanOptions,
    which: &Which,
    to: &mut impl Write,
) -> Result<std::io::Result<()>, Failure> {
    with_bar(|told| Ok(lot.write_lines(options, which, to, told)?))
}

/// Reads files of records with `read`, several at once.
pub fn gathered(
    files: &[PathBuf],
    read: impl Fn(&Path) -> Result<Gathered, Failure> + Sync,
) -> Result<Gathered, Failure> {
    let bar = Bar::with("{pos} of {len} files  {bar:40}  {eta} to go");
    let one = |path: &PathBuf| {
        let got = read(path);
        bar.step(Progress { done: 1, of: files.len() });
        got
    };
    let all = files.par_iter().map(one).try_reduce(Gathered::default, |a, b| Ok(a.with(b)));
    bar.done();
    all
}

/// Runs a study.
pub fn study(order: &StudyOrder) -> Result<Study, Failure> {
    let bar = Bar::with("{pos} of {len} plans  {bar:40}  {eta} to go");
    let done = study::whole::study(order, &|done, of| bar.step(Progress { done, of }));
    bar.done();
    done.map_err(|why| Failure::Choice {
        what: why.to_string(),
        fix: "ask for a plan that reads the outside of every tube, and for longer tubes".into(),
    })
}

fn with_bar<T>(work: impl FnOnce(&(dyn Fn(Progress) + Sync)) -> Result<T, Failure>) -> Result<T, Failure> {
    let bar = Bar::of_tubes();
    let done = work(&|p| bar.step(p));
    bar.done();
    done
}

/// A progress bar on standard error: only on a terminal, only when the work takes over a second.
struct Bar {
    bar: ProgressBar,
    begun: Instant,
    shown: Once,
}

impl Bar {
    fn of_tubes() -> Bar {
        Bar::with("{pos} of {len} tubes  {bar:40}  {eta} to go")
    }

    fn with(template: &str) -> Bar {
        let bar = ProgressBar::with_draw_target(Some(100), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=- "));
        }
        Bar { bar, begun: Instant::now(), shown: Once::new() }
    }

    fn step(&self, told: Progress) {
        self.show_when_long();
        self.bar.set_length(u64::try_from(told.of).unwrap_or(u64::MAX));
        // threads may tell out of turn: count, do not jump
        self.bar.inc(1);
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
