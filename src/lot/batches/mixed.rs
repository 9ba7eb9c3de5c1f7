//! Tubes exchanged between piles about as alike, so that each pile has its share of long and short ones.

use crate::numeric::summary::{count, mean};

/// Most exchanges.
const MOST: usize = 200;
/// An exchange must bring at least so much: squared mm by which a mean length is off, times the tubes of its pile.
const LEAST_GAIN: f64 = 1.0;

/// Piles whose tubes may be exchanged.
pub(super) struct Mixing<'a> {
    /// What each tube counts.
    pub(super) sizes: &'a [f64],
    /// Its length; `None`: it stays where it is.
    pub(super) lengths: &'a [Option<f64>],
    /// Its blanks and most blanks of a pile of several tubes; a pile that has more already may not grow.
    pub(super) blanks: Option<(&'a [f64], f64)>,
    /// Largest spread that is allowed.
    pub(super) spread: f64,
}

impl Mixing<'_> {
    /// Exchanges one tube for one, each time the two that bring the mean lengths closest, until none does or [`MOST`] are
    /// exchanged.
    pub(super) fn mix(&self, piles: &mut [Vec<usize>]) {
        for _ in 0..MOST {
            let Some((a, i, b, j)) = self.best(piles) else { return };
            let (x, y) = (piles[a][i], piles[b][j]);
            (piles[a][i], piles[b][j]) = (y, x);
        }
    }

    fn best(&self, piles: &[Vec<usize>]) -> Option<(usize, usize, usize, usize)> {
        let sums: Vec<f64> = piles.iter().map(|p| p.iter().map(|t| self.sizes[*t]).sum()).collect();
        let lengths: Vec<Vec<f64>> =
            piles.iter().map(|p| p.iter().filter_map(|t| self.lengths[*t]).collect()).collect();
        let middle = mean(&lengths.concat());
        let means: Vec<f64> = lengths.iter().map(|l| mean(l)).collect();
        // the mean squared distance of a pile's mean length from all tubes' mean, by its tubes
        let off = |pile: usize, longer: f64| {
            let n = count(lengths[pile].len());
            n * (means[pile] + longer / n - middle).powi(2)
        };
        let mut best = (-LEAST_GAIN, None);
        for a in 0..piles.len() {
            for b in a + 1..piles.len() {
                let now = off(a, 0.0) + off(b, 0.0);
                for (i, x) in piles[a].iter().enumerate() {
                    for (j, y) in piles[b].iter().enumerate() {
                        let (Some(lx), Some(ly)) = (self.lengths[*x], self.lengths[*y]) else { continue };
                        let gain = off(a, ly - lx) + off(b, lx - ly) - now;
                        if gain < best.0 && self.allowed(&sums, piles, (a, *x), (b, *y)) {
                            best = (gain, Some((a, i, b, j)));
                        }
                    }
                }
            }
        }
        best.1
    }

    /// Whether the piles stay alike, and within the edge's life, with tube `x` of pile `a` for tube `y` of pile `b`.
    fn allowed(&self, sums: &[f64], piles: &[Vec<usize>], (a, x): (usize, usize), (b, y): (usize, usize)) -> bool {
        let more = self.sizes[y] - self.sizes[x];
        let then = |(p, sum): (usize, &f64)| match p {
            p if p == a => sum + more,
            p if p == b => sum - more,
            _ => *sum,
        };
        let (least, most) = sums
            .iter()
            .enumerate()
            .map(then)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), s| (least.min(s), most.max(s)));
        if most - least > self.spread + 1e-9 {
            return false;
        }
        self.blanks.is_none_or(|(blanks, life)| {
            let more = blanks[y] - blanks[x];
            let fits = |pile: usize, more: f64| {
                let sum: f64 = piles[pile].iter().map(|t| blanks[*t]).sum();
                more <= 0.0 || piles[pile].len() < 2 || sum + more <= life + 1e-9
            };
            fits(a, more) && fits(b, -more)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_tubes_are_shared_out_where_the_piles_stay_alike() {
        // all of 5 blanks, but the long ones in one pile
        let lengths = [200.0, 210.0, 150.0, 160.0].map(Some);
        let mixing = Mixing { sizes: &[5.0; 4], lengths: &lengths, blanks: None, spread: 0.0 };
        let mut piles = [vec![0, 1], vec![2, 3]];
        mixing.mix(&mut piles);
        // 200 + 160 and 150 + 210: both 180 on average
        let mut sums: Vec<f64> = piles.iter().map(|p| p.iter().filter_map(|t| lengths[*t]).sum()).collect();
        sums.sort_by(f64::total_cmp);
        assert_eq!(sums, [360.0, 360.0]);
    }

    #[test]
    fn nothing_is_exchanged_beyond_the_spread_or_the_edge_life() {
        let lengths = [200.0, 210.0, 150.0, 160.0].map(Some);
        let sizes = [5.0, 5.0, 5.3, 5.3];
        let start = [vec![0, 1], vec![2, 3]];
        let mixed = |spread: f64, life: f64| {
            let mut piles = start.clone();
            Mixing { sizes: &sizes, lengths: &lengths, blanks: Some((&sizes, life)), spread }.mix(&mut piles);
            piles
        };
        // as they are 10 and 10.6; an exchange makes 10.3 of both
        assert_ne!(mixed(0.6, 10.6), start);
        assert_eq!(mixed(-0.1, 10.6), start);
        assert_eq!(mixed(0.6, 10.2), start);
        // without a length nobody knows what an exchange brings
        let mut piles = start.clone();
        Mixing { sizes: &sizes, lengths: &[None; 4], blanks: None, spread: 9.0 }.mix(&mut piles);
        assert_eq!(piles, start);
    }
}
