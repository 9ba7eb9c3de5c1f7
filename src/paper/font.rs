//! The built-in type: widths and heights of text, the same for every writer.
//!
//! The type is `DejaVu Sans`, regular and bold, carried inside the crate so that a bare machine without fonts draws
//! the same picture (licence and notice in `fonts/LICENCE-DejaVu.txt`). Letters are set one after another at
//! their own width: no kerning, no ligatures, no right-to-left writing and no joining scripts. That is right for
//! labels in Latin, Greek and Cyrillic; other scripts are shown but not shaped.

use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};
use std::borrow::Cow;

/// How heavy the letters are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Weight {
    /// Ordinary text.
    #[default]
    Regular,
    /// Headings and numbers that must be found.
    Bold,
}

/// Families asked for where text stays text (SVG): the built-in one, else any without serifs.
pub(crate) const FAMILY: &str = "DejaVu Sans, sans-serif";

static REGULAR: &[u8] = include_bytes!("fonts/DejaVuSans.ttf");
static BOLD: &[u8] = include_bytes!("fonts/DejaVuSans-Bold.ttf");

/// The font file of a weight, as embedded in PDF.
#[must_use]
pub(crate) fn font_file(weight: Weight) -> &'static [u8] {
    match weight {
        Weight::Regular => REGULAR,
        Weight::Bold => BOLD,
    }
}

/// Height of a capital letter over the size of the type. Checked by a test against the font's own table.
pub(crate) const CAPITAL_HEIGHT: f64 = 1493.0 / 2048.0;
/// Depth of a letter with a tail below the line over the size of the type; checked likewise.
pub(crate) const TAIL_DEPTH: f64 = 483.0 / 2048.0;

/// One letter of a line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// Number of the glyph in the font.
    pub id: u32,
    /// Distance from the start of the line to the start of this letter, over the size of the type.
    pub start: f64,
    /// Its own width, over the size of the type.
    pub advance: f64,
    /// The bytes of the text it shows.
    pub bytes: std::ops::Range<usize>,
}

fn face(weight: Weight) -> FontRef<'static> {
    FontRef::new(font_file(weight)).expect("the built-in fonts are read by the tests of this file")
}

/// The letters of `text` set in one line.
///
/// # Returns
/// One glyph per character, in order; the font's box for characters it lacks.
#[must_use]
pub(crate) fn set_line(text: &str, weight: Weight) -> Vec<Glyph> {
    let face = face(weight);
    let map = face.charmap();
    let widths = face.glyph_metrics(Size::new(1.0), LocationRef::default());
    let mut start = 0.0;
    let mut line = Vec::with_capacity(text.len());
    for (at, sign) in text.char_indices() {
        let id = map.map(sign).unwrap_or(GlyphId::NOTDEF);
        let advance = f64::from(widths.advance_width(id).unwrap_or(0.0));
        line.push(Glyph { id: id.to_u32(), start, advance, bytes: at..at + sign.len_utf8() });
        start += advance;
    }
    line
}

/// The outline of a letter, over the size of the type, upwards from the line it stands on.
#[derive(Debug, Clone, Default)]
pub(crate) struct Outline(Vec<Piece>);

/// One piece of an outline.
#[derive(Debug, Clone, Copy)]
enum Piece {
    Move([f64; 2]),
    Line([f64; 2]),
    Quad([f64; 2], [f64; 2]),
    Cubic([f64; 2], [f64; 2], [f64; 2]),
    Close,
}

impl Outline {
    /// Adds it to a path, every point put to its place by `to`.
    pub(crate) fn draw(&self, path: &mut tiny_skia::PathBuilder, to: &dyn Fn([f64; 2]) -> (f32, f32)) {
        for piece in &self.0 {
            match *piece {
                Piece::Move(p) => path.move_to(to(p).0, to(p).1),
                Piece::Line(p) => path.line_to(to(p).0, to(p).1),
                Piece::Quad(a, p) => path.quad_to(to(a).0, to(a).1, to(p).0, to(p).1),
                Piece::Cubic(a, b, p) => path.cubic_to(to(a).0, to(a).1, to(b).0, to(b).1, to(p).0, to(p).1),
                Piece::Close => path.close(),
            }
        }
    }
}

fn wide([x, y]: [f32; 2]) -> [f64; 2] {
    [f64::from(x), f64::from(y)]
}

impl OutlinePen for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.push(Piece::Move(wide([x, y])));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.0.push(Piece::Line(wide([x, y])));
    }
    fn quad_to(&mut self, ax: f32, ay: f32, x: f32, y: f32) {
        self.0.push(Piece::Quad(wide([ax, ay]), wide([x, y])));
    }
    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        self.0.push(Piece::Cubic(wide([ax, ay]), wide([bx, by]), wide([x, y])));
    }
    fn close(&mut self) {
        self.0.push(Piece::Close);
    }
}

/// The letters of `text` in one line as outlines, each with its distance from the start of the line; over the size of the type.
pub(crate) fn glyph_outlines(text: &str, weight: Weight) -> Vec<(f64, Outline)> {
    let outlines = face(weight).outline_glyphs();
    set_line(text, weight)
        .into_iter()
        .map(|glyph| {
            let mut outline = Outline::default();
            if let Some(letter) = outlines.get(GlyphId::new(glyph.id)) {
                // a letter that cannot be drawn leaves its room empty
                let _ = letter.draw(DrawSettings::unhinted(Size::new(1.0), LocationRef::default()), &mut outline);
            }
            (glyph.start, outline)
        })
        .collect()
}

/// Width of `text` in one line at `size_mm`, mm.
#[must_use]
pub fn width_mm(text: &str, size_mm: f64, weight: Weight) -> f64 {
    set_line(text, weight).last().map_or(0.0, |g| g.start + g.advance) * size_mm
}

/// `text`, or as much of its beginning as fits into `most_mm` with an ellipsis behind it.
///
/// Long input costs no more than what fits: it is measured letter by letter and given up early.
/// # Returns
/// The text to set; empty when not even the ellipsis fits.
#[must_use]
pub fn shorten(text: &str, size_mm: f64, weight: Weight, most_mm: f64) -> Cow<'_, str> {
    // no letter worth showing is narrower than a fiftieth of the type size; the rest cannot fit anyway
    let ratio = most_mm / size_mm.max(1e-9) * 50.0;
    let enough = text.char_indices().map(|(i, _)| i).enumerate().find(|&(n, _)| count(n) > ratio.max(1.0));
    let head = enough.map_or(text, |(_, i)| &text[..i]);
    if head.len() == text.len() && width_mm(text, size_mm, weight) <= most_mm {
        return Cow::Borrowed(text);
    }
    let room = most_mm - width_mm("…", size_mm, weight);
    if room < 0.0 {
        return Cow::Borrowed("");
    }
    let line = set_line(head, weight);
    let fits = line.iter().take_while(|g| (g.start + g.advance) * size_mm <= room).last().map_or(0, |g| g.bytes.end);
    Cow::Owned(format!("{}…", head[..fits].trim_end()))
}

#[allow(clippy::cast_precision_loss, reason = "a count of letters is far below 2^52")]
fn count(n: usize) -> f64 {
    n as f64
}

/// `text` broken into lines that fit `most_mm`, at blanks where possible; a single word too long is shortened.
#[must_use]
pub fn break_lines(text: &str, size_mm: f64, weight: Weight, most_mm: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let word = shorten(word, size_mm, weight, most_mm);
        match lines.last_mut() {
            Some(line) if width_mm(&format!("{line} {word}"), size_mm, weight) <= most_mm => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word.into_owned()),
        }
    }
    lines
}

/// `text` safe to set in one line: line breaks, other control signs, signs that turn the direction of writing
/// and signs XML forbids become U+FFFD, so that nothing is hidden and nothing is obeyed.
#[must_use]
pub fn plain(text: &str) -> Cow<'_, str> {
    if text.chars().any(is_unsafe) {
        Cow::Owned(text.chars().map(|c| if is_unsafe(c) { '\u{FFFD}' } else { c }).collect())
    } else {
        Cow::Borrowed(text)
    }
}

fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{FFFE}' | '\u{FFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_the_fonts_own() {
        // advance widths from the horizontal metrics table of the font files, 2048 units to the em
        for (text, weight, units) in
            [("A", Weight::Regular, 1401.0), ("i", Weight::Regular, 569.0), ("A", Weight::Bold, 1585.0)]
        {
            let w = width_mm(text, 2048.0, weight);
            assert!((w - units).abs() < 1e-3, "{text} {weight:?}: {w}");
        }
        let both = width_mm("AA", 3.0, Weight::Regular);
        assert!((both - 2.0 * width_mm("A", 3.0, Weight::Regular)).abs() < 1e-9);
    }

    #[test]
    fn heights_are_the_fonts_own() {
        for weight in [Weight::Regular, Weight::Bold] {
            let face = face(weight);
            let m = face.metrics(Size::new(1.0), LocationRef::default());
            let h = face.charmap().map('H').unwrap();
            let bounds = face.glyph_metrics(Size::new(1.0), LocationRef::default()).bounds(h).unwrap();
            let capital = f64::from(bounds.y_max);
            assert!((capital - CAPITAL_HEIGHT).abs() < 1e-6, "{capital}");
            assert!((f64::from(m.descent) + TAIL_DEPTH).abs() < 1e-6, "{}", m.descent);
        }
    }

    #[test]
    fn both_fonts_have_every_sign_the_crate_prints() {
        let signs = "Ø⌀½¼⅛⅝⅞′″°±σΔθ→←↑↓↻≤≥×µ…–—•²³ÄÖÜäöüßéèñ0123456789/-+.,:;()[]%&'\"<>\u{FFFD}";
        for weight in [Weight::Regular, Weight::Bold] {
            let map = face(weight).charmap();
            let missing: String = signs.chars().filter(|&c| map.map(c).is_none()).collect();
            assert!(missing.is_empty(), "{weight:?} lacks {missing}");
        }
    }

    #[test]
    fn a_long_name_is_shortened_to_what_fits() {
        let name = "a very long name for one short tube".repeat(1000);
        let short = shorten(&name, 3.0, Weight::Regular, 40.0);
        assert!(short.ends_with('…') && width_mm(&short, 3.0, Weight::Regular) <= 40.0, "{short}");
        assert!(width_mm(&short, 3.0, Weight::Regular) > 30.0, "{short}");
        assert_eq!(shorten("T1", 3.0, Weight::Regular, 40.0), "T1");
        assert_eq!(shorten("T1", 3.0, Weight::Regular, 0.5), "");
        assert_eq!(shorten(&"漢".repeat(50), 3.0, Weight::Regular, 20.0).chars().last(), Some('…'));
    }

    #[test]
    fn lines_break_at_blanks_and_none_is_too_wide() {
        let lines = break_lines("one two three four fivefivefivefivefivefive six", 3.0, Weight::Regular, 25.0);
        assert!(lines.len() >= 3, "{lines:?}");
        for line in &lines {
            assert!(width_mm(line, 3.0, Weight::Regular) <= 25.0, "{line}");
        }
        assert!(break_lines("  ", 3.0, Weight::Regular, 25.0).is_empty());
    }

    #[test]
    fn control_and_direction_signs_are_shown_not_obeyed() {
        assert_eq!(plain("a\nb\u{202E}c\u{0}"), "a\u{FFFD}b\u{FFFD}c\u{FFFD}");
        assert!(matches!(plain("Tube 7 ±"), Cow::Borrowed(_)));
    }
}
