//! How readings were taken where nobody says it: habits that their values show plainly.
//!
//! What is recognised is used and said in a note, so that the maker can contradict it.

mod steps;
mod zeroed;

use crate::domain::{Finding, Lot, Place, Severity};

/// Recognises the habits of a lot's readings, gives the readings what follows from them, and says so.
pub fn recognise_habits(lot: &mut Lot) -> Vec<Finding> {
    let mut notes = zeroed::recognise(lot);
    notes.extend(steps::recognise(lot));
    notes
}

/// A note about a whole lot, at the first reading it concerns.
fn note(place: Place, found: String, expected: &str, fix: &str) -> Finding {
    let (expected, fix) = (expected.to_string(), fix.to_string());
    Finding { severity: Severity::Note, place, found, expected, fix, tube: None }
}
