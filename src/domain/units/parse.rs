//! Texts to millimetres, grams and angles.

use super::number::{Amounts, amounts};
use super::{AngleUnit, DecimalMark, LengthUnit, MAX_ANGLE_DEG, MAX_LENGTH_MM, MAX_WEIGHT_G, UnitError, WeightUnit};
use crate::domain::Angle;

const LENGTHS: &str = "mm, cm, m, um, in, ft, thou";
const WEIGHTS: &str = "g, kg, oz, lb";
const ANGLES: &str = "deg, rad";

/// Reads a length.
///
/// # Arguments
/// * `text`: as found; a unit beside the number beats `bare`.
/// * `bare`: the unit of a bare number.
/// * `mark`: which sign marks decimals, where a text could be meant two ways.
///
/// # Returns
/// Millimetres; negative where a minus stands before the number. Correctly rounded for fractions and for decimals of
/// up to about 12 digits, otherwise within two units in the last place.
///
/// # Errors
/// Any [`UnitError`]; in particular a fraction without a unit while `bare` is not an inch unit, thousands separators,
/// and lengths above [`MAX_LENGTH_MM`].
///
/// # Example
/// ```
/// use quarterlight::domain::units::{DecimalMark, LengthUnit, parse_length};
/// let mm = |text| parse_length(text, LengthUnit::Millimetre, DecimalMark::Point);
/// assert_eq!(mm("12,5"), Ok(12.5));
/// assert_eq!(mm("1-1/64\""), Ok(25.796875));
/// assert!(mm("5/8").is_err(), "five eighths of what?");
/// ```
pub fn parse_length(text: &str, bare: LengthUnit, mark: DecimalMark) -> Result<f64, UnitError> {
    let found = amounts(text, mark)?;
    let units = units_of(&found, LengthUnit::from_word, bare, bare.takes_fractions(), bare.word(), LENGTHS)?;
    let pair = units.as_slice() == [LengthUnit::Foot, LengthUnit::Inch];
    let mm = total(&found, &units.iter().map(|u| u.ratio()).collect::<Vec<_>>(), pair)?;
    within(mm, MAX_LENGTH_MM, "10000 mm")
}

/// Reads a weight; see [`parse_length`] for the arguments.
///
/// # Returns
/// Grams.
///
/// # Errors
/// Any [`UnitError`]; weights above [`MAX_WEIGHT_G`] are refused.
///
/// # Example
/// ```
/// use quarterlight::domain::units::{DecimalMark, WeightUnit, parse_weight};
/// let g = parse_weight("2 lb 3 oz", WeightUnit::Gram, DecimalMark::Point).unwrap();
/// assert!((g - 992.233309375).abs() < 1e-9);
/// ```
pub fn parse_weight(text: &str, bare: WeightUnit, mark: DecimalMark) -> Result<f64, UnitError> {
    let found = amounts(text, mark)?;
    let units = units_of(&found, WeightUnit::from_word, bare, bare.takes_fractions(), bare.word(), WEIGHTS)?;
    let pair = units.as_slice() == [WeightUnit::Pound, WeightUnit::Ounce];
    let grams = total(&found, &units.iter().map(|u| u.ratio()).collect::<Vec<_>>(), pair)?;
    within(grams, MAX_WEIGHT_G, "10000 kg")
}

/// The unit of length that stands beside the number, where one does.
pub(crate) fn length_unit_beside(text: &str) -> Option<LengthUnit> {
    LengthUnit::from_word(&either_mark(text)?.list.last()?.unit)
}

/// The unit of weight that stands beside the number (the first of `2 lb 3 oz`), where one does.
pub(crate) fn weight_unit_beside(text: &str) -> Option<WeightUnit> {
    WeightUnit::from_word(&either_mark(text)?.list.first()?.unit)
}

/// The amounts of a text whichever sign marks decimals.
fn either_mark(text: &str) -> Option<Amounts> {
    amounts(text, DecimalMark::Point).or_else(|_| amounts(text, DecimalMark::Comma)).ok()
}

/// Reads an angle; a bare number takes the unit `bare`. Not wrapped.
///
/// # Errors
/// Any [`UnitError`]; angles beyond [`MAX_ANGLE_DEG`] either way are refused.
pub fn parse_angle(text: &str, bare: AngleUnit, mark: DecimalMark) -> Result<Angle, UnitError> {
    let found = amounts(text, mark)?;
    let units = units_of(&found, AngleUnit::from_word, bare, true, bare.word(), ANGLES)?;
    let number = total(&found, &vec![(1, 1); units.len()], false)?;
    let angle = match units.first() {
        Some(AngleUnit::Radian) => Angle::from_radians(number),
        _ => Angle::from_degrees(number),
    };
    within(angle.degrees(), MAX_ANGLE_DEG, "3600 deg")?;
    Ok(angle)
}

/// Reads a number that has no unit, or one of `units` (such as `%`), which changes nothing.
///
/// # Errors
/// Any [`UnitError`].
pub fn parse_number(text: &str, units: &[&str], mark: DecimalMark) -> Result<f64, UnitError> {
    let found = amounts(text, mark)?;
    if let Some(a) = found.list.iter().find(|a| !a.unit.is_empty() && !units.contains(&a.unit.as_str())) {
        return Err(UnitError::UnknownUnit { unit: a.unit.clone(), known: "(none: a plain number)" });
    }
    let x = total(&found, &vec![(1, 1); found.list.len()], false)?;
    within(x, f64::MAX, "any number")
}

/// The unit of every amount; refuses unknown ones and bare fractions where the column does not take them.
fn units_of<U: Copy>(
    found: &Amounts,
    from_word: impl Fn(&str) -> Option<U>,
    bare: U,
    fractions: bool,
    column: &'static str,
    known: &'static str,
) -> Result<Vec<U>, UnitError> {
    if found.list.len() > 1 && found.list.iter().any(|a| a.unit.is_empty()) {
        return Err(UnitError::SeveralNumbers);
    }
    let one = |unit: &str| from_word(unit).ok_or_else(|| UnitError::UnknownUnit { unit: unit.to_string(), known });
    found
        .list
        .iter()
        .map(|a| match a.unit.as_str() {
            "" if a.fraction && !fractions => Err(UnitError::FractionWithoutUnit { column }),
            "" => Ok(bare),
            unit => one(unit),
        })
        .collect()
}

/// The sum of the amounts in the base unit; more than one only where they are a `pair` such as feet and inches.
fn total(found: &Amounts, ratios: &[(u128, u128)], pair: bool) -> Result<f64, UnitError> {
    if found.list.len() > 1 && !pair {
        return Err(UnitError::SeveralNumbers);
    }
    let sum: f64 = found.list.iter().zip(ratios).map(|(a, r)| a.number.times(*r)).sum();
    Ok(if found.negative && sum > 0.0 { -sum } else { sum })
}

fn within(x: f64, limit: f64, text: &'static str) -> Result<f64, UnitError> {
    if !x.is_finite() || x.abs() > limit { Err(UnitError::TooLarge { limit: text }) } else { Ok(x) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::units::{G_PER_OUNCE, G_PER_POUND, MM_PER_INCH, Quantity};

    fn mm(text: &str) -> Result<f64, UnitError> {
        parse_length(text, LengthUnit::Millimetre, DecimalMark::Point)
    }

    fn inch(text: &str) -> Result<f64, UnitError> {
        parse_length(text, LengthUnit::Inch, DecimalMark::Point)
    }

    fn exactly(text: &str, want: f64) {
        let got = mm(text);
        assert!(got.as_ref().is_ok_and(|x| x.to_bits() == want.to_bits()), "'{text}' gave {got:?}, wanted {want}");
    }

    #[test]
    fn every_usual_spelling_of_a_length_is_read() {
        for (text, want) in [
            ("12.5", 12.5),
            (" 12,5 ", 12.5),
            ("12.5mm", 12.5),
            ("12.5 MM", 12.5),
            ("+12.5 mm.", 12.5),
            ("-0.25 mm", -0.25),
            ("\u{2212}0,25", -0.25),
            (".5", 0.5),
            (",5", 0.5),
            ("5.", 5.0),
            ("1e-2", 0.01),
            ("0,125", 0.125),
            ("35 um", 0.035),
            ("35 µm", 0.035),
            ("35 μm", 0.035),
            ("2.5 cm", 25.0),
            ("1.2 m", 1200.0),
            ("1 in", 25.4),
            ("0.492 in", 12.4968),
            ("0.492\"", 12.4968),
            ("0,492″", 12.4968),
            ("0.492''", 12.4968),
            ("2 5/8 in", 66.675),
            ("2-5/8\"", 66.675),
            ("2 - 5/8 inches", 66.675),
            ("5/8\"", 15.875),
            ("⅝ in", 15.875),
            ("2⅝\"", 66.675),
            ("2 ⅝\"", 66.675),
            ("2-⅝ in.", 66.675),
            ("2½”", 63.5),
            ("1 3/64\"", 26.590625),
            ("1 3/64 in", 26.590625),
            ("1-1/64\"", 25.796875),
            ("-1/64 in", -0.396875),
            ("10 thou", 0.254),
            ("10 mil", 0.254),
            ("1' 2\"", 355.6),
            ("1'2''", 355.6),
            ("1 ft 2 in", 355.6),
            ("1' 2 5/8\"", 371.475),
            ("1\u{a0}000\u{a0}mm", f64::NAN),
        ] {
            if want.is_nan() {
                assert_eq!(mm(text), Err(UnitError::SeveralNumbers), "'{text}'");
            } else {
                exactly(text, want);
            }
        }
    }

    #[test]
    fn a_bare_number_takes_the_unit_of_its_column() {
        assert_eq!(inch("2-5/8"), Ok(66.675));
        assert_eq!(inch("5/8"), Ok(15.875));
        assert_eq!(inch("1"), Ok(25.4));
        assert_eq!(inch("25.4 mm"), Ok(25.4), "the unit beside the number beats the column");
        assert_eq!(parse_length("35", LengthUnit::Micrometre, DecimalMark::Point), Ok(0.035));
    }

    #[test]
    fn what_can_be_meant_two_ways_is_refused_with_a_question() {
        assert_eq!(mm("5/8"), Err(UnitError::FractionWithoutUnit { column: "mm" }));
        assert_eq!(mm("2 5/8"), Err(UnitError::FractionWithoutUnit { column: "mm" }));
        for text in ["1,234.5", "1.234,5", "1,234,567", "1.234.567", "1,234"] {
            let e = mm(text).expect_err(text);
            assert!(matches!(e, UnitError::Grouped { .. }), "{text}: {e:?}");
            assert!(e.fix(Quantity::Length).contains("thousands"), "{text}: {e:?}");
        }
        assert!(mm("1,234").expect_err("two ways").fix(Quantity::Length).contains("is 1.234 meant, or 1234?"));
        assert_eq!(parse_length("25,134", LengthUnit::Millimetre, DecimalMark::Comma), Ok(25.134));
        assert!(parse_length("25.134", LengthUnit::Millimetre, DecimalMark::Comma).is_err());
        assert_eq!(mm("25.134"), Ok(25.134));
        assert_eq!(mm("12 5"), Err(UnitError::SeveralNumbers));
        assert_eq!(mm("1' 2"), Err(UnitError::SeveralNumbers));
        assert_eq!(mm("2\" 1'"), Err(UnitError::SeveralNumbers));
        assert_eq!(mm("2 9/8 in"), Err(UnitError::ImproperPart));
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for (text, want) in [
            ("", UnitError::Empty),
            ("   ", UnitError::Empty),
            ("NaN", UnitError::NotFinite),
            ("-inf", UnitError::NotFinite),
            ("Infinity", UnitError::NotFinite),
            ("abc", UnitError::NotANumber),
            ("-", UnitError::NotANumber),
            (".", UnitError::NotANumber),
            ("12,", UnitError::NotANumber),
            ("2-3", UnitError::NotANumber),
            ("--2", UnitError::NotANumber),
            ("1/0 in", UnitError::ZeroDenominator),
            ("5/8/2026", UnitError::Date),
            ("8-May", UnitError::Date),
            ("2026-05-08", UnitError::Date),
            ("1e300", UnitError::TooLarge { limit: "10000 mm" }),
            ("1e999", UnitError::TooLarge { limit: "10000 mm" }),
            ("99999999999999999999", UnitError::TooLarge { limit: "10000 mm" }),
        ] {
            assert_eq!(mm(text), Err(want), "'{text}'");
        }
        assert!(matches!(mm("12 g"), Err(UnitError::UnknownUnit { .. })));
        assert!(mm(&"9".repeat(5000)).is_err());
    }

    #[test]
    fn weights_agree_with_the_exact_factors() {
        let g = |t| parse_weight(t, WeightUnit::Gram, DecimalMark::Point);
        assert_eq!(g("31,5"), Ok(31.5));
        assert_eq!(g("1.2 kg"), Ok(1200.0));
        assert_eq!(g("1 oz"), Ok(G_PER_OUNCE));
        assert_eq!(g("1 lb"), Ok(G_PER_POUND));
        assert_eq!(g("1 1/2 oz"), Ok(42.5242846875));
        assert_eq!(mm("1 in"), Ok(MM_PER_INCH));
        assert!(g("1/2").is_err(), "half of what?");
        assert_eq!(parse_weight("1/2", WeightUnit::Pound, DecimalMark::Point), Ok(226.796185));
        assert!(g("5 mm").is_err());
    }

    #[test]
    fn advice_shows_numbers_of_the_kind_that_was_asked_for() {
        let g = parse_weight("light", WeightUnit::Gram, DecimalMark::Point).expect_err("no weight");
        assert_eq!(g.fix(Quantity::Weight), "write a number such as 24.5, 24.5 g or 7/8 oz");
        assert!(mm("x").expect_err("no length").fix(Quantity::Length).ends_with("12.5 mm or 2 5/8 in"));
        let half = parse_weight("1/2", WeightUnit::Gram, DecimalMark::Point).expect_err("half of what?");
        let said = half.fix(Quantity::Weight);
        assert!(said.starts_with("are ounces meant? Bare numbers are g here") && !said.contains("header"), "{said}");
    }

    #[test]
    fn the_unit_beside_a_number_is_told() {
        for (text, unit) in [
            ("12.5", None),
            ("12,345", None),
            ("12.345 mm", Some(LengthUnit::Millimetre)),
            ("12,345 mm", Some(LengthUnit::Millimetre)),
            ("2 5/8\"", Some(LengthUnit::Inch)),
            ("12.5 g", None),
            ("", None),
        ] {
            assert_eq!(length_unit_beside(text), unit, "'{text}'");
        }
        assert_eq!(weight_unit_beside("2 lb 3 oz"), Some(WeightUnit::Pound));
        assert_eq!(weight_unit_beside("7/8 oz"), Some(WeightUnit::Ounce));
    }

    #[test]
    fn angles_are_degrees_unless_said_otherwise() {
        let a = |t| parse_angle(t, AngleUnit::Degree, DecimalMark::Point).map(|a| a.degrees());
        for (text, want) in [("45", 45.0), ("45°", 45.0), ("22,5 deg", 22.5), ("-90", -90.0), ("22½", 22.5)] {
            assert!(a(text).is_ok_and(|x| (x - want).abs() < 1e-12), "'{text}' {:?}", a(text));
        }
        assert!(a("3.141592653589793 rad").is_ok_and(|x| (x - 180.0).abs() < 1e-9));
        assert!(a("45° 30'").is_err());
        assert!(a("1e9").is_err());
    }

    #[test]
    fn plain_numbers_may_carry_a_percent_sign_where_it_is_allowed() {
        assert_eq!(parse_number("45 %", &["%"], DecimalMark::Point), Ok(45.0));
        assert!(parse_number("45 %", &[], DecimalMark::Point).is_err());
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_the_parsers_panic(text in "\\PC*") {
            let _ = mm(&text);
            let _ = parse_weight(&text, WeightUnit::Ounce, DecimalMark::Comma);
            let _ = parse_angle(&text, AngleUnit::Radian, DecimalMark::Point);
            let _ = parse_number(&text, &["%"], DecimalMark::Comma);
        }

        #[test]
        fn no_mixture_of_number_characters_gives_something_not_finite(text in "[0-9.,/ '\"½⅝+eE-]{0,20}(mm|in|ft)?") {
            for mark in [DecimalMark::Point, DecimalMark::Comma] {
                if let Ok(x) = parse_length(&text, LengthUnit::Inch, mark) {
                    proptest::prop_assert!(x.is_finite() && x.abs() <= MAX_LENGTH_MM, "'{text}' {x}");
                }
            }
        }

        #[test]
        fn a_decimal_reads_the_same_with_point_and_comma(x in 0.0f64..5000.0, decimals in 0usize..3) {
            let text = format!("{x:.decimals$}");
            proptest::prop_assert_eq!(mm(&text), mm(&text.replace('.', ",")));
            proptest::prop_assert_eq!(mm(&text), Ok(text.parse::<f64>().unwrap_or(f64::NAN)));
        }
    }
}
