//! Reference circles of ISO 12181-1 against proven optima and closed forms.

use crate::source::{close, json, number, numbers, table, text};
use quarterlight::geometry::{ReferenceCircle, ReferenceCircles, reference_circles};
use serde_json::Value;
use std::f64::consts::TAU;

fn centre(case: &str, got: &ReferenceCircle, want: &Value, tolerance: f64) {
    let want = numbers(want);
    (0..2).for_each(|k| close(&format!("{case} centre {k}"), got.circle.centre[k], want[k], tolerance));
}

fn zone(case: &str, all: &ReferenceCircles) -> ReferenceCircle {
    all.minimum_zone.clone().unwrap_or_else(|| panic!("{case}: no minimum zone"))
}

fn inscribed(case: &str, all: &ReferenceCircles) -> ReferenceCircle {
    all.maximum_inscribed.clone().unwrap_or_else(|| panic!("{case}: no inscribed circle"))
}

#[test]
fn the_axle_sets_with_their_proven_minimum_zones() {
    let reference = json("roundness.json");
    for set in ["axle_dataset1", "axle_dataset2", "axle_dataset3"] {
        let want = &reference["datasets"][set];
        let points: Vec<[f64; 2]> = table(&format!("axle/{set}.csv")).iter().map(|r| [r[0], r[1]]).collect();
        let all = reference_circles(&points).unwrap_or_else(|e| panic!("{set}: {e}"));
        let (least, mzc, mic) = (&all.least_squares, zone(set, &all), inscribed(set, &all));
        let mcc = &all.minimum_circumscribed;
        // roundness values: rounding of coordinates up to 120 is 1e-14; the reference was computed in double precision
        close(&format!("{set} LSC"), least.peak_to_valley(), number(&want["LSC"]["peak_to_valley"]), 1e-12);
        close(&format!("{set} MZC"), mzc.peak_to_valley(), number(&want["MZC"]["width"]), 1e-13);
        assert!(mzc.peak_to_valley() >= number(&want["MZC"]["proven_lower_bound"]), "{set}: below the proven bound");
        close(&format!("{set} MCC"), mcc.circle.radius, number(&want["MCC"]["r"]), 1e-12);
        close(&format!("{set} MIC"), mic.circle.radius, number(&want["MIC"]["r"]), 1e-12);
        // centres of flat optima
        centre(&format!("{set} LSC"), least, &want["LSC"]["center"], 1e-12);
        centre(&format!("{set} MZC"), &mzc, &want["MZC"]["center"], 1e-10);
        centre(&format!("{set} MCC"), mcc, &want["MCC"]["center"], 1e-10);
        centre(&format!("{set} MIC"), &mic, &want["MIC"]["center"], 1e-10);
        let contacts = numbers(&want["MZC"]["contacts_out_out_in_in"]);
        for (got, want) in [(&mzc.touching_outer, &contacts[..2]), (&mzc.touching_inner, &contacts[2..])] {
            let mut want: Vec<String> = want.iter().map(|c| format!("{c}")).collect();
            let mut got: Vec<String> = got.iter().map(|c| format!("{c}")).collect();
            got.sort();
            want.sort();
            assert_eq!(got, want, "{set}: contacts of the minimum zone");
        }
        println!("{set}: zone off by {:.1e}", mzc.peak_to_valley() - number(&want["MZC"]["width"]));
    }
    let remembered = number(&reference["datasets"]["axle_dataset3"]["published_mzc_from_memory"]["width_mm"]);
    let computed = number(&reference["datasets"]["axle_dataset3"]["MZC"]["width"]);
    close("the 24-point set as remembered from the literature", computed, remembered, 5e-6);
}

#[test]
fn nist_sets_with_proven_bounds() {
    let derived = json("nist_circle2d_derived.json");
    let mut checked = 0;
    for row in derived["rows"].as_array().expect("a list") {
        let set = row["set"].as_str().expect("a name");
        let Some(width) = row.get("mzc_width") else { continue };
        let kept: Vec<usize> = match row["plane_normal_axis"].as_str() {
            Some("x") => vec![1, 2],
            Some("y") => vec![0, 2],
            _ => vec![0, 1],
        };
        let data: Vec<f64> =
            text(&format!("nist_circle2d/{set}.ds")).split_whitespace().map(|w| w.parse().expect("a number")).collect();
        let points: Vec<[f64; 2]> = data[1..].chunks_exact(3).map(|p| [p[kept[0]], p[kept[1]]]).collect();
        let all = reference_circles(&points).unwrap_or_else(|e| panic!("{set}: {e}"));
        // coordinates run to 1e3, so rounding is 1e-13; the reference for wide sets was polished in double precision
        let got = zone(set, &all).peak_to_valley();
        let bound = number(&row["mzc_proven_lower_bound"]);
        assert!(got >= bound, "{set}: zone {got} below the proven bound {bound}");
        close(&format!("{set} MZC"), got, number(width), 1e-10);
        close(&format!("{set} MCC"), all.minimum_circumscribed.circle.radius, number(&row["mcc_radius"]), 1e-10);
        close(&format!("{set} MIC"), inscribed(set, &all).circle.radius, number(&row["mic_radius"]), 1e-10);
        checked += 1;
    }
    assert_eq!(checked, 15, "sets with a minimum zone");
}

/// `R + a cos(n t)` at m equally spaced angles.
fn lobes(waves: f64, height: f64, m: u32) -> Vec<[f64; 2]> {
    let at = |k: u32| TAU * f64::from(k) / f64::from(m);
    let polar = |t: f64, r: f64| [r * t.cos(), r * t.sin()];
    (0..m).map(|k| polar(at(k), 12.5 + height * (waves * at(k)).cos())).collect()
}

#[test]
fn closed_forms() {
    let reference = json("roundness.json");
    let ellipse = |m: u32| -> Vec<[f64; 2]> {
        (0..m).map(|k| (TAU * f64::from(k) / f64::from(m)).sin_cos()).map(|(s, c)| [13.0 * c, 12.0 * s]).collect()
    };
    for case in reference["closed_form"].as_array().expect("a list") {
        let name = case["name"].as_str().expect("a name");
        let points = match name {
            "lobes_n2_a0.1_R12.5_m72" => lobes(2.0, 0.1, 72),
            "lobes_n3_a0.1_R12.5_m72" => lobes(3.0, 0.1, 72),
            "lobes_n4_a0.05_R12.5_m72" => lobes(4.0, 0.05, 72),
            "lobes_n5_a0.08_R12.5_m60" => lobes(5.0, 0.08, 60),
            "lobes_n7_a0.05_R12.5_m84" => lobes(7.0, 0.05, 84),
            "ellipse_13x12_m72" => ellipse(72),
            "reuleaux_width25" => reuleaux(25.0, 24),
            _ => crate::source::points(&case["points"]),
        };
        let all = reference_circles(&points).unwrap_or_else(|e| panic!("{name}: {e}"));
        let figures = [
            ("mzc_width", zone(name, &all).peak_to_valley()),
            ("lsc_r", all.least_squares.circle.radius),
            ("mcc_r", all.minimum_circumscribed.circle.radius),
            ("mic_r", inscribed(name, &all).circle.radius),
        ];
        for (key, got) in figures {
            // least squares of the Reuleaux outline depends on where the 72 points lie
            if let Some(want) = case["expected"].get(key) {
                close(&format!("{name} {key}"), got, number(want), 1e-13);
            } else if let Some(want) = case["recomputed"].get(key).filter(|_| name != "reuleaux_width25") {
                close(&format!("{name} {key}, computed"), got, number(want), 1e-12);
            }
        }
    }
}

/// Reuleaux triangle of a width, centred, with m points on each of its three arcs.
fn reuleaux(width: f64, m: u32) -> Vec<[f64; 2]> {
    let circumradius = width / 3f64.sqrt();
    let corner = |k: u32| (TAU * f64::from(k) / 3.0).sin_cos();
    let mut points = Vec::new();
    for k in 0..3 {
        let (s, c) = corner(k);
        for j in 0..m {
            // the arc opposite the corner spans 60 degrees about the corner
            let t = TAU * f64::from(k) / 3.0 + TAU / 2.0 + (f64::from(j) / f64::from(m) - 0.5) * TAU / 6.0;
            points.push([circumradius * c + width * t.cos(), circumradius * s + width * t.sin()]);
        }
    }
    points
}

#[test]
fn a_caliper_cannot_tell_a_reuleaux_triangle_from_a_circle_and_the_zone_can() {
    let points = reuleaux(25.0, 720);
    for k in 0..36 {
        let (s, c) = (TAU * f64::from(k) / 72.0).sin_cos();
        let along: Vec<f64> = points.iter().map(|p| p[0] * c + p[1] * s).collect();
        let widest = along.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let width = widest - along.iter().copied().fold(f64::INFINITY, f64::min);
        // the outline is sampled every 0.083 degrees: a caliper jaw misses at most 25 (1 - cos 0.042 deg)
        close(&format!("caliper at {} degrees", 5 * k), width, 25.0, 1e-5);
    }
    let all = reference_circles(&points).expect("a section");
    let root = 3f64.sqrt();
    close("MZC", zone("Reuleaux", &all).peak_to_valley(), 25.0 * (2.0 / root - 1.0), 1e-12);
    close("MCC", all.minimum_circumscribed.circle.radius, 25.0 / root, 1e-13);
    close("MIC", inscribed("Reuleaux", &all).circle.radius, 25.0 * (1.0 - 1.0 / root), 1e-12);
}
