//! Reading and printing lengths, weights and angles: the only conversion factors in the crate.

/// Millimetres in one inch: exact by the agreement in force since 1 July 1959 (addendum to NBS Circular 572, 1960).
pub const MM_PER_INCH: f64 = 25.4;
/// Grams in one avoirdupois ounce: exact (1/16 of 453.592 37 g).
pub const G_PER_OUNCE: f64 = 28.349_523_125;
/// Grams in one avoirdupois pound: exact by the same agreement.
pub const G_PER_POUND: f64 = 453.592_37;
