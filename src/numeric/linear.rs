//! Linear least squares that says which unknowns the readings cannot see.

use crate::numeric::small_svd::SmallSvd;
use crate::numeric::triangle::Triangle;
use nalgebra::{DMatrix, DVector};

/// An unknown counts as unseen when the part of its axis lying in the null space of the (column-scaled) design is
/// longer than this. The null space is known to about the square root of the rounding unit or better.
const UNSEEN: f64 = 1e-7;

/// For columns of one size, combinations seen less than this (relative to the best seen) are the rounding of their
/// arguments: the cosine of 12 whole turns is off by 1e-14, and no instrument resolves a part in 1e10.
const ONE_SIZE: f64 = 1e-10;

/// What a linear least-squares problem says about its unknowns.
#[derive(Debug, Clone)]
pub struct LinearFit {
    /// One value per unknown, in the order of the columns; `None` where the readings cannot see it.
    pub estimate: Vec<Option<f64>>,
    /// The answer of least (column-scaled) norm, always finite: for evaluating the fit, not for reporting.
    pub least_norm: DVector<f64>,
    /// Covariance of the unknowns for rows whose noise has sd 1 (divide each row by its sd before feeding it).
    /// For unseen unknowns the rows and columns are those of the pseudo-inverse and mean nothing.
    pub covariance: DMatrix<f64>,
    /// Number of combinations of the unknowns that the readings determine.
    pub rank: usize,
    /// Sum of squared (weighted) residuals.
    pub sum_of_squares: f64,
    /// Number of rows fed.
    pub rows: usize,
}

/// Accumulates weighted rows `a . x = b` and solves them; rows are not stored.
#[derive(Debug, Clone)]
pub struct LinearProblem {
    unknowns: usize,
    rows: usize,
    by_norm: bool,
    triangle: Triangle,
    scratch: Vec<f64>,
}

impl LinearProblem {
    /// A problem with `unknowns` columns and no rows yet. Columns are scaled by their norms before solving, so that
    /// unknowns in different units do not disturb each other.
    #[must_use]
    pub fn new(unknowns: usize) -> Self {
        let width = unknowns + 1;
        LinearProblem { unknowns, rows: 0, by_norm: true, triangle: Triangle::new(width), scratch: vec![0.0; width] }
    }

    /// As [`Self::new`], for columns that are of one size by nature (sines and cosines). They are not scaled, so a
    /// column that ought to be 0 and holds rounding noise (the sine of a whole turn) counts as unseen.
    #[must_use]
    pub fn of_one_size(unknowns: usize) -> Self {
        LinearProblem { by_norm: false, ..Self::new(unknowns) }
    }

    /// Adds the row `a . x = b` with weight `1 / sd` (pass the reciprocal of the reading's sd). Missing entries of
    /// `a` count as 0.
    pub fn add(&mut self, a: &[f64], b: f64, weight: f64) {
        self.scratch.fill(0.0);
        for (held, value) in self.scratch.iter_mut().zip(a).take(self.unknowns) {
            *held = value * weight;
        }
        self.scratch[self.unknowns] = b * weight;
        self.triangle.absorb(&mut self.scratch);
        self.rows += 1;
    }

    /// Solves by a singular value decomposition of the triangle.
    ///
    /// # Accuracy
    /// Backward stable; errors grow with the condition of the column-scaled design, not with its square.
    ///
    /// # Errors
    /// `None` when a row held an infinity or a NaN, or the decomposition did not converge.
    #[must_use]
    pub fn solve(&self) -> Option<LinearFit> {
        let n = self.unknowns;
        let mut r = self.triangle.block(0, n);
        let scale: Vec<f64> = (0..n).map(|j| if self.by_norm { nonzero(r.column(j).norm()) } else { 1.0 }).collect();
        for (j, s) in scale.iter().enumerate() {
            r.column_mut(j).unscale_mut(*s);
        }
        let rhs = DVector::from_fn(n, |i, _| self.triangle.at(i, n));
        let last = self.triangle.at(n, n);
        if !(r.iter().chain(rhs.iter()).all(|v| v.is_finite()) && last.is_finite()) {
            return None;
        }
        let svd = SmallSvd::new(r)?;
        let rank = if self.by_norm { svd.rank(self.rows.max(n)) } else { svd.rank_above(ONE_SIZE) }.min(self.rows);
        let along = svd.u.transpose() * rhs;
        let lost: f64 = along.iter().skip(rank).map(|v| v * v).sum();
        let mut x = &svd.v * DVector::from_fn(n, |k, _| if k < rank { along[k] / svd.s[k] } else { 0.0 });
        x.component_div_assign(&DVector::from_column_slice(&scale));
        let estimate = (0..n).map(|j| (svd.hidden(j, rank) < UNSEEN).then_some(x[j])).collect();
        Some(LinearFit {
            estimate,
            covariance: svd.covariance(rank, &scale),
            least_norm: x,
            rank,
            sum_of_squares: last * last + lost,
            rows: self.rows,
        })
    }
}

/// A count as a float: exact below 2^32, which no set of readings reaches.
pub(crate) fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// A column whose norm is zero keeps the scale 1.
pub(crate) fn nonzero(norm: f64) -> f64 {
    if norm > 0.0 { norm } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_no_row_touches_is_unseen_and_the_others_are_not() {
        let mut p = LinearProblem::new(3);
        for (x, y) in [(0.0, 1.0), (1.0, 2.0), (2.0, 3.5)] {
            p.add(&[1.0, x, 0.0], y, 1.0);
        }
        let fit = p.solve().expect("finite rows");
        assert_eq!(fit.rank, 2);
        assert!(fit.estimate[0].is_some() && fit.estimate[1].is_some() && fit.estimate[2].is_none(), "{fit:?}");
        assert!((fit.estimate[1].unwrap_or(f64::NAN) - 1.25).abs() < 1e-14, "{fit:?}");
        // residuals 1/12, -1/6, 1/12: sum of squares 1/24
        assert!((fit.sum_of_squares - 1.0 / 24.0).abs() < 1e-15, "{}", fit.sum_of_squares);
    }

    #[test]
    fn two_unknowns_seen_only_as_a_sum_are_both_unseen() {
        let mut p = LinearProblem::new(2);
        p.add(&[1.0, 1.0], 2.0, 1.0);
        p.add(&[1.0, 1.0], 4.0, 1.0);
        let fit = p.solve().expect("finite rows");
        assert_eq!((fit.rank, fit.estimate.clone()), (1, vec![None, None]));
        assert!((fit.least_norm.sum() - 3.0).abs() < 1e-14 && (fit.sum_of_squares - 2.0).abs() < 1e-14, "{fit:?}");
    }

    #[test]
    fn weights_enter_the_covariance() {
        let mut p = LinearProblem::new(1);
        for _ in 0..4 {
            p.add(&[1.0], 5.0, 1.0 / 0.02);
        }
        let fit = p.solve().expect("finite rows");
        assert!((fit.covariance[(0, 0)].sqrt() - 0.01).abs() < 1e-16, "{}", fit.covariance);
    }

    #[test]
    fn an_infinite_row_is_refused() {
        let mut p = LinearProblem::new(1);
        p.add(&[f64::INFINITY], 1.0, 1.0);
        assert!(p.solve().is_none());
    }
}
