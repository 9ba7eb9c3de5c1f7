//! Lots side by side: what a blank costs, or how many a kilogram gives.

use super::{EDGE_MM, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::domain::units::decimal;
use crate::lot::{Compared, Cost, LotSum};
use crate::numeric::summary::count;
use crate::output::words::{cost, money};
use crate::paper::axes::{self, Axis};
use crate::paper::palette::{INK, LOOKS};
use crate::paper::scene::{Across, DrawError, Region, Scene, Stroke, Upright};

/// Height of one row, mm.
const ROW_MM: f64 = 7.5;
/// Most lots in the picture.
const MOST: usize = 24;

/// A lot's figure: expected, low, high.
type Row<'a> = (&'a LotSum, [f64; 3]);

/// Draws every lot's cost of a blank with its interval, or where that is not known of all, in one currency, blanks a kilogram;
/// `None` where neither is known of two lots. An interval without limit runs to the edge.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(c: &Compared) -> Result<Option<Scene>, DrawError> {
    let of = |l: &LotSum| {
        if c.by_cost { l.cost_per_blank.map(Cost::ends) } else { l.per_kg.map(|i| [i.expected, i.low, i.high]) }
    };
    let rows: Vec<Row<'_>> = c.lots.iter().filter_map(|l| Some((l, of(l)?))).take(MOST).collect();
    if rows.len() < 2 {
        return Ok(None);
    }
    let finite = rows.iter().flat_map(|r| r.1).filter(|x| x.is_finite());
    let reach = 1.04 * finite.fold(0.0, f64::max).max(1e-9);
    let figure = |l: &LotSum, x: f64| if c.by_cost { money(x, &l.currency) } else { decimal(x, 0) };
    let what = if c.by_cost { "Cost of a blank" } else { "Blanks a kilogram" };
    let told: Vec<String> = rows.iter().map(|(l, [e, ..])| format!("{}: {}", l.lot, figure(l, *e))).collect();
    let mut scene = begin(60.0, what, format!("{}.", told.join("; ")));
    let names = rows.iter().map(|(l, _)| l.lot.clone()).collect();
    let (x, y) = (Axis::numbers(&what.to_lowercase(), 0.0, reach, 5), Axis::names("", names));
    let tall = count(rows.len()) * ROW_MM + 12.5;
    scene.height_mm = TOP_MM + tall + 40.0;
    let aside = 17.0;
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM - aside, tall);
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    let best = c.best.map(|b| c.lots[b].lot.as_str());
    for (i, (l, [expected, low, high])) in rows.iter().enumerate() {
        let (middle, _) = frame.row(i);
        let look = if best == Some(l.lot.as_str()) { LOOKS[0] } else { LOOKS[3] };
        let end = frame.x_mm(high.min(reach));
        scene.line([frame.x_mm(*low), middle], [end, middle], Stroke::new(look.colour, 0.8));
        let ends = [Some(frame.x_mm(*low)), high.is_finite().then_some(end)];
        for x in ends.into_iter().flatten() {
            scene.line([x, middle - 1.1], [x, middle + 1.1], Stroke::new(look.colour, 0.5));
        }
        let whole = if c.by_cost {
            cost([*expected, *low, *high], &l.currency, "")
        } else {
            format!("{} ({} to {})", figure(l, *expected), figure(l, *low), figure(l, *high))
        };
        let mark = look.marker.mark([frame.x_mm(*expected), middle], 2.2, look.colour);
        scene.add(mark.titled(format!("{}: {whole}", l.lot)));
        let right = frame.plot.right() + aside;
        let words = label([right, middle], figure(l, *expected), Across::End, Upright::Middle).coloured(INK);
        scene.text(if best == Some(l.lot.as_str()) { words.bold() } else { words });
    }
    let mut notes = vec!["Lines: 90 % intervals.".to_string()];
    let why = if c.by_cost { "the cheapest blank" } else { "the most blanks a kilogram" };
    notes.extend(best.map(|b| format!("Bold: {b}, {why}.")));
    for a in &c.against {
        let name = &c.lots[a.lot].lot;
        let chance = if c.by_cost { a.chance_dearer } else { a.chance_fewer_per_kg };
        let says = if c.by_cost { "is dearer" } else { "gives fewer" };
        notes.extend(chance.map(|p| format!("{name} {says}: {} %.", crate::lot::percent(p))));
    }
    if !c.same_target {
        notes.push("The lots are judged by different targets.".into());
    }
    Ok(Some(finish(scene, TOP_MM + tall + 1.0, &notes, "")))
}
