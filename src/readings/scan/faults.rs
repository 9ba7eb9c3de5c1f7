//! What is wrong with one file of points, and what both kinds of file have in common.

use crate::domain::{Place, counted, units::LengthUnit};
use crate::readings::findings::{Findings, whole_file};
use std::sync::Arc;

/// Bad points listed per file; all are counted.
const MOST_LISTED: usize = 20;
/// Most points read from one file: twenty times what a tube needs.
pub(super) const MOST_POINTS: usize = 20_000_000;
/// Farthest a point may lie from the origin of the scan, mm: 100 m.
const FARTHEST_MM: f64 = 1e5;

/// Gathers what is wrong with one file: lists the first, counts all.
pub(super) struct Faults<'a> {
    file: &'a Arc<str>,
    tube: &'a str,
    findings: &'a mut Findings,
    found: usize,
}

impl<'a> Faults<'a> {
    pub(super) fn new(file: &'a Arc<str>, tube: &'a str, findings: &'a mut Findings) -> Faults<'a> {
        Faults { file, tube, findings, found: 0 }
    }

    /// How many there are so far.
    pub(super) fn count(&self) -> usize {
        self.found
    }

    /// A point, or a part of the header, that cannot be used. Line 0 means the whole file.
    pub(super) fn add(&mut self, line: usize, column: &str, found: impl FnOnce() -> String, expected: &str, fix: &str) {
        self.found += 1;
        if self.found <= MOST_LISTED {
            let line = u64::try_from(line).unwrap_or(u64::MAX);
            let place = Place { file: self.file.clone(), line, column: column.to_string() };
            self.findings.error(place, Some(self.tube), found(), expected, fix);
        }
    }

    pub(super) fn note(&mut self, line: usize, found: String, expected: &str, fix: &str) {
        let line = u64::try_from(line).unwrap_or(u64::MAX);
        let place = Place { file: self.file.clone(), line, column: String::new() };
        self.findings.note(place, Some(self.tube), found, expected, fix);
    }

    /// Says how many there were when not all were listed; true when there were none.
    pub(super) fn close(self) -> bool {
        if self.found > MOST_LISTED {
            let found =
                format!("{} or rows, of which the first {MOST_LISTED} are listed", counted(self.found, "bad point"));
            let fix = "is this a file of points? Else take the points that are not numbers out of the scan";
            self.findings.error(whole_file(self.file), Some(self.tube), found, "none", fix);
        }
        self.found == 0
    }

    /// The point in mm when its numbers are finite and near enough; else a fault.
    pub(super) fn point(
        &mut self,
        raw: [f64; 3],
        scale: [f64; 3],
        line: usize,
        name: impl Fn() -> String,
    ) -> Option<[f64; 3]> {
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
pub(super) const AXES: [&str; 3] = ["x", "y", "z"];

/// Millimetres in one unit.
pub(super) fn mm_per(unit: LengthUnit) -> f64 {
    let (numerator, denominator) = unit.ratio();
    // both are below 10 000, far inside what a double holds exactly
    numerator as f64 / denominator as f64
}

/// A whole, non-negative number below 2^32 as a count.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "read from at most 32 bits; `as` saturates")]
pub(super) fn whole(x: f64) -> usize {
    x as usize
}
