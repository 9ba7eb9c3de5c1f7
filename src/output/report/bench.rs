//! Lengths as they are marked and set at the bench.

use crate::domain::units::{InchStep, print_inch_fraction};
use crate::output::show::Units;
use crate::paper::strip::millimetres;

/// A length that is marked or set at the bench: tenths of a millimetre, or the nearest 1/32 in.
pub fn bench(mm: f64, units: Units) -> String {
    bench_fn(units)(mm)
}

/// The function behind [`bench`], for writers that take one.
pub(crate) fn bench_fn(units: Units) -> fn(f64) -> String {
    match units {
        Units::Mm => millimetres,
        Units::Inch => inch_32,
    }
}

/// Inches to the nearest 1/32.
pub(crate) fn inch_32(mm: f64) -> String {
    print_inch_fraction(mm, InchStep::ThirtySecond)
}
