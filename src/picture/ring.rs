//! Rings on the glass, numbered in reading order, each measured or refused with the reason.

use super::card::Card;
use super::face::{Piece, pieces};
use super::grey::Grey;
use super::order::reading_order;
use super::outline::{Curve, Sought, Unclear, measure};
use super::polar::Rays;
use super::scale::PixelScale;
use super::tick::{self, Tick, TickFault};
use super::wave::Wave;
use crate::numeric::summary::{mean, median, quantile};
use rayon::prelude::*;
use std::f64::consts::{PI, TAU};

/// Diameters a ring may have, mm.
const DIAMETER_MM: std::ops::RangeInclusive<f64> = 6.0..=80.0;
/// Longest over shortest reach beyond which a piece is no single ring.
const MOST_UNROUND: f64 = 1.2;
/// Largest share of the girth that may be unclear.
pub(super) const MOST_UNCLEAR: f64 = 0.2;
/// An edge softer than this all round is that of a face off the glass or out of focus, mm.
const MOST_SOFT_MM: f64 = 0.3;
/// Thinnest wall, mm.
const THINNEST_MM: f64 = 0.8;

/// A measured ring.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Its middle (where the outline has no first wave), mm from the left top corner of the picture.
    pub middle_mm: [f64; 2],
    /// Outline of the bark about the middle.
    pub bark: Curve,
    /// Edge of the bore about the same middle, where it is clear over all but a fifth of its girth.
    pub bore: Option<Curve>,
    /// The tick.
    pub tick: Result<Tick, TickFault>,
}

/// Why something on the glass was not measured.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Refusal {
    /// It reaches over the picture's edge.
    Cut,
    /// It is not round: rings that touch each other or something else, or no ring at all.
    NotRound {
        /// Longest over shortest reach from its middle.
        reach: f64,
    },
    /// It lies on or against the scale card.
    OnCard,
    /// Its edge is not clear over too much of its girth.
    Unclear {
        /// Shares of the girth by reason.
        unclear: Unclear,
    },
    /// Its edge is soft all round.
    Soft {
        /// Standard deviation of the edge's slope, mm.
        soft_mm: f64,
    },
}

/// One thing on the glass.
#[derive(Debug, Clone, PartialEq)]
pub struct Thing {
    /// Its middle as seen at first, mm from the left top corner.
    pub place_mm: [f64; 2],
    /// About its diameter, mm.
    pub size_mm: f64,
    /// What was measured, or why not.
    pub what: Result<Ring, Refusal>,
}

/// Everything on the glass.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Things that are or may be rings, in reading order: the first is number 1.
    pub things: Vec<Thing>,
    /// Things too large for a ring, width and height in mm: a ruler, a hand.
    pub large: Vec<[f64; 2]>,
}

/// Finds and measures every ring in a picture of known scale; what lies within the scale card is passed over.
#[must_use]
pub fn find_rings(grey: &Grey, scale: PixelScale, card: Option<&Card>) -> Found {
    let (small, side) = grey.small();
    let mm = SmallScale { side: side as f64, scale };
    let least = DIAMETER_MM.start() / 3.0 * scale.mean() / side as f64;
    let all = pieces(&small, super::scale::whole(least * least).max(9));
    let mut large = Vec::new();
    let mut taken: Vec<(Piece, [f64; 2], f64)> = Vec::new();
    for piece in all {
        let (area, middle) = piece.middle();
        let box_mm = mm.place([piece.blob.width() as f64, piece.blob.height() as f64]);
        let size = 2.0 * (area * mm.pixel_mm2() / PI).sqrt();
        let place = mm.place(middle);
        let is_card = card.is_some_and(|c| c.lies_within(mm.place([piece.blob.left as f64, piece.blob.top as f64]), box_mm));
        let long = box_mm[0].max(box_mm[1]);
        if is_card || size < *DIAMETER_MM.start() && long < 2.0 * DIAMETER_MM.start() {
            continue;
        }
        let strewn = card.is_some_and(|c| c.holds(place)) && (long > 4.0 * size || size < *DIAMETER_MM.start());
        if strewn {
            continue;
        }
        if size > *DIAMETER_MM.end() || long > 4.0 * size {
            large.push(box_mm);
        } else {
            taken.push((piece, place, size));
        }
    }
    let things: Vec<Thing> = taken
        .par_iter()
        .map(|(piece, place, size)| Thing {
            place_mm: *place,
            size_mm: *size,
            what: look(grey, &small, mm, piece, card),
        })
        .collect();
    let places: Vec<[f64; 2]> = things.iter().map(|t| t.place_mm).collect();
    let usual = if things.is_empty() { 0.0 } else { median(&things.iter().map(|t| t.size_mm).collect::<Vec<_>>()) };
    let things = reading_order(&places, usual).into_iter().map(|i| things[i].clone()).collect();
    Found { things, large }
}

/// From pixels of the small picture to millimetres.
#[derive(Debug, Clone, Copy)]
struct SmallScale {
    side: f64,
    scale: PixelScale,
}

impl SmallScale {
    fn place(self, at: [f64; 2]) -> [f64; 2] {
        [at[0] * self.side / self.scale.x, at[1] * self.side / self.scale.y]
    }

    fn pixel_mm2(self) -> f64 {
        self.side * self.side / (self.scale.x * self.scale.y)
    }
}

/// One piece, measured or refused.
fn look(grey: &Grey, small: &Grey, mm: SmallScale, piece: &Piece, card: Option<&Card>) -> Result<Ring, Refusal> {
    if piece.is_cut(small) {
        return Err(Refusal::Cut);
    }
    let (_, middle) = piece.middle();
    if card.is_some_and(|c| c.holds(mm.place(middle))) {
        return Err(Refusal::OnCard);
    }
    let reach: Vec<f64> = piece
        .reach(middle, 360, mm.scale.y / mm.scale.x)
        .into_iter()
        .map(|r| r * mm.side / mm.scale.x)
        .collect();
    let unround = quantile(&reach, 0.95) / quantile(&reach, 0.05).max(1e-3);
    if unround > MOST_UNROUND {
        return Err(Refusal::NotRound { reach: unround });
    }
    let points: Vec<(f64, f64)> = reach.iter().enumerate().map(|(k, r)| (TAU * k as f64 / 360.0, *r)).collect();
    let nothing = Refusal::Unclear { unclear: Unclear { faint: 1.0, ..Unclear::default() } };
    let (near, _) = Wave::through(&points, 5).ok_or(nothing)?;
    let rays = Rays { grey, scale: mm.scale, middle: mm.place(middle) };
    let (rays, bark) = centred(rays, near, piece.bright).ok_or(nothing)?;
    if !rays.has_room(bark.mean_mm()) {
        return Err(Refusal::Cut);
    }
    if bark.unclear.share() > MOST_UNCLEAR {
        return Err(Refusal::Unclear { unclear: bark.unclear });
    }
    if bark.soft_mm > MOST_SOFT_MM {
        return Err(Refusal::Soft { soft_mm: bark.soft_mm });
    }
    let bore = bore(&rays, &bark).filter(|b| b.unclear.share() <= MOST_UNCLEAR);
    let tick = bore.as_ref().map_or(Err(TickFault::NoBore), |bore| tick::find(&rays, &bark, bore));
    Ok(Ring { middle_mm: rays.middle, bark, bore, tick })
}

/// The outline about its own middle: measured, the middle moved to where it has no first wave, measured again.
fn centred<'a>(mut rays: Rays<'a>, mut near: Wave, bright: bool) -> Option<(Rays<'a>, Curve)> {
    for _ in 0..3 {
        let curve = measure(&rays, Sought { near: &near, falls: bright, outermost: true })?;
        let [x, y] = curve.wave.first();
        if x.hypot(y) < 1e-3 {
            return Some((rays, curve));
        }
        rays.middle = [rays.middle[0] + x, rays.middle[1] + y];
        near = curve.wave.without_first();
    }
    let curve = measure(&rays, Sought { near: &near, falls: bright, outermost: true })?;
    Some((rays, curve))
}

/// The edge of the bore: coarsely the strongest step inside the wall, then along rays like the outline. A bore is darker than
/// the face or, where light comes through it, brighter.
fn bore(rays: &Rays<'_>, bark: &Curve) -> Option<Curve> {
    let directions: Vec<f64> = (0..180).map(|k| TAU * f64::from(k) / 180.0).collect();
    let level = |share: f64| median(&directions.iter().map(|&a| rays.light(a, share * bark.at(a))).collect::<Vec<_>>());
    let (face, hole) = (level(0.92), level(0.35));
    let rises = face > hole;
    // steps over half a millimetre, so that vessels of the cane do not count
    let span = 0.5;
    let points: Vec<(f64, f64)> = directions
        .iter()
        .filter_map(|&a| {
            let radius = bark.at(a);
            let line = rays.line(a, 0.2 * radius, radius - THINNEST_MM, 0.6);
            let n = super::scale::whole(span / rays.step_mm()).max(2);
            let sums: Vec<f64> = line
                .iter()
                .scan(0.0, |sum, l| {
                    *sum += l;
                    Some(*sum)
                })
                .collect();
            let window = |from: usize| (sums[from + n] - sums[from]) / n as f64;
            let (k, step) = (0..sums.len().checked_sub(2 * n + 1)?)
                .map(|k| (k, window(k + n) - window(k)))
                .map(|(k, step)| (k, if rises { step } else { -step }))
                .max_by(|p, q| p.1.total_cmp(&q.1).then(q.0.cmp(&p.0)))?;
            (step > 0.25 * (face - hole).abs()).then(|| (a, 0.2 * radius + (k + n) as f64 * rays.step_mm()))
        })
        .collect();
    let (near, scatter) = Wave::through(&points, 3)?;
    let widest = mean(&directions.iter().map(|&a| near.at(a) / bark.at(a)).collect::<Vec<_>>());
    if points.len() < 120 || scatter > 0.8 || !(0.2..0.97).contains(&widest) {
        return None;
    }
    measure(rays, Sought { near: &near, falls: !rises, outermost: false })
}
