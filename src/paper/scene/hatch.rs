//! Hatching: parallel lines inside an outline, worked out once so that every writer draws the same lines.

use super::{Colour, Point, Region};

/// A pattern of parallel lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hatch {
    /// Direction of the lines, degrees clockwise from the x axis.
    pub turn_deg: f64,
    /// Distance between two lines, mm.
    pub spacing_mm: f64,
    /// Width of a line, mm.
    pub width_mm: f64,
    /// Colour of the lines.
    pub colour: Colour,
    /// A second set of lines square to the first.
    pub crossed: bool,
}

/// Closest lines that are drawn, mm; closer ones would print as a flat tone.
pub const LEAST_SPACING_MM: f64 = 0.2;

impl Hatch {
    pub(super) fn is_drawable(&self) -> bool {
        self.turn_deg.is_finite()
            && self.spacing_mm.is_finite()
            && self.spacing_mm >= LEAST_SPACING_MM
            && self.width_mm.is_finite()
            && self.width_mm >= 0.0
    }
}

/// The hatch lines inside `contours` (closed, even-odd), each from one point to the next, mm.
///
/// Lines lie on a grid fixed to the origin of the scene, so that neighbouring areas with the same hatch match.
/// Lines wholly outside `page` are left out.
///
/// # Returns
/// n segments, ordered by line and along each line; empty when nothing lies inside or the spacing is below
/// [`LEAST_SPACING_MM`].
#[must_use]
pub fn hatch_lines(contours: &[Vec<Point>], hatch: &Hatch, page: Region) -> Vec<[Point; 2]> {
    let mut lines = Vec::new();
    if !hatch.is_drawable() {
        return lines;
    }
    one_direction(contours, hatch.turn_deg, hatch.spacing_mm, page, &mut lines);
    if hatch.crossed {
        one_direction(contours, hatch.turn_deg + 90.0, hatch.spacing_mm, page, &mut lines);
    }
    lines
}

/// Scanlines in a frame turned so that the lines lie level: u along a line, v across the lines.
fn one_direction(contours: &[Vec<Point>], turn_deg: f64, spacing: f64, page: Region, out: &mut Vec<[Point; 2]>) {
    let (s, c) = turn_deg.to_radians().sin_cos();
    let turn = |p: &Point| [p[0] * c + p[1] * s, p[1] * c - p[0] * s];
    let back = |u: f64, v: f64| [u * c - v * s, u * s + v * c];
    let turned: Vec<Vec<Point>> = contours.iter().map(|k| k.iter().map(turn).collect()).collect();
    let span = |points: &mut dyn Iterator<Item = f64>| {
        points.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)))
    };
    let (lo, hi) = span(&mut turned.iter().flatten().map(|p| p[1]));
    let (page_lo, page_hi) = span(&mut page.corners().iter().map(|p| turn(p)[1]));
    let (lo, hi) = (lo.max(page_lo), hi.min(page_hi));
    if lo > hi {
        return;
    }
    // half a spacing off the grid, so that a level edge on a whole millimetre is not itself a scanline
    let mut k = (lo / spacing - 0.5).ceil();
    while (k + 0.5) * spacing <= hi {
        let v = (k + 0.5) * spacing;
        let mut cuts = crossings(&turned, v);
        cuts.sort_by(f64::total_cmp);
        out.extend(cuts.chunks_exact(2).filter(|p| p[1] > p[0]).map(|p| [back(p[0], v), back(p[1], v)]));
        k += 1.0;
    }
}

/// Where the level line v crosses the closed contours; always an even count because each edge is taken
/// half-open.
fn crossings(contours: &[Vec<Point>], v: f64) -> Vec<f64> {
    let mut cuts = Vec::new();
    for contour in contours {
        for (i, a) in contour.iter().enumerate() {
            let b = &contour[(i + 1) % contour.len()];
            if (a[1] <= v) != (b[1] <= v) {
                cuts.push(a[0] + (v - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
    }
    cuts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(left: f64, top: f64, side: f64) -> Vec<Point> {
        Region::new(left, top, side, side).corners().to_vec()
    }

    fn hatch(turn_deg: f64) -> Hatch {
        Hatch { turn_deg, spacing_mm: 1.0, width_mm: 0.1, colour: Colour::BLACK, crossed: false }
    }

    const PAGE: Region = Region { left: 0.0, top: 0.0, width: 100.0, height: 100.0 };

    #[test]
    fn a_ten_millimetre_square_takes_ten_level_lines_of_ten_millimetres() {
        let lines = hatch_lines(&[square(5.0, 5.0, 10.0)], &hatch(0.0), PAGE);
        assert_eq!(lines.len(), 10);
        for [a, b] in lines {
            assert!((b[0] - a[0] - 10.0).abs() < 1e-9 && (a[1] - b[1]).abs() < 1e-9, "{a:?} {b:?}");
        }
    }

    #[test]
    fn a_hole_is_left_free() {
        let lines = hatch_lines(&[square(5.0, 5.0, 10.0), square(8.0, 8.0, 4.0)], &hatch(0.0), PAGE);
        let length: f64 = lines.iter().map(|[a, b]| b[0] - a[0]).sum();
        assert!((length - (100.0 - 16.0)).abs() < 1e-9, "{length}");
    }

    #[test]
    fn total_length_of_slanted_lines_is_the_area_over_the_spacing() {
        let lines = hatch_lines(&[square(10.0, 10.0, 40.0)], &hatch(37.0), PAGE);
        let length: f64 = lines.iter().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum();
        // midpoint rule over the height: off by at most one line's worth at each end
        assert!((length - 1600.0).abs() < 20.0, "{length}");
    }

    #[test]
    fn an_outline_far_larger_than_the_page_costs_no_more_than_the_page() {
        let lines = hatch_lines(&[square(-50_000.0, -50_000.0, 100_000.0)], &hatch(45.0), PAGE);
        assert!(lines.len() < 200, "{}", lines.len());
    }
}
