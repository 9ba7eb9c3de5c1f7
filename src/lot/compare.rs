//! Lots side by side: which is the better purchase, and how sure that is.

use super::assessed::Assessed;
use super::counting::{Air, Counting, HumidityUnknown};
use super::interval::Interval;
use super::json::of_format;
use super::settle::{Doubts, Settle, settle};
use crate::numeric::summary::{count, ninety};
use serde::Serialize;
use std::path::Path;

/// Draws of each lot that are set against all those of another where every pair is counted.
const PAIRED: usize = 200;

/// The names of lots, each with its path behind it where another has the same.
#[must_use]
pub fn names_apart(lots: &[(String, &Path)]) -> Vec<String> {
    let one = |(name, path): &(String, &Path)| {
        let twice = lots.iter().filter(|other| other.0 == *name).count() > 1;
        if twice { format!("{name} ({})", path.display()) } else { name.clone() }
    };
    lots.iter().map(one).collect()
}

/// One lot of several.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotSum {
    /// Its name, and its folder where two lots have one name.
    pub lot: String,
    /// Tubes listed.
    pub tubes: usize,
    /// Of those, measured.
    pub measured: usize,
    /// Bought beyond the tubes listed and counted with them, g; `None` where that is not known.
    pub unlisted_g: Option<f64>,
    /// Blanks: of the whole lot where some of it is not measured.
    pub blanks: Interval,
    /// Blanks per kilogram.
    pub per_kg: Option<Interval>,
    /// Blanks per pound.
    pub per_lb: Option<Interval>,
    /// Price of a kilogram.
    pub price_per_kg: Option<f64>,
    /// Cost of a blank. One without limit is null.
    pub cost_per_blank: Option<Cost>,
    /// What prices are told in.
    pub currency: String,
    /// In what air weights are told; `None`: as weighed.
    pub air: Option<Air>,
}

/// A cost with its 90 % interval; `high` is `None` where there is no limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cost {
    /// What is expected.
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: Option<f64>,
}

impl Cost {
    /// Expected, low and high, infinite where there is no limit.
    #[must_use]
    pub fn ends(self) -> [f64; 3] {
        [self.expected, self.low, self.high.unwrap_or(f64::INFINITY)]
    }
}

/// A lot against the best one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Against {
    /// Its place in the list.
    pub lot: usize,
    /// Chance that a blank of it costs more; `None` where a cost is not known or the currencies differ.
    pub chance_dearer: Option<f64>,
    /// Chance that a kilogram of it gives fewer blanks; `None` where a weight is not known.
    pub chance_fewer_per_kg: Option<f64>,
    /// Price of a kilogram at which a blank of it would cost what one of the best does.
    pub break_even_per_kg: Option<Cost>,
    /// What would settle which is better.
    pub settle: Settle,
}

/// Lots side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    /// The lots, as they were named.
    pub lots: Vec<LotSum>,
    /// Place of the best: the lowest cost of a blank, or where costs are not known of all, or not in one currency, the most
    /// blanks per kilogram. `None` where neither is known.
    pub best: Option<usize>,
    /// Whether costs were compared; else blanks per kilogram.
    pub by_cost: bool,
    /// Whether the lots are judged by one and the same target.
    pub same_target: bool,
    /// The others against the best.
    pub against: Vec<Against>,
}

impl Compared {
    /// Compares lots counted one way, their weights told in one air: that which is asked for, or where every lot says in what
    /// air it was weighed that of the first.
    ///
    /// # Errors
    /// [`HumidityUnknown`].
    pub fn counted(lots: Vec<(String, Assessed)>, mut counting: Counting) -> Result<Compared, HumidityUnknown> {
        if counting.at_humidity_percent.is_none() && lots.iter().all(|(_, a)| a.lot.humidity_percent.is_some()) {
            counting.at_humidity_percent = lots.first().and_then(|(_, a)| a.lot.humidity_percent);
        }
        let one = |(name, a): (String, Assessed)| Ok((name, a.counted(counting)?));
        Ok(Compared::of(&lots.into_iter().map(one).collect::<Result<Vec<_>, _>>()?))
    }

    /// Compares lots as they were counted; their names tell them apart.
    #[must_use]
    pub fn of(lots: &[(String, Assessed)]) -> Compared {
        let sums: Vec<LotSum> = lots.iter().map(|(name, a)| sum_of(name, a)).collect();
        let rates: Vec<Rates> = lots.iter().map(|(_, a)| Rates::of(a)).collect();
        let one_currency = sums.iter().all(|s| s.currency == sums[0].currency);
        let by_cost = one_currency && sums.iter().all(|s| s.cost_per_blank.is_some());
        let worth =
            |s: &LotSum| if by_cost { s.cost_per_blank.map(|c| -c.expected) } else { s.per_kg.map(|i| i.expected) };
        let all: Option<Vec<f64>> = sums.iter().map(worth).collect();
        let best = all.and_then(|w| (0..w.len()).reduce(|b, i| if w[i] > w[b] { i } else { b }));
        let against = best.map_or_else(Vec::new, |b| {
            let one = |i: usize| against(i, [&rates[i], &rates[b]], [&sums[i], &sums[b]], by_cost, one_currency);
            (0..sums.len()).filter(|i| *i != b).map(one).collect()
        });
        let same_target = lots.iter().all(|(_, a)| a.lot.target == lots[0].1.lot.target);
        Compared { lots: sums, best, by_cost, same_target, against }
    }

    /// As JSON of format 1.
    #[must_use]
    pub fn to_json(&self) -> String {
        of_format(self)
    }
}

fn sum_of(name: &str, a: &Assessed) -> LotSum {
    let f = &a.forecast;
    let (blanks, per_kg, cost) = match &f.whole {
        Some(w) => (w.blanks, w.per_kg, w.cost_per_blank),
        None => (f.blanks, f.per_kg, f.cost_per_blank),
    };
    let finite = |c: Interval| {
        let high = Some(c.high).filter(|h| h.is_finite());
        c.low.is_finite().then_some(Cost { expected: c.expected, low: c.low, high })
    };
    LotSum {
        lot: name.to_string(),
        tubes: a.outcomes.len(),
        measured: f.tubes,
        unlisted_g: f.whole.as_ref().map_or(Some(0.0), |w| w.unlisted_g),
        blanks,
        per_kg,
        per_lb: per_kg.map(Interval::per_pound),
        price_per_kg: f.price_per_kg,
        cost_per_blank: cost.and_then(finite),
        currency: f.currency.clone(),
        air: f.air,
    }
}

/// What a lot gives in every draw, per kilogram and per money, as far as either is known, and what makes it unsure.
struct Rates {
    per_kg: Option<Vec<f64>>,
    per_money: Option<Vec<f64>>,
    doubts: Doubts,
}

impl Rates {
    fn of(a: &Assessed) -> Rates {
        let f = &a.forecast;
        let counted = super::forecast::blanks_of_draws(&a.outcomes, f.without_leave);
        let (totals, blanks, per_kg, cost) = match &f.whole {
            Some(w) => (w.totals.clone(), w.blanks, w.per_kg, w.cost_per_blank),
            None => (counted.totals(), f.blanks, f.per_kg, f.cost_per_blank),
        };
        let scaled = |factor: f64| totals.iter().map(|t| t * factor).collect::<Vec<f64>>();
        let known = blanks.expected > 0.0;
        Rates {
            per_kg: per_kg.filter(|_| known).map(|i| scaled(i.expected / blanks.expected)),
            per_money: cost.filter(|c| known && c.expected > 0.0).map(|c| scaled(1.0 / (c.expected * blanks.expected))),
            doubts: Doubts::of(f, &counted, &totals, a.outcomes.len()),
        }
    }
}

fn against(i: usize, [rates, best]: [&Rates; 2], [sum, other]: [&LotSum; 2], by_cost: bool, one: bool) -> Against {
    let fewer = |pick: fn(&Rates) -> &Option<Vec<f64>>| Some(chance_below(pick(rates).as_ref()?, pick(best).as_ref()?));
    let chance_fewer_per_kg = fewer(|r| &r.per_kg);
    // dearer: fewer blanks for the same money
    let chance_dearer = if one { fewer(|r| &r.per_money) } else { None };
    let break_even = || {
        let (per_kg, money) = (rates.per_kg.as_ref()?, best.per_money.as_ref()?);
        let expected = sum.per_kg?.expected * other.cost_per_blank?.expected;
        let (low, high) = ninety(&pairs(per_kg, money, |kg, money| kg / money));
        Some(Cost { expected, low, high: Some(high).filter(|h| h.is_finite()) })
    };
    let worth =
        |s: &LotSum| if by_cost { s.cost_per_blank.map(|c| 1.0 / c.expected) } else { s.per_kg.map(|i| i.expected) };
    let ratio = worth(sum).zip(worth(other)).map_or(1.0, |(a, b)| b / a);
    let chance = if by_cost { chance_dearer } else { chance_fewer_per_kg };
    let settle = settle(chance.unwrap_or(0.5), ratio, [&rates.doubts, &best.doubts]);
    Against { lot: i, chance_dearer, chance_fewer_per_kg, break_even_per_kg: break_even().filter(|_| one), settle }
}

/// Chance that one of `a` lies below one of `b`, every pair counted, a tie by half: draws of different lots are independent,
/// though those of one number may be made from the same random numbers.
fn chance_below(a: &[f64], b: &[f64]) -> f64 {
    let mut sorted = b.to_vec();
    sorted.sort_by(f64::total_cmp);
    let above = |x: &f64| {
        let (below, to) = (sorted.partition_point(|y| y < x), sorted.partition_point(|y| y <= x));
        count(sorted.len() - to) + 0.5 * count(to - below)
    };
    if a.is_empty() || b.is_empty() {
        return 0.5;
    }
    a.iter().map(above).sum::<f64>() / (count(a.len()) * count(b.len()))
}

/// Every pair of some draws of each, spread evenly over them.
fn pairs(a: &[f64], b: &[f64], of: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    let some = |all: &[f64]| -> Vec<f64> {
        let n = all.len().min(PAIRED);
        (0..n).map(|i| all[i * all.len() / n]).collect()
    };
    let b = some(b);
    some(a).iter().flat_map(|x| b.iter().map(|y| of(*x, *y)).collect::<Vec<f64>>()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_of_draws_is_counted_and_ties_by_half() {
        // 1 below 2 and 3, equal to none; 2 below 3 and tied with 2: (2 + 1.5) / 4
        assert!((chance_below(&[1.0, 2.0], &[2.0, 3.0]) - 0.875).abs() < 1e-12);
        assert!((chance_below(&[2.0; 5], &[2.0; 7]) - 0.5).abs() < 1e-12);
        assert!((chance_below(&[], &[2.0]) - 0.5).abs() < 1e-12);
        assert_eq!(pairs(&[6.0, 12.0], &[2.0, 3.0], |a, b| a / b), [3.0, 2.0, 6.0, 4.0]);
        assert_eq!(pairs(&[1.0; 1000], &[1.0; 3], |a, _| a).len(), 600);
    }

    #[test]
    fn lots_of_one_name_are_told_apart_by_their_paths() {
        let lots = ["a", "b", "a"].map(String::from).into_iter().zip(["x/a", "x/b", "y/a"].map(Path::new));
        assert_eq!(names_apart(&lots.collect::<Vec<_>>()), ["a (x/a)", "b", "a (y/a)"]);
    }

    #[test]
    fn lots_weighed_in_different_air_are_compared_in_that_of_the_first() {
        let lot = |percent: Option<f64>| {
            let mut lot = crate::lot::Prepared::read("data-samples/grid".as_ref(), &["G1".into()]).expect("ready");
            lot.lot.humidity_percent = percent;
            let options = crate::decide::plan::PlanOptions { draws: 5, ..Default::default() };
            lot.assess(options, crate::lot::QUIETLY).expect("planned")
        };
        let (dry, wet, unknown) = (lot(Some(40.0)), lot(Some(70.0)), lot(None));
        let of = |a: &Assessed| (String::new(), a.clone());
        let both = Compared::counted(vec![of(&dry), of(&wet)], Counting::default()).expect("both known");
        let rate = |s: &LotSum| s.per_kg.expect("weighed").expected;
        let told: Vec<Option<f64>> = both.lots.iter().map(|s| s.air.map(|a| a.told_percent)).collect();
        assert_eq!(told, [Some(40.0), Some(40.0)]);
        assert!(rate(&both.lots[1]) > 1.02 * rate(&both.lots[0]), "{both:?}");
        let some = Compared::counted(vec![of(&dry), of(&unknown)], Counting::default()).expect("as weighed");
        assert!(some.lots.iter().all(|s| s.air.is_none()));
    }
}
