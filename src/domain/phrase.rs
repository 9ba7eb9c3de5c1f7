//! Words with lengths in them, told in the unit somebody reads.

use super::units::decimal;
use serde::{Deserialize, Serialize};
use std::fmt;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
enum Part {
    Words(String),
    Length { mm: f64, decimals: usize, signed: bool },
}

/// A sentence whose lengths are kept as numbers until it is told. [`fmt::Display`] tells it in millimetres.
///
/// Stored, it is the list of its parts: words, and lengths as `{"mm", "decimals", "signed"}`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Phrase(Vec<Part>);

impl Phrase {
    /// The sentence with `length(mm, decimals in mm)` for every length, which writes a number without its unit, and that
    /// unit's word.
    #[must_use]
    pub fn told(&self, length: impl Fn(f64, usize) -> String, unit: &str) -> String {
        let part = |p: &Part| match p {
            Part::Words(w) => w.clone(),
            Part::Length { mm, decimals, signed } => {
                let plus = if *signed && *mm >= 0.0 { "+" } else { "" };
                format!("{plus}{} {unit}", length(*mm, *decimals))
            }
        };
        self.0.iter().map(part).collect()
    }

    /// True when the phrase, told in millimetres, begins like this.
    #[must_use]
    pub fn begins(&self, with: &str) -> bool {
        self.to_string().starts_with(with)
    }

    /// A phrase that begins with words.
    #[must_use]
    pub fn new(words: impl Into<String>) -> Phrase {
        Phrase::default().words(words)
    }

    /// Adds words.
    #[must_use]
    pub fn words(mut self, words: impl Into<String>) -> Phrase {
        self.0.push(Part::Words(words.into()));
        self
    }

    /// Adds a length.
    #[must_use]
    pub fn length(mut self, mm: f64, decimals: usize) -> Phrase {
        self.0.push(Part::Length { mm, decimals, signed: false });
        self
    }

    /// Adds a length with its sign.
    #[must_use]
    pub fn change(mut self, mm: f64, decimals: usize) -> Phrase {
        self.0.push(Part::Length { mm, decimals, signed: true });
        self
    }

    /// Adds another phrase.
    #[must_use]
    pub fn then(mut self, other: Phrase) -> Phrase {
        self.0.extend(other.0);
        self
    }
}

impl fmt::Display for Phrase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told(decimal, "mm"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_told_in_the_unit_asked() {
        let p = Phrase::default().words("off by ").change(25.4, 1).words(" at ").length(127.0, 1).words("; look again");
        assert_eq!(p.to_string(), "off by +25.4 mm at 127.0 mm; look again");
        let inches = p.told(|mm, decimals| format!("{:.*}", decimals + 2, mm / 25.4), "in");
        assert_eq!(inches, "off by +1.000 in at 5.000 in; look again");
    }
}
