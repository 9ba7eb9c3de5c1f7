//! Index marks of scans: `scans/index.csv`.
//!
//! | column | holds |
//! |---|---|
//! | `tube` | the tube |
//! | `x`, `y`, `z` | a point on the index line, in the frame and unit of the scan (a unit in the header beats it) |
//! | `angle` | or, instead of the point: where the index line stands in the angles printed for this scan without a mark |
//! | `end` | optional: `near` (the default) when the index end is the end nearer to the point, `far` when it is the other; with an angle, nearer means the end that was taken as index end without a mark |

use crate::domain::{Angle, IndexEnd, IndexMark, MarkAt, Place};
use crate::readings::book::Book;
use crate::readings::catalogue::Form;
use crate::readings::columns::Columns;
use crate::readings::findings::quoted;
use crate::readings::row::{Need, RowReader};
use crate::readings::table::Table;
use std::collections::BTreeMap;

/// Puts the marks on the scans read so far.
pub(in crate::readings) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::ScanIndex, table, &mut book.findings) else {
        for tube in book.lot.tubes.iter().filter(|t| t.scan.is_some()) {
            book.findings.doubt(&tube.name);
        }
        return;
    };
    let unit = book.lot.scan.unit;
    let mut marks: BTreeMap<String, IndexMark> = BTreeMap::new();
    for row in &table.rows {
        let mut r = RowReader::new(table, &columns, row, &mut book.findings);
        if r.start().is_none() {
            continue;
        }
        let Some(tube) = r.tube.clone() else { continue };
        let at = mark(&mut r, unit);
        let end = end(&mut r);
        let place = r.place(None);
        let (Some(at), Some(end), false) = (at, end, r.bad) else { continue };
        if marks.insert(tube.clone(), IndexMark { at, end, place: place.clone() }).is_some() {
            let found = format!("a second mark of {}", quoted(&tube));
            book.findings.error(place, Some(&tube), found, "one index mark for each scan", "delete one of the rows");
        }
    }
    for (tube, mark) in marks {
        let known = book.tube(&tube).is_some();
        let place: Place = mark.place.clone();
        match book.tube(&tube).and_then(|t| t.scan.as_ref()) {
            Some(_) => {
                if let Some(scan) = &mut book.tube_mut(&tube).scan {
                    scan.index = Some(mark);
                }
            }
            None if known && book.findings.doubtful().contains(&tube) => {}
            None => {
                let found = format!("an index mark for {}", quoted(&tube));
                let fix = "nothing to do if its scan is still to come; else correct the name";
                book.findings.note(place, known.then_some(tube.as_str()), found, "a tube with a scan", fix);
            }
        }
    }
}

fn mark(r: &mut RowReader<'_>, unit: crate::domain::units::LengthUnit) -> Option<MarkAt> {
    let mut point = [None; 3];
    for (value, name) in point.iter_mut().zip(["x", "y", "z"]) {
        if let Some((at, _)) = r.text(name) {
            let bare = if at.unit.is_none() { Some(unit) } else { None };
            *value = r.length_at(at, "a coordinate", Need::May, bare);
        }
    }
    let angle: Option<Angle> = r.angle("angle", "an angle", Need::May);
    if r.bad {
        return None;
    }
    match (point, angle) {
        ([Some(x), Some(y), Some(z)], None) => Some(MarkAt::Point([x, y, z])),
        ([None, None, None], Some(angle)) => Some(MarkAt::Angle(angle)),
        (_, found) => {
            let found = if found.is_some() { "a point and an angle" } else { "neither a whole point nor an angle" };
            let fix = "fill in x, y and z, or the angle";
            r.error(None, found.to_string(), "a point on the index line, or its angle", fix);
            None
        }
    }
}

fn end(r: &mut RowReader<'_>) -> Option<IndexEnd> {
    let Some((at, word)) = r.text("end") else { return Some(IndexEnd::Near) };
    match word.to_lowercase().as_str() {
        "near" => Some(IndexEnd::Near),
        "far" => Some(IndexEnd::Far),
        _ => {
            r.error(Some(at.index), quoted(word), "near or far", "leave it empty when the point is nearer to it");
            None
        }
    }
}
