//! The curve across the back: arc diameter and skew of a blank-wide arc as linear readings of the harmonics.

use crate::numeric::summary::count;
use std::f64::consts::FRAC_PI_2;

/// Directions across the back at which the arc is matched.
const ACROSS: usize = 61;

/// How strongly each harmonic shows in the circle that fits the back over the blank's width.
///
/// Over the width the radius about the centreline is `r(t) = R0 + sum_n (E_n cos nt + O_n sin nt)`, `t` counted from the
/// bark line in `[-phi, phi]`, `sin phi = width / 2 R0`, with `E_n = an cos na + bn sin na` and
/// `O_n = bn cos na - an sin na`. To first order a circle of radius `R0 + p` about the point `(ex, ey)` has
/// `r(t) = R0 + p + ex cos t + ey sin t`, so the least-squares circle is the projection of `r` on `{1, cos, sin}`; the next
/// order adds the projection of `(ex sin t - ey cos t)^2 / 2 R0` on 1. A radius of curvature that changes evenly across
/// the back, `k t`, is matched by `r = k t` (since the curvature radius of a departure `r` is `r'' + r`), so the skew, the
/// difference of curvature diameter between the two rails, is `4 phi k` with `k` from `{sin, t}`.
///
/// For a pure oval the curvature change flattens toward the rails, so this even-slope skew is about a sixth larger than
/// the difference of the two local curvatures right at the rails (3.1 against 2.7 mm for 1 mm of ovality, 13.5 mm width):
/// it weighs the whole back, and unlike the local value it does not magnify high harmonics that readings hardly see.
///
/// # Accuracy
/// Against a geometric circle fit of the exact section: within 0.05 mm of diameter for ovalities to 1 mm, 0.1 mm at 1.5 mm
/// (see tests); far less than the default band of 1.5 mm.
#[derive(Debug, Clone, PartialEq)]
pub struct BackGains {
    /// Half the angle the blank's width covers, radians.
    pub phi: f64,
    /// `p` per `E_n`, index n.
    pub radius: Vec<f64>,
    /// `ex` per `E_n`.
    pub shift_out: Vec<f64>,
    /// `ey` per `O_n`.
    pub shift_side: Vec<f64>,
    /// Skew in mm of diameter per `O_n`.
    pub skew: Vec<f64>,
    /// `p` per `ex^2 / 2 R0`.
    pub out_squared: f64,
    /// `p` per `ey^2 / 2 R0`.
    pub side_squared: f64,
}

impl BackGains {
    /// Gains for a blank of this width on a tube of this mean radius, harmonics to `top`.
    ///
    /// A blank wider than the tube is taken as covering half of it.
    #[must_use]
    pub fn new(width_mm: f64, radius_mm: f64, top: usize) -> BackGains {
        let phi = (width_mm / (2.0 * radius_mm)).clamp(0.02, 1.0).asin().min(FRAC_PI_2);
        let t: Vec<f64> = (0..ACROSS).map(|i| phi * (2.0 * count(i) / count(ACROSS - 1) - 1.0)).collect();
        let even = |f: &dyn Fn(f64) -> f64| pair_fit(&t, |_| 1.0, f64::cos, f);
        let odd = |f: &dyn Fn(f64) -> f64| pair_fit(&t, f64::sin, |t| t, f);
        let plain_sine = |f: &dyn Fn(f64) -> f64| {
            let (num, den) = t.iter().fold((0.0, 0.0), |(n, d), &t| (n + f(t) * t.sin(), d + t.sin() * t.sin()));
            num / den
        };
        let harmonics = |g: &dyn Fn(f64) -> f64| (0..=top).map(|n| g(count(n))).collect::<Vec<f64>>();
        BackGains {
            phi,
            radius: harmonics(&|n| even(&|t| (n * t).cos()).0),
            shift_out: harmonics(&|n| even(&|t| (n * t).cos()).1),
            shift_side: harmonics(&|n| plain_sine(&|t| (n * t).sin())),
            skew: harmonics(&|n| 4.0 * phi * odd(&|t| (n * t).sin()).1),
            out_squared: even(&|t| t.sin() * t.sin()).0,
            side_squared: even(&|t| t.cos() * t.cos()).0,
        }
    }
}

/// Least squares of `f` on two functions over the points `t`: their two coefficients.
fn pair_fit(t: &[f64], u: impl Fn(f64) -> f64, v: impl Fn(f64) -> f64, f: impl Fn(f64) -> f64) -> (f64, f64) {
    // Gram-Schmidt rather than normal equations: 1 and cos (or sin and t) are nearly parallel over a narrow arc
    let us: Vec<f64> = t.iter().map(|&t| u(t)).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let uu = dot(&us, &us);
    let mut vs: Vec<f64> = t.iter().map(|&t| v(t)).collect();
    let along = dot(&us, &vs) / uu;
    vs.iter_mut().zip(&us).for_each(|(v, u)| *v -= along * u);
    let fs: Vec<f64> = t.iter().map(|&t| f(t)).collect();
    let second = dot(&vs, &fs) / dot(&vs, &vs);
    (dot(&us, &fs) / uu - along * second, second)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Arc diameter by a geometric circle fit (Gauss-Newton on true distances) to the exact section.
    fn exact_diameter(r: impl Fn(f64) -> f64, at: f64, phi: f64, r0: f64) -> f64 {
        let points: Vec<[f64; 2]> = (0..201)
            .map(|i| at + phi * (f64::from(i) / 100.0 - 1.0))
            .map(|t| [r(t) * (t - at).cos(), r(t) * (t - at).sin()])
            .collect();
        let (mut cx, mut cy, mut rad) = (0.0, 0.0, r0);
        for _ in 0..50 {
            let mut jtj = nalgebra::Matrix3::<f64>::zeros();
            let mut jtr = nalgebra::Vector3::<f64>::zeros();
            for p in &points {
                let (dx, dy) = (p[0] - cx, p[1] - cy);
                let d = dx.hypot(dy);
                let j = nalgebra::Vector3::new(-dx / d, -dy / d, -1.0);
                jtj += j * j.transpose();
                jtr += j * (d - rad);
            }
            let step = jtj.lu().solve(&jtr).expect("regular");
            cx -= step[0];
            cy -= step[1];
            rad -= step[2];
        }
        2.0 * rad
    }

    fn by_gains(g: &BackGains, r0: f64, coefficients: &[(usize, f64, f64)], at: f64) -> (f64, f64) {
        let (mut p, mut ex, mut ey, mut skew) = (0.0, 0.0, 0.0, 0.0);
        for &(n, a, b) in coefficients {
            let (s, c) = (n as f64 * at).sin_cos();
            let (e, o) = (a * c + b * s, b * c - a * s);
            p += g.radius[n] * e;
            ex += g.shift_out[n] * e;
            ey += g.shift_side[n] * o;
            skew += g.skew[n] * o;
        }
        p += (ex * ex * g.out_squared + ey * ey * g.side_squared) / (2.0 * r0);
        (2.0 * (r0 + p), skew)
    }

    #[test]
    fn arc_diameter_agrees_with_a_geometric_fit_of_the_exact_section() {
        let r0 = 12.7;
        let g = BackGains::new(13.5, r0, 6);
        for ovality in [0.2, 0.6, 1.0, 1.5] {
            let shape = [(2, ovality / 4.0, 0.0), (3, 0.03, -0.04), (5, 0.01, 0.0)];
            let r = |t: f64| {
                r0 + shape.iter().map(|&(n, a, b)| a * (n as f64 * t).cos() + b * (n as f64 * t).sin()).sum::<f64>()
            };
            for deg in (0..360).step_by(15) {
                let at = f64::from(deg).to_radians();
                let want = exact_diameter(r, at, g.phi, r0);
                let (got, _) = by_gains(&g, r0, &shape, at);
                assert!(
                    (got - want).abs() < if ovality > 1.0 { 0.1 } else { 0.05 },
                    "{ovality} mm at {deg}: {got} against {want}"
                );
            }
        }
    }

    #[test]
    fn a_narrow_back_sees_the_local_curvature() {
        // n-lobed departure changes the local radius of curvature by (n^2 - 1) times its height
        let g = BackGains::new(1.0, 12.7, 5);
        for n in 2..=5 {
            let want = -((n * n - 1) as f64);
            assert!((g.radius[n] - want).abs() < 0.1, "n = {n}: {}", g.radius[n]);
        }
    }

    #[test]
    fn the_skew_of_an_oval_between_its_axes_lies_between_its_slope_at_the_crown_and_its_rails() {
        // a 1 mm oval at 45 deg: curvature diameter runs from 24.1 to 26.8 over 13.5 mm (closed form of the ellipse), so
        // 2.7 at the rails; the crown's slope carried to the rails would give 4 phi (n^2 - 1) n a = 3.4
        let g = BackGains::new(13.5, 12.7, 5);
        let (_, skew) = by_gains(&g, 12.7, &[(2, 0.25, 0.0)], std::f64::consts::FRAC_PI_4);
        assert!(skew.abs() > 2.7 && skew.abs() < 3.4, "{skew}");
    }
}
