//! One tube after fitting: its figures and the readings the fit does not believe.

use super::belief::Belief;
use super::doubted::Doubted;
use super::error::BeliefError;
use super::faults::{Suspicion, Suspicions};
use super::geometry::{Seen, Sight, TubeFigures};
use super::widened::Widened;
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
    /// More slips that were suspected but are not told, mostly the shadows of those that are.
    #[serde(default, skip_serializing_if = "is_none")]
    pub suspicions_untold: usize,
    /// Why such slips could not be looked for, or not for all of them; `None` when they were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unsearched: Option<BeliefError>,
    /// How the doubt was widened where the readings do not look like such a tube; `None` where they do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub widened: Option<Widened>,
    /// False when the reweighting hit its cap.
    pub settled: bool,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_none(n: &usize) -> bool {
    *n == 0
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
            suspicions_untold: 0,
            unsearched: None,
            widened: belief.widened(),
            settled: belief.settled(),
        }
    }

    /// The same with what [`super::faults::suspicions`] found, or why it found nothing out.
    #[must_use]
    pub fn suspecting(mut self, search: Result<Suspicions, BeliefError>) -> FittedTube {
        match search {
            Ok(found) => {
                self.suspicions = found.told;
                self.suspicions_untold = found.untold;
                self.unsearched = found.stopped;
            }
            Err(why) => self.unsearched = Some(why),
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::super::fields::Fields;
    use super::super::model::Model;
    use super::super::quantity::Quantity;
    use super::*;
    use crate::domain::{Angle, Kind, Reading};
    use std::f64::consts::TAU;

    const LENGTH_MM: f64 = 200.0;

    /// Height of the bark of a tube bowed by 1 mm toward 90 deg, with dents `deep` mm deep, 25 deg by 15 mm, here and there.
    fn height(deep: f64, a: f64, z: f64) -> f64 {
        let bow = 4.0 * z * (LENGTH_MM - z) / LENGTH_MM.powi(2);
        let dent = |i: u32| {
            let (at, along) = (f64::from(i * 137 % 360).to_radians(), 10.0 + f64::from(i * 61 % 180));
            let round = ((a - at + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0).to_degrees() / 25.0;
            deep * (-0.5 * (round * round + ((z - along) / 15.0).powi(2))).exp()
        };
        12.7 + bow * a.sin() - (0..14).map(dent).sum::<f64>()
    }

    /// The tube read exactly from its axis, at 12 angles every 10 mm.
    fn dented(deep: f64) -> Tube {
        let rings = (0..21).map(|j| 10.0 * f64::from(j)).flat_map(|z| (0..12).map(move |i| (z, 30.0 * f64::from(i))));
        let one = |(z, deg): (f64, f64)| {
            Reading::new(Kind::Radius, z, Angle::from_degrees(deg), height(deep, deg.to_radians(), z))
        };
        Tube { name: "D".into(), length_mm: LENGTH_MM, readings: rings.map(one).collect(), ..Tube::default() }
    }

    /// Mean diameter and bow by sums over a fine grid.
    fn true_figures(deep: f64) -> [f64; 2] {
        let turn = |f: &dyn Fn(f64) -> f64| (0..720).map(|i| f(TAU * f64::from(i) / 720.0)).sum::<f64>() / 720.0;
        let places: Vec<f64> = (0..=200).map(f64::from).collect();
        let radius = places.iter().map(|&z| turn(&|a| height(deep, a, z))).sum::<f64>() / 201.0;
        let centre =
            |z: f64| [turn(&|a| 2.0 * height(deep, a, z) * a.cos()), turn(&|a| 2.0 * height(deep, a, z) * a.sin())];
        let (first, last) = (centre(0.0), centre(LENGTH_MM));
        let off = |z: f64| {
            let (c, share) = (centre(z), z / LENGTH_MM);
            let part = |i: usize| c[i] - (1.0 - share) * first[i] - share * last[i];
            part(0).hypot(part(1))
        };
        [2.0 * radius, places.into_iter().map(off).fold(0.0, f64::max)]
    }

    #[test]
    fn the_doubt_of_an_odd_tube_is_that_of_its_widened_belief() {
        let (smooth, odd) = (dented(0.0), dented(0.3));
        let model = Model::default();
        let [plain, belief] = [&smooth, &odd].map(|t| Belief::fit(t, &model).expect("measured"));
        let fit = FittedTube::of(&odd, &belief, 3, 200);
        assert!(plain.widened().is_none());
        let widened = fit.widened.expect("no tube of the built-in law has dents of 0.3 mm");
        assert_eq!(belief.widened(), Some(widened));
        assert!(widened.doubted_before >= 8 && fit.doubted.len() < widened.doubted_before, "{widened:?}");
        // what the draws scatter is what the belief, with all its roughnesses, states
        let size = fit.figures.diameter_mm.expect("seen");
        let stated = belief.doubt_of(&Quantity::of(belief.fields()).mean(LENGTH_MM, Fields::R0, 2.0)).sd;
        assert!((0.8..1.3).contains(&(size.sd / stated)), "{size:?} {stated}");
        // and is wider than that of a smooth tube read alike
        let before = plain.figures(3, 200);
        let bow = fit.figures.bow_mm.expect("seen");
        let [true_size, true_bow] = true_figures(0.3);
        println!("{widened:?}; {size:?} {true_size}; {bow:?} {true_bow}; smooth {before:?}");
        assert!(bow.sd > before.bow_mm.expect("seen").sd, "{bow:?} {before:?}");
        assert!((size.value - true_size).abs() < 3.0 * size.sd, "{size:?} {true_size}");
        assert!((bow.value - true_bow).abs() < 3.0 * bow.sd, "{bow:?} {true_bow}");
    }
}
