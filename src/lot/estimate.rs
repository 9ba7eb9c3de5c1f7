//! A figure learned from what came of a lot.

use serde::Serialize;

/// A figure with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// Expected.
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
}

impl Estimate {
    /// Whether its interval leaves `x` out.
    #[must_use]
    pub fn excludes(&self, x: f64) -> bool {
        self.low > x || self.high < x
    }
}
