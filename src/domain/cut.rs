//! What happened when a tube was split and cut.

use super::count::count;
use super::{Angle, Place};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

/// A stretch of a piece that was judged at the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// The piece, from 1; `None` where nobody wrote it down.
    pub piece: Option<usize>,
    /// Its end nearer to the index end, mm.
    pub from_mm: f64,
    /// Its far end, mm.
    pub to_mm: f64,
    /// Whether a blank came of it.
    pub got: bool,
    /// Why not; free text.
    pub why: String,
}

/// What happened to one tube. Every part of it may be missing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cut {
    /// The angle that the first split line was aimed at; `None`: not written down.
    pub aim: Option<Angle>,
    /// Where the split lines came to lie, clockwise from the first of piece 1; a single one: the others a whole part of a turn
    /// on; empty: not written down.
    pub lines: Vec<Angle>,
    /// Widths of the pieces' backs, straight across from edge to edge, in the order of the pieces, mm.
    pub backs_mm: Vec<f64>,
    /// Blanks got of the whole tube, where only their number is known.
    pub blanks: Option<u32>,
    /// Blanks got of each piece, from 1.
    pub of_piece: BTreeMap<usize, u32>,
    /// Stretches judged.
    pub stretches: Vec<Stretch>,
    /// Where it first stands in the user's files.
    pub place: Place,
}

impl Cut {
    /// Blanks got of a tube split into `pieces`: as they are written down for the tube, or for every one of its pieces; `None`
    /// where neither is.
    #[must_use]
    pub fn got(&self, pieces: usize) -> Option<u32> {
        self.blanks.or_else(|| (self.of_piece.len() == pieces).then(|| self.of_piece.values().sum()))
    }

    /// Where the lines of `pieces` pieces lie, radians, clockwise within a turn of the first. The plan aimed at `aim` radians:
    /// widths alone do not tell how far the whole is turned, so they are turned to lie about their aims, none left on average.
    /// `None` where nothing tells where they fell, or what does is not of so many pieces.
    #[must_use]
    pub fn lines_radians(&self, pieces: usize, aim: f64) -> Option<Vec<f64>> {
        let part = TAU / count(pieces);
        if self.lines.len() == pieces {
            return clockwise(&self.lines);
        }
        let widths = if self.backs_mm.len() == pieces { spans(&self.backs_mm) } else { None };
        let widths = widths.or_else(|| (self.lines.len() == 1).then(|| vec![part; pieces]))?;
        let from_first: Vec<f64> = widths.iter().scan(0.0, |at, w| Some(std::mem::replace(at, *at + w))).collect();
        let first = match self.lines[..] {
            [one] => one.wrapped().radians(),
            _ => {
                let off = from_first.iter().enumerate().map(|(i, x)| x - part * count(i));
                aim - off.sum::<f64>() / count(pieces)
            }
        };
        Some(from_first.into_iter().map(|x| first + x).collect())
    }
}

/// The lines from the first on, each beyond the one before; `None` where they go round more than once.
fn clockwise(lines: &[Angle]) -> Option<Vec<f64>> {
    let first = lines.first()?.wrapped().radians();
    let beyond: Vec<f64> = lines.iter().map(|a| (a.wrapped().radians() - first).rem_euclid(TAU)).collect();
    beyond.windows(2).all(|w| w[1] > w[0]).then(|| beyond.into_iter().map(|x| first + x).collect())
}

/// Angles that pieces with these widths across take up of the tube's turn, radians: chords of the one circle on which they
/// close. `None` where one is as wide as all others together, so that they close on none.
#[must_use]
pub fn spans(widths_mm: &[f64]) -> Option<Vec<f64>> {
    let widest = widths_mm.iter().copied().fold(0.0, f64::max);
    let sum: f64 = widths_mm.iter().sum();
    if widths_mm.len() < 2 || widths_mm.iter().any(|w| *w <= 0.0 || !w.is_finite()) {
        return None;
    }
    let of = |r: f64| widths_mm.iter().map(|w| 2.0 * (w / (2.0 * r)).min(1.0).asin()).collect::<Vec<f64>>();
    // the circle is no smaller than the widest chord and no larger than one whose girth is the chords'; each holds the middle
    let (mut low, mut high) = (0.5 * widest, sum / 2.0);
    if of(low).iter().sum::<f64>() < TAU {
        return None;
    }
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if of(middle).iter().sum::<f64>() > TAU { low = middle } else { high = middle }
    }
    let spans = of(0.5 * (low + high));
    spans.iter().all(|s| *s < PI + 1e-9).then_some(spans)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(lines: Option<Vec<f64>>) -> Vec<f64> {
        lines.expect("known").into_iter().map(|r| (1e6 * r.to_degrees()).round() / 1e6).collect()
    }

    #[test]
    fn lines_are_taken_as_written_or_from_the_widths_of_the_backs() {
        let cut = |lines: &[f64], backs: &[f64]| Cut {
            lines: lines.iter().map(|d| Angle::from_degrees(*d)).collect(),
            backs_mm: backs.to_vec(),
            ..Cut::default()
        };
        let aim = 30_f64.to_radians();
        assert_eq!(degrees(cut(&[33.0, 121.0, 214.0, 301.0], &[]).lines_radians(4, aim)), [33.0, 121.0, 214.0, 301.0]);
        // across the index line
        assert_eq!(degrees(cut(&[301.0, 33.0, 121.0], &[]).lines_radians(3, aim)), [301.0, 393.0, 481.0]);
        // the first alone
        assert_eq!(degrees(cut(&[33.0], &[]).lines_radians(4, aim)), [33.0, 123.0, 213.0, 303.0]);
        // chords of 80, 90, 100 and 90 deg on 25.4 mm, turned so that they lie about 30, 120, 210, 300: 0, 80, 170, 270 from
        // the first are off by 0, -10, -10, 0, 5 deg less than nothing on average
        let chord = |deg: f64| 25.4 * (deg / 2.0).to_radians().sin();
        let backs = [80.0, 90.0, 100.0, 90.0].map(chord);
        assert_eq!(degrees(cut(&[], &backs).lines_radians(4, aim)), [35.0, 115.0, 205.0, 305.0]);
        assert_eq!(degrees(cut(&[40.0], &backs).lines_radians(4, aim)), [40.0, 120.0, 210.0, 310.0]);
        // nothing told, or of other pieces, or lines that go round twice
        assert_eq!(cut(&[], &[]).lines_radians(4, aim), None);
        assert_eq!(cut(&[], &backs[..3]).lines_radians(4, aim), None);
        assert_eq!(cut(&[33.0, 214.0, 121.0, 301.0], &[]).lines_radians(4, aim), None);
    }

    #[test]
    fn widths_that_close_on_no_circle_tell_nothing() {
        assert_eq!(spans(&[30.0, 5.0, 5.0, 5.0]), None);
        assert_eq!(spans(&[18.0]), None);
        assert_eq!(spans(&[18.0, 0.0, 18.0]), None);
        let equal = spans(&[18.0; 4]).expect("closed");
        assert!(equal.iter().all(|s| (s - PI / 2.0).abs() < 1e-9));
    }

    #[test]
    fn blanks_are_those_of_the_tube_or_of_its_pieces() {
        let cut = Cut { of_piece: BTreeMap::from([(1, 2), (3, 1)]), ..Cut::default() };
        assert_eq!((cut.got(2), cut.got(4), Cut::default().got(4)), (Some(3), None, None));
        assert_eq!(Cut { blanks: Some(5), ..cut }.got(4), Some(5));
    }
}
