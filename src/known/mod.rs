//! Truth judged by other code: tubes whose every dimension is known, what plain instruments read on them and what they
//! would yield, by brute force.
//!
//! Nothing here uses the crate: plain numbers in mm, angles in radians unless a name says degrees, heights and radii as
//! in the frame of the crate (z from the index end, angle 0 on the index line, clockwise seen from outside that end).

pub mod chance;
pub mod circle;
pub mod evaluator;
pub mod faults;
pub mod figures;
pub mod folder;
pub mod form;
pub mod instruments;
pub mod measuring;
pub mod moments;
pub mod numbers;
pub mod plans;
pub mod populations;
pub mod scan;
pub mod shape;
pub mod way;
pub mod wobble;
pub mod yields;

/// A number that is known to be whole and not negative, as an index.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the callers round and bound it first")]
#[must_use]
pub fn whole(x: f64) -> usize {
    x as usize
}

/// Mean; 0 of an empty list.
#[must_use]
pub fn mean(v: &[f64]) -> f64 {
    if v.is_empty() { 0.0 } else { v.iter().sum::<f64>() / v.len() as f64 }
}

/// Standard deviation about the mean, divisor n - 1; 0 below two values.
#[must_use]
pub fn spread(v: &[f64]) -> f64 {
    let m = mean(v);
    if v.len() < 2 { 0.0 } else { (v.iter().map(|x| (x - m) * (x - m)).sum::<f64>() / (v.len() - 1) as f64).sqrt() }
}
