//! A small fair share of a large cloud, and the points that stand alone in it.

use crate::numeric::summary::{count, median};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use std::num::NonZero;

/// A point stands alone when its fifth neighbour is farther away than this many times what is usual.
const ALONE: f64 = 5.0;
/// Neighbours looked at, the point itself among them.
const NEIGHBOURS: NonZero<usize> = NonZero::<usize>::MIN.saturating_add(5);

/// About `most` of the points, or all when there are fewer, sorted by their coordinates.
///
/// Which ones is decided by the coordinates alone, so the order of the points in the file does not matter.
pub(super) fn thin(points: &[[f64; 3]], most: usize) -> Vec<[f64; 3]> {
    let mut kept: Vec<[f64; 3]> = if points.len() <= most {
        points.to_vec()
    } else {
        let share = count(most) / count(points.len());
        points.iter().copied().filter(|p| mixed(p) < share).collect()
    };
    kept.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2])));
    kept
}

/// A number in [0, 1) that looks random and depends on the point only (the finaliser of `SplitMix64`: Steele, Lea and
/// Flood, Fast splittable pseudorandom number generators, OOPSLA 2014).
fn mixed(p: &[f64; 3]) -> f64 {
    let mut h = 0_u64;
    for v in p {
        h = h.wrapping_add(v.to_bits()).wrapping_add(0x9e37_79b9_7f4a_7c15);
        h = (h ^ (h >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        h = (h ^ (h >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        h ^= h >> 31;
    }
    (h >> 11) as f64 / (1_u64 << 53) as f64
}

/// The points without those that stand alone. Time n log n.
pub(super) fn without_strays(points: Vec<[f64; 3]>) -> Vec<[f64; 3]> {
    if points.len() <= NEIGHBOURS.get() {
        return points;
    }
    let Ok(tree) = ImmutableKdTree::<f64, 3>::new_from_slice(&points) else { return points };
    let gaps: Vec<f64> = points
        .iter()
        .map(|p| {
            let near = tree.query(p).nearest_n::<SquaredEuclidean<f64>>(NEIGHBOURS).execute();
            near.iter().map(|n| n.distance).fold(0.0, f64::max).sqrt()
        })
        .collect();
    let most = ALONE * median(&gaps);
    points.into_iter().zip(gaps).filter(|(_, g)| *g <= most).map(|(p, _)| p).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_far_from_a_sheet_is_taken_out() {
        let mut points: Vec<[f64; 3]> =
            (0..400).map(|i| [f64::from(i % 20) * 1.01, f64::from(i / 20) * 0.99, 0.0]).collect();
        points.push([10.0, 10.0, 30.0]);
        let left = without_strays(points);
        assert!(left.len() == 400 && left.iter().all(|p| p[2] < 1.0), "{}", left.len());
    }

    #[test]
    fn thinning_takes_the_same_points_in_any_order() {
        let mut points: Vec<[f64; 3]> =
            (0..5000).map(|i| [f64::from(i).sin(), f64::from(i).cos(), f64::from(i)]).collect();
        let first = thin(&points, 500);
        points.reverse();
        assert_eq!(first, thin(&points, 500));
        assert!((400..600).contains(&first.len()), "{}", first.len());
    }
}
