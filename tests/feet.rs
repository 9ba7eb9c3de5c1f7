//! Dials with other feet than a flat one: what they read of a tube that does not lie on the turning axis, by plain
//! instruments that share nothing with the crate, and what is believed of it with and without being told the foot.

#[path = "support/tool.rs"]
mod tool;

use quarterlight::domain::{Foot, Rig, Tube};
use quarterlight::known as truth;
use quarterlight::tube::learn::learn_population;
use quarterlight::tube::{Belief, Model};
use rayon::prelude::*;
use std::collections::BTreeMap;
use truth::figures::figures;
use truth::instruments::Foot as TrueFoot;
use truth::measuring::{Bench, Rig as TrueRig, Tool, half_round, places_every, round};
use truth::populations::Population as Make;
use truth::shape::TrueTube;

/// Half-width of a 90 % interval in standard deviations.
const NINETY: f64 = 1.645;

fn model(foot: Option<Foot>, radius_mm: f64) -> Model {
    let rig = Rig {
        line_deg: Some(0.0),
        setting_deg: Some(0.0),
        bias_mm: Some(0.0),
        foot,
        foot_radius_mm: Some(radius_mm),
        ..Rig::default()
    };
    Model { rigs: BTreeMap::from([(String::new(), rig)]), index_line_deg: 0.0, ..Model::default() }
}

/// Share of the tubes whose ovality lies in its 90 % interval.
fn held(truths: &[TrueTube], tubes: &[Tube], before: &Model) -> f64 {
    let model = learn_population(tubes, before).expect("tubes that can be fitted").model(before);
    let inside: Vec<bool> = truths
        .par_iter()
        .zip(tubes)
        .map(|(truth, tube)| {
            let told = Belief::fit(tube, &model).expect("readings of the outside").figures(1, 120);
            let ovality = told.ovality_mm.expect("seen by a dial all round");
            (ovality.value - figures(truth, 49).ovality_mm).abs() <= NINETY * ovality.sd
        })
        .collect();
    inside.iter().filter(|i| **i).count() as f64 / inside.len() as f64
}

#[test]
fn a_dial_is_believed_by_its_foot() {
    let truths: Vec<TrueTube> = (0..60).map(|k| Make::Smooth.grow(41, k)).collect();
    for (name, real, foot, radius) in [
        ("point", TrueFoot::Point, Foot::Point, 0.0),
        ("ball of 3 mm", TrueFoot::Ball(3.0), Foot::Ball, 3.0),
        ("flat of 8 mm", TrueFoot::Flat(8.0), Foot::Flat, 0.0),
    ] {
        let tubes: Vec<Tube> = truths
            .par_iter()
            .map(|truth| {
                let mut b = Bench::new(truth, 41);
                let l = truth.length_mm;
                b.take(Tool::Dial(real), &TrueRig::noisy(0.02), &round(12), &places_every(l, 5.0, 17.0), "a");
                b.take(Tool::Caliper(0.0), &TrueRig::noisy(0.05), &half_round(2), &[0.25 * l, 0.75 * l], "");
                tool::tube_of(truth, &b.taken)
            })
            .collect();
        let told = held(&truths, &tubes, &model(Some(foot), radius));
        let untold = held(&truths, &tubes, &model(None, radius));
        println!(
            "{name}: 90 % intervals of ovality hold {:.0} %, foot not stated {:.0} %",
            100.0 * told,
            100.0 * untold
        );
        // 60 tubes: two standard errors of 3.9 %
        assert!((0.82..=0.985).contains(&told), "{name}: {told}");
        if foot == Foot::Point {
            assert!(untold < told - 0.1, "{name}: {untold} without its foot, {told} with it");
        }
    }
}
