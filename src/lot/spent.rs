//! What the planned tubes of a lot cost: the lot's price shared out by weight.

use super::outcome::TubeOutcome;
use super::terms::Terms;
use crate::domain::WEIGHT_TOLERANCE;
use crate::numeric::summary::mean;
use serde::{Deserialize, Serialize};

/// How the money was shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CostBasis {
    /// Price times the planned tubes' share of the bought weight, every planned tube weighed.
    ByWeight,
    /// The same, the weights of some planned tubes estimated; see [`Estimated`].
    ByEstimatedWeight,
    /// The whole price, taken to cover just the planned tubes; see [`WholePrice`] for the reason.
    WholePrice,
}

/// Why the whole price stands on the planned tubes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WholePrice {
    /// The bought weight is not known.
    NoBoughtWeight,
    /// No tube that could tell what the planned ones weigh has a weight.
    NoWeight,
    /// The planned tubes weigh more than was bought, by more than [`WEIGHT_TOLERANCE`].
    MoreThanBought,
}

/// From which size missing weights were estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EstimatedBy {
    /// Length times the square of the diameter: that tubes of one lot are alike in density and in the ratio of wall to
    /// diameter. Common practice, no source.
    LengthAndDiameter,
    /// Length alone, where the diameter of one of the tubes is not seen: that they are alike in girth too. Common practice,
    /// no source.
    Length,
}

/// The weights of planned tubes that nobody weighed.
///
/// Each is its size times the mean, over weighed tubes, of weight per size. Those are the weighed planned tubes, or where no
/// planned tube is weighed all weighed tubes of the lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimated {
    /// Planned tubes without a weight.
    pub tubes: usize,
    /// What they weigh together, g.
    pub weight_g: f64,
    /// From which size.
    pub by: EstimatedBy,
}

/// What was spent on the planned tubes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spent {
    /// In the lot's currency; never more than the price.
    pub(super) amount: f64,
    pub(super) basis: CostBasis,
    /// Only with [`CostBasis::WholePrice`].
    pub(super) why_whole: Option<WholePrice>,
    /// Only with [`CostBasis::ByEstimatedWeight`].
    pub(super) estimated: Option<Estimated>,
}

/// What was spent on the planned tubes; `None` without a price.
pub(super) fn spent(outcomes: &[TubeOutcome], terms: &Terms) -> Option<Spent> {
    spent_on(terms, || planned_weight(outcomes))
}

/// What was spent on planned tubes of this weight, g, with what of it is estimated; `None` without a price.
pub(super) fn spent_on(terms: &Terms, weight: impl FnOnce() -> Option<(f64, Option<Estimated>)>) -> Option<Spent> {
    let price = terms.price?;
    let whole = |why| Spent { amount: price, basis: CostBasis::WholePrice, why_whole: Some(why), estimated: None };
    let Some(bought) = terms.bought_as_weighed_g() else {
        return Some(whole(WholePrice::NoBoughtWeight));
    };
    let Some((weight, estimated)) = weight() else { return Some(whole(WholePrice::NoWeight)) };
    if weight > bought * (1.0 + WEIGHT_TOLERANCE) {
        return Some(whole(WholePrice::MoreThanBought));
    }
    let basis = if estimated.is_some() { CostBasis::ByEstimatedWeight } else { CostBasis::ByWeight };
    // at most the price: what lies above it within the tolerance is the error of scales
    let amount = price * (weight / bought).min(1.0);
    Some(Spent { amount, basis, why_whole: None, estimated })
}

/// A tube's length, its diameter where it is seen, and its weight where it has one.
struct Sized {
    length_mm: f64,
    diameter_mm: Option<f64>,
    weight_g: Option<f64>,
}

impl Sized {
    fn of(o: &TubeOutcome) -> Sized {
        let seen = o.plan.as_ref().ok().and_then(|p| p.fit.figures.diameter_mm);
        Sized { length_mm: o.length_mm, diameter_mm: seen.map(|m| m.value), weight_g: weight_of(o) }
    }

    fn size(&self, by: EstimatedBy) -> f64 {
        match by {
            EstimatedBy::LengthAndDiameter => self.length_mm * self.diameter_mm.unwrap_or(0.0).powi(2),
            EstimatedBy::Length => self.length_mm,
        }
    }
}

/// A tube's weight, g; none of nought.
pub(super) fn weight_of(o: &TubeOutcome) -> Option<f64> {
    o.weight_g.filter(|w| *w > 0.0)
}

/// Weight of all planned tubes, g, and what of it is estimated; `None` where nothing tells it.
fn planned_weight(outcomes: &[TubeOutcome]) -> Option<(f64, Option<Estimated>)> {
    let (planned, others): (Vec<&TubeOutcome>, Vec<&TubeOutcome>) = outcomes.iter().partition(|o| o.plan.is_ok());
    let (weighed, missing): (Vec<Sized>, Vec<Sized>) =
        planned.into_iter().map(Sized::of).partition(|s| s.weight_g.is_some());
    let known: f64 = weighed.iter().filter_map(|s| s.weight_g).sum();
    if missing.is_empty() {
        return (known > 0.0).then_some((known, None));
    }
    let others = || others.into_iter().map(Sized::of).filter(|s| s.weight_g.is_some()).collect();
    let teachers = if weighed.is_empty() { others() } else { weighed };
    let (by, each) = weight_per_size(&teachers, &missing)?;
    let weight_g = each * missing.iter().map(|s| s.size(by)).sum::<f64>();
    Some((known + weight_g, Some(Estimated { tubes: missing.len(), weight_g, by })))
}

/// The mean of weight per size over weighed tubes, and the size, one that is seen of them and of those without a weight;
/// `None` where nothing tells it.
fn weight_per_size(weighed: &[Sized], missing: &[Sized]) -> Option<(EstimatedBy, f64)> {
    let by = if weighed.iter().chain(missing).all(|s| s.diameter_mm.is_some()) {
        EstimatedBy::LengthAndDiameter
    } else {
        EstimatedBy::Length
    };
    let ratio = |s: &Sized| s.weight_g.filter(|_| s.size(by) > 0.0).map(|w| w / s.size(by));
    let ratios: Vec<f64> = weighed.iter().filter_map(ratio).collect();
    (!ratios.is_empty()).then(|| (by, mean(&ratios)))
}

/// The weight of every listed tube, g, in the order of the list, and what of it is estimated after all that were weighed;
/// `None` where nothing tells one of them.
pub(super) fn listed_weights(outcomes: &[TubeOutcome]) -> Option<(Vec<f64>, Option<Estimated>)> {
    let known: Vec<Option<f64>> = outcomes.iter().map(weight_of).collect();
    let (weighed, missing): (Vec<Sized>, Vec<Sized>) =
        outcomes.iter().map(Sized::of).partition(|s| s.weight_g.is_some());
    if missing.is_empty() {
        return Some((known.into_iter().flatten().collect(), None));
    }
    let (by, each) = weight_per_size(&weighed, &missing)?;
    if missing.iter().any(|s| s.size(by) <= 0.0) {
        return None;
    }
    let weight_g = each * missing.iter().map(|s| s.size(by)).sum::<f64>();
    let all = outcomes.iter().map(|o| weight_of(o).unwrap_or_else(|| each * Sized::of(o).size(by))).collect();
    Some((all, Some(Estimated { tubes: missing.len(), weight_g, by })))
}
