//! Pages of strips: heading, check line, and room for one strip after another.

use crate::domain::units::MM_PER_INCH;
use crate::paper::font::{Weight, break_lines, plain, shorten};
use crate::paper::palette::{INK, SOFT_INK};
use crate::paper::scene::{Across, Mark, Point, Scene, Stroke, Text, Upright};

/// Paper left free at each edge, mm: most printers cannot reach the outer 5 mm.
pub(super) const MARGIN_MM: f64 = 10.0;
/// Where the first strip may start, mm from the top.
const TOP_MM: f64 = 38.0;
/// Free space between two strips, mm.
const GAP_MM: f64 = 5.0;
/// Size of the words at the foot and distance between their lines, mm.
const FOOT_MM: f64 = 2.4;
const FOOT_LINE_MM: f64 = 3.1;
/// Room for "page 100 of 100" at the right of the foot, mm.
const NUMBER_MM: f64 = 24.0;
/// The lines to check the printer by, mm: what each measures and what it is called.
const CHECKS: [(f64, &str); 2] = [(100.0, "100 mm"), (4.0 * MM_PER_INCH, "4 in")];
/// How the strips are used, told on every page.
const HOW: &str = "Cut along the grey lines. Wrap strip: print outwards, lower edge flush with the index end, left edge on \
                   the index line; below each number degrees and length of bark from there. Across: from the clockwise edge of the piece, along the bark, to the blank's middle.";

pub(super) struct Layout {
    size: (f64, f64),
    heading: String,
    /// Lines at the foot, first at the top.
    foot: Vec<String>,
    pages: Vec<Scene>,
    /// Where the next strip of the present row may start, and the height of that row.
    next: Point,
    row_mm: f64,
}

impl Layout {
    pub(super) fn new(size: (f64, f64), heading: &str, foot: &str) -> Layout {
        let heading = plain(heading).into_owned();
        let foot = break_lines(&plain(foot), FOOT_MM, Weight::Regular, size.0 - 2.0 * MARGIN_MM - NUMBER_MM);
        Layout { size, heading, foot, pages: Vec::new(), next: [0.0, 0.0], row_mm: 0.0 }
    }

    /// The line the words of foot line `i` stand on; the last stands level with the page number.
    fn foot_y(&self, i: usize) -> f64 {
        let above = u32::try_from(self.foot.len().max(1) - 1 - i).unwrap_or(0);
        self.size.1 - MARGIN_MM + 1.0 - f64::from(above) * FOOT_LINE_MM
    }

    pub(super) fn usable_width(&self) -> f64 {
        self.size.0 - 2.0 * MARGIN_MM
    }

    /// The page with room for a strip of the given size, and its top left corner there.
    pub(super) fn room_for(&mut self, width: f64, height: f64) -> (&mut Scene, Point) {
        let (right, bottom) = (self.size.0 - MARGIN_MM + 1e-6, self.foot_y(0) - 5.0);
        if self.next[0] > MARGIN_MM && self.next[0] + width > right {
            self.next = [MARGIN_MM, self.next[1] + self.row_mm + GAP_MM];
            self.row_mm = 0.0;
        }
        if self.pages.is_empty() || self.next[1] + height > bottom {
            self.pages.push(self.blank());
            self.next = [MARGIN_MM, TOP_MM];
            self.row_mm = 0.0;
        }
        let at = self.next;
        self.next[0] += width + GAP_MM;
        self.row_mm = self.row_mm.max(height);
        let last = self.pages.len() - 1;
        (&mut self.pages[last], at)
    }

    pub(super) fn finish(mut self) -> Vec<Scene> {
        let count = self.pages.len();
        let (width, height) = self.size;
        for (i, page) in self.pages.iter_mut().enumerate() {
            let text = format!("page {} of {count}", i + 1);
            let at = [width - MARGIN_MM, height - MARGIN_MM + 1.0];
            page.text(Text::new(at, text, 2.6).anchored(Across::End, Upright::Baseline).coloured(SOFT_INK));
            page.title = format!("Strips at true size, page {} of {count}", i + 1);
        }
        self.pages
    }

    fn blank(&self) -> Scene {
        let mut page = Scene::new(self.size.0, self.size.1, "Strips at true size");
        page.description =
            "Paper strips to wrap round tubes and lay along them, with check lines of 100 mm and 4 in.".to_string();
        let heading = if self.heading.is_empty() { "Strips at true size" } else { &self.heading };
        let heading = shorten(heading, 4.0, Weight::Bold, self.usable_width());
        page.text(Text::new([MARGIN_MM, MARGIN_MM + 4.0], heading, 4.0).bold().coloured(INK));
        let pen = || Stroke::new(INK, 0.2);
        let mut y = MARGIN_MM + 10.0;
        for (long, name) in CHECKS {
            let line = Mark::path(vec![[MARGIN_MM, y], [MARGIN_MM + long, y]], false).stroked(pen());
            page.add(line.titled(format!("{name} check line")));
            for x in [MARGIN_MM, MARGIN_MM + long] {
                page.line([x, y - 1.5], [x, y + 1.5], pen());
            }
            page.text(Text::new([MARGIN_MM + 2.0, y - 0.7], name, 2.4).coloured(SOFT_INK));
            y += 5.0;
        }
        let beside = MARGIN_MM + CHECKS[1].0 + 4.0;
        for (line, at) in [
            ("Print at 100 %, no fit to page. These lines must", y - 10.0),
            ("measure 100 mm and 4 in; if not, do not use", y - 6.4),
            ("the strips.", y - 2.8),
        ] {
            page.text(Text::new([beside, at], line, 2.9).coloured(INK));
        }
        for (i, line) in break_lines(HOW, 2.5, Weight::Regular, self.usable_width()).into_iter().enumerate() {
            let down = f64::from(u32::try_from(i).unwrap_or(0)) * 3.2;
            page.text(Text::new([MARGIN_MM, y + 3.0 + down], line, 2.5).coloured(SOFT_INK));
        }
        for (i, line) in self.foot.iter().enumerate() {
            page.text(Text::new([MARGIN_MM, self.foot_y(i)], line.as_str(), FOOT_MM).coloured(INK));
        }
        page
    }
}
