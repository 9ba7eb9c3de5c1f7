//! What is said beside a result, on standard error.

use std::fmt::Display;
use std::io::Write;

/// What standard output is called in messages.
pub const STANDARD_OUTPUT: &str = "standard output";
/// What standard input is called there.
pub const STANDARD_INPUT: &str = "standard input";

/// Says something beside the result on standard error. A standard error that takes nothing (a full disk, a closed pipe)
/// loses these words and never the result.
pub fn say(words: impl Display) {
    let _ = writeln!(anstream::stderr().lock(), "{words}");
}
