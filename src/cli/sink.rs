//! Where words go: results to standard output or a file, the rest to standard error.

use super::args::ShowArgs;
use super::diagnostics::Failure;
use super::replace::write_file;
use std::fmt::Display;
use std::io::Write;

/// What standard output is called in messages.
pub const STANDARD_OUTPUT: &str = "standard output";

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

/// Says something beside the result on standard error. A standard error that takes nothing (a full disk, a closed pipe)
/// loses these words and never the result.
pub fn say(words: impl Display) {
    let _ = writeln!(anstream::stderr().lock(), "{words}");
}
