//! The cards of the tubes.

use super::{BOX_MM, MeasuringSheet, SheetTable, fitted};
use crate::paper::font::{Weight, break_lines, plain};
use crate::paper::head::MARGIN_MM;
use crate::paper::palette::{INK, SOFT_INK};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Where the first card of a page begins, mm.
const TOP_MM: f64 = 20.0;
/// Height of a card's name line, and of the words over its boxes, mm.
const NAME_MM: f64 = 8.0;
const WORDS_MM: f64 = 4.0;
/// Width of the words before a row, and narrowest and widest box, mm.
const LABEL_MM: f64 = 19.0;
const BOX_WIDTH_MM: (f64, f64) = (13.5, 19.0);
/// Heights of a table's title and of the line over its columns, mm.
const TITLE_MM: f64 = 5.5;
const COLUMNS_MM: f64 = 4.5;
/// Free space between tables, and below a card, mm.
const GAP_MM: f64 = 4.0;
const CARD_GAP_MM: f64 = 7.0;
/// Size of the words at the foot, and distance between their lines, mm.
const FOOT_MM: f64 = 2.4;
const FOOT_LINE_MM: f64 = 3.1;
/// Room for the page number beside them, mm.
const NUMBER_MM: f64 = 26.0;

/// Part of a table that fits the page.
struct Part<'a> {
    table: &'a SheetTable,
    rows: &'a [String],
    columns: &'a [String],
    continued: bool,
}

impl Part<'_> {
    fn box_width(&self, room: f64) -> f64 {
        let columns = f64::from(u32::try_from(self.columns.len().max(1)).unwrap_or(u32::MAX));
        ((room - LABEL_MM) / columns).clamp(BOX_WIDTH_MM.0, BOX_WIDTH_MM.1)
    }

    fn size(&self, room: f64) -> (f64, f64) {
        let n = |list: &[String]| f64::from(u32::try_from(list.len()).unwrap_or(u32::MAX));
        let width = LABEL_MM + n(self.columns) * self.box_width(room);
        (width, TITLE_MM + COLUMNS_MM + n(self.rows) * BOX_MM)
    }
}

/// Cards one after another on pages.
pub(super) struct Cards<'a> {
    sheet: &'a MeasuringSheet,
    size: (f64, f64),
    pages: Vec<Scene>,
    y: f64,
}

impl<'a> Cards<'a> {
    pub(super) fn new(sheet: &'a MeasuringSheet) -> Cards<'a> {
        Cards { sheet, size: sheet.paper.upright_mm(), pages: Vec::new(), y: f64::INFINITY }
    }

    fn room(&self) -> f64 {
        self.size.0 - 2.0 * MARGIN_MM
    }

    fn bottom(&self) -> f64 {
        self.size.1 - MARGIN_MM - 8.0
    }

    /// The tables in parts that fit across and down a page.
    fn parts(&self) -> Vec<Part<'a>> {
        let columns = |room: f64| whole((room - LABEL_MM) / BOX_WIDTH_MM.0);
        let rows = whole((self.bottom() - TOP_MM - NAME_MM - TITLE_MM - COLUMNS_MM) / BOX_MM);
        let mut parts = Vec::new();
        for table in &self.sheet.tables {
            for (i, some) in table.columns.chunks(columns(self.room())).enumerate() {
                for (j, few) in table.rows.chunks(rows).enumerate() {
                    parts.push(Part { table, rows: few, columns: some, continued: i + j > 0 });
                }
            }
        }
        parts
    }

    /// Rows of parts that stand side by side.
    fn bands(&self) -> Vec<Vec<Part<'a>>> {
        let mut bands: Vec<(f64, Vec<Part<'a>>)> = Vec::new();
        for part in self.parts() {
            let width = part.size(self.room()).0;
            match bands.last_mut() {
                Some((used, band)) if *used + GAP_MM + width <= self.room() => {
                    *used += GAP_MM + width;
                    band.push(part);
                }
                _ => bands.push((width, vec![part])),
            }
        }
        bands.into_iter().map(|b| b.1).collect()
    }

    fn band_height(&self, band: &[Part<'_>]) -> f64 {
        band.iter().map(|p| p.size(self.room()).1).fold(0.0, f64::max)
    }

    fn card_height(&self) -> f64 {
        let tables: f64 = self.bands().iter().map(|b| self.band_height(b) + GAP_MM).sum();
        NAME_MM + WORDS_MM + BOX_MM + GAP_MM + tables
    }

    /// True while one page of cards without names has room for another.
    pub(super) fn blank_fits(&self) -> bool {
        self.pages.is_empty() || (self.pages.len() == 1 && self.y + self.card_height() <= self.bottom())
    }

    fn new_page(&mut self) {
        let sheet = self.sheet;
        let mut page = Scene::new(self.size.0, self.size.1, "Measuring sheet");
        page.description = "Boxes for the readings of tubes.".into();
        let (heading, size) = fitted(&plain(&sheet.heading), 3.4, Weight::Regular, self.room());
        page.text(Text::new([MARGIN_MM, MARGIN_MM + 4.0], heading, size).coloured(SOFT_INK));
        foot(&mut page, &sheet.foot);
        self.pages.push(page);
        self.y = TOP_MM;
    }

    /// A card for one tube; one that does not fit the page goes on over the next.
    pub(super) fn card(&mut self, tube: &str) {
        let fits_whole = self.card_height() <= self.bottom() - TOP_MM;
        let first_band = self.bands().first().map_or(0.0, |b| self.band_height(b));
        let least = NAME_MM + WORDS_MM + BOX_MM + GAP_MM + first_band;
        let need = if fits_whole { self.card_height() } else { least };
        if self.pages.is_empty() || self.y + need > self.bottom() {
            self.new_page();
        }
        self.name(tube, "");
        self.facts();
        for band in self.bands() {
            if self.y + self.band_height(&band) > self.bottom() {
                self.new_page();
                self.name(tube, ", continued");
            }
            self.band(&band);
        }
        self.y += CARD_GAP_MM - GAP_MM;
    }

    fn page(&mut self) -> &mut Scene {
        if self.pages.is_empty() {
            self.new_page();
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    fn name(&mut self, tube: &str, more: &str) {
        let (y, room) = (self.y, self.room());
        let line = vec![[MARGIN_MM, y], [MARGIN_MM + room, y]];
        self.page().add(Mark::path(line, false).stroked(Stroke::new(INK, 0.5)));
        let words = if tube.is_empty() { format!("Tube ____________{more}") } else { format!("Tube {tube}{more}") };
        let (words, size) = fitted(&words, 4.4, Weight::Bold, room);
        self.page().text(Text::new([MARGIN_MM, y + 5.8], words, size).bold().coloured(INK));
        self.y += NAME_MM;
    }

    fn facts(&mut self) {
        let facts = &self.sheet.facts;
        let (y, room, last) = (self.y, self.room(), facts.len().saturating_sub(1));
        let mut x = MARGIN_MM;
        for (i, fact) in facts.iter().enumerate() {
            let width = if i == last { MARGIN_MM + room - x } else { 34.0 };
            let (words, size) = fitted(&plain(fact), 2.6, Weight::Regular, width - 1.0);
            self.page().text(Text::new([x, y + 2.8], words, size).coloured(INK));
            self.a_box([x, y + WORDS_MM], width);
            x += width;
        }
        self.y += WORDS_MM + BOX_MM + GAP_MM;
    }

    fn band(&mut self, band: &[Part<'_>]) {
        let mut x = MARGIN_MM;
        for part in band {
            self.part([x, self.y], part);
            x += part.size(self.room()).0 + GAP_MM;
        }
        self.y += self.band_height(band) + GAP_MM;
    }

    fn part(&mut self, at: Point, part: &Part<'_>) {
        let ([left, top], room) = (at, self.room());
        let (wide, box_width) = (part.size(room).0, part.box_width(room));
        let more = if part.continued { ", continued" } else { "" };
        let (title, size) = fitted(&plain(&format!("{}{more}", part.table.title)), 3.0, Weight::Bold, wide);
        self.page().text(Text::new([left, top + 3.4], title, size).bold().coloured(INK));
        let over = top + TITLE_MM + COLUMNS_MM;
        let (are, size) = fitted(&plain(&part.table.rows_are), 2.4, Weight::Regular, LABEL_MM - 1.0);
        self.page().text(Text::new([left, over - 1.2], are, size).coloured(SOFT_INK));
        for (column, word) in (0u32..).zip(part.columns) {
            let x = left + LABEL_MM + f64::from(column) * box_width;
            let (word, size) = fitted(&plain(word), 2.8, Weight::Regular, box_width - 1.0);
            let text = Text::new([x + box_width / 2.0, over - 1.2], word, size);
            self.page().text(text.anchored(Across::Middle, Upright::Baseline).coloured(INK));
        }
        for (row, word) in (0u32..).zip(part.rows) {
            let y = over + f64::from(row) * BOX_MM;
            let (word, size) = fitted(&plain(word), 3.0, Weight::Regular, LABEL_MM - 2.0);
            let text = Text::new([left + LABEL_MM - 1.5, y + BOX_MM / 2.0], word, size);
            self.page().text(text.anchored(Across::End, Upright::Middle).coloured(INK));
            for column in (0u32..).take(part.columns.len()) {
                self.a_box([left + LABEL_MM + f64::from(column) * box_width, y], box_width);
            }
        }
    }

    fn a_box(&mut self, at: Point, width: f64) {
        let region = Region::new(at[0], at[1], width, BOX_MM);
        self.page().add(Mark::rectangle(region).stroked(Stroke::new(SOFT_INK, 0.25)).titled("box"));
    }

    pub(super) fn finish(self) -> Vec<Scene> {
        self.pages
    }
}

/// The words at the foot, the last line level with the page number.
pub(super) fn foot(page: &mut Scene, words: &str) {
    let lines = break_lines(&plain(words), FOOT_MM, Weight::Regular, page.width_mm - 2.0 * MARGIN_MM - NUMBER_MM);
    for (up, line) in (0u32..).zip(lines.iter().take(2).rev()) {
        let y = page.height_mm - MARGIN_MM + 1.0 - f64::from(up) * FOOT_LINE_MM;
        page.text(Text::new([MARGIN_MM, y], line.as_str(), FOOT_MM).coloured(INK));
    }
}

/// How many whole ones go into it, at least one.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of boxes on a sheet")]
fn whole(x: f64) -> usize {
    (x.floor() as usize).max(1)
}
