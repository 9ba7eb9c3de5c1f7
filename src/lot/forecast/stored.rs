//! The stored form of a forecast.

use super::super::counting::{Air, Share};
use super::super::interval::Interval;
use super::super::spent::{CostBasis, Estimated, EstimatedBy, WholePrice};
use super::super::whole::WholeLot;
use super::{Forecast, NotChecked};
use crate::decide::leeway::LimitChange;
use serde::{Deserialize, Serialize};

/// A [`Forecast`] as stored: one name a number. A cost without limit is no number, so it is null.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Stored {
    tubes: usize,
    blanks: f64,
    low: f64,
    high: f64,
    /// these four, the air and the price by weight are missing in what was stored before they were told
    #[serde(default)]
    without_leave: bool,
    #[serde(default)]
    all_measured: Option<Share>,
    #[serde(default)]
    worth_splitting: Option<Share>,
    #[serde(default)]
    waste_share: Option<[f64; 3]>,
    arbitrary_blanks: f64,
    #[serde(default)]
    marked_runs: Option<Interval>,
    #[serde(default)]
    unchecked: Option<NotChecked>,
    #[serde(default)]
    limit_changes: Vec<LimitChange>,
    #[serde(default)]
    by_eye_blanks: f64,
    #[serde(default)]
    measuring_minutes: Option<f64>,
    #[serde(default)]
    splitting_minutes: f64,
    weight_g: Option<f64>,
    tubes_weighed: usize,
    #[serde(default)]
    air: Option<Air>,
    #[serde(default)]
    price_per_kg: Option<f64>,
    blanks_per_kg: Option<f64>,
    blanks_per_kg_low: Option<f64>,
    blanks_per_kg_high: Option<f64>,
    blanks_per_lb: Option<f64>,
    blanks_per_lb_low: Option<f64>,
    blanks_per_lb_high: Option<f64>,
    cost_per_blank: Option<f64>,
    cost_per_blank_low: Option<f64>,
    cost_per_blank_high: Option<f64>,
    cost_basis: Option<CostBasis>,
    /// these four are missing in what was stored before weights were estimated
    #[serde(default)]
    whole_price: Option<WholePrice>,
    #[serde(default)]
    estimated_weight_g: Option<f64>,
    #[serde(default)]
    tubes_estimated: usize,
    #[serde(default)]
    estimated_by: Option<EstimatedBy>,
    currency: String,
    #[serde(default)]
    whole_lot: Option<WholeLot>,
}

impl From<Forecast> for Stored {
    fn from(f: Forecast) -> Stored {
        let apart = |i: Option<Interval>| {
            let of = |get: fn(Interval) -> f64| i.map(get).filter(|x| x.is_finite());
            [of(|i| i.expected), of(|i| i.low), of(|i| i.high)]
        };
        let [blanks_per_kg, blanks_per_kg_low, blanks_per_kg_high] = apart(f.per_kg);
        let [blanks_per_lb, blanks_per_lb_low, blanks_per_lb_high] = apart(f.per_lb);
        let [cost_per_blank, cost_per_blank_low, cost_per_blank_high] = apart(f.cost_per_blank);
        Stored {
            tubes: f.tubes,
            blanks: f.blanks.expected,
            low: f.blanks.low,
            high: f.blanks.high,
            without_leave: f.without_leave,
            all_measured: f.all_measured,
            worth_splitting: f.worth_splitting,
            waste_share: f.waste.map(|i| [i.expected, i.low, i.high]),
            arbitrary_blanks: f.arbitrary,
            marked_runs: f.marked,
            unchecked: f.not_checked,
            limit_changes: f.limit_changes,
            by_eye_blanks: f.by_eye,
            measuring_minutes: f.measuring_minutes,
            splitting_minutes: f.splitting_minutes,
            weight_g: f.weight_g.map(|w| w.0),
            tubes_weighed: f.weight_g.map_or(0, |w| w.1),
            air: f.air,
            price_per_kg: f.price_per_kg,
            blanks_per_kg,
            blanks_per_kg_low,
            blanks_per_kg_high,
            blanks_per_lb,
            blanks_per_lb_low,
            blanks_per_lb_high,
            cost_per_blank,
            cost_per_blank_low,
            cost_per_blank_high,
            cost_basis: f.cost_basis,
            whole_price: f.whole_price,
            estimated_weight_g: f.estimated.map(|e| e.weight_g),
            tubes_estimated: f.estimated.map_or(0, |e| e.tubes),
            estimated_by: f.estimated.map(|e| e.by),
            currency: f.currency,
            whole_lot: f.whole,
        }
    }
}

impl TryFrom<Stored> for Forecast {
    type Error = &'static str;

    fn try_from(s: Stored) -> Result<Forecast, &'static str> {
        let rate = |expected: Option<f64>, low: Option<f64>, high: Option<f64>| match (expected, low, high) {
            (None, None, None) => Ok(None),
            (Some(expected), Some(low), Some(high)) => Ok(Some(Interval { expected, low, high })),
            _ => Err("a rate without its interval"),
        };
        let no_limit = |x: Option<f64>| x.unwrap_or(f64::INFINITY);
        let cost = |expected| Interval {
            expected,
            low: no_limit(s.cost_per_blank_low),
            high: no_limit(s.cost_per_blank_high),
        };
        Ok(Forecast {
            tubes: s.tubes,
            blanks: Interval { expected: s.blanks, low: s.low, high: s.high },
            without_leave: s.without_leave,
            all_measured: s.all_measured,
            worth_splitting: s.worth_splitting,
            waste: s.waste_share.map(|[expected, low, high]| Interval { expected, low, high }),
            arbitrary: s.arbitrary_blanks,
            marked: s.marked_runs,
            not_checked: s.unchecked,
            limit_changes: s.limit_changes,
            by_eye: s.by_eye_blanks,
            measuring_minutes: s.measuring_minutes,
            splitting_minutes: s.splitting_minutes,
            weight_g: s.weight_g.map(|w| (w, s.tubes_weighed)),
            air: s.air,
            price_per_kg: s.price_per_kg,
            per_kg: rate(s.blanks_per_kg, s.blanks_per_kg_low, s.blanks_per_kg_high)?,
            per_lb: rate(s.blanks_per_lb, s.blanks_per_lb_low, s.blanks_per_lb_high)?,
            cost_per_blank: s.cost_per_blank.map(cost),
            cost_basis: s.cost_basis,
            whole_price: s.whole_price,
            estimated: match (s.estimated_weight_g, s.estimated_by) {
                (Some(weight_g), Some(by)) => Some(Estimated { tubes: s.tubes_estimated, weight_g, by }),
                (None, None) => None,
                _ => return Err("an estimated weight without what it was estimated by"),
            },
            currency: s.currency,
            whole: s.whole_lot,
        })
    }
}
