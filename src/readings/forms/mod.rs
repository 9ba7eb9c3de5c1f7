//! Empty forms of a lot to be measured: settings, list of tubes, and one form of readings for each instrument, as files or as
//! sheets of a workbook. Read as they are they give a lot of which nothing is measured yet.

mod settings;
mod table;
mod workbook;

use super::write::{Separator, TableWriter, WriteError};
use crate::domain::NewLot;
use table::FormTable;

/// Why no forms can be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FormError {
    /// A table that could not be read back.
    #[error(transparent)]
    Table(#[from] WriteError),
    /// The workbook was not made.
    #[error("the workbook cannot be made: {0}")]
    Workbook(#[from] rust_xlsxwriter::XlsxError),
}

/// The files of a folder for a new lot: name and text of each.
///
/// # Errors
/// [`FormError::Table`]; none with this version's columns.
///
/// # Example
/// ```
/// use quarterlight::domain::{Effort, NewLot, Routine, Tool};
/// use quarterlight::readings::{form_files, read_lot_files};
/// let new = NewLot { tubes: vec!["T01".into()], routine: Routine::of(Effort::Quick, &Tool::USUAL), ..NewLot::default() };
/// let files = form_files(&new)?;
/// let files: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (name.as_str(), text.as_bytes())).collect();
/// let read = read_lot_files("new", &files).unwrap();
/// assert!(!read.has_errors() && read.lot.tubes[0].readings.is_empty());
/// # Ok::<(), quarterlight::readings::FormError>(())
/// ```
pub fn form_files(lot: &NewLot) -> Result<Vec<(String, String)>, FormError> {
    Ok(files(lot, &table::all(lot))?)
}

fn files(lot: &NewLot, tables: &[FormTable]) -> Result<Vec<(String, String)>, WriteError> {
    let mut files = vec![("lot.toml".to_string(), settings::text(lot))];
    for table in tables {
        let headers: Vec<&str> = table.headers.iter().map(String::as_str).collect();
        let mut out = TableWriter::new(table.form, &headers, Separator::Comma)?;
        for row in &table.rows {
            // every empty cell is there, for whoever types into the text itself
            let mut cells = row.clone();
            cells.resize(table.headers.len(), String::new());
            out.row(&cells)?;
        }
        files.push((format!("{}.csv", table.name), out.finish()));
    }
    Ok(files)
}

/// The same as one workbook: sheets `tubes`, `readings-...` and `lot`, units in the headers, cells checked.
///
/// The same lot gives the same bytes: the workbook names no time and no author.
///
/// # Errors
/// [`FormError::Workbook`] when the workbook's writer refuses it.
pub fn form_workbook(lot: &NewLot) -> Result<Vec<u8>, FormError> {
    Ok(workbook::write(lot, &table::all(lot))?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Effort, Routine, Target, Tool, units::LengthUnit};
    use crate::readings::{LotRead, read_lot_files};

    fn lot(tubes: usize, effort: Effort, unit: LengthUnit) -> NewLot {
        NewLot {
            name: "spring \"two\"".into(),
            tubes: (1..=tubes).map(|i| format!("T{i:02}")).collect(),
            target: Target::for_instrument("alto saxophone").expect("a starting set"),
            routine: Routine::of(effort, &Tool::ALL),
            unit,
            ..NewLot::default()
        }
    }

    fn read(files: &[(String, String)]) -> LotRead {
        let files: Vec<(&str, &[u8])> = files.iter().map(|(n, t)| (n.as_str(), t.as_bytes())).collect();
        read_lot_files("x", &files).expect("a lot")
    }

    #[test]
    fn empty_forms_of_every_instrument_effort_and_unit_read_without_an_error() {
        for (effort, unit) in
            Effort::ALL.into_iter().flat_map(|e| [LengthUnit::Millimetre, LengthUnit::Inch].map(|u| (e, u)))
        {
            for tubes in [0, 3] {
                let read = read(&form_files(&lot(tubes, effort, unit)).expect("forms"));
                assert!(!read.has_errors(), "{effort:?} {unit:?}: {:#?}", read.findings);
                assert_eq!((read.lot.tubes.len(), read.lot.name.as_str()), (tubes, "spring \"two\""));
                assert_eq!(read.lot.target, lot(0, effort, unit).target);
                assert_eq!(read.lot.rigs.len(), Tool::ALL.len());
                assert!(read.lot.tubes.iter().all(|t| t.readings.is_empty() && !t.in_doubt));
            }
        }
    }

    /// Every cell of the forms filled with a plausible value.
    fn filled(new: &NewLot) -> Vec<FormTable> {
        let mut tables = table::all(new);
        for table in &mut tables {
            for (i, row) in table.rows.iter_mut().enumerate() {
                for (c, check) in table.checks.iter().enumerate().skip(row.len()) {
                    let table::Check::Number(least, most) = *check else {
                        row.push("a note".into());
                        continue;
                    };
                    let t = 0.4 + 0.001 * f64::from(u32::try_from(i + 7 * c).expect("few"));
                    // lengths that hold every place of the form
                    let typed = if table.name == "tubes" && c == 1 { least * 7.0 } else { least + t * (most - least) };
                    row.push(format!("{typed:.3}"));
                }
            }
        }
        tables
    }

    #[test]
    fn a_workbook_filled_in_reads_as_the_files_filled_in_with_the_same_values() {
        for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
            let new = lot(3, Effort::Thorough, unit);
            let (files, book) =
                (files(&new, &filled(&new)).expect("files"), workbook::write(&new, &filled(&new)).expect("a workbook"));
            assert_eq!(book, workbook::write(&new, &filled(&new)).expect("again"), "bytes differ");
            let (a, b) = (read(&files), {
                let folder = tempfile::tempdir().expect("a folder");
                let path = folder.path().join("lot.xlsx");
                std::fs::write(&path, &book).expect("written");
                crate::readings::read_lot(&path).expect("a lot")
            });
            assert!(!a.has_errors() && !b.has_errors(), "{:#?} {:#?}", a.findings, b.findings);
            let rest = |l: &crate::domain::Lot| (l.name.clone(), l.target.clone(), l.rigs.clone(), l.saw, l.split);
            assert_eq!(rest(&a.lot), rest(&b.lot));
            let per_tube: usize = new.routine.readings();
            for (mut x, mut y) in a.lot.tubes.into_iter().zip(b.lot.tubes) {
                assert_eq!((x.readings.len(), y.readings.len()), (per_tube, per_tube), "{}", x.name);
                // the same readings; only where they stand differs
                for t in [&mut x, &mut y] {
                    t.readings.sort_by_key(|r| (r.kind, r.place.line));
                    t.readings.iter_mut().for_each(|r| r.place = crate::domain::Place::default());
                }
                assert_eq!(x, y);
            }
        }
    }

    #[test]
    fn what_is_commented_out_in_the_settings_is_the_default() {
        let new = lot(1, Effort::Quick, LengthUnit::Millimetre);
        let mut files = form_files(&new).expect("forms");
        let plain = read(&files);
        // taking away the # of every line that shows a default changes nothing
        files[0].1 = files[0]
            .1
            .lines()
            .map(|l| if l.contains("# default") { l.trim_start_matches("# ") } else { l })
            .collect::<Vec<&str>>()
            .join("\n");
        let all = read(&files);
        assert!(!all.has_errors(), "{:#?}", all.findings);
        assert!(files[0].1.lines().filter(|l| l.contains("# default")).count() > 15, "{}", files[0].1);
        // degrees went through radians
        let degrees = |x: f64| (1e9 * x).round() / 1e9;
        let same = |l: &crate::domain::Lot| {
            let split = crate::domain::Split { wander_deg: degrees(l.split.wander_deg), ..l.split };
            (l.target.clone(), l.saw, split, l.screen, l.scan.clone())
        };
        assert_eq!(same(&plain.lot), same(&all.lot));
        for tool in Tool::ALL {
            let rig = all.lot.rigs[tool.word()];
            let sd = rig.sd_mm.expect("shown");
            assert!((sd - tool.kind().default_sd_mm()).abs() < 1e-12, "{tool:?}: {sd}");
            assert!((rig.seconds.expect("shown") - tool.kind().seconds()).abs() < 1e-12, "{tool:?}");
        }
    }
}
