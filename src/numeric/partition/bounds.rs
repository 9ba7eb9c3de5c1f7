//! What no division can beat, from sums alone.

/// Lower bounds of a division of `sorted` (largest first) into `piles` piles, in units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bounds {
    /// No division has a smaller largest pile.
    pub(super) largest: i64,
    /// No division has a smaller spread.
    pub(super) spread: i64,
}

/// The bounds. `piles` is at least 1.
pub(super) fn bounds(sorted: &[i64], piles: usize) -> Bounds {
    let total: i64 = sorted.iter().sum();
    let k = whole(piles);
    let largest = least_largest(sorted, piles, total);
    Bounds { largest, spread: spread(sorted, piles, total).max(beside(total, k, largest)) }
}

/// The least spread where the largest pile is known to be at least `largest`: the others share the rest.
pub(super) fn beside(total: i64, piles: i64, largest: i64) -> i64 {
    if piles < 2 { 0 } else { (largest - (total - largest).div_euclid(piles - 1)).max(0) }
}

/// The mean rounded up, the largest item, and for every j: of the j k + 1 largest items some pile holds j + 1, which are at
/// least the j + 1 smallest of them.
fn least_largest(sorted: &[i64], piles: usize, total: i64) -> i64 {
    let crowded = (1..).map_while(|j: usize| {
        let last = j.checked_mul(piles)?;
        (last < sorted.len()).then(|| sorted[last - j..=last].iter().sum::<i64>())
    });
    let mean = total.div_euclid(whole(piles)) + i64::from(total.rem_euclid(whole(piles)) > 0);
    crowded.chain(sorted.first().copied()).fold(mean, i64::max)
}

/// Where the mean is no whole number of units piles differ; and the i largest items lie in at most i piles, so that some other
/// pile holds at most its share of the rest.
fn spread(sorted: &[i64], piles: usize, total: i64) -> i64 {
    let largest = least_largest(sorted, piles, total);
    let mut rest = total;
    let mut smallest = total.div_euclid(whole(piles));
    for (i, item) in sorted.iter().take(piles.saturating_sub(1)).enumerate() {
        rest -= item;
        smallest = smallest.min(rest.div_euclid(whole(piles - 1 - i)));
    }
    (largest - smallest).max(0)
}

pub(super) fn whole(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_by_hand() {
        // 9 in a pile of its own, 1 each in the others
        assert_eq!(bounds(&[9, 1, 1, 1], 4), Bounds { largest: 9, spread: 8 });
        // 7 in two piles: 4 and 3
        assert_eq!(bounds(&[3, 2, 2], 2), Bounds { largest: 4, spread: 1 });
        // three of a size in two piles: two of them meet
        assert_eq!(bounds(&[5, 5, 5], 2), Bounds { largest: 10, spread: 5 });
        // five in two piles: three of them meet; mean 12.5
        assert_eq!(bounds(&[5, 5, 5, 5, 5], 2), Bounds { largest: 15, spread: 5 });
        // more piles than items: one stays empty
        assert_eq!(bounds(&[4, 3], 3), Bounds { largest: 4, spread: 4 });
        assert_eq!(bounds(&[4, 3], 1), Bounds { largest: 7, spread: 0 });
        assert_eq!(bounds(&[], 3), Bounds { largest: 0, spread: 0 });
    }
}
