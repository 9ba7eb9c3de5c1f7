//! The lot built into the binary: an invented scenario, the same files as `data-samples/demo`.

use super::diagnostics::Failure;
use quarterlight::readings::{LotRead, read_lot_files};

/// Said before the result of `demo`.
pub const WORDS: &str = "Built-in lot: an invented scenario; its tubes were made by a simulator, faults included.\n";

const FILES: [(&str, &[u8]); 5] = [
    ("lot.toml", include_bytes!("../../data-samples/demo/lot.toml")),
    ("tubes.csv", include_bytes!("../../data-samples/demo/tubes.csv")),
    ("readings-dial.csv", include_bytes!("../../data-samples/demo/readings-dial.csv")),
    ("readings-caliper.csv", include_bytes!("../../data-samples/demo/readings-caliper.csv")),
    ("marks.csv", include_bytes!("../../data-samples/demo/marks.csv")),
];

/// Reads the built-in lot.
pub fn lot() -> Result<LotRead, Failure> {
    Ok(read_lot_files("demo", &FILES)?)
}
