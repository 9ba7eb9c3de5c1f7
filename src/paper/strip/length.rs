//! The strip that lies along the tube, in parts where the tube is longer than the sheet.

use super::{StripRun, StripSheet, StripSpec};
use crate::paper::font::{Weight, plain, shorten, width_mm};
use crate::paper::palette::{GRID, INK, Look, SOFT_INK, tint};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Heights of the words at the head, of the scale, and of the row of one piece, mm.
const HEAD_MM: f64 = 5.0;
const SCALE_MM: f64 = 6.0;
const ROW_MM: f64 = 8.4;
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

pub(super) fn height_mm(spec: &StripSpec) -> f64 {
    let rows = u32::try_from(spec.piece_names.len().max(1)).unwrap_or(1);
    HEAD_MM + SCALE_MM + f64::from(rows) * ROW_MM
}

pub(super) fn draw(scene: &mut Scene, at: Point, spec: &StripSpec, sheet: &StripSheet, parts: &Parts, index: u32) {
    let strip = Strip { at, span: parts.span(index), height: height_mm(spec), spec, sheet };
    let region = Region::new(at[0], at[1], strip.span.1 - strip.span.0, strip.height);
    scene.add(Mark::rectangle(region).stroked(Stroke::new(GRID, 0.15)));
    strip.head(scene, parts, index);
    strip.scale(scene);
    for (row, name) in spec.piece_names.iter().enumerate() {
        strip.row(scene, row, name);
    }
    if spec.runs.is_empty() {
        let place = [at[0] + 12.0, at[1] + HEAD_MM + SCALE_MM + ROW_MM - BAR_MM / 2.0];
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
        let name = shorten(&name, 3.2, Weight::Bold, (room * 0.5).max(10.0)).into_owned();
        let after = width_mm(&name, 3.2, Weight::Bold) + 2.5;
        let place = [self.at[0] + 1.5, self.at[1] + 1.2];
        scene.text(Text::new(place, name, 3.2).bold().anchored(Across::Start, Upright::Top).coloured(INK));
        let part = if parts.count > 1 { format!("part {} of {}, ", index + 1, parts.count) } else { String::new() };
        let edge = if index == 0 { "left edge at the index end, mm" } else { "mm from the index end" };
        let mut words = format!("{part}{edge}");
        if index == 0 && !self.spec.note.is_empty() {
            words = format!("{words} · {}", plain(&self.spec.note));
        }
        let words = shorten(&words, 2.4, Weight::Regular, room - after).into_owned();
        let place = [place[0] + after, place[1] + 0.6];
        scene.text(Text::new(place, words, 2.4).anchored(Across::Start, Upright::Top).coloured(SOFT_INK));
    }

    /// A tick every 5 mm, longer every 10, numbered every 20.
    fn scale(&self, scene: &mut Scene) {
        let y = self.at[1] + HEAD_MM + SCALE_MM;
        let mut k = (self.span.0 / 5.0).ceil();
        while k * 5.0 <= self.span.1 + 1e-9 {
            let (z, x) = (k * 5.0, self.x(k * 5.0));
            let long = k.rem_euclid(2.0) < 0.5;
            scene.line([x, y], [x, y - if long { 2.0 } else { 1.2 }], Stroke::new(SOFT_INK, 0.12));
            // numbers at the very ends would stand outside the cut
            let inside = z > self.span.0 + 4.0 && z < self.span.1 - 4.0;
            if k.rem_euclid(4.0) < 0.5 && inside {
                let text = Text::new([x, y - 2.4], format!("{z:.0}"), 2.2);
                scene.text(text.anchored(Across::Middle, Upright::Baseline).coloured(SOFT_INK));
            }
            k += 1.0;
        }
        scene.line([self.at[0], y], [self.x(self.span.1), y], Stroke::new(SOFT_INK, 0.12));
    }

    fn row(&self, scene: &mut Scene, row: usize, name: &str) {
        let steps = f64::from(u32::try_from(row).unwrap_or(0));
        let top = self.at[1] + HEAD_MM + SCALE_MM + steps * ROW_MM;
        let room = self.span.1 - self.span.0 - 3.0;
        let words = format!("piece {}", plain(name));
        let words = shorten(&words, 2.4, Weight::Regular, room).into_owned();
        let place = [self.at[0] + 1.5, top + 1.1];
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
        let words = format!("{start} – {end}");
        let size = 2.4;
        let fits = width_mm(&words, size, Weight::Regular) <= b - a - 1.5;
        if fits {
            let middle = [f64::midpoint(a, b), top + BAR_MM / 2.0];
            scene.text(Text::new(middle, words, size).anchored(Across::Middle, Upright::Middle).coloured(INK));
        }
    }

    /// Half a diamond on each side of a joint, with the same letter: together they make a whole one.
    fn joint(&self, scene: &mut Scene, x: f64, inward: f64, joint: u32) {
        let edge = vec![[x, self.at[1]], [x, self.at[1] + self.height]];
        scene.add(Mark::path(edge, false).stroked(Stroke::new(INK, 0.3).dashed(&[1.5, 1.0])).titled("joint"));
        let y = self.at[1] + HEAD_MM + SCALE_MM / 2.0 - 1.0;
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
