//! Every make of tubes against every way of measuring: what is lost, what is promised, what the intervals hold.
//!
//! *How whole-number intervals are counted.* The interval of a tube runs from the 5 % to the 95 % point of its draws and
//! counts as holding when the blanks really cut lie in it, ends included: `hold`. Since counts are whole, such an interval
//! holds more than 90 % even of a perfect belief. `exact` counts only the share of an end value that belongs inside: the
//! place of the true count among the draws, ties broken by a fair throw, lies between 5 and 95 %; a perfect belief gives
//! 90 %. The real split wanders as the lot says, so both hold the wander too.

use super::promise::{Promise, StudyError, lot_for, promises_of, rules, tube_of};
use crate::domain::{Lot, measuring_seconds};
use crate::known::chance::Chance;
use crate::known::figures::quantile;
use crate::known::measuring::Rig;
use crate::known::moments::{Scales, scales};
use crate::known::populations::Recipe;
use crate::known::way::Way;
use crate::known::yields::Known;
use crate::known::{mean, spread};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Tubes in a lot: what is common to a lot is common to these, and sums are over a whole lot.
pub const IN_A_LOT: usize = 10;
/// Tubes from which the scales of a make are worked out, and their seed.
const MEASURED: (u64, u64) = (300, 7001);
/// Highest lobe of the scales of a make.
const TOP: u32 = 9;

/// True tubes of one make, judged.
#[derive(Debug)]
pub struct Make {
    /// The make.
    pub recipe: Recipe,
    /// Seed of the tubes.
    pub seed: u64,
    /// Its tubes.
    pub known: Vec<Known>,
    /// Its true scales.
    pub scales: Scales,
}

impl Make {
    /// The first `tubes` tubes of a make, in lots of ten.
    ///
    /// # Errors
    /// [`StudyError::Short`] where a tube has no room for a blank.
    pub fn grow(recipe: impl Into<Recipe>, seed: u64, tubes: u64) -> Result<Make, StudyError> {
        let recipe = recipe.into();
        let known = grown(&recipe, seed, tubes)?;
        let scales = true_scales(&recipe);
        Ok(Make { recipe, seed, known, scales })
    }

    /// Blanks at the best angles, and at arbitrary ones.
    pub fn blanks(&self) -> (f64, f64) {
        (self.known.iter().map(Known::best).sum(), self.known.iter().map(Known::arbitrary).sum())
    }
}

/// The first `tubes` tubes of a make, judged.
///
/// # Errors
/// [`StudyError::Short`] where a tube has no room for a blank.
pub fn grown(recipe: &Recipe, seed: u64, tubes: u64) -> Result<Vec<Known>, StudyError> {
    let rules = rules(&lot_for(recipe));
    let one = |k: u64| {
        let tube = recipe.form(seed, k).tube();
        let name = tube.name.clone();
        Known::of(tube, &rules, seed, k).ok_or(StudyError::Short { tube: name })
    };
    (0..tubes).into_par_iter().map(one).collect()
}

/// The scales of a make by moments over many of its tubes.
#[must_use]
pub fn true_scales(recipe: &Recipe) -> Scales {
    let tubes: Vec<_> = (0..MEASURED.0).into_par_iter().map(|k| recipe.form(MEASURED.1, k).tube()).collect();
    scales(&tubes, TOP)
}

/// What a belief made of one way of measuring.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Outcome {
    /// Share of the best blanks lost, and its standard error; `None` where no angle gives any.
    pub lost: Option<(f64, f64)>,
    /// Blanks promised over blanks the chosen angles truly give, less 1; `None` where they give none.
    pub promised: Option<f64>,
    /// Its standard error.
    pub promised_error: Option<f64>,
    /// Share of tubes whose count lies in the interval, ends included.
    pub hold: f64,
    /// The same with end values counted in part.
    pub exact: f64,
    /// Share of lots of ten whose sum lies in its interval.
    pub sums: f64,
    /// Marked runs promised over those that are good, less 1, `None` where none is good, and share of lots of ten whose sum of
    /// them lies in its interval.
    pub marked: (Option<f64>, f64),
    /// Mean width of the tubes' intervals, blanks.
    pub width: f64,
    /// Share of the readings doubted, and of the tubes on which something is suspected.
    pub blamed: (f64, f64),
    /// Readings of a tube.
    pub readings: f64,
    /// Minutes that those of a tube take.
    pub minutes: f64,
    /// Tubes, and lots of ten of them.
    pub counted: (usize, usize),
}

/// Measures every tube by `plan` with the faults of `hand`, plans every lot with these scales (`None`: as the tool has
/// them) and holds the promises against the truth.
///
/// # Errors
/// [`StudyError`]: readings that do not see a tube.
pub fn outcome(make: &Make, way: &Way, hand: &Rig, with: Option<&Scales>, draws: u64) -> Result<Outcome, StudyError> {
    let mut all: Vec<(&Known, Promise, usize)> = Vec::new();
    let mut seconds = 0.0;
    for (number, known) in (0..).zip(make.known.chunks(IN_A_LOT)) {
        let seed = 1000 * make.seed + number;
        let tubes: Vec<_> = known.par_iter().map(|k| tube_of(&k.tube, &way.read_by(&k.tube, seed, hand))).collect();
        let many: Vec<usize> = tubes.iter().map(|t| t.readings.len()).collect();
        seconds += tubes.iter().map(|t| measuring_seconds(&t.readings, &BTreeMap::new())).sum::<f64>();
        let lot = Lot { tubes, ..lot_for(&make.recipe) };
        let promises = promises_of(&lot, with, make.seed, draws)?;
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
    let off: Vec<f64> = all.iter().map(|(k, p, _)| p.expected - k.at(p.angle_deg)).collect();
    Ok(Outcome {
        lost: (best > 0.0).then(|| (losses.iter().sum::<f64>() / best, spread(&losses) * n.sqrt() / best)),
        promised: (got > 0.0).then(|| all.iter().map(|(_, p, _)| p.expected).sum::<f64>() / got - 1.0),
        promised_error: (got > 0.0).then(|| spread(&off) * n.sqrt() / got),
        hold: share(&|i| (all[i].1.interval.0..=all[i].1.interval.1).contains(&cut[i])),
        exact: share(&within),
        sums: mean(&lots.collect::<Vec<f64>>()),
        marked: (
            (good > 0.0).then(|| all.iter().map(|(_, p, _)| p.marked.0).sum::<f64>() / good - 1.0),
            mean(&marked_lots.collect::<Vec<f64>>()),
        ),
        width: mean(&all.iter().map(|(_, p, _)| p.interval.1 - p.interval.0).collect::<Vec<f64>>()),
        blamed: (all.iter().map(|(_, p, _)| p.doubted as f64).sum::<f64>() / read, share(&|i| all[i].1.suspicions > 0)),
        readings: read / n,
        minutes: seconds / n / 60.0,
        counted: (all.len(), make.known.len().div_ceil(IN_A_LOT)),
    })
}
