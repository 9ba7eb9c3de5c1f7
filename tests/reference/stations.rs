//! The proven values once more, this time through readings: what `fit` shows of a station or a bark line is what the
//! geometry under it proves.

use crate::source::{close, json, number, numbers, points, table};
use quarterlight::domain::{Angle, Kind, Reading, Tube};
use quarterlight::tube::direct::{DirectFigures, Roundness, StationFit, direct_figures};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

fn figures(readings: Vec<Reading>) -> DirectFigures {
    direct_figures(&Tube { length_mm: 300.0, readings, ..Tube::default() }, &BTreeMap::new())
}

fn station(readings: Vec<Reading>) -> StationFit {
    figures(readings).stations.first().cloned().expect("a station")
}

/// Angle and distance of points seen from a place.
fn polar(points: &[[f64; 2]], from: [f64; 2]) -> Vec<(Angle, f64)> {
    let seen = |p: &[f64; 2]| {
        let (x, y) = (p[0] - from[0], p[1] - from[1]);
        (Angle::from_radians(y.atan2(x)), x.hypot(y))
    };
    points.iter().map(seen).collect()
}

/// Readings of a kind at one station: of points whose own centre is at the origin, seen from an axis that is off by `axis`.
fn ring(kind: Kind, points: &[[f64; 2]], axis: [f64; 2], zero: f64) -> Vec<Reading> {
    polar(points, [0.0; 2])
        .into_iter()
        .map(|(a, r)| {
            let (s, c) = a.sin_cos();
            Reading::new(kind, 50.0, a, r + axis[0] * c + axis[1] * s - zero)
        })
        .collect()
}

fn traced(points: &[[f64; 2]], from: [f64; 2]) -> Vec<Reading> {
    polar(points, from).into_iter().map(|(a, r)| Reading::new(Kind::Outline, 0.0, a, r)).collect()
}

fn round(case: &str, s: &StationFit) -> Roundness {
    s.roundness.unwrap_or_else(|| panic!("{case}: no roundness"))
}

#[test]
fn the_axle_sets_through_a_tracing() {
    let reference = json("roundness.json");
    for set in ["axle_dataset1", "axle_dataset2", "axle_dataset3"] {
        let want = &reference["datasets"][set];
        let places: Vec<[f64; 2]> = table(&format!("axle/{set}.csv")).iter().map(|r| [r[0], r[1]]).collect();
        let centre = numbers(&want["LSC"]["center"]);
        let size = number(&want["MCC"]["r"]);
        // traced from a place a tenth of the radius off the centre
        let from = [centre[0] + 0.08 * size, centre[1] - 0.06 * size];
        let r = round(set, &station(traced(&places, from)));
        let zone = r.minimum_zone.expect("a zone");
        let (mcc, mic) = (r.minimum_circumscribed.expect("seen"), r.maximum_inscribed.expect("seen"));
        // polar and back costs a few units in the last place of coordinates up to 120
        close(&format!("{set} LSC"), r.least_squares.deviation_mm, number(&want["LSC"]["peak_to_valley"]), 1e-12);
        close(&format!("{set} MZC"), zone.deviation_mm, number(&want["MZC"]["width"]), 1e-12);
        assert!(zone.deviation_mm > number(&want["MZC"]["proven_lower_bound"]), "{set}: below the proven bound");
        close(&format!("{set} MCC"), mcc.radius_mm.expect("a size"), number(&want["MCC"]["r"]), 1e-12);
        close(&format!("{set} MIC"), mic.radius_mm.expect("a size"), number(&want["MIC"]["r"]), 1e-12);
        close(&format!("{set} MIC roundness"), mic.deviation_mm, number(&want["MIC"]["roundness"]), 1e-10);
        for (name, got) in [("LSC", r.least_squares), ("MZC", zone), ("MCC", mcc), ("MIC", mic)] {
            let want = numbers(&want[name]["center"]);
            (0..2).for_each(|k| close(&format!("{set} {name} centre"), got.centre_mm[k] + from[k], want[k], 1e-9));
        }
    }
}

#[test]
fn the_axle_sets_through_a_dial_that_knows_no_size() {
    let reference = json("roundness.json");
    for set in ["axle_dataset1", "axle_dataset2", "axle_dataset3"] {
        let want = &reference["datasets"][set];
        let centre = numbers(&want["LSC"]["center"]);
        let places: Vec<[f64; 2]> =
            table(&format!("axle/{set}.csv")).iter().map(|r| [r[0] - centre[0], r[1] - centre[1]]).collect();
        let s = station(ring(Kind::Runout, &places, [0.4, -0.3], 11.0));
        let r = round(set, &s);
        let zone = r.minimum_zone.expect("a zone");
        let own = s.centre.expect("seen");
        // d^2 / 2R, d the distance of either reference circle's centre from that of the first harmonic
        let allowed = |c: [f64; 2]| {
            let d = (c[0] - own[0].value).hypot(c[1] - own[1].value);
            let first = (own[0].value - 0.4).hypot(own[1].value + 0.3);
            (d + first).powi(2) / (2.0 * number(&want["MIC"]["r"])) + 1e-6
        };
        let least = r.least_squares;
        close(
            &format!("{set} LSC"),
            least.deviation_mm,
            number(&want["LSC"]["peak_to_valley"]),
            allowed(least.centre_mm),
        );
        close(&format!("{set} MZC"), zone.deviation_mm, number(&want["MZC"]["width"]), allowed(zone.centre_mm));
        assert!(r.minimum_circumscribed.is_none() && r.maximum_inscribed.is_none() && s.ellipse.is_none());
        assert!(least.radius_mm.is_none() && zone.radius_mm.is_none() && s.diameter_mm.is_none());
    }
}

/// The closed forms with enough points, about their own centre.
fn closed_form(name: &str) -> Option<Vec<[f64; 2]>> {
    let lobes = |waves: f64, height: f64, m: u32| -> Vec<[f64; 2]> {
        let at = |k: u32| TAU * f64::from(k) / f64::from(m);
        let place = |t: f64, r: f64| [r * t.cos(), r * t.sin()];
        (0..m).map(|k| place(at(k), 12.5 + height * (waves * at(k)).cos())).collect()
    };
    match name {
        "lobes_n2_a0.1_R12.5_m72" => Some(lobes(2.0, 0.1, 72)),
        "lobes_n3_a0.1_R12.5_m72" => Some(lobes(3.0, 0.1, 72)),
        "lobes_n4_a0.05_R12.5_m72" => Some(lobes(4.0, 0.05, 72)),
        "lobes_n5_a0.08_R12.5_m60" => Some(lobes(5.0, 0.08, 60)),
        "lobes_n7_a0.05_R12.5_m84" => Some(lobes(7.0, 0.05, 84)),
        "ellipse_13x12_m72" => {
            Some((0..72).map(|k| (TAU * f64::from(k) / 72.0).sin_cos()).map(|(s, c)| [13.0 * c, 12.0 * s]).collect())
        }
        _ => None,
    }
}

#[test]
fn closed_forms_through_radii_from_an_axis_off_the_centre() {
    let reference = json("roundness.json");
    let mut told = 0;
    for case in reference["closed_form"].as_array().expect("a list") {
        let name = case["name"].as_str().expect("a name");
        let want = |key: &str| case["expected"].get(key).or(case["recomputed"].get(key)).map(number);
        let Some(places) = closed_form(name) else { continue };
        let s = station(ring(Kind::Radius, &places, [0.7, -1.1], 0.0));
        let r = round(name, &s);
        let zone = r.minimum_zone.expect("a zone");
        close(&format!("{name} MZ"), zone.deviation_mm, want("mzc_width").expect("given"), 1e-12);
        close(&format!("{name} LS"), r.least_squares.radius_mm.expect("a size"), want("lsc_r").expect("given"), 1e-12);
        let (mcc, mic) = (r.minimum_circumscribed.expect("seen"), r.maximum_inscribed.expect("seen"));
        close(&format!("{name} MC"), mcc.radius_mm.expect("a size"), want("mcc_r").expect("given"), 1e-12);
        close(&format!("{name} MI"), mic.radius_mm.expect("a size"), want("mic_r").expect("given"), 1e-12);
        for (k, axis) in [0.7, -1.1].into_iter().enumerate() {
            close(&format!("{name} LS centre"), r.least_squares.centre_mm[k], axis, 1e-12);
        }
        // the same by a dial of unknown zero: all circles of these forms share their centre, so nothing is lost
        let dial = round(name, &station(ring(Kind::Runout, &places, [0.7, -1.1], 13.0)));
        close(
            &format!("{name} MZ by a dial"),
            dial.minimum_zone.expect("a zone").deviation_mm,
            want("mzc_width").expect("given"),
            1e-9,
        );
        told += 1;
    }
    assert_eq!(told, 6);
}

#[test]
fn four_or_six_points_tell_no_roundness() {
    let reference = json("roundness.json");
    for case in reference["closed_form"].as_array().expect("a list") {
        let name = case["name"].as_str().expect("a name");
        if !["cross_5_4", "regular_hexagon_R12p5"].contains(&name) {
            continue;
        }
        for kind in [Kind::Radius, Kind::Runout, Kind::Outline] {
            let s = station(ring(kind, &points(&case["points"]), [0.0; 2], 0.0));
            assert!(s.roundness.is_none(), "{name}, {kind:?}: {:?}", s.roundness);
        }
    }
}

#[test]
fn ellipses_through_a_tracing() {
    let all = json("circle_ellipse_fits.json");
    let set = &all["spaeth8"];
    let want = numbers(&set["ellipse_geometric_20_digits"]);
    let from = [want[0] + 0.3, want[1] - 0.2];
    let e = station(traced(&points(&set["points"]), from)).ellipse.expect("eight points all round");
    for (k, v) in [e.centre_mm[0].value + from[0], e.centre_mm[1].value + from[1]].into_iter().enumerate() {
        close("centre", v, want[k], 1e-12);
    }
    close("major", e.semi_major_mm.value, want[2], 1e-12);
    close("minor", e.semi_minor_mm.value, want[3], 1e-12);
    let turn = e.direction_deg.expect("far from round").value.to_radians() - want[4];
    close("direction", turn - PI * (turn / PI).round(), 0.0, 1e-12);
    close("sum of squares", e.rms_mm.powi(2) * 8.0, want[5], 1e-12);
    // the example of Gander, Golub and Strebel lies on one side of its ellipse: a station seen so shows none
    let far = points(&all["ggs_ellipse"]["points"]);
    assert!(station(traced(&far, [5.0, 6.0])).ellipse.is_none());
    // and a true ellipse by its radii
    let places = closed_form("ellipse_13x12_m72").expect("known");
    let e = station(ring(Kind::Radius, &places, [0.2, 0.1], 0.0)).ellipse.expect("72 radii");
    close("13", e.semi_major_mm.value, 13.0, 1e-12);
    close("12", e.semi_minor_mm.value, 12.0, 1e-12);
    assert!(e.semi_major_mm.sd > 0.0 && e.direction_deg.expect("oval").sd > 0.0);
}

#[test]
fn straightness_through_a_dial_and_a_straightedge() {
    let all = json("straightness.json");
    for (name, set) in all["sets"].as_object().expect("sets") {
        let profile: Vec<(f64, f64)> = numbers(&set["x"]).into_iter().zip(numbers(&set["z"])).collect();
        let along = |kind: Kind, value: &dyn Fn(f64, f64) -> f64| {
            let a = Angle::from_degrees(77.0);
            let lines = figures(profile.iter().map(|(z, h)| Reading::new(kind, *z, a, value(*z, *h))).collect())
                .straightness
                .lines;
            assert_eq!(lines.len(), 1, "{name}");
            lines[0].deviation_mm.value
        };
        let want = number(&set["mz_vertical"]);
        close(&format!("{name} radius"), along(Kind::Radius, &|_, h| 12.0 + h), want, 1e-12);
        close(&format!("{name} dial"), along(Kind::Runout, &|z, h| h - 3.0 + 0.002 * z), want, 1e-12);
        close(&format!("{name} gap"), along(Kind::Gap, &|z, h| 4.0 - h - 0.003 * z), want, 1e-12);
    }
}

#[test]
fn straightness_of_the_centreline_through_rings_of_radii() {
    let all = json("straightness.json");
    for (name, set) in all["sets"].as_object().expect("sets") {
        // heights of the centreline toward 40 degrees; the lecture's are micrometres over millimetres
        if name == "autocollimator_lecture" {
            continue;
        }
        let toward = Angle::from_degrees(40.0);
        let mut readings = Vec::new();
        for (z, h) in numbers(&set["x"]).into_iter().zip(numbers(&set["z"])) {
            for k in 0..12 {
                let a = Angle::from_degrees(30.0 * f64::from(k));
                readings.push(Reading::new(Kind::Radius, z, a, 12.7 + h * (a - toward).sin_cos().1));
            }
        }
        let s = figures(readings).straightness;
        let got = s.centreline_mm.unwrap_or_else(|| panic!("{name}: no centreline"));
        close(&format!("{name} centreline"), got.value, number(&set["mz_perpendicular"]), 1e-11);
        assert_eq!(s.lines.len(), 12, "{name}");
    }
}
