//! How large a sheet of an `.ods` workbook would be laid out, told from its markup before it is: repeated rows and columns
//! let a few kilobytes stand for thousands of millions of cells.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::io::BufRead;

/// The largest sheet: columns up to the last filled one times rows up to the last filled one. Markup that cannot be followed
/// counts as far as it could: the reader of the workbook tells of it.
pub(super) fn largest_sheet(content: impl BufRead) -> u64 {
    let mut reader = Reader::from_reader(content);
    let (mut buffer, mut sheet, mut largest) = (Vec::new(), Sheet::default(), 0);
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(e)) => sheet.open(&e, false),
            Ok(Event::Empty(e)) => sheet.open(&e, true),
            Ok(Event::Text(_) | Event::CData(_)) => sheet.filled |= sheet.in_cell,
            Ok(Event::End(e)) => match e.local_name().as_ref() {
                "table-cell" | "covered-table-cell" => sheet.close_cell(),
                "table-row" => sheet.close_row(),
                "table" => {
                    largest = largest.max(sheet.rows_filled.saturating_mul(sheet.width));
                    sheet = Sheet::default();
                }
                _ => {}
            },
            Ok(Event::Eof) | Err(_) => return largest.max(sheet.rows_filled.saturating_mul(sheet.width)),
            Ok(_) => {}
        }
    }
}

#[derive(Default)]
struct Sheet {
    /// columns up to the last filled one
    width: u64,
    rows: u64,
    rows_filled: u64,
    // of the row
    repeated: u64,
    columns: u64,
    row_filled: bool,
    // of the cell
    in_cell: bool,
    filled: bool,
    cells: u64,
}

impl Sheet {
    fn open(&mut self, e: &BytesStart<'_>, empty: bool) {
        match e.local_name().as_ref() {
            "table-row" => {
                self.repeated = number(e, "number-rows-repeated");
                (self.columns, self.row_filled) = (0, false);
                if empty {
                    self.close_row();
                }
            }
            "table-cell" | "covered-table-cell" => {
                self.cells = number(e, "number-columns-repeated");
                self.filled = e.attributes().flatten().any(|a| a.key.local_name().as_ref() == "value-type");
                self.in_cell = true;
                if empty {
                    self.close_cell();
                }
            }
            _ => {}
        }
    }

    fn close_cell(&mut self) {
        self.columns = self.columns.saturating_add(self.cells);
        if self.filled {
            self.width = self.width.max(self.columns);
            self.row_filled = true;
        }
        self.in_cell = false;
    }

    fn close_row(&mut self) {
        self.rows = self.rows.saturating_add(self.repeated);
        if self.row_filled {
            self.rows_filled = self.rows;
        }
    }
}

/// A count among the attributes of a tag; 1 when it is not there.
fn number(e: &BytesStart<'_>, name: &str) -> u64 {
    let mut found = e.attributes().flatten().filter(|a| a.key.local_name().as_ref() == name);
    found.next().and_then(|a| a.value.parse().ok()).unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(rows: &str) -> u64 {
        largest_sheet(format!("<o:doc xmlns:o='o' xmlns:t='t'><t:table>{rows}</t:table></o:doc>").as_bytes())
    }

    #[test]
    fn only_what_is_filled_counts_however_often_it_is_repeated() {
        let one = "<t:table-cell o:value-type='float'/>";
        assert_eq!(of(&format!("<t:table-row>{one}{one}</t:table-row>")), 2);
        // as every saved sheet ends: empty cells to the last column, empty rows to the last
        let blank = "<t:table-row t:number-rows-repeated='1048000'><t:table-cell t:number-columns-repeated='16384'/></t:table-row>";
        assert_eq!(
            of(&format!("<t:table-row>{one}<t:table-cell t:number-columns-repeated='16383'/></t:table-row>{blank}")),
            1
        );
        // an empty row before a filled one is laid out
        assert_eq!(of(&format!("{blank}<t:table-row>{one}</t:table-row>")), 1_048_001);
        let far = "<t:table-row><t:table-cell t:number-columns-repeated='16383'/><t:table-cell><x>1</x></t:table-cell></t:table-row>";
        assert_eq!(of(&far.repeat(3)), 3 * 16_384);
        let many = "<t:table-row t:number-rows-repeated='1048576'><t:table-cell o:value-type='float' t:number-columns-repeated='16384'/></t:table-row>";
        assert_eq!(of(many), 1_048_576 * 16_384);
        assert_eq!(largest_sheet(&b"<t:table><t:table-row><"[..]), 0);
    }
}
