//! How many pixels a millimetre has, across and down.

/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// Resolutions a scanner or a made-up picture can have, pixels per inch. Below it stand 72 and 96, which programs write when
/// they know nothing; common practice, no source.
const DPI: std::ops::RangeInclusive<f64> = 100.0..=9600.0;

/// Pixels per millimetre, across (x) and down (y).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PixelScale {
    /// Across.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl PixelScale {
    /// From pixels per inch; `None` unless both are numbers from 100 to 9600.
    #[must_use]
    pub fn from_dpi(x: f64, y: f64) -> Option<PixelScale> {
        (DPI.contains(&x) && DPI.contains(&y)).then_some(PixelScale { x: x / INCH, y: y / INCH })
    }

    /// Pixels per inch, across and down.
    #[must_use]
    pub fn dpi(self) -> (f64, f64) {
        (self.x * INCH, self.y * INCH)
    }

    /// Mean of both, pixels per millimetre.
    #[must_use]
    pub(super) fn mean(self) -> f64 {
        f64::midpoint(self.x, self.y)
    }

    /// How much more pixels a millimetre has here than by `other`, percent, across and down.
    #[must_use]
    pub fn stretch_percent(self, other: PixelScale) -> (f64, f64) {
        (100.0 * (self.x / other.x - 1.0), 100.0 * (self.y / other.y - 1.0))
    }
}

/// The whole part of a number that is not negative, as an index.
#[allow(clippy::cast_possible_truncation, reason = "callers keep it within a picture; `as` saturates")]
pub(super) fn whole(x: f64) -> usize {
    x.max(0.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_hundred_to_the_inch_are_23_6_to_the_millimetre_and_72_says_nothing() {
        let s = PixelScale::from_dpi(600.0, 603.6).expect("a scanner's");
        assert!((s.x - 23.622).abs() < 1e-3 && (s.stretch_percent(PixelScale { x: s.x, y: s.x }).1 - 0.6).abs() < 1e-9);
        assert!(PixelScale::from_dpi(72.0, 72.0).is_none() && PixelScale::from_dpi(f64::NAN, 600.0).is_none());
    }
}
