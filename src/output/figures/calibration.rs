//! What came of cut tubes against what was promised of them.

use super::{EDGE_MM, TOP_MM, WIDTH_MM, begin, finish};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::{BorneOut, CutTube};
use crate::numeric::summary::count;
use crate::paper::axes::{self, Axis, Sample};
use crate::paper::palette::{INK, LOOKS, Look, tint};
use crate::paper::scene::{DrawError, Fill, Region, Scene, Stroke};
use std::collections::BTreeMap;

/// Height of the drawing, mm.
const TALL_MM: f64 = 78.0;
/// A mark's size, mm.
const MARK_MM: f64 = 2.0;
/// Tubes with the same counts stand beside each other, so far apart, in blanks.
const BESIDE: f64 = 0.16;

/// Draws a mark for every tube that was counted, its interval across, with the line on which promises are kept and the band of
/// what all lots came to; `None` where none was counted.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(b: &BorneOut) -> Result<Option<Scene>, DrawError> {
    let tubes = || b.lots.iter().enumerate().flat_map(|(i, l)| l.tubes.iter().map(move |t| (i, t)));
    let got = |t: &CutTube| f64::from(t.got);
    let reach = tubes().map(|(_, t)| t.high.max(t.promised).max(got(t))).fold(0.0, f64::max) + 1.0;
    if tubes().next().is_none() {
        return Ok(None);
    }
    let heading = "Blanks got against blanks promised";
    let lots: Vec<String> = b
        .lots
        .iter()
        .map(|l| format!("{}: {} got, {} promised", l.lot, counted(l.got, "blank"), decimal(l.promised, 1)))
        .collect();
    let mut scene = begin(60.0, heading, format!("{}.", lots.join("; ")));
    let (x, y) = (Axis::numbers("promised", 0.0, reach, 6), Axis::numbers("got", 0.0, reach, 6));
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM, TALL_MM);
    scene.height_mm = TOP_MM + TALL_MM + 60.0;
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    let mut entries: Vec<(Sample, String)> = Vec::new();
    let kept = Stroke::new(INK, 0.35).dashed(&[0.8, 0.8]);
    scene.add(frame.line(&[(0.0, 0.0), (reach, reach)], kept.clone()).titled("promises that are kept"));
    if let Some(f) = b.factor {
        // up to where the band leaves the plot
        let end = reach / f.high.max(1.0);
        let fill = Fill::from(tint(LOOKS[3].colour, 0.3));
        let band = frame.band(&[(0.0, 0.0, 0.0), (end, f.low * end, f.high * end)], fill);
        frame.add_behind(&mut scene, band.titled("what all lots came to, 90 %"));
        let words = format!(
            "all lots: {} got for each one promised ({} to {})",
            decimal(f.expected, 2),
            decimal(f.low, 2),
            decimal(f.high, 2)
        );
        entries.push((Sample::Line(Stroke::new(tint(LOOKS[3].colour, 0.3), 1.2)), words));
    }
    let mut there: BTreeMap<(i64, u32), f64> = BTreeMap::new();
    for (i, t) in tubes() {
        let look = Look::of(i);
        let place = there.entry((rounded(t.promised), t.got)).or_insert(0.0);
        let y = got(t) + *place;
        // 0, +1, -1, +2 ... steps aside
        *place = if *place > 0.0 { -*place } else { BESIDE - *place };
        let across = frame.line(&[(t.low, y), (t.high.min(reach), y)], Stroke::new(look.colour, 0.2));
        scene.add(across);
        let said = format!("{}, tube {}: {} promised, {} got", b.lots[i].lot, t.tube, decimal(t.promised, 1), t.got);
        scene.add(look.marker.mark(frame.at(t.promised, y), MARK_MM, look.colour).titled(said));
    }
    for (i, l) in b.lots.iter().enumerate().filter(|(_, l)| !l.tubes.is_empty()) {
        entries.push((Sample::Marker(Look::of(i)), format!("{}: {} of {} hold", l.lot, l.held, count(l.tubes.len()))));
    }
    entries.push((Sample::Line(kept), "promises that are kept".into()));
    let shown: Vec<(Sample, &str)> = entries.iter().map(|(s, w)| (s.clone(), w.as_str())).collect();
    let mut below = TOP_MM + TALL_MM;
    below += axes::legend(&mut scene, [EDGE_MM, below], &shown, WIDTH_MM - 2.0 * EDGE_MM);
    let notes = ["A mark a tube; lines across: 90 % intervals of the promise.".to_string()];
    let names: Vec<&str> = b.lots.iter().map(|l| l.lot.as_str()).collect();
    Ok(Some(finish(scene, below + 1.0, &notes, &format!("lots {}", names.join(", ")))))
}

#[allow(clippy::cast_possible_truncation, reason = "a number of blanks")]
fn rounded(x: f64) -> i64 {
    (2.0 * x.clamp(0.0, 1e6)).round() as i64
}
