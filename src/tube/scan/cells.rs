//! Bark points gathered into small patches: a robust mean each, with its standard deviation.

use super::ends::Part;
use super::laid::{Laid, Net};
use super::smooth::Spot;
use crate::domain::{Angle, ScanCell};
use crate::numeric::summary::{count, median, quantile_sorted};

/// Patches round the tube: 5 degrees each, fine enough for the eighth lobe (its mean over one is 0.98 of its middle,
/// and patches are levelled by the smooth surface besides).
const ROUND: usize = 72;
/// Length of a patch, mm: a quarter of the knot spacing.
const LONG_MM: f64 = 4.0;
/// Most patches along the tube.
pub(super) const MOST_ALONG: usize = 60;
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
    /// Mean height of each cell's points over the smooth surface, mm.
    pub(super) above: Vec<f64>,
    pub(super) used: usize,
    pub(super) left_out: usize,
    pub(super) point_sd: f64,
}

/// A point that belongs to a patch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    /// Height above the smooth surface, mm.
    pub(super) above: f64,
    /// Angle on the tube, radians in [0, one turn).
    pub(super) angle: f64,
    /// Place on the tube, mm.
    pub(super) z: f64,
}

/// The points that `wanted` keeps, sorted into the patches of a net; at least `clear` mm within the ends.
pub(super) fn sorted_into(
    net: Net,
    spots: &[(Spot, Part)],
    laid: &Laid<'_>,
    clear: f64,
    wanted: impl Fn(&Spot, Part) -> bool,
) -> Vec<Vec<Held>> {
    let mut lists: Vec<Vec<Held>> = vec![Vec::new(); net.size()];
    for (spot, _) in spots.iter().filter(|(s, p)| wanted(s, *p)) {
        if let Some((angle, z)) = laid.on_tube(spot, clear) {
            lists[net.at(angle, z, laid.length)].push(Held { above: spot.above, angle, z });
        }
    }
    // a fixed order within the patch, whatever the order of the file
    for list in &mut lists {
        list.sort_unstable_by(|a, b| {
            a.angle.total_cmp(&b.angle).then(a.z.total_cmp(&b.z)).then(a.above.total_cmp(&b.above))
        });
    }
    lists
}

/// Gathers the bark points; no patch is surer than `floor`.
pub(super) fn gather(spots: &[(Spot, Part)], laid: &Laid<'_>, floor: f64) -> Patches {
    let net = Net::new(ROUND, LONG_MM, laid.length, MOST_ALONG);
    let lists = sorted_into(net, spots, laid, EDGE_MM, |_, p| p == Part::Bark);
    let point_sd = scatter(&lists).unwrap_or(laid.smooth.sd).max(1e-6 * laid.smooth.radius);
    let filled = lists.iter().filter(|l| !l.is_empty()).count().max(1);
    let held: usize = lists.iter().map(Vec::len).sum();
    let least = if count(held) / count(filled) >= CROWDED { 3 } else { 1 };
    let mut out = Patches { cells: Vec::new(), above: Vec::new(), used: 0, left_out: 0, point_sd };
    for list in &lists {
        if list.len() < least {
            out.left_out += list.len();
            continue;
        }
        let kept = trimmed(list, point_sd);
        out.used += kept.len();
        out.left_out += list.len() - kept.len();
        let (mean, variance) = mean_of(&kept, point_sd);
        out.cells.push(ScanCell {
            z_mm: mean.z,
            angle: Angle::from_radians(mean.angle),
            height_mm: laid.height(mean.angle, mean.z) + mean.above,
            sd_mm: (variance + floor * floor).sqrt(),
            points: kept.len(),
        });
        out.above.push(mean.above);
    }
    out
}

/// Standard deviation of one point, from neighbours round the tube within a patch: shape has no part in it.
pub(super) fn scatter(lists: &[Vec<Held>]) -> Option<f64> {
    let steps: Vec<f64> =
        lists.iter().flat_map(|l| l.chunks_exact(2).map(|pair| (pair[1].above - pair[0].above).abs())).collect();
    // 1.4826 turns a median distance into an sd; a difference of two has twice the variance of one
    (steps.len() >= LEAST_PAIRS).then(|| 1.4826 * median(&steps) / 2.0_f64.sqrt())
}

fn trimmed(list: &[Held], point_sd: f64) -> Vec<Held> {
    let mut heights: Vec<f64> = list.iter().map(|p| p.above).collect();
    heights.sort_unstable_by(f64::total_cmp);
    let middle = quantile_sorted(&heights, 0.5);
    // two points far apart: neither is known to be the wrong one
    if list.len() < 3 {
        return list.to_vec();
    }
    let kept: Vec<Held> = list.iter().copied().filter(|p| (p.above - middle).abs() <= TRIM * point_sd).collect();
    if kept.is_empty() { list.to_vec() } else { kept }
}

/// Mean of a patch's points and the variance of its height, the scatter shared with the whole scan.
pub(super) fn mean_of(kept: &[Held], point_sd: f64) -> (Held, f64) {
    let n = count(kept.len());
    let mean = |get: fn(&Held) -> f64| kept.iter().map(get).sum::<f64>() / n;
    let middle = Held { above: mean(|p| p.above), angle: mean(|p| p.angle), z: mean(|p| p.z) };
    let own: f64 = kept.iter().map(|p| (p.above - middle.above).powi(2)).sum();
    (middle, (SHARED * point_sd * point_sd + own) / (SHARED + n - 1.0) / n)
}

/// Share of the bark, in patches of 30 degrees by about an inch, in which there is any cell.
pub(super) fn seen_share(cells: &[ScanCell], length: f64) -> f64 {
    let net = Net::new(12, 25.0, length, usize::MAX);
    let mut seen = vec![false; net.size()];
    for c in cells {
        seen[net.at(c.angle.wrapped().radians(), c.z_mm, length)] = true;
    }
    count(seen.iter().filter(|s| **s).count()) / count(seen.len())
}
