//! Rings of known size, drawn as a scanner would see them, and what is measured of them.

#[path = "support/glass.rs"]
mod glass;

use glass::{End, Flaw, Page};
use quarterlight::picture::{Grey, PictureError, PixelScale, Refusal, Ring, TickFault, decode, find_card, find_rings};
use std::io::Cursor;

/// Root mean squares of what is off, and the tick.
#[derive(Debug)]
struct Off {
    bark_mm: f64,
    wall_mm: f64,
    tick_deg: f64,
    middle_mm: f64,
}

fn rms(v: &[f64]) -> f64 {
    (v.iter().map(|x| x * x).sum::<f64>() / v.len() as f64).sqrt()
}

/// How far a measured ring is from the true end.
fn off(ring: &Ring, end: &End) -> Off {
    let d = [ring.middle_mm[0] - end.at[0], ring.middle_mm[1] - end.at[1]];
    // a measured radius as seen from the true middle
    let departure = |screen: f64, r: f64, bark: bool| {
        let p = [d[0] + r * screen.cos(), d[1] + r * screen.sin()];
        let own = end.own(p[1].atan2(p[0]));
        p[0].hypot(p[1]) - if bark { end.bark(own) } else { end.hole(own) }
    };
    let all = |curve: &quarterlight::picture::Curve, bark: bool| -> Vec<f64> {
        let told = curve.radius_mm.iter().enumerate();
        told.filter_map(|(k, r)| Some(departure(quarterlight::picture::Curve::direction(k), (*r)?, bark))).collect()
    };
    let bark = all(&ring.bark, true);
    let bore = ring.bore.as_ref().map(|b| all(b, false)).unwrap_or_default();
    let walls: Vec<f64> = (0..72)
        .filter_map(|k| {
            let a = quarterlight::picture::Curve::direction(k);
            let wall = ring.bark.clear_at(a)? - ring.bore.as_ref()?.clear_at(a)?;
            let own = end.own(a);
            Some(wall - (end.bark(own) - end.hole(own)))
        })
        .collect();
    assert!(bark.len() > 55 && bore.len() > 55, "{} {}", bark.len(), bore.len());
    let tick = ring.tick.map_or(f64::NAN, |t| {
        let turn = (t.angle - end.turn).to_degrees().rem_euclid(360.0);
        if turn > 180.0 { turn - 360.0 } else { turn }
    });
    Off { bark_mm: rms(&bark), wall_mm: rms(&walls), tick_deg: tick, middle_mm: d[0].hypot(d[1]) }
}

fn grey(page: &Page) -> Grey {
    let [w, h] = page.pixels();
    Grey::new(w, h, page.draw()).expect("pixels")
}

fn small_page(dpi: f64) -> Page {
    let mut page = Page::dark([70.0, 38.0], dpi);
    page.ends = vec![End::plain([18.0, 18.5], 40.0, false), End::plain([51.3, 19.2], 200.0, true)];
    page
}

fn stated(page: &Page) -> PixelScale {
    PixelScale::from_dpi(page.dpi[0], page.dpi[1]).expect("a scanner's")
}

/// Every end found in order, within these bounds.
fn holds(name: &str, page: &Page, grey: &Grey, bark: f64, wall: f64) {
    let found = find_rings(grey, stated(page), None);
    assert_eq!(found.things.len(), page.ends.len(), "{name}: {:?}", found.things.iter().map(|t| t.what.as_ref().err()).collect::<Vec<_>>());
    for (thing, end) in found.things.iter().zip(&page.ends) {
        let ring = thing.what.as_ref().unwrap_or_else(|e| panic!("{name}: {e:?}"));
        let off = off(ring, end);
        println!("{name}: {off:?} {:?} scatter {:.4} soft {:.3}", ring.bark.unclear, ring.bark.scatter_mm, ring.bark.soft_mm);
        assert!(off.bark_mm < bark && off.wall_mm < wall && off.tick_deg.abs() < 0.5, "{name}: {off:?} {:?}", ring.tick);
    }
}

#[test]
fn outline_wall_and_tick_are_found_at_300_600_and_1200_dpi() {
    for (dpi, bark, wall) in [(300.0, 0.03, 0.05), (600.0, 0.03, 0.05), (1200.0, 0.03, 0.05)] {
        let page = small_page(dpi);
        holds(&format!("{dpi} dpi"), &page, &grey(&page), bark, wall);
    }
}

#[test]
fn blur_noise_glare_stretch_and_jpeg_leave_the_sizes_standing() {
    let mut blurred = small_page(600.0);
    (blurred.blur, blurred.noise) = (2.0, 6.0);
    holds("blur of 2 pixels, noise of 6 codes", &blurred, &grey(&blurred), 0.03, 0.05);
    let mut glare = small_page(600.0);
    glare.glare = 0.6;
    glare.flaws = vec![Flaw::Glow([30.0, 8.0], 8.0, 0.12)];
    holds("glare and a bright ground on one side", &glare, &grey(&glare), 0.03, 0.05);
    let mut stretched = small_page(600.0);
    stretched.dpi = [600.0, 603.6];
    holds("stretch of 0.6 % down", &stretched, &grey(&stretched), 0.03, 0.05);
    for dpi in [300_u16, 600] {
        let page = small_page(f64::from(dpi));
        let file = glass::jpeg(&page.draw(), page.pixels(), dpi, 80);
        let read = decode(Cursor::new(file)).expect("a picture");
        assert_eq!(read.stated, Some(stated(&page)));
        holds(&format!("JPEG at quality 80, {dpi} dpi"), &page, &read.grey, 0.03, 0.05);
    }
    let mut white = small_page(600.0);
    (white.ground, white.face, white.hole) = (0.9, 0.45, 0.03);
    holds("on white", &white, &grey(&white), 0.03, 0.05);
}

#[test]
fn a_leaning_or_broad_tick_is_followed_to_the_bark() {
    for (wide, lean) in [(0.3, 0.0), (1.2, 0.0), (0.5, 1.0), (0.6, -0.8)] {
        let mut page = small_page(600.0);
        for end in &mut page.ends {
            end.tick = Some((wide, lean));
        }
        holds(&format!("tick of {wide} mm leaning {lean} mm"), &page, &grey(&page), 0.03, 0.05);
    }
}

fn refusals(page: &Page) -> Vec<Option<Refusal>> {
    let found = find_rings(&grey(page), stated(page), None);
    found.things.into_iter().map(|t| t.what.err()).collect()
}

#[test]
fn what_is_unsure_is_refused_with_its_reason() {
    // two rings that touch, and one beside them
    let mut touching = Page::dark([100.0, 40.0], 600.0);
    touching.ends = [16.0, 41.0, 75.0].map(|x| End::plain([x, 20.0], 10.0, false)).to_vec();
    touching.ends[1].at[0] = 16.0 + 25.1;
    let told = refusals(&touching);
    assert!(matches!(told[..], [Some(Refusal::NotRound { reach }), None] if reach > 1.5), "{told:?}");
    // cut by the picture's edge
    let mut cut = small_page(600.0);
    cut.ends[0].at[0] = 11.0;
    assert!(matches!(refusals(&cut)[..], [Some(Refusal::Cut), None]), "{:?}", refusals(&cut));
    // a shadow over a third of the ground about a ring on white
    let mut shadow = small_page(600.0);
    (shadow.ground, shadow.hole) = (0.9, 0.03);
    shadow.flaws = vec![Flaw::Shadow([18.0, 32.0], 3.5, 0.9), Flaw::Shadow([12.0, 31.0], 3.0, 0.9)];
    println!("shadow: {:?}", refusals(&shadow));
    // light on the ground as bright as the face
    let mut glow = small_page(600.0);
    glow.flaws = vec![Flaw::Glow([34.0, 10.0], 7.0, 0.6), Flaw::Glow([34.0, 25.0], 7.0, 0.5)];
    println!("glow: {:?}", refusals(&glow));
}
