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

pub(super) mod index;
mod ply;
mod text;

use super::book::Book;
use super::findings::{Findings, quoted, whole_file};
use super::row::bad_name;
use crate::domain::{Place, Scan, units::LengthUnit};
use std::path::Path;
use std::sync::Arc;

/// Bad points listed per file; all are counted.
const MOST_LISTED: usize = 20;
/// Most points read from one file: twenty times what a tube needs.
const MOST_POINTS: usize = 20_000_000;
/// Farthest a point may lie from the origin of the scan, mm: 100 m.
const FARTHEST_MM: f64 = 1e5;

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
    let mut faults = Faults { file, tube: &tube, findings: &mut book.findings, found: 0 };
    let points = if file.to_lowercase().ends_with(".ply") {
        ply::read(bytes, rule.unit, &mut faults)
    } else {
        text::read(bytes, rule.unit, &mut faults)
    };
    faults.close();
    let good = faults.found == 0;
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

/// Gathers what is wrong with one file: lists the first, counts all.
pub(super) struct Faults<'a> {
    file: &'a Arc<str>,
    tube: &'a str,
    findings: &'a mut Findings,
    found: usize,
}

impl Faults<'_> {
    /// A point, or a part of the header, that cannot be used. Line 0 means the whole file.
    fn add(&mut self, line: usize, column: &str, found: impl FnOnce() -> String, expected: &str, fix: &str) {
        self.found += 1;
        if self.found <= MOST_LISTED {
            let line = u64::try_from(line).unwrap_or(u64::MAX);
            let place = Place { file: self.file.clone(), line, column: column.to_string() };
            self.findings.error(place, Some(self.tube), found(), expected, fix);
        }
    }

    fn note(&mut self, line: usize, found: String, expected: &str, fix: &str) {
        let line = u64::try_from(line).unwrap_or(u64::MAX);
        let place = Place { file: self.file.clone(), line, column: String::new() };
        self.findings.note(place, Some(self.tube), found, expected, fix);
    }

    /// Says how many there were when not all were listed.
    fn close(&mut self) {
        if self.found > MOST_LISTED {
            let found = format!("{} bad points or rows, of which the first {MOST_LISTED} are listed", self.found);
            let fix = "is this a file of points? Else take the points that are not numbers out of the scan";
            self.findings.error(whole_file(self.file), Some(self.tube), found, "none", fix);
        }
    }

    /// The point in mm when its numbers are finite and near enough; else a fault.
    fn point(&mut self, raw: [f64; 3], scale: [f64; 3], line: usize, name: impl Fn() -> String) -> Option<[f64; 3]> {
        let p = [raw[0] * scale[0], raw[1] * scale[1], raw[2] * scale[2]];
        if p.iter().all(|v| v.abs() <= FARTHEST_MM) {
            return Some(p);
        }
        let axis = (0..3).find(|&i| p[i].is_nan() || p[i].abs() > FARTHEST_MM).unwrap_or(0);
        let found = || format!("{}{}", name(), raw[axis]);
        if p[axis].is_finite() {
            self.add(line, AXES[axis], found, "a coordinate within 100 m of the origin", "is the unit right?");
        } else {
            let fix = "take points that were not measured out of the file";
            self.add(line, AXES[axis], found, "a finite number", fix);
        }
        None
    }
}

/// Names of the coordinates.
const AXES: [&str; 3] = ["x", "y", "z"];

/// Millimetres in one unit.
fn mm_per(unit: LengthUnit) -> f64 {
    let (numerator, denominator) = unit.ratio();
    // both are below 10 000, far inside what a double holds exactly
    numerator as f64 / denominator as f64
}

/// A whole, non-negative number below 2^32 as a count.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "read from at most 32 bits; `as` saturates")]
fn whole(x: f64) -> usize {
    x as usize
}
