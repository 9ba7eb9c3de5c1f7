//! One form for a CSV file and a spreadsheet sheet: headers, and rows that know their line.
//!
//! The first row that is neither blank nor a comment holds the headers. Blank rows and rows beginning with `#` are
//! skipped (a name that itself begins with `#` can be put in quotes). Cells are trimmed. Trailing blank columns and
//! cells are ignored; missing cells at the end of a row are empty.

use super::catalogue::is_key_header;
use super::dialect::{decimal_mark, decode, separator};
use super::findings::{Findings, printable, quoted};
use super::name::bad_name;
use crate::domain::{Place, counted, units::DecimalMark};
use csv::StringRecord;
use std::sync::Arc;

/// How often reading starts again behind a quotation mark that is never closed, before the file is given up.
const MAX_RUNAWAYS: usize = 1000;

/// Text put where a spreadsheet holds a date instead of a number.
pub(super) const DATE_CELL: &str = "(a date or time)";

/// A table.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) file: Arc<str>,
    pub(super) header_line: u64,
    pub(super) headers: Vec<String>,
    pub(super) rows: Vec<Row>,
    pub(super) mark: DecimalMark,
    /// True for a sheet, whose cells have an address.
    pub(super) sheet: bool,
    /// Lines of rows that hold separators and nothing else, and of comments; ascending.
    between: Between,
}

/// Lines that are no rows.
#[derive(Debug, Default)]
struct Between {
    blank: Vec<u64>,
    comments: Vec<u64>,
}

/// What stands between two rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Gap {
    /// Rows without a value.
    pub(super) blank: usize,
    /// The first line on which nothing stands, not even a separator.
    pub(super) empty: Option<u64>,
}

/// One row of a table.
#[derive(Debug)]
pub(super) struct Row {
    pub(super) line: u64,
    cells: StringRecord,
}

impl Row {
    /// The trimmed cell; empty beyond the end of the row.
    pub(super) fn cell(&self, column: usize) -> &str {
        self.cells.get(column).unwrap_or("").trim()
    }
}

impl Table {
    /// A table from the bytes of a CSV file; `None` with a finding when there is none in it.
    pub(super) fn from_csv(bytes: &[u8], file: &Arc<str>, findings: &mut Findings) -> Option<Table> {
        let text = decode(bytes, file, findings)?;
        let (mark, skip) = separator(&text);
        let mut between = Between::default();
        let mut rows = csv_rows(&text, mark, skip, file, &mut between, findings).into_iter();
        let header = rows.next();
        let table = Table::build(file, header, rows.collect(), mark, false, findings)?;
        Some(Table { between, ..table })
    }

    /// A table from the filled rows of a sheet: line, then cells from column A on.
    pub(super) fn from_sheet(rows: Vec<(u64, Vec<String>)>, file: &Arc<str>, findings: &mut Findings) -> Option<Table> {
        let is_comment =
            |r: &Row| r.cells.iter().find(|c| !c.trim().is_empty()).is_some_and(|c| c.trim().starts_with('#'));
        let rows = rows.into_iter().map(|(line, cells)| Row { line, cells: StringRecord::from(cells) });
        let (comments, rows): (Vec<Row>, Vec<Row>) = rows.filter(|r| !is_blank(&r.cells)).partition(is_comment);
        let mut rows = rows.into_iter();
        let header = rows.next();
        let table = Table::build(file, header, rows.collect(), b',', true, findings)?;
        let comments = comments.iter().map(|r| r.line).collect();
        Some(Table { between: Between { blank: Vec::new(), comments }, ..table })
    }

    fn build(
        file: &Arc<str>,
        header: Option<Row>,
        rows: Vec<Row>,
        separator: u8,
        sheet: bool,
        findings: &mut Findings,
    ) -> Option<Table> {
        let Some(header) = header else {
            let place = Place { file: file.clone(), line: 0, column: String::new() };
            findings.error(place, None, "no rows", "a header row and rows of values", "fill it in, or take it away");
            return None;
        };
        let mut headers: Vec<String> = header.cells.iter().map(|c| printable(c).trim().to_string()).collect();
        while headers.last().is_some_and(String::is_empty) {
            headers.pop();
        }
        if rows.is_empty() {
            let place = Place { file: file.clone(), line: header.line, column: String::new() };
            findings.note(place, None, "column names and nothing below them", "rows of values", "fill it in");
        }
        let mark = {
            let mut seen =
                headers.iter().enumerate().flat_map(|(i, h)| rows.iter().map(move |r| (h.as_str(), r.cell(i))));
            decimal_mark(&mut seen, separator)
        };
        let between = Between::default();
        Some(Table { file: file.clone(), header_line: header.line, headers, rows, mark, sheet, between })
    }

    /// Where a cell stands; without a column, the whole line.
    pub(super) fn place(&self, line: u64, column: Option<usize>) -> Place {
        let name = match column {
            None => String::new(),
            Some(i) => {
                let header = self.headers.get(i).map_or("", String::as_str);
                let address = if self.sheet { format!("{}{line}", letters(i)) } else { format!("{}", i + 1) };
                match (header, self.sheet) {
                    ("", _) => address,
                    (h, true) => format!("{h} ({address})"),
                    (h, false) => h.to_string(),
                }
            }
        };
        Place { file: self.file.clone(), line, column: name }
    }

    /// What stands between two lines that hold rows.
    pub(super) fn gap(&self, above: u64, below: u64) -> Gap {
        let (from, to) = (above.saturating_add(1), below);
        let within = |list: &[u64]| {
            let at = |line: u64| list.partition_point(|l| *l < line);
            at(from)..at(to).max(at(from))
        };
        let comments = &self.between.comments[within(&self.between.comments)];
        let lines = usize::try_from(to.saturating_sub(from)).unwrap_or(usize::MAX);
        if self.sheet {
            return Gap { blank: lines.saturating_sub(comments.len()), empty: None };
        }
        let blank = &self.between.blank[within(&self.between.blank)];
        let known = |line: &u64| comments.binary_search(line).is_ok() || blank.binary_search(line).is_ok();
        let empty = if lines > comments.len() + blank.len() { (from..to).find(|l| !known(l)) } else { None };
        Gap { blank: blank.len(), empty }
    }

    /// The first filled cell beyond the headers, if any.
    pub(super) fn overflow<'r>(&self, row: &'r Row) -> Option<(usize, &'r str)> {
        (self.headers.len()..row.cells.len()).map(|i| (i, row.cell(i))).find(|(_, c)| !c.is_empty())
    }
}

/// Spreadsheet letters of a column counted from 0.
fn letters(column: usize) -> String {
    let mut out = Vec::new();
    let mut n = column + 1;
    while n > 0 {
        let digit = u8::try_from((n - 1) % 26).unwrap_or(0);
        out.push(char::from(b'A' + digit));
        n = (n - 1) / 26;
    }
    out.iter().rev().collect()
}

fn is_blank(record: &StringRecord) -> bool {
    record.iter().all(|c| c.trim().is_empty())
}

/// Every row that is neither blank nor a comment, the header first.
fn csv_rows(
    text: &str,
    mark: u8,
    skip: usize,
    file: &Arc<str>,
    between: &mut Between,
    findings: &mut Findings,
) -> Vec<Row> {
    let mut scan = Scan { text, from: skip, at: 0, line: 1, commented: Vec::new() };
    let mut rows: Vec<Row> = Vec::new();
    let mut keys: Vec<bool> = Vec::new();
    let mut runaways = 0;
    'again: loop {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(mark)
            .comment(Some(b'#'))
            .from_reader(&text.as_bytes()[scan.from..]);
        let mut record = StringRecord::new();
        // the text is valid UTF-8 and held in memory, so a read error would be our own: reading just stops
        while reader.read_record(&mut record).unwrap_or(false) {
            let byte = record.position().map_or(0, csv::Position::byte);
            let line = scan.record_at(scan.from + usize::try_from(byte).unwrap_or(usize::MAX));
            if text[scan.at..].trim_start_matches([' ', '\t']).starts_with('#') {
                between.comments.push(line);
                continue;
            }
            if is_blank(&record) {
                // what has no separator in it holds no cell that was left empty
                if record.len() > 1 {
                    between.blank.push(line);
                }
                continue;
            }
            let broken = record.iter().position(|c| c.contains('\n'));
            if let Some(column) = broken.filter(|c| rows.is_empty() || keys.get(*c).copied().unwrap_or(true)) {
                report_runaway(&record, column, line, rows.first(), file, findings);
                runaways += 1;
                scan.from = text[scan.at..].find('\n').map_or(text.len(), |n| scan.at + n + 1);
                if runaways < MAX_RUNAWAYS {
                    continue 'again;
                }
                let found = format!("{runaways} quotation marks that are not closed");
                let fix = "the rows below were not read; export the table again, without quotation marks";
                let place = Place { file: file.clone(), line: line + 1, column: String::new() };
                findings.error(place, None, found, "a table", fix);
                break;
            }
            if rows.is_empty() {
                keys = record.iter().map(is_key_header).collect();
            }
            rows.push(Row { line, cells: std::mem::take(&mut record) });
        }
        break;
    }
    between.comments.extend(scan.commented.iter().map(|c| c.0));
    between.comments.sort_unstable();
    report_comments(&scan.commented, rows.first(), mark, file, findings);
    rows
}

/// Keeps the line number while records go by.
struct Scan<'t> {
    text: &'t str,
    /// Where the present reader started.
    from: usize,
    /// Start of the present record.
    at: usize,
    /// Line of `at`.
    line: u64,
    /// Comment lines passed: line and text.
    commented: Vec<(u64, &'t str)>,
}

impl Scan<'_> {
    /// Moves to the record that begins at or, behind blank and comment lines, after `byte`; returns its line.
    fn record_at(&mut self, byte: usize) -> u64 {
        let byte = byte.min(self.text.len());
        self.line += newlines(&self.text[self.at..byte.max(self.at)]);
        self.at = byte.max(self.at);
        loop {
            let rest = &self.text[self.at..];
            let (line, more) = rest.split_once('\n').map_or((rest, false), |(l, _)| (l, true));
            if !more || !(line.is_empty() || line.starts_with('#')) {
                return self.line;
            }
            if line.starts_with('#') {
                self.commented.push((self.line, line));
            }
            self.at += line.len() + 1;
            self.line += 1;
        }
    }
}

fn newlines(text: &str) -> u64 {
    text.bytes().filter(|b| *b == b'\n').count() as u64
}

/// A quoted cell that runs over lines where none can: most often a lone `"` for "the same as above".
fn report_runaway(
    record: &StringRecord,
    column: usize,
    line: u64,
    header: Option<&Row>,
    file: &Arc<str>,
    findings: &mut Findings,
) {
    let name = header.map_or("", |h| h.cell(column)).to_string();
    let place =
        Place { file: file.clone(), line, column: if name.is_empty() { (column + 1).to_string() } else { name } };
    let tube_column = header.and_then(|h| h.cells.iter().position(|c| c.trim().eq_ignore_ascii_case("tube")));
    let tube =
        tube_column.and_then(|i| record.get(i)).map(str::trim).filter(|t| !t.is_empty() && bad_name(t).is_none());
    let found =
        format!("a quotation mark that is not closed on its line, before {}", quoted(record.get(column).unwrap_or("")));
    let fix = "write the value out instead of a ditto mark; put inch marks behind the number (25\")";
    findings.error(place, tube, found, "a value on one line", fix);
}

/// Commented lines with as many cells as a row may be names that begin with `#`, which would else vanish unseen.
fn report_comments(lines: &[(u64, &str)], header: Option<&Row>, mark: u8, file: &Arc<str>, findings: &mut Findings) {
    let Some(columns) = header.map(|h| h.cells.len()).filter(|n| *n > 2) else { return };
    let header_line = header.map_or(0, |h| h.line);
    let like_rows: Vec<u64> = lines
        .iter()
        .filter(|(line, text)| *line > header_line && text.bytes().filter(|b| *b == mark).count() + 1 == columns)
        .map(|(line, _)| *line)
        .collect();
    let Some(first) = like_rows.first() else { return };
    let place = Place { file: file.clone(), line: *first, column: String::new() };
    let found = format!("{} beginning with #", counted(like_rows.len(), "row"));
    let fix = "skipped as comments; to use a name that begins with #, put it in quotes: \"#1\"";
    findings.note(place, None, found, "rows of values, or comments", fix);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> (Option<Table>, Vec<crate::domain::Finding>) {
        let mut findings = Findings::default();
        let table = Table::from_csv(text.as_bytes(), &"t.csv".into(), &mut findings);
        (table, findings.finish())
    }

    #[test]
    fn lines_are_those_an_editor_shows() {
        let (t, f) = table("# c\n\ntube,note,z\n\nA,x,1\n  \n# d\nB,\"two\nlines\",2\nC,,3\n");
        let t = t.expect("a table");
        let lines: Vec<u64> = t.rows.iter().map(|r| r.line).collect();
        assert_eq!((t.header_line, lines), (3, vec![5, 8, 10]), "{f:?}");
        assert_eq!(t.rows[1].cell(1), "two\nlines");
    }

    #[test]
    fn a_ditto_mark_does_not_swallow_the_rows_behind_it() {
        let (t, f) =
            table("tube,kind,value\nA,diameter,25\nA,diameter,\"\nB,diameter,25\nB,diameter,\"\nC,diameter,24\n");
        let t = t.expect("a table");
        let names: Vec<&str> = t.rows.iter().map(|r| r.cell(0)).collect();
        assert_eq!(names, ["A", "B", "C"]);
        assert_eq!(
            f.iter().map(|f| (f.place.line, f.tube.as_deref())).collect::<Vec<_>>(),
            [(3, Some("A")), (5, Some("B"))]
        );
    }

    #[test]
    fn inch_marks_and_trailing_blanks_are_ordinary() {
        let (t, f) = table("tube,value,,\nA,2 5/8\",,\nB,\"2 5/8\"\"\",,\nC\n");
        let t = t.expect("a table");
        assert!(f.is_empty(), "{f:?}");
        assert_eq!(t.headers, ["tube", "value"]);
        assert_eq!((t.rows[0].cell(1), t.rows[1].cell(1), t.rows[2].cell(1)), ("2 5/8\"", "2 5/8\"", ""));
        assert!(t.overflow(&t.rows[0]).is_none());
    }

    #[test]
    fn names_that_look_like_comments_are_pointed_out() {
        let (t, f) = table("tube,kind,value\n#1,diameter,25\n\"#2\",diameter,25\n# plain\n");
        assert_eq!(t.expect("a table").rows.len(), 1);
        assert_eq!(f.len(), 1, "{f:?}");
        assert_eq!(f[0].place.line, 2);
    }

    #[test]
    fn cells_have_addresses() {
        assert_eq!([letters(0), letters(25), letters(26), letters(16383)], ["A", "Z", "AA", "XFD"]);
    }
}
