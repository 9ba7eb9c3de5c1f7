//! A TOML file of named numbers and words taken apart, every setting with its line: for files that are no lot.

use super::findings::quoted;
use super::lot_toml::{Lines, value_of};
use super::settings::Value;
use crate::domain::{Finding, Place};
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

/// Most bytes of such a file.
const MOST_BYTES: usize = 1 << 20;

/// What a setting holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Plain {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// Something else, in words.
    Other(String),
}

/// One setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The names of the tables it stands in, outermost first; of a list of tables its number from 1 behind the name.
    pub path: Vec<String>,
    /// Its key; empty where the table itself is meant.
    pub key: String,
    /// Its value.
    pub value: Plain,
    /// Where.
    pub place: Place,
}

impl Setting {
    /// A finding about it: what was expected, and what to do.
    #[must_use]
    pub fn error(&self, expected: &str, fix: &str) -> Finding {
        let found = match &self.value {
            Plain::Number(x) if x.abs() >= 1e9 => format!("{x:e}"),
            Plain::Number(x) => x.to_string(),
            Plain::Text(t) => quoted(t),
            Plain::Other(what) => what.clone(),
        };
        Finding::error(self.place.clone(), found, expected, fix)
    }
}

/// The settings of a file by line. Tables may stand in tables, and lists of tables; a table without settings is one itself.
///
/// # Errors
/// Every place where its form is broken.
pub fn plain_toml(bytes: &[u8], file: &str) -> Result<Vec<Setting>, Vec<Finding>> {
    let file: Arc<str> = file.into();
    let whole = Place { file: file.clone(), ..Place::default() };
    let fault =
        |found: &str, expected: &str| vec![Finding::error(whole.clone(), found, expected, "is it the right file?")];
    if bytes.len() > MOST_BYTES {
        return Err(fault("more than a megabyte", "some lines of key = value"));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| fault("bytes that are no text", "a text in UTF-8"))?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = Lines::new(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        let told = errors.iter().map(|e| {
            let line = e.span().map_or(0, |s| lines.line(s.start));
            let shown = text.lines().nth(usize::try_from(line.max(1) - 1).unwrap_or(0)).unwrap_or("");
            let place = Place { file: file.clone(), line, column: String::new() };
            Finding::error(place, quoted(shown), "key = value under a [section]", e.message().replace('\n', ", "))
        });
        return Err(told.collect());
    }
    let mut out = Vec::new();
    table(document.get_ref(), &[], (&lines, &file), &mut out);
    out.sort_by(|a, b| a.place.cmp(&b.place));
    Ok(out)
}

/// Depth beyond which nothing is looked at.
const DEEPEST: usize = 4;

fn table(t: &DeTable<'_>, path: &[String], at: (&Lines, &Arc<str>), out: &mut Vec<Setting>) {
    for (key, value) in t {
        let name = key.get_ref().to_string();
        let place = |start: usize| Place {
            file: at.1.clone(),
            line: at.0.line(start),
            column: name.chars().take(100).filter(|c| !c.is_control()).collect(),
        };
        let here = place(key.span().start);
        let within = |more: Option<usize>| -> Vec<String> {
            path.iter().cloned().chain([name.clone()]).chain(more.map(|i| (i + 1).to_string())).collect()
        };
        let is_list = |list: &toml::de::DeArray<'_>| {
            list.iter().next().is_some() && list.iter().all(|v| matches!(v.get_ref(), DeValue::Table(_)))
        };
        let mut section = |inner: &DeTable<'_>, path: Vec<String>| {
            if inner.is_empty() {
                let value = Plain::Other("an empty section".into());
                out.push(Setting { path: path.clone(), key: String::new(), value, place: here.clone() });
            }
            table(inner, &path, at, out);
        };
        match value.get_ref() {
            DeValue::Table(inner) if path.len() < DEEPEST => section(inner, within(None)),
            DeValue::Array(list) if is_list(list) && path.len() < DEEPEST => {
                for (i, v) in list.iter().enumerate() {
                    if let DeValue::Table(inner) = v.get_ref() {
                        section(inner, within(Some(i)));
                    }
                }
            }
            other => {
                let value = match value_of(other) {
                    (Value::Number(x), _) => Plain::Number(x),
                    (Value::Text(t) | Value::Cell(t), _) => Plain::Text(t),
                    (Value::Other(_), shown) => Plain::Other(shown),
                };
                out.push(Setting { path: path.to_vec(), key: name, value, place: here });
            }
        }
    }
}
