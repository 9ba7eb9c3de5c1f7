//! What each tube of a lot serves best, and the lot split between instruments by what a blank is worth.
//!
//! Every tube is believed once and planned for each set on the same draws ([`serve_tube`]). A set competes for a tube unless the
//! screening leaves the tube for it. Where it is stated what a blank is worth, a tube goes where its blanks are expected to
//! be worth most; else it is told where it gives the largest share of what its length could hold, and nothing is said of worth.

mod best;
mod sums;
mod value;

pub use best::{Best, Second};
pub use value::{Amount, RankedBy, Serves, SetAsked, Share, Skipped, Split, TubeServes};

use self::best::{Gives, best_of};
use self::sums::{alone, best_for, split};
use super::error::LotError;
use super::prepared::{Prepared, Told};
use crate::decide::plan::PlanOptions;
use crate::decide::serves::{Served, ServedTube, serve_tube};
use crate::decide::verdict::Verdict;
use crate::domain::{ALL_SETS, INSTRUMENTS, Instrument, Lot, Target, same_name};
use crate::numeric::summary::count;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ServeOrder {
    /// Names of sets, or [`ALL_SETS`].
    pub names: Vec<String>,
    /// What a blank of a set is worth, in place of what the lot states.
    pub values: Vec<(String, f64)>,
}

impl Prepared {
    /// Plans every tube for each set that is asked for, says which it serves best, and sums up.
    ///
    /// # Errors
    /// [`LotError::NoSuchSet`]; [`LotError::ValueOfNone`]; [`LotError::Population`].
    ///
    /// # Example
    /// ```
    /// use quarterlight::decide::plan::PlanOptions;
    /// use quarterlight::lot::Prepared;
    /// use quarterlight::lot::serves::ServeOrder;
    /// let lot = Prepared::read("data-samples/grid".as_ref(), &["G1".to_string()])?;
    /// let names = vec!["clarinet".to_string(), "e-flat clarinet".into(), "oboe".into()];
    /// let order = ServeOrder { names, values: vec![("clarinet".into(), 1.0), ("e-flat clarinet".into(), 1.2)] };
    /// let serves = lot.serve(&order, PlanOptions { seed: 1, draws: 20 }, &|_| ())?;
    /// let split = serves.split.expect("two sets with a value");
    /// assert!(split.value.expected > 0.0 && split.value.expected <= 1.2 * 12.0);
    /// # Ok::<(), quarterlight::lot::LotError>(())
    /// ```
    pub fn serve(&self, order: &ServeOrder, options: PlanOptions, progress: Told<'_>) -> Result<Serves, LotError> {
        let wanted = wanted(&self.lot, order)?;
        let model = self.model()?;
        let bare = self.lot_to_be_split();
        let lots: Vec<Lot> = wanted.iter().map(|w| Lot { target: w.target.clone(), ..bare.clone() }).collect();
        let mut served: Vec<TubeServes> = self.of_tubes(progress, |tube| TubeServes {
            tube: tube.name.clone(),
            served: serve_tube(tube, &lots, &model, options),
            best: None,
        });
        let every = order.names.iter().any(|n| same_name(n, ALL_SETS));
        let skipped = if every { unserved(&wanted, &served) } else { Vec::new() };
        let kept = |w: &SetAsked| !skipped.iter().any(|s| s.name == w.target.instrument);
        for tube in served.iter_mut().filter_map(|t| t.served.as_mut().ok()) {
            let sets = std::mem::take(&mut tube.sets);
            tube.sets = sets.into_iter().zip(&wanted).filter(|(_, w)| kept(w)).map(|(s, _)| s).collect();
        }
        let sets: Vec<SetAsked> = wanted.into_iter().filter(|w| kept(w)).collect();
        Ok(self.summed(sets, skipped, served, options))
    }

    /// What the lot states, but for its tubes and what it wants of them, as before it is split.
    fn lot_to_be_split(&self) -> Lot {
        let l = &self.lot;
        Lot {
            saw: l.saw,
            split: l.split,
            assumed: l.assumed,
            screen: l.screen,
            rigs: l.rigs.clone(),
            pace: l.pace,
            ..Lot::default()
        }
    }

    fn summed(
        &self,
        mut sets: Vec<SetAsked>,
        skipped: Vec<Skipped>,
        mut tubes: Vec<TubeServes>,
        options: PlanOptions,
    ) -> Serves {
        let ranked_by = if sets.iter().filter(|s| s.blank_value.is_some()).count() > 1 {
            RankedBy::Value
        } else {
            RankedBy::ShareOfFull
        };
        for tube in &mut tubes {
            tube.best = tube.served.as_ref().ok().and_then(|t| best_of(&gives(t, &sets, ranked_by)));
        }
        let rows: Vec<(&TubeServes, Vec<Gives<'_>>)> =
            tubes.iter().filter_map(|t| Some((t, gives(t.served.as_ref().ok()?, &sets, ranked_by)))).collect();
        let shares: Vec<(Share, Share)> = (0..sets.len())
            .map(|j| (alone(&rows, j, sets[j].blank_value), best_for(&rows, j, sets[j].blank_value)))
            .collect();
        let names: Vec<String> = sets.iter().map(|s| s.target.instrument.clone()).collect();
        let split = split(&rows, &sets.iter().map(|s| s.blank_value).collect::<Vec<_>>(), &names);
        for (set, (alone, best)) in sets.iter_mut().zip(shares) {
            (set.alone, set.best_for) = (alone, best);
        }
        Serves {
            options,
            lot: self.lot.name.clone(),
            currency: self.lot.currency.clone(),
            least_blanks: self.lot.screen.least_blanks,
            scales: self.scales(),
            ranked_by,
            sets,
            skipped,
            sizes_mm: sizes(&tubes),
            tubes,
            split,
            promise_left_out: self.lot.promise.is_some(),
            findings: self.findings.clone(),
        }
    }
}

/// What a tube gives for each set, and what a blank of it counts.
fn gives<'a>(tube: &'a ServedTube, sets: &[SetAsked], by: RankedBy) -> Vec<Gives<'a>> {
    let one = |(s, set): (&'a Served, &SetAsked)| {
        let each = match by {
            RankedBy::Value => set.blank_value,
            RankedBy::ShareOfFull => (s.capacity > 0).then(|| 1.0 / count(s.capacity)),
        };
        let competes = s.screen.verdict != Verdict::Leave;
        Gives { expected: s.expected, draws: &s.draws, each: each.filter(|_| competes), competes }
    };
    tube.sets.iter().zip(sets).map(one).collect()
}

/// The sets asked for, each once: starting sets in the order of their table, then the lot's own by name.
fn wanted(lot: &Lot, order: &ServeOrder) -> Result<Vec<SetAsked>, LotError> {
    let known = known(lot);
    let of = |name: &String| {
        let no_such = || LotError::NoSuchSet {
            name: name.clone(),
            known: known.iter().map(|k| k.target.instrument.clone()).collect(),
        };
        known.iter().position(|k| same_name(&k.target.instrument, name)).ok_or_else(no_such)
    };
    let mut asked = vec![false; known.len()];
    for name in &order.names {
        if same_name(name, ALL_SETS) {
            asked.fill(true);
        } else {
            asked[of(name)?] = true;
        }
    }
    let mut values: Vec<Option<f64>> = known.iter().map(|k| k.blank_value).collect();
    for (name, value) in &order.values {
        let at = of(name)?;
        if !asked[at] {
            return Err(LotError::ValueOfNone { name: name.clone() });
        }
        values[at] = Some(*value);
    }
    let one = |((set, value), asked): ((SetAsked, Option<f64>), bool)| {
        asked.then_some(SetAsked { blank_value: value, ..set })
    };
    Ok(known.into_iter().zip(values).zip(asked).filter_map(one).collect())
}

/// Every set that a lot knows: what it states of a starting set, or its target, stands in that set's place.
fn known(lot: &Lot) -> Vec<SetAsked> {
    let starting = INSTRUMENTS.iter().filter_map(|i| Some((Target::for_instrument(i.name)?, None)));
    let mut all: Vec<(Target, Option<f64>)> = starting.collect();
    let mut put = |target: &Target, value: Option<f64>| match all
        .iter_mut()
        .find(|(t, _)| same_name(&t.instrument, &target.instrument))
    {
        Some(set) => *set = (target.clone(), value),
        None => all.push((target.clone(), value)),
    };
    lot.own_sets.iter().for_each(|s| put(&s.target, s.blank_value));
    let stated = |target: &Target| {
        let own = lot.own_sets.iter().find(|s| same_name(&s.target.instrument, &target.instrument));
        own.map(|s| s.target.clone()).or_else(|| Target::for_instrument(&target.instrument))
    };
    let own_limits = stated(&lot.target).is_some_and(|t| t != lot.target);
    put(&lot.target, lot.blank_value);
    let (starting, mut own): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|(t, _)| Instrument::named(&t.instrument).is_some());
    own.sort_by(|a, b| a.0.instrument.cmp(&b.0.instrument));
    starting
        .into_iter()
        .chain(own)
        .map(|(target, blank_value)| SetAsked {
            own_limits: own_limits && same_name(&target.instrument, &lot.target.instrument),
            target,
            blank_value,
            alone: Share::default(),
            best_for: Share::default(),
        })
        .collect()
}

/// The sets that no tube which was analysed can serve, with the reason.
fn unserved(sets: &[SetAsked], tubes: &[TubeServes]) -> Vec<Skipped> {
    let served: Vec<&ServedTube> = tubes.iter().filter_map(|t| t.served.as_ref().ok()).collect();
    let one = |(j, set): (usize, &SetAsked)| {
        let of_tubes: Vec<&Served> = served.iter().map(|t| &t.sets[j]).collect();
        let none = !served.is_empty() && of_tubes.iter().all(|s| !s.in_reach || s.angle_deg.is_none());
        let too_long = of_tubes.iter().all(|s| s.in_reach);
        none.then(|| Skipped {
            name: set.target.instrument.clone(),
            too_long,
            wants_mm: if too_long { set.target.blank_length_mm } else { set.target.arc_diameter_mm },
        })
    };
    sets.iter().enumerate().filter_map(one).collect()
}

/// Mean diameters of the smallest and of the largest tube.
fn sizes(tubes: &[TubeServes]) -> Option<(f64, f64)> {
    let sizes = tubes.iter().filter_map(|t| Some(t.served.as_ref().ok()?.fit.figures.diameter_mm?.value));
    sizes.fold(None, |range, d| Some(range.map_or((d, d), |(least, most): (f64, f64)| (least.min(d), most.max(d)))))
}
