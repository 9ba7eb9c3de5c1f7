//! The law behind the scales of the prior: a few numbers that say how large lobes, unevenness, bow and taper are in a lot,
//! how lobes fall off with their order, and how unsure all of that is.
//!
//! Nothing is published on how these vary from tube to tube. The centres are "common practice, no source"; the standard
//! deviations are wide (a factor of 1.8 to 2.7 either way), so that a handful of read tubes outweighs them. A scale that a
//! lot's readings do not see keeps that whole doubt, and every draw of a surface takes its own scales from it.

use crate::numeric::draws;
use nalgebra::{Cholesky, DMatrix, DVector};

/// One number of the law before any lot was read. Sizes are logarithms.
pub(super) struct Parameter {
    pub(super) centre: f64,
    pub(super) sd: f64,
}

const fn number(centre: f64, sd: f64) -> Parameter {
    Parameter { centre, sd }
}

/// The numbers, in the order of every vector of them: natural logarithms, and the exponent of the lobes.
pub(super) const LAW: [Parameter; 17] = [
    number(-1.609, 0.6), // oval: 0.20 mm of a2 and b2 each, an ovality of about 1 mm
    number(-3.352, 0.8), // third lobe: 0.035 mm
    number(2.2, 0.7),    // lobe n stands (3/n)^2.2 of it
    number(-0.693, 0.5), // lobes change over 200 mm by half their level
    number(-5.116, 1.0), // unevenness of the third lobe: 0.006 mm
    // that of lobe n (3/n)^1 of it: the logarithm of the exponent, since a finer lobe is no rougher than a coarse one
    number(0.0, 0.6),
    number(-1.204, 0.6), // taper of the radius: 0.30 mm over 200 mm
    number(-4.605, 0.8), // its unevenness: 0.010 mm
    number(0.262, 0.7),  // bow: 1.3 mm over 200 mm in each plane
    number(-3.352, 0.8), // unevenness of the centreline: 0.035 mm
    number(-1.609, 0.6), // taper of the wall: 0.20 mm over 200 mm
    number(-1.609, 0.6), // wall once round: 0.20 mm
    number(-4.200, 0.8), // its unevenness: 0.015 mm
    // fibres lean 0 to 3 deg to the axis (value from memory, no distribution is published); 1.5 deg, taken as one sd,
    // carry a fibre 200 tan(1.5 deg) = 5.2 mm or 24 deg round a one-inch tube
    number(3.178, 0.6),
    number(-0.693, 0.8), // unevenness of the turn: 0.5 deg
    // unevenness of the outside at places farther apart than 150 mm has nothing to do with each other: nodes stand farther
    // apart than a tube is long, and what is longer is tilt and bend
    number(5.011, 0.8),
    number(-2.303, 0.8), // S-bend of the centreline: 0.1 mm over 200 mm either way in each plane
];

pub(super) const OVAL_LEVEL: usize = 0;
pub(super) const LOBE_LEVEL: usize = 1;
pub(super) const LOBE_DECAY: usize = 2;
pub(super) const LOBE_TILT: usize = 3;
pub(super) const LOBE_ROUGH: usize = 4;
pub(super) const ROUGH_DECAY: usize = 5;
pub(super) const RADIUS_TILT: usize = 6;
pub(super) const RADIUS_ROUGH: usize = 7;
pub(super) const CENTRE_BEND: usize = 8;
pub(super) const CENTRE_ROUGH: usize = 9;
pub(super) const WALL_TILT: usize = 10;
pub(super) const WALL_LEAN: usize = 11;
pub(super) const WALL_ROUGH: usize = 12;
pub(super) const TWIST_TILT: usize = 13;
pub(super) const TWIST_ROUGH: usize = 14;
pub(super) const REACH: usize = 15;
pub(super) const CENTRE_ESS: usize = 16;

/// Bend of a lobe, as a share of its tilt: an even change is likelier than one that turns back.
pub(super) const BEND_OF_TILT: f64 = 0.2;
/// Its S-shaped part likewise.
pub(super) const ESS_OF_TILT: f64 = 0.05;

/// Number of factors of a tube.
pub(super) const FACTORS: usize = 3;
/// Place of that of level, tilt, bend and ess of every lobe from the third on.
pub(super) const LOBES: usize = 0;
/// Of bend and ess of the centreline.
pub(super) const BOW: usize = 1;
/// Of every roughness but the centreline's, which has tails of its own (see `tails`).
pub(super) const UNEVEN: usize = 2;

/// How much the scales of one tube differ from its lot's before any is read, sd of the logarithm, factor by factor. Common
/// practice, no source.
pub(super) const OWN_SD: [f64; FACTORS] = [0.3, 0.3, 0.45];
/// What is known of the numbers of the law: a normal distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleDoubt {
    /// Mean, in the order of the law.
    pub(super) mean: Vec<f64>,
    /// Lower factor of the covariance, row by row.
    pub(super) factor: Vec<f64>,
    /// How many tubes it was learned from; 0: the built-in doubt.
    pub(super) tubes: usize,
    /// Distance of the stations at which those were read, mm (see `fine`); 0 where none taught it.
    pub(super) stations_mm: f64,
}

impl ScaleDoubt {
    /// Before any lot was read.
    #[must_use]
    pub fn before() -> ScaleDoubt {
        let n = LAW.len();
        let mut factor = vec![0.0; n * n];
        for (i, p) in LAW.iter().enumerate() {
            factor[i * n + i] = p.sd;
        }
        ScaleDoubt { mean: LAW.iter().map(|p| p.centre).collect(), factor, tubes: 0, stations_mm: 0.0 }
    }

    /// Of scales that are known.
    pub(super) fn none() -> ScaleDoubt {
        let before = ScaleDoubt::before();
        ScaleDoubt { factor: vec![0.0; before.factor.len()], ..before }
    }

    /// With this mean and covariance; `None` when the covariance is not positive definite.
    pub(super) fn of(mean: Vec<f64>, covariance: DMatrix<f64>, tubes: usize) -> Option<ScaleDoubt> {
        let n = mean.len();
        let lower = Cholesky::new(covariance)?.unpack();
        let factor = (0..n * n).map(|at| lower[(at / n, at % n)]).collect();
        Some(ScaleDoubt { mean, factor, tubes, stations_mm: 0.0 })
    }

    /// Number of tubes the scales were learned from; 0 where they are the built-in ones.
    #[must_use]
    pub fn tubes(&self) -> usize {
        self.tubes
    }

    /// Covariance of the numbers.
    pub(super) fn covariance(&self) -> DMatrix<f64> {
        let n = self.mean.len();
        let l = DMatrix::from_fn(n, n, |i, j| self.factor[i * n + j]);
        &l * l.transpose()
    }

    /// The numbers of draw `k`, common to every tube of a lot. Depends on (seed, k) only.
    pub(super) fn drawn(&self, seed: u64, k: u64) -> Vec<f64> {
        let n = self.mean.len();
        let z = DVector::from_vec(draws::mirrored_normals(seed, "scales of the lot", k, n));
        let part = |i: usize| -> f64 { (0..=i).map(|j| self.factor[i * n + j] * z[j]).sum() };
        (0..n).map(|i| self.mean[i] + part(i)).collect()
    }

    /// Standard deviation of that change.
    pub(super) fn rough_sd(&self) -> f64 {
        let c = self.covariance();
        let (i, j) = (LOBE_ROUGH, CENTRE_ROUGH);
        ((c[(i, i)] + c[(j, j)] + 2.0 * c[(i, j)]) / 4.0).max(0.0).sqrt()
    }

    /// Mean change of the roughness of lobes and centreline against the mean of the law, as a logarithm.
    pub(super) fn rough_shift(&self, theta: &[f64]) -> f64 {
        let off = |i: usize| theta[i] - self.mean[i];
        (off(LOBE_ROUGH) + off(CENTRE_ROUGH)) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_have_the_stated_spread_and_are_common_to_all_tubes() {
        let doubt = ScaleDoubt::before();
        let drawn: Vec<f64> = (0..2000).map(|k| doubt.drawn(3, k)[CENTRE_BEND]).collect();
        let (mean, sd) = (crate::numeric::summary::mean(&drawn), crate::numeric::summary::sd(&drawn));
        assert!((mean - 0.262).abs() < 0.06 && (sd - 0.7).abs() < 0.05, "{mean} {sd}");
        assert_eq!(doubt.drawn(3, 7), doubt.drawn(3, 7));
        assert_ne!(doubt.drawn(3, 7), doubt.drawn(4, 7));
    }
}
