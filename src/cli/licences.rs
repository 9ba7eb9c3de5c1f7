//! `licences`: what the binary is made of, and under which terms.

use super::diagnostics::Failure;
use super::sink;
use std::process::ExitCode;

/// Written by `examples/third_party.rs`.
const NOTICES: &str = include_str!("../../THIRD-PARTY.md");
const MIT: &str = include_str!("../../LICENSE-MIT");

/// Prints our own terms and everybody else's.
pub fn run() -> Result<ExitCode, Failure> {
    let own = "quarterlight is under MIT or Apache-2.0, at your option. The text of MIT:";
    sink::print(&format!("{own}\n\n{MIT}\n{NOTICES}"))?;
    Ok(ExitCode::SUCCESS)
}
