//! What any piece of a surface would yield, for every pair of split lines at once.

use super::bark_map::BarkMap;
use super::fan::{Fan, LINES};
use super::runs::most_runs;
use crate::domain::{Mark, Target};
use crate::numeric::summary::{count, to_index};
use std::f64::consts::TAU;

/// For one surface: which windows pass, as a bit set over starts for each bark line.
///
/// Where the grain turns, a split follows it: lines are then named by where the fibre through them passes the first
/// station, and a piece loses half the turn over a window on each of its sides (see [`BarkMap::side`]).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passing {
    words: usize,
    starts: usize,
    bits: Vec<u64>,
    /// lines lost on each side of a piece, and the starts that lose so many; together all starts once
    lost: Vec<(usize, Vec<u64>)>,
}

impl Passing {
    /// Windows of `map` that break no limit.
    #[must_use]
    pub fn of(map: &BarkMap, fan: &Fan) -> Passing {
        let side: Vec<(usize, usize)> = (0..fan.starts()).map(|s| map.side(s)).collect();
        let passes = |s: usize, line: usize| map.broken[s * LINES + (line + side[s].0) % LINES] == 0;
        let mut out = Passing::where_true(fan.starts(), passes);
        let mut lost: std::collections::BTreeMap<usize, Vec<u64>> = std::collections::BTreeMap::new();
        for (s, &(_, shrink)) in side.iter().enumerate() {
            lost.entry(shrink).or_insert_with(|| vec![0; out.words])[s / 64] |= 1 << (s % 64);
        }
        out.lost = lost.into_iter().collect();
        out
    }

    /// Windows for which `passes(start, line)` holds.
    fn where_true(starts: usize, passes: impl Fn(usize, usize) -> bool) -> Passing {
        let words = starts.div_ceil(64).max(1);
        let mut bits = vec![0_u64; words * LINES];
        for s in 0..starts {
            for line in 0..LINES {
                bits[line * words + s / 64] |= u64::from(passes(s, line)) << (s % 64);
            }
        }
        Passing { words, starts, bits, lost: vec![(0, vec![!0; words])] }
    }

    /// The same with only those starts left for which `keep` holds.
    pub(crate) fn with_starts(&self, keep: impl Fn(usize) -> bool) -> Passing {
        let mut mask = vec![0_u64; self.words];
        (0..self.starts).filter(|&s| keep(s)).for_each(|s| mask[s / 64] |= 1 << (s % 64));
        let mut out = self.clone();
        for line in out.bits.chunks_mut(self.words) {
            line.iter_mut().zip(&mask).for_each(|(l, m)| *l &= m);
        }
        out
    }

    /// The starts that pass on bark line `i` (taken modulo the number of lines).
    #[must_use]
    pub fn line(&self, i: usize) -> &[u64] {
        let at = i % LINES * self.words;
        &self.bits[at..at + self.words]
    }

    /// Number of starts.
    #[must_use]
    pub fn starts(&self) -> usize {
        self.starts
    }

    /// The starts that pass on at least one of the lines `first..first + width`: a blank may slide sideways.
    #[must_use]
    pub fn any(&self, first: usize, width: usize) -> Vec<u64> {
        let mut set = vec![0; self.words];
        let end = first + width.min(LINES);
        for (lost, starts) in &self.lost {
            for i in first + lost..end.saturating_sub(*lost) {
                set.iter_mut().zip(self.line(i)).zip(starts).for_each(|((s, l), m)| *s |= l & m);
            }
        }
        set
    }
}

/// Where the centre line of a blank may lie inside a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideRoom {
    /// Angle given up at each split line for half the blank's width and the edge margin, radians.
    pub inset: f64,
}

impl SideRoom {
    /// `asin((width / 2 + margin) / radius)`: the chord from split line to blank centre must hold half the blank and
    /// the margin.
    #[must_use]
    pub fn new(target: &Target, radius_mm: f64) -> SideRoom {
        let reach = (target.blank_width_mm / 2.0 + target.edge_margin_mm) / radius_mm;
        SideRoom { inset: reach.clamp(0.0, 1.0).asin() }
    }

    /// First line and number of lines between two split lines (radians, `to` beyond `from`); 0 when a blank does not fit.
    #[must_use]
    pub fn lines(&self, from: f64, to: f64) -> (usize, usize) {
        let (low, high) = (from + self.inset, to - self.inset);
        let step = TAU / count(LINES);
        // the nearest lines stand for the ends, so that the rounding is as often outward as inward
        let first = (low / step).round();
        let width = (high / step).round() - first + 1.0;
        let start = to_index(first.rem_euclid(count(LINES)));
        if high < low || width < 1.0 { (start, 0) } else { (start, to_index(width)) }
    }
}

/// Runs that every piece of a surface would yield: `runs[first * widest + width - 1]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceTable {
    widest: usize,
    runs: Vec<u8>,
}

impl PieceTable {
    /// Fills the table for pieces of 1 to `widest` lines; `need` is blank plus kerf in steps.
    #[must_use]
    pub fn of(passing: &Passing, widest: usize, need: f64) -> PieceTable {
        // no piece has more runs than a piece of all lines
        let mut all = vec![0_u64; passing.words];
        for first in 0..LINES {
            all.iter_mut().zip(passing.line(first)).for_each(|(a, l)| *a |= l);
        }
        let limit = small(most_runs(&all, passing.starts, need));
        let mut runs = vec![0_u8; LINES * widest];
        let mut set = vec![0_u64; passing.words];
        for first in 0..LINES {
            set.fill(0);
            let mut so_far = 0_u8;
            for width in 1..=widest {
                let mut grew = false;
                for (lost, starts) in &passing.lost {
                    if width > 2 * lost {
                        let line = passing.line(first + width - 1 - lost);
                        for ((s, l), m) in set.iter_mut().zip(line).zip(starts) {
                            grew |= *l & *m & !*s != 0;
                            *s |= l & m;
                        }
                    }
                }
                if grew {
                    so_far = small(most_runs(&set, passing.starts, need));
                }
                runs[first * widest + width - 1] = so_far;
                if so_far >= limit {
                    runs[first * widest + width..(first + 1) * widest].fill(limit);
                    break;
                }
            }
        }
        PieceTable { widest, runs }
    }

    /// Runs of the piece of `width` lines from `first`; wider pieces than the table holds count as its widest.
    #[must_use]
    pub fn runs(&self, first: usize, width: usize) -> u8 {
        if width == 0 { 0 } else { self.runs[first % LINES * self.widest + width.min(self.widest) - 1] }
    }

    /// The raw table, for summing over draws.
    #[must_use]
    pub fn values(&self) -> &[u8] {
        &self.runs
    }
}

#[allow(clippy::cast_possible_truncation, reason = "clamped first")]
fn small(n: usize) -> u8 {
    n.min(255) as u8
}

/// Which windows touch a mark: a blank's outline (its width and length) against the mark's patch of bark.
///
/// Index `start * LINES + line`; empty when there is no mark.
#[must_use]
pub(crate) fn marked_windows(fan: &Fan, marks: &[Mark], target: &Target, radius_mm: f64) -> Vec<bool> {
    if marks.is_empty() {
        return Vec::new();
    }
    let half = (target.blank_width_mm / 2.0 / radius_mm).clamp(0.0, 1.0).asin();
    let mut marked = vec![false; fan.starts() * LINES];
    for mark in marks {
        let touched: Vec<bool> = (0..LINES).map(|i| touches(mark, Fan::line_angle(i).radians(), half)).collect();
        for s in 0..fan.starts() {
            let (from, to) = (fan.start_mm(s), fan.start_mm(s) + fan.blank_mm());
            if to > mark.from_mm && from < mark.to_mm {
                for (m, t) in marked[s * LINES..(s + 1) * LINES].iter_mut().zip(&touched) {
                    *m |= t;
                }
            }
        }
    }
    marked
}

/// Whether a blank centred at `a` with half-angle `half` overlaps the mark's sector.
fn touches(mark: &Mark, a: f64, half: f64) -> bool {
    let (Some(from), Some(to)) = (mark.from, mark.to) else { return true };
    let span = (to - from).wrapped().radians();
    let ahead = (a - from.radians()).rem_euclid(TAU);
    ahead <= span + half || ahead >= TAU - half
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Place, Saw};

    #[test]
    fn the_side_room_of_a_clarinet_blank_is_the_known_one() {
        // a 13.5 mm blank in a quarter of a 25.4 mm tube may move 12.9 deg either way (closed form 45 - asin(w/D))
        let target = Target { edge_margin_mm: 0.0, ..Target::default() };
        let room = SideRoom::new(&target, 12.7);
        let free = 45.0 - room.inset.to_degrees();
        assert!((free - 12.9).abs() < 0.05, "{free}");
        let (_, width) = room.lines(0.0, 90_f64.to_radians());
        // 32.1 to 57.9 deg: the lines from 32 to 58
        assert_eq!(width, 14);
        assert_eq!(room.lines(0.0, 60_f64.to_radians()).1, 0);
    }

    #[test]
    fn the_table_agrees_with_counting_each_piece() {
        let starts = 66;
        let passing = Passing::where_true(starts, |s, line| (s * 7 + line * 13) % 11 < 2 || (s > 40 && line % 50 < 9));
        let table = PieceTable::of(&passing, 20, 35.5);
        for first in [0, 44, 170, 179] {
            for width in [1, 5, 20] {
                let set = passing.any(first, width);
                assert_eq!(usize::from(table.runs(first, width)), most_runs(&set, starts, 35.5), "{first} {width}");
            }
        }
        assert_eq!(table.runs(3, 0), 0);
    }

    #[test]
    fn without_a_kerf_blanks_lie_end_to_end() {
        // 16 mm of trim and three blanks of 70 mm: with a kerf only two fit
        let (target, saw) = (Target::default(), Saw { kerf_mm: 0.0, ..Saw::default() });
        let fan = Fan::new(226.0, &target, &saw).expect("fits");
        let passing = Passing::where_true(fan.starts(), |_, _| true);
        for (kerf, runs) in [(0.0, 3), (0.5, 2)] {
            let need = (target.blank_length_mm + kerf) / fan.step_mm();
            assert_eq!(PieceTable::of(&passing, 4, need).runs(0, 4), runs, "kerf {kerf}");
        }
    }

    #[test]
    fn a_mark_across_the_index_line_blocks_both_sides_of_it() {
        let fan = Fan::new(200.0, &Target::default(), &Saw::default()).expect("fits");
        let mark = Mark {
            from_mm: 190.0,
            to_mm: 200.0,
            from: Some(Angle::from_degrees(350.0)),
            to: Some(Angle::from_degrees(10.0)),
            why: "crack".into(),
            place: Place::default(),
        };
        let marked = marked_windows(&fan, &[mark], &Target::default(), 12.7);
        let last = fan.starts() - 1;
        let at = |deg: usize| marked[last * LINES + deg / 2];
        // half a blank covers 32 deg
        assert!(at(0) && at(358) && at(40) && at(320));
        assert!(!at(44) && !at(314) && !at(180));
        assert!(!marked[0]);
    }
}
