//! Two piles as alike as can be, exactly: every sum of one half of the items meets the best of the other half.
//!
//! E. Horowitz, S. Sahni, Computing partitions with applications to the knapsack problem, J. ACM 21 (1974) 277-292; from
//! memory.

/// Which items make the sum nearest to half of all; ties to the first found. At most 40 items.
pub(super) fn nearest_half(items: &[i64]) -> Vec<bool> {
    let total: i64 = items.iter().sum();
    let (a, b) = items.split_at(items.len() / 2);
    let (left, right) = (sums(a), sums(b));
    let off = |s: i64| (2 * s - total).abs();
    let mut best = (i64::MAX, 0, 0);
    let mut j = right.len();
    for (sum, set) in &left {
        // twice the sum grows with the left one: the right one that fits goes down
        while j > 1 && 2 * (sum + right[j - 1].0) > total {
            j -= 1;
        }
        for (other, with) in &right[j - 1..(j + 1).min(right.len())] {
            let o = off(sum + other);
            if o < best.0 {
                best = (o, *set, *with);
            }
        }
    }
    let (_, set, with) = best;
    let bit = |of: u32, i: usize| of >> i & 1 == 1;
    (0..items.len()).map(|i| if i < a.len() { bit(set, i) } else { bit(with, i - a.len()) }).collect()
}

/// Every sum with its set of items, in order of the sums.
fn sums(items: &[i64]) -> Vec<(i64, u32)> {
    let mut all = vec![(0, 0)];
    for (i, item) in items.iter().enumerate() {
        // two lists in order, merged into one in order
        let with: Vec<(i64, u32)> = all.iter().map(|(s, set)| (s + item, set | 1 << i)).collect();
        let mut merged = Vec::with_capacity(2 * all.len());
        let (mut x, mut y) = (all.iter().peekable(), with.iter().peekable());
        loop {
            let next = match (x.peek(), y.peek()) {
                (Some(p), Some(q)) => {
                    if p.0 <= q.0 {
                        x.next()
                    } else {
                        y.next()
                    }
                }
                (Some(_), None) => x.next(),
                (None, _) => y.next(),
            };
            match next {
                Some(pair) => merged.push(*pair),
                None => break,
            }
        }
        all = merged;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_of_short_lists_by_hand() {
        let half = |items: &[i64]| -> i64 {
            items.iter().zip(nearest_half(items)).map(|(x, inside)| if inside { *x } else { -x }).sum::<i64>().abs()
        };
        // 15 and 15
        assert_eq!(half(&[4, 5, 6, 7, 8]), 0);
        assert_eq!(half(&[9, 1, 1, 1]), 6);
        assert_eq!(half(&[5]), 5);
        assert_eq!(half(&[]), 0);
        assert_eq!(half(&[0, 0, 3]), 3);
    }

    #[test]
    fn every_sum_stands_once_in_order() {
        assert_eq!(sums(&[2, 1]), [(0, 0), (1, 2), (2, 1), (3, 3)]);
    }
}
