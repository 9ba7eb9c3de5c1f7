//! The strip that goes round the index end.

use super::{StripSheet, StripSpec};
use crate::domain::Angle;
use crate::domain::units::decimal;
use crate::paper::font::{Weight, plain, shorten, width_mm};
use crate::paper::palette::{GRID, INK, SOFT_INK};
use crate::paper::scene::{Across, Fill, Hatch, Mark, Point, Region, Scene, Stroke, Text, Upright};

/// Height of a wrap strip, mm.
pub(super) const HEIGHT_MM: f64 = 24.0;
/// How far up from the lower edge a split tick reaches, mm.
const TICK_MM: f64 = 14.5;
/// Size of the words beside a tick, and where there is little room, mm.
const WORDS_MM: f64 = 2.2;
const SMALL_WORDS_MM: f64 = 1.8;

pub(super) fn draw(scene: &mut Scene, at: Point, spec: &StripSpec, sheet: &StripSheet) {
    let [left, top] = at;
    let (girth, bottom) = (spec.girth_mm, top + HEIGHT_MM);
    lap(scene, Region::new(left + girth, top, sheet.lap_mm, HEIGHT_MM));
    let outline = Region::new(left, top, girth + sheet.lap_mm, HEIGHT_MM);
    scene.add(Mark::rectangle(outline).stroked(Stroke::new(GRID, 0.15)));
    for x in [left, left + girth] {
        let mark = Mark::path(vec![[x, top], [x, bottom]], false).stroked(Stroke::new(INK, 0.35));
        scene.add(mark.titled("index line"));
    }
    words(scene, at, spec, sheet);
    let ticks = spec.ticks_mm();
    let told = |decimals: usize| -> Vec<[String; 2]> {
        let one = |(&along, angle): (&f64, &Angle)| {
            // the unit stands with the girth: neighbours have little room
            let length = (sheet.length_text)(along);
            let bare = length.trim_end_matches(" mm").trim_end_matches(" in").to_string();
            [format!("{}°", degrees(angle.wrapped().degrees(), decimals)), bare]
        };
        ticks.iter().zip(&spec.split_angles).map(one).collect()
    };
    let (told, size) = {
        let usual = told(1);
        // on so short a strip half a degree is less than the width of a line
        if crowded(&ticks, &usual, girth) { (told(0), SMALL_WORDS_MM) } else { (usual, WORDS_MM) }
    };
    for (i, (&along, labels)) in ticks.iter().zip(&told).enumerate() {
        let x = left + along;
        let title = format!("split {} at {} deg", i + 1, labels[0].trim_end_matches('°'));
        let tick = Mark::path(vec![[x, bottom - TICK_MM], [x, bottom]], false).stroked(Stroke::new(INK, 0.25));
        scene.add(tick.titled(title));
        // near the second index line the number stands on the other side of its tick
        let (across, dx) =
            if turned_back(along, labels, girth, size) { (Across::End, -0.8) } else { (Across::Start, 0.8) };
        let number = Text::new([x + dx, bottom - TICK_MM], (i + 1).to_string(), 3.6).bold();
        scene.text(number.anchored(across, Upright::Top).coloured(INK));
        for (line, words) in labels.iter().enumerate() {
            let down = if line == 0 { 3.6 } else { 6.2 };
            let small = Text::new([x + dx, bottom - TICK_MM + down], words.clone(), size);
            scene.text(small.anchored(across, Upright::Top).coloured(SOFT_INK));
        }
    }
    pieces(scene, [left, bottom], spec, &ticks);
}

/// Room that the words of a tick take beside it, mm.
fn needed(labels: &[String], size: f64) -> f64 {
    labels.iter().map(|l| width_mm(l, size, Weight::Regular)).fold(0.0, f64::max) + 1.6
}

/// Whether the words of a tick stand before it, since there is no room behind.
fn turned_back(along: f64, labels: &[String], girth: f64, size: f64) -> bool {
    let need = needed(labels, size);
    along > girth - need && along > need
}

/// Whether the strip is so short that the words of a tick that stand before it would run into those of the tick before.
fn crowded(ticks: &[f64], told: &[[String; 2]], girth: f64) -> bool {
    let back = |i: usize| turned_back(ticks[i], &told[i], girth, WORDS_MM);
    let runs_into = |i: usize| {
        let before = (0..ticks.len()).filter(|&j| ticks[j] < ticks[i]).max_by(|&a, &b| ticks[a].total_cmp(&ticks[b]));
        let room = |j: usize| needed(&told[i], WORDS_MM) + needed(&told[j], WORDS_MM);
        back(i) && before.is_some_and(|j| !back(j) && ticks[i] - ticks[j] < room(j))
    };
    (0..ticks.len()).any(runs_into)
}

/// Degrees, 0 to below 360.
fn degrees(deg: f64, decimals: usize) -> String {
    let told = decimal(deg, decimals);
    if told.starts_with("360") { decimal(0.0, decimals) } else { told }
}

fn lap(scene: &mut Scene, region: Region) {
    let hatch = Hatch { turn_deg: 45.0, spacing_mm: 2.0, width_mm: 0.12, colour: GRID, crossed: false };
    scene.add(Mark::rectangle(region).filled(Fill { colour: None, hatch: Some(hatch) }).titled("lap"));
    let middle = [region.left + region.width / 2.0, region.top + region.height / 2.0];
    let text = Text::new(middle, "lap under", 2.6).anchored(Across::Middle, Upright::Middle);
    scene.text(text.turned(-90.0).coloured(SOFT_INK));
}

/// Tube name, girth and the direction arrow, above the ticks.
fn words(scene: &mut Scene, at: Point, spec: &StripSpec, sheet: &StripSheet) {
    let [left, top] = at;
    let room = spec.girth_mm - 3.0;
    let girth = format!("girth {}", (sheet.length_text)(spec.girth_mm));
    let girth_room = width_mm(&girth, 2.2, Weight::Regular) + 2.0;
    let named = plain(&spec.tube);
    // below about 40 mm there is no room for the girth beside the name
    let with_girth = room - girth_room > 20.0;
    let name = shorten(&named, 3.6, Weight::Bold, if with_girth { room - girth_room } else { room });
    scene
        .text(Text::new([left + 1.5, top + 1.4], name, 3.6).bold().anchored(Across::Start, Upright::Top).coloured(INK));
    if with_girth {
        let place = [left + spec.girth_mm - 1.5, top + 1.4];
        scene.text(Text::new(place, girth, 2.2).anchored(Across::End, Upright::Top).coloured(SOFT_INK));
    }
    let y = top + 6.6;
    let sayings = [
        "clockwise, seen looking at the index end (lower edge)",
        "clockwise, lower edge at the index end",
        "clockwise",
    ];
    let fits = |s: &&&str| width_mm(s, 2.2, Weight::Regular) <= room - 9.0;
    let how = *sayings.iter().find(fits).unwrap_or(&"");
    scene.text(Text::new([left + 9.5, y], how, 2.2).anchored(Across::Start, Upright::Middle).coloured(INK));
    let (tail, tip) = (left + 1.5, left + 8.5);
    scene.line([tail, y], [tip - 1.5, y], Stroke::new(INK, 0.35));
    let head = vec![[tip, y], [tip - 2.4, y - 1.0], [tip - 2.4, y + 1.0]];
    scene.add(Mark::path(head, true).filled(INK).titled("clockwise seen looking at the index end"));
}

/// The name of each piece in the middle of the widest part of its stretch that is not cut by the index line.
fn pieces(scene: &mut Scene, corner: Point, spec: &StripSpec, ticks: &[f64]) {
    let girth = spec.girth_mm;
    for (i, name) in spec.piece_names.iter().enumerate().take(ticks.len()) {
        let (from, to) = (ticks[i], ticks[(i + 1) % ticks.len()]);
        let stretches = if to > from { vec![(from, to)] } else { vec![(from, girth), (0.0, to)] };
        let Some(&(a, b)) = stretches.iter().max_by(|p, q| (p.1 - p.0).total_cmp(&(q.1 - q.0))) else { continue };
        let (named, room) = (plain(name), b - a - 1.5);
        let whole = format!("piece {named}");
        let fits = width_mm(&whole, 2.6, Weight::Regular) <= room;
        let words = if fits { whole } else { shorten(&named, 2.6, Weight::Regular, room).into_owned() };
        let place = [corner[0] + f64::midpoint(a, b), corner[1] - 2.0];
        scene.text(Text::new(place, words, 2.6).anchored(Across::Middle, Upright::Baseline).coloured(SOFT_INK));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_neighbouring_ticks_keep_apart_on_a_thin_tube() {
        let told = |n: usize, deg: &str| vec![[deg.to_string(), "19.0".into()]; n];
        let usual = |n: usize| told(n, "238.0°");
        // thirds of 10.25 mm, the last near the second index line, and quarters of 25.4 mm likewise
        let (thin, inch) = ([9.0, 19.7, 30.4], [18.0, 37.9, 57.9, 77.8]);
        assert!(crowded(&thin, &usual(3), 32.2) && !crowded(&inch, &usual(4), 79.8));
        // the gaps to both ticks are in what is needed twice
        let both = 2.0 * needed(&told(1, "238°")[0], SMALL_WORDS_MM) - 1.6;
        assert!(both <= 10.7, "{both}");
        // where the last words stand behind their tick nothing is in the way
        assert!(!crowded(&[1.0, 11.7, 22.4], &usual(3), 32.2));
        assert_eq!([degrees(359.96, 1), degrees(359.96, 0), degrees(12.34, 1)], ["0.0", "0", "12.3"]);
    }
}
