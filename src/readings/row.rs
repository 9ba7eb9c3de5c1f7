//! One row of a table, read cell by cell; every bad cell becomes a finding.

use super::columns::{Columns, Found};
use super::findings::{Findings, quoted, unprintable};
use super::name::bad_name;
use super::plausible::{ReadIn, Stated};
use super::table::{DATE_CELL, Row, Table};
use crate::domain::{
    Angle, Place, counted,
    units::{
        AngleUnit, LengthUnit, Quantity, Unit, UnitError, WeightUnit, length_unit_beside, parse_angle, parse_length,
        parse_number, parse_weight, weight_unit_beside,
    },
};

/// Longest free text, in characters.
const MAX_TEXT: usize = 2000;
/// Nobody measures one tube for longer, minutes.
const MOST_MINUTES: f64 = 600.0;

/// Whether an empty cell is an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    Must,
    May,
}

/// A row being read.
pub(super) struct RowReader<'a> {
    pub(super) table: &'a Table,
    pub(super) columns: &'a Columns,
    pub(super) row: &'a Row,
    pub(super) findings: &'a mut Findings,
    /// The tube the row is about, once known.
    pub(super) tube: Option<String>,
    /// True once anything in the row could not be read.
    pub(super) bad: bool,
    /// Whether what is wrong concerns single readings, so that the others of the tube may do without.
    pub(super) one_of_many: bool,
    /// How many things were wrong while that was so.
    pub(super) lost: usize,
}

impl<'a> RowReader<'a> {
    pub(super) fn new(table: &'a Table, columns: &'a Columns, row: &'a Row, findings: &'a mut Findings) -> Self {
        RowReader { table, columns, row, findings, tube: None, bad: false, one_of_many: false, lost: 0 }
    }

    pub(super) fn place(&self, column: Option<usize>) -> Place {
        self.table.place(self.row.line, column)
    }

    pub(super) fn error(&mut self, column: Option<usize>, found: String, expected: &str, fix: &str) {
        self.bad = true;
        let place = self.place(column);
        match &self.tube {
            Some(tube) if self.one_of_many => {
                self.lost += 1;
                self.findings.error_in_reading(place, tube, found, expected, fix);
            }
            tube => self.findings.error(place, tube.as_deref(), found, expected, fix),
        }
    }

    /// The cell of a named column; `None` when there is no such column or nothing in it.
    pub(super) fn text(&self, name: &str) -> Option<(Found, &'a str)> {
        let found = self.columns.get(name)?;
        let cell = self.row.cell(found.index);
        if cell.is_empty() { None } else { Some((found, cell)) }
    }

    /// The tube's name, checked; then the width of the row. `None` when the row cannot be used further; the tube may
    /// still be known from `self.tube`.
    pub(super) fn start(&mut self) -> Option<String> {
        let column = self.columns.get("tube").map(|f| f.index);
        let name = column.map_or("", |i| self.row.cell(i));
        if name.is_empty() {
            let fix = "write the tube's name in every row, also where it is the same as above";
            self.error(column, "no tube name".to_string(), "the name of a tube", fix);
        } else if let Some(complaint) = bad_name(name) {
            self.error(column, quoted(name), "a name of printable characters", complaint);
        } else {
            self.tube = Some(name.to_string());
        }
        self.width();
        if self.bad { None } else { self.tube.clone() }
    }

    /// A row that goes on with what the one above it is about.
    pub(super) fn go_on(&mut self, tube: &str) {
        self.tube = Some(tube.to_string());
        self.width();
    }

    /// Reports cells beyond the headers.
    fn width(&mut self) {
        if let Some((i, extra)) = self.table.overflow(self.row) {
            let found = format!("more cells than columns: {}", quoted(extra));
            let expected = counted(self.table.headers.len(), "cell");
            let fix = "does a cell hold a comma? Put the cell in quotes, or separate the columns with semicolons";
            self.error(Some(i), found, &expected, fix);
        }
    }

    /// A name such as a set or rig; empty when there is none.
    pub(super) fn name(&mut self, column: &str) -> String {
        let Some((found, cell)) = self.text(column) else { return String::new() };
        if let Some(complaint) = bad_name(cell) {
            self.error(Some(found.index), quoted(cell), "a name of printable characters", complaint);
            return String::new();
        }
        cell.to_string()
    }

    /// Free text: control characters become blanks, and what is very long is cut.
    pub(super) fn free_text(&mut self, column: &str) -> String {
        let Some((_, cell)) = self.text(column) else { return String::new() };
        cell.chars().take(MAX_TEXT).map(|c| if unprintable(c) { ' ' } else { c }).collect()
    }

    /// A length in mm.
    pub(super) fn length(&mut self, column: &'static str, what: &str, need: Need) -> Option<f64> {
        let found = self.columns.get(column)?;
        self.length_at(found, what, need, None)
    }

    /// A length in mm from a given column; `row_unit` beats the header's unit.
    pub(super) fn length_at(&mut self, at: Found, what: &str, need: Need, row_unit: Option<LengthUnit>) -> Option<f64> {
        let bare = row_unit.unwrap_or(match at.unit {
            Some(Unit::Length(unit)) => unit,
            _ => LengthUnit::Millimetre,
        });
        let mark = self.table.mark;
        self.quantity(at, (Quantity::Length, what), need, |cell| parse_length(cell, bare, mark))
    }

    /// In which unit the length in a column was read, and where that stands.
    pub(super) fn read_in(&self, at: Found, row_unit: Option<LengthUnit>) -> ReadIn {
        if let Some(unit) = length_unit_beside(self.row.cell(at.index)) {
            return ReadIn { unit, stated: Stated::Number };
        }
        match (row_unit, at.unit) {
            (Some(unit), _) => ReadIn { unit, stated: Stated::Row },
            (None, Some(Unit::Length(unit))) => ReadIn { unit, stated: Stated::Header },
            _ => ReadIn { unit: LengthUnit::Millimetre, stated: Stated::Nowhere },
        }
    }

    /// A weight in g.
    pub(super) fn weight(&mut self, column: &'static str, what: &str, need: Need) -> Option<f64> {
        let at = self.columns.get(column)?;
        let bare = match at.unit {
            Some(Unit::Weight(unit)) => unit,
            _ => WeightUnit::Gram,
        };
        let mark = self.table.mark;
        self.quantity(at, (Quantity::Weight, what), need, |cell| parse_weight(cell, bare, mark))
    }

    /// The unit the weight in a column was typed in.
    pub(super) fn weighed_in(&self, column: &str) -> Option<WeightUnit> {
        let (at, cell) = self.text(column)?;
        let header = match at.unit {
            Some(Unit::Weight(unit)) => unit,
            _ => WeightUnit::Gram,
        };
        Some(weight_unit_beside(cell).unwrap_or(header))
    }

    /// Minutes.
    pub(super) fn minutes(&mut self, column: &'static str, what: &str) -> Option<f64> {
        let at = self.columns.get(column)?;
        let mark = self.table.mark;
        let minutes = self
            .quantity(at, (Quantity::Number, what), Need::May, |cell| parse_number(cell, &["min", "minutes"], mark))?;
        if (0.0..=MOST_MINUTES).contains(&minutes) {
            return Some(minutes);
        }
        let found = quoted(self.row.cell(at.index));
        let expected = format!("minutes from 0 to {MOST_MINUTES}");
        self.error(Some(at.index), found, &expected, "write how many minutes it took, or leave the cell empty");
        None
    }

    /// An angle from -360 to 360 degrees.
    pub(super) fn angle(&mut self, column: &'static str, what: &str, need: Need) -> Option<Angle> {
        let at = self.columns.get(column)?;
        self.angle_at(at, what, need)
    }

    /// An angle from -360 to 360 degrees from a given column.
    pub(super) fn angle_at(&mut self, at: Found, what: &str, need: Need) -> Option<Angle> {
        let bare = match at.unit {
            Some(Unit::Angle(unit)) => unit,
            _ => AngleUnit::Degree,
        };
        let mark = self.table.mark;
        let angle = self.quantity(at, (Quantity::Angle, what), need, |cell| parse_angle(cell, bare, mark))?;
        if angle.degrees().abs() > 360.0 + 1e-9 {
            let cell = quoted(self.row.cell(at.index));
            let fix = "are the columns for z and angle swapped?";
            self.error(Some(at.index), cell, "an angle from -360 to 360 deg", fix);
            return None;
        }
        Some(angle)
    }

    fn quantity<T>(
        &mut self,
        at: Found,
        (of, what): (Quantity, &str),
        need: Need,
        parse: impl Fn(&str) -> Result<T, UnitError>,
    ) -> Option<T> {
        let cell = self.row.cell(at.index);
        if cell.is_empty() && need == Need::May {
            return None;
        }
        let result = if cell == DATE_CELL { Err(UnitError::Date) } else { parse(cell) };
        match result {
            Ok(value) => Some(value),
            Err(e) => {
                self.error(Some(at.index), quoted(cell), &e.expected(what), &e.fix(of));
                None
            }
        }
    }
}
