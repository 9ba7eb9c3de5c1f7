//! Where to place the splits: expected runs for every split angle, averaged over draws and over wander.

use super::bark_map::{BarkMap, Judge};
use super::fan::{Fan, LINES};
use super::piece::{Passing, PieceTable};
use super::room::{Side, SideRoom};
use super::runs::most_runs;
use crate::domain::{Angle, Saw, Split};
use crate::numeric::draws;
use crate::numeric::summary::{count, mean, quantile, to_index};
use crate::tube::Sections;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use statrs::function::erf::erf;
use std::f64::consts::{SQRT_2, TAU};

/// Distance between the split angles that are tried, degrees.
const AIM_STEP_DEG: f64 = 1.0;
/// Split angles whose expected blanks differ by less than this count as equal; the larger least margin decides.
const TIE_BLANKS: f64 = 0.02;
/// An angle does as well as the best when it loses less than this many blanks.
pub const FLAT_BLANKS: f64 = 0.1;
/// Other choices named beside the best are at least this far from it and from each other, degrees.
const SEPARATE_DEG: f64 = 12.0;
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

/// One choice of split angle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// The split angle, in `[0, 360 / pieces)` degrees.
    pub angle_deg: f64,
    /// Blanks expected, averaged over draws and wander.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
}

/// The chosen split of one tube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SplitChoice {
    /// The chosen angle.
    #[serde(flatten)]
    pub best: Choice,
    /// 5 % and 95 % points of the blanks at that angle.
    #[serde(flatten, with = "low_and_high")]
    pub interval: (f64, f64),
    /// First and last angle (degrees, the last may exceed the period) that do as well within [`FLAT_BLANKS`].
    #[serde(flatten, with = "as_good")]
    pub flat_top: (f64, f64),
    /// What an arbitrary angle gives on average.
    #[serde(rename = "arbitrary_blanks")]
    pub arbitrary: f64,
    /// Least margin of the runs the mean surface gives at the chosen angle; `None` when it gives no run.
    #[serde(rename = "least_margin")]
    pub margin: Option<f64>,
    /// Up to two next-best separate choices.
    #[serde(rename = "next_best")]
    pub runners_up: Vec<Choice>,
    /// The score at every angle tried.
    pub by_angle: Vec<Choice>,
    /// Blanks of every draw at the chosen angle.
    pub draws: Vec<u16>,
}

/// A module that stores a pair of numbers under two names.
macro_rules! pair_as {
    ($module:ident, $first:ident, $second:ident) => {
        mod $module {
            use serde::{Deserialize, Deserializer, Serialize, Serializer};

            #[derive(Serialize, Deserialize)]
            struct Stored {
                $first: f64,
                $second: f64,
            }

            pub(super) fn serialize<S: Serializer>(pair: &(f64, f64), to: S) -> Result<S::Ok, S::Error> {
                Stored { $first: pair.0, $second: pair.1 }.serialize(to)
            }

            pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<(f64, f64), D::Error> {
                Stored::deserialize(from).map(|s| (s.$first, s.$second))
            }
        }
    };
}
pair_as!(low_and_high, low, high);
pair_as!(as_good, as_good_from_deg, as_good_to_deg);

/// Everything that choosing a split needs, computed once per tube.
#[derive(Debug, Clone)]
pub struct Splitter {
    judge: Judge,
    room: SideRoom,
    pieces: usize,
    wander: f64,
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
        let free = TAU / count(pieces) - 2.0 * room.inset + 2.0 * WANDER_REACH * wander;
        let widest = to_index((free * count(LINES) / TAU).ceil().max(1.0)).min(LINES - 1) + 2;
        Splitter { judge, room, pieces, wander, need, widest }
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

    /// Expected runs at every aim, averaged exactly over the wander, for one table or an average of tables.
    ///
    /// `table` has the layout of [`PieceTable::values`].
    #[must_use]
    pub fn scores(&self, table: &[f64]) -> Vec<f64> {
        self.aims()
            .iter()
            .map(|aim| (0..self.pieces).map(|p| self.expected_runs(table, aim + count(p) * self.period())).sum())
            .collect()
    }

    /// Expected runs of the piece between lines aimed at `from` and one period on.
    #[must_use]
    pub(crate) fn expected_runs(&self, table: &[f64], from: f64) -> f64 {
        let low = self.line_odds(from + self.room.inset);
        let high = self.line_odds(from + self.period() - self.room.inset);
        let mut sum = 0.0;
        for &(i, p) in &low {
            let first = to_index(i.rem_euclid(count(LINES)));
            for &(j, q) in &high {
                let width = j - i + 1.0;
                if width >= 1.0 {
                    sum += p * q * table[first * self.widest + to_index(width).min(self.widest) - 1];
                }
            }
        }
        sum
    }

    /// Chance that an end aimed at `at` radians falls nearest to each line.
    fn line_odds(&self, at: f64) -> Vec<(f64, f64)> {
        let step = TAU / count(LINES);
        let centre = (at / step).round();
        if self.wander < 1e-9 {
            return vec![(centre, 1.0)];
        }
        let reach = (WANDER_REACH * self.wander / step).ceil();
        let below = |x: f64| 0.5 * (1.0 + erf((x * step - at) / (self.wander * SQRT_2)));
        let n = to_index(2.0 * reach) + 1;
        let odds: Vec<(f64, f64)> = (0..n)
            .map(|k| centre - reach + count(k))
            .map(|line| (line, below(line + 0.5) - below(line - 0.5)))
            .collect();
        let total: f64 = odds.iter().map(|o| o.1).sum();
        odds.into_iter().map(|(line, p)| (line, p / total)).collect()
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
    pub(crate) fn mean_of_tables<'a>(&self, tables: impl Iterator<Item = &'a PieceTable>) -> Vec<f64> {
        let mut sum = vec![0.0; LINES * self.widest];
        let mut n = 0;
        for table in tables {
            n += 1;
            for (s, &r) in sum.iter_mut().zip(table.values()) {
                *s += f64::from(r);
            }
        }
        sum.iter_mut().for_each(|s| *s /= count(n.max(1)));
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
        let numbers: Vec<f64> = table.values().iter().map(|&r| f64::from(r)).collect();
        (0..self.pieces).map(|p| self.expected_runs(&numbers, aim + count(p) * self.period())).sum()
    }

    /// Chooses the split angle from draws; `mean_map` is the map of the mean surface and settles ties.
    #[must_use]
    pub fn choose(&self, draws: &[DrawnSurface], mean_map: &BarkMap) -> SplitChoice {
        let aims = self.aims();
        let scores = self.scores(&self.mean_table(draws));
        let top = scores.iter().copied().fold(f64::MIN, f64::max);
        let tied: Vec<usize> = (0..aims.len()).filter(|&i| scores[i] >= top - TIE_BLANKS).collect();
        let margins: Vec<Option<f64>> = tied.par_iter().map(|&i| self.least_margin(mean_map, aims[i])).collect();
        let mut pick = 0;
        for i in 1..tied.len() {
            let value = |m: Option<f64>| m.unwrap_or(f64::MIN);
            if value(margins[i]) > value(margins[pick]) {
                pick = i;
            }
        }
        let best = tied[pick];
        let by_angle: Vec<Choice> =
            aims.iter().zip(&scores).map(|(a, &expected)| Choice { angle_deg: tidy_degrees(*a), expected }).collect();
        let totals: Vec<u16> = draws.iter().map(|d| self.runs_at(d, aims[best])).collect();
        let numbers: Vec<f64> = totals.iter().map(|&t| f64::from(t)).collect();
        SplitChoice {
            best: by_angle[best],
            interval: (quantile(&numbers, 0.05), quantile(&numbers, 0.95)),
            flat_top: flat_top(&by_angle, best, top),
            runners_up: runners_up(&by_angle, best, top),
            arbitrary: mean(&scores),
            by_angle,
            draws: totals,
            margin: margins[pick],
        }
    }

    /// Largest least margin of the most runs every piece holds on a known surface, without wander; `None` without a run.
    #[must_use]
    fn least_margin(&self, map: &BarkMap, aim: f64) -> Option<f64> {
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

/// Degrees without the last-digit noise of the conversion.
fn tidy_degrees(radians: f64) -> f64 {
    (Angle::from_radians(radians).degrees() * 1e6).round() / 1e6
}

/// The unbroken range of angles about `best` that lose less than [`FLAT_BLANKS`] against `top`.
fn flat_top(by_angle: &[Choice], best: usize, top: f64) -> (f64, f64) {
    let n = by_angle.len();
    let good = |i: usize| by_angle[i % n].expected >= top - FLAT_BLANKS;
    let back = (1..n).take_while(|k| good(best + n - k)).count();
    let ahead = (1..n - back).take_while(|k| good(best + k)).count();
    let step = if n > 1 { by_angle[1].angle_deg - by_angle[0].angle_deg } else { 0.0 };
    let at = by_angle[best].angle_deg;
    (at - count(back) * step, at + count(ahead) * step)
}

/// Local maxima outside the flat top, best first, apart from it and from each other.
fn runners_up(by_angle: &[Choice], best: usize, top: f64) -> Vec<Choice> {
    let n = by_angle.len();
    let step = if n > 1 { by_angle[1].angle_deg - by_angle[0].angle_deg } else { return Vec::new() };
    let period = step * count(n);
    let apart = |a: f64, b: f64| {
        let d = (a - b).rem_euclid(period);
        d.min(period - d)
    };
    let (from, to) = flat_top(by_angle, best, top);
    let off_top = |a: f64| (a - from).rem_euclid(period) > to - from + 1e-9;
    let mut peaks: Vec<Choice> = (0..n)
        .filter(|&i| {
            let here = by_angle[i].expected;
            here >= by_angle[(i + 1) % n].expected && here > by_angle[(i + n - 1) % n].expected
        })
        .map(|i| by_angle[i])
        .filter(|c| off_top(c.angle_deg) && apart(c.angle_deg, by_angle[best].angle_deg) >= SEPARATE_DEG)
        .collect();
    peaks.sort_by(|a, b| b.expected.total_cmp(&a.expected).then(a.angle_deg.total_cmp(&b.angle_deg)));
    let mut out: Vec<Choice> = Vec::new();
    for p in peaks {
        if out.len() < 2 && out.iter().all(|o| apart(o.angle_deg, p.angle_deg) >= SEPARATE_DEG) {
            out.push(p);
        }
    }
    out
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

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(values: &[f64]) -> Vec<Choice> {
        values.iter().enumerate().map(|(i, &expected)| Choice { angle_deg: i as f64 * 10.0, expected }).collect()
    }

    #[test]
    fn the_flat_top_goes_round_the_end_of_the_period() {
        let c = curve(&[4.0, 3.0, 1.0, 1.0, 1.0, 2.0, 1.0, 1.0, 3.95]);
        assert_eq!(flat_top(&c, 0, 4.0), (-10.0, 0.0));
        let r = runners_up(&c, 0, 4.0);
        assert_eq!(r.len(), 1);
        assert!((r[0].angle_deg - 50.0).abs() < 1e-9);
    }

    #[test]
    fn a_level_curve_is_flat_all_round_and_has_no_runner_up() {
        let c = curve(&[2.0; 9]);
        let (from, to) = flat_top(&c, 3, 2.0);
        assert!((to - from - 80.0).abs() < 1e-9, "{from} {to}");
        assert!(runners_up(&c, 3, 2.0).is_empty());
    }
}
