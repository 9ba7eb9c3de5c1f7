//! One Gaussian model per tube that joins all its readings.
//!
//! Unknowns are the cubic B-spline coefficients of every field (see [`Fields`]) in knot-major order, followed by the
//! unknowns of the measuring. The prior of a field with coefficients `c` is Gaussian in its mean, its least-squares
//! tilt and its second differences (P-splines: Eilers and Marx, Flexible smoothing with B-splines and penalties,
//! Statist. Sci. 11 (1996) 89-121, the penalty read as a prior), the second differences sharing one common part, the
//! even bend. Readings enter through `instrument`; the likelihood is Student-t, computed by reweighting, the exact
//! functionals by Gauss-Newton. A reading shown in steps coarser than its noise is an interval (see `rounding`).

use super::doubted::Doubted;
use super::error::BeliefError;
use super::fields::Fields;
use super::instrument::{Probe, Unknown, unknowns};
use super::model::Model;
use super::problem::{LinearEquations, Problem, Solved, Unmodelled};
use super::quantity::{Doubt, Quantity};
use super::rows::Row;
use super::scan;
use super::sections::Sections;
use super::tangent::Tangent;
use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::draws;
use crate::numeric::spline::CubicSpline;
use nalgebra::{Cholesky, DVector, Dyn};
use std::collections::BTreeMap;

/// What is believed about one tube: mean, doubt and draws.
#[derive(Debug, Clone)]
pub struct Belief {
    tube: String,
    length_mm: f64,
    fields: Fields,
    spline: CubicSpline,
    /// where each unknown of the measuring stands behind the coefficients
    measuring: BTreeMap<Unknown, usize>,
    mean: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
    prior: Cholesky<f64, Dyn>,
    doubted: Vec<Doubted>,
    kinds: BTreeMap<Kind, usize>,
    settled: bool,
    wall_seen: bool,
    unmodelled: Unmodelled,
}

/// What a reading would show.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// Its value, mm (degrees of a fibre); with a zero of a set that no reading had, as if that zero were 0.
    pub mean: f64,
    /// Standard deviation of that value from the doubt about the surface alone, same unit.
    pub sd: f64,
    /// Standard deviation of one reading by this instrument, its step included, same unit.
    pub noise_sd: f64,
    /// What it hangs on, to first order: (unknown of the belief, factor). Surface first, then zeros and axes.
    pub row: Vec<(usize, f64)>,
    /// Unknowns that would come with it, and their factors; see [`Unknown::prior_sd_mm`].
    pub fresh: Vec<(Unknown, f64)>,
}

impl Belief {
    /// Fits the model to everything measured on `tube`.
    ///
    /// A scan that was not laid out yet is laid out first (see [`scan::ready`], also for what becomes of readings beside
    /// a scan without an index mark).
    ///
    /// # Errors
    /// See [`BeliefError`].
    pub fn fit(tube: &Tube, model: &Model) -> Result<Belief, BeliefError> {
        let tube = &*scan::ready(tube).map_err(|fault| BeliefError::Scan { tube: tube.name.clone(), fault })?;
        check(tube)?;
        let problem = Problem::new(tube, model)?;
        let solved = problem.solve().ok_or_else(|| BeliefError::NotPositive { tube: tube.name.clone() })?;
        let doubted = problem.doubted(&solved);
        let fields = problem.fields;
        let (spline, measuring, unmodelled) = problem.into_layout();
        let mut kinds = BTreeMap::new();
        for r in &tube.readings {
            *kinds.entry(r.kind).or_insert(0) += 1;
        }
        let Solved { x: mean, factor, prior, settled, .. } = solved;
        Ok(Belief {
            tube: tube.name.clone(),
            length_mm: tube.length_mm,
            fields,
            spline,
            measuring,
            mean,
            factor,
            prior,
            doubted,
            kinds,
            settled,
            wall_seen: fields.wall,
            unmodelled,
        })
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

    /// How surely a quantity is known, and how surely it was before any reading.
    ///
    /// A quantity has to be one of this belief's own fields ([`Belief::fields`]).
    #[must_use]
    pub fn doubt_of(&self, quantity: &Quantity) -> Doubt {
        let mut v = DVector::zeros(self.mean.len());
        for t in quantity.terms() {
            let w = self.spline.weights(t.z_mm);
            for (k, &wk) in w.weight.iter().enumerate() {
                v[(w.first + k) * self.fields.count() + t.field] += t.factor * wk;
            }
        }
        Doubt { sd: sd_under(&self.factor, &v), prior_sd: sd_under(&self.prior, &v) }
    }

    /// Standard deviation of the height of the bark at a place, mm.
    #[must_use]
    pub fn height_sd_mm(&self, z_mm: f64, angle: Angle) -> f64 {
        self.doubt_of(&Quantity::of(self.fields).height(z_mm, angle, 1.0)).sd
    }

    /// What a reading would show, taken or not: its value, how surely that is known, and what it hangs on.
    ///
    /// `model` is what the belief was formed with; the value of `reading` is not looked at.
    ///
    /// # Errors
    /// [`BeliefError::Lacks`] where the reading has not the size of instrument its kind needs, [`BeliefError::NotHeld`] for
    /// a wall or a fibre where none was ever measured on this tube: its doubt is then the prior's ([`Belief::sight`]).
    pub fn expect(&self, reading: &Reading, model: &Model) -> Result<Expected, BeliefError> {
        let what = match reading.kind {
            Kind::Wall if !self.fields.wall => Some("wall"),
            Kind::Grain if !self.fields.twist => Some("grain"),
            _ => None,
        };
        if let Some(what) = what {
            return Err(BeliefError::NotHeld { tube: self.tube.clone(), what });
        }
        let rig = model.rig(&reading.rig);
        let probe = Probe::of(reading, rig).map_err(|what| BeliefError::lacks(&self.tube, reading, what))?;
        // unknowns of the measuring that no reading had are put behind all others, at the prior's centre
        let size = self.mean.len();
        let mut new: Vec<Unknown> = Vec::new();
        let mut nuisance = Vec::new();
        for (unknown, factor) in unknowns(reading, self.length_mm) {
            let at = self.measuring.get(&unknown).copied().unwrap_or_else(|| {
                new.push(unknown);
                size + new.len() - 1
            });
            nuisance.push((at, factor));
        }
        let x = self.mean.clone().resize_vertically(size + new.len(), 0.0);
        let row = Row::of(0, reading, probe, rig, nuisance);
        let mut tangent = Tangent::new(self.fields);
        tangent.take(&row, self.fields, &self.spline, &x);
        let mut v = DVector::zeros(size);
        tangent.of_surface().for_each(|(at, g)| v[at] += g);
        let (known, fresh): (Vec<_>, Vec<_>) = tangent.entries().partition(|e| e.0 < size);
        let fresh = fresh.into_iter().map(|(at, g)| (new[at - size].clone(), g)).collect();
        let noise_sd = (row.sd * row.sd + row.half_step * row.half_step / 3.0).sqrt();
        Ok(Expected { mean: tangent.value, sd: sd_under(&self.factor, &v), noise_sd, row: known, fresh })
    }

    /// Covariance of two rows over this belief's unknowns, as [`Belief::expect`] gives them; of a row with itself its
    /// variance, the zeros and axes of the measuring included.
    ///
    /// # Panics
    /// Where a row is of another belief with more unknowns.
    #[must_use]
    pub fn covariance(&self, one: &[(usize, f64)], other: &[(usize, f64)]) -> f64 {
        let halved = |row: &[(usize, f64)]| {
            let mut v = DVector::zeros(self.mean.len());
            row.iter().for_each(|&(at, g)| v[at] += g);
            self.factor.l_dirty().solve_lower_triangular(&v)
        };
        match (halved(one), halved(other)) {
            (Some(u), Some(v)) => u.dot(&v),
            _ => f64::NAN,
        }
    }

    /// The equations of `tube`, linear about the mean of this belief.
    ///
    /// # Errors
    /// As [`Belief::fit`]; [`BeliefError::OtherUnknowns`] where they have not the unknowns of this belief.
    pub(super) fn linear_equations(&self, tube: &Tube, model: &Model) -> Result<LinearEquations, BeliefError> {
        let problem = Problem::new(tube, model)?;
        if problem.centre.len() != self.mean.len() || problem.fields != self.fields {
            return Err(BeliefError::OtherUnknowns { tube: tube.name.clone() });
        }
        Ok(problem.linear(&self.mean))
    }
}

/// Standard deviation of `v' x` where `factor` is of the precision of `x`.
fn sd_under(factor: &Cholesky<f64, Dyn>, v: &DVector<f64>) -> f64 {
    factor.l_dirty().solve_lower_triangular(v).map_or(f64::NAN, |u| u.norm())
}

/// Refuses a tube without a length or without a reading of its outside.
pub(super) fn check(tube: &Tube) -> Result<(), BeliefError> {
    if !(tube.length_mm.is_finite() && tube.length_mm > 0.0) {
        return Err(BeliefError::Length { tube: tube.name.clone(), length_mm: tube.length_mm });
    }
    if tube.scan.is_none() && !tube.readings.iter().any(|r| r.kind.is_outside()) {
        return Err(BeliefError::NoReadings { tube: tube.name.clone() });
    }
    Ok(())
}
