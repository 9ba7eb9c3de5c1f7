//! An expected figure with its interval.

use serde::{Deserialize, Serialize};

/// A forecast with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// What is expected.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
}

impl Interval {
    pub(super) fn scaled(self, factor: f64) -> Interval {
        Interval { expected: self.expected * factor, low: self.low * factor, high: self.high * factor }
    }
}

/// What one blank costs; `None` where no blank is expected.
pub(super) fn cost(spent: f64, blanks: &Interval) -> Option<Interval> {
    let each = |n: f64| if n > 0.0 { spent / n } else { f64::INFINITY };
    let cost = Interval { expected: each(blanks.expected), low: each(blanks.high), high: each(blanks.low) };
    (blanks.expected > 0.0).then_some(cost)
}
