//! The prior of one field along the tube.
//!
//! A field is a level, an even tilt and an even bend over the length, plus an unevenness: a stationary process (Matern,
//! smoothness 3/2) whose fine part has the second differences its scale states and which levels off beyond its reach.
//! On equal knots its precision is banded: `(k^4 I + 2 k^2 D1'D1 + D2'D2) / rough^2` with `k` the knot spacing over the
//! decay length (F. Lindgren, H. Rue, J. Lindstroem, J. R. Statist. Soc. B 73 (2011) 423-498, the finite-element form;
//! its D2'D2 alone is the roughness penalty of Eilers and Marx, Statist. Sci. 11 (1996) 89-121).

use super::population::ROUGH_SPACING_MM;

use nalgebra::{DMatrix, DVector};

/// The diagonal, first and second off-diagonal entries of a symmetric matrix of five diagonals.
pub(super) type Banded = [Vec<f64>; 3];

/// The precision of `m` coefficients `h` mm apart whose roughness is `rough` (see
/// [`super::population::FieldScale::rough`]) and whose places have nothing to do with each other beyond `reach_mm`.
pub(super) fn unevenness(m: usize, h: f64, rough: f64, reach_mm: f64) -> Banded {
    let k = 3_f64.sqrt() / reach_mm * h;
    combined(m, k.powi(4), 2.0 * k * k, 1.0, pull(h, rough))
}

/// Its slope by the logarithm of the reach.
pub(super) fn unevenness_by_reach(m: usize, h: f64, rough: f64, reach_mm: f64) -> Banded {
    let k = 3_f64.sqrt() / reach_mm * h;
    combined(m, -4.0 * k.powi(4), -4.0 * k * k, 0.0, pull(h, rough))
}

fn pull(h: f64, rough: f64) -> f64 {
    (rough * (h / ROUGH_SPACING_MM).powf(1.5)).powi(-2)
}

/// The precision of one field by itself, for a roughness of 1.
#[derive(Debug, Clone)]
pub(super) struct Alone {
    spacing_mm: f64,
    reach_mm: f64,
    /// Its diagonals.
    pub(super) diagonals: Banded,
    /// Its lower factor.
    factor: DMatrix<f64>,
}

impl Alone {
    pub(super) fn of(m: usize, h: f64, reach_mm: f64) -> Option<Alone> {
        let diagonals = unevenness(m, h, 1.0, reach_mm);
        let factor = dense(&diagonals).cholesky()?.unpack();
        Some(Alone { spacing_mm: h, reach_mm, diagonals, factor })
    }

    /// Half the logarithm of its determinant.
    pub(super) fn half_log_det(&self) -> f64 {
        self.factor.diagonal().iter().map(|d| d.ln()).sum()
    }

    /// The information it holds about the logarithm of the reach: half the trace of the square of its inverse times its
    /// slope.
    pub(super) fn information(&self) -> Option<f64> {
        let slope = dense(&unevenness_by_reach(self.factor.nrows(), self.spacing_mm, 1.0, self.reach_mm));
        let along = self.factor.tr_solve_lower_triangular(&self.factor.solve_lower_triangular(&slope)?)?;
        Some(0.5 * (&along * &along).trace())
    }

    /// `L^-1 v`, `L` the lower factor of the precision: its square is the variance of the sum of coefficients times `v`, for a
    /// roughness of 1.
    pub(super) fn forward(&self, v: Vec<f64>) -> Vec<f64> {
        let mut x = DVector::from_vec(v);
        // a factor of positive diagonal always solves
        self.factor.solve_lower_triangular_mut(&mut x);
        x.as_slice().to_vec()
    }
}

/// Covariance of `m` coefficients `h` mm apart for a roughness of 1, row by row; `None` where it is none.
pub(super) fn covariance(m: usize, h: f64, reach_mm: f64) -> Option<Vec<f64>> {
    let inverse = dense(&unevenness(m, h, 1.0, reach_mm)).cholesky()?.inverse();
    Some(inverse.as_slice().to_vec())
}

/// Its slope by the logarithm of the reach.
pub(super) fn covariance_by_reach(m: usize, h: f64, reach_mm: f64) -> Option<Vec<f64>> {
    let factor = dense(&unevenness(m, h, 1.0, reach_mm)).cholesky()?;
    // C' = -C R' C
    let half = factor.solve(&dense(&unevenness_by_reach(m, h, 1.0, reach_mm)));
    Some((-factor.solve(&half.transpose())).as_slice().to_vec())
}

fn dense(b: &Banded) -> DMatrix<f64> {
    let m = b[0].len();
    DMatrix::from_fn(m, m, |i, j| b.get(i.abs_diff(j)).map_or(0.0, |values| values[i.min(j)]))
}

/// `(square I + first D1'D1 + second D2'D2) pull`.
fn combined(m: usize, square: f64, first: f64, second: f64, pull: f64) -> Banded {
    let mut out = [vec![square * pull; m], vec![0.0; m], vec![0.0; m]];
    let (first, second) = (first * pull, second * pull);
    for i in 0..m.saturating_sub(1) {
        out[0][i] += first;
        out[0][i + 1] += first;
        out[1][i] -= first;
    }
    for i in 0..m.saturating_sub(2) {
        for (at, by) in [(i, 1.0), (i + 1, 4.0), (i + 2, 1.0)] {
            out[0][at] += by * second;
        }
        out[1][i] -= 2.0 * second;
        out[1][i + 1] -= 2.0 * second;
        out[2][i] += second;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_a_long_field_has_the_stated_second_differences_and_levels_off() {
        let (m, h, rough) = (200, 18.0, 0.01);
        let cov = dense(&unevenness(m, h, rough, 150.0)).try_inverse().expect("regular");
        // second difference at the middle: its variance is rough^2 but for the little that the levelling takes away
        let w = [(99, 1.0), (100, -2.0), (101, 1.0)];
        let var: f64 =
            w.iter().flat_map(|a| w.iter().map(move |b| (a, b))).map(|(a, b)| a.1 * b.1 * cov[(a.0, b.0)]).sum();
        assert!((var.sqrt() / rough - 1.0).abs() < 0.2, "{}", var.sqrt());
        // sd of the process itself: rough / (2 k^1.5), k = 18 sqrt 3 / 150
        let k = 18.0 * 3_f64.sqrt() / 150.0;
        let want = rough / (2.0 * k.powf(1.5));
        assert!((cov[(100, 100)].sqrt() / want - 1.0).abs() < 0.05, "{} {want}", cov[(100, 100)].sqrt());
        // (1 + d / l) e^(-d / l) with d = 540 mm and l = 150 / sqrt 3: 1.4 %
        assert!((cov[(100, 130)] / cov[(100, 100)] - 0.0142).abs() < 0.001, "540 mm on they are all but strangers");
    }

    #[test]
    fn the_slopes_by_the_reach_are_those_of_differences() {
        let (m, h, reach, d) = (24, 10.0, 60.0, 1e-5_f64);
        let at = |r: f64| Alone::of(m, h, r).expect("regular");
        let (up, down) = (reach * d.exp(), reach * (-d).exp());
        let here = at(reach);
        let [a, b] = [up, down].map(|r| dense(&unevenness(m, h, 0.01, r)));
        let slope = dense(&unevenness_by_reach(m, h, 0.01, reach));
        assert!(((a - b) / (2.0 * d) - &slope).amax() < 1e-6 * slope.amax());
        // half the slope of the determinant is half the trace
        let by_trace = 0.5
            * (dense(&unevenness(m, h, 1.0, reach)).try_inverse().expect("regular")
                * dense(&unevenness_by_reach(m, h, 1.0, reach)))
            .trace();
        assert!(((at(up).half_log_det() - at(down).half_log_det()) / (2.0 * d) - by_trace).abs() < 1e-6);
        let inverse = dense(&here.diagonals).try_inverse().expect("regular");
        let along = inverse * dense(&unevenness_by_reach(m, h, 1.0, reach));
        let (told, traced) = (here.information().expect("regular"), 0.5 * (&along * &along).trace());
        assert!((told - traced).abs() < 1e-6 * traced, "{told} {traced}");
    }
}
