//! Expected blanks by split angle, with the flat top, the next-best choices and the level of an arbitrary angle.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::decide::split::SplitChoice;
use crate::numeric::summary::count;
use crate::output::words::{self, Signs};
use crate::paper::axes::{self, Axis, Sample};
use crate::paper::palette::{INK, Look, SOFT_INK};
use crate::paper::scene::{Across, Colour, DrawError, Fill, Hatch, Region, Scene, Stroke, Upright};
use plotters::series::LineSeries;

/// Draws the score of one tube: `tube` and its number of readings stand in the caption.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(tube: (&str, usize), split: &SplitChoice, source: &Source<'_>) -> Result<Scene, DrawError> {
    let best = split.best;
    let period = words::step_deg(split) * count(split.by_angle.len().max(1));
    let words = format!(
        "Tube {}: split at {}: {}; {}; {}.",
        tube.0,
        Signs::Plain.degrees(best.angle_deg),
        words::expected(split),
        words::flat_top(split, Signs::Plain),
        words::arbitrary(split)
    );
    let mut scene = begin(60.0, "Expected blanks by split angle", words);
    let top = split.by_angle.iter().map(|c| c.expected).fold(split.interval.1, f64::max).max(1.0) * 1.22;
    let x = Axis::numbers("split angle, deg clockwise from the index line", 0.0, period, 10);
    let y = Axis::numbers("expected blanks", 0.0, top, 6);
    let mut curve: Vec<(f64, f64)> = split.by_angle.iter().map(|c| (c.angle_deg, c.expected)).collect();
    // the split repeats after one period
    curve.extend(curve.first().map(|c| (period, c.1)));
    let style = axes::line_style(Look::of(0).colour, 0.55);
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, WIDTH_MM - 2.0 * EDGE_MM, 50.0);
    let frame =
        axes::draw_with(&mut scene, region, &x, &y, |c| c.draw_series(LineSeries::new(curve, style)).map(|_| ()))?;
    let flat = flat_fill();
    for (from, to) in stretches(split.flat_top, period) {
        frame.add_behind(&mut scene, frame.column(from, to, flat.clone()).titled("does as well"));
    }
    let level = Stroke::new(SOFT_INK, 0.35).dashed(&[1.6, 1.0]);
    scene.add(frame.line(&[(0.0, split.arbitrary), (period, split.arbitrary)], level.clone()));
    let (chosen, other) = (Look::of(2), Look::of(1));
    for c in &split.runners_up {
        let at = frame.at(c.angle_deg, c.expected);
        scene.add(other.marker.mark(at, 2.0, other.colour).titled(format!("next best: {:.0} deg", c.angle_deg)));
        let words = format!("{:.0}°", c.angle_deg);
        // below the curve: the chosen one's words stand above it, and may be near
        scene.text(label([at[0], at[1] + 1.8], words, Across::Middle, Upright::Top).rimmed(Colour::WHITE));
    }
    let at = frame.at(best.angle_deg, best.expected);
    // the interval of the chosen angle, with end ticks
    let [low, high] = [split.interval.0, split.interval.1].map(|v| frame.y_mm(v));
    scene.line([at[0], low], [at[0], high], Stroke::new(chosen.colour, 0.35));
    for y in [low, high] {
        scene.line([at[0] - 1.0, y], [at[0] + 1.0, y], Stroke::new(chosen.colour, 0.35));
    }
    scene.add(chosen.marker.mark(at, 2.8, chosen.colour).titled(format!("chosen: {:.0} deg", best.angle_deg)));
    let near_end = best.angle_deg > period * 0.75;
    let (dx, across) = if near_end { (-2.2, Across::End) } else { (2.2, Across::Start) };
    let words = format!("{:.0}°: {:.1}", best.angle_deg, best.expected);
    scene.text(
        label([at[0] + dx, at[1] - 1.6], words, across, Upright::Bottom).bold().coloured(INK).rimmed(Colour::WHITE),
    );
    let entries = [
        (Sample::Marker(chosen), "chosen, with 90 % interval"),
        (Sample::Area(flat), "does as well"),
        (Sample::Marker(other), "next best"),
        (Sample::Line(level), "an arbitrary angle"),
    ];
    let below = TOP_MM + 50.0;
    let used = axes::legend(&mut scene, [EDGE_MM, below], &entries, WIDTH_MM - 2.0 * EDGE_MM);
    Ok(finish(scene, below + used + 1.0, &[], &source.words(Some(tube))))
}

fn flat_fill() -> Fill {
    let colour = Look::of(5).colour;
    let hatch = Hatch { turn_deg: 45.0, spacing_mm: 1.4, width_mm: 0.15, colour, crossed: false };
    Fill { colour: Some(crate::paper::palette::tint(colour, 0.18)), hatch: Some(hatch) }
}

/// The range `(from, to)`, which may leave `0..period` on either side, as ranges inside it.
fn stretches((from, to): (f64, f64), period: f64) -> Vec<(f64, f64)> {
    if to - from >= period - 1e-9 {
        return vec![(0.0, period)];
    }
    let a = from.rem_euclid(period);
    let b = a + (to - from).max(0.4);
    if b > period { vec![(a, period), (0.0, b - period)] } else { vec![(a, b)] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_top_across_the_end_of_the_period_is_drawn_in_two() {
        assert_eq!(stretches((-10.0, 5.0), 90.0), [(80.0, 90.0), (0.0, 5.0)]);
        assert_eq!(stretches((31.0, 40.0), 90.0), [(31.0, 40.0)]);
        assert_eq!(stretches((0.0, 90.0), 90.0), [(0.0, 90.0)]);
    }
}
