//! The bark unrolled: where a blank would pass, the runs laid out, the split lines, readings and marks.

use super::{EDGE_MM, Source, TOP_MM, WIDTH_MM, begin, finish, label};
use crate::decide::plan::{PlannedRun, TubePlan};
use crate::decide::tube_view::{ChanceMap, TubeView, half_blank_deg};
use crate::domain::units::decimal;
use crate::domain::{Mark as BarkMark, Target, counted};
use crate::lot::percent;
use crate::numeric::summary::count;
use crate::output::words::{self, Signs};
use crate::paper::axes::{self, Axis, Sample};
use crate::paper::font::{Weight, shorten, width_mm};
use crate::paper::palette::{GRID, INK, PAPER, SOFT_INK, WASH, chance};
use crate::paper::scene::{Across, Colour, Fill, Hatch, Mark, Point, Region, Scene, Stroke, Text, Upright};
use std::f64::consts::TAU;

/// Largest size of the unrolled bark on paper, mm.
const WIDEST_MM: f64 = 70.0;
const TALLEST_MM: f64 = 150.0;
/// The same beside the words of a card.
const CARD_TALLEST_MM: f64 = 104.0;
/// Room for the name of the angles under the narrowest map, mm.
const LEAST_CARD_MM: f64 = 62.0;
/// Least size: narrower, the split angles and chances would stand in each other; lower, the scale along the tube would.
const NARROWEST_MM: f64 = 40.0;
const LOWEST_MM: f64 = 25.0;
/// The chance steps that are drawn; each step takes the colour of its own middle.
const STEPS: [f64; 6] = [0.05, 0.2, 0.4, 0.6, 0.8, 0.95];
/// Bark lines drawn as one row of the map.
const ROW_LINES: usize = 2;
const HEAD_MM: f64 = TOP_MM + 3.5;

/// Where the bark lies on the paper.
struct Sheet {
    plot: Region,
    /// Paper over true size, round the tube and along it: one number for any usual tube.
    across: f64,
    along: f64,
    radius_mm: f64,
}

impl Sheet {
    fn new(radius_mm: f64, length_mm: f64, tallest_mm: f64) -> Sheet {
        let girth = TAU * radius_mm;
        let scale = (WIDEST_MM / girth).min(tallest_mm / length_mm).min(1.0);
        let (across, along) = (scale.max(NARROWEST_MM / girth), scale.max(LOWEST_MM / length_mm));
        let plot = Region::new(EDGE_MM + 11.0, HEAD_MM + 3.0, girth * across, length_mm * along);
        Sheet { plot, across, along, radius_mm }
    }
    fn scale_words(&self) -> String {
        let told = |scale: f64| crate::paper::svg::number((scale * 100.0).round() / 100.0);
        let (across, along) = (told(self.across), told(self.along));
        if across == along {
            format!("Drawn at {along} of true size, same scale both ways; left and right edge are the index line.")
        } else {
            format!(
                "Drawn at {along} of true size along the tube and {across} round it; left and right edge are the index line."
            )
        }
    }
    fn x(&self, deg: f64) -> f64 {
        self.plot.left + deg.to_radians() * self.radius_mm * self.across
    }
    fn y(&self, z_mm: f64) -> f64 {
        self.plot.top + z_mm * self.along
    }
    /// A patch of bark as one region, or two when it crosses the index line.
    fn patch(&self, from_deg: f64, to_deg: f64, z: (f64, f64)) -> Vec<Region> {
        let a = from_deg.rem_euclid(360.0);
        let b = a + (to_deg - from_deg).clamp(0.0, 360.0);
        let region =
            |a: f64, b: f64| Region::new(self.x(a), self.y(z.0), self.x(b) - self.x(a), self.y(z.1) - self.y(z.0));
        if b > 360.0 { vec![region(a, 360.0), region(0.0, b - 360.0)] } else { vec![region(a, b)] }
    }
}

/// Draws the bark of `view`: angle across, the tube's length downwards, at equal scale unless the tube is so long, thin or
/// short that its words would not fit.
#[must_use]
pub fn draw(plan: &TubePlan, view: &TubeView, marks: &[BarkMark], target: &Target, source: &Source<'_>) -> Scene {
    let tallest_mm = if source.in_card { CARD_TALLEST_MM } else { TALLEST_MM };
    let sheet = Sheet::new(view.mean_radius_mm, plan.fit.length_mm, tallest_mm);
    let plot = sheet.plot;
    let mut scene = begin(plot.bottom() + 60.0, "The bark unrolled", describe(plan));
    scene.add(Mark::rectangle(plot).filled(Fill::from(WASH)));
    if let Some(map) = &view.chance {
        levels(&mut scene, &sheet, map);
    }
    for mark in marks {
        bark_mark(&mut scene, &sheet, mark);
    }
    reading_dots(&mut scene, &sheet, view);
    let half = half_blank_deg(target.blank_width_mm, view.mean_radius_mm);
    for piece in &plan.pieces {
        let x = sheet.x(piece.from_deg);
        scene.line([x, plot.top - 1.2], [x, plot.bottom() + 1.2], split_stroke());
        let words = Signs::Print.degrees(piece.from_deg);
        scene.text(label([x, plot.top - 1.8], words, Across::Middle, Upright::Baseline).bold());
        for run in &piece.runs {
            run_outline(&mut scene, &sheet, run, half, if source.in_card { 2.3 } else { 2.8 });
        }
    }
    for (i, piece) in plan.pieces.iter().enumerate() {
        let mut words = format!("piece {}", piece.piece);
        let x = sheet.x(piece.centre_deg);
        let room = plan.span_deg(i).to_radians() * sheet.radius_mm * sheet.across;
        let beside = (x - plot.keep_across(x, 5.0)).abs() > 0.5;
        let mut half = 5.0;
        if source.in_card || beside || width_mm(&words, super::WORDS_MM, Weight::Regular) + 1.5 > room {
            (words, half) = (piece.piece.to_string(), 1.0);
        }
        let at = [plot.keep_across(x, half), plot.bottom() - 1.2];
        scene.text(label(at, words, Across::Middle, Upright::Baseline).rimmed(Colour::WHITE));
    }
    scales(&mut scene, &sheet, plan, source);
    let doubted = view.readings.iter().any(|r| r.doubted);
    let mut below = plot.bottom() + 9.0;
    if source.in_card {
        scene.width_mm = (plot.right() + 5.0).clamp(LEAST_CARD_MM, WIDTH_MM);
    } else {
        below = legend(&mut scene, below, view.chance.is_some(), doubted, !marks.is_empty());
    }
    let mut notes = vec![sheet.scale_words()];
    if plan.split.is_none() {
        notes.push(words::sentence(words::TOO_SHORT));
    }
    finish(scene, below + 1.0, &notes, &source.words(Some((&plan.fit.tube, plan.fit.readings))))
}

fn describe(plan: &TubePlan) -> String {
    let runs: usize = plan.pieces.iter().map(|p| p.runs.len()).sum();
    let splits: Vec<String> = plan.pieces.iter().map(|p| decimal(words::whole_degrees(p.from_deg), 0)).collect();
    format!(
        "Unrolled bark of tube {}: {} laid out on {}; split lines at {} deg.",
        plan.fit.tube,
        counted(runs, "run"),
        counted(plan.pieces.len(), "piece"),
        splits.join(", ")
    )
}

/// Paints each chance step over the one below it: one mark per step.
fn levels(scene: &mut Scene, sheet: &Sheet, map: &ChanceMap) {
    let rows = ChanceMap::LINES / ROW_LINES;
    let turn = 360.0 / count(rows);
    for (k, &step) in STEPS.iter().enumerate() {
        let mut patches = Vec::new();
        for row in 0..rows {
            let line = mean_line(map, row);
            // a row stands about the middle of its lines
            let middle = (count(row) + 0.5 - 0.5 / count(ROW_LINES)) * turn;
            for z in above(&map.z_mm, &line, step) {
                let parts = sheet.patch(middle - turn / 2.0, middle + turn / 2.0, z);
                patches.extend(parts.into_iter().map(|r| r.corners().to_vec()));
            }
        }
        if !patches.is_empty() {
            let words = format!("chance of {:.0} % and more", step * 100.0);
            scene.add(Mark::contours(patches, true).filled(step_colour(k)).titled(words));
        }
    }
}

fn step_colour(k: usize) -> Colour {
    let next = STEPS.get(k + 1).copied().unwrap_or(1.0);
    // the deepest blues would swallow the words of the runs
    chance(0.85 * f64::midpoint(STEPS[k], next))
}

fn mean_line(map: &ChanceMap, row: usize) -> Vec<f64> {
    let lines: Vec<&[f32]> = (0..ROW_LINES).map(|i| map.line(row * ROW_LINES + i)).collect();
    (0..map.z_mm.len()).map(|j| lines.iter().map(|l| f64::from(l[j])).sum::<f64>() / count(ROW_LINES)).collect()
}

/// The stretches of z on which `values` is at least `step`, ends between places taken on the straight line.
fn above(z: &[f64], values: &[f64], step: f64) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    let mut from = None;
    for j in 0..z.len() {
        let crossing = |i: usize| {
            let t = (step - values[i]) / (values[i + 1] - values[i]);
            z[i] + t * (z[i + 1] - z[i])
        };
        match (values[j] >= step, from) {
            (true, None) => from = Some(if j == 0 { z[0] } else { crossing(j - 1) }),
            (false, Some(start)) => {
                out.push((start, crossing(j - 1)));
                from = None;
            }
            _ => {}
        }
    }
    if let (Some(start), Some(&end)) = (from, z.last()) {
        out.push((start, end));
    }
    out
}

fn bark_mark(scene: &mut Scene, sheet: &Sheet, mark: &BarkMark) {
    let (from, to) = match (mark.from, mark.to) {
        (Some(a), Some(b)) => (a.degrees(), a.degrees() + (b - a).wrapped().degrees()),
        _ => (0.0, 360.0),
    };
    let parts = sheet.patch(from, to, (mark.from_mm.max(0.0), mark.to_mm));
    for (i, part) in parts.iter().enumerate() {
        let outline = Mark::rectangle(*part).filled(mark_fill()).stroked(Stroke::new(INK, 0.3));
        scene.add(outline.titled(format!("mark: {}", mark.why)));
        if i == 0 {
            let fits = shorten(&mark.why, 2.4, Weight::Bold, 30.0).into_owned();
            let room = width_mm(&fits, 2.4, Weight::Bold) / 2.0;
            let middle = sheet.plot.keep_across(part.left + part.width / 2.0, room);
            let at = [middle, part.top + part.height / 2.0];
            let text = Text::new(at, fits, 2.4).bold().anchored(Across::Middle, Upright::Middle);
            scene.text(text.coloured(INK).rimmed(Colour::WHITE));
        }
    }
}

fn split_stroke() -> Stroke {
    Stroke::new(INK, 0.55).dashed(&[2.2, 0.9])
}

fn mark_fill() -> Fill {
    let hatch = Hatch { turn_deg: 45.0, spacing_mm: 1.1, width_mm: 0.2, colour: INK, crossed: true };
    Fill { colour: Some(PAPER), hatch: Some(hatch) }
}

fn reading_dots(scene: &mut Scene, sheet: &Sheet, view: &TubeView) {
    // a closed dot of its own for each reading would double the size of the file: one mark holds them all
    let dot = |p: Point| vec![p];
    let (doubted, good): (Vec<_>, Vec<_>) = view.readings.iter().partition(|r| r.doubted);
    let at = |r: &crate::decide::tube_view::ReadPlace| [sheet.x(r.deg), sheet.y(r.z_mm)];
    if !good.is_empty() {
        let dots = good.iter().map(|r| dot(at(r))).collect();
        scene.add(Mark::contours(dots, false).stroked(Stroke::new(PAPER, 0.85)));
        let dots = good.iter().map(|r| dot(at(r))).collect();
        scene.add(Mark::contours(dots, false).stroked(Stroke::new(INK, 0.55)).titled("readings"));
    }
    for r in doubted {
        let [x, y] = at(&r);
        let cross = vec![vec![[x - 1.0, y - 1.0], [x + 1.0, y + 1.0]], vec![[x - 1.0, y + 1.0], [x + 1.0, y - 1.0]]];
        scene.add(Mark::contours(cross.clone(), false).stroked(Stroke::new(PAPER, 1.1)));
        scene.add(Mark::contours(cross, false).stroked(Stroke::new(INK, 0.5)).titled("doubted reading"));
    }
}

fn run_outline(scene: &mut Scene, sheet: &Sheet, run: &PlannedRun, half_deg: f64, words_mm: f64) {
    let parts = sheet.patch(run.line_deg - half_deg, run.line_deg + half_deg, (run.from_mm, run.to_mm));
    let words = format!("run, chance {} %", percent(run.chance));
    for part in &parts {
        scene.add(Mark::rectangle(*part).stroked(Stroke::new(PAPER, 1.3)));
    }
    for part in &parts {
        let look = Stroke::new(INK, 0.6);
        scene.add(Mark::rectangle(*part).stroked(look).titled(words.as_str()));
    }
    let Some(part) = parts.iter().max_by(|a, b| a.width.total_cmp(&b.width)) else { return };
    let middle = sheet.plot.keep_across(part.left + part.width / 2.0, 4.5);
    let at = [middle, part.top + part.height / 2.0];
    let text = Text::new(at, format!("{} %", percent(run.chance)), words_mm).bold();
    scene.text(text.anchored(Across::Middle, Upright::Middle).coloured(INK).rimmed(Colour::WHITE));
}

/// Frame, ticks and names of both scales.
fn scales(scene: &mut Scene, sheet: &Sheet, plan: &TubePlan, source: &Source<'_>) {
    let plot = sheet.plot;
    scene.add(Mark::rectangle(plot).stroked(Stroke::new(INK, 0.25)));
    for deg in [0.0, 90.0, 180.0, 270.0, 360.0] {
        let x = sheet.x(deg);
        scene.line([x, plot.bottom()], [x, plot.bottom() + 1.0], Stroke::new(INK, 0.25));
        let words = format!("{deg:.0}");
        scene.text(label([x, plot.bottom() + 1.6], words, Across::Middle, Upright::Top).coloured(SOFT_INK));
    }
    let under = [plot.left + plot.width / 2.0, plot.bottom() + 5.0];
    scene.text(label(under, "angle clockwise from the index line, deg", Across::Middle, Upright::Top));
    let units = source.units;
    let length = units.number(plan.fit.length_mm);
    let step = super::nice_below(length / 4.0);
    let axis = Axis::numbers("", 0.0, length, 5);
    let mut v = 0.0;
    while v <= length + 1e-9 {
        let y = sheet.y(v / units.number(1.0));
        scene.line([plot.left - 1.0, y], [plot.left, y], Stroke::new(INK, 0.25));
        scene.text(label([plot.left - 1.6, y], axis.tick_label(v), Across::End, Upright::Middle).coloured(SOFT_INK));
        scene.marks.push(
            Mark::path(vec![[plot.left, y], [plot.right(), y]], false).stroked(Stroke::new(GRID.with_alpha(120), 0.1)),
        );
        v += step;
    }
    let at = [EDGE_MM + 1.2, plot.top + plot.height / 2.0];
    let words = format!("from the index end (top), {}", units.word());
    let room = plot.height;
    let words = shorten(&words, super::WORDS_MM, Weight::Regular, room).into_owned();
    scene.text(label(at, words, Across::Middle, Upright::Middle).turned(-90.0));
}

/// The signs of all maps, once for those that stand on cards.
#[must_use]
pub fn key() -> Scene {
    let words = "Colours of the chances, and the signs of runs, split lines, marks and readings.";
    let mut scene = begin(30.0, "Signs of the unrolled bark", words.to_string());
    let below = legend(&mut scene, TOP_MM, true, true, true);
    scene.height_mm = below + 1.0;
    scene
}

/// The legend from `y` down; returns where it ends.
fn legend(scene: &mut Scene, y: f64, chances: bool, doubted: bool, marked: bool) -> f64 {
    let mut y = y;
    if chances {
        let words = "chance that a blank with its middle line here passes, % and more:";
        scene.text(label([EDGE_MM, y], words, Across::Start, Upright::Top));
        y += 3.6;
        for (k, &step) in STEPS.iter().enumerate() {
            let x = EDGE_MM + 13.5 * count(k);
            scene.add(
                Mark::rectangle(Region::new(x, y, 6.0, 2.8))
                    .filled(step_colour(k))
                    .stroked(Stroke::new(SOFT_INK, 0.12)),
            );
            scene.text(label([x + 6.8, y + 1.4], format!("{:.0}", step * 100.0), Across::Start, Upright::Middle));
        }
        y += 3.8;
    }
    let mut entries = vec![
        (Sample::Line(Stroke::new(INK, 0.6)), "run with its chance"),
        (Sample::Line(split_stroke()), "split line"),
    ];
    if marked {
        entries.push((Sample::Area(mark_fill()), "mark"));
    }
    let x = EDGE_MM;
    let used = axes::legend(scene, [x, y], &entries, WIDTH_MM - 2.0 * EDGE_MM);
    let words = if doubted { "dots: readings; crosses: doubted readings" } else { "dots: readings" };
    scene.text(label([EDGE_MM, y + used + 0.6], words, Across::Start, Upright::Top));
    y + used + 3.8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_above_a_step_end_between_places() {
        let z = [0.0, 1.0, 2.0, 3.0];
        assert_eq!(above(&z, &[0.0, 1.0, 1.0, 0.0], 0.5), [(0.5, 2.5)]);
        assert_eq!(above(&z, &[1.0, 0.0, 0.0, 1.0], 0.5), [(0.0, 0.5), (2.5, 3.0)]);
        assert!(above(&z, &[0.1; 4], 0.5).is_empty());
    }

    #[test]
    fn a_patch_across_the_index_line_is_drawn_on_both_edges() {
        let plot = Region::new(10.0, 10.0, 72.0, 100.0);
        let sheet = Sheet { plot, across: 1.0, along: 1.0, radius_mm: 72.0 / TAU };
        let parts = sheet.patch(350.0, 370.0, (0.0, 10.0));
        assert_eq!(parts.len(), 2);
        assert!((parts[0].right() - 82.0).abs() < 1e-9 && (parts[1].left - 10.0).abs() < 1e-9);
        assert!((parts[0].width + parts[1].width - 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_tube_too_long_or_thin_for_its_words_is_drawn_wider() {
        let usual = Sheet::new(12.7, 228.0, TALLEST_MM);
        assert!((usual.across - usual.along).abs() < 1e-12 && usual.scale_words().contains("same scale both ways"));
        // 1200 mm long: 150 mm on paper, its girth of 80 mm would be 10 mm wide
        for (radius, length) in [(12.7, 1200.0), (12.7, 3000.0), (1.5, 86.0), (1.0, 3000.0), (60.0, 30.0)] {
            let sheet = Sheet::new(radius, length, TALLEST_MM);
            let plot = sheet.plot;
            assert!(plot.width >= 39.9 && plot.width <= 70.1, "{radius} {length}: {plot:?}");
            assert!(plot.height >= 24.9 && plot.height <= 150.1, "{radius} {length}: {plot:?}");
            assert!(sheet.scale_words().contains("round it"), "{}", sheet.scale_words());
        }
    }
}
