//! Blanks, yield by weight and cost for the measured tubes of a lot.

use super::terms::Terms;
use crate::decide::plan::TubePlan;
use crate::domain::units::G_PER_POUND;
use crate::numeric::summary::{quantile, to_index};
use serde::{Deserialize, Serialize};

/// A forecast with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// What is expected.
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
}

impl Interval {
    fn scaled(self, factor: f64) -> Interval {
        Interval { expected: self.expected * factor, low: self.low * factor, high: self.high * factor }
    }
}

/// How the money was shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CostBasis {
    /// Price times the planned tubes' share of the bought weight.
    ByWeight,
    /// The whole price: no bought weight or tube weights to share it by, so it is taken to cover just these tubes.
    WholePrice,
}

/// What the planned tubes of a lot are expected to give. A `None` says which figure is missing from the lot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", try_from = "Stored")]
pub struct Forecast {
    /// Tubes planned.
    pub tubes: usize,
    /// Blanks.
    pub blanks: Interval,
    /// Blanks if every tube were split at an arbitrary angle.
    pub arbitrary: f64,
    /// Weight of the tubes that have one, g, and how many they are.
    pub weight_g: Option<(f64, usize)>,
    /// Blanks per kilogram, over the tubes that have a weight.
    pub per_kg: Option<Interval>,
    /// Blanks per pound, likewise.
    pub per_lb: Option<Interval>,
    /// Cost of one blank, in the lot's currency; the low cost goes with the high count.
    pub cost_per_blank: Option<Interval>,
    /// How the cost was shared out.
    pub cost_basis: Option<CostBasis>,
    /// What prices are told in.
    pub currency: String,
}

/// Sums plans up. Draws of different tubes are independent, so draw k of the sum is the sum of the tubes' draws k.
#[must_use]
pub fn forecast(plans: &[&TubePlan], lot: &Terms) -> Forecast {
    let blanks = sum_of(plans);
    let weighed: Vec<&TubePlan> = plans.iter().copied().filter(|p| p.fit.weight_g.is_some()).collect();
    let weight: f64 = weighed.iter().filter_map(|p| p.fit.weight_g).sum();
    let weight_g = (weight > 0.0).then_some((weight, weighed.len()));
    let per_kg = weight_g.map(|(w, _)| sum_of(&weighed).scaled(1000.0 / w));
    let per_lb = per_kg.map(|k| k.scaled(G_PER_POUND / 1000.0));
    let (cost_per_blank, cost_basis) = cost(plans, &blanks, weight_g, lot);
    let arbitrary = plans.iter().filter_map(|p| p.split.as_ref()).map(|s| s.arbitrary).sum();
    let currency = lot.currency.clone();
    Forecast { tubes: plans.len(), blanks, arbitrary, weight_g, per_kg, per_lb, cost_per_blank, cost_basis, currency }
}

fn sum_of(plans: &[&TubePlan]) -> Interval {
    let draws = plans.iter().filter_map(|p| p.split.as_ref()).map(|s| s.draws.len()).max().unwrap_or(0);
    let totals: Vec<f64> = (0..draws).map(|k| plans.iter().map(|p| p.blanks_of_draw(k)).sum()).collect();
    let expected = plans.iter().map(|p| p.expected()).sum();
    if totals.is_empty() {
        return Interval { expected, low: expected, high: expected };
    }
    Interval { expected, low: quantile(&totals, 0.05), high: quantile(&totals, 0.95) }
}

fn cost(
    plans: &[&TubePlan],
    blanks: &Interval,
    weight: Option<(f64, usize)>,
    lot: &Terms,
) -> (Option<Interval>, Option<CostBasis>) {
    let Some(price) = lot.price else { return (None, None) };
    let (spent, basis) = match (lot.bought_weight_g, weight) {
        (Some(bought), Some((w, n))) if bought > 0.0 && n == plans.len() => (price * w / bought, CostBasis::ByWeight),
        _ => (price, CostBasis::WholePrice),
    };
    if blanks.expected <= 0.0 {
        return (None, Some(basis));
    }
    let each = |n: f64| if n > 0.0 { spent / n } else { f64::INFINITY };
    (Some(Interval { expected: each(blanks.expected), low: each(blanks.high), high: each(blanks.low) }), Some(basis))
}

/// Chance, in whole percent, for printing; never rounds a doubt away to 0 or 100.
#[must_use]
pub fn percent(chance: f64) -> usize {
    let whole = to_index((chance.clamp(0.0, 1.0) * 100.0).round());
    if chance > 0.0 && chance < 1.0 { whole.clamp(1, 99) } else { whole }
}

/// A [`Forecast`] as stored: one name a number. A cost without limit is no number, so it is null.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    tubes: usize,
    blanks: f64,
    low: f64,
    high: f64,
    arbitrary_blanks: f64,
    weight_g: Option<f64>,
    tubes_weighed: usize,
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
    currency: String,
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
            arbitrary_blanks: f.arbitrary,
            weight_g: f.weight_g.map(|w| w.0),
            tubes_weighed: f.weight_g.map_or(0, |w| w.1),
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
            currency: f.currency,
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
            arbitrary: s.arbitrary_blanks,
            weight_g: s.weight_g.map(|w| (w, s.tubes_weighed)),
            per_kg: rate(s.blanks_per_kg, s.blanks_per_kg_low, s.blanks_per_kg_high)?,
            per_lb: rate(s.blanks_per_lb, s.blanks_per_lb_low, s.blanks_per_lb_high)?,
            cost_per_blank: s.cost_per_blank.map(cost),
            cost_basis: s.cost_basis,
            currency: s.currency,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(cost_high: f64) -> Forecast {
        let interval = |expected: f64, low: f64, high: f64| Interval { expected, low, high };
        Forecast {
            tubes: 2,
            blanks: interval(0.1 + 0.2, 0.0, 1.0),
            arbitrary: 0.25,
            weight_g: Some((41.5, 2)),
            per_kg: Some(interval(1.0 / 3.0, 0.0, 2.0)),
            per_lb: Some(interval(0.15, 0.0, 1.0)),
            cost_per_blank: Some(interval(12.0, 9.0, cost_high)),
            cost_basis: Some(CostBasis::WholePrice),
            currency: "EUR".into(),
        }
    }

    #[test]
    fn a_forecast_reads_back_equal_even_where_the_cost_has_no_limit() {
        for high in [30.0, f64::INFINITY] {
            let text = serde_json::to_string(&of(high)).expect("finite");
            assert_eq!(serde_json::from_str::<Forecast>(&text).expect("just written"), of(high));
        }
        let bare =
            Forecast { weight_g: None, per_kg: None, per_lb: None, cost_per_blank: None, cost_basis: None, ..of(1.0) };
        let text = serde_json::to_string(&bare).expect("finite");
        assert!(text.contains(r#""blanks_per_kg":null"#) && text.contains(r#""tubes_weighed":0"#), "{text}");
        assert_eq!(serde_json::from_str::<Forecast>(&text).expect("just written"), bare);
        assert!(
            serde_json::from_str::<Forecast>(
                &text.replace(r#""blanks_per_lb_low":null"#, r#""blanks_per_lb_low":1.0"#)
            )
            .is_err()
        );
    }

    #[test]
    fn a_chance_is_never_rounded_to_none_or_certain() {
        assert_eq!([0.0, 0.001, 0.5, 0.999, 1.0].map(percent), [0, 1, 50, 99, 100]);
    }
}
