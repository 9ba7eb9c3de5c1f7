//! Sheets to measure by at the bench: first how it is done, with a drawing, then a card with large boxes for every tube.
//!
//! Knows words, boxes and lengths, nothing of instruments: what stands over rows and columns is given.

mod card;
mod how;

use super::font::{Weight, plain, width_mm};
use super::head::MARGIN_MM;
use super::palette::SOFT_INK;
use super::scene::{Across, Paper, Scene, Text, Upright};
use card::Cards;

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

/// The sheets as pages: how it is done, then the cards.
///
/// Nothing is cut off: names too wide for their line are set smaller, then shortened with an ellipsis; tables with more
/// columns than the paper takes are divided.
#[must_use]
pub fn pages(sheet: &MeasuringSheet) -> Vec<Scene> {
    let mut pages = how::pages(sheet);
    let mut cards = Cards::new(sheet);
    if sheet.tubes.is_empty() {
        while cards.blank_fits() {
            cards.card("");
        }
    }
    for tube in &sheet.tubes {
        cards.card(&plain(tube));
    }
    pages.extend(cards.finish());
    let count = pages.len();
    for (i, page) in pages.iter_mut().enumerate() {
        let at = [page.width_mm - MARGIN_MM, page.height_mm - MARGIN_MM + 1.0];
        let text = format!("page {} of {count}", i + 1);
        page.text(Text::new(at, text, 2.6).anchored(Across::End, Upright::Baseline).coloured(SOFT_INK));
    }
    pages
}

/// The size at which `text` fits `room_mm`, from `size_mm` down to 1.8 mm; shortened where even that is too wide.
fn fitted(text: &str, size_mm: f64, weight: Weight, room_mm: f64) -> (String, f64) {
    let wide = width_mm(text, size_mm, weight);
    let size = if wide <= room_mm { size_mm } else { (size_mm * room_mm / wide).max(1.8) };
    (super::font::shorten(text, size, weight, room_mm + 1e-6).into_owned(), size)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::scene::Shape;

    fn sheet(tubes: Vec<String>, rows: usize, columns: usize) -> MeasuringSheet {
        let numbered = |n: usize, word: &str| (0..n).map(|i| format!("{}{word}", 15 * i)).collect::<Vec<String>>();
        let table = SheetTable {
            title: "bar, mm".into(),
            how: "Set it to 0 on glass. ".repeat(4),
            rows_are: "angle".into(),
            rows: numbered(rows, "°"),
            columns: numbered(columns, " mm"),
        };
        MeasuringSheet {
            paper: Paper::A4,
            heading: "Lot of a very long name ".repeat(20),
            facts: vec!["length, mm".into(), "weight, g".into(), "nodes, cracks".into()],
            tubes,
            tables: vec![table.clone(), table],
            angles_deg: (0..24).map(|i| 15.0 * f64::from(i)).collect(),
            along: (200.0, vec![(10.0, "10".into()), (190.0, "190".into())]),
            how: vec!["Draw a line. ".repeat(30); 3],
            cautions: vec!["Keep dust away. ".repeat(12); 3],
            foot: "Wear eye protection. ".repeat(4),
        }
    }

    fn boxes(page: &Scene) -> Vec<[f64; 4]> {
        let of = |m: &crate::paper::scene::Mark| match &m.shape {
            Shape::Path { contours, closed: true } if m.title.starts_with("box") => {
                Some([contours[0][0][0], contours[0][0][1], contours[0][2][0], contours[0][2][1]])
            }
            _ => None,
        };
        page.marks.iter().filter_map(of).collect()
    }

    #[test]
    fn no_word_stands_off_the_page_and_no_box_is_lower_than_it_says_whatever_the_tubes_are_called() {
        let names =
            vec!["T01".into(), "W".repeat(100), "漢".repeat(40), "a b ".repeat(20), "x\ny".into(), String::new()];
        for paper in Paper::ALL {
            for (rows, columns) in [(1, 8), (4, 3), (12, 5), (8, 12), (2, 30), (40, 2)] {
                let sheet = MeasuringSheet { paper, ..sheet(names.clone(), rows, columns) };
                for (i, page) in pages(&sheet).iter().enumerate() {
                    let outside = crate::paper::head::texts_outside(page);
                    assert!(outside.is_empty(), "{paper:?} {rows} x {columns}, page {i}: {outside:?}");
                    for [left, top, right, bottom] in boxes(page) {
                        assert!(bottom - top >= BOX_MM - 1e-9 && right - left >= 12.0, "{left} {top} {right} {bottom}");
                        assert!(
                            right <= page.width_mm - MARGIN_MM + 1e-6 && bottom <= page.height_mm - MARGIN_MM - 3.0
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn every_tube_has_a_box_for_every_reading_and_no_two_boxes_overlap() {
        let made = pages(&sheet(vec!["A".into(), "B".into()], 8, 3));
        let all: usize = made.iter().map(|p| boxes(p).len()).sum();
        // two tubes of three facts and two tables of 24
        assert_eq!(all, 2 * (3 + 48));
        for page in &made {
            let list = boxes(page);
            for (i, a) in list.iter().enumerate() {
                let apart = |b: &[f64; 4]| {
                    a[2] <= b[0] + 1e-6 || b[2] <= a[0] + 1e-6 || a[3] <= b[1] + 1e-6 || b[3] <= a[1] + 1e-6
                };
                assert!(list[i + 1..].iter().all(apart), "{a:?}");
            }
        }
    }

    #[test]
    fn without_tubes_one_page_of_nameless_cards_is_left_to_copy() {
        let made = pages(&sheet(Vec::new(), 1, 8));
        assert_eq!(made.len(), 2);
        assert!(boxes(&made[1]).len() > 2 * 19);
    }
}
