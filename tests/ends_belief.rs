//! What is believed of tubes of which only both sawn ends were read from pictures: do the stated intervals hold the truth where
//! the scanner stretches, ticks are drawn by hand, ends are sawn a little out of square and the bark is torn?

#[path = "support/tool.rs"]
mod tool;

use quarterlight::domain::{Angle, ENDS_RIGS, Kind, Reading, Rig, Tube};
use quarterlight::known as truth;
use quarterlight::tube::learn::learn_population;
use quarterlight::tube::{Belief, Model};
use rayon::prelude::*;
use std::collections::BTreeMap;
use truth::chance::Chance;
use truth::figures::figures;
use truth::instruments::traced;
use truth::populations::Population as Make;
use truth::shape::TrueTube;

/// Half-width of a 90 % interval in standard deviations.
const NINETY: f64 = 1.645;
/// Lots of a make, each with a scanner of its own, and tubes of a lot.
const LOTS: u64 = 2;
const TUBES: u64 = 5;
/// Standard deviations of what goes wrong: scale, tick (degrees), squareness (degrees), torn bark (mm, hanging together over
/// some 20 degrees) and the rest of an edge (mm).
const SCALE: f64 = 0.003;
const TICK_DEG: f64 = 1.0;
const TILT_DEG: f64 = 1.2;
const TORN_MM: f64 = 0.012;
const EDGE_MM: f64 = 0.006;

/// Both ends as `ends` writes them.
fn read(truth: &TrueTube, scale: f64, chance: &mut Chance) -> Tube {
    let mut tube = tool::tube_of(truth, &[]);
    for (name, z) in [("index", 0.0), ("far", truth.length_mm)] {
        let tick = (TICK_DEG * chance.normal()).to_radians();
        let (tilt, toward) = ((TILT_DEG * chance.normal()).to_radians(), chance.even(0.0, std::f64::consts::TAU));
        let torn: Vec<(f64, f64, f64)> = (3..=18).map(|n| (f64::from(n), chance.normal(), chance.normal())).collect();
        let [x, y] = (truth.axis)(z);
        for k in 0..72 {
            let a = f64::from(5 * k).to_radians();
            let r = traced(truth, a + tick, z, [x + 0.1, y - 0.2]);
            let long = 1.0 + (1.0 / tilt.cos() - 1.0) * (a - toward).cos().powi(2);
            let torn: f64 = torn.iter().map(|(n, c, s)| c * (n * a).cos() + s * (n * a).sin()).sum();
            let value = r * long * (1.0 + scale) + TORN_MM / 4.0 * torn + EDGE_MM * chance.normal();
            let mut reading = Reading::new(Kind::Outline, z, Angle::from_radians(a), value);
            reading.sd_mm = Some(0.0314);
            reading.set = name.into();
            reading.rig = ENDS_RIGS[1].into();
            tube.readings.push(reading);
        }
    }
    tube
}

/// Departures of (size, ovality, taper) in stated standard deviations, and how far the sizes of a lot lie off.
fn departures(make: Make) -> Vec<[Option<f64>; 3]> {
    let rigs = BTreeMap::from([(ENDS_RIGS[1].to_string(), Rig::built_in(ENDS_RIGS[1]).expect("built in"))]);
    let before = Model { rigs, index_line_deg: 0.0, ..Model::default() };
    (0..LOTS)
        .flat_map(|lot| {
            let scale = SCALE * Chance::of(77, make.word(), lot).normal();
            let truths: Vec<TrueTube> = (0..TUBES).map(|k| make.grow(77 + lot, k)).collect();
            let tubes: Vec<Tube> = truths
                .iter()
                .zip(0..)
                .map(|(t, k)| read(t, scale, &mut Chance::of(78 + lot, make.word(), k)))
                .collect();
            let model = learn_population(&tubes, &before).expect("tubes that can be fitted").model(&before);
            truths
                .par_iter()
                .zip(&tubes)
                .map(|(truth, tube)| {
                    let told = Belief::fit(tube, &model).expect("readings of the outside").figures(1, 200);
                    let real = figures(truth, 49);
                    [
                        told.diameter_mm.map(|m| (m.value - real.diameter_mm) / m.sd),
                        told.ovality_mm.map(|m| (m.value - real.ovality_mm) / m.sd),
                        told.taper_mm_per_100mm.map(|m| (m.value - real.taper_mm) / m.sd),
                    ]
                })
                .collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn intervals_from_both_ends_hold_the_truth_of_two_makes() {
    for make in [Make::Smooth, Make::Grooves] {
        let all = departures(make);
        let mut told = String::new();
        let (mut held, mut count) = (0_u32, 0_u32);
        for (i, word) in ["size", "ovality", "taper"].iter().enumerate() {
            let seen: Vec<f64> = all.iter().filter_map(|d| d[i]).collect();
            let inside: u32 = seen.iter().map(|u| u32::from(u.abs() <= NINETY)).sum();
            let all: u32 = seen.iter().map(|_| 1).sum();
            told.push_str(&format!("{word} {inside} of {all}, "));
            held += inside;
            count += all;
        }
        let share = f64::from(held) / f64::from(count);
        println!("{}: {told}together {:.1} %", make.word(), 100.0 * share);
        // 30 intervals: two standard errors of 5.5 %. Above 94 % they are wider than they need be: between its ends a tube of a
        // lot of which only ends were read may do much that these makes do not do
        assert!(share >= 0.8, "{}: {told}", make.word());
    }
}
