//! Intervals over draws against exact ones: JCGM 101:2008 clause 9 (values from memory, recomputed exactly by
//! `scripts/uncertainty.py`) and the vernier caliper of EA-4/02 supplement 1, example S10 (its 60 um read, recomputed).

use crate::source::{json, numbers};
use quarterlight::numeric::draws::{normals, stream};
use quarterlight::numeric::summary::{ninety, quantile};
use rand::RngExt;

const DRAWS: usize = 200_000;

/// Draws of a model whose input gets standard normals and numbers even over -1 to 1.
fn draws(name: &str, model: impl Fn(&[f64], &mut dyn FnMut() -> f64) -> f64) -> Vec<f64> {
    let mut rng = stream(1, name, 0);
    (0..DRAWS)
        .map(|_| {
            let z = normals(&mut rng, 4);
            model(&z, &mut || 2.0 * rng.random::<f64>() - 1.0)
        })
        .collect()
}

/// Its 90 and 95 % intervals are the exact ones within what so many draws leave open: three sds of an end's place.
fn holds(name: &str, values: &[f64], times: f64) {
    let exact = json("uncertainty.json")[name].clone();
    for (level, p, got) in
        [("90", 0.05, ninety(values)), ("95", 0.025, (quantile(values, 0.025), quantile(values, 0.975)))]
    {
        let want = numbers(&exact[level]);
        // an end stands between the quantiles that its chance may be off by
        let slip = 3.0 * (p * (1.0 - p) / DRAWS as f64).sqrt();
        for (end, at, got) in [(want[0], p, got.0), (want[1], 1.0 - p, got.1)] {
            let between = [quantile(values, at - slip), quantile(values, at + slip)];
            let end = end * times;
            assert!(between[0] <= end && end <= between[1], "{name} {level}: {got}, exactly {end}");
            assert!(got > between[0] && got < between[1]);
        }
    }
}

#[test]
fn intervals_of_draws_are_those_of_the_guide() {
    let root3 = 3_f64.sqrt();
    holds("normals", &draws("normals", |z, _| z.iter().sum()), 1.0);
    holds("rectangles", &draws("rectangles", |_, u| (0..4).map(|_| root3 * u()).sum()), 1.0);
    let one_large =
        |_: &[f64], u: &mut dyn FnMut() -> f64| (0..3).map(|_| root3 * u()).sum::<f64>() + 10.0 * root3 * u();
    holds("one_large_rectangle", &draws("one large", one_large), 1.0);
    // a mass on a balance in air: the masses mg, the densities kg/m3
    let mass = |z: &[f64], u: &mut dyn FnMut() -> f64| {
        let (air, weights, reference) = (0.1 * u(), 8000.0 + 1000.0 * u(), 8000.0 + 50.0 * u());
        let nominal = 100_000.0 + 0.05 * z[0] + 1.234 + 0.02 * z[1];
        nominal * (1.0 + air * (1.0 / weights - 1.0 / reference)) - 100_000.0
    };
    holds("mass", &draws("mass", mass), 1.0);
    for x1 in [0.0, 0.01, 0.05] {
        let squares = |z: &[f64], _: &mut dyn FnMut() -> f64| (x1 + 0.005 * z[0]).powi(2) + (0.005 * z[1]).powi(2);
        holds(&format!("squares_{x1:?}"), &draws("squares", squares), 1e-6);
    }
}

#[test]
fn the_calipers_published_interval_is_met() {
    // steps of 50 um and a mechanical part of 50 um either way, both even: 60 um as published, k = 1.83
    let caliper = |_: &[f64], u: &mut dyn FnMut() -> f64| 25.0 * u() + 50.0 * u();
    let values = draws("caliper", caliper);
    holds("caliper_um", &values, 1.0);
    assert!((quantile(&values, 0.975) - 60.0).abs() < 1.0);
}
