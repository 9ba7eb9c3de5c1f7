//! A reading that a fit does not believe.

use serde::{Deserialize, Serialize};

/// A reading the fit does not believe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Doubted {
    /// Its place in `tube.readings`; stored as `reading`, counted from 1.
    #[serde(rename = "reading", with = "from_one")]
    pub index: usize,
    /// What the rest of the readings lead one to expect there, mm.
    pub expected_mm: f64,
    /// Departure in standard deviations of the reading.
    pub departure_sd: f64,
    /// Weight left to it, 0 to 1.
    pub weight: f64,
}

/// Places in a list are stored as people count them.
mod from_one {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(index: &usize, to: S) -> Result<S::Ok, S::Error> {
        index.saturating_add(1).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<usize, D::Error> {
        let number = usize::deserialize(from)?;
        number.checked_sub(1).ok_or_else(|| serde::de::Error::custom("readings are counted from 1"))
    }
}
