//! The climb to the law that makes a lot's readings most probable, and how sharply they point to it.
//!
//! The first steps use the information of the numbers that the readings determine (D. J. C. `MacKay`, Neural Computation 4
//! (1992) 415-447, twice their number), which brings the law near the top from anywhere. Level, tilt and a long unevenness
//! can stand in for each other, so the top is a ridge; along it the curvature itself is needed, taken by differences of the
//! slope at the weights and tangents of the last fits (the same probes, so the difference has no noise). Its inverse is
//! also the doubt that is left (Laplace).

use super::law::LAW;
use super::model::Model;
use super::population::{Population, scale_name, scales_at};
use super::tell::{Ground, Told, Walker};
use crate::domain::Kind;
use nalgebra::{Cholesky, DMatrix, DVector, SymmetricEigen};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Steps of the climb with the information of the parameters that the readings determine, which bring it near the top.
const STEPS: usize = 10;
/// Steps with the curvature found there, which bring it along a ridge.
const LAST_STEPS: usize = 16;
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
    pub(super) own: BTreeMap<(String, usize), f64>,
    /// doubt of all numbers
    pub(super) covariance: DMatrix<f64>,
    /// false when the climb was stopped by its cap
    pub(super) settled: bool,
}

/// Climbs from the built-in law; `None` when the equations of the scales are not positive definite.
pub(super) fn climb(walkers: &mut [Walker<'_>], model: &Model) -> Option<Summit> {
    let mut at = Place { theta: model.population.doubt.mean.clone(), noise: BTreeMap::new() };
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for _ in 0..STEPS {
        let sum = go_on(walkers, &mut at, model, FIRST_PASSES)?;
        let full = Cholesky::new(sum.information)?.solve(&sum.slope);
        taken.resize(full.len(), (0.0, 1.0));
        let part = full.iter().zip(&mut taken).map(|(s, last)| damped(*s, last));
        at.move_by(&DVector::from_iterator(full.len(), part));
        if full.amax() < SETTLED {
            break;
        }
    }
    let mut sum = go_on(walkers, &mut at, model, LAST_PASSES)?;
    let mut curvature = Curvature::at(walkers, &at, model)?;
    let (mut share, mut way, mut settled): (f64, f64, bool) = (1.0, 0.0, false);
    let mut last: Option<DVector<f64>> = None;
    for _ in 0..LAST_STEPS {
        let full = &curvature.covariance * &sum.slope;
        let off = full.dot(&sum.slope);
        settled = off < NEAR_ENOUGH;
        if settled {
            break;
        }
        // reweighting lags behind the scales: a step that turns back went too far
        let back = last.as_ref().is_some_and(|l| l.dot(&full) < 0.0);
        share = if back { 0.5 * share } else { (1.4 * share).min(1.0) };
        let before = at.clone();
        let part = full.map(|s| (share * s).clamp(-LARGEST_STEP, LARGEST_STEP));
        at.move_by(&part);
        let next = go_on(walkers, &mut at, model, LAST_PASSES)?;
        if (&curvature.covariance * &next.slope).dot(&next.slope) < off {
            way += part.amax();
            sum = next;
            last = Some(full);
        } else {
            at = before;
            share *= 0.4;
            // the fits have moved on meanwhile
            sum = go_on(walkers, &mut at, model, LAST_PASSES)?;
        }
    }
    if way > FAR {
        curvature = Curvature::at(walkers, &at, model)?;
    }
    Some(Summit { at, own: sum.own, covariance: curvature.covariance, settled })
}

/// Goes on with every tube's fit at a place, and tells which way is up.
fn go_on(walkers: &mut [Walker<'_>], at: &mut Place, model: &Model, passes: usize) -> Option<Sum> {
    let here = at.model(model);
    let told: Vec<Option<Told>> = walkers.par_iter_mut().map(|w| w.step(&here, passes)).collect();
    let told: Vec<Told> = told.into_iter().flatten().collect();
    for name in told.iter().flat_map(|t| t.noise.keys()) {
        if !at.noise.contains_key(name) {
            at.noise.insert(name.clone(), model.population.noise_of(name.0, &name.1).ln());
        }
    }
    (!told.is_empty()).then(|| Sum::of(&told, at, &model.population))
}

/// What the readings and the prior know together of all numbers near a place.
struct Curvature {
    covariance: DMatrix<f64>,
}

impl Curvature {
    /// By differences of the slope, at the weights and tangents of the walkers' last fits.
    fn at(walkers: &[Walker<'_>], at: &Place, model: &Model) -> Option<Curvature> {
        let n = at.theta.len() + at.noise.len();
        let here = at.model(model);
        let grounds: Vec<Option<Ground<'_>>> = walkers.par_iter().map(|w| w.ground(&here)).collect();
        let slope = |i: usize| -> DVector<f64> {
            let mut there = at.clone();
            there.move_by(&DVector::from_fn(n, |j, _| if i == j { CURVATURE_STEP } else { 0.0 }));
            let model = there.model(model);
            let told: Vec<Told> = grounds.iter().flatten().filter_map(|g| g.told_under(&model)).collect();
            Sum::of(&told, &there, &model.population).slope
        };
        // the last moves nothing
        let slopes: Vec<DVector<f64>> = (0..=n).into_par_iter().map(slope).collect();
        let before: Vec<f64> = at.before().map(|(_, sd)| sd).collect();
        // in units of what was known before
        let raw = DMatrix::from_fn(n, n, |i, j| (slopes[n][i] - slopes[j][i]) / CURVATURE_STEP * before[i] * before[j]);
        if raw.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let eigen = SymmetricEigen::new((&raw + raw.transpose()) / 2.0);
        let v = &eigen.eigenvectors;
        // readings leave nothing less sure than it was
        let shares = DMatrix::from_fn(n, n, |i, j| v[(i, j)] / eigen.eigenvalues[j].max(1.0));
        let inverse = shares * v.transpose();
        Some(Curvature { covariance: DMatrix::from_fn(n, n, |i, j| inverse[(i, j)] * before[i] * before[j]) })
    }
}

/// The sum over tubes at one place of the climb.
struct Sum {
    /// slope and information by all numbers, prior included
    slope: DVector<f64>,
    information: DMatrix<f64>,
    /// information about each scale by itself
    own: BTreeMap<(String, usize), f64>,
}

impl Sum {
    fn of(told: &[Told], at: &Place, start: &Population) -> Sum {
        let laws = at.theta.len();
        let n = laws + at.noise.len();
        let mut scales: BTreeMap<(String, usize), (f64, f64)> = BTreeMap::new();
        for (name, &(slope, information)) in told.iter().flat_map(|t| &t.scales) {
            let place = scales.entry(name.clone()).or_default();
            place.0 += slope;
            place.1 += information;
        }
        let mut slope = DVector::zeros(n);
        let mut information = DMatrix::zeros(n, n);
        let mut follow = Follow::at(&at.theta, start);
        for ((group, part), &(s, i)) in &scales {
            let along = follow.of(&scale_name(group, *part)).resize_vertically(n, 0.0);
            slope += s * &along;
            information += i * &along * along.transpose();
        }
        for (i, name) in at.noise.keys().enumerate() {
            for &(s, known) in told.iter().filter_map(|t| t.noise.get(name)) {
                slope[laws + i] += s;
                information[(laws + i, laws + i)] += known;
            }
        }
        // what was known before: the law's own doubt, and the instruments'
        for (i, ((centre, sd), x)) in at.before().zip(at.theta.iter().chain(at.noise.values())).enumerate() {
            slope[i] -= (x - centre) / (sd * sd);
            information[(i, i)] += sd.powi(-2);
        }
        let own = scales.into_iter().map(|(name, (_, i))| (name, i)).collect();
        Sum { slope, information, own }
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
