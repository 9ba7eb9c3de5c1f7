//! The piles of a lot as bars: blanks expected, with intervals, against the life of an edge.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::batches::{Batches, Pile};
use crate::lot::percent;
use crate::numeric::summary::count;
use crate::output::batches::{blanks_of, outlasts};
use crate::paper::axes::{self, Axis, Sample};
use crate::paper::palette::{INK, LOOKS, tint};
use crate::paper::scene::{Across, DrawError, Fill, Mark, Region, Scene, Stroke, Upright};

/// Height of one row, mm.
const ROW_MM: f64 = 6.0;
/// Most piles in one figure: more would not fit a sheet.
pub const MOST_PILES: usize = 32;

/// Draws a bar for every pile; several figures of one scale for more than [`MOST_PILES`]; none where the blanks are not known.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(b: &Batches, source: &Source<'_>) -> Result<Vec<Scene>, DrawError> {
    let known: Vec<(&Pile, f64)> = b.piles.iter().filter_map(|p| Some((p, p.expected_blanks?))).collect();
    let reach = known.iter().map(|(p, e)| p.high.unwrap_or(*e).max(*e)).fold(b.edge_life.unwrap_or(1.0), f64::max);
    let parts = known.len().div_ceil(MOST_PILES).max(1);
    let each = known.len().div_ceil(parts).max(1);
    known
        .chunks(each)
        .enumerate()
        .map(|(i, rows)| {
            let which = if parts > 1 { format!(", part {} of {parts}", i + 1) } else { String::new() };
            part(rows, reach.max(1.0) * 1.04, b.edge_life, &which, source)
        })
        .collect()
}

fn part(
    rows: &[(&Pile, f64)],
    reach: f64,
    life: Option<f64>,
    which: &str,
    source: &Source<'_>,
) -> Result<Scene, DrawError> {
    let words: Vec<String> = rows.iter().map(|(p, _)| format!("pile {}: {}", p.pile, told(p))).collect();
    let heading = format!("Piles for one sharpening each{which}");
    let mut scene = begin(60.0, &heading, format!("{}.", words.join("; ")));
    let names = rows.iter().map(|(p, _)| format!("pile {}", p.pile)).collect();
    let (x, y) = (Axis::numbers("expected blanks", 0.0, reach, 6), Axis::names("", names));
    let tall = count(rows.len()) * ROW_MM + 12.5;
    let aside = if rows.iter().any(|(p, _)| p.outlasts.is_some()) { 19.0 } else { 9.0 };
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM - aside, tall);
    scene.height_mm = TOP_MM + tall + 30.0;
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    let look = LOOKS[3];
    for (i, (p, expected)) in rows.iter().enumerate() {
        let (middle, height) = frame.row(i);
        let half = 0.3 * height;
        let bar = Region::new(frame.x_mm(0.0), middle - half, frame.x_mm(*expected) - frame.x_mm(0.0), 2.0 * half);
        let bar = Mark::rectangle(bar).filled(Fill::from(tint(look.colour, 0.45)));
        let said = format!("pile {}: {}", p.pile, told(p));
        scene.add(bar.stroked(Stroke::new(look.colour, 0.3)).titled(said));
        if let (Some(low), Some(high)) = (p.low, p.high) {
            scene.line([frame.x_mm(low), middle], [frame.x_mm(high), middle], Stroke::new(INK, 0.4));
            for end in [low, high] {
                let x = frame.x_mm(end);
                scene.line([x, middle - 0.9], [x, middle + 0.9], Stroke::new(INK, 0.4));
            }
        }
        let right = frame.plot.right();
        scene.text(label([right + 7.6, middle], decimal(*expected, 1), Across::End, Upright::Middle).bold());
        if let Some(chance) = p.outlasts {
            let words = format!("{} %", percent(chance));
            scene.text(label([right + 18.0, middle], words, Across::End, Upright::Middle));
        }
    }
    let mut below = TOP_MM + tall;
    let mut notes = vec!["Bars: expected blanks. Whiskers: 90 % intervals.".to_string()];
    if let Some(life) = life {
        let line = Stroke::new(INK, 0.35).dashed(&[0.8, 0.8]);
        scene.add(frame.line(&[(life, 0.0), (life, count(rows.len()))], line.clone()).titled("edge life"));
        let words = format!("edge life: {} blanks", decimal(life, 0));
        below += axes::legend(&mut scene, [EDGE_MM, below], &[(Sample::Line(line), &words)], WIDTH_MM - 2.0 * EDGE_MM);
        notes.push("Last column: chance that the edge outlasts the pile.".into());
    }
    Ok(finish(scene, below + 1.0, &notes, &source.words(None)))
}

fn told(p: &Pile) -> String {
    let tubes = counted(p.tubes.len(), "tube");
    let chance = p.outlasts.map_or(String::new(), |c| format!(", {}", outlasts(c)));
    format!("{tubes}, {}{chance}", blanks_of(p))
}
