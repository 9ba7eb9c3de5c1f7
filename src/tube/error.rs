//! Why a belief could not be formed or asked.

use super::scan::ScanFault;
use crate::domain::Reading;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Why a belief could not be formed.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BeliefError {
    /// The length is missing, zero or not a number.
    #[error("tube {tube}: length {length_mm} mm is not a usable length")]
    Length {
        /// Which tube.
        tube: String,
        /// The length given, mm.
        length_mm: f64,
    },
    /// The tube has no reading of its outside at all.
    #[error("tube {tube}: no reading of its outside")]
    NoReadings {
        /// Which tube.
        tube: String,
    },
    /// Its scan cannot be laid out.
    #[error("tube {tube}: its scan cannot be used: {fault}")]
    Scan {
        /// Which tube.
        tube: String,
        /// Why.
        #[source]
        fault: ScanFault,
    },
    /// A reading lacks a size of its instrument.
    #[error("tube {tube}: {place}: {what}")]
    Lacks {
        /// Which tube.
        tube: String,
        /// Where the reading stands.
        place: String,
        /// What it lacks.
        what: Cow<'static, str>,
    },
    /// A reading is of something the belief holds nothing of, because no reading of the tube does.
    #[error("tube {tube}: nothing was measured of its {what}")]
    NotHeld {
        /// Which tube.
        tube: String,
        /// What.
        what: Cow<'static, str>,
    },
    /// Readings with other unknowns of the measuring than those the belief was formed from.
    #[error("tube {tube}: these are not the readings the belief was formed from")]
    OtherUnknowns {
        /// Which tube.
        tube: String,
    },
    /// More readings than are searched for slips.
    #[error("tube {tube}: {readings} readings, more than the {most} of one tube that are searched")]
    TooMany {
        /// Which tube.
        tube: String,
        /// Its readings.
        readings: usize,
        /// The most that are searched.
        most: usize,
    },
    /// The search for slips was stopped at its cap on work; what it had found by then stands.
    #[error("tube {tube}: the search for slips was stopped at its cap on work, so that not every cause was looked at")]
    Stopped {
        /// Which tube.
        tube: String,
    },
    /// The equations could not be solved; an internal fault.
    #[error("tube {tube}: the precision matrix is not positive definite")]
    NotPositive {
        /// Which tube.
        tube: String,
    },
}

impl BeliefError {
    /// A reading of `tube` that lacks a size of its instrument.
    pub(super) fn lacks(tube: &str, reading: &Reading, what: &'static str) -> BeliefError {
        BeliefError::Lacks { tube: tube.into(), place: reading.place.to_string(), what: what.into() }
    }
}
