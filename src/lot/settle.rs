//! How many more tubes to measure until it is settled which of two lots is better.

use super::forecast::{BlanksOfDraws, Forecast};
use crate::numeric::summary::{count, sd, to_index};
use serde::Serialize;

/// The chance at which a difference is taken as settled, and the deviate of a normal distribution that goes with it.
pub const SETTLED_CHANCE: f64 = 0.95;
const SETTLED_DEVIATE: f64 = 1.645;

/// What would settle which of two lots is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Settle {
    /// It is, with a chance of [`SETTLED_CHANCE`].
    Settled,
    /// So many more tubes of the lot and of the best one, if they go on as those before.
    Measure {
        /// Of the lot.
        of_this: usize,
        /// Of the best.
        of_best: usize,
    },
    /// Not even all tubes measured.
    Never,
}

/// What makes a lot's blanks unsure, as relative variances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Doubts {
    /// That some tubes stand for the others.
    sample: f64,
    /// What the readings of each tube leave open.
    tubes: f64,
    /// What is common to the lot's tubes: scales, instruments.
    common: f64,
    measured: usize,
    all: usize,
}

impl Doubts {
    /// From the draws `totals` of a lot of `all` tubes, the measured ones' blanks in each draw beside it.
    pub(super) fn of(f: &Forecast, counted: &BlanksOfDraws<'_>, totals: &[f64], all: usize) -> Doubts {
        let relative = |variance: f64, blanks: f64| if blanks > 0.0 { variance / (blanks * blanks) } else { 0.0 };
        let whole = f.whole.as_ref();
        let blanks = whole.map_or(f.blanks.expected, |w| w.blanks.expected);
        let sample = whole.map_or(0.0, |w| relative(w.sampling_sd.powi(2), blanks));
        let open = (relative(sd(totals).powi(2), blanks) - sample).max(0.0);
        let tubes = relative(counted.variances().iter().sum(), f.blanks.expected).min(open);
        let mean_g = f.weight_g.map(|(g, n)| g / count(n));
        let unlisted = whole.zip(mean_g).map_or(0.0, |(w, g)| (w.unlisted_g.unwrap_or(0.0) / g).round());
        let all = all + to_index(unlisted);
        Doubts { sample, tubes, common: open - tubes, measured: f.tubes, all }
    }

    /// The relative variance once `more` tubes are measured.
    fn after(&self, more: usize) -> f64 {
        let (n, m, all) = (count(self.measured.max(1)), count(self.measured.max(1) + more), count(self.all));
        let left = |n: f64| ((all - n) / n).max(0.0);
        let sample = if left(n) > 0.0 { self.sample * left(m) / left(n) } else { 0.0 };
        sample + self.tubes * n / m + self.common
    }

    fn left(&self) -> usize {
        self.all.saturating_sub(self.measured)
    }
}

/// What settles a difference that is now believed with this chance: the better of two lots gives `ratio` times what the
/// other does. Tubes are added one by one where they help most; that the difference stays as it looks now is taken for
/// granted.
pub(super) fn settle(chance: f64, ratio: f64, [this, best]: [&Doubts; 2]) -> Settle {
    if chance >= SETTLED_CHANCE {
        return Settle::Settled;
    }
    let (mut of_this, mut of_best) = (0, 0);
    let variance = |a: usize, b: usize| this.after(a) + best.after(b);
    while of_this < this.left() || of_best < best.left() {
        let gain = |more: bool, a: usize, b: usize| if more { variance(a, b) } else { f64::INFINITY };
        let first = gain(of_this < this.left(), of_this + 1, of_best);
        let second = gain(of_best < best.left(), of_this, of_best + 1);
        if first <= second {
            of_this += 1
        } else {
            of_best += 1
        }
        if ratio > 1.0 && ratio.ln() >= SETTLED_DEVIATE * variance(of_this, of_best).sqrt() {
            return Settle::Measure { of_this, of_best };
        }
    }
    Settle::Never
}

#[cfg(test)]
mod tests {
    use super::*;

    fn doubts(sample: f64, tubes: f64, common: f64, measured: usize, all: usize) -> Doubts {
        Doubts { sample, tubes, common, measured, all }
    }

    #[test]
    fn more_tubes_settle_by_hand() {
        // 6 of 60 measured, sampling variance 0.01 a lot: 54/6 = 9 units; with 12 of 60, 48/12 = 4 units, 0.004444
        let lot = doubts(0.01, 0.0, 0.0, 6, 60);
        assert!((lot.after(6) - 0.01 * 4.0 / 9.0).abs() < 1e-12 && (lot.after(54)).abs() < 1e-12);
        // ratio 1.2: ln 0.18232; needs a variance of (0.18232 / 1.645)^2 = 0.012284, of 0.02 now: each 0.006142, so
        // (60 - n) / n = 5.528 each, n = 9.19: three and four more
        assert_eq!(settle(0.9, 1.2, [&lot, &lot]), Settle::Measure { of_this: 4, of_best: 3 });
        assert_eq!(settle(0.96, 1.2, [&lot, &lot]), Settle::Settled);
        // what is common to a lot does not shrink
        let common = doubts(0.0, 0.0, 0.02, 6, 60);
        assert_eq!(settle(0.9, 1.2, [&common, &common]), Settle::Never);
        // all measured: nothing more to measure
        let all = doubts(0.0, 0.01, 0.0, 60, 60);
        assert_eq!(settle(0.9, 1.2, [&all, &all]), Settle::Never);
        assert_eq!(settle(0.5, 1.0, [&lot, &lot]), Settle::Never);
    }
}
