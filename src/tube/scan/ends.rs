//! Where the tube ends in a scan.

use super::smooth::{Smooth, Spot};
use crate::numeric::summary::{count, median, to_index};

/// What a point of the scan is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// On the bark.
    Bark,
    /// Within the bore, in the wall or on a sawn face.
    Inside,
    /// Outside the bark, or beyond it along the axis.
    Stray,
}

/// Bark lies at most this share of the radius off the smooth surface, or six times its scatter where that is more.
const BARK_WIDTH: f64 = 0.04;
/// A sawn face is looked for this far from where the bark ends, mm per inch of diameter.
const FACE_REACH: f64 = 3.0;
/// A sawn face is this thin along the axis, mm per inch of diameter.
const FACE_THICK: f64 = 0.6;
/// Fewest points that make a face.
const FACE_POINTS: usize = 20;

/// What a point is, by its place about the smooth surface; the ends are not looked at yet.
pub(super) fn part(spot: &Spot, smooth: &Smooth) -> Part {
    let width = (BARK_WIDTH * smooth.radius).max(6.0 * smooth.sd);
    let (low, high) = smooth.stretch();
    let beyond = 0.05 * (high - low) + 0.5 * smooth.radius;
    if spot.z < low - beyond || spot.z > high + beyond || spot.above > width {
        Part::Stray
    } else if spot.above >= -width {
        Part::Bark
    } else {
        Part::Inside
    }
}

/// The two ends along the axis of the smooth surface, lower first.
///
/// Each is where the bark points end, taken from the k-th outermost of them so that a stray cannot carry it off; where a
/// sawn face was scanned, the face.
pub(super) fn ends(spots: &[(Spot, Part)], smooth: &Smooth) -> Option<(f64, f64)> {
    let mut z: Vec<f64> = spots.iter().filter(|(_, p)| *p == Part::Bark).map(|(s, _)| s.z).collect();
    if z.len() < 30 {
        return None;
    }
    let n = z.len();
    let k = to_index((0.001 * count(n)).ceil()) + 1;
    let high = *z.select_nth_unstable_by(n - 1 - k, f64::total_cmp).1;
    let low = *z.select_nth_unstable_by(k, f64::total_cmp).1;
    // k points lie beyond the k-th; at the usual density that is this much of the axis
    let beyond = count(k) / count(n) * (high - low);
    let ends = (low - beyond, high + beyond);
    let found = (face(spots, smooth, ends.0).unwrap_or(ends.0), face(spots, smooth, ends.1).unwrap_or(ends.1));
    (found.1 > found.0).then_some(found)
}

/// The place of the sawn face near `end`, where points on it stand out.
fn face(spots: &[(Spot, Part)], smooth: &Smooth, end: f64) -> Option<f64> {
    let inch = smooth.radius / 12.7;
    let near = |s: &Spot| (s.z - end).abs() < FACE_REACH * inch && s.reach > 0.3 * smooth.radius;
    let z: Vec<f64> = spots.iter().filter(|(s, p)| *p == Part::Inside && near(s)).map(|(s, _)| s.z).collect();
    if z.len() < FACE_POINTS {
        return None;
    }
    let middle = median(&z);
    let on: Vec<f64> = z.iter().copied().filter(|v| (v - middle).abs() < 0.5 * FACE_THICK * inch).collect();
    // bore points spread over the whole reach; a face gathers most of them in its own thickness
    (2 * on.len() > z.len()).then(|| median(&on))
}
