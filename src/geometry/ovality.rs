//! Ovality by the definitions in use, each named by its formula.
//!
//! Standards mean different things by one word, so a figure must name its formula. Which body uses which is told here as
//! far as it could be read; a reading marked "recalled" is from memory.

use crate::geometry::error::FitError;

/// Largest and smallest diameter of one section, mm.
///
/// # Example
/// ```
/// use quarterlight::geometry::Ovality;
/// let tube = Ovality::of_diameters(&[25.6, 25.1, 24.8, 25.3]).unwrap();
/// assert!((tube.difference() - 0.8).abs() < 1e-12);
/// assert!((tube.percent_of_mean() - 3.1746).abs() < 1e-4);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ovality {
    /// Largest diameter, mm.
    pub largest: f64,
    /// Smallest diameter, mm.
    pub smallest: f64,
}

impl Ovality {
    /// From the largest and the smallest diameter, mm, both positive.
    ///
    /// # Errors
    /// [`FitError::Impossible`] when one is not a positive number or they are the wrong way round.
    pub fn new(largest: f64, smallest: f64) -> Result<Self, FitError> {
        if !(smallest.is_finite() && smallest > 0.0) {
            return Err(FitError::Impossible { what: "smallest diameter", value: smallest });
        }
        if !(largest.is_finite() && largest >= smallest) {
            return Err(FitError::Impossible { what: "largest diameter", value: largest });
        }
        Ok(Ovality { largest, smallest })
    }

    /// From two-point readings round one section, mm, n >= 2. Noise makes the range of many readings too large: with
    /// known noise use the fitted harmonics instead.
    ///
    /// # Errors
    /// [`FitError::TooFewPoints`], or [`FitError::Impossible`] for a reading that is not positive.
    pub fn of_diameters(diameters: &[f64]) -> Result<Self, FitError> {
        if diameters.len() < 2 {
            return Err(FitError::TooFewPoints { need: 2, got: diameters.len() });
        }
        if let Some(index) = diameters.iter().position(|d| !d.is_finite()) {
            return Err(FitError::NotFinite { index });
        }
        let largest = diameters.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self::new(largest, diameters.iter().copied().fold(f64::INFINITY, f64::min))
    }

    /// `Dmax - Dmin`, mm: out-of-roundness as a length (API 5L style; ISO 3126 style, recalled).
    #[must_use]
    pub fn difference(&self) -> f64 {
        self.largest - self.smallest
    }

    /// `100 (Dmax - Dmin) / Dnom`, percent of a nominal diameter (DNV-OS-F101; ASME B31.3; EN 1993-1-6 prints the fraction).
    ///
    /// # Errors
    /// [`FitError::Impossible`] for a nominal diameter that is not positive.
    pub fn percent_of_nominal(&self, nominal: f64) -> Result<f64, FitError> {
        let good = nominal.is_finite() && nominal > 0.0;
        if good {
            Ok(100.0 * self.difference() / nominal)
        } else {
            Err(FitError::Impossible { what: "nominal diameter", value: nominal })
        }
    }

    /// `100 (Dmax - Dmin) / (Dmax + Dmin)`, percent of the sum (API RP 1111; ISO 2531): half of [`Self::percent_of_mean`].
    #[must_use]
    pub fn percent_of_sum(&self) -> f64 {
        100.0 * self.difference() / (self.largest + self.smallest)
    }

    /// `200 (Dmax - Dmin) / (Dmax + Dmin)`, percent of the mean diameter (EN 13445 style and ISO 19624 bamboo culms, recalled).
    #[must_use]
    pub fn percent_of_mean(&self) -> f64 {
        2.0 * self.percent_of_sum()
    }

    /// `100 (Dmax - Dmin) / Dmax`, percent of the largest diameter (ISO 19474:2018 round timber).
    #[must_use]
    pub fn percent_of_largest(&self) -> f64 {
        100.0 * self.difference() / self.largest
    }

    /// `Dmin / Dmax`, 1 for a round section.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.smallest / self.largest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_definitions_differ_as_their_formulas_do() {
        let o = Ovality::new(25.6, 24.8).expect("positive");
        assert!((o.difference() - 0.8).abs() < 1e-14);
        assert!((o.percent_of_nominal(25.0).expect("positive") - 3.2).abs() < 1e-13);
        assert!((o.percent_of_sum() - 100.0 * 0.8 / 50.4).abs() < 1e-13);
        assert!((o.percent_of_largest() - 3.125).abs() < 1e-13 && (o.ratio() - 0.96875).abs() < 1e-15);
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(Ovality::new(24.0, 25.0).is_err() && Ovality::new(25.0, 0.0).is_err());
        assert!(Ovality::new(f64::INFINITY, 25.0).is_err() && Ovality::of_diameters(&[25.0]).is_err());
        assert_eq!(Ovality::of_diameters(&[25.0, f64::NAN]), Err(FitError::NotFinite { index: 1 }));
        assert!(Ovality::new(25.0, 24.0).expect("positive").percent_of_nominal(0.0).is_err());
    }
}
