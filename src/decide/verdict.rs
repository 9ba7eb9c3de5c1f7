//! The verdict on a tube: is it worth splitting?

use crate::domain::Phrase;
use serde::{Deserialize, Serialize};

/// What to do with a tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Worth splitting.
    Split,
    /// Could go either way.
    Doubtful,
    /// Not worth splitting.
    #[default]
    Leave,
}

impl Verdict {
    /// The word shown to the user.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Split => "split",
            Verdict::Doubtful => "doubtful",
            Verdict::Leave => "leave",
        }
    }
}

/// The verdict on one tube.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "Stored", into = "Stored")]
pub struct Screened {
    /// What to do.
    pub verdict: Verdict,
    /// Chance of at least the least number of blanks.
    pub chance: f64,
    /// Why, in words.
    pub reason: Phrase,
}

/// A [`Screened`] as stored: the reason as text, and as the parts it is read back from.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    verdict: Verdict,
    chance: f64,
    #[serde(default)]
    reason: String,
    reason_parts: Phrase,
}

impl From<Screened> for Stored {
    fn from(s: Screened) -> Stored {
        Stored { verdict: s.verdict, chance: s.chance, reason: s.reason.to_string(), reason_parts: s.reason }
    }
}

impl From<Stored> for Screened {
    fn from(s: Stored) -> Screened {
        Screened { verdict: s.verdict, chance: s.chance, reason: s.reason_parts }
    }
}
