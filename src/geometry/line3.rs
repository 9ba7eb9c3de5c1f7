//! A curve in space given by points along it: its bow.

use crate::domain::Angle;
use crate::geometry::arc;
use crate::geometry::error::{FitError, check_points};

/// How far a centreline strays from the straight line between its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bow {
    /// Largest distance from the chord, mm.
    pub height: f64,
    /// Index of the point where it is largest (the first of several).
    pub at: usize,
    /// How far along the chord that point lies, mm from the first end.
    pub along: f64,
    /// Direction from the chord to that point, in the x-y plane; `None` where the line is straight to rounding, or where the
    /// bow points along z (a chord that is not roughly along z).
    pub direction: Option<Angle>,
    /// Length of the chord, mm.
    pub chord: f64,
    /// S-bend part, mm: how far the line passes to the *other* side of the chord, against the bow's direction. 0 for a simple
    /// bow; equal to the height for an even S.
    pub s_bend: f64,
    /// Largest distance from the plane of chord and bow, mm: 0 for a plane curve.
    pub out_of_plane: f64,
}

impl Bow {
    /// Radius of the circular arc with this chord and this height, mm, `c^2/(8 h) + h/2`; `None` for a straight line. A
    /// description of a simple bow whose largest height lies near the middle, not a fit.
    #[must_use]
    pub fn radius(&self) -> Option<f64> {
        let r = arc::radius(self.chord, self.height);
        r.is_finite().then_some(r)
    }

    /// Sweep: height over chord, in cm per m (the measure of ISO 19474:2018 for round timber, clause read in an excerpt).
    ///
    /// # Example
    /// ```
    /// use quarterlight::geometry::bow;
    /// // 0.5 mm over 200 mm is 0.25 cm per m
    /// let b = bow(&[[0.0, 0.0, 0.0], [0.5, 0.0, 100.0], [0.0, 0.0, 200.0]]).unwrap();
    /// assert!((b.sweep_cm_per_m() - 0.25).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn sweep_cm_per_m(&self) -> f64 {
        100.0 * self.height / self.chord
    }
}

type Point = [f64; 3];

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn length(a: Point) -> f64 {
    a[0].hypot(a[1]).hypot(a[2])
}

fn cross(a: Point, b: Point) -> Point {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// Bow of the broken line through the points: largest distance from the end-to-end chord.
///
/// Along each straight piece the distance from the chord is convex, so the largest is always at a point: the value is exact
/// for the broken line, and at most short by the sagitta of a piece for a smooth one.
///
/// # Arguments
/// `points`: n >= 2, mm, in order along the line; the first and the last are the ends and differ.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`] when the ends coincide.
///
/// # Accuracy
/// Rounding of the coordinates' differences from the first end.
///
/// # Example
/// ```
/// use quarterlight::geometry::bow;
/// let centreline = [[0.0, 0.0, 0.0], [0.6, 0.8, 60.0], [0.3, 0.4, 120.0], [0.0, 0.0, 180.0]];
/// let b = bow(&centreline).unwrap();
/// assert!((b.height - 1.0).abs() < 1e-12 && b.at == 1);
/// assert!((b.direction.unwrap().degrees() - 53.130102354).abs() < 1e-8);
/// ```
pub fn bow(points: &[[f64; 3]]) -> Result<Bow, FitError> {
    check_points(points, 2)?;
    let (first, last) = (points[0], points[points.len() - 1]);
    let chord = length(minus(last, first));
    let size = points.iter().flatten().map(|v| v.abs()).fold(0.0, f64::max);
    let rounding = 4.0 * f64::EPSILON * size;
    if chord <= rounding {
        return Err(FitError::Coincident);
    }
    let unit = minus(last, first).map(|v| v / chord);
    // the part of (p - first) square to the chord
    let offset = |p: &Point| {
        let d = minus(*p, first);
        let along = dot(d, unit);
        minus(d, unit.map(|v| v * along))
    };
    let mut at = 0;
    let mut height = 0.0;
    for (i, p) in points.iter().enumerate() {
        let d = length(offset(p));
        if d > height {
            (at, height) = (i, d);
        }
    }
    let peak = offset(&points[at]);
    let toward = if height > 0.0 { peak.map(|v| v / height) } else { [0.0; 3] };
    let sideways = cross(unit, toward);
    let (mut s_bend, mut out_of_plane) = (0.0_f64, 0.0_f64);
    for p in points {
        let d = offset(p);
        s_bend = s_bend.max(-dot(d, toward));
        out_of_plane = out_of_plane.max(dot(d, sideways).abs());
    }
    let in_plane = peak[0].hypot(peak[1]);
    let direction =
        (height > rounding && in_plane > 0.5 * height).then(|| Angle::from_radians(peak[1].atan2(peak[0])).wrapped());
    Ok(Bow { height, at, along: dot(minus(points[at], first), unit), direction, chord, s_bend, out_of_plane })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_even_s_has_an_s_bend_part_as_large_as_its_bow() {
        let wave = |k: i32| 0.3 * (std::f64::consts::TAU * f64::from(k) / 40.0).sin();
        let line: Vec<Point> = (0..=40).map(|k| [wave(k) + 7.0, -2.0, 5.0 * f64::from(k)]).collect();
        let b = bow(&line).expect("a line");
        assert!((b.height - 0.3).abs() < 1e-15 && (b.s_bend - 0.3).abs() < 1e-14 && b.at == 10, "{b:?}");
        assert!(b.out_of_plane < 1e-14 && b.direction.expect("bent").degrees().abs() < 1e-9, "{b:?}");
        assert!((b.along - 50.0).abs() < 1e-12, "{b:?}");
    }

    #[test]
    fn an_arc_in_a_slanting_plane_has_its_radius_and_no_s_bend() {
        let a = 2.0f64;
        let line: Vec<Point> = (-10..=10)
            .map(|k| f64::from(k) * 1e-3)
            .map(|t| (10_000.0 * t.cos() - 10_000.0 * 0.01f64.cos(), 10_000.0 * t.sin()))
            .map(|(h, z)| [h * a.cos(), h * a.sin(), z])
            .collect();
        let b = bow(&line).expect("a line");
        assert!((b.radius().expect("bent") - 10_000.0).abs() < 1e-6, "{:?}", b.radius());
        assert!((b.direction.expect("bent").radians() - a).abs() < 1e-12 && b.s_bend < 1e-12, "{b:?}");
    }

    #[test]
    fn a_helix_leaves_the_plane_of_its_bow() {
        let turn = |k: i32| std::f64::consts::TAU * f64::from(k) / 24.0;
        let line: Vec<Point> = (0..=24).map(|k| [turn(k).cos(), turn(k).sin(), 10.0 * f64::from(k)]).collect();
        let b = bow(&line).expect("a line");
        assert!((b.height - 2.0).abs() < 1e-14 && (b.out_of_plane - 1.0).abs() < 1e-14 && b.s_bend < 1e-14, "{b:?}");
    }

    #[test]
    fn a_straight_line_has_no_direction_and_equal_ends_are_refused() {
        let b = bow(&[[1.0, 1.0, 0.0], [2.0, 2.0, 50.0], [3.0, 3.0, 100.0]]).expect("a line");
        assert!(b.height < 1e-13 && b.direction.is_none(), "{b:?}");
        assert!(bow(&[[0.0, 0.0, 0.0], [0.0, 0.0, 9.0]]).expect("a line").radius().is_none());
        assert_eq!(bow(&[[1.0, 1.0, 3.0], [2.0, 2.0, 5.0], [1.0, 1.0, 3.0]]), Err(FitError::Coincident));
    }
}
