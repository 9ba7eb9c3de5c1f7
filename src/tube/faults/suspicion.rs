//! What a suspicion says.

use crate::domain::Phrase;

/// A likely cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Cause {
    /// A dial's zero was bumped part way: later readings of the set are off by one amount.
    SlippedZero,
    /// The places of two stations were interchanged.
    SwappedStations,
    /// The decimal mark of one reading stands one place off.
    DecimalSlip,
    /// Inches written where mm were due (a reading, a ring, a set, or the place of a ring).
    InchAsMm,
    /// Millimetres written where inches were due.
    MmAsInch,
    /// The angles of a ring, or of a whole kind, are turned by one step.
    AnglesShifted,
    /// The sign of a reading, a ring or a set is reversed.
    SignReversed,
}

impl Cause {
    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Cause::SlippedZero => "slipped zero",
            Cause::SwappedStations => "swapped stations",
            Cause::DecimalSlip => "decimal slip",
            Cause::InchAsMm => "inch as mm",
            Cause::MmAsInch => "mm as inch",
            Cause::AnglesShifted => "angles shifted",
            Cause::SignReversed => "sign reversed",
        }
    }
}

/// Readings that look wrong in a way that has a likely cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspicion {
    /// The likely cause.
    pub cause: Cause,
    /// Places in `tube.readings` of the readings concerned, ascending.
    pub readings: Vec<usize>,
    /// Where on the tube, or which set, in words.
    pub place: Phrase,
    /// What looks wrong, in a sentence, and what else it might be.
    pub words: Phrase,
    /// What to check.
    pub advice: &'static str,
    /// Twice the log of how much better all readings agree once this is put right, tolls taken off.
    pub gain: f64,
}
