//! Workbooks: `.xlsx` and `.ods`.
//!
//! Sheets named `tubes`, `readings*` (any number), `marks`, `cuts` and `lot` are read as the files of those names; a workbook
//! with one sheet of any other name is taken for readings. The sheet `lot` has rows of key and value (`name`,
//! `blank_length`, `rig.caliper.sd`), with or without a column for the section. Cells may be numbers or texts; formulas
//! count with the value last computed; fractions must be typed as text, or the spreadsheet turns them into dates.

use super::findings::{Findings, quoted, whole_file};
use super::settings::{Entry, Value};
use super::table::{DATE_CELL, Table};
use super::unpacked::too_large;
use calamine::{Data, DataRef, Ods, Reader, Xlsx};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// Most filled cells read from one sheet; and most cells from column A to the last filled one, over all rows: a cell far out
/// in one row is nothing, in every row it is.
const MAX_CELLS: usize = 5_000_000;

/// Filled rows of a sheet: line, then the cells from column A on.
type SheetRows = Vec<(u64, Vec<String>)>;
/// Every sheet's name with its rows, or what is wrong with it.
type Sheets = Vec<(String, Result<SheetRows, String>)>;

/// A workbook taken apart.
pub(super) struct Workbook {
    pub(super) sheets: Sheets,
}

impl Workbook {
    /// Its sheets; `None` with a finding when the workbook cannot be opened.
    pub(super) fn open(bytes: &[u8], file: &Arc<str>, findings: &mut Findings) -> Option<Workbook> {
        let fix = "open it in the spreadsheet program and save it again as .xlsx or .ods";
        if let Some(found) = too_large(bytes) {
            let fix = "leave out what is not readings, or save the sheets as CSV files";
            findings.error(whole_file(file), None, found, "at most 200 million bytes unpacked, in cells of words", fix);
            return None;
        }
        // the workbook readers were not written for hostile bytes: whatever they do, it must end as a finding
        match catch_unwind(AssertUnwindSafe(|| open(bytes, file))) {
            Ok(Ok(sheets)) => Some(Workbook { sheets }),
            Ok(Err(message)) => {
                findings.error(
                    whole_file(file),
                    None,
                    "a workbook that cannot be opened",
                    format!("a workbook ({message})"),
                    fix,
                );
                None
            }
            Err(_) => {
                findings.error(whole_file(file), None, "a broken workbook", "a workbook", fix);
                None
            }
        }
    }
}

fn open(bytes: &[u8], file: &str) -> Result<Sheets, String> {
    let cursor = Cursor::new(bytes.to_vec());
    if file.to_lowercase().ends_with(".ods") {
        let mut book: Ods<_> =
            calamine::open_workbook_from_rs(cursor).map_err(|e: calamine::OdsError| e.to_string())?;
        Ok(book.sheet_names().into_iter().map(|n| (n.clone(), ods_rows(&mut book, &n))).collect())
    } else {
        let mut book: Xlsx<_> =
            calamine::open_workbook_from_rs(cursor).map_err(|e: calamine::XlsxError| e.to_string())?;
        Ok(book.sheet_names().into_iter().map(|n| (n.clone(), xlsx_rows(&mut book, &n))).collect())
    }
}

/// Cell by cell, because a single stray cell far out would make a dense range enormous.
fn xlsx_rows(book: &mut Xlsx<Cursor<Vec<u8>>>, name: &str) -> Result<SheetRows, String> {
    let mut reader = book.worksheet_cells_reader(name).map_err(|e| e.to_string())?;
    let mut sparse = Sparse::default();
    while let Some(cell) = reader.next_cell().map_err(|e| e.to_string())? {
        let text = match cell.get_value() {
            DataRef::SharedString(s) => (*s).to_string(),
            other => cell_text(&Data::from(other.clone())),
        };
        sparse.put(cell.get_position(), text)?;
    }
    sparse.rows()
}

fn ods_rows(book: &mut Ods<Cursor<Vec<u8>>>, name: &str) -> Result<SheetRows, String> {
    let range = book.worksheet_range(name).map_err(|e| e.to_string())?;
    let (row, column) = range.start().unwrap_or((0, 0));
    let mut sparse = Sparse::default();
    for (r, c, cell) in range.used_cells() {
        let at = (u32::try_from(r).unwrap_or(u32::MAX), u32::try_from(c).unwrap_or(u32::MAX));
        sparse.put((row.saturating_add(at.0), column.saturating_add(at.1)), cell_text(cell))?;
    }
    sparse.rows()
}

#[derive(Default)]
struct Sparse {
    rows: BTreeMap<u32, Vec<(u32, String)>>,
    cells: usize,
}

impl Sparse {
    fn put(&mut self, (row, column): (u32, u32), text: String) -> Result<(), String> {
        if text.trim().is_empty() {
            return Ok(());
        }
        self.cells += 1;
        if self.cells > MAX_CELLS || column >= 16_384 {
            return Err(format!("more than {MAX_CELLS} cells"));
        }
        self.rows.entry(row).or_default().push((column, text));
        Ok(())
    }

    fn rows(self) -> Result<SheetRows, String> {
        let width = |cells: &Vec<(u32, String)>| cells.iter().map(|c| c.0 as usize + 1).max().unwrap_or(0);
        if self.rows.values().map(width).sum::<usize>() > MAX_CELLS {
            return Err(format!("cells far out, in rows that would hold more than {MAX_CELLS} together"));
        }
        let fill = |cells: Vec<(u32, String)>| {
            let mut row: Vec<String> = Vec::new();
            for (column, text) in cells {
                let i = usize::try_from(column).unwrap_or(0);
                if row.len() <= i {
                    row.resize(i + 1, String::new());
                }
                row[i] = text;
            }
            row
        };
        Ok(self.rows.into_iter().map(|(r, cells)| (u64::from(r) + 1, fill(cells))).collect())
    }
}

/// A cell as the text a maker would have typed into a CSV file.
fn cell_text(cell: &Data) -> String {
    match cell {
        Data::Empty => String::new(),
        Data::String(s) => s.clone(),
        Data::Int(i) => i.to_string(),
        Data::Float(x) => x.to_string(),
        Data::Bool(b) => b.to_string(),
        Data::DateTime(_) | Data::DateTimeIso(_) | Data::DurationIso(_) => DATE_CELL.to_string(),
        Data::Error(e) => format!("(error {e})"),
    }
}

/// The rows of the sheet `lot` as settings.
pub(super) fn settings(table: &Table, header_is_setting: bool, findings: &mut Findings) -> Vec<Entry> {
    let named = |name: &str| table.headers.iter().position(|h| h.eq_ignore_ascii_case(name));
    let (section, key, value) = match (named("section"), named("key"), named("value")) {
        (section, Some(key), Some(value)) => (section, key, value),
        _ => (None, 0, 1),
    };
    let mut entries = Vec::new();
    let mut push = |line: u64, cell: &dyn Fn(usize) -> String| {
        let (mut in_section, mut name) = (section.map_or(String::new(), cell), cell(key));
        if in_section.is_empty()
            && let Some((before, after)) = name.rsplit_once('.')
        {
            (in_section, name) = (before.to_string(), after.to_string());
        }
        let place = table.place(line, Some(value));
        let text = cell(value);
        let bare = in_section.trim_matches(['[', ']']);
        let is_named = bare.starts_with("rig.") || bare.starts_with("instrument.");
        if text.is_empty() && name.is_empty() && is_named {
            // a rig or a set of which nothing is stated is declared all the same
            let in_section = in_section.trim_matches(['[', ']']).to_string();
            entries.push(Entry { section: in_section, key: name, value: Value::Cell(text), place, mark: table.mark });
        } else if text.is_empty() {
            let fix = "ignored: the default holds";
            findings.note(place, None, format!("no value for {}", quoted(&name)), "a value", fix);
        } else if !name.is_empty() {
            let in_section = in_section.trim_matches(['[', ']']).to_string();
            entries.push(Entry { section: in_section, key: name, value: Value::Cell(text), place, mark: table.mark });
        }
    };
    if header_is_setting {
        push(table.header_line, &|i| table.headers.get(i).cloned().unwrap_or_default());
    }
    for row in &table.rows {
        push(row.line, &|i| row.cell(i).to_string());
    }
    entries
}

/// True when the first row of a sheet `lot` is a setting and not a header.
pub(super) fn first_row_is_setting(table: &Table) -> bool {
    !table.headers.iter().any(|h| h.eq_ignore_ascii_case("key"))
}
