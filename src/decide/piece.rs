//! What any piece of a surface would yield, for every pair of split lines at once.

use super::bark_map::BarkMap;
use super::fan::{Fan, LINES};
use super::room::Side;
use super::runs::most_runs_from;
use crate::domain::{Mark, Target};
use std::f64::consts::TAU;

/// For one surface: which windows pass, as a bit set over starts for each bark line.
///
/// Where the grain turns, a split follows it: lines are then named by where the fibre through them passes the first
/// station. At every start a piece loses some of its lines on either side: for the grain, for a thin or a bent place (see
/// [`BarkMap::side`]).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passing {
    words: usize,
    starts: usize,
    /// of line `i`, the starts whose line `i - right` passes: those that a piece gains when its last line becomes `i`
    bits: Vec<u64>,
    /// of every start, the lines lost at a piece's first split line, and at its second
    left: Vec<usize>,
    right: Vec<usize>,
    /// how many lines the fibre has turned by from the first station to every start
    shift: Vec<usize>,
    /// the starts that keep a line of a piece of 1, 2, 3, ... lines; all do so of wider ones
    kept: Vec<Vec<u64>>,
}

impl Passing {
    /// Windows of `map` that break no limit.
    #[must_use]
    pub fn of(map: &BarkMap, fan: &Fan) -> Passing {
        let side: Vec<Side> = (0..fan.starts()).map(|s| map.side(s)).collect();
        let passes = |s: usize, line: usize| map.broken[s * LINES + (line + side[s].shift) % LINES] == 0;
        Passing::where_true(&side, passes)
    }

    /// Windows for which `passes(start, line)` holds, the line named at the first station, with what every start loses.
    fn where_true(side: &[Side], passes: impl Fn(usize, usize) -> bool) -> Passing {
        let (starts, words) = (side.len(), side.len().div_ceil(64).max(1));
        let mut bits = vec![0_u64; words * LINES];
        for (s, lost) in side.iter().enumerate() {
            for line in 0..LINES {
                bits[(line + lost.right) % LINES * words + s / 64] |= u64::from(passes(s, line)) << (s % 64);
            }
        }
        let lost: Vec<usize> = side.iter().map(|l| l.left + l.right).collect();
        let kept = (1..=lost.iter().copied().max().unwrap_or(0)).map(|width| mask(words, starts, |s| lost[s] < width));
        let (left, right) = side.iter().map(|l| (l.left, l.right)).unzip();
        let shift = side.iter().map(|l| l.shift).collect();
        Passing { words, starts, bits, kept: kept.collect(), left, right, shift }
    }

    /// The same where the grain turns besides, `side` start by start, and only those windows (start, bark line) that hold
    /// something else as well.
    pub(super) fn turned(&self, side: &[Side], holds: impl Fn(usize, usize) -> bool) -> Passing {
        let sum = |(s, more): (usize, &Side)| Side {
            shift: more.shift,
            left: self.left[s] + more.left,
            right: self.right[s] + more.right,
        };
        let all: Vec<Side> = side.iter().enumerate().map(sum).collect();
        let mut passing = Passing::where_true(&all, |s, line| {
            let on = line + all[s].shift;
            self.passes(s, on) && holds(s, on % LINES)
        });
        passing.shift.iter_mut().zip(&self.shift).for_each(|(shift, before)| *shift = (*shift + before) % LINES);
        passing
    }

    /// Whether start `s` passes on the fibre that is line `i` at the first station (taken modulo the number of lines).
    #[must_use]
    pub fn passes(&self, s: usize, i: usize) -> bool {
        self.line(i + self.right[s])[s / 64] >> (s % 64) & 1 == 1
    }

    /// Whether start `s` passes on what lies there under line `i` from the index line, wherever its fibre comes from.
    #[must_use]
    pub fn passes_at(&self, s: usize, i: usize) -> bool {
        self.passes(s, i % LINES + LINES - self.shift[s] % LINES)
    }

    /// Whether start `s` passes on line `i`, and the piece of lines `first..first + width` leaves that line open there.
    #[must_use]
    pub fn passes_in(&self, s: usize, i: usize, first: usize, width: usize) -> bool {
        let open = width.saturating_sub(self.left[s] + self.right[s]);
        (i % LINES + 2 * LINES - (first % LINES + self.left[s]) % LINES) % LINES < open && self.passes(s, i)
    }

    /// What a piece gains when its last line becomes `i`, if it keeps a line at all.
    fn line(&self, i: usize) -> &[u64] {
        let at = i % LINES * self.words;
        &self.bits[at..at + self.words]
    }

    /// Adds to `set` the starts that a piece of `width` lines from `first` passes on and a narrower one need not. Tells
    /// whether there were any.
    fn widen(&self, set: &mut [u64], first: usize, width: usize) -> bool {
        let gained = self.line(first + width - 1);
        let mut new = 0;
        match self.kept.get(width - 1) {
            Some(kept) => {
                for ((s, l), k) in set.iter_mut().zip(gained).zip(kept) {
                    new |= l & k & !*s;
                    *s |= l & k;
                }
            }
            None => {
                for (s, l) in set.iter_mut().zip(gained) {
                    new |= l & !*s;
                    *s |= l;
                }
            }
        }
        new != 0
    }

    /// Goes through the pieces of 1 to `widest` lines from every line. `see` is handed the first line, their number and the
    /// starts that pass somewhere in the piece, `None` where they are those of the piece one line narrower; it tells whether
    /// wider pieces from this line are still asked for.
    pub(super) fn every_piece(&self, widest: usize, mut see: impl FnMut(usize, usize, Option<&[u64]>) -> bool) {
        let mut set = vec![0_u64; self.words];
        for first in 0..LINES {
            set.fill(0);
            for width in 1..=widest {
                let new = self.widen(&mut set, first, width) || width == 1;
                if !see(first, width, new.then_some(&set[..])) {
                    break;
                }
            }
        }
    }

    /// Number of starts.
    #[must_use]
    pub fn starts(&self) -> usize {
        self.starts
    }

    /// All of them.
    #[must_use]
    pub fn whole(&self) -> StartRange {
        StartRange { from: 0.0, last: self.starts.saturating_sub(1) }
    }

    /// The starts that pass somewhere in the piece of lines `first..first + width`: a blank may slide sideways.
    #[must_use]
    pub fn any(&self, first: usize, width: usize) -> Vec<u64> {
        let mut set = vec![0; self.words];
        for width in 1..=width.min(LINES) {
            self.widen(&mut set, first, width);
        }
        set
    }
}

/// Where the windows of a length of the tube may start, in steps of the fan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartRange {
    /// Earliest place; behind a kerf it may lie between two starts.
    pub from: f64,
    /// Last start.
    pub last: usize,
}

/// The starts for which `keep` holds, as a bit set.
fn mask(words: usize, starts: usize, keep: impl Fn(usize) -> bool) -> Vec<u64> {
    let mut mask = vec![0_u64; words];
    (0..starts).filter(|&s| keep(s)).for_each(|s| mask[s / 64] |= 1 << (s % 64));
    mask
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
        PieceTable::of_range(passing, passing.whole(), widest, need)
    }

    /// The same of a length of the tube.
    #[must_use]
    pub fn of_range(passing: &Passing, range: StartRange, widest: usize, need: f64) -> PieceTable {
        let most = |set: &[u64]| small(most_runs_from(set, range.last + 1, range.from, need));
        // no piece has more runs than a piece of all lines
        let mut all = vec![0_u64; passing.words];
        for first in 0..LINES {
            all.iter_mut().zip(passing.line(first)).for_each(|(a, l)| *a |= l);
        }
        let limit = most(&all);
        let mut runs = vec![0_u8; LINES * widest];
        let mut so_far = 0_u8;
        passing.every_piece(widest, |first, width, set| {
            so_far = set.map_or(so_far, most);
            runs[first * widest + width - 1] = so_far;
            let open = so_far < limit;
            if !open {
                runs[first * widest + width..(first + 1) * widest].fill(limit);
            }
            open
        });
        PieceTable { widest, runs }
    }

    /// Runs of the piece of `width` lines from `first`; wider pieces than the table holds count as its widest.
    #[must_use]
    pub fn runs(&self, first: usize, width: usize) -> u8 {
        if width == 0 { 0 } else { self.runs[first % LINES * self.widest + width.min(self.widest) - 1] }
    }

    /// The same where lines are named `lines` further on.
    #[must_use]
    pub(super) fn turned(mut self, lines: usize) -> PieceTable {
        self.runs.rotate_right(lines % LINES * self.widest);
        self
    }

    /// Expected runs where the pieces are at these places of the table with these chances.
    #[must_use]
    pub(super) fn weighed(&self, odds: &[(usize, f64)]) -> f64 {
        odds.iter().map(|&(at, p)| p * f64::from(self.runs[at])).sum()
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

    /// Catches lines that are lost on the wrong side, twice, or at a start that keeps them.
    #[test]
    fn the_table_agrees_with_counting_each_piece_line_by_line() {
        let starts = 66;
        let passes = |s: usize, line: usize| (s * 7 + line * 13) % 11 < 2 || (s > 40 && line % 50 < 9);
        let even = vec![Side::default(); starts];
        let uneven: Vec<Side> =
            (0..starts).map(|s| Side { shift: 0, left: s / 9 % 4, right: s / 5 % 3 + 4 * (s / 60) }).collect();
        for side in [even, uneven] {
            let passing = Passing::where_true(&side, passes);
            let table = PieceTable::of(&passing, 20, 35.5);
            for first in [0, 44, 170, 179] {
                for width in [1, 2, 5, 9, 20] {
                    let mut set = vec![0_u64; 2];
                    for s in 0..starts {
                        let open = (first + side[s].left)..(first + width).saturating_sub(side[s].right);
                        for i in first..first + width + 2 {
                            let want = open.contains(&i) && passes(s, i % LINES);
                            assert_eq!(passing.passes_in(s, i % LINES, first, width), want, "{s} {i}: {first} {width}");
                        }
                        let passes = open.into_iter().any(|i| passes(s, i % LINES));
                        set[s / 64] |= u64::from(passes) << (s % 64);
                    }
                    assert_eq!(passing.any(first, width), set, "{first} {width}");
                    assert_eq!(
                        usize::from(table.runs(first, width)),
                        most_runs_from(&set, starts, 0.0, 35.5),
                        "{first} {width}"
                    );
                }
            }
            assert_eq!(table.runs(3, 0), 0);
            for (s, line) in [(0, 0), (13, 90), (41, 3), (65, 179), (65, 180)] {
                assert_eq!(passing.passes(s, line), passes(s, line % LINES), "{s} {line}");
            }
        }
    }

    #[test]
    fn without_a_kerf_blanks_lie_end_to_end() {
        // 16 mm of trim and three blanks of 70 mm: with a kerf only two fit
        let (target, saw) = (Target::default(), Saw { kerf_mm: 0.0, ..Saw::default() });
        let fan = Fan::new(226.0, &target, &saw).expect("fits");
        let passing = Passing::where_true(&vec![Side::default(); fan.starts()], |_, _| true);
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

    /// Catches a picture of the bark on which a followed fibre is drawn as if it ran straight.
    #[test]
    fn what_passes_under_a_line_is_told_whatever_fibre_lies_there() {
        let side: Vec<Side> = (0..70).map(|s| Side { shift: s / 3, left: s % 2, right: s % 4 }).collect();
        let bark = |s: usize, line: usize| (s * 7 + line * 13) % 11 < 4;
        let passing = Passing::where_true(&side, |s, line| bark(s, (line + side[s].shift) % LINES));
        let more: Vec<Side> = (0..70).map(|s| Side { shift: 2 * s, left: 0, right: 1 }).collect();
        let turned = passing.turned(&more, |_, _| true);
        for (s, line) in [(0, 0), (2, 179), (40, 12), (69, 100), (69, 179)] {
            assert_eq!(passing.passes_at(s, line), bark(s, line), "{s} {line}");
            assert_eq!(turned.passes_at(s, line), bark(s, line), "{s} {line}, turned");
        }
    }
}
