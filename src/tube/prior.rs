//! The prior of one field along the tube.
//!
//! A field is a level, an even tilt and an even bend over the length, plus an unevenness: a stationary process (Matern,
//! smoothness 3/2) whose fine part has the second differences its scale states and which levels off beyond `REACH_MM`.
//! On equal knots its precision is banded: `(k^4 I + 2 k^2 D1'D1 + D2'D2) / rough^2` with `k` the knot spacing over the
//! decay length (F. Lindgren, H. Rue, J. Lindstroem, J. R. Statist. Soc. B 73 (2011) 423-498, the finite-element form;
//! its D2'D2 alone is the roughness penalty of Eilers and Marx, Statist. Sci. 11 (1996) 89-121).

use super::population::ROUGH_SPACING_MM;

/// Distance beyond which unevenness at two places has nothing to do with each other, mm. Common practice, no source: nodes
/// stand farther apart than a tube is long, and what is longer than this is tilt and bend.
pub(super) const REACH_MM: f64 = 150.0;

/// The diagonal, first and second off-diagonal entries of the precision of `m` coefficients `h` mm apart whose roughness
/// is `rough` (see [`super::population::FieldScale::rough`]).
pub(super) fn unevenness(m: usize, h: f64, rough: f64) -> [Vec<f64>; 3] {
    let k = 3_f64.sqrt() / REACH_MM * h;
    let pull = (rough * (h / ROUGH_SPACING_MM).powf(1.5)).powi(-2);
    let mut out = [vec![k.powi(4) * pull; m], vec![0.0; m], vec![0.0; m]];
    let first = 2.0 * k * k * pull;
    for i in 0..m.saturating_sub(1) {
        out[0][i] += first;
        out[0][i + 1] += first;
        out[1][i] -= first;
    }
    for i in 0..m.saturating_sub(2) {
        for (at, by) in [(i, 1.0), (i + 1, 4.0), (i + 2, 1.0)] {
            out[0][at] += by * pull;
        }
        out[1][i] -= 2.0 * pull;
        out[1][i + 1] -= 2.0 * pull;
        out[2][i] += pull;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DMatrix;

    #[test]
    fn the_middle_of_a_long_field_has_the_stated_second_differences_and_levels_off() {
        let (m, h, rough) = (200, 18.0, 0.01);
        let [d0, d1, d2] = unevenness(m, h, rough);
        let q = DMatrix::from_fn(m, m, |i, j| match i.abs_diff(j) {
            0 => d0[i],
            1 => d1[i.min(j)],
            2 => d2[i.min(j)],
            _ => 0.0,
        });
        let cov = q.try_inverse().expect("regular");
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
}
