//! The pattern of the printed scale card: what is printed and what is looked for in a picture are the same numbers.
//!
//! A lattice of 8 by 4 black discs of 5 mm, 20 mm apart both ways, without the disc of the first corner:
//!
//! ```text
//!    .  O  O  O  O  O  O  O
//!    O  O  O  O  O  O  O  O     140 mm from the first column to the last,
//!    O  O  O  O  O  O  O  O      60 mm from the first row to the last
//!    O  O  O  O  O  O  O  O
//! ```
//!
//! The missing disc tells a mirrored picture from a right one. All numbers are our own choice: both baselines are longer
//! than any ring, and the discs' middles do not depend on how fat the printer prints.

/// Columns and rows.
pub const COLUMNS: usize = 8;
/// See [`COLUMNS`].
pub const ROWS: usize = 4;
/// Distance of neighbouring middles, mm.
pub const PITCH_MM: f64 = 20.0;
/// Diameter of a disc, mm.
pub const DISC_MM: f64 = 5.0;
/// Distance of the middles of the first and the last column, and of the first and the last row, mm.
pub const SPAN_MM: [f64; 2] = [140.0, 60.0];

/// Column and row of every disc.
pub fn discs() -> impl Iterator<Item = (usize, usize)> {
    (0..ROWS).flat_map(|j| (0..COLUMNS).map(move |i| (i, j))).filter(|d| *d != (0, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_are_31_discs_and_the_spans_follow_from_the_pitch() {
        assert_eq!(discs().count(), 31);
        assert!((SPAN_MM[0] - PITCH_MM * (COLUMNS - 1) as f64).abs() < 1e-12);
        assert!((SPAN_MM[1] - PITCH_MM * (ROWS - 1) as f64).abs() < 1e-12);
    }
}
