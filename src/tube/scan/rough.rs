//! A first axis: principal directions of the cloud, then circles through slices across each.
//!
//! Circles are found by trying triples of points and keeping the one that most points lie on and fewest lie outside of:
//! points within the bore, in the wall or on a sawn face lie inside the bark and cost nothing (Fischler and Bolles,
//! Random sample consensus, Comm. ACM 24 (1981) 381-395; the truncated score is that of Torr and Zisserman, MLESAC,
//! Comput. Vis. Image Underst. 78 (2000) 138-156).

use super::place::Frame;
use crate::numeric::draws;
use crate::numeric::summary::{count, median, quantile, to_index};
use nalgebra::{Matrix3, SymmetricEigen};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Slices across the axis.
const SLICES: usize = 12;
/// Points looked at in one slice.
const PER_SLICE: usize = 300;
/// Fewest points a slice is judged by.
const LEAST_POINTS: usize = 8;
/// Triples tried in one slice.
const TRIPLES: usize = 200;
/// How far off a circle a point may lie and still be on it, as a share of its radius: room for an oval.
const ON_CIRCLE: f64 = 0.04;
/// Passes that straighten the axis.
const PASSES: usize = 3;
/// Share of the points that must lie on the circles for the cloud to be a tube at all.
const LEAST_SCORE: f64 = 0.15;

/// A circle across the axis, in the frame's coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slice {
    pub(super) z: f64,
    pub(super) centre: [f64; 2],
    pub(super) radius: f64,
    score: f64,
}

/// A first axis and the circles across it, by place along it.
#[derive(Debug, Clone)]
pub(super) struct Rough {
    pub(super) frame: Frame,
    pub(super) slices: Vec<Slice>,
    score: f64,
}

impl Rough {
    /// Median radius.
    pub(super) fn radius(&self) -> f64 {
        median(&self.slices.iter().map(|s| s.radius).collect::<Vec<f64>>())
    }

    /// Centre at a place, straight between slices and beyond the last.
    pub(super) fn centre(&self, z: f64) -> [f64; 2] {
        let n = self.slices.len();
        let at = self.slices.partition_point(|s| s.z < z).clamp(1, n - 1);
        let (a, b) = (self.slices[at - 1], self.slices[at]);
        let t = ((z - a.z) / (b.z - a.z)).clamp(-0.5, 1.5);
        [0, 1].map(|i| a.centre[i] + t * (b.centre[i] - a.centre[i]))
    }
}

/// The axis on whose slices circles fit best; `None` when the cloud is no tube.
pub(super) fn rough_axis(points: &[[f64; 3]]) -> Option<Rough> {
    let frame = principal(points)?;
    let mut best: Option<Rough> = None;
    for start in 0..3 {
        let mut now = frame.turned(start);
        let mut found = None;
        for pass in 0..PASSES {
            let mut rng = draws::stream(1, "scan slices", pass as u64);
            let slices = slices(points, &now, &mut rng);
            let Some((kept, score)) = agreeing(slices) else { break };
            let line = line(&kept);
            found = Some(Rough { frame: now.clone(), slices: kept, score });
            if pass + 1 < PASSES {
                now = now.along_line(line.0, line.1);
            }
        }
        if let Some(f) = found
            && f.score > best.as_ref().map_or(LEAST_SCORE, |b| b.score)
        {
            best = Some(f);
        }
    }
    best
}

/// Centroid and principal directions, the longest first.
fn principal(points: &[[f64; 3]]) -> Option<Frame> {
    let n = count(points.len().max(1));
    let mean: [f64; 3] = std::array::from_fn(|i| points.iter().map(|p| p[i]).sum::<f64>() / n);
    let mut m = Matrix3::<f64>::zeros();
    for p in points {
        let d: [f64; 3] = std::array::from_fn(|i| p[i] - mean[i]);
        for i in 0..3 {
            for j in 0..3 {
                m[(i, j)] += d[i] * d[j];
            }
        }
    }
    if !m.iter().all(|v| v.is_finite()) {
        return None;
    }
    let eigen = SymmetricEigen::try_new(m, 1e-14, 1000)?;
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let axes = order.map(|i| [0, 1, 2].map(|r| eigen.eigenvectors[(r, i)]));
    Some(Frame::new(mean, axes[1], axes[0]))
}

fn slices(points: &[[f64; 3]], frame: &Frame, rng: &mut ChaCha8Rng) -> Vec<(Slice, usize)> {
    let local: Vec<[f64; 3]> = points.iter().map(|p| frame.local(*p)).collect();
    let z: Vec<f64> = local.iter().map(|p| p[2]).collect();
    let (low, high) = (quantile(&z, 0.01), quantile(&z, 0.99));
    let mut lists: Vec<Vec<[f64; 3]>> = vec![Vec::new(); SLICES];
    for p in local {
        let at = (p[2] - low) / (high - low) * count(SLICES);
        if at >= 0.0 && at < count(SLICES) {
            lists[to_index(at)].push(p);
        }
    }
    lists.into_iter().filter(|l| l.len() >= LEAST_POINTS).filter_map(|l| slice(&l, rng)).collect()
}

/// The best circle of one slice, and how many points it was judged by.
fn slice(points: &[[f64; 3]], rng: &mut ChaCha8Rng) -> Option<(Slice, usize)> {
    let some: Vec<[f64; 3]> = if points.len() <= PER_SLICE {
        points.to_vec()
    } else {
        (0..PER_SLICE).map(|_| points[rng.random_range(0..points.len())]).collect()
    };
    let middle = [0, 1].map(|i| median(&some.iter().map(|p| p[i]).collect::<Vec<f64>>()));
    let reach: Vec<f64> = some.iter().map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1])).collect();
    let reach = quantile(&reach, 0.9);
    let mut best: Option<([f64; 2], f64, f64)> = None;
    for _ in 0..TRIPLES {
        let pick: [usize; 3] = std::array::from_fn(|_| rng.random_range(0..some.len()));
        let Some((centre, radius)) = circle_through(some[pick[0]], some[pick[1]], some[pick[2]]) else { continue };
        if radius > 3.0 * reach || radius < 0.2 * reach {
            continue;
        }
        let score = score(&some, centre, radius, reach);
        if best.is_none_or(|b| score > b.2) {
            best = Some((centre, radius, score));
        }
    }
    let (centre, radius, score) = best?;
    let (centre, radius) = refined(&some, centre, radius, reach);
    let z = median(&some.iter().map(|p| p[2]).collect::<Vec<f64>>());
    Some((Slice { z, centre, radius, score }, some.len()))
}

/// Points on the circle, less those outside it.
fn score(points: &[[f64; 3]], centre: [f64; 2], radius: f64, reach: f64) -> f64 {
    let width = ON_CIRCLE * radius.min(reach);
    let one = |p: &[f64; 3]| {
        let off = ((p[0] - centre[0]).hypot(p[1] - centre[1]) - radius) / width;
        if off > 1.0 { -1.0 } else { (1.0 - off * off).max(0.0) }
    };
    points.iter().map(one).sum()
}

fn circle_through(a: [f64; 3], b: [f64; 3], c: [f64; 3]) -> Option<([f64; 2], f64)> {
    let (bx, by, cx, cy) = (b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]);
    let d = 2.0 * (bx * cy - by * cx);
    let (b2, c2) = (bx * bx + by * by, cx * cx + cy * cy);
    let (x, y) = ((cy * b2 - by * c2) / d, (bx * c2 - cx * b2) / d);
    (x.is_finite() && y.is_finite()).then(|| ([a[0] + x, a[1] + y], x.hypot(y)))
}

/// A few Gauss-Newton steps on the points on the circle; the circle itself when they lead nowhere.
fn refined(points: &[[f64; 3]], centre: [f64; 2], radius: f64, reach: f64) -> ([f64; 2], f64) {
    let (mut c, mut r) = (centre, radius);
    let width = ON_CIRCLE * radius.min(reach);
    for _ in 0..4 {
        let mut m = Matrix3::<f64>::zeros();
        let mut v = nalgebra::Vector3::<f64>::zeros();
        for p in points {
            let (dx, dy) = (p[0] - c[0], p[1] - c[1]);
            let d = dx.hypot(dy);
            if (d - r).abs() > width || d <= 0.0 {
                continue;
            }
            let g = nalgebra::Vector3::new(dx / d, dy / d, 1.0);
            m += g * g.transpose();
            v += g * (d - r);
        }
        // a little damping, for arcs so short that the centre is hardly seen
        m += Matrix3::identity() * 0.05;
        let Some(step) = m.cholesky().map(|f| f.solve(&v)) else { break };
        c = [c[0] + step[0], c[1] + step[1]];
        r += step[2];
    }
    let moved = (c[0] - centre[0]).hypot(c[1] - centre[1]);
    if moved.is_finite() && moved < 0.3 * radius && (r - radius).abs() < 0.3 * radius {
        (c, r)
    } else {
        (centre, radius)
    }
}

/// The slices whose radius agrees with the others', and the share of points on their circles.
fn agreeing(slices: Vec<(Slice, usize)>) -> Option<(Vec<Slice>, f64)> {
    let looked_at: usize = slices.iter().map(|s| s.1).sum();
    let good: Vec<Slice> = slices.into_iter().map(|s| s.0).filter(|s| s.score > 0.0).collect();
    let usual = median(&good.iter().map(|s| s.radius).collect::<Vec<f64>>());
    let mut kept: Vec<Slice> = good.into_iter().filter(|s| (s.radius / usual - 1.0).abs() < 0.15).collect();
    kept.sort_by(|a, b| a.z.total_cmp(&b.z));
    kept.dedup_by(|a, b| a.z - b.z < 1e-9);
    if kept.len() < 3 {
        return None;
    }
    let score = kept.iter().map(|s| s.score).sum::<f64>() / count(looked_at);
    Some((kept, score))
}

/// Straight line through the centres: its places at z = 0 and its slopes.
fn line(slices: &[Slice]) -> ([f64; 2], [f64; 2]) {
    let n = count(slices.len());
    let middle = slices.iter().map(|s| s.z).sum::<f64>() / n;
    let square: f64 = slices.iter().map(|s| (s.z - middle).powi(2)).sum();
    let slope = [0, 1].map(|i| slices.iter().map(|s| (s.z - middle) * s.centre[i]).sum::<f64>() / square);
    let at = [0, 1].map(|i| slices.iter().map(|s| s.centre[i]).sum::<f64>() / n - slope[i] * middle);
    (at, slope)
}
