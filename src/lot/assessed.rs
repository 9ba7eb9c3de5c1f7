//! What is known of a lot once every tube is planned: the value that is printed, stored, read back and merged.

use super::counting::{Counting, HumidityUnknown};
use super::forecast::{Forecast, forecast};
use super::outcome::{FitOutcome, TubeOutcome};
use super::scales::ScalesUsed;
use super::terms::Terms;
use crate::decide::plan::{PlanOptions, TubePlan};
use crate::domain::{Finding, Lot};

/// A lot assessed: every tube with its plan and verdict, or the reason it has none, and the forecast over them.
///
/// It holds all that is concluded and nothing that was read: the readings stay with [`Prepared`](super::Prepared).
#[derive(Debug, Clone, PartialEq)]
pub struct Assessed {
    /// Seed and draws it was computed with.
    pub options: PlanOptions,
    /// What the tubes were judged by.
    pub lot: Terms,
    /// Under which scales its tubes were believed.
    pub scales: ScalesUsed,
    /// The tubes, in the lot's order; those without a plan too.
    pub outcomes: Vec<TubeOutcome>,
    /// What the planned tubes are expected to give.
    pub forecast: Forecast,
    /// What was noticed about the lot's files.
    pub findings: Vec<Finding>,
}

impl Assessed {
    /// Sums up the outcomes of a lot's tubes, believed under `scales`.
    #[must_use]
    pub fn of(
        lot: &Lot,
        options: PlanOptions,
        scales: ScalesUsed,
        outcomes: Vec<TubeOutcome>,
        findings: Vec<Finding>,
    ) -> Assessed {
        let terms = Terms::of(lot);
        let forecast = forecast(&outcomes, &terms, false, None);
        Assessed { options, lot: terms, scales, outcomes, forecast, findings }
    }

    /// The same, its blanks counted and its weights told another way.
    ///
    /// # Errors
    /// [`HumidityUnknown`].
    pub fn counted(mut self, counting: Counting) -> Result<Assessed, HumidityUnknown> {
        let known = self.forecast.whole.is_some();
        self.forecast = forecast(&self.outcomes, &self.lot, counting.without_leave, counting.air(&self.lot)?);
        // of a lot of which only some tubes were asked for nothing is said of the whole
        if !known {
            self.nothing_of_the_whole();
        }
        Ok(self)
    }

    pub(super) fn nothing_of_the_whole(&mut self) {
        self.forecast.whole = None;
        if let Some(earlier) = &mut self.forecast.earlier {
            earlier.whole = None;
        }
    }

    /// The tubes that have a plan.
    #[must_use]
    pub fn plans(&self) -> Vec<&TubePlan> {
        self.outcomes.iter().filter_map(|o| o.plan.as_deref().ok()).collect()
    }

    /// The figures of every tube.
    #[must_use]
    pub fn fits(&self) -> Vec<FitOutcome> {
        self.outcomes.iter().map(FitOutcome::from).collect()
    }
}
