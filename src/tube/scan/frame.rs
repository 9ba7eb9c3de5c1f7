//! Which end of a scanned tube is the index end, and where its index line runs.

use super::fault::ScanFault;
use super::smooth::Smooth;
use crate::domain::{FoundFrame, IndexEnd, IndexMark, MarkAt};
use std::f64::consts::{PI, TAU};

/// How far off the bark a mark's point may lie, as a share of the radius.
const MARK_OFF: f64 = 0.35;
/// Directions looked at for the widest.
const DIRECTIONS: u32 = 360;
/// A direction that nothing is known of, in degrees either way: even over half a turn.
const NO_IDEA_DEG: f64 = 51.96;

/// How angles and places of the smooth surface become the tube's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    /// True when the index end is the lower end.
    pub(super) forward: bool,
    /// The index line, radians in the smooth surface's angles.
    pub(super) line: f64,
}

impl Turn {
    /// An angle of the smooth surface as the tube's, radians in [0, one turn).
    pub(super) fn angle(self, a: f64) -> f64 {
        let d = if self.forward { a - self.line } else { self.line - a };
        let r = d.rem_euclid(TAU);
        if r >= TAU { 0.0 } else { r }
    }

    /// The tube's angle in the smooth surface's.
    pub(super) fn back(self, angle: f64) -> f64 {
        if self.forward { self.line + angle } else { self.line - angle }
    }
}

/// The turn an index mark asks for, or without one the agreed turn: the index end is the thicker end, angle 0 the
/// direction in which that end is widest, on the side toward which the tube bulges.
pub(super) fn turn(mark: Option<&IndexMark>, smooth: &Smooth, ends: (f64, f64)) -> Result<Turn, ScanFault> {
    let agreed = agreed(smooth, ends);
    let Some(mark) = mark else { return Ok(agreed) };
    let same = mark.end == IndexEnd::Near;
    match mark.at {
        MarkAt::Angle(angle) => Ok(Turn { forward: agreed.forward == same, line: agreed.back(angle.radians()) }),
        MarkAt::Point(point) => {
            let spot = smooth.spot(point);
            let radius = smooth.radius;
            let along = (ends.0 - spot.z).max(spot.z - ends.1).max(0.0);
            let off = (spot.reach - radius).abs().max(along);
            if off > MARK_OFF * radius {
                return Err(ScanFault::MarkOff { off_mm: off });
            }
            let low = spot.z - ends.0 <= ends.1 - spot.z;
            Ok(Turn { forward: low == same, line: spot.angle })
        }
    }
}

fn agreed(smooth: &Smooth, ends: (f64, f64)) -> Turn {
    let forward = smooth.radius_at(ends.0) >= smooth.radius_at(ends.1);
    let z = if forward { ends.0 } else { ends.1 };
    let (widest, _, _) = widths(smooth, z);
    let (_, bulge) = bow(smooth, ends);
    let line = if (widest - bulge).cos() >= 0.0 { widest } else { widest + PI };
    Turn { forward, line }
}

/// Direction of the largest diameter of a section (radians), the largest and the smallest.
fn widths(smooth: &Smooth, z: f64) -> (f64, f64, f64) {
    let step = PI / f64::from(DIRECTIONS);
    let all: Vec<f64> = (0..DIRECTIONS).map(|i| smooth.across(z, step * f64::from(i))).collect();
    let n = all.len();
    let mut at = 0;
    for i in 1..n {
        if all[i] > all[at] {
            at = i;
        }
    }
    // the top of the parabola through three neighbours
    let (b, m, a) = (all[(at + n - 1) % n], all[at], all[(at + 1) % n]);
    let bend = b - 2.0 * m + a;
    let off = if bend < 0.0 { (0.5 * (b - a) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    let narrow = all.iter().copied().fold(f64::MAX, f64::min);
    ((crate::numeric::summary::count(at) + off) * step, m, narrow)
}

/// Largest distance of the centreline from its chord, and its direction (radians).
fn bow(smooth: &Smooth, ends: (f64, f64)) -> (f64, f64) {
    let (a, b) = (smooth.centre(ends.0), smooth.centre(ends.1));
    let mut best = (0.0, 0.0);
    for i in 1..64 {
        let t = f64::from(i) / 64.0;
        let c = smooth.centre(ends.0 + t * (ends.1 - ends.0));
        let d = [0, 1].map(|k| c[k] - a[k] - t * (b[k] - a[k]));
        if d[0].hypot(d[1]) > best.0 {
            best = (d[0].hypot(d[1]), d[1].atan2(d[0]));
        }
    }
    best
}

/// What tells a maker which line of the tube is the agreed angle 0; `sd_mm` is how far off the section's oval may be.
pub(super) fn found(smooth: &Smooth, ends: (f64, f64), turn: Turn, sd_mm: f64) -> FoundFrame {
    let (index, far) = if turn.forward { (ends.0, ends.1) } else { (ends.1, ends.0) };
    let (_, widest_mm, narrowest_mm) = widths(smooth, index);
    let (bow_mm, bulge) = bow(smooth, ends);
    // an oval A cos 2a has a difference of 4 A; its direction is off by half the angle sd / A
    let oval = (widest_mm - narrowest_mm) / 4.0;
    FoundFrame {
        index_diameter_mm: 2.0 * smooth.radius_at(index),
        far_diameter_mm: 2.0 * smooth.radius_at(far),
        widest_mm,
        narrowest_mm,
        widest_sd_deg: (0.5 * (sd_mm / oval.max(1e-9))).to_degrees().min(NO_IDEA_DEG),
        bow_mm,
        bow_deg: turn.angle(bulge).to_degrees(),
    }
}
