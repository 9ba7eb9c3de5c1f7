//! A division made better two piles at a time.

use super::two::nearest_half;

/// Items of two piles that are divided anew by looking at every way.
const EXACT: usize = 24;
/// Most pairs of piles that are looked at.
const MOST_PAIRS: usize = 4000;

/// Divides pairs of piles anew, the most different pair first, until no pair gets closer, the spread is at most `enough`, or
/// [`MOST_PAIRS`] have been looked at. Every step brings two sums together and leaves the others, so the sum of squares falls.
pub(super) fn improve(sizes: &[i64], piles: &mut [Vec<usize>], enough: i64) {
    let mut sums: Vec<i64> = piles.iter().map(|p| p.iter().map(|i| sizes[*i]).sum()).collect();
    // when each pile was changed last, and each pair looked at last
    let mut changed = vec![1_usize; piles.len()];
    let mut looked = vec![0_usize; piles.len() * piles.len()];
    for now in 1..=MOST_PAIRS {
        if spread(&sums) <= enough {
            return;
        }
        let fresh = |a: usize, b: usize| looked[a * changed.len() + b] < changed[a].max(changed[b]);
        let Some((a, b)) = widest(&sums, fresh) else { return };
        looked[a * changed.len() + b] = now;
        if let Some((one, other)) = anew(sizes, &piles[a], &piles[b]) {
            (sums[a], sums[b]) = (sum(sizes, &one), sum(sizes, &other));
            (piles[a], piles[b]) = (one, other);
            (changed[a], changed[b]) = (now + 1, now + 1);
        }
    }
}

fn spread(sums: &[i64]) -> i64 {
    sums.iter().max().unwrap_or(&0) - sums.iter().min().unwrap_or(&0)
}

fn sum(sizes: &[i64], pile: &[usize]) -> i64 {
    pile.iter().map(|i| sizes[*i]).sum()
}

/// The pair of piles that differ most among those that are `fresh`: (the first, the second), with first before second.
fn widest(sums: &[i64], fresh: impl Fn(usize, usize) -> bool) -> Option<(usize, usize)> {
    let mut best: Option<(i64, usize, usize)> = None;
    for a in 0..sums.len() {
        for b in a + 1..sums.len() {
            let apart = (sums[a] - sums[b]).abs();
            if apart > best.map_or(1, |x| x.0) && fresh(a, b) {
                best = Some((apart, a, b));
            }
        }
    }
    best.map(|(_, a, b)| (a, b))
}

/// The items of two piles in two piles that are closer; `None` where no closer ones are found.
fn anew(sizes: &[i64], a: &[usize], b: &[usize]) -> Option<(Vec<usize>, Vec<usize>)> {
    let apart = (sum(sizes, a) - sum(sizes, b)).abs();
    let (one, other) = if a.len() + b.len() <= EXACT { every_way(sizes, a, b) } else { best_exchange(sizes, a, b) };
    ((sum(sizes, &one) - sum(sizes, &other)).abs() < apart).then_some((one, other))
}

fn every_way(sizes: &[i64], a: &[usize], b: &[usize]) -> (Vec<usize>, Vec<usize>) {
    let items: Vec<usize> = a.iter().chain(b).copied().collect();
    let inside = nearest_half(&items.iter().map(|i| sizes[*i]).collect::<Vec<i64>>());
    let part = |want: bool| items.iter().zip(&inside).filter(|x| *x.1 == want).map(|x| *x.0).collect();
    (part(true), part(false))
}

/// One item of the heavier pile moved, or exchanged for one of the lighter, so that they come closest.
fn best_exchange(sizes: &[i64], a: &[usize], b: &[usize]) -> (Vec<usize>, Vec<usize>) {
    let (mut heavy, mut light) = (a.to_vec(), b.to_vec());
    if sum(sizes, a) < sum(sizes, b) {
        std::mem::swap(&mut heavy, &mut light);
    }
    let apart = sum(sizes, &heavy) - sum(sizes, &light);
    let mut best: (i64, Option<(usize, Option<usize>)>) = (apart, None);
    for (i, from) in heavy.iter().enumerate() {
        for (j, back) in std::iter::once((None, 0)).chain(light.iter().enumerate().map(|(j, x)| (Some(j), sizes[*x]))) {
            let then = (apart - 2 * (sizes[*from] - back)).abs();
            if then < best.0 {
                best = (then, Some((i, j)));
            }
        }
    }
    if let Some((i, j)) = best.1 {
        let item = heavy.swap_remove(i);
        if let Some(j) = j {
            heavy.push(light.swap_remove(j));
        }
        light.push(item);
    }
    (heavy, light)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_piles_are_divided_anew_until_none_comes_closer() {
        let sizes = [4, 5, 6, 7, 8, 5];
        let mut piles = vec![vec![0, 4], vec![1, 2, 3], vec![5]];
        improve(&sizes, &mut piles, 0);
        let sums: Vec<i64> = piles.iter().map(|p| sum(&sizes, p)).collect();
        // 35 in three: 11, 12, 12
        assert_eq!((spread(&sums), sums.iter().sum::<i64>()), (1, 35), "{piles:?}");
    }

    #[test]
    fn one_item_for_one_brings_two_long_piles_together() {
        // 30 ones and a nine against 30 ones and a two are 7 apart; every one that is moved brings them 2 closer: 5, 3, 1
        let mut sizes = vec![1; 60];
        sizes.extend([9, 2]);
        let mut piles = vec![(0..30).chain([60]).collect(), (30..60).chain([61]).collect::<Vec<usize>>()];
        improve(&sizes, &mut piles, 0);
        let sums: Vec<i64> = piles.iter().map(|p| sum(&sizes, p)).collect();
        assert_eq!(spread(&sums), 1);
    }
}
