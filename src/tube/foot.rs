//! What the foot of a dial reads: not the bark line at its angle, but where a flat, a ball or a point comes to rest on a
//! section that does not lie on the turning axis.
//!
//! With the centre at `c` from the axis, the bark at `c + R(b) e(b)` and its outward normal `n`, a foot of radius `p` rests
//! where the centre of its ball, `c + R e + p n`, lies on the line of the spindle along `u`; the dial shows
//! `u.(c + R e + p n) - p`. A flat is the limit of a large ball (`n = u`, the support function), a point is `p = 0`. When
//! the bark moves by `d` along its normal there, the foot moves by `d / (n.u)` along its spindle: that is the whole
//! gradient, since sliding along the bark is of second order. On a circle of radius R whose centre lies `s` to the side this
//! is `sqrt((R + p)^2 - s^2) - p`: a point reads `s^2 / 2R` low, a flat reads true.

use super::section::Section;
use crate::domain::Angle;

/// Largest step round the section in one go, radians.
const LARGEST_STEP: f64 = 0.5;
/// Newton steps for the place it rests on; six reach rounding for a point half the radius off centre.
const STEPS: usize = 20;

/// What a dial with a foot of radius `foot` mm reads along `angle` on a section whose axis of turning stands `axis` off the
/// tube's frame (added to its centre), and the gradient by the two components of `axis`. The gradient by the fields is
/// added to `gradient`.
///
/// A ball that bridges a hollow narrower than itself rests on one side of it only.
pub(super) fn under_foot(
    section: Section<'_>,
    angle: Angle,
    axis: [f64; 2],
    foot: f64,
    gradient: &mut [f64],
) -> (f64, [f64; 2]) {
    let (us, uc) = angle.sin_cos();
    let [x, y] = section.centre_mm();
    let c = [x + axis[0], y + axis[1]];
    let (value, by) = if foot.is_infinite() {
        (c[0] * uc + c[1] * us + section.support(angle.radians(), 1.0, gradient), [uc, us])
    } else {
        rest(section, angle, c, foot, gradient)
    };
    let at = section.fields().centre();
    gradient[at] += by[0];
    gradient[at + 1] += by[1];
    (value, by)
}

/// How far along `angle` from a point a ball of radius `foot` rests on a section whose own centre lies `centre` from that
/// point (its far side; 0: where the ray meets the bark), and the gradient by `centre`. That by the lobes is added to
/// `gradient`, nothing by the fields of the centre.
pub(super) fn rest(
    section: Section<'_>,
    angle: Angle,
    centre: [f64; 2],
    foot: f64,
    gradient: &mut [f64],
) -> (f64, [f64; 2]) {
    let (a, (us, uc)) = (angle.radians(), angle.sin_cos());
    let (along, aside) = (centre[0] * uc + centre[1] * us, centre[1] * uc - centre[0] * us);
    let mut d = 0.0_f64;
    for _ in 0..STEPS {
        let at = Contact::at(section, a, d);
        let side = aside + at.side + foot * at.normal[1];
        let slope = at.rise * (1.0 + foot * at.bend).max(0.2);
        if slope.abs() < 1e-9 {
            break;
        }
        let step = (-side / slope).clamp(-LARGEST_STEP, LARGEST_STEP);
        d += step;
        if step.abs() < 1e-14 {
            break;
        }
    }
    let at = Contact::at(section, a, d);
    let value = along + at.up + foot * at.normal[0] - foot;
    // the foot climbs by the way along the normal over this
    let climb = if at.normal[0].abs() < 1e-9 { 1e-9 } else { at.normal[0] };
    section.fields().add_radius(a + d, at.outward / climb, gradient);
    let n = [at.normal[0] * uc - at.normal[1] * us, at.normal[0] * us + at.normal[1] * uc];
    (value, n.map(|v| v / climb))
}

/// The bark `d` radians on from the spindle, seen along it (up, side).
struct Contact {
    up: f64,
    side: f64,
    normal: [f64; 2],
    /// how fast the bark goes aside with the angle
    rise: f64,
    /// curvature, 1/mm
    bend: f64,
    /// part of a change of the radius that goes along the normal
    outward: f64,
}

impl Contact {
    fn at(section: Section<'_>, a: f64, d: f64) -> Contact {
        let [r, r1, r2] = section.radius_and_slopes(a + d);
        let (s, c) = d.sin_cos();
        let q = r.hypot(r1);
        Contact {
            up: r * c,
            side: r * s,
            normal: [(r * c + r1 * s) / q, (r * s - r1 * c) / q],
            rise: r1 * s + r * c,
            bend: (r * r + 2.0 * r1 * r1 - r * r2) / (q * q * q),
            outward: r / q,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::fields::Fields;
    use super::*;

    #[test]
    fn on_a_circle_it_is_the_closed_form() {
        let fields = Fields { top: 3, wall: false, twist: false };
        // 1.5 mm to the side of a spindle at angle 0
        let row = [12.7, 0.0, 0.0, 0.0, 0.0, 0.4, 1.5];
        let section = Section::new(fields, &row);
        let read = |foot: f64| under_foot(section, Angle::ZERO, [0.0; 2], foot, &mut [0.0; 7]).0;
        // sqrt(12.7^2 - 1.5^2) = 12.61110 by hand; with a ball of 3 mm sqrt(15.7^2 - 1.5^2) - 3 = 12.62818
        assert!((read(0.0) - (0.4 + 12.611_106)).abs() < 1e-5, "{}", read(0.0));
        assert!((read(3.0) - (0.4 + 12.628_18)).abs() < 1e-5, "{}", read(3.0));
        assert!((read(f64::INFINITY) - 13.1).abs() < 1e-12);
        assert!((read(1e7) - 13.1).abs() < 1e-6, "a large ball is a flat");
        // low by s^2 / 2R = 0.0886 mm
        assert!((13.1 - read(0.0) - 0.0886).abs() < 0.001);
    }

    #[test]
    fn the_gradient_agrees_with_differences() {
        let fields = Fields { top: 4, wall: false, twist: false };
        let row = [12.7, 0.2, -0.1, 0.03, 0.05, 0.01, -0.02, 0.4, 0.9];
        for foot in [0.0, 1.5, 20.0, f64::INFINITY] {
            let a = Angle::from_degrees(133.0);
            let value = |row: &[f64], axis: [f64; 2]| {
                under_foot(Section::new(fields, row), a, axis, foot, &mut vec![0.0; row.len()]).0
            };
            let mut g = vec![0.0; row.len()];
            let (_, by) = under_foot(Section::new(fields, &row), a, [0.3, -0.2], foot, &mut g);
            for i in 0..row.len() {
                let at = |h: f64| {
                    let mut moved = row;
                    moved[i] += h;
                    value(&moved, [0.3, -0.2])
                };
                let slope = (at(1e-5) - at(-1e-5)) / 2e-5;
                assert!((slope - g[i]).abs() < 1e-6, "{foot} field {i}: {slope} {}", g[i]);
            }
            let slope = (value(&row, [0.3 + 1e-5, -0.2]) - value(&row, [0.3 - 1e-5, -0.2])) / 2e-5;
            assert!((slope - by[0]).abs() < 1e-6, "{foot} axis: {slope} {}", by[0]);
        }
    }
}
