//! One reading as the equations see it: its value on a surface, and how it changes with every unknown.

use super::fields::Fields;
use super::instrument::surface_value;
use super::outline::traced_radius;
use super::rows::Row;
use super::section::Section;
use crate::domain::Kind;
use crate::numeric::spline::CubicSpline;
use nalgebra::DVector;

/// A row linear about some unknowns; filled again and again, so that a fit needs no room per row.
pub(super) struct Tangent {
    /// What the row would read.
    pub(super) value: f64,
    section: Vec<f64>,
    gradient: Vec<f64>,
    /// the four coefficients of every field that act at the row's place, and the first of them
    block: Vec<f64>,
    first: usize,
    /// factors of the unknowns of the measuring
    measuring: Vec<(usize, f64)>,
}

impl Tangent {
    pub(super) fn new(fields: Fields) -> Tangent {
        let f = fields.count();
        Tangent {
            value: 0.0,
            section: vec![0.0; f],
            gradient: vec![0.0; f],
            block: vec![0.0; 4 * f],
            first: 0,
            measuring: Vec::new(),
        }
    }

    /// Takes the tangent of `row` at the unknowns `x`: coefficients in knot-major order, then those of the measuring.
    pub(super) fn take(&mut self, row: &Row, fields: Fields, spline: &CubicSpline, x: &DVector<f64>) {
        let f = fields.count();
        let w = spline.weights(row.z_mm);
        self.first = w.first * f;
        self.section.fill(0.0);
        for (k, &wk) in w.weight.iter().enumerate() {
            for (s, c) in self.section.iter_mut().zip(&x.as_slice()[self.first + k * f..]) {
                *s += wk * c;
            }
        }
        let section = Section::new(fields, &self.section);
        self.measuring.clear();
        // the point a tracing was measured from acts through the shape; all other unknowns simply add
        if let (Kind::Outline, &[(u, _), (v, _)]) = (row.probe.kind, row.nuisance.as_slice()) {
            self.gradient.fill(0.0);
            let (value, by) = traced_radius(section, row.probe.angle, [x[u], x[v]], &mut self.gradient);
            self.value = value;
            self.measuring.extend([(u, by[0]), (v, by[1])]);
        } else {
            self.value = surface_value(row.probe, section, &mut self.gradient)
                + row.nuisance.iter().map(|&(at, factor)| factor * x[at]).sum::<f64>();
            self.measuring.extend_from_slice(&row.nuisance);
        }
        for (k, &wk) in w.weight.iter().enumerate() {
            for (b, g) in self.block[k * f..(k + 1) * f].iter_mut().zip(&self.gradient) {
                *b = wk * g;
            }
        }
    }

    /// (unknown, factor) of the surface.
    pub(super) fn of_surface(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.block.iter().enumerate().filter(|&(_, &g)| g.abs() > 0.0).map(|(k, &g)| (self.first + k, g))
    }

    /// (unknown, factor) of everything.
    pub(super) fn entries(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.of_surface().chain(self.measuring.iter().copied())
    }
}
