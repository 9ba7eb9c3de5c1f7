//! The equations of one tube and their solution by reweighting; what the unknowns are and why stands in `belief`.

use super::doubted::Doubted;
use super::error::BeliefError;
use super::fields::Fields;
use super::instrument::{Probe, Unknown, surface_value, unknowns};
use super::model::Model;
use super::population::FieldScale;
use super::prior::field_precision;
use super::rounding::Site;
use super::rows::{
    Row, scan_rows, scan_unknowns, scan_wall_rows, scan_wall_unknowns, top_harmonic, tracing_point, unwrap_fibres,
};
use super::section::Section;
use super::tangent::Tangent;
use crate::domain::{Angle, Kind, Tube};
#[cfg(test)]
use crate::numeric::draws;
use crate::numeric::spline::CubicSpline;
use crate::numeric::summary::median;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::collections::BTreeMap;

/// Degrees of freedom of the Student-t likelihood: heavy enough that a slipped reading loses its weight, light enough
/// to cost little where there is none (Lange, Little and Taylor, J. Amer. Statist. Assoc. 84 (1989) 881-896, use 4).
const T_FREEDOM: f64 = 4.0;
/// Reweighting passes with a bounded-influence (Huber) weight before the Student-t one takes over.
const BOUNDED_PASSES: usize = 12;
/// Passes in all; the report says when they were not enough.
const MOST_PASSES: usize = 60;
/// The fit has settled when no predicted reading moves by more than this from one pass to the next, mm.
const SETTLED_MM: f64 = 1e-5;
/// The same where coarse steps were read: their sites settle more slowly, and none is known to a tenth of this.
const SETTLED_COARSE_MM: f64 = 1e-4;
/// The bounded weights have done their work when no predicted reading moves by more than this, mm.
const NEARLY_MM: f64 = 1e-3;
/// A reading is listed as doubted when its weight falls below this (a departure of about 3.7 sd).
const DOUBT_WEIGHT: f64 = 0.28;
/// Knot spacing, mm.
const KNOT_SPACING_MM: f64 = 18.0;
/// How well the one wall figure of the tube list stands for the mean wall, mm; common practice, no source.
const LISTED_WALL_SD_MM: f64 = 0.25;

/// Prior doubt of what the readings do not bring into the model at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unmodelled {
    /// Of the mean wall, mm.
    pub(super) wall_mm: f64,
    /// Of the even twist over 200 mm, degrees.
    pub(super) twist_deg: f64,
}

/// One reading in the equations, linear about a believed surface.
pub(super) struct LinearRow {
    /// Its place in `tube.readings`; `None` for what is no reading.
    pub(super) index: Option<usize>,
    /// (unknown, factor).
    pub(super) entries: Vec<(usize, f64)>,
    /// Value less what the prior centre gives, mm.
    pub(super) residual: f64,
    /// Standard deviation, mm.
    pub(super) sd: f64,
}

/// Prior precision of all unknowns and every row, linear about a believed surface.
pub(super) struct LinearEquations {
    pub(super) prior: DMatrix<f64>,
    pub(super) rows: Vec<LinearRow>,
}

/// The model of one tube, ready to be solved.
pub(super) struct Problem {
    pub(super) fields: Fields,
    spline: CubicSpline,
    rows: Vec<Row>,
    /// where each unknown of the measuring stands
    names: BTreeMap<Unknown, usize>,
    precision: DMatrix<f64>,
    pub(super) centre: DVector<f64>,
    unmodelled: Unmodelled,
}

impl Problem {
    /// Sets up everything measured on a tube whose scan is laid out.
    pub(super) fn new(tube: &Tube, model: &Model) -> Result<Problem, BeliefError> {
        let has = |kind: Kind| tube.readings.iter().any(|r| r.kind == kind);
        let scan_walls = tube.scan.as_ref().and_then(|s| s.unrolled.as_ref()).map_or(&[][..], |u| &u.walls);
        let wall = tube.wall_mm.is_some() || has(Kind::Wall) || !scan_walls.is_empty();
        let fields = Fields { top: top_harmonic(tube), wall, twist: has(Kind::Grain) };
        let spline = CubicSpline::with_spacing(tube.length_mm, KNOT_SPACING_MM);
        let surface = spline.size() * fields.count();
        let mut names: BTreeMap<Unknown, usize> = BTreeMap::new();
        let lists: Vec<Vec<(Unknown, f64)>> = tube.readings.iter().map(|r| unknowns(r, tube.length_mm)).collect();
        for (u, _) in lists.iter().flatten() {
            names.insert(u.clone(), 0);
        }
        if tube.scan.is_some() {
            names.extend(scan_unknowns(0.0, Angle::ZERO).map(|(u, _)| (u, 0)));
        }
        if !scan_walls.is_empty() {
            names.extend(scan_wall_unknowns(Angle::ZERO).map(|(u, _)| (u, 0)));
        }
        for (i, at) in names.values_mut().enumerate() {
            *at = surface + i;
        }
        let mut rows: Vec<Row> = Vec::with_capacity(tube.readings.len() + 1);
        for ((index, r), list) in tube.readings.iter().enumerate().zip(&lists) {
            let rig = model.rig(&r.rig);
            let probe = Probe::of(r, rig).map_err(|what| BeliefError::lacks(&tube.name, r, what))?;
            let nuisance = list.iter().map(|(u, factor)| (names[u], *factor)).collect();
            rows.push(Row::of(index, r, probe, rig, nuisance));
        }
        unwrap_fibres(&mut rows);
        if let Some(value) = tube.wall_mm {
            let (z_mm, sd) = (tube.length_mm / 2.0, LISTED_WALL_SD_MM);
            let probe = Probe::new(Kind::Wall, Angle::ZERO, 0.0);
            rows.push(Row { index: None, probe, z_mm, value, sd, half_step: 0.0, nuisance: Vec::new() });
        }
        if let Some(scan) = &tube.scan {
            rows.extend(scan_rows(scan, tube.length_mm, &names));
            rows.extend(scan_wall_rows(scan_walls, &names));
        }
        let size = surface + names.len();
        let (precision, centre) = (DMatrix::zeros(size, size), DVector::zeros(size));
        let unmodelled = Unmodelled { wall_mm: model.population.wall.level, twist_deg: model.population.twist.tilt };
        let mut problem = Problem { fields, spline, rows, names, precision, centre, unmodelled };
        problem.set_prior(model);
        for (unknown, times) in [(Unknown::ScanSize, 1.0), (Unknown::ScanWall, 2.0)] {
            if let (Some(scan), Some(&at)) = (&tube.scan, problem.names.get(&unknown)) {
                problem.precision[(at, at)] = (times * scan.accuracy_mm.max(1e-6)).powi(-2);
            }
        }
        Ok(problem)
    }

    fn set_prior(&mut self, model: &Model) {
        let (fields, population) = (self.fields, &model.population);
        self.set_field(Fields::R0, population.radius, model.centre_radius_mm);
        for n in 2..=fields.top {
            for part in 0..2 {
                self.set_field(fields.harmonic(n) + part, population.lobe(n), 0.0);
            }
        }
        for part in 0..2 {
            self.set_field(fields.centre() + part, population.centre, 0.0);
        }
        if let Some(w) = fields.wall_at() {
            self.set_field(w, population.wall, population.wall_mm);
            self.set_field(w + 1, population.wall_lean, 0.0);
            self.set_field(w + 2, population.wall_lean, 0.0);
        }
        if let Some(t) = fields.turn_at() {
            self.set_field(t, population.twist, 0.0);
        }
        for (name, &at) in &self.names {
            self.precision[(at, at)] = name.prior_sd_mm().powi(-2);
            let rows: Vec<&Row> = self.rows.iter().filter(|r| r.nuisance.iter().any(|&(i, _)| i == at)).collect();
            match name {
                // a dial's zero is arbitrary: start it where its readings are, with the same weak sd
                Unknown::Zero(..) => {
                    let readings: Vec<f64> = rows.iter().map(|r| r.value).collect();
                    let mut row = vec![0.0; fields.count()];
                    row[Fields::R0] = model.centre_radius_mm;
                    let plain = rows.first().map_or(0.0, |r| {
                        surface_value(r.probe, Section::new(fields, &row), &mut vec![0.0; fields.count()])
                    });
                    self.centre[at] = median(&readings) - plain;
                }
                // likewise the point a tracing was measured from
                Unknown::Tracing(_, part) => self.centre[at] = tracing_point(&rows)[usize::from(*part)],
                _ => {}
            }
        }
    }

    /// Adds the prior precision of one field and sets its centre.
    fn set_field(&mut self, field: usize, scale: FieldScale, mean: f64) {
        let (m, stride) = (self.spline.size(), self.fields.count());
        let own = field_precision(m, self.spline.spacing(), scale);
        for a in 0..m {
            for b in 0..m {
                self.precision[(a * stride + field, b * stride + field)] += own[(a, b)];
            }
            self.centre[a * stride + field] = mean;
        }
    }

    /// Number of coefficients of every field and their distance, mm.
    pub(super) fn grid(&self) -> (usize, f64) {
        (self.spline.size(), self.spline.spacing())
    }

    /// Readings of a tube drawn from the prior itself, with the noise their instruments state.
    #[cfg(test)]
    pub(super) fn drawn(&self, tube: &Tube, seed: u64) -> Tube {
        let mut rng = draws::stream(seed, &tube.name, 0);
        let noise = DVector::from_vec(draws::normals(&mut rng, self.centre.len()));
        let factor = Cholesky::new(self.precision.clone()).expect("a proper prior");
        let x = &self.centre + factor.l_dirty().tr_solve_lower_triangular(&noise).expect("regular");
        let mut out = tube.clone();
        for (row, value) in self.rows.iter().zip(self.predict(&x)) {
            if let Some(i) = row.index {
                out.readings[i].value_mm = value + row.sd * draws::normals(&mut rng, 1)[0];
            }
        }
        out
    }

    /// What the readings add to the precision at an answer (with that of the unknowns of the measuring, without the
    /// fields' prior), both halves; and their pull from the prior's centre.
    pub(super) fn added(&self, x: &DVector<f64>, sites: &[Site]) -> (DMatrix<f64>, DVector<f64>) {
        let size = self.centre.len();
        let surface = self.spline.size() * self.fields.count();
        let mut matrix = DMatrix::zeros(size, size);
        for i in surface..size {
            matrix[(i, i)] = self.precision[(i, i)];
        }
        let (mut matrix, pull) = self.equations_on(matrix, x, sites);
        matrix.fill_upper_triangle_with_lower_triangle();
        (matrix, pull)
    }

    /// Solves by reweighting; `None` when the equations are not positive definite.
    pub(super) fn solve(&self) -> Option<Solved> {
        let prior = Cholesky::new(self.precision.clone())?;
        let mut x = self.centre.clone();
        let mut weights = vec![1.0; self.rows.len()];
        let coarse = self.rows.iter().any(|r| r.half_step > 0.0);
        let close = if coarse { SETTLED_COARSE_MM } else { SETTLED_MM };
        let mut sites: Vec<Site> =
            self.rows.iter().map(|r| Site::normal(r.value, r.sd * r.sd + r.half_step * r.half_step / 3.0)).collect();
        let mut last: Vec<f64> = Vec::new();
        let (mut settled, mut bounded) = (false, true);
        let mut factor = prior.clone();
        for pass in 0..MOST_PASSES {
            let (matrix, right) = self.equations(&x, &sites);
            factor = Cholesky::new(matrix)?;
            x = &self.centre + factor.solve(&right);
            let predicted = self.predict(&x);
            let moved = if pass == 0 {
                f64::MAX
            } else {
                last.iter().zip(&predicted).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
            };
            if bounded && (pass >= BOUNDED_PASSES || moved < NEARLY_MM) {
                bounded = false;
            } else if !bounded && moved < close {
                settled = true;
                break;
            }
            let spread = if coarse { self.spreads(&x, &factor) } else { Vec::new() };
            for (i, (row, p)) in self.rows.iter().zip(&predicted).enumerate() {
                let u = row.departure(*p);
                weights[i] = if bounded { bounded_weight(u) } else { student_weight(u) };
                let variance = row.sd * row.sd / weights[i];
                sites[i] = if row.half_step > 0.0 {
                    sites[i].renewed(row.value, row.half_step, variance, *p, spread[i])
                } else {
                    Site { pull: 1.0 / variance, moment: row.value / variance }
                };
            }
            last = predicted;
        }
        Some(Solved { x, factor, prior, weights, sites, settled })
    }

    /// Every row linear about `x`, handed to `each` one after another.
    fn linearise(&self, x: &DVector<f64>, mut each: impl FnMut(usize, &Row, &Tangent)) {
        let mut tangent = Tangent::new(self.fields);
        for (i, row) in self.rows.iter().enumerate() {
            tangent.take(row, self.fields, &self.spline, x);
            each(i, row, &tangent);
        }
    }

    /// Variance of every coarse row's expected value; 0 for the others.
    fn spreads(&self, x: &DVector<f64>, factor: &Cholesky<f64, Dyn>) -> Vec<f64> {
        let mut out = vec![0.0; self.rows.len()];
        let mut h = DVector::zeros(x.len());
        self.linearise(x, |i, row, tangent| {
            if row.half_step > 0.0 {
                h.fill(0.0);
                for (at, g) in tangent.entries() {
                    h[at] += g;
                }
                out[i] = factor.l_dirty().solve_lower_triangular(&h).map_or(0.0, |u| u.norm_squared());
            }
        });
        out
    }

    fn predict(&self, x: &DVector<f64>) -> Vec<f64> {
        let mut out = Vec::with_capacity(self.rows.len());
        self.linearise(x, |_, _, tangent| out.push(tangent.value));
        out
    }

    /// Precision (lower half) and right side of the step from the prior centre.
    fn equations(&self, x: &DVector<f64>, sites: &[Site]) -> (DMatrix<f64>, DVector<f64>) {
        self.equations_on(self.precision.clone(), x, sites)
    }

    /// As [`Self::equations`], with `matrix` in place of the prior's precision.
    fn equations_on(&self, mut matrix: DMatrix<f64>, x: &DVector<f64>, sites: &[Site]) -> (DMatrix<f64>, DVector<f64>) {
        let mut right = DVector::zeros(x.len());
        let from_centre = x - &self.centre;
        let mut entries: Vec<(usize, f64)> = Vec::new();
        self.linearise(x, |i, _, tangent| {
            entries.clear();
            entries.extend(tangent.entries());
            let value = tangent.value;
            let Site { pull, moment } = sites[i];
            // pull times the residual about the prior centre under the tangent at x
            let residual = moment - pull * (value - entries.iter().map(|&(at, g)| g * from_centre[at]).sum::<f64>());
            for (n, &(a, u)) in entries.iter().enumerate() {
                right[a] += u * residual;
                for &(b, v) in &entries[..=n] {
                    let (low, high) = if a > b { (a, b) } else { (b, a) };
                    matrix[(low, high)] += pull * u * v;
                }
            }
        });
        (matrix, right)
    }

    /// Readings whose weight fell below `DOUBT_WEIGHT`.
    pub(super) fn doubted(&self, solved: &Solved) -> Vec<Doubted> {
        let predicted = self.predict(&solved.x);
        let rows = self.rows.iter().zip(&solved.weights).zip(predicted);
        rows.filter(|((_, w), _)| **w < DOUBT_WEIGHT)
            .filter_map(|((row, &weight), expected_mm)| {
                let departure_sd = row.departure(expected_mm);
                row.index.map(|index| Doubted { index, expected_mm, departure_sd, weight })
            })
            .collect()
    }

    /// Prior precision and every row linear about `x`.
    pub(super) fn linear(self, x: &DVector<f64>) -> LinearEquations {
        let from_centre = x - &self.centre;
        let mut rows = Vec::with_capacity(self.rows.len());
        self.linearise(x, |_, row, tangent| {
            let entries: Vec<(usize, f64)> = tangent.entries().collect();
            let by_entries = entries.iter().map(|&(at, g)| g * from_centre[at]).sum::<f64>();
            let residual = row.value - tangent.value + by_entries;
            // a coarse step enters by its rectangle's variance
            let sd = (row.sd * row.sd + row.half_step * row.half_step / 3.0).sqrt();
            rows.push(LinearRow { index: row.index, entries, residual, sd });
        });
        LinearEquations { prior: self.precision, rows }
    }

    /// The basis along the tube, and where each unknown of the measuring stands.
    pub(super) fn into_layout(self) -> (CubicSpline, BTreeMap<Unknown, usize>, Unmodelled) {
        (self.spline, self.names, self.unmodelled)
    }
}

/// The answer of a problem.
pub(super) struct Solved {
    /// Mean of every unknown.
    pub(super) x: DVector<f64>,
    /// Factor of the precision.
    pub(super) factor: Cholesky<f64, Dyn>,
    /// Factor of the prior's precision.
    pub(super) prior: Cholesky<f64, Dyn>,
    weights: Vec<f64>,
    /// What each row added to the equations in the end.
    pub(super) sites: Vec<Site>,
    /// False when the reweighting was stopped by its cap.
    pub(super) settled: bool,
}

/// Full weight within one sd, then falling as 1/|u|: convex, so a wild reading cannot trap the fit.
fn bounded_weight(u: f64) -> f64 {
    1.0 / u.abs().max(1.0)
}

/// The Student-t weight, capped at full weight so that good readings never count for more than they state.
fn student_weight(u: f64) -> f64 {
    ((T_FREEDOM + 1.0) / (T_FREEDOM + u * u)).min(1.0)
}
