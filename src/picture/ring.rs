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
    let glass = Glass { grey, small: &small, side: side as f64, scale, card };
    let least = DIAMETER_MM.start() / 3.0 * scale.mean() / glass.side;
    let mut large = Vec::new();
    let mut taken: Vec<Taken> = Vec::new();
    for piece in pieces(&small, super::scale::whole(least * least).max(9), |p| glass.is_ring(p)) {
        match glass.sorted(piece) {
            Sort::Taken(taken_now) => taken.push(taken_now),
            Sort::Large(size) => large.push(size),
            Sort::Card(rings) => taken.extend(rings),
            Sort::Speck => {}
        }
    }
    let things: Vec<Thing> = taken.par_iter().map(|t| glass.looked_at(t)).collect();
    let places: Vec<[f64; 2]> = things.iter().map(|t| t.place_mm).collect();
    let usual = if things.is_empty() { 0.0 } else { median(&things.iter().map(|t| t.size_mm).collect::<Vec<_>>()) };
    let things = reading_order(&places, usual).into_iter().map(|i| things[i].clone()).collect();
    Found { things, large }
}

/// The picture, the same made small, and what is known of it.
#[derive(Clone, Copy)]
struct Glass<'a> {
    grey: &'a Grey,
    small: &'a Grey,
    /// Pixels of the picture on a side of one of the small picture.
    side: f64,
    scale: PixelScale,
    card: Option<&'a Card>,
}

/// A piece that may be a ring, with its middle and diameter in mm; without a piece where it lies against the card.
struct Taken {
    piece: Option<Piece>,
    place: [f64; 2],
    size: f64,
}

/// What a piece is by its size and place.
enum Sort {
    Taken(Taken),
    /// Width and height, mm.
    Large([f64; 2]),
    /// The card, with the rings that lie against it.
    Card(Vec<Taken>),
    Speck,
}

impl Glass<'_> {
    fn place(&self, at: [f64; 2]) -> [f64; 2] {
        [at[0] * self.side / self.scale.x, at[1] * self.side / self.scale.y]
    }

    /// Diameter of a circle of so many small pixels, mm.
    fn diameter(&self, area: f64) -> f64 {
        2.0 * (area * self.side * self.side / (self.scale.x * self.scale.y) / PI).sqrt()
    }

    /// How far a piece reaches from its middle, mm, every degree.
    fn reach(&self, piece: &Piece) -> Vec<f64> {
        let far = piece.reach(piece.middle().1, 360, self.scale.y / self.scale.x);
        far.into_iter().map(|r| r * self.side / self.scale.x).collect()
    }

    fn is_ring(&self, piece: &Piece) -> bool {
        let size = self.diameter(piece.middle().0);
        !piece.is_cut(self.small) && DIAMETER_MM.contains(&size) && unround(&self.reach(piece)) <= MOST_UNROUND
    }

    fn sorted(&self, piece: Piece) -> Sort {
        let (area, middle) = piece.middle();
        let (place, size) = (self.place(middle), self.diameter(area));
        let b = &piece.blob;
        let box_mm = self.place([b.width() as f64, b.height() as f64]);
        let long = box_mm[0].max(box_mm[1]);
        let on_card = self.card.is_some_and(|c| c.holds(place));
        if self.card.is_some_and(|c| c.lies_within(self.place([b.left as f64, b.top as f64]), box_mm)) {
            // what juts out over the card's paper lies against it; the paper itself may be left uncut
            let juts = piece.beyond(|at| self.card.is_some_and(|c| c.is_near(self.place(at))));
            let juts = juts.into_iter().map(|(at, area)| (self.place(at), self.diameter(area)));
            let juts: Vec<([f64; 2], f64)> = juts.filter(|j| j.1 >= *DIAMETER_MM.start()).collect();
            if juts.iter().any(|j| j.1 > *DIAMETER_MM.end()) {
                return Sort::Large(box_mm);
            }
            return Sort::Card(juts.into_iter().map(|(place, size)| Taken { piece: None, place, size }).collect());
        }
        let small = size < *DIAMETER_MM.start();
        match () {
            () if small && (on_card || long < 2.0 * DIAMETER_MM.start()) => Sort::Speck,
            () if on_card && long > 4.0 * size => Sort::Speck,
            () if size > *DIAMETER_MM.end() || long > 4.0 * size => Sort::Large(box_mm),
            () => Sort::Taken(Taken { piece: Some(piece), place, size }),
        }
    }

    fn looked_at(&self, taken: &Taken) -> Thing {
        let what = taken.piece.as_ref().map_or(Err(Refusal::OnCard), |piece| self.measured(piece));
        Thing { place_mm: taken.place, size_mm: taken.size, what }
    }

    /// One piece, measured or refused.
    fn measured(&self, piece: &Piece) -> Result<Ring, Refusal> {
        if piece.is_cut(self.small) {
            return Err(Refusal::Cut);
        }
        let middle = self.place(piece.middle().1);
        if self.card.is_some_and(|c| c.holds(middle)) {
            return Err(Refusal::OnCard);
        }
        let reach = self.reach(piece);
        if unround(&reach) > MOST_UNROUND {
            return Err(Refusal::NotRound { reach: unround(&reach) });
        }
        let points: Vec<(f64, f64)> = reach.iter().enumerate().map(|(k, r)| (TAU * k as f64 / 360.0, *r)).collect();
        let nothing = Refusal::Unclear { unclear: Unclear { faint: 1.0, ..Unclear::default() } };
        let (near, _) = Wave::through(&points, 5).ok_or(nothing)?;
        let rays = Rays { grey: self.grey, scale: self.scale, middle };
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
}

/// Longest over shortest reach, a twentieth of the directions left out at either end.
fn unround(reach: &[f64]) -> f64 {
    quantile(reach, 0.95) / quantile(reach, 0.05).max(1e-3)
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
