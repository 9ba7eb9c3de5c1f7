//! One closed edge: measured along rays, a curve laid through it, what is unclear left out.

use super::edge::{self, Step};
use super::polar::Rays;
use super::wave::Wave;
use crate::numeric::summary::{median, quantile};
use std::f64::consts::TAU;

/// Rays round a ring.
const RAYS: usize = 720;
/// Directions a curve is told in: every 5 degrees.
pub(super) const DIRECTIONS: usize = 72;
/// How far to either side of where the edge is expected it is looked for, mm.
const ASIDE_MM: f64 = 0.8;
/// Width over which light is averaged across a ray, mm.
const ACROSS_MM: f64 = 0.2;
/// An edge with less than this share of the light step of a good one is not clear.
const LEAST_FALL: f64 = 0.3;
/// An edge this many times as soft as most is not clear: a shadow's, or of a part that does not touch the glass.
const MOST_SOFT: f64 = 2.2;
/// An edge this far off the curve belongs to a fibre, a chip or dirt, mm; further where the curve itself scatters more.
const OFF_MM: f64 = 0.06;

/// Why rays did not count, as shares of the girth.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Unclear {
    /// Too little light step: glare, or a background as bright as the face.
    pub faint: f64,
    /// Too soft: a shadow, or a face off the glass.
    pub soft: f64,
    /// Off the curve: fibres, chips, dirt.
    pub off: f64,
}

impl Unclear {
    /// All of it.
    #[must_use]
    pub fn share(self) -> f64 {
        self.faint + self.soft + self.off
    }
}

/// A closed edge about a middle.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Radius in every direction (every 5 degrees, clockwise on the picture from the right), mm; `None` where it is not clear.
    pub radius_mm: Vec<Option<f64>>,
    /// What did not count, and why.
    pub unclear: Unclear,
    /// Scatter of one ray about the curve, mm.
    pub scatter_mm: f64,
    /// How soft most of the edge is (standard deviation of its slope), mm.
    pub soft_mm: f64,
    pub(super) wave: Wave,
}

impl Curve {
    /// Direction number `k`, radians clockwise on the picture from the right.
    #[must_use]
    pub fn direction(k: usize) -> f64 {
        TAU * k as f64 / DIRECTIONS as f64
    }

    /// Radius of the smooth curve in a direction, mm: also where the edge itself is not clear.
    #[must_use]
    pub fn at(&self, a: f64) -> f64 {
        self.wave.at(a)
    }

    /// Mean radius, mm.
    #[must_use]
    pub fn mean_mm(&self) -> f64 {
        self.wave.mean()
    }

    /// Radius in any direction, between the two told next to it, mm; `None` where one of them is not clear.
    #[must_use]
    pub fn clear_at(&self, a: f64) -> Option<f64> {
        let n = self.radius_mm.len() as f64;
        let place = a.rem_euclid(TAU) / TAU * n;
        let (low, part) = (place.floor(), place - place.floor());
        let value = |k: f64| self.radius_mm[super::scale::whole(k) % self.radius_mm.len()];
        Some(value(low)? * (1.0 - part) + value(low + 1.0)? * part)
    }
}

/// Which edge is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sought<'a> {
    /// Where it is expected, mm.
    pub(super) near: &'a Wave,
    /// Whether the light falls outwards there.
    pub(super) falls: bool,
    /// Whether of several steps the outermost is the edge.
    pub(super) outermost: bool,
}

/// Measures a closed edge; where it is so soft that its feet lie outside what is looked at, once more with more room. `None`
/// when less than a quarter of the rays show any.
pub(super) fn measure(rays: &Rays<'_>, sought: Sought<'_>) -> Option<Curve> {
    let aside = ASIDE_MM.max(14.0 * rays.step_mm());
    measure_within(rays, sought, aside).or_else(|| measure_within(rays, sought, 3.0 * aside))
}

fn measure_within(rays: &Rays<'_>, sought: Sought<'_>, aside: f64) -> Option<Curve> {
    let step_mm = rays.step_mm();
    let direction = |k: usize| TAU * k as f64 / RAYS as f64;
    let steps: Vec<Option<(f64, Step)>> = (0..RAYS)
        .map(|k| {
            let from = (sought.near.at(direction(k)) - aside).max(step_mm);
            let line = rays.line(direction(k), from, from + 2.0 * aside, ACROSS_MM);
            edge::find(&line, sought.falls, sought.outermost).map(|s| (from + s.at * step_mm, s))
        })
        .collect();
    let seen: Vec<&(f64, Step)> = steps.iter().flatten().collect();
    if seen.len() < RAYS / 4 {
        return None;
    }
    let fall = quantile(&seen.iter().map(|s| s.1.fall).collect::<Vec<_>>(), 0.8);
    let soft = median(&seen.iter().map(|s| s.1.soft).collect::<Vec<_>>());
    let mut unclear = Unclear::default();
    let one = 1.0 / RAYS as f64;
    let mut good: Vec<(usize, f64)> = Vec::with_capacity(RAYS);
    for (k, step) in steps.iter().enumerate() {
        match step {
            Some((r, s)) if s.fall >= LEAST_FALL * fall && s.soft <= MOST_SOFT * soft => good.push((k, *r)),
            Some((_, s)) if s.fall >= LEAST_FALL * fall => unclear.soft += one,
            _ => unclear.faint += one,
        }
    }
    let points: Vec<(f64, f64)> = good.iter().map(|&(k, r)| (direction(k), r)).collect();
    let (wave, scatter_mm) = Wave::through(&points, 9)?;
    let most = OFF_MM.max(4.0 * scatter_mm);
    let before = good.len();
    good.retain(|&(k, r)| (r - wave.at(direction(k))).abs() <= most);
    unclear.off = (before - good.len()) as f64 * one;
    let radius_mm = told(&good, &wave, direction);
    Some(Curve { radius_mm, unclear, scatter_mm, soft_mm: soft * step_mm, wave })
}

/// Radius in every direction: the curve there and the mean departure of the good rays about it, where at least half of them
/// are good.
fn told(good: &[(usize, f64)], wave: &Wave, direction: impl Fn(usize) -> f64) -> Vec<Option<f64>> {
    let span = RAYS / DIRECTIONS;
    let mut sums = vec![(0.0, 0_usize); DIRECTIONS];
    for &(k, r) in good {
        let bin = ((k + span / 2) / span) % DIRECTIONS;
        sums[bin].0 += r - wave.at(direction(k));
        sums[bin].1 += 1;
    }
    let at = |k: usize| wave.at(Curve::direction(k));
    sums.iter().enumerate().map(|(k, &(sum, n))| (2 * n >= span).then(|| at(k) + sum / n as f64)).collect()
}
