//! Millimetres to inch fractions.

use super::MM_PER_INCH;

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

    proptest::proptest! {
        #[test]
        fn a_printed_fraction_reads_back_within_half_a_step(mm in -3000.0f64..3000.0) {
            let text = print_inch_fraction(mm, InchStep::SixtyFourth);
            let back = parse_length(&text, LengthUnit::Millimetre, DecimalMark::Point);
            proptest::prop_assert!(back.as_ref().is_ok_and(|x| (x - mm).abs() <= 0.198_437_6), "{mm} {text} {back:?}");
        }
    }
}
