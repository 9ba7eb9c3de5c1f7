//! Ellipses against Gander, Golub and Strebel's example and the ellipse facts of `bow_ovality.json`.

use crate::source::{close, json, number, numbers, points};
use quarterlight::domain::Angle;
use quarterlight::geometry::{Ellipse, Noise, fit_ellipse_direct, fit_ellipse_geometric};
use std::f64::consts::PI;

/// Centre, semi-axes and tilt against (x, y, a, b, tilt), the tilt modulo half a turn.
fn compare(case: &str, got: &Ellipse, want: &[f64], tolerance: f64) {
    let values = [got.centre()[0], got.centre()[1], got.semi_major(), got.semi_minor()];
    for (k, v) in values.into_iter().enumerate() {
        close(&format!("{case}, {k}"), v, want[k], tolerance);
    }
    let turn = got.tilt().radians() - want[4];
    close(&format!("{case}, tilt"), turn - PI * (turn / PI).round(), 0.0, tolerance);
}

#[test]
fn the_orthogonal_ellipse_of_gander_golub_and_strebel() {
    let all = json("circle_ellipse_fits.json");
    let set = &all["ggs_ellipse"];
    let p = points(&set["points"]);
    let fit = fit_ellipse_geometric(&p, Noise::FromResiduals).expect("an ellipse");
    // 20 digits; the residuals are a tenth of the axes, which multiplies rounding by about a hundred
    compare("geometric", &fit.ellipse, &numbers(&set["recomputed"]["geometric_20_digits"]), 1e-13);
    close("sum of squares", fit.rms_residual.powi(2) * 8.0, number(&set["recomputed"]["rss_20_digits"]), 1e-14);
    let printed = &set["published"]["geometric_4dec"];
    let printed: Vec<f64> = ["xc", "yc", "a", "b", "alpha_rad"].iter().map(|k| number(&printed[*k])).collect();
    compare("four printed decimals", &fit.ellipse, &printed, 5.1e-5);
    println!("{:?} after {} steps", fit.termination, fit.iterations);
}

#[test]
fn the_direct_ellipse_and_how_far_off_it_is() {
    let all = json("circle_ellipse_fits.json");
    let set = &all["ggs_ellipse"];
    let fit = fit_ellipse_direct(&points(&set["points"])).expect("an ellipse");
    // computed from normal equations
    compare("direct", &fit, &numbers(&set["recomputed"]["fitzgibbon"]), 1e-10);
    assert!((fit.semi_major() - 6.5187).abs() > 2.7, "the algebraic answer is a start, not the answer");
}

#[test]
fn the_orthogonal_ellipse_of_eight_more_points() {
    let all = json("circle_ellipse_fits.json");
    let set = &all["spaeth8"];
    let fit = fit_ellipse_geometric(&points(&set["points"]), Noise::FromResiduals).expect("an ellipse");
    let want = numbers(&set["ellipse_geometric_20_digits"]);
    compare("geometric", &fit.ellipse, &want, 1e-13);
    close("sum of squares", fit.rms_residual.powi(2) * 8.0, want[5], 1e-14);
}

#[test]
fn published_feet_of_normals() {
    let all = json("circle_ellipse_fits.json");
    let set = &all["ggs_ellipse"];
    let e = Ellipse::new([0.0, 0.0], 2.0, 1.0, Angle::ZERO).expect("an ellipse");
    let published = &set["published"]["projection_check"];
    let mut squares = 0.0;
    for (k, (p, want)) in points(&set["points"]).into_iter().zip(points(&published["feet"])).enumerate() {
        let (foot, distance) = e.foot(p);
        squares += distance * distance;
        // printed to 15 decimals but converged only to 7.4e-10, as a computation in many digits showed
        (0..2).for_each(|j| close(&format!("foot {k}, {j}"), foot[j], want[j], 1e-9));
    }
    close("sum of squares", squares, number(&published["rss"]), 5.1e-5);
}

#[test]
fn girth_mean_caliper_width_and_area_diameter() {
    let all = json("bow_ovality.json");
    for row in all["ellipse_tape_vs_caliper"].as_array().expect("a list") {
        let (a, b) = (number(&row["a"]), number(&row["b"]));
        let e = Ellipse::new([0.0, 0.0], a, b, Angle::ZERO).expect("an ellipse");
        let relative = |name: &str, got: f64, key: &str| {
            let want = number(&row[key]);
            close(&format!("{a} x {b} {name}"), got, want, 3e-16 * want);
        };
        relative("perimeter", e.perimeter(), "perimeter");
        relative("mean width", e.mean_width(), "mean_caliper_over_all_directions");
        relative("area diameter", e.area_diameter(), "area_diameter_2sqrt(ab)");
    }
}

#[test]
fn a_caliper_does_not_read_the_diameter_through_the_centre() {
    let all = json("bow_ovality.json");
    for row in all["ellipse_width_at_angle"].as_array().expect("a list") {
        let degrees = number(&row["deg"]);
        let e = Ellipse::new([3.0, 4.0], number(&row["a"]), number(&row["b"]), Angle::from_degrees(20.0))
            .expect("an ellipse");
        let at = Angle::from_degrees(20.0 + degrees);
        close(&format!("width at {degrees}"), e.width(at), number(&row["width"]), 1e-14);
        close(
            &format!("diameter at {degrees}"),
            e.diameter_through_centre(at),
            number(&row["diameter_through_centre"]),
            1e-14,
        );
    }
}
