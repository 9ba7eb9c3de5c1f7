//! How a recognised habit is told.

use crate::domain::{Finding, Place, Severity};

/// A note about a whole lot, at the first reading it concerns.
pub(super) fn note(place: Place, found: String, expected: &str, fix: &str) -> Finding {
    let (expected, fix) = (expected.to_string(), fix.to_string());
    Finding { severity: Severity::Note, place, found, expected, fix, tube: None }
}
