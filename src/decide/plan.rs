//! The whole plan of one tube: from readings to split angle, pieces, runs and verdict.

use super::bark_map::{BarkMap, broken};
use super::fan::{Fan, LINES};
use super::room::Side;
use super::runs::best_places;
use super::saw_first::saw_first;
use super::screen::screen;
use super::split::{DrawnSurface, Splitter, judge_draws, splitter_for};
use super::verdict::Screened;
use crate::domain::{Angle, Lot, Tube};
use crate::numeric::summary::{count, mean, sd, to_index};
use crate::tube::faults::suspicions;
use crate::tube::{Belief, BeliefError, Coverage, Fields, FittedTube, Measured, Model, Quantity};

pub use super::tube_plan::{LimitShares, NoPlan, PlanOptions, PlannedPiece, PlannedRun, TubePlan};

/// Runs whose chance is below this are not laid out; they still count in the expected blanks.
const LEAST_RUN_CHANCE: f64 = 0.25;
/// Places for the ends of runs are tried this far apart, mm: what can be marked with a sharp pencil.
const PLACE_STEP_MM: f64 = 0.1;

/// Fits one tube whose scan, if it has one, is laid out.
///
/// # Errors
/// See [`NoPlan`].
pub fn fit_tube(tube: &Tube, model: &Model, options: PlanOptions) -> Result<FittedTube, NoPlan> {
    believe(tube, model).map(|b| fitted(tube, &b, model, options))
}

fn believe(tube: &Tube, model: &Model) -> Result<Belief, NoPlan> {
    if tube.in_doubt {
        return Err(NoPlan::InDoubt);
    }
    Belief::fit(tube, model).map_err(|e| match e {
        BeliefError::NoReadings { .. } => NoPlan::NotMeasured,
        other => NoPlan::Failed(other),
    })
}

fn fitted(tube: &Tube, belief: &Belief, model: &Model, options: PlanOptions) -> FittedTube {
    let suspicions = suspicions(tube, belief, model);
    FittedTube::of(tube, belief, options.seed, options.draws).suspecting(suspicions)
}

/// Plans one tube whose scan, if it has one, is laid out.
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
        screen: Screened::default(),
    };
    let draws = splitter.map(|splitter| {
        let draws = lay_out(&mut plan, &splitter, &belief, &Coverage::of(tube, &lot.rigs, radius_mm), options);
        (splitter, draws)
    });
    plan.screen = screen(&plan, &lot.target, &lot.screen);
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
    /// the lines a piece leaves open, which a turning grain shifts along the tube and which a bent or thin place has fewer of
    /// (see [`BarkMap::side`]).
    fn best_line(&self, s: usize, first: usize, width: usize) -> (usize, f64) {
        let judge = self.splitter.judge();
        let Side { shift, left, right } = self.map.side(s);
        let mut best = ((first + width / 2 + shift) % LINES, f64::MIN, 0);
        for i in first + left..(first + width).saturating_sub(right) {
            let line = (i + shift) % LINES;
            let hits = self.draws.iter().filter(|d| d.passing.passes(s, i)).count();
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Kind, Mark, Place, Reading};
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
}
