//! One cross-section: what a row of field values means at an angle.
//!
//! The support function stands in `support`, what a radius gauge reads in `arc_fit`, what a tracing reads in `outline`.

use super::fields::Fields;
use crate::domain::Angle;
use crate::numeric::summary::count;

/// One cross-section of a tube: a row of field values, borrowed, with the names of its places.
///
/// Angles are clockwise from the index line, lengths mm. Where a gradient by the fields is asked for it is *added* to a
/// slice with one place per field, so that what joins several directions needs no room of its own.
///
/// # Example
/// ```
/// use quarterlight::domain::Angle;
/// use quarterlight::tube::{Fields, Section};
/// let fields = Fields { top: 2, wall: false, twist: false };
/// // R0, a2, b2, cx, cy: an oval of 25.4 mm, widest along the index line, its centre 1 mm to that side
/// let row = [12.7, 0.15, 0.0, 1.0, 0.0];
/// let section = Section::new(fields, &row);
/// assert!((section.radius_mm(Angle::ZERO) - 12.85).abs() < 1e-12);
/// assert!((section.height_mm(Angle::ZERO) - 13.85).abs() < 1e-12);
/// assert!((section.width_mm(Angle::ZERO) - 25.7).abs() < 1e-9);
/// assert!(section.wall_mm(Angle::ZERO).is_none());
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section<'a> {
    fields: Fields,
    row: &'a [f64],
}

impl<'a> Section<'a> {
    /// The section whose field values are `row`, one per field of `fields`.
    #[must_use]
    pub fn new(fields: Fields, row: &'a [f64]) -> Section<'a> {
        debug_assert_eq!(fields.count(), row.len());
        Section { fields, row }
    }

    /// Which fields it holds.
    #[must_use]
    pub fn fields(self) -> Fields {
        self.fields
    }

    /// Its field values.
    #[must_use]
    pub fn row(self) -> &'a [f64] {
        self.row
    }

    /// Mean radius, mm.
    #[must_use]
    pub fn mean_radius_mm(self) -> f64 {
        self.row[Fields::R0]
    }

    /// Where its centre lies in the tube's frame, mm.
    #[must_use]
    pub fn centre_mm(self) -> [f64; 2] {
        let at = self.fields.centre();
        [self.row[at], self.row[at + 1]]
    }

    /// Radius `R(a)` about its own centre, mm.
    #[must_use]
    pub fn radius_mm(self, a: Angle) -> f64 {
        self.fields.waves(a.radians()).fold(self.row[Fields::R0], |r, wave| r + wave.height_mm(self.row))
    }

    /// `R(a)` and its first two derivatives by the angle; `a` in radians.
    pub(super) fn radius_and_slopes(self, a: f64) -> [f64; 3] {
        let mut r = [self.row[Fields::R0], 0.0, 0.0];
        for wave in self.fields.waves(a) {
            let k = count(wave.n);
            r[0] += wave.height_mm(self.row);
            r[1] += k * wave.slope_mm(self.row);
            r[2] -= k * k * wave.height_mm(self.row);
        }
        r
    }

    /// Height of the bark line at `a`, `h(a) = R(a) + cx cos a + cy sin a`, mm.
    #[must_use]
    pub fn height_mm(self, a: Angle) -> f64 {
        let ((s, c), [x, y]) = (a.sin_cos(), self.centre_mm());
        self.radius_mm(a) + x * c + y * s
    }

    /// Point of the bark at `a` in the tube's frame, (x, y), mm.
    #[must_use]
    pub fn bark_mm(self, a: Angle) -> [f64; 2] {
        let ((s, c), [x, y]) = (a.sin_cos(), self.centre_mm());
        let r = self.radius_mm(a);
        [x + r * c, y + r * s]
    }

    /// Wall at `a`, mm; `None` where it is not known.
    #[must_use]
    pub fn wall_mm(self, a: Angle) -> Option<f64> {
        let at = self.fields.wall_at()?;
        let (s, c) = a.sin_cos();
        Some(self.row[at] + self.row[at + 1] * c + self.row[at + 2] * s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> (Fields, Vec<f64>) {
        let fields = Fields { top: 3, wall: true, twist: false };
        (fields, vec![12.7, 0.2, -0.1, 0.03, 0.04, 0.5, -0.25, 3.5, 0.3, -0.2])
    }

    #[test]
    fn radius_height_and_wall_are_the_sums_written_out() {
        let (fields, row) = example();
        let s = Section::new(fields, &row);
        // 90 deg: cos 2a = -1, sin 2a = 0, cos 3a = 0, sin 3a = -1
        let a = Angle::from_degrees(90.0);
        assert!((s.radius_mm(a) - (12.7 - 0.2 - 0.04)).abs() < 1e-12);
        assert!((s.height_mm(a) - (12.46 - 0.25)).abs() < 1e-12);
        assert!((s.wall_mm(a).expect("known") - 3.3).abs() < 1e-12);
        let p = s.bark_mm(a);
        assert!((p[0] - 0.5).abs() < 1e-12 && (p[1] - 12.21).abs() < 1e-12, "{p:?}");
    }

    #[test]
    fn the_slopes_agree_with_numeric_differentiation() {
        let (fields, row) = example();
        let s = Section::new(fields, &row);
        for a in [0.3, 2.0, 5.5] {
            let r = |d: f64| s.radius_mm(Angle::from_radians(a + d));
            let [value, first, second] = s.radius_and_slopes(a);
            assert!((value - r(0.0)).abs() < 1e-14);
            assert!((first - (r(1e-5) - r(-1e-5)) / 2e-5).abs() < 1e-8);
            assert!((second - (r(1e-4) - 2.0 * r(0.0) + r(-1e-4)) / 1e-8).abs() < 1e-5);
        }
    }

    #[test]
    fn height_and_wall_are_their_gradients_times_the_row() {
        let (fields, row) = example();
        let s = Section::new(fields, &row);
        let a = Angle::from_degrees(123.0);
        let dot = |g: &[f64]| g.iter().zip(&row).map(|(g, v)| g * v).sum::<f64>();
        let mut g = vec![0.0; fields.count()];
        fields.add_height(a.radians(), 1.0, &mut g);
        assert!((dot(&g) - s.height_mm(a)).abs() < 1e-12);
        g.fill(0.0);
        fields.add_wall(a.radians(), -2.0, &mut g);
        assert!((dot(&g) + 2.0 * s.wall_mm(a).expect("known")).abs() < 1e-12);
    }
}
