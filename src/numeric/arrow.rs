//! Symmetric positive definite matrices shaped like an arrowhead: a band, a few full rows below it, and a corner.
//!
//! Unknowns that couple only to their neighbours (spline coefficients in knot-major order) make the band, those that
//! couple to everything (zeros of instruments, levels of fields) the border. The Cholesky factor keeps that shape, so
//! `n` unknowns of half-bandwidth `w` with `b` border rows cost about `n (w^2 + 2 w b + b^2) / 2` multiplications
//! instead of `n^3 / 6` (G. H. Golub and C. F. Van Loan, Matrix Computations, 4th ed. (2013), 4.3.5 for the band; the
//! border by the same recurrence).

use super::arrow_kernels::{
    Backward, FactorBand, FactorCorner, FactorRows, Forward, InvertCorner, InvertFactor, TakeRows, TakeSquares,
    backward_corner, forward_corner,
};
use super::lanes::{dot, wide};
use std::sync::Arc;

/// A symmetric matrix, its lower half stored: `n` rows of a band, then `b` full rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrow {
    n: usize,
    w: usize,
    b: usize,
    /// row i holds columns i - w ..= i, the diagonal last; places left of column 0 stay 0
    band: Vec<f64>,
    /// row r holds columns 0 .. n + r + 1, padded to n + b
    border: Vec<f64>,
}

impl Arrow {
    /// Zeros: `n` band unknowns of half-bandwidth `w`, `b` border unknowns behind them.
    #[must_use]
    pub fn zeros(n: usize, w: usize, b: usize) -> Arrow {
        Arrow { n, w, b, band: vec![0.0; n * (w + 1)], border: vec![0.0; b * (n + b)] }
    }

    /// Number of unknowns, band and border.
    #[must_use]
    pub fn size(&self) -> usize {
        self.n + self.b
    }

    /// Adds `value` to the element in row `i` and column `j` (and, as the matrix is symmetric, to its mirror).
    ///
    /// # Panics
    /// When both are in the band and farther apart than its half-bandwidth: a fault of the caller.
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        let (i, j) = if i >= j { (i, j) } else { (j, i) };
        if i >= self.n {
            self.border[(i - self.n) * (self.n + self.b) + j] += value;
        } else {
            assert!(i - j <= self.w, "element ({i}, {j}) outside a band of {}", self.w);
            self.band[i * (self.w + 1) + self.w + j - i] += value;
        }
    }

    /// Adds `pull g g'` for a sparse `g` given as (place, value), places in any order but each once.
    pub fn add_square(&mut self, entries: &[(usize, f64)], pull: f64) {
        for (k, &(a, u)) in entries.iter().enumerate() {
            let scaled = pull * u;
            for &(b, v) in &entries[..=k] {
                self.add(a, b, scaled * v);
            }
        }
    }

    /// Adds another of the same shape.
    ///
    /// # Panics
    /// When the shapes differ: a fault of the caller.
    pub fn add_all(&mut self, other: &Arrow) {
        assert_eq!((self.n, self.w, self.b), (other.n, other.w, other.b), "shapes");
        self.band.iter_mut().zip(&other.band).for_each(|(a, b)| *a += b);
        self.border.iter_mut().zip(&other.border).for_each(|(a, b)| *a += b);
    }

    /// `v' A v`.
    #[must_use]
    pub fn form(&self, v: &[f64]) -> f64 {
        let twice = |sum: f64, diagonal: f64| 2.0 * sum + diagonal;
        let mut total = 0.0;
        for i in 0..self.n {
            let row = &self.band[i * (self.w + 1)..(i + 1) * (self.w + 1)];
            let from = i.saturating_sub(self.w);
            let left = dot(&row[self.w + from - i..self.w], &v[from..i]);
            total += v[i] * twice(left, row[self.w] * v[i]);
        }
        for r in 0..self.b {
            let at = self.n + r;
            let row = &self.border[r * (self.n + self.b)..];
            total += v[at] * twice(dot(&row[..at], &v[..at]), row[at] * v[at]);
        }
        total
    }

    /// Row `i` of the band: columns `i - w ..= i`, the diagonal last.
    pub fn band_row_mut(&mut self, i: usize) -> &mut [f64] {
        &mut self.band[i * (self.w + 1)..(i + 1) * (self.w + 1)]
    }

    /// Row `r` of the border: the band's columns, then the border's own up to `r`.
    pub fn border_row_mut(&mut self, r: usize) -> &mut [f64] {
        let n = self.n + self.b;
        &mut self.border[r * n..(r + 1) * n]
    }

    /// The factor `L` with `L L' = A`; `None` when `A` is not positive definite (or holds a number that is none).
    #[must_use]
    pub fn factor(&self) -> Option<ArrowFactor> {
        self.factor_with(|_| 0.0)
    }

    /// As [`Self::factor`], with `more(r)` added to the diagonal at border unknown `r`. What is added is not part of what
    /// [`ArrowFactor::corner_with`] begins with.
    #[must_use]
    pub fn factor_with(&self, more: impl Fn(usize) -> f64) -> Option<ArrowFactor> {
        let (n, w, b) = (self.n, self.w, self.b);
        let mut band = self.band.clone();
        if !wide(FactorBand { band: &mut band, w, n }) {
            return None;
        }
        let (mut rows, mut open) = (vec![0.0; b * n], vec![0.0; b * b]);
        for r in 0..b {
            rows[r * n..(r + 1) * n].copy_from_slice(&self.border[r * (n + b)..r * (n + b) + n]);
        }
        wide(FactorRows { band: &band, w, n, rows: &mut rows });
        for r in 0..b {
            open[r * b..r * b + r + 1].copy_from_slice(&self.border[r * (n + b) + n..r * (n + b) + n + r + 1]);
        }
        wide(TakeSquares { rows: &rows, n, from: &mut open, b });
        let corner = corner_factor(&open, b, more)?;
        Some(ArrowFactor { n, w, b, band: Arc::new(band), rows: Arc::new(rows), open: Arc::new(open), corner })
    }
}

/// The Cholesky factor of an [`Arrow`].
#[derive(Debug, Clone, PartialEq)]
pub struct ArrowFactor {
    n: usize,
    w: usize,
    b: usize,
    band: Arc<Vec<f64>>,
    /// the border's rows of the factor, `n` each
    rows: Arc<Vec<f64>>,
    /// what is left of the corner once the band is eliminated, before it is factored; lower half
    open: Arc<Vec<f64>>,
    /// its factor, lower half
    corner: Vec<f64>,
}

impl ArrowFactor {
    /// Number of unknowns, band and border.
    #[must_use]
    pub fn size(&self) -> usize {
        self.n + self.b
    }

    /// Logarithm of the determinant of the matrix that was factored.
    #[must_use]
    pub fn log_det(&self) -> f64 {
        let band: f64 = (0..self.n).map(|i| self.band[i * (self.w + 1) + self.w].ln()).sum();
        let corner: f64 = (0..self.b).map(|r| self.corner[r * self.b + r].ln()).sum();
        2.0 * (band + corner)
    }

    /// `v := L^-1 v`.
    pub fn forward(&self, v: &mut [f64]) {
        let (low, high) = v.split_at_mut(self.n);
        wide(Forward { band: &self.band, w: self.w, v: low });
        self.border_forward(low, high);
        forward_corner(&self.corner, self.b, high);
    }

    /// `v := L^-T v`.
    pub fn backward(&self, v: &mut [f64]) {
        let (low, high) = v.split_at_mut(self.n);
        backward_corner(&self.corner, self.b, high);
        self.band_backward(low, high);
    }

    /// `v := A^-1 v`.
    pub fn solve(&self, v: &mut [f64]) {
        self.forward(v);
        self.backward(v);
    }

    /// Takes the border's rows times an already forwarded band off `high`.
    pub fn border_forward(&self, low: &[f64], high: &mut [f64]) {
        wide(TakeRows { rows: &self.rows, n: self.n, low, high });
    }

    /// The band's part of [`Self::backward`], the border's unknowns `high` being known.
    pub fn band_backward(&self, low: &mut [f64], high: &[f64]) {
        wide(Backward { band: &self.band, w: self.w, rows: &self.rows, low, high });
    }

    /// The factor of the corner when `more(r)` is added to the diagonal of the matrix itself at border unknown `r`; `None`
    /// when that is not positive definite. All else of the factor stays as it is.
    #[must_use]
    pub fn corner_with(&self, more: impl Fn(usize) -> f64) -> Option<Corner> {
        corner_factor(&self.open, self.b, more).map(|lower| Corner { b: self.b, lower })
    }

    /// The factor when `more(r)` is added to the diagonal at border unknown `r` instead of what was added before: what
    /// [`Arrow::factor_with`] gives, at the cost of the corner alone.
    #[must_use]
    pub fn with_corner(&self, more: impl Fn(usize) -> f64) -> Option<ArrowFactor> {
        let corner = corner_factor(&self.open, self.b, more)?;
        Some(ArrowFactor { corner, ..self.clone() })
    }

    /// The corner of the inverse: covariance of the border unknowns, full, row by row.
    #[must_use]
    pub fn border_covariance(&self) -> Vec<f64> {
        inverse(&self.corner, self.b)
    }
}

/// The factor of a corner with another diagonal, or of any full matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct Corner {
    b: usize,
    lower: Vec<f64>,
}

impl Corner {
    /// Of a symmetric matrix of `b` rows of which the lower half is given, row by row, `b` numbers each; `None` when it is not
    /// positive definite.
    #[must_use]
    pub fn of(b: usize, lower: Vec<f64>) -> Option<Corner> {
        let mut lower = lower;
        wide(FactorCorner { lower: &mut lower, b, more: &vec![0.0; b] }).then_some(Corner { b, lower })
    }

    /// The inverse of the factor, transposed: row `r` holds column `r` of it, 0 before its diagonal.
    #[must_use]
    pub fn inverse_factor(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.b * self.b];
        wide(InvertFactor { lower: &self.lower, b: self.b, out: &mut out });
        out
    }

    /// The inverse of what was factored, full, row by row.
    #[must_use]
    pub fn inverse(&self) -> Vec<f64> {
        inverse(&self.lower, self.b)
    }

    /// Logarithm of the determinant of what was factored.
    #[must_use]
    pub fn log_det(&self) -> f64 {
        2.0 * (0..self.b).map(|r| self.lower[r * self.b + r].ln()).sum::<f64>()
    }

    /// `v := L^-1 v`.
    pub fn forward(&self, v: &mut [f64]) {
        forward_corner(&self.lower, self.b, v);
    }

    /// `v := L^-T v`.
    pub fn backward(&self, v: &mut [f64]) {
        backward_corner(&self.lower, self.b, v);
    }
}

/// The inverse of what a full lower factor was made of.
fn inverse(lower: &[f64], b: usize) -> Vec<f64> {
    let mut out = vec![0.0; b * b];
    wide(InvertCorner { lower, b, out: &mut out });
    out
}

/// The factor of what is open of a corner, `more(r)` added to its diagonal.
fn corner_factor(open: &[f64], b: usize, more: impl Fn(usize) -> f64) -> Option<Vec<f64>> {
    let mut lower = open.to_vec();
    let more: Vec<f64> = (0..b).map(more).collect();
    wide(FactorCorner { lower: &mut lower, b, more: &more }).then_some(lower)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// A positive definite arrow and the same matrix in full.
    fn example(n: usize, w: usize, b: usize) -> (Arrow, DMatrix<f64>) {
        let mut arrow = Arrow::zeros(n, w, b);
        let value = |i: usize, j: usize| ((i * 7 + j * 13) % 11) as f64 / 11.0 - 0.4;
        for i in 0..n + b {
            arrow.add(i, i, 6.0 + (w + b) as f64);
            for j in 0..i {
                if i >= n || i - j <= w {
                    arrow.add(j, i, value(i, j));
                }
            }
        }
        let full = DMatrix::from_fn(n + b, n + b, |i, j| {
            let (i, j) = (i.max(j), i.min(j));
            match () {
                () if i == j => 6.0 + (w + b) as f64,
                () if i >= n || i - j <= w => value(i, j),
                () => 0.0,
            }
        });
        (arrow, full)
    }

    #[test]
    fn factor_solves_and_determinant_are_those_of_the_full_matrix() {
        for (n, w, b) in [(1, 0, 0), (9, 2, 0), (12, 3, 4), (40, 17, 9), (5, 4, 1)] {
            let (arrow, full) = example(n, w, b);
            let factor = arrow.factor().expect("positive definite");
            let dense = nalgebra::Cholesky::new(full.clone()).expect("positive definite");
            let v: Vec<f64> = (0..n + b).map(|i| (i as f64 * 0.7).sin()).collect();
            let mut x = v.clone();
            factor.solve(&mut x);
            let want = dense.solve(&DVector::from_vec(v.clone()));
            let worst = x.iter().zip(want.iter()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            assert!(worst < 1e-12, "({n}, {w}, {b}): {worst}");
            let log_det = 2.0 * dense.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
            assert!((factor.log_det() - log_det).abs() < 1e-10, "({n}, {w}, {b})");
            let form = (DVector::from_vec(v.clone()).transpose() * &full * DVector::from_vec(v.clone()))[0];
            assert!((arrow.form(&v) - form).abs() < 1e-10 * form.abs().max(1.0));
            let inverse = full.try_inverse().expect("regular");
            for (at, got) in factor.border_covariance().iter().enumerate() {
                assert!((got - inverse[(n + at / b, n + at % b)]).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_corner_with_another_diagonal_is_the_factor_of_the_changed_matrix() {
        let (mut arrow, _) = example(12, 3, 4);
        let factor = arrow.factor().expect("positive definite");
        let corner = factor.corner_with(|r| r as f64).expect("positive definite");
        for r in 0..4 {
            arrow.add(12 + r, 12 + r, r as f64);
        }
        let changed = arrow.factor().expect("positive definite");
        let v = [0.3, -1.0, 0.2, 0.7];
        let (mut x, mut y) = (v, v);
        corner.forward(&mut x);
        corner.backward(&mut x);
        forward_corner(&changed.corner, 4, &mut y);
        backward_corner(&changed.corner, 4, &mut y);
        for (a, b) in x.iter().zip(&y) {
            assert!((a - b).abs() < 1e-14);
        }
        assert_eq!(factor.with_corner(|r| r as f64), example(12, 3, 4).0.factor_with(|r| r as f64), "to the bit");
        assert!(factor.corner_with(|_| -100.0).is_none(), "not positive definite");
        assert!(factor.with_corner(|_| -100.0).is_none(), "not positive definite");
    }

    #[test]
    fn a_matrix_that_is_not_positive_definite_has_no_factor() {
        let mut arrow = Arrow::zeros(2, 1, 0);
        arrow.add(0, 0, 1.0);
        arrow.add(1, 1, 1.0);
        arrow.add(1, 0, 2.0);
        assert!(arrow.factor().is_none());
    }
}
