//! What is wanted on measuring sheets.

use crate::paper::font::{Weight, shorten, width_mm};
use crate::paper::scene::Paper;

/// Height of a box to write in, mm.
pub const BOX_MM: f64 = 9.0;

/// What one instrument reads: a table of boxes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetTable {
    /// What is read, and its unit.
    pub title: String,
    /// How it is read, for the first page.
    pub how: String,
    /// What the rows are, in a word or two.
    pub rows_are: String,
    /// Over each row.
    pub rows: Vec<String>,
    /// Over each column.
    pub columns: Vec<String>,
}

/// What is wanted on the sheets.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuringSheet {
    /// The paper.
    pub paper: Paper,
    /// Over every page, such as the lot.
    pub heading: String,
    /// Boxes at the head of a card: length, weight ...; the last is as wide as there is room.
    pub facts: Vec<String>,
    /// Names of the tubes; none: one page of cards without names.
    pub tubes: Vec<String>,
    /// The tables of a card.
    pub tables: Vec<SheetTable>,
    /// Angles drawn round the end of the tube, degrees.
    pub angles_deg: Vec<f64>,
    /// Length of the tube in the drawing, mm, and places along it with their words.
    pub along: (f64, Vec<(f64, String)>),
    /// How the index line is drawn and what to write, a paragraph each.
    pub how: Vec<String>,
    /// Cautions, a paragraph each.
    pub cautions: Vec<String>,
    /// At the foot of every page.
    pub foot: String,
}

/// The size at which `text` fits `room_mm`, from `size_mm` down to 1.8 mm; shortened where even that is too wide.
pub(super) fn fitted(text: &str, size_mm: f64, weight: Weight, room_mm: f64) -> (String, f64) {
    let wide = width_mm(text, size_mm, weight);
    let size = if wide <= room_mm { size_mm } else { (size_mm * room_mm / wide).max(1.8) };
    (shorten(text, size, weight, room_mm + 1e-6).into_owned(), size)
}
