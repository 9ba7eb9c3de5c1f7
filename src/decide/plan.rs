//! The whole plan of one tube: from readings to split angle, pieces, runs and verdict.

use super::bark_map::BarkMap;
use super::broken;
use super::fan::{Fan, LINES};
use super::girth::Girth;
use super::leeway;
use super::run_layer::RunLayer;
use super::saw_first::{Tried, handling_of, saw_first};
use super::screen::screen;
use super::split::{DrawnSurface, SplitChoice, Splitter, judge_draws, splitter_for};
use super::unread::{Unchecked, unchecked};
use super::verdict::Screened;
use super::worth::Yields;
use crate::domain::{Angle, Lot, Tube, measuring_seconds};
use crate::numeric::summary::{count, to_index};
use crate::tube::faults::suspicions;
use crate::tube::{Belief, BeliefError, Coverage, Fields, FittedTube, Model, Unread};

use super::tube_plan::tidy;
pub use super::tube_plan::{LimitShares, NoPlan, PlanOptions, PlannedPiece, PlannedRun, TubePlan};

/// Fits one tube whose scan, if it has one, is laid out.
///
/// # Errors
/// See [`NoPlan`].
pub fn fit_tube(tube: &Tube, model: &Model, options: PlanOptions) -> Result<FittedTube, NoPlan> {
    believe(tube, model).map(|b| fitted(tube, &b, model, options))
}

pub(super) fn believe(tube: &Tube, model: &Model) -> Result<Belief, NoPlan> {
    if tube.in_doubt {
        return Err(NoPlan::InDoubt);
    }
    // before its length, which an empty form does not say either
    if tube.readings.is_empty() && tube.scan.is_none() {
        return Err(NoPlan::NotMeasured);
    }
    Belief::fit(tube, model).map_err(|e| match e {
        BeliefError::NoReadings { .. } => NoPlan::NotMeasured,
        other => NoPlan::Failed(other),
    })
}

pub(super) fn fitted(tube: &Tube, belief: &Belief, model: &Model, options: PlanOptions) -> FittedTube {
    let suspicions = suspicions(tube, belief, model);
    FittedTube::of(tube, belief, options.seed, options.draws).suspecting(suspicions)
}

/// Plans one tube whose scan, if it has one, is laid out.
///
/// # Errors
/// See [`NoPlan`].
pub fn plan_tube(tube: &Tube, lot: &Lot, model: &Model, options: PlanOptions) -> Result<TubePlan, NoPlan> {
    plan_and_keep(tube, lot, model, options, Depth::Whole).map(|(plan, _)| plan)
}

/// How much of a plan is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    /// All of it.
    Whole,
    /// Split, pieces and runs, for an answer at once: no slips are looked for, no other limits, no other order of the work and
    /// no grain or wall nobody read are tried.
    Glance,
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
    depth: Depth,
) -> Result<(TubePlan, Basis), NoPlan> {
    let belief = believe(tube, model)?;
    let radius_mm = mean_radius_mm(&belief);
    let splitter = splitter_for(tube.length_mm, belief.fields(), lot, &tube.marks, radius_mm);
    let fell = splitter.as_ref().and_then(|s| lines_that_fell(tube, lot, s, &belief, options));
    let as_split = fell.is_some();
    let splitter = splitter.map(|s| match (fell, tube.aim) {
        (Some(lines), _) => s.fallen(lines),
        (None, Some(aim)) => s.aimed_at(aim.radians()),
        (None, None) => s,
    });
    let whole = depth == Depth::Whole;
    let fit = |b: &Belief| {
        if whole { fitted(tube, b, model, options) } else { FittedTube::of(tube, b, options.seed, options.draws) }
    };
    let mut plan = begun(tube, lot, &belief, fit(&belief));
    plan.as_split = as_split;
    let draws = splitter.map(|splitter| {
        let coverage = Coverage::of(tube, &lot.rigs, radius_mm);
        let draws = lay_out(&mut plan, &splitter, &belief, &coverage, options);
        if whole {
            try_others(&mut plan, &splitter, &draws, &belief, lot);
            plan.unchecked = not_read(&plan, &splitter, &draws, model, options.seed, radius_mm);
        }
        (splitter, draws)
    });
    plan.screen = screen(&plan, &lot.target, &lot.screen);
    Ok((plan, Basis { belief, draws }))
}

/// A plan of which nothing but the figures is known yet.
pub(super) fn begun(tube: &Tube, lot: &Lot, belief: &Belief, fit: FittedTube) -> TubePlan {
    TubePlan {
        fit,
        capacity: 0,
        split: None,
        pieces: Vec::new(),
        marked: None,
        unchecked: None,
        limit_changes: Vec::new(),
        saw_first: None,
        left_to_gain: None,
        next: None,
        as_split: false,
        minutes: tube
            .scan
            .is_none()
            .then(|| measuring_seconds(&tube.readings, &lot.rigs) * lot.pace.unwrap_or(1.0) / 60.0),
        limits: LimitShares::default(),
        wall_checked: belief.wall_seen(),
        grain_checked: belief.grain_seen(),
        screen: Screened::default(),
    }
}

/// Where the tube's split lines fell, radians, where the lot is to be planned as it was split; `None` where nobody wrote it
/// down.
fn lines_that_fell(
    tube: &Tube,
    lot: &Lot,
    splitter: &Splitter,
    belief: &Belief,
    options: PlanOptions,
) -> Option<Vec<f64>> {
    let cut = tube.cut.as_ref().filter(|_| lot.as_split)?;
    // widths alone do not tell how far the whole is turned: their lines lie about those that were aimed at
    let aim = match cut.aim {
        Some(aim) => aim.radians(),
        None if cut.lines.is_empty() && !cut.backs_mm.is_empty() => {
            let (draws, map) = surfaces(splitter, belief, options);
            Angle::from_degrees(splitter.choose(&draws, &map).best.angle_deg).radians()
        }
        None => 0.0,
    };
    cut.lines_radians(lot.target.pieces, aim)
}

/// The draws that a split is chosen from, and the map of the mean surface.
pub(super) fn surfaces(splitter: &Splitter, belief: &Belief, options: PlanOptions) -> (Vec<DrawnSurface>, BarkMap) {
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
    (draws, map)
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
    let (draws, map) = surfaces(splitter, belief, options);
    let chosen = splitter.choose_by_parts(&draws, &map);
    let choice = chosen.choice;
    let table = splitter.mean_table(&draws);
    let aim = Angle::from_degrees(choice.best.angle_deg).radians();
    let fan = splitter.judge().fan();
    plan.capacity = capacity(splitter);
    plan.limits = limit_shares(&map, fan);
    // the pieces share what is expected of the tube as the draws share it
    let drawn = splitter.value(&table, aim);
    let fair = if drawn > 0.0 { choice.best.expected / drawn } else { 1.0 };
    let layer = RunLayer { splitter, belief, coverage, draws: &draws, map: &map };
    let sets = layer.sets(aim);
    plan.pieces = (0..splitter.pieces())
        .map(|p| {
            let [from, to] = splitter.ends_of(aim, p);
            PlannedPiece {
                piece: p + 1,
                from_deg: tidy(Angle::from_radians(from)),
                centre_deg: tidy(Angle::from_radians(0.5 * (from + to))),
                expected: fair * splitter.expected_runs(&table, aim, p),
                runs: layer.runs(aim, p, &sets[p]),
            }
        })
        .collect();
    plan.marked = Some(layer.marked(&sets, &plan.pieces, &chosen.aims));
    if splitter.aims().len() < 2 {
        // nothing is left to choose
        plan.split = Some(SplitChoice { any_angle: false, ..choice });
        return draws;
    }
    plan.split = Some(choice);
    plan.left_to_gain = Some(Yields::of_draws(splitter, &draws).ceiling());
    draws
}

/// Most blanks the length could hold were every window good.
pub(super) fn capacity(splitter: &Splitter) -> usize {
    let starts = splitter.judge().fan().starts();
    let per_piece = to_index((count(starts - 1) / splitter.need_steps() + 1e-9).floor()) + 1;
    per_piece * splitter.pieces()
}

/// What other limits and another order of the work would give.
fn try_others(plan: &mut TubePlan, splitter: &Splitter, draws: &[DrawnSurface], belief: &Belief, lot: &Lot) {
    let Some((deg, expected)) = plan.split.as_ref().map(|s| (s.best.angle_deg, s.best.expected)) else { return };
    plan.limit_changes = leeway::changes(splitter, draws, Angle::from_degrees(deg).radians(), expected);
    if splitter.aims().len() > 1 {
        let tried = Tried {
            capacity: plan.capacity,
            expected,
            length_mm: plan.fit.length_mm,
            tries: lot.tubes.len(),
            handling: handling_of(lot),
        };
        let along = |z_mm: f64, deg: f64| Girth::of_section(belief.mean_sections(&[z_mm]).section(0)).at_mm(deg);
        plan.saw_first = saw_first(splitter, draws, tried, along);
    }
}

/// What a plan would be with grain and wall as they may be, where they were not read.
fn not_read(
    plan: &TubePlan,
    splitter: &Splitter,
    draws: &[DrawnSurface],
    model: &Model,
    seed: u64,
    radius_mm: f64,
) -> Option<Unchecked> {
    let what = [!plan.grain_checked, !plan.wall_checked];
    let split = plan.split.as_ref().filter(|_| what.contains(&true))?;
    let aim = Angle::from_degrees(split.best.angle_deg).radians();
    let unread = |k| Unread::drawn(model, &plan.fit.tube, radius_mm, seed, k);
    Some(unchecked(splitter, draws, aim, what, unread, (split.best.expected, &split.draws)))
}

pub(super) fn limit_shares(map: &BarkMap, fan: &Fan) -> LimitShares {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Cut, Kind, Mark, Place, Reading};
    use crate::tube::learn::learn_population;

    const LENGTH_MM: f64 = 226.0;

    /// A tube read exactly, at 12 angles every 15 mm: `height(angle in degrees, z)` is the distance of the bark from the axis.
    fn read(height: impl Fn(f64, f64) -> f64) -> Tube {
        let rings = (0..16).map(|j| f64::from(j) * 15.0).flat_map(|z| (0..12).map(move |i| (z, f64::from(i) * 30.0)));
        let readings = rings.map(|(z, a)| Reading::new(Kind::Radius, z, Angle::from_degrees(a), height(a, z)));
        Tube { name: "T".into(), length_mm: LENGTH_MM, readings: readings.collect(), ..Tube::default() }
    }

    fn marked(from_mm: f64, to_mm: f64, degrees: Option<(f64, f64)>) -> Mark {
        let [from, to] = [degrees.map(|d| d.0), degrees.map(|d| d.1)].map(|d| d.map(Angle::from_degrees));
        Mark { from_mm, to_mm, from, to, why: "crack".into(), place: Place::default() }
    }

    fn planned(tube: &Tube) -> TubePlan {
        plan_tube(tube, &Lot::default(), &learned(tube), PlanOptions { seed: 1, draws: 30 }).expect("measured")
    }

    /// What a lot of this one tube says of tubes, as every command begins with.
    fn learned(tube: &Tube) -> Model {
        let before = Model::default();
        learn_population(std::slice::from_ref(tube), &before).expect("measured").model(&before)
    }

    fn runs(plan: &TubePlan) -> Vec<&PlannedRun> {
        plan.pieces.iter().flat_map(|p| &p.runs).collect()
    }

    #[test]
    fn a_round_straight_tube_gives_two_blanks_a_quarter_and_the_pieces_follow_clockwise() {
        let plan = planned(&read(|_, _| 12.7));
        // 226 less 16 of trim: 70 + 1 + 70 fit, a third does not
        assert_eq!(plan.capacity, 8);
        assert!(plan.expected() > 7.5, "{}", plan.expected());
        let parts: f64 = plan.pieces.iter().map(|p| p.expected).sum();
        assert!((parts - plan.expected()).abs() < 1e-6, "{parts} {}", plan.expected());
        let first = plan.split.as_ref().expect("split").best.angle_deg;
        for (k, piece) in (0_u8..).zip(&plan.pieces) {
            let from = (first + 90.0 * f64::from(k)) % 360.0;
            assert!((piece.from_deg - from).abs() < 1e-6, "{piece:?}");
            assert!((piece.centre_deg - (from + 45.0) % 360.0).abs() < 1e-6, "{piece:?}");
            for run in &piece.runs {
                let off = (run.line_deg - piece.centre_deg + 180.0).rem_euclid(360.0) - 180.0;
                assert!(off.abs() < 45.0, "{run:?} is not on its piece about {}", piece.centre_deg);
                assert!(
                    (run.to_mm - run.from_mm - 70.0).abs() < 1e-9 && run.from_mm >= 8.0 && run.to_mm <= 218.0 + 1e-6
                );
            }
        }
    }

    #[test]
    fn runs_lie_across_the_bow_and_not_along_it() {
        // an arc of 1.6 mm toward 90 deg: light or rocking on the lines about 90 and 270, flat on those about 0 and 180
        let bow = |z: f64| 4.0 * 1.6 * z * (LENGTH_MM - z) / LENGTH_MM.powi(2);
        let plan = planned(&read(|a, z| 12.7 + bow(z) * a.to_radians().sin()));
        let toward = plan.fit.figures.bow_deg.expect("seen").value;
        assert!((toward - 90.0).abs() < 3.0, "{toward}");
        let runs = runs(&plan);
        assert!(runs.len() >= 2, "{runs:?}");
        for run in runs {
            let along = run.line_deg.to_radians().sin();
            // a stick of 70 mm spans 1.6 (70/226)^2 = 0.153 mm of the arc: light on the inner side, where 0.08 is allowed
            // (sine 0.52), and rocking by it on the outer one, where 0.12 is (sine 0.78)
            assert!((-0.55..0.80).contains(&along), "a run on the line at {} deg", run.line_deg);
            let (hollow, inner) = (run.hollow_mm.expect("seen").value, (-0.153 * along).max(0.0));
            assert!((hollow - inner).abs() < 0.03, "{hollow} mm on the line at {} deg, {inner} by hand", run.line_deg);
        }
    }

    #[test]
    fn a_mark_takes_its_own_end_and_its_own_side() {
        let mut tube = read(|_, _| 12.7);
        tube.marks = vec![marked(0.0, 110.0, None)];
        let plan = planned(&tube);
        assert!(!runs(&plan).is_empty() && runs(&plan).iter().all(|r| r.from_mm >= 110.0 - 1e-6), "{:?}", runs(&plan));
        assert!(plan.limits.passing_by_third[0] < 1e-12 && plan.limits.passing_by_third[2] > 0.1, "{:?}", plan.limits);
        // the side from 10 clockwise to 170 deg
        tube.marks = vec![marked(0.0, LENGTH_MM, Some((10.0, 170.0)))];
        let plan = planned(&tube);
        assert!(!runs(&plan).is_empty());
        for run in runs(&plan) {
            assert!(run.line_deg > 180.0, "{run:?} lies on the marked side");
        }
    }

    #[test]
    fn a_small_tube_breaks_the_limit_called_small_and_a_large_one_the_other() {
        for (radius, word, other) in [(11.9, "small", "large"), (13.5, "large", "small")] {
            let plan = planned(&read(|_, _| radius));
            let share = |w: &str| plan.limits.broken.iter().find(|l| l.0 == w).expect("listed").1;
            // 23.8 and 27.0 against 25.4 +-1.2
            assert!(share(word) > 0.95 && share(other) < 0.05, "{radius}: {:?}", plan.limits);
            assert!(plan.expected() < 0.5, "{}", plan.expected());
        }
    }

    #[test]
    fn the_chance_of_a_number_counts_the_draws_that_reach_it() {
        let mut plan = planned(&read(|_, _| 12.7));
        plan.split.as_mut().expect("split").draws = vec![0, 1, 2, 5];
        for (least, chance) in [(0.0, 1.0), (1.0, 0.75), (2.0, 0.5), (2.5, 0.25), (6.0, 0.0)] {
            assert!((plan.chance_of(least) - chance).abs() < 1e-12, "{least}");
        }
        assert!((plan.blanks_of_draw(3) - 5.0).abs() < 1e-12 && plan.blanks_of_draw(9).abs() < 1e-12);
        plan.split = None;
        assert!((plan.chance_of(0.0) - 1.0).abs() < 1e-12 && plan.chance_of(1.0).abs() < 1e-12);
    }

    #[test]
    fn directions_are_told_from_0_to_360() {
        for (radians, want) in [(-std::f64::consts::FRAC_PI_2, 270.0), (std::f64::consts::TAU, 0.0), (-1e-12, 0.0)] {
            assert!((tidy(Angle::from_radians(radians)) - want).abs() < 1e-9, "{radians}");
        }
    }

    /// Catches backs laid about the angle that is advised where another was aimed at and written down.
    #[test]
    fn backs_lie_about_the_angle_that_was_aimed_at() {
        let mut tube = read(|_, _| 12.7);
        let aim = Some(Angle::from_degrees(50.0));
        tube.cut = Some(Cut { aim, backs_mm: vec![18.0; 4], ..Cut::default() });
        let lot = Lot { as_split: true, ..Lot::default() };
        let plan = plan_tube(&tube, &lot, &learned(&tube), PlanOptions { seed: 1, draws: 4 }).expect("measured");
        for (piece, want) in plan.pieces.iter().zip([50.0, 140.0, 230.0, 320.0]) {
            assert!((piece.from_deg - want).abs() < 1e-6, "{piece:?}");
        }
    }
}
