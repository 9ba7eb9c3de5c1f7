//! The wall where a scan saw the bore and, across from it, the bark.
//!
//! Seen from the smooth surface, a point of the bore lies as far under it as the wall is thick there, measured along the
//! section's own radius, but for what the bark departs from the smooth surface; the patches of bark tell that. Bore points
//! are gathered into patches as wide as they are many. A patch counts only where most of its points lie at one depth and
//! where bark was seen, and an end only where its patches agree on one even wall: points strewn through the hollow do
//! neither. Sawn faces are not used: the inner edge of a saw cut is torn and rounded, by how much no scan tells.

use super::cells::{Held, MOST_ALONG, Patches, mean_of, scatter, sorted_into};
use super::ends::Part;
use super::laid::{Laid, Net};
use super::smooth::Spot;
use crate::domain::{Angle, ScanWall};
use crate::numeric::summary::{count, median};
use nalgebra::{SMatrix, SVector};
use std::f64::consts::TAU;

/// Patches round the tube and their length in mm, the finest first.
const SIZES: [(usize, f64); 5] = [(72, 4.0), (36, 6.0), (24, 8.0), (12, 12.0), (8, 20.0)];
/// Points that most patches should hold for their size to be chosen.
const GOOD_POINTS: usize = 12;
/// Fewest points of a patch.
const LEAST_POINTS: usize = 4;
/// Fewest patches of an end.
const LEAST_PATCHES: usize = 4;
/// Bore nearer to an end than this is left out: torn edges and points of the sawn face, mm.
const CLEAR_MM: f64 = 2.0;
/// Walls that are looked for, as shares of the radius: wider than any cane's.
const WALLS: (f64, f64) = (0.05, 0.65);
/// Scatter of one point, or unevenness of the wall, beyond which points make no surface, as a share of the radius.
const NO_SURFACE: f64 = 0.02;
/// Bark is seen over a patch when its points lie, on the whole, this near the bore's, in patches.
const NEAR: f64 = 0.4;
/// Change of the wall across a patch, as a share of the radius.
const WITHIN: f64 = 0.004;
/// Points farther than this many sd from the middle of their patch are left out: closer than for bark, since what is
/// strewn through the hollow lies on one side only.
const TRIM: f64 = 2.5;
/// Patches this many sd off the even wall are left out.
const OFF: f64 = 4.0;
/// Unevenness expected before any is measured, mm, and its weight in patches; common practice, no source.
const UNEVEN: (f64, f64) = (0.02, 4.0);
/// Unknowns of an even wall at one end: mean, three lobes, change along the tube.
const SIZE: usize = 8;
/// How large they are expected, mm (the last: mm per mm); only where patches are few do these scales matter.
const SCALES: [f64; SIZE] = [1.0, 0.3, 0.3, 0.1, 0.1, 0.1, 0.1, 0.01];

/// An even wall with an unknown this many times larger than that is none of a cane.
const BEYOND: f64 = 5.0;

/// Patches of wall and the number of bore points in them.
#[derive(Debug, Default)]
pub(super) struct Walls {
    pub(super) cells: Vec<ScanWall>,
    pub(super) used: usize,
}

/// Gathers the wall; no patch is surer than `floor`. Nothing where the scan holds no bore.
pub(super) fn walls(spots: &[(Spot, Part)], patches: &Patches, laid: &Laid<'_>, floor: f64) -> Walls {
    let radius = laid.smooth.radius;
    let deep = |s: &Spot, p: Part| p == Part::Inside && (WALLS.0 * radius..WALLS.1 * radius).contains(&-s.above);
    let Some((net, mut lists)) = chosen(spots, laid, CLEAR_MM + 3.0 * patches.point_sd, &deep) else {
        return Walls::default();
    };
    let rough = scatter(&lists).unwrap_or(patches.point_sd).max(1e-6 * radius);
    if rough > NO_SURFACE * radius {
        return Walls::default();
    }
    let sizes: Vec<usize> = lists.iter().map(Vec::len).collect();
    // strewn points widen the scatter between neighbours, so it is taken anew about where most points lie
    let most: Vec<&[Held]> = lists.iter_mut().map(|l| densest(l, 2.0 * (TRIM * rough + WITHIN * radius))).collect();
    let sd = scatter_about(&most).unwrap_or(rough).clamp(1e-6 * radius, rough);
    let bark = bark_over(net, patches, laid.length);
    let mut ends: [Vec<Patch>; 2] = [Vec::new(), Vec::new()];
    let mut looked_at = [0_usize; 2];
    for ((most, all), bark) in most.iter().zip(sizes).zip(&bark).filter(|(_, bark)| bark.points >= 1.0) {
        let Some(first) = most.first() else { continue };
        let end = usize::from(first.z > 0.5 * laid.length);
        looked_at[end] += all;
        let found = patch(most, all, bark, (sd, WITHIN * radius), patches.point_sd, floor);
        ends[end].extend(found.filter(|p| bark.over(p, net, laid.length)));
    }
    let mut out = Walls::default();
    for (found, looked_at) in ends.into_iter().zip(looked_at) {
        if 2 * found.iter().map(|p| p.points).sum::<usize>() <= looked_at {
            continue;
        }
        for p in agreeing(found, radius) {
            out.used += p.points;
            out.cells.push(ScanWall {
                z_mm: p.z,
                angle: Angle::from_radians(p.angle),
                wall_mm: p.wall,
                sd_mm: p.sd,
                points: p.points,
            });
        }
    }
    out
}

/// One patch of bore seen across from bark.
#[derive(Debug, Clone, Copy)]
struct Patch {
    wall: f64,
    sd: f64,
    angle: f64,
    z: f64,
    points: usize,
}

/// The finest net in which half the points lie in patches of enough of them, or the coarsest; `None` without points.
fn chosen(
    spots: &[(Spot, Part)],
    laid: &Laid<'_>,
    clear: f64,
    deep: &impl Fn(&Spot, Part) -> bool,
) -> Option<(Net, Vec<Vec<Held>>)> {
    let mut out = None;
    for (round, long) in SIZES {
        let net = Net::new(round, long, laid.length, MOST_ALONG);
        let lists = sorted_into(net, spots, laid, clear, deep);
        let all: usize = lists.iter().map(Vec::len).sum();
        let full: usize = lists.iter().map(Vec::len).filter(|n| *n >= GOOD_POINTS).sum();
        if all < LEAST_POINTS * LEAST_PATCHES {
            return None;
        }
        out = Some((net, lists));
        if 2 * full >= all {
            break;
        }
    }
    out
}

/// The bark over one patch: number of points, and their mean height over the smooth surface, angle and place.
#[derive(Debug, Clone, Copy, Default)]
struct Cover {
    points: f64,
    above: f64,
    angle: f64,
    z: f64,
}

impl Cover {
    /// True when the bark lies over the bore of this patch and not at its border only.
    fn over(&self, p: &Patch, net: Net, length: f64) -> bool {
        let (turn, along) =
            ((self.angle - p.angle) / TAU * count(net.round), (self.z - p.z) / length * count(net.along));
        turn.abs() <= NEAR && along.abs() <= NEAR
    }
}

/// The bark over every patch of the net.
fn bark_over(net: Net, patches: &Patches, length: f64) -> Vec<Cover> {
    let mut out = vec![Cover::default(); net.size()];
    for (cell, above) in patches.cells.iter().zip(&patches.above) {
        let angle = cell.angle.wrapped().radians();
        let (c, n) = (&mut out[net.at(angle, cell.z_mm, length)], count(cell.points));
        c.points += n;
        c.above += n * above;
        c.angle += n * angle;
        c.z += n * cell.z_mm;
    }
    let mean = |c: Cover| {
        let n = f64::max(c.points, 1.0);
        Cover { points: c.points, above: c.above / n, angle: c.angle / n, z: c.z / n }
    };
    out.into_iter().map(mean).collect()
}

/// The most points of a patch that lie within `width` of depth; sorts them by it.
fn densest(list: &mut [Held], width: f64) -> &[Held] {
    list.sort_by(|a, b| a.above.total_cmp(&b.above));
    let (mut first, mut best) = (0, 0..0);
    for last in 0..list.len() {
        while list[last].above - list[first].above > width {
            first += 1;
        }
        if last + 1 - first > best.len() {
            best = first..last + 1;
        }
    }
    &list[best]
}

fn middle(sorted: &[Held]) -> f64 {
    let n = sorted.len();
    0.5 * (sorted[(n - 1) / 2].above + sorted[n / 2].above)
}

/// Standard deviation of one point about the middle of its patch.
fn scatter_about(lists: &[&[Held]]) -> Option<f64> {
    let off: Vec<f64> = lists
        .iter()
        .filter(|l| l.len() >= LEAST_POINTS)
        .flat_map(|l| {
            let (middle, n) = (middle(l), count(l.len()));
            // the middle is the points' own: n - 1 of n are free
            l.iter().map(move |p| (p.above - middle).abs() * (n / (n - 1.0)).sqrt())
        })
        .collect();
    // 1.4826 turns a median distance into the sd of a normal law
    (off.len() >= LEAST_POINTS * LEAST_PATCHES).then(|| 1.4826 * median(&off))
}

/// The wall of one patch of `all` points: where `most` of them lie, under the bark seen over them. `sd` is that of one
/// point, and how far the wall may change within the patch.
fn patch(most: &[Held], all: usize, bark: &Cover, sd: (f64, f64), bark_sd: f64, floor: f64) -> Option<Patch> {
    if most.len() < LEAST_POINTS || 2 * most.len() <= all {
        return None;
    }
    let middle = middle(most);
    let kept: Vec<Held> = most.iter().copied().filter(|p| (p.above - middle).abs() <= TRIM * sd.0 + sd.1).collect();
    if kept.len() < LEAST_POINTS || 2 * kept.len() <= all {
        return None;
    }
    let (mean, variance) = mean_of(&kept, sd.0);
    let variance = variance + bark_sd * bark_sd / bark.points + floor * floor;
    Some(Patch { wall: bark.above - mean.above, sd: variance.sqrt(), angle: mean.angle, z: mean.z, points: kept.len() })
}

/// The patches of one end that lie on one even wall, what the wall is uneven by added to their doubt; none when they do
/// not agree on any.
fn agreeing(found: Vec<Patch>, radius: f64) -> Vec<Patch> {
    if found.len() < LEAST_PATCHES {
        return Vec::new();
    }
    let middle = median(&found.iter().map(|p| p.wall).collect::<Vec<f64>>());
    let at = found.iter().map(|p| p.z).sum::<f64>() / count(found.len());
    let mut off: Vec<f64> = found.iter().map(|p| p.wall - middle).collect();
    for _ in 0..8 {
        // 1.4826 turns a median distance into the sd of a normal law
        let spread = 1.4826 * median(&off.iter().map(|o| o.abs()).collect::<Vec<f64>>());
        let cut = 6.0 * spread.max(0.1 * UNEVEN.0);
        let Some(even) = even_wall(&found, &off, (middle, at, cut)) else { return Vec::new() };
        if even.iter().zip(SCALES).any(|(e, scale)| e.abs() > BEYOND * scale) {
            return Vec::new();
        }
        off = found.iter().map(|p| p.wall - middle - even.dot(&terms(p, at))).collect();
    }
    let spread = 1.4826 * median(&off.iter().map(|o| o.abs()).collect::<Vec<f64>>());
    if spread > NO_SURFACE * radius {
        return Vec::new();
    }
    let noise = median(&found.iter().map(|p| p.sd).collect::<Vec<f64>>());
    let known = (count(found.len()) - count(SIZE)).max(0.0);
    let own = known * (spread * spread - noise * noise) + UNEVEN.1 * UNEVEN.0 * UNEVEN.0;
    let uneven = (own / (known + UNEVEN.1)).max(0.0);
    let all = found.len();
    let kept: Vec<Patch> = found
        .into_iter()
        .zip(off)
        .map(|(p, off)| (Patch { sd: (p.sd * p.sd + uneven).sqrt(), ..p }, off))
        .filter(|(p, off)| off.abs() <= OFF * p.sd)
        .map(|(p, _)| p)
        .collect();
    if kept.len() < LEAST_PATCHES || 3 * kept.len() < 2 * all { Vec::new() } else { kept }
}

fn terms(p: &Patch, at: f64) -> SVector<f64, SIZE> {
    let [(s1, c1), (s2, c2), (s3, c3)] = [1.0, 2.0, 3.0].map(|n| f64::sin_cos(n * p.angle));
    SVector::from([1.0, c1, s1, c2, s2, c3, s3, p.z - at])
}

/// The even wall, as departure from the middle, of the patches not far `off` the last one; by least squares with a weak
/// pull to zero. Weights are Tukey's (Beaton and Tukey, Technometrics 16 (1974) 147-185).
fn even_wall(found: &[Patch], off: &[f64], (middle, at, cut): (f64, f64, f64)) -> Option<SVector<f64, SIZE>> {
    let mut matrix = SMatrix::<f64, SIZE, SIZE>::from_diagonal(&SVector::from(SCALES.map(|s| 1.0 / (s * s))));
    let mut right = SVector::<f64, SIZE>::zeros();
    for (p, off) in found.iter().zip(off) {
        let weight = (1.0 - (off / cut).powi(2)).max(0.0).powi(2) / (p.sd * p.sd + UNEVEN.0 * UNEVEN.0);
        let t = terms(p, at);
        matrix += t * t.transpose() * weight;
        right += t * (weight * (p.wall - middle));
    }
    matrix.cholesky().map(|c| c.solve(&right))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_6;

    fn ring(wall: impl Fn(f64) -> f64) -> Vec<Patch> {
        (0..36)
            .map(|i| {
                let angle = f64::from(i % 12) * FRAC_PI_6;
                Patch { wall: wall(angle), sd: 0.02, angle, z: 5.0 + 6.0 * f64::from(i / 12), points: 8 }
            })
            .collect()
    }

    #[test]
    fn patches_off_an_eccentric_wall_are_left_out() {
        let mut found = ring(|a| 3.8 + 0.2 * a.cos());
        for i in [3, 17, 30] {
            found[i].wall = 1.5 + 0.1 * count(i);
        }
        let kept = agreeing(found, 12.7);
        assert_eq!(kept.len(), 33);
        assert!(kept.iter().all(|p| (p.wall - 3.8).abs() < 0.21 && p.sd < 0.025), "{kept:?}");
    }

    #[test]
    fn patches_that_agree_on_nothing_are_no_wall() {
        let found = ring(|a| 2.0 + (7.3 * a).sin().abs() * 3.0 + (31.0 * a).cos());
        assert!(agreeing(found, 12.7).is_empty());
    }

    #[test]
    fn a_patch_is_the_depth_of_most_of_its_points() {
        let bark = Cover { points: 9.0, above: 0.1, angle: 0.1, z: 6.0 };
        let of = |depths: &[f64], bark: &Cover| {
            let mut held: Vec<Held> = depths.iter().map(|d| Held { above: -d, angle: 0.1, z: 6.0 }).collect();
            let n = held.len();
            patch(densest(&mut held, 0.2), n, bark, (0.02, 0.05), 0.03, 0.0)
        };
        let p = of(&[3.8, 3.82, 1.0, 3.79, 3.81, 6.0, 3.8], &bark).expect("five of seven at one depth");
        assert!((p.wall - 3.904).abs() < 1e-9 && p.points == 5, "{p:?}");
        // the bark's own doubt is in it: 0.03 / 3
        assert!(p.sd > 0.01 && p.sd < 0.02, "{p:?}");
        assert!(of(&[3.8, 3.82, 3.79, 3.81, 2.0, 1.0, 6.0, 5.0], &bark).is_none(), "half of them are no majority");
        assert!(of(&[3.8, 3.82, 3.79], &bark).is_none(), "too few");
    }
}
