//! Sums that come out the same whatever the order and the grouping of their terms.

use serde::{Deserialize, Serialize};

/// Steps in one: terms are taken to the nearest 2^-40, 9.1e-13.
const STEPS: f64 = 1_099_511_627_776.0;

/// A sum of numbers that is associative and commutative to the last bit.
///
/// Every term is rounded once, to the nearest multiple of 2^-40, and the multiples are added as whole numbers. So the sum is
/// off by at most 4.6e-13 a term, and by nothing where terms are multiples of that step, as counts and halves are. Terms lie
/// within [`ExactSum::MOST`]; there is room for 2^47 of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct ExactSum(i128);

impl ExactSum {
    /// Largest size of a term: 2^40.
    pub const MOST: f64 = STEPS;

    /// Whether a number can be a term.
    #[must_use]
    pub fn takes(x: f64) -> bool {
        x.abs() <= Self::MOST
    }

    /// Adds a number; one that cannot be a term (see [`ExactSum::takes`]) adds nothing.
    #[allow(clippy::cast_possible_truncation, reason = "rounded before, and below 2^80")]
    pub fn add(&mut self, x: f64) {
        if Self::takes(x) {
            self.0 += (x * STEPS).round_ties_even() as i128;
        }
    }

    /// Both sums together.
    #[must_use]
    pub fn plus(self, other: ExactSum) -> ExactSum {
        ExactSum(self.0 + other.0)
    }

    /// The sum, to the nearest number.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0 as f64 / STEPS
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_small_term_is_not_lost_beside_a_large_one() {
        let mut s = ExactSum::default();
        for x in [1e11, 1.0, -1e11, 0.25] {
            s.add(x);
        }
        assert_eq!(s.value().to_bits(), 1.25_f64.to_bits());
        assert!(!ExactSum::takes(f64::NAN) && !ExactSum::takes(1e13) && ExactSum::takes(-ExactSum::MOST));
    }

    proptest! {
        #[test]
        fn the_order_and_the_grouping_do_not_matter(terms in prop::collection::vec(-1e6..1e6_f64, 0..40), cut in 0..40_usize) {
            let of = |terms: &[f64]| terms.iter().fold(ExactSum::default(), |mut s, x| { s.add(*x); s });
            let (a, b) = terms.split_at(cut.min(terms.len()));
            let back: Vec<f64> = terms.iter().rev().copied().collect();
            prop_assert_eq!(of(a).plus(of(b)), of(&terms));
            prop_assert_eq!(of(&back), of(&terms));
            let plain: f64 = terms.iter().sum();
            prop_assert!((of(&terms).value() - plain).abs() < 1e-7);
        }
    }
}
