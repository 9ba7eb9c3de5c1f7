//! How a forecast counts: which tubes give blanks, and in what air their weights are told.

use super::interval::Interval;
use super::terms::Terms;
use crate::decide::plan::TubePlan;
use crate::decide::screen::Verdict;
use crate::domain::weight_ratio;
use serde::{Deserialize, Serialize};

/// How a forecast counts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Counting {
    /// The tubes that the screening leaves give no blanks; what they weigh and cost still counts.
    pub without_leave: bool,
    /// Relative humidity at which weights are told, percent; `None`: as they were weighed.
    pub at_humidity_percent: Option<f64>,
}

/// Weights are to be told in other air, and the lot does not say in what air its tubes were weighed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("weights cannot be told at another humidity: lot.toml does not say in what air the tubes were weighed")]
pub struct HumidityUnknown;

/// In what air weights are told.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Air {
    /// Relative humidity when the tubes were weighed, percent.
    pub weighed_percent: f64,
    /// Relative humidity at which they are told, percent.
    pub told_percent: f64,
    /// What a gram as weighed comes to there, g.
    pub ratio: f64,
}

impl Counting {
    /// In what air weights are told; `None` as they were weighed.
    ///
    /// # Errors
    /// [`HumidityUnknown`].
    pub(super) fn air(&self, terms: &Terms) -> Result<Option<Air>, HumidityUnknown> {
        let Some(told_percent) = self.at_humidity_percent else { return Ok(None) };
        let weighed_percent = terms.humidity_percent.ok_or(HumidityUnknown)?;
        Ok(Some(Air { weighed_percent, told_percent, ratio: weight_ratio(weighed_percent, told_percent) }))
    }
}

/// Whether the screening does not leave a tube.
pub(super) fn worth_splitting(plan: &TubePlan) -> bool {
    plan.screen.verdict != Verdict::Leave
}

/// The blanks of some of the planned tubes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// So many tubes.
    pub tubes: usize,
    /// What they give.
    #[serde(flatten)]
    pub blanks: Interval,
}
