//! One reading as it is typed at the bench: judged by the very reader that reads it from its file later.

use super::book::Book;
use super::catalogue::Form;
use super::edit::TableText;
use super::findings::Findings;
use super::readings_long;
use super::spans;
use super::table::Table;
use crate::domain::units::{LengthUnit, length_unit_beside};
use crate::domain::{Kind, Lot, Severity};

/// The file that readings typed at the bench go into.
pub const TYPED_FILE: &str = "readings-bench.csv";
/// Its columns.
pub const TYPED_HEADERS: [&str; 8] = ["tube", "kind", "z_mm", "angle_deg", "value", "set", "rig", "span_mm"];
/// Longest text that is looked at; no number needs as many characters.
const LONGEST: usize = 40;
/// Places and angles that differ by less are one, mm and degrees: a cell holds six decimals, of an inch or a radian too.
const SAME: f64 = 1e-4;

/// Where a reading belongs: all that tells it from others.
#[derive(Debug, Clone, PartialEq)]
pub struct TypedAt {
    /// The tube's name.
    pub tube: String,
    /// The kind.
    pub kind: Kind,
    /// Place, mm from the index end.
    pub z_mm: f64,
    /// Direction, degrees.
    pub angle_deg: f64,
    /// One dial setting; empty without.
    pub set: String,
    /// The rig; empty without.
    pub rig: String,
    /// Span of a bridge, mm.
    pub span_mm: Option<f64>,
}

/// A reading that was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed {
    /// What goes into the cell: what was typed, decimals with a point, the unit behind it where it is not mm.
    pub cell: String,
    /// Its value, mm; of a fibre degrees.
    pub value_mm: f64,
}

/// Why a text is no such reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("found {found}, expected {expected}. {fix}")]
pub struct TypedError {
    /// What was found.
    pub found: String,
    /// What would be right.
    pub expected: String,
    /// What to do.
    pub fix: String,
}

impl TypedAt {
    /// Whether a row of such a table holds this reading; numbers are compared as numbers, since a row may have been typed by
    /// hand.
    #[must_use]
    pub fn is_row(&self, table: &TableText, row: usize) -> bool {
        let same = |got: Option<f64>, want: f64| got.is_some_and(|x| (x - want).abs() < SAME);
        table.cell(row, "tube") == self.tube
            && Kind::from_word(table.cell(row, "kind")) == Some(self.kind)
            && table.cell(row, "set") == self.set
            && table.cell(row, "rig") == self.rig
            && same(table.length_mm(row, "z"), self.z_mm)
            && same(table.angle_deg(row, "angle"), self.angle_deg)
            && self.span_mm.is_none_or(|s| same(table.length_mm(row, "span"), s))
    }

    /// The cells of its row.
    #[must_use]
    pub fn cells(&self, table: &TableText, value: &str) -> Vec<(&'static str, String)> {
        vec![
            ("tube", self.tube.clone()),
            ("kind", self.kind.word().into()),
            ("z", table.length(self.z_mm, "z")),
            ("angle", table.angle(self.angle_deg, "angle")),
            ("value", value.to_string()),
            ("set", self.set.clone()),
            ("rig", self.rig.clone()),
            ("span", self.span_mm.map_or(String::new(), |s| table.length(s, "span"))),
        ]
    }
}

/// A number with a decimal point: a comma in it is taken as a decimal mark, since nobody types thousands at the bench.
#[must_use]
pub fn pointed(text: &str) -> String {
    if text.contains(',') && !text.contains('.') { text.replace(',', ".") } else { text.to_string() }
}

/// What `text` typed for a reading of this lot means. `bare` is the unit of a number without one; a decimal comma is taken as
/// such, since nobody types thousands here.
///
/// # Errors
/// [`TypedError`], with what to do, where the reader of the files would refuse it too.
///
/// # Example
/// ```
/// use quarterlight::domain::{Kind, Lot, Tube, units::LengthUnit};
/// use quarterlight::readings::{TypedAt, typed};
/// let tube = Tube { name: "A".into(), length_mm: 180.0, ..Tube::default() };
/// let lot = Lot { tubes: vec![tube], ..Lot::default() };
/// let at = TypedAt {
///     tube: "A".into(), kind: Kind::Diameter, z_mm: 60.0, angle_deg: 90.0,
///     set: String::new(), rig: String::new(), span_mm: None,
/// };
/// assert_eq!(typed(&lot, &at, "25,81", LengthUnit::Millimetre)?.cell, "25.81");
/// assert_eq!(typed(&lot, &at, "1 1/64", LengthUnit::Inch)?.value_mm, 25.796875);
/// assert!(typed(&lot, &at, "2.58", LengthUnit::Millimetre).unwrap_err().fix.contains("decimal mark"));
/// # Ok::<(), quarterlight::readings::TypedError>(())
/// ```
pub fn typed(lot: &Lot, at: &TypedAt, text: &str, bare: LengthUnit) -> Result<Typed, TypedError> {
    let text = text.trim();
    let refuse = |expected: &str, fix: &str| TypedError {
        found: format!("'{}'", text.chars().take(LONGEST).collect::<String>()),
        expected: expected.into(),
        fix: fix.into(),
    };
    if text.is_empty() || text.chars().count() > LONGEST || text.chars().any(char::is_control) {
        return Err(refuse("a number, such as 25.8 or 1 1/64 in", "type the reading again"));
    }
    let mut cell = pointed(text);
    if bare != LengthUnit::Millimetre && !at.kind.is_angle() && length_unit_beside(&cell).is_none() {
        cell = format!("{cell} {}", bare.word());
    }
    let mut table = TableText::new(Form::Readings, &TYPED_HEADERS);
    let cells = at.cells(&table, &cell);
    table.push(&cells);
    let mut book = Book::default();
    book.lot.target = lot.target.clone();
    book.lot.rigs.clone_from(&lot.rigs);
    book.has_settings = !lot.rigs.is_empty();
    let length_mm = lot.tubes.iter().find(|t| t.name == at.tube && !t.length_is_guess).map_or(0.0, |t| t.length_mm);
    book.tube_mut(&at.tube).length_mm = length_mm;
    let mut findings = Findings::default();
    if let Some(read) = Table::from_csv(table.text().as_bytes(), &"typed".into(), &mut findings) {
        readings_long::read(&read, &mut book);
        book.close();
        spans::check(&mut book);
    }
    let value = book.lot.tubes.iter().flat_map(|t| &t.readings).map(|r| r.value_mm).next();
    let error = book.findings.finish().into_iter().find(|f| f.severity == Severity::Error);
    match (value, error) {
        (Some(value_mm), None) => Ok(Typed { cell, value_mm }),
        (_, Some(f)) => Err(TypedError { found: f.found, expected: f.expected, fix: f.fix }),
        (None, None) => Err(refuse("a reading", "type it again")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Rig, Tube};
    use crate::readings::read_lot_files;

    fn lot() -> Lot {
        let tube = Tube { name: "A".into(), length_mm: 180.0, ..Tube::default() };
        let rigs = [("v".to_string(), Rig { vee_deg: Some(90.0), ..Rig::default() })].into();
        Lot { tubes: vec![tube], rigs, ..Lot::default() }
    }

    fn at(kind: Kind, z_mm: f64) -> TypedAt {
        let (tube, set, rig) = ("A".into(), "s".into(), String::new());
        TypedAt { tube, kind, z_mm, angle_deg: 22.5, set, rig, span_mm: (kind == Kind::Bridge).then_some(70.0) }
    }

    #[test]
    fn what_is_taken_is_read_from_its_file_as_the_same_value() {
        for (kind, text, bare, want) in [
            (Kind::Diameter, " 25,81 ", LengthUnit::Millimetre, 25.81),
            (Kind::Diameter, "1-1/64\"", LengthUnit::Millimetre, 25.796_875),
            (Kind::Diameter, "1 1/64", LengthUnit::Inch, 25.796_875),
            (Kind::Diameter, "25.8 mm", LengthUnit::Inch, 25.8),
            (Kind::Runout, "-0.03", LengthUnit::Millimetre, -0.03),
            (Kind::Bridge, "+35 um", LengthUnit::Millimetre, 0.035),
            (Kind::Grain, "41", LengthUnit::Inch, 41.0),
        ] {
            let at = at(kind, 60.0);
            let taken = typed(&lot(), &at, text, bare).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!((taken.value_mm - want).abs() < 1e-9, "{text}: {taken:?}");
            let mut table = TableText::new(Form::Readings, &TYPED_HEADERS);
            let cells = at.cells(&table, &taken.cell);
            table.push(&cells);
            assert!(at.is_row(&table, table.rows().next().expect("one")));
            let read = read_lot_files("x", &[(TYPED_FILE, table.text().as_bytes())]).expect("readings");
            let r = &read.lot.tubes[0].readings[0];
            assert!(!read.has_errors(), "{:?}", read.findings);
            assert!((r.value_mm - want).abs() < 1e-9 && r.kind == kind && (r.z_mm - 60.0).abs() < 1e-9, "{r:?}");
        }
    }

    #[test]
    fn slips_are_refused_with_what_to_do() {
        let said =
            |kind, z, text: &str| typed(&lot(), &at(kind, z), text, LengthUnit::Millimetre).unwrap_err().to_string();
        assert!(said(Kind::Diameter, 60.0, "2.58").contains("decimal mark"));
        assert!(said(Kind::Diameter, 60.0, "1.015").contains("inches"));
        assert!(said(Kind::Diameter, 190.0, "25.8").contains("180"));
        assert!(said(Kind::Gap, 60.0, "-0.1").contains("lifted"));
        for text in ["", "abc", "25.8 kg", "25.8.1", "1e400", "NaN", "=1+1", "25\n26", &"9".repeat(60)] {
            assert!(!said(Kind::Diameter, 60.0, text).is_empty(), "{text}");
        }
        // a bar's foot beyond the index end, and a bar of which nobody said how long it is
        assert!(said(Kind::Bridge, 20.0, "0.1").contains("a foot at -15 mm"));
        let unsaid = TypedAt { span_mm: None, ..at(Kind::Bridge, 60.0) };
        let error = typed(&lot(), &unsaid, "0.1", LengthUnit::Millimetre).unwrap_err();
        assert!(error.to_string().contains("no span of the bar"), "{error}");
        // no angle of the block: neither its own nor its rig's
        assert!(said(Kind::Vee, 60.0, "0.1").contains("V-block"));
    }

    #[test]
    fn a_row_is_found_whatever_units_its_columns_have() {
        let headers = ["tube", "kind", "z_in", "angle_rad", "value_mm", "set", "rig", "span_in"];
        let mut table = TableText::new(Form::Readings, &headers);
        let bar = at(Kind::Bridge, 60.0);
        table.push(&bar.cells(&table, "0.02"));
        let row = table.rows().next().expect("one");
        assert!(bar.is_row(&table, row) && table.cell(row, "z").starts_with("2.36"), "{}", table.text());
        assert!(!TypedAt { z_mm: 61.0, ..bar.clone() }.is_row(&table, row));
        assert!(!TypedAt { angle_deg: 23.0, ..bar }.is_row(&table, row));
    }
}
