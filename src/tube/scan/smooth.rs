//! A smooth first surface through the bark points: what tells bark from bore, face and stray, and what patches are
//! levelled by.
//!
//! Heights are `r(z) + sum over n = 2..4 of (an(z) cos na + bn(z) sin na) + cx(z) cos a + cy(z) sin a`, each field a
//! short series of Legendre polynomials, fitted by reweighted least squares (Tukey's biweight: Beaton and Tukey,
//! Technometrics 16 (1974) 147-185) with a weak pull to zero, so that a side that was not scanned does no harm. Angles are
//! taken about the centreline of the pass before, so that the height is exact and not only to first order in the bow.

use super::place::Frame;
use super::rough::Rough;
use crate::numeric::summary::{count, median, quantile};
use nalgebra::{DMatrix, DVector};

/// Polynomials of the mean radius.
const RADIUS_TERMS: usize = 4;
/// Polynomials of each lobe's parts.
const LOBE_TERMS: usize = 3;
/// Polynomials of the centreline.
const CENTRE_TERMS: usize = 6;
/// Highest lobe.
const TOP: usize = 4;
/// Unknowns in all.
const SIZE: usize = RADIUS_TERMS + 2 * (TOP - 1) * LOBE_TERMS + 2 * CENTRE_TERMS;
/// Where the centreline's unknowns begin.
const CENTRE: usize = SIZE - 2 * CENTRE_TERMS;
/// Times the frame is laid anew along the chord of the centreline.
const FRAMES: usize = 4;
/// Passes of reweighting for each frame.
const PASSES: usize = 4;
/// Points this share of the radius off the first circles are no bark.
const FIRST_WIDTH: f64 = 0.06;
/// The narrowest that the cut becomes, as a share of the radius: local shape the series cannot follow.
const LAST_WIDTH: f64 = 0.012;

/// A smooth surface in its frame; the axis is the chord of its centreline.
#[derive(Debug, Clone)]
pub(super) struct Smooth {
    frame: Frame,
    middle: f64,
    half: f64,
    unknowns: Vec<f64>,
    /// Mean radius.
    pub(super) radius: f64,
    /// Robust standard deviation of the points about the surface.
    pub(super) sd: f64,
}

/// A point seen from the surface's frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    /// Place along the axis.
    pub(super) z: f64,
    /// Angle about the centreline, radians.
    pub(super) angle: f64,
    /// Distance from the centreline.
    pub(super) reach: f64,
    /// Height above the smooth surface.
    pub(super) above: f64,
}

/// Legendre polynomials P0 to P5.
fn legendre(u: f64) -> [f64; 6] {
    let mut p = [1.0, u, 0.0, 0.0, 0.0, 0.0];
    for n in 1..5 {
        let k = count(n);
        p[n + 1] = ((2.0 * k + 1.0) * u * p[n] - k * p[n - 1]) / (k + 1.0);
    }
    p
}

impl Smooth {
    /// Fits the surface from a first axis; `None` when too few points are bark.
    pub(super) fn fit(points: &[[f64; 3]], rough: &Rough) -> Option<Smooth> {
        let radius = rough.radius();
        let mut fit =
            Smooth { frame: rough.frame.clone(), middle: 0.0, half: 1.0, unknowns: vec![0.0; SIZE], radius, sd: 0.0 };
        let mut local: Vec<[f64; 3]> = points.iter().map(|p| fit.frame.local(*p)).collect();
        let start: Vec<(f64, Spot)> = local
            .iter()
            .map(|p| {
                let spot = about(*p, rough.centre(p[2]));
                (f64::from(u8::from((spot.reach / radius - 1.0).abs() < FIRST_WIDTH)), spot)
            })
            .collect();
        fit.span(&start);
        fit.solve(&start, &local, FIRST_WIDTH * radius / 6.0)?;
        for turn in 0..FRAMES {
            for _ in 0..PASSES {
                let spots: Vec<Spot> = local.iter().map(|p| fit.spot_of(*p)).collect();
                let cut = fit.cut(&spots);
                let weigh = |s: &Spot| (1.0 - (s.above / cut).powi(2)).max(0.0).powi(2);
                let weighed: Vec<(f64, Spot)> = spots.into_iter().map(|s| (weigh(&s), s)).collect();
                fit.span(&weighed);
                fit.solve(&weighed, &local, fit.sd)?;
            }
            if turn + 1 < FRAMES {
                fit.lay_along_chord();
                local = points.iter().map(|p| fit.frame.local(*p)).collect();
            }
        }
        let spots: Vec<Spot> = local.iter().map(|p| fit.spot_of(*p)).collect();
        fit.cut(&spots);
        fit.radius = fit.radius_at(fit.middle);
        fit.radius.is_finite().then_some(fit)
    }

    /// The stretch of the axis that bark points lie on.
    fn span(&mut self, spots: &[(f64, Spot)]) {
        let z: Vec<f64> = spots.iter().filter(|(w, _)| *w > 0.2).map(|(_, s)| s.z).collect();
        let (low, high) = (quantile(&z, 0.002), quantile(&z, 0.998));
        if high > low {
            self.middle = 0.5 * (low + high);
            self.half = 0.5 * (high - low);
        }
    }

    /// Robust scale, and the distance beyond which a point is none of the bark's.
    fn cut(&mut self, spots: &[Spot]) -> f64 {
        let near: Vec<f64> = spots.iter().map(|s| s.above.abs()).filter(|a| *a < FIRST_WIDTH * self.radius).collect();
        // 1.4826 turns a median distance into the sd of a normal law
        self.sd = (1.4826 * median(&near)).max(1e-5 * self.radius);
        (6.0 * self.sd).clamp(LAST_WIDTH * self.radius, FIRST_WIDTH * self.radius)
    }

    /// Weighted least squares for all unknowns at the spots' angles.
    fn solve(&mut self, spots: &[(f64, Spot)], local: &[[f64; 3]], sd: f64) -> Option<()> {
        // lower half, row by row: its sums are most of the work
        let mut sums = [[0.0; SIZE]; SIZE];
        let mut v = DVector::<f64>::zeros(SIZE);
        let mut row = [0.0; SIZE];
        let mut good = 0_usize;
        for ((w, spot), p) in spots.iter().zip(local) {
            if *w <= 0.0 {
                continue;
            }
            good += 1;
            self.terms(spot.z, spot.angle, &mut row);
            let (s, c) = spot.angle.sin_cos();
            let height = p[0] * c + p[1] * s;
            for i in 0..SIZE {
                let pull = w * row[i];
                v[i] += pull * height;
                for (sum, other) in sums[i][..=i].iter_mut().zip(&row) {
                    *sum += pull * other;
                }
            }
        }
        if good < 30 {
            return None;
        }
        let mut m = DMatrix::from_fn(SIZE, SIZE, |i, j| sums[i][j]);
        for (i, scale) in self.scales().into_iter().enumerate() {
            m[(i, i)] += (sd / scale).powi(2);
        }
        // the radius is pulled to the first circles' instead of to zero
        v[0] += (sd / self.scales()[0]).powi(2) * self.radius;
        let solved = m.cholesky()?.solve(&v);
        self.unknowns = solved.iter().copied().collect();
        self.unknowns.iter().all(|u| u.is_finite()).then_some(())
    }

    /// How large each unknown could be, in shares of the radius so that no unit matters.
    fn scales(&self) -> [f64; SIZE] {
        let inch = self.radius / 12.7;
        let mut out = [0.0; SIZE];
        let mut at = 0;
        for s in [10.0, 0.5, 0.2, 0.1] {
            out[at] = s * inch;
            at += 1;
        }
        // a little wider than the population's own: enough to follow any tube seen all round, and to keep the centre of
        // a tube seen from one side, where an oval and a shift look alike
        for lobe in [0.25, 0.06, 0.03] {
            for _ in 0..2 {
                for share in [1.0, 0.4, 0.15] {
                    out[at] = share * lobe * inch;
                    at += 1;
                }
            }
        }
        for _ in 0..2 {
            for s in [10.0, 10.0, 5.0, 1.0, 0.5, 0.3] {
                out[at] = s * inch;
                at += 1;
            }
        }
        out
    }

    fn terms(&self, z: f64, angle: f64, row: &mut [f64; SIZE]) {
        let p = legendre(self.along(z));
        row[..RADIUS_TERMS].copy_from_slice(&p[..RADIUS_TERMS]);
        let (s1, c1) = angle.sin_cos();
        let (mut s, mut c) = (s1, c1);
        let mut at = RADIUS_TERMS;
        for _ in 2..=TOP {
            (s, c) = (s * c1 + c * s1, c * c1 - s * s1);
            for part in [c, s] {
                for q in &p[..LOBE_TERMS] {
                    row[at] = part * q;
                    at += 1;
                }
            }
        }
        for part in [c1, s1] {
            for q in p {
                row[at] = part * q;
                at += 1;
            }
        }
    }

    /// Place along the axis from -1 to 1 over the scanned stretch; held a little beyond it.
    fn along(&self, z: f64) -> f64 {
        ((z - self.middle) / self.half).clamp(-1.1, 1.1)
    }

    /// The centreline at a place.
    pub(super) fn centre(&self, z: f64) -> [f64; 2] {
        let p = legendre(self.along(z));
        [0, 1].map(|i| {
            let at = CENTRE + i * CENTRE_TERMS;
            self.unknowns[at..at + CENTRE_TERMS].iter().zip(p).map(|(u, q)| u * q).sum()
        })
    }

    /// Mean radius at a place.
    pub(super) fn radius_at(&self, z: f64) -> f64 {
        let p = legendre(self.along(z));
        self.unknowns[..RADIUS_TERMS].iter().zip(p).map(|(u, q)| u * q).sum()
    }

    /// Diameter across a direction, to first order: the even lobes add and the odd ones cancel.
    pub(super) fn across(&self, z: f64, angle: f64) -> f64 {
        2.0 * self.radius_at(z) + (2..=TOP).step_by(2).map(|n| 2.0 * self.lobe(z, n, angle)).sum::<f64>()
    }

    fn lobe(&self, z: f64, n: usize, angle: f64) -> f64 {
        let p = legendre(self.along(z));
        let at = RADIUS_TERMS + (n - 2) * 2 * LOBE_TERMS;
        let part = |k: usize| -> f64 {
            self.unknowns[at + k * LOBE_TERMS..at + (k + 1) * LOBE_TERMS].iter().zip(p).map(|(u, q)| u * q).sum()
        };
        let (s, c) = (count(n) * angle).sin_cos();
        part(0) * c + part(1) * s
    }

    /// Height of the surface over the axis.
    pub(super) fn height(&self, z: f64, angle: f64) -> f64 {
        let mut row = [0.0; SIZE];
        self.terms(z, angle, &mut row);
        row.iter().zip(&self.unknowns).map(|(r, u)| r * u).sum()
    }

    fn spot_of(&self, local: [f64; 3]) -> Spot {
        let mut spot = about(local, self.centre(local[2]));
        let (s, c) = spot.angle.sin_cos();
        spot.above = local[0] * c + local[1] * s - self.height(spot.z, spot.angle);
        spot
    }

    /// A point of the scan as seen from the surface.
    pub(super) fn spot(&self, point: [f64; 3]) -> Spot {
        self.spot_of(self.frame.local(point))
    }

    /// The scanned stretch of the axis.
    pub(super) fn stretch(&self) -> (f64, f64) {
        (self.middle - self.half, self.middle + self.half)
    }

    /// Moves the frame so that the centreline's ends lie on its axis.
    fn lay_along_chord(&mut self) {
        let (low, high) = self.stretch();
        let (a, b) = (self.centre(low), self.centre(high));
        let slope = [0, 1].map(|i| (b[i] - a[i]) / (high - low));
        let at = [0, 1].map(|i| a[i] - slope[i] * low);
        self.frame = self.frame.along_line(at, slope);
        // the chord itself is the first two polynomials of the centreline, z being steady to second order
        for i in 0..2 {
            self.unknowns[CENTRE + i * CENTRE_TERMS] -= 0.5 * (a[i] + b[i]);
            self.unknowns[CENTRE + i * CENTRE_TERMS + 1] -= 0.5 * (b[i] - a[i]);
        }
    }
}

/// A point about a centre; the height over the surface is still to come.
fn about(p: [f64; 3], centre: [f64; 2]) -> Spot {
    let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
    Spot { z: p[2], angle: y.atan2(x), reach: x.hypot(y), above: 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_polynomials_are_those_of_legendre() {
        let p = legendre(0.3);
        // P4(x) = (35 x^4 - 30 x^2 + 3) / 8, P5(x) = (63 x^5 - 70 x^3 + 15 x) / 8
        let x = 0.3_f64;
        assert!((p[4] - (35.0 * x.powi(4) - 30.0 * x * x + 3.0) / 8.0).abs() < 1e-15);
        assert!((p[5] - (63.0 * x.powi(5) - 70.0 * x.powi(3) + 15.0 * x) / 8.0).abs() < 1e-15);
    }
}
