//! The picture for the eye: what a scanner saw, with numbers, outlines, ticks, and what was refused and why.

use super::ends_report::end_words;
use crate::lot::ends::{LeftOut, Seen};
use crate::paper::font::{Weight, break_lines};
use crate::paper::raster::{Backdrop, write};
use crate::paper::scene::{Across, Colour, DrawError, Mark, Point, Scene, Stroke, Text, Upright};
use crate::picture::{Curve, Found, Grey, PixelScale, Refusal, Ring, Thing, TickFault};

/// Lines of what was taken, of what was refused, and of the tick. On black, white and cane alike; each is told by its form
/// too: full, dashed, and a short stroke with a ring at its end.
const TAKEN: Colour = Colour::solid(0, 150, 255);
const REFUSED: Colour = Colour::solid(235, 60, 0);
const TICK: Colour = Colour::solid(255, 0, 190);
/// Smallest type, as a share of the picture's width.
const TYPE: f64 = 0.012;

/// The annotated picture as PNG, made small where it is large. `seen`: what became of every numbered ring, once they have
/// names.
///
/// # Errors
/// None for a picture that was decoded; else what the painter says.
pub fn picture(grey: &Grey, scale: PixelScale, found: &Found, seen: Option<&[Seen]>) -> Result<Vec<u8>, DrawError> {
    let (small, side) = grey.small();
    let side = side as f64;
    let (width, height) = (small.width() as f64 * side / scale.x, small.height() as f64 * side / scale.y);
    let mut scene = Scene::new(width, height, "What was seen on the glass");
    let pen = (width * TYPE).max(1.6);
    for (i, thing) in found.things.iter().enumerate() {
        let end = seen.and_then(|s| s.get(i));
        draw(&mut scene, thing, i + 1, end, pen);
    }
    write(&scene, Backdrop { width: small.width(), height: small.height(), grey: small.pixels() })
}

/// A reason in few words: the whole of it stands on the screen.
fn short(why: LeftOut) -> &'static str {
    match why {
        LeftOut::Refused(Refusal::Cut) => "refused: reaches the edge",
        LeftOut::Refused(Refusal::NotRound { .. }) => "refused: not round",
        LeftOut::Refused(Refusal::OnCard) => "refused: touches the card",
        LeftOut::Refused(Refusal::Unclear { .. }) => "refused: edge not clear",
        LeftOut::Refused(Refusal::Soft { .. }) => "refused: soft edge",
        LeftOut::NoTick(TickFault::None) => "no tick",
        LeftOut::NoTick(TickFault::Two) => "two ticks",
        LeftOut::NoTick(TickFault::NoBore) => "bore not clear",
        LeftOut::PassedOver => "passed over",
    }
}

fn draw(scene: &mut Scene, thing: &Thing, number: usize, end: Option<&Seen>, pen: f64) {
    let radius = thing.size_mm / 2.0;
    let (colour, words) = match (end, &thing.what) {
        (Some(Ok(named)), _) => (TAKEN, end_words(named)),
        (Some(Err(why)), _) => (REFUSED, short(*why).into()),
        (None, Err(why)) => (REFUSED, short(LeftOut::Refused(*why)).into()),
        (None, Ok(ring)) => match ring.tick {
            Ok(_) => (TAKEN, String::new()),
            Err(fault) => (REFUSED, short(LeftOut::NoTick(fault)).into()),
        },
    };
    match &thing.what {
        Ok(ring) => draw_ring(scene, ring, end, colour, pen),
        Err(_) => scene.add(
            Mark::circle(thing.place_mm, radius)
                .stroked(Stroke::new(colour, pen / 8.0).dashed(&[pen / 2.0, pen / 2.0])),
        ),
    }
    let [x, y] = thing.place_mm;
    let big = (radius * 0.7).max(pen);
    let text = Text::new([x, y], number.to_string(), big).bold().anchored(Across::Middle, Upright::Middle);
    scene.text(text.coloured(colour).rimmed(Colour::WHITE));
    let lines = break_lines(&words, pen, Weight::Regular, (2.6 * radius).max(12.0 * pen));
    // below the ring, above it where the picture ends, over its rim where neither has room
    let room = pen * 1.3 * lines.len() as f64;
    // clear of a tick that points down
    let gap = if tick_of(thing, end).is_some_and(|a| a.sin() > 0.6) { 4.0 } else { 1.5 };
    let below = y + radius + gap * pen;
    let first = if below + room < scene.height_mm { below } else { (y - radius - room).max(1.3 * pen) };
    for (i, line) in lines.into_iter().enumerate() {
        let text = Text::new([x, first + pen * 1.3 * i as f64], line, pen).anchored(Across::Middle, Upright::Baseline);
        scene.text(text.coloured(colour).rimmed(Colour::WHITE));
    }
}

/// Direction of the tick of a ring that has a name.
fn by_name(end: &Seen) -> Option<f64> {
    end.as_ref().ok().map(|n| n.tick.radians())
}

fn tick_of(thing: &Thing, end: Option<&Seen>) -> Option<f64> {
    match end {
        Some(end) => by_name(end),
        None => thing.what.as_ref().ok().and_then(|ring| Some(ring.tick.ok()?.angle)),
    }
}

fn draw_ring(scene: &mut Scene, ring: &Ring, end: Option<&Seen>, colour: Colour, pen: f64) {
    let at = |a: f64, r: f64| [ring.middle_mm[0] + r * a.cos(), ring.middle_mm[1] + r * a.sin()];
    for curve in std::iter::once(&ring.bark).chain(&ring.bore) {
        let points: Vec<Point> = (0..360).map(|d| f64::from(d).to_radians()).map(|a| at(a, curve.at(a))).collect();
        scene.add(Mark::path(points, true).stroked(Stroke::new(colour, pen / 12.0)));
        // directions that did not count are crossed out
        for (k, _) in curve.radius_mm.iter().enumerate().filter(|(_, r)| r.is_none()) {
            let a = Curve::direction(k);
            scene.line(at(a, curve.at(a) - pen / 2.0), at(a, curve.at(a) + pen / 2.0), Stroke::new(REFUSED, pen / 5.0));
        }
    }
    if let Some(a) = end.map_or(ring.tick.ok().map(|t| t.angle), by_name) {
        let rim = ring.bark.at(a);
        scene.line(at(a, rim), at(a, rim + 1.5 * pen), Stroke::new(TICK, pen / 5.0));
        scene.add(Mark::circle(at(a, rim + 2.0 * pen), pen / 2.0).stroked(Stroke::new(TICK, pen / 6.0)));
        // which way the tube's own angles run from there
        let turn = if end.is_some_and(|e| e.as_ref().is_ok_and(|n| n.name.far)) { -1.0 } else { 1.0 };
        let arc: Vec<Point> =
            (0..=20).map(|i| a + turn * f64::from(i) / 20.0 * 0.45).map(|b| at(b, rim + 0.8 * pen)).collect();
        let tip = at(a + turn * 0.45, rim + 0.8 * pen);
        let back = |r: f64| at(a + turn * 0.38, rim + r * pen);
        scene.add(Mark::path(arc, false).stroked(Stroke::new(TICK, pen / 8.0)));
        scene.add(Mark::path(vec![back(0.5), tip, back(1.1)], false).stroked(Stroke::new(TICK, pen / 8.0)));
    }
}
