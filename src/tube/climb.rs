//! The climb to the law that makes a lot's readings most probable, and how sharply they point to it.
//!
//! The first steps use the information of the numbers that the readings determine (D. J. C. `MacKay`, Neural Computation 4
//! (1992) 415-447, twice their number), which brings the law near the top from anywhere. Level, tilt and a long unevenness
//! can stand in for each other, so the top is a ridge; along it the curvature itself is needed, taken by differences of the
//! slope at the weights and tangents of the last fits (of a scan with the same probes, so that they have no noise). The factors of each
//! tube's own (`tube::own`) go to their likeliest in the first steps and then stay: moved along on the ridge as well, they
//! made it turn to and fro. The inverse of the curvature is also the doubt that is left (Laplace), there with the factors
//! going with the numbers (their Schur complement).

use super::law::{FACTORS, LAW};
use super::model::Model;
use super::own::{FOLLOWED, Factors, Own, OwnTold, spread};
use super::population::{Population, scale_name, scales_at};
use super::tell::{Ground, Told, Walker};
use crate::domain::Kind;
use nalgebra::{Cholesky, DMatrix, DVector, SymmetricEigen};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Steps of the climb with the information of the parameters that the readings determine, which bring it near the top.
const STEPS: usize = 10;
/// Steps with the curvature found there, which bring it along a ridge.
const LAST_STEPS: usize = 24;
/// Passes of every fit between two of those: on a rough tube jaws ride from bump to bump, and a slope taken on the way is
/// none.
const LAST_PASSES: usize = 14;
/// The same before.
const FIRST_PASSES: usize = 4;
/// Largest change of a number of the law in one step.
const LARGEST_STEP: f64 = 0.8;
/// The first steps are done when no number moves by more than this.
const SETTLED: f64 = 0.05;
/// The climb has settled when the slope left points to less than this, squared and in units of the doubt: two fifths of it.
const NEAR_ENOUGH: f64 = 0.15;
/// Way beyond which the curvature is taken anew, as a logarithm.
const FAR: f64 = 1.0;
/// The same where it was taken on the way up.
const NEAR: f64 = 0.05;
/// Share of a whole step below which the curvature is taken to be another one by now, and how often it is then taken anew.
const STUCK: f64 = 0.2;
const MOST_ANEW: usize = 2;
/// Step of every number for the curvature.
const CURVATURE_STEP: f64 = 0.02;
/// Step of a number for how the scales follow it.
const DERIVATIVE_STEP: f64 = 1e-4;
/// How far an instrument is from the noise it states, sd of the logarithm; common practice, no source.
const NOISE_LOG_SD: f64 = 0.35;

/// A place in the space of all numbers: the law's, and the logarithm of how much larger each instrument's noise is than
/// it states.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub(super) theta: Vec<f64>,
    pub(super) noise: BTreeMap<(Kind, String), f64>,
    /// how much the tubes of the lot differ
    pub(super) own_sd: [f64; FACTORS],
}

impl Place {
    /// Centre and standard deviation of every number before any reading.
    fn before(&self) -> impl Iterator<Item = (f64, f64)> {
        let law = LAW.iter().map(|p| (p.centre, p.sd));
        law.chain(std::iter::repeat_n((0.0, NOISE_LOG_SD), self.noise.len()))
    }

    fn move_by(&mut self, step: &DVector<f64>) {
        let mine = self.theta.iter_mut().chain(self.noise.values_mut());
        mine.zip(step.iter()).for_each(|(x, s)| *x += s);
    }

    /// The scales and noises here; what no reading shows stays as it was.
    pub(super) fn population(&self, start: &Population) -> Population {
        let mut out = scales_at(&self.theta, start);
        out.own_sd = self.own_sd;
        out.noise.extend(self.noise.iter().map(|(name, l)| (name.clone(), l.exp())));
        out
    }

    fn model(&self, model: &Model) -> Model {
        Model { population: self.population(&model.population), ..model.clone() }
    }
}

/// Where a climb ended.
pub(super) struct Summit {
    pub(super) at: Place,
    /// information about each scale by itself
    pub(super) known: BTreeMap<(String, usize), f64>,
    /// doubt of all numbers
    pub(super) covariance: DMatrix<f64>,
    /// false when the climb was stopped by its cap
    pub(super) settled: bool,
}

/// Climbs from the built-in law; `None` when the equations of the scales are not positive definite.
pub(super) fn climb(walkers: &mut [Walker<'_>], model: &Model) -> Option<Summit> {
    let mut at =
        Place { theta: model.population.doubt.mean.clone(), noise: BTreeMap::new(), own_sd: model.population.own_sd };
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for _ in 0..STEPS {
        let sum = go_on(walkers, &mut at, model, FIRST_PASSES, Factors::Follow)?;
        let full = Cholesky::new(sum.information)?.solve(&sum.slope);
        taken.resize(full.len(), (0.0, 1.0));
        let part = full.iter().zip(&mut taken).map(|(s, last)| damped(*s, last));
        at.move_by(&DVector::from_iterator(full.len(), part));
        if full.amax() < SETTLED {
            break;
        }
    }
    let mut sum = go_on(walkers, &mut at, model, LAST_PASSES, Factors::Follow)?;
    let mut curvature = Curvature::at(walkers, &at, model)?;
    let (mut share, mut way, mut settled): (f64, f64, bool) = (1.0, 0.0, false);
    let mut anew = 0;
    let mut last: Option<DVector<f64>> = None;
    for _ in 0..LAST_STEPS {
        let full = &curvature.along * &sum.slope;
        let off = full.dot(&sum.slope);
        settled = off < NEAR_ENOUGH;
        if settled {
            break;
        }
        // reweighting lags behind the scales: a step that turns back went too far
        let back = last.as_ref().is_some_and(|l| l.dot(&full) < 0.0);
        share = if back { 0.5 * share } else { (1.4 * share).min(1.0) };
        if share < STUCK && anew < MOST_ANEW {
            anew += 1;
            curvature = Curvature::at(walkers, &at, model)?;
            (share, way, last) = (1.0, 0.0, None);
            continue;
        }
        let before = at.clone();
        let part = full.map(|s| (share * s).clamp(-LARGEST_STEP, LARGEST_STEP));
        at.move_by(&part);
        let next = go_on(walkers, &mut at, model, LAST_PASSES, Factors::Stay)?;
        if (&curvature.along * &next.slope).dot(&next.slope) < off {
            way += part.amax();
            sum = next;
            last = Some(full);
        } else {
            at = before;
            share *= 0.4;
            // the fits have moved on meanwhile
            sum = go_on(walkers, &mut at, model, LAST_PASSES, Factors::Stay)?;
        }
    }
    if way > FAR || (anew > 0 && way > NEAR) {
        curvature = Curvature::at(walkers, &at, model)?;
    }
    Some(Summit { at, known: sum.known, covariance: curvature.covariance, settled })
}

/// Goes on with every tube's fit at a place, and tells which way is up.
fn go_on(walkers: &mut [Walker<'_>], at: &mut Place, model: &Model, passes: usize, factors: Factors) -> Option<Sum> {
    let here = at.model(model);
    let told: Vec<Option<Told>> = walkers.par_iter_mut().map(|w| w.step(&here, passes, factors)).collect();
    for name in told.iter().flatten().flat_map(|t| t.noise.keys()) {
        if !at.noise.contains_key(name) {
            at.noise.insert(name.clone(), model.population.noise_of(name.0, &name.1).ln());
        }
    }
    let sum = Sum::of(told.iter().flatten(), at, &model.population, factors);
    let own: Vec<OwnTold> = told.iter().flatten().map(|t| t.own).collect();
    if factors == Factors::Follow {
        at.own_sd = spread(&own);
    }
    (!own.is_empty()).then_some(sum)
}

/// What the readings and the prior leave unsure of all numbers near a place.
struct Curvature {
    /// while the tubes' own factors stay
    along: DMatrix<f64>,
    /// while those go with the numbers
    covariance: DMatrix<f64>,
}

impl Curvature {
    /// By differences of the slope, at the weights and tangents of the walkers' last fits.
    fn at(walkers: &[Walker<'_>], at: &Place, model: &Model) -> Option<Curvature> {
        let n = at.theta.len() + at.noise.len();
        let here = at.model(model);
        let grounds: Vec<Option<Ground<'_>>> = walkers.par_iter().map(|w| w.ground(&here)).collect();
        // slopes of every tube by all numbers and by its own factors, one of them (the last is none) moved
        let many = FOLLOWED.len();
        let slopes = |i: usize| -> Vec<Option<[DVector<f64>; 2]>> {
            let mut there = at.clone();
            there.move_by(&DVector::from_fn(n, |j, _| if i == j { CURVATURE_STEP } else { 0.0 }));
            let mut own = Own::default();
            if let Some(factor) = i.checked_sub(n).and_then(|f| FOLLOWED.get(f)) {
                own.0[*factor] = CURVATURE_STEP;
            }
            let model = there.model(model);
            let mut ways = Ways::at(&there, &model.population);
            let mut one = |ground: &Ground<'_>| {
                let told = ground.told_under(&model, own)?;
                let by_own = FOLLOWED.map(|f| told.own.step[f] * told.own.information[f]);
                Some([ways.slope(&told), DVector::from_row_slice(&by_own)])
            };
            grounds.iter().map(|g| one(g.as_ref()?)).collect()
        };
        let slopes: Vec<Vec<Option<[DVector<f64>; 2]>>> = (0..=n + many).into_par_iter().map(slopes).collect();
        let before: Vec<f64> = at.before().map(|(_, sd)| sd).collect();
        let sd = FOLLOWED.map(|f| at.own_sd[f]);
        // in units of what was known before
        let mut alone = DMatrix::<f64>::identity(n, n);
        let mut with_own = alone.clone();
        for tube in 0..walkers.len() {
            let told: Option<Vec<&[DVector<f64>; 2]>> = slopes.iter().map(|s| s[tube].as_ref()).collect();
            let Some(told) = told else { continue };
            let change =
                |i: usize, which: usize, j: usize| (told[n + many][which][j] - told[i][which][j]) / CURVATURE_STEP;
            let numbers = DMatrix::from_fn(n, n, |i, j| change(j, 0, i) * before[i] * before[j]);
            let between = DMatrix::from_fn(n, many, |i, f| {
                f64::midpoint(change(i, 1, f), change(n + f, 0, i)) * before[i] * sd[f]
            });
            let own = DMatrix::from_fn(many, many, |f, g| change(n + g, 1, f) * sd[f] * sd[g]);
            with_own += at_least_nothing(&numbers - &between * inverse(&own)? * between.transpose());
            alone += numbers;
        }
        let units = |m: DMatrix<f64>| DMatrix::from_fn(n, n, |i, j| m[(i, j)] * before[i] * before[j]);
        Some(Curvature { along: units(inverse(&alone)?), covariance: units(inverse(&with_own)?) })
    }
}

/// The symmetric part of what one tube tells, without the directions in which it would tell less than nothing.
fn at_least_nothing(told: DMatrix<f64>) -> DMatrix<f64> {
    let eigen = SymmetricEigen::new((&told + told.transpose()) / 2.0);
    let v = &eigen.eigenvectors;
    let shares = DMatrix::from_fn(v.nrows(), v.ncols(), |i, j| v[(i, j)] * eigen.eigenvalues[j].max(0.0));
    shares * v.transpose()
}

/// The inverse of what is known, in units of what was known before: readings leave nothing less sure than it was. `None`
/// where it holds a number that is none.
fn inverse(known: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    if known.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let eigen = SymmetricEigen::new((known + known.transpose()) / 2.0);
    let v = &eigen.eigenvectors;
    let shares = DMatrix::from_fn(v.nrows(), v.ncols(), |i, j| v[(i, j)] / eigen.eigenvalues[j].max(1.0));
    Some(shares * v.transpose())
}

/// How the scales follow all numbers at a place.
struct Ways {
    size: usize,
    noise: Vec<(Kind, String)>,
    follow: Follow,
    scales: BTreeMap<(String, usize), DVector<f64>>,
}

impl Ways {
    fn at(place: &Place, start: &Population) -> Ways {
        let follow = Follow::at(&place.theta, start);
        let noise: Vec<(Kind, String)> = place.noise.keys().cloned().collect();
        Ways { size: place.theta.len() + noise.len(), noise, follow, scales: BTreeMap::new() }
    }

    fn of(&mut self, scale: &(String, usize)) -> &DVector<f64> {
        let Ways { size, follow, scales, .. } = self;
        if !scales.contains_key(scale) {
            scales.insert(scale.clone(), follow.of(&scale_name(&scale.0, scale.1)).resize_vertically(*size, 0.0));
        }
        &scales[scale]
    }

    /// Slope by all numbers of what one tube says.
    fn slope(&mut self, told: &Told) -> DVector<f64> {
        let mut slope = DVector::zeros(self.size);
        for (name, scale) in &told.scales {
            slope += scale.slope * self.of(name);
        }
        let laws = self.size - self.noise.len();
        for (i, name) in self.noise.iter().enumerate() {
            slope[laws + i] += told.noise.get(name).map_or(0.0, |n| n.0);
        }
        slope
    }
}

/// The sum over tubes at one place of the climb.
struct Sum {
    /// slope and information by all numbers, prior included
    slope: DVector<f64>,
    information: DMatrix<f64>,
    /// information about each scale by itself
    known: BTreeMap<(String, usize), f64>,
}

impl Sum {
    fn of<'a>(told: impl Iterator<Item = &'a Told>, at: &Place, start: &Population, factors: Factors) -> Sum {
        let laws = at.theta.len();
        let n = laws + at.noise.len();
        let mut known: BTreeMap<(String, usize), f64> = BTreeMap::new();
        let mut slope = DVector::zeros(n);
        let mut information = DMatrix::zeros(n, n);
        let mut ways = Ways::at(at, start);
        for told in told {
            slope += ways.slope(told);
            let mut with = DMatrix::zeros(n, FACTORS);
            for (name, scale) in &told.scales {
                *known.entry(name.clone()).or_default() += scale.information;
                let way = ways.of(name);
                information += scale.information * way * way.transpose();
                if let Some(factor) = scale.factor {
                    with.column_mut(factor).axpy(scale.information, way, 1.0);
                }
            }
            for (i, name) in at.noise.keys().enumerate() {
                information[(laws + i, laws + i)] += told.noise.get(name).map_or(0.0, |n| n.1);
            }
            if factors == Factors::Follow {
                for factor in 0..FACTORS {
                    let with = with.column(factor);
                    slope -= told.own.step[factor] * with;
                    information -= with * with.transpose() / told.own.information[factor];
                }
            }
        }
        // what was known before: the law's own doubt, and the instruments'
        for (i, ((centre, sd), x)) in at.before().zip(at.theta.iter().chain(at.noise.values())).enumerate() {
            slope[i] -= (x - centre) / (sd * sd);
            information[(i, i)] += sd.powi(-2);
        }
        Sum { slope, information, known }
    }
}

/// A step that is halved each time its direction turns round, and grows again while it does not.
fn damped(step: f64, last: &mut (f64, f64)) -> f64 {
    last.1 = if step * last.0 < 0.0 { 0.5 * last.1 } else { (1.4 * last.1).min(1.0) };
    last.0 = (step * last.1).clamp(-LARGEST_STEP, LARGEST_STEP);
    last.0
}

/// How the logarithms of the scales follow the numbers of the law.
pub(super) struct Follow {
    /// the scales a step down and a step up from a place, number by number
    moved: Vec<[Population; 2]>,
}

impl Follow {
    pub(super) fn at(theta: &[f64], start: &Population) -> Follow {
        let step = |i: usize, h: f64| {
            let mut t = theta.to_vec();
            t[i] += h;
            scales_at(&t, start)
        };
        Follow { moved: (0..theta.len()).map(|i| [-DERIVATIVE_STEP, DERIVATIVE_STEP].map(|h| step(i, h))).collect() }
    }

    /// Of the named scale, by every number; 0 for one that is fixed.
    pub(super) fn of(&mut self, name: &str) -> DVector<f64> {
        let log = |p: &mut Population| p.scale_mut(name).map_or(0.0, |v| v.ln());
        let by = |[down, up]: &mut [Population; 2]| (log(up) - log(down)) / (2.0 * DERIVATIVE_STEP);
        DVector::from_iterator(self.moved.len(), self.moved.iter_mut().map(by))
    }
}
