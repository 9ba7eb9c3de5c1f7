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
