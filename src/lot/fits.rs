//! The figures of a lot's tubes, without a plan.

use super::fit_record::fit_json;
use super::outcome::FitOutcome;
use super::scales::ScalesUsed;
use crate::decide::plan::PlanOptions;
use crate::domain::{Finding, Lot};
use crate::tube::FittedTube;

/// Figures of every tube of a lot, in the lot's order.
#[derive(Debug, Clone, PartialEq)]
pub struct Fits {
    /// Seed and draws they were computed with.
    pub options: PlanOptions,
    /// Under which scales the tubes were believed.
    pub scales: ScalesUsed,
    /// The figures, or why there are none.
    pub fits: Vec<FitOutcome>,
}

impl Fits {
    /// The tubes that could be fitted.
    pub fn fitted(&self) -> impl Iterator<Item = &FittedTube> {
        self.fits.iter().filter_map(|f| f.fit.as_ref().ok())
    }

    /// Figures of every tube as JSON: believed, and station by station; tubes without any stand in `not_fitted` with the
    /// reason. `lot` is the one that was fitted, `findings` what was noticed about its files.
    #[must_use]
    pub fn to_json(&self, lot: &Lot, findings: &[Finding]) -> String {
        fit_json(&self.fits, self.options, &self.scales, lot, findings)
    }
}
