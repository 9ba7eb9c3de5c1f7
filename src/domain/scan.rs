//! Points measured all over a tube by a scanner, in the scanner's own frame.

use super::units::LengthUnit;
use super::{Angle, Place};
use serde::{Deserialize, Serialize};

/// How scans are read, from `[scan]` in `lot.toml`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanRule {
    /// Unit of coordinates whose header states none.
    pub unit: LengthUnit,
    /// How far the whole scan may be off in size, as a standard deviation on the radius, mm: the error that more points
    /// do not lessen. A quarter of it is taken as the least doubt of any one patch.
    pub accuracy_mm: f64,
}

impl Default for ScanRule {
    /// Millimetres; 0.02 mm (common practice, no source: what desk-top scanners are sold with).
    fn default() -> Self {
        ScanRule { unit: LengthUnit::Millimetre, accuracy_mm: 0.02 }
    }
}

/// Where the index line of a scanned tube is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MarkAt {
    /// A point on the index line, mm, in the frame of the scan.
    Point([f64; 3]),
    /// The angle of the index line in the angles that are printed for this scan without a mark.
    Angle(Angle),
}

/// Which end of a scanned tube is the index end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum IndexEnd {
    /// The end nearer to the mark's point; for an angle, the index end that is printed without a mark.
    #[default]
    Near,
    /// The other end.
    Far,
}

/// What ties a scan to the tube's own frame.
#[derive(Debug, Clone, PartialEq)]
pub struct IndexMark {
    /// Where the index line is.
    pub at: MarkAt,
    /// Which end is the index end.
    pub end: IndexEnd,
    /// Where it stands in the user's files.
    pub place: Place,
}

/// The scan of one tube.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// The points, mm, in any right-handed frame that does not move with respect to the tube; all finite.
    pub points: Vec<[f64; 3]>,
    /// See [`ScanRule::accuracy_mm`].
    pub accuracy_mm: f64,
    /// The index mark; without one, angles and ends are arbitrary.
    pub index: Option<IndexMark>,
    /// The file.
    pub place: Place,
    /// The points laid out on the tube, once that has been done.
    pub unrolled: Option<Unrolled>,
}

/// The mean of the points of one small patch of bark, in the tube's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanCell {
    /// Place along the tube, mm.
    pub z_mm: f64,
    /// Direction about the centreline.
    pub angle: Angle,
    /// Height of the bark over the scan's axis in that direction, mm.
    pub height_mm: f64,
    /// Standard deviation of it, without the error common to the whole scan, mm.
    pub sd_mm: f64,
    /// Number of points.
    pub points: usize,
}

/// The wall where bore and bark were both scanned: the mean of one small patch, in the tube's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanWall {
    /// Place along the tube, mm.
    pub z_mm: f64,
    /// Direction about the centreline.
    pub angle: Angle,
    /// Thickness along the radius of the section, mm.
    pub wall_mm: f64,
    /// Standard deviation of it, that of the bark over it included, without the error common to the whole scan, mm.
    pub sd_mm: f64,
    /// Number of points of the bore.
    pub points: usize,
}

/// How an arbitrary frame is found again on the tube.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FoundFrame {
    /// Mean diameter at the end taken as the index end, mm.
    pub index_diameter_mm: f64,
    /// Mean diameter at the other end, mm.
    pub far_diameter_mm: f64,
    /// Largest diameter of the section at the index end, mm: its direction is angle 0.
    pub widest_mm: f64,
    /// Smallest diameter of that section, mm.
    pub narrowest_mm: f64,
    /// Standard deviation of the direction of the largest, degrees; large for a round end.
    pub widest_sd_deg: f64,
    /// Bow of the scanned centreline, mm.
    pub bow_mm: f64,
    /// Direction toward which it bulges, degrees.
    pub bow_deg: f64,
}

/// A scan laid out on its tube.
#[derive(Debug, Clone, PartialEq)]
pub struct Unrolled {
    /// Patches by angle, then place.
    pub cells: Vec<ScanCell>,
    /// Patches of wall, from the index end; none where the bore was not scanned.
    pub walls: Vec<ScanWall>,
    /// Points of the scan.
    pub points: usize,
    /// Points on the bark that entered the patches.
    pub used: usize,
    /// Points of the bore that entered the patches of wall.
    pub wall_points: usize,
    /// Points left out within the bore, in the wall or on a sawn face.
    pub inside: usize,
    /// Points off the tube, or off the other points of their patch.
    pub stray: usize,
    /// Standard deviation of one point about its patch, mm, as found in the scan.
    pub point_sd_mm: f64,
    /// Distance between the ends as scanned, mm.
    pub length_mm: f64,
    /// Share of the bark (in patches of about an inch by 30 degrees) in which anything was seen.
    pub seen_share: f64,
    /// How to find the frame on the tube, where no index mark says it.
    pub found: Option<FoundFrame>,
}
