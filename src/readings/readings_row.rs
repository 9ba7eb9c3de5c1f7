//! What rows of readings have in common, whatever their form: kind, set, sd, rig, sizes of the instrument.

use super::book::Book;
use super::columns::{Columns, Found};
use super::findings::quoted;
use super::nearest::nearest;
use super::plausible::{SD, SPAN, VEE_DEG, sizes};
use super::row::{Need, RowReader};
use super::table::{Row, Table};
use crate::domain::{
    Angle, Kind, Reading,
    units::{LengthUnit, MM_PER_INCH, Unit},
};

/// A fibre located no better than this is no reading, degrees.
const MOST_FIBRE_SD_DEG: f64 = 90.0;
/// How far behind the far end a reading may stand by rounding, mm; it is moved to the end.
const END_ROUNDING_MM: f64 = 1e-6;

/// One reading of a row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    /// Where its value stands.
    pub(super) at: Found,
    pub(super) z_mm: f64,
    pub(super) angle: Angle,
    pub(super) value_mm: f64,
}

/// What the cells of a row are read with.
#[derive(Debug, Clone, Copy)]
pub(super) struct Given {
    pub(super) kind: Option<Kind>,
    /// Unit of bare values, where the row states one.
    pub(super) unit: Option<LengthUnit>,
    /// Length of the tube, where it is listed, mm.
    pub(super) length_mm: Option<f64>,
}

/// The common part of one row.
#[derive(Debug, Clone)]
pub(super) struct Common {
    tube: String,
    pub(super) kind: Kind,
    set: String,
    sd_mm: Option<f64>,
    rig: String,
    vee_deg: Option<f64>,
    width_mm: Option<f64>,
    span_mm: Option<f64>,
}

/// What one row gave: the common part, where all of it could be read, and its readings.
type RowValues = (Option<Common>, Vec<Cell>);

/// Reads every row of a readings table: the common part here, the values through `values`.
pub(super) fn read_rows(
    table: &Table,
    columns: &Columns,
    book: &mut Book,
    values: impl Fn(&mut RowReader<'_>, Given) -> Vec<Cell>,
) {
    for row in &table.rows {
        let length = known_length(book, columns.get("tube").map_or("", |f| row.cell(f.index)));
        let mut r = RowReader::new(table, columns, row, &mut book.findings);
        r.one_of_many = true;
        let started = r.start().is_some();
        let Some(tube) = r.tube.clone() else { continue };
        let place = r.place(columns.get("tube").map(|f| f.index));
        let (common, found) = if started { row_values(&mut r, &tube, length, &values) } else { (None, Vec::new()) };
        let (bad, lost) = (r.bad, r.lost);
        book.mention(&tube, place);
        if bad {
            // the whole row, so that no half of a station is taken for all of it
            book.findings.set_aside(&tube, &table.file, lost.max(1) + found.len());
        }
        let Some(common) = common else { continue };
        if rig_known(table, columns, row, book, &common) && !bad {
            keep(table, row, book, &common, &found);
        }
    }
}

/// Whether the rig of a row is one of the lot's; else it is reported.
pub(super) fn rig_known(table: &Table, columns: &Columns, row: &Row, book: &mut Book, common: &Common) -> bool {
    let place = table.place(row.line, columns.get("rig").map(|f| f.index));
    book.rig(&common.rig, place, &common.tube)
}

fn row_values(
    r: &mut RowReader<'_>,
    tube: &str,
    length: Option<f64>,
    values: &impl Fn(&mut RowReader<'_>, Given) -> Vec<Cell>,
) -> RowValues {
    let (common, given) = common(r, tube, length);
    (common, values(r, given))
}

/// The common part of a row, where all of it could be read, and what its cells are to be read with.
pub(super) fn common(r: &mut RowReader<'_>, tube: &str, length_mm: Option<f64>) -> (Option<Common>, Given) {
    let kind = kind(r);
    let unit = unit(r);
    let sd_mm = sd(r, kind);
    let (vee_deg, width_mm, span_mm) = (vee(r), width(r), span(r));
    let set = r.name("set");
    let rig = r.name("rig");
    let of = |kind| Common { tube: tube.to_string(), kind, set, sd_mm, rig, vee_deg, width_mm, span_mm };
    (kind.map(of), Given { kind, unit, length_mm })
}

/// Puts the readings of a row into the lot.
pub(super) fn keep(table: &Table, row: &Row, book: &mut Book, common: &Common, found: &[Cell]) {
    let tube = book.tube_mut(&common.tube);
    for &Cell { at, z_mm, angle, value_mm } in found {
        tube.readings.push(Reading {
            kind: common.kind,
            z_mm,
            angle,
            value_mm,
            sd_mm: common.sd_mm,
            step_mm: None,
            vee_deg: common.vee_deg.filter(|_| common.kind == Kind::Vee),
            width_mm: common.width_mm.filter(|_| common.kind == Kind::Arc),
            span_mm: common.span_mm.filter(|_| common.kind == Kind::Bridge),
            set: common.set.clone(),
            rig: common.rig.clone(),
            place: table.place(row.line, Some(at.index)),
        });
    }
}

/// The length of a tube, where the list of tubes gave one.
pub(super) fn known_length(book: &Book, name: &str) -> Option<f64> {
    book.tube(name).map(|t| t.length_mm).filter(|mm| *mm > 0.0)
}

fn kind(r: &mut RowReader<'_>) -> Option<Kind> {
    let at = r.columns.get("kind")?;
    let word = r.row.cell(at.index);
    let kind = Kind::from_word(word);
    if kind.is_none() {
        let words: Vec<&str> = Kind::ALL.iter().map(|k| k.word()).collect();
        let fix = match nearest(word, words.iter().copied()) {
            Some(near) => format!("is {near} meant?"),
            None => "write the kind of reading".to_string(),
        };
        r.error(Some(at.index), quoted(word), &format!("one of {}", words.join(", ")), &fix);
    }
    kind
}

/// The place along the tube, not before the index end nor beyond the far end.
pub(super) fn z(r: &mut RowReader<'_>, length: Option<f64>) -> Option<f64> {
    let z = r.length("z", "a distance from the index end", Need::Must)?;
    let index = r.columns.get("z").map(|f| f.index);
    let cell = index.map_or(String::new(), |i| quoted(r.row.cell(i)));
    on_tube(r, index, cell, z, length)
}

/// A place along the tube, not before the index end nor beyond the far end; `cell`: what stands there.
pub(super) fn on_tube(
    r: &mut RowReader<'_>,
    index: Option<usize>,
    cell: String,
    z: f64,
    length: Option<f64>,
) -> Option<f64> {
    if z < 0.0 {
        r.error(index, cell, "0 or more", "z is measured from the index end towards the far end");
        return None;
    }
    let Some(length) = length else { return Some(z) };
    if z > length + END_ROUNDING_MM {
        let fix = if z > 2.0 * length && z / MM_PER_INCH <= length {
            "are these mm typed in an inch column? Else check this place and the tube's length"
        } else {
            "check this place and the tube's length; are the columns for z and angle swapped?"
        };
        r.error(index, cell, &format!("at most the tube's length, {length} mm"), fix);
        return None;
    }
    Some(z.min(length))
}

fn unit(r: &mut RowReader<'_>) -> Option<LengthUnit> {
    let (at, word) = r.text("unit")?;
    let unit = LengthUnit::from_word(word);
    if unit.is_none() {
        r.error(Some(at.index), quoted(word), "a unit of length", "write mm, um, in or thou");
    }
    unit
}

fn sd(r: &mut RowReader<'_>, kind: Option<Kind>) -> Option<f64> {
    if kind.is_some_and(Kind::is_angle) {
        return angle_sd(r);
    }
    let sd = r.length("sd", "a standard deviation", Need::May)?;
    if sd > SD.least && sd <= SD.most {
        return Some(sd);
    }
    let at = r.columns.get("sd")?;
    let cell = quoted(r.row.cell(at.index));
    let expected = format!("more than 0 and at most {} mm", SD.most);
    r.error(Some(at.index), cell, &expected, "leave the cell empty to use the rig's sd or the kind's default");
    None
}

/// The sd of a followed fibre is an angle, whatever unit of length the header names for the other kinds.
fn angle_sd(r: &mut RowReader<'_>) -> Option<f64> {
    let (at, _) = r.text("sd")?;
    let deg = r.angle_at(Found { unit: None, ..at }, "a standard deviation in degrees", Need::May)?.degrees();
    if deg > 0.0 && deg <= MOST_FIBRE_SD_DEG {
        return Some(deg);
    }
    let cell = quoted(r.row.cell(at.index));
    let expected = format!("more than 0 and at most {MOST_FIBRE_SD_DEG} deg");
    r.error(Some(at.index), cell, &expected, "leave the cell empty to use the rig's sd or the kind's default");
    None
}

/// Included angle of the V-block, degrees.
fn vee(r: &mut RowReader<'_>) -> Option<f64> {
    r.text("vee")?;
    let deg = r.angle("vee", "the included angle of the V-block", Need::May)?.degrees();
    if (VEE_DEG.0..=VEE_DEG.1).contains(&deg) {
        return Some(deg);
    }
    let at = r.columns.get("vee")?;
    let cell = quoted(r.row.cell(at.index));
    let expected = format!("{} to {} deg", VEE_DEG.0, VEE_DEG.1);
    r.error(Some(at.index), cell, &expected, "write the angle between the two faces of the block");
    None
}

/// Width of the back that a radius gauge touches, mm.
fn width(r: &mut RowReader<'_>) -> Option<f64> {
    let mm = r.length("width", "the width the gauge touches", Need::May)?;
    if (1.0..=60.0).contains(&mm) {
        return Some(mm);
    }
    let at = r.columns.get("width")?;
    let cell = quoted(r.row.cell(at.index));
    r.error(Some(at.index), cell, "1 to 60 mm", "leave the cell empty to take the width of a blank");
    None
}

/// Distance between the feet of a bar, mm.
fn span(r: &mut RowReader<'_>) -> Option<f64> {
    let mm = r.length("span", "the distance between the feet of the bar", Need::May)?;
    let at = r.columns.get("span")?;
    let Some((expected, fix)) = SPAN.complaint(mm, r.read_in(at, None)) else { return Some(mm) };
    let cell = quoted(r.row.cell(at.index));
    r.error(Some(at.index), cell, &expected, &fix);
    None
}

/// One value in mm (degrees for grain), checked against what its kind can be.
pub(super) fn value(
    r: &mut RowReader<'_>,
    at: Found,
    kind: Option<Kind>,
    need: Need,
    unit: Option<LengthUnit>,
) -> Option<f64> {
    if kind.is_some_and(Kind::is_angle) {
        // a header such as value_mm or 45deg_in speaks of the other kinds; a bare number here is degrees
        let own = at.unit.filter(|u| matches!(u, Unit::Angle(_)));
        return r.angle_at(Found { unit: own, ..at }, "an angle in degrees", need).map(Angle::degrees);
    }
    let mm = r.length_at(at, "a length", need, unit)?;
    let Some((expected, mut fix)) = kind.and_then(|k| sizes(k).complaint(mm, r.read_in(at, unit))) else {
        return Some(mm);
    };
    if kind == Some(Kind::Gap) && mm < 0.0 {
        fix = "a straightedge that rests leaves no gap below 0: was it lifted off the bark? Then the kind is lifted"
            .into();
    }
    let word = kind.map_or("value", Kind::word);
    let cell = quoted(r.row.cell(at.index));
    let found = if (mm - mm.round()).abs() < 1e-9 && cell.len() < 8 { cell } else { format!("{cell} ({mm:.3} mm)") };
    r.error(Some(at.index), found, &format!("{} of {expected}", with_article(word)), &fix);
    None
}

fn with_article(word: &str) -> String {
    let article = if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {word}")
}

/// A note when values are in inches by their header while `z` or `sd` state no unit and so are mm.
pub(super) fn note_mixed_units(table: &Table, columns: &Columns, values: &[Found], book: &mut Book) {
    let not_mm = |f: &Found| matches!(f.unit, Some(Unit::Length(u)) if u.takes_fractions() || u == LengthUnit::Thou);
    let Some(odd) = values.iter().find(|f| not_mm(f)) else { return };
    for name in ["z", "sd"] {
        if let Some(f) = columns.get(name).filter(|f| f.unit.is_none()) {
            let found = format!("{name} without a unit beside {}", quoted(&table.headers[odd.index]));
            let fix = format!("bare numbers in {name} were read as mm; write {name}_in or {name}_mm to be sure");
            book.findings.note(
                table.place(table.header_line, Some(f.index)),
                None,
                found,
                "a unit in both headers",
                fix,
            );
        }
    }
}
