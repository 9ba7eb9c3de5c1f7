//! How long measuring really takes, against what the rigs say.

use super::assessed::Assessed;
use super::estimate::Estimate;
use super::prepared::Prepared;
use crate::numeric::summary::{count, mean, sd};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Minutes that were noted, against those counted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PaceSeen {
    /// Tubes of which they were noted.
    pub tubes: usize,
    /// Minutes noted.
    pub noted_minutes: f64,
    /// Minutes that the seconds of the rigs come to.
    pub counted_minutes: f64,
    /// Seconds a reading, setting up included.
    pub seconds_a_reading: f64,
    /// How many times as long as counted one tube takes, with its 90 % interval.
    pub times: Estimate,
}

impl PaceSeen {
    /// From all tubes of which the minutes were noted; `None` of fewer than three.
    ///
    /// The logarithms of noted over counted minutes are taken as normal, the interval of their mean is Student's.
    pub(super) fn of(lots: &[(String, Prepared, Assessed)]) -> Option<PaceSeen> {
        let mut logs = Vec::new();
        let (mut noted_minutes, mut counted_minutes, mut readings) = (0.0, 0.0, 0);
        for (_, read, assessed) in lots {
            for plan in assessed.plans() {
                let tube = read.lot.tubes.iter().find(|t| t.name == plan.fit.tube);
                let noted = tube.and_then(|t| t.minutes).filter(|m| *m > 0.0);
                let told = plan.minutes.map(|m| m / read.lot.pace.unwrap_or(1.0)).filter(|m| *m > 0.0);
                let (Some(tube), Some(noted), Some(told)) = (tube, noted, told) else { continue };
                logs.push((noted / told).ln());
                noted_minutes += noted;
                counted_minutes += told;
                readings += tube.readings.len();
            }
        }
        let n = logs.len();
        if n < 3 {
            return None;
        }
        let student = StudentsT::new(0.0, 1.0, count(n - 1)).ok()?.inverse_cdf(0.95);
        let (middle, error) = (mean(&logs), student * sd(&logs) / count(n).sqrt());
        let times = Estimate { expected: middle.exp(), low: (middle - error).exp(), high: (middle + error).exp() };
        let seconds_a_reading = 60.0 * noted_minutes / count(readings);
        Some(PaceSeen { tubes: n, noted_minutes, counted_minutes, seconds_a_reading, times })
    }
}
