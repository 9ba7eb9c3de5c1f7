//! Sizes of tubes by which those that nobody measured are counted.

use super::super::outcome::TubeOutcome;
use super::super::spent::weight_of;
use super::super::terms::Terms;
use crate::numeric::summary::count;
use serde::{Deserialize, Serialize};

/// By what size the unmeasured tubes are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SizedBy {
    /// Weight.
    Weight,
    /// Blank lengths that fit into the tube end to end, times its pieces.
    Room,
    /// Weight and room together.
    WeightAndRoom,
    /// Every tube as any other.
    Tube,
    /// Each like the three measured tubes nearest to it in length and weight.
    Nearest,
}

/// What is known of a tube without measuring it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sizes {
    pub(super) length_mm: Option<f64>,
    pub(super) weight_g: Option<f64>,
    /// Blanks that fit into it if every stretch of it were good.
    pub(super) room: Option<f64>,
}

impl Sizes {
    pub(super) fn of_tube(o: &TubeOutcome, terms: &Terms) -> Sizes {
        let length_mm = Some(o.length_mm).filter(|l| *l > 0.0);
        Sizes { length_mm, weight_g: weight_of(o), room: length_mm.map(|l| room(l, terms)) }
    }

    /// The sizes that count, the first of them that which the variance follows; `None` where one is not known.
    pub(super) fn of(&self, by: SizedBy) -> Option<Vec<f64>> {
        match by {
            SizedBy::Weight => Some(vec![self.weight_g?]),
            SizedBy::Room => Some(vec![self.room?]),
            SizedBy::WeightAndRoom => Some(vec![self.weight_g?, self.room?]),
            SizedBy::Tube => Some(vec![1.0]),
            SizedBy::Nearest => None,
        }
    }

    /// Where the tube lies among others: logarithms of its length and of its weight per length, which goes with its girth.
    pub(super) fn place(&self) -> Option<[f64; 2]> {
        let (length, weight) = (self.length_mm?, self.weight_g?);
        Some([length.ln(), (weight / length).ln()])
    }
}

/// Blanks that fit into a tube if every stretch of it were good.
pub(in crate::lot) fn room(length_mm: f64, terms: &Terms) -> f64 {
    let (blank, kerf, trim) = (terms.target.blank_length_mm, terms.saw.kerf_mm, terms.saw.trim_mm);
    let in_a_row = ((length_mm - 2.0 * trim + kerf) / (blank + kerf) + 1e-9).floor().max(0.0);
    in_a_row * count(terms.target.pieces)
}

/// What of a lot is not measured.
#[derive(Debug, Clone)]
pub(super) struct Unmeasured {
    pub(super) tubes: Vec<Sizes>,
    /// Bought beyond the tubes listed, g.
    pub(super) unlisted_g: f64,
    /// Blanks it has room for; no tube gives more than what fits into it.
    pub(super) room: f64,
}

impl Unmeasured {
    pub(super) fn of(tubes: Vec<Sizes>, unlisted_g: f64) -> Unmeasured {
        let room = tubes.iter().map(|s| s.room).sum::<Option<f64>>().filter(|_| unlisted_g <= 0.0);
        Unmeasured { tubes, unlisted_g, room: room.unwrap_or(f64::INFINITY) }
    }

    /// The sums of its sizes; `None` where one is not known, or where what is not listed has no such size.
    pub(super) fn total(&self, by: SizedBy, sizes: usize) -> Option<Vec<f64>> {
        if self.unlisted_g > 0.0 && by != SizedBy::Weight {
            return None;
        }
        let mut total = vec![0.0; sizes];
        for tube in &self.tubes {
            total.iter_mut().zip(tube.of(by)?).for_each(|(t, x)| *t += x);
        }
        total[0] += self.unlisted_g;
        Some(total)
    }
}
