//! Where to place the splits: expected runs for every split angle, averaged over draws and over wander.

use super::bark_map::{BarkMap, Judge};
use super::fan::{Fan, LINES};
use super::piece::{Passing, PieceTable, StartRange};
use super::room::{Side, SideRoom};
use super::runs::most_runs;
use crate::domain::{OneBlow, Saw, Split};
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
/// Where both lines of a piece are off together, so many offs are tried to a line.
const PARTS_OF_A_LINE: f64 = 8.0;
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
    one_blow: OneBlow,
    need: f64,
    widest: usize,
    /// where the split lines came to lie, radians clockwise within a turn of the first; `None` while they are aimed at
    fell: Option<Vec<f64>>,
    /// the one angle it is aimed at, radians; `None` while there is a choice
    aimed: Option<f64>,
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
        Splitter {
            judge,
            room,
            pieces,
            wander,
            aiming,
            one_blow: split.one_blow,
            need,
            widest,
            fell: None,
            aimed: None,
        }
    }

    /// The same tube aimed at one angle, radians.
    #[must_use]
    pub(super) fn aimed_at(mut self, aim: f64) -> Splitter {
        self.aimed = Some(aim);
        self
    }

    /// The same tube once it is split: its lines lie where they fell, and nothing wanders. `lines`: radians, one for each
    /// piece, clockwise within a turn of the first.
    #[must_use]
    pub(super) fn fallen(mut self, lines: Vec<f64>) -> Splitter {
        (self.wander, self.aiming) = (0.0, 0.0);
        self.pieces = lines.len();
        self.fell = Some(lines);
        let widths = (0..self.pieces).map(|p| self.ends_of(0.0, p)).map(|[from, to]| to - from);
        let free = widths.fold(0.0, f64::max) - 2.0 * self.room.inset;
        self.widest = to_index((free * count(LINES) / TAU).ceil().max(1.0)).min(LINES - 1) + 2;
        self
    }

    /// The split lines that piece `p` (from 0) lies between, radians: those aimed at from `aim` on, or those that fell.
    #[must_use]
    pub(super) fn ends_of(&self, aim: f64, p: usize) -> [f64; 2] {
        [p, p + 1].map(|i| match &self.fell {
            Some(lines) => lines[i % self.pieces] + if i < self.pieces { 0.0 } else { TAU },
            None => aim + count(i) * self.period(),
        })
    }

    /// The judge.
    #[must_use]
    pub fn judge(&self) -> &Judge {
        &self.judge
    }

    /// Lines of the widest piece a table tells apart.
    #[must_use]
    pub(super) fn widest(&self) -> usize {
        self.widest
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
        let by = |i: usize| off.get(i % self.pieces).copied().unwrap_or(0.0);
        let [from, to] = self.ends_of(aim, p);
        self.room.lines(from + by(p), to + by(p + 1))
    }

    /// Judges draw `k`: the surface `sections` with wander from (seed, tube, k).
    #[must_use]
    pub fn draw(&self, sections: Sections, seed: u64, tube: &str, k: u64) -> DrawnSurface {
        let passing = self.passing_of(&sections);
        let table = self.table_of(&passing);
        let off = draws::mirrored_normals(seed, &format!("{tube}/wander"), k, self.pieces);
        // lines that one blow makes are off together
        let wander = (0..self.pieces).map(|i| self.wander * off[self.one_blow.first_of(i, self.pieces)]).collect();
        DrawnSurface { sections, passing, table, wander }
    }

    fn passing_of(&self, sections: &Sections) -> Passing {
        let mut map = BarkMap::default();
        self.judge.judge_passing(sections, &mut map);
        Passing::of(&map, self.judge.fan())
    }

    /// Runs of every piece of one surface.
    pub(super) fn runs_on(&self, sections: &Sections) -> PieceTable {
        self.table_of(&self.passing_of(sections))
    }

    /// The split angles tried, radians.
    #[must_use]
    pub fn aims(&self) -> Vec<f64> {
        if let Some(lines) = &self.fell {
            return vec![lines[0]];
        }
        if let Some(aim) = self.aimed {
            return vec![aim];
        }
        let n = to_index((self.period().to_degrees() / AIM_STEP_DEG).round()).max(1);
        (0..n).map(|i| self.period() * count(i) / count(n)).collect()
    }

    /// What every aim is chosen by: expected runs, averaged exactly over a wander of at least [`LEAST_WANDER_DEG`], for one
    /// table or an average of tables.
    ///
    /// `table` has the layout of [`PieceTable::values`].
    #[must_use]
    pub fn scores(&self, table: &[f64]) -> Vec<f64> {
        let one = |aim: &f64| self.pieces_at(*aim).map(|ends| sum(&self.odds(ends, self.aiming), table)).sum();
        self.aims().iter().map(one).collect()
    }

    /// Expected runs of all pieces at one aim, averaged over the wander as it is.
    #[must_use]
    pub(super) fn value(&self, table: &[f64], aim: f64) -> f64 {
        sum(&self.weights(aim), table)
    }

    /// Expected runs of piece `p` (from 0) of a split at `aim`.
    #[must_use]
    pub(crate) fn expected_runs(&self, table: &[f64], aim: f64, p: usize) -> f64 {
        sum(&self.odds(self.ends_of(aim, p), self.wander), table)
    }

    /// Places of a table with their chances, over all pieces at one aim.
    pub(super) fn weights(&self, aim: f64) -> Vec<(usize, f64)> {
        self.pieces_at(aim).flat_map(|ends| self.odds(ends, self.wander)).collect()
    }

    /// The same of every aim.
    pub(super) fn weights_by_aim(&self) -> Vec<Vec<(usize, f64)>> {
        self.aims().iter().map(|aim| self.weights(*aim)).collect()
    }

    /// Places of a table with their chances for the first piece of every aim, as an angle is chosen by them: under a wander of
    /// at least [`LEAST_WANDER_DEG`]. Those of the others lie a period apart, which is a whole number of lines.
    pub(super) fn choosing_weights_of_a_piece(&self) -> Vec<Vec<(usize, f64)>> {
        self.aims().iter().map(|aim| self.odds(self.ends_of(*aim, 0), self.aiming)).collect()
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

    /// The lines that the pieces of one aim lie between.
    fn pieces_at(&self, aim: f64) -> impl Iterator<Item = [f64; 2]> {
        (0..self.pieces).map(move |p| self.ends_of(aim, p))
    }

    /// Places of a table that a piece between lines aimed at these may turn out to be, with their chances.
    fn odds(&self, [from, to]: [f64; 2], wander: f64) -> Vec<(usize, f64)> {
        let ends = [from + self.room.inset, to - self.room.inset];
        let mut out = Vec::new();
        let mut add = |i: f64, j: f64, chance: f64| {
            let (first, width) = (to_index(i.rem_euclid(count(LINES))), j - i + 1.0);
            if width >= 1.0 {
                out.push((first * self.widest + to_index(width).min(self.widest) - 1, chance));
            }
        };
        if self.one_blow.first_of(0, self.pieces) == self.one_blow.first_of(1, self.pieces) {
            // one blow makes both lines of a piece, which moves as it is: in small steps, as its ends pass from line to line
            // at different offs
            let step = TAU / count(LINES);
            for (k, p) in line_odds(0.0, wander * PARTS_OF_A_LINE) {
                let off = k / PARTS_OF_A_LINE;
                let [i, j] = ends.map(|at| (at / step + off).round());
                add(i, j, p);
            }
        } else {
            let [low, high] = ends.map(|at| line_odds(at, wander));
            low.iter().for_each(|&(i, p)| high.iter().for_each(|&(j, q)| add(i, j, p * q)));
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

    /// Runs in all pieces of one set of passing windows at one aim, the lines falling `off` from their aims: for the few sets
    /// that need no table.
    #[must_use]
    pub(super) fn runs_of(&self, passing: &Passing, aim: f64, off: &[f64]) -> usize {
        (0..self.pieces)
            .map(|p| {
                let (first, width) = self.lines_of(aim, p, off);
                most_runs(&passing.any(first, width), passing.starts(), self.need)
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

    /// The table of a length of the tube.
    #[must_use]
    pub(super) fn table_of_range(&self, passing: &Passing, range: StartRange) -> PieceTable {
        PieceTable::of_range(passing, range, self.widest, self.need)
    }

    /// Expected runs of all pieces at one aim, averaged over the wander, for one table.
    #[must_use]
    pub(crate) fn expected_at(&self, table: &PieceTable, aim: f64) -> f64 {
        table.weighed(&self.weights(aim))
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
    pub(super) fn best_margins(&self, map: &BarkMap, first: usize, width: usize) -> Vec<f64> {
        (0..self.judge.fan().starts())
            .map(|s| {
                open_lines(map, s, first, width)
                    .map(|(_, line)| self.judge.margin(map, s * LINES + line))
                    .fold(f64::MIN, f64::max)
            })
            .collect()
    }
}

/// Of the `width` lines from `first` by which a piece is named those that start `s` leaves open, a turning grain having
/// shifted them and a bent or thin place having fewer (see [`BarkMap::side`]): each as it is named, and where it lies there.
pub(super) fn open_lines(
    map: &BarkMap,
    s: usize,
    first: usize,
    width: usize,
) -> impl Iterator<Item = (usize, usize)> + use<> {
    let Side { shift, left, right } = map.side(s);
    (first + left..(first + width).saturating_sub(right)).map(move |i| (i, (i + shift) % LINES))
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
    let judge = Judge::new(fan, fields, &lot.target, radius_mm, marked).springing(lot.split.spring_mm);
    Some(Splitter::new(judge, &lot.saw, &lot.split))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Lot, OneBlow};
    use crate::numeric::summary::{mean, sd};
    use crate::tube::Fields;
    use statrs::distribution::ContinuousCDF;

    const FIELDS: Fields = Fields { top: 4, wall: false, twist: false };

    /// A tube whose bark lies flat about one line of every quarter only: what a piece gives hangs on where its lines fall.
    fn drawn(one_blow: OneBlow, draws: u64) -> (Splitter, Vec<DrawnSurface>) {
        let mut lot = Lot::default();
        (lot.split.one_blow, lot.target.hollow_mm, lot.target.rock_mm) = (one_blow, 0.05, 0.05);
        let splitter = splitter_for(160.0, FIELDS, &lot, &[], 12.7).expect("long enough");
        let z = splitter.judge().fan().z_mm().to_vec();
        let mut s = Sections::zeros(FIELDS, &z);
        for (j, z) in z.iter().enumerate() {
            // lobe 4 comes and goes along the tube: flat where its cosine is nought, once every 45 degrees
            let row = s.row_mut(j);
            row[0] = 12.7;
            row[2 * 4 - 3] = 0.9 * ((z - 80.0) / 80.0).powi(2);
        }
        let all = judge_draws(&splitter, |_| s.clone(), 3, "x", draws);
        (splitter, all)
    }

    #[test]
    fn lines_of_one_blow_are_off_together_and_their_average_is_that_of_the_draws() {
        for (one_blow, alike) in
            [(OneBlow::Line, [0, 1, 2, 3]), (OneBlow::Across, [0, 1, 0, 1]), (OneBlow::All, [0; 4])]
        {
            let (splitter, draws) = drawn(one_blow, 1500);
            for d in draws.iter().take(5) {
                for (i, like) in alike.into_iter().enumerate() {
                    assert!((d.wander[i] - d.wander[like]).abs() < 1e-15, "{one_blow:?}");
                }
                assert!(one_blow == OneBlow::All || (d.wander[0] - d.wander[1]).abs() > 1e-9);
            }
            let table = splitter.mean_table(&draws);
            for aim in [0.0_f64, 0.3, 0.9] {
                let counted: Vec<f64> = draws.iter().map(|d| f64::from(splitter.runs_at(d, aim))).collect();
                let error = sd(&counted) / count(counted.len()).sqrt();
                let exact = splitter.value(&table, aim);
                assert!((mean(&counted) - exact).abs() < 4.0 * error + 0.05, "{one_blow:?} at {aim}: {exact}");
            }
        }
    }

    #[test]
    fn an_angle_is_chosen_under_a_least_wander_and_valued_under_the_stated_one() {
        let mut lot = Lot::default();
        lot.split.wander_deg = 0.0;
        let splitter = splitter_for(160.0, FIELDS, &lot, &[], 12.7).expect("long enough");
        let mut table = vec![0.0; LINES * splitter.widest];
        // one piece alone gives a run: that of the exact aim at 10 deg
        let aim = 10_f64.to_radians();
        let (first, width) = splitter.lines_of(aim, 0, &[]);
        table[first * splitter.widest + width - 1] = 1.0;
        assert!((splitter.value(&table, aim) - 1.0).abs() < 1e-12);
        // lines 2 deg apart, 1 deg of wander: an end d deg beyond its line falls on it with the normal chance of -1 - d to
        // 1 - d
        let normal = statrs::distribution::Normal::standard();
        let chance = |deg: f64| {
            let d = deg - 2.0 * (deg / 2.0).round();
            normal.cdf(1.0 - d) - normal.cdf(-1.0 - d)
        };
        let inset = splitter.room.inset.to_degrees();
        let want = chance(10.0 + inset) * chance(100.0 - inset);
        let score = splitter.scores(&table)[10];
        assert!((score - want).abs() < 1e-4 && score < 0.5, "{score} {want}");
    }

    #[test]
    fn lines_that_fell_as_aimed_give_what_a_sure_hand_gets_and_others_what_their_pieces_hold() {
        let (aimed, draws) = drawn(OneBlow::Line, 40);
        let aim = 20_f64.to_radians();
        let fallen = aimed.clone().fallen((0..4).map(|i| aim + aimed.period() * f64::from(i)).collect());
        assert_eq!(fallen.aims(), [aim]);
        for d in &draws {
            let sure = DrawnSurface { wander: vec![0.0; 4], ..d.clone() };
            let again = fallen.draw(d.sections.clone(), 1, "T", 0);
            assert_eq!(fallen.runs_at(&again, aim), aimed.runs_at(&sure, aim));
        }
        // lines at 20, 130, 200 and 290 deg: pieces of 110, 70, 90 and 90 deg, each named by its own lines
        let uneven = aimed.clone().fallen([20.0_f64, 130.0, 200.0, 290.0].map(f64::to_radians).to_vec());
        let widths: Vec<usize> = (0..4).map(|p| uneven.lines_of(aim, p, &[]).1).collect();
        let inset = uneven.room.inset.to_degrees();
        for (p, deg) in [110.0, 70.0, 90.0, 90.0].into_iter().enumerate() {
            let lines = (deg - 2.0 * inset) / 2.0 + 1.0;
            assert!((count(widths[p]) - lines).abs() <= 1.0, "{widths:?}, {lines} of piece {p}");
        }
        // what the table holds of each is what its lines give
        let again = uneven.draw(draws[0].sections.clone(), 1, "T", 0);
        let table = uneven.mean_table(std::slice::from_ref(&again));
        assert!((uneven.value(&table, aim) - f64::from(uneven.runs_at(&again, aim))).abs() < 1e-9);
        assert!((uneven.scores(&table)[0] - uneven.value(&table, aim)).abs() < 1e-9);
    }

    #[test]
    fn a_springing_piece_has_as_much_light_and_a_wider_arc() {
        let lot = |spring_mm| {
            let mut lot = Lot::default();
            lot.split.spring_mm = spring_mm;
            lot
        };
        let window = |spring_mm: f64| {
            let splitter = splitter_for(160.0, FIELDS, &lot(spring_mm), &[], 12.7).expect("long enough");
            let mut s = Sections::zeros(FIELDS, splitter.judge().fan().z_mm());
            (0..s.len()).for_each(|j| s.row_mut(j)[0] = 12.7);
            splitter.judge().window(&s, 4, 17)
        };
        let [hollow, rock, arc, skew] = window(0.06);
        // the middle of an odd number of steps lies half a step off: 0.06 less a hair; 16 (12.7 / 70)^2 0.06 = 0.0316
        assert!((hollow - 0.06).abs() < 2e-4 && rock.abs() < 1e-4 && skew.abs() < 1e-6, "{hollow} {rock} {skew}");
        assert!((arc - 25.4 - 0.0316).abs() < 1e-3, "{arc}");
        // the other way the bark is round along it and rocks by as much under one end as its slope lets it
        let [hollow, rock, ..] = window(-0.06);
        assert!(hollow < 1e-3 && (0.055..0.066).contains(&rock), "{hollow} {rock}");
    }
}
