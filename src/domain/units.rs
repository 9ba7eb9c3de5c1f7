//! Reading and printing lengths, weights and angles: the only conversion factors in the crate.
//!
//! # What is read
//!
//! | quantity | spellings |
//! |---|---|
//! | length, metric | `12.5`, `12,5` (decimal comma), `12.5 mm`, `35 um`, `35 µm`, `2.5 cm`, `1.2 m` |
//! | length, inches | `0.492 in`, `0.492"`, `2 5/8 in`, `2-5/8"`, `2-5/8`, `5/8"`, `2½"`, `10 thou`, `1' 2"` |
//! | weight | `31.5`, `31.5 g`, `1.2 kg`, `5 oz`, `1 1/2 oz`, `2 lb`, `2 lb 3 oz` (avoirdupois) |
//! | angle | `45`, `45 deg`, `45°`, `0.785 rad` |
//!
//! A bare number takes the unit of its column. What can be meant two ways is refused with a question instead of
//! guessed: a fraction without a unit in a millimetre column (`5/8`), thousands separators (`1,234.5`), and `1,234`
//! where nothing says whether the comma marks decimals or thousands.
//!
//! Fractions and short decimals are held as exact ratios of integers until the last step, so that `1-1/64"` is
//! 25.796875 mm exactly.

use serde::{Deserialize, Serialize};

mod error;
mod header;
mod number;
mod parse;
mod print;

pub use error::{Quantity, UnitError};
pub use header::{Header, parse_header};
pub use number::DecimalMark;
pub(crate) use parse::{length_unit_beside, weight_unit_beside};
pub use parse::{parse_angle, parse_length, parse_number, parse_weight};
pub use print::{InchStep, decimal, print_inch_fraction, print_weight};

/// Millimetres in one inch: exact by the agreement in force since 1 July 1959 (addendum to NBS Circular 572, 1960).
pub const MM_PER_INCH: f64 = 25.4;
/// Grams in one avoirdupois ounce: exact (1/16 of 453.592 37 g).
pub const G_PER_OUNCE: f64 = 28.349_523_125;
/// Grams in one avoirdupois pound: exact by the same agreement.
pub const G_PER_POUND: f64 = 453.592_37;

/// Largest length read, mm: 10 m, beyond any tube; what is larger is a slip.
pub const MAX_LENGTH_MM: f64 = 10_000.0;
/// Largest weight read, g: 10 t, beyond any purchase.
pub const MAX_WEIGHT_G: f64 = 1.0e7;
/// Largest angle read, degrees: ten turns.
pub const MAX_ANGLE_DEG: f64 = 3600.0;

/// A unit of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[non_exhaustive]
pub enum LengthUnit {
    /// `um`, `µm`, `micron`.
    Micrometre,
    /// `mm`.
    #[default]
    Millimetre,
    /// `cm`.
    Centimetre,
    /// `m`.
    Metre,
    /// `thou`, `mil`: a thousandth of an inch.
    Thou,
    /// `in`, `inch`, `"`.
    Inch,
    /// `ft`, `'`.
    Foot,
}

impl LengthUnit {
    /// The unit named by `word`, ignoring case, surrounding blanks and a closing full stop.
    #[must_use]
    pub fn from_word(word: &str) -> Option<LengthUnit> {
        Some(match number::normalise(word).to_lowercase().trim().trim_end_matches('.') {
            "um" | "µm" | "μm" | "micron" | "microns" | "micrometre" | "micrometer" => LengthUnit::Micrometre,
            "mm" | "millimetre" | "millimeter" | "millimetres" | "millimeters" => LengthUnit::Millimetre,
            "cm" | "centimetre" | "centimeter" | "centimetres" | "centimeters" => LengthUnit::Centimetre,
            "m" | "metre" | "meter" | "metres" | "meters" => LengthUnit::Metre,
            "thou" | "mil" | "mils" => LengthUnit::Thou,
            "in" | "inch" | "inches" | "\"" => LengthUnit::Inch,
            "ft" | "foot" | "feet" | "'" => LengthUnit::Foot,
            _ => return None,
        })
    }

    /// The word used in messages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            LengthUnit::Micrometre => "um",
            LengthUnit::Millimetre => "mm",
            LengthUnit::Centimetre => "cm",
            LengthUnit::Metre => "m",
            LengthUnit::Thou => "thou",
            LengthUnit::Inch => "in",
            LengthUnit::Foot => "ft",
        }
    }

    /// True for units in which a fraction such as `2 5/8` is an ordinary way of writing.
    #[must_use]
    pub fn takes_fractions(self) -> bool {
        matches!(self, LengthUnit::Inch | LengthUnit::Foot)
    }

    /// Millimetres in one unit.
    #[must_use]
    pub fn mm(self) -> f64 {
        let (over, under) = self.ratio();
        over as f64 / under as f64
    }

    /// Millimetres in one unit as an exact ratio `(numerator, denominator)`.
    pub(crate) fn ratio(self) -> (u128, u128) {
        match self {
            LengthUnit::Micrometre => (1, 1000),
            LengthUnit::Millimetre => (1, 1),
            LengthUnit::Centimetre => (10, 1),
            LengthUnit::Metre => (1000, 1),
            LengthUnit::Thou => (127, 5000),
            LengthUnit::Inch => (127, 5),
            LengthUnit::Foot => (1524, 5),
        }
    }
}

/// A unit of weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[non_exhaustive]
pub enum WeightUnit {
    /// `g`.
    #[default]
    #[serde(rename = "g")]
    Gram,
    /// `kg`.
    #[serde(rename = "kg")]
    Kilogram,
    /// `oz`, avoirdupois.
    #[serde(rename = "oz")]
    Ounce,
    /// `lb`, avoirdupois.
    #[serde(rename = "lb")]
    Pound,
}

impl WeightUnit {
    /// The unit named by `word`, ignoring case, surrounding blanks and a closing full stop.
    #[must_use]
    pub fn from_word(word: &str) -> Option<WeightUnit> {
        Some(match word.trim().to_lowercase().trim_end_matches('.') {
            "g" | "gr" | "gram" | "grams" => WeightUnit::Gram,
            "kg" | "kilo" | "kilos" | "kilogram" | "kilograms" => WeightUnit::Kilogram,
            "oz" | "ounce" | "ounces" => WeightUnit::Ounce,
            "lb" | "lbs" | "pound" | "pounds" => WeightUnit::Pound,
            _ => return None,
        })
    }

    /// The word used in messages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            WeightUnit::Gram => "g",
            WeightUnit::Kilogram => "kg",
            WeightUnit::Ounce => "oz",
            WeightUnit::Pound => "lb",
        }
    }

    /// True for units in which a fraction is an ordinary way of writing.
    #[must_use]
    pub fn takes_fractions(self) -> bool {
        matches!(self, WeightUnit::Ounce | WeightUnit::Pound)
    }

    /// Grams in one unit.
    #[must_use]
    pub fn grams(self) -> f64 {
        match self {
            WeightUnit::Gram => 1.0,
            WeightUnit::Kilogram => 1000.0,
            WeightUnit::Ounce => G_PER_OUNCE,
            WeightUnit::Pound => G_PER_POUND,
        }
    }

    /// Decimals in this unit that match `g_decimals` in grams.
    #[must_use]
    pub fn decimals(self, g_decimals: usize) -> usize {
        g_decimals
            + match self {
                WeightUnit::Gram => 0,
                WeightUnit::Ounce => 1,
                WeightUnit::Pound => 2,
                WeightUnit::Kilogram => 3,
            }
    }

    /// Grams in one unit as an exact ratio `(numerator, denominator)`.
    pub(crate) fn ratio(self) -> (u128, u128) {
        match self {
            WeightUnit::Gram => (1, 1),
            WeightUnit::Kilogram => (1000, 1),
            WeightUnit::Ounce => (45_359_237, 1_600_000),
            WeightUnit::Pound => (45_359_237, 100_000),
        }
    }
}

/// A unit of angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[non_exhaustive]
pub enum AngleUnit {
    /// `deg`, `°`.
    #[default]
    Degree,
    /// `rad`.
    Radian,
}

impl AngleUnit {
    /// The unit named by `word`, ignoring case, surrounding blanks and a closing full stop.
    #[must_use]
    pub fn from_word(word: &str) -> Option<AngleUnit> {
        Some(match word.trim().to_lowercase().trim_end_matches('.') {
            "deg" | "degree" | "degrees" | "°" | "º" => AngleUnit::Degree,
            "rad" | "radian" | "radians" => AngleUnit::Radian,
            _ => return None,
        })
    }

    /// The word used in messages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            AngleUnit::Degree => "deg",
            AngleUnit::Radian => "rad",
        }
    }
}

/// A unit of any quantity, as found in a column header.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Unit {
    /// A length.
    Length(LengthUnit),
    /// A weight.
    Weight(WeightUnit),
    /// An angle.
    Angle(AngleUnit),
}

impl Unit {
    /// The unit named by `word`.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Unit> {
        LengthUnit::from_word(word)
            .map(Unit::Length)
            .or_else(|| WeightUnit::from_word(word).map(Unit::Weight))
            .or_else(|| AngleUnit::from_word(word).map(Unit::Angle))
    }

    /// The word used in messages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Unit::Length(u) => u.word(),
            Unit::Weight(u) => u.word(),
            Unit::Angle(u) => u.word(),
        }
    }
}
