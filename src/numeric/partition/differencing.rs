//! A first division: the two partial divisions that are most uneven are laid against each other until one is left.
//!
//! The k-way form of the differencing of N. Karmarkar, R. M. Karp, The differencing method of set partitioning, report
//! UCB/CSD 82/113, Berkeley 1982; from memory.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Sums with their items, from the largest sum to the smallest.
type Parts = Vec<(i64, Vec<usize>)>;

/// Piles of items by their place in `sizes`; `piles` is at least 1.
pub(super) fn differenced(sizes: &[i64], piles: usize) -> Vec<Vec<usize>> {
    // by unevenness, the earlier one first
    let mut heap: BinaryHeap<(i64, Reverse<usize>, Parts)> = sizes
        .iter()
        .enumerate()
        .map(|(i, size)| {
            let mut parts = vec![(0, Vec::new()); piles];
            parts[0] = (*size, vec![i]);
            (uneven(&parts), Reverse(i), parts)
        })
        .collect();
    let mut made = sizes.len();
    while heap.len() > 1 {
        let (Some(a), Some(b)) = (heap.pop(), heap.pop()) else { break };
        let mut joined: Parts = a.2;
        for ((sum, items), (more, others)) in joined.iter_mut().zip(b.2.into_iter().rev()) {
            *sum += more;
            items.extend(others);
        }
        joined.sort_by_key(|p| Reverse(p.0));
        heap.push((uneven(&joined), Reverse(made), joined));
        made += 1;
    }
    heap.pop().map_or_else(|| vec![Vec::new(); piles], |(_, _, parts)| parts.into_iter().map(|p| p.1).collect())
}

fn uneven(parts: &[(i64, Vec<usize>)]) -> i64 {
    parts.first().map_or(0, |p| p.0) - parts.last().map_or(0, |p| p.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_of_a_known_list_by_hand() {
        // 8 - 7 = 1, 6 - 5 = 1, 4 - 1 = 3, 3 - 1 = 2: piles 16 and 14, where 15 and 15 would do
        let sizes = [4, 5, 6, 7, 8];
        let mut sums: Vec<i64> = differenced(&sizes, 2).iter().map(|p| p.iter().map(|i| sizes[*i]).sum()).collect();
        sums.sort_unstable();
        assert_eq!(sums, [14, 16]);
        assert_eq!(differenced(&[], 2), [vec![], vec![]] as [Vec<usize>; 2]);
        assert_eq!(differenced(&[5], 2), [vec![0], vec![]]);
    }
}
