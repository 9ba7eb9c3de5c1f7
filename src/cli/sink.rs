//! Where results go: standard output or a file.

use super::args::ShowArgs;
use super::diagnostics::Failure;
use super::replace::{place_of, write_file};
use super::say::STANDARD_OUTPUT;
use std::io::Write;

pub use super::say::say;

/// Refused where a file is in the way of the place `show` names: asked before anything else is written.
pub fn free(show: &ShowArgs) -> Result<(), Failure> {
    show.out.as_deref().map_or(Ok(()), |path| place_of(path, show.force).map(drop))
}

/// Writes `text` to the place `show` names.
pub fn put(text: &str, show: &ShowArgs) -> Result<(), Failure> {
    match &show.out {
        None => print(text),
        Some(path) => write_file(path, text.as_bytes(), show.force),
    }
}

/// Prints `text` to standard output, a line end behind it.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    let end = if text.ends_with('\n') { "" } else { "\n" };
    write!(out, "{text}{end}")
        .and_then(|()| out.flush())
        .map_err(|source| Failure::Write { path: STANDARD_OUTPUT.into(), source })
}
