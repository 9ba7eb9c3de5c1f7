//! One Gaussian model per tube that joins all its readings.
//!
//! Unknowns are the cubic B-spline coefficients of every field (see [`Fields`]) in knot-major order, followed by the
//! unknowns of the measuring. The prior of a field with coefficients `c` is Gaussian in its mean, its least-squares
//! tilt and its second differences (P-splines: Eilers and Marx, Flexible smoothing with B-splines and penalties,
//! Statist. Sci. 11 (1996) 89-121, the penalty read as a prior), the second differences sharing one common part, the
//! even bend. Readings enter through [`instrument`]; the likelihood is Student-t, computed by reweighting, the exact
//! functionals by Gauss-Newton. A reading shown in steps coarser than its noise is an interval (see `rounding`).

use super::instrument::{self, Probe, Unknown};
use super::outline::traced_radius;
use super::population::{FieldScale, Population};
use super::prior::field_precision;
use super::rounding::Site;
use super::rows::{
    Row, scan_rows, scan_unknowns, scan_wall_rows, scan_wall_unknowns, top_harmonic, tracing_point, unwrap_fibres,
};
use super::scan::ScanFault;
use super::sections::{Fields, Sections};
use crate::domain::{Angle, Kind, Rig, Tube};
use crate::numeric::draws;
use crate::numeric::spline::CubicSpline;
use crate::numeric::summary::median;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
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

/// A reading the fit does not believe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Doubted {
    /// Its place in `tube.readings`; stored as `reading`, counted from 1.
    #[serde(rename = "reading", with = "from_one")]
    pub index: usize,
    /// What the rest of the readings lead one to expect there, mm.
    pub expected_mm: f64,
    /// Departure in standard deviations of the reading.
    pub departure_sd: f64,
    /// Weight left to it, 0 to 1.
    pub weight: f64,
}

/// Why a belief could not be formed.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BeliefError {
    /// The length is missing, zero or not a number.
    #[error("tube {tube}: length {length_mm} mm is not a usable length")]
    Length {
        /// Which tube.
        tube: String,
        /// The length given, mm.
        length_mm: f64,
    },
    /// The tube has no reading of its outside at all.
    #[error("tube {tube}: no reading of its outside")]
    NoReadings {
        /// Which tube.
        tube: String,
    },
    /// Its scan cannot be laid out.
    #[error("tube {tube}: its scan cannot be used: {fault}")]
    Scan {
        /// Which tube.
        tube: String,
        /// Why.
        #[source]
        fault: ScanFault,
    },
    /// A reading lacks a size of its instrument.
    #[error("tube {tube}: {place}: {what}")]
    Lacks {
        /// Which tube.
        tube: String,
        /// Where the reading stands.
        place: String,
        /// What it lacks.
        what: Cow<'static, str>,
    },
    /// The equations could not be solved; an internal fault.
    #[error("tube {tube}: the precision matrix is not positive definite")]
    NotPositive {
        /// Which tube.
        tube: String,
    },
}

/// Places in a list are stored as people count them.
mod from_one {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(index: &usize, to: S) -> Result<S::Ok, S::Error> {
        index.saturating_add(1).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<usize, D::Error> {
        let number = usize::deserialize(from)?;
        number.checked_sub(1).ok_or_else(|| serde::de::Error::custom("readings are counted from 1"))
    }
}

/// What is believed about one tube: mean, doubt and draws.
#[derive(Debug, Clone)]
pub struct Belief {
    tube: String,
    length_mm: f64,
    fields: Fields,
    spline: CubicSpline,
    mean: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
    prior: Cholesky<f64, Dyn>,
    doubted: Vec<Doubted>,
    kinds: BTreeMap<Kind, usize>,
    settled: bool,
    wall_seen: bool,
    unmodelled: Unmodelled,
}

/// Prior doubt of what the readings do not bring into the model at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unmodelled {
    /// Of the mean wall, mm.
    pub(super) wall_mm: f64,
    /// Of the even twist over 200 mm, degrees.
    pub(super) twist_deg: f64,
}

impl Belief {
    /// Fits the model to everything measured on `tube`.
    ///
    /// A scan is to be laid out before ([`unroll_lot`](super::scan::unroll_lot) for a lot, [`ready`](super::scan::ready) for one tube, which also say what
    /// becomes of readings beside a scan without an index mark).
    ///
    /// `centre_radius_mm` is where the prior expects the mean radius, half the target arc diameter.
    ///
    /// # Errors
    /// See [`BeliefError`].
    pub fn fit(
        tube: &Tube,
        rigs: &BTreeMap<String, Rig>,
        population: &Population,
        centre_radius_mm: f64,
    ) -> Result<Belief, BeliefError> {
        Belief::check(tube)?;
        let problem = Problem::new(tube, rigs, population, centre_radius_mm)?;
        problem.solve(tube).map(|(belief, _)| belief)
    }

    /// Refuses a tube without a length, without a reading of its outside, or with a scan that is not laid out.
    pub(super) fn check(tube: &Tube) -> Result<(), BeliefError> {
        if tube.scan.as_ref().is_some_and(|s| s.unrolled.is_none()) {
            return Err(BeliefError::Scan { tube: tube.name.clone(), fault: ScanFault::NotLaidOut });
        }
        if !(tube.length_mm.is_finite() && tube.length_mm > 0.0) {
            return Err(BeliefError::Length { tube: tube.name.clone(), length_mm: tube.length_mm });
        }
        if tube.scan.is_none() && !tube.readings.iter().any(|r| r.kind.is_outside()) {
            return Err(BeliefError::NoReadings { tube: tube.name.clone() });
        }
        Ok(())
    }

    /// Prior doubt of what is not in the model.
    pub(super) fn unmodelled(&self) -> Unmodelled {
        self.unmodelled
    }

    /// True when fibres were followed; otherwise the fields hold no turn, and the grain is taken as running true.
    #[must_use]
    pub fn grain_seen(&self) -> bool {
        self.fields.twist
    }

    /// Name of the tube.
    #[must_use]
    pub fn tube(&self) -> &str {
        &self.tube
    }

    /// Length of the tube, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// The fields of every section this belief gives.
    #[must_use]
    pub fn fields(&self) -> Fields {
        self.fields
    }

    /// Readings the fit does not believe, in the order of the tube's readings.
    #[must_use]
    pub fn doubted(&self) -> &[Doubted] {
        &self.doubted
    }

    /// How many readings of each kind went in.
    #[must_use]
    pub fn kinds(&self) -> &BTreeMap<Kind, usize> {
        &self.kinds
    }

    /// False when the reweighting was stopped by its cap.
    #[must_use]
    pub fn settled(&self) -> bool {
        self.settled
    }

    /// True when anything was measured of the wall; otherwise the fields hold no wall.
    #[must_use]
    pub fn wall_seen(&self) -> bool {
        self.wall_seen
    }

    /// The mean surface at these places.
    #[must_use]
    pub fn mean_sections(&self, z_mm: &[f64]) -> Sections {
        self.sections_of(&self.mean, z_mm)
    }

    /// Draw number `k` of the surface under `seed`, at these places. Depends on (seed, tube name, k) only.
    #[must_use]
    pub fn draw_sections(&self, seed: u64, k: u64, z_mm: &[f64]) -> Sections {
        let mut rng = draws::stream(seed, &self.tube, k);
        let noise = DVector::from_vec(draws::normals(&mut rng, self.mean.len()));
        let step = self.factor.l_dirty().tr_solve_lower_triangular(&noise).unwrap_or(noise);
        self.sections_of(&(&self.mean + step), z_mm)
    }

    fn sections_of(&self, x: &DVector<f64>, z_mm: &[f64]) -> Sections {
        let mut out = Sections::zeros(self.fields, z_mm);
        let f = self.fields.count();
        for (j, &z) in z_mm.iter().enumerate() {
            let w = self.spline.weights(z);
            let block = &x.as_slice()[w.first * f..(w.first + 4) * f];
            let row = out.row_mut(j);
            for (k, &wk) in w.weight.iter().enumerate() {
                for (value, c) in row.iter_mut().zip(&block[k * f..(k + 1) * f]) {
                    *value += wk * c;
                }
            }
        }
        out
    }

    /// Posterior and prior standard deviation of a linear quantity given as terms (place mm, field, factor).
    ///
    /// The ratio tells whether the readings see the quantity: near 1 they say nothing about it.
    #[must_use]
    pub fn doubt_of(&self, terms: &[(f64, usize, f64)]) -> (f64, f64) {
        let mut v = DVector::zeros(self.mean.len());
        for &(z, field, factor) in terms {
            let w = self.spline.weights(z);
            for (k, &wk) in w.weight.iter().enumerate() {
                v[(w.first + k) * self.fields.count() + field] += factor * wk;
            }
        }
        let sd = |c: &Cholesky<f64, Dyn>| c.l_dirty().solve_lower_triangular(&v).map_or(f64::NAN, |u| u.norm());
        (sd(&self.factor), sd(&self.prior))
    }

    /// Standard deviation of the height of the bark at a place, mm.
    #[must_use]
    pub fn height_sd_mm(&self, z_mm: f64, angle: Angle) -> f64 {
        let mut gradient = vec![0.0; self.fields.count()];
        let row = vec![0.0; self.fields.count()];
        instrument::surface_value(Probe::new(Kind::Radius, angle, 0.0), self.fields, &row, &mut gradient);
        let terms: Vec<(f64, usize, f64)> = gradient.iter().enumerate().map(|(f, &g)| (z_mm, f, g)).collect();
        self.doubt_of(&terms).0
    }
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

impl Belief {
    /// The equations of `tube`, linear about the mean of this belief; `None` where they have other unknowns than it has.
    pub(super) fn linear_equations(
        &self,
        tube: &Tube,
        rigs: &BTreeMap<String, Rig>,
        population: &Population,
        centre_radius_mm: f64,
    ) -> Option<LinearEquations> {
        let problem = Problem::new(tube, rigs, population, centre_radius_mm).ok()?;
        if problem.centre.len() != self.mean.len() || problem.fields != self.fields {
            return None;
        }
        let from_centre = &self.mean - &problem.centre;
        let mut rows = Vec::with_capacity(problem.rows.len());
        problem.linearise(&self.mean, |_, row, value, first, block, nuisance| {
            let surface = block.iter().enumerate().filter(|&(_, &g)| g.abs() > 0.0).map(|(k, &g)| (first + k, g));
            let entries: Vec<(usize, f64)> = surface.chain(nuisance.iter().copied()).collect();
            let residual = row.value - value + entries.iter().map(|&(at, g)| g * from_centre[at]).sum::<f64>();
            // a coarse step enters by its rectangle's variance
            let sd = (row.sd * row.sd + row.half_step * row.half_step / 3.0).sqrt();
            rows.push(LinearRow { index: row.index, entries, residual, sd });
        });
        Some(LinearEquations { prior: problem.precision, rows })
    }
}

/// The model of one tube, ready to be solved.
pub(super) struct Problem {
    pub(super) fields: Fields,
    spline: CubicSpline,
    rows: Vec<Row>,
    precision: DMatrix<f64>,
    pub(super) centre: DVector<f64>,
    unmodelled: Unmodelled,
}

impl Problem {
    pub(super) fn new(
        tube: &Tube,
        rigs: &BTreeMap<String, Rig>,
        population: &Population,
        centre_radius_mm: f64,
    ) -> Result<Problem, BeliefError> {
        let has = |kind: Kind| tube.readings.iter().any(|r| r.kind == kind);
        let scan_walls = tube.scan.as_ref().and_then(|s| s.unrolled.as_ref()).map_or(&[][..], |u| &u.walls);
        let wall = tube.wall_mm.is_some() || has(Kind::Wall) || !scan_walls.is_empty();
        let fields = Fields { top: top_harmonic(tube), wall, twist: has(Kind::Grain) };
        let spline = CubicSpline::with_spacing(tube.length_mm, KNOT_SPACING_MM);
        let surface = spline.size() * fields.count();
        let mut names: BTreeMap<Unknown, usize> = BTreeMap::new();
        let lists: Vec<Vec<(Unknown, f64)>> =
            tube.readings.iter().map(|r| instrument::unknowns(r, tube.length_mm)).collect();
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
            let rig = rigs.get(&r.rig);
            let probe = Probe::of(r, rig).map_err(|what| BeliefError::Lacks {
                tube: tube.name.clone(),
                place: r.place.to_string(),
                what: what.into(),
            })?;
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
        let unmodelled = Unmodelled { wall_mm: population.wall.level, twist_deg: population.twist.tilt };
        let mut problem = Problem { fields, spline, rows, precision, centre, unmodelled };
        problem.set_prior(population, centre_radius_mm, &names);
        for (unknown, times) in [(Unknown::ScanSize, 1.0), (Unknown::ScanWall, 2.0)] {
            if let (Some(scan), Some(&at)) = (&tube.scan, names.get(&unknown)) {
                problem.precision[(at, at)] = (times * scan.accuracy_mm.max(1e-6)).powi(-2);
            }
        }
        Ok(problem)
    }

    fn set_prior(&mut self, population: &Population, centre_radius_mm: f64, names: &BTreeMap<Unknown, usize>) {
        let fields = self.fields;
        self.set_field(Fields::R0, population.radius, centre_radius_mm);
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
        for (name, &at) in names {
            self.precision[(at, at)] = name.prior_sd_mm().powi(-2);
            let rows: Vec<&Row> = self.rows.iter().filter(|r| r.nuisance.iter().any(|&(i, _)| i == at)).collect();
            match name {
                // a dial's zero is arbitrary: start it where its readings are, with the same weak sd
                Unknown::Zero(..) => {
                    let readings: Vec<f64> = rows.iter().map(|r| r.value).collect();
                    let mut row = vec![0.0; fields.count()];
                    row[Fields::R0] = centre_radius_mm;
                    let plain = rows.first().map_or(0.0, |r| {
                        instrument::surface_value(r.probe, fields, &row, &mut vec![0.0; fields.count()])
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
    pub(super) fn added(&self, belief: &Belief, sites: &[Site]) -> (DMatrix<f64>, DVector<f64>) {
        let size = self.centre.len();
        let surface = self.spline.size() * self.fields.count();
        let mut matrix = DMatrix::zeros(size, size);
        for i in surface..size {
            matrix[(i, i)] = self.precision[(i, i)];
        }
        let (mut matrix, pull) = self.equations_on(matrix, &belief.mean, sites);
        matrix.fill_upper_triangle_with_lower_triangle();
        (matrix, pull)
    }

    /// Solves by reweighting; hands back what each row added to the equations in the end as well.
    pub(super) fn solve(&self, tube: &Tube) -> Result<(Belief, Vec<Site>), BeliefError> {
        let fault = || BeliefError::NotPositive { tube: tube.name.clone() };
        let prior = Cholesky::new(self.precision.clone()).ok_or_else(fault)?;
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
            factor = Cholesky::new(matrix).ok_or_else(fault)?;
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
        let doubted = self.doubted(&x, &weights);
        let mut kinds = BTreeMap::new();
        for r in &tube.readings {
            *kinds.entry(r.kind).or_insert(0) += 1;
        }
        let belief = Belief {
            tube: tube.name.clone(),
            length_mm: tube.length_mm,
            fields: self.fields,
            spline: self.spline,
            mean: x,
            factor,
            prior,
            doubted,
            kinds,
            settled,
            wall_seen: self.fields.wall,
            unmodelled: self.unmodelled,
        };
        Ok((belief, sites))
    }

    /// Value and gradient of every row at `x`, handed to `each` as (row, value, first unknown, gradient block, factors of
    /// the unknowns of the measuring).
    fn linearise(&self, x: &DVector<f64>, mut each: impl FnMut(usize, &Row, f64, usize, &[f64], &[(usize, f64)])) {
        let f = self.fields.count();
        let mut section = vec![0.0; f];
        let mut gradient = vec![0.0; f];
        let mut block = vec![0.0; 4 * f];
        for (i, row) in self.rows.iter().enumerate() {
            let w = self.spline.weights(row.z_mm);
            let first = w.first * f;
            section.fill(0.0);
            for (k, &wk) in w.weight.iter().enumerate() {
                for (s, c) in section.iter_mut().zip(&x.as_slice()[first + k * f..]) {
                    *s += wk * c;
                }
            }
            // the point a tracing was measured from acts through the shape; all other unknowns simply add
            let traced = (row.probe.kind == Kind::Outline && row.nuisance.len() == 2).then(|| {
                let [u, v] = [row.nuisance[0].0, row.nuisance[1].0];
                gradient.fill(0.0);
                let from = [x[u], x[v]];
                let (value, by) = traced_radius(row.probe.angle, from, self.fields, &section, &mut gradient);
                (value, [(u, by[0]), (v, by[1])])
            });
            let value = traced.map_or_else(
                || {
                    instrument::surface_value(row.probe, self.fields, &section, &mut gradient)
                        + row.nuisance.iter().map(|&(at, factor)| factor * x[at]).sum::<f64>()
                },
                |t| t.0,
            );
            for (k, &wk) in w.weight.iter().enumerate() {
                for (b, g) in block[k * f..(k + 1) * f].iter_mut().zip(&gradient) {
                    *b = wk * g;
                }
            }
            let factors = traced.as_ref().map_or(row.nuisance.as_slice(), |t| t.1.as_slice());
            each(i, row, value, first, &block, factors);
        }
    }

    /// Variance of every coarse row's expected value; 0 for the others.
    fn spreads(&self, x: &DVector<f64>, factor: &Cholesky<f64, Dyn>) -> Vec<f64> {
        let mut out = vec![0.0; self.rows.len()];
        let mut h = DVector::zeros(x.len());
        self.linearise(x, |i, row, _, first, block, factors| {
            if row.half_step > 0.0 {
                h.fill(0.0);
                h.rows_mut(first, block.len()).copy_from_slice(block);
                for &(at, g) in factors {
                    h[at] += g;
                }
                out[i] = factor.l_dirty().solve_lower_triangular(&h).map_or(0.0, |u| u.norm_squared());
            }
        });
        out
    }

    fn predict(&self, x: &DVector<f64>) -> Vec<f64> {
        let mut out = Vec::with_capacity(self.rows.len());
        self.linearise(x, |_, _, value, _, _, _| out.push(value));
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
        self.linearise(x, |i, _, value, first, block, factors| {
            entries.clear();
            entries.extend(block.iter().enumerate().filter(|&(_, &g)| g.abs() > 0.0).map(|(k, &g)| (first + k, g)));
            entries.extend(factors.iter().copied());
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

    fn doubted(&self, x: &DVector<f64>, weights: &[f64]) -> Vec<Doubted> {
        let predicted = self.predict(x);
        let rows = self.rows.iter().zip(weights).zip(predicted);
        rows.filter(|((_, w), _)| **w < DOUBT_WEIGHT)
            .filter_map(|((row, &weight), expected_mm)| {
                let departure_sd = row.departure(expected_mm);
                row.index.map(|index| Doubted { index, expected_mm, departure_sd, weight })
            })
            .collect()
    }
}

/// Full weight within one sd, then falling as 1/|u|: convex, so a wild reading cannot trap the fit.
fn bounded_weight(u: f64) -> f64 {
    1.0 / u.abs().max(1.0)
}

/// The Student-t weight, capped at full weight so that good readings never count for more than they state.
fn student_weight(u: f64) -> f64 {
    ((T_FREEDOM + 1.0) / (T_FREEDOM + u * u)).min(1.0)
}
