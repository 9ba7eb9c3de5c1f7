//! The list of tubes: `tubes.csv` or the sheet `tubes`.
//!
//! | column | holds |
//! |---|---|
//! | `tube` | the name, unique in the lot |
//! | `length` | length; bare numbers are mm unless the header says otherwise |
//! | `weight` | weight; bare numbers are g unless the header says otherwise; may be empty or missing (with a note) |
//! | `wall` | optional: one wall reading |
//! | `minutes` | optional: minutes that measuring it took |
//! | `note` | optional: free text |

use super::book::Book;
use super::catalogue::Form;
use super::columns::Columns;
use super::findings::quoted;
use super::plausible::{Sizes, TUBE_LENGTH, WALL};
use super::row::{Need, RowReader};
use super::table::Table;
use crate::domain::Tube;

/// Heaviest tube, g; common practice, no source.
const MOST_G: f64 = 5000.0;
/// Below this weight ounces in a gram column are more likely than a tube, g; common practice, no source.
const LIGHT_G: f64 = 3.0;

/// Reads the list of tubes into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::Tubes, table, &mut book.findings) else {
        list_names_only(table, book);
        return;
    };
    let mut without_weight: Vec<String> = Vec::new();
    for row in &table.rows {
        let mut r = RowReader::new(table, &columns, row, &mut book.findings);
        let started = r.start();
        let Some(name) = r.tube.clone() else { continue };
        if started.is_none() {
            book.tube_mut(&name);
            continue;
        }
        let only_named =
            columns.indices().all(|i| columns.get("tube").is_some_and(|t| t.index == i) || row.cell(i).is_empty());
        let tube = if only_named { Tube { name: name.clone(), ..Tube::default() } } else { read_row(&mut r, &name) };
        let weighed_in = tube.weight_g.and_then(|_| r.weighed_in("weight"));
        if book.tube(&name).is_some() {
            let place = table.place(row.line, columns.get("tube").map(|f| f.index));
            let fix = "give each tube its own name, or delete one of the rows";
            book.findings.error(place, Some(&name), format!("{} a second time", quoted(&name)), "each tube once", fix);
            continue;
        }
        if only_named {
            // a form to be filled in: an error only once something of the tube is measured
            book.only_named.insert(name.clone(), table.place(row.line, columns.get("length").map(|f| f.index)));
        } else if tube.weight_g.is_none() {
            without_weight.push(name.clone());
        }
        if let Some(unit) = weighed_in {
            *book.weight_units.entry(unit).or_default() += 1;
        }
        *book.tube_mut(&name) = tube;
    }
    book.list = Some(book.lot.tubes.iter().map(|t| t.name.clone()).collect());
    note_weights(table, &columns, &without_weight, book);
}

fn read_row(r: &mut RowReader<'_>, name: &str) -> Tube {
    let length_mm =
        r.length("length", "the tube's length", Need::Must).and_then(|mm| checked(r, "length", mm, TUBE_LENGTH));
    let wall_mm = r.length("wall", "a wall thickness", Need::May).and_then(|mm| checked(r, "wall", mm, WALL));
    let weight_g = r.weight("weight", "the tube's weight", Need::May).and_then(|g| checked_weight(r, g));
    Tube {
        name: name.to_string(),
        length_mm: length_mm.unwrap_or(0.0),
        weight_g,
        wall_mm,
        minutes: r.minutes("minutes", "how long measuring it took"),
        note: r.free_text("note"),
        ..Tube::default()
    }
}

fn checked(r: &mut RowReader<'_>, column: &str, mm: f64, sizes: Sizes) -> Option<f64> {
    let at = r.columns.get(column)?;
    let Some((expected, fix)) = sizes.complaint(mm, r.read_in(at, None)) else { return Some(mm) };
    let cell = quoted(r.row.cell(at.index));
    r.error(Some(at.index), cell, &expected, &fix);
    None
}

fn checked_weight(r: &mut RowReader<'_>, grams: f64) -> Option<f64> {
    let index = r.columns.get("weight").map(|f| f.index);
    let cell = index.map_or(String::new(), |i| quoted(r.row.cell(i)));
    if grams <= 0.0 || grams > MOST_G {
        let fix = if grams > MOST_G { "is the unit right?" } else { "leave the cell empty if it was not weighed" };
        r.error(index, cell, &format!("more than 0 and at most {MOST_G} g"), fix);
        return None;
    }
    if grams < LIGHT_G {
        let place = r.place(index);
        let fix = "nothing to do if it is an offcut; are these ounces in a gram column?";
        r.findings.note(place, r.tube.as_deref(), format!("a light tube: {cell}"), format!("{LIGHT_G} g or more"), fix);
    }
    Some(grams)
}

fn note_weights(table: &Table, columns: &Columns, without: &[String], book: &mut Book) {
    if without.is_empty() {
        return;
    }
    let column = columns.get("weight").map(|f| f.index);
    let found = match column {
        None => "no weight column".to_string(),
        Some(_) => {
            let more = if without.len() > 10 { format!(" and {} more", without.len() - 10) } else { String::new() };
            format!("no weight for {}{more}", without[..without.len().min(10)].join(", "))
        }
    };
    let fix = "weigh them if blanks per kg or per lb are wanted";
    book.findings.note(table.place(table.header_line, column), None, found, "a weight for every tube", fix);
}

/// The list cannot be used, but the names in it, if they can be told, are still tubes.
fn list_names_only(table: &Table, book: &mut Book) {
    let Some(i) = table.headers.iter().position(|h| h.eq_ignore_ascii_case("tube")) else { return };
    for row in &table.rows {
        let name = row.cell(i);
        if !name.is_empty() && super::name::bad_name(name).is_none() {
            book.tube_mut(name);
        }
    }
    book.list = Some(book.lot.tubes.iter().map(|t| t.name.clone()).collect());
}
