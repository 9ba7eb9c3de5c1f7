//! Scans: one file of points per tube in the folder `scans`, named after the tube.
//!
//! | file | holds |
//! |---|---|
//! | `scans/TUBE.csv` | columns `x`, `y`, `z` in any order, with their unit in the header if need be (`x_mm`, `x (in)`); other columns are left alone; without a header row the first three columns |
//! | `scans/TUBE.xyz` | three numbers a line, between blanks, tabs, commas or semicolons; more columns are left alone; `#`, `//` and `%` begin comments |
//! | `scans/TUBE.ply` | the polygon file format 1.0, ascii or binary of either byte order: `x`, `y`, `z` of the element `vertex`; everything else is passed over |
//! | `scans/index.csv` | optional, see [`index`] |
//!
//! Points stand in any right-handed frame, in any order. Where no header states a unit it is that of `[scan] unit` in
//! `lot.toml` (mm by default). A point that is not three finite numbers is an error: the scan is then not used.
//!
//! The reader of PLY is our own because every bad vertex of a file is to be named with its line, nothing is allocated
//! that the file is too short to fill, and only three columns are wanted.

mod faults;
pub(super) mod index;
mod ply;
mod text;

use super::book::Book;
use super::findings::{quoted, whole_file};
use super::name::bad_name;
use crate::domain::Scan;
use faults::Faults;
use std::path::Path;
use std::sync::Arc;

/// True for the name of a file of points.
pub(super) fn is_scan_name(name: &str) -> bool {
    let name = name.to_lowercase();
    [".csv", ".xyz", ".ply"].iter().any(|end| name.ends_with(end))
}

/// True for the ending of a file that can only hold points.
pub(super) fn is_only_scan(name: &str) -> bool {
    let name = name.to_lowercase();
    name.ends_with(".xyz") || name.ends_with(".ply")
}

/// Reads one scan into the book; `file` is its name as the user would say it.
pub(super) fn read(bytes: &[u8], file: &Arc<str>, book: &mut Book) {
    let stem = Path::new(&**file).file_stem().map_or(String::new(), |s| s.to_string_lossy().trim().to_string());
    if stem.is_empty() || bad_name(&stem).is_some() {
        let fix = "name the file after its tube";
        book.findings.error(whole_file(file), None, quoted(&stem), "the name of a tube", fix);
        return;
    }
    let tube = match_name(&stem, file, book);
    if let Some(first) = book.tube(&tube).and_then(|t| t.scan.as_ref()) {
        let found = format!("a second scan of {} besides {}", quoted(&tube), first.place.file);
        book.findings.error(whole_file(file), Some(&tube), found, "one scan of each tube", "keep one of the two files");
        return;
    }
    let rule = book.lot.scan;
    let mut faults = Faults::new(file, &tube, &mut book.findings);
    let points = if file.to_lowercase().ends_with(".ply") {
        ply::read(bytes, rule.unit, &mut faults)
    } else {
        text::read(bytes, rule.unit, &mut faults)
    };
    let good = faults.close();
    let place = whole_file(file);
    let scan = Scan { points, accuracy_mm: rule.accuracy_mm, index: None, place, unrolled: None };
    let entry = book.tube_mut(&tube);
    if good {
        entry.scan = Some(scan);
    }
}

/// The tube a file stands for: the one of that name, else the only one that differs by case.
fn match_name(stem: &str, file: &Arc<str>, book: &mut Book) -> String {
    if book.tube(stem).is_some() {
        return stem.to_string();
    }
    let near: Vec<String> = book
        .lot
        .tubes
        .iter()
        .filter(|t| t.name.to_lowercase() == stem.to_lowercase())
        .map(|t| t.name.clone())
        .collect();
    match near.as_slice() {
        [one] => {
            let found = format!("a scan called {}", quoted(stem));
            let fix = "nothing to do: capitals make no difference in file names";
            book.findings.note(whole_file(file), Some(one), found, format!("{}, as listed", quoted(one)), fix);
            one.clone()
        }
        _ => stem.to_string(),
    }
}
