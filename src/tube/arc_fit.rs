//! The circle that fits the back of a section over a stated width: what a radius gauge reads.

use super::fields::Fields;
use super::section::Section;
use crate::domain::Angle;
use crate::numeric::summary::count;
use nalgebra::{Matrix3, Vector2, Vector3};

/// Places across the back at which the circle is matched; the answer changes by less than 0.01 mm from 31 to 301 for 1 mm
/// of ovality (see tests), far below what a gauge shows.
const ACROSS: usize = 31;
/// Gauss-Newton steps; the start is within a millimetre and every step gains three digits.
const STEPS: usize = 30;

/// Diameter of the least-squares circle (true distances) through the section's border within `width` about `angle`, and
/// its exact gradient by the fields (added to `gradient`).
///
/// The places are spread evenly over the directions `angle +- asin(width / 2 R0)`. The gradient is that of the solved
/// normal equations (implicit function theorem), curvature of the residuals included.
///
/// # Degenerate cases
/// A width of the diameter or more is taken as half the section.
pub(super) fn arc_diameter(section: Section<'_>, angle: Angle, width: f64, gradient: &mut [f64]) -> f64 {
    let (a, mean) = (angle.radians(), section.mean_radius_mm());
    let share = (width / (2.0 * mean.max(0.1))).clamp(0.01, 1.0);
    let phi = share.asin();
    let places: Vec<(f64, f64)> =
        (0..ACROSS).map(|i| 2.0 * count(i) / count(ACROSS - 1) - 1.0).map(|t| (a + phi * t, t)).collect();
    let points: Vec<Vector2<f64>> = places
        .iter()
        .map(|&(b, _)| {
            let (s, c) = b.sin_cos();
            section.radius_and_slopes(b)[0] * Vector2::new(c, s)
        })
        .collect();
    let mut p = Vector3::new(0.0, 0.0, mean);
    for _ in 0..STEPS {
        let (mut jtj, mut jtr) = (Matrix3::zeros(), Vector3::zeros());
        for q in &points {
            let (n, d) = toward(q, &p);
            let j = Vector3::new(-n[0], -n[1], -1.0);
            jtj += j * j.transpose();
            jtr += j * (d - p[2]);
        }
        let Some(step) = jtj.cholesky().map(|c| c.solve(&jtr)) else { break };
        p -= step;
        if step.norm() < 1e-13 * p[2].abs() {
            break;
        }
    }
    // second derivative of half the sum of squares at the answer
    let mut hessian = Matrix3::zeros();
    for q in &points {
        let (n, d) = toward(q, &p);
        let j = Vector3::new(-n[0], -n[1], -1.0);
        hessian += j * j.transpose();
        let rho = (d - p[2]) / d;
        for u in 0..2 {
            for v in 0..2 {
                hessian[(u, v)] += rho * (f64::from(u8::from(u == v)) - n[u] * n[v]);
            }
        }
    }
    // row of the inverse that belongs to the radius
    let Some(pick) = hessian.lu().solve(&Vector3::new(0.0, 0.0, 1.0)) else { return 2.0 * p[2] };
    // how the half-angle follows the radius, where it is not held at half the section
    let by_r0 = if share < 1.0 && share > 0.01 { -share / mean / (1.0 - share * share).sqrt() } else { 0.0 };
    let mut extra = 0.0;
    for (q, &(b, t)) in points.iter().zip(&places) {
        let (n, d) = toward(q, &p);
        // change of the normal equations by a shift v of this point, as a linear form of v
        let rho = (d - p[2]) / d;
        let force = |v: Vector2<f64>| {
            let out = n.dot(&v);
            let turn = (v - n * out) * rho;
            let g = Vector3::new(-n[0] * out - turn[0], -n[1] * out - turn[1], -out);
            -2.0 * pick.dot(&g)
        };
        let (s, c) = b.sin_cos();
        section.fields().add_radius(b, force(Vector2::new(c, s)), gradient);
        let [r, r1, _] = section.radius_and_slopes(b);
        extra += force(Vector2::new(r1 * c - r * s, r1 * s + r * c)) * t * by_r0;
    }
    gradient[Fields::R0] += extra;
    2.0 * p[2]
}

/// Direction from the circle's centre to a point, and the distance.
fn toward(q: &Vector2<f64>, p: &Vector3<f64>) -> (Vector2<f64>, f64) {
    let off = Vector2::new(q[0] - p[0], q[1] - p[1]);
    let d = off.norm().max(1e-9);
    (off / d, d)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn diameter(row: &[f64], deg: f64, width: f64) -> f64 {
        let fields = Fields { top: 2, wall: false, twist: false };
        arc_diameter(Section::new(fields, row), Angle::from_degrees(deg), width, &mut vec![0.0; fields.count()])
    }

    #[test]
    fn a_round_section_has_its_own_diameter_wherever_its_centre_lies() {
        assert!((diameter(&[12.7, 0.0, 0.0, 0.8, -0.5], 33.0, 13.5) - 25.4).abs() < 1e-11);
    }

    #[test]
    fn the_back_of_an_oval_is_small_at_its_long_axis_and_large_at_its_short_one() {
        // 1 mm of ovality: curvature diameters of the ellipse 26 x 25: b^2/a and a^2/b doubled, 24.04 and 27.04 at the
        // crown; over 13.5 mm the fitted circle lies between those and the mean
        let row = [12.75, 0.25, 0.0, 0.0, 0.0];
        let (long, short) = (diameter(&row, 0.0, 13.5), diameter(&row, 90.0, 13.5));
        assert!(long > 24.04 && long < 24.6, "{long}");
        assert!(short < 27.04 && short > 26.4, "{short}");
        let narrow = diameter(&row, 0.0, 1.0);
        // R0 + a against ellipse: curvature radius (R^2 + 2 R'^2 - R R'') of the harmonic itself is 13^2 / (13 + 1)
        assert!((narrow - 2.0 * 13.0 * 13.0 / 14.0).abs() < 0.01, "{narrow}");
    }
}
