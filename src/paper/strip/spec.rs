//! What strips are made from: tubes, runs, and how they are to be printed.

use crate::domain::Angle;
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
    /// Names of the pieces; piece k lies clockwise of split k.
    pub piece_names: Vec<String>,
    /// Runs, in any order.
    pub runs: Vec<StripRun>,
    /// A few words printed on the length strip.
    pub note: String,
}

/// One run on a length strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripRun {
    /// Which piece, from 0, into [`StripSpec::piece_names`].
    pub piece: usize,
    /// Its end nearer the index end, mm from the index end.
    pub from_mm: f64,
    /// Its other end, mm from the index end.
    pub to_mm: f64,
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
}

impl Default for StripSheet {
    fn default() -> Self {
        StripSheet {
            paper: Paper::A4,
            heading: String::new(),
            foot: String::new(),
            lap_mm: 12.0,
            length_text: millimetres,
        }
    }
}

/// A length in mm to a tenth, with its unit.
#[must_use]
pub fn millimetres(mm: f64) -> String {
    format!("{mm:.1} mm")
}
