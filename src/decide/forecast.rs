//! Blanks, yield by weight and cost for the measured tubes of a lot.

use super::plan::TubePlan;
use crate::domain::Lot;
use crate::domain::units::G_PER_POUND;
use crate::numeric::summary::{quantile, to_index};

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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CostBasis {
    /// Price times the planned tubes' share of the bought weight.
    ByWeight,
    /// The whole price: no bought weight or tube weights to share it by, so it is taken to cover just these tubes.
    WholePrice,
}

/// What the planned tubes of a lot are expected to give. A `None` says which figure is missing from the lot.
#[derive(Debug, Clone, PartialEq)]
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
}

/// Sums plans up. Draws of different tubes are independent, so draw k of the sum is the sum of the tubes' draws k.
#[must_use]
pub fn forecast(plans: &[&TubePlan], lot: &Lot) -> Forecast {
    let blanks = sum_of(plans);
    let weighed: Vec<&TubePlan> = plans.iter().copied().filter(|p| p.fit.weight_g.is_some()).collect();
    let weight: f64 = weighed.iter().filter_map(|p| p.fit.weight_g).sum();
    let weight_g = (weight > 0.0).then_some((weight, weighed.len()));
    let per_kg = weight_g.map(|(w, _)| sum_of(&weighed).scaled(1000.0 / w));
    let per_lb = per_kg.map(|k| k.scaled(G_PER_POUND / 1000.0));
    let (cost_per_blank, cost_basis) = cost(plans, &blanks, weight_g, lot);
    let arbitrary = plans.iter().filter_map(|p| p.split.as_ref()).map(|s| s.arbitrary).sum();
    Forecast { tubes: plans.len(), blanks, arbitrary, weight_g, per_kg, per_lb, cost_per_blank, cost_basis }
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
    lot: &Lot,
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
