//! A section traced or scanned from an arbitrary point inside it.

use super::section::Section;
use crate::domain::Angle;

/// Newton steps for the place where a ray leaves the section; six reach rounding for a point half the radius off centre.
const STEPS: usize = 20;

/// Distance of the outline in direction `angle` from the point `from` (relative to the section's own centre, mm), with
/// the gradient by the fields (added to `gradient`) and by `from` (returned).
///
/// # Derivation
/// The ray leaves the section at `P(b) = R(b) (cos b, sin b)` with `P(b) - from` along `u = (cos a, sin a)`; Newton on the
/// cross product finds `b`. With the outward normal `m` at `P(b)`, a change of the shape by `dR` moves the border by
/// `(e_b . m) dR` along `m`, so the distance by `(e_b . m) / (u . m) dR`; moving the point by `dq` takes
/// `(m . dq) / (u . m)` away.
///
/// # Degenerate cases
/// A point outside the section, or a ray along its border, gives a finite number without meaning.
pub(super) fn traced_radius(
    section: Section<'_>,
    angle: Angle,
    from: [f64; 2],
    gradient: &mut [f64],
) -> (f64, [f64; 2]) {
    let (us, uc) = angle.sin_cos();
    let mut b = angle.radians();
    for _ in 0..STEPS {
        let [r, r1, _] = section.radius_and_slopes(b);
        let (s, c) = b.sin_cos();
        let cross = uc * (r * s - from[1]) - us * (r * c - from[0]);
        let slope = uc * (r1 * s + r * c) - us * (r1 * c - r * s);
        if slope.abs() < 1e-9 {
            break;
        }
        let step = (-cross / slope).clamp(-0.5, 0.5);
        b += step;
        if step.abs() < 1e-14 {
            break;
        }
    }
    let [r, r1, _] = section.radius_and_slopes(b);
    let (s, c) = b.sin_cos();
    let distance = (r * c - from[0]) * uc + (r * s - from[1]) * us;
    // the outward normal is square to the tangent (r1 c - r s, r1 s + r c); its length cancels
    let normal = [r1 * s + r * c, r * s - r1 * c];
    let along = uc * normal[0] + us * normal[1];
    let along = if along.abs() < 1e-9 { 1e-9 } else { along };
    section.fields().add_radius(b, (c * normal[0] + s * normal[1]) / along, gradient);
    (distance, [-normal[0] / along, -normal[1] / along])
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
