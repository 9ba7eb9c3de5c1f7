//! What each of the maker's limits costs a lot: blanks were it a quarter tighter or wider.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::lot::Forecast;
use crate::numeric::summary::count;
use crate::output::words::limit_rows;
use crate::paper::axes::{self, Axis};
use crate::paper::palette::{INK, LOOKS};
use crate::paper::scene::{Across, DrawError, Region, Scene, Stroke, Upright};

/// Height of one row, mm.
const ROW_MM: f64 = 6.0;
/// Room for words left and right of the bars, as a share of the longest reach.
const WORDS_SHARE: f64 = 0.7;

/// Draws a bar for every limit from the blanks it leaves a quarter tighter to those a quarter wider; `None` where no limit
/// was tried.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(f: &Forecast, source: &Source<'_>) -> Result<Option<Scene>, DrawError> {
    let rows = limit_rows(f, source.units);
    if rows.is_empty() {
        return Ok(None);
    }
    let all = || rows.iter().flat_map(|r| r.changes.iter().map(|c| c.1)).chain([f.blanks.expected]);
    let (least, most) = (all().fold(f64::MAX, f64::min), all().fold(f64::MIN, f64::max));
    // room for the words at either end of a bar
    let aside = WORDS_SHARE * (most - least).max(1.0);
    let told: Vec<String> = rows.iter().map(|r| format!("{} {}", r.limit, r.told())).collect();
    let heading = "Blanks of the lot by limit";
    let mut scene = begin(60.0, heading, format!("Each limit a quarter tighter and wider: {}.", told.join("; ")));
    let (x, y) = (
        Axis::numbers("expected blanks", least - aside, most + aside, 6),
        Axis::names("limit", rows.iter().map(|r| r.limit.clone()).collect()),
    );
    let tall = count(rows.len()) * ROW_MM + 12.5;
    scene.height_mm = TOP_MM + tall + 30.0;
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM, tall);
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    let line = Stroke::new(INK, 0.3).dashed(&[0.8, 0.8]);
    let now = f.blanks.expected;
    scene.add(frame.line(&[(now, 0.0), (now, count(rows.len()))], line).titled("limits as they are"));
    for (i, row) in rows.iter().enumerate() {
        let (middle, _) = frame.row(i);
        let look = LOOKS[0];
        let ends: Vec<f64> = row.changes.iter().map(|c| frame.x_mm(c.1)).collect();
        if let [a, b] = ends[..] {
            scene.line([a, middle], [b, middle], Stroke::new(look.colour, 0.8));
        }
        for ((at, _), x) in row.changes.iter().zip(&ends) {
            scene.line([*x, middle - 1.0], [*x, middle + 1.0], Stroke::new(look.colour, 0.5));
            let tight = ends.iter().all(|e| e >= x);
            let (across, aside) = if tight { (Across::End, -0.8) } else { (Across::Start, 0.8) };
            scene.text(label([x + aside, middle], at.clone(), across, Upright::Middle));
        }
    }
    let notes = [
        format!("Bars run from the limit a quarter tighter to a quarter wider; broken line: {now:.0} as they are."),
        "The split angles stay as they are.".to_string(),
    ];
    Ok(Some(finish(scene, TOP_MM + tall + 1.0, &notes, &source.words(None))))
}
