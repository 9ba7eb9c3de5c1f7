//! How records are laid out as text: indented, but a list of plain numbers or words on one line.

use serde::Serialize;
use serde_json::Value;

/// The format that is written and read.
pub const FORMAT: u64 = 1;

/// The JSON of a record, two spaces a level, with a line end.
pub(super) fn pretty(record: &impl Serialize) -> String {
    // all keys are strings and no record refuses to be written, so this cannot fail
    let value = serde_json::to_value(record).expect("a record of plain data");
    let mut out = String::new();
    write(&value, 0, &mut out);
    out.push('\n');
    out
}

/// The JSON of a value under the format that is written.
pub(super) fn of_format<T: Serialize>(value: &T) -> String {
    #[derive(Serialize)]
    struct Stored<'a, T> {
        format: u64,
        #[serde(flatten)]
        value: &'a T,
    }
    pretty(&Stored { format: FORMAT, value })
}

fn write(value: &Value, level: usize, out: &mut String) {
    match value {
        Value::Array(list) if list.iter().any(|v| v.is_object() || v.is_array()) => {
            block(['[', ']'], list.len(), level, out, |i, out| write(&list[i], level + 1, out));
        }
        Value::Array(list) => {
            out.push('[');
            for (i, v) in list.iter().enumerate() {
                out.push_str(if i > 0 { ", " } else { "" });
                write(v, level, out);
            }
            out.push(']');
        }
        Value::Object(map) if !map.is_empty() => {
            let entries: Vec<(&String, &Value)> = map.iter().collect();
            block(['{', '}'], entries.len(), level, out, |i, out| {
                out.push_str(&format!("{}: ", Value::from(entries[i].0.as_str())));
                write(entries[i].1, level + 1, out);
            });
        }
        plain => out.push_str(&plain.to_string()),
    }
}

/// Items between brackets, a line each.
fn block(ends: [char; 2], n: usize, level: usize, out: &mut String, item: impl Fn(usize, &mut String)) {
    out.push(ends[0]);
    for i in 0..n {
        out.push_str(if i > 0 { ",\n" } else { "\n" });
        out.push_str(&"  ".repeat(level + 1));
        item(i, out);
    }
    out.push('\n');
    out.push_str(&"  ".repeat(level));
    out.push(ends[1]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn lists_of_numbers_stand_on_one_line_and_the_text_reads_back() {
        let value = json!({"a": [1, 2.5, null], "b \"q\"": [{"c": []}, {}], "d": {"e": "f\n"}, "g": [[1], [2]]});
        let text = pretty(&value);
        assert!(
            text.starts_with(
                "{\n  \"a\": [1, 2.5, null],\n  \"b \\\"q\\\"\": [\n    {\n      \"c\": []\n    },\n    {}\n  ],"
            ),
            "{text}"
        );
        assert_eq!(serde_json::from_str::<Value>(&text).expect("JSON"), value);
    }
}
