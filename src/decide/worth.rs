//! What readings not yet taken are worth: how many blanks more the split angle gives that is chosen once they are read.
//!
//! Every draw of the surface is once taken for the truth. What the readings would show on it, noise included, is known
//! ([`Foreseen::told`](crate::tube::Foreseen::told)), and so is what every split angle gives on it. The yield of every angle is regressed on what is told
//! (linear, and quadratic in what tells most), and the angle of the largest predicted yield is chosen: the regression form
//! of the expected value of sample information (M. Strong, J. E. Oakley, A. Brennan, P. Breeze, Med. Decis. Making 35
//! (2015) 570-583; abstract read, pages from memory). Regression and choice are made without a tenth of the draws and valued
//! on that tenth, so that chance fits of the regression count for nothing: on average the answer is what choosing so gives,
//! which is no more than choosing perfectly from the readings.

use super::choice::part_of;
use super::split::{DrawnSurface, Splitter};
use crate::numeric::summary::{count, mean, median, sd};
use nalgebra::DMatrix;

/// So many parts the draws fall into.
const PARTS: usize = 10;
/// Of so many numbers that tell most the products are features too.
const SQUARED: usize = 3;
/// Draws take the scales of a lot as unsure as they are, so that some show what is many times the usual; such a draw must not
/// decide a regression. In usual sizes, the median of the absolute values: a normal number lies beyond in 4 %.
const BOUND: f64 = 3.0;
/// What is tried of every package, the best of it taken: how many of the numbers told are features, those that tell most first
/// (all of them: with products), and the weight of the wish for small factors, in draws. Many features see more, few are less
/// shaken by the draws.
const TRIED: [(usize, f64); 5] = [(1, 4.0), (2, 4.0), (4, 20.0), (usize::MAX, 20.0), (usize::MAX, 200.0)];

/// Blanks gained, and the standard error of that from the number of draws.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Gain {
    pub(super) blanks: f64,
    pub(super) error: f64,
}

/// The yields of every split angle on every draw (draws x angles).
pub(super) struct Yields {
    of: DMatrix<f64>,
}

impl Yields {
    pub(super) fn of(yields: DMatrix<f64>) -> Yields {
        Yields { of: yields }
    }

    /// What every angle gives on every draw, the wander averaged.
    pub(super) fn of_draws(splitter: &Splitter, draws: &[DrawnSurface]) -> Yields {
        let odds: Vec<Vec<(usize, f64)>> = splitter.aims().iter().map(|aim| splitter.weights(*aim)).collect();
        Yields::of(DMatrix::from_fn(draws.len(), odds.len(), |k, a| draws[k].table.weighed(&odds[a])))
    }

    fn angle_of(sums: impl Iterator<Item = f64>) -> usize {
        sums.enumerate().fold((0, f64::MIN), |best, (a, s)| if s > best.1 { (a, s) } else { best }).0
    }

    /// What the readings told of give more than the choice from what is known now. `told`: draws x numbers, each with a noise
    /// of 1 in it.
    pub(super) fn gain(&self, told: &DMatrix<f64>) -> Gain {
        if told.ncols() == 0 || self.of.nrows() < 2 * PARTS {
            return Gain::default();
        }
        let all = features(told);
        let of = |&(most, ridge): &(usize, f64)| {
            let take = if most < told.ncols() { 1 + most } else { all.ncols() };
            self.gain_by(&all.columns(0, take).into_owned(), ridge)
        };
        TRIED.iter().map(of).fold(Gain::default(), |best, g| if g.blanks > best.blanks { g } else { best })
    }

    /// The same from these features, the first of which is 1.
    fn gain_by(&self, features: &DMatrix<f64>, ridge: f64) -> Gain {
        let (n, q) = features.shape();
        let mut squares = features.tr_mul(features);
        (1..q).for_each(|i| squares[(i, i)] += ridge);
        let products = features.tr_mul(&self.of);
        let mut gains = Vec::with_capacity(n);
        for part in 0..PARTS {
            let own: Vec<usize> = (0..n).filter(|k| part_of(*k, PARTS) == part).collect();
            let x = DMatrix::from_fn(own.len(), q, |i, j| features[(own[i], j)]);
            let y = DMatrix::from_fn(own.len(), self.of.ncols(), |i, a| self.of[(own[i], a)]);
            let others = &products - x.tr_mul(&y);
            let now = Yields::angle_of((0..y.ncols()).map(|a| others[(0, a)]));
            let Some(factor) = (&squares - x.tr_mul(&x)).cholesky() else { continue };
            let predicted = &x * factor.solve(&others);
            for i in 0..own.len() {
                let then = Yields::angle_of(predicted.row(i).iter().copied());
                gains.push(y[(i, then)] - y[(i, now)]);
            }
        }
        Gain { blanks: mean(&gains), error: sd(&gains) / count(gains.len().max(1)).sqrt() }
    }

    /// What the angle chosen from what is known now gives.
    pub(super) fn now(&self) -> f64 {
        self.of.column_iter().map(|c| c.mean()).fold(0.0, f64::max)
    }

    /// What knowing the surface would give more.
    pub(super) fn ceiling(&self) -> f64 {
        let now = Yields::angle_of(self.of.column_iter().map(|c| c.sum()));
        let gain: f64 = self.of.row_iter().map(|row| row.iter().copied().fold(f64::MIN, f64::max) - row[now]).sum();
        gain / count(self.of.nrows().max(1))
    }
}

/// 1, every number told within [`BOUND`] of its usual size, and the products of the first few, centred.
fn features(told: &DMatrix<f64>) -> DMatrix<f64> {
    let (n, q) = told.shape();
    let usual = |c: &[f64]| median(&c.iter().map(|v| v.abs()).collect::<Vec<f64>>()).max(1e-9);
    let scale: Vec<f64> = told.as_slice().chunks(n.max(1)).map(usual).collect();
    let pairs: Vec<(usize, usize)> = (0..q.min(SQUARED)).flat_map(|i| (0..=i).map(move |j| (i, j))).collect();
    DMatrix::from_fn(n, 1 + q + pairs.len(), |k, f| {
        let of = |i: usize| (told[(k, i)] / scale[i]).clamp(-BOUND, BOUND);
        match f {
            0 => 1.0,
            f if f <= q => of(f - 1),
            f => {
                let (i, j) = pairs[f - 1 - q];
                of(i) * of(j) - if i == j { 1.0 } else { 0.0 }
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::draws::{normals, stream};

    /// Two angles: the first gives 5 blanks, the second 5 + u, u normal; a reading tells u with noise of this sd.
    fn game(draws: usize, noise: f64) -> (Yields, DMatrix<f64>) {
        let mut rng = stream(3, "game", 0);
        let u = normals(&mut rng, draws);
        let e = normals(&mut rng, draws);
        let yields = DMatrix::from_fn(draws, 2, |k, a| if a == 0 { 5.0 } else { 5.0 + u[k] });
        (Yields::of(yields), DMatrix::from_fn(draws, 1, |k, _| u[k] / noise + e[k]))
    }

    #[test]
    fn the_worth_of_a_reading_is_that_of_the_textbook() {
        // choosing the larger of 0 and E[u | reading], which is normal with sd r = 1 / sqrt(1 + noise^2): r / sqrt(2 pi) more
        // than the better of both now, 0
        for (noise, want) in [(0.1_f64, 0.397), (1.0, 0.282), (3.0, 0.126)] {
            let exact = 1.0 / (1.0 + noise * noise).sqrt() / (2.0 * std::f64::consts::PI).sqrt();
            assert!((exact - want).abs() < 0.001);
            let (yields, told) = game(4000, noise);
            let gain = yields.gain(&told);
            assert!((gain.blanks - exact).abs() < 3.5 * gain.error && gain.error < 0.02, "{noise}: {gain:?} {exact}");
            // E[max(0, u)] = 1 / sqrt(2 pi) = 0.399 for knowing u
            assert!((yields.ceiling() - 0.399).abs() < 0.04, "{}", yields.ceiling());
        }
    }

    #[test]
    fn what_tells_nothing_is_worth_nothing() {
        let (yields, told) = game(400, 1e4);
        let gain = yields.gain(&told);
        assert!(gain.blanks.abs() < 3.5 * gain.error, "{gain:?}");
        assert_eq!(yields.gain(&DMatrix::zeros(400, 0)), Gain::default());
    }
}
