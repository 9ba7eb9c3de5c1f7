//! Straightness of a profile in the plane (ISO 12780-1): points (x along, height).

use crate::geometry::circle::minus;
use crate::geometry::error::{FitError, check_points};
use crate::geometry::hull::{convex_hull, lower_hull, turn, upper_hull};
use crate::numeric::linear::LinearProblem;

/// Two parallel lines that enclose a profile, and where it touches them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Distance between the lines, mm: measured along the height (vertical), except for [`minimum_zone_strip`], where it is
    /// square to them.
    pub width: f64,
    /// Rise of both lines per mm of x (infinite for an upright strip).
    pub slope: f64,
    /// Height of the reference line (the chord, the least-squares line, or the band's middle) at x = 0, mm (NaN for an
    /// upright strip).
    pub intercept: f64,
    /// Index of a point on the upper line (the lowest index of several).
    pub highest: usize,
    /// Index of a point on the lower line (the lowest index of several).
    pub lowest: usize,
}

/// Vertical band of a given slope round all points; an error when numbers overflow.
fn band_of(points: &[[f64; 2]], slope: f64) -> Result<Band, FitError> {
    let x0 = points[0][0];
    // heights above a line of this slope through x0: the numbers stay small however far the profile lies from x = 0
    let above = |p: &[f64; 2]| p[1] - slope * (p[0] - x0);
    let (mut highest, mut lowest) = (0, 0);
    for (i, p) in points.iter().enumerate() {
        if above(p) > above(&points[highest]) {
            highest = i;
        }
        if above(p) < above(&points[lowest]) {
            lowest = i;
        }
    }
    let (top, bottom) = (above(&points[highest]), above(&points[lowest]));
    let intercept = 0.5 * (top + bottom) - slope * x0;
    finite(Band { width: top - bottom, slope, intercept, highest, lowest })
}

/// Refuses a band whose width overflowed: steps of height over next to no length.
fn finite(band: Band) -> Result<Band, FitError> {
    if band.width.is_finite() { Ok(band) } else { Err(FitError::Impossible { what: "slope", value: band.slope }) }
}

/// Indices of least and largest x, which must differ in x.
fn ends(points: &[[f64; 2]]) -> Result<(usize, usize), FitError> {
    check_points(points, 2)?;
    let by_x = |i: &usize, j: &usize| points[*i][0].total_cmp(&points[*j][0]).then(i.cmp(j));
    let first = (0..points.len()).min_by(by_x).unwrap_or(0);
    let last = (0..points.len()).max_by(by_x).unwrap_or(0);
    if points[first][0] < points[last][0] { Ok((first, last)) } else { Err(FitError::Coincident) }
}

/// End-point straightness: the band parallel to the line through the points of least and largest x.
///
/// # Arguments
/// `points`: n >= 2, (x, height) in mm, any order, not all at one x.
///
/// # Returns
/// Band with vertical width; `intercept` is that of the end-point line itself.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`] when all x are equal,
/// [`FitError::Impossible`] when the slope overflows.
pub fn end_point_band(points: &[[f64; 2]]) -> Result<Band, FitError> {
    let (first, last) = ends(points)?;
    let d = minus(points[last], points[first]);
    let slope = d[1] / d[0];
    Ok(Band { intercept: points[first][1] - slope * points[first][0], ..band_of(points, slope)? })
}

/// Least-squares straightness: the band parallel to the line of least squared vertical residuals.
///
/// # Arguments, errors
/// As [`end_point_band`].
///
/// # Errors
/// As [`end_point_band`].
pub fn least_squares_band(points: &[[f64; 2]]) -> Result<Band, FitError> {
    let (first, _) = ends(points)?;
    let origin = points[first];
    let mut line = LinearProblem::new(2);
    points.iter().for_each(|p| line.add(&[1.0, p[0] - origin[0]], p[1] - origin[1], 1.0));
    let fit = line.solve().filter(|f| f.rank == 2).ok_or(FitError::Coincident)?;
    let (offset, slope) = (fit.least_norm[0], fit.least_norm[1]);
    Ok(Band { intercept: origin[1] + offset - slope * origin[0], ..band_of(points, slope)? })
}

/// Minimum-zone straightness, vertical: the narrowest band measured along the height. Exact.
///
/// As a function of the slope the band's width is convex and piecewise linear; its corners are the slopes of hull
/// edges, so the edge where the width stops falling is the answer: high-low-high or low-high-low contact. O(n log n).
///
/// # Arguments, errors
/// As [`end_point_band`].
///
/// # Errors
/// As [`end_point_band`].
///
/// # Accuracy
/// Rounding of the heights.
///
/// # Example
/// ```
/// use quarterlight::geometry::minimum_zone_band;
/// let profile = [[0.0, 0.0], [50.0, 0.0], [100.0, 0.0], [150.0, 0.5], [200.0, 1.0]];
/// assert!((minimum_zone_band(&profile).unwrap().width - 0.5).abs() < 1e-15);
/// ```
pub fn minimum_zone_band(points: &[[f64; 2]]) -> Result<Band, FitError> {
    ends(points)?;
    let (upper, lower) = (upper_hull(points), lower_hull(points));
    let slope = |a: usize, b: usize| {
        let d = minus(points[b], points[a]);
        d[1] / d[0]
    };
    // for slope m the upper contact is the corner between edges steeper and flatter than m, likewise below; raising m
    // moves the upper contact left (edges there fall in slope) and the lower contact right
    let mut edges: Vec<(f64, bool)> = upper.windows(2).map(|e| (slope(e[0], e[1]), true)).collect();
    edges.extend(lower.windows(2).map(|e| (slope(e[0], e[1]), false)));
    edges.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut high, mut low) = (upper.len() - 1, 0);
    for (m, above) in edges {
        if above {
            high -= 1
        } else {
            low += 1
        }
        // beyond this edge the width changes by (x of the low contact - x of the high contact) per unit of slope
        if points[lower[low]][0] >= points[upper[high]][0] {
            return band_of(points, m);
        }
    }
    // all at one x: excluded by ends()
    Err(FitError::Coincident)
}

/// Minimum-zone straightness, square to the zone: the narrowest strip that encloses the points. Exact.
///
/// The strip rests on an edge of the convex hull (Houle and Toussaint 1988); rotating calipers, O(n log n). For a profile long
/// against its height it is the vertical band's width times the cosine of its slope, or a little less.
///
/// # Arguments
/// `points`: n >= 2, mm, both coordinates in one unit, not all the same point.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`], [`FitError::Impossible`] when numbers overflow.
pub fn minimum_zone_strip(points: &[[f64; 2]]) -> Result<Band, FitError> {
    check_points(points, 2)?;
    let hull = convex_hull(points);
    let n = hull.len();
    if n < 2 {
        return Err(FitError::Coincident);
    }
    let corner = |k: usize| points[hull[k % n]];
    let mut best: Option<(f64, usize, usize)> = None;
    let mut far = 1;
    for k in 0..n {
        let (a, b) = (corner(k), corner(k + 1));
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        far = far.max(k + 1);
        while turn(a, b, corner(far + 1)) > turn(a, b, corner(far)) {
            far += 1;
        }
        let width = turn(a, b, corner(far)).max(0.0) / length;
        if best.is_none_or(|(w, _, _)| width < w) {
            best = Some((width, k, far));
        }
    }
    let (width, edge, far) = best.ok_or(FitError::Coincident)?;
    finite(strip(points, &hull, width, edge, far))
}

/// Names the contacts and the middle line of the strip on a hull edge.
fn strip(points: &[[f64; 2]], hull: &[usize], width: f64, edge: usize, far: usize) -> Band {
    let n = hull.len();
    let (i, j, f) = (hull[edge % n], hull[(edge + 1) % n], hull[far % n]);
    let d = minus(points[j], points[i]);
    let slope = d[1] / d[0];
    let height = |p: [f64; 2]| p[1] - slope * p[0];
    let on_edge = i.min(j);
    // the hull turns from x to y: an edge that runs towards larger x lies below the points
    let (highest, lowest) = if d[0] > 0.0 { (f, on_edge) } else { (on_edge, f) };
    Band { width, slope, intercept: 0.5 * (height(points[i]) + height(points[f])), highest, lowest }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_raised_point_is_the_whole_zone() {
        let p = [[0.0, 0.0], [25.0, 0.0], [50.0, 0.2], [75.0, 0.0], [100.0, 0.0]];
        for band in [end_point_band(&p), least_squares_band(&p), minimum_zone_band(&p), minimum_zone_strip(&p)] {
            let band = band.expect("a profile");
            assert!((band.width - 0.2).abs() < 1e-15 && band.slope.abs() < 1e-15 && band.highest == 2, "{band:?}");
        }
        assert!((minimum_zone_band(&p).expect("a profile").intercept - 0.1).abs() < 1e-15);
    }

    #[test]
    fn a_straight_slope_far_from_the_origin_has_no_width() {
        let p: Vec<[f64; 2]> = (0..9).map(|k| [1e4 + f64::from(k), 5.0 + 0.25 * f64::from(k)]).collect();
        for band in [end_point_band(&p), least_squares_band(&p), minimum_zone_band(&p), minimum_zone_strip(&p)] {
            let band = band.expect("a profile");
            assert!(band.width.abs() < 1e-14 && (band.slope - 0.25).abs() < 1e-14, "{band:?}");
            assert!((band.intercept - (5.0 - 2500.0)).abs() < 1e-9, "{band:?}");
        }
    }

    #[test]
    fn two_points_are_straight_and_one_place_is_no_profile() {
        let band = minimum_zone_band(&[[3.0, 1.0], [0.0, 0.0]]).expect("two points");
        assert!(band.width.abs() < 1e-15, "{band:?}");
        assert_eq!(minimum_zone_band(&[[3.0, 1.0], [3.0, 4.0]]), Err(FitError::Coincident));
        assert_eq!(minimum_zone_strip(&[[3.0, 1.0]; 3]), Err(FitError::Coincident));
        assert_eq!(end_point_band(&[[3.0, 1.0]]), Err(FitError::TooFewPoints { need: 2, got: 1 }));
        assert!(minimum_zone_strip(&[[3.0, 1.0], [3.0, 4.0], [3.0, 2.0]]).expect("upright").width.abs() < 1e-15);
    }

    #[test]
    fn the_strip_of_a_square_is_its_side_and_of_a_triangle_its_least_height() {
        let square = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];
        assert!((minimum_zone_strip(&square).expect("a square").width - 2.0).abs() < 1e-15);
        let triangle = [[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]];
        assert!((minimum_zone_strip(&triangle).expect("a triangle").width - 2.4).abs() < 1e-15);
    }
}
