//! The whole plan of one tube and of a lot: from readings to split angle, pieces and runs.

use super::bark_map::{BarkMap, broken};
use super::fan::{Fan, LINES};
use super::runs::best_places;
use super::saw_first::{SawFirst, saw_first};
use super::split::{DrawnSurface, SplitChoice, Splitter, judge_draws, splitter_for};
use crate::domain::{Angle, Lot, Tube};
use crate::numeric::summary::{count, mean, sd, to_index};
use crate::tube::faults::suspicions;
use crate::tube::{Belief, BeliefError, Coverage, Fields, FittedTube, Measured, Model, Quantity, scan};
use rayon::prelude::*;
use std::borrow::Cow;

/// Runs whose chance is below this are not laid out; they still count in the expected blanks.
pub const LEAST_RUN_CHANCE: f64 = 0.25;
/// Places for the ends of runs are tried this far apart, mm: what can be marked with a sharp pencil.
const PLACE_STEP_MM: f64 = 0.1;

/// How a plan is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlanOptions {
    /// Seed of all draws.
    pub seed: u64,
    /// Number of draws per tube.
    pub draws: u64,
}

impl Default for PlanOptions {
    fn default() -> Self {
        PlanOptions { seed: 1, draws: 200 }
    }
}

/// A run laid out on a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedRun {
    /// First end, mm from the index end.
    pub from_mm: f64,
    /// Second end, mm from the index end.
    pub to_mm: f64,
    /// Bark line the blank is centred on, degrees.
    pub line_deg: f64,
    /// Chance that the stretch passes on some line its piece leaves open.
    pub chance: f64,
    /// Hollow there; `None` where the readings do not see it.
    pub hollow_mm: Option<Measured>,
    /// Rock there; `None` where the readings do not see it.
    pub rock_mm: Option<Measured>,
    /// Arc diameter there; `None` where the readings do not see it.
    pub arc_diameter_mm: Option<Measured>,
    /// Skew there; `None` where the readings do not see it.
    pub skew_mm: Option<Measured>,
    /// Distance over the bark from the run's least-read place to the nearest reading, mm.
    pub nearest_reading_mm: Option<f64>,
}

/// One piece of the chosen split.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPiece {
    /// Number, from 1, clockwise from the split angle.
    pub piece: usize,
    /// Split line it starts at, degrees.
    pub from_deg: f64,
    /// Middle of the piece, degrees.
    pub centre_deg: f64,
    /// Blanks expected of it.
    pub expected: f64,
    /// Runs laid out, from the index end.
    pub runs: Vec<PlannedRun>,
}

/// Shares of all windows of the mean surface that break each limit, and where the good ones lie.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitShares {
    /// (limit word, share of windows that break it), in the order of [`broken::WORDS`].
    pub broken: Vec<(&'static str, f64)>,
    /// Share of windows that pass, by the third of the tube their middle lies in, index end first.
    pub passing_by_third: [f64; 3],
}

/// Everything said about one tube.
#[derive(Debug, Clone, PartialEq)]
pub struct TubePlan {
    /// Its figures.
    pub fit: FittedTube,
    /// Most blanks the length could hold were every window good.
    pub capacity: usize,
    /// The split; `None` when the tube is too short for a blank.
    pub split: Option<SplitChoice>,
    /// The pieces at the chosen split.
    pub pieces: Vec<PlannedPiece>,
    /// What sawing the tube in two before splitting would give; `None` where it was not worth trying.
    pub saw_first: Option<SawFirst>,
    /// What rules windows out.
    pub limits: LimitShares,
    /// False where no reading of the wall exists: the wall limit was not checked.
    pub wall_checked: bool,
    /// False where no fibre was followed: the grain is taken as running true.
    pub grain_checked: bool,
}

impl TubePlan {
    /// Blanks expected; 0 for a tube too short for one.
    #[must_use]
    pub fn expected(&self) -> f64 {
        self.split.as_ref().map_or(0.0, |s| s.best.expected)
    }

    /// Blanks of draw `k`.
    #[must_use]
    pub fn blanks_of_draw(&self, k: usize) -> f64 {
        self.split.as_ref().and_then(|s| s.draws.get(k)).map_or(0.0, |&n| f64::from(n))
    }

    /// Chance of at least `least` blanks.
    #[must_use]
    pub fn chance_of(&self, least: f64) -> f64 {
        match &self.split {
            Some(s) if !s.draws.is_empty() => {
                count(s.draws.iter().filter(|&&n| f64::from(n) >= least).count()) / count(s.draws.len())
            }
            _ => f64::from(u8::from(least <= 0.0)),
        }
    }
}

/// Why a tube has no plan.
#[derive(Debug, Clone, PartialEq)]
pub enum NoPlan {
    /// Rows that concern it could not be read; see the findings.
    InDoubt,
    /// Nothing usable was measured on its outside.
    NotMeasured,
    /// The fit failed.
    Failed(String),
}

/// A tube's plan, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeOutcome {
    /// The tube's name.
    pub tube: String,
    /// Its plan.
    pub plan: Result<Box<TubePlan>, NoPlan>,
}

/// A tube's figures, or why there are none.
#[derive(Debug, Clone, PartialEq)]
pub struct FitOutcome {
    /// The tube's name.
    pub tube: String,
    /// Its figures.
    pub fit: Result<FittedTube, NoPlan>,
}

impl From<&TubeOutcome> for FitOutcome {
    fn from(o: &TubeOutcome) -> FitOutcome {
        FitOutcome { tube: o.tube.clone(), fit: o.plan.as_ref().map(|p| p.fit.clone()).map_err(Clone::clone) }
    }
}

/// Fits every tube of a lot, in the lot's order, without planning any. `progress` is called once per tube.
#[must_use]
pub fn fit_lot(lot: &Lot, model: &Model, options: PlanOptions, progress: &(dyn Fn() + Sync)) -> Vec<FitOutcome> {
    lot.tubes
        .par_iter()
        .map(|tube| {
            let fit = laid_out(tube).and_then(|t| believe(&t, model).map(|b| fitted(&t, &b, model, options)));
            progress();
            FitOutcome { tube: tube.name.clone(), fit }
        })
        .collect()
}

/// The tube with its scan, if it has one, laid out.
fn laid_out(tube: &Tube) -> Result<Cow<'_, Tube>, NoPlan> {
    if tube.in_doubt {
        return Err(NoPlan::InDoubt);
    }
    scan::ready(tube).map_err(|fault| NoPlan::Failed(format!("tube {}: its scan cannot be used: {fault}", tube.name)))
}

fn believe(tube: &Tube, model: &Model) -> Result<Belief, NoPlan> {
    if tube.in_doubt {
        return Err(NoPlan::InDoubt);
    }
    Belief::fit(tube, model).map_err(|e| match e {
        BeliefError::NoReadings { .. } => NoPlan::NotMeasured,
        other => NoPlan::Failed(other.to_string()),
    })
}

fn fitted(tube: &Tube, belief: &Belief, model: &Model, options: PlanOptions) -> FittedTube {
    let suspicions = suspicions(tube, belief, model);
    FittedTube::of(tube, belief, options.seed, options.draws).suspecting(suspicions)
}

/// Plans every tube of a lot, in the lot's order. `progress` is called once per tube, from any thread.
#[must_use]
pub fn plan_lot(lot: &Lot, model: &Model, options: PlanOptions, progress: &(dyn Fn() + Sync)) -> Vec<TubeOutcome> {
    lot.tubes
        .par_iter()
        .map(|tube| {
            let plan = plan_tube(tube, lot, model, options).map(Box::new);
            progress();
            TubeOutcome { tube: tube.name.clone(), plan }
        })
        .collect()
}

/// Plans one tube.
///
/// # Errors
/// See [`NoPlan`].
pub fn plan_tube(tube: &Tube, lot: &Lot, model: &Model, options: PlanOptions) -> Result<TubePlan, NoPlan> {
    plan_and_keep(tube, lot, model, options).map(|(plan, _)| plan)
}

/// What a plan was made from: for those who want to see more of it than the plan says.
#[derive(Debug)]
pub(super) struct Basis {
    pub(super) belief: Belief,
    /// The splitter and the draws it chose from; `None` when the tube is too short for a blank.
    pub(super) draws: Option<(Splitter, Vec<DrawnSurface>)>,
}

/// Plans one tube and hands over what the plan was made from.
pub(super) fn plan_and_keep(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
) -> Result<(TubePlan, Basis), NoPlan> {
    let tube = &*laid_out(tube)?;
    let belief = believe(tube, model)?;
    let radius_mm = mean_radius_mm(&belief);
    let splitter = splitter_for(tube.length_mm, belief.fields(), lot, &tube.marks, radius_mm);
    let mut plan = TubePlan {
        fit: fitted(tube, &belief, model, options),
        capacity: 0,
        split: None,
        pieces: Vec::new(),
        saw_first: None,
        limits: LimitShares::default(),
        wall_checked: belief.wall_seen(),
        grain_checked: belief.grain_seen(),
    };
    let draws = splitter.map(|splitter| {
        let draws = lay_out(&mut plan, &splitter, &belief, &Coverage::of(tube, &lot.rigs, radius_mm), options);
        (splitter, draws)
    });
    Ok((plan, Basis { belief, draws }))
}

/// Mean radius of the mean surface, mm; never less than a millimetre, so that angles across it stay defined.
pub(super) fn mean_radius_mm(belief: &Belief) -> f64 {
    let z: Vec<f64> = (0..25).map(|i| belief.length_mm() * f64::from(i) / 24.0).collect();
    belief.mean_sections(&z).mean_of(Fields::R0).max(1.0)
}

fn lay_out(
    plan: &mut TubePlan,
    splitter: &Splitter,
    belief: &Belief,
    coverage: &Coverage,
    options: PlanOptions,
) -> Vec<DrawnSurface> {
    let z = splitter.judge().fan().z_mm().to_vec();
    let draws = judge_draws(
        splitter,
        |k| belief.draw_sections(options.seed, k, &z),
        options.seed,
        belief.tube(),
        options.draws.max(2),
    );
    let mut map = BarkMap::default();
    splitter.judge().judge(&belief.mean_sections(&z), &mut map);
    let choice = splitter.choose(&draws, &map);
    let table = splitter.mean_table(&draws);
    let aim = Angle::from_degrees(choice.best.angle_deg).radians();
    let fan = splitter.judge().fan();
    let per_piece = to_index((count(fan.starts() - 1) / splitter.need_steps() + 1e-9).floor()) + 1;
    plan.capacity = per_piece * splitter.pieces();
    plan.limits = limit_shares(&map, fan);
    let layer = RunLayer { splitter, belief, coverage, draws: &draws, map: &map };
    plan.pieces = (0..splitter.pieces())
        .map(|p| {
            let from = aim + count(p) * splitter.period();
            PlannedPiece {
                piece: p + 1,
                from_deg: tidy(Angle::from_radians(from)),
                centre_deg: tidy(Angle::from_radians(from + splitter.period() / 2.0)),
                expected: splitter.expected_runs(&table, from),
                runs: layer.runs(aim, p),
            }
        })
        .collect();
    plan.saw_first = saw_first(splitter, &draws, plan.capacity, choice.best.expected);
    plan.split = Some(choice);
    draws
}

fn tidy(a: Angle) -> f64 {
    (a.wrapped().degrees() * 1e6).round() / 1e6 % 360.0
}

fn limit_shares(map: &BarkMap, fan: &Fan) -> LimitShares {
    let windows = count(map.broken.len().max(1));
    let share = |bit: u8| count(map.broken.iter().filter(|&&b| b & bit != 0).count()) / windows;
    let broken = broken::WORDS.iter().map(|&(bit, word)| (word, share(bit))).collect();
    let mut passing_by_third = [0.0; 3];
    let length = fan.z_mm().last().copied().unwrap_or(0.0) + fan.z_mm().first().copied().unwrap_or(0.0);
    for s in 0..fan.starts() {
        let middle = (fan.start_mm(s) + fan.blank_mm() / 2.0) / length;
        let third = to_index((3.0 * middle).floor()).min(2);
        let good = map.broken[s * LINES..(s + 1) * LINES].iter().filter(|&&b| b == 0).count();
        passing_by_third[third] += count(good) / windows;
    }
    LimitShares { broken, passing_by_third }
}

/// Lays runs on pieces.
struct RunLayer<'a> {
    splitter: &'a Splitter,
    belief: &'a Belief,
    coverage: &'a Coverage,
    draws: &'a [DrawnSurface],
    map: &'a BarkMap,
}

impl RunLayer<'_> {
    /// Runs of piece `p` at `aim`: the set of places whose chances add up to most, least margin second.
    fn runs(&self, aim: f64, p: usize) -> Vec<PlannedRun> {
        let fan = self.splitter.judge().fan();
        let chance = self.chances(aim, p);
        let (first, width) = self.splitter.lines_of(aim, p, &[]);
        let lines: Vec<(usize, f64)> = (0..fan.starts()).map(|s| self.best_line(s, first, width)).collect();
        let step = fan.step_mm();
        let places = to_index((count(fan.starts() - 1) * step / PLACE_STEP_MM + 1e-6).floor()) + 1;
        // between two starts the lesser chance holds; a small share of the margin settles ties
        let at = |place: usize| {
            let u = count(place) * PLACE_STEP_MM / step;
            let i = to_index(u.floor()).min(fan.starts() - 1);
            let next = (i + 1).min(fan.starts() - 1);
            if u - count(i) < 1e-6 { (i, i) } else { (i, next) }
        };
        let worth: Vec<f64> = (0..places)
            .map(|place| {
                let (i, j) = at(place);
                let c = chance[i].min(chance[j]);
                if c < LEAST_RUN_CHANCE { 0.0 } else { c + 1e-3 * lines[i].1.min(lines[j].1).clamp(-1.0, 1.0) }
            })
            .collect();
        let need = to_index((self.splitter.need_steps() * step / PLACE_STEP_MM - 1e-6).ceil());
        best_places(&worth, need, LEAST_RUN_CHANCE - 2e-3)
            .into_iter()
            .map(|place| {
                let (i, j) = at(place);
                let s = if chance[j] < chance[i] { j } else { i };
                let from_mm = fan.start_mm(0) + count(place) * PLACE_STEP_MM;
                self.describe(s, lines[s].0, from_mm, chance[i].min(chance[j]))
            })
            .collect()
    }

    /// For every start the share of draws in which it passes somewhere in the piece, wander included.
    fn chances(&self, aim: f64, p: usize) -> Vec<f64> {
        let starts = self.splitter.judge().fan().starts();
        let mut hits = vec![0_usize; starts];
        for d in self.draws {
            let (first, width) = self.splitter.lines_of(aim, p, &d.wander);
            let set = d.passing.any(first, width);
            for (s, h) in hits.iter_mut().enumerate() {
                *h += usize::from(set[s / 64] >> (s % 64) & 1 == 1);
            }
        }
        hits.iter().map(|&h| count(h) / count(self.draws.len().max(1))).collect()
    }

    /// The line that passes most often at start `s`, ties to the larger margin of the mean surface; and that margin. Of
    /// the lines a piece leaves open, which a turning grain shifts along the tube (see [`BarkMap::side`]).
    fn best_line(&self, s: usize, first: usize, width: usize) -> (usize, f64) {
        let judge = self.splitter.judge();
        let (shift, lost) = self.map.side(s);
        let mut best = ((first + width / 2 + shift) % LINES, f64::MIN, 0);
        for i in first + lost..(first + width).saturating_sub(lost) {
            let line = (i + shift) % LINES;
            let hits = self.draws.iter().filter(|d| d.passing.line(i)[s / 64] >> (s % 64) & 1 == 1).count();
            let margin = judge.margin(self.map, s * LINES + line);
            if hits > best.2 || (hits == best.2 && margin > best.1) {
                best = (line, margin, hits);
            }
        }
        (best.0, best.1)
    }

    fn describe(&self, s: usize, line: usize, from_mm: f64, chance: f64) -> PlannedRun {
        let judge = self.splitter.judge();
        let blank = judge.fan().blank_mm();
        let angle = Fan::line_angle(line);
        let values: Vec<[f64; 4]> = self.draws.iter().map(|d| judge.window(&d.sections, s, line)).collect();
        let measured = |q: usize| {
            let v: Vec<f64> = values.iter().map(|x| x[q]).collect();
            Measured { value: mean(&v), sd: sd(&v) }
        };
        let middle = from_mm + blank / 2.0;
        let fields = self.belief.fields();
        let bend = Quantity::of(fields).height(middle, angle, 1.0).height(from_mm, angle, -0.5);
        let flat = self.belief.doubt_of(&bend.height(from_mm + blank, angle, -0.5)).seen();
        let curve = self.belief.doubt_of(&judge.arc_quantity(line, middle)).seen();
        let nearest = (0..=4)
            .filter_map(|i| self.coverage.nearest_mm(from_mm + blank * f64::from(i) / 4.0, angle))
            .max_by(f64::total_cmp);
        PlannedRun {
            from_mm,
            to_mm: from_mm + blank,
            line_deg: tidy(angle),
            chance,
            hollow_mm: flat.then(|| measured(0)),
            rock_mm: flat.then(|| measured(1)),
            arc_diameter_mm: curve.then(|| measured(2)),
            skew_mm: curve.then(|| measured(3)),
            nearest_reading_mm: nearest,
        }
    }
}
