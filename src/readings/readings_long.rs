//! Readings, one to a row: `readings*.csv` or the sheets `readings*`.
//!
//! Columns `tube`, `kind`, `z`, `angle`, `value`; optional `set` (one dial setting or straightedge placement), `sd`,
//! `rig`, and `unit` (the unit of a bare value). Bare numbers are mm and degrees unless the header says otherwise. The
//! same place may be read more than once.

use super::book::Book;
use super::columns::{Column, Columns, Holds};
use super::readings_row::{note_mixed_units, read_rows, value};
use super::row::Need;
use super::table::Table;

const COLUMNS: [Column; 9] = [
    Column::must("tube", Holds::Text),
    Column::must("kind", Holds::Text),
    Column::must("z", Holds::Length),
    Column::must("angle", Holds::Angle),
    Column::must("value", Holds::Length),
    Column::may("set", Holds::Text),
    Column::may("sd", Holds::Length),
    Column::may("rig", Holds::Text),
    Column::may("unit", Holds::Text),
];

/// Reads a table of the long form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::map(table, &COLUMNS, false, &mut book.findings) else { return };
    let Some(at) = columns.get("value") else { return };
    note_mixed_units(table, &columns, &[at], book);
    read_rows(table, &columns, book, |r, kind, unit| {
        let angle = r.angle("angle", "an angle", Need::Must);
        let mm = value(r, at, kind, Need::Must, unit);
        angle.zip(mm).map(|(angle, mm)| (at, angle, mm)).into_iter().collect()
    });
}
