//! What a fit of many readings says of its scales, by the equations of its unknowns.
//!
//! Traces are taken over a few fixed random probes (M. F. Hutchinson, Commun. Statist. Simul. 19 (1990) 433-450), so that a slope
//! costs little more than a factorisation. Where readings are few they say the same exactly (see `by_readings`).

use super::group::{Group, INSIDE_REACH_MM};
use super::layout::Layout;
use super::linearised::Equations;
use super::population::Population;
use super::prior::{Alone, Banded};
use super::problem::Problem;
use super::squares::{FieldTold, Squares};
use crate::domain::Tube;
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use crate::numeric::summary::count;

/// Random probes for a trace.
const PROBES: u32 = 6;
/// Step of the logarithm of the reach for its slope.
const REACH_STEP: f64 = 0.02;

/// What a fit says that `equations` solve, its rows at these weights.
pub(super) fn squares(
    tube: &Tube,
    problem: &Problem,
    weights: &[f64],
    equations: &Equations,
    population: &Population,
    reached: &[Reached; 2],
) -> Option<Squares> {
    let (layout, n) = (&problem.layout, problem.layout.band());
    let fields = layout.fields;
    let m = layout.spline.size();
    let covariance = equations.factor.border_covariance();
    let b = layout.border();
    let off = equations.off_centre();
    let x: Vec<f64> = off.iter().zip(&problem.centre).map(|(off, c)| off + c).collect();
    let mut rng = draws::stream(0x7ace, &tube.name, 0);
    let probes: Vec<Vec<f64>> = (0..PROBES)
        .map(|_| {
            let mut z: Vec<f64> = draws::normals(&mut rng, layout.size()).iter().map(|v| v.signum()).collect();
            equations.factor.backward(&mut z);
            z
        })
        .collect();
    let mean = |square: &dyn Fn(&[f64]) -> f64| probes.iter().map(|z| square(z)).sum::<f64>() / count(probes.len());
    let log_prior = problem.half_log_det_of(population, 1.0)?;
    let alone = Alone::of(m, layout.spline.spacing(), population.reach_mm)?;
    let inside = Alone::of(m, layout.spline.spacing(), INSIDE_REACH_MM)?;
    let told = (0..fields.count()).map(|field| {
        let group = Group::of(fields, field);
        let alone = if group.is_outside() { &alone } else { &inside };
        let scale = group.scale(population);
        let mut shape = 0;
        let shapes = [scale.level, scale.tilt, scale.bend, scale.ess].map(|sd| {
            let at = layout.effect(field, shape) - n;
            shape += 1;
            let (value, variance) = (off[n + at], covariance[at * b + at]);
            ((value * value + variance) / (sd * sd) - 1.0, (1.0 - variance / (sd * sd)).clamp(0.0, 1.0))
        });
        // e' R e with R the precision for a roughness of 1
        let form = |v: &[f64]| form(&alone.diagonals, |knot| v[layout.coefficient(knot, field)]);
        let square = scale.rough * scale.rough;
        let left = mean(&form);
        let rough = ((form(&off) + left) / square - count(m), (1.0 - left / square / count(m)).clamp(0.0, 1.0));
        FieldTold { shapes, rough }
    });
    let told: Vec<FieldTold> = told.collect();
    let tangents = problem.tangents(&x);
    let used = (problem.rows.iter().zip(&tangents.rows).zip(weights))
        .map(|((row, tangent), weight)| weight / (row.sd * row.sd) * mean(&|z: &[f64]| tangent.along(z).powi(2)))
        .collect();
    // probes would drown this slope: a reach shows in the few longest waves of a field
    let [down, up] = [0, 1].map(|i| reached[i].evidence(layout, &equations.right));
    let evidence = log_prior + of_readings(&equations.factor, &equations.right);
    let reach = (up - down) / (2.0 * REACH_STEP);
    Some(Squares { fields: told, reach, used, shown: tangents.values(), evidence })
}

/// The precision with the reach a step down and a step up, what the readings added as it is.
pub(super) fn reached(problem: &Problem, equations: &Equations, population: &Population) -> Option<[Reached; 2]> {
    let at = |step: f64| -> Option<Reached> {
        let moved = Population { reach_mm: population.reach_mm * step.exp(), ..population.clone() };
        let alone = Alone::of(problem.layout.spline.size(), problem.layout.spline.spacing(), moved.reach_mm)?;
        let factor = problem.factor_of(&moved, 1.0, &equations.added)?;
        Some(Reached { half_log_det: alone.half_log_det(), factor })
    };
    Some([at(-REACH_STEP)?, at(REACH_STEP)?])
}

/// A precision at another reach.
pub(super) struct Reached {
    /// of the prior of one field
    half_log_det: f64,
    factor: ArrowFactor,
}

impl Reached {
    /// The same where only the border's prior is another.
    pub(super) fn with_border(&self, problem: &Problem) -> Option<Reached> {
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
