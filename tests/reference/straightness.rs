//! Straightness by three definitions against `straightness.json`.

use crate::source::{close, json, number, numbers};
use quarterlight::geometry::{
    end_point_band, least_squares_band, minimum_zone_band, minimum_zone_cylinder, minimum_zone_strip,
};

/// Heights are of the order of 1 mm and slopes act over 300 mm: a few units in the last place of that.
const MM: f64 = 1e-13;

#[test]
fn end_point_least_squares_and_minimum_zone() {
    let all = json("straightness.json");
    for (name, set) in all["sets"].as_object().expect("sets") {
        let points: Vec<[f64; 2]> =
            numbers(&set["x"]).into_iter().zip(numbers(&set["z"])).map(|(x, z)| [x, z]).collect();
        let end = end_point_band(&points).unwrap_or_else(|e| panic!("{name}: {e}"));
        let least = least_squares_band(&points).unwrap_or_else(|e| panic!("{name}: {e}"));
        let zone = minimum_zone_band(&points).unwrap_or_else(|e| panic!("{name}: {e}"));
        let strip = minimum_zone_strip(&points).unwrap_or_else(|e| panic!("{name}: {e}"));
        close(&format!("{name} end point"), end.width, number(&set["endpoint_pv"]), MM);
        let above = points[end.highest][1] - end.slope * points[end.highest][0] - end.intercept;
        close(&format!("{name} end point, largest"), above, number(&set["endpoint_max"]), MM);
        close(&format!("{name} least squares"), least.width, number(&set["ls_pv"]), 1e-12);
        close(&format!("{name} least squares slope"), least.slope, number(&set["ls_slope"]), 1e-14);
        close(&format!("{name} least squares intercept"), least.intercept, number(&set["ls_intercept"]), 1e-12);
        close(&format!("{name} minimum zone, vertical"), zone.width, number(&set["mz_vertical"]), MM);
        close(&format!("{name} minimum zone, square to it"), strip.width, number(&set["mz_perpendicular"]), MM);
        assert!(zone.width <= end.width + MM && zone.width <= least.width + MM, "{name}: not the least band");
        assert!(strip.width <= zone.width + MM, "{name}: not the least strip");
    }
}

#[test]
fn the_autocollimator_example_as_printed() {
    let all = json("straightness.json");
    let set = &all["sets"]["autocollimator_lecture"];
    // readings in seconds to heights in um: mean of both runs, less the first, half a um per second, summed up
    let mean: Vec<f64> = numbers(&set["forward_sec_over_2min"])
        .into_iter()
        .zip(numbers(&set["backward_sec_over_2min"]))
        .map(|(f, b)| 0.5 * (f + b))
        .collect();
    let mut height = 0.0;
    let mut profile = Vec::new();
    for (x, m) in numbers(&set["positions_mm"]).into_iter().zip(&mean) {
        height += (m - mean[0]) * number(&set["um_per_arcsec_on_100mm_base"]);
        profile.push([x, height]);
    }
    let band = end_point_band(&profile).expect("a profile");
    close("end-point straightness, um", band.width, number(&set["published_endpoint_straightness_um"]), 1e-12);
}

#[test]
fn a_plane_profile_has_the_same_zone_in_space() {
    let all = json("straightness.json");
    for (name, set) in all["sets"].as_object().expect("sets") {
        // turned 40 degrees about z, so that no coordinate is special; in space the zone is a cylinder
        let (s, c) = 40f64.to_radians().sin_cos();
        let line: Vec<[f64; 3]> =
            numbers(&set["x"]).into_iter().zip(numbers(&set["z"])).map(|(x, z)| [z * c, z * s, x]).collect();
        let got = minimum_zone_cylinder(&line).unwrap_or_else(|e| panic!("{name}: {e}"));
        // a plane line's thinnest cylinder is its narrowest strip
        close(&format!("{name} cylinder"), got.diameter, number(&set["mz_perpendicular"]), 1e-11);
        assert!(got.lower_bound <= got.diameter, "{name}: {got:?}");
        let ratio = got.diameter / 200.0;
        assert!(got.lower_bound >= got.diameter * (1.0 - 20.0 * ratio * ratio) - 1e-12, "{name}: loose bound {got:?}");
    }
}
