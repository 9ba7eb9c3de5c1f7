//! Every division there is, but for those that cannot be better: branch and bound over the items from the largest down.

use super::bounds::whole;

/// Most partial divisions looked at.
pub(super) const MOST_NODES: usize = 1_000_000;

/// What is to be least.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim {
    /// Largest pile less smallest.
    Spread,
    /// Largest pile.
    Largest,
}

impl Aim {
    pub(super) fn of(self, sums: &[i64]) -> i64 {
        let (most, least) = (sums.iter().max().unwrap_or(&0), sums.iter().min().unwrap_or(&0));
        match self {
            Aim::Spread => most - least,
            Aim::Largest => *most,
        }
    }
}

/// What a search came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Searched {
    /// The pile of each item, where a division better than the one known was found.
    pub(super) better: Option<Vec<usize>>,
    /// The least there is, or the least found.
    pub(super) value: i64,
    /// Whether nothing better exists.
    pub(super) proved: bool,
}

/// Looks for a division of `sorted` (largest first) that is better than `known`; stops at `bound`, which none can beat.
pub(super) fn search(sorted: &[i64], piles: usize, aim: Aim, known: i64, bound: i64) -> Searched {
    let mut rest = vec![0; sorted.len() + 1];
    for i in (0..sorted.len()).rev() {
        rest[i] = rest[i + 1] + sorted[i];
    }
    let total = rest[0];
    let k = whole(piles);
    let mut s = Search {
        sorted,
        rest,
        aim,
        mean: total.div_euclid(k) + i64::from(total.rem_euclid(k) > 0),
        bound,
        sums: vec![0; piles],
        at: vec![0; sorted.len()],
        value: known,
        better: None,
        nodes: 0,
    };
    s.place(0);
    let proved = s.value <= bound || s.nodes < MOST_NODES;
    Searched { better: s.better, value: s.value, proved }
}

struct Search<'a> {
    sorted: &'a [i64],
    /// What the items from each on add up to.
    rest: Vec<i64>,
    aim: Aim,
    /// Mean pile, rounded up.
    mean: i64,
    bound: i64,
    sums: Vec<i64>,
    at: Vec<usize>,
    value: i64,
    better: Option<Vec<usize>>,
    nodes: usize,
}

impl Search<'_> {
    fn place(&mut self, item: usize) {
        if self.value <= self.bound || self.nodes >= MOST_NODES {
            return;
        }
        self.nodes += 1;
        let Some(size) = self.sorted.get(item).copied() else {
            let value = self.aim.of(&self.sums);
            if value < self.value {
                (self.value, self.better) = (value, Some(self.at.clone()));
            }
            return;
        };
        let mut order: Vec<usize> = (0..self.sums.len()).collect();
        order.sort_by_key(|p| self.sums[*p]);
        if self.at_least(&order, self.rest[item]) >= self.value {
            return;
        }
        let mut last = None;
        for p in order {
            // piles of one sum are one choice
            if last.replace(self.sums[p]) == Some(self.sums[p]) {
                continue;
            }
            self.sums[p] += size;
            self.at[item] = p;
            self.place(item + 1);
            self.sums[p] -= size;
        }
    }

    /// What the aim comes to at least when the rest is poured like water on the lowest piles; `order`: the lowest first.
    fn at_least(&self, order: &[usize], rest: i64) -> i64 {
        let most = order.last().map_or(0, |p| self.sums[*p]).max(self.mean);
        if self.aim == Aim::Largest {
            return most;
        }
        let mut poured = rest;
        let mut level = 0;
        for (n, p) in order.iter().enumerate() {
            poured += self.sums[*p];
            level = poured.div_euclid(whole(n + 1));
            if order.get(n + 1).is_none_or(|next| self.sums[*next] >= level) {
                break;
            }
        }
        most - level
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_spread_and_the_least_largest_pile_by_hand() {
        // 15 and 15
        let s = search(&[8, 7, 6, 5, 4], 2, Aim::Spread, i64::MAX, 0);
        assert_eq!((s.value, s.proved), (0, true));
        // 9, 2 + 1, 2 + 1 is the best for the largest; the spread is 6 then too
        let s = search(&[9, 2, 2, 1, 1], 3, Aim::Largest, i64::MAX, 0);
        assert_eq!((s.value, s.proved), (9, true));
        let s = search(&[9, 2, 2, 1, 1], 3, Aim::Spread, 6, 0);
        assert_eq!((s.value, s.proved, s.better), (6, true, None));
    }
}
