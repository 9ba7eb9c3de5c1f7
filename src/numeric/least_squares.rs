//! One solver for small non-linear least-squares problems.

use crate::numeric::linear::{count, nonzero};
use crate::numeric::small_svd::SmallSvd;
use crate::numeric::triangle::Triangle;
use nalgebra::{DMatrix, DVector};

/// A least-squares problem: residuals and their derivatives, one reading at a time.
pub trait Model {
    /// Number of unknowns p.
    fn parameters(&self) -> usize;
    /// Number of residuals m.
    fn readings(&self) -> usize;
    /// Residual `i` (model minus reading, or the other way, but always the same) at the unknowns `at` (length p).
    /// When `gradient` is given (length p) it is filled with the derivative of this residual by each unknown.
    /// A NaN or an infinity means "not allowed here": the solver takes a shorter step.
    fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64;
}

/// Why the solver stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Termination {
    /// The step, or the gradient, fell to the rounding of the unknowns: no further digit is to be had.
    Converged,
    /// The sum of squares no longer falls and neither does the gradient; the last digits are rounding noise.
    RoundingFloor,
    /// The cap on iterations was reached: the estimate is the best point so far, not a minimum.
    IterationCap,
}

/// Why no fit was possible at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SolveError {
    /// The starting point has the wrong number of unknowns.
    #[error("the starting point has {got} unknowns, the model {need}")]
    WrongLength {
        /// Unknowns of the model.
        need: usize,
        /// Unknowns given.
        got: usize,
    },
    /// The start, or the residuals or derivatives there, hold a NaN or an infinity.
    #[error("the model is not finite at the starting point")]
    NotFinite,
}

/// The answer of [`minimise`].
#[derive(Debug, Clone)]
pub struct FitReport {
    /// The unknowns, length p.
    pub estimate: DVector<f64>,
    /// Covariance p x p **for residuals of sd 1**: multiply by the noise variance (or divide each residual by
    /// its sd inside the model). `None` when some combination of unknowns is not determined. First order in the noise.
    pub unit_covariance: Option<DMatrix<f64>>,
    /// Number of combinations of unknowns that the readings determine at the answer.
    pub rank: usize,
    /// Largest over smallest singular value of the column-scaled Jacobian (infinite when singular).
    pub condition: f64,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// Number of residuals m.
    pub readings: usize,
    /// Why it stopped.
    pub termination: Termination,
    /// Linearisations used.
    pub iterations: usize,
    /// Largest cosine between the residual vector and a column of the Jacobian: 0 at a perfect minimum.
    pub gradient_cosine: f64,
}

impl FitReport {
    /// Residual standard deviation with m - rank degrees of freedom; `None` when there are none.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        let dof = self.readings.checked_sub(self.rank).filter(|d| *d > 0)?;
        Some((self.sum_of_squares / count(dof)).sqrt())
    }

    /// Root mean square residual (divides by m).
    #[must_use]
    pub fn rms(&self) -> f64 {
        (self.sum_of_squares / count(self.readings.max(1))).sqrt()
    }
}

/// Limits of [`minimise`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Most linearisations.
    pub iterations: usize,
    /// First damping, as a fraction of the largest squared singular value of the scaled Jacobian.
    pub first_damping: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Limits { iterations: 500, first_damping: 1e-2 }
    }
}

/// Below this fraction of the sum of squares a predicted gain cannot be seen in the difference of two sums of
/// squares (it would need more than half the digits); from there on the gradient judges the steps.
const UNSEEN_GAIN: f64 = 1e-9;
/// A step must gain this fraction of what the linear model promised (More 1978).
const LEAST_GAIN: f64 = 1e-4;
/// Damping beyond this moves no unknown by a representable amount.
const MOST_DAMPING: f64 = 1e20;

/// Minimises the sum of squared residuals from `start`.
///
/// Levenberg-Marquardt with column scaling that never shrinks (More 1978), damping by Nielsen's rule (1999), each
/// step from a QR factorisation and a singular value decomposition, never from normal equations. When sums of squares
/// can no longer tell two points apart, a second phase goes on with the length of the gradient as its judge, so the
/// unknowns are found to rounding and not only to its square root.
///
/// # Arguments
/// `start` has one finite value per unknown. Fewer readings than unknowns are allowed: the rank then says so.
///
/// # Errors
/// [`SolveError`] when the start has the wrong length or the model is not finite there.
///
/// # Accuracy
/// On the nonlinear NIST reference sets in the tests, all of the 10 certified digits from both starting points.
///
/// # Degenerate cases
/// A local minimum is not told from a global one. With a rank below p the unseen combinations stay where they started.
///
/// # Source
/// J. J. More, The Levenberg-Marquardt algorithm, implementation and theory (1978); H. B. Nielsen, Damping parameter
/// in Marquardt's method (1999).
pub fn minimise(model: &impl Model, start: &[f64], limits: Limits) -> Result<FitReport, SolveError> {
    let p = model.parameters();
    if start.len() != p {
        return Err(SolveError::WrongLength { need: p, got: start.len() });
    }
    let mut work = Work::new(model);
    let mut here = work.linearise(start.to_vec()).ok_or(SolveError::NotFinite)?;
    let mut damping = limits.first_damping * here.largest_square();
    let mut growth = 2.0;
    let mut termination = Termination::IterationCap;
    while work.linearised < limits.iterations {
        if here.at_floor() {
            termination = Termination::Converged;
            break;
        }
        let step = here.step(damping);
        if step.gain <= UNSEEN_GAIN * here.cost {
            (here, termination) = work.polish(here, damping, limits.iterations);
            break;
        }
        let tiny = step.is_below_rounding(&here);
        let trial_cost = work.cost(&step.to);
        let ratio = (here.cost - trial_cost) / step.gain;
        let accepted = ratio > LEAST_GAIN && trial_cost.is_finite();
        if let Some(next) = accepted.then(|| work.linearise(step.to)).flatten() {
            here = next;
            damping *= (1.0 - (2.0 * ratio - 1.0).powi(3)).max(1.0 / 3.0);
            growth = 2.0;
        } else {
            damping *= growth;
            growth *= 2.0;
        }
        if tiny || damping > MOST_DAMPING {
            termination = if tiny { Termination::Converged } else { Termination::RoundingFloor };
            break;
        }
    }
    Ok(here.report(model.readings(), termination, work.linearised))
}

/// Scratch space and counters of one run.
struct Work<'a, M: Model> {
    model: &'a M,
    triangle: Triangle,
    row: Vec<f64>,
    scale: Vec<f64>,
    linearised: usize,
}

impl<'a, M: Model> Work<'a, M> {
    fn new(model: &'a M) -> Self {
        let p = model.parameters();
        Work { model, triangle: Triangle::new(p + 1), row: vec![0.0; p + 1], scale: vec![0.0; p], linearised: 0 }
    }

    fn cost(&self, at: &[f64]) -> f64 {
        (0..self.model.readings()).map(|i| self.model.residual(i, at, None).powi(2)).sum()
    }

    /// The linear model at a point; `None` when something is not finite there.
    fn linearise(&mut self, at: Vec<f64>) -> Option<Linear> {
        let p = at.len();
        self.linearised += 1;
        self.triangle.clear();
        let mut cost = 0.0;
        for i in 0..self.model.readings() {
            let r = self.model.residual(i, &at, Some(&mut self.row[..p]));
            self.row[p] = r;
            if !self.row.iter().all(|v| v.is_finite()) {
                return None;
            }
            cost += r * r;
            self.triangle.absorb(&mut self.row);
        }
        let mut r = self.triangle.block(0, p);
        for (j, s) in self.scale.iter_mut().enumerate() {
            *s = s.max(r.column(j).norm());
            r.column_mut(j).unscale_mut(nonzero(*s));
        }
        let head = DVector::from_fn(p, |i, _| self.triangle.at(i, p));
        let gradient = r.transpose() * &head;
        let columns = (0..p).map(|j| r.column(j).norm()).collect();
        let svd = SmallSvd::new(r)?;
        let along = svd.u.transpose() * head;
        let scale = self.scale.iter().map(|s| nonzero(*s)).collect();
        Some(Linear { at, cost, svd, along, gradient, columns, scale, readings: self.model.readings() })
    }

    /// Second phase: a step is good when it shortens the gradient.
    fn polish(&mut self, mut here: Linear, mut damping: f64, cap: usize) -> (Linear, Termination) {
        const TRIES: usize = 8;
        let mut failures = 0;
        while failures < TRIES {
            if here.at_floor() {
                return (here, Termination::Converged);
            }
            if self.linearised >= cap {
                return (here, Termination::IterationCap);
            }
            let step = here.step(damping);
            let tiny = step.is_below_rounding(&here);
            let next = self.linearise(step.to);
            match next.filter(|n| n.gradient.norm() < here.gradient.norm() && n.cost <= here.cost * (1.0 + UNSEEN_GAIN))
            {
                Some(next) => {
                    failures = 0;
                    damping *= 0.1;
                    here = next;
                }
                None if tiny => return (here, Termination::Converged),
                None => {
                    failures += 1;
                    damping = (damping * 10.0).max(1e-6 * here.largest_square());
                }
            }
        }
        (here, Termination::RoundingFloor)
    }
}

/// The linear model of the residuals round one point, in scaled unknowns.
struct Linear {
    at: Vec<f64>,
    cost: f64,
    svd: SmallSvd,
    along: DVector<f64>,
    gradient: DVector<f64>,
    columns: Vec<f64>,
    scale: Vec<f64>,
    readings: usize,
}

struct Step {
    to: Vec<f64>,
    /// Predicted fall of the sum of squares.
    gain: f64,
}

impl Step {
    /// True when no unknown would change by more than its rounding, in scaled length.
    fn is_below_rounding(&self, from: &Linear) -> bool {
        let (mut moved, mut size) = (0.0, 0.0);
        for ((a, b), s) in from.at.iter().zip(&self.to).zip(&from.scale) {
            moved += ((a - b) * s).powi(2);
            size += (a * s).powi(2);
        }
        moved.sqrt() <= 2.0 * f64::EPSILON * size.sqrt()
    }
}

impl Linear {
    fn largest_square(&self) -> f64 {
        self.svd.s.iter().copied().fold(0.0, f64::max).powi(2)
    }

    /// Largest cosine between the residuals and a column of the Jacobian.
    fn cosine(&self) -> f64 {
        let length = self.cost.sqrt();
        let cosines = self.gradient.iter().zip(&self.columns).map(|(g, c)| g.abs() / nonzero(c * length));
        cosines.fold(0.0, f64::max)
    }

    fn at_floor(&self) -> bool {
        self.cost == 0.0 || self.cosine() <= f64::EPSILON
    }

    /// Minimises the damped linear model.
    fn step(&self, damping: f64) -> Step {
        let rank = self.svd.rank(self.readings.max(self.at.len()));
        let mut gain = 0.0;
        let coordinates = DVector::from_fn(self.at.len(), |k, _| {
            let (s, c) = (self.svd.s[k], self.along[k]);
            if k >= rank {
                return 0.0;
            }
            let damped = s * s + damping;
            gain += (c * s).powi(2) * (2.0 * damping + s * s) / (damped * damped);
            -c * s / damped
        });
        let scaled = &self.svd.v * coordinates;
        let to = self.at.iter().zip(scaled.iter()).zip(&self.scale).map(|((a, d), s)| a + d / s).collect();
        Step { to, gain }
    }

    fn report(self, readings: usize, termination: Termination, iterations: usize) -> FitReport {
        let p = self.at.len();
        let rank = self.svd.rank(readings.max(p));
        let cosine = self.cosine();
        let least = self.svd.s.iter().copied().fold(f64::INFINITY, f64::min);
        FitReport {
            estimate: DVector::from_vec(self.at),
            unit_covariance: (rank == p).then(|| self.svd.covariance(rank, &self.scale)),
            rank,
            condition: if rank == p { self.svd.s[0] / least } else { f64::INFINITY },
            sum_of_squares: self.cost,
            readings,
            termination,
            iterations,
            gradient_cosine: cosine,
        }
    }
}

/// Where a hand-written Jacobian differs most from numeric differentiation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JacobianCheck {
    /// Largest difference, relative to the larger of the entry and 1e-3 of its column's largest entry.
    pub worst: f64,
    /// Residual of that entry.
    pub reading: usize,
    /// Unknown of that entry.
    pub unknown: usize,
    /// What the model says.
    pub analytic: f64,
    /// What differences say.
    pub numeric: f64,
}

/// Compares a model's derivatives with central differences, extrapolated once (Richardson).
///
/// # Arguments
/// `at` is the point; `typical` a step length per unknown over which the model is smooth (a thousandth of its
/// size is usual). Returns `None` for a model without residuals or unknowns, or when the lengths differ.
///
/// # Accuracy
/// A correct Jacobian of a smooth model gives `worst` of about 1e-9 or less; a wrong factor gives the factor.
#[must_use]
pub fn check_jacobian(model: &impl Model, at: &[f64], typical: &[f64]) -> Option<JacobianCheck> {
    let (m, p) = (model.readings(), model.parameters());
    if at.len() != p || typical.len() != p {
        return None;
    }
    let mut worst: Option<JacobianCheck> = None;
    let mut row = vec![0.0; p];
    for unknown in 0..p {
        let column: Vec<(f64, f64)> = (0..m)
            .map(|i| {
                model.residual(i, at, Some(&mut row));
                (row[unknown], slope(model, i, at, unknown, typical[unknown]))
            })
            .collect();
        let largest = column.iter().map(|(a, n)| a.abs().max(n.abs())).fold(0.0, f64::max);
        for (reading, (analytic, numeric)) in column.into_iter().enumerate() {
            let off = (analytic - numeric).abs() / nonzero(analytic.abs().max(1e-3 * largest));
            let off = if off.is_nan() { f64::INFINITY } else { off };
            if worst.is_none_or(|w| off > w.worst) {
                worst = Some(JacobianCheck { worst: off, reading, unknown, analytic, numeric });
            }
        }
    }
    worst
}

/// Central difference with steps h and h/2, extrapolated to fourth order.
fn slope(model: &impl Model, i: usize, at: &[f64], unknown: usize, h: f64) -> f64 {
    let mut moved = at.to_vec();
    let mut central = |h: f64| {
        moved[unknown] = at[unknown] + h;
        let up = model.residual(i, &moved, None);
        moved[unknown] = at[unknown] - h;
        (up - model.residual(i, &moved, None)) / (2.0 * h)
    };
    let (coarse, fine) = (central(h), central(h / 2.0));
    fine + (fine - coarse) / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `y = b1 + b2 x`, or with a planted fault in the derivative.
    struct Line {
        fault: f64,
    }
    impl Model for Line {
        fn parameters(&self) -> usize {
            2
        }
        fn readings(&self) -> usize {
            4
        }
        fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64 {
            let x = count(i);
            if let Some(g) = gradient {
                g.copy_from_slice(&[1.0, x * (1.0 + self.fault)]);
            }
            at[0] + at[1] * x - [1.0, 3.1, 4.9, 7.0][i]
        }
    }

    #[test]
    fn a_straight_line_is_found_with_its_covariance() {
        let fit = minimise(&Line { fault: 0.0 }, &[0.0, 0.0], Limits::default()).expect("finite");
        // mean x 1.5, Sxx 5, slope 9.9/5
        assert!((fit.estimate[1] - 1.98).abs() < 1e-14 && (fit.estimate[0] - 1.03).abs() < 1e-14, "{fit:?}");
        let c = fit.unit_covariance.clone().expect("rank 2");
        assert!((c[(1, 1)] - 0.2).abs() < 1e-14 && (c[(0, 1)] + 0.3).abs() < 1e-14, "{c}");
        assert_eq!((fit.rank, fit.termination), (2, Termination::Converged), "{fit:?}");
    }

    #[test]
    fn the_jacobian_checker_passes_a_right_and_catches_a_wrong_derivative() {
        let right = check_jacobian(&Line { fault: 0.0 }, &[1.0, 2.0], &[1e-3, 1e-3]).expect("not empty");
        assert!(right.worst < 1e-9, "{right:?}");
        let wrong = check_jacobian(&Line { fault: 1e-4 }, &[1.0, 2.0], &[1e-3, 1e-3]).expect("not empty");
        assert!(wrong.worst > 5e-5 && wrong.unknown == 1, "{wrong:?}");
    }

    #[test]
    fn a_bad_start_is_an_error_and_not_a_nan() {
        let short = minimise(&Line { fault: 0.0 }, &[0.0], Limits::default());
        assert_eq!(short.err(), Some(SolveError::WrongLength { need: 2, got: 1 }));
        let nan = minimise(&Line { fault: 0.0 }, &[f64::NAN, 0.0], Limits::default());
        assert_eq!(nan.err(), Some(SolveError::NotFinite));
    }

    #[test]
    fn reaching_the_cap_is_reported() {
        let fit = minimise(&Line { fault: 0.9 }, &[9.0, 9.0], Limits { iterations: 1, ..Limits::default() });
        assert_eq!(fit.expect("finite").termination, Termination::IterationCap);
    }

    /// Only the sum of the two unknowns is seen.
    struct Sum;
    impl Model for Sum {
        fn parameters(&self) -> usize {
            2
        }
        fn readings(&self) -> usize {
            3
        }
        fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64 {
            if let Some(g) = gradient {
                g.fill(1.0);
            }
            at[0] + at[1] - count(i)
        }
    }

    #[test]
    fn an_unseen_combination_is_told_by_the_rank() {
        let fit = minimise(&Sum, &[5.0, 0.0], Limits::default()).expect("finite");
        assert!(fit.rank == 1 && fit.unit_covariance.is_none() && fit.condition.is_infinite(), "{fit:?}");
        assert!((fit.estimate.sum() - 1.0).abs() < 1e-14, "{fit:?}");
    }
}
