//! What a caller may choose about a run.

use crate::decide::plan::PlanOptions;

/// How a lot is assessed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Options {
    /// Seed and number of draws: 1 and 200 unless set.
    pub plan: PlanOptions,
    /// Names of the tubes to work on; empty for all of them.
    pub tubes: Vec<String>,
}

/// How far a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Tubes done, in no particular order.
    pub done: usize,
    /// Tubes in all.
    pub of: usize,
}
