//! Laying runs along one piece: how many fit, and where.

use crate::numeric::summary::{count, to_index};

/// Slack given to comparisons of places, in steps: a hundred-thousandth of a step is far below any ruler.
const PLACE_SLACK: f64 = 1e-5;

/// Most runs of one length, `need` apart from start to start, that fit into a set of allowed starts.
///
/// `allowed` is a bit set over start numbers (bit `i % 64` of word `i / 64`), `starts` their number, `need` the least
/// distance between starts in steps (blank plus kerf; need not be whole). Where two neighbouring starts are allowed, so
/// is every place between them. Taking the earliest possible start every time is optimal for equal lengths: by exchange,
/// the first run of any packing can be moved to the earliest start without disturbing the others.
#[must_use]
pub fn most_runs(allowed: &[u64], starts: usize, need: f64) -> usize {
    most_runs_from(allowed, starts, 0.0, need)
}

/// The same of runs that start at or after `from`, in steps.
#[must_use]
pub fn most_runs_from(allowed: &[u64], starts: usize, from: f64, need: f64) -> usize {
    let mut runs = 0;
    let mut from = from;
    while let Some(at) = earliest(allowed, starts, from) {
        runs += 1;
        from = at + need;
    }
    runs
}

/// The earliest allowed start at or after `from`, in steps.
#[must_use]
pub fn earliest(allowed: &[u64], starts: usize, from: f64) -> Option<f64> {
    let next = to_index((from - PLACE_SLACK).ceil().max(0.0));
    if next >= starts {
        return None;
    }
    let is_set = |i: usize| allowed[i / 64] >> (i % 64) & 1 == 1;
    if count(next) > from + PLACE_SLACK && next > 0 && is_set(next - 1) && is_set(next) {
        return Some(from);
    }
    let mut word = next / 64;
    let mut bits = allowed[word] & (!0_u64 << (next % 64));
    loop {
        if bits != 0 {
            let i = word * 64 + bits.trailing_zeros() as usize;
            return (i < starts).then(|| count(i).max(from));
        }
        word += 1;
        if word * 64 >= starts {
            return None;
        }
        bits = allowed[word];
    }
}

/// Places for runs that together are worth most.
///
/// `worth[i]` is the worth of a run starting at place `i`; places are equally spaced, and two runs are at least `need`
/// places apart. A place whose worth is below `least` is never taken. Dynamic programming over places; of equally good
/// sets the earliest is returned.
#[must_use]
pub fn best_places(worth: &[f64], need: usize, least: f64) -> Vec<usize> {
    let n = worth.len();
    // best[i]: the most that starts at i or later can add
    let mut best = vec![0.0; n + 1];
    let after = |i: usize| (i + need.max(1)).min(n);
    for i in (0..n).rev() {
        let take = if worth[i] >= least { worth[i] + best[after(i)] } else { f64::NEG_INFINITY };
        best[i] = best[i + 1].max(take);
    }
    let mut places = Vec::new();
    let mut i = 0;
    while i < n {
        let take = if worth[i] >= least { worth[i] + best[after(i)] } else { f64::NEG_INFINITY };
        if take >= best[i] && take > 0.0 {
            places.push(i);
            i = after(i);
        } else {
            i += 1;
        }
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bits(list: &[usize]) -> Vec<u64> {
        let mut words = vec![0_u64; 3];
        for &i in list {
            words[i / 64] |= 1 << (i % 64);
        }
        words
    }

    #[test]
    fn a_start_between_two_allowed_ones_is_allowed() {
        // starts 0..=3 allowed, 2.5 apart: 0 and 2.5
        assert_eq!(most_runs(&bits(&[0, 1, 2, 3]), 150, 2.5), 2);
        // but not where the next one is missing
        assert_eq!(most_runs(&bits(&[0, 1, 2]), 150, 2.5), 1);
    }

    #[test]
    fn starts_are_found_across_word_borders() {
        assert_eq!(most_runs(&bits(&[63, 64, 130]), 150, 36.0), 2);
        assert_eq!(earliest(&bits(&[130]), 150, 5.0), Some(130.0));
        assert_eq!(earliest(&bits(&[130]), 130, 5.0), None);
    }

    #[test]
    fn the_best_places_beat_the_earliest_ones_where_worth_differs() {
        let worth = [0.5, 0.6, 0.9, 0.1, 0.2];
        assert_eq!(best_places(&worth, 2, 0.0), [0, 2, 4]);
        assert_eq!(best_places(&worth, 3, 0.0), [2]);
        assert_eq!(best_places(&worth, 3, 0.95), Vec::<usize>::new());
        assert_eq!(best_places(&[], 3, 0.0), Vec::<usize>::new());
    }
}
