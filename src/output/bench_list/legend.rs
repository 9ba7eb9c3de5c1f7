//! The legend at the head of every page: two small drawings and what the words of the list mean.

use super::block::{WORDS_MM, words};
use super::spec::{BenchSheet, SURENESS};
use crate::numeric::summary::count;
use crate::output::figures::index_end::{arrow, index_mark};
use crate::output::figures::section::{polar, ring, sector};
use crate::paper::font::{Weight, break_lines};
use crate::paper::palette::{INK, PAPER, WASH};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Distance between lines of the legend, mm.
const LINE_MM: f64 = 3.45;
/// Width of the two drawings, mm.
const DRAWINGS_MM: f64 = 53.0;
/// Radius of the end, and of the bark of the piece, mm.
const END_MM: f64 = 7.0;
const PIECE_MM: f64 = 15.0;

/// What the list says, a paragraph each.
fn sayings(sheet: &BenchSheet) -> [String; 4] {
    let percent: Vec<String> = SURENESS
        .iter()
        .enumerate()
        .map(|(i, (word, least))| match i {
            0 => format!("{word} {least} % or more"),
            3 => format!("{word} below {}", SURENESS[2].1),
            _ => format!("{word} {least} to {}", SURENESS[i - 1].1 - 1),
        })
        .collect();
    [
        "Split: from the index line clockwise, as you look at it, round the bark of the index end to line 1; the others each \
         about 'next' on. As good: line 1 anywhere from one to the other. Number the pieces there first: piece 1 is clockwise of \
         line 1."
            .to_string(),
        "Along: from the index end. Across: bark up, index end towards you, over the bark from the right-hand (clockwise) edge \
         to the blank's middle, half way along it."
            .to_string(),
        format!(
            "Saw: blanks {}, {} outside the marks, outermost first, one cut between runs a kerf apart; clamp, or a fine hand saw.",
            sheet.blank, sheet.kerf
        ),
        format!(
            "Chance: {}. Gauge each piece again once split; tick what you got, or write why not.",
            percent.join(", ")
        ),
    ]
}

fn lines(sheet: &BenchSheet, width_mm: f64) -> Vec<String> {
    let room = width_mm - DRAWINGS_MM - 4.0;
    sayings(sheet).iter().flat_map(|s| break_lines(s, WORDS_MM, Weight::Regular, room)).collect()
}

/// Height of the legend on a page with this much width, mm.
pub(super) fn height_mm(sheet: &BenchSheet, width_mm: f64) -> f64 {
    let text = count(lines(sheet, width_mm).len()) * LINE_MM;
    text.max(26.4) + 2.0
}

/// The two drawings by themselves, of a tube split into so many pieces: where the index line lies and which way is clockwise;
/// what across is measured from.
#[must_use]
pub fn marking(pieces: usize) -> Scene {
    let mut scene = Scene::new(DRAWINGS_MM + 4.0, 28.0, "Index line, clockwise, and across");
    scene.description = "The index end seen from outside, the pencil line up: split lines and pieces are numbered clockwise. A \
                         piece, bark up, index end towards you: across is measured over the bark from its right-hand edge."
        .to_string();
    scene.background = Some(PAPER);
    end(&mut scene, [13.5, 15.8], pieces);
    piece(&mut scene, [41.5, 22.7], pieces);
    scene
}

/// Draws it into its region.
pub(super) fn draw(scene: &mut Scene, sheet: &BenchSheet, region: Region) {
    scene.add(Mark::rectangle(region).filled(PAPER).stroked(Stroke::new(INK, 0.2)));
    end(scene, [region.left + 12.5, region.top + 15.6], sheet.pieces);
    piece(scene, [region.left + 40.5, region.top + 22.5], sheet.pieces);
    for (i, line) in (0u32..).zip(lines(sheet, region.width)) {
        let at = [region.left + DRAWINGS_MM + 2.0, region.top + 1.8 + f64::from(i) * LINE_MM];
        scene.text(words(at, &line, Across::Start));
    }
}

/// The index end: index line, the way round, the split marks, the pieces.
fn end(scene: &mut Scene, at: Point, pieces: usize) {
    // no line of two, three or four runs into the words below
    let first_deg = if pieces == 3 { 100.0 } else { 50.0 };
    let step_deg = 360.0 / count(pieces.max(1));
    // the tube behind it, seen from a little above, with the line along its bark
    let far = at[1] - END_MM - 5.8;
    let mut body = vec![[at[0] + END_MM, at[1]], [at[0] + END_MM, far + 2.0]];
    // its far end: an arch
    body.extend((-9..=9).rev().map(|i| {
        let (s, c) = (f64::from(i) * 10.0).to_radians().sin_cos();
        [at[0] + END_MM * s, far + 2.0 - 2.0 * c]
    }));
    body.push([at[0] - END_MM, at[1]]);
    scene.add(Mark::path(body, false).stroked(Stroke::new(INK, 0.25)).titled("tube"));
    let line = vec![[at[0], far], [at[0], at[1] - END_MM]];
    scene.add(Mark::path(line, false).stroked(Stroke::new(INK, 0.5)).titled("index line"));
    scene.text(words([at[0] + END_MM + 1.5, at[1] - END_MM - 7.2], "pencil line", Across::Start));
    scene.add(Mark::path(ring(at, |_| END_MM), true).filled(WASH).stroked(Stroke::new(INK, 0.4)).titled("index end"));
    for i in 0..pieces {
        let (deg, number) = (first_deg + step_deg * count(i), (i + 1).to_string());
        let ends = vec![polar(at, deg, END_MM * 0.25), polar(at, deg, END_MM + 1.1)];
        scene.add(Mark::path(ends, false).stroked(Stroke::new(INK, if i == 0 { 0.8 } else { 0.35 })));
        let outside = Text::new(polar(at, deg, END_MM + 3.6), &number, WORDS_MM);
        // of more pieces a line may; it is told by the number of its piece
        if (deg.rem_euclid(360.0) - 180.0).abs() > 38.0 {
            scene.text(outside.anchored(Across::Middle, Upright::Middle).rimmed(PAPER).coloured(INK));
        }
        let inside = Text::new(polar(at, deg + 0.5 * step_deg, END_MM * 0.62), &number, WORDS_MM).bold();
        scene.text(inside.anchored(Across::Middle, Upright::Middle).coloured(INK));
    }
    index_mark(scene, at, END_MM);
    // the way from the index line to the first split, outside the bark
    let way = sector(at, 8.0, first_deg - 12.0, |_| END_MM + 2.0);
    arrow(scene, way, "split, measured clockwise");
    scene.text(words([at[0], at[1] + END_MM + 2.7], "index end", Across::Middle));
}

/// A piece, bark up, seen from its index end, and what across is measured from.
fn piece(scene: &mut Scene, at: Point, pieces: usize) {
    const MIDDLE_DEG: f64 = -6.0;
    // one of two or three is drawn as of three, and smaller: a half circle leaves no room for the words
    let half_deg = (180.0 / count(pieces.max(1))).min(60.0);
    let bark_mm = PIECE_MM * (45_f64.to_radians().sin() / half_deg.to_radians().sin()).min(1.0);
    let mut cane = sector(at, -half_deg, half_deg, |_| bark_mm);
    cane.extend(sector(at, -half_deg, half_deg, |_| bark_mm * 0.72).into_iter().rev());
    scene.add(Mark::path(cane, true).filled(WASH).stroked(Stroke::new(INK, 0.4)).titled("a piece, bark up"));
    let middle = vec![polar(at, MIDDLE_DEG, bark_mm * 0.78), polar(at, MIDDLE_DEG, bark_mm + 3.2)];
    scene.add(Mark::path(middle, false).stroked(Stroke::new(INK, 0.35)).titled("middle of the blank"));
    let edge = vec![polar(at, half_deg, bark_mm), polar(at, half_deg, bark_mm + 3.2)];
    scene.add(Mark::path(edge, false).stroked(Stroke::new(INK, 0.35)).titled("clockwise edge"));
    let mut way = sector(at, MIDDLE_DEG + 1.5, half_deg, |_| bark_mm + 1.9);
    way.reverse();
    arrow(scene, way, "across");
    let over = Text::new(polar(at, 18.0, bark_mm + 3.4), "across", WORDS_MM);
    scene.text(over.anchored(Across::Middle, Upright::Baseline).coloured(INK));
    // under the arch of a narrow piece, below that of a wide one
    let under = at[1] - if half_deg > 45.0 { 2.4 } else { 6.6 };
    scene.text(words([at[0], under], "index end", Across::Middle));
    scene.text(words([at[0], under + LINE_MM], "towards you", Across::Middle));
}
