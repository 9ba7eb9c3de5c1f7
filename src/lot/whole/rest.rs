//! What the measured tubes say of the rest.
//!
//! Every way of counting the rest is a sum of the measured tubes' blanks `y` with weights `a` of its own, `a . y`, and is off
//! by a variance `q s^2`, with `s^2` from how far the measured tubes lie from what the same way says of them:
//!
//! - *By sizes* `x` (one, or two of them): `y_i = x_i . b` on average, with a variance in proportion to a size `v_i`. With
//!   the weighted least-squares `b`, `T` the sum of the rest's `x` and `V` of its `v`: `a = v^-1 X (X' v^-1 X)^-1 T`, `q = V +
//!   T' (X' v^-1 X)^-1 T`, `s^2 = sum (y_i - x_i . b)^2 / v_i / (n - p)`. With `x = v` that is the ratio `sum y / sum x`, off by
//!   `s^2 X_r (X_r + X_m) / X_m` (R. M. Royall, Biometrika 57 (1970) 377-387, from memory). As the rest shrinks to nothing so
//!   does its doubt: the lot is finite.
//! - *By the nearest* three measured tubes in length and weight: `a_i` is how often tube `i` serves, over three; `q = N_r +
//!   sum a_i^2`, `s^2` the mean square of `y_i` less the mean of the three nearest to it, over `1 + 1/3`.

use super::sizes::{SizedBy, Sizes, Unmeasured};
use crate::numeric::summary::{count, sd};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Measured tubes that each tube of the rest is counted like.
const NEAREST: usize = 3;

/// How the rest follows from the measured tubes' blanks.
#[derive(Debug, Clone)]
pub(super) struct Rest {
    pub(super) by: SizedBy,
    /// `a`.
    weights: DVector<f64>,
    misses: Misses,
    /// `q`.
    open: f64,
    freedom: f64,
    /// Blanks that the rest has room for.
    most: f64,
}

/// How far the measured tubes lie from what the others say of them.
#[derive(Debug, Clone)]
enum Misses {
    /// Sizes, variance each, the matrix that gives the coefficients, the diagonal of the hat matrix.
    Sized { x: DMatrix<f64>, precision: DVector<f64>, solve: DMatrix<f64>, own: DVector<f64> },
    /// The nearest others of each.
    Near(Vec<[usize; NEAREST]>),
}

impl Rest {
    /// By sizes; `None` where the measured tubes do not tell them apart.
    pub(super) fn by_sizes(by: SizedBy, measured: &[Sizes], rest: &Unmeasured) -> Option<Rest> {
        let row = |s: &Sizes| s.of(by);
        let x: Vec<Vec<f64>> = measured.iter().map(row).collect::<Option<_>>()?;
        let p = x.first()?.len();
        let total = DVector::from_vec(rest.total(by, p)?);
        // a tube of no size gives nothing and says nothing
        let sized = x.iter().filter(|r| r[0] > 0.0).count();
        if sized <= p {
            return None;
        }
        let (n, freedom) = (x.len(), count(sized - p));
        let precision = DVector::from_fn(n, |i, _| if x[i][0] > 0.0 { 1.0 / x[i][0] } else { 0.0 });
        let x = DMatrix::from_fn(n, p, |i, j| x[i][j]);
        let weighted = DMatrix::from_fn(p, n, |j, i| x[(i, j)] * precision[i]);
        let inverse = (&weighted * &x).cholesky()?.inverse();
        let solve = &inverse * &weighted;
        let own = DVector::from_fn(n, |i, _| (x.row(i) * solve.column(i))[0]);
        // what fits a tube alone leaves nothing to tell how far it would be missed
        if own.iter().any(|h| *h > 1.0 - 1e-9) {
            return None;
        }
        let weights = solve.transpose() * &total;
        let open = total[0] + total.dot(&(&inverse * &total));
        let misses = Misses::Sized { x, precision, solve, own };
        Some(Rest { by, weights, misses, open, freedom, most: rest.room })
    }

    /// By the nearest measured tubes; `None` where too few are measured or a length or weight is not known.
    pub(super) fn by_nearest(measured: &[Sizes], rest: &Unmeasured) -> Option<Rest> {
        if measured.len() <= NEAREST || rest.unlisted_g > 0.0 {
            return None;
        }
        let places: Vec<[f64; 2]> = measured.iter().map(Sizes::place).collect::<Option<_>>()?;
        let others: Vec<[f64; 2]> = rest.tubes.iter().map(Sizes::place).collect::<Option<_>>()?;
        let scale = |d: usize| {
            let all: Vec<f64> = places.iter().chain(&others).map(|p| p[d]).collect();
            sd(&all).max(1e-9)
        };
        let scales = [scale(0), scale(1)];
        let even = |p: &[f64; 2]| [p[0] / scales[0], p[1] / scales[1]];
        let places: Vec<[f64; 2]> = places.iter().map(even).collect();
        let tree: ImmutableKdTree<f64, 2> = ImmutableKdTree::new_from_slice(&places).ok()?;
        let near = |at: &[f64; 2], but: Option<usize>| -> Option<[usize; NEAREST]> {
            let most = std::num::NonZeroUsize::new(NEAREST + 1)?;
            let found = tree.query(at).nearest_n::<SquaredEuclidean<f64>>(most).execute();
            let found: Vec<usize> =
                found.iter().filter_map(|f| usize::try_from(f.item).ok()).filter(|i| Some(*i) != but).collect();
            found.get(..NEAREST)?.try_into().ok()
        };
        let own: Vec<[usize; NEAREST]> =
            places.iter().enumerate().map(|(i, p)| near(p, Some(i))).collect::<Option<_>>()?;
        let mut weights = DVector::zeros(places.len());
        for place in others.iter().map(even) {
            for i in near(&place, None)? {
                weights[i] += 1.0 / count(NEAREST);
            }
        }
        let open = count(others.len()) + weights.norm_squared();
        let freedom = count(places.len() - 1);
        Some(Rest { by: SizedBy::Nearest, weights, misses: Misses::Near(own), open, freedom, most: rest.room })
    }

    /// Blanks of the lot where the measured tubes give these, the rest `t` standard errors beyond what is expected of it.
    pub(super) fn total(&self, blanks: &[f64], t: f64) -> f64 {
        let (y, error) = (DVector::from_column_slice(blanks), self.error(blanks));
        y.sum() + (self.weights.dot(&y) + t * error).clamp(0.0, self.most)
    }

    /// The standard error of the rest's blanks where the measured tubes give these.
    pub(super) fn error(&self, blanks: &[f64]) -> f64 {
        (self.spread(&DVector::from_column_slice(blanks)) * self.open).sqrt()
    }

    /// How far each measured tube lies from what the same way says of it.
    fn off(&self, y: &DVector<f64>) -> DVector<f64> {
        match &self.misses {
            Misses::Sized { x, solve, .. } => y - x * (solve * y),
            Misses::Near(near) => DVector::from_fn(y.len(), |i, _| y[i] - mean_of(y, &near[i])),
        }
    }

    /// `s^2`.
    fn spread(&self, y: &DVector<f64>) -> f64 {
        let off = self.off(y);
        match &self.misses {
            Misses::Sized { precision, .. } => off.component_mul(&off).dot(precision) / self.freedom,
            Misses::Near(near) => off.norm_squared() / (count(near.len()) * (1.0 + 1.0 / count(NEAREST))),
        }
    }

    /// The sum of squares by which each measured tube is missed when the others alone speak.
    pub(super) fn missed(&self, blanks: &[f64]) -> f64 {
        let off = self.off(&DVector::from_column_slice(blanks));
        match &self.misses {
            Misses::Sized { own, .. } => off.iter().zip(own.iter()).map(|(e, h)| (e / (1.0 - h)).powi(2)).sum(),
            Misses::Near(_) => off.norm_squared(),
        }
    }

    /// The lot's blanks in every draw, the deviate of the rest a Student t laid evenly over the draws.
    pub(super) fn totals(&self, draw: impl Fn(usize) -> Vec<f64>, draws: usize) -> Vec<f64> {
        let Ok(student) = StudentsT::new(0.0, 1.0, self.freedom) else { return Vec::new() };
        (0..draws).map(|k| self.total(&draw(k), student.inverse_cdf(even_part(k)))).collect()
    }
}

fn mean_of(y: &DVector<f64>, of: &[usize; NEAREST]) -> f64 {
    of.iter().map(|i| y[*i]).sum::<f64>() / count(NEAREST)
}

/// A place between 0 and 1 for every draw: multiples of the golden ratio, which fill the line evenly however many there are.
fn even_part(k: usize) -> f64 {
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    ((count(k) + 0.5) * golden).fract().clamp(1e-6, 1.0 - 1e-6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_of_the_line_are_even() {
        let mut parts: Vec<f64> = (0..200).map(even_part).collect();
        parts.sort_by(f64::total_cmp);
        for (i, p) in parts.iter().enumerate() {
            assert!((p - (count(i) + 0.5) / 200.0).abs() < 0.01, "{i}: {p}");
        }
    }
}
