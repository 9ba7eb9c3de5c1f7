//! Numbers and inch fractions as text.

use super::{MM_PER_INCH, WeightUnit};

/// A number with this many decimals, half a step away from zero, and never a nought with a sign: `-0.04` with one decimal is
/// `0.0`. Every number of a report, table, figure or page that can be below zero is written by it.
///
/// # Degenerate cases
/// What is not finite prints as `inf`, `-inf` or `NaN`.
///
/// # Example
/// ```
/// use quarterlight::domain::units::decimal;
/// assert_eq!([decimal(-0.04, 1), decimal(-0.05, 1)], ["0.0", "-0.1"]);
/// ```
#[must_use]
pub fn decimal(x: f64, decimals: usize) -> String {
    let p = 10_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX));
    let steps = (x * p).round();
    // numbers too large for the product have no decimals to round; adding nought drops the sign of a nought below it
    let rounded = if steps.is_finite() { steps / p + 0.0 } else { x };
    format!("{rounded:.decimals$}")
}

/// A weight in a unit, its word behind it, with as many decimals as match `g_decimals` in grams.
///
/// # Example
/// ```
/// use quarterlight::domain::units::{WeightUnit, print_weight};
/// assert_eq!(print_weight(22.4, WeightUnit::Gram, 1), "22.4 g");
/// assert_eq!(print_weight(22.4, WeightUnit::Ounce, 1), "0.79 oz");
/// ```
#[must_use]
pub fn print_weight(grams: f64, unit: WeightUnit, g_decimals: usize) -> String {
    format!("{} {}", decimal(grams / unit.grams(), unit.decimals(g_decimals)), unit.word())
}

/// The finest step of a printed inch fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum InchStep {
    /// Nearest 1/32 in (0.79375 mm).
    ThirtySecond,
    /// Nearest 1/64 in (0.396875 mm).
    SixtyFourth,
}

/// A length in mm as inches to the nearest step, the fraction reduced: `2 5/8 in`.
///
/// # Degenerate cases
/// Half steps go away from zero; what is not finite, or beyond 2^53 steps, prints as decimals.
///
/// # Example
/// ```
/// use quarterlight::domain::units::{InchStep, print_inch_fraction};
/// assert_eq!(print_inch_fraction(66.7, InchStep::ThirtySecond), "2 5/8 in");
/// ```
#[must_use]
pub fn print_inch_fraction(mm: f64, step: InchStep) -> String {
    let per_inch: u64 = match step {
        InchStep::ThirtySecond => 32,
        InchStep::SixtyFourth => 64,
    };
    let Some(steps) = whole((mm / MM_PER_INCH * per_inch as f64).abs().round()) else {
        return format!("{:.3} in", mm / MM_PER_INCH);
    };
    let sign = if mm < 0.0 && steps > 0 { "-" } else { "" };
    let (inches, mut top, mut bottom) = (steps / per_inch, steps % per_inch, per_inch);
    while top > 0 && top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    match (inches, top) {
        (n, 0) => format!("{sign}{n} in"),
        (0, _) => format!("{sign}{top}/{bottom} in"),
        (n, _) => format!("{sign}{n} {top}/{bottom} in"),
    }
}

/// A rounded number not below zero as an integer, where it fits exactly.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "guarded: finite, whole, 0..2^53")]
fn whole(x: f64) -> Option<u64> {
    (x.is_finite() && (0.0..9.007_199_254_740_992e15).contains(&x)).then_some(x as u64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::units::{DecimalMark, LengthUnit, parse_length};

    #[test]
    fn inches_print_as_reduced_fractions() {
        for (mm, step, want) in [
            (66.675, InchStep::SixtyFourth, "2 5/8 in"),
            (25.796875, InchStep::SixtyFourth, "1 1/64 in"),
            (25.796875, InchStep::ThirtySecond, "1 1/32 in"),
            (25.4, InchStep::ThirtySecond, "1 in"),
            (25.3, InchStep::ThirtySecond, "1 in"),
            (12.7, InchStep::SixtyFourth, "1/2 in"),
            (-66.675, InchStep::SixtyFourth, "-2 5/8 in"),
            (-0.01, InchStep::SixtyFourth, "0 in"),
            (0.0, InchStep::ThirtySecond, "0 in"),
        ] {
            assert_eq!(print_inch_fraction(mm, step), want, "{mm} mm");
        }
        assert_eq!(print_inch_fraction(f64::NAN, InchStep::SixtyFourth), "NaN in");
    }

    #[test]
    fn no_nought_has_a_sign() {
        for (x, decimals, want) in [
            (-0.0, 0, "0"),
            (-0.4, 0, "0"),
            (-0.5, 0, "-1"),
            (-0.04, 1, "0.0"),
            (-0.004, 2, "0.00"),
            (-0.006, 2, "-0.01"),
            (-1e-300, 3, "0.000"),
            (0.0, 2, "0.00"),
            (2.5, 0, "3"),
            (0.125, 2, "0.13"),
            (-12.34, 1, "-12.3"),
            (f64::INFINITY, 1, "inf"),
            (-1e300, 0, &format!("{:.0}", -1e300)),
        ] {
            assert_eq!(decimal(x, decimals), want, "{x} with {decimals}");
        }
        assert_eq!(decimal(f64::NAN, 1), "NaN");
    }

    proptest::proptest! {
        #[test]
        fn a_number_reads_back_within_half_a_step_and_never_as_a_negative_nought(x in -2.0f64..2.0, d in 0usize..5) {
            let text = decimal(x, d);
            let back: f64 = text.parse().expect("a number");
            proptest::prop_assert!((back - x).abs() <= 0.5 * 10_f64.powi(-i32::try_from(d).expect("few")) + 1e-12, "{x} {text}");
            proptest::prop_assert!(back < 0.0 || !text.starts_with('-'), "{x} {text}");
        }

        #[test]
        fn a_printed_fraction_reads_back_within_half_a_step(mm in -3000.0f64..3000.0) {
            let text = print_inch_fraction(mm, InchStep::SixtyFourth);
            let back = parse_length(&text, LengthUnit::Millimetre, DecimalMark::Point);
            proptest::prop_assert!(back.as_ref().is_ok_and(|x| (x - mm).abs() <= 0.198_437_6), "{mm} {text} {back:?}");
        }
    }
}
