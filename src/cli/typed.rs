//! What a number, a length or a set that is typed behind an option may be.

use quarterlight::domain::units::{DecimalMark, LengthUnit, Quantity, parse_length};
use quarterlight::domain::{Instrument, Target};

pub(super) fn humidity(text: &str) -> Result<f64, String> {
    number_within(text, 0.0, 100.0)
}

pub(super) fn minutes(text: &str) -> Result<f64, String> {
    number_within(text, 0.1, 600.0)
}

pub(super) fn minute_blanks(text: &str) -> Result<f64, String> {
    number_within(text, 0.0, 10.0)
}

fn number_within(text: &str, least: f64, most: f64) -> Result<f64, String> {
    let number: Option<f64> = text.trim().replace(',', ".").parse().ok();
    number
        .filter(|x| (least..=most).contains(x))
        .ok_or_else(|| format!("found '{text}'; expected a number from {least} to {most}"))
}

pub(super) fn tube_length_mm(text: &str) -> Result<f64, String> {
    length_within(text, 60.0, 3000.0)
}

pub(super) fn span_mm(text: &str) -> Result<f64, String> {
    length_within(text, 5.0, 2900.0)
}

pub(super) fn diameter_mm(text: &str) -> Result<f64, String> {
    length_within(text, 5.0, 80.0)
}

fn length_within(text: &str, least: f64, most: f64) -> Result<f64, String> {
    let mm = parse_length(text, LengthUnit::Millimetre, DecimalMark::Point)
        .map_err(|e| format!("found {e}; expected a length such as 25.4 or \"1 in\"; {}", e.fix(Quantity::Length)))?;
    if (least..=most).contains(&mm) {
        Ok(mm)
    } else {
        Err(format!("found {mm} mm; expected {least} to {most} mm (a bare number is millimetres)"))
    }
}

/// A length from 50 to 1000 mm: below it the rule would protect no hand.
pub(super) fn no_hands_mm(text: &str) -> Result<f64, String> {
    let mm = parse_length(text, LengthUnit::Millimetre, DecimalMark::Point)
        .map_err(|e| format!("found {e}; expected a length such as 150 or \"6 in\"; {}", e.fix(Quantity::Length)))?;
    if (50.0..=1000.0).contains(&mm) { Ok(mm) } else { Err(format!("found {mm} mm; expected 50 to 1000 mm")) }
}

/// A starting set by its name.
pub(super) fn instrument(text: &str) -> Result<Target, String> {
    Target::for_instrument(text).ok_or_else(|| format!("expected one of {}", Instrument::names().join(", ")))
}

/// What a blank of a set is worth: `NAME=AMOUNT`.
pub(super) fn worth(text: &str) -> Result<(String, f64), String> {
    let bad = || format!("found '{text}'; expected a set and what a blank of it is worth, such as clarinet=1.20");
    let (name, amount) = text.rsplit_once('=').ok_or_else(bad)?;
    let amount = number_within(amount, 0.0, 1e6).map_err(|_| bad())?;
    if name.trim().is_empty() { Err(bad()) } else { Ok((name.trim().to_string(), amount)) }
}
