//! The tubes of a lot by expected blanks, with intervals and verdicts.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::decide::plan::TubePlan;
use crate::decide::screen::{Screened, Verdict};
use crate::numeric::summary::count;
use crate::output::words::plain_number;
use crate::paper::axes::{self, Axis, Sample};
use crate::paper::palette::{INK, LOOKS, Look};
use crate::paper::scene::{Across, DrawError, Region, Scene, Stroke, Upright};

/// Height of one row, mm.
const ROW_MM: f64 = 4.4;
/// Most rows in one figure: more would not fit a sheet.
pub const MOST_ROWS: usize = 45;

/// The look of a verdict: colour and marker.
#[must_use]
fn look_of(verdict: Verdict) -> Look {
    match verdict {
        Verdict::Split => LOOKS[3],
        Verdict::Doubtful => LOOKS[1],
        Verdict::Leave => LOOKS[4],
    }
}

/// Draws the boards of all planned tubes, most expected blanks first, ties by name; several figures with one scale
/// when there are more than [`MOST_ROWS`]; none without a plan.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(tubes: &[(&TubePlan, &Screened)], least: f64, source: &Source<'_>) -> Result<Vec<Scene>, DrawError> {
    let mut rows = tubes.to_vec();
    rows.sort_by(|a, b| b.0.expected().total_cmp(&a.0.expected()).then(a.0.fit.tube.cmp(&b.0.fit.tube)));
    let top = rows.iter().map(|r| r.0.split.as_ref().map_or(0.0, |s| s.interval.1)).fold(least, f64::max).max(1.0);
    let boards = rows.len().div_ceil(MOST_ROWS).max(1);
    let each = rows.len().div_ceil(boards).max(1);
    let mut scenes = Vec::new();
    for (i, part) in rows.chunks(each).enumerate() {
        let which = if boards > 1 { format!(", part {} of {boards}", i + 1) } else { String::new() };
        scenes.push(board(part, top * 1.04, least, &which, source)?);
    }
    Ok(scenes)
}

fn board(
    rows: &[(&TubePlan, &Screened)],
    top: f64,
    least: f64,
    which: &str,
    source: &Source<'_>,
) -> Result<Scene, DrawError> {
    let words: Vec<String> =
        rows.iter().map(|(p, s)| format!("{} {:.1} {}", p.fit.tube, p.expected(), s.verdict.word())).collect();
    let heading = format!("Expected blanks per tube{which}");
    let mut scene = begin(60.0, &heading, format!("Most expected first: {}.", words.join("; ")));
    let names = rows.iter().map(|r| r.0.fit.tube.clone()).collect();
    let (x, y) = (Axis::numbers("expected blanks", 0.0, top, 7), Axis::names("tube", names));
    let tall = count(rows.len()) * ROW_MM + 12.5;
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM - 20.0, tall);
    scene.height_mm = TOP_MM + tall + 40.0;
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    let line = Stroke::new(INK, 0.3).dashed(&[0.8, 0.8]);
    scene.add(frame.line(&[(least, 0.0), (least, count(rows.len()))], line.clone()).titled("least number"));
    for (i, (plan, screened)) in rows.iter().enumerate() {
        let (middle, _) = frame.row(i);
        let look = look_of(screened.verdict);
        let (low, high) = plan.split.as_ref().map_or((0.0, 0.0), |s| s.interval);
        scene.line([frame.x_mm(low), middle], [frame.x_mm(high), middle], Stroke::new(look.colour, 0.5));
        for end in [low, high] {
            let x = frame.x_mm(end);
            scene.line([x, middle - 0.8], [x, middle + 0.8], Stroke::new(look.colour, 0.4));
        }
        let at = [frame.x_mm(plan.expected()), middle];
        let said = format!("{}: {:.1} blanks, {low:.0} to {high:.0}", plan.fit.tube, plan.expected());
        scene.add(look.marker.mark(at, 2.4, look.colour).titled(said));
        let number =
            label([frame.plot.right() + 7.0, middle], format!("{:.1}", plan.expected()), Across::End, Upright::Middle);
        scene.text(number.bold());
        scene.text(label([frame.plot.right() + 8.4, middle], screened.verdict.word(), Across::Start, Upright::Middle));
    }
    let least_words = format!("least worth the work: {}", plain_number(least));
    let mut entries: Vec<(Sample, &str)> =
        [Verdict::Split, Verdict::Doubtful, Verdict::Leave].map(|v| (Sample::Marker(look_of(v)), v.word())).to_vec();
    entries.push((Sample::Line(line), &least_words));
    let below = TOP_MM + tall;
    let used = axes::legend(&mut scene, [EDGE_MM, below], &entries, WIDTH_MM - 2.0 * EDGE_MM);
    let notes = ["Bars: 90 % intervals.".to_string()];
    Ok(finish(scene, below + used + 1.0, &notes, &source.words(None)))
}
