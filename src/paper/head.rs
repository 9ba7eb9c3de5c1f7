//! What stands at the head of every sheet that must be printed at true size.

use super::font::{Weight, break_lines};
use super::palette::INK;
use super::scene::{Across, Mark, Scene, Stroke, Text, Upright};

/// Paper left free at each edge, mm: most printers cannot reach the outer 5 mm.
pub(crate) const MARGIN_MM: f64 = 10.0;
/// Lengths of the check lines, mm, and their names.
const LINES: [(f64, &str); 2] = [(100.0, "100 mm"), (101.6, "4 in")];

/// Two lines to check the printer by, 100 mm and 4 in, from `top` down; 8 mm high.
pub(crate) fn check_lines(page: &mut Scene, top: f64) {
    for (i, (length, name)) in (0u32..).zip(LINES) {
        let y = top + 5.5 * f64::from(i);
        let line = Mark::path(vec![[MARGIN_MM, y], [MARGIN_MM + length, y]], false).stroked(Stroke::new(INK, 0.2));
        page.add(line.titled(format!("{name} check line")));
        for x in [MARGIN_MM, MARGIN_MM + length] {
            page.line([x, y - 1.5], [x, y + 1.5], Stroke::new(INK, 0.2));
        }
        let beside = Text::new([MARGIN_MM + 103.5, y], name, 2.7).anchored(Across::Start, Upright::Middle);
        page.text(beside.coloured(INK));
    }
    let words =
        "Print at 100 %, no fit to page, and hold a ruler to these lines. If they are not true, do not use the sheet.";
    let left = MARGIN_MM + 119.0;
    for (i, line) in (0u32..).zip(break_lines(words, 2.6, Weight::Regular, page.width_mm - MARGIN_MM - left)) {
        page.text(Text::new([left, top - 0.5 + 3.4 * f64::from(i)], line, 2.6).coloured(INK));
    }
}

/// Texts of a page that do not stand within its margins, for tests.
#[cfg(test)]
pub(crate) fn texts_outside(page: &Scene) -> Vec<String> {
    use super::font::width_mm;
    use super::scene::Shape;
    let mut out = Vec::new();
    for mark in &page.marks {
        let Shape::Text(t) = &mark.shape else { continue };
        if t.turn_deg.abs() > 1e-9 {
            continue;
        }
        let (from, long) = (t.at[0] + t.shift_mm(), width_mm(&t.text, t.size_mm, t.weight));
        let low = t.at[1] + t.drop_mm();
        let edge = MARGIN_MM - 0.01;
        let across = from >= edge && from + long <= page.width_mm - edge;
        if !across || low - t.size_mm < edge - 1.0 || low > page.height_mm - edge + 1.5 {
            out.push(format!("{:?} from {from:.1} to {:.1}, {low:.1} down", t.text, from + long));
        }
    }
    out
}
