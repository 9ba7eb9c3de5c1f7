//! How well a correction of some readings makes all readings agree.
//!
//! Under the linear Gaussian model the readings have the covariance `V = A Q^-1 A' + S` (design `A`, prior precision `Q`,
//! noise `S`), and `q = r' V^-1 r` is twice the misfit with every unknown integrated out. A correction `r + d` changes it
//! by `2 d' V^-1 r + d' V^-1 d`. By the readings `V^-1 = U' U` with a column for each (see `by_readings`); where they are many,
//! by the posterior precision `H = Q + A' S^-1 A = L L'` and `w_i = L^-1 a_i / s_i^2`, `V^-1 = S^-1 - W' W` (Woodbury). Either
//! way a correction of m readings costs m times the length of a column after one factorisation.

use crate::numeric::summary::{count, median};
use crate::tube::bridge::POST_SD_MM;
use crate::tube::instrument::Unknown;
use crate::tube::linearised::LinearEquations;

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
    /// What of `V^-1` is not in the columns: the diagonal of `S^-1`, or nothing.
    direct: Vec<f64>,
    /// Whether products of columns are taken off (-1) or are all of it (1).
    sign: f64,
    /// Length of a column.
    length: usize,
    /// `u_i` or `w_i`, one after another.
    columns: Vec<f64>,
    /// The sum of all rows' columns times their residuals.
    moment: Vec<f64>,
    /// `V^-1 r`.
    score: Vec<f64>,
    /// Diagonal of `V^-1`.
    own: Vec<f64>,
    log_det: f64,
    misfit: f64,
}

/// `sum d_i` times its column, what of `d' V^-1 d` is not in the columns, and `d' V^-1 r` of a direction `d`; add up over
/// readings.
pub(super) struct Direction {
    along: Vec<f64>,
    direct: f64,
    sign: f64,
    score: f64,
}

impl Direction {
    /// `d' V^-1 d`.
    pub(super) fn square(&self) -> f64 {
        (self.direct + self.sign * dot(&self.along, &self.along)).max(0.0)
    }
}

impl Evidence {
    /// Sets up the evidence of `readings` readings; `None` when the equations cannot be solved.
    pub(super) fn new(equations: &LinearEquations, readings: usize) -> Option<Evidence> {
        let Factored { sign, length, columns, moment, log_det } = Factored::of(equations, readings)?;
        let LinearEquations { problem, about } = equations;
        let (mut pull, mut residual, mut direct) = (vec![0.0; readings], vec![0.0; readings], vec![0.0; readings]);
        let mut misfit = sign * dot(&moment, &moment);
        for ((row, site), force) in problem.rows.iter().zip(&about.sites).zip(about.forces()) {
            let off = force / site.pull;
            let own = if sign < 0.0 { site.pull } else { 0.0 };
            misfit += own * off * off;
            if let Some(i) = row.index.filter(|i| *i < readings) {
                (pull[i], residual[i], direct[i]) = (site.pull, off, own);
            }
        }
        let own = (0..readings)
            .map(|i| {
                let w = &columns[i * length..(i + 1) * length];
                (direct[i] + sign * dot(w, w)).max(1e-9 * pull[i])
            })
            .collect();
        let (unknowns, score) = (problem.layout.size(), Vec::new());
        let mut evidence =
            Evidence { pull, residual, unknowns, direct, sign, length, columns, moment, score, own, log_det, misfit };
        evidence.rescore();
        Some(evidence)
    }

    /// Twice the negative log likelihood of all readings up to a constant that depends on the noise and the prior only.
    pub(super) fn deviance(&self) -> f64 {
        self.misfit + self.log_det
    }

    /// As [`Evidence::deviance`] for other equations of the same readings.
    pub(super) fn deviance_of(equations: &LinearEquations) -> Option<f64> {
        Some(Evidence::new(equations, 0)?.deviance())
    }

    /// Twice the log evidence of readings under a belief, up to a constant that hangs on their noise alone: equations with
    /// other unknowns, or of readings placed otherwise, can be compared.
    pub(super) fn worth(equations: &LinearEquations) -> Option<f64> {
        let worth = 2.0 * equations.problem.half_log_det()? - Evidence::deviance_of(equations)?;
        // a post and the row that ties it to the surface say nothing, however many there are of them
        let post = 2.0 * (Unknown::Post(String::new(), 0).prior_sd_mm() / POST_SD_MM).ln();
        Some(worth + post * count(equations.problem.rows.iter().filter(|r| r.held).count()))
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
        &self.columns[i * self.length..(i + 1) * self.length]
    }

    fn rescore(&mut self) {
        let one = |i: usize| self.residual[i] * self.direct[i] + self.sign * dot(self.column(i), &self.moment);
        self.score = (0..self.pull.len()).map(one).collect();
    }

    /// A direction with no reading in it yet.
    pub(super) fn nowhere(&self) -> Direction {
        Direction { along: vec![0.0; self.length], direct: 0.0, sign: self.sign, score: 0.0 }
    }

    /// Adds `amount` of reading `i` to a direction that does not hold it yet.
    pub(super) fn extend(&self, d: &mut Direction, i: usize, amount: f64) {
        for (a, w) in d.along.iter_mut().zip(self.column(i)) {
            *a += amount * w;
        }
        d.direct += amount * amount * self.direct[i];
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
        let direct: f64 = change.iter().zip(free).map(|(&(i, a), &(_, b))| a * b * self.direct[i]).sum();
        u.score += direct + self.sign * dot(&d.along, &u.along);
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
                let score = self.score[i] + amounts[i] * self.direct[i] + self.sign * dot(self.column(i), &d.along);
                score.abs() / self.own[i].sqrt()
            })
            .collect();
        if z.is_empty() { 1.0 } else { (median(&z) / NORMAL_MEDIAN).powi(2).max(1.0) }
    }
}

/// What a factorisation gives.
struct Factored {
    sign: f64,
    length: usize,
    /// of the readings, one after another
    columns: Vec<f64>,
    moment: Vec<f64>,
    /// of the posterior precision
    log_det: f64,
}

impl Factored {
    /// The readings are the first rows, in their order.
    fn of(equations: &LinearEquations, readings: usize) -> Option<Factored> {
        let LinearEquations { problem, about } = equations;
        if let Some(fit) = problem.before().and_then(|before| about.by_readings(&before)) {
            let (length, all) = (about.sites.len(), fit.columns());
            let column = |i: usize| &all[i * length..(i + 1) * length];
            let log_det = fit.log_det() + 2.0 * problem.half_log_det()?;
            let mut moment = vec![0.0; length];
            for (i, (force, site)) in about.forces().iter().zip(&about.sites).enumerate() {
                moment.iter_mut().zip(column(i)).for_each(|(m, c)| *m += force / site.pull * c);
            }
            let columns = all[..readings * length].to_vec();
            return Some(Factored { sign: 1.0, length, columns, moment, log_det });
        }
        let equations = about.equations(problem)?;
        let length = equations.factor.size();
        let mut columns = vec![0.0; readings * length];
        let rows = about.tangents.rows.iter().zip(&about.sites);
        for ((tangent, site), column) in rows.zip(columns.chunks_exact_mut(length)) {
            tangent.entries().for_each(|(at, g)| column[at] += g * site.pull);
            equations.factor.forward(column);
        }
        let mut moment = equations.right.clone();
        equations.factor.forward(&mut moment);
        Some(Factored { sign: -1.0, length, columns, moment, log_det: equations.factor.log_det() })
    }
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
        let LinearEquations { problem, about } = equations;
        let prior_of = problem.prior();
        let (rows, unknowns) = (problem.rows.len(), prior_of.size());
        let mut design = DMatrix::<f64>::zeros(rows, unknowns);
        let mut r = DVector::<f64>::zeros(rows);
        let mut noise = DMatrix::<f64>::zeros(rows, rows);
        for (n, (row, tangent)) in problem.rows.iter().zip(&about.tangents.rows).enumerate() {
            tangent.entries().for_each(|(at, g)| design[(n, at)] += g);
            let moved: f64 = change.iter().filter(|c| row.index == Some(c.0)).map(|c| c.1).sum();
            r[n] = row.value - (tangent.value - tangent.along(&about.from_centre)) + moved;
            noise[(n, n)] = row.whole_sd().powi(2);
        }
        let unit = |i: usize, j: usize| {
            let mut v = vec![0.0; unknowns];
            v[i] += 0.5;
            v[j] += 0.5;
            v
        };
        // the elements of the prior by its own quadratic form: e_i' Q e_j = q(i + j / 2) - (q(i) + q(j)) / 4
        let own: Vec<f64> = (0..unknowns).map(|i| prior_of.form(&unit(i, i))).collect();
        let prior = DMatrix::from_fn(unknowns, unknowns, |i, j| {
            if i == j { own[i] } else { 2.0 * prior_of.form(&unit(i, j)) - (own[i] + own[j]) / 2.0 }
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
