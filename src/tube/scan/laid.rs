//! How a scan lies on its tube: what turns places along its axis and angles about it into the tube's.

use super::frame::Turn;
use super::smooth::{Smooth, Spot};
use crate::numeric::summary::{count, to_index};
use std::f64::consts::TAU;

/// A scan whose ends and index line are known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid<'a> {
    pub(super) smooth: &'a Smooth,
    /// Ends along the axis of the smooth surface, lower first, mm.
    pub(super) ends: (f64, f64),
    pub(super) turn: Turn,
    /// The tube's z at the index end of the scan, mm.
    pub(super) start: f64,
    /// The tube's length, mm.
    pub(super) length: f64,
}

impl Laid<'_> {
    /// Angle (radians in [0, one turn)) and z (mm) of a point on the tube, when it lies at least `clear` mm within both
    /// ends of the scan.
    pub(super) fn on_tube(&self, spot: &Spot, clear: f64) -> Option<(f64, f64)> {
        let (low, high) = self.ends;
        let z = if self.turn.forward { spot.z - low } else { high - spot.z };
        (z >= clear && z <= high - low - clear).then(|| (self.turn.angle(spot.angle), z + self.start))
    }

    /// Height of the smooth surface at an angle and a place of the tube, mm.
    pub(super) fn height(&self, angle: f64, z: f64) -> f64 {
        let (low, high) = self.ends;
        let axis_z = if self.turn.forward { z - self.start + low } else { high - (z - self.start) };
        self.smooth.height(axis_z, self.turn.back(angle))
    }
}

/// A net of patches over a tube: so many round it, so many along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Net {
    pub(super) round: usize,
    pub(super) along: usize,
}

impl Net {
    /// Patches about `long` mm long, at most `most` of them along the tube.
    pub(super) fn new(round: usize, long: f64, length: f64, most: usize) -> Net {
        Net { round, along: to_index((length / long).ceil()).clamp(1, most) }
    }

    /// Number of patches.
    pub(super) fn size(self) -> usize {
        self.round * self.along
    }

    /// The patch of an angle (radians in [0, one turn)) and a place, mm, on a tube of this length.
    pub(super) fn at(self, angle: f64, z: f64, length: f64) -> usize {
        let i = to_index(angle / TAU * count(self.round)).min(self.round - 1);
        let j = to_index((z / length * count(self.along)).max(0.0)).min(self.along - 1);
        i * self.along + j
    }
}
