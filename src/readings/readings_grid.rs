//! Readings, one station to a row: `readings*.csv` or the sheets `readings*`, in the grid form.
//!
//! Columns `tube`, `kind`, `z`, then one column per angle headed `0deg`, `45 deg`, `90°` or plainly `135`; an empty
//! cell means not taken. Optional `set`, `sd`, `rig`, `vee`, `width`, `span`, `unit` as in the long form; of a followed fibre the
//! column is the direction it starts from. Values are mm unless the header
//! (`45deg_in`, `45deg (in)`), a column `unit` or the cell says otherwise.

use super::book::Book;
use super::catalogue::Form;
use super::columns::{Columns, Found};
use super::readings_row::{Cell, note_mixed_units, read_rows, value, z};
use super::row::Need;
use super::table::Table;
use crate::domain::Angle;

/// Reads a table of the grid form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::ReadingsGrid, table, &mut book.findings) else { return };
    let places: Vec<Found> = columns.grid.iter().map(|(f, _)| *f).collect();
    note_mixed_units(table, &columns, &places, book);
    read_rows(table, &columns, book, |r, given| {
        let columns = r.columns;
        // a station of a form that this tube is too short for, and nothing was read there
        let empty = columns.grid.iter().all(|(at, _)| r.row.cell(at.index).is_empty());
        let z_mm = z(r, given.length_mm.filter(|_| !empty));
        let mut one = |&(at, angle): &(Found, Angle)| {
            let value_mm = value(r, at, given.kind, Need::May, given.unit)?;
            Some(Cell { at, z_mm: z_mm?, angle, value_mm })
        };
        columns.grid.iter().filter_map(&mut one).collect()
    });
}
