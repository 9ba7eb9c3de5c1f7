//! One Gaussian model per tube that joins all its readings.
//!
//! Unknowns are the cubic B-spline coefficients of every field (see [`Fields`]) in knot-major order, followed by the
//! unknowns of the measuring. The prior of a field with coefficients `c` is Gaussian in its mean, its least-squares
//! tilt and its second differences (P-splines: Eilers and Marx, Flexible smoothing with B-splines and penalties,
//! Statist. Sci. 11 (1996) 89-121, the penalty read as a prior), the second differences sharing one common part, the
//! even bend. Readings enter through [`instrument`]; the likelihood is Student-t, computed by reweighting, the exact
//! caliper functional by Gauss-Newton.

use super::instrument::{self, Unknown};
use super::population::{FieldScale, Population, ROUGH_SPACING_MM, SPAN_MM};
use super::scan::{self, ScanFault};
use super::sections::{Fields, Sections};
use crate::domain::{Angle, Kind, Reading, Rig, Scan, Tube};
use crate::numeric::draws;
use crate::numeric::spline::CubicSpline;
use crate::numeric::summary::{count, median};
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
/// The bounded weights have done their work when no predicted reading moves by more than this, mm.
const NEARLY_MM: f64 = 1e-3;
/// A reading is listed as doubted when its weight falls below this (a departure of about 3.7 sd).
const DOUBT_WEIGHT: f64 = 0.28;
/// Knot spacing, mm.
const KNOT_SPACING_MM: f64 = 18.0;
/// Harmonics always carried, so that lobes no reading sees still count in the doubt.
const LEAST_TOP: usize = 6;
/// Most harmonics carried: bark finer than eight lobes is texture, not shape.
const MOST_TOP: usize = 8;
/// How well the one wall figure of the tube list stands for the mean wall, mm; common practice, no source.
const LISTED_WALL_SD_MM: f64 = 0.25;

/// A reading the fit does not believe.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubted {
    /// Its place in `tube.readings`.
    pub index: usize,
    /// What the rest of the readings lead one to expect there, mm.
    pub expected_mm: f64,
    /// Departure in standard deviations of the reading.
    pub departure_sd: f64,
    /// Weight left to it, 0 to 1.
    pub weight: f64,
}

/// Why a belief could not be formed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
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
        fault: ScanFault,
    },
    /// The equations could not be solved; an internal fault.
    #[error("tube {tube}: the precision matrix is not positive definite")]
    NotPositive {
        /// Which tube.
        tube: String,
    },
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
}

impl Belief {
    /// Fits the model to everything measured on `tube`.
    ///
    /// A scan that was not laid out yet is laid out first (see [`scan::ready`], also for what becomes of readings beside
    /// a scan without an index mark).
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
        let tube = &*scan::ready(tube).map_err(|fault| BeliefError::Scan { tube: tube.name.clone(), fault })?;
        if !(tube.length_mm.is_finite() && tube.length_mm > 0.0) {
            return Err(BeliefError::Length { tube: tube.name.clone(), length_mm: tube.length_mm });
        }
        if tube.scan.is_none() && !tube.readings.iter().any(|r| r.kind != Kind::Wall) {
            return Err(BeliefError::NoReadings { tube: tube.name.clone() });
        }
        let problem = Problem::new(tube, rigs, population, centre_radius_mm);
        problem.solve(tube)
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
        instrument::surface_value(Kind::Radius, angle, self.fields, &row, &mut gradient);
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
        let problem = Problem::new(tube, rigs, population, centre_radius_mm);
        if problem.centre.len() != self.mean.len() || problem.fields != self.fields {
            return None;
        }
        let from_centre = &self.mean - &problem.centre;
        let mut rows = Vec::with_capacity(problem.rows.len());
        problem.linearise(&self.mean, |_, row, value, first, block| {
            let surface = block.iter().enumerate().filter(|&(_, &g)| g.abs() > 0.0).map(|(k, &g)| (first + k, g));
            let entries: Vec<(usize, f64)> = surface.chain(row.nuisance.iter().copied()).collect();
            let residual = row.value - value + entries.iter().map(|&(at, g)| g * from_centre[at]).sum::<f64>();
            rows.push(LinearRow { index: row.index, entries, residual, sd: row.sd });
        });
        Some(LinearEquations { prior: problem.precision, rows })
    }
}

/// One reading ready for the equations.
struct Row {
    index: Option<usize>,
    kind: Kind,
    z_mm: f64,
    angle: Angle,
    value: f64,
    sd: f64,
    nuisance: Vec<(usize, f64)>,
}

struct Problem {
    fields: Fields,
    spline: CubicSpline,
    rows: Vec<Row>,
    precision: DMatrix<f64>,
    centre: DVector<f64>,
}

impl Problem {
    fn new(tube: &Tube, rigs: &BTreeMap<String, Rig>, population: &Population, centre_radius_mm: f64) -> Problem {
        let wall = tube.wall_mm.is_some() || tube.readings.iter().any(|r| r.kind == Kind::Wall);
        let fields = Fields { top: top_harmonic(tube), wall };
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
        for (i, at) in names.values_mut().enumerate() {
            *at = surface + i;
        }
        let mut rows: Vec<Row> = tube
            .readings
            .iter()
            .enumerate()
            .zip(&lists)
            .map(|((index, r), list)| Row {
                index: Some(index),
                kind: r.kind,
                z_mm: r.z_mm,
                angle: r.angle,
                value: r.value_mm,
                sd: reading_sd_mm(r, rigs),
                nuisance: list.iter().map(|(u, factor)| (names[u], *factor)).collect(),
            })
            .collect();
        if let Some(wall_mm) = tube.wall_mm {
            let z_mm = tube.length_mm / 2.0;
            let (angle, sd, nuisance) = (Angle::ZERO, LISTED_WALL_SD_MM, Vec::new());
            rows.push(Row { index: None, kind: Kind::Wall, z_mm, angle, value: wall_mm, sd, nuisance });
        }
        if let Some(scan) = &tube.scan {
            rows.extend(scan_rows(scan, tube.length_mm, &names));
        }
        let size = surface + names.len();
        let (precision, centre) = (DMatrix::zeros(size, size), DVector::zeros(size));
        let mut problem = Problem { fields, spline, rows, precision, centre };
        problem.set_prior(population, centre_radius_mm, &names);
        if let (Some(scan), Some(&at)) = (&tube.scan, names.get(&Unknown::ScanSize)) {
            problem.precision[(at, at)] = scan.accuracy_mm.max(1e-6).powi(-2);
        }
        problem
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
        for (name, &at) in names {
            self.precision[(at, at)] = name.prior_sd_mm().powi(-2);
            // a dial's zero is arbitrary: start it where its readings are, with the same weak sd
            if let Unknown::Zero(..) = name {
                let readings: Vec<f64> =
                    self.rows.iter().filter(|r| r.nuisance.iter().any(|&(i, _)| i == at)).map(|r| r.value).collect();
                self.centre[at] = median(&readings) - centre_radius_mm;
            }
        }
    }

    /// Adds the prior precision of one field: mean, tilt and second differences with a common part.
    fn set_field(&mut self, field: usize, scale: FieldScale, mean: f64) {
        let (m, h) = (self.spline.size(), self.spline.spacing());
        let stride = self.fields.count();
        let at = |i: usize| i * stride + field;
        let middle = count(m - 1) / 2.0;
        let square: f64 = (0..m).map(|i| (count(i) - middle).powi(2)).sum();
        // factors of the coefficients in (mean, change over 200 mm), each divided by its sd
        let level: Vec<f64> = vec![1.0 / (count(m) * scale.level); m];
        let tilt: Vec<f64> = (0..m).map(|i| (count(i) - middle) / square * (SPAN_MM / h) / scale.tilt).collect();
        let rough = scale.rough * (h / ROUGH_SPACING_MM).powf(1.5);
        let bend = scale.bend * 8.0 * (h / SPAN_MM).powi(2);
        let seconds = m - 2;
        // (rough^2 I + bend^2 1 1')^-1 by Sherman and Morrison
        let shared = bend * bend / (rough * rough + count(seconds) * bend * bend);
        let mut sum = vec![0.0; m];
        for i in 0..seconds {
            let d = [(i, 1.0), (i + 1, -2.0), (i + 2, 1.0)];
            for (a, u) in d {
                sum[a] += u;
                for (b, v) in d {
                    self.precision[(at(a), at(b))] += u * v / (rough * rough);
                }
            }
        }
        for a in 0..m {
            for b in 0..m {
                self.precision[(at(a), at(b))] +=
                    level[a] * level[b] + tilt[a] * tilt[b] - shared * sum[a] * sum[b] / (rough * rough);
            }
            self.centre[at(a)] = mean;
        }
    }

    fn solve(self, tube: &Tube) -> Result<Belief, BeliefError> {
        let fault = || BeliefError::NotPositive { tube: tube.name.clone() };
        let prior = Cholesky::new(self.precision.clone()).ok_or_else(fault)?;
        let mut x = self.centre.clone();
        let mut weights = vec![1.0; self.rows.len()];
        let mut last: Vec<f64> = Vec::new();
        let (mut settled, mut bounded) = (false, true);
        let mut factor = prior.clone();
        for pass in 0..MOST_PASSES {
            let (matrix, right) = self.equations(&x, &weights);
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
            } else if !bounded && moved < SETTLED_MM {
                settled = true;
                break;
            }
            for ((w, row), p) in weights.iter_mut().zip(&self.rows).zip(&predicted) {
                let u = (row.value - p) / row.sd;
                *w = if bounded { bounded_weight(u) } else { student_weight(u) };
            }
            last = predicted;
        }
        let doubted = self.doubted(&x, &weights);
        let mut kinds = BTreeMap::new();
        for r in &tube.readings {
            *kinds.entry(r.kind).or_insert(0) += 1;
        }
        Ok(Belief {
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
        })
    }

    /// Value and gradient of every row at `x`, handed to `each` as (row, value, first unknown, gradient block).
    fn linearise(&self, x: &DVector<f64>, mut each: impl FnMut(usize, &Row, f64, usize, &[f64])) {
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
            let surface = instrument::surface_value(row.kind, row.angle, self.fields, &section, &mut gradient);
            let value = surface + row.nuisance.iter().map(|&(at, factor)| factor * x[at]).sum::<f64>();
            for (k, &wk) in w.weight.iter().enumerate() {
                for (b, g) in block[k * f..(k + 1) * f].iter_mut().zip(&gradient) {
                    *b = wk * g;
                }
            }
            each(i, row, value, first, &block);
        }
    }

    fn predict(&self, x: &DVector<f64>) -> Vec<f64> {
        let mut out = Vec::with_capacity(self.rows.len());
        self.linearise(x, |_, _, value, _, _| out.push(value));
        out
    }

    /// Precision (lower half) and right side of the step from the prior centre.
    fn equations(&self, x: &DVector<f64>, weights: &[f64]) -> (DMatrix<f64>, DVector<f64>) {
        let mut matrix = self.precision.clone();
        let mut right = DVector::zeros(x.len());
        let from_centre = x - &self.centre;
        let mut entries: Vec<(usize, f64)> = Vec::new();
        self.linearise(x, |i, row, value, first, block| {
            entries.clear();
            entries.extend(block.iter().enumerate().filter(|&(_, &g)| g.abs() > 0.0).map(|(k, &g)| (first + k, g)));
            entries.extend(row.nuisance.iter().copied());
            let pull = weights[i] / (row.sd * row.sd);
            // the residual about the prior centre under the tangent at x
            let residual = row.value - value + entries.iter().map(|&(at, g)| g * from_centre[at]).sum::<f64>();
            for (n, &(a, u)) in entries.iter().enumerate() {
                right[a] += pull * u * residual;
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
                let departure_sd = (row.value - expected_mm) / row.sd;
                row.index.map(|index| Doubted { index, expected_mm, departure_sd, weight })
            })
            .collect()
    }
}

/// What a patch of a scan involves besides the surface: the scan's axis, which is only nearly the tube's, and the error
/// of size common to the whole scan. `t` is the place along the tube from 0 to 1.
fn scan_unknowns(t: f64, angle: Angle) -> [(Unknown, f64); 5] {
    let (s, c) = angle.sin_cos();
    // radius readings of a rig that is itself called so would share the axis; no maker writes the brackets
    let axis = |end, part| Unknown::Axis(Kind::Radius, "(scan)".to_string(), end, part);
    [
        (axis(0, 0), (1.0 - t) * c),
        (axis(0, 1), (1.0 - t) * s),
        (axis(1, 0), t * c),
        (axis(1, 1), t * s),
        (Unknown::ScanSize, 1.0),
    ]
}

/// Patches of a scan as radii.
fn scan_rows(scan: &Scan, length_mm: f64, names: &BTreeMap<Unknown, usize>) -> Vec<Row> {
    let places = scan_unknowns(0.0, Angle::ZERO).map(|(u, _)| names[&u]);
    let cells = scan.unrolled.iter().flat_map(|u| &u.cells);
    cells
        .map(|c| {
            let factors = scan_unknowns(c.z_mm / length_mm, c.angle);
            let nuisance = places.iter().zip(&factors).map(|(&at, (_, f))| (at, *f)).collect();
            let (z_mm, angle, value, sd) = (c.z_mm, c.angle, c.height_mm, c.sd_mm);
            Row { index: None, kind: Kind::Radius, z_mm, angle, value, sd, nuisance }
        })
        .collect()
}

/// Full weight within one sd, then falling as 1/|u|: convex, so a wild reading cannot trap the fit.
fn bounded_weight(u: f64) -> f64 {
    1.0 / u.abs().max(1.0)
}

/// The Student-t weight, capped at full weight so that good readings never count for more than they state.
fn student_weight(u: f64) -> f64 {
    ((T_FREEDOM + 1.0) / (T_FREEDOM + u * u)).min(1.0)
}

/// Standard deviation of a reading: its own, else its rig's, else its kind's; a resolution adds its rectangle's
/// variance, step^2 / 12 (JCGM 100:2008, F.2.2.1).
#[must_use]
pub fn reading_sd_mm(reading: &Reading, rigs: &BTreeMap<String, Rig>) -> f64 {
    let rig = rigs.get(&reading.rig);
    let sd = reading.sd_mm.or(rig.and_then(|r| r.sd_mm)).unwrap_or(reading.kind.default_sd_mm());
    let step = rig.and_then(|r| r.resolution_mm).unwrap_or(0.0);
    (sd * sd + step * step / 12.0).sqrt().max(1e-6)
}

/// Harmonics to carry: as many as the densest ring of readings can tell apart, within the bounds above.
fn top_harmonic(tube: &Tube) -> usize {
    if tube.scan.is_some() {
        return MOST_TOP;
    }
    let mut rings: BTreeMap<(Kind, i64), std::collections::BTreeSet<i64>> = BTreeMap::new();
    for r in tube.readings.iter().filter(|r| matches!(r.kind, Kind::Radius | Kind::Runout)) {
        rings.entry((r.kind, tenths(r.z_mm))).or_default().insert(tenths(r.angle.wrapped().degrees()));
    }
    let most = rings.values().map(std::collections::BTreeSet::len).max().unwrap_or(0);
    ((most.saturating_sub(1)) / 2).clamp(LEAST_TOP, MOST_TOP)
}

#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
fn tenths(x: f64) -> i64 {
    (x * 10.0).round() as i64
}
