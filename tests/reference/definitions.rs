//! Circle segments, sagittas, ovality and bow by definition.

use crate::source::{close, json, near, number, table};
use quarterlight::geometry::arc::{self, Arc};
use quarterlight::geometry::{Ovality, bow};

/// Exact mathematics: nothing but the rounding of a few operations.
const RELATIVE: f64 = 1e-15;

#[test]
fn the_table_of_segments_of_unit_radius() {
    let mut worst: f64 = 0.0;
    for row in table("segments_unit_radius.csv") {
        let [degrees, length, height, chord, _area, ratio] = row[..] else { panic!("six columns: {row:?}") };
        let a = Arc::from_radius_angle(1.0, degrees.to_radians()).expect("an arc");
        let cases = [
            ("arc", a.length(), length),
            ("height", a.sagitta(), height),
            ("chord", a.chord(), chord),
            ("height over chord", a.sagitta() / a.chord(), ratio),
        ];
        for (name, got, want) in cases {
            near(&format!("{name} at {degrees} degrees"), got, want, RELATIVE);
            worst = worst.max((got / want - 1.0).abs());
        }
        // and back, each pair to the accuracy that pair has
        let back = Arc::from_chord_sagitta(chord, height).expect("an arc");
        close(&format!("radius from chord and height at {degrees}"), back.radius(), 1.0, 2.0 * RELATIVE);
        near(&format!("angle from chord and height at {degrees}"), back.angle(), length, RELATIVE);
        let back = Arc::from_radius_sagitta(1.0, height).expect("an arc");
        near(&format!("angle from height at {degrees}"), back.angle(), length, RELATIVE);
        if degrees < 179.0 {
            near(&format!("height from chord at {degrees}"), arc::sagitta(1.0, chord), height, 40.0 * RELATIVE);
        }
    }
    println!("worst relative error of the segment table: {worst:.1e}");
}

#[test]
fn worked_examples_of_chord_and_sagitta() {
    let all = json("sagitta_examples.json");
    for e in all["examples"].as_array().expect("a list") {
        let name = e["name"].as_str().expect("a name");
        let value = |key: &str| number(&e[key]);
        let a = Arc::from_chord_sagitta(value("chord"), value("height")).expect("an arc");
        let same = |what: &str, got: f64, want: f64| near(&format!("{name}: {what}"), got, want, RELATIVE);
        same("radius", a.radius(), value("radius"));
        same("radius alone", arc::radius(value("chord"), value("height")), value("radius"));
        same("angle", a.angle().to_degrees(), value("angle_deg"));
        same("arc", a.length(), value("arc"));
        same("height back", arc::sagitta(value("radius"), value("chord")), value("height"));
        if let Some(published) = e["published"].as_object() {
            for (key, want) in published {
                let got = match key.as_str() {
                    "radius" => a.radius(),
                    "angle_deg" => a.angle().to_degrees(),
                    "arc" => a.length(),
                    // printed there, of no use in this trade
                    "segment_area" => continue,
                    "height" => a.sagitta(),
                    other => panic!("{name}: unknown published figure {other}"),
                };
                // printed to six decimals or fewer
                close(&format!("{name}: published {key}"), got, number(want), 5.1e-6);
            }
        }
        // the parabola is not the circle: c^2/8R is short by h^2/2R
        let parabola = value("chord").powi(2) / (8.0 * a.radius());
        near(&format!("{name}: parabola"), parabola, value("parabolic_sagitta_c2_over_8r"), 1e-15);
        close(
            &format!("{name}: parabola's error"),
            a.sagitta() - parabola,
            a.sagitta().powi(2) / (2.0 * a.radius()),
            1e-14 * a.sagitta(),
        );
    }
}

#[test]
fn ovality_by_every_definition() {
    let all = json("bow_ovality.json");
    for e in all["ovality_examples"].as_array().expect("a list") {
        let value = |key: &str| number(&e[key]);
        let case = format!("{} / {}", value("dmax"), value("dmin"));
        let o = Ovality::new(value("dmax"), value("dmin")).expect("diameters");
        let figures = [
            ("out_of_roundness_abs", o.difference()),
            ("pct_of_nominal", o.percent_of_nominal(value("nominal")).expect("a nominal diameter")),
            ("pct_of_mean", o.percent_of_mean()),
            ("half_range_ratio_pct_(dmax-dmin)/(dmax+dmin)", o.percent_of_sum()),
            ("pct_of_dmax", o.percent_of_largest()),
            ("dmin_over_dmax", o.ratio()),
        ];
        for (key, got) in figures {
            close(&format!("{case} {key}"), got, value(key), 1e-14);
            if let Some(published) = e["published"].get(key) {
                close(&format!("{case} published {key}"), got, number(published), 1e-12);
            }
        }
    }
}

#[test]
fn sweep_and_bow_examples() {
    let all = json("bow_ovality.json");
    let log = &all["bow_examples"][0];
    let (f, l) = (10.0 * number(&log["f_cm"]), 1000.0 * number(&log["L_m"]));
    let b = bow(&[[0.0, 0.0, 0.0], [0.0, f, 0.4 * l], [0.0, 0.0, l]]).expect("a line");
    close("sweep of the log", b.sweep_cm_per_m(), number(&log["sweep_cm_per_m"]), 1e-14);
    let tube = &all["bow_examples"][1];
    let (f, l) = (number(&tube["f_mm"]), number(&tube["L_mm"]));
    let b = bow(&[[1.0, 2.0, 0.0], [1.0 + f, 2.0, 0.5 * l], [1.0, 2.0, l]]).expect("a line");
    close("sweep of the tube", b.sweep_cm_per_m(), number(&tube["cm_per_m"]), 1e-14);
    close("length over bow", b.chord / b.height, number(&tube["L_over"]), 1e-10);
    // exact: c^2/(8h) + h/2 = 10000.25 mm
    close("radius of the bow", b.radius().expect("bent"), 10_000.25, 1e-8);
}
