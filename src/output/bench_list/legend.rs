//! The legend at the head of every page: two small drawings and what the words of the list mean.

use super::block::{WORDS_MM, words};
use super::end::index_mark;
use super::spec::SURENESS;
use crate::numeric::summary::count;
use crate::output::figures::section::{polar, ring, sector};
use crate::paper::font::{Weight, break_lines};
use crate::paper::palette::{INK, PAPER, WASH};
use crate::paper::scene::{Across, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Distance between lines of the legend, mm.
const LINE_MM: f64 = 3.75;
/// Width of the two drawings, mm.
const DRAWINGS_MM: f64 = 53.0;
/// Radius of the end, and of the bark of the piece, mm.
const END_MM: f64 = 7.0;
const PIECE_MM: f64 = 15.0;

/// What the list says, a paragraph each.
fn sayings() -> [String; 3] {
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
        "Split: from the index line round the bark of the index end, clockwise as you look at it, to line 1; the others \
         follow, each about 'next' on. As good: line 1 may lie anywhere from one clockwise to the other. Piece 1 lies \
         clockwise of line 1: number the pieces first."
            .to_string(),
        "Along: from the index end. Across: bark up, index end towards you, over the bark from the right-hand (clockwise) edge \
         to the blank's middle, half way along it."
            .to_string(),
        format!(
            "Chance to pass: {}. Gauge each piece again once split; tick what you got, or write why not.",
            percent.join(", ")
        ),
    ]
}

fn lines(width_mm: f64) -> Vec<String> {
    let room = width_mm - DRAWINGS_MM - 4.0;
    sayings().iter().flat_map(|s| break_lines(s, WORDS_MM, Weight::Regular, room)).collect()
}

/// Height of the legend on a page with this much width, mm.
pub(super) fn height_mm(width_mm: f64) -> f64 {
    let text = count(lines(width_mm).len()) * LINE_MM;
    text.max(26.4) + 2.0
}

/// Draws it into its region.
pub(super) fn draw(scene: &mut Scene, region: Region) {
    scene.add(Mark::rectangle(region).filled(PAPER).stroked(Stroke::new(INK, 0.2)));
    end(scene, [region.left + 12.5, region.top + 15.6]);
    piece(scene, [region.left + 40.5, region.top + 22.5]);
    for (i, line) in (0u32..).zip(lines(region.width)) {
        let at = [region.left + DRAWINGS_MM + 2.0, region.top + 1.8 + f64::from(i) * LINE_MM];
        scene.text(words(at, &line, Across::Start));
    }
}

/// The index end: index line, the way round, the split marks, the pieces.
fn end(scene: &mut Scene, at: Point) {
    const FIRST_DEG: f64 = 50.0;
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
    for (i, number) in ["1", "2", "3", "4"].into_iter().enumerate() {
        let deg = FIRST_DEG + 90.0 * f64::from(u8::try_from(i).unwrap_or(0));
        let ends = vec![polar(at, deg, END_MM * 0.25), polar(at, deg, END_MM + 1.1)];
        scene.add(Mark::path(ends, false).stroked(Stroke::new(INK, if i == 0 { 0.8 } else { 0.35 })));
        let outside = Text::new(polar(at, deg, END_MM + 3.6), number, WORDS_MM);
        scene.text(outside.anchored(Across::Middle, Upright::Middle).rimmed(PAPER).coloured(INK));
        let inside = Text::new(polar(at, deg + 45.0, END_MM * 0.62), number, WORDS_MM).bold();
        scene.text(inside.anchored(Across::Middle, Upright::Middle).coloured(INK));
    }
    index_mark(scene, at, END_MM);
    // the way from the index line to the first split, outside the bark
    let way = sector(at, 8.0, FIRST_DEG - 12.0, |_| END_MM + 2.0);
    arrow(scene, way, "split, measured clockwise");
    scene.text(words([at[0], at[1] + END_MM + 2.7], "index end", Across::Middle));
}

/// A piece, bark up, seen from its index end, and what across is measured from.
fn piece(scene: &mut Scene, at: Point) {
    const HALF_DEG: f64 = 45.0;
    const MIDDLE_DEG: f64 = -6.0;
    let mut cane = sector(at, -HALF_DEG, HALF_DEG, |_| PIECE_MM);
    cane.extend(sector(at, -HALF_DEG, HALF_DEG, |_| PIECE_MM * 0.72).into_iter().rev());
    scene.add(Mark::path(cane, true).filled(WASH).stroked(Stroke::new(INK, 0.4)).titled("a piece, bark up"));
    let middle = vec![polar(at, MIDDLE_DEG, PIECE_MM * 0.78), polar(at, MIDDLE_DEG, PIECE_MM + 3.2)];
    scene.add(Mark::path(middle, false).stroked(Stroke::new(INK, 0.35)).titled("middle of the blank"));
    let edge = vec![polar(at, HALF_DEG, PIECE_MM), polar(at, HALF_DEG, PIECE_MM + 3.2)];
    scene.add(Mark::path(edge, false).stroked(Stroke::new(INK, 0.35)).titled("clockwise edge"));
    let mut way = sector(at, MIDDLE_DEG + 1.5, HALF_DEG, |_| PIECE_MM + 1.9);
    way.reverse();
    arrow(scene, way, "across");
    let over = Text::new(polar(at, 18.0, PIECE_MM + 3.4), "across", WORDS_MM);
    scene.text(over.anchored(Across::Middle, Upright::Baseline).coloured(INK));
    scene.text(words([at[0], at[1] - 6.6], "index end", Across::Middle));
    scene.text(words([at[0], at[1] - 6.6 + LINE_MM], "towards you", Across::Middle));
}

/// A curve that ends in a head.
fn arrow(scene: &mut Scene, way: Vec<Point>, title: &str) {
    if let [.., before, tip] = way[..] {
        let (dx, dy) = (tip[0] - before[0], tip[1] - before[1]);
        let long = dx.hypot(dy).max(1e-9);
        let (ux, uy) = (dx / long, dy / long);
        let back = [tip[0] - 1.8 * ux, tip[1] - 1.8 * uy];
        let head = vec![tip, [back[0] - 0.8 * uy, back[1] + 0.8 * ux], [back[0] + 0.8 * uy, back[1] - 0.8 * ux]];
        scene.add(Mark::path(head, true).filled(INK));
    }
    scene.add(Mark::path(way, false).stroked(Stroke::new(INK, 0.35)).titled(title));
}
