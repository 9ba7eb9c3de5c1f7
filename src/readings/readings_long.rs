//! Readings, one to a row: `readings*.csv` or the sheets `readings*`.
//!
//! Columns `tube`, `kind`, `z`, `angle`, `value`; optional `set` (one dial setting, straightedge placement, fibre or
//! tracing), `sd`, `rig`, `vee` (included angle of the V-block, degrees; else its rig's), `width` (of the back a radius
//! gauge touches; else a blank's), and `unit` (the unit of a bare value). Bare numbers are mm and degrees unless the header
//! says otherwise. The same place may be read more than once.
//!
//! Of a followed fibre (`grain`) the value, and the sd, are angles: where the fibre lies at `z`. Its `angle` may be left
//! empty; where no set is given it tells fibres apart.

use super::book::Book;
use super::catalogue::Form;
use super::columns::Columns;
use super::readings_row::{note_mixed_units, read_rows, value};
use super::row::Need;
use super::table::Table;
use crate::domain::{Angle, Kind};

/// Reads a table of the long form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::Readings, table, &mut book.findings) else { return };
    let Some(at) = columns.get("value") else { return };
    note_mixed_units(table, &columns, &[at], book);
    read_rows(table, &columns, book, |r, kind, unit| {
        // a fibre needs no direction but its value
        let fibre = kind.is_some_and(Kind::is_angle);
        let angle = if fibre && r.text("angle").is_none() {
            Some(Angle::ZERO)
        } else {
            r.angle("angle", "an angle", Need::Must)
        };
        let mm = value(r, at, kind, Need::Must, unit);
        angle.zip(mm).map(|(angle, mm)| (at, angle, mm)).into_iter().collect()
    });
}
