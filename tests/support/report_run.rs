//! The report of a lot, written by the binary.

use std::path::Path;
use std::process::{Command, Output};

/// Runs `report LOT --out OUT` with so many draws and whatever else is asked.
pub fn report(lot: &Path, out: &Path, draws: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .arg("report")
        .arg(lot)
        .arg("--out")
        .arg(out)
        .args(["--draws", draws])
        .args(more)
        .output()
        .expect("the binary runs")
}
