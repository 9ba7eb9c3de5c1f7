//! What gathered records come to: a forecast of every lot and of all together.

use super::super::counting::{Air, Counting, Share};
use super::super::forecast::{Earlier, Forecast, NotChecked, waste};
use super::super::interval::{Interval, cost};
use super::super::json::of_format;
use super::super::spent::{CostBasis, Spent, spent_on};
use super::super::terms::Terms;
use super::gather::{Gathered, Head, LotRecords};
use super::problems::{MOST, MOST_TWICE, NotSummed, bounded};
use super::sums::{Both, Drawn, Sums};
use crate::decide::plan::PlanOptions;
use crate::domain::units::WeightUnit;
use crate::domain::{Assumed, Finding, Place, Promise, Target};
use crate::numeric::draws::{normals, stream};
use crate::numeric::summary::{count, mean};
use serde::Serialize;

/// One lot among others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotShare {
    /// Its name.
    pub lot: String,
    /// Tubes listed in it.
    pub listed: usize,
    /// Of those, tubes of which no record came.
    pub missing: usize,
    /// Tubes that nobody measured.
    pub not_measured: usize,
    /// Tubes that could not be analysed.
    pub not_analysed: usize,
    /// What was spent on its planned tubes; `None` without a price, or where it cannot be shared out from records.
    pub spent: Option<f64>,
    /// What its planned tubes are expected to give. Unmeasured tubes have no part in it, nor are weights estimated.
    pub forecast: Forecast,
}

/// Lots together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Together {
    /// Seed and draws of all records.
    #[serde(flatten)]
    pub options: PlanOptions,
    /// What all tubes were judged by.
    pub target: Target,
    /// What all lots take where grain and wall were not read; `None` where they differ.
    pub assumed: Option<Assumed>,
    /// The unit that weights are told in: that of the first lot.
    pub weight_unit: WeightUnit,
    /// The lots, by name.
    pub lots: Vec<LotShare>,
    /// Lots whose cost is known: `forecast.cost_per_blank` is over these, where all name one currency.
    pub costed_lots: usize,
    /// All planned tubes together, draw `k` of the sum the sum of their draws `k`: as if errors of instruments were the same in
    /// all lots.
    pub forecast: Forecast,
    /// Relative humidity at which all weights are told, percent; `None`: as they were weighed.
    pub told_percent: Option<f64>,
    /// Whether weights are told as they were weighed and the lots were weighed in different air, or not all say in what air.
    pub mixed_air: bool,
    /// The same blanks with nothing in common between lots: each lot's draws are laid in an order of their own, and the interval
    /// is laid about what is expected, since of many lots it is narrower than the draws' own mean lies off. `None` of one lot.
    pub lots_apart: Option<Interval>,
}

impl Together {
    /// As JSON of format 1.
    #[must_use]
    pub fn to_json(&self) -> String {
        of_format(self)
    }

    /// A sum over the lots.
    #[must_use]
    pub fn total(&self, of: impl Fn(&LotShare) -> usize) -> usize {
        self.lots.iter().map(of).sum()
    }
}

impl Gathered {
    /// Sums up what was gathered.
    ///
    /// # Errors
    /// [`NotSummed`]: a line that is no record, a tube twice, a lot without its own line or with two that differ, records of
    /// different seeds, draws or targets, weights that cannot be told in the air asked for, nothing at all.
    pub fn summed_up(&self, counting: Counting) -> Result<Together, NotSummed> {
        let faults = self.faults();
        let (Some(((seed, draws), _)), true) = (self.runs.first_key_value(), faults.is_empty()) else {
            return Err(NotSummed(faults));
        };
        let mut lots = Vec::new();
        let mut all = Ledger { without_leave: counting.without_leave, ..Ledger::default() };
        let mut humid = Vec::new();
        for (name, records) in &self.lots {
            let Some(head) = records.heads.values().next() else { continue };
            let Ok(air) = counting.air(&head.terms) else {
                let found = format!("lot {name}, which does not say in what air its tubes were weighed");
                humid.push(Finding::error(
                    head.at.place(),
                    found,
                    "humidity_percent",
                    "write humidity_percent = 50, or what it was, under [lot] in lot.toml, and plan again",
                ));
                continue;
            };
            let missing = head.tubes.saturating_sub(records.tubes.len());
            let ledger = Ledger::of(records, head, air, missing == 0, counting.without_leave);
            lots.push(LotShare {
                lot: name.clone(),
                listed: head.tubes,
                missing,
                not_measured: records.not_measured,
                not_analysed: records.not_analysed,
                spent: ledger.spent.first().map(|s| s.0.amount),
                forecast: ledger.forecast(&head.terms.target),
            });
            all.join(&ledger, *seed, name);
        }
        let Some(first) = self.lots.values().find_map(|r| r.heads.values().next()).filter(|_| humid.is_empty()) else {
            return Err(NotSummed(bounded(humid, MOST, "these records", 0)));
        };
        let target = first.terms.target.clone();
        Ok(Together {
            options: PlanOptions { seed: *seed, draws: *draws },
            assumed: common(self.heads().map(|h| Some(h.terms.assumed))),
            weight_unit: first.terms.weight_unit,
            lots,
            costed_lots: all.spent.len(),
            forecast: all.forecast(&target),
            told_percent: counting.at_humidity_percent,
            mixed_air: counting.at_humidity_percent.is_none()
                && self.heads().any(|h| h.terms.humidity_percent != first.terms.humidity_percent),
            lots_apart: (self.lots.len() > 1).then(|| about_expected(&all.apart)),
            target,
        })
    }

    fn heads(&self) -> impl Iterator<Item = &Head> {
        self.lots.values().filter_map(|r| r.heads.values().next())
    }

    /// Everything that stands against summing up.
    fn faults(&self) -> Vec<Finding> {
        let mut faults = self.faults.clone();
        let run = |(seed, draws): &(u64, u64)| format!("seed {seed}, {draws} draws");
        let mut runs: Vec<_> = self.runs.iter().map(|(r, at)| (at, run(r))).collect();
        runs.sort();
        faults.extend(runs.iter().skip(1).map(|(at, found)| {
            let expected = format!("{}, as in {}", runs[0].1, runs[0].0.place());
            Finding::error(at.place(), found, expected, "plan all of it with one --seed and one --draws")
        }));
        let mut targets: Vec<_> = self.targets.iter().map(|(t, at)| (at, t)).collect();
        targets.sort();
        faults.extend(targets.iter().skip(1).map(|(at, target)| {
            let [found, expected] = differing(target, targets[0].1);
            let expected = format!("{expected}, as in {}", targets[0].0.place());
            Finding::error(at.place(), format!("a target of {found}"), expected, "sum up blanks of one kind at a time")
        }));
        for (name, lot) in &self.lots {
            let mut heads: Vec<_> = lot.heads.values().collect();
            heads.sort_by(|a, b| a.at.cmp(&b.at));
            faults.extend(heads.iter().skip(1).map(|head| {
                let expected = format!("what {} says of it", heads[0].at.place());
                let fix = "give each lot a name of its own ([lot] name), and plan every part from the same files";
                Finding::error(head.at.place(), format!("lot {name} with other terms or scales"), expected, fix)
            }));
            let lost = lot.models.iter().filter(|(model, _)| !lot.heads.contains_key(*model));
            faults.extend(lost.map(|(_, at)| {
                let fix = "the first line of the file it was written in is missing: add it";
                Finding::error(
                    at.place(),
                    format!("a tube of lot {name}"),
                    "the lot's own line in one of the files",
                    fix,
                )
            }));
        }
        let twice = self.lots.iter().flat_map(|(name, lot)| lot.twice.iter().map(move |t| (t, name, lot)));
        let mut twice: Vec<_> = twice.collect();
        twice.sort_by(|a, b| a.0.cmp(b.0));
        let told = twice.iter().map(|((at, tube), name, lot)| {
            let first = lot.tubes.get(tube).map_or_else(Place::default, |at| at.place());
            let found = format!("tube {tube} of lot {name} again, first in {first}");
            Finding::error(at.place(), found, "one record a tube", "leave one of them out")
        });
        faults.extend(bounded(told.collect(), MOST_TWICE, "all files", 0));
        if self.lots.is_empty() && faults.is_empty() {
            let nothing = Place { file: "these files".into(), ..Place::default() };
            faults.push(Finding::error(
                nothing,
                "no record",
                "records as `split --jsonl` writes them",
                "name such files",
            ));
        }
        faults.sort_by(|a, b| a.place.cmp(&b.place));
        faults
    }
}

/// In what two targets differ, in words of both.
fn differing(a: &str, b: &str) -> [String; 2] {
    let keys =
        |text: &str| serde_json::from_str::<serde_json::Map<String, serde_json::Value>>(text).unwrap_or_default();
    let (a, b) = (keys(a), keys(b));
    let of = |x: &serde_json::Map<String, serde_json::Value>| {
        let differ = a.keys().filter(|k| a.get(*k) != b.get(*k));
        differ.map(|k| format!("{k} {}", x.get(k).unwrap_or_default())).collect::<Vec<_>>().join(", ")
    };
    [of(&a), of(&b)]
}

/// The one value that all have.
fn common<T: PartialEq>(mut of: impl Iterator<Item = Option<T>>) -> Option<T> {
    let first = of.next()??;
    of.all(|x| x.as_ref() == Some(&first)).then_some(first)
}

/// Sums of one lot or of several, with what they weigh and cost.
#[derive(Debug, Default)]
struct Ledger {
    sums: Both,
    without_leave: bool,
    /// What its weighed tubes weigh in the air that weights are told in, g.
    told_g: f64,
    airs: Vec<Option<Air>>,
    /// Price and bought weight in that air, g, of every lot.
    bought: Vec<Option<(f64, f64)>>,
    /// What was spent on each lot of which that is known, its currency, and what its tubes that count give.
    spent: Vec<(Spent, String, Drawn)>,
    currencies: Vec<String>,
    promises: Vec<Option<Promise>>,
    splitting_minutes: f64,
    apart: Drawn,
}

impl Ledger {
    fn of(records: &LotRecords, head: &Head, air: Option<Air>, complete: bool, without_leave: bool) -> Ledger {
        let terms: &Terms = &head.terms;
        let heavier = air.map_or(1.0, |a| a.ratio);
        let sums = records.sums.clone();
        let counted = if without_leave { &sums.worth } else { &sums.all };
        let bought = terms.price.zip(terms.bought_as_weighed_g()).map(|(p, g)| (p, g * heavier));
        Ledger {
            told_g: sums.all.weight_g.value() * heavier,
            airs: vec![air],
            bought: vec![bought],
            spent: spent(&sums.all, terms, complete)
                .map(|s| (s, terms.currency.clone(), counted.blanks.clone()))
                .into_iter()
                .collect(),
            currencies: vec![terms.currency.clone()],
            promises: vec![terms.promise],
            splitting_minutes: terms.split_minutes * count(counted.tubes),
            apart: Drawn::default(),
            without_leave,
            sums,
        }
    }

    fn counted(&self) -> &Sums {
        if self.without_leave { &self.sums.worth } else { &self.sums.all }
    }

    fn join(&mut self, lot: &Ledger, seed: u64, name: &str) {
        self.sums.join(&lot.sums);
        self.told_g += lot.told_g;
        self.airs.extend(&lot.airs);
        self.bought.extend(&lot.bought);
        self.spent.extend(lot.spent.iter().cloned());
        self.currencies.extend(lot.currencies.iter().cloned());
        self.promises.extend(&lot.promises);
        self.splitting_minutes += lot.splitting_minutes;
        self.apart.join(&laid_anew(&lot.counted().blanks, seed, name));
    }

    fn forecast(&self, target: &Target) -> Forecast {
        let (all, counted) = (&self.sums.all, self.counted());
        let share = |s: &Sums| Some(Share { tubes: s.tubes, blanks: s.blanks.interval() });
        let blanks = counted.blanks.interval();
        let per_kg = (self.told_g > 0.0).then(|| counted.of_weighed.interval().scaled(1000.0 / self.told_g));
        let one_currency = self.spent.iter().all(|s| s.1 == self.spent[0].1);
        let cost_per_blank = (one_currency && !self.spent.is_empty()).then(|| {
            let mut of = Drawn::default();
            self.spent.iter().for_each(|s| of.join(&s.2));
            cost(self.spent.iter().map(|s| s.0.amount).sum(), &of.interval())
        });
        // a lot without a price may name no currency
        let priced = || self.spent.iter().map(|s| Some(s.1.clone()));
        let currency = common(priced()).or_else(|| common(self.currencies.iter().map(|c| Some(c.clone()))));
        // money of one currency alone is added; of what is not known of one lot nothing is said
        let bought: Option<Vec<(f64, f64)>> = self.bought.iter().copied().collect();
        let of_one = bought.iter().flatten().zip(&self.currencies).filter(|(_, c)| Some(*c) == currency.as_ref());
        let (price, weight) = of_one.fold((0.0, 0.0), |(p, g), (lot, _)| (p + lot.0, g + lot.1));
        let promise = common(self.promises.iter().copied());
        Forecast {
            tubes: all.tubes,
            blanks,
            without_leave: self.without_leave,
            all_measured: share(all),
            worth_splitting: share(&self.sums.worth),
            waste: waste(all.length_mm.value(), blanks, target),
            marked: (counted.with_marks > 0).then(|| counted.marked.interval()),
            not_checked: (counted.no_grain + counted.no_wall > 0).then(|| NotChecked {
                grain: counted.no_grain,
                wall: counted.no_wall,
                blanks: counted.unread.interval(),
            }),
            limit_changes: counted.limit_changes(),
            arbitrary: counted.arbitrary.value(),
            by_eye: (counted.split_already == 0).then(|| counted.by_eye.value()),
            measuring_minutes: (all.tubes > 0 && all.no_minutes == 0).then(|| all.minutes.value()),
            splitting_minutes: self.splitting_minutes,
            weight_g: (all.weighed > 0).then(|| (all.weight_g.value(), all.weighed)),
            air: common(self.airs.iter().copied()),
            price_per_kg: (weight > 0.0).then(|| 1000.0 * price / weight),
            per_kg,
            per_lb: per_kg.map(Interval::per_pound),
            cost_per_blank: cost_per_blank.flatten(),
            cost_basis: common(self.spent.iter().map(|s| Some(s.0.basis))),
            whole_price: common(self.spent.iter().map(|s| s.0.why_whole)),
            estimated: None,
            currency: currency.unwrap_or_default(),
            whole: None,
            earlier: promise.map(|promise| Earlier { promise, blanks: blanks.borne_out(promise), whole: None }),
        }
    }
}

/// What was spent on the planned tubes of a lot. Records do not estimate weights: where a planned tube has none the bought
/// weight cannot be shared out; nor does a whole price stand on a part of a lot.
fn spent(all: &Sums, terms: &Terms, complete: bool) -> Option<Spent> {
    if all.tubes == 0 || (all.weighed < all.tubes && terms.bought_as_weighed_g().is_some()) {
        return None;
    }
    let spent = spent_on(terms, || Some((all.weight_g.value(), None)))?;
    (complete || spent.basis != CostBasis::WholePrice).then_some(spent)
}

/// The interval of the draws, moved so that their mean stands where blanks are expected: draws that chose an angle are a little
/// kind to it, what is expected comes from others.
fn about_expected(drawn: &Drawn) -> Interval {
    let Interval { expected, low, high } = drawn.interval();
    let off = if drawn.draws.is_empty() { 0.0 } else { expected - mean(&drawn.totals()) };
    Interval { expected, low: (low + off).max(0.0), high: high + off }
}

/// A lot's draws in an order of its own, from the seed and its name.
fn laid_anew(lot: &Drawn, seed: u64, name: &str) -> Drawn {
    let keys = normals(&mut stream(seed, &format!("lots apart, {name}"), 0), lot.draws.len());
    let mut order: Vec<usize> = (0..lot.draws.len()).collect();
    order.sort_by(|a, b| keys[*a].total_cmp(&keys[*b]));
    Drawn { expected: lot.expected, draws: order.iter().map(|k| lot.draws[*k]).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn money_of_two_currencies_is_never_added() {
        let lots = |currencies: [&str; 3]| Ledger {
            bought: vec![Some((10.0, 1000.0)), Some((30.0, 1000.0)), Some((500.0, 1000.0))],
            currencies: currencies.map(String::from).to_vec(),
            ..Ledger::default()
        };
        let price = |ledger: &Ledger| ledger.forecast(&Target::default()).price_per_kg;
        assert_eq!(price(&lots(["EUR"; 3])), Some(180.0));
        assert_eq!(price(&lots(["EUR", "EUR", "USD"])), None, "no one currency");
        // costs known of lots in one currency alone: the price is that of the same
        let spent = Spent { amount: 10.0, basis: CostBasis::ByWeight, why_whole: None, estimated: None };
        let some = Ledger { spent: vec![(spent, "EUR".into(), Drawn::default())], ..lots(["EUR", "EUR", "USD"]) };
        assert_eq!(price(&some), Some(20.0));
    }
}
