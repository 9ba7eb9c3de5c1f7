//! `lot.toml` taken apart into settings that know their line.
//!
//! A file whose form is broken is reported, every broken place at once, and none of it is used: the defaults hold and
//! the tubes are still read.

use super::book::Book;
use super::dialect::decode;
use super::findings::quoted;
use super::settings::{Entry, Value, sections};
use crate::domain::{Place, units::DecimalMark};
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

/// The settings of the file, in its own order; `None` where its form is broken.
pub(super) fn entries(bytes: &[u8], file: &Arc<str>, book: &mut Book) -> Option<Vec<Entry>> {
    let text = decode(bytes, file, &mut book.findings)?;
    let lines = Lines::new(&text);
    let (document, errors) = DeTable::parse_recoverable(&text);
    if !errors.is_empty() {
        for e in &errors {
            let line = e.span().map_or(0, |s| lines.line(s.start));
            let place = Place { file: file.clone(), line, column: String::new() };
            let found = quoted(text.lines().nth(usize::try_from(line.max(1) - 1).unwrap_or(0)).unwrap_or(""));
            let message = e.message().replace('\n', ", ");
            let fix = format!("{message}; until it is mended none of this file is used and the defaults hold");
            book.findings.error(place, None, found, "key = value under a [section]", fix);
        }
        return None;
    }
    let mut entries = Vec::new();
    for (key, value) in document.get_ref() {
        let name = key.get_ref().to_string();
        let line = lines.line(key.span().start);
        match value.get_ref() {
            DeValue::Table(table) if name == "rig" || name == "instrument" => {
                named(&name, table, &lines, file, &mut entries, book);
            }
            DeValue::Table(table) => section(&name, table, &lines, file, &mut entries),
            other => {
                let place = Place { file: file.clone(), line, column: name.clone() };
                let fix = format!("ignored; write it under one of the sections {}", sections().join(", "));
                book.findings.note(
                    place,
                    None,
                    format!("{} = {}", quoted(&name), value_of(other).1),
                    "a [section] before it",
                    fix,
                );
            }
        }
    }
    // the parser hands tables over in its own order
    entries.sort_by(|a, b| a.place.cmp(&b.place));
    Some(entries)
}

/// The sections `[rig.NAME]` or `[instrument.NAME]`.
fn named(kind: &str, table: &DeTable<'_>, lines: &Lines, file: &Arc<str>, entries: &mut Vec<Entry>, book: &mut Book) {
    for (key, value) in table {
        let name = key.get_ref().trim().to_string();
        let place = Place { file: file.clone(), line: lines.line(key.span().start), column: format!("{kind}.{name}") };
        match value.get_ref() {
            DeValue::Table(facts) if super::name::bad_name(&name).is_none() => {
                let in_section = format!("{kind}.{name}");
                section(&in_section, facts, lines, file, entries);
                // one of which nothing is stated is declared all the same
                let (value, mark) = (Value::Other("a section"), DecimalMark::Point);
                entries.push(Entry { section: in_section, key: String::new(), value, place, mark });
            }
            other => {
                let found = format!("{} = {}", quoted(&name), value_of(other).1);
                let (expected, fix) =
                    (format!("a section [{kind}.NAME]"), format!("write [{kind}.NAME] and its facts below it"));
                book.findings.error(place, None, found, expected, fix);
            }
        }
    }
}

fn section(name: &str, table: &DeTable<'_>, lines: &Lines, file: &Arc<str>, entries: &mut Vec<Entry>) {
    for (key, value) in table {
        let key_text = key.get_ref().to_string();
        entries.push(Entry {
            section: name.to_string(),
            value: value_of(value.get_ref()).0,
            place: Place {
                file: file.clone(),
                line: lines.line(key.span().start),
                column: key_text.chars().take(100).filter(|c| !c.is_control()).collect(),
            },
            key: key_text,
            mark: DecimalMark::Point,
        });
    }
}

/// The value, and what to call it in a message.
pub(super) fn value_of(value: &DeValue<'_>) -> (Value, String) {
    let number = |x: Option<f64>| x.map_or(Value::Other("a number out of range"), Value::Number);
    let value = match value {
        DeValue::Integer(i) => number(i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64)),
        DeValue::Float(x) => number(x.as_str().parse().ok()),
        DeValue::String(s) => Value::Text(s.to_string()),
        DeValue::Boolean(_) => Value::Other("true or false"),
        DeValue::Datetime(_) => Value::Other("a date"),
        DeValue::Array(_) => Value::Other("a list"),
        DeValue::Table(_) => Value::Other("a section"),
    };
    let shown = match &value {
        Value::Number(x) => x.to_string(),
        Value::Text(t) | Value::Cell(t) => quoted(t),
        Value::Other(what) => (*what).to_string(),
    };
    (value, shown)
}

/// Line numbers of byte places.
pub(super) struct Lines {
    starts: Vec<usize>,
}

impl Lines {
    pub(super) fn new(text: &str) -> Lines {
        Lines { starts: std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect() }
    }

    pub(super) fn line(&self, byte: usize) -> u64 {
        self.starts.partition_point(|s| *s <= byte) as u64
    }
}
