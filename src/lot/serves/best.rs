//! Which set a tube serves best, and what the choice is worth on draws that did not make it.

use crate::decide::choice::{FLAT_BLANKS, PARTS, part_of};
use crate::numeric::summary::{count, mean, numbers, sd};

/// What one tube gives for one set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gives<'a> {
    /// Blanks expected.
    pub(super) expected: f64,
    /// Blanks of every draw.
    pub(super) draws: &'a [u16],
    /// What one blank counts; `None` where the set does not compete for this tube, or nobody says what it is worth.
    pub(super) each: Option<f64>,
    /// False where the screening leaves the tube for this set.
    pub(super) competes: bool,
}

/// The next best set of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    /// Which set.
    pub set: usize,
    /// Share of the draws in which it gives as much as the best, or more.
    pub as_good: f64,
    /// True where the readings do not tell the two apart: what the best has over it is less than a tenth of a blank, or than
    /// twice the doubt left by the number of draws.
    pub either: bool,
}

/// The set that a tube serves best.
#[derive(Debug, Clone, PartialEq)]
pub struct Best {
    /// Which set.
    pub set: usize,
    /// What its blanks are expected to count together, on draws that did not choose the set.
    pub counts: f64,
    /// The next best; `None` where no other competes.
    pub second: Option<Second>,
}

impl Gives<'_> {
    /// What the blanks of every draw count, level with what is expected; none of a set that does not compete.
    pub(super) fn counts(&self) -> Option<Vec<f64>> {
        let each = self.each.filter(|e| *e > 0.0)?;
        let blanks = numbers(self.draws);
        let drawn = mean(&blanks);
        // draws are kinder to the split they chose than those that value it
        let fair = if drawn > 0.0 { self.expected / drawn } else { 1.0 };
        (self.expected > 0.0).then(|| blanks.iter().map(|n| each * fair * n).collect())
    }
}

/// The set whose blanks count most together; of equals the first. `None` where no set that competes gives any.
///
/// The best of several noisy figures flatters itself. So the choice is made ten times, each time without a tenth of the draws,
/// and valued on that tenth, as the choice of a split is.
pub(super) fn best_of(tube: &[Gives<'_>]) -> Option<Best> {
    let counts: Vec<(usize, Vec<f64>)> = tube.iter().enumerate().filter_map(|(j, g)| Some((j, g.counts()?))).collect();
    let all = |_: usize| true;
    let ranked = ranked(&counts, &all);
    let (&first, others) = ranked.split_first()?;
    let second = others.first().map(|&next| {
        let over: Vec<f64> = counts[first].1.iter().zip(&counts[next].1).map(|(a, b)| a - b).collect();
        let tie = FLAT_BLANKS * tube[counts[first].0].each.unwrap_or(0.0);
        let error = sd(&over) / count(over.len().max(1)).sqrt();
        Second {
            set: counts[next].0,
            as_good: count(over.iter().filter(|d| **d <= 0.0).count()) / count(over.len().max(1)),
            either: mean(&over) < tie.max(2.0 * error),
        }
    });
    Some(Best { set: counts[first].0, counts: valued(&counts), second })
}

/// What the largest of several sums of draws is worth, mean over the draws, valued by parts that did not choose it; 0 of none.
pub(super) fn valued(counts: &[(usize, Vec<f64>)]) -> f64 {
    let draws = counts.iter().map(|c| c.1.len()).max().unwrap_or(0);
    let parts = if draws >= 2 * PARTS { PARTS } else { 1 };
    let sum = |part: usize| {
        let chosen = if parts > 1 { ranked(counts, &|k| part_of(k, parts) != part) } else { ranked(counts, &|_| true) };
        let Some(&best) = chosen.first() else { return 0.0 };
        counts[best].1.iter().enumerate().filter(|(k, _)| part_of(*k, parts) == part).map(|(_, x)| x).sum::<f64>()
    };
    (0..parts).map(sum).sum::<f64>() / count(draws.max(1))
}

/// The sets by their sum over these draws, the largest first, of equals the first.
pub(super) fn ranked(counts: &[(usize, Vec<f64>)], which: &dyn Fn(usize) -> bool) -> Vec<usize> {
    let sums: Vec<f64> =
        counts.iter().map(|(_, c)| c.iter().enumerate().filter(|(k, _)| which(*k)).map(|(_, x)| x).sum()).collect();
    let mut order: Vec<usize> = (0..counts.len()).collect();
    order.sort_by(|&a, &b| sums[b].total_cmp(&sums[a]).then(a.cmp(&b)));
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn gives(draws: &[u16], each: Option<f64>) -> Gives<'_> {
        Gives { expected: mean(&numbers(draws)), draws, each, competes: each.is_some() }
    }

    #[test]
    fn the_dearer_set_wins_where_its_blanks_make_up_for_their_number() {
        // 4 blanks of 1.00 against 3 of 1.50, in every draw
        let (many, few) = (vec![4; 40], vec![3; 40]);
        let best = best_of(&[gives(&many, Some(1.0)), gives(&few, Some(1.5))]).expect("both give");
        assert_eq!((best.set, best.counts), (1, 4.5));
        assert_eq!(best.second, Some(Second { set: 0, as_good: 0.0, either: false }));
        // at 1.34 it is 4.02: a tie within a tenth of a blank
        let near = best_of(&[gives(&many, Some(1.0)), gives(&few, Some(1.34))]).expect("both give");
        assert!(near.set == 1 && near.second.expect("two").either, "{near:?}");
        // a set that does not compete is neither best nor second
        let alone = best_of(&[gives(&many, None), gives(&few, Some(1.0))]).expect("one gives");
        assert_eq!((alone.set, alone.second), (1, None));
        assert_eq!(best_of(&[gives(&many, None), gives(&[], Some(1.0))]), None);
    }

    #[test]
    fn the_best_of_sets_that_differ_by_chance_alone_is_worth_what_each_is() {
        // eight sets, each 0 or 1 in an order of its own, of the same mean: on the draws that chose it the best of one part
        // would be worth more
        let sets: Vec<Vec<u16>> = (0..8_u64)
            .map(|j| (0..200_u64).map(|k| u16::from((k * k * 7 + k * (j * j + 3) + j * 11) % 13 < 6)).collect())
            .collect();
        let all: Vec<Gives<'_>> = sets.iter().map(|d| gives(d, Some(1.0))).collect();
        let means: Vec<f64> = all.iter().map(|g| g.expected).collect();
        let best = best_of(&all).expect("give");
        let most = means.iter().copied().fold(0.0, f64::max);
        assert!(best.counts < most + 1e-12, "{} against {means:?}", best.counts);
        assert!(best.second.expect("eight").either, "{best:?} {means:?}");
    }

    proptest! {
        #[test]
        fn the_choice_is_the_largest_by_brute_force_whatever_the_order(
            sets in prop::collection::vec((prop::collection::vec(0_u16..9, 24), prop::option::weighted(0.8, 0.1_f64..3.0)), 1..6),
            turn in 0_usize..6,
        ) {
            let of = |sets: &[(Vec<u16>, Option<f64>)]| best_of(&sets.iter().map(|(d, e)| gives(d, *e)).collect::<Vec<_>>());
            let worth = |s: &(Vec<u16>, Option<f64>)| s.1.map_or(0.0, |e| e * mean(&numbers(&s.0)));
            let most = sets.iter().map(worth).fold(0.0, f64::max);
            let best = of(&sets);
            prop_assert_eq!(best.is_some(), most > 0.0);
            if let Some(best) = best {
                prop_assert!(worth(&sets[best.set]) >= most - 1e-9);
                // what draws that did not choose say is never more than what all say of the best
                prop_assert!(best.counts <= most + 1e-9);
                let mut turned = sets.clone();
                turned.rotate_left(turn % sets.len());
                let again = of(&turned).expect("the same sets");
                prop_assert!((worth(&turned[again.set]) - worth(&sets[best.set])).abs() < 1e-9);
            }
        }
    }
}
