//! Places no blank may touch: `marks.csv` or the sheet `marks`.
//!
//! Columns `tube`, `from`, `to` (along the tube; `z_from` and `z_to` do as well), `angle_from`, `angle_to` (clockwise
//! from the one to the other, across the index line if need be; both empty = all the way round), `why`. With only one
//! end given the mark is that one place.

use super::book::Book;
use super::catalogue::Form;
use super::columns::Columns;
use super::findings::quoted;
use super::row::{Need, RowReader};
use super::table::Table;
use crate::domain::{Angle, Mark};

/// How far behind the far end a mark may begin by rounding, mm.
const END_ROUNDING_MM: f64 = 1e-6;

/// Reads the marks into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::Marks, table, &mut book.findings) else { return };
    for row in &table.rows {
        let name_column = columns.get("tube").map(|f| f.index);
        let length = name_column.and_then(|i| book.tube(row.cell(i))).map(|t| t.length_mm).filter(|mm| *mm > 0.0);
        let mut r = RowReader::new(table, &columns, row, &mut book.findings);
        let started = r.start().is_some();
        let Some(tube) = r.tube.clone() else { continue };
        let mark = if started { read_row(&mut r, length) } else { None };
        let bad = r.bad;
        book.mention(&tube, table.place(row.line, name_column));
        if let Some(mark) = mark.filter(|_| !bad) {
            book.tube_mut(&tube).marks.push(mark);
        }
    }
}

fn read_row(r: &mut RowReader<'_>, length: Option<f64>) -> Option<Mark> {
    let from_mm = r.length("from", "a distance from the index end", Need::Must);
    let to_mm = r.length("to", "a distance from the index end", Need::May);
    let from = r.angle("angle_from", "an angle", Need::May);
    let to = r.angle("angle_to", "an angle", Need::May);
    let why = r.free_text("why");
    let from_mm = from_mm?;
    let to_mm = to_mm.unwrap_or(from_mm);
    let column = |r: &RowReader<'_>, name: &str| r.columns.get(name).map(|f| f.index);
    let cell = |r: &RowReader<'_>, name: &str| column(r, name).map_or(String::new(), |i| quoted(r.row.cell(i)));
    if from_mm < 0.0 {
        let (at, found) = (column(r, "from"), cell(r, "from"));
        r.error(at, found, "0 or more", "z is measured from the index end towards the far end");
    }
    if to_mm < from_mm {
        let (at, found) = (column(r, "to"), cell(r, "to"));
        r.error(at, found, &format!("{from_mm} mm or more"), "are from and to swapped?");
    }
    if let Some(length) = length
        && to_mm > length + END_ROUNDING_MM
    {
        let name = if from_mm > length { "from" } else { "to" };
        let (at, found) = (column(r, name), cell(r, name));
        let fix = "check this place and the tube's length";
        r.error(at, found, &format!("at most the tube's length, {length} mm"), fix);
    }
    let (from, to) = patch(from, to);
    let why = if why.is_empty() { "mark".to_string() } else { why };
    Some(Mark { from_mm, to_mm, from, to, why, place: r.place(None) })
}

/// Both ends or none: one end alone is that one line, a whole turn is all the way round.
fn patch(from: Option<Angle>, to: Option<Angle>) -> (Option<Angle>, Option<Angle>) {
    match (from, to) {
        (Some(a), Some(b)) if (b.degrees() - a.degrees()).abs() >= 360.0 - 1e-9 => (None, None),
        (Some(a), None) | (None, Some(a)) => (Some(a), Some(a)),
        both => both,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_turn_is_all_the_way_round_and_one_angle_is_a_line() {
        let a = |d| Some(Angle::from_degrees(d));
        assert_eq!(patch(a(0.0), a(360.0)), (None, None));
        assert_eq!(patch(a(350.0), a(10.0)), (a(350.0), a(10.0)));
        assert_eq!(patch(a(90.0), None), (a(90.0), a(90.0)));
        assert_eq!(patch(None, None), (None, None));
    }
}
