//! Faults planted in the readings of simulated tubes, and whether they are found.

use quarterlight::domain::{Kind, Tube};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{count, to_index};
use quarterlight::tube::faults::suspicions;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::{Belief, Cause, Population, Suspicion};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What is planted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plant {
    /// The zero slips by this much, mm, either way, somewhere in the middle 70 % of a set.
    Slip(f64),
    /// Two neighbouring stations of the dial change places.
    SwapNeighbours,
    /// Two stations of the dial at least two steps apart change places.
    SwapFar,
    /// The decimal mark of one dial reading of at least this size, mm, moves one place either way.
    Decimal(f64),
    /// One dial reading of at least this size, mm, written in inches.
    InchReading(f64),
    /// All dial values of one station written in inches.
    InchRing,
    /// The place of the station nearest to 9 mm written in inches.
    InchPlace,
    /// The angles of one station turned by one step.
    Turn,
    /// All dial angles turned by one step, beside eight diameters at each of five stations.
    TurnKind,
    /// One of three dial sets with its sign reversed.
    SignSet,
    /// One station of the dial with its sign reversed, about its own mean.
    SignRing,
}

/// What became of one tube.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Size of the fault: root mean square change of the readings it touched, mm.
    pub rms_mm: f64,
    /// Something was suspected.
    pub found: bool,
    /// The strongest suspicion names the cause and the readings.
    pub named: bool,
}

/// Runout at 12 angles every 17 mm, 0.02 mm noise, in three sets where asked, with diameters.
pub fn clean(seed: u64, k: u64, sets: usize, diameters: usize) -> (Tube, ChaCha8Rng) {
    let truth = TrueTube::grow(&Stand::default(), seed, k);
    let mut rng = draws::stream(seed, "read", k);
    let mut tube = truth.listed();
    tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
    let n = tube.readings.len();
    for (i, r) in tube.readings.iter_mut().enumerate() {
        // sets change between stations
        let set = (i / 12) * sets / (n / 12);
        r.set = format!("{}", set + 1);
        r.value_mm += 0.4 * count(set);
    }
    let around = if diameters > 4 { 16 } else { 8 };
    let step = if diameters > 4 { truth.length_mm / 4.0 } else { 1e9 };
    let ring = truth.rings(Kind::Diameter, around, step, 0.05, &mut rng);
    tube.readings.extend(ring.into_iter().filter(|r| r.angle.degrees() < 179.0).take(diameters));
    (tube, rng)
}

/// What the tool says of a tube.
pub fn look(tube: &Tube) -> Vec<Suspicion> {
    let (rigs, population) = (BTreeMap::new(), Population::default());
    let belief = Belief::fit(tube, &rigs, &population, 12.7).expect("readings of the outside");
    suspicions(tube, &belief, &rigs, &population, 12.7)
}

fn pick(rng: &mut ChaCha8Rng, from: usize, to: usize) -> usize {
    from + to_index(rng.random::<f64>() * count(to - from)).min(to - from - 1)
}

/// A tube with one fault, the readings it should name, and the cause.
pub fn planted(plant: Plant, seed: u64, k: u64) -> (Tube, Vec<usize>, Cause, f64) {
    let sets = if plant == Plant::SignSet { 3 } else { 1 };
    let diameters = if plant == Plant::TurnKind { 40 } else { 4 };
    let (mut tube, mut rng) = clean(seed, k, sets, diameters);
    let before: Vec<f64> = tube.readings.iter().map(|r| r.value_mm).collect();
    let dial = tube.readings.iter().filter(|r| r.kind == Kind::Runout).count();
    let stations = dial / 12;
    let side = if rng.random::<bool>() { 1.0 } else { -1.0 };
    let s = pick(&mut rng, 0, stations);
    let ring = |s: usize| (12 * s..12 * s + 12).collect::<Vec<usize>>();
    let rs = &mut tube.readings;
    let big = |rng: &mut ChaCha8Rng, least: f64| {
        let list: Vec<usize> = (0..dial).filter(|&i| before[i].abs() >= least).collect();
        if list.is_empty() { pick(rng, 0, dial) } else { list[pick(rng, 0, list.len())] }
    };
    let (which, cause) = match plant {
        Plant::Slip(size) => {
            let from = pick(&mut rng, dial * 15 / 100, dial * 85 / 100);
            (from..dial).for_each(|i| rs[i].value_mm += side * size);
            ((from..dial).collect(), Cause::SlippedZero)
        }
        Plant::SwapNeighbours | Plant::SwapFar => {
            let far = if plant == Plant::SwapFar { pick(&mut rng, 2, stations - 1) } else { 1 };
            let a = pick(&mut rng, 0, stations - far);
            let b = a + far;
            for i in 0..12 {
                rs[12 * a + i].value_mm = before[12 * b + i];
                rs[12 * b + i].value_mm = before[12 * a + i];
            }
            ([ring(a), ring(b)].concat(), Cause::SwappedStations)
        }
        Plant::Decimal(least) => {
            let i = big(&mut rng, least);
            rs[i].value_mm *= if side > 0.0 { 10.0 } else { 0.1 };
            (vec![i], Cause::DecimalSlip)
        }
        Plant::InchReading(least) => {
            let i = big(&mut rng, least);
            rs[i].value_mm /= 25.4;
            (vec![i], Cause::InchAsMm)
        }
        Plant::InchRing => {
            ring(s).into_iter().for_each(|i| rs[i].value_mm /= 25.4);
            (ring(s), Cause::InchAsMm)
        }
        Plant::InchPlace => {
            let s = pick(&mut rng, 1, stations);
            ring(s).into_iter().for_each(|i| rs[i].z_mm /= 25.4);
            (ring(s), Cause::InchAsMm)
        }
        Plant::Turn => {
            let shift = if side > 0.0 { 1 } else { 11 };
            (0..12).for_each(|i| rs[12 * s + i].value_mm = before[12 * s + (i + shift) % 12]);
            (ring(s), Cause::AnglesShifted)
        }
        Plant::TurnKind => {
            let shift = if side > 0.0 { 1 } else { 11 };
            (0..dial).for_each(|i| rs[i].value_mm = before[i / 12 * 12 + (i % 12 + shift) % 12]);
            ((0..dial).collect(), Cause::AnglesShifted)
        }
        Plant::SignSet => {
            let set = format!("{}", pick(&mut rng, 0, 3) + 1);
            let list: Vec<usize> = (0..dial).filter(|&i| rs[i].set == set).collect();
            list.iter().for_each(|&i| rs[i].value_mm = -before[i]);
            (list, Cause::SignReversed)
        }
        Plant::SignRing => {
            let mean = ring(s).iter().map(|&i| before[i]).sum::<f64>() / 12.0;
            ring(s).into_iter().for_each(|i| rs[i].value_mm = 2.0 * mean - before[i]);
            (ring(s), Cause::SignReversed)
        }
    };
    let square: f64 = which.iter().map(|&i| (tube.readings[i].value_mm - before[i]).powi(2)).sum();
    let rms = (square / count(which.len())).sqrt();
    (tube, which, cause, rms)
}

/// Outcomes over `tubes` tubes.
pub fn study(plant: Plant, tubes: u64, seed: u64) -> Vec<Outcome> {
    (0..tubes)
        .into_par_iter()
        .map(|k| {
            let (tube, which, cause, rms_mm) = planted(plant, seed, k);
            let list = look(&tube);
            let named = list.first().is_some_and(|s| {
                // where a zero slipped is right to within a reading; a kind against a kind may be told of either
                let close = match plant {
                    Plant::Slip(_) => s.readings.len().abs_diff(which.len()) <= 1 && s.readings.last() == which.last(),
                    Plant::TurnKind => true,
                    _ => s.readings == which,
                };
                s.cause == cause && close
            });
            Outcome { rms_mm, found: !list.is_empty(), named }
        })
        .collect()
}

/// How many of `tubes` clean tubes are suspected, and of what.
pub fn false_alarms(tubes: u64, seed: u64, sets: usize, diameters: usize) -> Vec<(u64, Suspicion)> {
    let of = |k: u64| look(&clean(seed, k, sets, diameters).0).into_iter().next().map(|s| (k, s));
    (0..tubes).into_par_iter().filter_map(of).collect()
}
