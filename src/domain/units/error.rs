//! Why a text could not be read as a quantity, and what to do about it.

/// Why a text could not be read as a quantity.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum UnitError {
    /// Nothing but blanks.
    #[error("nothing")]
    Empty,
    /// Not a number at all.
    #[error("not a number")]
    NotANumber,
    /// `NaN`, `inf` and their like.
    #[error("not a finite number")]
    NotFinite,
    /// Larger than anything that can be meant; `limit` says what is.
    #[error("larger than {limit}")]
    TooLarge {
        /// The largest value read, with its unit.
        limit: &'static str,
    },
    /// Points and commas that could mark thousands or decimals; the values it could mean, where they are two.
    #[error("a number that can be read two ways")]
    Grouped {
        /// The ways to read it.
        readings: Vec<String>,
    },
    /// A fraction without a unit in a column that is not in inches.
    #[error("a fraction without a unit")]
    FractionWithoutUnit {
        /// The column's unit.
        column: &'static str,
    },
    /// A fraction over zero.
    #[error("a fraction over zero")]
    ZeroDenominator,
    /// A mixed number whose fraction is one or more, as in `2 9/8`.
    #[error("a whole number with a fraction of one or more")]
    ImproperPart,
    /// Two numbers in one cell, as in `12 5`.
    #[error("more than one number")]
    SeveralNumbers,
    /// A unit that is not known, or not one of this quantity.
    #[error("the unit '{unit}'")]
    UnknownUnit {
        /// The unit as found.
        unit: String,
        /// The units that would have been right.
        known: &'static str,
    },
    /// Something a spreadsheet made of a fraction, such as `5/8/2026` or `8-May`.
    #[error("a date")]
    Date,
}

/// What a text was to be read as: examples in advice are of this.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// A length.
    Length,
    /// A weight.
    Weight,
    /// An angle.
    Angle,
    /// A number without a unit.
    Number,
}

impl UnitError {
    /// What would have been right, for a quantity called `what` (such as `a length`).
    #[must_use]
    pub fn expected(&self, what: &str) -> String {
        match self {
            UnitError::TooLarge { limit } => format!("{what} of at most {limit}"),
            UnitError::UnknownUnit { known, .. } => format!("{what} in one of the units {known}"),
            UnitError::FractionWithoutUnit { .. } => format!("{what} with its unit"),
            _ => what.to_string(),
        }
    }

    /// What the user can do about it, with examples of this quantity.
    #[must_use]
    pub fn fix(&self, of: Quantity) -> String {
        match self {
            UnitError::Empty => "fill in the cell".to_string(),
            UnitError::NotANumber => {
                let such = match of {
                    Quantity::Length => "12.5, 12.5 mm or 2 5/8 in",
                    Quantity::Weight => "24.5, 24.5 g or 7/8 oz",
                    Quantity::Angle => "45, 22.5 or 45 deg",
                    Quantity::Number => "12.5",
                };
                format!("write a number such as {such}")
            }
            UnitError::NotFinite => "leave out the row if nothing was measured".to_string(),
            UnitError::TooLarge { .. } => "is a decimal mark missing?".to_string(),
            UnitError::Grouped { readings } => match readings.as_slice() {
                [a, b] => format!("is {a} meant, or {b}? Write it without thousands separators"),
                _ => "write it without thousands separators".to_string(),
            },
            UnitError::FractionWithoutUnit { column } => {
                let (meant, such) = if of == Quantity::Weight { ("ounces", "7/8 oz") } else { ("inches", "5/8 in") };
                format!("are {meant} meant? Bare numbers are {column} here: write the unit beside the number ({such})")
            }
            UnitError::ZeroDenominator => "write the fraction again".to_string(),
            UnitError::ImproperPart => "which is mistyped, the top or the bottom of the fraction?".to_string(),
            UnitError::SeveralNumbers => {
                "is a decimal mark or the slash of a fraction missing? One cell holds one number".to_string()
            }
            UnitError::UnknownUnit { known, .. } => format!("write one of {known}, or leave the unit out"),
            UnitError::Date => {
                "a spreadsheet turned a fraction into a date: set the column to text and type it again".to_string()
            }
        }
    }
}
