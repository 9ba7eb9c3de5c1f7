//! Pages of the list: what stands on each, and room in two columns for one entry after another.

use super::block::{Columns, WORDS_MM, words};
use super::legend;
use super::spec::{BenchSheet, Entry};
use crate::numeric::summary::count;
use crate::output::cautions;
use crate::paper::font::{Weight, break_lines, plain, shorten, width_mm};
use crate::paper::head::MARGIN_MM;
use crate::paper::palette::{INK, SOFT_INK};
use crate::paper::scene::{Across, Point, Region, Scene, Text, Upright};

/// Height of a heading over tubes, mm.
pub(super) const HEADING_MM: f64 = 6.0;
/// Space between the two columns, mm.
const BETWEEN_MM: f64 = 4.0;
/// Height of the titles of the columns, mm.
const TITLES_MM: f64 = 4.0;
/// Distance between lines of words, mm.
const LINE_MM: f64 = 3.9;
/// Size of the page's heading, mm.
const HEAD_MM: f64 = 4.2;
/// Room for "page 100 of 100", mm.
const NUMBER_MM: f64 = 28.0;
/// Most lines of one tube that is not split.
const MOST_LINES: usize = 3;

fn column_mm(page_mm: f64) -> f64 {
    (page_mm - 2.0 * MARGIN_MM - BETWEEN_MM) / 2.0
}

/// Name, place of the words behind it, and those words in lines.
fn left_lines(tube: &str, why: &str, width: f64) -> (String, f64, Vec<String>) {
    let name = shorten(&plain(tube), WORDS_MM, Weight::Bold, width * 0.45).into_owned();
    let indent = width_mm(&name, WORDS_MM, Weight::Bold) + 1.5;
    let mut lines = break_lines(&plain(why), WORDS_MM, Weight::Regular, width - indent);
    if lines.len() > MOST_LINES {
        let rest = lines[MOST_LINES - 1..].join(" ");
        lines.truncate(MOST_LINES - 1);
        lines.push(shorten(&rest, WORDS_MM, Weight::Regular, width - indent).into_owned());
    }
    (name, indent, lines)
}

fn left_mm(lines: usize) -> f64 {
    count(lines.max(1)) * LINE_MM + 0.6
}

pub(super) struct Pages<'a> {
    sheet: &'a BenchSheet,
    size: (f64, f64),
    pages: Vec<Scene>,
    column: usize,
    next_y: f64,
    foot: Vec<String>,
    columns: Columns,
    /// Where the first column of this page ended, once the second is begun.
    first_end_y: f64,
}

impl<'a> Pages<'a> {
    pub(super) fn new(entries: &[Entry], sheet: &'a BenchSheet) -> Pages<'a> {
        let size = sheet.paper.upright_mm();
        let foot = break_lines(cautions::IN_ONE_LINE, WORDS_MM, Weight::Regular, size.0 - 2.0 * MARGIN_MM);
        let columns = Columns::of(entries, sheet, column_mm(size.0));
        let mut pages =
            Pages { sheet, size, pages: Vec::new(), column: 0, next_y: 0.0, foot, columns, first_end_y: 0.0 };
        pages.new_page();
        pages
    }

    pub(super) fn column_mm(&self) -> f64 {
        column_mm(self.size.0)
    }

    pub(super) fn columns(&self) -> Columns {
        self.columns
    }

    fn legend(&self) -> Region {
        let width = self.size.0 - 2.0 * MARGIN_MM;
        Region::new(MARGIN_MM, MARGIN_MM + 6.0, width, legend::height_mm(self.sheet, width))
    }

    fn top_y(&self) -> f64 {
        self.legend().bottom() + TITLES_MM + 1.0
    }

    fn bottom_y(&self) -> f64 {
        let lines = count(self.foot.len());
        self.size.1 - MARGIN_MM - lines * LINE_MM - 0.5
    }

    /// Room left in this column, and in an empty one, mm.
    pub(super) fn room_mm(&self) -> f64 {
        self.bottom_y() - self.next_y
    }

    pub(super) fn full_mm(&self) -> f64 {
        self.bottom_y() - self.top_y()
    }

    pub(super) fn at_top(&self) -> bool {
        self.next_y <= self.top_y() + 1e-9
    }

    pub(super) fn next_column(&mut self) {
        if self.column == 0 {
            self.column = 1;
            self.first_end_y = self.next_y;
            self.next_y = self.top_y();
        } else {
            self.new_page();
        }
    }

    /// The page and the place for something of this height, which the caller knows to fit.
    pub(super) fn take(&mut self, height_mm: f64) -> (&mut Scene, Point) {
        let across = if self.column == 0 { 0.0 } else { self.column_mm() + BETWEEN_MM };
        let at = [MARGIN_MM + across, self.next_y];
        self.next_y += height_mm;
        let last = self.pages.len() - 1;
        (&mut self.pages[last], at)
    }

    /// A heading that stays with what follows, `next_mm` high.
    pub(super) fn heading(&mut self, said: &str, next_mm: f64) {
        if HEADING_MM + next_mm > self.room_mm() && !self.at_top() {
            self.next_column();
        }
        let said = shorten(&plain(said), HEAD_MM, Weight::Bold, self.column_mm()).into_owned();
        let (scene, [x, y]) = self.take(HEADING_MM);
        scene.text(Text::new([x, y + 4.4], said, HEAD_MM).bold().coloured(INK));
    }

    /// Goes back to the foot of the first column, if a heading and these tubes that are not split fit there and not here.
    pub(super) fn back_for_the_rest(&mut self, rest: &[Entry]) {
        let one = |e: &Entry| match e {
            Entry::Left { tube, why } => self.left_mm(tube, why),
            Entry::Heading(_) | Entry::Tube(_) => HEADING_MM,
        };
        let needed: f64 = rest.iter().map(one).sum();
        if self.column == 1 && needed > self.room_mm() && needed <= self.bottom_y() - self.first_end_y {
            (self.column, self.next_y) = (0, self.first_end_y);
        }
    }

    /// Height of a tube that is not split, mm.
    pub(super) fn left_mm(&self, tube: &str, why: &str) -> f64 {
        left_mm(left_lines(tube, why, self.column_mm()).2.len())
    }

    /// A tube that is not split.
    pub(super) fn left(&mut self, tube: &str, why: &str) {
        let (name, indent, lines) = left_lines(tube, why, self.column_mm());
        let height = left_mm(lines.len());
        if height > self.room_mm() {
            self.next_column();
        }
        let (scene, [x, y]) = self.take(height);
        scene.text(words([x, y + 0.5], &name, Across::Start).bold());
        for (i, line) in (0u32..).zip(&lines) {
            scene.text(words([x + indent, y + 0.5 + f64::from(i) * LINE_MM], line, Across::Start));
        }
    }

    fn new_page(&mut self) {
        let s = self.sheet;
        let mut page = Scene::new(self.size.0, self.size.1, "Bench list");
        page.description = "What to mark, split and saw, tube by tube, with boxes to tick.".into();
        let room = self.size.0 - 2.0 * MARGIN_MM - NUMBER_MM;
        let mut how = s.how.clone();
        if !s.origin.is_empty() {
            how = format!("{}; {how}", s.origin);
        }
        let how = plain(&how);
        let how = shorten(&how, WORDS_MM, Weight::Regular, room * 0.72).into_owned();
        let behind = width_mm(&how, WORDS_MM, Weight::Regular) + 2.0;
        let lot = format!("Bench list, lot {}", plain(&s.lot));
        let lot = shorten(&lot, HEAD_MM, Weight::Bold, room - behind).into_owned();
        let after = MARGIN_MM + width_mm(&lot, HEAD_MM, Weight::Bold) + 2.0;
        page.text(Text::new([MARGIN_MM, MARGIN_MM + 3.6], lot, HEAD_MM).bold().coloured(INK));
        page.text(Text::new([after, MARGIN_MM + 3.6], how, WORDS_MM).coloured(INK));
        let region = self.legend();
        legend::draw(&mut page, s, region);
        let (width, c) = (self.column_mm(), self.columns);
        for left in [MARGIN_MM, MARGIN_MM + width + BETWEEN_MM] {
            let y = region.bottom() + TITLES_MM;
            let mut title = |x: f64, said: &str, across: Across| {
                let text = Text::new([left + x, y], said, WORDS_MM).anchored(across, Upright::Baseline);
                page.text(text.coloured(SOFT_INK));
            };
            title(c.along - 1.4, "piece", Across::End);
            title(c.along, &format!("along, {}", s.units.word()), Across::Start);
            title(c.across, "across", Across::End);
            title(c.chance, "chance", Across::Start);
            let fits = |said: &&&str| width_mm(said, WORDS_MM, Weight::Regular) <= width - c.tick;
            if let Some(said) = ["got, or why not", "why not", "got"].iter().find(fits) {
                title(c.tick, said, Across::Start);
            }
        }
        for (i, line) in (0u32..).zip(&self.foot) {
            let y = self.bottom_y() + 3.4 + f64::from(i) * LINE_MM;
            page.text(Text::new([MARGIN_MM, y], line.as_str(), WORDS_MM).coloured(INK));
        }
        self.pages.push(page);
        (self.column, self.next_y) = (0, self.top_y());
    }

    pub(super) fn finish(mut self) -> Vec<Scene> {
        let count = self.pages.len();
        for (i, page) in self.pages.iter_mut().enumerate() {
            let text = format!("page {} of {count}", i + 1);
            let at = [self.size.0 - MARGIN_MM, MARGIN_MM + 3.6];
            page.text(Text::new(at, text, WORDS_MM).anchored(Across::End, Upright::Baseline).coloured(INK));
            page.title = format!("Bench list, page {} of {count}", i + 1);
        }
        self.pages
    }
}
