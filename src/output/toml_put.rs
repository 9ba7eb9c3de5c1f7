//! Numbers put into a TOML text that is somebody's own: all else, comments included, stays as it was.

use toml_edit::{DocumentMut, Item, Table, TableLike, Value, value};

/// The document of a text.
pub(super) fn document(text: &str) -> Result<DocumentMut, String> {
    text.parse().map_err(|e: toml_edit::TomlError| e.message().to_string())
}

/// A section, added at the end where there is none.
pub(super) fn section<'a>(document: &'a mut DocumentMut, name: &str) -> Result<&'a mut dyn TableLike, String> {
    let table = document.entry(name).or_insert_with(|| Item::Table(Table::new())).as_table_like_mut();
    table.ok_or_else(|| format!("{name} is not a section"))
}

/// Puts a number under a key, with what stood around the old value; the old and the new value as they are written.
pub(super) fn put(table: &mut dyn TableLike, key: &str, number: f64) -> (Option<String>, String) {
    let mut new = Value::from(number);
    let bare = |v: &Value| v.clone().decorated("", "").to_string();
    let now = bare(&new);
    let old = table.get(key).and_then(Item::as_value).cloned();
    if let Some(old) = &old {
        *new.decor_mut() = old.decor().clone();
    }
    match table.get_mut(key) {
        Some(place) => *place = value(new),
        None => {
            table.insert(key, value(new));
        }
    }
    (old.as_ref().map(bare), now)
}
