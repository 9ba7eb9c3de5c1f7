//! What was noticed about the user's files, and where.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::Arc;

/// A place in a file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub struct Place {
    /// File as the user would name it (relative to the lot where possible).
    pub file: Arc<str>,
    /// Line in that file, from 1; 0 when the whole file is meant.
    pub line: u64,
    /// Column name or spreadsheet cell; empty when the whole line is meant.
    pub column: String,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if !self.column.is_empty() {
            write!(f, ", column {}", self.column)?;
        }
        Ok(())
    }
}

/// A number of things in words: `1 row`, `2 rows`. `thing` makes its plural with an s.
#[must_use]
pub fn counted<N: fmt::Display + PartialEq + From<u8>>(n: N, thing: &str) -> String {
    let many = if n == N::from(1) { "" } else { "s" };
    format!("{n} {thing}{many}")
}

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The row or file cannot be used; what depends on it is not analysed.
    Error,
    /// Used all the same, or ignored on purpose; the user should know.
    Note,
}

/// One thing noticed while reading a lot: where, what was found, what was expected, what to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// The text or number as found.
    pub found: String,
    /// What would have been right.
    pub expected: String,
    /// What the user can do about it.
    pub fix: String,
    /// The tube whose readings it puts in doubt; `None` when it concerns the whole lot.
    pub tube: Option<String>,
}

impl Finding {
    /// An error that puts no single tube in doubt.
    pub fn error(
        place: Place,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> Finding {
        let (found, expected, fix) = (found.into(), expected.into(), fix.into());
        Finding { severity: Severity::Error, place, found, expected, fix, tube: None }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = match self.severity {
            Severity::Error => "error",
            Severity::Note => "note",
        };
        write!(f, "{word}: {}: found {}, expected {}", self.place, self.found, self.expected)?;
        if !self.fix.is_empty() {
            write!(f, "\n  hint: {}", self.fix)?;
        }
        Ok(())
    }
}
