//! A section traced or scanned from an arbitrary point inside it.

use super::foot::rest;
use super::section::Section;
use crate::domain::Angle;

/// Distance of the outline in direction `angle` from the point `from` (relative to the section's own centre, mm), with
/// the gradient by the fields (added to `gradient`) and by `from` (returned).
///
/// It is where a point, a foot of no radius, comes to rest: see [`rest`].
///
/// # Degenerate cases
/// A point outside the section, or a ray along its border, gives a finite number without meaning.
pub(super) fn traced_radius(
    section: Section<'_>,
    angle: Angle,
    from: [f64; 2],
    gradient: &mut [f64],
) -> (f64, [f64; 2]) {
    let (distance, by) = rest(section, angle, from.map(|v| -v), 0.0, gradient);
    (distance, by.map(|v| -v))
}

#[cfg(test)]
mod tests {
    use super::super::fields::Fields;
    use super::*;

    #[test]
    fn a_circle_seen_from_off_its_centre_has_the_known_distance_and_gradient() {
        let fields = Fields { top: 2, wall: false, twist: false };
        let row = [12.7, 0.0, 0.0, 0.4, -0.3];
        let q = [3.0, -2.0];
        for deg in [0.0, 70.0, 190.0, 301.0] {
            let a = Angle::from_degrees(deg);
            let (s, c) = a.sin_cos();
            let along = q[0] * c + q[1] * s;
            let want = -along + (along * along + 12.7 * 12.7 - 13.0_f64).sqrt();
            let (got, by_point) = traced_radius(Section::new(fields, &row), a, q, &mut [0.0; 5]);
            assert!((got - want).abs() < 1e-12, "{deg}: {got} {want}");
            for (part, analytic) in by_point.iter().enumerate() {
                let moved = |h: f64| {
                    let mut p = q;
                    p[part] += h;
                    traced_radius(Section::new(fields, &row), a, p, &mut [0.0; 5]).0
                };
                let numeric = (moved(1e-5) - moved(-1e-5)) / 2e-5;
                assert!((numeric - analytic).abs() < 1e-8, "{deg}, {part}: {numeric} {analytic}");
            }
        }
    }

    #[test]
    fn the_gradient_by_the_shape_agrees_with_numeric_differentiation() {
        let fields = Fields { top: 4, wall: false, twist: false };
        let row = vec![12.7, 0.2, -0.1, 0.04, 0.05, 0.01, -0.02, 0.0, 0.0];
        let (a, q) = (Angle::from_degrees(77.0), [4.0, 1.5]);
        let mut g = vec![0.0; fields.count()];
        traced_radius(Section::new(fields, &row), a, q, &mut g);
        for f in 0..fields.count() {
            let moved = |h: f64| {
                let mut r = row.clone();
                r[f] += h;
                traced_radius(Section::new(fields, &r), a, q, &mut vec![0.0; fields.count()]).0
            };
            let numeric = (moved(1e-5) - moved(-1e-5)) / 2e-5;
            assert!((numeric - g[f]).abs() < 1e-8, "field {f}: {numeric} {}", g[f]);
        }
    }
}
