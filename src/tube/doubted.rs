//! A reading that a fit does not believe.

/// A reading the fit does not believe.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubted {
    /// Its place in `tube.readings`.
    pub index: usize,
    /// What the rest of the readings lead one to expect there, mm.
    pub expected_mm: f64,
    /// Departure in standard deviations of the reading.
    pub departure_sd: f64,
    /// Weight left to it, 0 to 1.
    pub weight: f64,
}
