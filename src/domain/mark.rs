//! Places on the bark that no blank may touch.

use super::{Angle, Place};

/// A patch of bark that no run may touch: a node, crack, wrinkle, wormhole, mould.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Nearest edge to the index end, mm.
    pub from_mm: f64,
    /// Far edge, mm; never less than `from_mm`.
    pub to_mm: f64,
    /// First edge going clockwise; `None` (with `to`) means all the way round.
    pub from: Option<Angle>,
    /// Last edge going clockwise; the patch runs clockwise from `from` to `to`, across the index line if need be.
    pub to: Option<Angle>,
    /// What it is.
    pub why: String,
    /// Where it stands in the user's files.
    pub place: Place,
}
