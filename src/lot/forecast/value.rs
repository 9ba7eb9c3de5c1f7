//! A forecast, and its stored form.

use super::super::counting::{Air, Share};
use super::super::interval::Interval;
use super::super::spent::{CostBasis, Estimated, EstimatedBy, WholePrice};
use super::super::whole::WholeLot;
use crate::decide::leeway::LimitChange;
use crate::domain::Promise;
use serde::{Deserialize, Serialize};

/// The blanks of a lot with the grain and wall that nobody read as they may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NotChecked {
    /// Planned tubes on which no fibre was followed.
    pub grain: usize,
    /// Planned tubes on which no wall was read.
    pub wall: usize,
    /// Blanks then, of all planned tubes.
    #[serde(flatten)]
    pub blanks: Interval,
}

/// The blanks as earlier lots of this maker bore out what was promised of them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Earlier {
    /// What they bore out.
    #[serde(flatten)]
    pub promise: Promise,
    /// Blanks of the tubes that count.
    pub blanks: Interval,
    /// Blanks of the whole lot, where it is forecast.
    pub whole: Option<Interval>,
}

/// What the planned tubes of a lot are expected to give. A `None` says which figure is missing from the lot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", try_from = "Stored")]
pub struct Forecast {
    /// Tubes planned.
    pub tubes: usize,
    /// Blanks when every quarter is gauged again after the split; of the tubes that count.
    pub blanks: Interval,
    /// Whether the tubes that the screening leaves were counted as giving none.
    pub without_leave: bool,
    /// Blanks of all planned tubes.
    pub all_measured: Option<Share>,
    /// Blanks of those that the screening does not leave.
    pub worth_splitting: Option<Share>,
    /// Share of the length of all pieces that ends in no blank.
    pub waste: Option<Interval>,
    /// Blanks of the marked runs alone, good or not where they are marked.
    pub marked: Option<Interval>,
    /// Blanks with what nobody read taken as it may be; `None` where grain and wall were read on every planned tube.
    pub not_checked: Option<NotChecked>,
    /// Blanks were one of the limits tighter or wider, the split angles as they are.
    pub limit_changes: Vec<LimitChange>,
    /// Blanks if every tube were split at an arbitrary angle.
    pub arbitrary: f64,
    /// Blanks if every tube were split by eye: on the axes of its oval, see [`by_eye`](crate::decide::by_eye::by_eye).
    /// `None` where one of them is split already.
    pub by_eye: Option<f64>,
    /// Minutes that measuring the planned tubes took; `None` where one of them is a scan.
    pub measuring_minutes: Option<f64>,
    /// Minutes that marking and splitting those that count take.
    pub splitting_minutes: f64,
    /// Weight of the tubes that have one, g, as weighed, and how many they are.
    pub weight_g: Option<(f64, usize)>,
    /// In what air the figures by weight are told; `None`: as weighed.
    pub air: Option<Air>,
    /// Price of a kilogram in that air.
    pub price_per_kg: Option<f64>,
    /// Blanks per kilogram, over the tubes that have a weight.
    pub per_kg: Option<Interval>,
    /// Blanks per pound, likewise.
    pub per_lb: Option<Interval>,
    /// Cost of one blank, in the lot's currency; the low cost goes with the high count. Its doubt is that of the count: an
    /// estimated weight adds none.
    pub cost_per_blank: Option<Interval>,
    /// How the cost was shared out.
    pub cost_basis: Option<CostBasis>,
    /// Why the whole price stands on the planned tubes; `None` where it was shared.
    pub whole_price: Option<WholePrice>,
    /// The weights that were estimated to share the price; `None` where none was needed.
    pub estimated: Option<Estimated>,
    /// What prices are told in.
    pub currency: String,
    /// Blanks of the whole lot, its unmeasured tubes too; `None` where all are measured, or fewer than two are.
    pub whole: Option<WholeLot>,
    /// The same as earlier lots bore it out; `None` where nothing is known of any.
    pub earlier: Option<Earlier>,
}

/// A [`Forecast`] as stored: one name a number. A cost without limit is no number, so it is null.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
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
    by_eye_blanks: Option<f64>,
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
    #[serde(default, skip_serializing_if = "Option::is_none")]
    as_earlier_lots: Option<Earlier>,
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
            as_earlier_lots: f.earlier,
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
            earlier: s.as_earlier_lots,
        })
    }
}
