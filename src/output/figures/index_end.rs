//! The index end of a tube as it is seen when its split lines are marked: true to its shape, index line up, lines numbered.

use super::section::{around, polar, ring};
use crate::numeric::summary::count;
use crate::paper::font::{Weight, plain, width_mm};
use crate::paper::palette::{INK, PAPER, WASH};
use crate::paper::scene::{Across, Mark, Point, Scene, Stroke, Text, Upright};

/// Height of the drawing, mm, its least width, and the largest radius in it.
const HEIGHT_MM: f64 = 36.0;
const LEAST_MM: f64 = 58.0;
const REACH_MM: f64 = 10.5;
/// Free edge beside the words, mm.
const EDGE_MM: f64 = 1.0;
const FIGURES_MM: f64 = 4.0;
/// From the bark to the words of a line, mm.
const BEYOND_MM: f64 = 3.4;

/// A split line with the piece that begins at it.
#[derive(Debug, Clone, PartialEq)]
pub struct EndLine {
    /// Number of both.
    pub number: usize,
    /// Where the line lies, degrees clockwise from the index line.
    pub deg: f64,
    /// Middle of the piece, degrees.
    pub middle_deg: f64,
    /// How far round the bark the line lies, as it is marked.
    pub along: String,
}

/// Draws the index end of `tube`.
///
/// # Arguments
/// * `radius_mm` - at equal steps of angle from the index line, clockwise; at least one.
/// * `lines` - clockwise.
#[must_use]
pub fn draw(tube: &str, radius_mm: &[f64], lines: &[EndLine]) -> Scene {
    let words = |l: &EndLine| format!("{}: {}", l.number, l.along);
    let longest = lines.iter().map(|l| width_mm(&words(l), FIGURES_MM, Weight::Regular)).fold(0.0, f64::max);
    let wide_mm = (2.0 * (REACH_MM + BEYOND_MM + longest + EDGE_MM)).max(LEAST_MM);
    let mut scene = Scene::new(wide_mm, HEIGHT_MM, &format!("Index end of tube {}", plain(tube)));
    let told: Vec<String> = lines.iter().map(|l| format!("line {} at {}", l.number, l.along)).collect();
    scene.description =
        format!("Looking at the index end from outside, index line up; clockwise from it: {}.", told.join(", "));
    scene.background = Some(PAPER);
    let at = [wide_mm / 2.0, HEIGHT_MM / 2.0 + 1.0];
    let largest = radius_mm.iter().copied().fold(1e-9, f64::max);
    let bark = |deg: f64| around(radius_mm, deg) / largest * REACH_MM;
    scene.add(Mark::path(ring(at, bark), true).filled(WASH).stroked(Stroke::new(INK, 0.4)).titled("index end"));
    for line in lines {
        let ends = vec![polar(at, line.deg, REACH_MM * 0.2), polar(at, line.deg, bark(line.deg) + 1.4)];
        let pen = Stroke::new(INK, if line.number == 1 { 0.8 } else { 0.35 });
        scene.add(Mark::path(ends, false).stroked(pen).titled(format!("split line {}", line.number)));
        let clear = beside_the_index_line(line.deg);
        let [x, y] = polar(at, clear, bark(clear) + BEYOND_MM);
        let across = match x - at[0] {
            off if off > 1.5 => Across::Start,
            off if off < -1.5 => Across::End,
            _ => Across::Middle,
        };
        scene.text(Text::new([x, y], words(line), FIGURES_MM).anchored(across, Upright::Middle).coloured(INK));
        let name = Text::new(polar(at, line.middle_deg, REACH_MM * 0.58), line.number.to_string(), FIGURES_MM).bold();
        scene.text(name.anchored(Across::Middle, Upright::Middle).coloured(INK));
    }
    if let [first, ..] = lines {
        // the way the lines are counted, where no line is
        let span = 360.0 / count(lines.len());
        let way = (0..=12_u32).map(|i| first.deg + span * (0.3 + 0.4 * f64::from(i) / 12.0));
        arrow(&mut scene, way.map(|deg| polar(at, deg, bark(deg) + 1.9)).collect(), "clockwise");
    }
    index_mark(&mut scene, at, bark(0.0));
    scene
}

/// A direction for a number that leaves room for the sign of the index line.
pub(crate) fn beside_the_index_line(deg: f64) -> f64 {
    const CLEAR: f64 = 22.0;
    let off = (deg + 180.0).rem_euclid(360.0) - 180.0;
    if off.abs() >= CLEAR { deg } else { CLEAR.copysign(off) }
}

/// The sign of the index line: a wedge on the bark.
pub(crate) fn index_mark(scene: &mut Scene, at: Point, radius_mm: f64) {
    let [x, y] = [at[0], at[1] - radius_mm - 0.2];
    let wedge = vec![[x, y], [x - 1.0, y - 2.0], [x + 1.0, y - 2.0]];
    scene.add(Mark::path(wedge, true).filled(INK).titled("index line"));
}

/// A curve that ends in a head.
pub(crate) fn arrow(scene: &mut Scene, way: Vec<Point>, title: &str) {
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
