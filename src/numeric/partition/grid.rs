//! Sizes as whole multiples of one unit, so that sums and comparisons are exact.

/// Parts of one that sizes are tried as multiples of, coarsest first.
const DECIMAL: [f64; 5] = [1.0, 10.0, 100.0, 1000.0, 1e6];
/// How far a size may lie from such a multiple, in units.
const ROUNDING: f64 = 1e-6;
/// Largest sum in units, where sizes are no decimal multiples: sums stay exact as `f64` too.
const LARGEST: f64 = 4_503_599_627_370_496.0;

/// Sizes in units.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    /// The sizes.
    pub(super) sizes: Vec<i64>,
    /// One unit.
    pub(super) unit: f64,
}

impl Grid {
    /// Sizes that are finite and not negative. Each is off by at most half of 2^-52 of the sum.
    pub(super) fn of(sizes: &[f64]) -> Grid {
        let total: f64 = sizes.iter().sum();
        let decimal = |by: &&f64| {
            total * **by < LARGEST && sizes.iter().all(|x| (x * **by - (x * **by).round()).abs() <= ROUNDING)
        };
        let by = DECIMAL.iter().find(decimal).copied().unwrap_or_else(|| LARGEST / total.max(f64::MIN_POSITIVE));
        let whole: Vec<i64> = sizes.iter().map(|x| whole(x * by)).collect();
        let common = whole.iter().fold(0, |a, b| gcd(a, *b)).max(1);
        // counts below 2^53
        let unit = common as f64 / by;
        Grid { sizes: whole.into_iter().map(|x| x / common).collect(), unit }
    }

    /// A sum in units as a size.
    pub(super) fn size(&self, units: i64) -> f64 {
        units as f64 * self.unit
    }
}

#[allow(clippy::cast_possible_truncation, reason = "rounded, and below 2^53 by construction; `as` saturates")]
fn whole(x: f64) -> i64 {
    x.round() as i64
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_sizes_are_exact_and_their_common_divisor_is_the_unit() {
        let g = Grid::of(&[0.3, 0.6, 1.5]);
        assert_eq!(g.sizes, [1, 2, 5]);
        assert!((g.unit - 0.3).abs() < 1e-15 && (g.size(8) - 2.4).abs() < 1e-15);
        assert_eq!(Grid::of(&[12.0, 18.0]).sizes, [2, 3]);
        assert_eq!(Grid::of(&[0.0, 0.0]).sizes, [0, 0]);
        assert!(Grid::of(&[]).sizes.is_empty());
    }

    #[test]
    fn other_sizes_are_kept_to_the_last_digit_of_their_sum() {
        let sizes = [std::f64::consts::PI, std::f64::consts::E, 1e-3 / 7.0];
        let g = Grid::of(&sizes);
        for (x, n) in sizes.iter().zip(&g.sizes) {
            assert!((g.size(*n) - x).abs() < 1e-14, "{x}");
        }
    }
}
