//! How readings were taken where nobody says it: habits that their values show plainly.
//!
//! What is recognised is used and said in a note, so that the maker can contradict it.

mod feet;
mod note;
mod steps;
mod zeroed;

pub use feet::feet_asked;

use crate::domain::{Finding, Lot};

/// Recognises the habits of a lot's readings, gives the readings what follows from them, and says so.
pub fn recognise_habits(lot: &mut Lot) -> Vec<Finding> {
    let mut notes = zeroed::recognise(lot);
    notes.extend(steps::recognise(lot));
    notes
}
