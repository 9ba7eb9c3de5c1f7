//! The index end of a tube, true to its shape, as it is seen when the chisel is placed.

use super::spec::BenchTube;
use crate::output::figures::section::{around, polar, ring};
use crate::paper::font::plain;
use crate::paper::palette::{INK, WASH};
use crate::paper::scene::{Across, Mark, Point, Scene, Stroke, Text, Upright};

/// Draws it about `at`, index line up, seen from outside, its largest radius `radius_mm`, numbers `type_mm` high.
pub(crate) fn draw(scene: &mut Scene, at: Point, tube: &BenchTube, radius_mm: f64, type_mm: f64) {
    let largest = tube.radius_mm.iter().copied().fold(1e-9, f64::max);
    let bark = |deg: f64| around(&tube.radius_mm, deg) / largest * radius_mm;
    let outline = Mark::path(ring(at, bark), true).filled(WASH).stroked(Stroke::new(INK, 0.4));
    scene.add(outline.titled(format!("index end of tube {}", plain(&tube.name))));
    for p in &tube.pieces {
        let (inner, outer) = (radius_mm * 0.25, bark(p.from_deg) + 1.1);
        let ends = vec![polar(at, p.from_deg, inner), polar(at, p.from_deg, outer)];
        let pen = Stroke::new(INK, if p.piece == 1 { 0.8 } else { 0.35 });
        scene.add(Mark::path(ends, false).stroked(pen).titled(format!("split line {}", p.piece)));
        let clear = beside_the_index_line(p.from_deg);
        let number = Text::new(polar(at, clear, bark(clear) + type_mm - 0.55), p.piece.to_string(), type_mm);
        scene.text(number.anchored(Across::Middle, Upright::Middle).coloured(INK));
        let middle = polar(at, p.middle_deg, radius_mm * 0.62);
        let name = Text::new(middle, p.piece.to_string(), type_mm).bold();
        scene.text(name.anchored(Across::Middle, Upright::Middle).coloured(INK));
    }
    index_mark(scene, at, bark(0.0));
}

/// A direction for a number that leaves room for the sign of the index line.
fn beside_the_index_line(deg: f64) -> f64 {
    const CLEAR: f64 = 22.0;
    let off = (deg + 180.0).rem_euclid(360.0) - 180.0;
    if off.abs() >= CLEAR { deg } else { CLEAR.copysign(off) }
}

/// The sign of the index line: a wedge on the bark.
pub(super) fn index_mark(scene: &mut Scene, at: Point, radius_mm: f64) {
    let [x, y] = [at[0], at[1] - radius_mm - 0.2];
    let wedge = vec![[x, y], [x - 1.0, y - 2.0], [x + 1.0, y - 2.0]];
    scene.add(Mark::path(wedge, true).filled(INK).titled("index line"));
}
