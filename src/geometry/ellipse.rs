//! The ellipse: foot of the normal, caliper width, girth.

use crate::domain::Angle;
use crate::geometry::error::FitError;
use std::f64::consts::PI;

/// An ellipse in the plane, lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    centre: [f64; 2],
    semi_major: f64,
    semi_minor: f64,
    tilt: Angle,
}

impl Ellipse {
    /// From the centre, two semi-axes in mm (either order, both positive) and the direction of the first.
    ///
    /// # Errors
    /// [`FitError::Impossible`] for an axis that is not a positive number, [`FitError::NotFinite`] otherwise.
    pub fn new(centre: [f64; 2], first: f64, second: f64, direction: Angle) -> Result<Self, FitError> {
        for value in [first, second] {
            if !(value.is_finite() && value > 0.0) {
                return Err(FitError::Impossible { what: "semi-axis", value });
            }
        }
        if !(centre[0].is_finite() && centre[1].is_finite() && direction.is_finite()) {
            return Err(FitError::NotFinite { index: 0 });
        }
        let turn = if first >= second { direction } else { direction + Angle::from_radians(PI / 2.0) };
        Ok(Ellipse { centre, semi_major: first.max(second), semi_minor: first.min(second), tilt: turn.wrapped_to(PI) })
    }

    /// Centre (x, y), mm.
    #[must_use]
    pub fn centre(&self) -> [f64; 2] {
        self.centre
    }

    /// Half the largest diameter, mm.
    #[must_use]
    pub fn semi_major(&self) -> f64 {
        self.semi_major
    }

    /// Half the smallest diameter, mm.
    #[must_use]
    pub fn semi_minor(&self) -> f64 {
        self.semi_minor
    }

    /// Direction of the largest diameter, in [0, 180) degrees. Without meaning when the axes are equal.
    #[must_use]
    pub fn tilt(&self) -> Angle {
        self.tilt
    }

    /// What a caliper reads when its beam lies along `angle`, mm: `2 sqrt(a^2 cos^2 t + b^2 sin^2 t)` with `t` from the
    /// major axis. Not the diameter through the centre, except on the axes.
    #[must_use]
    pub fn width(&self, angle: Angle) -> f64 {
        let (s, c) = (angle - self.tilt).sin_cos();
        2.0 * (self.semi_major * c).hypot(self.semi_minor * s)
    }

    /// Length of the straight line through the centre at `angle`, mm: `2 a b / sqrt(b^2 cos^2 t + a^2 sin^2 t)`.
    #[must_use]
    pub fn diameter_through_centre(&self, angle: Angle) -> f64 {
        let (s, c) = (angle - self.tilt).sin_cos();
        2.0 * self.semi_minor / (self.semi_minor / self.semi_major * c).hypot(s)
    }

    /// Girth, mm, by the arithmetic-geometric mean, to rounding.
    ///
    /// # Source
    /// Abramowitz and Stegun (1964), 17.6: `E = K (1 - sum 2^(n-1) c_n^2)`.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        let (mut a, mut g) = (self.semi_major, self.semi_minor);
        // a^2 - c_0^2/2 with c_0^2 = a^2 - b^2, then less 2^(n-1) c_n^2, c_n = (a - g)/2 of the step before
        let mut sum = 0.5 * (a * a + g * g);
        let mut weight = 1.0;
        // the mean converges quadratically; 40 steps also cover a ratio of 1e-300
        for _ in 0..40 {
            let c = 0.5 * (a - g);
            sum -= weight * c * c;
            if c <= f64::EPSILON * a {
                break;
            }
            (a, g) = (0.5 * (a + g), (a * g).sqrt());
            weight *= 2.0;
        }
        2.0 * PI * sum / a
    }

    /// Mean caliper width over all directions, mm: perimeter / pi, what a girth tape divided by pi reads (Cauchy 1832).
    #[must_use]
    pub fn mean_width(&self) -> f64 {
        self.perimeter() / PI
    }

    /// Diameter of the circle of equal area, mm.
    #[must_use]
    pub fn area_diameter(&self) -> f64 {
        2.0 * (self.semi_major * self.semi_minor).sqrt()
    }

    /// Nearest point of the ellipse to `point`, and the signed distance in mm, positive outside.
    ///
    /// # Accuracy
    /// A few units in the last place of the largest coordinate.
    ///
    /// # Degenerate cases
    /// From a point with two nearest points (on the major axis near the centre) the one on the positive side of the
    /// axis is returned. A NaN gives a NaN.
    #[must_use]
    pub fn foot(&self, point: [f64; 2]) -> ([f64; 2], f64) {
        let (s, c) = self.tilt.sin_cos();
        let (dx, dy) = (point[0] - self.centre[0], point[1] - self.centre[1]);
        let local = [c * dx + s * dy, c * dy - s * dx];
        let quadrant = foot_in_quadrant(self.semi_major, self.semi_minor, local.map(f64::abs));
        let (fx, fy) = (quadrant[0].copysign(local[0]), quadrant[1].copysign(local[1]));
        let distance = (local[0] - fx).hypot(local[1] - fy);
        let inside = (local[0] / self.semi_major).hypot(local[1] / self.semi_minor) < 1.0;
        let foot = [self.centre[0] + c * fx - s * fy, self.centre[1] + s * fx + c * fy];
        (foot, if inside { -distance } else { distance })
    }
}

/// Foot of the normal for an ellipse on the axes, `a >= b > 0`, and a point with both coordinates >= 0.
///
/// The foot is `(a^2 x / (s + k), b^2 y / s)` with `k = a^2 - b^2` and `s` the largest root of
/// `(a x / (s + k))^2 + (b y / s)^2 = 1`. The left side falls and is convex for s > 0, so Newton's method from a
/// value where it is at least 1 climbs to the root without overshooting.
///
/// # Source
/// D. Eberly, Distance from a point to an ellipse (2013), with `s = t + b^2` to avoid cancellation.
pub(crate) fn foot_in_quadrant(a: f64, b: f64, [x, y]: [f64; 2]) -> [f64; 2] {
    /// Newton doubles the digits each step; the worst start needs about ten halvings first.
    const STEPS: usize = 80;
    let k = (a - b) * (a + b);
    if y == 0.0 && a * x < k {
        let u = a * x / k;
        return [a * u, b * ((1.0 - u) * (1.0 + u)).sqrt()];
    }
    let mut s = (b * y).max(a * x - k);
    if s <= 0.0 {
        // the very centre of a circle: every point is nearest
        return [0.0, b];
    }
    for _ in 0..STEPS {
        let (p, q) = (a * x / (s + k), b * y / s);
        let value = p * p + q * q - 1.0;
        let slope = -2.0 * (p * p / (s + k) + q * q / s);
        let next = s - value / slope;
        // to the right of the root only by rounding
        if next.is_nan() || next <= s {
            break;
        }
        s = next;
    }
    let (p, q) = (a * x / (s + k), b * y / s);
    // the point (p, q) lies on the unit circle up to the error of s; putting it there exactly halves that error
    let unit = p.hypot(q);
    [a * p / unit, b * q / unit]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_come_sorted_and_directions_wrapped() {
        let e = Ellipse::new([0.0, 0.0], 12.0, 13.0, Angle::from_degrees(100.0)).expect("an ellipse");
        assert!((e.semi_major() - 13.0).abs() < 1e-15 && (e.tilt().degrees() - 10.0).abs() < 1e-12, "{e:?}");
        assert!(Ellipse::new([0.0, 0.0], 0.0, 1.0, Angle::ZERO).is_err());
        assert!(Ellipse::new([f64::NAN, 0.0], 1.0, 1.0, Angle::ZERO).is_err());
    }

    #[test]
    fn feet_lie_on_the_ellipse_and_their_normals_meet_the_point() {
        let (a, b) = (3.0, 2.0);
        let e = Ellipse::new([0.0, 0.0], a, b, Angle::ZERO).expect("an ellipse");
        let places = [0.0, 1e-12, 0.3, 1.0, 1.666, 1.7, 2.999_999, 3.0, 40.0];
        for x in places {
            for y in places {
                let ([fx, fy], d) = e.foot([x, y]);
                assert!(((fx / a).hypot(fy / b) - 1.0).abs() < 1e-15, "({x}, {y}): foot ({fx}, {fy})");
                let cross = (x - fx) * (fy / (b * b)) - (y - fy) * (fx / (a * a));
                assert!(
                    cross.abs() < 1e-14 * (1.0 + x + y),
                    "({x}, {y}): foot ({fx}, {fy}) off the normal by {cross:e}"
                );
                let scan = (0..=2000).map(|i| (f64::from(i) * PI / 4000.0).sin_cos());
                let nearest = scan.map(|(s, c)| (a * c - x).hypot(b * s - y)).fold(f64::INFINITY, f64::min);
                assert!(d.abs() <= nearest + 1e-15 * (x + y), "({x}, {y}): {d} against {nearest}");
            }
        }
    }

    #[test]
    fn a_circle_is_an_ellipse_too() {
        let e = Ellipse::new([1.0, 2.0], 5.0, 5.0, Angle::from_degrees(33.0)).expect("a circle");
        let (foot, d) = e.foot([4.0, 6.0]);
        assert!(d.abs() < 1e-15 && (foot[0] - 4.0).abs() < 1e-15, "{foot:?} {d}");
        assert!((e.foot([1.0, 2.0]).1 + 5.0).abs() < 1e-15, "the centre is 5 inside");
        assert!((e.perimeter() - 10.0 * PI).abs() < 1e-14 && (e.mean_width() - 10.0).abs() < 1e-15);
    }

    #[test]
    fn the_mean_of_all_caliper_readings_is_girth_over_pi() {
        let e = Ellipse::new([0.0, 0.0], 13.0, 12.0, Angle::from_degrees(20.0)).expect("an ellipse");
        let n = 64;
        let mean =
            (0..n).map(|i| e.width(Angle::from_radians(PI * f64::from(i) / f64::from(n)))).sum::<f64>() / f64::from(n);
        assert!((mean - e.mean_width()).abs() < 1e-13, "{mean} {}", e.mean_width());
    }
}
