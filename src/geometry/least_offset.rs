//! The line of least largest offset from points, in a frame that lies along them: the core of the zone cylinder.

use crate::numeric::linear::count;
use crate::numeric::small_svd::SmallSvd;
use nalgebra::{DMatrix, DVector, Matrix3, SMatrix, SVector, Vector3};

/// Points in a frame with the third axis along the line: offsets square to it, and place along it in [-1, 1].
pub(crate) struct Frame {
    pub(crate) origin: Vector3<f64>,
    pub(crate) axes: Matrix3<f64>,
    pub(crate) half_length: f64,
    across: Vec<[f64; 2]>,
    pub(crate) along: Vec<f64>,
}

impl Frame {
    pub(crate) fn new(points: &[[f64; 3]], origin: Vector3<f64>, third: Vector3<f64>) -> Self {
        // the coordinate axis least along the line gives the first direction across
        let helper = Vector3::ith(third.abs().imin(), 1.0);
        let first = (helper - third * third.dot(&helper)).normalize();
        let axes = Matrix3::from_columns(&[first, third.cross(&first), third]);
        let local: Vec<Vector3<f64>> = points.iter().map(|p| axes.tr_mul(&(Vector3::from(*p) - origin))).collect();
        let half_length = local.iter().map(|p| p.z.abs()).fold(0.0, f64::max);
        let along = local.iter().map(|p| p.z / half_length).collect();
        Frame { origin, axes, half_length, across: local.iter().map(|p| [p.x, p.y]).collect(), along }
    }

    /// Offsets of the points from the line (x, y) = a + b z.
    fn offset(&self, i: usize, line: &Line) -> [f64; 2] {
        let z = self.along[i];
        [self.across[i][0] - line[0] - line[2] * z, self.across[i][1] - line[1] - line[3] * z]
    }

    fn distance(&self, i: usize, line: &Line) -> f64 {
        let [x, y] = self.offset(i, line);
        x.hypot(y)
    }

    /// Line of least weighted squares; the weights sum to 1.
    fn fit(&self, weights: &[f64]) -> Line {
        let mean = |f: &dyn Fn(usize) -> f64| weights.iter().enumerate().map(|(i, w)| w * f(i)).sum::<f64>();
        let z = mean(&|i| self.along[i]);
        let zz = mean(&|i| (self.along[i] - z).powi(2));
        let mut line = [0.0; 4];
        for k in 0..2 {
            let x = mean(&|i| self.across[i][k]);
            let slope = mean(&|i| (self.along[i] - z) * (self.across[i][k] - x));
            line[2 + k] = if zz > 0.0 { slope / zz } else { 0.0 };
            line[k] = x - line[2 + k] * z;
        }
        line
    }

    /// Least possible largest offset by these weights: the root of the weighted mean square at its least. Any line's largest
    /// square is at least its weighted mean square, which is at least this.
    fn bound(&self, weights: &[f64], line: &Line) -> f64 {
        let squares: f64 = weights.iter().enumerate().map(|(i, w)| w * self.distance(i, line).powi(2)).sum();
        squares.sqrt()
    }

    fn largest(&self, line: &Line) -> f64 {
        (0..self.along.len()).map(|i| self.distance(i, line)).fold(0.0, f64::max)
    }
}

/// `[a_x, a_y, b_x, b_y]`: the line `(a_x + b_x z, a_y + b_y z)`.
pub(crate) type Line = [f64; 4];

/// A line, its largest offset and a proven lower bound of the least.
pub(crate) struct Zone {
    pub(crate) line: Line,
    pub(crate) largest: f64,
    pub(crate) bound: f64,
}

/// Line of least largest offset in the frame: a barrier method, then exact contacts where they can be told.
pub(crate) fn solve(frame: &Frame) -> Zone {
    /// The barrier's own gap, in squared offsets; smaller and rounding spoils the room left to each point.
    const GAP: f64 = 1e-11;
    let n = frame.along.len();
    let mut weights = vec![1.0 / count(n); n];
    let mut best = Zone { line: [0.0; 4], largest: f64::INFINITY, bound: 0.0 };
    let line = frame.fit(&weights);
    offer(frame, &mut best, &weights, line);
    let square = best.largest * best.largest;
    if best.largest <= f64::EPSILON * frame.half_length {
        return best;
    }
    let mut at = State { line, square: 2.0 * square };
    let mut pressure = count(n) / square;
    while count(n) / pressure > GAP * square.min(best.largest * best.largest) {
        at.centre(frame, pressure);
        weights = at.weights(frame);
        offer(frame, &mut best, &weights, at.line);
        pressure *= 8.0;
    }
    if let Some((line, finished)) = finish(frame, &weights) {
        offer(frame, &mut best, &finished, line);
    }
    best
}

/// A line and a squared offset above that of every point.
#[derive(Clone, Copy)]
struct State {
    line: Line,
    square: f64,
}

impl State {
    /// What squared offset each point has to spare.
    fn room(&self, frame: &Frame, i: usize) -> f64 {
        let [x, y] = frame.offset(i, &self.line);
        self.square - x * x - y * y
    }

    /// Weights of the points in proportion to the barrier's push, summing to 1.
    fn weights(&self, frame: &Frame) -> Vec<f64> {
        let push: Vec<f64> = (0..frame.along.len()).map(|i| 1.0 / self.room(frame, i)).collect();
        let sum: f64 = push.iter().sum();
        push.into_iter().map(|p| p / sum).collect()
    }

    /// `pressure * square - sum log room`; infinite outside.
    fn value(&self, frame: &Frame, pressure: f64) -> f64 {
        let mut sum = pressure * self.square;
        for i in 0..frame.along.len() {
            let room = self.room(frame, i);
            if room.is_nan() || room <= 0.0 {
                return f64::INFINITY;
            }
            sum -= room.ln();
        }
        sum
    }

    /// Newton's method to the least value at this pressure (Boyd and Vandenberghe, Convex Optimization, 2004, 11.3).
    fn centre(&mut self, frame: &Frame, pressure: f64) {
        const STEPS: usize = 40;
        for _ in 0..STEPS {
            let (gradient, hessian) = self.slopes(frame, pressure);
            let Some(cholesky) = hessian.cholesky() else { return };
            let step = cholesky.solve(&gradient);
            let decrement = step.dot(&gradient);
            if decrement.is_nan() || decrement < 1e-9 {
                return;
            }
            let value = self.value(frame, pressure);
            let mut fraction = 1.0;
            loop {
                let mut trial = *self;
                (0..4).for_each(|j| trial.line[j] -= fraction * step[j]);
                trial.square -= fraction * step[4];
                if trial.value(frame, pressure) < value - 0.1 * fraction * decrement {
                    *self = trial;
                    break;
                }
                fraction *= 0.5;
                if fraction < 1e-10 {
                    return;
                }
            }
        }
    }

    fn slopes(&self, frame: &Frame, pressure: f64) -> (SVector<f64, 5>, SMatrix<f64, 5, 5>) {
        let mut gradient = SVector::<f64, 5>::zeros();
        let mut hessian = SMatrix::<f64, 5, 5>::zeros();
        gradient[4] = pressure;
        for i in 0..frame.along.len() {
            let ([x, y], z) = (frame.offset(i, &self.line), frame.along[i]);
            let push = 1.0 / (self.square - x * x - y * y);
            // slope of the room by (line, square)
            let slope = SVector::<f64, 5>::new(2.0 * x, 2.0 * y, 2.0 * x * z, 2.0 * y * z, 1.0);
            gradient -= slope * push;
            hessian += slope * slope.transpose() * (push * push);
            for d in 0..2 {
                hessian[(d, d)] += 2.0 * push;
                hessian[(d, d + 2)] += 2.0 * push * z;
                hessian[(d + 2, d)] += 2.0 * push * z;
                hessian[(d + 2, d + 2)] += 2.0 * push * z * z;
            }
        }
        (gradient, hessian)
    }
}

/// Keeps the better line and the better bound. The bound of some weights needs *their* least-squares line.
fn offer(frame: &Frame, best: &mut Zone, weights: &[f64], line: Line) {
    let largest = frame.largest(&line);
    if largest < best.largest {
        (best.largest, best.line) = (largest, line);
    }
    best.bound = best.bound.max(frame.bound(weights, &frame.fit(weights)).min(best.largest));
}

/// Finds the contacts by exchange, starting from the points that carry weight: solves for the line that they hold, lets
/// go the one with the most negative weight, else takes in the point that sticks out most. `None` when that leads nowhere.
fn finish(frame: &Frame, weights: &[f64]) -> Option<(Line, Vec<f64>)> {
    const EXCHANGES: usize = 24;
    const MOST_CONTACTS: usize = 12;
    let n = weights.len();
    let heaviest = weights.iter().copied().fold(0.0, f64::max);
    let mut active: Vec<usize> = (0..n).filter(|i| weights[*i] > 1e-2 * heaviest).collect();
    let mut start = weights.to_vec();
    for _ in 0..EXCHANGES {
        if active.len() > MOST_CONTACTS || active.is_empty() {
            return None;
        }
        let (line, w) = balance(frame, &active, &start)?;
        let least = (0..active.len()).min_by(|a, b| w[*a].total_cmp(&w[*b]))?;
        let held = active.iter().map(|i| frame.distance(*i, &line)).fold(0.0, f64::max);
        let worst = (0..n).max_by(|a, b| frame.distance(*a, &line).total_cmp(&frame.distance(*b, &line)))?;
        let mut all = vec![0.0; n];
        active.iter().zip(&w).for_each(|(i, w)| all[*i] = w.max(0.0));
        if w[least] < -1e-12 {
            active.remove(least);
        } else if frame.distance(worst, &line) > held * (1.0 + 1e-13) && !active.contains(&worst) {
            active.push(worst);
            all[worst] = 1e-2;
        } else {
            let sum: f64 = all.iter().sum();
            all.iter_mut().for_each(|w| *w /= sum);
            return Some((line, all));
        }
        start = all;
    }
    None
}

/// Newton's method on the conditions of the optimum over given contacts: equal offsets, and weights that sum to 1 and balance
/// the offsets. Where several sets of weights do (an even S), the step of least length chooses.
fn balance(frame: &Frame, active: &[usize], weights: &[f64]) -> Option<(Line, Vec<f64>)> {
    const STEPS: usize = 20;
    let share: f64 = active.iter().map(|i| weights[*i]).sum();
    let mut w: Vec<f64> = active.iter().map(|i| weights[*i] / share).collect();
    let mut all = vec![0.0; weights.len()];
    active.iter().zip(&w).for_each(|(i, w)| all[*i] = *w);
    let mut line = frame.fit(&all);
    let mut square = active.iter().zip(&w).map(|(i, w)| w * frame.distance(*i, &line).powi(2)).sum::<f64>();
    for _ in 0..STEPS {
        let (matrix, rhs) = conditions(frame, active, &line, &w, square);
        let svd = SmallSvd::new(matrix)?;
        let along = svd.u.transpose() * rhs;
        let floor = 1e-11 * svd.s[0];
        let inverse = DVector::from_fn(along.len(), |i, _| if svd.s[i] > floor { along[i] / svd.s[i] } else { 0.0 });
        let step = &svd.v * inverse;
        (0..4).for_each(|j| line[j] += step[j]);
        square += step[4];
        w.iter_mut().enumerate().for_each(|(j, w)| *w += step[5 + j]);
        if step.norm() <= 1e-15 {
            break;
        }
    }
    (line.iter().chain(&w).all(|v| v.is_finite())).then_some((line, w))
}

/// Linearised conditions in (line, largest square, weights).
fn conditions(frame: &Frame, active: &[usize], line: &Line, w: &[f64], square: f64) -> (DMatrix<f64>, DVector<f64>) {
    let k = active.len();
    let mut m = DMatrix::zeros(5 + k, 5 + k);
    let mut rhs = DVector::zeros(5 + k);
    for (j, i) in active.iter().enumerate() {
        let (q, z) = (frame.offset(*i, line), frame.along[*i]);
        for d in 0..2 {
            // rows 0..4: sum of w q and of w z q is zero
            for (row, factor) in [(d, 1.0), (2 + d, z)] {
                rhs[row] -= w[j] * factor * q[d];
                m[(row, 5 + j)] += factor * q[d];
                m[(row, d)] -= w[j] * factor;
                m[(row, 2 + d)] -= w[j] * factor * z;
            }
            // row 5 + j: q.q = square
            m[(5 + j, d)] = -2.0 * q[d];
            m[(5 + j, 2 + d)] = -2.0 * q[d] * z;
        }
        m[(5 + j, 4)] = -1.0;
        rhs[5 + j] = square - q[0] * q[0] - q[1] * q[1];
        // row 4: the weights sum to 1
        m[(4, 5 + j)] = 1.0;
        rhs[4] -= w[j];
    }
    rhs[4] += 1.0;
    (m, rhs)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wavy(n: u32, seed: f64) -> Vec<[f64; 3]> {
        let value = |k: u32, s: f64| (f64::from(k) * s + seed).sin();
        (0..n).map(|k| [value(k, 1.7) + 0.01 * f64::from(k), value(k, 2.9) - 3.0, 12.0 * f64::from(k)]).collect()
    }

    #[test]
    fn the_bound_meets_the_answer_across_the_axis() {
        let mut worst: f64 = 0.0;
        for case in 0..60 {
            let points = wavy(5 + case, 0.37 * f64::from(case));
            let zone = solve(&Frame::new(&points, Vector3::zeros(), Vector3::z()));
            worst = worst.max((zone.largest - zone.bound) / zone.largest);
        }
        println!("largest gap {worst:e}");
        assert!(worst < 1e-10, "gap {worst:e}");
    }
}
