//! The pictures of a lot and its tubes, each a scene made from finished results.
//!
//! All are [`WIDTH_MM`] wide, so that their words stay readable on a phone and two stand side by side on a sheet.

pub mod bark_map;
pub mod calibration;
pub mod centreline;
pub mod index_end;
pub mod limits;
pub mod lot_board;
pub mod lots;
pub mod piles;
pub mod score;
pub mod section;
pub mod terms;

use super::show::Units;
use crate::decide::plan::PlanOptions;
use crate::domain::counted;
use crate::paper::font::{Weight, break_lines};
use crate::paper::palette::{INK, PAPER, SOFT_INK};
use crate::paper::scene::{Across, Point, Scene, Text, Upright};

/// Width of every figure, mm; a map on a card is as wide as it needs.
pub const WIDTH_MM: f64 = 88.0;
/// Size of ordinary words, mm.
pub(super) const WORDS_MM: f64 = 2.5;
/// Free edge left and right, mm.
pub(super) const EDGE_MM: f64 = 2.0;
/// Where the drawing may begin, below the heading, mm.
pub(super) const TOP_MM: f64 = 7.5;

/// What every figure says about where it comes from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// Name of the lot.
    pub lot: &'a str,
    /// Seed and draws.
    pub options: PlanOptions,
    /// Unit of lengths along the tube.
    pub units: Units,
    /// Whether the figure stands on the card of its tube, which names lot and tube and shares one key of signs with the other
    /// cards: it repeats neither.
    pub in_card: bool,
}

impl Source<'_> {
    /// Lot, tube, number of readings, draws and seed in one line; nothing on a card.
    #[must_use]
    pub fn words(&self, tube: Option<(&str, usize)>) -> String {
        if self.in_card {
            return String::new();
        }
        let tube = tube.map_or(String::new(), |(name, n)| format!(", tube {name}, {}", counted(n, "reading")));
        format!("lot {}{tube}, {}, seed {}", self.lot, counted(self.options.draws, "draw"), self.options.seed)
    }
}

/// An empty figure with its heading.
pub(super) fn begin(height_mm: f64, heading: &str, description: String) -> Scene {
    let mut scene = Scene::new(WIDTH_MM, height_mm, heading);
    scene.description = description;
    scene.background = Some(PAPER);
    let fits = crate::paper::font::shorten(heading, 3.0, Weight::Bold, WIDTH_MM - 2.0 * EDGE_MM).into_owned();
    scene.text(Text::new([EDGE_MM, 1.6], fits, 3.0).bold().anchored(Across::Start, Upright::Top).coloured(INK));
    scene
}

/// The caption at the foot, in as many lines as it needs; the figure grows to hold it.
pub(super) fn finish(mut scene: Scene, below_mm: f64, notes: &[String], source: &str) -> Scene {
    const LINE: f64 = 3.2;
    let mut y = below_mm;
    let room = scene.width_mm - 2.0 * EDGE_MM;
    for (text, colour) in
        notes.iter().map(|n| (n.as_str(), INK)).chain((!source.is_empty()).then_some((source, SOFT_INK)))
    {
        for line in break_lines(text, 2.3, Weight::Regular, room) {
            let text = Text::new([EDGE_MM, y], line, 2.3).anchored(Across::Start, Upright::Top);
            scene.text(text.coloured(colour));
            y += LINE;
        }
    }
    scene.height_mm = y + 1.0;
    scene
}

/// A short label.
pub(super) fn label(at: Point, words: impl Into<String>, across: Across, upright: Upright) -> Text {
    Text::new(at, words, WORDS_MM).anchored(across, upright).coloured(INK)
}

/// The largest of 1, 2 and 5 times a power of ten that is not above `most` (above 0).
pub(super) fn nice_below(most: f64) -> f64 {
    let power = 10_f64.powf(most.max(1e-9).log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|k| k * power).find(|v| *v <= most * (1.0 + 1e-9)).unwrap_or(power)
}

/// A length of at most `most_mm` that is a round number in the user's unit: (mm, words).
pub(super) fn nice_length(most_mm: f64, units: Units) -> (f64, String) {
    let round = nice_below(units.number(most_mm));
    let mm = round / units.number(1.0);
    (mm, format!("{} {}", crate::paper::svg::number(round), units.word()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_lengths_are_round_in_the_users_unit() {
        for (most, want) in [(1.0, 1.0), (4.9, 2.0), (0.051, 0.05), (99.0, 50.0), (0.2, 0.2)] {
            assert!((nice_below(most) - want).abs() < 1e-12, "{most}: {}", nice_below(most));
        }
        let (mm, words) = nice_length(13.0, Units::Inch);
        assert!((mm - 12.7).abs() < 1e-9, "{mm}");
        assert_eq!(words, "0.5 in");
    }
}
