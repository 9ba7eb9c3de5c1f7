//! What came of a maker's earlier lots for each blank promised.

use serde::{Deserialize, Serialize};

/// Blanks got for each one promised, as earlier lots bore it out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Promise {
    /// Expected.
    pub factor: f64,
    /// Standard deviation of its logarithm.
    pub log_sd: f64,
}

impl Default for Promise {
    /// The promise as it is, held to a quarter: what is known before anything was cut. Common practice, no source.
    fn default() -> Self {
        Promise { factor: 1.0, log_sd: 0.25 }
    }
}
