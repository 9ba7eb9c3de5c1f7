//! What one fit says of the squares whose expectation a scale is: all that the slope of the log evidence by its logarithm needs
//! (the statistics of the EM algorithm; A. P. Dempster, N. M. Laird, D. B. Rubin, J. R. Statist. Soc. B 39 (1977) 1-38).

use super::layout::SHAPES;

/// Of one field.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FieldTold {
    /// Of level, tilt, bend and ess: `E[beta^2] / s^2 - 1`, and the share of the prior's variance that the readings took.
    pub(super) shapes: [(f64, f64); SHAPES],
    /// Of its unevenness of m coefficients: `E[e' R e] / s^2 - m`, and the share of the m that the readings took.
    pub(super) rough: (f64, f64),
}

/// Of all fields and rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Squares {
    pub(super) fields: Vec<FieldTold>,
    /// Slope of the log evidence by the logarithm of the reach of the outside.
    pub(super) reach: f64,
    /// Of every row: its pull times the variance of what it would show, what of its own noise the fit took.
    pub(super) used: Vec<f64>,
    /// Of every row: what it would show.
    pub(super) shown: Vec<f64>,
    /// Log evidence of the rows' forces, but for a constant that no scale moves.
    pub(super) evidence: f64,
}
