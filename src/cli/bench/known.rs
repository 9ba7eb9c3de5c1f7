//! What is known of the lot: its files as they are, its whole plan as of a moment ago, and what a tube says at once.
//!
//! Three looks at a tube, each better and slower than the one before: few draws under the scales the lot last learned; all
//! draws under the same; and the plan of the whole lot, learned anew, which is what the command line says. The last is worked
//! out behind the pages, on all cores but one, when nothing was typed for a moment.

use quarterlight::decide::advice::Advice;
use quarterlight::decide::cut_plan::hold_rule;
use quarterlight::decide::plan::PlanOptions;
use quarterlight::decide::tube_view::TubeView;
use quarterlight::domain::{Lot, Severity, Tube};
use quarterlight::lot::{Assessed, AtBench, Prepared, QUIETLY};
use quarterlight::output::report::ReportInput;
use quarterlight::output::show::Units;
use quarterlight::paper::scene::Paper;
use quarterlight::readings::{LotRead, ReadError, read_lot};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::{Duration, Instant, SystemTime};

/// Draws of the first look.
pub const FIRST_DRAWS: u64 = 20;
/// Draws an advice is made from.
const ADVICE_DRAWS: u64 = 120;
/// The whole lot is looked at again when nothing was written for so long.
const QUIET: Duration = Duration::from_millis(1200);
/// So long an advice waits for the first look at the lot.
const FIRST_LOOK: Duration = Duration::from_secs(60);
/// So often it is looked whether somebody changed the files by hand.
const LOOK: Duration = Duration::from_millis(400);

/// Name, size and time of every file that a lot may be read from, and how many writes the program made.
type Stamp = (u64, Vec<(PathBuf, u64, SystemTime)>);

/// The lot's files as they are.
#[derive(Debug)]
pub struct Now {
    stamp: Stamp,
    /// What was read.
    pub read: LotRead,
    /// The lot alone, shared with whoever writes.
    pub lot: Arc<Lot>,
    /// The lot made ready for a look at one tube.
    ready: AtBench,
    /// When its reading began.
    begun: Instant,
}

/// The lot planned as a whole.
#[derive(Debug)]
pub struct Whole {
    /// The files it was planned from.
    pub now: Arc<Now>,
    /// The lot made ready.
    pub prepared: Prepared,
    /// Its plan.
    pub plan: Assessed,
    /// What pictures need.
    pub views: Vec<Option<TubeView>>,
    /// Its split tubes planned as they fell, by name.
    pub as_split: BTreeMap<String, Assessed>,
}

/// One tube looked at by itself.
#[derive(Debug)]
pub struct Quick {
    tube: Tube,
    draws: u64,
    /// When the reading of the files began that it is made from.
    begun: Instant,
    /// Whether the lot had been looked at as a whole before.
    pub learned: bool,
    /// Its readings as they were used.
    pub lot: Lot,
    /// Its plan.
    pub plan: Assessed,
    /// What pictures need.
    pub views: Vec<Option<TubeView>>,
}

/// What was advised on a tube.
struct Advised {
    tube: Tube,
    /// The plan of the lot whose scales it was made under.
    under: Option<Weak<Whole>>,
    advice: Option<Advice>,
}

/// A look at one tube.
pub enum Looked {
    /// By itself.
    Quick(Arc<Quick>),
    /// In the plan of the whole lot; `current` where no file changed since.
    Whole { whole: Arc<Whole>, at: usize, current: bool },
}

/// What the pages are made from.
pub struct Known {
    /// The lot's folder.
    pub folder: PathBuf,
    /// Seed and draws of the plan.
    pub options: PlanOptions,
    units: Option<Units>,
    paper: Paper,
    no_hands_mm: f64,
    writes: AtomicU64,
    reading: Mutex<()>,
    now: Mutex<Option<Arc<Now>>>,
    whole: Mutex<Option<Arc<Whole>>>,
    quick: Mutex<BTreeMap<String, Arc<Quick>>>,
    advice: Mutex<BTreeMap<String, Advised>>,
    doing: Mutex<String>,
    fault: Mutex<Option<String>>,
}

/// What a mutex guards is whole at any moment here, also where a thread ended while it held it.
pub fn lock<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    m.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Known {
    pub fn new(folder: PathBuf, options: PlanOptions, units: Option<Units>, paper: Paper, no_hands_mm: f64) -> Known {
        Known {
            folder,
            options,
            units,
            paper,
            no_hands_mm,
            writes: AtomicU64::new(0),
            reading: Mutex::default(),
            now: Mutex::default(),
            whole: Mutex::default(),
            quick: Mutex::default(),
            advice: Mutex::default(),
            doing: Mutex::new("the lot is being looked at".into()),
            fault: Mutex::default(),
        }
    }

    /// Told after every write of the program.
    pub fn wrote(&self) {
        self.writes.fetch_add(1, Ordering::SeqCst);
    }

    /// The lot's files as they are.
    pub fn now(&self) -> Result<Arc<Now>, ReadError> {
        let asked = Instant::now();
        // one reads at a time; what was read last stays at hand meanwhile
        let _reading = lock(&self.reading);
        let held = self.last();
        // many hands at once: what began to be read after one asked serves him, whatever was written since
        if let Some(now) = held.as_ref().filter(|n| n.begun > asked) {
            return Ok(now.clone());
        }
        let begun = Instant::now();
        let stamp = self.stamp();
        if let Some(now) = held.filter(|n| n.stamp == stamp) {
            return Ok(now);
        }
        let read = read_lot(&self.folder)?;
        let ready = AtBench::of(&read);
        let lot = Arc::new(read.lot.clone());
        let now = Arc::new(Now { stamp, read, lot, ready, begun });
        *lock(&self.now) = Some(now.clone());
        Ok(now)
    }

    /// The lot's files as they were read last, whatever happened since.
    pub fn last(&self) -> Option<Arc<Now>> {
        lock(&self.now).clone()
    }

    fn stamp(&self) -> Stamp {
        let mut files = Vec::new();
        for folder in [self.folder.clone(), self.folder.join("scans")] {
            let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten();
            files.extend(entries.filter_map(|e| {
                let meta = e.metadata().ok().filter(std::fs::Metadata::is_file)?;
                Some((e.path(), meta.len(), meta.modified().unwrap_or(SystemTime::UNIX_EPOCH)))
            }));
        }
        files.sort();
        (self.writes.load(Ordering::SeqCst), files)
    }

    /// The plan of the whole lot, as of a moment ago.
    pub fn whole(&self) -> Option<Arc<Whole>> {
        lock(&self.whole).clone()
    }

    /// True where the plan of the whole lot is that of its files as they are.
    pub fn is_current(&self, whole: &Whole, now: &Now) -> bool {
        whole.now.stamp == now.stamp
    }

    /// What is being worked out just now.
    pub fn doing(&self) -> String {
        lock(&self.doing).clone()
    }

    fn does(&self, what: &str) {
        *lock(&self.doing) = what.to_string();
    }

    /// Why the lot cannot be planned, where it cannot.
    pub fn fault(&self) -> Option<String> {
        lock(&self.fault).clone()
    }

    /// The unit lengths are shown and typed in.
    pub fn units(&self, lot: &Lot) -> Units {
        self.units.unwrap_or_else(|| Units::of(lot))
    }

    /// What a report of a plan is made from.
    pub fn input<'a>(&self, plan: &'a Assessed, lot: &'a Lot, views: &'a [Option<TubeView>]) -> ReportInput<'a> {
        ReportInput {
            results: plan,
            lot,
            views,
            units: self.units(lot),
            paper: self.paper,
            origin: if super::super::built_in::holds(lot) { super::super::built_in::ORIGIN } else { "" },
            hold: hold_rule(&plan.lot.saw, self.no_hands_mm),
        }
    }

    /// A look at a tube: the whole lot's where it has not changed since, else by itself, from few draws or from all; one that
    /// was made since `asked` serves, whatever was typed in between. `None` where the lot has no such tube.
    pub fn look(&self, tube: &str, thorough: bool, asked: Instant) -> Result<Option<Looked>, ReadError> {
        let draws = if thorough { self.options.draws } else { FIRST_DRAWS.min(self.options.draws) };
        if let Some(quick) = lock(&self.quick).get(tube).filter(|q| q.begun > asked && q.draws >= draws) {
            return Ok(Some(Looked::Quick(quick.clone())));
        }
        let now = self.now()?;
        let Some(read) = now.read.lot.tubes.iter().find(|t| t.name == tube) else { return Ok(None) };
        if let Some(whole) = self.whole() {
            let at = whole.now.read.lot.tubes.iter().position(|t| t == read);
            if let Some(at) = at.filter(|_| whole.now.ready.settings() == now.ready.settings()) {
                let current = self.is_current(&whole, &now);
                return Ok(Some(Looked::Whole { whole, at, current }));
            }
        }
        let whole = self.whole();
        let known = whole.is_some();
        let learned = whole.and_then(|w| w.prepared.learned.clone());
        let kept =
            lock(&self.quick).get(tube).cloned().filter(|q| q.tube == *read && q.draws >= draws && q.learned == known);
        if let Some(quick) = kept {
            return Ok(Some(Looked::Quick(quick)));
        }
        let Some(one) = now.ready.tube(tube, learned) else { return Ok(None) };
        let options = PlanOptions { draws, ..self.options };
        let Ok((plan, views)) = one.glance_with_views(options) else { return Ok(None) };
        let quick =
            Arc::new(Quick { tube: read.clone(), draws, begun: now.begun, learned: known, lot: one.lot, plan, views });
        lock(&self.quick).insert(tube.to_string(), quick.clone());
        Ok(Some(Looked::Quick(quick)))
    }

    /// The look at a tube that was made last, whatever was typed since.
    pub fn older(&self, tube: &str) -> Option<Looked> {
        lock(&self.quick).get(tube).cloned().map(Looked::Quick)
    }

    /// What to measure next on a tube: `None` where it is not worked out yet and `wait` is false, or cannot be. Nothing is
    /// advised before the lot's own scales are known, but for a lot that has none to learn.
    pub fn advice(&self, tube: &str, wait: bool) -> Option<Advice> {
        let now = self.now().ok()?;
        let read = now.read.lot.tubes.iter().find(|t| t.name == tube)?;
        if let Some(held) = lock(&self.advice).get(tube)
            && held.tube == *read
        {
            return held.advice.clone();
        }
        if !wait {
            return None;
        }
        let begun = Instant::now();
        while self.whole().is_none() && self.fault().is_none() && begun.elapsed() < FIRST_LOOK {
            std::thread::sleep(Duration::from_millis(50));
        }
        self.advise(&now, read)
    }

    fn advise(&self, now: &Now, read: &Tube) -> Option<Advice> {
        let under = self.whole();
        let learned = under.as_ref().and_then(|w| w.prepared.learned.clone());
        let one = now.ready.tube(&read.name, learned)?;
        let options = PlanOptions { draws: ADVICE_DRAWS.min(self.options.draws), ..self.options };
        let advised = one.advise(options, &[], None, None, QUIETLY).ok()?;
        let advice = advised.advice().next().cloned();
        let under = under.as_ref().map(Arc::downgrade);
        let held = Advised { tube: read.clone(), under, advice: advice.clone() };
        lock(&self.advice).insert(read.name.clone(), held);
        advice
    }

    /// Whether what was advised on a tube was made under this plan of the lot.
    fn is_advised(&self, tube: &Tube, whole: &Arc<Whole>) -> bool {
        let all = lock(&self.advice);
        let under = |a: &Advised| a.under.as_ref().and_then(Weak::upgrade).is_some_and(|u| Arc::ptr_eq(&u, whole));
        all.get(&tube.name).is_some_and(|a| a.tube == *tube && under(a))
    }

    /// Looks at the whole lot whenever it changed, until the program ends; `begin` on every thread it computes with.
    pub fn keep_looking(&self, begin: fn()) {
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let pool = rayon_pool(cores.saturating_sub(1).max(1), begin);
        let mut seen = (self.stamp(), Instant::now());
        let mut first = true;
        loop {
            let stamp = self.stamp();
            if stamp != seen.0 {
                seen = (stamp, Instant::now());
                first = false;
            }
            let current = self.whole().is_some_and(|w| w.now.stamp == seen.0);
            if !current && (first || seen.1.elapsed() >= QUIET) {
                first = false;
                match &pool {
                    Some(pool) => pool.install(|| self.look_at_all()),
                    None => self.look_at_all(),
                }
                continue;
            }
            std::thread::sleep(LOOK);
        }
    }

    fn look_at_all(&self) {
        self.does("the lot is being looked at");
        let now = match self.now() {
            Ok(now) => now,
            Err(e) => {
                *lock(&self.fault) = Some(e.to_string());
                std::thread::sleep(QUIET);
                return;
            }
        };
        let done = Prepared::of_read(now.read.clone(), &[]).and_then(|prepared| {
            let (plan, views) = prepared.assess_with_views(self.options, QUIETLY)?;
            let as_split = self.fallen(&prepared);
            Ok(Whole { now: now.clone(), prepared, plan, views, as_split })
        });
        match done {
            Ok(whole) => {
                *lock(&self.fault) = None;
                *lock(&self.whole) = Some(Arc::new(whole));
            }
            Err(e) => {
                *lock(&self.fault) = Some(e.to_string());
                std::thread::sleep(QUIET);
            }
        }
        self.does("what to measure next is being worked out");
        let Some(whole) = self.whole() else {
            self.does("");
            return;
        };
        for tube in &now.read.lot.tubes {
            if self.stamp() != now.stamp {
                break;
            }
            if !tube.in_doubt && tube.length_mm > 0.0 && tube.cut.is_none() && !self.is_advised(tube, &whole) {
                self.advise(&now, tube);
            }
        }
        self.does("");
    }

    /// The tubes whose lines are known, planned as they fell.
    fn fallen(&self, prepared: &Prepared) -> BTreeMap<String, Assessed> {
        let mut all = BTreeMap::new();
        for tube in prepared.lot.tubes.iter().filter(|t| t.is_split()) {
            let Some(mut one) = prepared.of_tube(&tube.name) else { continue };
            one.lot.as_split = true;
            if let Ok(plan) = one.assess(self.options, QUIETLY) {
                all.insert(tube.name.clone(), plan);
            }
        }
        all
    }

    /// What is wrong with the files, in lines; errors only.
    pub fn errors(now: &Now) -> Vec<String> {
        let errors = now.read.findings.iter().filter(|f| f.severity == Severity::Error);
        errors.map(|f| f.to_string().replace("\n  hint:", " –")).collect()
    }

    /// The path of a file of the lot.
    pub fn path(&self, name: &str) -> PathBuf {
        Path::new(&self.folder).join(name)
    }
}

fn rayon_pool(threads: usize, begin: fn()) -> Option<rayon::ThreadPool> {
    rayon::ThreadPoolBuilder::new().num_threads(threads).start_handler(move |_| begin()).build().ok()
}
