//! Which column holds what.
//!
//! Columns are found by name, in any order, whatever the case, with the unit in the header if the maker likes:
//! `length_mm`, `length (mm)`, `length [in]`, `z in`. Columns of other names are ignored with one note per file. A
//! column that is missing, doubled, or in a unit of the wrong quantity makes the file unusable.

use super::catalogue::{Across, Column, Form, Holds, grid_angle, grid_place};
use super::findings::{Findings, quoted};
use super::name::bad_name;
use super::nearest::nearest;
use super::table::Table;
use crate::domain::{
    Angle, Place,
    units::{Header, Unit, parse_header},
};
use std::collections::BTreeMap;

/// A column that was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub(super) index: usize,
    pub(super) unit: Option<Unit>,
}

/// The columns of one table.
#[derive(Debug, Default)]
pub(super) struct Columns {
    found: BTreeMap<&'static str, Found>,
    /// Grid columns: place, angle, unit of the values.
    pub(super) grid: Vec<(Found, Angle)>,
    /// Columns of the line form: place, mm from the index end, unit of the values.
    pub(super) places: Vec<(Found, f64)>,
}

impl Columns {
    pub(super) fn get(&self, name: &str) -> Option<Found> {
        self.found.get(name).copied()
    }

    /// Places of all named columns.
    pub(super) fn indices(&self) -> impl Iterator<Item = usize> + '_ {
        self.found.values().map(|f| f.index)
    }

    /// Finds the columns of `form` in a table. When something is wrong with the header it is reported, every tube named in
    /// the table is put in doubt, and the table cannot be used.
    pub(super) fn of(form: Form, table: &Table, findings: &mut Findings) -> Option<Columns> {
        Columns::map(table, form.columns(), form.across(), findings)
    }

    fn map(table: &Table, wanted: &[Column], across: Option<Across>, findings: &mut Findings) -> Option<Columns> {
        let mut mapping = Mapping { table, wanted, columns: Columns::default(), unknown: Vec::new(), good: true };
        for index in 0..table.headers.len() {
            mapping.place_header(index, across, findings);
        }
        mapping.missing(across, findings);
        mapping.note_unknown(findings);
        if mapping.good {
            return Some(mapping.columns);
        }
        if let Some(tube) = mapping.columns.get("tube") {
            for row in &table.rows {
                let name = row.cell(tube.index);
                if !name.is_empty() && bad_name(name).is_none() {
                    findings.doubt(name);
                }
            }
        }
        None
    }
}

struct Mapping<'a> {
    table: &'a Table,
    wanted: &'a [Column],
    columns: Columns,
    unknown: Vec<usize>,
    good: bool,
}

impl Mapping<'_> {
    fn header_place(&self, index: Option<usize>) -> Place {
        self.table.place(self.table.header_line, index)
    }

    fn place_header(&mut self, index: usize, across: Option<Across>, findings: &mut Findings) {
        let text = &self.table.headers[index];
        let header = parse_header(text);
        let named = |c: &&Column| c.is_named(&header.name);
        if let Some(column) = self.wanted.iter().find(named).copied() {
            self.place_known(index, column, &header, findings);
        } else if let Some(angle) = grid_angle(&header).filter(|_| across == Some(Across::Angles)) {
            self.place_angle(index, angle, &header, findings);
        } else if let Some((mm, unit)) = grid_place(&header).filter(|_| across == Some(Across::Places)) {
            self.place_along(index, mm, unit, findings);
        } else if let Some(across) = across.filter(|_| self.heads_values(index)) {
            let found = format!("the header {} over numbers", quoted(text));
            let (expected, fix) = across.headed();
            findings.error(self.header_place(Some(index)), None, found, expected, fix);
            self.good = false;
        } else if !text.is_empty() || self.table.rows.iter().any(|r| !r.cell(index).is_empty()) {
            self.unknown.push(index);
        }
    }

    /// Whether a header begins as an angle or a place does, and numbers stand under it: values that would be lost.
    fn heads_values(&self, index: usize) -> bool {
        let number = self.table.headers[index].trim_start().trim_start_matches(['-', '+', '.']);
        let value = |cell: &str| cell.contains(|c: char| c.is_ascii_digit()) && !cell.contains(char::is_alphabetic);
        number.starts_with(|c: char| c.is_ascii_digit()) && self.table.rows.iter().any(|r| value(r.cell(index)))
    }

    fn place_known(&mut self, index: usize, column: Column, header: &Header, findings: &mut Findings) {
        if let Some(first) = self.columns.get(column.name) {
            let found = format!(
                "two columns for {}: {} and {}",
                column.name,
                quoted(&self.table.headers[first.index]),
                quoted(&self.table.headers[index])
            );
            let fix = "delete one of the two, or rename it";
            findings.error(self.header_place(Some(index)), None, found, "each column once", fix);
            self.good = false;
            return;
        }
        let fits = header.unit.is_none_or(|u| column.holds.takes(u));
        if !fits || (!column.holds.is_text() && header.unknown_unit.is_some()) {
            let (what, units) = match column.holds {
                Holds::Weight => ("weight", "g, kg, oz, lb"),
                Holds::Angle => ("angle", "deg, rad"),
                _ => ("length", "mm, cm, m, um, in, thou"),
            };
            let fix =
                format!("write the header as {}, or as {} with one of the units {units}", column.name, column.name);
            let found = format!("the header {}", quoted(&self.table.headers[index]));
            findings.error(self.header_place(Some(index)), None, found, format!("a unit of {what}"), fix);
            self.good = false;
        }
        self.columns.found.insert(column.name, Found { index, unit: header.unit });
    }

    fn place_angle(&mut self, index: usize, angle: Angle, header: &Header, findings: &mut Findings) {
        let place = self.header_place(Some(index));
        let twice = self.columns.grid.iter().any(|(_, a)| (a.degrees() - angle.degrees()).abs() < 1e-9);
        if angle.degrees().abs() > 360.0 + 1e-9 {
            let found = format!("the header {}", quoted(&self.table.headers[index]));
            findings.error(place, None, found, "an angle from -360 to 360 deg", "write the angle again");
            self.good = false;
        } else if twice {
            let found = format!("a second column for {} deg", angle.degrees());
            findings.error(place, None, found, "each angle once", "delete one of the two, or correct its angle");
            self.good = false;
        } else {
            let unit = header.unit.filter(|u| matches!(u, Unit::Length(_)));
            self.columns.grid.push((Found { index, unit }, angle));
        }
    }

    fn place_along(&mut self, index: usize, mm: f64, unit: Option<Unit>, findings: &mut Findings) {
        let place = self.header_place(Some(index));
        let twice = self.columns.places.iter().any(|(_, z)| (z - mm).abs() < 1e-6);
        if mm < 0.0 {
            let found = format!("the header {}", quoted(&self.table.headers[index]));
            findings.error(place, None, found, "a place of 0 mm or more", "places count from the index end");
            self.good = false;
        } else if twice {
            let found = format!("a second column for {mm} mm");
            findings.error(place, None, found, "each place once", "delete one of the two, or correct its place");
            self.good = false;
        } else {
            let unit = unit.filter(|u| matches!(u, Unit::Length(_)));
            self.columns.places.push((Found { index, unit }, mm));
        }
    }

    /// One error for all required columns that are not there.
    fn missing(&mut self, across: Option<Across>, findings: &mut Findings) {
        let mut missing: Vec<&str> =
            self.wanted.iter().filter(|c| c.required && self.columns.get(c.name).is_none()).map(|c| c.name).collect();
        let none = self.columns.grid.is_empty() && self.columns.places.is_empty();
        missing.extend(across.filter(|_| none).map(Across::missing));
        if missing.is_empty() {
            return;
        }
        self.good = false;
        let strangers: Vec<&str> = self.unknown.iter().map(|&i| self.table.headers[i].as_str()).collect();
        let mut fixes: Vec<String> = Vec::new();
        for name in &missing {
            if let Some(near) = strangers.iter().find(|s| nearest(&parse_header(s).name, [*name]).is_some()) {
                fixes.push(format!("is {} meant to be {name}? Rename it", quoted(near)));
            }
        }
        if fixes.is_empty() {
            fixes.push("add the column, or check that the first row holds the column names".to_string());
        }
        let headers: Vec<&str> = self.table.headers.iter().map(String::as_str).filter(|h| !h.is_empty()).collect();
        let shown: String = headers.join(", ").chars().take(200).collect();
        let found = format!("columns {}", if shown.is_empty() { "without names".to_string() } else { shown });
        findings.error(self.header_place(None), None, found, format!("also {}", missing.join(", ")), fixes.join("; "));
    }

    /// One note for all columns that are not read.
    fn note_unknown(&self, findings: &mut Findings) {
        let Some(first) = self.unknown.first() else { return };
        let known: Vec<&str> = self.wanted.iter().map(|c| c.name).collect();
        let mut fixes = Vec::new();
        for &i in &self.unknown {
            let header = &self.table.headers[i];
            // a required column that is missing has its own error
            let free = self.wanted.iter().filter(|c| !c.required && self.columns.get(c.name).is_none()).map(|c| c.name);
            if let Some(near) = nearest(&parse_header(header).name, free) {
                fixes.push(format!("is {} meant to be {near}?", quoted(header)));
            }
        }
        let names: Vec<String> = self
            .unknown
            .iter()
            .take(20)
            .map(|&i| match self.table.headers[i].as_str() {
                "" => format!("column {} without a name", i + 1),
                name => quoted(name),
            })
            .collect();
        let fix = if fixes.is_empty() { "ignored".to_string() } else { format!("ignored; {}", fixes.join(" ")) };
        let found = format!("columns that are not read: {}", names.join(", "));
        findings.note(self.header_place(Some(*first)), None, found, format!("only {}", known.join(", ")), fix);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WANTED: [Column; 3] = [
        Column::must("tube", Holds::Text),
        Column::must("length", Holds::Length),
        Column::may("weight", Holds::Weight),
    ];

    fn map(text: &str, wide: bool) -> (Option<Columns>, Vec<crate::domain::Finding>) {
        let mut findings = Findings::default();
        let table = Table::from_csv(text.as_bytes(), &"t.csv".into(), &mut findings).expect("a table");
        let across = wide.then_some(Across::Angles);
        let columns = Columns::map(&table, &WANTED, across, &mut findings);
        (columns, findings.finish())
    }

    #[test]
    fn a_slip_in_a_header_is_named_with_what_was_meant() {
        let (columns, findings) = map("tube,lenght_mm\nA,1\n", false);
        assert!(columns.is_none());
        assert!(findings[0].to_string().contains("is 'lenght_mm' meant to be length?"), "{}", findings[0]);
    }

    #[test]
    fn doubled_columns_and_wrong_units_are_errors() {
        assert!(map("tube,length,Length (mm)\nA,1,2\n", false).0.is_none());
        assert!(map("tube,length_g\nA,1\n", false).0.is_none());
        assert!(map("tube,length (cubits)\nA,1\n", false).0.is_none());
        assert!(map("tube (name),length\nA,1\n", false).0.is_some());
    }

    #[test]
    fn a_column_of_numbers_under_what_is_no_angle_is_an_error_and_notes_are_none() {
        let (columns, findings) = map("tube,length,0deg,90gon\nA,1,2,25.3\n", true);
        assert!(columns.is_none());
        let said = findings[0].to_string();
        assert!(said.contains("'90gon' over numbers") && said.contains("rad"), "{said}");
        for harmless in ["tube,length,0deg,2nd look\nA,1,2,dull\n", "tube,length,0deg,90gon\nA,1,2,\n"] {
            assert!(map(harmless, true).0.is_some(), "{harmless}");
        }
        assert!(map("tube,length,90gon\nA,1,25.3\n", false).0.is_some(), "no wide form");
    }

    #[test]
    fn angle_columns_are_found_in_every_spelling() {
        let (columns, findings) = map("tube,length,0,45deg,90 deg,135°,180deg_in,-22.5 deg (um)\nA,1\n", true);
        let degrees: Vec<f64> = columns.expect("good").grid.iter().map(|(_, a)| a.degrees().round()).collect();
        assert_eq!(degrees, [0.0, 45.0, 90.0, 135.0, 180.0, -23.0], "{findings:?}");
        assert!(map("tube,length,45,45deg\nA,1\n", true).0.is_none());
        assert!(map("tube,length,400deg\nA,1\n", true).0.is_none());
    }
}
