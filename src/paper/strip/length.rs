//! The strip that lies along the tube, in parts where the tube is longer than the sheet.

use super::{StripMark, StripRun, StripSheet, StripSpec};
use crate::domain::units::{LengthUnit, MM_PER_INCH, decimal};
use crate::paper::font::{Weight, break_lines, plain, shorten, width_mm};
use crate::paper::palette::{GRID, INK, Look, SOFT_INK, tint};
use crate::paper::scene::{Across, Colour, Fill, Hatch, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Heights of the tube's name at the head and of each line of words below it, mm, and the size of those words.
const NAME_MM: f64 = 4.6;
const LINE_MM: f64 = 3.0;
const WORDS_MM: f64 = 2.4;
/// Heights of the scale, and of the row of one piece, mm.
const SCALE_MM: f64 = 6.0;
const ROW_MM: f64 = 8.4;
/// Numbers of the ruler stand no nearer to its ends, where the letters of joints are, mm.
const ENDS_MM: f64 = 7.5;
/// Height of a run's bar at the foot of its row, mm.
const BAR_MM: f64 = 4.6;

/// How a length strip is divided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parts {
    pub(super) count: u32,
    part_mm: f64,
    length_mm: f64,
}

/// As few parts as fit `room_mm`, as equal as whole tens of millimetres allow.
pub(super) fn parts(length_mm: f64, room_mm: f64) -> Parts {
    let mut count = 1;
    loop {
        let even = length_mm / f64::from(count);
        let part_mm = if count == 1 { even } else { (even / 10.0).ceil() * 10.0 };
        if part_mm <= room_mm {
            // rounding up to tens can leave the last part with nothing
            let last = f64::from(count - 1) * part_mm;
            let count = if count > 1 && last >= length_mm - 1e-9 { count - 1 } else { count };
            return Parts { count, part_mm, length_mm };
        }
        count += 1;
    }
}

impl Parts {
    /// From and to of part `index`, mm from the index end.
    pub(super) fn span(&self, index: u32) -> (f64, f64) {
        let from = f64::from(index) * self.part_mm;
        (from, (from + self.part_mm).min(self.length_mm))
    }
}

pub(super) fn height_mm(spec: &StripSpec, sheet: &StripSheet, parts: &Parts) -> f64 {
    let rows = u32::try_from(spec.piece_names.len().max(1)).unwrap_or(1);
    head_mm(spec, sheet, parts) + SCALE_MM + f64::from(rows) * ROW_MM
}

/// Height of the head: the same for all parts of a tube, so that their joints meet.
fn head_mm(spec: &StripSpec, sheet: &StripSheet, parts: &Parts) -> f64 {
    let lines = (0..parts.count).map(|i| head_lines(spec, sheet, parts, i).len()).max().unwrap_or(1);
    NAME_MM + f64::from(u32::try_from(lines).unwrap_or(1)) * LINE_MM
}

/// What stands below the name of a part, broken into lines as long as the part.
fn head_lines(spec: &StripSpec, sheet: &StripSheet, parts: &Parts, index: u32) -> Vec<String> {
    let (from, to) = parts.span(index);
    let part = if parts.count > 1 { format!("part {} of {}, ", index + 1, parts.count) } else { String::new() };
    let unit = if sheet.ruler == LengthUnit::Inch { "inches" } else { "mm" };
    let edge = if index == 0 { "left edge at the index end, " } else { "" };
    let from_end = if index == 0 { unit.to_string() } else { format!("{unit} from the index end") };
    let mut words = format!("{part}{edge}{from_end}");
    if index == 0 && !spec.note.is_empty() {
        words = format!("{words} · {}", plain(&spec.note));
    }
    break_lines(&words, WORDS_MM, Weight::Regular, to - from - 3.0)
}

pub(super) fn draw(scene: &mut Scene, at: Point, spec: &StripSpec, sheet: &StripSheet, parts: &Parts, index: u32) {
    let height = height_mm(spec, sheet, parts);
    let strip = Strip { at, span: parts.span(index), height, head_mm: head_mm(spec, sheet, parts), spec, sheet };
    let region = Region::new(at[0], at[1], strip.span.1 - strip.span.0, strip.height);
    scene.add(Mark::rectangle(region).stroked(Stroke::new(GRID, 0.15)));
    strip.head(scene, parts, index);
    strip.scale(scene);
    for (row, name) in spec.piece_names.iter().enumerate() {
        strip.row(scene, row, name);
    }
    if spec.runs.is_empty() {
        let place = [at[0] + 12.0, at[1] + strip.head_mm + SCALE_MM + ROW_MM - BAR_MM / 2.0];
        let room = region.width - 14.0;
        let words = shorten("no runs on this tube", 2.6, Weight::Regular, room).into_owned();
        scene.text(Text::new(place, words, 2.6).coloured(SOFT_INK));
    }
    if index > 0 {
        strip.joint(scene, region.left, 1.0, index - 1);
    } else {
        let edge = vec![[region.left, region.top], [region.left, region.bottom()]];
        scene.add(Mark::path(edge, false).stroked(Stroke::new(INK, 0.5)).titled("index end"));
    }
    if index + 1 < parts.count {
        strip.joint(scene, region.right(), -1.0, index);
    }
}

struct Strip<'a> {
    at: Point,
    span: (f64, f64),
    height: f64,
    head_mm: f64,
    spec: &'a StripSpec,
    sheet: &'a StripSheet,
}

impl Strip<'_> {
    fn x(&self, z_mm: f64) -> f64 {
        self.at[0] + z_mm - self.span.0
    }

    fn head(&self, scene: &mut Scene, parts: &Parts, index: u32) {
        let room = self.span.1 - self.span.0 - 3.0;
        let name = plain(&self.spec.tube);
        let name = shorten(&name, 3.2, Weight::Bold, room).into_owned();
        let place = [self.at[0] + 1.5, self.at[1] + 1.2];
        scene.text(Text::new(place, name, 3.2).bold().anchored(Across::Start, Upright::Top).coloured(INK));
        for (i, words) in head_lines(self.spec, self.sheet, parts, index).into_iter().enumerate() {
            let down = NAME_MM + f64::from(u32::try_from(i).unwrap_or(0)) * LINE_MM;
            let place = [self.at[0] + 1.5, self.at[1] + down];
            scene.text(Text::new(place, words, WORDS_MM).anchored(Across::Start, Upright::Top).coloured(SOFT_INK));
        }
    }

    fn scale(&self, scene: &mut Scene) {
        let y = self.at[1] + self.head_mm + SCALE_MM;
        if self.sheet.ruler == LengthUnit::Inch {
            self.inches(scene, y)
        } else {
            self.millimetres(scene, y)
        }
        scene.line([self.at[0], y], [self.x(self.span.1), y], Stroke::new(SOFT_INK, 0.12));
    }

    /// A tick every 1/32 in, longer at each coarser division, numbered at the whole inches.
    fn inches(&self, scene: &mut Scene, y: f64) {
        let step = MM_PER_INCH / 32.0;
        let mut k = (self.span.0 / step - 1e-9).ceil();
        while k * step <= self.span.1 + 1e-9 {
            let (z, x) = (k * step, self.x(k * step));
            let high = [(32.0, 2.4), (16.0, 2.0), (8.0, 1.6), (4.0, 1.25), (2.0, 0.95), (1.0, 0.65)];
            let tick = high.iter().find(|(of, _)| k.rem_euclid(*of) < 0.5).map_or(0.65, |t| t.1);
            scene.line([x, y], [x, y - tick], Stroke::new(SOFT_INK, 0.1));
            if k.rem_euclid(32.0) < 0.5 && z > self.span.0 + ENDS_MM && z < self.span.1 - ENDS_MM {
                self.number(scene, [x, y - 2.7], decimal(z / MM_PER_INCH, 0));
            }
            k += 1.0;
        }
    }

    fn number(&self, scene: &mut Scene, at: Point, number: String) {
        let text = Text::new(at, number, 2.2);
        scene.text(text.anchored(Across::Middle, Upright::Baseline).coloured(SOFT_INK));
    }

    /// A tick every 5 mm, longer every 10, numbered every 20.
    fn millimetres(&self, scene: &mut Scene, y: f64) {
        let mut k = (self.span.0 / 5.0).ceil();
        while k * 5.0 <= self.span.1 + 1e-9 {
            let (z, x) = (k * 5.0, self.x(k * 5.0));
            let long = k.rem_euclid(2.0) < 0.5;
            scene.line([x, y], [x, y - if long { 2.0 } else { 1.2 }], Stroke::new(SOFT_INK, 0.12));
            // numbers at the very ends would stand outside the cut, or on a letter
            let inside = z > self.span.0 + ENDS_MM && z < self.span.1 - ENDS_MM;
            if k.rem_euclid(4.0) < 0.5 && inside {
                self.number(scene, [x, y - 2.4], decimal(z, 0));
            }
            k += 1.0;
        }
    }

    fn row(&self, scene: &mut Scene, row: usize, name: &str) {
        let steps = f64::from(u32::try_from(row).unwrap_or(0));
        let top = self.at[1] + self.head_mm + SCALE_MM + steps * ROW_MM;
        let room = self.span.1 - self.span.0 - 3.0;
        let words = format!("piece {}", plain(name));
        let words = shorten(&words, 2.4, Weight::Regular, room).into_owned();
        let place = [self.at[0] + 1.5, top + 1.1];
        let named = place[0] + width_mm(&words, 2.4, Weight::Regular) + 1.5;
        for mark in self.spec.marks.iter().filter(|m| m.pieces.contains(&row)) {
            self.mark(scene, mark, top + 0.3, named);
        }
        if self.spec.marks.iter().any(|m| m.pieces.contains(&row)) {
            // no hatching behind the name
            let region = Region::new(place[0] - 0.7, top + 0.6, named - place[0], 3.0);
            scene.add(Mark::rectangle(region).filled(Colour::WHITE));
        }
        scene.text(Text::new(place, words, 2.4).anchored(Across::Start, Upright::Top).coloured(INK));
        let mut runs: Vec<&StripRun> = self.spec.runs.iter().filter(|r| r.piece == row).collect();
        runs.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm).then(a.to_mm.total_cmp(&b.to_mm)));
        for run in runs {
            self.run(scene, run, top + ROW_MM - BAR_MM - 0.4);
        }
        scene.line([self.at[0], top + ROW_MM], [self.x(self.span.1), top + ROW_MM], Stroke::new(GRID, 0.12));
    }

    fn run(&self, scene: &mut Scene, run: &StripRun, top: f64) {
        let (from, to) = (run.from_mm.max(self.span.0), run.to_mm.min(self.span.1));
        if to <= from {
            return;
        }
        let (a, b) = (self.x(from), self.x(to));
        let text = |mm: f64| (self.sheet.length_text)(mm);
        let (start, end) = (text(run.from_mm), text(run.to_mm));
        let bar = Mark::rectangle(Region::new(a, top, b - a, BAR_MM)).filled(tint(Look::of(3).colour, 0.15));
        scene.add(bar.titled(format!("run from {start} to {end}")));
        for (z, inside) in [(run.from_mm, run.from_mm >= from), (run.to_mm, run.to_mm <= to)] {
            if inside {
                let x = self.x(z);
                scene.line([x, top - 0.3], [x, top + BAR_MM], Stroke::new(INK, 0.3));
            }
        }
        let size = WORDS_MM;
        let along = format!("{start} – {end}");
        let chance = run.chance.map_or(String::new(), |c| format!(" · {} %", decimal(100.0 * c, 0)));
        let across = run.across_mm.map_or(String::new(), |mm| format!(" · across {}", text(mm)));
        // what says where comes before how surely
        let sayings = [format!("{along}{across}{chance}"), format!("{along}{across}"), along];
        let fits = |s: &&String| width_mm(s, size, Weight::Regular) <= b - a - 1.5;
        if let Some(words) = sayings.iter().find(fits) {
            let words = words.as_str();
            let middle = [f64::midpoint(a, b), top + BAR_MM / 2.0];
            scene.text(Text::new(middle, words, size).anchored(Across::Middle, Upright::Middle).coloured(INK));
        }
    }

    /// A patch that no run may touch: hatched above the bars of its row, since a run may lie
    /// beside it on the same piece; its word stands beside it where it fits. `named`: where the
    /// name of the row ends.
    fn mark(&self, scene: &mut Scene, mark: &StripMark, top: f64, named: f64) {
        let (from, to) = (mark.from_mm.max(self.span.0), mark.to_mm.min(self.span.1));
        if to < from {
            return;
        }
        // a hole read as a point is seen all the same
        let half = (0.6 - (to - from) / 2.0).max(0.0);
        let (a, b) = (self.x((from - half).max(self.span.0)), self.x((to + half).min(self.span.1)));
        let hatch = Hatch { turn_deg: 45.0, spacing_mm: 0.9, width_mm: 0.2, colour: INK, crossed: true };
        let region = Region::new(a, top, b - a, ROW_MM - BAR_MM - 0.9);
        let why = plain(&mark.why).into_owned();
        let title = format!("mark {why} from {} to {}", decimal(mark.from_mm, 1), decimal(mark.to_mm, 1));
        let fill = Fill { colour: None, hatch: Some(hatch) };
        scene.add(Mark::rectangle(region).filled(fill).stroked(Stroke::new(INK, 0.2)).titled(title));
        // beside the patch, behind the name of its row; before it where the strip ends
        let (left, right) = ((b + 0.8).max(named), a - 0.8);
        let (behind, before) = (self.x(self.span.1) - 1.0 - left, right - named);
        let (at, room, side) =
            if behind >= before.min(12.0) { (left, behind, Across::Start) } else { (right, before, Across::End) };
        let words = shorten(&why, 2.2, Weight::Regular, room.min(24.0));
        if room > 3.0 && !words.is_empty() {
            scene.text(Text::new([at, top + 0.4], words, 2.2).anchored(side, Upright::Top).coloured(INK));
        }
    }

    /// Half a diamond on each side of a joint, with the same letter: together they make a whole one.
    fn joint(&self, scene: &mut Scene, x: f64, inward: f64, joint: u32) {
        let edge = vec![[x, self.at[1]], [x, self.at[1] + self.height]];
        scene.add(Mark::path(edge, false).stroked(Stroke::new(INK, 0.3).dashed(&[1.5, 1.0])).titled("joint"));
        let y = self.at[1] + self.head_mm + SCALE_MM / 2.0 - 1.0;
        let half = vec![[x, y - 2.2], [x + inward * 2.2, y], [x, y + 2.2]];
        scene.add(Mark::path(half, true).filled(INK).titled("joint"));
        let letter = char::from_u32(u32::from('A') + joint % 26).unwrap_or('A').to_string();
        let across = if inward > 0.0 { Across::Start } else { Across::End };
        let text = Text::new([x + inward * 3.0, y], letter, 3.0).bold();
        scene.text(text.anchored(across, Upright::Middle).coloured(INK));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_cover_the_tube_without_gap_or_overlap_and_none_is_empty() {
        for tenths in 150..30_000 {
            let length = f64::from(tenths) / 10.0;
            let p = parts(length, 190.0);
            let mut end = 0.0;
            for i in 0..p.count {
                let (from, to) = p.span(i);
                assert!((from - end).abs() < 1e-9 && to > from && to - from <= 190.0, "{length}: {from} {to}");
                end = to;
            }
            assert!((end - length).abs() < 1e-9, "{length}: {end}");
        }
    }

    #[test]
    fn a_tube_that_fits_is_one_part_of_its_very_length() {
        let p = parts(187.3, 190.0);
        assert_eq!((p.count, p.span(0)), (1, (0.0, 187.3)));
    }
}
