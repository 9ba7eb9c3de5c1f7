//! Why records cannot be summed up, as findings with file and line.

use crate::domain::{Finding, Place, counted};
use std::fmt;

/// Most findings that are kept of one file; those beyond are counted.
pub(super) const MOST: usize = 100;
/// Most records that came twice which are told one by one.
pub(super) const MOST_TWICE: usize = 20;

/// Records that cannot be summed up: every reason, in the order of files and lines.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct NotSummed(pub Vec<Finding>);

impl fmt::Display for NotSummed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "nothing was summed up: {} in the records", counted(self.0.len(), "fault"))
    }
}

/// At most `most` of some findings, and how many more there are.
pub(super) fn bounded(mut all: Vec<Finding>, most: usize, file: &str, beyond: usize) -> Vec<Finding> {
    let more = all.len().saturating_sub(most) + beyond;
    all.truncate(most);
    if more > 0 {
        let place = Place { file: file.into(), line: 0, column: String::new() };
        all.push(Finding::error(place, format!("{more} more of such lines"), "none", "mend those above first"));
    }
    all
}
