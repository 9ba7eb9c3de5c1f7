//! What strips are made from: tubes, runs, and how they are to be printed.

use crate::domain::Angle;
use crate::domain::units::{LengthUnit, decimal};
use crate::paper::scene::Paper;

/// One tube to make strips for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StripSpec {
    /// Its name; shortened where it does not fit.
    pub tube: String,
    /// Girth at the index end, mm.
    pub girth_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// Where to split, clockwise from the index line; numbered 1, 2, ... in this order.
    pub split_angles: Vec<Angle>,
    /// How far round the bark each of them lies, mm from the index line clockwise. On an oval tube equal angles are not equal
    /// lengths of bark; empty: as on a round tube.
    pub split_along_mm: Vec<f64>,
    /// Names of the pieces; piece k lies clockwise of split k.
    pub piece_names: Vec<String>,
    /// Runs, in any order.
    pub runs: Vec<StripRun>,
    /// Places no run may touch.
    pub marks: Vec<StripMark>,
    /// A few words printed on the length strip.
    pub note: String,
}

impl StripSpec {
    /// How far round the bark each split lies, mm.
    pub(super) fn ticks_mm(&self) -> Vec<f64> {
        if self.split_along_mm.len() == self.split_angles.len() {
            return self.split_along_mm.clone();
        }
        self.split_angles.iter().map(|a| self.girth_mm * a.wrapped().degrees() / 360.0).collect()
    }
}

/// A patch of bark that no run may touch: a crack, a hole, a node.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StripMark {
    /// The pieces it touches, from 0, into [`StripSpec::piece_names`].
    pub pieces: Vec<usize>,
    /// Its end nearer the index end, mm from the index end.
    pub from_mm: f64,
    /// Its other end, mm from the index end.
    pub to_mm: f64,
    /// What it is.
    pub why: String,
}

/// One run on a length strip.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StripRun {
    /// Which piece, from 0, into [`StripSpec::piece_names`].
    pub piece: usize,
    /// Its end nearer the index end, mm from the index end.
    pub from_mm: f64,
    /// Its other end, mm from the index end.
    pub to_mm: f64,
    /// From the clockwise edge of its piece along the bark to the middle of its blank, mm.
    pub across_mm: Option<f64>,
    /// Chance that it passes.
    pub chance: Option<f64>,
}

/// How the strips are to be printed.
#[derive(Debug, Clone)]
pub struct StripSheet {
    /// The paper.
    pub paper: Paper,
    /// Printed at the head of every page: the lot, and what else tells this print from another.
    pub heading: String,
    /// Printed at the foot of every page, beside its number: a caution. Broken into lines where it is long.
    pub foot: String,
    /// Paper left beyond the girth to lap under and stick, mm, 5 to 30.
    pub lap_mm: f64,
    /// How a length is written, from mm, in the user's unit.
    pub length_text: fn(f64) -> String,
    /// What the ruler along a length strip is divided in: inches, in 32nds, or else millimetres.
    pub ruler: LengthUnit,
}

impl Default for StripSheet {
    fn default() -> Self {
        StripSheet {
            paper: Paper::A4,
            heading: String::new(),
            foot: String::new(),
            lap_mm: 12.0,
            length_text: millimetres,
            ruler: LengthUnit::Millimetre,
        }
    }
}

/// A length in mm to a tenth, with its unit.
#[must_use]
pub fn millimetres(mm: f64) -> String {
    format!("{} mm", decimal(mm, 1))
}
