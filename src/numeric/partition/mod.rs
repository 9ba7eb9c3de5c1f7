//! A list of sizes divided into piles as alike as can be, with a bound that no division can beat.
//!
//! A first division by differencing (N. Karmarkar, R. M. Karp 1982) is made better by dividing pairs of piles anew; up to
//! [`SEARCHED`] sizes, every other division is then ruled out by branch and bound or found better, within a stated number of
//! steps. The bounds need no search: means, the largest size, and how many of the largest must meet in one pile (the argument
//! of R. L. Graham, Bounds on multiprocessing timing anomalies, SIAM J. Appl. Math. 17 (1969) 416-429, who bounds the division
//! that always serves the smallest pile). All three from memory. Sizes are taken as multiples of one unit, so that nothing is
//! lost in sums: exact where they are decimal numbers of up to six places, else to 2^-52 of their sum. No clock decides
//! anything: the same sizes give the same piles.

mod bounds;
mod differencing;
mod grid;
mod improve;
mod search;
mod two;

use bounds::{beside, bounds, whole};
use differencing::differenced;
use grid::Grid;
use improve::improve;
use search::{Aim, search};
use std::cmp::Reverse;
use two::nearest_half;

/// Sizes up to which every division is looked at.
pub const SEARCHED: usize = 24;
/// Sizes up to which two piles are found exactly.
const TWO_PILES: usize = 32;

/// Why nothing was divided.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PartitionError {
    /// No pile to put anything on.
    #[error("nothing can be divided into no piles")]
    NoPiles,
    /// A size that is negative or no number.
    #[error("size {0} is no size: a finite number from 0 up is needed")]
    Size(f64),
}

/// Sizes in piles.
#[derive(Debug, Clone, PartialEq)]
pub struct Division {
    /// Which sizes lie in each pile, by their place in the list, in its order.
    pub piles: Vec<Vec<usize>>,
    /// What each pile adds up to.
    pub sums: Vec<f64>,
    /// Largest pile less smallest.
    pub spread: f64,
    /// No division has a smaller spread.
    pub spread_bound: f64,
    /// The largest pile.
    pub largest: f64,
    /// No division has a smaller largest pile.
    pub largest_bound: f64,
    /// Whether what was to be least is proved to be so.
    pub proved: bool,
}

/// Divides `sizes` into `piles` piles so that the largest and the smallest differ least.
///
/// # Errors
/// [`PartitionError`] without piles, or where a size is negative or no number.
///
/// # Example
/// ```
/// use quarterlight::numeric::partition::divide;
/// let d = divide(&[4.0, 5.0, 6.0, 7.0, 8.0], 2)?;
/// assert_eq!((d.spread, d.largest, d.proved), (0.0, 15.0, true));
/// assert_eq!(d.spread_bound, 0.0);
/// # Ok::<(), quarterlight::numeric::partition::PartitionError>(())
/// ```
pub fn divide(sizes: &[f64], piles: usize) -> Result<Division, PartitionError> {
    divided(sizes, piles, Aim::Spread)
}

/// Divides `sizes` into `piles` piles so that the largest pile is least.
///
/// # Errors
/// As [`divide`].
pub fn divide_for_least_largest(sizes: &[f64], piles: usize) -> Result<Division, PartitionError> {
    divided(sizes, piles, Aim::Largest)
}

fn divided(sizes: &[f64], piles: usize, aim: Aim) -> Result<Division, PartitionError> {
    if piles == 0 {
        return Err(PartitionError::NoPiles);
    }
    if let Some(bad) = sizes.iter().find(|x| !(x.is_finite() && **x >= 0.0)) {
        return Err(PartitionError::Size(*bad));
    }
    let grid = Grid::of(sizes);
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|i| Reverse(grid.sizes[*i]));
    let sorted: Vec<i64> = order.iter().map(|i| grid.sizes[*i]).collect();
    let mut found = Found::start(&sorted, piles);
    found.least(Aim::Largest, &sorted, aim == Aim::Largest);
    found.least(Aim::Spread, &sorted, aim == Aim::Spread);
    Ok(found.told(&grid, &order, aim))
}

/// The best division so far, of sizes from the largest down, and what is proved.
struct Found {
    piles: Vec<Vec<usize>>,
    sums: Vec<i64>,
    largest_bound: i64,
    spread_bound: i64,
}

impl Found {
    fn start(sorted: &[i64], piles: usize) -> Found {
        let b = bounds(sorted, piles);
        let mut parts = differenced(sorted, piles);
        if piles == 2 && sorted.len() <= TWO_PILES {
            let inside = nearest_half(sorted);
            let part = |want: bool| (0..sorted.len()).filter(|i| inside[*i] == want).collect();
            parts = vec![part(true), part(false)];
        } else {
            improve(sorted, &mut parts, b.spread);
        }
        let mut found = Found { piles: Vec::new(), sums: Vec::new(), largest_bound: b.largest, spread_bound: b.spread };
        found.take(parts, sorted);
        if piles == 2 && sorted.len() <= TWO_PILES {
            found.largest_bound = Aim::Largest.of(&found.sums);
            found.spread_bound = Aim::Spread.of(&found.sums);
        }
        found
    }

    fn take(&mut self, piles: Vec<Vec<usize>>, sorted: &[i64]) {
        self.sums = piles.iter().map(|p| p.iter().map(|i| sorted[*i]).sum()).collect();
        self.piles = piles;
    }

    /// Searches for what is least by `aim`, and keeps its division where that is `wanted`.
    fn least(&mut self, aim: Aim, sorted: &[i64], wanted: bool) {
        let bound = if aim == Aim::Spread { self.spread_bound } else { self.largest_bound };
        let known = aim.of(&self.sums);
        if known <= bound || sorted.len() > SEARCHED {
            return;
        }
        let piles = self.piles.len();
        let s = search(sorted, piles, aim, known, bound);
        if s.proved {
            match aim {
                Aim::Spread => self.spread_bound = s.value,
                Aim::Largest => {
                    self.largest_bound = s.value;
                    let total = sorted.iter().sum();
                    self.spread_bound = self.spread_bound.max(beside(total, whole(piles), s.value));
                }
            }
        }
        if let (Some(at), true) = (s.better, wanted) {
            let part = |p: usize| (0..sorted.len()).filter(|i| at[*i] == p).collect();
            self.take((0..piles).map(part).collect(), sorted);
        }
    }

    fn told(self, grid: &Grid, order: &[usize], aim: Aim) -> Division {
        let in_list = |pile: Vec<usize>| {
            let mut places: Vec<usize> = pile.into_iter().map(|i| order[i]).collect();
            places.sort_unstable();
            places
        };
        let mut piles: Vec<(Vec<usize>, i64)> =
            self.piles.into_iter().map(in_list).zip(self.sums.iter().copied()).collect();
        // the pile of the first item first; empty ones last
        piles.sort_by_key(|p| p.0.first().copied().unwrap_or(usize::MAX));
        let (spread, largest) = (Aim::Spread.of(&self.sums), Aim::Largest.of(&self.sums));
        let proved = match aim {
            Aim::Spread => spread <= self.spread_bound,
            Aim::Largest => largest <= self.largest_bound,
        };
        Division {
            sums: piles.iter().map(|p| grid.size(p.1)).collect(),
            piles: piles.into_iter().map(|p| p.0).collect(),
            spread: grid.size(spread),
            spread_bound: grid.size(self.spread_bound),
            largest: grid.size(largest),
            largest_bound: grid.size(self.largest_bound),
            proved,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::draws::stream;
    use proptest::prelude::*;
    use rand::RngExt;

    #[test]
    fn nothing_one_thing_and_more_piles_than_things() {
        let d = divide(&[], 3).expect("piles");
        assert_eq!((d.piles.len(), d.spread.to_bits(), d.proved), (3, 0, true));
        let d = divide(&[5.0], 1).expect("piles");
        assert_eq!((d.piles, d.sums, d.spread.to_bits()), (vec![vec![0]], vec![5.0], 0));
        let d = divide(&[2.0, 5.0], 4).expect("piles");
        assert_eq!(d.piles, [vec![0], vec![1], vec![], vec![]]);
        assert!((d.spread - 5.0).abs() < 1e-15 && d.proved);
        assert_eq!(divide(&[1.0], 0), Err(PartitionError::NoPiles));
        assert_eq!(divide(&[1.0, -2.0], 2), Err(PartitionError::Size(-2.0)));
        assert!(matches!(divide(&[f64::NAN], 2), Err(PartitionError::Size(_))));
    }

    #[test]
    fn two_hundred_tubes_come_within_one_blank_of_the_bound() {
        let mut worst: f64 = 0.0;
        for seed in 0..3 {
            let mut rng = stream(seed, "blanks", 0);
            let sizes: Vec<f64> = (0..200).map(|_| rng.random_range(0.0..16.0)).collect();
            for piles in 2..=20 {
                let d = divide(&sizes, piles).expect("sizes");
                worst = worst.max(d.spread - d.spread_bound);
                assert!(d.spread - d.spread_bound < 0.1, "{piles}: {} against {}", d.spread, d.spread_bound);
            }
        }
        println!("largest distance from the bound: {worst:.5}");
    }

    /// Least spread and least largest pile of all divisions.
    fn by_brute_force(sizes: &[f64], piles: usize) -> (f64, f64) {
        let mut best = (f64::INFINITY, f64::INFINITY);
        for mut code in 0..piles.pow(u32::try_from(sizes.len()).expect("few")) {
            let mut sums = vec![0.0_f64; piles];
            for size in sizes {
                sums[code % piles] += size;
                code /= piles;
            }
            let (most, least) = sums.iter().fold((0.0_f64, f64::INFINITY), |m, s| (m.0.max(*s), m.1.min(*s)));
            best = (best.0.min(most - least), best.1.min(most));
        }
        best
    }

    fn every_size_once(d: &Division, sizes: &[f64]) {
        let mut all: Vec<usize> = d.piles.iter().flatten().copied().collect();
        all.sort_unstable();
        assert_eq!(all, (0..sizes.len()).collect::<Vec<usize>>());
        for (pile, sum) in d.piles.iter().zip(&d.sums) {
            let want: f64 = pile.iter().map(|i| sizes[*i]).sum();
            assert!((want - sum).abs() < 1e-9, "{want} against {sum}");
        }
        assert!(d.spread_bound <= d.spread && d.largest_bound <= d.largest, "{d:?}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn small_lists_are_divided_as_well_as_can_be(
            sizes in prop::collection::vec(prop_oneof![0.0..16.0_f64, (0_u8..20).prop_map(f64::from)], 0..8),
            piles in 1_usize..5,
        ) {
            let (spread, largest) = by_brute_force(&sizes, piles);
            let d = divide(&sizes, piles).expect("sizes");
            every_size_once(&d, &sizes);
            prop_assert!(d.proved && (d.spread - spread).abs() < 1e-9, "{} against {}", d.spread, spread);
            prop_assert!((d.largest_bound - largest).abs() < 1e-9);
            let d = divide_for_least_largest(&sizes, piles).expect("sizes");
            every_size_once(&d, &sizes);
            prop_assert!(d.proved && (d.largest - largest).abs() < 1e-9, "{} against {}", d.largest, largest);
        }

        #[test]
        fn of_any_list_every_size_lies_in_one_pile_and_no_bound_is_beaten(
            sizes in prop::collection::vec(0.0..16.0_f64, 0..90),
            piles in 1_usize..30,
        ) {
            let d = divide(&sizes, piles).expect("sizes");
            every_size_once(&d, &sizes);
            prop_assert_eq!(&d, &divide(&sizes, piles).expect("sizes"));
        }
    }
}
