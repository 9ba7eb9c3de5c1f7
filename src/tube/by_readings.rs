//! A fit seen from its readings instead of its unknowns.
//!
//! With K the prior covariance of what the rows would show (see `gram`), D their pulls and `f` their forces, the unknowns' mean
//! is `Q^-1 A' v` with `v = (I + D K)^-1 f`, written `v = S B^-1 S^-1 f` with `S^2 = D` and `B = I + S K S`, whose eigenvalues are
//! all at least 1 (C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), 3.4.3). A hundred
//! readings against several hundred unknowns cost a fiftieth of the equations of the unknowns, and say exactly what those
//! say: of the mean, of what a row would show, and of the evidence.

use super::gram::{Before, FieldSquares, Seen};
use super::rounding::Site;
use super::squares::{FieldTold, Squares};
use super::tangents::Tangents;
use crate::numeric::arrow::Corner;

/// A row that pulls more than this many times as hard as the prior holds what it shows is not solved so: rounding, 1e-16 of
/// that, would be felt. Below it the equations of the unknowns are positive definite, too.
const MOST_PULL: f64 = 2e10;

/// One fit.
pub(super) struct ByReadings {
    seen: Seen,
    /// square roots of the pulls
    root: Vec<f64>,
    /// the factor of B
    factor: Corner,
    /// what every row pulls at the unknowns, through the prior
    v: Vec<f64>,
    forces: Vec<f64>,
}

impl ByReadings {
    /// `None` where a row pulls too hard, or the prior gives no covariance.
    pub(super) fn of(before: &Before<'_>, tangents: &Tangents, sites: &[Site], forces: Vec<f64>) -> Option<ByReadings> {
        let seen = before.seen(tangents);
        let root: Vec<f64> = sites.iter().map(|s| s.pull.sqrt()).collect();
        let m = root.len();
        let mut b = before.among(&seen);
        for (i, row) in b.chunks_exact_mut(m.max(1)).enumerate() {
            row[..=i].iter_mut().zip(&root).for_each(|(b, s)| *b *= s * root[i]);
            // also of what is no number
            if !(row[i] <= MOST_PULL) {
                return None;
            }
            row[i] += 1.0;
        }
        let factor = Corner::of(m, b)?;
        let mut v: Vec<f64> = forces.iter().zip(&root).map(|(f, s)| f / s).collect();
        factor.forward(&mut v);
        factor.backward(&mut v);
        v.iter_mut().zip(&root).for_each(|(v, s)| *v *= s);
        Some(ByReadings { seen, root, factor, v, forces })
    }

    /// The unknowns' mean less the prior's centre.
    pub(super) fn unknowns(&self, before: &Before<'_>) -> Vec<f64> {
        before.unknowns(&self.seen, &self.v)
    }

    /// Variance of what rows taken at other tangents would show, noise left out.
    pub(super) fn spreads(&self, before: &Before<'_>, tangents: &Tangents) -> Vec<f64> {
        let m = self.root.len();
        let there = before.seen(tangents);
        let shared = before.between(&there, &self.seen);
        let mut out = before.variances(&there);
        for (spread, shared) in out.iter_mut().zip(shared.chunks_exact(m.max(1))) {
            let mut told: Vec<f64> = shared.iter().zip(&self.root).map(|(k, s)| k * s).collect();
            self.factor.forward(&mut told);
            *spread -= told.iter().map(|t| t * t).sum::<f64>();
        }
        out
    }

    /// Mean less the prior's centre and variance of an unknown of the measuring, by its place in the border.
    pub(super) fn of_measuring(&self, before: &Before<'_>, at: usize) -> (f64, f64) {
        let (mut told, variance) = before.of_measuring(&self.seen, at);
        let mean = told.iter().zip(&self.v).map(|(k, v)| k * v).sum();
        told.iter_mut().zip(&self.root).for_each(|(k, s)| *k *= s);
        self.factor.forward(&mut told);
        (mean, variance - told.iter().map(|t| t * t).sum::<f64>())
    }

    /// Log evidence of the rows' forces, but for a constant that no scale moves.
    pub(super) fn evidence(&self) -> f64 {
        let fit: f64 = self.forces.iter().zip(self.along()).map(|(f, a)| f * a).sum();
        0.5 * (fit - self.factor.log_det())
    }

    /// What the rows would show beyond what they would at the prior's centre: `K v`, by `(I + D K) v = f`.
    fn along(&self) -> impl Iterator<Item = f64> + '_ {
        self.forces.iter().zip(&self.v).zip(&self.root).map(|((f, v), s)| (f - v) / (s * s))
    }

    /// `u_i = L^-1 S e_i` of every row, one after another, `L` the factor of B: the inverse of the covariance of all rows, noise
    /// included, is their products.
    pub(super) fn columns(&self) -> Vec<f64> {
        let mut out = self.factor.inverse_factor();
        let rows = out.chunks_exact_mut(self.root.len().max(1)).zip(&self.root);
        rows.for_each(|(row, s)| row.iter_mut().for_each(|v| *v *= s));
        out
    }

    /// Logarithm of the determinant of B.
    pub(super) fn log_det(&self) -> f64 {
        self.factor.log_det()
    }

    /// What the fit says of the scales it was made under; `at_centre`: what the rows would show at the prior's centre.
    pub(super) fn squares(&self, before: &Before<'_>, at_centre: &[f64]) -> Option<Squares> {
        let m = self.root.len();
        let mut inverse = self.factor.inverse();
        let used = (0..m).map(|i| 1.0 - inverse[i * m + i]).collect();
        for (row, s) in inverse.chunks_exact_mut(m.max(1)).zip(&self.root) {
            row.iter_mut().zip(&self.root).for_each(|(b, r)| *b *= s * r);
        }
        let told = before.squares(&self.seen, &inverse, &self.v)?;
        let (fields, knots) = (before.layout().fields, before.layout().knots());
        let shape = |[told, seen]: [f64; 2]| (told - seen, seen.clamp(0.0, 1.0));
        let field = |f: &FieldSquares| FieldTold {
            shapes: f.shapes.map(shape),
            rough: (f.rough[0] - f.rough[1], (f.rough[1] / knots).clamp(0.0, 1.0)),
        };
        let reach = told[..fields.outside()].iter().map(|f| 0.5 * (f.reach[0] - f.reach[1])).sum();
        Some(Squares {
            fields: told.iter().map(field).collect(),
            reach,
            used,
            shown: at_centre.iter().zip(self.along()).map(|(c, a)| c + a).collect(),
            evidence: self.evidence(),
        })
    }
}
