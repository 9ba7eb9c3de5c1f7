//! Convex hulls in the plane.

use crate::geometry::circle::minus;

/// Products of lengths below this lose digits: sixty binary places above the least number that keeps all of them.
const SMALL_AREA: f64 = f64::MIN_POSITIVE * (1_u64 << 60) as f64;

/// Positive when a, b, c turn left.
pub(crate) fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    let (u, v) = (minus(b, a), minus(c, a));
    let turned = |u: [f64; 2], v: [f64; 2]| u[0] * v[1] - u[1] * v[0];
    let largest = [0, 1].map(|i| u[i].abs().max(v[i].abs()));
    if largest[0] * largest[1] > SMALL_AREA || largest.contains(&0.0) {
        return turned(u, v);
    }
    // products too small for a number: other units along each axis leave the sign as it is
    let unit = |d: [f64; 2]| [d[0] / largest[0], d[1] / largest[1]];
    SMALL_AREA * turned(unit(u), unit(v))
}

/// Indices of the points by x, then y, then index.
pub(crate) fn by_x(points: &[[f64; 2]]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    // adding 0 turns -0 into 0: the total order tells them apart, which would jumble a column of points at x = 0
    let key = |i: &usize| points[*i].map(|v| v + 0.0);
    order.sort_by(|i, j| key(i)[0].total_cmp(&key(j)[0]).then(key(i)[1].total_cmp(&key(j)[1])).then(i.cmp(j)));
    order
}

/// True for one and the same place.
pub(crate) fn same(a: [f64; 2], b: [f64; 2]) -> bool {
    let d = minus(a, b);
    d[0] == 0.0 && d[1] == 0.0
}

/// One chain of the hull: keeps points where `sign` times the turn is positive.
fn chain(points: &[[f64; 2]], order: impl Iterator<Item = usize>, sign: f64) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    for i in order {
        if kept.last().is_some_and(|last| same(points[*last], points[i])) {
            continue;
        }
        while let [.., a, b] = kept[..] {
            if sign * turn(points[a], points[b], points[i]) > 0.0 {
                break;
            }
            kept.pop();
        }
        kept.push(i);
    }
    kept
}

/// Upper convex hull of a profile (x, height): indices from least to largest x. Points on an edge are left out. A gauge stick
/// laid on the profile rests on two neighbours of this list.
///
/// # Arguments
/// `points`: finite, any order; several at one x are allowed and only the highest matters.
#[must_use]
pub fn upper_hull(points: &[[f64; 2]]) -> Vec<usize> {
    let mut kept = chain(points, by_x(points).into_iter(), -1.0);
    // of several points at the least x the chain starts at the lowest
    while let [a, b, ..] = kept[..] {
        if points[a][0] < points[b][0] {
            break;
        }
        kept.remove(0);
    }
    kept
}

/// Lower convex hull of a profile: as [`upper_hull`], seen from below.
#[must_use]
pub(super) fn lower_hull(points: &[[f64; 2]]) -> Vec<usize> {
    let mut kept = chain(points, by_x(points).into_iter(), 1.0);
    // of several points at the largest x the chain ends at the highest
    while let [.., a, b] = kept[..] {
        if points[a][0] < points[b][0] {
            break;
        }
        kept.pop();
    }
    kept
}

/// Convex hull: indices of its corners in turning order from x towards y, starting at the least x. Points on an edge and
/// repeated points are left out; one corner for coincident points, two for points in line.
///
/// # Source
/// A. M. Andrew, Information Processing Letters 9 (1979) 216-219 (monotone chain), O(n log n).
#[must_use]
pub fn convex_hull(points: &[[f64; 2]]) -> Vec<usize> {
    let order = by_x(points);
    let mut hull = chain(points, order.iter().copied(), 1.0);
    let mut back = chain(points, order.into_iter().rev(), 1.0);
    back.pop();
    hull.extend(back.into_iter().skip(1));
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_with_points_inside_and_on_its_sides() {
        let p = [[0.0, 0.0], [2.0, 0.0], [1.0, 0.0], [2.0, 2.0], [1.0, 1.0], [0.0, 2.0], [0.0, 1.0], [2.0, 2.0]];
        assert_eq!(convex_hull(&p), vec![0, 1, 3, 5]);
        assert_eq!(upper_hull(&p), vec![5, 3]);
        assert_eq!(lower_hull(&p), vec![0, 1]);
    }

    #[test]
    fn minus_zero_is_zero() {
        let p = [[-0.0, 5.0], [0.0, 3.0], [1.0, 4.0], [0.0, 7.0], [-0.0, 1.0]];
        assert_eq!(convex_hull(&p), vec![4, 2, 3]);
        assert_eq!((upper_hull(&p), lower_hull(&p)), (vec![3, 2], vec![4, 2]));
    }

    #[test]
    fn numbers_too_small_to_be_multiplied_still_make_corners() {
        let p = [[-0.6, 1e-300], [0.0, 0.5], [5e-324, 0.0], [0.0, 2.3e-308]];
        assert!(convex_hull(&p).contains(&1), "{:?}", convex_hull(&p));
        assert!(turn([0.0, 0.0], [1e-200, 0.0], [1e-200, 1e-200]) > 0.0);
        assert!(turn([0.0, 0.0], [1e-200, 1e-200], [1e-200, 0.0]) < 0.0);
        assert!(turn([0.0, 0.0], [1e-200, 1e-200], [2e-200, 2e-200]).abs() < f64::MIN_POSITIVE);
    }

    #[test]
    fn few_points_and_points_in_line() {
        assert_eq!(convex_hull(&[]), Vec::<usize>::new());
        assert_eq!(convex_hull(&[[1.0, 1.0], [1.0, 1.0]]), vec![0]);
        assert_eq!(convex_hull(&[[1.0, 1.0], [3.0, 3.0], [2.0, 2.0]]), vec![0, 1]);
        assert_eq!(upper_hull(&[[1.0, 1.0], [1.0, 5.0]]), vec![1]);
    }
}
