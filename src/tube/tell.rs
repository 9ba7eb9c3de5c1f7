//! What the fit of one tube says of the scales it was made under.
//!
//! Slopes of the log evidence by the logarithms of the scales (see `squares`), and what the readings determine. Where the
//! equations of the readings are the smaller ones all of it is exact (`by_readings`); else traces are taken over random probes
//! (`probes`).

use super::group::Group;
use super::law::FACTORS;
use super::layout::SHAPES;
use super::linearised::{Equations, Linearised};
use super::model::Model;
use super::own::{Factors, Own, OwnTold, followed};
use super::population::{PARTS, Population, REACH, ROUGH};
use super::prior::Alone;
use super::probes::{self, Reached, reached};
use super::problem::Problem;
use super::rounding::Site;
use super::squares::Squares;
use crate::domain::{Kind, Tube};
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

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
        let under = (&model.population, self.own);
        let told = squares(&self.tube, &problem, &solved.last, &solved.weights, under.0)
            .and_then(|(squares, _)| tell(&self.tube, &problem, &solved.weights, under, &squares));
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
        let about = Linearised::about(&problem, &self.x, problem.renewed(self.sites.clone(), &self.weights));
        let (squares, reached) = squares(&self.tube, &problem, &about, &self.weights, &model.population)?;
        let told = tell(&self.tube, &problem, &self.weights, (&model.population, own), &squares)?;
        let instruments = self.tube.readings.iter().map(|r| (r.kind, r.rig.clone())).collect();
        Some(Ground { walker: self, problem, about, population: model.population.clone(), reached, told, instruments })
    }
}

/// The model of a tube with factors of its own.
fn in_lot(own: Own, lot: &Model) -> Model {
    Model { population: own.of(&lot.population), ..lot.clone() }
}

/// One tube at the weights and tangents of its last fit, under some scales: what other scales can go on from.
pub(super) struct Ground<'a> {
    walker: &'a Walker<'a>,
    problem: Problem,
    about: Linearised,
    population: Population,
    /// of a fit by its unknowns
    reached: Option<[Reached; 2]>,
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
        let smooth = problem.move_to(tube, model);
        if smooth && problem.border == self.problem.border {
            return Some(self.told.clone());
        }
        let squares = match &self.reached {
            None => match by_readings(&problem, &self.about) {
                Some(told) => told,
                // what these readings hold no longer under such scales is not kept for others
                None => by_probes(tube, &problem, &self.about.solved(&problem)?, &self.walker.weights, population)?.0,
            },
            Some(reached) => self.squares_by_probes(&problem, population, smooth, reached)?,
        };
        tell(tube, &problem, &self.walker.weights, (population, own), &squares)
    }

    /// Levels and long shapes stand in the border, so that a change of theirs leaves the band's factor as it is.
    fn squares_by_probes(
        &self,
        problem: &Problem,
        population: &Population,
        smooth: bool,
        reached: &[Reached; 2],
    ) -> Option<Squares> {
        let before = self.about.equations(&self.problem)?;
        let factor = if smooth {
            before.factor.with_corner(|r| problem.border[r])?
        } else {
            problem.factor_with(&before.added)?
        };
        let equations = Equations { factor, ..before.clone() };
        let reached = if smooth {
            let [down, up] = reached;
            [down.with_border(problem)?, up.with_border(problem)?]
        } else {
            probes::reached(problem, &equations, population)?
        };
        probes::squares(&self.walker.tube, problem, &self.walker.weights, &equations, population, &reached)
    }
}

/// What a fit says of its scales, its rows at these weights, and what goes with it where that is by its unknowns.
fn squares(
    tube: &Tube,
    problem: &Problem,
    about: &Linearised,
    weights: &[f64],
    population: &Population,
) -> Option<(Squares, Option<[Reached; 2]>)> {
    if let Some(told) = by_readings(problem, about) {
        return Some((told, None));
    }
    let (told, reached) = by_probes(tube, problem, about.equations(problem)?, weights, population)?;
    Some((told, Some(reached)))
}

/// The same by the equations of its unknowns.
fn by_probes(
    tube: &Tube,
    problem: &Problem,
    equations: &Equations,
    weights: &[f64],
    population: &Population,
) -> Option<(Squares, [Reached; 2])> {
    let reached = reached(problem, equations, population)?;
    let told = probes::squares(tube, problem, weights, equations, population, &reached)?;
    Some((told, reached))
}

/// The same by the readings, where their equations are the smaller ones and hold.
fn by_readings(problem: &Problem, about: &Linearised) -> Option<Squares> {
    let before = problem.before()?;
    about.by_readings(&before)?.squares(&before, &about.at_centre())
}

/// What one fit says of the scales it was made under.
fn tell(
    tube: &Tube,
    problem: &Problem,
    weights: &[f64],
    (population, own): (&Population, Own),
    squares: &Squares,
) -> Option<Told> {
    let fields = problem.layout.fields;
    let knots = problem.layout.knots();
    let mut scales: BTreeMap<(String, usize), ToldScale> = BTreeMap::new();
    let reach = Alone::of(problem.layout.spline.size(), problem.layout.spline.spacing(), population.reach_mm)?;
    let information = reach.information()?;
    for (field, told) in squares.fields.iter().enumerate() {
        let group = Group::of(fields, field);
        let name = group.name();
        let factor = |part: usize| followed(group, part).filter(|_| !group.is_held(population, part));
        let parts = told.shapes.iter().map(|t| (t, 1.0)).chain([(&told.rough, knots)]);
        for (part, (&(slope, seen), values)) in (0..SHAPES).chain([ROUGH]).zip(parts) {
            scales.entry((name.clone(), part)).or_default().add(slope, (values, seen), factor(part));
        }
        if group.is_outside() {
            let seen = (0.5 * information, told.rough.1);
            scales.entry((REACH[0].into(), PARTS.len())).or_default().add(0.0, seen, None);
        }
    }
    scales.entry((REACH[0].into(), PARTS.len())).or_default().slope = squares.reach;
    let noise = noise_of(tube, problem, weights, squares);
    let evidence = squares.evidence;
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

/// What the residuals say of each instrument's noise.
fn noise_of(
    tube: &Tube,
    problem: &Problem,
    weights: &[f64],
    squares: &Squares,
) -> BTreeMap<(Kind, String), (f64, f64)> {
    let mut out: BTreeMap<(Kind, String), (f64, f64)> = BTreeMap::new();
    for (i, row) in problem.rows.iter().enumerate() {
        let Some(index) = row.index.filter(|_| row.half_step <= 0.0) else { continue };
        let r = &tube.readings[index];
        let (pull, used) = (weights[i] / (row.sd * row.sd), squares.used[i]);
        let off = row.value - squares.shown[i];
        let place = out.entry((r.kind, r.rig.clone())).or_default();
        place.0 += pull * off * off / WEIGHED_SQUARE + used - 1.0;
        place.1 += 2.0 * (1.0 - used).clamp(0.0, 1.0);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Reading};

    /// Of twelve tubes read by caliper at some stations: sums of what one number's slope is told to be, and of how the evidence
    /// changes with it.
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
            let told = walker.told_under(&model).expect("fitted");
            [told.scales[&(place.0.to_string(), place.1)].slope, (at(1e-3) - at(-1e-3)) / 2e-3]
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
        for name in ["lobe2_level", "wall_level", "radius_tilt", "lobe3_rough", "unevenness_reach"] {
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
        assert!(!changed(&|p| p.wall_lean.level *= 1.1), "one wall figure stands for the mean wall");
        assert!(!changed(&|p| p.centre.bend *= 1.1), "widths see no bow");
    }

    #[test]
    fn slopes_are_those_of_the_evidence() {
        let reach = ((REACH[0], PARTS.len()), "unevenness_reach");
        let level = |group| (group, 0);
        let places = [
            reach,
            (("lobe2", ROUGH), "lobe2_rough"),
            (("radius", ROUGH), "radius_rough"),
            (level("lobe3"), "lobe3_level"),
            (("radius", 1), "radius_tilt"),
        ];
        for (stations, angles) in [(1, 2), (8, 12)] {
            for (place, name) in places {
                let [told, real] = slopes(stations, angles, place, name);
                assert!(
                    (told - real).abs() < 1e-4 * (1.0 + real.abs()),
                    "{name}, {stations} x {angles}: {told} {real}"
                );
            }
        }
    }

    /// The same tubes by the equations of their unknowns, of which traces are known by probes alone.
    #[test]
    fn probes_tell_about_what_the_readings_tell() {
        let model = Model::default();
        let mut tube = Tube { name: "T1".into(), length_mm: 200.0, ..Tube::default() };
        for i in 0..96_u32 {
            let (z, a) = (25.0 * f64::from(i / 12) + 12.0, Angle::from_degrees(30.0 * f64::from(i % 12)));
            tube.readings.push(Reading::new(Kind::Radius, z, a, 12.7));
        }
        let tube = Problem::new(&tube, &model).expect("complete").drawn(&tube, 3);
        let problem = Problem::new(&tube, &model).expect("complete");
        let solved = problem.solve().expect("positive definite");
        let exact = by_readings(&problem, &solved.last).expect("few readings");
        let equations = solved.last.equations(&problem).expect("positive definite");
        let reached = reached(&problem, equations, &model.population).expect("positive definite");
        let probed = probes::squares(&tube, &problem, &solved.weights, equations, &model.population, &reached);
        let probed = probed.expect("positive definite");
        let near = |a: f64, b: f64, by: f64| assert!((a - b).abs() < by * (1.0 + b.abs()), "{a} {b}");
        near(probed.evidence, exact.evidence, 1e-8);
        near(probed.reach, exact.reach, 1e-3);
        for (a, b) in probed.fields.iter().zip(&exact.fields) {
            for (a, b) in a.shapes.iter().zip(&b.shapes) {
                near(a.0, b.0, 1e-6);
                near(a.1, b.1, 1e-6);
            }
        }
        let knots = problem.layout.knots();
        let all = |s: &Squares| s.fields.iter().map(|f| [f.rough.0, knots * f.rough.1]).collect::<Vec<_>>();
        // six probes of some 25 coefficients a field: each off by sqrt(2 / (6 x 25)) of them
        for (a, b) in all(&probed).iter().zip(all(&exact)) {
            assert!((a[0] - b[0]).abs() < 4.0 * knots * (2.0 / (6.0 * knots)).sqrt(), "{a:?} {b:?}");
        }
        let used = |s: &Squares| s.used.iter().sum::<f64>();
        near(used(&probed), used(&exact), 0.2);
        let shown = probed.shown.iter().zip(&exact.shown).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(shown < 1e-4, "{shown} mm");
    }
}
