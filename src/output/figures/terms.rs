//! Small drawings of the words that a report uses, one each: what is looked at, and where the number is taken.

use super::index_end::arrow;
use super::section::{polar, sector};
use crate::paper::palette::{GRID, INK, PAPER, SOFT_INK, WASH};
use crate::paper::scene::{Across, Fill, Hatch, Mark, Point, Scene, Stroke, Text, Upright};

/// Size of every drawing, mm.
const SIZE_MM: [f64; 2] = [52.0, 24.0];
const WORDS_MM: f64 = 2.8;

fn begin(title: &str, description: &str) -> Scene {
    let mut scene = Scene::new(SIZE_MM[0], SIZE_MM[1], title);
    scene.description = description.to_string();
    scene.background = Some(PAPER);
    scene
}

fn label(scene: &mut Scene, at: Point, words: &str, across: Across) {
    scene.text(Text::new(at, words, WORDS_MM).anchored(across, Upright::Middle).rimmed(PAPER).coloured(INK));
}

/// A piece from the side: its bark as heights along it, and the cane under it.
fn side(scene: &mut Scene, bark: &[Point]) {
    let mut cane = bark.to_vec();
    cane.extend([[bark[bark.len() - 1][0], 21.5], [bark[0][0], 21.5]]);
    scene.add(Mark::path(cane, true).filled(WASH).stroked(Stroke::new(SOFT_INK, 0.2)).titled("the cane"));
    scene.add(Mark::path(bark.to_vec(), false).stroked(Stroke::new(INK, 0.5)).titled("bark"));
}

/// A straight stick between two points of its lower edge.
fn stick(scene: &mut Scene, from: Point, to: Point) {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let long = dx.hypot(dy);
    let up = [dy / long * 2.2, -dx / long * 2.2];
    let edge = vec![from, to, [to[0] + up[0], to[1] + up[1]], [from[0] + up[0], from[1] + up[1]]];
    scene.add(Mark::path(edge, true).filled(PAPER).stroked(Stroke::new(INK, 0.35)).titled("gauge stick"));
}

fn light() -> Fill {
    Fill {
        colour: Some(PAPER),
        hatch: Some(Hatch { turn_deg: 45.0, spacing_mm: 1.0, width_mm: 0.2, colour: INK, crossed: false }),
    }
}

/// Heights of a bark line between 4 and 48 mm across the drawing.
fn bark_line(height: impl Fn(f64) -> f64) -> Vec<Point> {
    (0..=44_u32).map(|i| f64::from(i) / 44.0).map(|t| [4.0 + 44.0 * t, height(t)]).collect()
}

/// The largest gap under a stick that rests on two places.
#[must_use]
pub fn hollow() -> Scene {
    let mut scene =
        begin("Hollow", "A straight stick rests on two places of the bark; between them light shows under it.");
    let bark = bark_line(|t| 12.0 + 3.0 * (1.0 - ((t - 0.5) / 0.4).powi(2)).max(0.0));
    side(&mut scene, &bark);
    let gap: Vec<Point> = bark.iter().copied().filter(|p| p[1] > 12.0 + 1e-9).collect();
    scene.add(Mark::path(gap, true).filled(light()).titled("light"));
    stick(&mut scene, [4.0, 12.0], [48.0, 12.0]);
    scene.line([26.0, 12.0], [26.0, 15.0], Stroke::new(INK, 0.7));
    label(&mut scene, [26.0, 18.2], "hollow", Across::Middle);
    label(&mut scene, [4.0, 7.0], "straight stick, a blank long", Across::Start);
    scene
}

/// How far an end of the stick can drop.
#[must_use]
pub fn rock() -> Scene {
    let mut scene = begin("Rock", "A straight stick rides on a belly of the bark; an end of it can drop.");
    let bark = bark_line(|t| 11.0 + 5.0 * ((t - 0.5) / 0.5).powi(2));
    side(&mut scene, &bark);
    stick(&mut scene, [4.0, 11.0], [48.0, 11.0]);
    scene.line([48.0, 11.0], [48.0, 16.0], Stroke::new(INK, 0.7));
    arrow(&mut scene, vec![[45.5, 11.6], [45.5, 14.8]], "it drops");
    label(&mut scene, [43.0, 18.2], "rock", Across::End);
    label(&mut scene, [4.0, 6.0], "straight stick", Across::Start);
    scene
}

/// The circle that fits the back.
#[must_use]
pub fn arc() -> Scene {
    let mut scene =
        begin("Arc diameter", "A piece seen from its end; the circle that fits its back over the width of a blank.");
    let (at, reach): (Point, f64) = ([17.0, 12.0], 10.2);
    scene.add(
        Mark::circle(at, reach).stroked(Stroke::new(SOFT_INK, 0.25).dashed(&[1.0, 0.8])).titled("circle that fits"),
    );
    cane(&mut scene, at, reach);
    scene.line([at[0] - reach, at[1] + 2.0], [at[0] + reach, at[1] + 2.0], Stroke::new(INK, 0.25));
    for (from, to) in [(at[0] + 1.0, at[0] + reach), (at[0] - 1.0, at[0] - reach)] {
        arrow(&mut scene, vec![[from, at[1] + 2.0], [to, at[1] + 2.0]], "diameter");
    }
    label(&mut scene, [30.0, 12.0], "arc diameter", Across::Start);
    scene
}

/// What makes one rail rounder than the other.
#[must_use]
pub fn skew() -> Scene {
    let mut scene = begin("Skew", "A piece seen from its end; the circle at one rail is smaller than at the other.");
    let (at, reach): (Point, f64) = ([20.0, 14.5], 12.0);
    cane(&mut scene, at, reach);
    let rails = [(-34.0, 7.5, "smaller"), (34.0, 11.0, "larger")];
    for (deg, own, words) in rails {
        // the circle touches the bark from inside
        let centre = polar(at, deg, reach - own);
        let part = sector(centre, deg - 65.0, deg + 65.0, |_| own);
        scene.add(Mark::path(part, false).stroked(Stroke::new(SOFT_INK, 0.3).dashed(&[1.0, 0.8])).titled(words));
    }
    label(&mut scene, [33.4, 7.0], "one rail is", Across::Start);
    label(&mut scene, [33.4, 10.6], "rounder than", Across::Start);
    label(&mut scene, [33.4, 14.2], "the other", Across::Start);
    scene
}

/// A piece from its end, bark up.
fn cane(scene: &mut Scene, at: Point, reach: f64) {
    let mut cane = sector(at, -45.0, 45.0, |_| reach);
    cane.extend(sector(at, -45.0, 45.0, |_| reach * 0.74).into_iter().rev());
    scene.add(Mark::path(cane, true).filled(WASH).stroked(Stroke::new(INK, 0.45)).titled("a piece, bark up"));
}

/// How sure a run is, as a bar for each word.
#[must_use]
pub fn chance(words: &[(&str, usize)]) -> Scene {
    let mut scene = begin("Chance", "How many of a hundred drawn surfaces let the stretch pass.");
    for (i, &(word, least)) in (0_u32..).zip(words) {
        let y = 2.4 + 5.2 * f64::from(i);
        let most = i.checked_sub(1).and_then(|j| words.get(usize::try_from(j).ok()?)).map_or(100, |w| w.1);
        let x = |percent: usize| 14.0 + 22.0 * f64::from(u32::try_from(percent).unwrap_or(100)) / 100.0;
        let bar = |a: f64, b: f64| crate::paper::scene::Region::new(a, y, b - a, 3.0);
        scene.add(Mark::rectangle(bar(x(0), x(100))).filled(WASH).stroked(Stroke::new(GRID, 0.2)));
        scene.add(Mark::rectangle(bar(x(least), x(most))).filled(INK).titled(format!("{word}: {least} to {most} %")));
        label(&mut scene, [2.0, y + 1.5], word, Across::Start);
        let told = if i == 0 { format!("{least} % up") } else { format!("{least} to {most}") };
        label(&mut scene, [38.0, y + 1.5], &told, Across::Start);
    }
    scene
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_drawing_can_be_written_and_holds_its_word() {
        for (scene, word) in [
            (hollow(), "hollow"),
            (rock(), "rock"),
            (arc(), "arc diameter"),
            (skew(), "rounder"),
            (chance(&[("sure", 95), ("thin", 0)]), "thin"),
        ] {
            let text = crate::paper::svg::write(&scene, "x").expect("finite");
            assert!(text.contains(word), "{word}: {text}");
        }
    }
}
