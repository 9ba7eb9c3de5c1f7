//! A bar on two feet, read by the plain instrument that shares nothing with the crate: what it tells of the bow, how surely,
//! and what a good lot read with it is not accused of.

#[path = "support/tool.rs"]
mod tool;
#[path = "support/truth/mod.rs"]
mod truth;

use quarterlight::domain::Tube;
use quarterlight::tube::faults::suspicions;
use quarterlight::tube::geometry::figures_of;
use quarterlight::tube::learn::learn_population;
use quarterlight::tube::{Belief, Model, Quantity};
use rayon::prelude::*;
use truth::figures::{figures, quantile};
use truth::measuring::{Bench, Rig, Tool, half_round, places, round};
use truth::populations::Population as Make;
use truth::shape::TrueTube;

/// Half-width of a 90 % interval in standard deviations.
const NINETY: f64 = 1.645;
/// Tubes of one lot.
const TUBES: u64 = 60;

/// Bars, and a caliper closed twice at three stations.
#[derive(Debug, Clone, Copy)]
enum Plan {
    /// 70 mm along eight lines at three places.
    Short,
    /// As long as the tube less 10 mm, once along four lines.
    Long,
    /// 50 mm along four lines, every 2 mm: as a logger gives it.
    Log,
}

/// An ordinary hand: lines and index line 1 deg off, the bar's zero a division off over the lot.
fn read(plan: Plan, truth: &TrueTube, seed: u64) -> Tube {
    let l = truth.length_mm;
    let mut b = Bench::new(truth, seed);
    let hand = Rig { line_deg: 1.0, index_deg: 1.0, bias: [0.01, 0.0], ..Rig::noisy(0.02) };
    match plan {
        Plan::Short => b.take(Tool::Bridge(70.0), &hand, &round(8), &places(l, 40.0, 3), ""),
        Plan::Long => b.take(Tool::Bridge(l - 10.0), &hand, &round(4), &[l / 2.0], ""),
        Plan::Log => {
            b.take(Tool::Bridge(50.0), &hand, &round(4), &truth::measuring::places_every(l, 30.0, 2.0), "");
        }
    }
    let jaws = Rig { line_deg: 1.0, index_deg: 1.0, bias: [0.025, 0.0], ..Rig::noisy(0.05) };
    b.take(Tool::Caliper(0.0), &jaws, &half_round(2), &places(l, 10.0, 3), "");
    tool::tube_of(truth, &b.taken)
}

struct Lot {
    truths: Vec<TrueTube>,
    tubes: Vec<Tube>,
    model: Model,
}

fn lot(make: Make, plan: Plan, seed: u64, tubes: u64) -> Lot {
    let truths: Vec<TrueTube> = (0..tubes).map(|k| make.grow(seed, k)).collect();
    let tubes: Vec<Tube> = truths.iter().map(|t| read(plan, t, seed)).collect();
    let before = Model::default();
    let model = learn_population(&tubes, &before).expect("tubes that can be fitted").model(&before);
    Lot { truths, tubes, model }
}

/// What one tube's belief says of its bow against the truth.
struct Bow {
    /// Components: off, in stated standard deviations, and the stated one, mm.
    parts: [(f64, f64); 2],
    /// Whether the 90 % interval of the draws holds its size and its direction.
    held: [bool; 2],
    off_mm: f64,
    size_mm: f64,
}

fn bows(lot: &Lot) -> Vec<Bow> {
    let one = |(tube, truth): (&Tube, &TrueTube)| {
        let belief = Belief::fit(tube, &lot.model).expect("readings of the outside");
        let (l, at) = (truth.length_mm, belief.fields().centre());
        let z: Vec<f64> = (0..41).map(|i| l * f64::from(i) / 40.0).collect();
        let sag = |y: [f64; 3]| y[1] - 0.5 * (y[0] + y[2]);
        let parts = [0, 1].map(|part| {
            let q = [(0.0, -0.5), (l / 2.0, 1.0), (l, -0.5)]
                .iter()
                .fold(Quantity::of(belief.fields()), |q, &(z, by)| q.field(z, at + part, by));
            let mean = belief.mean_sections(&[0.0, l / 2.0, l]);
            let off =
                sag([0, 1, 2].map(|j| mean.row(j)[at + part])) - sag([0.0, l / 2.0, l].map(|z| (truth.axis)(z)[part]));
            let sd = belief.doubt_of(&q).sd;
            (off / sd, sd)
        });
        let real = figures(truth, 41);
        let drawn: Vec<_> = (0..200).map(|k| figures_of(&belief.draw_sections(1, k, &z))).collect();
        let within = |v: Vec<f64>, want: f64| (quantile(&v, 0.05)..=quantile(&v, 0.95)).contains(&want);
        let turned = drawn.iter().map(|d| (d.bow_deg - real.bow_deg + 180.0).rem_euclid(360.0) - 180.0);
        let held = [within(drawn.iter().map(|d| d.bow).collect(), real.bow_mm), within(turned.collect(), 0.0)];
        let best = figures_of(&belief.mean_sections(&z)).bow;
        Bow { parts, held, off_mm: best - real.bow_mm, size_mm: real.bow_mm }
    };
    lot.tubes.par_iter().zip(&lot.truths).map(one).collect()
}

#[test]
fn bars_tell_the_bow_as_surely_as_they_say() {
    for make in [Make::Smooth, Make::RoughLobes, Make::Grooves, Make::SlowDecay] {
        for plan in [Plan::Short, Plan::Long] {
            let all = bows(&lot(make, plan, 23, TUBES));
            let n = all.len() as f64;
            let share = |yes: &dyn Fn(&Bow) -> f64| 100.0 * all.iter().map(yes).sum::<f64>() / n;
            let yes = |b: bool| f64::from(u8::from(b));
            let parts = share(&|b| 0.5 * (yes(b.parts[0].0.abs() <= NINETY) + yes(b.parts[1].0.abs() <= NINETY)));
            let rms = (share(&|b| 0.5 * (b.parts[0].0.powi(2) + b.parts[1].0.powi(2))) / 100.0).sqrt();
            let sd = share(&|b| b.parts[0].1) / 100.0;
            let (size, turn) = (share(&|b| yes(b.held[0])), share(&|b| yes(b.held[1])));
            let off = (share(&|b| b.off_mm.powi(2)) / 100.0).sqrt();
            let mean = share(&|b| b.size_mm) / 100.0;
            println!(
                "{}, {plan:?}: components {parts:.0} % (rms {rms:.2}, sd {sd:.3}), size {size:.0} %, direction {turn:.0} %; off {off:.3} of {mean:.2} mm",
                make.word()
            );
        }
    }
}
