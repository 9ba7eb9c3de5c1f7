//! Lengths and other short words of the report.

use crate::decide::split::SplitChoice;
use crate::domain::units::{InchStep, print_inch_fraction};
use crate::numeric::summary::count;
use crate::output::show::Units;
use crate::paper::strip::millimetres;

/// A length that is marked or set at the bench: tenths of a millimetre, or the nearest 1/32 in.
pub fn bench(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => millimetres(mm),
        Units::Inch => inch_32(mm),
    }
}

/// The function behind [`bench`], for writers that take one.
pub fn bench_fn(units: Units) -> fn(f64) -> String {
    match units {
        Units::Mm => millimetres,
        Units::Inch => inch_32,
    }
}

/// Inches to the nearest 1/32.
pub fn inch_32(mm: f64) -> String {
    print_inch_fraction(mm, InchStep::ThirtySecond)
}

/// The flat top in words.
pub fn flat_top(s: &SplitChoice) -> String {
    let (from, to) = s.flat_top;
    if to - from < 0.5 {
        return format!("No other angle than {:.0}° does as well.", s.best.angle_deg);
    }
    if to - from >= count(s.by_angle.len()) - 1.5 {
        return "Every angle does as well.".to_string();
    }
    // a flat top across the index line: the split repeats after one period, so both ends are told within it
    let period = count(s.by_angle.len()) * step_deg(s);
    if from < -0.5 {
        return format!(
            "Anywhere from {:.0}° through {period:.0}° (the same as 0°) to {to:.0}° does as well.",
            from + period
        );
    }
    if to > period + 0.5 {
        return format!(
            "Anywhere from {from:.0}° through {period:.0}° (the same as 0°) to {:.0}° does as well.",
            to - period
        );
    }
    format!("Anywhere from {from:.0}° to {to:.0}° does as well.")
}

fn step_deg(s: &SplitChoice) -> f64 {
    match s.by_angle.as_slice() {
        [a, b, ..] => b.angle_deg - a.angle_deg,
        _ => 1.0,
    }
}

/// The other choices in words.
pub fn next_best(s: &SplitChoice) -> String {
    let others: Vec<String> =
        s.runners_up.iter().map(|c| format!("{:.0}° ({:.1} blanks)", c.angle_deg, c.expected)).collect();
    let others = if others.is_empty() { "none apart from it".to_string() } else { others.join(", ") };
    format!("Next best: {others}. An arbitrary angle gives {:.1}.", s.arbitrary)
}
