//! Gathers findings while files are read.

use crate::domain::{Finding, Place, Severity};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Readings by tube and file.
type ByTubeAndFile = BTreeMap<(String, Arc<str>), usize>;

/// Findings listed per file; what is beyond is counted. No one mends more rows by hand than this, and a large file
/// of the wrong sort must not fill the memory.
const MAX_PER_FILE: usize = 2000;
/// Characters of the user's text repeated in a finding.
const MAX_QUOTED: usize = 60;
/// Characters of one part of a finding: a header of 100 kB is told by its beginning.
const MAX_WORDS: usize = 600;

/// The findings so far, and the tubes they put in doubt.
#[derive(Debug, Default)]
pub(super) struct Findings {
    list: Vec<Finding>,
    doubtful: BTreeSet<String>,
    /// Readings that could not be used.
    aside: ByTubeAndFile,
    /// How many of each sort, by file.
    per_file: BTreeMap<(Arc<str>, Severity), usize>,
}

impl Findings {
    /// Something that cannot be used. `tube` is then in doubt, or with `None` the whole lot is concerned.
    pub(super) fn error(
        &mut self,
        place: Place,
        tube: Option<&str>,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        if let Some(name) = tube
            && !self.doubtful.contains(name)
        {
            self.doubtful.insert(name.to_string());
        }
        self.add(Severity::Error, place, tube, found.into(), expected.into(), fix.into());
    }

    /// Something that cannot be used and concerns single readings of a tube: see [`Findings::set_aside`].
    pub(super) fn error_in_reading(&mut self, place: Place, tube: &str, found: String, expected: &str, fix: &str) {
        self.add(Severity::Error, place, Some(tube), found, expected.to_string(), fix.to_string());
    }

    /// So many readings of a tube could not be used; once all files are read `set_aside::decide` says whether the rest of
    /// them does.
    pub(super) fn set_aside(&mut self, tube: &str, file: &Arc<str>, readings: usize) {
        *self.aside.entry((tube.to_string(), file.clone())).or_default() += readings;
    }

    /// What was set aside, by tube and file.
    pub(super) fn take_aside(&mut self) -> ByTubeAndFile {
        std::mem::take(&mut self.aside)
    }

    /// Something the user should know.
    pub(super) fn note(
        &mut self,
        place: Place,
        tube: Option<&str>,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.add(Severity::Note, place, tube, found.into(), expected.into(), fix.into());
    }

    fn add(
        &mut self,
        severity: Severity,
        place: Place,
        tube: Option<&str>,
        found: String,
        expected: String,
        fix: String,
    ) {
        let count = self.per_file.entry((place.file.clone(), severity)).or_default();
        *count += 1;
        if *count <= MAX_PER_FILE {
            let column = printable(&clipped(&place.column, MAX_QUOTED));
            let place = Place { file: printable_name(place.file), line: place.line, column };
            let [found, expected, fix] = [found, expected, fix].map(|text| printable(&clipped(&text, MAX_WORDS)));
            self.list.push(Finding { severity, place, found, expected, fix, tube: tube.map(str::to_string) });
        }
    }

    /// Puts a tube in doubt because of a finding that names no single tube.
    pub(super) fn doubt(&mut self, tube: &str) {
        if !self.doubtful.contains(tube) {
            self.doubtful.insert(tube.to_string());
        }
    }

    /// The tubes in doubt so far.
    pub(super) fn doubtful(&self) -> &BTreeSet<String> {
        &self.doubtful
    }

    /// All findings by file, line and column.
    pub(super) fn finish(mut self) -> Vec<Finding> {
        for ((file, severity), count) in &self.per_file {
            if *count > MAX_PER_FILE {
                let (what, expected, fix) = match severity {
                    Severity::Error => (
                        "things to mend",
                        "a file with few faults",
                        "is this the right file? Mend what the first rows have in common, then read again",
                    ),
                    Severity::Note => {
                        ("notes", "a file with little to note", "look at what the first of them have in common")
                    }
                };
                self.list.push(Finding {
                    severity: *severity,
                    place: whole_file(file),
                    found: format!("{count} {what}, of which the first {MAX_PER_FILE} are listed"),
                    expected: expected.to_string(),
                    fix: fix.to_string(),
                    tube: None,
                });
            }
        }
        self.list.sort_by(|a, b| a.place.cmp(&b.place).then(a.severity.cmp(&b.severity)));
        self.list
    }
}

/// The place that means a whole file.
pub(super) fn whole_file(file: &Arc<str>) -> Place {
    Place { file: file.clone(), line: 0, column: String::new() }
}

/// The user's own text in quotes: shortened, with control characters made visible.
pub(super) fn quoted(text: &str) -> String {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return "an empty cell".to_string();
    }
    let mut out = String::from("'");
    for (i, c) in trimmed.chars().enumerate() {
        if i == MAX_QUOTED {
            out.push('…');
            break;
        }
        if unprintable(c) { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out.push('\'');
    out
}

/// The text with blanks for what is unprintable: the last guard before a terminal.
pub(super) fn printable(text: &str) -> String {
    text.chars().map(|c| if unprintable(c) { ' ' } else { c }).collect()
}

/// The beginning of a text that is too long to print.
fn clipped(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_string(),
    }
}

fn printable_name(file: Arc<str>) -> Arc<str> {
    if file.chars().any(unprintable) { printable(&file).into() } else { file }
}

/// Control characters, and marks that change the direction of text or cannot be seen: they have no place in names.
pub(super) fn unprintable(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_text_is_short_and_harmless() {
        assert_eq!(quoted("  a\u{1b}[31mb "), "'a\\u{1b}[31mb'");
        assert_eq!(quoted(" "), "an empty cell");
        assert!(quoted(&"x".repeat(1000)).chars().count() < 70);
    }

    #[test]
    fn a_flood_of_findings_is_counted_and_still_puts_tubes_in_doubt() {
        let mut findings = Findings::default();
        let file: Arc<str> = "readings.csv".into();
        for line in 1..=5000 {
            let place = Place { file: file.clone(), line, column: String::new() };
            findings.error(place, Some(&format!("T{line}")), "x", "y", "z");
        }
        let doubtful = findings.doubtful().len();
        let list = findings.finish();
        assert_eq!((list.len(), doubtful), (MAX_PER_FILE + 1, 5000));
        assert!(list[0].found.contains("5000"), "{}", list[0]);
    }
}
