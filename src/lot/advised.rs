//! What to measure next on the tubes of a lot, and which are settled.

use super::assessed::Assessed;
use super::error::LotError;
use super::json::pretty;
use super::options::Progress;
use super::prepared::Prepared;
use crate::decide::advice::{Advice, AdviceRules, AtHand, advise_tube};
use crate::decide::packages::{Next, Way};
use crate::decide::plan::{NoPlan, PlanOptions};
use crate::domain::MINUTE_BLANKS;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What one tube needs, or why that cannot be told.
#[derive(Debug, Clone, PartialEq)]
pub struct AdviceOutcome {
    /// The tube.
    pub tube: String,
    /// What it needs.
    pub advice: Result<Advice, NoPlan>,
}

/// Advice on every tube of a lot, in the lot's order.
#[derive(Debug, Clone, PartialEq)]
pub struct Advised {
    /// Seed and draws it was computed with.
    pub options: PlanOptions,
    /// What was asked.
    pub rules: AdviceRules,
    /// Tube by tube.
    pub tubes: Vec<AdviceOutcome>,
}

impl Advised {
    /// Tubes with an advice.
    pub fn advice(&self) -> impl Iterator<Item = &Advice> {
        self.tubes.iter().filter_map(|t| t.advice.as_ref().ok())
    }

    /// Minutes that everything advised takes, and the blanks it is expected to gain.
    #[must_use]
    pub fn totals(&self) -> (f64, f64) {
        let next = || self.advice().filter_map(|a| a.next.as_ref());
        (next().map(|p| p.minutes).sum(), next().map(|p| p.gain_blanks).sum())
    }

    /// As JSON; tubes without an advice stand in `not_advised` with the reason. Lengths in mm.
    #[must_use]
    pub fn to_json(&self) -> String {
        #[derive(Serialize)]
        struct Why<'a> {
            tube: &'a str,
            why: String,
        }
        #[derive(Serialize)]
        struct Stored<'a> {
            format: u64,
            seed: u64,
            draws: u64,
            with: Vec<&'static str>,
            minutes_a_tube: Option<f64>,
            minute_blanks: f64,
            tubes: Vec<Told<'a>>,
            not_advised: Vec<Why<'a>>,
        }
        #[derive(Serialize)]
        struct Told<'a> {
            #[serde(flatten)]
            advice: &'a Advice,
            settled: bool,
        }
        let why = |t: &'_ AdviceOutcome| t.advice.as_ref().err().map(ToString::to_string);
        pretty(&Stored {
            format: super::json::FORMAT,
            seed: self.options.seed,
            draws: self.options.draws,
            with: self.rules.with.iter().map(|h| h.way.word()).collect(),
            minutes_a_tube: self.rules.minutes,
            minute_blanks: self.rules.minute_blanks,
            tubes: self.advice().map(|advice| Told { advice, settled: advice.settled() }).collect(),
            not_advised: self.tubes.iter().filter_map(|t| Some(Why { tube: &t.tube, why: why(t)? })).collect(),
        })
    }
}

impl Prepared {
    /// Advises on every tube. `ways`: what is at hand; empty: what the lot was read with, and a caliper. `minutes`: most to
    /// spend on a tube. `minute_blanks`: what a minute should bring, else as the lot has it.
    ///
    /// # Errors
    /// [`LotError::Population`].
    ///
    /// # Example
    /// ```
    /// use quarterlight::decide::packages::Way;
    /// use quarterlight::lot::{Options, Prepared};
    /// let lot = Prepared::read("data-samples/grid".as_ref(), &["G1".into()])?;
    /// let advised = lot.advise(Options::default().plan, &[Way::Caliper, Way::Bridge], None, None, &|_| ())?;
    /// let advice = advised.advice().next().expect("one tube");
    /// assert!(advice.ceiling_blanks >= 0.0 && advice.by_way.len() <= 2);
    /// # Ok::<(), quarterlight::lot::LotError>(())
    /// ```
    pub fn advise(
        &self,
        options: PlanOptions,
        ways: &[Way],
        minutes: Option<f64>,
        minute_blanks: Option<f64>,
        progress: &(dyn Fn(Progress) + Sync),
    ) -> Result<Advised, LotError> {
        let model = self.model()?;
        let minute_blanks = minute_blanks.or(self.lot.minute_blanks).unwrap_or(MINUTE_BLANKS);
        let rules = AdviceRules { minutes, minute_blanks, ..self.rules(ways) };
        let tubes = self.of_tubes(progress, |tube| AdviceOutcome {
            tube: tube.name.clone(),
            advice: advise_tube(tube, &self.lot, &model, options, &rules),
        });
        Ok(Advised { options, rules, tubes })
    }

    /// What is asked of an advice where nothing else is said.
    fn rules(&self, ways: &[Way]) -> AdviceRules {
        let with = AtHand::chosen(&self.at_hand, ways);
        let others = AtHand::others(&self.at_hand, &with);
        let minute_blanks = self.lot.minute_blanks.unwrap_or(MINUTE_BLANKS);
        AdviceRules { with, others, minutes: None, minute_blanks }
    }

    /// Writes what to measure next into every plan of `assessed` that leaves much to gain ([`TubePlan::much_left`]): what
    /// [`Prepared::advise`] says of the tube with what the lot was read with, and a caliper.
    ///
    /// # Errors
    /// [`LotError::Population`].
    ///
    /// [`TubePlan::much_left`]: crate::decide::tube_plan::TubePlan::much_left
    pub fn ask_next(&self, assessed: &mut Assessed, progress: &(dyn Fn(Progress) + Sync)) -> Result<(), LotError> {
        let (model, options) = (self.model()?, assessed.options);
        let rules = AdviceRules { others: Vec::new(), ..self.rules(&[]) };
        let unsettled: BTreeSet<String> =
            assessed.plans().iter().filter(|p| p.much_left().is_some()).map(|p| p.fit.tube.clone()).collect();
        let next = self.of_tubes(progress, |tube| {
            let asked = unsettled.contains(&tube.name);
            let advice = asked.then(|| advise_tube(tube, &self.lot, &model, options, &rules).ok())??;
            Some((tube.name.clone(), advice.next.map_or(Next::Nothing, Next::Take)))
        });
        let next: BTreeMap<String, Next> = next.into_iter().flatten().collect();
        for plan in assessed.outcomes.iter_mut().filter_map(|o| o.plan.as_mut().ok()) {
            plan.next = next.get(&plan.fit.tube).cloned();
        }
        Ok(())
    }
}
