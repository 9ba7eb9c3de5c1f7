//! The printed scale card in a picture: pixels per millimetre across and down from its lattice of discs.

use super::grey::Grey;
use super::lattice::{self, Disc};
use super::scale::PixelScale;
use crate::geometry::scale_card::{COLUMNS, PITCH_MM, ROWS};
use nalgebra::{DMatrix, DVector};

/// Discs further off the lattice than this do not count, mm, and at most this many may.
const OFF_MM: f64 = 0.25;
const MOST_OFF: usize = 3;
/// A card whose discs scatter more than this does not lie flat, or the picture is not square-on, mm.
const MOST_RMS_MM: f64 = 0.08;
/// Most lean of its rows against its columns that a square-on picture shows, radians.
const MOST_SKEW: f64 = 0.006;
/// Paper round the lattice as far as the cutting line, mm, and how far outside it scissors may go.
const RIM_MM: f64 = 9.0;
const CUT_MM: f64 = 3.0;

/// The card as found.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// Pixels per millimetre of the picture.
    pub scale: PixelScale,
    /// Discs used.
    pub discs: usize,
    /// Root mean square distance of the discs from their lattice, mm.
    pub rms_mm: f64,
    /// Whether the picture is mirrored; `None` where the missing corner is not clear.
    pub mirrored: Option<bool>,
    /// The middles of its corner discs in the picture, pixels, in turn.
    pub corners_px: [[f64; 2]; 4],
}

/// Why a card that is in the picture gives no scale.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum CardFault {
    /// Its discs do not stand on a lattice.
    NotFlat {
        /// Root mean square distance, mm.
        rms_mm: f64,
    },
    /// Its rows and columns are not square to each other.
    Skew {
        /// By how much, radians.
        skew: f64,
    },
}

/// Looks for the card. `spans_mm`: measured distances of the middles of its first and last column and first and last row.
/// `Ok(None)` where there is no card.
///
/// # Accuracy
/// On drawn pictures with noise and blur the scale is good to 0.01 % (tests); print and paper are another matter, which is why
/// the card's own lines are measured.
///
/// # Errors
/// A card that lies bent or is seen from the side.
pub fn find_card(grey: &Grey, spans_mm: [f64; 2]) -> Result<Option<Card>, CardFault> {
    let (small, side) = grey.small();
    let Some(found) = lattice::find(&small) else { return Ok(None) };
    let pitch = [spans_mm[0] / (COLUMNS - 1) as f64, spans_mm[1] / (ROWS - 1) as f64];
    let mut discs: Vec<Disc> = found.iter().map(|d| refined(grey, d, side as f64)).collect();
    let mut off = 0;
    let (fit, rms_mm) = loop {
        let fit = Affine::through(&discs);
        let mm = fit.mean_pitch_px() / PITCH_MM;
        let (worst, far) = discs
            .iter()
            .map(|d| fit.distance(d) / mm)
            .enumerate()
            .fold((0, 0.0), |best, (i, d)| if d > best.1 { (i, d) } else { best });
        if far > OFF_MM && off < MOST_OFF {
            off += 1;
            discs.remove(worst);
            continue;
        }
        let square: f64 = discs.iter().map(|d| (fit.distance(d) / mm).powi(2)).sum();
        break (fit, (square / discs.len() as f64).sqrt());
    };
    if rms_mm > MOST_RMS_MM {
        return Err(CardFault::NotFlat { rms_mm });
    }
    let (scale, skew) = fit.scale(pitch);
    if skew.abs() > MOST_SKEW {
        return Err(CardFault::Skew { skew });
    }
    let last = [(COLUMNS - 1) as f64, (ROWS - 1) as f64];
    let corners_px = [[0.0, 0.0], [last[0], 0.0], last, [0.0, last[1]]].map(|c| fit.at(c));
    Ok(Some(Card { scale, discs: discs.len(), rms_mm, mirrored: mirrored(&found), corners_px }))
}

/// Columns run along the long side and rows a quarter turn clockwise from them: seen rightly, the missing disc is the first
/// of the first row or the last of the last one.
fn mirrored(found: &[Disc]) -> Option<bool> {
    let (i, j) = (i32::try_from(COLUMNS).ok()? - 1, i32::try_from(ROWS).ok()? - 1);
    let there = |cell| found.iter().any(|d| d.cell == cell);
    match [(0, 0), (i, j), (i, 0), (0, j)].map(there) {
        [false, true, true, true] | [true, false, true, true] => Some(false),
        [true, true, false, true] | [true, true, true, false] => Some(true),
        _ => None,
    }
}

/// The middle of a disc in the whole picture, by the light it takes away.
fn refined(grey: &Grey, disc: &Disc, side: f64) -> Disc {
    let radius = 0.85 * disc.diameter * side;
    let mut at = disc.at.map(|v| v * side);
    for _ in 0..2 {
        let from = at.map(|v| super::scale::whole(v - radius));
        let n = super::scale::whole(2.0 * radius) + 1;
        let mut light = Vec::with_capacity(n * n);
        for y in from[1]..from[1] + n {
            for x in from[0]..from[0] + n {
                let place = [x as f64 + 0.5, y as f64 + 0.5];
                if (place[0] - at[0]).hypot(place[1] - at[1]) <= radius {
                    light.push((place, grey.light(place[0], place[1])));
                }
            }
        }
        let mut levels: Vec<f64> = light.iter().map(|l| l.1).collect();
        levels.sort_by(f64::total_cmp);
        let level = |share: f64| levels.get(super::scale::whole(share * levels.len() as f64)).copied().unwrap_or(0.0);
        let (black, white) = (level(0.1), level(0.9));
        let (mut sum, mut weight) = ([0.0; 2], 0.0);
        for (place, l) in light {
            let w = ((white - l) / (white - black).max(1e-6)).clamp(0.0, 1.0);
            if w > 0.2 {
                sum = [sum[0] + w * place[0], sum[1] + w * place[1]];
                weight += w;
            }
        }
        if weight > 0.0 {
            at = sum.map(|s| s / weight);
        }
    }
    Disc { at, ..*disc }
}

/// Pixels from columns and rows.
#[derive(Debug, Clone, Copy)]
struct Affine {
    origin: [f64; 2],
    column: [f64; 2],
    row: [f64; 2],
}

impl Affine {
    fn through(discs: &[Disc]) -> Affine {
        let design = DMatrix::from_fn(discs.len(), 3, |i, j| match j {
            0 => 1.0,
            1 => f64::from(discs[i].cell.0),
            _ => f64::from(discs[i].cell.1),
        });
        let svd = design.svd(true, true);
        let part = |k: usize| {
            let places = DVector::from_fn(discs.len(), |i, _| discs[i].at[k]);
            svd.solve(&places, 1e-9).unwrap_or_else(|_| DVector::zeros(3))
        };
        let (x, y) = (part(0), part(1));
        Affine { origin: [x[0], y[0]], column: [x[1], y[1]], row: [x[2], y[2]] }
    }

    fn at(&self, [i, j]: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|k| self.origin[k] + self.column[k] * i + self.row[k] * j)
    }

    fn distance(&self, d: &Disc) -> f64 {
        let [x, y] = self.at([f64::from(d.cell.0), f64::from(d.cell.1)]);
        (d.at[0] - x).hypot(d.at[1] - y)
    }

    fn mean_pitch_px(&self) -> f64 {
        f64::midpoint(self.column[0].hypot(self.column[1]), self.row[0].hypot(self.row[1]))
    }

    /// Pixels per millimetre across and down, and how far the axes are from square: the card's turn drops out of `M M'`, where
    /// M takes millimetres on the card to pixels.
    fn scale(&self, pitch: [f64; 2]) -> (PixelScale, f64) {
        let (c, r) = (self.column.map(|v| v / pitch[0]), self.row.map(|v| v / pitch[1]));
        let (x, y) = (c[0].hypot(r[0]), c[1].hypot(r[1]));
        (PixelScale { x, y }, (c[0] * c[1] + r[0] * r[1]) / (x * y))
    }
}

impl Card {
    fn corners_mm(&self) -> [[f64; 2]; 4] {
        self.corners_px.map(|[x, y]| [x / self.scale.x, y / self.scale.y])
    }

    /// Whether a place, mm, lies on the card's paper.
    #[must_use]
    pub(super) fn holds(&self, at: [f64; 2]) -> bool {
        self.holds_within(at, RIM_MM)
    }

    /// The same where the paper was cut with a generous hand.
    #[must_use]
    pub(super) fn is_near(&self, at: [f64; 2]) -> bool {
        self.holds_within(at, RIM_MM + CUT_MM)
    }

    fn holds_within(&self, at: [f64; 2], rim: f64) -> bool {
        let [o, right, _, down] = self.corners_mm();
        let along = |end: [f64; 2]| {
            let d = [end[0] - o[0], end[1] - o[1]];
            let long = d[0].hypot(d[1]);
            let part = ((at[0] - o[0]) * d[0] + (at[1] - o[1]) * d[1]) / long;
            part > -rim && part < long + rim
        };
        along(right) && along(down)
    }

    /// Whether a box, mm, holds all corners of the lattice: then it is the card's own paper.
    #[must_use]
    pub(super) fn lies_within(&self, corner: [f64; 2], size: [f64; 2]) -> bool {
        let within = |k: usize, v: f64| (corner[k]..=corner[k] + size[k]).contains(&v);
        self.corners_mm().iter().all(|c| within(0, c[0]) && within(1, c[1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The card drawn with 8 samples a pixel side, turned and stretched.
    fn drawn(turn_deg: f64, [sx, sy]: [f64; 2], mirror: bool) -> Grey {
        let (w, h) = (1500_usize, 1500_usize);
        let (s, c) = turn_deg.to_radians().sin_cos();
        let mut pixels = vec![235_u8; w * h];
        for (i, j) in crate::geometry::scale_card::discs() {
            let (u, v) = (PITCH_MM * (i as f64 - 3.5), PITCH_MM * (j as f64 - 1.5));
            let u = if mirror { -u } else { u };
            let middle = [750.3 + sx * (c * u - s * v), 749.6 + sy * (s * u + c * v)];
            let r = crate::geometry::scale_card::DISC_MM / 2.0;
            for y in super::super::scale::whole(middle[1] - 40.0)..super::super::scale::whole(middle[1] + 40.0) {
                for x in super::super::scale::whole(middle[0] - 40.0)..super::super::scale::whole(middle[0] + 40.0) {
                    let inside = (0..64)
                        .filter(|k| {
                            let at = |n: usize, base: usize| base as f64 + (n as f64 + 0.5) / 8.0;
                            let (dx, dy) = ((at(k % 8, x) - middle[0]) / sx, (at(k / 8, y) - middle[1]) / sy);
                            dx.hypot(dy) < r
                        })
                        .count();
                    let light = 0.83 - 0.81 * inside as f64 / 64.0;
                    let code = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
                    pixels[y * w + x] = u8::try_from(super::super::scale::whole(255.0 * code + 0.5)).unwrap_or(255);
                }
            }
        }
        Grey::new(w, h, pixels).expect("pixels")
    }

    #[test]
    fn both_scales_are_found_at_any_turn() {
        for turn in [0.0, 3.0, 47.0, 91.0, 180.0, 266.0] {
            let card = find_card(&drawn(turn, [8.0, 8.05], false), [140.0, 60.0]).expect("flat").expect("there");
            assert!(
                (card.scale.x / 8.0 - 1.0).abs() < 2e-4 && (card.scale.y / 8.05 - 1.0).abs() < 2e-4,
                "{turn}: {card:?}"
            );
            assert_eq!((card.discs, card.mirrored), (31, Some(false)), "{turn}");
        }
    }

    #[test]
    fn a_mirrored_picture_is_told_and_a_slanting_one_refused() {
        for turn in [0.0, 95.0, 200.0] {
            let card = find_card(&drawn(turn, [8.0, 8.0], true), [140.0, 60.0]).expect("flat").expect("there");
            assert_eq!(card.mirrored, Some(true), "{turn}");
        }
        assert!(matches!(find_card(&drawn(45.0, [8.0, 7.5], false), [140.0, 60.0]), Ok(Some(_))), "a stretch is none");
        let nothing = Grey::new(300, 300, vec![200; 90000]).expect("pixels");
        assert_eq!(find_card(&nothing, [140.0, 60.0]), Ok(None));
    }
}
