//! What a bench list is made from: the tubes in the order of the work, and how they are to be printed.

use crate::output::show::Units;
use crate::paper::scene::Paper;

/// How the list is printed and what stands on each of its pages.
#[derive(Debug, Clone)]
pub struct BenchSheet {
    /// The paper.
    pub paper: Paper,
    /// Unit of all lengths.
    pub units: Units,
    /// How a length is marked at the bench, with its unit.
    pub length_text: fn(f64) -> String,
    /// Name of the lot.
    pub lot: String,
    /// Behind the name: seed and draws.
    pub how: String,
    /// Length and width of a blank, as they are marked.
    pub blank: String,
    /// Pieces that a tube is split into, as the legend draws them.
    pub pieces: usize,
    /// What the saw takes away, in words.
    pub kerf: String,
    /// Where the lot comes from, if that has to be said; empty otherwise.
    pub origin: String,
}

impl BenchSheet {
    /// A length without its unit, which stands in the titles.
    #[must_use]
    pub(super) fn bare(&self, mm: f64) -> String {
        let text = (self.length_text)(mm);
        text.strip_suffix(self.units.word()).unwrap_or(&text).trim_end().to_string()
    }
}

/// One thing on the list.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// Words over what follows.
    Heading(String),
    /// A tube to split.
    Tube(Box<BenchTube>),
    /// A tube that is not split, with the reason.
    Left {
        /// Its name.
        tube: String,
        /// Why.
        why: String,
    },
}

/// A tube to split.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchTube {
    /// Its name; shortened where it does not fit.
    pub name: String,
    /// The pile it is worked in.
    pub pile: Option<usize>,
    /// Its length, mm: what stops against the far end are reckoned from.
    pub length_mm: f64,
    /// Whether the screening doubts that it is worth it.
    pub doubtful: bool,
    /// Where to split.
    pub split: SplitMark,
    /// Which other places do as well.
    pub as_good: AsGoodMark,
    /// Said under it: what to mind before the figures are used.
    pub notes: Vec<String>,
    /// Radius of the index end at equal steps from the index line, clockwise, mm.
    pub radius_mm: Vec<f64>,
    /// The pieces, clockwise from the split.
    pub pieces: Vec<BenchPiece>,
}

/// Where the first split line goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SplitMark {
    /// Length of bark from the index line clockwise, mm.
    pub along_mm: f64,
    /// The same in degrees.
    pub deg: f64,
    /// Girth by number of pieces, mm: about so far from one split line to the next; `None` of a tube that is split.
    pub next_mm: Option<f64>,
}

/// Where else the first split line may go.
#[derive(Debug, Clone, PartialEq)]
pub enum AsGoodMark {
    /// Said in words.
    Words(&'static str),
    /// From one place clockwise to another.
    Range {
        /// Lengths of bark from the index line, mm.
        along_mm: [f64; 2],
        /// The same in degrees.
        deg: [f64; 2],
    },
}

/// A piece of a split tube.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchPiece {
    /// Its number.
    pub piece: usize,
    /// Split line it starts at, degrees.
    pub from_deg: f64,
    /// Half-way to the next split line, degrees.
    pub middle_deg: f64,
    /// Its runs, from the index end.
    pub runs: Vec<BenchRun>,
    /// What stands in their place where there are none.
    pub without: &'static str,
}

/// A run to mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BenchRun {
    /// First end, mm from the index end.
    pub from_mm: f64,
    /// Second end, mm from the index end.
    pub to_mm: f64,
    /// Length of bark from the clockwise edge of the piece to the middle of the blank, mm.
    pub across_mm: f64,
    /// Chance that it passes.
    pub chance: f64,
}

/// How sure a run is, in a word; the least percent of each.
pub const SURENESS: [(&str, usize); 4] = [("sure", 95), ("likely", 70), ("even", 40), ("thin", 0)];

/// The word for a chance.
#[must_use]
pub fn sureness(chance: f64) -> &'static str {
    let percent = crate::lot::percent(chance);
    SURENESS.iter().find(|s| percent >= s.1).map_or("thin", |s| s.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_has_the_word_of_its_percent() {
        for (chance, word) in [
            (1.0, "sure"),
            (0.951, "sure"),
            (0.94, "likely"),
            (0.70, "likely"),
            (0.69, "even"),
            (0.4, "even"),
            (0.39, "thin"),
            (0.0, "thin"),
        ] {
            assert_eq!(sureness(chance), word, "{chance}");
        }
    }
}
