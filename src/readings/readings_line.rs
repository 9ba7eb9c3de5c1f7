//! Readings, one line along the tube to a row: `readings*.csv` or the sheets `readings*`, in the line form.
//!
//! Columns `tube`, `kind`, `angle`, then one column per place headed with its distance from the index end and the unit of
//! that: `20mm`, `30 mm`, `1 1/4 in`, `1.25in`; an empty cell = not taken. Optional `set`, `sd`, `rig`, `vee`, `width`,
//! `span`, `unit` as in the long form. Values are mm unless the header (`20mm_in`, `20 mm (um)`), a column `unit` or the cell
//! says otherwise: the unit of the place is not that of the values. Of a followed fibre `angle` may be left empty.

use super::book::Book;
use super::catalogue::Form;
use super::columns::{Columns, Found};
use super::findings::quoted;
use super::readings_row::{Cell, note_mixed_units, on_tube, read_rows, value};
use super::row::{Need, RowReader};
use super::table::Table;
use crate::domain::{
    Angle, Kind,
    units::{LengthUnit, Unit, parse_header},
};

/// Reads a table of the line form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::ReadingsLine, table, &mut book.findings) else { return };
    let places: Vec<Found> = columns.places.iter().map(|(f, _)| *f).collect();
    note_mixed_units(table, &columns, &places, book);
    note_inch_places(table, &columns, book);
    read_rows(table, &columns, book, |r, given| {
        let columns = r.columns;
        let angle = along(r, given.kind);
        let mut one = |&(at, z_mm): &(Found, f64)| {
            let value_mm = value(r, at, given.kind, Need::May, given.unit)?;
            let header = format!("a value under {}", quoted(&r.table.headers[at.index]));
            let z_mm = on_tube(r, Some(at.index), header, z_mm, given.length_mm)?;
            Some(Cell { at, z_mm, angle: angle?, value_mm })
        };
        columns.places.iter().filter_map(&mut one).collect()
    });
}

/// The angle of a line; a fibre needs no direction but its value.
pub(super) fn along(r: &mut RowReader<'_>, kind: Option<Kind>) -> Option<Angle> {
    let fibre = kind.is_some_and(Kind::is_angle);
    if fibre && r.text("angle").is_none() { Some(Angle::ZERO) } else { r.angle("angle", "an angle", Need::Must) }
}

/// A note where places are in inches and nothing says what the values are: they are read as mm.
fn note_inch_places(table: &Table, columns: &Columns, book: &mut Book) {
    if columns.get("unit").is_some() {
        return;
    }
    let in_inches = |f: &Found| {
        let header = parse_header(&table.headers[f.index]);
        let bare = header.stem.to_lowercase();
        let inch = header.unit == Some(Unit::Length(LengthUnit::Inch)) && f.unit.is_none();
        f.unit.is_none() && (inch || bare.ends_with("in") || bare.ends_with('"'))
    };
    let Some((odd, _)) = columns.places.iter().find(|(f, _)| in_inches(f)) else { return };
    let header = &table.headers[odd.index];
    let found = format!("the place {} in inches and values without a unit", quoted(header));
    let fix = format!("bare values were read as mm; write {header} (in), {header} (mm), or a column unit, to be sure");
    book.findings.note(table.place(table.header_line, Some(odd.index)), None, found, "a unit of the values", fix);
}
