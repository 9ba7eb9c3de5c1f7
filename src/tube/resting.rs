//! A straightedge that rests on a bark line.
//!
//! It touches at the two ends of the edge of the upper hull of `h` that spans its middle, so that the gap at a place is
//! `L - h` with `L` the line through both contacts, and one gap at mid-length tells the bow. To keep the equations banded
//! (a gap hangs on three places along the tube) the line stays an unknown, height and rise, and each contact is a row of
//! its own: `L(c) - h(c) = 0`. Where the contacts lie follows from the surface believed at the moment; by the envelope
//! theorem their moving does not enter the slope of the gap.
//!
//! # Which points touch is unsure
//! On a surface other than the mean one the hull touches elsewhere, and the line stands above the mean's contacts by
//! `d >= 0`. Mean and standard deviation of `d` over surfaces drawn from what is believed become the value and the noise
//! of the contact's row (statistical linearisation: S. Särkkä, Bayesian Filtering and Smoothing (2013), ch. 5). A line
//! that shows no gap says only that the bark is not hollow: its own row must not decide how much `d` varies, so it is
//! drawn from what all the other readings say, once.
//!
//! So is an edge whose gaps stand at three places or more: their bend is that of the bark wherever the edge rests, and a
//! contact that doubts itself by surfaces that already hold it there grows sure of any place. Such edges are lifted off in the
//! first pass, then those of one half of the tube and of the other by turns; what an edge's contacts say is renewed while it
//! is lifted. An edge with fewer gaps tells nothing without its contacts, and keeps them.
//!
//! # What is left out
//! A line on which nothing else tells whether it is hollow or crowned, and that shows no gap, is taken by this as
//! straight within the doubt of the prior's own draws.

use super::instrument::{Probe, Unknown};
use super::layout::{Layout, SHAPES};
use super::rows::Row;
use crate::domain::{Angle, Kind};
use crate::geometry::upper_hull;
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use crate::numeric::summary::{count, to_index};

/// A sawn end is chipped or rounded over about this length, mm, and bears nothing; common practice, no source.
const BROKEN_MM: f64 = 3.0;
/// Distance of the places where it may touch, mm, and most of them.
const STEP_MM: f64 = 2.0;
const MOST_PLACES: f64 = 160.0;
/// How well the bark under a contact is the bark of the model, sd in mm: its fine texture.
pub(super) const CONTACT_SD_MM: f64 = 0.01;
/// Noise that stands for no contact at all, mm.
pub(super) const LOOSE_MM: f64 = 100.0;
/// Among equal lines the widest contacts are taken: ends count for this much more, mm.
const TIE_MM: f64 = 1e-4;
/// Surfaces drawn.
const DRAWS: u64 = 24;
/// Passes in which the contacts are laid anew; where they go on moving after these the fit does not settle, and says so.
pub(super) const CONTACT_PASSES: usize = 8;
/// A gap beyond this many of its standard deviations is one.
const SURELY: f64 = 3.0;

/// When the contacts of a straightedge are laid on what is believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Laid {
    /// Once, by what all other readings say: no gap shows under it.
    Once,
    /// After every pass: a gap shows, at fewer than three places.
    EveryPass,
    /// By turns, while it is lifted off: its gaps stand at three places or more, and their bend is that of the bark wherever it
    /// rests.
    ByTurns,
}

/// One straightedge on one bark line.
#[derive(Debug, Clone)]
pub(super) struct Placement {
    angle: Angle,
    turn: Vec<usize>,
    height: usize,
    rise: usize,
    pub(super) laid: Laid,
}

/// All straightedges that rest on one tube.
pub(super) fn placements(layout: &Layout, rows: &[Row]) -> Vec<Placement> {
    let mut out = Vec::new();
    for (name, &height) in &layout.measuring {
        let Unknown::EdgeHeight(Kind::Gap, rig, set) = name else { continue };
        let rise = Unknown::EdgeRise(Kind::Gap, rig.clone(), set.clone());
        let Some(&rise) = layout.measuring.get(&rise) else { continue };
        let own = || rows.iter().filter(|r| r.nuisance.iter().any(|n| n.0 == height));
        let Some(first) = own().next() else { continue };
        let open = own().any(|r| r.value - r.half_step > SURELY * r.sd);
        let mut places: Vec<f64> = own().map(|r| r.z_mm).collect();
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| (*a - *b).abs() < STEP_MM);
        let laid = match places.len() {
            _ if !open => Laid::Once,
            ..=2 => Laid::EveryPass,
            _ => Laid::ByTurns,
        };
        out.push(Placement { angle: first.probe.angle, turn: first.turn.clone(), height, rise, laid });
    }
    out
}

/// Where it touches, and how high the bark stands there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Touching {
    /// Places, mm.
    pub(super) z_mm: [f64; 2],
    h: [f64; 2],
}

impl Touching {
    /// Height of the line at a place.
    fn line(&self, z: f64) -> f64 {
        self.h[0] + (self.h[1] - self.h[0]) * (z - self.z_mm[0]) / (self.z_mm[1] - self.z_mm[0])
    }
}

impl Placement {
    /// The two rows of its contacts before it is known where they lie.
    pub(super) fn rows(&self, layout: &Layout) -> [Row; 2] {
        [0.0, layout.length_mm].map(|z| self.row(layout, z))
    }

    /// Whether its contacts are renewed after this pass.
    pub(super) fn is_due(&self, pass: usize) -> bool {
        match self.laid {
            Laid::Once => pass + 1 == CONTACT_PASSES,
            Laid::EveryPass => pass < CONTACT_PASSES,
            Laid::ByTurns => self.is_lifted(pass),
        }
    }

    /// Whether it is lifted off the bark in this pass of the laying: all that can be in the first, then those of either half of
    /// the tube by turns, so that each half tells both directions of a bow.
    pub(super) fn is_lifted(&self, pass: usize) -> bool {
        let half = usize::from(self.angle.degrees().rem_euclid(360.0) >= 180.0);
        self.laid == Laid::ByTurns && pass < CONTACT_PASSES && (pass == 0 || pass % 2 == half)
    }

    fn row(&self, layout: &Layout, z_mm: f64) -> Row {
        Row {
            index: None,
            probe: Probe::new(Kind::Gap, self.angle, 0.0),
            z_mm,
            value: 0.0,
            sd: CONTACT_SD_MM,
            half_step: 0.0,
            nuisance: vec![(self.height, 1.0), (self.rise, z_mm / layout.length_mm - 0.5)],
            turn: self.turn.clone(),
            foot: None,
            held: false,
        }
    }

    /// Its angle under the unknowns `x`.
    fn turned(&self, x: &[f64]) -> Angle {
        Angle::from_radians(self.angle.radians() + self.turn.iter().map(|&at| x[at]).sum::<f64>())
    }

    /// Where it touches under the unknowns `x`, mm.
    pub(super) fn contacts(&self, layout: &Layout, x: &[f64]) -> [f64; 2] {
        touching(layout, x, self.turned(x)).z_mm
    }

    /// The rows of contacts at these places.
    pub(super) fn contact_rows(&self, layout: &Layout, at: [f64; 2]) -> [Row; 2] {
        at.map(|z| self.row(layout, z))
    }

    /// How far the line stands over its contacts `at` (mean and sd), over surfaces `drawn`.
    pub(super) fn doubt(&self, layout: &Layout, at: [f64; 2], drawn: &[Vec<f64>]) -> [(f64, f64); 2] {
        let over: Vec<[f64; 2]> = drawn
            .iter()
            .map(|y| {
                let angle = self.turned(y);
                let line = touching(layout, y, angle);
                at.map(|z| (line.line(z) - heights(layout, y, angle, &[z])[0]).max(0.0))
            })
            .collect();
        [0, 1].map(|side| {
            let n = count(over.len());
            let mean = over.iter().map(|d| d[side]).sum::<f64>() / n;
            let variance = over.iter().map(|d| (d[side] - mean).powi(2)).sum::<f64>() / (n - 1.0);
            (mean, CONTACT_SD_MM.hypot(variance.sqrt()))
        })
    }
}

/// Surfaces (all unknowns) drawn about `x`, the same normal numbers every time.
pub(super) fn drawn(x: &[f64], factor: &ArrowFactor) -> Vec<Vec<f64>> {
    let one = |k: u64| {
        let mut y = draws::normals(&mut draws::stream(0x5e57, "contacts", k / 2), x.len());
        factor.backward(&mut y);
        // in pairs about the mean
        let sign = if k.is_multiple_of(2) { 1.0 } else { -1.0 };
        y.iter_mut().zip(x).for_each(|(y, x)| *y = x + sign * *y);
        y
    };
    (0..DRAWS).map(one).collect()
}

/// Height of the bark line at `angle` at these places.
fn heights(layout: &Layout, x: &[f64], angle: Angle, z_mm: &[f64]) -> Vec<f64> {
    let fields = layout.fields;
    let mut by = vec![0.0; fields.count()];
    fields.add_height(angle.radians(), 1.0, &mut by);
    let along = |at: &dyn Fn(usize) -> usize| -> f64 {
        by.iter().enumerate().filter(|(_, g)| g.abs() > 0.0).map(|(field, g)| g * x[at(field)]).sum()
    };
    let knots: Vec<f64> = (0..layout.spline.size()).map(|k| along(&|f| layout.coefficient(k, f))).collect();
    let effects: Vec<f64> = (0..SHAPES).map(|s| along(&|f| layout.effect(f, s))).collect();
    let one = |z: f64| {
        let (w, s) = (layout.spline.weights(z), layout.shapes(z));
        let rough: f64 = w.weight.iter().zip(&knots[w.first..]).map(|(w, k)| w * k).sum();
        rough + effects.iter().zip(&s).map(|(e, s)| e * s).sum::<f64>()
    };
    z_mm.iter().map(|&z| one(z)).collect()
}

/// Where a straightedge as long as the tube rests on the bark line at `angle`.
pub(super) fn touching(layout: &Layout, x: &[f64], angle: Angle) -> Touching {
    let length = layout.length_mm;
    let broken = BROKEN_MM.min(length / 20.0);
    // an even number of places: the middle lies between two
    let n = 2 * to_index(((length - 2.0 * broken) / STEP_MM).clamp(6.0, MOST_PLACES) / 2.0);
    let z: Vec<f64> = (0..n).map(|i| broken + (length - 2.0 * broken) * count(i) / count(n - 1)).collect();
    let h = heights(layout, x, angle, &z);
    let points: Vec<[f64; 2]> =
        z.iter().zip(&h).map(|(&z, &h)| [z, h + TIE_MM * (2.0 * z / length - 1.0).powi(2)]).collect();
    let hull = upper_hull(&points);
    let right = hull.iter().position(|&i| z[i] > length / 2.0).unwrap_or(hull.len() - 1).max(1);
    let (i, j) = (hull[right - 1], hull[right]);
    Touching { z_mm: [z[i], z[j]], h: [h[i], h[j]] }
}
