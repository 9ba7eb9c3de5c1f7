//! One tube after fitting: its figures and the readings the fit does not believe.

use super::belief::{Belief, Doubted};
use super::geometry::{Seen, Sight, TubeFigures};
use crate::domain::Tube;

/// Draws that suffice for the doubt of a figure: its own relative error is then 5 %.
const MOST_DRAWS: u64 = 200;

/// What fitting says about one tube.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedTube {
    /// Its name.
    pub tube: String,
    /// Length, mm.
    pub length_mm: f64,
    /// Weight, g.
    pub weight_g: Option<f64>,
    /// Number of readings that went in.
    pub readings: usize,
    /// The figures.
    pub figures: TubeFigures,
    /// Which groups of quantities the readings see.
    pub seen: Seen,
    /// How well each quantity is seen.
    pub sight: Vec<Sight>,
    /// Readings the fit does not believe.
    pub doubted: Vec<Doubted>,
    /// False when the reweighting hit its cap.
    pub settled: bool,
}

impl FittedTube {
    /// Sums up a belief; the doubts come from at most 200 of `draws` draws under `seed`.
    #[must_use]
    pub fn of(tube: &Tube, belief: &Belief, seed: u64, draws: u64) -> FittedTube {
        FittedTube {
            tube: tube.name.clone(),
            length_mm: tube.length_mm,
            weight_g: tube.weight_g,
            readings: tube.readings.len(),
            figures: belief.figures(seed, draws.min(MOST_DRAWS)),
            seen: belief.seen(),
            sight: belief.sight(),
            doubted: belief.doubted().to_vec(),
            settled: belief.settled(),
        }
    }
}
