//! What really happened at the bench: `cuts.csv` or the sheet `cuts`.
//!
//! Columns `tube`; all others may be missing or empty: `piece`, `aim` (the angle that was aimed at), `split` (where the split lines came to lie: in a row of the
//! whole tube all of them, or the first alone; in the row of a piece the one it begins at), `back` (widths of the pieces' backs
//! straight across, likewise), `blanks` (got of the tube, or of the piece), `from` and `to` (a stretch that was judged), `got`
//! (yes or no) and `why` (why not). Several numbers in one cell stand apart by spaces or semicolons; a fraction in such a list has no
//! whole before it (`11/16`), that of a single piece may (`1 3/8 in`).

use super::book::Book;
use super::catalogue::Form;
use super::columns::Columns;
use super::findings::quoted;
use super::row::{Need, RowReader};
use super::table::Table;
use crate::domain::units::{AngleUnit, LengthUnit, Quantity, Unit, UnitError, parse_angle, parse_length};
use crate::domain::{Angle, Cut, Place, Stretch, counted, spans};
use std::collections::BTreeMap;

/// More blanks come of no tube.
const MOST_BLANKS: u32 = 1000;

/// A stretch may reach so far beyond an end by rounding, mm: both are written down to a millimetre.
const LENGTH_ROUNDING_MM: f64 = 1.0;

/// What the rows of one tube say, before they are put together.
#[derive(Default)]
struct Gathered {
    cut: Cut,
    lines: BTreeMap<usize, Angle>,
    backs: BTreeMap<usize, f64>,
}

/// Reads what happened into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::Cuts, table, &mut book.findings) else { return };
    let mut tubes: BTreeMap<String, Gathered> = BTreeMap::new();
    for row in &table.rows {
        let name_column = columns.get("tube").map(|f| f.index);
        let pieces = book.lot.target.pieces;
        let mut r = RowReader::new(table, &columns, row, &mut book.findings);
        let started = r.start().is_some();
        let Some(tube) = r.tube.clone() else { continue };
        if started {
            let gathered = tubes.entry(tube.clone()).or_insert_with(|| Gathered {
                cut: Cut { place: r.place(None), ..Cut::default() },
                ..Gathered::default()
            });
            read_row(&mut r, pieces, gathered);
        }
        book.mention(&tube, table.place(row.line, name_column));
    }
    for (tube, gathered) in tubes {
        put(&tube, gathered, book);
    }
}

fn read_row(r: &mut RowReader<'_>, pieces: usize, to: &mut Gathered) {
    let piece = whole(r, "piece", 1..=u32::try_from(pieces).unwrap_or(6), "the number of a piece").map(|n| n as usize);
    let angles = list(r, "split", piece, pieces, |cell, unit, mark| {
        let bare = if let Some(Unit::Angle(u)) = unit { u } else { AngleUnit::Degree };
        parse_angle(cell, bare, mark)
    });
    let backs = list(r, "back", piece, pieces, |cell, unit, mark| {
        let bare = if let Some(Unit::Length(u)) = unit { u } else { LengthUnit::Millimetre };
        parse_length(cell, bare, mark)
    });
    if let Some(aim) = r.angle("aim", "the angle that was aimed at", Need::May) {
        once(r, "aim", to.cut.aim.replace(aim).is_some());
    }
    let blanks = whole(r, "blanks", 0..=MOST_BLANKS, "blanks that were got");
    match piece {
        Some(piece) => {
            angles.into_iter().for_each(|a| once(r, "split", to.lines.insert(piece, a).is_some()));
            backs.into_iter().for_each(|w| once(r, "back", to.backs.insert(piece, w).is_some()));
        }
        None => {
            if !angles.is_empty() {
                once(r, "split", !to.cut.lines.is_empty());
                to.cut.lines = angles;
            }
            if !backs.is_empty() {
                once(r, "back", !to.cut.backs_mm.is_empty());
                to.cut.backs_mm = backs;
            }
        }
    }
    let judged = stretch(r, piece);
    match (piece, blanks) {
        (Some(piece), Some(n)) => once(r, "blanks", to.cut.of_piece.insert(piece, n).is_some()),
        (None, Some(n)) => once(r, "blanks", to.cut.blanks.replace(n).is_some()),
        (_, None) => {}
    }
    to.cut.stretches.extend(judged);
}

/// A stretch that was judged: both its ends, and whether it was got.
fn stretch(r: &mut RowReader<'_>, piece: Option<usize>) -> Option<Stretch> {
    let from = r.length("from", "a distance from the index end", Need::May);
    let to = r.length("to", "a distance from the index end", Need::May);
    let why = r.free_text("why");
    let got = yes(r, !why.is_empty());
    let (from_mm, to_mm) = match (from, to) {
        (Some(a), Some(b)) => (a, b),
        (None, None) => {
            if let Some((found, _)) = r.text("got") {
                let (place, tube) = (r.place(Some(found.index)), r.tube.clone());
                let (found, fix) =
                    ("whether a stretch was got, and no stretch", "write where along the tube it lay, or leave it");
                r.findings.note(place, tube.as_deref(), found, "its ends in from and to", fix);
            }
            return None;
        }
        _ => {
            let column = r.columns.get("from").or(r.columns.get("to")).map(|f| f.index);
            r.error(column, "one end of a stretch".into(), "both ends, from and to", "write both, or none");
            return None;
        }
    };
    if from_mm < 0.0 || to_mm <= from_mm {
        let column = r.columns.get("to").map(|f| f.index);
        let found = format!("a stretch from {from_mm} to {to_mm} mm");
        r.error(column, found, "from 0 or more, to beyond it", "are from and to swapped?");
        return None;
    }
    Some(Stretch { piece, from_mm, to_mm, got: got?, why })
}

/// Whether a stretch was got; without a word a reason says that it was not.
fn yes(r: &mut RowReader<'_>, reason: bool) -> Option<bool> {
    let Some((found, cell)) = r.text("got") else { return Some(!reason) };
    match cell.to_lowercase().as_str() {
        "yes" | "y" | "1" | "x" | "true" => Some(true),
        "no" | "n" | "0" | "-" | "false" => Some(false),
        _ => {
            r.error(Some(found.index), quoted(cell), "yes or no", "write yes where a blank came of it, else no");
            None
        }
    }
}

fn once(r: &mut RowReader<'_>, column: &str, again: bool) {
    if again {
        let at = r.columns.get(column);
        let found = at.map_or(String::new(), |f| quoted(r.row.cell(f.index)));
        r.error(
            at.map(|f| f.index),
            found,
            "one such number for each tube or piece",
            "it stands in a row above already",
        );
    }
}

/// A whole number within bounds.
fn whole(r: &mut RowReader<'_>, column: &str, within: std::ops::RangeInclusive<u32>, what: &str) -> Option<u32> {
    let (found, cell) = r.text(column)?;
    let n = cell.trim().trim_end_matches(".0").parse::<u32>().ok().filter(|n| within.contains(n));
    if n.is_none() {
        let expected = format!("{what}, a whole number from {} to {}", within.start(), within.end());
        r.error(Some(found.index), quoted(cell), &expected, "write a whole number, or leave the cell empty");
    }
    n
}

/// The numbers in a cell: one in the row of a piece, else one or one for each piece.
fn list<T>(
    r: &mut RowReader<'_>,
    column: &'static str,
    piece: Option<usize>,
    pieces: usize,
    parse: impl Fn(&str, Option<Unit>, crate::domain::units::DecimalMark) -> Result<T, UnitError>,
) -> Vec<T> {
    let Some((found, cell)) = r.text(column) else { return Vec::new() };
    let mark = r.table.mark;
    let parts: Vec<&str> = match piece {
        Some(_) => vec![cell],
        None => cell.split([' ', ';']).filter(|p| !p.is_empty()).collect(),
    };
    let one_alone = column == "split";
    let (of, what) = if one_alone { (Quantity::Angle, "an angle") } else { (Quantity::Length, "a width") };
    let allowed = match piece {
        Some(_) => true,
        None => parts.len() == pieces || (one_alone && parts.len() == 1),
    };
    if !allowed {
        let expected = if one_alone {
            format!("{}, or that of the first line alone", counted(pieces, "angle"))
        } else {
            counted(pieces, "width")
        };
        let fix = "write one number for each piece, with spaces between them";
        r.error(Some(found.index), format!("{} in {}", counted(parts.len(), "number"), quoted(cell)), &expected, fix);
        return Vec::new();
    }
    let mut values = Vec::new();
    for part in parts {
        match parse(part, found.unit, mark) {
            Ok(value) => values.push(value),
            Err(e) => r.error(Some(found.index), quoted(part), &e.expected(what), &e.fix(of)),
        }
    }
    values
}

/// Puts the rows of a tube together.
fn put(tube: &str, gathered: Gathered, book: &mut Book) {
    let pieces = book.lot.target.pieces;
    let Gathered { mut cut, lines, backs } = gathered;
    let length_mm = book.lot.tubes.iter().find(|t| t.name == tube).map_or(0.0, |t| t.length_mm);
    let mut wrong = |found: String, expected: &str, fix: &str, place: Place| {
        book.findings.error(place, Some(tube), found, expected, fix);
    };
    for s in cut.stretches.iter().filter(|s| length_mm > 0.0 && s.to_mm > length_mm + LENGTH_ROUNDING_MM) {
        let found = format!("a stretch from {} to {} mm", s.from_mm, s.to_mm);
        wrong(
            found,
            &format!("a place on the tube, 0 to {length_mm} mm"),
            "check from and to, and its length",
            cut.place.clone(),
        );
    }
    if (!lines.is_empty() && !cut.lines.is_empty()) || (!backs.is_empty() && !cut.backs_mm.is_empty()) {
        let found = "split lines, or backs, of the whole tube and of its pieces".to_string();
        wrong(found, "one of the two", "leave out one of them", cut.place.clone());
    }
    if !lines.is_empty() {
        if lines.len() == pieces || (lines.len() == 1 && lines.contains_key(&1)) {
            cut.lines = lines.into_values().collect();
        } else {
            let found = format!("split lines of {} of {pieces} pieces", lines.len());
            wrong(found, "those of all pieces, or of piece 1 alone", "add the missing ones", cut.place.clone());
        }
    }
    if !backs.is_empty() {
        if backs.len() == pieces {
            cut.backs_mm = backs.into_values().collect();
        } else {
            let found = format!("backs of {} of {pieces} pieces", backs.len());
            wrong(found, "those of all pieces", "add the missing ones, or leave all out", cut.place.clone());
        }
    }
    if cut.lines.len() == pieces && cut.lines_radians(pieces, 0.0).is_none() {
        let fix = "write them clockwise from the line that piece 1 begins at";
        wrong(
            "split lines that do not go round once".into(),
            "angles clockwise one after the other",
            fix,
            cut.place.clone(),
        );
    }
    if !cut.backs_mm.is_empty() && spans(&cut.backs_mm).is_none() {
        let fix = "measure each back straight across from edge to edge";
        wrong(
            "backs that close on no tube".into(),
            "widths none of which is as large as the others together",
            fix,
            cut.place.clone(),
        );
    }
    book.tube_mut(tube).cut = Some(cut);
}

#[cfg(test)]
mod tests {
    use crate::readings::read_lot_files;

    fn told(cuts: &str) -> Vec<String> {
        let files = [("tubes.csv", "tube,length_mm\nA,200\n"), ("cuts.csv", cuts)];
        let files: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        let read = read_lot_files("x", &files).expect("a lot");
        read.findings.into_iter().filter(|f| f.place.file.contains("cuts")).map(|f| f.found).collect()
    }

    #[test]
    fn what_became_of_no_stretch_or_of_one_off_the_tube_is_told() {
        assert_eq!(told("tube,piece,from,to,got,why\nA,1,20,90,no,crack\nA,1,130,200.4,yes,\n"), Vec::<String>::new());
        assert_eq!(told("tube,piece,from,to,got,why\nA,3,,,no,crack\n"), ["whether a stretch was got, and no stretch"]);
        assert_eq!(told("tube,piece,from,to,got,why\nA,3,,,yes,\n"), ["whether a stretch was got, and no stretch"]);
        assert_eq!(told("tube,piece,from,to,got,why\nA,1,300,370,yes,\n"), ["a stretch from 300 to 370 mm"]);
    }
}
