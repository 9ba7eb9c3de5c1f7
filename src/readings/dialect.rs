//! How a text file is written: encoding, line ends, separator, decimal mark.
//!
//! Accepted: UTF-8 with or without byte-order mark, UTF-16 with byte-order mark, and, with a note, Western European
//! text (Windows-1252, of which Latin-1 is the printable part). Line ends of any system. Cells separated by commas,
//! semicolons or tabs, found from the header; a first line `sep=;` is obeyed.

use super::catalogue::{is_known_header, is_number_header};
use super::findings::{Findings, whole_file};
use crate::domain::units::DecimalMark;
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use std::sync::Arc;

/// Largest file read, bytes.
pub(super) const MAX_BYTES: u64 = 200_000_000;

/// The text of a file with `\n` line ends, or `None` with an error finding when it is no text.
pub(super) fn decode(bytes: &[u8], file: &Arc<str>, findings: &mut Findings) -> Option<String> {
    if bytes.len() as u64 > MAX_BYTES {
        let found = format!("a file of {} million bytes", bytes.len() / 1_000_000);
        let fix = "leave out what is not readings, or give the readings in several files";
        findings.error(whole_file(file), None, found, "at most 200 million bytes", fix);
        return None;
    }
    let text = match Encoding::for_bom(bytes) {
        Some((encoding, mark)) if encoding == UTF_8 => utf8(&bytes[mark..], file, findings),
        Some((encoding, mark)) => utf16(encoding, &bytes[mark..], file, findings)?,
        None => utf8(bytes, file, findings),
    };
    if let Some(c) = text.chars().find(|c| c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\u{c}' | '\u{85}')) {
        not_text(bytes, c, file, findings);
        return None;
    }
    Some(if text.contains('\r') { text.replace("\r\n", "\n").replace('\r', "\n") } else { text })
}

fn not_text(bytes: &[u8], c: char, file: &Arc<str>, findings: &mut Findings) {
    let (found, fix) = match bytes {
        [b'P', b'K', ..] => {
            ("a workbook or other packed file", "if it is a workbook, give it the ending .xlsx or .ods")
        }
        _ if bytes.contains(&0) => ("a file that is not text", "save it as CSV (UTF-8)"),
        _ => ("control characters in the text", "save it again as CSV (UTF-8)"),
    };
    findings.error(whole_file(file), None, format!("{found} (character {})", c.escape_default()), "a text table", fix);
}

fn utf8(bytes: &[u8], file: &Arc<str>, findings: &mut Findings) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => {
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
            // its five unassigned bytes come out as control characters that nobody typed
            let text = text.replace(|c| ('\u{80}'..='\u{9f}').contains(&c), "\u{fffd}");
            if !text.chars().any(|c| c.is_control() && !c.is_whitespace()) {
                let found = "text that is not UTF-8";
                let fix = "read as Western European (Windows-1252): check names with accents, or save as UTF-8";
                findings.note(whole_file(file), None, found, "UTF-8", fix);
            }
            text
        }
    }
}

fn utf16(encoding: &'static Encoding, rest: &[u8], file: &Arc<str>, findings: &mut Findings) -> Option<String> {
    let (text, broken) = encoding.decode_without_bom_handling(rest);
    if broken {
        findings.error(whole_file(file), None, "broken UTF-16 text", "UTF-8", "save it again as CSV (UTF-8)");
        return None;
    }
    findings.note(whole_file(file), None, "UTF-16 text", "UTF-8", "nothing to do: it was read as UTF-16");
    Some(text.into_owned())
}

/// The separator, and how many bytes of a `sep=` line to skip.
pub(super) fn separator(text: &str) -> (u8, usize) {
    let first = text.lines().next().unwrap_or("");
    if let Some(mark) = first.trim().strip_prefix("sep=")
        && let [b @ (b';' | b',' | b'\t')] = mark.as_bytes()
    {
        return (*b, (first.len() + 1).min(text.len()));
    }
    let header = text.lines().find(|l| !l.trim().is_empty() && !l.trim_start().starts_with('#')).unwrap_or("");
    let mut best = (b',', 0, 0);
    for mark in [b',', b';', b'\t'] {
        let cells = split_header(header, mark);
        let known = cells.iter().filter(|c| is_known_header(c)).count();
        if (known, cells.len()) > (best.1, best.2) {
            best = (mark, known, cells.len());
        }
    }
    (best.0, 0)
}

fn split_header(line: &str, mark: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).delimiter(mark).from_reader(line.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    record.iter().map(|c| c.trim().to_string()).collect()
}

/// What the numbers of a table say about its decimal mark; `cells` gives header and cell.
pub(super) fn decimal_mark<'a>(cells: impl Iterator<Item = (&'a str, &'a str)>, separator: u8) -> DecimalMark {
    let (mut comma, mut perhaps_comma, mut point, mut perhaps_point) = (false, false, false, false);
    let mut last = ("", false);
    for (header, cell) in cells {
        if last.0 != header {
            last = (header, is_number_header(header));
        }
        if !last.1 {
            continue;
        }
        match evidence(cell) {
            Some((',', true)) => comma = true,
            Some((',', false)) => perhaps_comma = true,
            Some((_, true)) => point = true,
            Some((_, false)) => perhaps_point = true,
            None => {}
        }
    }
    let by_separator = !comma && perhaps_comma && !perhaps_point && separator == b';';
    if !point && (comma || by_separator) { DecimalMark::Comma } else { DecimalMark::Point }
}

/// The mark in a number with exactly one, and whether it can only mark decimals.
fn evidence(cell: &str) -> Option<(char, bool)> {
    let cell = cell.trim_start().trim_start_matches(['-', '+']);
    let end = cell.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | ',')).unwrap_or(cell.len());
    let number = &cell[..end];
    let mark = number.chars().find(|c| matches!(c, '.' | ','))?;
    let (whole, part) = number.split_once(mark)?;
    if part.is_empty() || part.contains(['.', ',']) {
        return None;
    }
    Some((mark, part.len() != 3 || whole.is_empty() || whole.starts_with('0') || whole.len() > 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> (Option<String>, usize) {
        let mut findings = Findings::default();
        let text = decode(bytes, &"x.csv".into(), &mut findings);
        (text, findings.finish().len())
    }

    #[test]
    fn encodings_are_recognised() {
        assert_eq!(read(b"\xef\xbb\xbfa,b\r\n"), (Some("a,b\n".into()), 0));
        assert_eq!(read(b"a\rb"), (Some("a\nb".into()), 0));
        assert_eq!(read(b"z\xe9ro \xbd"), (Some("zéro ½".into()), 1));
        assert_eq!(read(b"\xff\xfea\0,\0"), (Some("a,".into()), 1));
        assert_eq!(read(b"\xfe\xff\0a"), (Some("a".into()), 1));
        assert_eq!(read(b"\xff\xfea"), (None, 1));
        // half of a surrogate pair, and a whole one
        assert_eq!(read(b"\xff\xfe\x3d\xd8a\0"), (None, 1));
        assert_eq!(read(b"\xfe\xff\xd8\x3d\xde\x00"), (Some("\u{1f600}".into()), 1));
        assert_eq!(read(b"\x80 \x9f\x81"), (Some("\u{20ac} \u{178}\u{fffd}".into()), 1));
        assert_eq!(read(b"a\0b"), (None, 1));
        assert_eq!(read(b"PK\x03\x04\xff\x00"), (None, 1));
        assert_eq!(read(b""), (Some(String::new()), 0));
    }

    #[test]
    fn the_separator_follows_the_known_columns() {
        assert_eq!(separator("# a, b, c, d\ntube;length (mm);weight\n").0, b';');
        assert_eq!(separator("tube\tlength\n").0, b'\t');
        assert_eq!(separator("tube,\"length; mm\",weight\n").0, b',');
        assert_eq!(separator("sep=;\ntube,length\n"), (b';', 6));
        assert_eq!(separator(""), (b',', 0));
    }

    #[test]
    fn the_decimal_mark_follows_the_numbers_not_the_names() {
        let mark = |cells: &[&str], sep| decimal_mark(cells.iter().map(|c| ("value", *c)), sep);
        assert_eq!(mark(&["25,134", "25,2"], b';'), DecimalMark::Comma);
        assert_eq!(mark(&["25,134"], b';'), DecimalMark::Comma);
        assert_eq!(mark(&["25,134"], b','), DecimalMark::Point);
        assert_eq!(mark(&["25.134"], b';'), DecimalMark::Point);
        assert_eq!(mark(&["25.1", "25,134"], b';'), DecimalMark::Point);
        let named = [("tube", "1.2"), ("value", "25,134")];
        assert_eq!(decimal_mark(named.into_iter(), b';'), DecimalMark::Comma);
    }
}
