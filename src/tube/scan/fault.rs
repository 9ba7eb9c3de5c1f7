//! Why a scan cannot be laid out.

use crate::domain::counted;
use crate::domain::units::MM_PER_INCH;
use serde::{Deserialize, Serialize};

/// Fewest points a tube can be found with.
pub const LEAST_POINTS: usize = 100;
/// Diameters a tube can have, mm; common practice, no source, and wide.
pub(super) const DIAMETERS_MM: (f64, f64) = (5.0, 80.0);

/// Why a scan cannot be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ScanFault {
    /// Too few points.
    #[error("{}", counted(*got, "point"))]
    TooFew {
        /// Points given.
        got: usize,
    },
    /// No round surface fits the points.
    #[error("points on which no tube is found")]
    NoTube,
    /// The tube found has a size that tubes do not have.
    #[error("a tube {diameter_mm:.2} mm thick")]
    Size {
        /// Mean diameter, mm.
        diameter_mm: f64,
    },
    /// Its points were not laid out before it was used; see `ready` and `unroll_lot`.
    #[error("points that are not laid out yet")]
    NotLaidOut,
    /// The index mark is not on the bark.
    #[error("an index mark {off_mm:.1} mm off the bark")]
    MarkOff {
        /// Distance, mm.
        off_mm: f64,
    },
}

impl ScanFault {
    pub(super) fn expected(&self) -> String {
        match self {
            ScanFault::TooFew { .. } => format!("at least {LEAST_POINTS} points on the bark"),
            ScanFault::NoTube => "points all over one tube".into(),
            ScanFault::NotLaidOut => "patches of bark".into(),
            ScanFault::Size { .. } => format!("{} to {} mm", DIAMETERS_MM.0, DIAMETERS_MM.1),
            ScanFault::MarkOff { .. } => "a point on the index line".into(),
        }
    }

    pub(super) fn fix(&self) -> String {
        match self {
            ScanFault::TooFew { .. } => "scan the tube again, or take the file away".into(),
            ScanFault::NotLaidOut => "lay the scans of the lot out first".into(),
            ScanFault::NoTube => "cut table, stand and other tubes out of the scan".into(),
            ScanFault::Size { diameter_mm } => {
                let holds = |d: f64| (DIAMETERS_MM.0..=DIAMETERS_MM.1).contains(&d);
                let unit = [("in", MM_PER_INCH), ("cm", 10.0), ("m", 1000.0)]
                    .into_iter()
                    .find(|(_, f)| holds(diameter_mm * f));
                match unit {
                    Some((word, _)) => format!("are the coordinates in {word}? Write unit = \"{word}\" under [scan]"),
                    None => "is the unit right? Write it under [scan] in lot.toml".into(),
                }
            }
            ScanFault::MarkOff { .. } => "give the point in the frame and unit of the scan".into(),
        }
    }
}
