//! Readings, one to a row: `readings*.csv` or the sheets `readings*`.
//!
//! Columns `tube`, `kind`, `z`, `angle`, `value`; optional `set` (one dial setting, straightedge placement, fibre or
//! tracing), `sd`, `rig`, `vee` (included angle of the V-block, degrees; else its rig's), `width` (of the back a radius
//! gauge touches; else a blank's), `span` (between the feet of a bar; else its rig's), and `unit` (the unit of a bare value). Bare numbers are mm and degrees unless the header
//! says otherwise. The same place may be read more than once.
//!
//! Of a followed fibre (`grain`) the value, and the sd, are angles: where the fibre lies at `z`. Its `angle` may be left
//! empty; where no set is given it tells fibres apart.

use super::book::Book;
use super::catalogue::Form;
use super::columns::Columns;
use super::interchanged;
use super::readings_row::{Cell, note_mixed_units, read_rows, value, z};
use super::row::Need;
use super::table::Table;
use crate::domain::{Angle, Kind};

/// Reads a table of the long form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::Readings, table, &mut book.findings) else { return };
    let Some(at) = columns.get("value") else { return };
    note_mixed_units(table, &columns, &[at], book);
    interchanged::note(table, &columns, book);
    read_rows(table, &columns, book, |r, given| {
        let z_mm = z(r, given.length_mm);
        // a fibre needs no direction but its value
        let fibre = given.kind.is_some_and(Kind::is_angle);
        let angle = if fibre && r.text("angle").is_none() {
            Some(Angle::ZERO)
        } else {
            r.angle("angle", "an angle", Need::Must)
        };
        let value_mm = value(r, at, given.kind, Need::Must, given.unit);
        let cell = || Some(Cell { at, z_mm: z_mm?, angle: angle?, value_mm: value_mm? });
        cell().into_iter().collect()
    });
}
