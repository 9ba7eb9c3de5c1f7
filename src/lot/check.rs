//! What a check of a lot's files found, as it is stored.

use super::json::FORMAT;
use super::json::pretty;
use super::prepared::Prepared;
use crate::domain::Finding;
use crate::tube::ScanFigures;
use serde::Serialize;

/// A lot's files checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checked {
    format: u64,
    /// The lot's name.
    pub lot: String,
    /// The files read.
    pub files: Vec<String>,
    /// Number of tubes.
    pub tubes: usize,
    /// Number of readings.
    pub readings: usize,
    /// Tubes that were scanned.
    pub scans: Vec<CheckedScan>,
    /// Tubes that are not analysed until something is mended.
    pub tubes_in_doubt: Vec<String>,
    /// All that was noticed.
    pub findings: Vec<Finding>,
}

/// The scan of one tube.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckedScan {
    /// The tube.
    pub tube: String,
    /// The scan in numbers; `None` when it could not be laid out.
    pub scan: Option<ScanFigures>,
}

impl Checked {
    /// Sums up a lot's files; `findings` are those of reading it and any noticed since.
    #[must_use]
    pub fn of(prepared: &Prepared, findings: Vec<Finding>) -> Checked {
        let tubes = &prepared.lot.tubes;
        let scanned = tubes.iter().filter(|t| t.scan.is_some());
        Checked {
            format: FORMAT,
            lot: prepared.lot.name.clone(),
            files: prepared.files.clone(),
            tubes: tubes.len(),
            readings: tubes.iter().map(|t| t.readings.len()).sum(),
            scans: scanned.map(|t| CheckedScan { tube: t.name.clone(), scan: ScanFigures::of(t) }).collect(),
            tubes_in_doubt: tubes.iter().filter(|t| t.in_doubt).map(|t| t.name.clone()).collect(),
            findings,
        }
    }

    /// The same as JSON.
    #[must_use]
    pub fn to_json(&self) -> String {
        pretty(self)
    }
}
