//! The solver on certified problems of the NIST Statistical Reference Datasets.

use crate::source::{json, number, numbers, points};
use quarterlight::numeric::least_squares::{Limits, Model, Termination, check_jacobian, minimise};

/// NIST prints 11 digits; 9 must agree, for parameters, their standard deviations and the sum of squares.
const RELATIVE: f64 = 1e-9;

struct Regression {
    kind: String,
    yx: Vec<[f64; 2]>,
    parameters: usize,
}

/// Value and derivatives of the named model at x.
fn value(kind: &str, b: &[f64], x: f64) -> (f64, [f64; 4]) {
    match kind {
        "Misra1a" | "BoxBOD" => {
            let e = (-b[1] * x).exp();
            (-b[0] * (-b[1] * x).exp_m1(), [-(-b[1] * x).exp_m1(), b[0] * x * e, 0.0, 0.0])
        }
        "Rat42" => {
            let e = (b[1] - b[2] * x).exp();
            let s = 1.0 + e;
            (b[0] / s, [1.0 / s, -b[0] * e / (s * s), b[0] * x * e / (s * s), 0.0])
        }
        "MGH09" => {
            let (top, bottom) = (x * x + x * b[1], x * x + x * b[2] + b[3]);
            let y = b[0] * top / bottom;
            (y, [top / bottom, b[0] * x / bottom, -y * x / bottom, -y / bottom])
        }
        "Eckerle4" => {
            let u = (x - b[2]) / b[1];
            let y = b[0] / b[1] * (-0.5 * u * u).exp();
            (y, [y / b[0], y * (u * u - 1.0) / b[1], y * u / b[1], 0.0])
        }
        other => panic!("unknown model {other}"),
    }
}

impl Model for Regression {
    fn parameters(&self) -> usize {
        self.parameters
    }
    fn readings(&self) -> usize {
        self.yx.len()
    }
    fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64 {
        let [y, x] = self.yx[i];
        let (fitted, slopes) = value(&self.kind, at, x);
        if let Some(g) = gradient {
            g.copy_from_slice(&slopes[..at.len()]);
        }
        fitted - y
    }
}

fn sets() -> Vec<(Regression, serde_json::Value)> {
    let all = json("nist_nonlinear.json");
    let sets = all["sets"].as_array().expect("a list").clone();
    let build = |s: serde_json::Value| {
        let kind = s["name"].as_str().expect("a name").to_owned();
        (Regression { kind, yx: points(&s["yx"]), parameters: numbers(&s["certified"]).len() }, s)
    };
    sets.into_iter().map(build).collect()
}

#[test]
fn certified_parameters_deviations_and_sums_of_squares_from_both_starts() {
    for (model, set) in sets() {
        let (want, sd) = (numbers(&set["certified"]), numbers(&set["sd"]));
        for (k, start) in set["starts"].as_array().expect("a list").iter().enumerate() {
            let case = format!("{} start {}", model.kind, k + 1);
            let fit = minimise(&model, &numbers(start), Limits::default()).expect("finite");
            let residual_sd = fit.residual_sd().expect("spare readings");
            let unit = fit.unit_covariance.clone().unwrap_or_else(|| panic!("{case}: rank {}", fit.rank));
            let mut worst = (fit.sum_of_squares / number(&set["rss"]) - 1.0).abs();
            for j in 0..want.len() {
                let off = (fit.estimate[j] / want[j] - 1.0).abs();
                let sd_off = (unit[(j, j)].sqrt() * residual_sd / sd[j] - 1.0).abs();
                worst = worst.max(off).max(sd_off);
            }
            println!(
                "{case}: {} linearisations, {:?}, worst relative error {worst:.1e}",
                fit.iterations, fit.termination
            );
            assert!(worst < RELATIVE, "{case}: off by {worst:e}: {fit:?}");
            assert!(fit.termination != Termination::IterationCap, "{case}: {fit:?}");
        }
    }
}

#[test]
fn the_jacobians_of_the_problems_pass_the_checker() {
    for (model, set) in sets() {
        let at = numbers(&set["certified"]);
        let steps: Vec<f64> = at.iter().map(|v| 1e-4 * v).collect();
        let check = check_jacobian(&model, &at, &steps).expect("not empty");
        assert!(check.worst < 1e-6, "{}: {check:?}", model.kind);
    }
}
