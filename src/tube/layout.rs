//! Where the unknowns of one tube stand, and how they make its surface.
//!
//! First the spline coefficients of every field's unevenness, knot after knot (they couple to their neighbours only); then
//! level, tilt, bend and ess of every field; last the unknowns of the measuring.

use super::fields::Fields;
use super::instrument::Unknown;
use super::population::SPAN_MM;
use super::quantity::Quantity;
use super::sections::Sections;
use crate::numeric::spline::CubicSpline;
use crate::numeric::summary::count;
use std::collections::BTreeMap;

/// Level, tilt, bend and ess.
pub(super) const SHAPES: usize = 4;
/// Departure of `u^3` from the line between its ends at -1 and 1, where it is largest: 2 / 3^(3/2).
const CUBE_OFF_ITS_CHORD: f64 = 0.384_900_179_459_750_5;
/// Knot spacing, mm: what is shorter than two of them no reading of the usual spacing sees.
const KNOT_SPACING_MM: f64 = 10.0;
/// Most knot spans, so that a tube of any length costs a bounded amount.
const MOST_SPANS: f64 = 60.0;

/// The places of all unknowns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    pub(super) fields: Fields,
    pub(super) spline: CubicSpline,
    pub(super) length_mm: f64,
    /// place of each unknown of the measuring
    pub(super) measuring: BTreeMap<Unknown, usize>,
}

impl Layout {
    /// Of a tube of this length, with these unknowns of the measuring in their own order.
    pub(super) fn new(fields: Fields, length_mm: f64, unknowns: impl IntoIterator<Item = Unknown>) -> Layout {
        let mut layout = Layout { fields, spline: Layout::spline(length_mm), length_mm, measuring: BTreeMap::new() };
        layout.measuring = unknowns.into_iter().map(|u| (u, 0)).collect();
        let first = layout.band() + layout.effects();
        layout.measuring.values_mut().enumerate().for_each(|(i, at)| *at = first + i);
        layout
    }

    /// The spline of a tube of this length.
    pub(super) fn spline(length_mm: f64) -> CubicSpline {
        CubicSpline::with_spacing(length_mm, KNOT_SPACING_MM.max(length_mm / MOST_SPANS))
    }

    /// Number of spline coefficients of all fields.
    pub(super) fn band(&self) -> usize {
        self.spline.size() * self.fields.count()
    }

    /// Number of levels, tilts, bends and esses.
    pub(super) fn effects(&self) -> usize {
        SHAPES * self.fields.count()
    }

    /// Number of unknowns behind the coefficients.
    pub(super) fn border(&self) -> usize {
        self.effects() + self.measuring.len()
    }

    /// Number of all unknowns.
    pub(super) fn size(&self) -> usize {
        self.band() + self.border()
    }

    /// Farthest that two coupled coefficients stand apart: those of one place.
    pub(super) fn half_band(&self) -> usize {
        4 * self.fields.count() - 1
    }

    /// Place of a coefficient.
    pub(super) fn coefficient(&self, knot: usize, field: usize) -> usize {
        knot * self.fields.count() + field
    }

    /// Place of level (0), tilt (1), bend (2) or ess (3) of a field.
    pub(super) fn effect(&self, field: usize, shape: usize) -> usize {
        self.band() + SHAPES * field + shape
    }

    /// How level, tilt, bend and ess act at a place: 1, the even rise by 1 over 200 mm, the even bend of sagitta 1 over 200 mm
    /// taken about its mean, and the cube that over 200 mm departs from the line between its ends by 1 to either side, less
    /// its rise.
    pub(super) fn shapes(&self, z_mm: f64) -> [f64; SHAPES] {
        let d = z_mm - self.length_mm / 2.0;
        let square = d * d - self.length_mm * self.length_mm / 12.0;
        let (u, ends) = (2.0 * d / SPAN_MM, self.length_mm / SPAN_MM);
        let cube = u * (u * u - 0.6 * ends * ends);
        [1.0, d / SPAN_MM, 4.0 * square / (SPAN_MM * SPAN_MM), cube / CUBE_OFF_ITS_CHORD]
    }

    /// The row of field values at a place under the unknowns `x`, written into `row`.
    pub(super) fn row_at(&self, x: &[f64], z_mm: f64, row: &mut [f64]) {
        let f = self.fields.count();
        let (w, s, b) = (self.spline.weights(z_mm), self.shapes(z_mm), self.band());
        for (field, value) in row.iter_mut().enumerate() {
            let e = &x[b + SHAPES * field..b + SHAPES * (field + 1)];
            *value = s[0] * e[0] + s[1] * e[1] + s[2] * e[2] + s[3] * e[3];
        }
        for (k, &wk) in w.weight.iter().enumerate() {
            let block = &x[(w.first + k) * f..(w.first + k + 1) * f];
            row.iter_mut().zip(block).for_each(|(value, c)| *value += wk * c);
        }
    }

    /// The surface of `x` at these places.
    pub(super) fn sections(&self, x: &[f64], z_mm: &[f64]) -> Sections {
        let mut out = Sections::zeros(self.fields, z_mm);
        for (j, &z) in z_mm.iter().enumerate() {
            self.row_at(x, z, out.row_mut(j));
        }
        out
    }

    /// (unknown, factor) of one field at a place, times `factor`, handed to `each`.
    pub(super) fn expand(&self, z_mm: f64, field: usize, factor: f64, mut each: impl FnMut(usize, f64)) {
        let (w, s) = (self.spline.weights(z_mm), self.shapes(z_mm));
        for (k, &wk) in w.weight.iter().enumerate() {
            each(self.coefficient(w.first + k, field), factor * wk);
        }
        for (shape, &by) in s.iter().enumerate() {
            each(self.effect(field, shape), factor * by);
        }
    }

    /// A quantity as factors of all unknowns.
    pub(super) fn vector(&self, quantity: &Quantity) -> Vec<f64> {
        let mut v = vec![0.0; self.size()];
        for t in quantity.terms() {
            self.expand(t.z_mm, t.field, t.factor, |at, g| v[at] += g);
        }
        v
    }

    /// Number of coefficients of every field, as a number.
    pub(super) fn knots(&self) -> f64 {
        count(self.spline.size())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn level_tilt_bend_and_ess_are_what_their_names_say() {
        let layout = Layout::new(Fields { top: 2, wall: false, twist: false }, 200.0, []);
        let value = |shape: usize, z: f64| {
            let mut x = vec![0.0; layout.size()];
            x[layout.effect(Fields::R0, shape)] = 1.0;
            let mut row = vec![0.0; layout.fields.count()];
            layout.row_at(&x, z, &mut row);
            row[Fields::R0]
        };
        assert!((value(0, 37.0) - 1.0).abs() < 1e-15);
        assert!((value(1, 200.0) - value(1, 0.0) - 1.0).abs() < 1e-15, "a rise of 1 over 200 mm");
        let sagitta = value(2, 100.0) - 0.5 * (value(2, 0.0) + value(2, 200.0));
        assert!((sagitta + 1.0).abs() < 1e-12, "a sagitta of 1 over 200 mm: {sagitta}");
        // off its chord at 100 (1 -+ 3^-1/2) mm; no level, and a rise that the tilt does not share
        let off = |z: f64| value(3, z) - value(3, 0.0) - z / 200.0 * (value(3, 200.0) - value(3, 0.0));
        let far = 100.0 / 3_f64.sqrt();
        assert!((off(100.0 - far) - 1.0).abs() < 1e-12 && (off(100.0 + far) + 1.0).abs() < 1e-12);
        let along: f64 = (0..=2000).map(|i| f64::from(i - 1000) * value(3, 0.1 * f64::from(i))).sum();
        assert!(along.abs() < 2e-3 * 1000.0 * 1000.0 && value(3, 100.0).abs() < 1e-12, "{along}");
    }

    #[test]
    fn a_quantity_times_the_unknowns_is_the_surface() {
        let layout = Layout::new(Fields { top: 3, wall: true, twist: true }, 173.0, []);
        let x: Vec<f64> = (0..layout.size()).map(|i| (count(i) * 0.37).sin()).collect();
        let mut row = vec![0.0; layout.fields.count()];
        layout.row_at(&x, 61.5, &mut row);
        for (field, value) in row.iter().enumerate() {
            let v = layout.vector(&Quantity::of(layout.fields).field(61.5, field, 2.0));
            let dot: f64 = v.iter().zip(&x).map(|(a, b)| a * b).sum();
            assert!((dot - 2.0 * value).abs() < 1e-12);
        }
    }
}
