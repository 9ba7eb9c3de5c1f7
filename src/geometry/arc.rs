//! Circular arcs: radius, angle, chord, sagitta and arc length, each from two others.
//!
//! For whoever turns what a rule, a gauge or a tape gives into a curve or back: the radius of a bow from its sagitta, the
//! angle that a back of a given width takes up, the width from tape laid round the back. [`sagitta`] and [`radius`] do
//! without an [`Arc`] where one number is wanted.
//!
//! ```text
//!        ___----___         sagitta: from the chord's middle to the arc
//!     .-'    |     '-.      chord: straight line between the ends
//!    /-------+--------\
//!     \      |       /
//!      \  angle     /       angle: at the centre, 0 to a full turn
//!       \    |    /  radius
//!         \  |  /
//!           \|/
//! ```
//!
//! Every formula is written so that a shallow arc (a bow of 0.1 mm over 300 mm) loses no digits: half and quarter
//! angles instead of `1 - cos`.

use crate::geometry::error::FitError;
use std::f64::consts::TAU;

/// A circular arc of positive radius and an angle in (0, 360] degrees.
///
/// # Accuracy
/// Chord, sagitta and length to 1e-15 relative (the chord near a full turn excepted, where it passes through 0
/// and is good to 1e-15 of the radius).
///
/// # Example
/// ```
/// use quarterlight::geometry::arc::Arc;
/// // a bow of 0.5 mm over 200 mm
/// let bow = Arc::from_chord_sagitta(200.0, 0.5).unwrap();
/// assert!((bow.radius() - 10_000.25).abs() < 1e-9);
/// assert!(Arc::from_radius_chord(10.0, 21.0).is_err()); // no such chord
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    radius: f64,
    angle: f64,
}

/// `x` if it is a finite number in `(0, most]`.
fn within(what: &'static str, x: f64, most: f64) -> Result<f64, FitError> {
    if x.is_finite() && x > 0.0 && x <= most { Ok(x) } else { Err(FitError::Impossible { what, value: x }) }
}

impl Arc {
    /// From the radius (mm, > 0) and the angle at the centre in radians, in (0, 2 pi].
    ///
    /// # Errors
    /// [`FitError::Impossible`] for anything outside.
    pub fn from_radius_angle(radius: f64, angle: f64) -> Result<Self, FitError> {
        Ok(Arc { radius: within("radius", radius, f64::MAX)?, angle: within("angle", angle, TAU)? })
    }

    /// From the radius and the chord (at most the diameter); the smaller of the two arcs.
    ///
    /// # Errors
    /// [`FitError::Impossible`] for a chord longer than the diameter or anything not positive.
    pub fn from_radius_chord(radius: f64, chord: f64) -> Result<Self, FitError> {
        let radius = within("radius", radius, f64::MAX)?;
        let half = within("chord", chord, 2.0 * radius)? / 2.0;
        Ok(Arc { radius, angle: 2.0 * (half / radius).min(1.0).asin() })
    }

    /// From the radius and the sagitta (at most the diameter).
    ///
    /// # Errors
    /// [`FitError::Impossible`] for a sagitta above the diameter or anything not positive.
    pub fn from_radius_sagitta(radius: f64, sagitta: f64) -> Result<Self, FitError> {
        let radius = within("radius", radius, f64::MAX)?;
        let s = within("sagitta", sagitta, 2.0 * radius)?;
        Ok(Arc { radius, angle: 4.0 * (s / (2.0 * radius)).min(1.0).sqrt().asin() })
    }

    /// From the radius and the length along the arc (at most the girth).
    ///
    /// # Errors
    /// [`FitError::Impossible`] for a length above the girth or anything not positive.
    pub fn from_radius_length(radius: f64, length: f64) -> Result<Self, FitError> {
        let radius = within("radius", radius, f64::MAX)?;
        Self::from_radius_angle(radius, within("arc length", length, f64::MAX)? / radius)
    }

    /// From the chord and the sagitta: how a bow is measured.
    ///
    /// # Errors
    /// [`FitError::Impossible`] for anything not positive.
    pub fn from_chord_sagitta(chord: f64, sagitta: f64) -> Result<Self, FitError> {
        let half = within("chord", chord, f64::MAX)? / 2.0;
        let s = within("sagitta", sagitta, f64::MAX)?;
        let radius = within("radius", half * (half / (2.0 * s)) + s / 2.0, f64::MAX)?;
        Ok(Arc { radius, angle: 4.0 * s.atan2(half) })
    }

    /// Radius, mm.
    #[must_use]
    pub fn radius(&self) -> f64 {
        self.radius
    }

    /// Angle at the centre, radians, in (0, 2 pi].
    #[must_use]
    pub fn angle(&self) -> f64 {
        self.angle
    }

    /// Chord, mm: `2 r sin(a/2)`.
    #[must_use]
    pub fn chord(&self) -> f64 {
        2.0 * self.radius * (self.angle / 2.0).sin()
    }

    /// Sagitta, mm: `2 r sin^2(a/4)`, which does not cancel like `r (1 - cos(a/2))`.
    #[must_use]
    pub fn sagitta(&self) -> f64 {
        let s = (self.angle / 4.0).sin();
        2.0 * self.radius * s * s
    }

    /// Length along the arc, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.radius * self.angle
    }
}

/// Sagitta of a chord on a circle, mm: `c^2 / (r + sqrt((r - c)(r + c)))` with `c` the half chord. For use where no
/// [`Arc`] is wanted; NaN when the chord is longer than the diameter.
#[must_use]
pub fn sagitta(radius: f64, chord: f64) -> f64 {
    let half = chord / 2.0;
    half * (half / (radius + ((radius - half) * (radius + half)).sqrt()))
}

/// Radius of the circle with this chord and sagitta, mm: `c^2 / (2 s) + s / 2` with `c` the half chord; infinite for a
/// sagitta of 0.
#[must_use]
pub fn radius(chord: f64, sagitta: f64) -> f64 {
    let half = chord / 2.0;
    half * (half / (2.0 * sagitta)) + sagitta / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, relative: f64) {
        assert!((got - want).abs() <= relative * want.abs(), "got {got}, want {want}");
    }

    #[test]
    fn every_pair_gives_the_same_arc_back() {
        for degrees in [1e-4_f64, 0.3, 5.0, 30.0, 57.3, 58.0, 90.0, 179.0, 200.0, 300.0, 359.0] {
            let a = Arc::from_radius_angle(12.7, degrees.to_radians()).expect("an arc");
            // near a full turn the sagitta is flat, so the angle is known less well
            let flat = (1.0 / (a.angle() / 2.0).sin()).clamp(1.0, 1e3);
            near(Arc::from_radius_sagitta(12.7, a.sagitta()).expect("an arc").angle(), a.angle(), 1e-15 * flat);
            near(Arc::from_radius_length(12.7, a.length()).expect("an arc").angle(), a.angle(), 1e-15);
            let b = Arc::from_chord_sagitta(a.chord(), a.sagitta()).expect("an arc");
            near(b.angle(), a.angle(), 1e-13);
            near(b.radius(), 12.7, 1e-13);
            if degrees < 179.5 {
                near(Arc::from_radius_chord(12.7, a.chord()).expect("an arc").angle(), a.angle(), 1e-13);
                near(sagitta(12.7, a.chord()), a.sagitta(), 1e-13);
                near(radius(a.chord(), a.sagitta()), 12.7, 1e-13);
            }
        }
    }

    #[test]
    fn a_full_turn_is_a_circle() {
        near(Arc::from_radius_sagitta(2.0, 4.0).expect("a circle").angle(), TAU, 1e-15);
    }

    #[test]
    fn what_cannot_be_is_an_error() {
        for bad in [
            Arc::from_radius_angle(-1.0, 1.0),
            Arc::from_radius_angle(1.0, 7.0),
            Arc::from_radius_chord(1.0, 2.1),
            Arc::from_radius_sagitta(1.0, f64::NAN),
            Arc::from_radius_length(1.0, 6.3),
            Arc::from_chord_sagitta(0.0, 1.0),
        ] {
            assert!(matches!(bad, Err(FitError::Impossible { .. })), "{bad:?}");
        }
    }
}
