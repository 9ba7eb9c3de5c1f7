//! Where to saw a tube across before it is split, so that every length has a split angle of its own: the best set of cuts.

use super::fan::LINES;
use super::piece::StartRange;
use super::runs::earliest;
use super::split::{DrawnSurface, Splitter};
use crate::numeric::summary::{count, to_index};
use rayon::prelude::*;

/// Most places tried for a cut: of a longer tube not every start of the fan is one.
const MOST_PLACES: usize = 48;
/// A cut may lie anywhere that loses less than this many blanks.
const AS_GOOD: f64 = 0.01;
/// Slack given to comparisons of places, in steps.
const SLACK: f64 = 1e-5;

/// Places for a cut: the window start after which it begins. Every one leaves room for a blank on either side.
#[must_use]
fn places(splitter: &Splitter) -> Vec<usize> {
    let last = splitter.judge().fan().starts() - 1;
    let fits = |s: &usize| count(*s) + splitter.need_steps() <= count(last) + SLACK;
    let all = (0..=last).take_while(fits).count();
    (0..all).step_by(all.div_ceil(MOST_PLACES).max(1)).collect()
}

/// The lengths that give most blanks over these draws, less `handling` blanks for every cut, from the index end; one length
/// where no cut is worth its handling.
///
/// Dynamic programming over the place of the last cut. What a length gives is the highest score of any split angle by the
/// average of the draws, as [`Splitter::scores`] of a tube that ends where the length does: so the answer is the best of all
/// sets of cuts at these places (the tests try every set). Each cut is then moved to the middle of the places that do as
/// well, within [`AS_GOOD`].
///
/// For every place where a length may begin, runs are laid once from there in every piece of every draw; those that begin by
/// an end are what a length up to there holds, since taking the earliest start is best for every end at once. Laying costs
/// places x draws x pieces; only adding up goes over pairs of places.
#[must_use]
pub(super) fn best_lengths(splitter: &Splitter, draws: &[DrawnSurface], handling: f64) -> Vec<StartRange> {
    let places = places(splitter);
    if places.is_empty() {
        return vec![StartRange { from: 0.0, last: splitter.judge().fan().starts() - 1 }];
    }
    let worth = Worth::of(splitter, draws, &places);
    let cuts = worth.centred(worth.best_cuts(handling));
    worth.lengths(&cuts)
}

/// What every length between two of some places for a cut is worth.
struct Worth {
    /// Where lengths may begin, in steps: at the index end and behind every place, in rising order.
    froms: Vec<f64>,
    /// The last start of lengths that end at every place, and at the far end.
    ends: Vec<usize>,
    /// `worth[i][j]`: blanks expected of the length from beginning `i` to end `j >= i` at its best split angle.
    worth: Vec<Vec<f64>>,
}

impl Worth {
    fn of(splitter: &Splitter, draws: &[DrawnSurface], places: &[usize]) -> Worth {
        let last = splitter.judge().fan().starts() - 1;
        let ends: Vec<usize> = places.iter().copied().chain([last]).collect();
        let froms: Vec<f64> = std::iter::once(0.0).chain(places.iter().map(|&s| after(splitter, s))).collect();
        let (grown, odds) = (Grown::of(splitter, draws), splitter.choosing_weights_of_a_piece());
        let worth = froms.par_iter().map(|&from| grown.worth(splitter, draws, from, &ends, &odds)).collect();
        Worth { froms, ends, worth }
    }

    /// The places of the best set of cuts, in rising order.
    fn best_cuts(&self, handling: f64) -> Vec<usize> {
        cut_best(self.ends.len(), handling, |i, j| self.worth[i][j])
    }

    /// The same cuts, each in the middle of the places that do as well between its neighbours, within [`AS_GOOD`]: a saw and a
    /// belief that are off a little then lose least.
    fn centred(&self, mut cuts: Vec<usize>) -> Vec<usize> {
        for c in 0..cuts.len() {
            let from = if c == 0 { 0 } else { cuts[c - 1] + 1 };
            let end = cuts.get(c + 1).copied().unwrap_or(self.ends.len() - 1);
            let of = |cut: usize| self.worth[from][cut] + self.worth[cut + 1][end];
            let good = |cut: &usize| of(*cut) >= of(cuts[c]) - AS_GOOD;
            let back = (from..cuts[c]).rev().take_while(good).count();
            let ahead = (cuts[c] + 1..end).take_while(good).count();
            cuts[c] = (cuts[c] - back).midpoint(cuts[c] + ahead);
        }
        cuts
    }

    fn lengths(&self, cuts: &[usize]) -> Vec<StartRange> {
        let begins = std::iter::once(0).chain(cuts.iter().map(|c| c + 1));
        let ends = cuts.iter().copied().chain([self.ends.len() - 1]);
        begins.zip(ends).map(|(i, j)| StartRange { from: self.froms[i], last: self.ends[j] }).collect()
    }
}

/// Where the first window of the next length may start when a cut begins behind the window from start `s`, in steps.
fn after(splitter: &Splitter, s: usize) -> f64 {
    count(s) + splitter.need_steps()
}

/// The best partition of `ends` places into lengths: `worth(i, j)` is what the length from beginning `i` to end `j >= i` is
/// worth, where beginning `i` lies just behind end `i - 1`. Returns the ends of all lengths but the last.
fn cut_best(ends: usize, handling: f64, worth: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    // best[j]: the most that lengths up to end j give, and where the last of them begins
    let mut best: Vec<(f64, usize)> = Vec::with_capacity(ends);
    for j in 0..ends {
        let mut at = (worth(0, j), 0);
        for i in 1..=j {
            let total = best[i - 1].0 + worth(i, j) - handling;
            // a hair more: rounding of sums shall not saw
            if total > at.0 + 1e-9 {
                at = (total, i);
            }
        }
        best.push(at);
    }
    let mut cuts = Vec::new();
    let mut begin = best.last().map_or(0, |b| b.1);
    while begin > 0 {
        cuts.push(begin - 1);
        begin = best[begin - 1].1;
    }
    cuts.reverse();
    cuts
}

/// Lines that the grain of a draw has turned by from the first station to the face at `from` steps.
pub(super) fn lines_turned(draw: &DrawnSurface, from: f64) -> usize {
    let Some(at) = draw.sections.fields().turn_at() else { return 0 };
    let turn = draw.sections.row(to_index(from.floor()))[at] - draw.sections.row(0)[at];
    to_index((turn / 360.0 * count(LINES)).round().rem_euclid(count(LINES)))
}

/// The pieces of every draw, from narrow to wide, where a wider one passes at more starts than the one before it.
struct Grown {
    /// Draw, first line, lines.
    pieces: Vec<(usize, usize, usize)>,
    /// The starts of each, `words` apiece.
    sets: Vec<u64>,
    words: usize,
}

impl Grown {
    fn of(splitter: &Splitter, draws: &[DrawnSurface]) -> Grown {
        let (mut pieces, mut sets, mut words) = (Vec::new(), Vec::new(), 1);
        for (k, draw) in draws.iter().enumerate() {
            draw.passing.every_piece(splitter.widest(), |first, width, set| {
                if let Some(set) = set.filter(|set| set.iter().any(|&w| w != 0)) {
                    pieces.push((k, first, width));
                    sets.extend_from_slice(set);
                    words = set.len();
                }
                true
            });
        }
        Grown { pieces, sets, words }
    }

    /// Expected runs, at the best angle of each, of the lengths from `from` steps to each of `ends`. `odds`: see
    /// [`Splitter::choosing_weights_of_a_piece`].
    fn worth(
        &self,
        splitter: &Splitter,
        draws: &[DrawnSurface],
        from: f64,
        ends: &[usize],
        odds: &[Vec<(usize, f64)>],
    ) -> Vec<f64> {
        let (n, widest, starts) = (ends.len(), splitter.widest(), splitter.judge().fan().starts());
        // all pieces of a split are wanted alike: lines a piece further on count as the same
        let lines = LINES / splitter.pieces();
        let turned: Vec<usize> = draws.iter().map(|d| lines_turned(d, from)).collect();
        // runs that begin by an end and not by the one before it, that a piece has and the one a line narrower has not,
        // summed over the draws
        let mut more = vec![0_i32; lines * widest * n];
        let mut held: Vec<usize> = Vec::new();
        let mut same = None;
        for (&(k, first, width), set) in self.pieces.iter().zip(self.sets.chunks(self.words)) {
            // a split of this length starts at its own face
            let piece = ((first + turned[k]) % lines * widest + width - 1) * n;
            if same.replace((k, first)) == Some((k, first)) {
                held.iter().for_each(|j| more[piece + j] -= 1);
            }
            held.clear();
            let mut next = from;
            while let Some(at) = earliest(set, starts, next) {
                held.push(ends.partition_point(|&end| count(end) + SLACK < at));
                next = at + splitter.need_steps();
            }
            held.iter().for_each(|j| more[piece + j] += 1);
        }
        let mut runs: Vec<f64> = more.into_iter().map(f64::from).collect();
        for row in runs.chunks_mut(widest * n) {
            (n..row.len()).for_each(|at| row[at] += row[at - n]);
        }
        let mut best = vec![0.0_f64; n];
        let mut scores = vec![0.0; n];
        for odds in odds {
            scores.fill(0.0);
            for &(piece, chance) in odds {
                let piece = (piece / widest % lines * widest + piece % widest) * n;
                scores.iter_mut().zip(&runs[piece..piece + n]).for_each(|(s, r)| *s += chance * r);
            }
            let mut sum = 0.0;
            for (best, score) in best.iter_mut().zip(&scores) {
                sum += score;
                *best = best.max(sum);
            }
        }
        best.into_iter().map(|b| b / count(draws.len().max(1))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::saw_first::score_of;
    use crate::decide::split::{judge_draws, splitter_for};
    use crate::domain::Lot;
    use crate::numeric::draws::mirrored_normals;
    use crate::tube::{Fields, Sections};
    use std::cell::RefCell;
    use std::collections::HashMap;

    /// What a length gives tried by itself: its own tables, their average, its best score.
    fn given(splitter: &Splitter, draws: &[DrawnSurface], length: StartRange) -> f64 {
        score_of(splitter, draws, length).into_iter().fold(0.0, f64::max)
    }

    /// Every set of cuts at these places, as lengths: those between which no blank fits are left out.
    fn every_set(splitter: &Splitter, places: &[usize], last: usize) -> Vec<Vec<StartRange>> {
        (0_u32..1 << places.len())
            .map(|set| {
                let cuts = places.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, &s)| s);
                let mut from = 0.0;
                let mut lengths: Vec<StartRange> = Vec::new();
                for end in cuts.chain([last]) {
                    lengths.push(StartRange { from, last: end });
                    from = after(splitter, end);
                }
                lengths
            })
            .filter(|lengths| lengths.iter().all(|l| l.from <= count(l.last) + SLACK))
            .collect()
    }

    /// Uneven surfaces: an oval that turns along the tube, and how far and how fast is each draw's own; the grain turns too.
    fn surfaces(length_mm: f64, seed: u64, draws: u64, twist: bool) -> (Splitter, Vec<DrawnSurface>) {
        let mut lot = Lot::default();
        (lot.target.hollow_mm, lot.target.rock_mm, lot.target.arc_tolerance_mm) = (1.0, 1.0, 0.5);
        (lot.target.blank_length_mm, lot.target.grain_drift_mm) = (40.0, 9.0);
        let fields = Fields { top: 4, wall: false, twist };
        let splitter = splitter_for(length_mm, fields, &lot, &[], 12.7).expect("long enough");
        let surface = |k: u64| {
            let by = mirrored_normals(seed, "oval", k, 4);
            let mut s = Sections::zeros(fields, splitter.judge().fan().z_mm());
            let z = splitter.judge().fan().z_mm().to_vec();
            for (j, z) in z.iter().enumerate() {
                let turn = (0.03 + 0.01 * by[0]) * z + by[1];
                let row = s.row_mut(j);
                row[0] = 12.7 + 0.1 * by[2];
                (row[1], row[2]) = (0.35 * turn.cos(), 0.35 * turn.sin());
                if let Some(at) = fields.turn_at() {
                    row[at] = 0.2 * (1.0 + by[3]) * z;
                }
            }
            s
        };
        let draws = judge_draws(&splitter, surface, seed, "x", draws);
        (splitter, draws)
    }

    #[test]
    fn no_set_of_cuts_gives_more_than_the_one_found() {
        let mut cut = [0; 4];
        for (seed, length_mm, twist) in [(1, 156.0, false), (2, 173.0, false), (3, 190.0, true), (4, 161.0, true)] {
            let (splitter, draws) = surfaces(length_mm, seed, 4, twist);
            let all = places(&splitter);
            // a small grid of its own: every set of nine places or so can be tried
            let few: Vec<usize> = all.iter().copied().step_by(all.len().div_ceil(9)).collect();
            let known = RefCell::new(HashMap::new());
            let of = |l: StartRange| {
                *known.borrow_mut().entry((l.from.to_bits(), l.last)).or_insert_with(|| given(&splitter, &draws, l))
            };
            let few_worth = Worth::of(&splitter, &draws, &few);
            for handling in [0.0, 0.15, 0.6] {
                let value =
                    |set: &[StartRange]| set.iter().map(|&l| of(l)).sum::<f64>() - handling * count(set.len() - 1);
                let last = splitter.judge().fan().starts() - 1;
                let sets = every_set(&splitter, &few, last);
                assert!(sets.len() > 10, "{}", sets.len());
                let best = sets.iter().map(|set| value(set)).fold(f64::MIN, f64::max);
                let found = few_worth.lengths(&few_worth.best_cuts(handling));
                assert!((value(&found) - best).abs() < 1e-6, "{seed} {handling}: {} of {best}", value(&found));
                cut[found.len().min(4) - 1] += 1;
                // over all places it is no worse, but for what the middle of the best places may lose
                let fine = best_lengths(&splitter, &draws, handling);
                assert!(value(&fine) >= best - AS_GOOD * count(fine.len() - 1) - 1e-9, "{seed} {handling}");
            }
        }
        // no cut, one and more were all found somewhere
        assert!(cut[0] > 0 && cut[1] > 0 && cut[2] + cut[3] > 0, "{cut:?}");
    }

    #[test]
    fn a_partition_is_the_best_of_all_by_any_worth() {
        for seed in 0..40 {
            let ends = 1 + usize::try_from(seed).unwrap_or(0) % 7;
            let worths = mirrored_normals(seed, "worth", 0, 49);
            let worth = |i: usize, j: usize| worths[7 * i + j];
            let total = |cuts: &[usize]| {
                let begins = std::iter::once(0).chain(cuts.iter().map(|c| c + 1));
                let lengths = begins.zip(cuts.iter().copied().chain([ends - 1]));
                lengths.map(|(i, j)| worth(i, j)).sum::<f64>() - 0.3 * count(cuts.len())
            };
            let every =
                (0_u32..1 << (ends - 1)).map(|set| (0..ends - 1).filter(|i| set >> i & 1 == 1).collect::<Vec<usize>>());
            let best = every.map(|set| total(&set)).fold(f64::MIN, f64::max);
            let found = cut_best(ends, 0.3, worth);
            assert!((total(&found) - best).abs() < 1e-9, "{found:?}: {} of {best}", total(&found));
        }
        // where nothing differs nothing is sawn
        assert!(cut_best(5, 0.0, |i, j| count(j + 1 - i)).is_empty());
    }

    #[test]
    fn places_for_a_cut_leave_a_blank_on_either_side_and_are_not_too_many() {
        // 16 mm of trim, two blanks of 40 and a kerf: 97 mm
        for (length_mm, between) in [(96.0, 0..=0), (98.0, 1..=1), (101.0, 2..=3), (170.0, 30..=48), (3000.0, 30..=48)]
        {
            let (splitter, _) = surfaces(length_mm, 1, 1, false);
            let (places, last) = (places(&splitter), splitter.judge().fan().starts() - 1);
            assert!(between.contains(&places.len()), "{length_mm}: {}", places.len());
            assert!(places.iter().all(|&s| after(&splitter, s) <= count(last) + SLACK), "{length_mm}");
        }
    }
}
