//! Which split angle to aim at, and what it is worth on draws that did not choose it.

use super::bark_map::BarkMap;
use super::split::{DrawnSurface, Splitter};
use crate::domain::Angle;
use crate::numeric::summary::{count, mean, ninety, numbers, sd};
use serde::{Deserialize, Serialize};

/// Split angles whose expected blanks differ by less than this count as equal: the middle of an unbroken range of them is
/// aimed at.
const TIE_BLANKS: f64 = 0.03;
/// An angle does as well as the best when it loses less than this many blanks.
pub const FLAT_BLANKS: f64 = 0.1;
/// Other choices named beside the best are at least this far from it and from each other, degrees.
const SEPARATE_DEG: f64 = 12.0;
/// So many parts the draws fall into; each values what the others chose.
pub const PARTS: usize = 10;

/// The part that draw `k` falls into: both of a mirrored pair into the same (see [`crate::numeric::draws::mirrored`]),
/// since one knows the other.
#[must_use]
pub fn part_of(k: usize, parts: usize) -> usize {
    k / 2 % parts
}

/// One choice of split angle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// The split angle, in `[0, 360 / pieces)` degrees; of lines as they fell where the first of them did.
    pub angle_deg: f64,
    /// Blanks expected, averaged over draws and wander.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
}

/// The chosen split of one tube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SplitChoice {
    /// The chosen angle, valued on draws that did not choose it.
    #[serde(flatten)]
    pub best: Choice,
    /// 5 % and 95 % points of the blanks at that angle.
    #[serde(flatten, with = "low_and_high")]
    pub interval: (f64, f64),
    /// First and last angle (degrees; the first may lie below 0, the last beyond the period) that do as well within [`FLAT_BLANKS`].
    #[serde(flatten, with = "as_good")]
    pub flat_top: (f64, f64),
    /// True where no angle beats an arbitrary one by more than its doubt: any does as well as these readings can tell.
    #[serde(default)]
    pub any_angle: bool,
    /// What the chosen angle has over `best.expected` on the very draws that chose it: the winner's gain, taken off.
    #[serde(default, rename = "winners_gain_blanks")]
    pub winners_gain: f64,
    /// What an arbitrary angle gives on average.
    #[serde(rename = "arbitrary_blanks")]
    pub arbitrary: f64,
    /// Least margin of the runs the mean surface gives at the chosen angle; `None` when it gives no run.
    #[serde(rename = "least_margin")]
    pub margin: Option<f64>,
    /// Up to two next-best separate choices.
    #[serde(rename = "next_best")]
    pub runners_up: Vec<Choice>,
    /// The score at every angle tried, from all draws and averaged over a wander of at least [`LEAST_WANDER_DEG`](super::split::LEAST_WANDER_DEG).
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

/// A split chosen, and what every part of the draws values.
#[derive(Debug, Clone)]
pub(super) struct Chosen {
    pub(super) choice: SplitChoice,
    /// The angle that all draws but those of a part choose, radians, part by part; empty where draws are too few.
    pub(super) aims: Vec<f64>,
}

impl Splitter {
    /// Chooses the split angle from draws; `mean_map` is the map of the mean surface and settles ties.
    #[must_use]
    pub fn choose(&self, draws: &[DrawnSurface], mean_map: &BarkMap) -> SplitChoice {
        self.choose_by_parts(draws, mean_map).choice
    }

    /// As [`Splitter::choose`], with the angles that parts of the draws choose.
    ///
    /// The best of many noisy scores flatters itself by the noise it was picked for. So the choice is made ten times, each
    /// time without a tenth of the draws, and valued on that tenth: the mean of these is what is expected. It is without
    /// bias for a choice from nine tenths of the draws, which is all but the choice made.
    #[must_use]
    pub(super) fn choose_by_parts(&self, draws: &[DrawnSurface], mean_map: &BarkMap) -> Chosen {
        let aims = self.aims();
        let parts = if draws.len() >= 2 * PARTS { PARTS } else { 1 };
        let own: Vec<Vec<&DrawnSurface>> = (0..parts)
            .map(|part| draws.iter().enumerate().filter(|(k, _)| part_of(*k, parts) == part).map(|(_, d)| d).collect())
            .collect();
        let sums: Vec<Vec<f64>> = own.iter().map(|part| self.sum_of_tables(part.iter().map(|d| &d.table))).collect();
        let mut whole = vec![0.0; sums[0].len()];
        sums.iter().for_each(|sum| whole.iter_mut().zip(sum).for_each(|(w, s)| *w += s));
        let over = |table: &[f64], n: usize| table.iter().map(|t| t / count(n.max(1))).collect::<Vec<f64>>();
        let table = over(&whole, draws.len());
        let scores = self.scores(&table);
        let margins = Margins::new(self, mean_map, &aims);
        let best = margins.pick(&scores);
        let top = scores.iter().copied().fold(f64::MIN, f64::max);
        let mut expected = self.value(&table, aims[best]);
        let mut chosen = Vec::new();
        let mut over_arbitrary = Vec::new();
        if parts > 1 {
            let level = self.weights_of_all();
            let mut sum = 0.0;
            for (part, of_part) in sums.iter().zip(&own) {
                let others: Vec<f64> = whole.iter().zip(part).map(|(w, o)| w - o).collect();
                let aim = aims[margins.pick(&self.scores(&over(&others, draws.len() - of_part.len())))];
                sum += self.value(part, aim);
                let odds = self.weights(aim);
                over_arbitrary.extend(of_part.iter().map(|d| d.table.weighed(&odds) - weigh_all(&level, &d.table)));
                chosen.push(aim);
            }
            expected = sum / count(draws.len());
        }
        let error = sd(&over_arbitrary) / count(over_arbitrary.len().max(1)).sqrt();
        let any_angle = parts > 1 && mean(&over_arbitrary) < FLAT_BLANKS.max(2.0 * error);
        let by_angle: Vec<Choice> =
            aims.iter().zip(&scores).map(|(a, &expected)| Choice { angle_deg: tidy_degrees(*a), expected }).collect();
        let totals: Vec<u16> = draws.iter().map(|d| self.runs_at(d, aims[best])).collect();
        let choice = SplitChoice {
            best: Choice { angle_deg: by_angle[best].angle_deg, expected },
            interval: ninety(&numbers(&totals)),
            flat_top: flat_top(&by_angle, best, top),
            any_angle,
            winners_gain: self.value(&table, aims[best]) - expected,
            runners_up: runners_up(&by_angle, best, top),
            arbitrary: mean(&scores),
            by_angle,
            draws: totals,
            margin: margins.of(best),
        };
        Chosen { choice, aims: chosen }
    }
}

/// Weights of every place of the table.
fn weigh_all(weights: &[f64], table: &super::piece::PieceTable) -> f64 {
    weights.iter().zip(table.values()).map(|(w, &r)| w * f64::from(r)).sum()
}

/// Least margins of the mean surface at every angle tried, computed where they are asked for.
struct Margins<'a> {
    splitter: &'a Splitter,
    map: &'a BarkMap,
    aims: &'a [f64],
    known: Vec<std::cell::OnceCell<Option<f64>>>,
}

impl<'a> Margins<'a> {
    fn new(splitter: &'a Splitter, map: &'a BarkMap, aims: &'a [f64]) -> Margins<'a> {
        Margins { splitter, map, aims, known: vec![std::cell::OnceCell::new(); aims.len()] }
    }

    /// The margin at one angle; `None` when the mean surface gives no run there.
    fn of(&self, i: usize) -> Option<f64> {
        *self.known[i].get_or_init(|| self.splitter.least_margin(self.map, self.aims[i]))
    }

    /// The angle to aim at: the middle of the unbroken range of tied angles, of several ranges that with the largest least
    /// margin in its middle, then the first. Where every angle ties, the one of the largest margin.
    fn pick(&self, scores: &[f64]) -> usize {
        let middles = middles(scores);
        let candidates: Vec<usize> = if middles.is_empty() { (0..scores.len()).collect() } else { middles };
        let value = |i: usize| self.of(i).unwrap_or(f64::MIN);
        candidates.into_iter().reduce(|best, i| if value(i) > value(best) { i } else { best }).unwrap_or(0)
    }
}

/// Middles of the unbroken ranges of angles within [`TIE_BLANKS`] of the top, the last angle lying beside the first; none
/// where all angles are.
fn middles(scores: &[f64]) -> Vec<usize> {
    tied(scores).into_iter().map(|(first, length)| (first + length / 2) % scores.len()).collect()
}

/// First angle and number of angles of each of these ranges.
fn tied(scores: &[f64]) -> Vec<(usize, usize)> {
    let n = scores.len();
    let top = scores.iter().copied().fold(f64::MIN, f64::max);
    let tied = |i: usize| scores[i % n] >= top - TIE_BLANKS;
    let length = |first: usize| (1..n).take_while(|k| tied(first + k)).count();
    (0..n).filter(|&i| tied(i) && !tied(i + n - 1)).map(|first| (first, length(first))).collect()
}

/// The middle of the widest range of tied angles, the first of equally wide ones; the first angle where all tie.
pub(super) fn middle_of_top(scores: &[f64]) -> usize {
    let widest = tied(scores).into_iter().reduce(|best, range| if range.1 > best.1 { range } else { best });
    widest.map_or(0, |(first, length)| (first + length / 2) % scores.len())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_a_tied_range_is_aimed_at_and_not_its_edge() {
        let mut scores = vec![3.0; 90];
        (10..=18).for_each(|i| scores[i] = 5.0);
        // within a tie of the top, and just beyond it
        (scores[19], scores[20], scores[9]) = (4.98, 4.98, 4.96);
        assert_eq!(middles(&scores), [15]);
        // across the end of the period
        let mut turned = scores.clone();
        turned.rotate_left(15);
        assert_eq!(middles(&turned), [0]);
        scores[60] = 4.99;
        assert_eq!(middles(&scores), [15, 60]);
        assert!(middles(&[2.0; 90]).is_empty(), "where all tie there is no middle");
    }

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
