//! Laying runs on the pieces of a chosen split, and what those marked runs alone give.

use super::bark_map::BarkMap;
use super::choice::part_of;
use super::fan::{Fan, LINES};
use super::runs::best_places;
use super::split::{DrawnSurface, Splitter, open_lines};
use super::tube_plan::{Marked, PlannedPiece, PlannedRun, tidy};
use crate::numeric::summary::{count, mean, ninety, numbers, sd, to_index};
use crate::tube::{Belief, Coverage, Measured, Quantity};

/// Runs whose chance is below this are not laid out; they still count in the expected blanks.
const LEAST_RUN_CHANCE: f64 = 0.25;
/// Places for the ends of runs are tried this far apart, mm: what can be marked with a sharp pencil.
const PLACE_STEP_MM: f64 = 0.1;
/// Lines that pass in fewer draws than the best by no more than this share of all do as well: what 200 draws tell apart.
const ALIKE: f64 = 0.02;

fn passes(set: &[u64], s: usize) -> bool {
    set[s / 64] >> (s % 64) & 1 == 1
}

/// Lays runs on pieces.
pub(super) struct RunLayer<'a> {
    pub(super) splitter: &'a Splitter,
    pub(super) belief: &'a Belief,
    pub(super) coverage: &'a Coverage,
    pub(super) draws: &'a [DrawnSurface],
    pub(super) map: &'a BarkMap,
}

/// Where a place lies between two starts. A window that moves from one to the other passes at first and then fails, or the
/// other way, somewhere on the way: what is true of the starts is true of places between them in proportion.
#[derive(Debug, Clone, Copy)]
struct About {
    first: usize,
    second: usize,
    /// How far on the way to the second, 0 to 1.
    part: f64,
}

impl About {
    /// A value of the starts, at this place.
    fn of(self, values: &[f64]) -> f64 {
        (1.0 - self.part) * values[self.first] + self.part * values[self.second]
    }

    /// The nearer start.
    fn nearest(self) -> usize {
        if self.part < 0.5 { self.first } else { self.second }
    }
}

/// The starts that pass somewhere in one piece, draw by draw, each with its own wander; bit `s % 64` of word `s / 64`.
type Sets = Vec<Vec<u64>>;

impl RunLayer<'_> {
    /// For every piece of a split at `aim` the starts that pass.
    pub(super) fn sets(&self, aim: f64) -> Vec<Sets> {
        let of = |p: usize| {
            let one = |d: &DrawnSurface| {
                let (first, width) = self.splitter.lines_of(aim, p, &d.wander);
                d.passing.any(first, width)
            };
            self.draws.iter().map(one).collect()
        };
        (0..self.splitter.pieces()).map(of).collect()
    }

    /// Runs of piece `p` at `aim`: the set of places whose chances add up to most, least margin second.
    pub(super) fn runs(&self, aim: f64, p: usize, sets: &Sets) -> Vec<PlannedRun> {
        let fan = self.splitter.judge().fan();
        let chance = self.chances(sets, |_| true);
        let named = self.splitter.lines_of(aim, p, &[]);
        let fell: Vec<(usize, usize)> = self.draws.iter().map(|d| self.splitter.lines_of(aim, p, &d.wander)).collect();
        let lines: Vec<(usize, f64)> = (0..fan.starts()).map(|s| self.best_line(s, named, &fell)).collect();
        let margins: Vec<f64> = lines.iter().map(|l| l.1.clamp(-1.0, 1.0)).collect();
        self.places(&chance, &margins)
            .into_iter()
            .map(|place| {
                let from_mm = fan.start_mm(0) + count(place) * PLACE_STEP_MM;
                let s = self.about(place).nearest();
                self.describe(s, lines[s].0, from_mm, self.about(place).of(&chance))
            })
            .collect()
    }

    /// Where runs are marked, in steps of [`PLACE_STEP_MM`] from the first start: the chances add up to most, a small share
    /// of the margin settles ties.
    fn places(&self, chance: &[f64], margins: &[f64]) -> Vec<usize> {
        let fan = self.splitter.judge().fan();
        let step = fan.step_mm();
        let places = to_index((count(fan.starts() - 1) * step / PLACE_STEP_MM + 1e-6).floor()) + 1;
        let worth: Vec<f64> = (0..places)
            .map(|place| {
                let about = self.about(place);
                let c = about.of(chance);
                if c < LEAST_RUN_CHANCE { 0.0 } else { c + 1e-3 * about.of(margins) }
            })
            .collect();
        let need = to_index((self.splitter.need_steps() * step / PLACE_STEP_MM - 1e-6).ceil());
        best_places(&worth, need, LEAST_RUN_CHANCE - 2e-3)
    }

    /// The starts a place lies between.
    fn about(&self, place: usize) -> About {
        let fan = self.splitter.judge().fan();
        let u = count(place) * PLACE_STEP_MM / fan.step_mm();
        let first = to_index((u + 1e-6).floor()).min(fan.starts() - 1);
        About { first, second: (first + 1).min(fan.starts() - 1), part: (u - count(first)).clamp(0.0, 1.0) }
    }

    /// For every start the share of those draws in which it passes somewhere in the piece, wander included.
    fn chances(&self, sets: &Sets, counts: impl Fn(usize) -> bool) -> Vec<f64> {
        let starts = self.splitter.judge().fan().starts();
        let mut hits = vec![0_usize; starts];
        let mut draws = 0;
        for set in sets.iter().enumerate().filter(|(k, _)| counts(*k)).map(|(_, set)| set) {
            draws += 1;
            hits.iter_mut().enumerate().for_each(|(s, h)| *h += usize::from(passes(set, s)));
        }
        hits.iter().map(|&h| count(h) / count(draws.max(1))).collect()
    }

    /// What the marked runs alone give. `aims` are the angles that all draws but those of a part choose, part by part: as
    /// the angle is, so are the marks valued on draws that placed none of them (see [`Splitter::choose_by_parts`]).
    pub(super) fn marked(&self, sets: &[Sets], pieces: &[PlannedPiece], aims: &[f64]) -> Marked {
        let first_mm = self.splitter.judge().fan().start_mm(0);
        let place = |run: &PlannedRun| to_index(((run.from_mm - first_mm) / PLACE_STEP_MM).round());
        let places: Vec<Vec<usize>> = pieces.iter().map(|p| p.runs.iter().map(place).collect()).collect();
        let draws: Vec<u16> = (0..self.draws.len()).map(|k| self.good_of(&places, sets, k)).collect();
        let good = numbers(&draws);
        let (low, high) = ninety(&good);
        if aims.is_empty() {
            return Marked { expected: mean(&good), low, high, draws };
        }
        // most parts choose the same angle
        let mut distinct: Vec<f64> = aims.to_vec();
        distinct.sort_by(f64::total_cmp);
        distinct.dedup();
        let of_aims: Vec<(Vec<Sets>, Vec<Vec<f64>>)> =
            distinct.iter().map(|aim| (self.sets(*aim), self.margins(*aim))).collect();
        let of_part = |(part, aim): (usize, &f64)| -> f64 {
            let own = |k: usize| part_of(k, aims.len()) == part;
            let (sets, margins) = &of_aims[distinct.partition_point(|a| a < aim)];
            let of_piece = |(sets, margins): (&Sets, &Vec<f64>)| -> f64 {
                let places = self.places(&self.chances(sets, |k| !own(k)), margins);
                let valued = self.chances(sets, own);
                places.into_iter().map(|place| self.about(place).of(&valued)).sum()
            };
            let draws = (0..self.draws.len()).filter(|k| own(*k)).count();
            count(draws) * sets.iter().zip(margins).map(of_piece).sum::<f64>()
        };
        let expected = aims.iter().enumerate().map(of_part).sum::<f64>() / count(self.draws.len());
        Marked { expected, low, high, draws }
    }

    /// For every piece of a split at `aim` the best margins of the mean surface, start by start.
    fn margins(&self, aim: f64) -> Vec<Vec<f64>> {
        let of = |p: usize| {
            let (first, width) = self.splitter.lines_of(aim, p, &[]);
            let margins = self.splitter.best_margins(self.map, first, width);
            margins.into_iter().map(|m| m.clamp(-1.0, 1.0)).collect()
        };
        (0..self.splitter.pieces()).map(of).collect()
    }

    /// How many of these places, piece by piece, are good in draw `k`.
    fn good_of(&self, places: &[Vec<usize>], sets: &[Sets], k: usize) -> u16 {
        let good = |place: usize, set: &[u64]| passes(set, self.about(place).nearest());
        let of = |(places, sets): (&Vec<usize>, &Sets)| places.iter().filter(|&&p| good(p, &sets[k])).count();
        let n: usize = places.iter().zip(sets).map(of).sum();
        u16::try_from(n).unwrap_or(u16::MAX)
    }

    /// The line a blank is laid on at start `s`: of those a piece leaves open there (see [`open_lines`]) that pass about as
    /// often as the best, the middle one; and its margin on the mean surface. `fell`: first line and number of the piece as
    /// its split lines fall, draw by draw; near them a line is often another piece's.
    fn best_line(&self, s: usize, (first, width): (usize, usize), fell: &[(usize, usize)]) -> (usize, f64) {
        let judge = self.splitter.judge();
        let draws = || self.draws.iter().zip(fell);
        let passing = |i: usize| draws().filter(|(d, p)| d.passing.passes_in(s, i, p.0, p.1)).count();
        let open: Vec<(usize, usize)> =
            open_lines(self.map, s, first, width).map(|(i, line)| (line, passing(i))).collect();
        let most = open.iter().map(|l| l.1).max().unwrap_or(0);
        let alike: Vec<usize> =
            open.iter().filter(|l| count(most - l.1) <= ALIKE * count(self.draws.len())).map(|l| l.0).collect();
        let margin = |line: usize| judge.margin(self.map, s * LINES + line);
        let middle = [alike.len().saturating_sub(1) / 2, alike.len() / 2].map(|at| alike.get(at).copied());
        let best = middle.into_iter().flatten().max_by(|a, b| margin(*a).total_cmp(&margin(*b)));
        best.map_or(((first + width / 2 + self.map.side(s).shift) % LINES, f64::MIN), |line| (line, margin(line)))
    }

    fn describe(&self, s: usize, line: usize, from_mm: f64, chance: f64) -> PlannedRun {
        let judge = self.splitter.judge();
        let blank = judge.fan().blank_mm();
        let angle = Fan::line_angle(line);
        let values: Vec<[f64; 4]> = self.draws.iter().map(|d| judge.window(&d.sections, s, line)).collect();
        let measured = |q: usize| {
            let v: Vec<f64> = values.iter().map(|x| x[q]).collect();
            Measured { value: mean(&v), sd: sd(&v) }
        };
        let middle = from_mm + blank / 2.0;
        let fields = self.belief.fields();
        let bend = Quantity::of(fields).height(middle, angle, 1.0).height(from_mm, angle, -0.5);
        let flat = self.belief.doubt_of(&bend.height(from_mm + blank, angle, -0.5)).seen();
        let curve = self.belief.doubt_of(&judge.arc_quantity(line, middle)).seen();
        let nearest = (0..=4)
            .filter_map(|i| self.coverage.nearest_mm(from_mm + blank * f64::from(i) / 4.0, angle))
            .max_by(f64::total_cmp);
        PlannedRun {
            from_mm,
            to_mm: from_mm + blank,
            line_deg: tidy(angle),
            chance,
            hollow_mm: flat.then(|| measured(0)),
            rock_mm: flat.then(|| measured(1)),
            arc_diameter_mm: curve.then(|| measured(2)),
            skew_mm: curve.then(|| measured(3)),
            nearest_reading_mm: nearest,
        }
    }
}
