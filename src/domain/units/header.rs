//! Column headers with a unit in them.

use super::Unit;
use super::number::normalise;

/// A column header taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// The column's name: lower case, words joined by `_`, without the unit.
    pub name: String,
    /// The name as written, without the unit.
    pub stem: String,
    /// The unit stated in the header.
    pub unit: Option<Unit>,
    /// What stood in brackets where a unit belongs but is none.
    pub unknown_unit: Option<String>,
}

/// Takes a column header apart: `length_mm`, `length (mm)`, `length [in]`, `z in`, `value_in`, `z / mm`, `sd um`.
///
/// # Example
/// ```
/// use quarterlight::domain::units::{LengthUnit, Unit, parse_header};
/// let header = parse_header("Length (in)");
/// assert_eq!(header.name, "length");
/// assert_eq!(header.unit, Some(Unit::Length(LengthUnit::Inch)));
/// assert_eq!(parse_header("note").unit, None);
/// ```
#[must_use]
pub fn parse_header(text: &str) -> Header {
    let plain = normalise(text);
    if let Some((stem, inside)) = bracketed(&plain) {
        let unit = Unit::from_word(inside);
        let unknown_unit = if unit.is_none() { Some(inside.to_string()) } else { None };
        return Header { name: column_name(stem), stem: stem.to_string(), unit, unknown_unit };
    }
    let split = plain.rfind(['_', ' ', ',', '/', '-']).map(|i| (&plain[..i], &plain[i + 1..]));
    if let Some((before, word)) = split {
        let stem = before.trim_end_matches(['_', ' ', ',', '/', '-']);
        if let (Some(unit), false) = (Unit::from_word(word), stem.is_empty()) {
            return Header { name: column_name(stem), stem: stem.to_string(), unit: Some(unit), unknown_unit: None };
        }
    }
    Header { name: column_name(&plain), stem: plain, unit: None, unknown_unit: None }
}

/// `length (mm)` as `("length", "mm")`.
fn bracketed(text: &str) -> Option<(&str, &str)> {
    let (open, body) = match text.chars().last()? {
        ')' => ('(', text.strip_suffix(')')?),
        ']' => ('[', text.strip_suffix(']')?),
        _ => return None,
    };
    let (stem, inside) = body.rsplit_once(open)?;
    let stem = stem.trim_end_matches(['_', ' ']);
    if stem.is_empty() { None } else { Some((stem, inside.trim())) }
}

/// Lower case, with blanks and hyphens as single underscores.
fn column_name(text: &str) -> String {
    let words: Vec<String> = text
        .split(|c: char| c.is_whitespace() || matches!(c, '_' | '-'))
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("_")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::units::{AngleUnit, LengthUnit, WeightUnit};

    #[test]
    fn units_are_found_in_every_usual_place() {
        let mm = Some(Unit::Length(LengthUnit::Millimetre));
        let inch = Some(Unit::Length(LengthUnit::Inch));
        for (text, name, unit) in [
            ("length_mm", "length", mm),
            ("Length (mm)", "length", mm),
            ("length [in]", "length", inch),
            ("length(in)", "length", inch),
            ("z in", "z", inch),
            ("z / mm", "z", mm),
            ("value_in", "value", inch),
            ("sd um", "sd", Some(Unit::Length(LengthUnit::Micrometre))),
            ("sd (µm)", "sd", Some(Unit::Length(LengthUnit::Micrometre))),
            ("weight_g", "weight", Some(Unit::Weight(WeightUnit::Gram))),
            ("weight, oz", "weight", Some(Unit::Weight(WeightUnit::Ounce))),
            ("angle_deg", "angle", Some(Unit::Angle(AngleUnit::Degree))),
            ("angle from (deg)", "angle_from", Some(Unit::Angle(AngleUnit::Degree))),
            ("z from", "z_from", None),
            ("0deg", "0deg", None),
            ("45 deg", "45", Some(Unit::Angle(AngleUnit::Degree))),
            ("in", "in", None),
            ("", "", None),
            ("()", "()", None),
        ] {
            let h = parse_header(text);
            assert_eq!((h.name.as_str(), h.unit), (name, unit), "'{text}'");
        }
        assert_eq!(parse_header("length (cubits)").unknown_unit.as_deref(), Some("cubits"));
    }

    proptest::proptest! {
        #[test]
        fn no_header_makes_the_parser_panic(text in "\\PC*") {
            let _ = parse_header(&text);
        }
    }
}
