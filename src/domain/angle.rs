//! Directions round the tube.

use std::f64::consts::{PI, TAU};
use std::ops::{Add, Neg, Sub};

/// A direction round the tube, clockwise from the index line as seen looking at the index end.
///
/// Held in radians and not wrapped until asked, so that `350 deg + 20 deg` keeps its sense; use
/// [`Angle::wrapped`] before printing.
///
/// # Example
/// ```
/// use quarterlight::domain::Angle;
/// let a = Angle::from_degrees(350.0) + Angle::from_degrees(20.0);
/// assert!((a.wrapped().degrees() - 10.0).abs() < 1e-12);
/// assert!((Angle::from_degrees(5.0).gap_to(Angle::from_degrees(355.0)).degrees() + 10.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);

impl Angle {
    /// The index line.
    pub const ZERO: Angle = Angle(0.0);

    /// From degrees.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Angle(degrees.to_radians())
    }

    /// From radians.
    #[must_use]
    pub fn from_radians(radians: f64) -> Self {
        Angle(radians)
    }

    /// In radians, as held.
    #[must_use]
    pub fn radians(self) -> f64 {
        self.0
    }

    /// In degrees, as held.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.0.to_degrees()
    }

    /// The same direction in `[0, 360)` degrees.
    #[must_use]
    pub fn wrapped(self) -> Self {
        self.wrapped_to(TAU)
    }

    /// The same direction modulo `period` radians, in `[0, period)`: a split into four repeats every
    /// quarter turn, a diameter every half turn.
    #[must_use]
    pub fn wrapped_to(self, period: f64) -> Self {
        let r = self.0.rem_euclid(period);
        // rem_euclid of a tiny negative number rounds up to the period itself
        // and leaves -0 as it is, which would print as such
        Angle(if r >= period { 0.0 } else { r + 0.0 })
    }

    /// The signed shortest turn from `self` to `other`, in `(-180, 180]` degrees.
    #[must_use]
    pub fn gap_to(self, other: Angle) -> Angle {
        let d = (other.0 - self.0).rem_euclid(TAU);
        Angle(if d > PI + 1e-12 { d - TAU } else { d })
    }

    /// `(sin, cos)`.
    #[must_use]
    pub fn sin_cos(self) -> (f64, f64) {
        self.0.sin_cos()
    }

    /// True when the number is neither infinite nor NaN.
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.0.is_finite()
    }
}

impl Add for Angle {
    type Output = Angle;
    fn add(self, other: Angle) -> Angle {
        Angle(self.0 + other.0)
    }
}

impl Sub for Angle {
    type Output = Angle;
    fn sub(self, other: Angle) -> Angle {
        Angle(self.0 - other.0)
    }
}

impl Neg for Angle {
    type Output = Angle;
    fn neg(self) -> Angle {
        Angle(-self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrapped_nought_has_no_sign() {
        for a in [-0.0, -1e-300, 0.0] {
            let wrapped = Angle::from_radians(a).wrapped().radians();
            assert!(wrapped.to_bits() == 0, "{a}: {wrapped}");
        }
    }

    #[test]
    fn wrapping_never_returns_the_period_itself() {
        let a = Angle::from_radians(-1e-20).wrapped();
        assert!(a.radians() < TAU && a.radians() >= 0.0, "{a:?}");
    }

    #[test]
    fn the_shortest_turn_across_the_index_line_is_short() {
        let d = Angle::from_degrees(359.0).gap_to(Angle::from_degrees(1.0)).degrees();
        assert!((d - 2.0).abs() < 1e-12, "{d}");
        let half = Angle::from_degrees(10.0).gap_to(Angle::from_degrees(190.0)).degrees();
        assert!((half - 180.0).abs() < 1e-9, "{half}");
    }
}
