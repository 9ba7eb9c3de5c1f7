//! Millimetres and grams to text.

use super::{G_PER_OUNCE, MM_PER_INCH};

/// The finest step of a printed inch fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum InchStep {
    /// Nearest 1/32 in (0.79375 mm).
    ThirtySecond,
    /// Nearest 1/64 in (0.396875 mm).
    SixtyFourth,
}

/// Millimetres with a stated number of decimals: `12.50 mm`.
#[must_use]
pub fn print_mm(mm: f64, decimals: usize) -> String {
    format!("{} mm", fixed(mm, decimals))
}

/// A length in mm as decimal inches: `0.492 in`.
#[must_use]
pub fn print_inch(mm: f64, decimals: usize) -> String {
    format!("{} in", fixed(mm / MM_PER_INCH, decimals))
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
        return print_inch(mm, 3);
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

/// Grams with a stated number of decimals, from 1000 g on as kilograms: `31.5 g`, `1.250 kg`.
#[must_use]
pub fn print_weight(grams: f64, decimals: usize) -> String {
    if grams.abs() >= 1000.0 {
        format!("{} kg", fixed(grams / 1000.0, 3))
    } else {
        format!("{} g", fixed(grams, decimals))
    }
}

/// Grams as avoirdupois pounds and ounces, ounces with a stated number of decimals: `2 lb 3.0 oz`, `5.5 oz`.
#[must_use]
pub fn print_pounds_ounces(grams: f64, decimals: usize) -> String {
    let scale = 10f64.powi(i32::try_from(decimals.min(9)).unwrap_or(9));
    // round once, in the printed step, so that 15.99 oz never prints as "16.0 oz"
    let ounces = (grams.abs() / G_PER_OUNCE * scale).round() / scale;
    let sign = if grams < 0.0 && ounces > 0.0 { "-" } else { "" };
    match whole((ounces / 16.0).floor()) {
        Some(0) | None => format!("{sign}{} oz", fixed(ounces, decimals)),
        Some(pounds) => format!("{sign}{pounds} lb {} oz", fixed(ounces - 16.0 * pounds as f64, decimals)),
    }
}

/// Fixed decimals without a minus before zero.
fn fixed(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_string(),
        _ => text,
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
    fn decimals_are_fixed_and_zero_has_no_sign() {
        assert_eq!(print_mm(12.5, 2), "12.50 mm");
        assert_eq!(print_mm(-0.001, 2), "0.00 mm");
        assert_eq!(print_inch(12.4968, 3), "0.492 in");
        assert_eq!(print_weight(31.46, 1), "31.5 g");
        assert_eq!(print_weight(1250.0, 1), "1.250 kg");
    }

    #[test]
    fn ounces_carry_into_pounds() {
        assert_eq!(print_pounds_ounces(992.233309375, 1), "2 lb 3.0 oz");
        assert_eq!(print_pounds_ounces(453.59, 1), "1 lb 0.0 oz");
        assert_eq!(print_pounds_ounces(31.5, 2), "1.11 oz");
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
