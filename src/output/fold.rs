//! Text broken into lines no wider than a report.

/// Widest a line of a report may be, characters.
const TEXT_WIDTH: usize = 100;

/// Joins `items` to `head`, breaking the line between items where it would pass 100 characters and setting what follows
/// in by `indent`.
pub(crate) fn fold(head: &str, items: &[String], indent: usize) -> String {
    let mut out = String::new();
    let mut line = head.to_string();
    for (i, item) in items.iter().enumerate() {
        let gap = if i == 0 { "" } else { " " };
        let end = if i + 1 < items.len() { ";" } else { "" };
        if i > 0 && line.chars().count() + gap.len() + item.chars().count() + end.len() > TEXT_WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = " ".repeat(indent);
            line.push_str(item);
        } else {
            line.push_str(gap);
            line.push_str(item);
        }
        line.push_str(end);
    }
    out.push_str(&line);
    out.push('\n');
    out
}

/// Lays `items` out behind `head` with two spaces between them, none broken, setting in by `indent` what follows.
pub(crate) fn laid_out(head: &str, items: &[String], indent: usize) -> String {
    let mut out = String::new();
    let mut line = head.to_string();
    for (i, item) in items.iter().enumerate() {
        if i > 0 && line.chars().count() + 2 + item.chars().count() > TEXT_WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(indent);
        } else if i > 0 {
            line.push_str("  ");
        }
        line.push_str(item);
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

/// Words broken at spaces so that no line passes 100 characters.
#[must_use]
pub fn wrapped(text: &str) -> String {
    hanging(text, 0)
}

/// As [`wrapped`], every line but the first set in by `indent`.
#[must_use]
pub fn hanging(text: &str, indent: usize) -> String {
    set_in(text, 0, indent)
}

/// The same, the first line set in by `first`.
pub(crate) fn set_in(text: &str, first: usize, indent: usize) -> String {
    let mut out = " ".repeat(first);
    let mut length = first;
    for (i, word) in text.split_whitespace().enumerate() {
        let n = word.chars().count();
        if i > 0 && length + 1 + n > TEXT_WIDTH {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            length = indent;
        } else if i > 0 {
            out.push(' ');
            length += 1;
        }
        out.push_str(word);
        length += n;
    }
    out.push('\n');
    out
}
