//! A suspicion and its cause, and how they are stored: readings counted from 1, sentences as text and as the parts they are
//! read back from.

use crate::domain::Phrase;
use crate::tube::error::BeliefError;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A likely cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(into = "&'static str", try_from = "Cow<'_, str>")]
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
    /// The columns of place, angle and value of one kind stand under each other's headings.
    SwappedColumns,
}

impl Cause {
    /// Every cause that is looked for.
    pub const ALL: [Cause; 8] = [
        Cause::SlippedZero,
        Cause::SwappedStations,
        Cause::DecimalSlip,
        Cause::InchAsMm,
        Cause::MmAsInch,
        Cause::AnglesShifted,
        Cause::SignReversed,
        Cause::SwappedColumns,
    ];

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
            Cause::SwappedColumns => "swapped columns",
        }
    }
}

/// Readings that look wrong in a way that has a likely cause.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", try_from = "Stored")]
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
    pub advice: Cow<'static, str>,
    /// Twice the log of how much better all readings agree once this is put right, tolls taken off.
    pub gain: f64,
}

/// What a search for slips found on one tube.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Suspicions {
    /// The likeliest causes, at most [`MOST_TOLD`](super::MOST_TOLD), the strongest first; empty when all is well.
    pub told: Vec<Suspicion>,
    /// How many more were found: mostly the shadows of these.
    pub untold: usize,
    /// Why not everything was looked at; `None` when it was.
    pub stopped: Option<BeliefError>,
}

/// A [`Suspicion`] as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    cause: Cause,
    /// Numbers of the tube's readings from 1, in the order of the files.
    readings: Vec<usize>,
    #[serde(default)]
    place: String,
    #[serde(default)]
    words: String,
    advice: Cow<'static, str>,
    gain: f64,
    place_parts: Phrase,
    words_parts: Phrase,
}

impl From<Suspicion> for Stored {
    fn from(s: Suspicion) -> Stored {
        Stored {
            cause: s.cause,
            readings: s.readings.iter().map(|i| i + 1).collect(),
            place: s.place.to_string(),
            words: s.words.to_string(),
            advice: s.advice,
            gain: s.gain,
            place_parts: s.place,
            words_parts: s.words,
        }
    }
}

impl TryFrom<Stored> for Suspicion {
    type Error = &'static str;

    fn try_from(s: Stored) -> Result<Suspicion, &'static str> {
        let readings: Option<Vec<usize>> = s.readings.iter().map(|n| n.checked_sub(1)).collect();
        Ok(Suspicion {
            cause: s.cause,
            readings: readings.ok_or("readings are counted from 1")?,
            place: s.place_parts,
            words: s.words_parts,
            advice: s.advice,
            gain: s.gain,
        })
    }
}

impl From<Cause> for &'static str {
    fn from(cause: Cause) -> &'static str {
        cause.word()
    }
}

impl TryFrom<Cow<'_, str>> for Cause {
    type Error = String;

    fn try_from(word: Cow<'_, str>) -> Result<Cause, String> {
        Cause::ALL.into_iter().find(|c| c.word() == word).ok_or_else(|| format!("'{word}' is no cause of a slip"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_suspicion_reads_back_as_it_was_with_its_lengths_exact() {
        let s = Suspicion {
            cause: Cause::SwappedStations,
            readings: vec![0, 4],
            place: Phrase::new("runout station ").length(19.6, 1),
            words: Phrase::new("off by ").change(-0.123_456_789_012_345_67, 2),
            advice: "look".into(),
            gain: 31.0 / 7.0,
        };
        let text = serde_json::to_string(&s).expect("numbers and words");
        assert!(
            text.contains(r#""readings":[1,5],"place":"runout station 19.6 mm","words":"off by -0.12 mm""#),
            "{text}"
        );
        assert_eq!(serde_json::from_str::<Suspicion>(&text).expect("just written"), s);
        let none = text.replace("[1,5]", "[0]");
        assert!(serde_json::from_str::<Suspicion>(&none).is_err(), "readings count from 1");
        assert!(serde_json::from_str::<Suspicion>(&text.replace("swapped stations", "bad luck")).is_err());
    }
}
