//! The circle.

use crate::geometry::error::{FitError, check_points};
use std::f64::consts::{PI, TAU};

/// A circle in the plane, lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre (x, y), mm.
    pub centre: [f64; 2],
    /// Radius, mm, not negative.
    pub radius: f64,
}

impl Circle {
    /// Signed distance of a point from the circle, mm: positive outside, negative inside.
    ///
    /// # Example
    /// ```
    /// use quarterlight::geometry::Circle;
    /// let c = Circle { centre: [1.0, 0.0], radius: 5.0 };
    /// assert!((c.distance([4.0, 4.0]) - 0.0).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn distance(&self, point: [f64; 2]) -> f64 {
        (point[0] - self.centre[0]).hypot(point[1] - self.centre[1]) - self.radius
    }

    /// Diameter, mm.
    #[must_use]
    pub fn diameter(&self) -> f64 {
        2.0 * self.radius
    }

    /// Girth, mm.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        TAU * self.radius
    }

    /// Area, mm^2.
    #[must_use]
    pub fn area(&self) -> f64 {
        PI * self.radius * self.radius
    }

    /// The circle through three points.
    ///
    /// # Errors
    /// [`FitError::Coincident`] or [`FitError::Collinear`] when the three do not span a triangle,
    /// [`FitError::NotFinite`] for a NaN or an infinity.
    ///
    /// # Accuracy
    /// Coordinates are taken relative to the first point; relative error about `1e-16` times the longest side over
    /// the triangle's height.
    pub fn through(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> Result<Circle, FitError> {
        check_points(&[a, b, c], 3)?;
        let (u, v) = (minus(b, a), minus(c, a));
        let (uu, vv) = (dot(u, u), dot(v, v));
        let longest = uu.max(vv).max(dot(minus(v, u), minus(v, u)));
        if longest <= 0.0 {
            return Err(FitError::Coincident);
        }
        let cross = u[0] * v[1] - u[1] * v[0];
        if cross.abs() <= 4.0 * f64::EPSILON * longest {
            return Err(FitError::Collinear);
        }
        let x = (v[1] * uu - u[1] * vv) / (2.0 * cross);
        let y = (u[0] * vv - v[0] * uu) / (2.0 * cross);
        Ok(Circle { centre: [a[0] + x, a[1] + y], radius: x.hypot(y) })
    }
}

/// `a - b`.
pub(crate) fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

/// Scalar product.
pub(crate) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_corners_of_a_right_triangle_share_the_hypotenuse_as_diameter() {
        let c = Circle::through([10.0, 20.0], [14.0, 20.0], [10.0, 23.0]).expect("a triangle");
        assert!(
            minus(c.centre, [12.0, 21.5]).iter().fold(0.0, |m: f64, v| m.max(v.abs())) < 1e-14
                && (c.diameter() - 5.0).abs() < 1e-14,
            "{c:?}"
        );
        assert!((c.perimeter() / PI - 5.0).abs() < 1e-14 && (c.area() - 6.25 * PI).abs() < 1e-13, "{c:?}");
    }

    #[test]
    fn three_points_in_line_or_in_one_place_have_no_circle() {
        let line = Circle::through([0.1, 0.1], [0.2, 0.2], [0.3, 0.3]);
        assert_eq!(line, Err(FitError::Collinear));
        assert_eq!(Circle::through([3.0, 4.0], [3.0, 4.0], [3.0, 4.0]), Err(FitError::Coincident));
        assert_eq!(Circle::through([0.0, 0.0], [f64::NAN, 0.0], [1.0, 1.0]), Err(FitError::NotFinite { index: 1 }));
    }
}
