//! Every make of tubes against every way of measuring: what is lost, what is promised, what the intervals hold.
//!
//! *How whole-number intervals are counted.* The interval of a tube runs from the 5 % to the 95 % point of its draws and
//! counts as holding when the blanks really cut lie in it, ends included: `hold`. Since counts are whole, such an interval
//! holds more than 90 % even of a perfect belief. `exact` counts only the share of an end value that belongs inside: the
//! place of the true count among the draws, ties broken by a fair throw, lies between 5 and 95 %; a perfect belief gives
//! 90 %. The real split wanders as the lot says, so both hold the wander too.

#![allow(dead_code, reason = "every test and example uses its own part of it")]

use super::{Known, grown, tool};
use crate::choice::truth::chance::Chance;
use crate::choice::truth::figures::quantile;
use crate::choice::truth::measuring::Rig;
use crate::choice::truth::moments::{Scales, scales};
use crate::choice::truth::plans::Plan;
use crate::choice::truth::populations::Population;
use crate::choice::truth::{mean, spread};
use rayon::prelude::*;

/// Tubes in a lot: what is common to a lot is common to these, and sums are over a whole lot.
pub const IN_A_LOT: usize = 10;
/// Tubes from which the scales of a make are worked out, and their seed.
const MEASURED: (u64, u64) = (300, 7001);
/// Highest lobe of the scales of a make.
const TOP: u32 = 9;

/// True tubes of one make, judged.
pub struct Make {
    /// The population.
    pub population: Population,
    /// Seed of the tubes.
    pub seed: u64,
    /// Its tubes.
    pub known: Vec<Known>,
    /// Its true scales.
    pub scales: Scales,
}

impl Make {
    /// `lots` lots of ten tubes.
    pub fn grow(population: Population, seed: u64, lots: u64) -> Make {
        let known = grown(population, seed, lots * IN_A_LOT as u64);
        Make { population, seed, known, scales: true_scales(population) }
    }

    /// Blanks at the best angles, and at arbitrary ones.
    pub fn blanks(&self) -> (f64, f64) {
        (self.known.iter().map(Known::best).sum(), self.known.iter().map(Known::arbitrary).sum())
    }
}

/// The scales of a population by moments over many of its tubes.
pub fn true_scales(population: Population) -> Scales {
    let tubes: Vec<_> = (0..MEASURED.0).into_par_iter().map(|k| population.grow(MEASURED.1, k)).collect();
    scales(&tubes, TOP)
}

/// What a belief made of one way of measuring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Share of the best blanks lost, and its standard error.
    pub lost: (f64, f64),
    /// Blanks promised over blanks the chosen angles truly give, less 1.
    pub promised: f64,
    /// Share of tubes whose count lies in the interval, ends included.
    pub hold: f64,
    /// The same with end values counted in part.
    pub exact: f64,
    /// Share of lots of ten whose sum lies in its interval.
    pub sums: f64,
    /// Marked runs promised over those that are good, less 1, and share of lots of ten whose sum of them lies in its interval.
    pub marked: (f64, f64),
    /// Mean width of the tubes' intervals, blanks.
    pub width: f64,
    /// Share of the readings doubted, and of the tubes on which something is suspected.
    pub blamed: (f64, f64),
    /// Readings of a tube.
    pub readings: f64,
}

/// Measures every tube by `plan` with the faults of `hand`, plans every lot with these scales (`None`: as the tool has
/// them) and holds the promises against the truth.
pub fn outcome(make: &Make, plan: Plan, hand: &Rig, with: Option<&Scales>, draws: u64) -> Outcome {
    let mut all: Vec<(&Known, tool::Promise, usize)> = Vec::new();
    for (lot, known) in (0..).zip(make.known.chunks(IN_A_LOT)) {
        let seed = 1000 * make.seed + lot;
        let tubes: Vec<_> =
            known.par_iter().map(|k| tool::tube_of(&k.tube, &plan.read_by(&k.tube, seed, hand))).collect();
        let many: Vec<usize> = tubes.iter().map(|t| t.readings.len()).collect();
        let promises = tool::promises(tubes, with, make.seed, draws);
        all.extend(known.iter().zip(promises).zip(many).map(|((k, p), n)| (k, p, n)));
    }
    let n = all.len() as f64;
    let share = |holds: &dyn Fn(usize) -> bool| (0..all.len()).filter(|&i| holds(i)).count() as f64 / n;
    let losses: Vec<f64> = all.iter().map(|(k, p, _)| k.best() - k.at(p.angle_deg)).collect();
    let best: f64 = all.iter().map(|(k, ..)| k.best()).sum();
    let got: f64 = all.iter().map(|(k, p, _)| k.at(p.angle_deg)).sum();
    let cut: Vec<f64> = all.iter().map(|(k, p, _)| k.cut(p.angle_deg)).collect();
    let within = |i: usize| {
        let draws = &all[i].1.draws;
        let part =
            |holds: &dyn Fn(f64) -> bool| draws.iter().filter(|&&d| holds(d)).count() as f64 / draws.len() as f64;
        let throw = Chance::of(make.seed, "throw", i as u64).even(0.0, 1.0);
        let place = part(&|d| d < cut[i] - 0.5) + throw * part(&|d| (d - cut[i]).abs() < 0.5);
        (0.05..=0.95).contains(&place)
    };
    let lots = all.chunks(IN_A_LOT).zip(cut.chunks(IN_A_LOT)).map(|(lot, cut)| {
        let totals: Vec<f64> =
            (0..lot[0].1.draws.len()).map(|k| lot.iter().map(|(_, p, _)| p.draws[k]).sum()).collect();
        let truth: f64 = cut.iter().sum();
        f64::from(u8::from((quantile(&totals, 0.05)..=quantile(&totals, 0.95)).contains(&truth)))
    });
    let good: f64 = all.par_iter().map(|(k, p, _)| k.marked(p.angle_deg, &p.marks, make.seed)).sum();
    let marked_lots = all.chunks(IN_A_LOT).map(|lot| {
        let totals: Vec<f64> =
            (0..lot[0].1.marked.1.len()).map(|k| lot.iter().map(|(_, p, _)| p.marked.1[k]).sum()).collect();
        let truth: f64 = lot.iter().map(|(k, p, _)| k.cut_marked(p.angle_deg, &p.marks)).sum();
        f64::from(u8::from((quantile(&totals, 0.05)..=quantile(&totals, 0.95)).contains(&truth)))
    });
    let read: f64 = all.iter().map(|a| a.2 as f64).sum();
    Outcome {
        lost: (losses.iter().sum::<f64>() / best, spread(&losses) * n.sqrt() / best),
        promised: all.iter().map(|(_, p, _)| p.expected).sum::<f64>() / got - 1.0,
        hold: share(&|i| (all[i].1.interval.0..=all[i].1.interval.1).contains(&cut[i])),
        exact: share(&within),
        sums: mean(&lots.collect::<Vec<f64>>()),
        marked: (
            all.iter().map(|(_, p, _)| p.marked.0).sum::<f64>() / good.max(1e-9) - 1.0,
            mean(&marked_lots.collect::<Vec<f64>>()),
        ),
        width: mean(&all.iter().map(|(_, p, _)| p.interval.1 - p.interval.0).collect::<Vec<f64>>()),
        blamed: (all.iter().map(|(_, p, _)| p.doubted as f64).sum::<f64>() / read, share(&|i| all[i].1.suspicions > 0)),
        readings: read / n,
    }
}

/// What the belief is to reach: the loss against that of a belief which knows the true scales, the intervals, the promise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goals {
    /// Most to be lost, as a share.
    pub lost: f64,
    /// Tube intervals that hold, exactly counted.
    pub exact: (f64, f64),
    /// Sums of ten that hold.
    pub sums: (f64, f64),
    /// Promised against true, where the readings see bow and lobes.
    pub promised: f64,
}

impl Goals {
    /// The goals beside a reference; `errors` standard errors of `lots` lots are allowed on every share.
    pub fn beside(reference: &Outcome, lots: u64, errors: f64) -> Goals {
        let slack = |p: f64, n: u64| errors * (p * (1.0 - p) / n as f64).sqrt();
        let (tubes, sums) = (slack(0.9, lots * IN_A_LOT as u64), slack(0.9, lots));
        Goals {
            lost: 1.15 * reference.lost.0 + 0.005 + errors * reference.lost.1,
            exact: (0.86 - tubes, 0.94 + tubes),
            sums: (0.84 - sums, 0.95 + sums),
            promised: 0.02 + errors * 0.01,
        }
    }

    /// The goals that an outcome misses, in words.
    pub fn missed(&self, o: &Outcome, sees_all: bool) -> Vec<String> {
        let mut out = Vec::new();
        let percent = |x: f64| format!("{:.1} %", 100.0 * x);
        if o.lost.0 > self.lost {
            out.push(format!("loses {}, goal {}", percent(o.lost.0), percent(self.lost)));
        }
        if !(self.exact.0..=self.exact.1).contains(&o.exact) {
            out.push(format!("tube intervals hold {}", percent(o.exact)));
        }
        if !(self.sums.0..=self.sums.1).contains(&o.sums) {
            out.push(format!("sums of ten hold {}", percent(o.sums)));
        }
        if sees_all && o.promised.abs() > self.promised {
            out.push(format!("promises {:+.1} %", 100.0 * o.promised));
        }
        out
    }
}

/// Whether readings of a plan see bow and lobes.
pub fn sees_all(plan: Plan) -> bool {
    matches!(plan, Plan::Dial8x5 | Plan::Dial12 | Plan::Dial24x8)
}
