//! The block of one tube.

use super::spec::{AsGoodMark, BenchRun, BenchSheet, BenchTube, Entry, sureness};
use crate::numeric::summary::count;
use crate::output::figures::index_end::{beside_the_index_line, index_mark};
use crate::output::figures::section::{around, polar, ring};
use crate::output::words::{Signs, round_the_clock};
use crate::paper::font::{Weight, break_lines, plain, shorten, width_mm};
use crate::paper::palette::{GRID, INK, SOFT_INK, WASH};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};
use std::ops::Range;

/// Sizes of type, mm: 8.5 pt for words, 10 pt for figures, 11.5 pt for names and the split.
pub(super) const WORDS_MM: f64 = 3.0;
pub(super) const FIGURES_MM: f64 = 3.55;
const NAME_MM: f64 = 4.06;
/// Heights of the lines of a block, mm.
const NAME_LINE_MM: f64 = 5.1;
const RANGE_LINE_MM: f64 = 4.6;
const NOTE_LINE_MM: f64 = 3.9;
const ROW_MM: f64 = 4.1;
const WHY_LINE_MM: f64 = 6.2;
/// Space under a block, mm.
const GAP_MM: f64 = 0.9;
/// Room of the drawing of the end, mm, and the radius it is drawn with.
const DRAWING_MM: f64 = 20.2;
const RADIUS_MM: f64 = 5.7;
/// Side of a box to tick, mm.
const BOX_MM: f64 = 3.3;
/// A line to write on beside each run is at least so long, mm.
const LEAST_WHY_MM: f64 = 8.0;

/// Where the columns of the rows stand, mm from the left edge of the block: as wide as this list needs them, the rest is to
/// write on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Columns {
    pub(super) piece: f64,
    pub(super) along: f64,
    /// Right edge.
    pub(super) across: f64,
    pub(super) chance: f64,
    /// Left edge of the box.
    pub(super) tick: f64,
    /// Where the line to write on begins; `None` where none worth it is left: then one stands under each tube.
    pub(super) why: Option<f64>,
}

impl Columns {
    /// For the blocks of this list.
    pub(super) fn of(entries: &[Entry], sheet: &BenchSheet, block_mm: f64) -> Columns {
        let tubes = entries.iter().filter_map(|e| if let Entry::Tube(t) = e { Some(t) } else { None });
        let runs: Vec<&BenchRun> = tubes.flat_map(|t| &t.pieces).flat_map(|p| &p.runs).collect();
        let widest = |least: &str, weight, text: &dyn Fn(&BenchRun) -> String| {
            let one = |t: &str| width_mm(t, FIGURES_MM, weight);
            runs.iter().map(|r| one(&text(r))).fold(one(least), f64::max)
        };
        let along = DRAWING_MM + 4.6;
        let across = along + widest("along, mm", Weight::Regular, &|r| span(r, sheet)) + 2.0;
        let across = across + widest("across", Weight::Regular, &|r| sheet.bare(r.across_mm)).max(11.0);
        let chance = across + 1.6;
        let tick = (chance + width_mm("chance", WORDS_MM, Weight::Regular) + 1.8).min(block_mm - BOX_MM - 0.3);
        let why = tick + BOX_MM + 1.4;
        let why = (block_mm - why >= LEAST_WHY_MM).then_some(why);
        Columns { piece: DRAWING_MM + 1.2, along, across, chance, tick, why }
    }
}

/// From where to where a run goes.
fn span(run: &BenchRun, sheet: &BenchSheet) -> String {
    format!("{}–{}", sheet.bare(run.from_mm), sheet.bare(run.to_mm))
}

/// One row of a block: a run, or the pieces that have none for the same reason.
#[derive(Debug, Clone)]
enum Row<'a> {
    Run { piece: usize, first: bool, run: BenchRun },
    Without { pieces: Vec<String>, why: &'a str },
}

/// The runs piece by piece, then the pieces without.
fn rows_of(tube: &BenchTube) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    let mut without: Vec<(&str, Vec<String>)> = Vec::new();
    for p in &tube.pieces {
        rows.extend(p.runs.iter().enumerate().map(|(i, r)| Row::Run { piece: p.piece, first: i == 0, run: *r }));
        if p.runs.is_empty() {
            match without.iter_mut().find(|w| w.0 == p.without) {
                Some(same) => same.1.push(p.piece.to_string()),
                None => without.push((p.without, vec![p.piece.to_string()])),
            }
        }
    }
    rows.extend(without.into_iter().map(|(why, pieces)| Row::Without { pieces, why }));
    rows
}

pub(super) struct Block<'a> {
    tube: &'a BenchTube,
    sheet: &'a BenchSheet,
    columns: Columns,
    width_mm: f64,
    rows: Vec<Row<'a>>,
    notes: Vec<String>,
}

impl<'a> Block<'a> {
    pub(super) fn new(tube: &'a BenchTube, sheet: &'a BenchSheet, columns: Columns, width_mm: f64) -> Block<'a> {
        let lines = |n: &String| break_lines(&plain(n), WORDS_MM, Weight::Regular, width_mm - 1.0);
        let notes = tube.notes.iter().flat_map(lines).collect();
        Block { tube, sheet, columns, width_mm, rows: rows_of(tube), notes }
    }

    pub(super) fn rows(&self) -> usize {
        self.rows.len()
    }

    /// Height above the rows: more where the block begins than where it goes on.
    fn head_mm(&self, begins: bool) -> f64 {
        let notes = count(self.notes.len()) * NOTE_LINE_MM;
        if begins { NAME_LINE_MM + self.range_mm() + notes } else { NAME_LINE_MM }
    }

    /// Height of the line of other places that do as well: two lines where the distance to the next one has no room beside.
    fn range_mm(&self) -> f64 {
        let Some(next) = self.next() else { return RANGE_LINE_MM };
        let said = self.as_good();
        let width = |t: &str, size: f64| width_mm(t, size, Weight::Regular);
        let taken = match &said {
            Ok(words) => width(words, WORDS_MM),
            Err(range) => width("as good", WORDS_MM) + 1.3 + width(range, FIGURES_MM),
        };
        let beside = width("next", WORDS_MM) + 1.0 + width(&next, FIGURES_MM);
        if taken + 2.0 + beside <= self.width_mm { RANGE_LINE_MM } else { 2.0 * RANGE_LINE_MM }
    }

    /// About how far apart the split lines are to be.
    fn next(&self) -> Option<String> {
        self.tube.split.next_mm.map(|mm| self.sheet.bare(mm))
    }

    /// Which places do as well: in words, or as figures.
    fn as_good(&self) -> Result<&'static str, String> {
        match &self.tube.as_good {
            AsGoodMark::Words(said) => Ok(said),
            AsGoodMark::Range { along_mm, deg } => {
                let [a, b] = along_mm.map(|mm| self.sheet.bare(mm));
                let [from, to] = deg.map(|d| format!("{:.0}", round_the_clock(d.round())));
                Err(format!("{a} to {b}, {from} to {to}°"))
            }
        }
    }

    fn body_mm(&self, rows: &Range<usize>) -> f64 {
        let taken = count(rows.len()) * ROW_MM;
        if rows.start == 0 { taken.max(DRAWING_MM) } else { taken }
    }

    /// Height of a part of the block, mm; the last part has a line to write on.
    pub(super) fn height_mm(&self, rows: Range<usize>) -> f64 {
        let why = if self.columns.why.is_none() && rows.end >= self.rows.len() { WHY_LINE_MM } else { 0.0 };
        self.head_mm(rows.start == 0) + self.body_mm(&rows) + why + GAP_MM
    }

    /// How many rows from `from` on fit.
    pub(super) fn fitting(&self, from: usize, room_mm: f64) -> usize {
        let left = self.rows.len() - from;
        (0..=left).rev().find(|n| self.height_mm(from..from + n) <= room_mm).unwrap_or(0)
    }

    pub(super) fn draw(&self, scene: &mut Scene, at: Point, rows: Range<usize>) {
        let [left, top] = at;
        scene.line([left, top], [left + self.width_mm, top], Stroke::new(INK, 0.35));
        let begins = rows.start == 0;
        self.name(scene, at, begins);
        let body = top + self.head_mm(begins);
        if begins {
            self.range(scene, [left, top + NAME_LINE_MM]);
            for (i, line) in (0u32..).zip(&self.notes) {
                let y = top + NAME_LINE_MM + self.range_mm() + f64::from(i) * NOTE_LINE_MM;
                scene.text(words([left, y + 0.6], line, Across::Start));
            }
            self.end(scene, [left + DRAWING_MM / 2.0, body + DRAWING_MM / 2.0]);
        }
        for (i, row) in (0u32..).zip(&self.rows[rows.clone()]) {
            self.row(scene, [left, body + f64::from(i) * ROW_MM], row);
        }
        if self.columns.why.is_none() && rows.end >= self.rows.len() {
            let y = body + self.body_mm(&rows) + WHY_LINE_MM - 1.4;
            scene.text(Text::new([left, y], "why not", WORDS_MM).coloured(SOFT_INK));
            let line = Stroke::new(SOFT_INK, 0.2);
            let from = left + width_mm("why not", WORDS_MM, Weight::Regular) + 1.5;
            scene.add(
                Mark::path(vec![[from, y + 0.4], [left + self.width_mm, y + 0.4]], false)
                    .stroked(line)
                    .titled("line to write on"),
            );
        }
    }

    /// Name and pile to the left, the split to the right.
    fn name(&self, scene: &mut Scene, at: Point, begins: bool) {
        let ([left, top], t) = (at, self.tube);
        let base = top + 4.4;
        let right = left + self.width_mm;
        let mut free = right;
        if begins {
            let split = format!(
                "{} {}  {}",
                self.sheet.bare(t.split.along_mm),
                self.sheet.units.word(),
                Signs::Print.degrees(t.split.deg)
            );
            scene.text(
                Text::new([right, base], split.as_str(), NAME_MM).bold().anchored(Across::End, Upright::Baseline),
            );
            free = right - width_mm(&split, NAME_MM, Weight::Bold) - 1.5;
            scene.text(
                Text::new([free, base], "split", WORDS_MM).anchored(Across::End, Upright::Baseline).coloured(INK),
            );
            free -= width_mm("split", WORDS_MM, Weight::Regular) + 2.5;
        }
        let mut beside = Vec::new();
        beside.extend(t.pile.map(|p| format!("pile {p}")));
        beside.extend((begins && t.doubtful).then(|| "doubtful".to_string()));
        beside.extend((!begins).then(|| "goes on".to_string()));
        let long = format!("{} long", self.sheet.bare(t.length_mm));
        let with: Vec<&str> = beside.iter().map(String::as_str).chain([long.as_str()]).collect();
        // a long name comes first
        let taken = width_mm(&plain(&t.name), NAME_MM, Weight::Bold)
            + width_mm(&with.join(", "), WORDS_MM, Weight::Regular)
            + 1.8;
        if begins && taken <= free - left {
            beside.push(long);
        }
        let beside = beside.join(", ");
        let kept = if beside.is_empty() { 0.0 } else { width_mm(&beside, WORDS_MM, Weight::Regular) + 1.8 };
        let name = shorten(&plain(&t.name), NAME_MM, Weight::Bold, free - left - kept).into_owned();
        let long = width_mm(&name, NAME_MM, Weight::Bold);
        scene.text(Text::new([left, base], name, NAME_MM).bold().coloured(INK));
        if !beside.is_empty() {
            scene.text(Text::new([left + long + 1.8, base], beside, WORDS_MM).coloured(INK));
        }
    }

    /// Which places do as well, and how far apart the split lines are.
    fn range(&self, scene: &mut Scene, at: Point) {
        let [left, top] = at;
        let base = top + 3.5;
        match self.as_good() {
            Ok(said) => scene.text(Text::new([left, base], said, WORDS_MM).coloured(INK)),
            Err(range) => {
                scene.text(Text::new([left, base], "as good", WORDS_MM).coloured(INK));
                let x = left + width_mm("as good", WORDS_MM, Weight::Regular) + 1.3;
                scene.text(Text::new([x, base], range, FIGURES_MM).coloured(INK));
            }
        }
        let Some(next) = self.next() else { return };
        let (right, base) = (left + self.width_mm, top + self.range_mm() - RANGE_LINE_MM + 3.5);
        scene.text(Text::new([right, base], next.as_str(), FIGURES_MM).anchored(Across::End, Upright::Baseline));
        let x = right - width_mm(&next, FIGURES_MM, Weight::Regular) - 1.0;
        scene.text(Text::new([x, base], "next", WORDS_MM).anchored(Across::End, Upright::Baseline).coloured(INK));
    }

    fn row(&self, scene: &mut Scene, at: Point, row: &Row<'_>) {
        let ([left, top], c) = (at, self.columns);
        let base = top + 3.3;
        self.got(scene, at);
        let number = |x: f64, text: String| Text::new([left + x, base], text, FIGURES_MM).bold().coloured(INK);
        let begins = matches!(row, Row::Run { first: true, .. } | Row::Without { .. });
        if begins {
            let line = [[left + DRAWING_MM + 1.0, top + 0.1], [left + self.width_mm, top + 0.1]];
            scene.line(line[0], line[1], Stroke::new(GRID, 0.2));
        }
        match row {
            Row::Run { piece, first, run } => {
                if *first {
                    scene.text(number(c.piece, piece.to_string()));
                }
                scene.text(Text::new([left + c.along, base], span(run, self.sheet), FIGURES_MM).coloured(INK));
                let across = number(c.across, self.sheet.bare(run.across_mm));
                scene.text(across.anchored(Across::End, Upright::Baseline));
                scene.text(Text::new([left + c.chance, base], sureness(run.chance), WORDS_MM).coloured(INK));
            }
            Row::Without { pieces, why } => {
                let names = pieces.join(", ");
                let x = (c.piece + width_mm(&names, FIGURES_MM, Weight::Bold) + 1.0).max(c.along);
                scene.text(number(c.piece, names));
                let why = shorten(why, WORDS_MM, Weight::Regular, c.tick - 1.0 - x).into_owned();
                scene.text(Text::new([left + x, base], why, WORDS_MM).coloured(INK));
            }
        }
    }

    /// The box to tick and, where there is room, the line to write on.
    fn got(&self, scene: &mut Scene, at: Point) {
        let ([left, top], c) = (at, self.columns);
        let region = Region::new(left + c.tick, top + (ROW_MM - BOX_MM) / 2.0, BOX_MM, BOX_MM);
        scene.add(Mark::rectangle(region).stroked(Stroke::new(INK, 0.3)).titled("box to tick"));
        if let Some(why) = c.why {
            let line = vec![[left + why, top + 3.6], [left + self.width_mm, top + 3.6]];
            scene.add(Mark::path(line, false).stroked(Stroke::new(SOFT_INK, 0.2)).titled("line to write on"));
        }
    }

    /// The index end, true to its shape, index line up, seen from outside.
    fn end(&self, scene: &mut Scene, at: Point) {
        let t = self.tube;
        let largest = t.radius_mm.iter().copied().fold(1e-9, f64::max);
        let bark = |deg: f64| around(&t.radius_mm, deg) / largest * RADIUS_MM;
        let outline = Mark::path(ring(at, bark), true).filled(WASH).stroked(Stroke::new(INK, 0.4));
        scene.add(outline.titled(format!("index end of tube {}", plain(&t.name))));
        for p in &t.pieces {
            let (inner, outer) = (RADIUS_MM * 0.25, bark(p.from_deg) + 1.1);
            let ends = vec![polar(at, p.from_deg, inner), polar(at, p.from_deg, outer)];
            let pen = Stroke::new(INK, if p.piece == 1 { 0.8 } else { 0.35 });
            scene.add(Mark::path(ends, false).stroked(pen).titled(format!("split line {}", p.piece)));
            let clear = beside_the_index_line(p.from_deg);
            let number = Text::new(polar(at, clear, bark(clear) + 3.0), p.piece.to_string(), FIGURES_MM);
            scene.text(number.anchored(Across::Middle, Upright::Middle).coloured(INK));
            let middle = polar(at, p.middle_deg, RADIUS_MM * 0.62);
            let name = Text::new(middle, p.piece.to_string(), FIGURES_MM).bold();
            scene.text(name.anchored(Across::Middle, Upright::Middle).coloured(INK));
        }
        index_mark(scene, at, bark(0.0));
    }
}

/// Ordinary words that hang from `at`.
pub(super) fn words(at: Point, said: &str, across: Across) -> Text {
    Text::new(at, said, WORDS_MM).anchored(across, Upright::Top).coloured(INK)
}
