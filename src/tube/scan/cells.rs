//! Bark points gathered into small patches: a robust mean each, with its standard deviation.

use super::ends::Part;
use super::frame::Turn;
use super::smooth::{Smooth, Spot};
use crate::domain::{Angle, ScanCell};
use crate::numeric::summary::{count, median, quantile_sorted, to_index};
use std::f64::consts::TAU;

/// Patches round the tube: 5 degrees each, fine enough for the eighth lobe (its mean over one is 0.98 of its middle,
/// and patches are levelled by the smooth surface besides).
const ROUND: usize = 72;
/// Length of a patch, mm: a quarter of the knot spacing.
const LONG_MM: f64 = 4.0;
/// Most patches along the tube.
const MOST_ALONG: usize = 60;
/// Bark nearer to an end than this is left out: burr, chips and points of the sawn face, mm.
const EDGE_MM: f64 = 1.0;
/// Points farther from the middle of their patch than this many sd are left out of its mean.
const TRIM: f64 = 3.5;
/// Neighbouring points that suffice to measure the scatter of one point.
const LEAST_PAIRS: usize = 50;
/// Weight of the whole scan's scatter against a patch's own, in points.
const SHARED: f64 = 10.0;
/// Where patches hold this many points on the whole, one of fewer than three is dust on the bark or a stray.
const CROWDED: f64 = 10.0;

/// Patches and the figures of their making.
#[derive(Debug)]
pub(super) struct Patches {
    pub(super) cells: Vec<ScanCell>,
    pub(super) used: usize,
    pub(super) left_out: usize,
    pub(super) point_sd: f64,
}

/// A bark point: its height above the smooth surface, its angle and place on the tube.
type Bark = (f64, f64, f64);

/// Gathers the bark points. `start` is the tube's z at the index end of the scan, `length` the tube's, both mm; no
/// patch is surer than `floor`.
pub(super) fn gather(
    spots: &[(Spot, Part)],
    smooth: &Smooth,
    ends: (f64, f64),
    turn: Turn,
    start: f64,
    length: f64,
    floor: f64,
) -> Patches {
    let along = to_index((length / LONG_MM).ceil()).clamp(1, MOST_ALONG);
    let scanned = ends.1 - ends.0;
    let place = |z: f64| if turn.forward { z - ends.0 } else { ends.1 - z };
    let mut lists: Vec<Vec<Bark>> = vec![Vec::new(); ROUND * along];
    for (spot, _) in spots.iter().filter(|(_, p)| *p == Part::Bark) {
        let z = place(spot.z);
        if z < EDGE_MM || z > scanned - EDGE_MM {
            continue;
        }
        let (angle, z) = (turn.angle(spot.angle), z + start);
        let i = to_index(angle / TAU * count(ROUND)).min(ROUND - 1);
        let j = to_index((z / length * count(along)).max(0.0)).min(along - 1);
        lists[i * along + j].push((spot.above, angle, z));
    }
    // a fixed order within the patch, whatever the order of the file
    for list in &mut lists {
        list.sort_unstable_by(|a, b| a.1.total_cmp(&b.1).then(a.2.total_cmp(&b.2)).then(a.0.total_cmp(&b.0)));
    }
    let point_sd = scatter(&lists).unwrap_or(smooth.sd).max(1e-6 * smooth.radius);
    let filled = lists.iter().filter(|l| !l.is_empty()).count().max(1);
    let held: usize = lists.iter().map(Vec::len).sum();
    let least = if count(held) / count(filled) >= CROWDED { 3 } else { 1 };
    let mut out = Patches { cells: Vec::new(), used: 0, left_out: 0, point_sd };
    for list in &lists {
        if list.len() < least {
            out.left_out += list.len();
            continue;
        }
        let kept = trimmed(list, point_sd);
        out.used += kept.len();
        out.left_out += list.len() - kept.len();
        out.cells.push(cell(&kept, smooth, ends, turn, start, point_sd, floor));
    }
    out
}

/// Standard deviation of one point, from neighbours round the tube within a patch: shape has no part in it.
fn scatter(lists: &[Vec<Bark>]) -> Option<f64> {
    let steps: Vec<f64> =
        lists.iter().flat_map(|l| l.chunks_exact(2).map(|pair| (pair[1].0 - pair[0].0).abs())).collect();
    // 1.4826 turns a median distance into an sd; a difference of two has twice the variance of one
    (steps.len() >= LEAST_PAIRS).then(|| 1.4826 * median(&steps) / 2.0_f64.sqrt())
}

fn trimmed(list: &[Bark], point_sd: f64) -> Vec<Bark> {
    let mut heights: Vec<f64> = list.iter().map(|p| p.0).collect();
    heights.sort_unstable_by(f64::total_cmp);
    let middle = quantile_sorted(&heights, 0.5);
    // two points far apart: neither is known to be the wrong one
    if list.len() < 3 {
        return list.to_vec();
    }
    let kept: Vec<Bark> = list.iter().copied().filter(|p| (p.0 - middle).abs() <= TRIM * point_sd).collect();
    if kept.is_empty() { list.to_vec() } else { kept }
}

fn cell(
    kept: &[Bark],
    smooth: &Smooth,
    ends: (f64, f64),
    turn: Turn,
    start: f64,
    point_sd: f64,
    floor: f64,
) -> ScanCell {
    let n = count(kept.len());
    let mean = |get: fn(&Bark) -> f64| kept.iter().map(get).sum::<f64>() / n;
    let (above, angle, z) = (mean(|p| p.0), mean(|p| p.1), mean(|p| p.2));
    let own: f64 = kept.iter().map(|p| (p.0 - above).powi(2)).sum();
    let variance = (SHARED * point_sd * point_sd + own) / (SHARED + n - 1.0);
    let axis_z = if turn.forward { z - start + ends.0 } else { ends.1 - (z - start) };
    ScanCell {
        z_mm: z,
        angle: Angle::from_radians(angle),
        height_mm: smooth.height(axis_z, turn.back(angle)) + above,
        sd_mm: (variance / n + floor * floor).sqrt(),
        points: kept.len(),
    }
}

/// Share of the bark, in patches of 30 degrees by about an inch, in which there is any cell.
pub(super) fn seen_share(cells: &[ScanCell], length: f64) -> f64 {
    const LARGE: usize = 12;
    let along = to_index((length / 25.0).ceil()).max(1);
    let mut seen = vec![false; LARGE * along];
    for c in cells {
        let i = to_index(c.angle.wrapped().radians() / TAU * count(LARGE)).min(LARGE - 1);
        let j = to_index((c.z_mm / length * count(along)).max(0.0)).min(along - 1);
        seen[i * along + j] = true;
    }
    count(seen.iter().filter(|s| **s).count()) / count(seen.len())
}
