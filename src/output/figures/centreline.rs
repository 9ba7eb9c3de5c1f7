//! The centreline in two planes, magnified across, with its band of doubt; and the bow as an arrow.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::domain::units::decimal;
use crate::numeric::summary::{NINETY, count};
use crate::output::words;
use crate::paper::axes::{self, Axis, Frame, Sample};
use crate::paper::palette::{INK, Look, SOFT_INK, tint};
use crate::paper::scene::{Across, DrawError, Fill, Mark, Region, Scene, Stroke, Upright};
use crate::paper::svg::number;

/// The two planes and their looks.
const PLANES: [(&str, usize); 2] = [("toward 0°", 0), ("toward 90°", 1)];

/// Draws the centreline of `view` as its distance from the chord between the tube's ends.
///
/// # Errors
/// [`DrawError::Axis`] when a number is not finite.
pub fn draw(plan: &TubePlan, view: &TubeView, source: &Source<'_>) -> Result<Scene, DrawError> {
    let units = source.units;
    let u = units.word();
    let mut scene = begin(70.0, "Centreline, magnified across", describe(plan, source));
    let ends = view
        .centreline
        .iter()
        .flat_map(|p| [0, 1].into_iter().flat_map(|i| [-NINETY, NINETY].map(|k| p.off_mm[i] + k * p.sd_mm[i])));
    let (low, high) = ends.fold((-0.05_f64, 0.05_f64), |(a, b), v: f64| (a.min(v), b.max(v)));
    let edge = 0.06 * (high - low);
    let (low, high) = (units.number(low - edge), units.number(high + edge));
    let x = Axis::numbers(&format!("from the index end, {u}"), 0.0, units.number(plan.fit.length_mm), 6);
    let y = Axis::numbers(&format!("off the chord, {u}"), low, high, 6);
    let region = Region::new(EDGE_MM, TOP_MM - 1.0, 66.0, 46.0);
    let frame = axes::draw(&mut scene, region, &x, &y)?;
    frame_lines(&mut scene, &frame, view, source);
    bow_arrow(&mut scene, &frame, plan, source);
    let entries: Vec<(Sample, &str)> =
        PLANES.iter().map(|&(words, i)| (Sample::Line(Look::of(i).stroke(0.6)), words)).collect();
    let below = TOP_MM + 46.0;
    let used = axes::legend(&mut scene, [EDGE_MM, below], &entries, WIDTH_MM - 2.0 * EDGE_MM);
    let across = frame.plot.height / (high - low);
    let along = frame.plot.width / units.number(plan.fit.length_mm);
    let mut notes =
        vec![format!("Across × {} the scale along; shaded: 90 % band of doubt.", number((across / along).round()))];
    if plan.fit.figures.bow_mm.is_none() {
        notes.push(words::sentence(&format!("{}: the band holds what is usual", words::unseen("bow"))));
    }
    Ok(finish(scene, below + used + 1.0, &notes, &source.words(Some((&plan.fit.tube, plan.fit.readings)))))
}

fn describe(plan: &TubePlan, source: &Source<'_>) -> String {
    let f = &plan.fit.figures;
    let bow = source.units.measured_in_print(f.bow_mm, 2);
    let toward = f.bow_deg.map_or(String::new(), |d| format!(" toward {} deg", decimal(d.value, 0)));
    format!("Centreline of tube {}: bow {bow}{toward}.", plan.fit.tube)
}

fn frame_lines(scene: &mut Scene, frame: &Frame, view: &TubeView, source: &Source<'_>) {
    let units = source.units;
    for (words, i) in PLANES {
        let look = Look::of(i);
        let band: Vec<(f64, f64, f64)> = view
            .centreline
            .iter()
            .map(|p| {
                let (off, half) = (p.off_mm[i], NINETY * p.sd_mm[i]);
                (units.number(p.z_mm), units.number(off - half), units.number(off + half))
            })
            .collect();
        let fill = Fill::from(tint(look.colour, 0.5).with_alpha(90));
        scene.add(frame.band(&band, fill).titled(format!("{words}, 90 % band")));
    }
    let (from, to) = frame.x;
    scene.add(frame.line(&[(from, 0.0), (to, 0.0)], Stroke::new(SOFT_INK, 0.2)));
    for (words, i) in PLANES {
        let points: Vec<(f64, f64)> =
            view.centreline.iter().map(|p| (units.number(p.z_mm), units.number(p.off_mm[i]))).collect();
        scene.add(frame.line(&points, Look::of(i).stroke(0.6)).titled(words));
    }
}

/// The bow seen looking at the index end: a dial with an arrow toward it, its size below.
fn bow_arrow(scene: &mut Scene, frame: &Frame, plan: &TubePlan, source: &Source<'_>) {
    let at = [WIDTH_MM - 10.5, TOP_MM + 13.0];
    let r = 7.0;
    scene.add(Mark::circle(at, r).stroked(Stroke::new(SOFT_INK, 0.2)));
    for (deg, words) in [(0.0, "0°"), (90.0, ""), (180.0, ""), (270.0, "")] {
        let (s, c) = f64::to_radians(deg).sin_cos();
        scene.line(
            [at[0] + r * s, at[1] - r * c],
            [at[0] + (r - 1.0) * s, at[1] - (r - 1.0) * c],
            Stroke::new(INK, 0.25),
        );
        scene.text(label([at[0] + (r + 1.8) * s, at[1] - (r + 1.8) * c], words, Across::Middle, Upright::Middle));
    }
    let f = &plan.fit.figures;
    let (Some(bow), Some(toward)) = (f.bow_mm, f.bow_deg) else {
        scene.text(label(at, "not seen", Across::Middle, Upright::Middle));
        return;
    };
    let (s, c) = toward.value.to_radians().sin_cos();
    let tip = [at[0] + (r - 1.2) * s, at[1] - (r - 1.2) * c];
    scene.line(at, [at[0] + (r - 3.0) * s, at[1] - (r - 3.0) * c], Stroke::new(INK, 0.5));
    let back = |side: f64| [at[0] + (r - 3.4) * s + side * c, at[1] - (r - 3.4) * c + side * s];
    scene.add(Mark::path(vec![tip, back(1.1), back(-1.1)], true).filled(INK).titled("toward the bow"));
    let u = source.units;
    for (i, words) in [
        "bow".to_string(),
        format!("{} {}", u.length(bow.value, 2), u.word()),
        format!("to {}°", decimal(toward.value, 0)),
    ]
    .into_iter()
    .enumerate()
    {
        let y = at[1] + r + 2.0 + 3.3 * count(i);
        scene.text(label([at[0], y], words, Across::Middle, Upright::Top));
    }
    if let Some(z) = f.bow_at_mm {
        let x = frame.x_mm(u.number(z));
        let line = Stroke::new(INK, 0.2).dashed(&[0.6, 0.6]);
        scene.line([x, frame.plot.top], [x, frame.plot.bottom()], line);
        scene.text(label([x + 0.8, frame.plot.top + 0.8], "bow", Across::Start, Upright::Top));
    }
}
