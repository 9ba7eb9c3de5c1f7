//! Tables written as the readers read them: the headers are checked against the same catalogue of columns.

use super::catalogue::{Across, Form, grid_angle, grid_place};
use crate::domain::{Lot, Mark, Reading, Tube, units::parse_header};

/// What stands between the cells of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Separator {
    /// A comma; decimals are then written with a point.
    #[default]
    Comma,
    /// A semicolon, as spreadsheets write it where decimals have a comma.
    Semicolon,
    /// A tab.
    Tab,
}

/// Why a table cannot be written: it could not be read back.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// A header that no column of this form has, or with a unit of another quantity.
    #[error("{form:?} has no column {header:?}")]
    UnknownColumn {
        /// The form.
        form: Form,
        /// The header.
        header: String,
    },
    /// Two headers for one column.
    #[error("{form:?} has the column {header:?} twice")]
    Twice {
        /// The form.
        form: Form,
        /// The second header.
        header: String,
    },
    /// Columns that the readers ask for are not there.
    #[error("{form:?} needs also {}", .missing.join(", "))]
    Missing {
        /// The form.
        form: Form,
        /// The columns.
        missing: Vec<&'static str>,
    },
    /// A row has more cells than there are columns.
    #[error("a row of {got} cells under {need} columns")]
    Width {
        /// Cells.
        got: usize,
        /// Columns.
        need: usize,
    },
}

/// Writes one table row by row.
///
/// # Example
/// ```
/// use quarterlight::readings::{Form, Separator, TableWriter, read_lot_files};
/// let mut table = TableWriter::new(Form::Readings, &["tube", "kind", "z_mm", "angle", "value (in)"], Separator::Comma)?;
/// table.row(&["A", "diameter", "10", "0", "1 1/64"])?;
/// let text = table.finish();
/// let read = read_lot_files("trial", &[("readings.csv", text.as_bytes())]).unwrap();
/// assert_eq!(read.lot.tubes[0].readings[0].value_mm, 25.796875);
/// // what could not be read back is refused
/// assert!(TableWriter::new(Form::Readings, &["tube", "kind", "z_g", "angle", "value"], Separator::Comma).is_err());
/// # Ok::<(), quarterlight::readings::WriteError>(())
/// ```
#[derive(Debug)]
pub struct TableWriter {
    out: csv::Writer<Vec<u8>>,
    columns: usize,
}

impl TableWriter {
    /// A table of a form with these headers, each as the readers take it: a column's name, a unit behind it if need be, and
    /// in a grid the angles, in the line form the places.
    ///
    /// # Errors
    /// When a header is not one of the form's, is there twice, or one that the readers need is missing.
    pub fn new(form: Form, headers: &[&str], separator: Separator) -> Result<TableWriter, WriteError> {
        check(form, headers)?;
        let mark = match separator {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
            Separator::Tab => b'\t',
        };
        // a name that begins like a comment is put in quotes
        let out = csv::WriterBuilder::new().delimiter(mark).comment(Some(b'#')).flexible(true).from_writer(Vec::new());
        let mut table = TableWriter { out, columns: headers.len() };
        table.row(headers)?;
        Ok(table)
    }

    /// One row: a cell for each header, an empty text where there is nothing. Cells at its end may be left out.
    ///
    /// # Errors
    /// When there are more cells than headers.
    pub fn row<C: AsRef<str>>(&mut self, cells: &[C]) -> Result<(), WriteError> {
        if cells.len() > self.columns {
            return Err(WriteError::Width { got: cells.len(), need: self.columns });
        }
        self.out
            .write_record(cells.iter().map(|c| c.as_ref()))
            .unwrap_or_else(|e| unreachable!("rows of any length are written into memory: {e}"));
        Ok(())
    }

    /// The table's text.
    #[must_use]
    pub fn finish(self) -> String {
        let bytes = self.out.into_inner().unwrap_or_else(|e| unreachable!("memory takes all that is written: {e}"));
        String::from_utf8(bytes).unwrap_or_else(|e| unreachable!("texts between ASCII marks are a text: {e}"))
    }
}

/// Sees to it that the readers would take these headers.
fn check(form: Form, headers: &[&str]) -> Result<(), WriteError> {
    let mut seen: Vec<&'static str> = Vec::new();
    let mut across: Vec<f64> = Vec::new();
    for text in headers {
        let unknown = || WriteError::UnknownColumn { form, header: (*text).to_string() };
        let twice = || WriteError::Twice { form, header: (*text).to_string() };
        let header = parse_header(text);
        if let Some(column) = form.columns().iter().find(|c| c.is_named(&header.name)) {
            if !header.unit.is_none_or(|u| column.holds.takes(u)) {
                return Err(unknown());
            }
            if seen.contains(&column.name) {
                return Err(twice());
            }
            seen.push(column.name);
        } else {
            let at = match form.across() {
                Some(Across::Angles) => grid_angle(&header).map(|a| a.degrees()),
                Some(Across::Places) => grid_place(&header).map(|p| p.0).filter(|mm| *mm >= 0.0),
                None => None,
            };
            let at = at.ok_or_else(unknown)?;
            if across.iter().any(|a| (a - at).abs() < 1e-9) {
                return Err(twice());
            }
            across.push(at);
        }
    }
    let mut missing: Vec<&str> =
        form.columns().iter().filter(|c| c.required && !seen.contains(&c.name)).map(|c| c.name).collect();
    missing.extend(form.across().filter(|_| across.is_empty()).map(Across::missing));
    if missing.is_empty() { Ok(()) } else { Err(WriteError::Missing { form, missing }) }
}

/// The tables of a lot by their file names: `tubes.csv`, `readings.csv` and `marks.csv`, in mm, g and degrees, with every
/// digit; a table without rows is left out. Read again they give the same tubes.
///
/// Scans and settings are not written. A length guessed from the furthest reading is written like any other.
///
/// # Errors
/// None with this version's columns: the type is the writer's.
pub fn lot_tables(lot: &Lot) -> Result<Vec<(&'static str, String)>, WriteError> {
    let mut files = Vec::new();
    if !lot.tubes.is_empty() {
        files.push(("tubes.csv", tubes(&lot.tubes)?));
    }
    if lot.tubes.iter().any(|t| !t.readings.is_empty()) {
        files.push(("readings.csv", readings(&lot.tubes)?));
    }
    if lot.tubes.iter().any(|t| !t.marks.is_empty()) {
        files.push(("marks.csv", marks(&lot.tubes)?));
    }
    Ok(files)
}

fn number(x: f64) -> String {
    x.to_string()
}

fn maybe(x: Option<f64>) -> String {
    x.map_or(String::new(), number)
}

fn tubes(tubes: &[Tube]) -> Result<String, WriteError> {
    // few look at the clock
    let timed = tubes.iter().any(|t| t.minutes.is_some());
    let mut headers = vec!["tube", "length_mm", "weight_g", "wall_mm", "minutes", "note"];
    headers.retain(|h| timed || *h != "minutes");
    let mut table = TableWriter::new(Form::Tubes, &headers, Separator::Comma)?;
    for t in tubes {
        let mut row = vec![t.name.clone(), number(t.length_mm), maybe(t.weight_g), maybe(t.wall_mm)];
        row.extend(timed.then(|| maybe(t.minutes)));
        row.push(t.note.clone());
        table.row(&row)?;
    }
    Ok(table.finish())
}

fn readings(tubes: &[Tube]) -> Result<String, WriteError> {
    let headers =
        ["tube", "kind", "z_mm", "angle_deg", "value_mm", "set", "sd_mm", "rig", "vee_deg", "width_mm", "span_mm"];
    let mut table = TableWriter::new(Form::Readings, &headers, Separator::Comma)?;
    for (tube, r) in tubes.iter().flat_map(|t| t.readings.iter().map(move |r| (t, r))) {
        let Reading { kind, z_mm, angle, value_mm, sd_mm, vee_deg, width_mm, span_mm, set, rig, .. } = r;
        table.row(&[
            tube.name.clone(),
            kind.word().to_string(),
            number(*z_mm),
            number(angle.degrees()),
            number(*value_mm),
            set.clone(),
            maybe(*sd_mm),
            rig.clone(),
            maybe(*vee_deg),
            maybe(*width_mm),
            maybe(*span_mm),
        ])?;
    }
    Ok(table.finish())
}

fn marks(tubes: &[Tube]) -> Result<String, WriteError> {
    let headers = ["tube", "from_mm", "to_mm", "angle_from_deg", "angle_to_deg", "why"];
    let mut table = TableWriter::new(Form::Marks, &headers, Separator::Comma)?;
    for (tube, m) in tubes.iter().flat_map(|t| t.marks.iter().map(move |m| (t, m))) {
        let Mark { from_mm, to_mm, from, to, why, .. } = m;
        let angle = |a: &Option<crate::domain::Angle>| maybe(a.map(|a| a.degrees()));
        table.row(&[tube.name.clone(), number(*from_mm), number(*to_mm), angle(from), angle(to), why.clone()])?;
    }
    Ok(table.finish())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_not_be_read_back_is_refused() {
        let new = |form, headers: &[&str]| TableWriter::new(form, headers, Separator::Semicolon).map(drop);
        assert!(new(Form::Marks, &["tube", "z (mm)", "why"]).is_ok());
        assert!(matches!(new(Form::Marks, &["tube", "from", "z_from"]), Err(WriteError::Twice { .. })));
        assert!(matches!(new(Form::Tubes, &["tube", "length_g"]), Err(WriteError::UnknownColumn { .. })));
        assert!(matches!(new(Form::Tubes, &["tube", "length", "45deg"]), Err(WriteError::UnknownColumn { .. })));
        assert_eq!(
            new(Form::ReadingsGrid, &["tube", "z"]),
            Err(WriteError::Missing { form: Form::ReadingsGrid, missing: vec!["kind", "angle columns such as 0deg"] })
        );
        assert!(matches!(
            new(Form::ReadingsGrid, &["tube", "kind", "z", "90", "90deg"]),
            Err(WriteError::Twice { .. })
        ));
    }

    #[test]
    fn names_with_marks_in_them_are_quoted_and_no_row_is_longer_than_the_header() {
        let mut table = TableWriter::new(Form::Tubes, &["tube", "length"], Separator::Comma).expect("good headers");
        table.row(&["#1, \"long\"", "200"]).expect("two cells");
        assert_eq!(table.row(&["x", "1", "2"]), Err(WriteError::Width { got: 3, need: 2 }));
        assert_eq!(table.finish(), "tube,length\n\"#1, \"\"long\"\"\",200\n");
    }
}
