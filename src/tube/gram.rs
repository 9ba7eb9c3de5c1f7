//! What the rows of a tube have in common before anything is read: the prior covariance of what they would show.
//!
//! The field of a row at one place and of another at another place are as alike as the prior of that field makes the two
//! places, so a covariance is a sum over fields of a product of two gradients and one number of two places. Readings that share a
//! place share those numbers, and rings of a dozen angles are most of what makers read.

use super::layout::{Layout, SHAPES};
use super::prior::{covariance, covariance_by_reach};
use super::tangents::Tangents;
use super::uneven::Uneven;
use crate::numeric::lanes::{LANES, axpy, dot, wide};
use crate::numeric::spline::Weights;
use pulp::NullaryFnOnce;
use std::collections::BTreeMap;

/// The prior of all unknowns, as the covariance it gives.
pub(super) struct Before<'a> {
    layout: &'a Layout,
    /// numbers a row of fields takes: whole lanes
    stride: usize,
    reaches: Vec<Reach>,
    /// variance of level, tilt, bend and ess of every field
    shapes: [Vec<f64>; SHAPES],
    /// variance of every unknown of the measuring, in the order of the border
    measuring: Vec<f64>,
}

/// The fields whose unevenness reaches as far.
struct Reach {
    reach_mm: f64,
    /// covariance of the coefficients of a field of roughness 1, knots by knots
    alike: Vec<f64>,
    /// square of the roughness of every field; 0 where its unevenness reaches otherwise
    square: Vec<f64>,
}

/// The rows as their covariance sees them.
pub(super) struct Seen {
    stations: Vec<Station>,
    /// gradient by the fields, `stride` numbers a row
    gradients: Vec<f64>,
    /// (row, factor) of every unknown of the measuring that some row has
    measuring: BTreeMap<usize, Vec<(usize, f64)>>,
    rows: usize,
}

/// A place along the tube, and the rows that were read there.
struct Station {
    rows: Vec<usize>,
    weights: Weights,
    shapes: [f64; SHAPES],
    /// for each reach: covariance of every coefficient with the unevenness here, for a roughness of 1
    alike: Vec<Vec<f64>>,
}

impl<'a> Before<'a> {
    /// From the unevenness of every field and the precisions of the border; `None` where a precision has no inverse.
    pub(super) fn of(layout: &'a Layout, uneven: &[Uneven], border: &[f64]) -> Option<Before<'a>> {
        let stride = layout.fields.count().next_multiple_of(LANES);
        let (m, h) = (layout.spline.size(), layout.spline.spacing());
        let mut reaches: Vec<Reach> = Vec::new();
        for (field, u) in uneven.iter().enumerate() {
            let reach_mm = u.reach_mm;
            let known = reaches.iter().position(|r| r.reach_mm.to_bits() == reach_mm.to_bits());
            let at = known.unwrap_or(reaches.len());
            if known.is_none() {
                reaches.push(Reach { reach_mm, alike: covariance(m, h, reach_mm)?, square: vec![0.0; stride] });
            }
            reaches[at].square[field] = u.rough * u.rough;
        }
        let effects = layout.effects();
        let shapes = std::array::from_fn(|shape| {
            let mut out = vec![0.0; stride];
            out.iter_mut().zip(border[..effects].chunks(SHAPES)).for_each(|(v, p)| *v = 1.0 / p[shape]);
            out
        });
        let measuring = border[effects..].iter().map(|p| 1.0 / p).collect();
        Some(Before { layout, stride, reaches, shapes, measuring })
    }

    pub(super) fn layout(&self) -> &Layout {
        self.layout
    }

    /// Rows linear about the same unknowns, ready for what is asked of their covariance.
    pub(super) fn seen(&self, tangents: &Tangents) -> Seen {
        let (layout, stride) = (self.layout, self.stride);
        let first = layout.band() + layout.effects();
        let mut gradients = vec![0.0; tangents.rows.len() * stride];
        let mut places: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
        let mut measuring: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
        for (i, (tangent, z)) in tangents.rows.iter().zip(&tangents.z_mm).enumerate() {
            let gradient = tangent.gradient();
            gradients[i * stride..i * stride + gradient.len()].copy_from_slice(gradient);
            places.entry(z.to_bits()).or_default().push(i);
            for &(at, factor) in tangent.measuring() {
                let rows = measuring.entry(at - first).or_default();
                match rows.last_mut() {
                    Some(last) if last.0 == i => last.1 += factor,
                    _ => rows.push((i, factor)),
                }
            }
        }
        let station = |(z, rows): (u64, Vec<usize>)| {
            let z = f64::from_bits(z);
            let weights = layout.spline.weights(z);
            let alike = self.reaches.iter().map(|reach| at_place(&reach.alike, &weights, layout)).collect();
            Station { rows, weights, shapes: layout.shapes(z), alike }
        };
        Seen { stations: places.into_iter().map(station).collect(), gradients, measuring, rows: tangents.rows.len() }
    }

    /// Prior covariance of what `some` would show with what `others` would, row by row.
    pub(super) fn between(&self, some: &Seen, others: &Seen) -> Vec<f64> {
        let mut out = vec![0.0; some.rows * others.rows];
        wide(Fill { before: self, some, others, half: false, out: &mut out });
        for (at, rows) in &some.measuring {
            for &(i, f) in rows {
                for &(j, g) in others.measuring.get(at).map_or(&[][..], Vec::as_slice) {
                    out[i * others.rows + j] += self.measuring[*at] * f * g;
                }
            }
        }
        out
    }

    /// The same of rows with each other, of which the lower half is filled.
    pub(super) fn among(&self, rows: &Seen) -> Vec<f64> {
        let m = rows.rows;
        let mut out = vec![0.0; m * m];
        wide(Fill { before: self, some: rows, others: rows, half: true, out: &mut out });
        for (at, list) in &rows.measuring {
            for (k, &(i, f)) in list.iter().enumerate() {
                let by = self.measuring[*at] * f;
                list[..=k].iter().for_each(|&(j, g)| out[i * m + j] += by * g);
            }
        }
        out
    }

    /// Prior variance of every row.
    pub(super) fn variances(&self, rows: &Seen) -> Vec<f64> {
        let mut out = vec![0.0; rows.rows];
        let mut alike = vec![0.0; self.stride];
        for station in &rows.stations {
            self.alike(station, station, &mut alike);
            for &i in &station.rows {
                let g = &rows.gradients[i * self.stride..(i + 1) * self.stride];
                out[i] = g.iter().zip(&alike).map(|(g, a)| g * g * a).sum();
            }
        }
        for (at, list) in &rows.measuring {
            list.iter().for_each(|&(i, f)| out[i] += self.measuring[*at] * f * f);
        }
        out
    }

    /// `Q^-1 A' v`: all unknowns as they follow from what the rows pull by `v`, Q the prior's precision.
    pub(super) fn unknowns(&self, rows: &Seen, v: &[f64]) -> Vec<f64> {
        let (layout, stride) = (self.layout, self.stride);
        let (fields, m) = (layout.fields.count(), layout.spline.size());
        let mut out = vec![0.0; layout.size()];
        let mut pulled = vec![0.0; stride];
        for station in &rows.stations {
            pulled.fill(0.0);
            for &i in &station.rows {
                axpy(v[i], &rows.gradients[i * stride..(i + 1) * stride], &mut pulled);
            }
            for (reach, alike) in self.reaches.iter().zip(&station.alike) {
                let by: Vec<f64> = reach.square.iter().zip(&pulled).map(|(s, p)| s * p).collect();
                for (knot, a) in alike.iter().enumerate().take(m) {
                    axpy(*a, &by[..fields], &mut out[knot * fields..(knot + 1) * fields]);
                }
            }
            for (shape, variance) in self.shapes.iter().enumerate() {
                for field in 0..fields {
                    out[layout.effect(field, shape)] += variance[field] * station.shapes[shape] * pulled[field];
                }
            }
        }
        let first = layout.band() + layout.effects();
        for (at, list) in &rows.measuring {
            out[first + at] = self.measuring[*at] * list.iter().map(|&(i, f)| f * v[i]).sum::<f64>();
        }
        out
    }

    /// Covariance of an unknown of the measuring (its place in the border) with every row, and its variance.
    pub(super) fn of_measuring(&self, rows: &Seen, at: usize) -> (Vec<f64>, f64) {
        let mut out = vec![0.0; rows.rows];
        let variance = self.measuring[at - self.layout.effects()];
        for &(i, f) in rows.measuring.get(&(at - self.layout.effects())).map_or(&[][..], Vec::as_slice) {
            out[i] = variance * f;
        }
        (out, variance)
    }

    /// What a symmetric `inverse` over the rows, and what they pull by `v`, say of every field (see [`FieldSquares`]).
    pub(super) fn squares(&self, rows: &Seen, inverse: &[f64], v: &[f64]) -> Option<Vec<FieldSquares>> {
        let (layout, stride) = (self.layout, self.stride);
        let (m, h) = (layout.spline.size(), layout.spline.spacing());
        let mut by_reach = Vec::with_capacity(self.reaches.len());
        for reach in &self.reaches {
            let slope = covariance_by_reach(m, h, reach.reach_mm)?;
            by_reach.push(rows.stations.iter().map(|s| at_place(&slope, &s.weights, layout)).collect());
        }
        let mut pulled = vec![0.0; rows.stations.len() * stride];
        for (station, pulled) in rows.stations.iter().zip(pulled.chunks_exact_mut(stride)) {
            station.rows.iter().for_each(|&i| axpy(v[i], &rows.gradients[i * stride..(i + 1) * stride], pulled));
        }
        let mut out = vec![Squares::default(); stride];
        wide(Gather { before: self, rows, inverse, pulled: &pulled, by_reach: &by_reach, out: &mut out });
        let field = |field: usize| {
            let reach = self.reaches.iter().find(|r| r.square[field] > 0.0);
            let square = reach.map_or(0.0, |r| r.square[field]);
            let Squares { shapes, rough, reach } = &out[field];
            let scaled = |[told, seen]: [f64; 2], by: f64| [told * by, seen * by];
            FieldSquares {
                shapes: std::array::from_fn(|shape| scaled(shapes[shape], self.shapes[shape][field])),
                rough: scaled(*rough, square),
                reach: scaled(*reach, square),
            }
        };
        Some((0..layout.fields.count()).map(field).collect())
    }

    /// How alike every field is at two places.
    #[inline(always)]
    fn alike(&self, one: &Station, other: &Station, out: &mut [f64]) {
        out.fill(0.0);
        let w = &other.weights;
        for (reach, alike) in self.reaches.iter().zip(&one.alike) {
            axpy(dot(&w.weight, &alike[w.first..w.first + 4]), &reach.square, out);
        }
        for (variance, (a, b)) in self.shapes.iter().zip(one.shapes.iter().zip(&other.shapes)) {
            axpy(a * b, variance, out);
        }
    }
}

/// Covariance of every coefficient with the unevenness at a place.
fn at_place(alike: &[f64], weights: &Weights, layout: &Layout) -> Vec<f64> {
    let m = layout.spline.size();
    let mut out = vec![0.0; m];
    for (k, &w) in weights.weight.iter().enumerate() {
        axpy(w, &alike[(weights.first + k) * m..(weights.first + k + 1) * m], &mut out);
    }
    out
}

/// Of one field, each as [what is told, what is seen]: the form of its prior covariance `C` (of a shape, of its unevenness, of
/// the slope of its unevenness by the logarithm of the reach) with what the rows pull, `v' A C A' v`, and with what they see,
/// `tr(A C A' W)`, `W = S B^-1 S`.
pub(super) struct FieldSquares {
    pub(super) shapes: [[f64; 2]; SHAPES],
    pub(super) rough: [f64; 2],
    pub(super) reach: [f64; 2],
}

/// The same for scales of 1.
#[derive(Clone, Default)]
struct Squares {
    shapes: [[f64; 2]; SHAPES],
    rough: [f64; 2],
    reach: [f64; 2],
}

/// Gathers them over all pairs of places.
struct Gather<'a> {
    before: &'a Before<'a>,
    rows: &'a Seen,
    /// W, full
    inverse: &'a [f64],
    /// by place and field
    pulled: &'a [f64],
    /// for each reach and place: the slope of `alike`
    by_reach: &'a [Vec<Vec<f64>>],
    out: &'a mut [Squares],
}

impl NullaryFnOnce for Gather<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Gather { before, rows, inverse, pulled, by_reach, out } = self;
        let stride = before.stride;
        let gradient = |i: usize| &rows.gradients[i * stride..(i + 1) * stride];
        let (mut of_row, mut seen) = (vec![0.0; stride], vec![0.0; stride]);
        for (s, one) in rows.stations.iter().enumerate() {
            for (t, other) in rows.stations[..=s].iter().enumerate() {
                seen.fill(0.0);
                for &i in &one.rows {
                    of_row.fill(0.0);
                    other.rows.iter().for_each(|&j| axpy(inverse[i * rows.rows + j], gradient(j), &mut of_row));
                    seen.iter_mut().zip(&of_row).zip(gradient(i)).for_each(|((s, r), g)| *s += r * g);
                }
                let twice = if s == t { 1.0 } else { 2.0 };
                let shapes: [f64; SHAPES] = std::array::from_fn(|k| twice * one.shapes[k] * other.shapes[k]);
                for (reach, (r, slopes)) in before.reaches.iter().zip(by_reach).enumerate() {
                    let w = &other.weights;
                    let at = |alike: &[f64]| twice * dot(&w.weight, &alike[w.first..w.first + 4]);
                    let (rough, by_reach) = (at(&one.alike[reach]), at(&slopes[s]));
                    for (field, out) in out.iter_mut().enumerate().filter(|(field, _)| r.square[*field] > 0.0) {
                        let told = pulled[s * stride + field] * pulled[t * stride + field];
                        for (sum, by) in out.shapes.iter_mut().zip(shapes) {
                            *sum = [sum[0] + by * told, sum[1] + by * seen[field]];
                        }
                        out.rough = [out.rough[0] + rough * told, out.rough[1] + rough * seen[field]];
                        out.reach = [out.reach[0] + by_reach * told, out.reach[1] + by_reach * seen[field]];
                    }
                }
            }
        }
    }
}

/// Fills what the surface gives.
struct Fill<'a> {
    before: &'a Before<'a>,
    some: &'a Seen,
    others: &'a Seen,
    /// both are the same rows, and the lower half is enough
    half: bool,
    out: &'a mut [f64],
}

impl NullaryFnOnce for Fill<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Fill { before, some, others, half, out } = self;
        let stride = before.stride;
        let (mut alike, mut product) = (vec![0.0; stride], vec![0.0; stride]);
        for (s, one) in some.stations.iter().enumerate() {
            for other in if half { &others.stations[..=s] } else { &others.stations[..] } {
                before.alike(one, other, &mut alike);
                for &i in &one.rows {
                    let gradient = &some.gradients[i * stride..(i + 1) * stride];
                    product.iter_mut().zip(&alike).zip(gradient).for_each(|((p, a), g)| *p = a * g);
                    for &j in &other.rows {
                        let covariance = dot(&product, &others.gradients[j * stride..(j + 1) * stride]);
                        let (row, column) = if half { (i.max(j), i.min(j)) } else { (i, j) };
                        out[row * others.rows + column] = covariance;
                    }
                }
            }
        }
    }
}
