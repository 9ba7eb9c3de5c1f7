//! A table of the user's changed cell by cell, every other byte of it as it was.
//!
//! What is typed at the bench goes into files that the maker also opens himself. So nothing is written anew that was not
//! changed: comments, blank rows, the order of rows and columns, columns nobody reads, line ends, separator, decimal mark and
//! byte-order mark stay. Only the row that changes is written again, in the manner of the file.

use super::catalogue::{Column, Form};
use super::dialect::{decimal_mark, separator};
use crate::domain::units::{AngleUnit, DecimalMark, LengthUnit, Unit, WeightUnit, parse_header};
use csv::StringRecord;

/// Why a table cannot be changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum EditError {
    /// Its bytes are no UTF-8.
    #[error("it is not UTF-8 text: save it as CSV (UTF-8)")]
    NotUtf8,
    /// It has no row of column names, or one without the columns that its form needs.
    #[error("its first row has no column {0}: mend the column names")]
    NoColumn(&'static str),
    /// A quotation mark is opened and never closed.
    #[error("a quotation mark in line {0} is never closed")]
    OpenQuote(usize),
}

/// One stretch of the text.
#[derive(Debug, Clone)]
enum Part {
    /// What is no row: comments, blank lines, a line `sep=;`. With its line end.
    Between(String),
    /// A row as it stands, with its line end, and its cells.
    Row { raw: String, cells: Vec<String> },
}

/// A table as text.
///
/// # Example
/// ```
/// use quarterlight::readings::{Form, TableText};
/// let was = "# my list\ntube;length (mm);who\nA;180,5;me\n";
/// let mut table = TableText::open(was.as_bytes(), Form::Tubes)?;
/// table.push(&[("tube", "B".into()), ("length", table.length(200.5, "length"))]);
/// assert_eq!(table.text(), "# my list\ntube;length (mm);who\nA;180,5;me\nB;200,5;\n");
/// # Ok::<(), quarterlight::readings::EditError>(())
/// ```
#[derive(Debug, Clone)]
pub struct TableText {
    form: Form,
    mark: DecimalMark,
    separator: u8,
    bom: bool,
    end: &'static str,
    header: usize,
    /// Where the columns of its form stand, looked up once.
    columns: Vec<(&'static str, usize)>,
    parts: Vec<Part>,
}

const BOM: &str = "\u{feff}";

impl TableText {
    /// A table with these columns and no rows.
    #[must_use]
    pub fn new(form: Form, headers: &[&str]) -> TableText {
        let cells: Vec<String> = headers.iter().map(|h| (*h).to_string()).collect();
        let mut table = TableText {
            form,
            mark: DecimalMark::Point,
            separator: b',',
            bom: false,
            end: "\n",
            header: 0,
            columns: Vec::new(),
            parts: Vec::new(),
        };
        let raw = table.written(&cells);
        table.parts.push(Part::Row { raw, cells });
        table.find_columns();
        table
    }

    /// The table in the bytes of a file.
    ///
    /// # Errors
    /// [`EditError`]: then nothing of it can be changed.
    pub fn open(bytes: &[u8], form: Form) -> Result<TableText, EditError> {
        let text = std::str::from_utf8(bytes).map_err(|_| EditError::NotUtf8)?;
        let (bom, text) = text.strip_prefix(BOM).map_or((false, text), |rest| (true, rest));
        let (separator, skip) = separator(text);
        let mut parts = Vec::new();
        if skip > 0 {
            parts.push(Part::Between(text[..skip].to_string()));
        }
        parts.extend(records(&text[skip..], separator)?.into_iter().map(|raw| part(raw, separator)));
        let must = form.columns().iter().find(|c| c.required).map_or("tube", |c| c.name);
        let header = parts.iter().position(|p| matches!(p, Part::Row { .. })).ok_or(EditError::NoColumn(must))?;
        let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
        let (mark, columns) = (DecimalMark::Point, Vec::new());
        let mut table = TableText { form, mark, separator, bom, end, header, columns, parts };
        table.find_columns();
        table.mark = table.decimal_mark();
        match form.columns().iter().find(|c| c.required && table.column(c.name).is_none()) {
            Some(missing) => Err(EditError::NoColumn(missing.name)),
            None => Ok(table),
        }
    }

    fn headers(&self) -> &[String] {
        match &self.parts[self.header] {
            Part::Row { cells, .. } => cells,
            Part::Between(_) => &[],
        }
    }

    fn decimal_mark(&self) -> DecimalMark {
        let headers = self.headers();
        let cells = headers.iter().enumerate().flat_map(|(i, h)| self.rows().map(move |r| (h.as_str(), self.at(r, i))));
        decimal_mark(cells, self.separator)
    }

    fn find_columns(&mut self) {
        let names: Vec<String> = self.headers().iter().map(|h| parse_header(h).name).collect();
        let one = |c: &Column| Some((c.name, names.iter().position(|n| c.is_named(n))?));
        self.columns = self.form.columns().iter().filter_map(one).collect();
    }

    fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().find(|c| c.0 == name).map(|c| c.1)
    }

    fn at(&self, row: usize, column: usize) -> &str {
        match &self.parts[row] {
            Part::Row { cells, .. } => cells.get(column).map_or("", |c| c.trim()),
            Part::Between(_) => "",
        }
    }

    /// The rows below the header, each by a number that stands for it until a row is taken away.
    pub fn rows(&self) -> impl Iterator<Item = usize> + '_ {
        (self.header + 1..self.parts.len()).filter(|i| matches!(self.parts[*i], Part::Row { .. }))
    }

    /// The cell of a row, trimmed; empty where the row is shorter or the table has no such column.
    #[must_use]
    pub fn cell(&self, row: usize, column: &str) -> &str {
        self.column(column).map_or("", |c| self.at(row, c))
    }

    /// The marks of decimals that its numbers have.
    #[must_use]
    pub fn mark(&self) -> DecimalMark {
        self.mark
    }

    /// A number in the manner of this file.
    #[must_use]
    pub fn number(&self, x: f64) -> String {
        let text = format!("{}", (x * 1e6).round() / 1e6 + 0.0);
        if self.mark == DecimalMark::Comma { text.replace('.', ",") } else { text }
    }

    /// A length in the unit of its column.
    #[must_use]
    pub fn length(&self, mm: f64, column: &str) -> String {
        let unit = self.unit(column);
        let per = match unit {
            Some(Unit::Length(u)) => u.mm(),
            _ => LengthUnit::Millimetre.mm(),
        };
        self.number(mm / per)
    }

    /// A weight in the unit of its column.
    #[must_use]
    pub fn weight(&self, grams: f64, column: &str) -> String {
        let per = match self.unit(column) {
            Some(Unit::Weight(u)) => u.grams(),
            _ => WeightUnit::Gram.grams(),
        };
        self.number(grams / per)
    }

    /// An angle of so many degrees in the unit of its column.
    #[must_use]
    pub fn angle(&self, deg: f64, column: &str) -> String {
        self.number(if self.unit(column) == Some(Unit::Angle(AngleUnit::Radian)) { deg.to_radians() } else { deg })
    }

    /// The length in a cell, mm, where it is a bare number: of the unit of its column, mm where that names none.
    #[must_use]
    pub fn length_mm(&self, row: usize, column: &str) -> Option<f64> {
        let per = if let Some(Unit::Length(u)) = self.unit(column) { u.mm() } else { 1.0 };
        Some(self.bare(row, column)? * per)
    }

    /// The angle in a cell, degrees, likewise.
    #[must_use]
    pub fn angle_deg(&self, row: usize, column: &str) -> Option<f64> {
        let angle = self.bare(row, column)?;
        Some(if self.unit(column) == Some(Unit::Angle(AngleUnit::Radian)) { angle.to_degrees() } else { angle })
    }

    fn bare(&self, row: usize, column: &str) -> Option<f64> {
        self.cell(row, column).replace(',', ".").parse().ok()
    }

    fn unit(&self, column: &str) -> Option<Unit> {
        self.column(column).and_then(|c| parse_header(&self.headers()[c]).unit)
    }

    /// Adds a column at the right, where there is none of that meaning.
    pub fn have(&mut self, name: &'static str) {
        if self.column(name).is_none() {
            let mut cells = self.headers().to_vec();
            cells.push(name.to_string());
            self.put(self.header, cells);
            self.find_columns();
        }
    }

    /// Writes cells of a row; columns must be there ([`TableText::have`]), others are left out.
    pub fn set(&mut self, row: usize, cells: &[(&str, String)]) {
        let Part::Row { cells: now, .. } = &self.parts[row] else { return };
        let now = self.filled(now.clone(), cells);
        self.put(row, now);
    }

    /// A new row at the end.
    pub fn push(&mut self, cells: &[(&str, String)]) {
        let row = self.filled(vec![String::new(); self.headers().len()], cells);
        if let Some(Part::Between(last) | Part::Row { raw: last, .. }) = self.parts.last_mut()
            && !last.ends_with(['\n', '\r'])
        {
            last.push_str(self.end);
        }
        let raw = self.written(&row);
        self.parts.push(Part::Row { raw, cells: row });
    }

    /// Takes a row away.
    pub fn remove(&mut self, row: usize) {
        if row != self.header && matches!(self.parts[row], Part::Row { .. }) {
            self.parts.remove(row);
        }
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::from(if self.bom { BOM } else { "" });
        for part in &self.parts {
            let (Part::Between(raw) | Part::Row { raw, .. }) = part;
            out.push_str(raw);
        }
        out
    }

    fn filled(&self, mut row: Vec<String>, cells: &[(&str, String)]) -> Vec<String> {
        for (name, text) in cells {
            if let Some(column) = self.column(name) {
                if row.len() <= column {
                    row.resize(column + 1, String::new());
                }
                row[column].clone_from(text);
            }
        }
        row
    }

    fn put(&mut self, row: usize, cells: Vec<String>) {
        let raw = self.written(&cells);
        self.parts[row] = Part::Row { raw, cells };
    }

    fn written(&self, cells: &[String]) -> String {
        // a name that begins like a comment is put in quotes
        let mut out = csv::WriterBuilder::new()
            .delimiter(self.separator)
            .comment(Some(b'#'))
            .flexible(true)
            .from_writer(Vec::new());
        out.write_record(cells).unwrap_or_else(|e| unreachable!("memory takes a row of any length: {e}"));
        let bytes = out.into_inner().unwrap_or_else(|e| unreachable!("memory takes all that is written: {e}"));
        let text =
            String::from_utf8(bytes).unwrap_or_else(|e| unreachable!("texts between ASCII marks are a text: {e}"));
        text.trim_end_matches('\n').to_string() + self.end
    }
}

/// The lines of a text, those that a quoted cell runs over taken together, each with its line end.
fn records(text: &str, separator: u8) -> Result<Vec<&str>, EditError> {
    let bytes = text.as_bytes();
    let (mut out, mut from, mut line, mut begun) = (Vec::new(), 0, 1, 1);
    let (mut quoted, mut fresh, mut comment, mut i) = (false, true, false, 0);
    while i < bytes.len() {
        let b = bytes[i];
        if i == from {
            comment = text[from..].trim_start_matches([' ', '\t']).starts_with('#');
        }
        let newline = b == b'\n' || (b == b'\r' && bytes.get(i + 1) != Some(&b'\n'));
        line += usize::from(newline);
        if quoted {
            if b == b'"' && bytes.get(i + 1) == Some(&b'"') {
                i += 1;
            } else if b == b'"' {
                quoted = false;
            }
        } else if newline {
            out.push(&text[from..=i]);
            (from, begun, fresh) = (i + 1, line, true);
            i += 1;
            continue;
        } else if b == b'"' && fresh && !comment {
            quoted = true;
        }
        fresh = b == separator;
        i += 1;
    }
    if from < text.len() {
        out.push(&text[from..]);
    }
    if quoted { Err(EditError::OpenQuote(begun)) } else { Ok(out) }
}

/// What one of them is.
fn part(raw: &str, separator: u8) -> Part {
    let line = raw.trim_end_matches(['\n', '\r']);
    let blank = line.chars().all(|c| c.is_whitespace() || c == char::from(separator));
    if line.trim_start().starts_with('#') || blank {
        return Part::Between(raw.to_string());
    }
    if !line.contains('"') {
        let cells = line.split(char::from(separator)).map(str::to_string).collect();
        return Part::Row { raw: raw.to_string(), cells };
    }
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator).from_reader(line.as_bytes());
    let mut record = StringRecord::new();
    let read = reader.read_record(&mut record);
    read.unwrap_or_else(|e| unreachable!("a text held in memory is read: {e}"));
    Part::Row { raw: raw.to_string(), cells: record.iter().map(str::to_string).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn only_the_row_that_changes_is_written_again() {
        let was = "\u{feff}sep=;\r\n# note\r\n tube ;kind;z;angle;value;why not\r\n\r\nA; runout ;10;0;0,5;\"a;\r\nb\"\r\n\"#B\";runout;10;0;0,7;\r\n";
        let mut t = TableText::open(was.as_bytes(), Form::Readings).expect("a table");
        assert_eq!(t.text(), was);
        let rows: Vec<usize> = t.rows().collect();
        assert_eq!((rows.len(), t.cell(rows[0], "kind"), t.cell(rows[1], "tube")), (2, "runout", "#B"));
        assert_eq!(t.number(0.25), "0,25");
        t.set(rows[1], &[("value", t.number(-0.7)), ("no such column", "x".into())]);
        assert_eq!(t.text(), was.replace("\"#B\";runout;10;0;0,7;", "\"#B\";runout;10;0;-0,7;"));
        t.have("set");
        t.set(rows[0], &[("set", "s1".into())]);
        assert!(t.text().contains(" tube ;kind;z;angle;value;why not;set\r\n"), "{}", t.text());
        assert!(t.text().contains("A; runout ;10;0;0,5;\"a;\r\nb\";s1\r\n"), "{}", t.text());
        t.remove(rows[0]);
        assert!(!t.text().contains("A;") && t.text().contains("# note\r\n"));
    }

    #[test]
    fn lengths_and_weights_are_written_in_the_unit_of_their_column() {
        let mut t = TableText::open(b"tube,length (in),weight_oz", Form::Tubes).expect("a table without rows");
        t.push(&[
            ("tube", "A".into()),
            ("length", t.length(254.0, "length")),
            ("weight", t.weight(28.349_523_125, "weight")),
        ]);
        assert_eq!(t.text(), "tube,length (in),weight_oz\nA,10,1\n");
        assert_eq!(t.length(25.4, "wall"), "25.4");
    }

    #[test]
    fn what_cannot_be_changed_says_why() {
        let open = |bytes: &[u8]| TableText::open(bytes, Form::Tubes).map(|t| t.text());
        assert_eq!(open(b"tube,length\nz\xe9,1\n"), Err(EditError::NotUtf8));
        assert_eq!(open(b""), Err(EditError::NoColumn("tube")));
        assert_eq!(open(b"tube,wall\n"), Err(EditError::NoColumn("length")));
        assert_eq!(open(b"tube,length\nA,\"1\nB,2\n"), Err(EditError::OpenQuote(2)));
        // an inch mark behind a number opens nothing
        assert!(open(b"tube,length\nA,7 1/2\"\n").is_ok());
    }

    proptest! {
        #[test]
        fn any_text_is_given_back_as_it_came_and_what_is_set_is_read_again(
            text in "[ab,;#\"\\r\\n\t é]{0,60}", value in "[ -~é]{0,12}"
        ) {
            let all = format!("tube,kind,z,angle,value\n{text}");
            if let Ok(mut t) = TableText::open(all.as_bytes(), Form::Readings) {
                prop_assert_eq!(t.text(), all);
                t.push(&[("tube", "N".into()), ("value", value.clone())]);
                let again = TableText::open(t.text().as_bytes(), Form::Readings);
                let again = again.expect("what was written can be opened");
                let last = again.rows().last().expect("pushed");
                prop_assert_eq!((again.cell(last, "tube"), again.cell(last, "value")), ("N", value.trim()));
            }
        }
    }
}
