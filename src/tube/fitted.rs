//! One tube after fitting: its figures and the readings the fit does not believe.

use super::belief::{Belief, Doubted};
use super::faults::Suspicion;
use super::geometry::{Seen, Sight, TubeFigures};
use crate::domain::{FoundFrame, Tube};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Draws that suffice for the doubt of a figure: its own relative error is then 5 %.
const MOST_DRAWS: u64 = 200;

/// What fitting says about one tube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittedTube {
    /// Its name.
    pub tube: String,
    /// Length, mm.
    pub length_mm: f64,
    /// Weight, g.
    pub weight_g: Option<f64>,
    /// Number of readings that went in, the patches of a scan among them.
    pub readings: usize,
    /// What was made of its scan.
    #[serde(flatten, with = "scan_and_counts")]
    pub scan: Option<ScanFigures>,
    /// The figures.
    #[serde(rename = "geometry")]
    pub figures: TubeFigures,
    /// Which groups of quantities the readings see.
    pub seen: Seen,
    /// How well each quantity is seen.
    pub sight: Vec<Sight>,
    /// Readings the fit does not believe.
    pub doubted: Vec<Doubted>,
    /// Slips with a likely cause; see [`FittedTube::suspecting`].
    pub suspicions: Vec<Suspicion>,
    /// False when the reweighting hit its cap.
    pub settled: bool,
}

/// A scan in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ScanFigures {
    /// Points in the file.
    pub points: usize,
    /// Patches they were gathered into.
    pub cells: usize,
    /// Patches of wall.
    pub wall_cells: usize,
    /// Bore points in those.
    pub wall_points: usize,
    /// Points left out: in the bore, in the wall or on a sawn face.
    pub inside: usize,
    /// Points left out: off the tube or off their patch.
    pub stray: usize,
    /// Standard deviation of one point, mm.
    pub point_sd_mm: f64,
    /// Share of the bark seen.
    pub seen_share: f64,
    /// Where an arbitrary frame lies on the tube; `None` with an index mark.
    #[serde(flatten, with = "found_or_marked")]
    pub found: Option<FoundFrame>,
}

/// A scan is stored with its points and patches told once more beside it: 0 without a scan.
mod scan_and_counts {
    use super::{Deserialize, Deserializer, ScanFigures, Serialize, Serializer};

    #[derive(Serialize)]
    struct Told {
        scan_points: usize,
        scan_cells: usize,
        scan: Option<ScanFigures>,
    }

    #[derive(Deserialize)]
    struct Read {
        scan: Option<ScanFigures>,
    }

    pub(super) fn serialize<S: Serializer>(scan: &Option<ScanFigures>, to: S) -> Result<S::Ok, S::Error> {
        let of = |get: fn(&ScanFigures) -> usize| scan.as_ref().map_or(0, get);
        Told { scan_points: of(|s| s.points), scan_cells: of(|s| s.cells), scan: *scan }.serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<ScanFigures>, D::Error> {
        Read::deserialize(from).map(|r| r.scan)
    }
}

/// A frame that had to be found is stored beside the plain word whether there was an index mark.
mod found_or_marked {
    use super::{Deserialize, Deserializer, FoundFrame, Serialize, Serializer};

    #[derive(Serialize)]
    struct Told {
        index_mark: bool,
        found: Option<FoundFrame>,
    }

    #[derive(Deserialize)]
    struct Read {
        found: Option<FoundFrame>,
    }

    pub(super) fn serialize<S: Serializer>(found: &Option<FoundFrame>, to: S) -> Result<S::Ok, S::Error> {
        Told { index_mark: found.is_none(), found: *found }.serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<FoundFrame>, D::Error> {
        Read::deserialize(from).map(|r| r.found)
    }
}

impl ScanFigures {
    /// The figures of a tube's scan once it is laid out.
    #[must_use]
    pub fn of(tube: &Tube) -> Option<ScanFigures> {
        let u = tube.scan.as_ref()?.unrolled.as_ref()?;
        Some(ScanFigures {
            points: u.points,
            cells: u.cells.len(),
            wall_cells: u.walls.len(),
            wall_points: u.wall_points,
            inside: u.inside,
            stray: u.stray,
            point_sd_mm: u.point_sd_mm,
            seen_share: u.seen_share,
            found: u.found,
        })
    }
}

impl FittedTube {
    /// Sums up a belief; the doubts come from at most 200 of `draws` draws under `seed`.
    #[must_use]
    pub fn of(tube: &Tube, belief: &Belief, seed: u64, draws: u64) -> FittedTube {
        let scan = ScanFigures::of(tube);
        FittedTube {
            tube: tube.name.clone(),
            length_mm: tube.length_mm,
            weight_g: tube.weight_g,
            readings: tube.readings.len() + scan.map_or(0, |s| s.cells + s.wall_cells),
            scan,
            figures: belief.figures(seed, draws.min(MOST_DRAWS)),
            seen: belief.seen(),
            sight: belief.sight(),
            doubted: belief.doubted().to_vec(),
            suspicions: Vec::new(),
            settled: belief.settled(),
        }
    }

    /// The same with what [`super::faults::suspicions`] found.
    #[must_use]
    pub fn suspecting(mut self, suspicions: Vec<Suspicion>) -> FittedTube {
        self.suspicions = suspicions;
        self
    }
}
