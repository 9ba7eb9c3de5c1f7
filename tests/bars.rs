//! A bar on two feet, read by the plain instrument that shares nothing with the crate: what it tells of the bow, how surely,
//! and what a good lot read with it is not accused of.

#[path = "support/tool.rs"]
mod tool;

use quarterlight::domain::Tube;
use quarterlight::known as truth;
use quarterlight::tube::geometry::figures_of;
use quarterlight::tube::learn::learn_population;
use quarterlight::tube::{Belief, Model, Quantity};
use rayon::prelude::*;
use truth::figures::{figures, quantile};
use truth::mean;
use truth::measuring::{Bench, Rig, Tool, half_round, places, places_every, round};
use truth::populations::Population as Make;
use truth::shape::TrueTube;

/// Half-width of a 90 % interval in standard deviations.
const NINETY: f64 = 1.645;
/// Tubes of one lot, and seeds of the lots: the zero of a bar is off on all tubes of one.
const TUBES: u64 = 60;
const LOTS: [u64; 3] = [23, 24, 25];

/// Bars, and a caliper closed twice at three stations.
#[derive(Debug, Clone, Copy)]
enum Plan {
    /// 70 mm along eight lines every 20 mm.
    Dense,
    /// 70 mm along eight lines at three places.
    Few,
    /// 50 mm along four lines, every 2 mm: as a logger gives it.
    Log,
}

/// An ordinary hand: lines and index line 1 deg off, the bar's zero a division off over the lot.
fn read(plan: Plan, truth: &TrueTube, seed: u64) -> Tube {
    let l = truth.length_mm;
    let mut b = Bench::new(truth, seed);
    let hand = Rig { line_deg: 1.0, index_deg: 1.0, bias: [0.01, 0.0], ..Rig::noisy(0.02) };
    match plan {
        Plan::Dense => b.take(Tool::Bridge(70.0), &hand, &round(8), &places_every(l, 37.0, 20.0), ""),
        Plan::Few => b.take(Tool::Bridge(70.0), &hand, &round(8), &places(l, 40.0, 3), ""),
        Plan::Log => {
            b.take(Tool::Bridge(50.0), &hand, &round(4), &places_every(l, 30.0, 2.0), "");
        }
    }
    let jaws = Rig { line_deg: 1.0, index_deg: 1.0, bias: [0.025, 0.0], ..Rig::noisy(0.05) };
    b.take(Tool::Caliper(0.0), &jaws, &half_round(2), &places(l, 10.0, 3), "");
    tool::tube_of(truth, &b.taken)
}

/// A number of tubes.
fn count(n: usize) -> f64 {
    n as f64
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
    /// Components: off, in stated standard deviations.
    parts: [f64; 2],
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
            off / sd
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
    for make in [Make::Smooth, Make::RoughLobes] {
        let all: Vec<Bow> = LOTS.iter().flat_map(|seed| bows(&lot(make, Plan::Dense, *seed, TUBES))).collect();
        let share =
            |holds: &dyn Fn(&Bow) -> bool| 100.0 * count(all.iter().filter(|b| holds(b)).count()) / count(all.len());
        let shares = [
            share(&|b| b.parts[0].abs() <= NINETY),
            share(&|b| b.parts[1].abs() <= NINETY),
            share(&|b| b.held[0]),
            share(&|b| b.held[1]),
        ];
        let off = mean(&all.iter().map(|b| b.off_mm.powi(2)).collect::<Vec<f64>>()).sqrt();
        let size = mean(&all.iter().map(|b| b.size_mm).collect::<Vec<f64>>());
        let together = mean(&shares);
        println!(
            "{}: components, size, direction {shares:.0?} %; together {together:.1} %; off {off:.3} of {size:.2} mm",
            make.word()
        );
        // some lots of rough lobes lie below 86 by themselves: the doubt of how far unevenness reaches is not in the draws
        assert!((86.0..=94.0).contains(&together), "{}: {together} of {shares:?}", make.word());
        // sixty tubes: two and a half standard errors of 3.9 %
        assert!(shares.iter().all(|s| (80.0..=100.0).contains(s)), "{}: {shares:?}", make.word());
        assert!(off < 0.05 * size, "{}: {off} of {size}", make.word());
    }
}

/// Three places on eight lines do not tell how far unevenness reaches, and draws take that as learned: too sure, on 95 of 120
/// tubes the size of the bow lies in its interval. It is close all the same.
#[test]
fn few_bars_come_close_to_the_bow() {
    let all: Vec<Bow> = LOTS.iter().flat_map(|seed| bows(&lot(Make::Smooth, Plan::Few, *seed, 24))).collect();
    let held = all.iter().filter(|b| b.held[0]).count();
    let off = mean(&all.iter().map(|b| b.off_mm.powi(2)).collect::<Vec<f64>>()).sqrt();
    println!("{} tubes: {held} hold, off {off:.3} mm", all.len());
    assert!(off < 0.2 && 4 * held >= 3 * all.len(), "{held} of {}, off {off}", all.len());
}

#[test]
fn a_log_of_many_bars_costs_no_more_than_its_knots() {
    // some 340 readings along four lines: posts at the knots
    let lot = lot(Make::Smooth, Plan::Log, 5, 1);
    let belief = Belief::fit(&lot.tubes[0], &lot.model).expect("readings of the outside");
    assert!(lot.tubes[0].readings.len() > 250 && belief.settled());
    let (told, real) = (belief.figures(1, 60), figures(&lot.truths[0], 41));
    let bow = told.bow_mm.expect("seen by bars");
    assert!((bow.value - real.bow_mm).abs() < 4.0 * bow.sd && bow.sd < 0.15, "{bow:?} {real:?}");
    let sight = belief.sight();
    let seen = |q: &str| sight.iter().any(|s| s.quantity == q && s.seen);
    assert!(seen("bow") && !seen("twist") && !seen("wall"));
}

#[test]
fn bars_alone_see_the_bow_and_neither_size_nor_shape_round_the_tube() {
    let truth = Make::Smooth.grow(7, 2);
    let mut b = Bench::new(&truth, 7);
    b.take(Tool::Bridge(70.0), &Rig::noisy(0.02), &round(4), &places(truth.length_mm, 40.0, 3), "");
    let belief = Belief::fit(&tool::tube_of(&truth, &b.taken), &Model::default()).expect("readings of the outside");
    let seen: Vec<&str> = belief.sight().iter().filter(|s| s.seen).map(|s| s.quantity).collect();
    assert_eq!(seen, ["bow"]);
    let told = belief.figures(1, 60);
    assert!(told.bow_mm.is_some() && told.diameter_mm.is_none() && told.ovality_mm.is_none());
}
