//! Lengths and doubts as text in the unit the user asked for.

use crate::domain::units::{LengthUnit, MM_PER_INCH, decimal};
use crate::domain::{Lot, Phrase};
use crate::tube::Measured;

/// The unit lengths are shown in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Decimal inches.
    Inch,
}

/// What stands where the readings cannot see a quantity.
pub(crate) const NOT_SEEN: &str = "not seen";

impl Units {
    /// The unit a lot states, else millimetres.
    #[must_use]
    pub fn of(lot: &Lot) -> Units {
        if lot.units == Some(LengthUnit::Inch) { Units::Inch } else { Units::Mm }
    }

    /// The word behind a number or in a column title.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Units::Mm => "mm",
            Units::Inch => "in",
        }
    }

    /// What a taper is told in: over 100 mm, or over a foot as on drawings in inches.
    #[must_use]
    pub fn taper_word(self) -> &'static str {
        match self {
            Units::Mm => "mm per 100 mm",
            Units::Inch => "in per ft",
        }
    }

    /// A taper, mm per 100 mm, as a number in that unit.
    #[must_use]
    pub fn taper(self, mm_per_100mm: f64) -> f64 {
        match self {
            Units::Mm => mm_per_100mm,
            // a ratio has no unit: over 12 in
            Units::Inch => mm_per_100mm / 100.0 * 12.0,
        }
    }

    /// Decimals a taper is told with: hundredths of a millimetre over 100 mm are thousandths of an inch over a foot.
    #[must_use]
    pub fn taper_decimals(self) -> usize {
        match self {
            Units::Mm => 2,
            Units::Inch => 3,
        }
    }

    /// A measured taper as "value +- sd" and its unit, or that it is not seen.
    #[must_use]
    pub(crate) fn measured_taper(self, m: Option<Measured>) -> String {
        m.map_or_else(
            || NOT_SEEN.to_string(),
            |m| {
                let d = self.taper_decimals();
                format!(
                    "{} {}",
                    pair(self.taper(m.value), self.taper(m.sd), d, self.fine_decimals()),
                    self.taper_word()
                )
            },
        )
    }

    /// A length of `mm` as a number in this unit.
    #[must_use]
    pub fn number(self, mm: f64) -> f64 {
        match self {
            Units::Mm => mm,
            Units::Inch => mm / MM_PER_INCH,
        }
    }

    /// A length of `mm` with `mm_decimals` decimals in millimetres, two more in inches.
    #[must_use]
    pub fn length(self, mm: f64, mm_decimals: usize) -> String {
        decimal(self.number(mm), self.decimals(mm_decimals))
    }

    /// The length and its unit's word.
    #[must_use]
    pub(crate) fn with_word(self, mm: f64, mm_decimals: usize) -> String {
        format!("{} {}", self.length(mm, mm_decimals), self.word())
    }

    /// A phrase with its lengths in this unit.
    #[must_use]
    pub fn told(self, phrase: &Phrase) -> String {
        phrase.told(|mm, decimals| self.length(mm, decimals), self.word())
    }

    /// Decimals in this unit that match `mm_decimals` in millimetres; in inches four at most, since no eye and no tool here
    /// tells less than a ten-thousandth.
    #[must_use]
    pub fn decimals(self, mm_decimals: usize) -> usize {
        match self {
            Units::Mm => mm_decimals,
            Units::Inch => (mm_decimals + 2).min(4),
        }
    }

    /// Decimals of a length measured at one station: thousandths of a millimetre, ten-thousandths of an inch (2.5 um).
    #[must_use]
    pub(crate) fn fine_decimals(self) -> usize {
        match self {
            Units::Mm => 3,
            Units::Inch => 4,
        }
    }

    /// A measured length as "value +- sd", or that it is not seen; told finer where the doubt would show as nought.
    #[must_use]
    pub fn measured(self, m: Option<Measured>, mm_decimals: usize) -> String {
        let told = |m: Measured| {
            let told = pair(self.number(m.value), self.number(m.sd), self.decimals(mm_decimals), self.fine_decimals());
            match told.split_once(" +-<") {
                // neither value nor doubt reaches the last decimal
                Some((value, step)) if is_nought(value) => format!("under {step}"),
                _ => told,
            }
        };
        m.map_or_else(|| NOT_SEEN.to_string(), told)
    }

    /// [`Units::measured`] with the unit's word, the sign set as in print.
    #[must_use]
    pub(crate) fn measured_in_print(self, m: Option<Measured>, mm_decimals: usize) -> String {
        let text = self.measured(m, mm_decimals).replace(" +-", " ± ");
        if m.is_some() { format!("{text} {}", self.word()) } else { text }
    }
}

/// A measured angle as "value +- sd" in degrees, or that it is not seen; finer than whole ones where the doubt would show
/// as nought.
#[must_use]
pub(crate) fn measured_degrees(m: Option<Measured>) -> String {
    let told = |m: Measured| {
        let told = pair(m.value, m.sd, 0, 1);
        // a turn ends at 359, or at 359.9
        if told.starts_with("360") { pair(0.0, m.sd, 0, 1) } else { told }
    };
    m.map_or_else(|| NOT_SEEN.to_string(), told)
}

/// Whether a printed number shows no other digit than nought.
fn is_nought(number: &str) -> bool {
    !number.contains(|c| ('1'..='9').contains(&c))
}

/// Value and doubt with this many decimals, or one more where only that keeps the doubt from showing as nought and no eye
/// needs less (`most`). A doubt that still shows as nought is told as less than one step of the last decimal.
pub(crate) fn pair(value: f64, sd: f64, decimals: usize, most: usize) -> String {
    let nought = |d: usize| is_nought(&decimal(sd, d));
    let decimals = decimals + usize::from(decimals < most && nought(decimals) && !nought(decimals + 1));
    let value = decimal(value, decimals);
    match (nought(decimals) && sd > 0.0, decimals) {
        (false, _) => format!("{value} +-{}", decimal(sd, decimals)),
        (true, 0) => format!("{value} +-<1"),
        (true, d) => format!("{value} +-<0.{:0>d$}", 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_negative_number_is_not_printed_as_minus_nought() {
        assert_eq!(Units::Mm.length(-0.0001, 2), "0.00");
        assert_eq!(Units::Inch.length(25.4, 1), "1.000");
        assert_eq!(Units::Mm.measured(None, 1), "not seen");
        assert_eq!(Units::Mm.measured(Some(Measured { value: 1.25, sd: 0.04 }), 2), "1.25 +-0.04");
    }

    #[test]
    fn a_small_doubt_is_not_printed_as_none() {
        let m = |value: f64, sd: f64| Some(Measured { value, sd });
        assert_eq!(Units::Mm.measured(m(0.012, 0.003), 2), "0.012 +-0.003");
        assert_eq!(Units::Mm.measured_in_print(m(0.012, 0.003), 2), "0.012 ± 0.003 mm");
        assert_eq!(Units::Mm.measured(m(0.0, 0.0003), 2), "under 0.01");
        assert_eq!(Units::Mm.measured_in_print(None, 2), "not seen");
        assert_eq!(measured_degrees(m(306.96, 0.43)), "307.0 +-0.4");
        assert_eq!(measured_degrees(m(39.6, 0.8)), "40 +-1");
        assert_eq!(measured_degrees(m(40.0, 0.0)), "40 +-0");
        assert_eq!(measured_degrees(m(359.7, 3.0)), "0 +-3", "whole degrees end at 359");
    }

    #[test]
    fn in_inches_nothing_is_told_finer_than_a_ten_thousandth() {
        let m = |value: f64, sd: f64| Some(Measured { value, sd });
        // 0.0003 +- 0.001 mm would be 0.00001 +-0.00004 in
        assert_eq!(Units::Inch.measured(m(0.0003, 0.001), 2), "under 0.0001");
        assert_eq!(Units::Inch.measured(m(-0.0003, 0.001), 2), "under 0.0001");
        assert_eq!(Units::Inch.length(0.0254, 3), "0.0010");
        // a doubt of 0.0005 mm beside a size that is seen
        assert_eq!(Units::Inch.measured(m(12.7, 0.0005), 2), "0.5000 +-<0.0001");
        assert_eq!(Units::Inch.measured(m(12.7, 0.0254), 1), "0.500 +-0.001");
        assert_eq!(Units::Inch.measured(m(12.7, 0.00762), 1), "0.5000 +-0.0003");
    }

    #[test]
    fn a_taper_in_inches_is_told_over_a_foot() {
        // 0.5 mm per 100 mm is 0.005, which is 0.06 in over 12 in
        assert!((Units::Inch.taper(0.5) - 0.06).abs() < 1e-12);
        let m = Some(Measured { value: 0.5, sd: 0.05 });
        assert_eq!(Units::Inch.measured_taper(m), "0.060 +-0.006 in per ft");
        assert_eq!(Units::Mm.measured_taper(m), "0.50 +-0.05 mm per 100 mm");
        assert_eq!(Units::Inch.measured_taper(None), "not seen");
    }
}
