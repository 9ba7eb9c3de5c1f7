//! What is worth keeping of what cut lots taught: for the maker's own file, and for planning again by it.

use super::borne_out::BorneOut;
use crate::decide::judged::{GAUGED, gauged_limits_mut};
use crate::domain::{Lot, Promise};
use crate::numeric::summary::NINETY;

/// Fewer lines than these of two tubes say too little of a hand.
const LEAST_LINES: usize = 12;
/// Fewer counted tubes say too little of a promise.
const LEAST_TUBES: usize = 5;
/// How far what promises come to differs from lot to lot, sd of its logarithm: other cane, another season. Common practice, no
/// source; the lots that were learned from are too few to tell it.
const LOT_SD: f64 = 0.06;

/// What a maker's own file is to hold; what the lots say too little of is left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Kept {
    /// Limits by their words in `lot.toml`, mm.
    pub limits_mm: Vec<(&'static str, f64)>,
    /// Sd of a split line about its aim, what all are shifted by taken off, degrees.
    pub wander_deg: Option<f64>,
    /// How many times as long as the rigs say measuring takes.
    pub pace: Option<f64>,
    /// What promises made with these came to.
    pub promise: Option<Promise>,
}

impl Kept {
    /// Of what was learned; the promise from the lots planned again by it, where they were.
    #[must_use]
    pub fn of(b: &BorneOut) -> Kept {
        let told = b.limits.iter().flat_map(|l| &l.limits).filter(|l| l.told());
        let counted: usize = b.lots.iter().map(|l| l.tubes.len()).sum();
        let factor = b.again.as_ref().map_or(b.factor, |a| a.factor).filter(|_| counted >= LEAST_TUBES);
        Kept {
            limits_mm: told.map(|l| (l.limit, l.own_mm.expected)).collect(),
            wander_deg: b.wander.filter(|w| w.tubes > 1 && w.lines >= LEAST_LINES).map(|w| w.wander_deg),
            pace: b.pace.map(|p| p.times.expected),
            promise: factor.map(|f| Promise {
                factor: f.expected,
                log_sd: ((f.high / f.low).ln() / (2.0 * NINETY)).hypot(LOT_SD),
            }),
        }
    }

    /// Whether a lot would be planned otherwise by it.
    #[must_use]
    pub fn changes_plans(&self) -> bool {
        self.wander_deg.is_some() || !self.limits_mm.is_empty()
    }

    /// Whether there is nothing to keep.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        !self.changes_plans() && self.promise.is_none() && self.pace.is_none()
    }

    /// Lets a lot be planned by these limits, this wander and this pace.
    pub fn put_into(&self, lot: &mut Lot) {
        for (limit, mm) in &self.limits_mm {
            let named = GAUGED.iter().zip(gauged_limits_mut(&mut lot.target)).find(|(name, _)| *name == limit);
            named.into_iter().for_each(|(_, place)| *place = *mm);
        }
        lot.split.wander_deg = self.wander_deg.unwrap_or(lot.split.wander_deg);
        lot.pace = self.pace.or(lot.pace);
    }
}
