//! The first sheet: how it is done, with a drawing of the end and of the places along the tube.

use super::card::foot;
use super::{MeasuringSheet, fitted};
use crate::paper::font::{Weight, break_lines, plain, width_mm};
use crate::paper::head::MARGIN_MM;
use crate::paper::palette::{GRID, INK, SOFT_INK, WASH};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Radius of the drawn end, mm.
const END_MM: f64 = 19.0;
/// Size of the words, and distance between their lines, mm.
const WORDS_MM: f64 = 3.1;
const LINE_MM: f64 = 4.5;
/// Where the words begin under the drawing, mm.
const BELOW_MM: f64 = 82.0;

pub(super) fn pages(sheet: &MeasuringSheet) -> Vec<Scene> {
    let mut writer = Writer { sheet, pages: Vec::new(), y: 0.0 };
    writer.new_page();
    writer.drawing();
    writer.y = BELOW_MM;
    for words in &sheet.how {
        writer.paragraph("", words);
    }
    for table in &sheet.tables {
        writer.paragraph(&table.title, &table.how);
    }
    for words in &sheet.cautions {
        writer.paragraph("Caution", words);
    }
    writer.pages
}

struct Writer<'a> {
    sheet: &'a MeasuringSheet,
    pages: Vec<Scene>,
    y: f64,
}

impl Writer<'_> {
    fn new_page(&mut self) {
        let (w, h) = self.sheet.paper.upright_mm();
        let mut page = Scene::new(w, h, "How the tubes are measured");
        page.description = "Where the index line and the stations are, and how each instrument is read.".into();
        let (heading, size) = fitted(&plain(&self.sheet.heading), 4.4, Weight::Bold, w - 2.0 * MARGIN_MM);
        page.text(Text::new([MARGIN_MM, MARGIN_MM + 4.0], heading, size).bold().coloured(INK));
        foot(&mut page, &self.sheet.foot);
        self.pages.push(page);
        self.y = MARGIN_MM + 12.0;
    }

    /// A paragraph, its title in bold before it; goes on over the next page where it must.
    fn paragraph(&mut self, title: &str, words: &str) {
        let (w, h) = self.sheet.paper.upright_mm();
        let room = w - 2.0 * MARGIN_MM;
        let title = plain(title).into_owned();
        let mut lines = Vec::new();
        if !title.is_empty() {
            let (title, size) = fitted(&title, WORDS_MM, Weight::Bold, room);
            lines.push((title, size, true));
        }
        let body = break_lines(&plain(words), WORDS_MM, Weight::Regular, room);
        lines.extend(body.into_iter().map(|l| (l, WORDS_MM, false)));
        for (line, size, bold) in lines {
            if self.y + LINE_MM > h - MARGIN_MM - 8.0 {
                self.new_page();
            }
            self.y += LINE_MM;
            let text = Text::new([MARGIN_MM, self.y], line, size).coloured(INK);
            if let Some(page) = self.pages.last_mut() {
                page.text(if bold { text.bold() } else { text });
            }
        }
        self.y += 1.8;
    }

    fn drawing(&mut self) {
        let sheet = self.sheet;
        if let Some(page) = self.pages.last_mut() {
            end(page, [MARGIN_MM + 34.0, 48.0], &sheet.angles_deg);
            let left = MARGIN_MM + 84.0;
            tube(page, Region::new(left, 36.0, page.width_mm - MARGIN_MM - left - 8.0, 20.0), sheet);
        }
    }
}

/// The index end as the maker sees it: index line on top, angles, and the way they grow.
fn end(page: &mut Scene, centre: Point, angles_deg: &[f64]) {
    let at = |r: f64, deg: f64| {
        let a = deg.to_radians();
        [centre[0] + r * a.sin(), centre[1] - r * a.cos()]
    };
    page.add(Mark::circle(centre, END_MM).filled(WASH).stroked(Stroke::new(INK, 0.5)).titled("index end"));
    let bore = Mark::circle(centre, END_MM * 0.72).filled(crate::paper::palette::PAPER);
    page.add(bore.stroked(Stroke::new(INK, 0.35)).titled("bore"));
    let crowded = angles_deg.len() > 12;
    for &deg in angles_deg {
        page.line(at(END_MM, deg), at(END_MM + 2.0, deg), Stroke::new(INK, 0.25));
        let twelfths =
            (deg / 30.0 - (deg / 30.0).round()).abs() < 1e-9 || (deg / 45.0 - (deg / 45.0).round()).abs() < 1e-9;
        if !crowded || twelfths {
            let text = Text::new(at(END_MM + 5.4, deg), format!("{}°", (deg * 10.0).round() / 10.0), 2.5);
            page.text(text.anchored(Across::Middle, Upright::Middle).coloured(INK));
        }
    }
    // the index line itself, drawn on the bark from the rim
    page.line(at(END_MM - 0.2, 0.0), at(END_MM + 2.6, 0.0), Stroke::new(INK, 1.0));
    let arc: Vec<Point> = (0..=40).map(|i| at(END_MM * 0.5, 20.0 + f64::from(i) * 3.0)).collect();
    let tip = at(END_MM * 0.5, 146.0);
    page.add(Mark::path(arc, false).stroked(Stroke::new(INK, 0.5)).titled("clockwise"));
    let head = vec![tip, at(END_MM * 0.5 + 1.6, 138.0), at(END_MM * 0.5 - 1.6, 138.0)];
    page.add(Mark::path(head, true).filled(INK).titled("clockwise"));
    for (dy, words) in [(-1.6, "angles grow"), (1.8, "clockwise")] {
        let text = Text::new([centre[0] - 2.5, centre[1] + dy], words, 2.3);
        page.text(text.anchored(Across::Middle, Upright::Middle).coloured(INK));
    }
    for (i, words) in
        (0u32..).zip(["You look at the index end from outside;", "the pencil line (index line) is at 0°."])
    {
        let text = Text::new([centre[0], centre[1] + END_MM + 10.5 + 3.6 * f64::from(i)], words, 2.6);
        page.text(text.anchored(Across::Middle, Upright::Baseline).coloured(SOFT_INK));
    }
}

/// The tube from the side: index end, far end, index line, places.
fn tube(page: &mut Scene, body: Region, sheet: &MeasuringSheet) {
    let (length, places) = &sheet.along;
    page.add(Mark::rectangle(body).filled(WASH).stroked(Stroke::new(INK, 0.5)).titled("tube"));
    let middle = body.top + body.height * 0.42;
    page.line([body.left, middle], [body.right(), middle], Stroke::new(INK, 0.7));
    for (x, across, words) in [(body.left, Across::Start, "index end: 0"), (body.right(), Across::End, "far end")] {
        let text = Text::new([x, body.top - 2.0], words, 2.7).bold();
        page.text(text.anchored(across, Upright::Baseline).coloured(INK));
    }
    // a word is lowered until it stands clear of those beside it
    let mut ends = [f64::NEG_INFINITY; 4];
    let mut sorted: Vec<&(f64, String)> = places.iter().collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (z, words) in sorted {
        let x = body.left + body.width * (z / length.max(1e-9)).clamp(0.0, 1.0);
        let words = plain(words);
        let half = width_mm(&words, 2.4, Weight::Regular) / 2.0;
        let row = ends.iter().position(|e| x - half > e + 1.0).unwrap_or(ends.len() - 1);
        ends[row] = x + half;
        let drop = f64::from(u32::try_from(row).unwrap_or(0)) * 3.4;
        page.line([x, body.top], [x, body.bottom() + 2.0 + drop], Stroke::new(GRID, 0.3).dashed(&[1.2, 0.8]));
        let (words, size) = fitted(&words, 2.4, Weight::Regular, 2.0 * (page.width_mm - MARGIN_MM - x));
        let text = Text::new([x, body.bottom() + 4.6 + drop], words, size);
        page.text(text.anchored(Across::Middle, Upright::Baseline).coloured(INK));
    }
    // last, so that no place is drawn through it
    let label = Text::new([body.left + body.width * 0.3, middle - 1.4], "index line", 2.4);
    page.text(label.anchored(Across::Middle, Upright::Baseline).rimmed(WASH).coloured(INK));
    let words = "Places from the index end along the tube.";
    let below = Text::new([body.left, body.bottom() + 21.0], words, 2.6);
    page.text(below.coloured(SOFT_INK));
}
