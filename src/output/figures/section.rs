//! The section at one place: its true shape with pieces and blanks, and beside it its departure from round, magnified.

use super::{Source, TOP_MM, begin, finish, label, nice_below, nice_length};
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::{Outline, TubeView, half_blank_deg};
use crate::domain::Target;
use crate::domain::units::decimal;
use crate::numeric::summary::{NINETY, count, to_index};
use crate::output::words::{self, Signs};
use crate::paper::palette::{GRID, INK, Look, SOFT_INK, WASH, tint};
use crate::paper::scene::{Across, Colour, Fill, Mark, Point, Scene, Stroke, Upright};
use crate::paper::svg::number;

/// Radius at which the true shape is drawn, mm on paper, and where.
const TRUE_MM: f64 = 15.0;
const TRUE_AT: Point = [22.5, TOP_MM + 26.5];
/// Radius of the mean circle of the magnified departure, and how far a departure may reach, mm on paper.
const ROUND_MM: f64 = 12.0;
const REACH_MM: f64 = 5.0;
const ROUND_AT: Point = [65.5, TOP_MM + 26.5];

/// What the picture shows where the wall was read.
pub(crate) const SEEN_WALL: &str = "Ring: the cane between bark and bore; outlined in it: the blanks of runs that pass here. Right: band \
                                    of doubt 90 %, dashed its mean circle.";
const UNSEEN_WALL: &str = "The bore is not seen: no wall was read, the inner edge (dashed) stands where the least usable wall would end. \
                           Right: band of doubt 90 %, dashed its mean circle.";

/// Draws the section of `view`, seen looking at the index end, the index line at the top.
#[must_use]
pub fn draw(plan: &TubePlan, view: &TubeView, target: &Target, source: &Source<'_>) -> Scene {
    let (section, units) = (&view.section, source.units);
    let place = format!("{} {}", units.length(section.z_mm, 0), units.word());
    let words = describe(plan, section, &place, source);
    let mut scene = begin(70.0, &format!("Section at {place} from the index end"), words);
    let scale = TRUE_MM / section.mean_mm.max(1.0);
    true_shape(&mut scene, plan, section, target, scale);
    let (bar, words) = nice_length(12.0 / scale, units);
    scale_bar(&mut scene, [TRUE_AT[0], TOP_MM + 50.0], bar * scale, &words);
    let times = departure(&mut scene, plan, section);
    let (bar, words) = nice_length(6.0 / times, units);
    scale_bar(&mut scene, [ROUND_AT[0], TOP_MM + 50.0], bar * times, &words);
    for (x, words) in [
        (TRUE_AT[0], format!("true shape, {} : 1", number((scale * 100.0).round() / 100.0))),
        (ROUND_AT[0], format!("departure from round, × {}", number(times))),
    ] {
        scene.text(label([x, TOP_MM + 0.6], words, Across::Middle, Upright::Top).bold());
    }
    let mut notes = Vec::new();
    if !source.in_card {
        notes.push("Seen looking at the index end; split lines and pieces numbered clockwise.".to_string());
    }
    let seen = section.wall_mm.is_some();
    // cards share one explanation of what is seen
    if !(source.in_card && seen) {
        notes.push(if seen { SEEN_WALL.to_string() } else { UNSEEN_WALL.to_string() });
    }
    if !plan.fit.seen.oval {
        notes.push(words::sentence(&format!("{}: the shape is little more than a guess", words::unseen("ovality"))));
    }
    if !plan.fit.seen.size {
        notes.push(words::sentence(&format!("{}: the radius drawn is what is usual", words::unseen("size"))));
    }
    finish(scene, TOP_MM + 55.5, &notes, &source.words(Some((&plan.fit.tube, plan.fit.readings))))
}

fn describe(plan: &TubePlan, section: &Outline, place: &str, source: &Source<'_>) -> String {
    let f = &plan.fit.figures;
    let (least, most) = section.radius_mm.iter().fold((f64::MAX, f64::MIN), |(a, b), &r| (a.min(r), b.max(r)));
    let (u, units) = (source.units.word(), source.units);
    let split = plan
        .split
        .as_ref()
        .map_or(String::new(), |s| format!(" Split lines start at {}.", Signs::Plain.degrees(s.best.angle_deg)));
    format!(
        "Section of tube {} at {place}: radius {} to {} {u}, ovality of the tube {}.{split}",
        plan.fit.tube,
        units.length(least, 2),
        units.length(most, 2),
        units.measured_in_print(f.ovality_mm, 2),
    )
}

/// The paper point at `deg` clockwise from the top, `reach` mm from `at`.
pub(crate) fn polar(at: Point, deg: f64, reach: f64) -> Point {
    let (s, c) = deg.to_radians().sin_cos();
    [at[0] + reach * s, at[1] - reach * c]
}

/// A value given at equal steps of angle, between the steps too.
pub(crate) fn around(values: &[f64], deg: f64) -> f64 {
    let n = values.len();
    let u = deg.rem_euclid(360.0) / 360.0 * count(n);
    let (i, t) = (to_index(u.floor()) % n, u.fract());
    (1.0 - t) * values[i] + t * values[(i + 1) % n]
}

/// A closed outline round `at`, `values` mm from it in every direction.
pub(crate) fn ring(at: Point, values: impl Fn(f64) -> f64) -> Vec<Point> {
    (0..120).map(|i| f64::from(i) * 3.0).map(|deg| polar(at, deg, values(deg))).collect()
}

/// The part of an outline round `at` from one direction clockwise to another.
pub(crate) fn sector(at: Point, from: f64, to: f64, values: impl Fn(f64) -> f64) -> Vec<Point> {
    let steps = to_index(((to - from) / 3.0).ceil()).max(1);
    (0..=steps).map(|i| from + (to - from) * count(i) / count(steps)).map(|deg| polar(at, deg, values(deg))).collect()
}

fn true_shape(scene: &mut Scene, plan: &TubePlan, section: &Outline, target: &Target, scale: f64) {
    let bark = |deg: f64| around(&section.radius_mm, deg) * scale;
    let needed = target.blank_thickness_mm + target.clean_up_mm;
    let wall = |deg: f64| section.wall_mm.as_ref().map_or(needed, |w| around(w, deg));
    let bore = |deg: f64| (bark(deg) - wall(deg) * scale).max(0.5);
    if plan.pieces.is_empty() {
        let both = vec![ring(TRUE_AT, bark), ring(TRUE_AT, bore)];
        scene.add(Mark::contours(both, true).filled(Fill::from(WASH)));
    }
    for (i, piece) in plan.pieces.iter().enumerate() {
        let look = Look::of(i);
        let (from, to) = (piece.from_deg, piece.from_deg + plan.span_deg(i));
        let mut cane = sector(TRUE_AT, from, to, bark);
        cane.extend(sector(TRUE_AT, from, to, bore).into_iter().rev());
        scene.add(Mark::path(cane, true).filled(tint(look.colour, 0.22)).titled(format!("piece {}", piece.piece)));
        let here = piece.runs.iter().filter(|r| r.from_mm <= section.z_mm && section.z_mm <= r.to_mm);
        for run in here {
            let outline = blank(run.line_deg, target, section.mean_mm, scale, &bark);
            let hatched = Fill { colour: Some(Colour::WHITE), ..look.fill() };
            let mark = Mark::path(outline, true).filled(hatched).stroked(Stroke::new(look.colour, 0.3));
            scene.add(mark.titled(format!("blank of piece {}", piece.piece)));
        }
        let middle = polar(TRUE_AT, piece.centre_deg, 6.2);
        scene.text(label(middle, piece.piece.to_string(), Across::Middle, Upright::Middle).bold());
    }
    let edge = Stroke::new(INK, 0.3);
    scene.add(Mark::path(ring(TRUE_AT, bark), true).stroked(edge.clone()).titled("bark"));
    let inner = if section.wall_mm.is_some() { edge } else { Stroke::new(SOFT_INK, 0.2).dashed(&[1.0, 0.8]) };
    scene.add(Mark::path(ring(TRUE_AT, bore), true).stroked(inner).titled("bore"));
    index_mark(scene, TRUE_AT, bark(0.0));
    for piece in &plan.pieces {
        split_line(scene, TRUE_AT, piece.from_deg, bore(piece.from_deg) - 1.0, bark(piece.from_deg) + 1.6, piece.piece);
    }
}

/// The blank as it will be cut: rails at half its width, crown on the bark, flat side one thickness in.
fn blank(line: f64, target: &Target, mean_mm: f64, scale: f64, bark: &impl Fn(f64) -> f64) -> Vec<Point> {
    let half = half_blank_deg(target.blank_width_mm, mean_mm);
    let mut outline = sector(TRUE_AT, line - half, line + half, bark);
    let inner = bark(line) - target.blank_thickness_mm * scale;
    let side = target.blank_width_mm / 2.0 * scale;
    let (s, c) = line.to_radians().sin_cos();
    for across in [side, -side] {
        outline.push([TRUE_AT[0] + inner * s + across * c, TRUE_AT[1] - inner * c + across * s]);
    }
    outline
}

fn split_line(scene: &mut Scene, at: Point, deg: f64, from: f64, to: f64, number: usize) {
    let line = Stroke::new(INK, 0.45);
    scene.add(
        Mark::path(vec![polar(at, deg, from), polar(at, deg, to)], false)
            .stroked(line)
            .titled(format!("split line {number}, {}", Signs::Plain.degrees(deg))),
    );
    let words = Signs::Print.degrees(deg);
    scene.text(label(polar(at, deg, to + 2.4), words, Across::Middle, Upright::Middle).rimmed(Colour::WHITE));
}

/// A notch on the outside at the index line.
fn index_mark(scene: &mut Scene, at: Point, reach: f64) {
    let [x, y] = polar(at, 0.0, reach + 0.3);
    let notch = vec![[x, y], [x - 1.0, y - 2.0], [x + 1.0, y - 2.0]];
    scene.add(Mark::path(notch, true).filled(INK).stroked(Stroke::new(Colour::WHITE, 0.3)).titled("index line, 0 deg"));
}

/// Draws the magnified departure and returns the magnification.
fn departure(scene: &mut Scene, plan: &TubePlan, section: &Outline) -> f64 {
    let off: Vec<f64> = section.radius_mm.iter().map(|r| r - section.mean_mm).collect();
    let band: Vec<f64> = section.departure_sd_mm.iter().map(|s| NINETY * s).collect();
    let most = off.iter().zip(&band).map(|(o, b)| o.abs() + b).fold(0.0, f64::max);
    // the band of something unseen may be wide: the line itself then sets the scale
    let line = off.iter().map(|o| o.abs()).fold(0.0, f64::max);
    let times = nice_below(REACH_MM / most.max(line).max(0.005)).min(500.0);
    let reach = |deg: f64, k: f64| {
        (ROUND_MM + times * (around(&off, deg) + k * around(&band, deg))).clamp(2.0, ROUND_MM + 1.4 * REACH_MM)
    };
    let look = Look::of(3);
    let rings = vec![ring(ROUND_AT, |d| reach(d, 1.0)), ring(ROUND_AT, |d| reach(d, -1.0))];
    scene.add(Mark::contours(rings, true).filled(tint(look.colour, 0.25)).titled("90 % band of doubt"));
    scene.add(Mark::circle(ROUND_AT, ROUND_MM).stroked(Stroke::new(SOFT_INK, 0.2).dashed(&[1.2, 0.8])));
    for piece in &plan.pieces {
        let ends = vec![polar(ROUND_AT, piece.from_deg, 3.0), polar(ROUND_AT, piece.from_deg, ROUND_MM + REACH_MM)];
        scene.add(Mark::path(ends, false).stroked(Stroke::new(GRID, 0.25)));
    }
    scene.add(Mark::path(ring(ROUND_AT, |d| reach(d, 0.0)), true).stroked(Stroke::new(look.colour, 0.5)));
    if let Some(widest) = plan.fit.figures.ovality_deg {
        let ends = vec![polar(ROUND_AT, widest.value, 9.0), polar(ROUND_AT, widest.value + 180.0, 9.0)];
        scene.add(Mark::path(ends, false).stroked(Stroke::new(INK, 0.25).dashed(&[0.6, 0.6])));
        let words = format!("widest {}°", decimal(widest.value, 0));
        scene.text(label(ROUND_AT, words, Across::Middle, Upright::Middle).rimmed(Colour::WHITE));
    }
    index_mark(scene, ROUND_AT, ROUND_MM + REACH_MM);
    times
}

fn scale_bar(scene: &mut Scene, middle: Point, long: f64, words: &str) {
    let (a, b, y) = (middle[0] - long / 2.0, middle[0] + long / 2.0, middle[1]);
    for line in [[[a, y], [b, y]], [[a, y - 0.8], [a, y + 0.8]], [[b, y - 0.8], [b, y + 0.8]]] {
        scene.line(line[0], line[1], Stroke::new(INK, 0.3));
    }
    scene.text(label([middle[0], y + 1.3], words, Across::Middle, Upright::Top));
}
