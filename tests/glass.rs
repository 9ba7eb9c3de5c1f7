//! Rings of known size, drawn as a scanner would see them, and what is measured of them.

#[path = "support/glass.rs"]
mod glass;

use glass::{End, Flaw, Page};
use quarterlight::picture::{
    Curve, Grey, Picture, PictureError, PixelScale, Refusal, Ring, ScaleFault, ScaleFrom, TickFault, decode, find_card,
    find_rings, find_scale,
};
use std::io::Cursor;

/// Root mean squares of what is off, and the tick.
#[derive(Debug)]
struct Off {
    bark_mm: f64,
    wall_mm: f64,
    tick_deg: f64,
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
    let all = |curve: &Curve, bark: bool| -> Vec<f64> {
        let told = curve.radius_mm.iter().enumerate();
        told.filter_map(|(k, r)| Some(departure(Curve::direction(k), (*r)?, bark))).collect()
    };
    let bark = all(&ring.bark, true);
    let bore = ring.bore.as_ref().map(|b| all(b, false)).unwrap_or_default();
    let walls: Vec<f64> = (0..72)
        .filter_map(|k| {
            let a = Curve::direction(k);
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
    Off { bark_mm: rms(&bark), wall_mm: rms(&walls), tick_deg: tick }
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
    assert_eq!(
        found.things.len(),
        page.ends.len(),
        "{name}: {:?}",
        found.things.iter().map(|t| t.what.as_ref().err()).collect::<Vec<_>>()
    );
    for (thing, end) in found.things.iter().zip(&page.ends) {
        let ring = thing.what.as_ref().unwrap_or_else(|e| panic!("{name}: {e:?}"));
        let off = off(ring, end);
        println!(
            "{name}: {off:?} {:?} scatter {:.4} soft {:.3}",
            ring.bark.unclear, ring.bark.scatter_mm, ring.bark.soft_mm
        );
        assert!(
            off.bark_mm < bark && off.wall_mm < wall && off.tick_deg.abs() < 0.5,
            "{name}: {off:?} {:?}",
            ring.tick
        );
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
    // a deep shadow beside a ring on white: the dark ground is no edge
    let mut shadow = small_page(600.0);
    (shadow.ground, shadow.hole) = (0.9, 0.03);
    shadow.flaws = vec![Flaw::Shadow([18.0, 32.0], 3.5, 0.9), Flaw::Shadow([12.0, 31.0], 3.0, 0.9)];
    assert!(matches!(refusals(&shadow)[..], [Some(Refusal::NotRound { .. }), None]), "{:?}", refusals(&shadow));
    // light on the ground between two rings, whose left sides are dim
    let mut glow = small_page(600.0);
    glow.glare = 0.6;
    glow.flaws = vec![Flaw::Glow([35.0, 19.0], 9.0, 0.14)];
    let told = refusals(&glow);
    assert!(matches!(told[..], [None, Some(Refusal::Unclear { unclear })] if unclear.faint > 0.2), "{told:?}");
    // out of focus all round
    let mut soft = small_page(600.0);
    soft.blur = 9.0;
    assert!(
        matches!(refusals(&soft)[..], [Some(Refusal::Soft { .. }), Some(Refusal::Soft { .. })]),
        "{:?}",
        refusals(&soft)
    );
}

#[test]
fn a_few_fibres_are_left_out_of_the_outline_and_many_are_refused() {
    let fibre = |deg: f64, page: &Page| {
        let (s, c) = deg.to_radians().sin_cos();
        let at = page.ends[0].at;
        Flaw::Fibre([at[0] + 12.0 * c, at[1] + 12.0 * s], [at[0] + 14.6 * c, at[1] + 14.6 * s], 0.5)
    };
    let mut few = small_page(600.0);
    few.flaws = [10.0, 130.0, 300.0].map(|d| fibre(d, &few)).to_vec();
    let page = grey(&few);
    let found = find_rings(&page, stated(&few), None);
    let ring = found.things[0].what.as_ref().expect("measured");
    let off = off(ring, &few.ends[0]);
    assert!(off.bark_mm < 0.03 && ring.bark.unclear.share() > 0.01, "{off:?} {:?}", ring.bark.unclear);
    let mut many = small_page(600.0);
    many.flaws = (0..36).map(|k| fibre(10.0 * f64::from(k), &many)).collect();
    let told = refusals(&many);
    assert!(matches!(told[0], Some(Refusal::Unclear { .. } | Refusal::NotRound { .. })), "{told:?}");
}

#[test]
fn a_lost_tick_and_a_second_one_are_told() {
    let mut page = small_page(600.0);
    page.ends[0].tick = None;
    let faults = |page: &Page| -> Vec<Option<TickFault>> {
        let found = find_rings(&grey(page), stated(page), None);
        found.things.iter().map(|t| t.what.as_ref().expect("measured").tick.err()).collect()
    };
    assert_eq!(faults(&page), [Some(TickFault::None), None]);
    // a scratch across the wall, as dark as the tick, drawn as a thin shadow
    let at = page.ends[1].at;
    let (s, c) = 20_f64.to_radians().sin_cos();
    page.flaws = (0..24)
        .map(|k| 8.2 + 0.2 * f64::from(k))
        .map(|r| Flaw::Shadow([at[0] + r * c, at[1] + r * s], 0.2, 0.45))
        .collect();
    assert_eq!(faults(&page), [Some(TickFault::None), Some(TickFault::Two)]);
}

#[test]
fn the_card_gives_both_scales_and_wins_over_the_file() {
    let mut page = Page::dark([180.0, 140.0], 300.0);
    page.dpi = [300.0, 301.8];
    page.card = Some(([92.0, 48.0], 0.02, [1.0, 1.0]));
    page.ends = vec![End::plain([40.0, 112.0], 60.0, false), End::plain([90.0, 113.0], 300.0, true)];
    let read = |page: &Page| {
        let file = glass::png(&page.draw(), page.pixels(), Some([300.0; 2]));
        decode(Cursor::new(file)).expect("a picture")
    };
    let picture: Picture = read(&page);
    let scale = find_scale(&picture, Some([140.0, 60.0]), None).expect("a card");
    assert_eq!(scale.from, ScaleFrom::Card { measured: true });
    let (across, down) = scale.stretch_percent.expect("stated too");
    assert!(across.abs() < 0.02 && (down - 0.6).abs() < 0.02, "{across} {down}");
    let found = find_rings(&picture.grey, scale.scale, scale.card.as_ref());
    assert_eq!(found.things.len(), 2, "{:?}", found.large);
    for (thing, end) in found.things.iter().zip(&page.ends) {
        let off = off(thing.what.as_ref().expect("measured"), end);
        assert!(off.bark_mm < 0.03 && off.wall_mm < 0.05 && off.tick_deg.abs() < 0.5, "{off:?}");
    }
    // a ring against the card is told, not lost
    page.ends[0].at = [40.0, 48.0 + 39.0 + 11.0];
    let found = find_rings(&grey(&page), scale.scale, scale.card.as_ref());
    let told: Vec<_> = found.things.iter().map(|t| t.what.as_ref().err()).collect();
    assert!(
        matches!(told[..], [Some(Refusal::OnCard), None]),
        "{told:?} {:?}",
        found.things.iter().map(|t| (t.place_mm, t.size_mm)).collect::<Vec<_>>()
    );
    // printed to fit the page at 97 %: nobody measured it, so it is not believed; measured, it is
    page.ends.truncate(0);
    page.card = Some(([92.0, 48.0], 0.0, [0.97, 0.97]));
    let picture = read(&page);
    assert!(matches!(find_scale(&picture, None, None), Err(ScaleFault::Apart { .. })));
    let scale = find_scale(&picture, Some([135.8, 58.2]), None).expect("measured");
    assert!((scale.scale.y / (301.8 / 25.4) - 1.0).abs() < 2e-4, "{scale:?}");
}

#[test]
fn files_say_their_resolution_and_broken_ones_are_one_clear_error() {
    let page = small_page(300.0);
    let (pixels, size) = (page.draw(), page.pixels());
    let png = glass::png(&pixels, size, Some([300.0, 302.0]));
    let read = decode(Cursor::new(&png)).expect("a picture");
    assert_eq!(read.grey.pixels(), &pixels[..]);
    let (x, y) = read.stated_dpi.expect("stated");
    assert!((x - 300.0).abs() < 0.02 && (y - 302.0).abs() < 0.02, "{x} {y}");
    let tiff = decode(Cursor::new(glass::tiff(&pixels, size, [300, 301]))).expect("a picture");
    assert_eq!((tiff.grey.pixels(), tiff.stated_dpi), (&pixels[..], Some((300.0, 301.0))));
    let jpeg = glass::jpeg(&pixels, size, 300, 90);
    assert_eq!(decode(Cursor::new(&jpeg)).expect("a picture").stated_dpi, Some((300.0, 300.0)));
    let fails = |bytes: &[u8]| decode(Cursor::new(bytes.to_vec())).map(drop).expect_err("refused").to_string();
    assert!(fails(b"") == "it is no PNG, JPEG or TIFF picture" && fails(b"tube,kind").contains("no PNG"));
    assert!(fails(&png[..png.len() / 2]).contains("damaged"), "{}", fails(&png[..png.len() / 2]));
    assert!(fails(&jpeg[..jpeg.len() / 2]).contains("damaged"), "{}", fails(&jpeg[..jpeg.len() / 2]));
    let whole = glass::tiff(&pixels, size, [300, 300]);
    assert!(fails(&whole[..whole.len() / 2]).contains("TIFF"), "{}", fails(&whole[..whole.len() / 2]));
    assert!(fails(&glass::png(&[7], [1, 1], None)).contains("too few"));
    // a heading that promises more than is taken
    let mut huge = png.clone();
    huge[16..24].copy_from_slice(&[0, 1, 0x11, 0x70, 0, 1, 0x11, 0x70]);
    let crc = crc32(&huge[12..29]);
    huge[29..33].copy_from_slice(&crc.to_be_bytes());
    assert!(matches!(decode(Cursor::new(huge)), Err(PictureError::TooLarge { width: 70_000, .. })));
    // any single byte off: an answer or an error, never a panic
    for k in 0..400 {
        let (mut bad_png, mut bad_jpeg, mut bad_tiff) = (png.clone(), jpeg.clone(), whole.clone());
        for file in [&mut bad_png, &mut bad_jpeg, &mut bad_tiff] {
            let at = (k * 7919) % file.len().min(3000);
            file[at] ^= 0x5a;
            let _ = decode(Cursor::new(&file[..]));
        }
    }
}

/// The check sum of PNG (ISO 3309), bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, b| {
        (0..8).fold(crc ^ u32::from(*b), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}

#[test]
fn empty_and_noisy_pictures_hold_no_rings() {
    let scale = PixelScale::from_dpi(300.0, 300.0).expect("a scanner's");
    let empty = Grey::new(600, 600, vec![20; 360_000]).expect("pixels");
    assert!(find_rings(&empty, scale, None).things.is_empty() && find_card(&empty, [140.0, 60.0]) == Ok(None));
    let mut noisy = Page::dark([60.0, 60.0], 300.0);
    (noisy.ground, noisy.noise) = (0.2, 60.0);
    let found = find_rings(&grey(&noisy), scale, None);
    assert!(found.things.iter().all(|t| t.what.is_err()), "{found:?}");
}

/// A photograph of coins (its source and the reference's stand in `tests/reference/scripts/coins.py`): no bores, no scale, light
/// that falls off, worn rims. What is measured has to agree with another program's outlines; what is unsure is refused.
#[test]
fn coins_on_a_photograph_are_measured_as_by_other_code_or_refused() {
    let file = include_bytes!("fixtures/coins.png");
    let picture = decode(Cursor::new(&file[..])).expect("a picture");
    // four pixels a millimetre make them 9 to 16 mm wide
    let scale = PixelScale { x: 4.0, y: 4.0 };
    let known: Vec<[f64; 3]> = include_str!("reference/coins.csv")
        .lines()
        .skip(1)
        .map(|l| l.split(',').map(|v| v.parse().expect("a number")).collect::<Vec<f64>>())
        .map(|v| [v[0], v[1], v[2]])
        .collect();
    let found = find_rings(&picture.grey, scale, None);
    let measured: Vec<&Ring> = found.things.iter().filter_map(|t| t.what.as_ref().ok()).collect();
    println!("{} seen, {} measured of {}", found.things.len(), measured.len(), known.len());
    assert!(found.things.len() >= 22 && found.things.len() <= 24 && measured.len() >= 12, "{}", measured.len());
    let mut off = Vec::new();
    for ring in &measured {
        let [x, y] = ring.middle_mm.map(|v| 4.0 * v);
        let far = |k: &[f64; 3]| (k[0] - x).hypot(k[1] - y);
        let near = known.iter().min_by(|a, b| far(a).total_cmp(&far(b))).expect("coins");
        off.push(4.0 * ring.bark.mean_mm() - near[2]);
        println!("{x:.1} {y:.1}: radius {:.2} px, {:.2} by the reference", 4.0 * ring.bark.mean_mm(), near[2]);
        assert!(far(near) < 1.5, "{x} {y}: no coin of the reference");
        assert!(ring.bore.is_none() || ring.tick.is_err(), "a coin has no tick");
    }
    assert!(rms(&off) < 0.25 && off.iter().all(|o| o.abs() < 0.5), "{off:?}");
}

/// A real round thing as another program sees it: middle, mean radius and the radius every ten degrees from straight up, pixels.
struct Reference {
    bar_px: Option<f64>,
    middle: [f64; 2],
    mean: f64,
    radii: Vec<f64>,
}

/// Sources and the program that made them stand in `tests/reference/scripts/round_things.py`.
fn reference(what: &str) -> Reference {
    let rows = include_str!("reference/round_things.csv");
    let row = rows.lines().find_map(|l| l.strip_prefix(&format!("{what},"))).expect("a row");
    let (bar, rest) = row.split_once(',').expect("a bar or none");
    let v: Vec<f64> = rest.split(',').map(|v| v.parse().expect("a number")).collect();
    Reference { bar_px: bar.parse().ok(), middle: [v[0], v[1]], mean: v[2], radii: v[3..].to_vec() }
}

/// The ring of a picture that holds one, by its scale in pixels to the millimetre, and what its radius is off, pixels,
/// where its edge is clear.
fn against(file: &[u8], px: f64, known: &Reference) -> (Ring, Vec<f64>) {
    let picture = decode(Cursor::new(file)).expect("a picture");
    let found = find_rings(&picture.grey, PixelScale { x: px, y: px }, None);
    let mut rings = found.things.into_iter().filter_map(|t| t.what.ok());
    let ring = rings.next().expect("measured");
    assert!(rings.next().is_none(), "more than one ring");
    let [x, y] = [0, 1].map(|i| px * ring.middle_mm[i] - known.middle[i]);
    let off = known.radii.iter().enumerate().filter_map(|(i, r)| {
        let a = (10.0 * i as f64 - 90.0).to_radians();
        // both about the reference's middle, the shift being small
        let own = px * ring.bark.clear_at(a)? + x * a.cos() + y * a.sin();
        Some(own - r)
    });
    let off = off.collect();
    (ring, off)
}

/// A culture dish photographed from above, 90 mm wide by the package that carries the picture, its rim clear plastic with glare on
/// a dark cloth. Wider than any tube, it is read as one of a third of its size.
#[test]
fn a_photographed_dish_is_as_wide_and_as_round_as_it_is() {
    let known = reference("dish");
    let px = 2.0 * known.mean / 30.0;
    let (ring, off) = against(include_bytes!("fixtures/dish.jpg"), px, &known);
    let wide = 6.0 * ring.bark.mean_mm();
    println!("{wide:.2} mm wide; off by {:.2} px rms of {} places", rms(&off), off.len());
    assert!((wide - 90.0).abs() < 0.2, "{wide}");
    assert!(off.len() >= 29 && rms(&off) < 1.0, "{} {off:?}", rms(&off));
    // moulded round: what one width differs from another is the camera's slant and the edge's unsureness
    let widths: Vec<f64> = (0..18)
        .map(|i| f64::from(i) * 10.0_f64.to_radians())
        .filter_map(|a| Some(3.0 * (ring.bark.clear_at(a)? + ring.bark.clear_at(a + std::f64::consts::PI)?)))
        .collect();
    let mean = widths.iter().sum::<f64>() / widths.len() as f64;
    let scatter = rms(&widths.iter().map(|w| w - mean).collect::<Vec<f64>>());
    println!("{} widths scatter by {scatter:.3} mm", widths.len());
    assert!(widths.len() >= 12 && scatter < 0.15, "{scatter} {widths:?}");
}

/// A stained cross-section of a stem on white, torn at its rim, its scale a bar of one millimetre in the picture.
#[test]
fn a_section_of_a_stem_is_as_wide_as_the_bar_beside_it_says() {
    let known = reference("stem");
    let px = known.bar_px.expect("a bar");
    let (ring, off) = against(include_bytes!("fixtures/stem_section.png"), px, &known);
    let (wide, other) = (2.0 * ring.bark.mean_mm(), 2.0 * known.mean / px);
    println!("{wide:.3} mm wide, {other:.3} by the reference; off by {:.2} px rms of {} places", rms(&off), off.len());
    assert!((wide - other).abs() < 0.05, "{wide} {other}");
    assert!(off.len() >= 29 && rms(&off) < 3.0, "{} {off:?}", rms(&off));
    assert!(ring.bore.is_none() && ring.tick == Err(TickFault::NoBore), "its pith is no bore: {:?}", ring.tick);
}
