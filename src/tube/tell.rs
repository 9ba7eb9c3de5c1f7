//! What the fit of one tube says of the scales it was made under.
//!
//! The slope of the log evidence by the logarithm of a scale needs only what the field is expected to be squared: for a
//! level `E[beta^2] / s^2 - 1`, for an unevenness of m coefficients `E[e' R e] / s^2 - m`, for the noise of n readings
//! `E[r^2] / s^2 - n` (the statistics of the EM algorithm; A. P. Dempster, N. M. Laird, D. B. Rubin, J. R. Statist. Soc. B
//! 39 (1977) 1-38). Traces are taken over a few fixed random probes (M. F. Hutchinson, Commun. Statist. Simul. 19 (1990)
//! 433-450), so a slope costs little more than a factorisation; with few readings, of which each says much, the share of the
//! border and the variance of each reading are exact.

use super::group::{Group, INSIDE_REACH_MM};
use super::law::FACTORS;
use super::layout::Layout;
use super::model::Model;
use super::own::{Factors, Own, OwnTold, followed};
use super::population::{PARTS, Population, REACH, ROUGH};
use super::prior::{Alone, Banded};
use super::problem::{Problem, Solved};
use super::rounding::Site;
use super::tangent::Tangent;
use crate::domain::{Kind, Tube};
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use crate::numeric::summary::count;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

/// Random probes for a trace.
const PROBES: u32 = 6;
/// The same where readings are few, and the probes cheap.
const MANY_PROBES: u32 = 24;
/// Step of the logarithm of the reach for its slope.
const REACH_STEP: f64 = 0.02;
/// Up to so many rows the traces are worked out for themselves as far as probes would drown what they say.
const FEW_ROWS: usize = 80;
/// What the square of a good residual comes to on average once it is weighed as the fit weighs it: the integral of
/// the weight times `u^2` over a standard normal `u`.
const WEIGHED_SQUARE: f64 = 0.9370;

/// What one tube says of one scale.
#[derive(Debug, Clone, Default)]
pub(super) struct ToldScale {
    /// `E[square] / scale^2 - number`
    pub(super) slope: f64,
    /// Twice the number of values that the readings determine.
    pub(super) information: f64,
    /// Which factor of the tube's own it takes.
    pub(super) factor: Option<usize>,
}

/// What one tube says, by field group and part.
#[derive(Debug, Clone)]
pub(super) struct Told {
    pub(super) scales: BTreeMap<(String, usize), ToldScale>,
    pub(super) noise: BTreeMap<(Kind, String), (f64, f64)>,
    pub(super) evidence: f64,
    pub(super) own: OwnTold,
}

impl ToldScale {
    /// Adds so many values, of which a share is seen.
    fn add(&mut self, slope: f64, (values, seen): (f64, f64), factor: Option<usize>) {
        self.slope += slope;
        self.information += 2.0 * values * seen;
        self.factor = factor;
    }
}

/// One tube under way.
pub(super) struct Walker<'a> {
    pub(super) tube: Cow<'a, Tube>,
    pub(super) x: Vec<f64>,
    pub(super) sites: Vec<Site>,
    weights: Vec<f64>,
    share: f64,
    pub(super) own: Own,
}

impl<'a> Walker<'a> {
    /// Before its first step.
    pub(super) fn new(tube: Cow<'a, Tube>) -> Walker<'a> {
        Walker { tube, x: Vec::new(), sites: Vec::new(), weights: Vec::new(), share: 1.0, own: Own::default() }
    }

    /// Goes on with the fit under new scales for at most `passes` passes, and tells what it then says of them.
    pub(super) fn step(&mut self, model: &Model, passes: usize, factors: Factors) -> Option<Told> {
        let model = &self.model(model);
        let problem = Problem::new(&self.tube, model).ok()?;
        // empty before the first step, and after one that could not be made
        let solved = if self.x.is_empty() {
            problem.solve_lifted()?
        } else {
            let sites = problem.renewed(std::mem::take(&mut self.sites), &self.weights);
            problem.solve_from(std::mem::take(&mut self.x), sites, self.share, passes)?
        };
        let told = reached(&problem, &solved, &model.population)
            .and_then(|reached| tell(&self.tube, &problem, &solved, (&model.population, self.own), &reached));
        if let (Some(told), Factors::Follow) = (&told, factors) {
            self.own.step(&told.own);
        }
        self.x = solved.x;
        self.sites = solved.sites;
        self.weights = solved.weights;
        self.share = solved.share;
        told
    }

    /// The model of this tube in a lot of `lot`.
    pub(super) fn model(&self, lot: &Model) -> Model {
        in_lot(self.own, lot)
    }

    /// What its readings say under other scales, at the weights and tangents of its last fit.
    pub(super) fn told_under(&self, model: &Model) -> Option<Told> {
        Some(self.ground(model)?.told)
    }

    /// The same, with what other scales near by can go on from.
    pub(super) fn ground(&self, lot: &Model) -> Option<Ground<'_>> {
        self.ground_as(self.own, lot)
    }

    fn ground_as(&self, own: Own, lot: &Model) -> Option<Ground<'_>> {
        let model = &in_lot(own, lot);
        let problem = Problem::new(&self.tube, model).ok()?;
        let sites = problem.renewed(self.sites.clone(), &self.weights);
        let mut solved = problem.solve_from(self.x.clone(), sites, 1.0, 1)?;
        solved.weights.clone_from(&self.weights);
        let reached = reached(&problem, &solved, &model.population)?;
        let told = tell(&self.tube, &problem, &solved, (&model.population, own), &reached)?;
        let instruments = self.tube.readings.iter().map(|r| (r.kind, r.rig.clone())).collect();
        Some(Ground { walker: self, problem, solved, population: model.population.clone(), reached, told, instruments })
    }
}

/// The model of a tube with factors of its own.
fn in_lot(own: Own, lot: &Model) -> Model {
    Model { population: own.of(&lot.population), ..lot.clone() }
}

/// One tube at the weights and tangents of its last fit, under some scales: what other scales can go on from. Levels and
/// long shapes stand in the border, so that a change of theirs leaves the band's factor as it is; a change of noise alone
/// changes what the readings add.
pub(super) struct Ground<'a> {
    walker: &'a Walker<'a>,
    problem: Problem,
    solved: Solved,
    population: Population,
    reached: [Reached; 2],
    told: Told,
    /// what the tube was read with
    instruments: BTreeSet<(Kind, String)>,
}

impl Ground<'_> {
    /// What [`Walker::told_under`] tells, to the bit, the tube's own factors moved by `by`.
    pub(super) fn told_under(&self, lot: &Model, by: Own) -> Option<Told> {
        let own = self.walker.own.moved(by);
        let model = &in_lot(own, lot);
        let population = &model.population;
        let louder = |p: &Population, (kind, rig): &(Kind, String)| p.noise_of(*kind, rig).to_bits();
        if self.instruments.iter().any(|i| louder(population, i) != louder(&self.population, i)) {
            return Some(self.walker.ground_as(own, lot)?.told);
        }
        let mut problem = self.problem.clone();
        let tube = &self.walker.tube;
        let smooth = problem.move_to(tube, model, &self.population);
        if smooth && problem.border == self.problem.border {
            return Some(self.told.clone());
        }
        let before = &self.solved;
        let factor = if smooth {
            before.factor.with_corner(|r| problem.border[r])?
        } else {
            problem.factor_with(&before.added)?
        };
        let mut x = before.right.clone();
        factor.solve(&mut x);
        for ((x, c), from) in x.iter_mut().zip(&problem.centre).zip(&self.walker.x) {
            // as a whole step from there
            *x = from + (c + *x - from);
        }
        let solved = Solved {
            x,
            factor,
            added: before.added.clone(),
            right: before.right.clone(),
            weights: before.weights.clone(),
            sites: Vec::new(),
            share: 1.0,
            settled: false,
        };
        let reached = if smooth {
            let [down, up] = &self.reached;
            [down.with_border(&problem)?, up.with_border(&problem)?]
        } else {
            reached(&problem, &solved, population)?
        };
        tell(tube, &problem, &solved, (population, own), &reached)
    }
}

/// How the unknowns of a fit spread about its mean.
struct Spread {
    /// Random probes, each with the numbers it was made from.
    probes: Vec<[Vec<f64>; 2]>,
    /// What stands for itself: expected squares are means over the probes and sums over these.
    units: Vec<Vec<f64>>,
    /// With few rows the variance of a reading is worked out for itself: its noise would otherwise be drowned by that of
    /// the probes.
    exact: bool,
}

impl Spread {
    fn of(tube: &Tube, problem: &Problem, solved: &Solved) -> Spread {
        let (n, size) = (problem.layout.band(), problem.layout.size());
        let exact = problem.rows.iter().filter(|r| !r.held).count() <= FEW_ROWS;
        let mut rng = draws::stream(0x7ace, &tube.name, 0);
        let probes = if exact { MANY_PROBES } else { PROBES };
        let probes = (0..probes).map(|_| {
            let mut z: Vec<f64> = draws::normals(&mut rng, size).iter().map(|v| v.signum()).collect();
            if exact {
                z[n..].fill(0.0);
            }
            let mut spread = z.clone();
            solved.factor.backward(&mut spread);
            [z, spread]
        });
        let probes = probes.collect();
        // the border's share of the spread for itself: a height that nothing holds would shake every probe
        let units = (if exact { n..size } else { 0..0 }).map(|at| {
            let mut unit = vec![0.0; size];
            unit[at] = 1.0;
            solved.factor.backward(&mut unit);
            unit
        });
        Spread { probes, units: units.collect(), exact }
    }

    fn mean(&self, square: impl Fn(&[f64]) -> f64) -> f64 {
        let probes = self.probes.iter().map(|[_, z]| square(z)).sum::<f64>() / count(self.probes.len());
        probes + self.units.iter().map(|z| square(z)).sum::<f64>()
    }

    /// Expected form of the coefficients of a field, of which the prior's own, `before`, is known. Where the readings leave
    /// nearly all of it the probes only have to tell what they take: what the prior makes of the same probes is a control
    /// variate, the more of it the less was seen.
    fn of_field(&self, form: impl Fn(&[f64]) -> f64, prior: impl Fn(&[f64]) -> f64, before: f64) -> f64 {
        let n = count(self.probes.len());
        let left = self.probes.iter().map(|[_, z]| form(z)).sum::<f64>() / n;
        let units = self.units.iter().map(|z| form(z)).sum::<f64>();
        if !self.exact {
            return left + units;
        }
        let all = self.probes.iter().map(|[z, _]| prior(z)).sum::<f64>() / n;
        let share = if all > 0.0 { (left / all).min(1.0) } else { 1.0 };
        left - share * share * (all - before) + units
    }

    /// Variance of what a reading should show.
    fn variance(&self, tangent: &Tangent, factor: &ArrowFactor) -> f64 {
        if !self.exact {
            return self.mean(|z| tangent.along(z).powi(2));
        }
        let mut h = vec![0.0; factor.size()];
        tangent.entries().for_each(|(at, g)| h[at] += g);
        factor.forward(&mut h);
        h.iter().map(|v| v * v).sum()
    }
}

/// What one fit says of the scales it was made under.
fn tell(
    tube: &Tube,
    problem: &Problem,
    solved: &Solved,
    (population, own): (&Population, Own),
    reached: &[Reached; 2],
) -> Option<Told> {
    let (layout, n) = (&problem.layout, problem.layout.band());
    let fields = layout.fields;
    let m = layout.spline.size();
    let covariance = solved.factor.border_covariance();
    let b = layout.border();
    let off: Vec<f64> = solved.x.iter().zip(&problem.centre).map(|(x, c)| x - c).collect();
    let spread = Spread::of(tube, problem, solved);
    let mut scales: BTreeMap<(String, usize), ToldScale> = BTreeMap::new();
    let mut log_prior = 0.0;
    let alone = Alone::of(m, layout.spline.spacing(), population.reach_mm)?;
    let inside = Alone::of(m, layout.spline.spacing(), INSIDE_REACH_MM)?;
    let (half_log_det, information) = (alone.half_log_det(), alone.information()?);
    for field in 0..fields.count() {
        let group = Group::of(fields, field);
        let outside = group.is_outside();
        let alone = if outside { &alone } else { &inside };
        let (name, scale) = (group.name(), group.scale(population));
        let factor = |part: usize| followed(group, part).filter(|_| !group.is_held(population, part));
        for (shape, sd) in [scale.level, scale.tilt, scale.bend, scale.ess].into_iter().enumerate() {
            let at = layout.effect(field, shape) - n;
            let variance = covariance[at * b + at];
            let value = off[n + at];
            let slope = (value * value + variance) / (sd * sd) - 1.0;
            let seen = (1.0 - variance / (sd * sd)).clamp(0.0, 1.0);
            scales.entry((name.clone(), shape)).or_default().add(slope, (1.0, seen), factor(shape));
        }
        // e' R e with R the precision for a roughness of 1
        let form = |v: &[f64]| form(&alone.diagonals, |knot| v[layout.coefficient(knot, field)]);
        let square = scale.rough * scale.rough;
        // what the precision of this field alone makes of the numbers of a probe
        let prior = |z: &[f64]| {
            let c = alone.backward((0..m).map(|knot| z[layout.coefficient(knot, field)]));
            square * self::form(&alone.diagonals, |knot| c[knot])
        };
        let left = spread.of_field(form, prior, count(m) * square);
        let slope = (form(&off) + left) / square - count(m);
        let seen = (1.0 - left / square / count(m)).clamp(0.0, 1.0);
        scales.entry((name, ROUGH)).or_default().add(slope, (count(m), seen), factor(ROUGH));
        log_prior -= count(m) * scale.rough.ln();
        if outside {
            log_prior += half_log_det;
            scales.entry((REACH[0].into(), PARTS.len())).or_default().add(0.0, (0.5 * information, seen), None);
        }
    }
    log_prior += 0.5 * problem.border.iter().map(|p| p.ln()).sum::<f64>();
    let noise = noise_of(tube, problem, solved, &spread);
    // probes would drown this slope: a reach shows in the few longest waves of a field
    let [down, up] = [0, 1].map(|i| reached[i].evidence(layout, &solved.right));
    scales.entry((REACH[0].into(), PARTS.len())).or_default().slope = (up - down) / (2.0 * REACH_STEP);
    let evidence = log_prior + of_readings(&solved.factor, &solved.right);
    let (mut slope, mut information) = ([0.0; FACTORS], [0.0; FACTORS]);
    for told in scales.values() {
        if let Some(factor) = told.factor {
            slope[factor] += told.slope;
            information[factor] += told.information;
        }
    }
    let own = OwnTold::of(own, slope, information, population.own_sd);
    evidence.is_finite().then_some(Told { scales, noise, evidence, own })
}

/// The precision with the reach a step down and a step up, what the readings added as it is.
fn reached(problem: &Problem, solved: &Solved, population: &Population) -> Option<[Reached; 2]> {
    let at = |step: f64| -> Option<Reached> {
        let moved = Population { reach_mm: population.reach_mm * step.exp(), ..population.clone() };
        let alone = Alone::of(problem.layout.spline.size(), problem.layout.spline.spacing(), moved.reach_mm)?;
        let factor = problem.factor_under(problem.band_prior(&moved, 1.0), &solved.added)?;
        Some(Reached { half_log_det: alone.half_log_det(), factor })
    };
    Some([at(-REACH_STEP)?, at(REACH_STEP)?])
}

/// A precision at another reach.
struct Reached {
    /// of the prior of one field
    half_log_det: f64,
    factor: ArrowFactor,
}

impl Reached {
    /// The same where only the border's prior is another.
    fn with_border(&self, problem: &Problem) -> Option<Reached> {
        let factor = self.factor.with_corner(|r| problem.border[r])?;
        Some(Reached { half_log_det: self.half_log_det, factor })
    }

    /// What changes of the log evidence with the reach.
    fn evidence(&self, layout: &Layout, right: &[f64]) -> f64 {
        count(layout.fields.outside()) * self.half_log_det + of_readings(&self.factor, right)
    }
}

/// What the log evidence holds of the readings: `(right' C right - log det P) / 2`, P the precision behind `factor` and C its
/// inverse.
fn of_readings(factor: &ArrowFactor, right: &[f64]) -> f64 {
    let mut v = right.to_vec();
    factor.forward(&mut v);
    0.5 * (v.iter().map(|x| x * x).sum::<f64>() - factor.log_det())
}

/// `c' B c` of the coefficients of one field.
fn form(diagonals: &Banded, c: impl Fn(usize) -> f64) -> f64 {
    let m = diagonals[0].len();
    let mut total = 0.0;
    for (apart, values) in diagonals.iter().enumerate() {
        let twice = if apart == 0 { 1.0 } else { 2.0 };
        for (knot, value) in values.iter().enumerate().take(m.saturating_sub(apart)) {
            total += twice * value * c(knot) * c(knot + apart);
        }
    }
    total
}

/// What the residuals say of each instrument's noise.
fn noise_of(tube: &Tube, problem: &Problem, solved: &Solved, spread: &Spread) -> BTreeMap<(Kind, String), (f64, f64)> {
    let mut out: BTreeMap<(Kind, String), (f64, f64)> = BTreeMap::new();
    problem.linearise(&solved.x, |i, row, tangent| {
        let Some(index) = row.index else { return };
        if row.half_step > 0.0 {
            return;
        }
        let r = &tube.readings[index];
        let weight = solved.weights[i];
        let pull = weight / (row.sd * row.sd);
        let left = spread.variance(tangent, &solved.factor);
        let off = row.value - tangent.value;
        let used = left * pull;
        let place = out.entry((r.kind, r.rig.clone())).or_default();
        place.0 += pull * off * off / WEIGHED_SQUARE + used - 1.0;
        place.1 += 2.0 * (1.0 - used).clamp(0.0, 1.0);
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Reading};

    /// Sums over twelve tubes read by caliper at some stations: of the slope by one number as it is told, and as the evidence
    /// changes.
    fn slopes(stations: u32, angles: u32, place: (&str, usize), name: &str) -> [f64; 2] {
        let model = Model::default();
        let one = |k: u32| -> [f64; 2] {
            let mut tube = Tube { name: format!("T{k}"), length_mm: 200.0, ..Tube::default() };
            for j in 0..stations {
                for i in 0..angles {
                    let z = 100.0 + 20.0 * (f64::from(j) - f64::from(stations - 1) / 2.0);
                    let a = Angle::from_degrees(180.0 / f64::from(angles) * f64::from(i));
                    tube.readings.push(Reading::new(Kind::Diameter, z, a, 25.4));
                }
            }
            let tube = Problem::new(&tube, &model).expect("complete").drawn(&tube, 7 + u64::from(k));
            let mut walker = Walker::new(Cow::Owned(tube));
            let told = walker.step(&model, 8, Factors::Follow).expect("fitted");
            // as it stood when it was told
            walker.own = told.own.at;
            let at = |log: f64| {
                let mut m = model.clone();
                *m.population.scale_mut(name).expect("a scale") *= log.exp();
                walker.told_under(&m).expect("fitted").evidence
            };
            [told.scales[&(place.0.to_string(), place.1)].slope, (at(0.02) - at(-0.02)) / 0.04]
        };
        (0..12).map(one).fold([0.0; 2], |sum, s| [sum[0] + s[0], sum[1] + s[1]])
    }

    #[test]
    fn going_on_from_a_fit_tells_what_a_fit_of_its_own_tells_to_the_bit() {
        let model = Model::default();
        let mut tube = Tube { name: "T1".into(), length_mm: 200.0, wall_mm: Some(3.4), ..Tube::default() };
        for i in 0..24_u32 {
            let (z, a) = (40.0 * f64::from(i / 6) + 30.0, Angle::from_degrees(30.0 * f64::from(i % 6)));
            tube.readings.push(Reading::new(Kind::Diameter, z, a, 25.4));
        }
        let tube = Problem::new(&tube, &model).expect("complete").drawn(&tube, 3);
        let mut walker = Walker::new(Cow::Owned(tube));
        walker.step(&model, 8, Factors::Follow).expect("fitted");
        let ground = walker.ground(&model).expect("fitted");
        let bits = |told: &Told| -> Vec<u64> {
            let scales = told.scales.values().map(|s| (s.slope, s.information));
            let all = scales.chain(told.noise.values().copied()).flat_map(|(a, b)| [a, b]);
            all.chain([told.evidence]).map(f64::to_bits).collect()
        };
        let here = bits(&ground.told);
        let changed = |change: &dyn Fn(&mut Population)| {
            let mut m = model.clone();
            change(&mut m.population);
            let on = bits(&ground.told_under(&m, Own::default()).expect("fitted"));
            assert_eq!(on, bits(&walker.told_under(&m).expect("fitted")));
            on != here
        };
        for name in ["lobe2_level", "wall_lean_level", "centre_bend", "lobe3_rough", "unevenness_reach"] {
            assert!(changed(&|p| *p.scale_mut(name).expect("a scale") *= 1.1), "{name}");
        }
        let noise = |kind: Kind| {
            move |p: &mut Population| {
                p.noise.insert((kind, String::new()), 1.3);
            }
        };
        assert!(changed(&noise(Kind::Diameter)));
        // what the tube was not read with, and what it has not, says nothing
        assert!(!changed(&noise(Kind::Runout)));
        assert!(!changed(&|p| p.twist.tilt *= 1.1));
    }

    #[test]
    fn slopes_are_those_of_the_evidence() {
        for (stations, angles) in [(1, 2), (8, 12)] {
            let [told, real] = slopes(stations, angles, (REACH[0], PARTS.len()), "unevenness_reach");
            assert!((told - real).abs() < 0.01 + 1e-3 * real.abs(), "reach, {stations} x {angles}: {told} {real}");
            for (group, scale) in [("lobe2", "lobe2_rough"), ("radius", "radius_rough")] {
                let [told, real] = slopes(stations, angles, (group, ROUGH), scale);
                println!("{scale}, {stations} x {angles}: {told} {real}");
                // probes: a fraction of a unit a tube
                let near = if stations == 1 { 1.0 } else { 12.0 };
                assert!((told - real).abs() < near, "{scale}, {stations} x {angles}: {told} {real}");
            }
        }
    }
}
