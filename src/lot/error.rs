//! Why a run of a lot came to nothing.

use super::counting::HumidityUnknown;
use crate::readings::ReadError;
use crate::tube::PopulationError;
use crate::tube::learn::LearnError;

/// Why a lot could not be worked on. What concerns single rows is a [`Finding`](crate::domain::Finding), what concerns
/// single tubes a [`NoPlan`](crate::decide::plan::NoPlan): neither stops the rest.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LotError {
    /// The lot cannot be read at all.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A tube asked for is not in the lot.
    #[error("the lot has no tube {name}")]
    NoSuchTube {
        /// The name asked for.
        name: String,
        /// The tubes there are.
        known: Vec<String>,
    },
    /// The name of a tube asked for fits several that differ by case alone, and none exactly.
    #[error("{name} may be any of the tubes {}", like.join(", "))]
    WhichTube {
        /// The name asked for.
        name: String,
        /// The tubes it may mean.
        like: Vec<String>,
    },
    /// A set asked for is neither a starting set nor one of the lot's own.
    #[error("there is no set called {name}")]
    NoSuchSet {
        /// The name asked for.
        name: String,
        /// The sets there are.
        known: Vec<String>,
    },
    /// A worth is given for a set that nobody asked for.
    #[error("a blank of {name} is given a value, and nothing is planned for {name}")]
    ValueOfNone {
        /// The set.
        name: String,
    },
    /// A scale under `[population]` has a name or value that does not exist.
    #[error(transparent)]
    Population(#[from] PopulationError),
    /// The lot says too little to learn its scales.
    #[error("nothing learned: {0}")]
    Learn(#[from] LearnError),
    /// Weights cannot be told in other air.
    #[error(transparent)]
    Humidity(#[from] HumidityUnknown),
    /// A stored plan cannot be read back.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Why a stored plan cannot be read back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// It is no plan of ours.
    #[error("this is no stored plan: {0}")]
    Unreadable(#[from] serde_json::Error),
    /// Two tubes without a plan at one place, or one beyond the list.
    #[error("this is no stored plan: the places of tubes without a plan do not make a list")]
    Places,
    /// Written by a version that knows more.
    #[error("a stored plan of format {found}; this version reads format {known}")]
    Format {
        /// Its format.
        found: u64,
        /// The one that can be read.
        known: u64,
    },
}
