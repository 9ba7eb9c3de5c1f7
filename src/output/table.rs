//! One table, two faces: aligned text for the terminal, comma-separated values for a spreadsheet.

use super::show::NOT_SEEN;
use crate::domain::units::decimal;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table as TextTable, Width, presets};

/// Widest a text table may be, characters.
const TEXT_WIDTH: u16 = 100;

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A number and the decimals it is shown with.
    Number(f64, usize),
    /// A quantity these readings cannot see.
    NotSeen,
    /// Nothing to say.
    Empty,
}

impl Cell {
    /// Words.
    #[must_use]
    pub fn text(s: impl Into<String>) -> Cell {
        Cell::Text(s.into())
    }

    /// A number, or that it is not seen.
    #[must_use]
    pub fn seen(value: Option<f64>, decimals: usize) -> Cell {
        value.map_or(Cell::NotSeen, |v| Cell::Number(v, decimals))
    }

    /// A number, or nothing.
    #[must_use]
    pub fn known(value: Option<f64>, decimals: usize) -> Cell {
        value.map_or(Cell::Empty, |v| Cell::Number(v, decimals))
    }

    fn shown(&self) -> String {
        match self {
            Cell::Text(s) => s.clone(),
            Cell::Number(v, decimals) if v.is_finite() => decimal(*v, *decimals),
            Cell::Number(..) | Cell::Empty => String::new(),
            Cell::NotSeen => NOT_SEEN.to_string(),
        }
    }

    fn as_value(&self) -> String {
        match self {
            Cell::Text(s) => guarded(s),
            Cell::NotSeen => String::new(),
            other => other.shown(),
        }
    }
}

/// A table with titled columns; units stand in the titles.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    titles: Vec<String>,
    rows: Vec<Vec<Cell>>,
    /// (number of rows before it, what it concerns, words)
    notes: Vec<(usize, String, String)>,
}

impl Table {
    /// An empty table with these column titles.
    #[must_use]
    pub fn new(titles: &[&str]) -> Table {
        Table { titles: titles.iter().map(ToString::to_string).collect(), rows: Vec::new(), notes: Vec::new() }
    }

    /// Adds a row.
    pub fn push(&mut self, row: Vec<Cell>) {
        self.rows.push(row);
    }

    /// Adds columns to the right: their titles, and the cells of each row in order (remarks are no rows).
    pub fn widen(&mut self, titles: &[&str], cells: impl IntoIterator<Item = Vec<Cell>>) {
        self.titles.extend(titles.iter().map(ToString::to_string));
        for (row, more) in self.rows.iter_mut().zip(cells) {
            row.extend(more);
        }
    }

    /// Adds a column to the right with the same cell in every row (remarks are no rows); shorter rows are filled up first.
    pub(crate) fn extend_rows(&mut self, title: &str, cell: &Cell) {
        let before = self.titles.len();
        self.titles.push(title.to_string());
        for row in &mut self.rows {
            row.resize(before, Cell::Empty);
            row.push(cell.clone());
        }
    }

    /// Adds a row that has nothing but a first cell and a remark. In text the remark stands below the table; among values
    /// it stands in a last column `note`.
    pub(crate) fn push_note(&mut self, name: &str, words: &str) {
        self.notes.push((self.rows.len(), name.to_string(), words.to_string()));
    }

    /// True without rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// As aligned text no wider than 100 characters; numbers to the right, words wrapped. A number is never broken over two
    /// lines: a table of too many numbers is wider instead.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut t = TextTable::new();
        t.load_style(presets::NOTHING);
        t.set_content_arrangement(ContentArrangement::Dynamic).set_width(TEXT_WIDTH);
        t.force_no_tty();
        t.set_header(self.titles.iter().map(String::as_str));
        for row in &self.rows {
            let cells = row.iter().map(|c| {
                let side = if matches!(c, Cell::Number(..)) { CellAlignment::Right } else { CellAlignment::Left };
                comfy_table::Cell::new(plain(&c.shown())).set_alignment(side)
            });
            t.add_row(cells);
        }
        let mut lines: Vec<String> = t.lines().collect();
        let whole = |word: &str| lines.iter().any(|l| l.contains(word));
        let words_whole = self.titles.iter().flat_map(|t| t.split_whitespace()).all(whole);
        if !words_whole || !self.numbers().all(|n| whole(&n)) {
            for (i, width) in self.unbroken().into_iter().enumerate() {
                if let Some(column) = t.column_mut(i) {
                    // with the blank on either side
                    column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(width + 2)));
                }
            }
            lines = t.lines().collect();
        }
        let mut out = String::new();
        for line in lines {
            out.push_str(line.trim_end());
            out.push('\n');
        }
        for (_, name, words) in &self.notes {
            out.push_str(&format!(" {}: {words}\n", plain(name)));
        }
        out
    }

    /// Every number as it is shown.
    fn numbers(&self) -> impl Iterator<Item = String> {
        self.rows.iter().flatten().filter(|c| matches!(c, Cell::Number(..))).map(Cell::shown)
    }

    /// Width below which a column would break a number, or a word of its title, over two lines.
    fn unbroken(&self) -> Vec<u16> {
        let length = |s: &str| u16::try_from(s.chars().count()).unwrap_or(TEXT_WIDTH);
        let width = |c: &Cell| if matches!(c, Cell::Number(..)) { length(&c.shown()) } else { 0 };
        let column = |(i, title): (usize, &String)| {
            let words = title.split_whitespace().map(length).max().unwrap_or(0);
            self.rows.iter().filter_map(|r| r.get(i)).map(width).max().unwrap_or(0).max(words)
        };
        self.titles.iter().enumerate().map(column).collect()
    }

    /// As comma-separated values (RFC 4180, LF line ends), numbers with a decimal point; what is not seen is left empty.
    ///
    /// A cell of words that a spreadsheet would take for a formula gets an apostrophe before it.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let mut w = csv::WriterBuilder::new().from_writer(Vec::new());
        let noted = !self.notes.is_empty();
        let mut notes = self.notes.iter().peekable();
        let mut ok = w.write_record(self.titles.iter().map(String::as_str).chain(noted.then_some("note"))).is_ok();
        for i in 0..=self.rows.len() {
            while let Some((_, name, words)) = notes.next_if(|n| n.0 == i) {
                let gap = vec![String::new(); self.titles.len().saturating_sub(1)];
                ok &= w.write_record([guarded(name)].into_iter().chain(gap).chain([guarded(words)])).is_ok();
            }
            let Some(row) = self.rows.get(i) else { break };
            let blank = self.titles.len().saturating_sub(row.len()) + usize::from(noted);
            let cells = row.iter().map(Cell::as_value).chain(std::iter::repeat_n(String::new(), blank));
            ok &= w.write_record(cells).is_ok();
        }
        debug_assert!(ok, "writing to memory cannot fail");
        w.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
    }
}

/// Control characters would move the cursor; they are shown as a space.
fn plain(s: &str) -> String {
    s.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn guarded(s: &str) -> String {
    if s.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{s}") } else { s.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_table_as_text_and_as_values() {
        let mut t = Table::new(&["tube", "bow mm"]);
        t.push(vec![Cell::text("A1"), Cell::Number(1.234, 2)]);
        t.push(vec![Cell::text("=SUM(A1)"), Cell::NotSeen]);
        assert_eq!(t.to_csv(), "tube,bow mm\nA1,1.23\n'=SUM(A1),\n");
        let text = t.to_text();
        assert!(text.contains("1.23") && text.contains("not seen"), "{text}");
    }

    #[test]
    fn a_row_with_nothing_but_a_remark_stands_below_the_text_and_in_a_last_column() {
        let mut t = Table::new(&["tube", "bow mm"]);
        t.push_note("A1", "not measured");
        t.push(vec![Cell::text("A2"), Cell::Number(1.0, 1)]);
        assert_eq!(t.to_csv(), "tube,bow mm,note\nA1,,not measured\nA2,1.0,\n");
        assert!(t.to_text().ends_with(" A1: not measured\n"), "{}", t.to_text());
    }

    #[test]
    fn a_cell_for_every_row_stands_in_a_column_of_its_own() {
        let mut t = Table::new(&["tube", "from mm"]);
        t.push(vec![Cell::text("A1"), Cell::Number(8.0, 1)]);
        t.push(vec![Cell::text("A2")]);
        t.extend_rows("caution", &Cell::text("take care"));
        assert_eq!(t.to_csv(), "tube,from mm,caution\nA1,8.0,take care\nA2,,take care\n");
    }

    #[test]
    fn a_number_is_never_broken_over_two_lines() {
        let titles: Vec<String> = (0..12).map(|i| format!("a title of column {i}")).collect();
        let mut t = Table::new(&titles.iter().map(String::as_str).collect::<Vec<&str>>());
        t.push((0..12).map(|i| Cell::Number(-1234.5678 - f64::from(i), 4)).collect());
        let text = t.to_text();
        assert!((0..12).all(|i| text.contains(&format!("{:.4}", -1234.5678 - f64::from(i)))), "{text}");
    }

    #[test]
    fn long_words_are_wrapped_at_a_hundred_characters() {
        let mut t = Table::new(&["tube", "reason"]);
        t.push(vec![Cell::text("A1"), Cell::text("a long reason ".repeat(20))]);
        assert!(t.to_text().lines().all(|l| l.chars().count() <= 100));
    }
}
