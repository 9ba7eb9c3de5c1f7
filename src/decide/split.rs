//! Where to place the splits: expected runs for every split angle, averaged over draws and over wander.

use super::bark_map::{BarkMap, Judge};
use super::fan::{Fan, LINES};
use super::piece::{Passing, PieceTable};
use super::room::{Side, SideRoom};
use super::runs::most_runs;
use crate::domain::{Saw, Split};
use crate::numeric::draws;
use crate::numeric::summary::{count, to_index};
use crate::tube::Sections;
use rayon::prelude::*;
use statrs::function::erf::erf;
use std::f64::consts::{SQRT_2, TAU};

pub use super::choice::{Choice, FLAT_BLANKS, SplitChoice};

/// Distance between the split angles that are tried, degrees.
const AIM_STEP_DEG: f64 = 1.0;
/// An angle is chosen as if its split lines wandered at least this much, degrees: no hand sets one closer.
pub const LEAST_WANDER_DEG: f64 = 1.0;
/// The wander is averaged out to this many standard deviations.
const WANDER_REACH: f64 = 4.0;

/// One drawn surface and what it yields.
#[derive(Debug, Clone)]
pub struct DrawnSurface {
    /// The surface at the fan's stations.
    pub sections: Sections,
    /// Which windows pass.
    pub passing: Passing,
    /// Runs of every piece.
    pub table: PieceTable,
    /// Where this draw's split lines fall about their aims, radians, one per split line.
    pub wander: Vec<f64>,
}

/// Everything that choosing a split needs, computed once per tube.
#[derive(Debug, Clone)]
pub struct Splitter {
    judge: Judge,
    room: SideRoom,
    pieces: usize,
    wander: f64,
    /// wander that an angle is chosen under
    aiming: f64,
    need: f64,
    widest: usize,
}

impl Splitter {
    /// Prepares for one tube.
    #[must_use]
    pub fn new(judge: Judge, saw: &Saw, split: &Split) -> Splitter {
        let target = judge.target();
        let pieces = target.pieces.clamp(2, 6);
        let room = judge.base();
        let wander = split.wander_deg.max(0.0).to_radians();
        let need = (target.blank_length_mm + saw.kerf_mm) / judge.fan().step_mm();
        let aiming = wander.max(LEAST_WANDER_DEG.to_radians());
        let free = TAU / count(pieces) - 2.0 * room.inset + 2.0 * WANDER_REACH * aiming;
        let widest = to_index((free * count(LINES) / TAU).ceil().max(1.0)).min(LINES - 1) + 2;
        Splitter { judge, room, pieces, wander, aiming, need, widest }
    }

    /// The judge.
    #[must_use]
    pub fn judge(&self) -> &Judge {
        &self.judge
    }

    /// Number of pieces.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.pieces
    }

    /// Least distance between the starts of two runs, in the fan's steps.
    #[must_use]
    pub(crate) fn need_steps(&self) -> f64 {
        self.need
    }

    /// Angle between neighbouring split lines, radians.
    #[must_use]
    pub fn period(&self) -> f64 {
        TAU / count(self.pieces)
    }

    /// Lines that piece `p` (from 0) is named by when the first split line is aimed at `aim` radians and the lines fall `off`
    /// from their aims: first and number. What each start leaves open of them [`BarkMap::side`] tells.
    #[must_use]
    pub fn lines_of(&self, aim: f64, p: usize, off: &[f64]) -> (usize, usize) {
        let at = |i: usize| aim + count(i) * self.period() + off.get(i % self.pieces).copied().unwrap_or(0.0);
        self.room.lines(at(p), at(p + 1))
    }

    /// Judges draw `k`: the surface `sections` with wander from (seed, tube, k).
    #[must_use]
    pub fn draw(&self, sections: Sections, seed: u64, tube: &str, k: u64) -> DrawnSurface {
        let mut map = BarkMap::default();
        self.judge.judge_passing(&sections, &mut map);
        let passing = Passing::of(&map, self.judge.fan());
        let table = self.table_of(&passing);
        let mut rng = draws::stream(seed, &format!("{tube}/wander"), k);
        let wander = draws::normals(&mut rng, self.pieces).iter().map(|v| v * self.wander).collect();
        DrawnSurface { sections, passing, table, wander }
    }

    /// The split angles tried, radians.
    #[must_use]
    pub fn aims(&self) -> Vec<f64> {
        let n = to_index((self.period().to_degrees() / AIM_STEP_DEG).round()).max(1);
        (0..n).map(|i| self.period() * count(i) / count(n)).collect()
    }

    /// What every aim is chosen by: expected runs, averaged exactly over a wander of at least [`LEAST_WANDER_DEG`], for one
    /// table or an average of tables.
    ///
    /// `table` has the layout of [`PieceTable::values`].
    #[must_use]
    pub fn scores(&self, table: &[f64]) -> Vec<f64> {
        let one = |aim: &f64| self.pieces_at(*aim).map(|from| sum(&self.odds(from, self.aiming), table)).sum();
        self.aims().iter().map(one).collect()
    }

    /// Expected runs of all pieces at one aim, averaged over the wander as it is.
    #[must_use]
    pub(super) fn value(&self, table: &[f64], aim: f64) -> f64 {
        sum(&self.weights(aim), table)
    }

    /// Expected runs of the piece between lines aimed at `from` and one period on.
    #[must_use]
    pub(crate) fn expected_runs(&self, table: &[f64], from: f64) -> f64 {
        sum(&self.odds(from, self.wander), table)
    }

    /// Places of a table with their chances, over all pieces at one aim.
    pub(super) fn weights(&self, aim: f64) -> Vec<(usize, f64)> {
        self.pieces_at(aim).flat_map(|from| self.odds(from, self.wander)).collect()
    }

    /// The same averaged over all aims, place by place.
    pub(super) fn weights_of_all(&self) -> Vec<f64> {
        let mut all = vec![0.0; LINES * self.widest];
        let aims = self.aims();
        for aim in &aims {
            self.weights(*aim).iter().for_each(|&(at, p)| all[at] += p / count(aims.len()));
        }
        all
    }

    /// Where the pieces of one aim begin.
    fn pieces_at(&self, aim: f64) -> impl Iterator<Item = f64> {
        (0..self.pieces).map(move |p| aim + count(p) * self.period())
    }

    /// Places of a table that a piece aimed at `from` may turn out to be, with their chances.
    fn odds(&self, from: f64, wander: f64) -> Vec<(usize, f64)> {
        let low = line_odds(from + self.room.inset, wander);
        let high = line_odds(from + self.period() - self.room.inset, wander);
        let mut out = Vec::with_capacity(low.len() * high.len());
        for &(i, p) in &low {
            let first = to_index(i.rem_euclid(count(LINES)));
            for &(j, q) in &high {
                let width = j - i + 1.0;
                if width >= 1.0 {
                    out.push((first * self.widest + to_index(width).min(self.widest) - 1, p * q));
                }
            }
        }
        out
    }

    /// Runs in all pieces of one draw at one aim, with that draw's own wander.
    #[must_use]
    pub fn runs_at(&self, draw: &DrawnSurface, aim: f64) -> u16 {
        (0..self.pieces)
            .map(|p| {
                let (first, width) = self.lines_of(aim, p, &draw.wander);
                u16::from(draw.table.runs(first, width))
            })
            .sum()
    }

    /// Average of the tables of many draws.
    #[must_use]
    pub fn mean_table(&self, draws: &[DrawnSurface]) -> Vec<f64> {
        self.mean_of_tables(draws.iter().map(|d| &d.table))
    }

    /// Average of tables.
    #[must_use]
    pub(crate) fn mean_of_tables<'a>(&self, tables: impl ExactSizeIterator<Item = &'a PieceTable>) -> Vec<f64> {
        let n = count(tables.len().max(1));
        let mut sum = self.sum_of_tables(tables);
        sum.iter_mut().for_each(|s| *s /= n);
        sum
    }

    /// Sum of tables.
    #[must_use]
    pub(super) fn sum_of_tables<'a>(&self, tables: impl Iterator<Item = &'a PieceTable>) -> Vec<f64> {
        let mut sum = vec![0.0; LINES * self.widest];
        for table in tables {
            sum.iter_mut().zip(table.values()).for_each(|(s, &r)| *s += f64::from(r));
        }
        sum
    }

    /// The table of another set of passing windows on the same fan.
    #[must_use]
    pub(crate) fn table_of(&self, passing: &Passing) -> PieceTable {
        PieceTable::of(passing, self.widest, self.need)
    }

    /// Expected runs of all pieces at one aim, averaged over the wander, for one table.
    #[must_use]
    pub(crate) fn expected_at(&self, table: &PieceTable, aim: f64) -> f64 {
        self.weights(aim).iter().map(|&(at, p)| p * f64::from(table.values()[at])).sum()
    }

    /// Largest least margin of the most runs every piece holds on a known surface, without wander; `None` without a run.
    #[must_use]
    pub(super) fn least_margin(&self, map: &BarkMap, aim: f64) -> Option<f64> {
        let fan = self.judge.fan();
        (0..self.pieces)
            .filter_map(|p| {
                let (first, width) = self.lines_of(aim, p, &[]);
                let margins = self.best_margins(map, first, width);
                widest_margin(&margins, fan.starts(), self.need)
            })
            .min_by(f64::total_cmp)
    }

    /// For every start the best margin any of the lines has.
    fn best_margins(&self, map: &BarkMap, first: usize, width: usize) -> Vec<f64> {
        (0..self.judge.fan().starts())
            .map(|s| {
                let Side { shift, left, right } = map.side(s);
                (first + left..(first + width).saturating_sub(right))
                    .map(|i| self.judge.margin(map, s * LINES + (i + shift) % LINES))
                    .fold(f64::MIN, f64::max)
            })
            .collect()
    }
}

/// A table weighed.
fn sum(odds: &[(usize, f64)], table: &[f64]) -> f64 {
    odds.iter().map(|&(at, p)| p * table[at]).sum()
}

/// Chance that an end aimed at `at` radians, the wander this large, falls nearest to each line.
fn line_odds(at: f64, wander: f64) -> Vec<(f64, f64)> {
    let step = TAU / count(LINES);
    let centre = (at / step).round();
    if wander < 1e-9 {
        return vec![(centre, 1.0)];
    }
    let reach = (WANDER_REACH * wander / step).ceil();
    let below = |x: f64| 0.5 * (1.0 + erf((x * step - at) / (wander * SQRT_2)));
    let n = to_index(2.0 * reach) + 1;
    let odds: Vec<(f64, f64)> =
        (0..n).map(|k| centre - reach + count(k)).map(|line| (line, below(line + 0.5) - below(line - 0.5))).collect();
    let total: f64 = odds.iter().map(|o| o.1).sum();
    odds.into_iter().map(|(line, p)| (line, p / total)).collect()
}

/// The largest margin at which as many runs still fit as fit at margin 0; `None` when none fits.
fn widest_margin(margins: &[f64], starts: usize, need: f64) -> Option<f64> {
    let runs_at = |least: f64| {
        let mut set = vec![0_u64; starts.div_ceil(64)];
        for (s, &m) in margins.iter().enumerate() {
            set[s / 64] |= u64::from(m >= least) << (s % 64);
        }
        most_runs(&set, starts, need)
    };
    let most = runs_at(0.0);
    if most == 0 {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..20 {
        let middle = 0.5 * (low + high);
        if runs_at(middle) == most { low = middle } else { high = middle }
    }
    Some(low)
}

/// Judges many surfaces at once; the order of the result is the order of the draws whatever the threads do.
#[must_use]
pub fn judge_draws(
    splitter: &Splitter,
    surface: impl Fn(u64) -> Sections + Sync,
    seed: u64,
    tube: &str,
    n: u64,
) -> Vec<DrawnSurface> {
    (0..n).into_par_iter().map(|k| splitter.draw(surface(k), seed, tube, k)).collect()
}

/// A splitter for a tube of this length with these marks, or `None` when not even one blank fits.
#[must_use]
pub fn splitter_for(
    length_mm: f64,
    fields: crate::tube::Fields,
    lot: &crate::domain::Lot,
    marks: &[crate::domain::Mark],
    radius_mm: f64,
) -> Option<Splitter> {
    let fan = Fan::new(length_mm, &lot.target, &lot.saw)?;
    let marked = super::piece::marked_windows(&fan, marks, &lot.target, radius_mm);
    let judge = Judge::new(fan, fields, &lot.target, radius_mm, marked);
    Some(Splitter::new(judge, &lot.saw, &lot.split))
}
