//! What readings not yet taken are worth: how many blanks more the split angle gives that is chosen once they are read.
//!
//! Every draw of the surface is once taken for the truth. What the readings would show on it is known, and so is the surface
//! that would be believed after them ([`super::believed_after`]) and what every split angle gives on both. The yields on the
//! true surface are regressed on those on the believed one, and the angle of the largest predicted yield is chosen: a
//! regression form of the expected value of sample information (M. Strong, J. E. Oakley, A. Brennan, P. Breeze, Med. Decis.
//! Making 35 (2015) 570-583; abstract read, pages from memory). One factor, common to all angles and draws, is all that is
//! regressed: yields hang on what is read by squares and products (a bow tells by its direction, not by its sign), which a
//! regression on the readings themselves does not find in a few hundred draws.

use super::split::{DrawnSurface, Splitter};
use crate::numeric::summary::{count, mean, sd};
use nalgebra::DMatrix;

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
        let odds = splitter.weights_by_aim();
        Yields::of(DMatrix::from_fn(draws.len(), odds.len(), |k, a| draws[k].table.weighed(&odds[a])))
    }

    fn angle_of(sums: impl Iterator<Item = f64>) -> usize {
        sums.enumerate().fold((0, f64::MIN), |best, (a, s)| if s > best.1 { (a, s) } else { best }).0
    }

    /// What the choice after readings gives more than the one from what is known now. `after`: what every angle gives on the
    /// surfaces believed after the readings of the first so many draws (draws x angles).
    ///
    /// One surface boasts or belittles where the draws about it would not: what it says of an angle beyond the average counts
    /// by the share that the draws themselves bear out, over all angles.
    pub(super) fn gain(&self, after: &DMatrix<f64>) -> Gain {
        let n = after.nrows();
        if n < 2 {
            return Gain::default();
        }
        let fit = Fit::of(self, after);
        let gains: Vec<f64> = (0..n).map(|k| fit.then(k, fit.choice(k)) - fit.then(k, fit.now)).collect();
        let blanks = mean(&gains);
        // the gain goes about as the share does
        let unsure = if fit.share > 0.0 { blanks * fit.share_error / fit.share } else { 0.0 };
        Gain { blanks, error: unsure.hypot(sd(&gains) / count(n).sqrt()) }
    }

    /// The same as the true surfaces of those draws have it: nothing is taken from what is believed but the choice. Less sure
    /// by chance than [`Yields::gain`], and free of its boasting where the best of many angles is chosen.
    pub(super) fn valued(&self, after: &DMatrix<f64>) -> Gain {
        let n = after.nrows();
        if n < 2 {
            return Gain::default();
        }
        let fit = Fit::of(self, after);
        let gains: Vec<f64> = (0..n).map(|k| self.of[(k, fit.choice(k))] - self.of[(k, fit.now)]).collect();
        Gain { blanks: mean(&gains), error: sd(&gains) / count(n).sqrt() }
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

/// The yields on true surfaces regressed on those on the surfaces believed.
struct Fit<'a> {
    after: &'a DMatrix<f64>,
    /// What every angle gives on average over all draws.
    known: Vec<f64>,
    /// What the surfaces believed say of it on average.
    middle: Vec<f64>,
    /// What counts of what they say beyond that, and how sure that is.
    share: f64,
    share_error: f64,
    /// The angle chosen from what is known now.
    now: usize,
}

impl<'a> Fit<'a> {
    fn of(yields: &Yields, after: &'a DMatrix<f64>) -> Fit<'a> {
        let known: Vec<f64> = yields.of.column_iter().map(|c| c.mean()).collect();
        let middle: Vec<f64> = after.column_iter().map(|c| c.mean()).collect();
        let now = Yields::angle_of(known.iter().copied());
        let mut fit = Fit { after, known, middle, share: 0.0, share_error: 0.0, now };
        let angles = || 0..after.ncols();
        let squares: f64 =
            (0..after.nrows()).flat_map(|k| angles().map(move |a| (k, a))).map(|(k, a)| fit.said(k, a).powi(2)).sum();
        if squares > 0.0 {
            let true_off = |k: usize, a: usize| yields.of[(k, a)] - fit.known[a];
            let of_draw = |k: usize| angles().map(|a| fit.said(k, a) * true_off(k, a)).sum::<f64>();
            let share = ((0..after.nrows()).map(of_draw).sum::<f64>() / squares).clamp(0.0, 1.0);
            let left = |k: usize| of_draw(k) - share * angles().map(|a| fit.said(k, a).powi(2)).sum::<f64>();
            fit.share_error = (0..after.nrows()).map(|k| left(k).powi(2)).sum::<f64>().sqrt() / squares;
            fit.share = share;
        }
        fit
    }

    fn said(&self, k: usize, a: usize) -> f64 {
        self.after[(k, a)] - self.middle[a]
    }

    /// What angle `a` is expected to give after the readings of draw `k`.
    fn then(&self, k: usize, a: usize) -> f64 {
        self.known[a] + self.share * self.said(k, a)
    }

    /// The angle chosen then.
    fn choice(&self, k: usize) -> usize {
        Yields::angle_of((0..self.known.len()).map(|a| self.then(k, a)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::draws::{normals, stream};

    /// Two angles: the first gives 5 blanks, the second 5 + u, u normal; a reading tells u with noise of this sd, and what is
    /// believed after it says so many times too much of it.
    fn game(draws: usize, noise: f64, boast: f64) -> (Yields, DMatrix<f64>) {
        let mut rng = stream(3, "game", 0);
        let u = normals(&mut rng, draws);
        let e = normals(&mut rng, draws);
        let yields = DMatrix::from_fn(draws, 2, |k, a| if a == 0 { 5.0 } else { 5.0 + u[k] });
        let believed = |k: usize| (u[k] + noise * e[k]) / (1.0 + noise * noise);
        (Yields::of(yields), DMatrix::from_fn(draws, 2, |k, a| if a == 0 { 5.0 } else { 5.0 + boast * believed(k) }))
    }

    #[test]
    fn the_worth_of_a_reading_is_that_of_the_textbook() {
        // choosing the larger of 0 and E[u | reading], which is normal with sd r = 1 / sqrt(1 + noise^2): r / sqrt(2 pi) more
        // than the better of both now, 0
        for (noise, want) in [(0.1_f64, 0.397), (1.0, 0.282), (3.0, 0.126)] {
            let exact = 1.0 / (1.0 + noise * noise).sqrt() / (2.0 * std::f64::consts::PI).sqrt();
            assert!((exact - want).abs() < 0.001);
            for boast in [1.0, 2.0, 20.0] {
                let (yields, after) = game(4000, noise, boast);
                let gain = yields.gain(&after);
                assert!(
                    (gain.blanks - exact).abs() < 3.5 * gain.error && gain.error < 0.02,
                    "{noise}: {gain:?} {exact}"
                );
                let valued = yields.valued(&after);
                assert!(
                    (valued.blanks - exact).abs() < 3.5 * valued.error && valued.error < 0.02,
                    "{noise}: {valued:?}"
                );
                // E[max(0, u)] = 1 / sqrt(2 pi) = 0.399 for knowing u
                assert!((yields.ceiling() - 0.399).abs() < 0.04, "{}", yields.ceiling());
            }
        }
    }

    #[test]
    fn what_tells_nothing_is_worth_nothing() {
        // what is believed is mere chance
        let (yields, _) = game(400, 1.0, 1.0);
        let chance = normals(&mut stream(4, "chance", 0), 800);
        let gain = yields.gain(&DMatrix::from_column_slice(400, 2, &chance));
        assert!(gain.blanks.abs() < 0.06, "{gain:?}");
        assert!(yields.gain(&DMatrix::zeros(400, 2)).blanks.abs() < 1e-12);
        assert_eq!(yields.gain(&DMatrix::zeros(0, 2)), Gain::default());
    }
}
