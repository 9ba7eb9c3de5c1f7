//! How well a correction of some readings makes all readings agree.
//!
//! Under the linear Gaussian model the readings have the covariance `V = A P^-1 A' + S` (design `A`, prior precision `P`,
//! noise `S`), and `q = r' V^-1 r` is twice the misfit with every unknown integrated out. A correction `r + d` changes it
//! by `2 d' V^-1 r + d' V^-1 d`. With the posterior precision `H = P + A' S^-1 A = L L'` and `w_i = L^-1 a_i / s_i^2`,
//! `V^-1 = S^-1 - W' W` (Woodbury), so after one factorisation a correction of m readings costs m times the unknowns.

use crate::numeric::arrow::ArrowFactor;
use crate::numeric::summary::{count, median};
use crate::tube::bridge::POST_SD_MM;
use crate::tube::instrument::Unknown;
use crate::tube::problem::LinearEquations;

/// Readings corrected by an amount: (place among the readings, mm).
pub(super) type Change = Vec<(usize, f64)>;

/// Median of |z| of a standard normal quantity.
const NORMAL_MEDIAN: f64 = 0.674_489_75;

/// A reading that the rest leaves open by more than this (one sd, mm) cannot be judged: no tube's size, oval or bow is
/// as unsure as that beforehand, only a zero, an axis or a straightedge that nothing else tells.
const OPEN_MM: f64 = 3.0;

/// The readings of one tube with everything needed to judge a correction.
pub(super) struct Evidence {
    pull: Vec<f64>,
    residual: Vec<f64>,
    unknowns: usize,
    /// `w_i`, one after another.
    columns: Vec<f64>,
    /// `L^-1 A' S^-1 r`.
    moment: Vec<f64>,
    /// `V^-1 r`.
    score: Vec<f64>,
    /// Diagonal of `V^-1`.
    own: Vec<f64>,
    log_det: f64,
    misfit: f64,
}

/// `sum d_i w_i`, `d' S^-1 d` and `d' V^-1 r` of a direction `d`; add up over readings.
pub(super) struct Direction {
    along: Vec<f64>,
    direct: f64,
    score: f64,
}

impl Direction {
    /// `d' V^-1 d`.
    pub(super) fn square(&self) -> f64 {
        (self.direct - dot(&self.along, &self.along)).max(0.0)
    }
}

impl Evidence {
    /// Sets up the evidence of `readings` readings; `None` when the equations cannot be solved.
    pub(super) fn new(equations: &LinearEquations, readings: usize) -> Option<Evidence> {
        let (factor, moment) = factorise(equations)?;
        let unknowns = moment.len();
        let mut pull = vec![0.0; readings];
        let mut residual = vec![0.0; readings];
        let mut columns = vec![0.0; readings * unknowns];
        let mut misfit = -dot(&moment, &moment);
        for row in &equations.rows {
            misfit += (row.residual / row.sd).powi(2);
            let Some(i) = row.index else { continue };
            pull[i] = row.sd.powi(-2);
            residual[i] = row.residual;
            let column = &mut columns[i * unknowns..(i + 1) * unknowns];
            for &(at, g) in &row.entries {
                column[at] += g * pull[i];
            }
            factor.forward(column);
        }
        let own = (0..readings)
            .map(|i| {
                let w = &columns[i * unknowns..(i + 1) * unknowns];
                (pull[i] - dot(w, w)).max(1e-9 * pull[i])
            })
            .collect();
        let log_det = factor.log_det();
        let mut evidence =
            Evidence { pull, residual, unknowns, columns, moment, score: Vec::new(), own, log_det, misfit };
        evidence.rescore();
        Some(evidence)
    }

    /// Twice the negative log likelihood of all readings up to a constant that depends on the noise and the prior only.
    pub(super) fn deviance(&self) -> f64 {
        self.misfit + self.log_det
    }

    /// As [`Evidence::deviance`] for other equations of the same readings.
    pub(super) fn deviance_of(equations: &LinearEquations) -> Option<f64> {
        let (factor, moment) = factorise(equations)?;
        let squares: f64 = equations.rows.iter().map(|r| (r.residual / r.sd).powi(2)).sum();
        Some(squares - dot(&moment, &moment) + factor.log_det())
    }

    /// Twice the log evidence of readings under a belief, up to a constant that hangs on their noise alone: equations with
    /// other unknowns, or of readings placed otherwise, can be compared.
    pub(super) fn worth(equations: &LinearEquations) -> Option<f64> {
        let worth = equations.prior.clone().factor()?.log_det() - Evidence::deviance_of(equations)?;
        // a post and the row that ties it to the surface say nothing, however many there are of them
        let post = 2.0 * (Unknown::Post(String::new(), 0).prior_sd_mm() / POST_SD_MM).ln();
        Some(worth + post * count(equations.rows.iter().filter(|r| r.held).count()))
    }

    /// What share of a reading's own noise the rest leaves of its doubt: near 1 where the rest says what it must be, near 0
    /// where nothing could contradict it.
    pub(super) fn checked(&self, i: usize) -> f64 {
        self.own[i] / self.pull[i]
    }

    /// True when the rest leaves open what a reading must be, as of the only reading of a free setting.
    pub(super) fn open(&self, i: usize) -> bool {
        self.own[i] < OPEN_MM.powi(-2)
    }

    /// Standard deviation of a reading, mm.
    pub(super) fn noise_mm(&self, i: usize) -> f64 {
        self.pull[i].sqrt().recip()
    }

    /// Number of unknowns.
    pub(super) fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn column(&self, i: usize) -> &[f64] {
        &self.columns[i * self.unknowns..(i + 1) * self.unknowns]
    }

    fn rescore(&mut self) {
        self.score =
            (0..self.pull.len()).map(|i| self.residual[i] * self.pull[i] - dot(self.column(i), &self.moment)).collect();
    }

    /// A direction with no reading in it yet.
    pub(super) fn nowhere(&self) -> Direction {
        Direction { along: vec![0.0; self.unknowns], direct: 0.0, score: 0.0 }
    }

    /// Adds `amount` of reading `i` to a direction that does not hold it yet.
    pub(super) fn extend(&self, d: &mut Direction, i: usize, amount: f64) {
        for (a, w) in d.along.iter_mut().zip(self.column(i)) {
            *a += amount * w;
        }
        d.direct += amount * amount * self.pull[i];
        d.score += amount * self.score[i];
    }

    /// The direction of a whole change.
    pub(super) fn direction(&self, change: &[(usize, f64)]) -> Direction {
        let mut d = self.nowhere();
        for &(i, amount) in change {
            self.extend(&mut d, i, amount);
        }
        d
    }

    /// By how much making this very change lowers `q`.
    pub(super) fn gain(&self, change: &[(usize, f64)]) -> f64 {
        let d = self.direction(change);
        -2.0 * d.score - d.square()
    }

    /// Gain of the best multiple of a direction whose size has the prior sd `scale_mm`, its share of doubt taken off, and
    /// that multiple.
    pub(super) fn free_gain(d: &Direction, scale_mm: f64) -> (f64, f64) {
        let square = d.square() + scale_mm.powi(-2);
        (d.score * d.score / square - (square * scale_mm * scale_mm).ln(), -d.score / square)
    }

    /// Gain of a change together with the best multiple of `free`, and that multiple.
    pub(super) fn gain_with(&self, change: &[(usize, f64)], free: &[(usize, f64)], scale_mm: f64) -> (f64, f64) {
        let (d, mut u) = (self.direction(change), self.direction(free));
        let direct: f64 = change.iter().zip(free).map(|(&(i, a), &(_, b))| a * b * self.pull[i]).sum();
        u.score += direct - dot(&d.along, &u.along);
        let (free_gain, multiple) = Evidence::free_gain(&u, scale_mm);
        (-2.0 * d.score - d.square() + free_gain, multiple)
    }

    /// Gain of one reading moved as far as it likes, and how far.
    pub(super) fn alone(&self, i: usize, scale_mm: f64) -> (f64, f64) {
        let square = self.own[i] + scale_mm.powi(-2);
        (self.score[i] * self.score[i] / square - (square * scale_mm * scale_mm).ln(), -self.score[i] / square)
    }

    /// Makes a change.
    pub(super) fn apply(&mut self, change: &[(usize, f64)]) {
        let d = self.direction(change);
        self.misfit += 2.0 * d.score + d.square();
        for (m, a) in self.moment.iter_mut().zip(&d.along) {
            *m += a;
        }
        for &(i, amount) in change {
            self.residual[i] += amount;
        }
        self.rescore();
    }

    /// The variance the readings in `which` show over the variance they state, from the median, were `change` made; at
    /// least 1.
    pub(super) fn excess_after(&self, change: &[(usize, f64)], which: &[usize]) -> f64 {
        let d = self.direction(change);
        let mut amounts = vec![0.0; self.pull.len()];
        for &(i, amount) in change {
            amounts[i] = amount;
        }
        let z: Vec<f64> = which
            .iter()
            .map(|&i| {
                let score = self.score[i] + amounts[i] * self.pull[i] - dot(self.column(i), &d.along);
                score.abs() / self.own[i].sqrt()
            })
            .collect();
        if z.is_empty() { 1.0 } else { (median(&z) / NORMAL_MEDIAN).powi(2).max(1.0) }
    }
}

/// Factor of the posterior precision and `L^-1 A' S^-1 r`.
fn factorise(equations: &LinearEquations) -> Option<(ArrowFactor, Vec<f64>)> {
    let mut matrix = equations.prior.clone();
    let mut moment = vec![0.0; matrix.size()];
    for row in &equations.rows {
        let pull = row.sd.powi(-2);
        row.entries.iter().for_each(|&(at, g)| moment[at] += pull * g * row.residual);
        matrix.add_square(&row.entries, pull);
    }
    let factor = matrix.factor()?;
    factor.forward(&mut moment);
    Some((factor, moment))
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Kind, Tube};
    use crate::numeric::draws;
    use crate::tube::belief::Belief;
    use crate::tube::model::Model;
    use crate::tube::simulate::{Stand, TrueTube};
    use nalgebra::{DMatrix, DVector};

    fn example() -> (Tube, LinearEquations) {
        let stand = Stand { length_mm: (120.0, 120.0), ..Stand::default() };
        let truth = TrueTube::grow(&stand, 9, 0);
        let mut rng = draws::stream(9, "evidence", 0);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Runout, 8, 20.0, 0.02, &mut rng);
        tube.readings.extend(truth.rings(Kind::Diameter, 4, 60.0, 0.05, &mut rng));
        let belief = Belief::fit(&tube, &Model::default()).expect("fits");
        let equations = belief.linear_equations(&tube, &Model::default(), 1.0).expect("the same unknowns");
        (tube, equations)
    }

    /// `r' V^-1 r` with `V = A P^-1 A' + S` written out in full: nothing shared with the code under test but the rows.
    fn in_full(equations: &LinearEquations, change: &[(usize, f64)]) -> f64 {
        let (rows, unknowns) = (equations.rows.len(), equations.prior.size());
        let mut design = DMatrix::<f64>::zeros(rows, unknowns);
        let mut r = DVector::<f64>::zeros(rows);
        let mut noise = DMatrix::<f64>::zeros(rows, rows);
        for (n, row) in equations.rows.iter().enumerate() {
            row.entries.iter().for_each(|&(at, g)| design[(n, at)] += g);
            let moved: f64 = change.iter().filter(|c| row.index == Some(c.0)).map(|c| c.1).sum();
            r[n] = row.residual + moved;
            noise[(n, n)] = row.sd * row.sd;
        }
        let unit = |i: usize, j: usize| {
            let mut v = vec![0.0; unknowns];
            v[i] += 0.5;
            v[j] += 0.5;
            v
        };
        // the elements of the prior by its own quadratic form: e_i' Q e_j = q(i + j / 2) - (q(i) + q(j)) / 4
        let own: Vec<f64> = (0..unknowns).map(|i| equations.prior.form(&unit(i, i))).collect();
        let prior = DMatrix::from_fn(unknowns, unknowns, |i, j| {
            if i == j { own[i] } else { 2.0 * equations.prior.form(&unit(i, j)) - (own[i] + own[j]) / 2.0 }
        });
        let spread = prior.cholesky().expect("proper prior").inverse();
        let v: DMatrix<f64> = &design * spread * design.transpose() + noise;
        r.dot(&v.cholesky().expect("positive").solve(&r))
    }

    #[test]
    fn gains_and_changes_agree_with_the_covariance_written_out() {
        let (tube, equations) = example();
        let mut evidence = Evidence::new(&equations, tube.readings.len()).expect("solvable");
        let before = in_full(&equations, &[]);
        assert!((evidence.misfit - before).abs() < 1e-6 * before, "{} {before}", evidence.misfit);
        let change: Change = (8..16).map(|i| (i, 0.3)).chain([(2, -1.0), (50, 0.4)]).collect();
        let after = in_full(&equations, &change);
        let gain = evidence.gain(&change);
        assert!((gain - (before - after)).abs() < 1e-6 * after, "{gain} {before} {after}");
        evidence.apply(&change);
        assert!((evidence.misfit - after).abs() < 1e-6 * after, "{} {after}", evidence.misfit);
        // and the gain of taking it back is the loss of having made it
        let back: Change = change.iter().map(|&(i, by)| (i, -by)).collect();
        assert!((evidence.gain(&back) + gain).abs() < 1e-6 * after);
    }

    #[test]
    fn the_best_multiple_of_a_direction_is_the_best() {
        let (tube, equations) = example();
        let evidence = Evidence::new(&equations, tube.readings.len()).expect("solvable");
        let direction: Change = (20..30).map(|i| (i, 1.0)).collect();
        // with hardly a prior on its size, the multiple is where the misfit is least
        let (_, best) = Evidence::free_gain(&evidence.direction(&direction), 1e6);
        let at = |by: f64| in_full(&equations, &direction.iter().map(|&(i, a)| (i, by * a)).collect::<Change>());
        assert!(at(best) < at(best + 1e-3) && at(best) < at(best - 1e-3));
        let (_, alone) = evidence.alone(5, 1e6);
        let one = |by: f64| in_full(&equations, &[(5, by)]);
        assert!(one(alone) < one(alone + 1e-3) && one(alone) < one(alone - 1e-3));
    }
}
