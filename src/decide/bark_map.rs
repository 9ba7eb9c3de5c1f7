//! Every window of a surface judged against every limit.

#![allow(clippy::needless_range_loop, reason = "the loops run over vector lanes of several arrays at once")]

use super::back::BackGains;
use super::fan::{Fan, LINES, single};
use super::stick::lay;
use super::{LANES, Lane};
use crate::domain::Target;
use crate::numeric::summary::{count, to_index};
use crate::tube::{Fields, Quantity, Sections};
use std::f64::consts::TAU;

/// The limits a window can break, as bits of one byte.
pub mod broken {
    /// Light under the middle of the gauge stick.
    pub const HOLLOW: u8 = 1;
    /// The gauge stick rocks.
    pub const ROCK: u8 = 2;
    /// Arc diameter below the band.
    pub const SMALL: u8 = 4;
    /// Arc diameter above the band.
    pub const LARGE: u8 = 8;
    /// The two rails curve differently.
    pub const SKEW: u8 = 16;
    /// The wall is too thin.
    pub const WALL: u8 = 32;
    /// A mark is touched.
    pub const MARK: u8 = 64;
    /// The fibre drifts too far.
    pub const GRAIN: u8 = 128;
    /// Every limit with its word, in the order of the bits.
    pub const WORDS: [(u8, &str); 8] = [
        (HOLLOW, "hollow"),
        (ROCK, "rock"),
        (SMALL, "small"),
        (LARGE, "large"),
        (SKEW, "skew"),
        (WALL, "wall"),
        (MARK, "mark"),
        (GRAIN, "grain"),
    ];
}

/// Values of every window, and which limits it breaks. Window (start s, line i) stands at `s * LINES + i`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BarkMap {
    /// Largest gap between the stick's two contacts, mm.
    pub hollow: Vec<f32>,
    /// Furthest an end of the stick can drop, mm.
    pub rock: Vec<f32>,
    /// Arc diameter averaged along the window, mm.
    pub arc: Vec<f32>,
    /// Skew averaged along the window, mm of diameter.
    pub skew: Vec<f32>,
    /// Least wall along the window, mm; empty where the wall is not known.
    pub wall: Vec<f32>,
    /// How far the fibre has turned from the first station to the middle of its range over the window, radians clockwise,
    /// one per start; empty where no fibre was followed.
    pub turn: Vec<f32>,
    /// How far the fibre drifts sideways over the window, mm on the bark, one per start; empty where none was followed.
    pub drift: Vec<f32>,
    /// Half the turn over the window, radians, one per start; empty where none was followed.
    pub half_turn: Vec<f32>,
    /// Bits of [`broken`].
    pub broken: Vec<u8>,
}

impl BarkMap {
    /// A split follows the fibre. Over the window from start `s` a piece that opens on line `i` at the first station is
    /// open from line `i + shift` (modulo the number of lines), and `shrink` lines narrower on each side. (0, 0) where no
    /// fibre was followed: the grain is then taken as running true.
    #[must_use]
    pub fn side(&self, s: usize) -> (usize, usize) {
        let lines = |radians: f32| (f64::from(radians) * count(LINES) / TAU).round();
        match (self.turn.get(s), self.half_turn.get(s)) {
            (Some(&turn), Some(&half)) => (to_index(lines(turn).rem_euclid(count(LINES))), to_index(lines(half))),
            _ => (0, 0),
        }
    }
}

/// How much of a map is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    /// Every value of every window.
    Every,
    /// Which windows pass.
    Passing,
}

/// What a map needs besides the surface; made once per tube.
#[derive(Debug, Clone)]
pub struct Judge {
    fan: Fan,
    factors: Vec<LineFactors>,
    gains: BackGains,
    target: Target,
    /// windows that touch a mark, by the same index as the map; empty when there is none
    marked: Vec<bool>,
    fields: Fields,
    radius_mm: f64,
}

impl Judge {
    /// A judge for surfaces with these fields on this fan; `radius_mm` is the tube's mean radius as believed.
    ///
    /// `marked` says of each window whether it touches a mark (`[start * LINES + line]`); empty when none does.
    #[must_use]
    pub fn new(fan: Fan, fields: Fields, target: &Target, radius_mm: f64, marked: Vec<bool>) -> Judge {
        let gains = BackGains::new(target.blank_width_mm, radius_mm, fields.top);
        let factors = (0..LINES / LANES).map(|block| LineFactors::new(block, fields, &gains)).collect();
        Judge { factors, gains, target: target.clone(), marked, fields, radius_mm, fan }
    }

    /// The fan of lines and stations.
    #[must_use]
    pub fn fan(&self) -> &Fan {
        &self.fan
    }

    /// The limits.
    #[must_use]
    pub fn target(&self) -> &Target {
        &self.target
    }

    /// The fields the judged surfaces have.
    #[must_use]
    pub fn fields(&self) -> Fields {
        self.fields
    }

    /// Judges every window of `sections`, which must stand at the fan's stations. `map` is overwritten.
    pub fn judge(&self, sections: &Sections, map: &mut BarkMap) {
        self.run(sections, map, Depth::Every);
    }

    /// As [`Judge::judge`] for those who only ask which windows pass: fills `broken` alone, and lays the stick only where
    /// some neighbouring line breaks no other limit. A window's byte is 0 exactly when it passes; which further limits a
    /// failing one breaks is not told in full.
    pub fn judge_passing(&self, sections: &Sections, map: &mut BarkMap) {
        self.run(sections, map, Depth::Passing);
    }

    fn run(&self, sections: &Sections, map: &mut BarkMap, depth: Depth) {
        let windows = self.fan.starts() * LINES;
        let valued = if depth == Depth::Every { windows } else { 0 };
        for v in [&mut map.hollow, &mut map.rock, &mut map.arc, &mut map.skew] {
            v.resize(valued, 0.0);
        }
        map.wall.resize(if self.fields.wall { valued } else { 0 }, 0.0);
        map.broken.resize(windows, 0);
        let rows = SingleRows::between(sections, 0..sections.len(), self.target.arc_diameter_mm);
        let mut lines = LineBlock::default();
        for block in 0..LINES / LANES {
            self.fill(&rows, block, &mut lines);
            self.windows(&lines, block, map, depth);
        }
        self.grain(sections, map);
    }

    /// Where the fibre goes over every window, and which windows it drifts too far in. The drift is the same on every
    /// bark line.
    fn grain(&self, sections: &Sections, map: &mut BarkMap) {
        let starts = if self.fields.twist { self.fan.starts() } else { 0 };
        for v in [&mut map.turn, &mut map.drift, &mut map.half_turn] {
            v.resize(starts, 0.0);
        }
        let Some(at) = self.fields.turn_at() else { return };
        let turn: Vec<f64> =
            (0..sections.len()).map(|j| (sections.row(j)[at] - sections.row(0)[at]).to_radians()).collect();
        for s in 0..starts {
            let window = &turn[s..=s + self.fan.window()];
            let (low, high) = window.iter().fold((f64::MAX, f64::MIN), |(l, h), &t| (l.min(t), h.max(t)));
            map.turn[s] = single(f64::midpoint(low, high));
            map.half_turn[s] = single(0.5 * (high - low));
            let drift = self.radius_mm * (high - low);
            map.drift[s] = single(drift);
            if drift > self.target.grain_drift_mm {
                map.broken[s * LINES..(s + 1) * LINES].iter_mut().for_each(|b| *b |= broken::GRAIN);
            }
        }
    }

    /// Hollow, rock, arc diameter and skew of the one window (start `s`, line `line`), mm.
    #[must_use]
    pub fn window(&self, sections: &Sections, s: usize, line: usize) -> [f64; 4] {
        let (line, w) = (line % LINES, self.fan.window());
        let rows = SingleRows::between(sections, s..s + w + 1, self.target.arc_diameter_mm);
        let mut lines = LineBlock::default();
        self.fill(&rows, line / LANES, &mut lines);
        let lane = line % LANES;
        let lying = lay(&lines.height, &mut [0.0; LANES]);
        let average = |rows: &[Lane]| f64::from(sum_of(rows)[lane]) / count(w + 1);
        [
            f64::from(lying.hollow[lane]),
            f64::from(lying.rock[lane]),
            average(&lines.arc) + self.target.arc_diameter_mm,
            average(&lines.skew),
        ]
    }

    /// How the arc diameter on bark line `line` depends on the fields at a place, to first order.
    #[must_use]
    pub fn arc_quantity(&self, line: usize, z_mm: f64) -> Quantity {
        let mean = Quantity::of(self.fields).field(z_mm, Fields::R0, 2.0);
        mean.waves(z_mm, Fan::line_angle(line), 2.0, |n| self.gains.radius[n])
    }

    /// Heights, arc and skew of `LANES` bark lines at every station: each is a fixed linear reading of the row.
    fn fill(&self, rows: &SingleRows, block: usize, out: &mut LineBlock) {
        let (out2, side2) = (single(self.gains.out_squared), single(self.gains.side_squared));
        let factors = &self.factors[block];
        let lobes = 1..self.fields.outside() - 2;
        out.resize(rows.count, self.fields.wall);
        for j in 0..rows.count {
            let row = rows.row(j);
            out.height[j] = weigh(&row[..self.fields.outside()], &factors.height);
            let p = weigh(&row[lobes.clone()], &factors.radius);
            let ex = weigh(&row[lobes.clone()], &factors.shift_out);
            let ey = weigh(&row[lobes.clone()], &factors.shift_side);
            out.skew[j] = weigh(&row[lobes.clone()], &factors.skew);
            let over = 0.5 / (rows.radius + row[0]);
            let arc = &mut out.arc[j];
            for l in 0..LANES {
                arc[l] = 2.0 * (row[0] + p[l] + (ex[l] * ex[l] * out2 + ey[l] * ey[l] * side2) * over);
            }
            if let Some(w) = self.fields.wall_at() {
                out.wall[j] = weigh(&row[w..w + 3], &factors.wall);
            }
        }
    }

    fn windows(&self, lines: &LineBlock, block: usize, map: &mut BarkMap, depth: Depth) {
        let (w, t) = (self.fan.window(), &self.target);
        let over = 1.0 / single(count(w + 1));
        let (hollow_max, rock_max) = (single(t.hollow_mm), single(t.rock_mm));
        let arc_target = single(t.arc_diameter_mm);
        // the slope of the stick turns evenly along a smooth line: start each window where the last two point to
        let (mut slope, mut before) = ([0.0; LANES], [0.0; LANES]);
        let mut laid = 0;
        let mut arc_sum = sum_of(&lines.arc[..w]);
        let mut skew_sum = sum_of(&lines.skew[..w]);
        for s in 0..self.fan.starts() {
            add(&mut arc_sum, &lines.arc[s + w], 1.0);
            add(&mut skew_sum, &lines.skew[s + w], 1.0);
            let at = s * LINES + block * LANES;
            let across: [Lane; 2] = [arc_sum, skew_sum].map(|sum| sum.map(|v| v * over));
            let least = if self.fields.wall { least_of(&lines.wall[s..=s + w]) } else { [0.0; LANES] };
            let mut flags = self.broken_across(&across, &least, at);
            if depth == Depth::Every || flags.contains(&0) {
                let last = slope;
                for l in 0..LANES {
                    slope[l] += if laid > 1 { last[l] - before[l] } else { 0.0 };
                }
                before = last;
                laid += 1;
                let lying = lay(&lines.height[s..=s + w], &mut slope);
                for l in 0..LANES {
                    flags[l] |= if lying.hollow[l] > hollow_max { broken::HOLLOW } else { 0 };
                    flags[l] |= if lying.rock[l] > rock_max { broken::ROCK } else { 0 };
                }
                if depth == Depth::Every {
                    map.hollow[at..at + LANES].copy_from_slice(&lying.hollow);
                    map.rock[at..at + LANES].copy_from_slice(&lying.rock);
                }
            } else {
                laid = 0;
            }
            if depth == Depth::Every {
                map.arc[at..at + LANES].copy_from_slice(&across[0].map(|v| v + arc_target));
                map.skew[at..at + LANES].copy_from_slice(&across[1]);
                if self.fields.wall {
                    map.wall[at..at + LANES].copy_from_slice(&least);
                }
            }
            map.broken[at..at + LANES].copy_from_slice(&flags);
            add(&mut arc_sum, &lines.arc[s], -1.0);
            add(&mut skew_sum, &lines.skew[s], -1.0);
        }
    }

    /// The limits that need no gauge stick: `across` holds arc departure and skew, `least` the wall.
    #[inline]
    fn broken_across(&self, across: &[Lane; 2], least: &Lane, at: usize) -> [u8; LANES] {
        let t = &self.target;
        let (tolerance, skew_max) = (single(t.arc_tolerance_mm), single(t.skew_mm));
        let wall_min = if self.fields.wall { single(t.blank_thickness_mm + t.clean_up_mm) } else { f32::NEG_INFINITY };
        std::array::from_fn(|l| {
            let (arc, skew) = (across[0][l], across[1][l]);
            let mut f = 0;
            f |= if arc < -tolerance { broken::SMALL } else { 0 };
            f |= if arc > tolerance { broken::LARGE } else { 0 };
            f |= if skew.abs() > skew_max { broken::SKEW } else { 0 };
            f |= if least[l] < wall_min { broken::WALL } else { 0 };
            if self.marked.get(at + l).copied().unwrap_or(false) { f | broken::MARK } else { f }
        })
    }

    /// The least margin of window `at` of `map`: how much of each limit is left, as a share of that limit; the smallest.
    ///
    /// 1 is perfect, 0 just passes, negative fails. A limit of 0 counts as just passed or failed outright.
    #[must_use]
    pub fn margin(&self, map: &BarkMap, at: usize) -> f64 {
        let t = &self.target;
        let share = |value: f64, limit: f64| {
            if limit > 0.0 {
                1.0 - value / limit
            } else if value <= 0.0 {
                0.0
            } else {
                -1.0
            }
        };
        let mut least = share(f64::from(map.hollow[at]), t.hollow_mm)
            .min(share(f64::from(map.rock[at]), t.rock_mm))
            .min(share((f64::from(map.arc[at]) - t.arc_diameter_mm).abs(), t.arc_tolerance_mm))
            .min(share(f64::from(map.skew[at]).abs(), t.skew_mm));
        if !map.wall.is_empty() {
            let need = t.blank_thickness_mm + t.clean_up_mm;
            least = least.min(f64::from(map.wall[at]) / need - 1.0);
        }
        if let Some(&drift) = map.drift.get(at / LINES) {
            least = least.min(share(f64::from(drift), t.grain_drift_mm));
        }
        if map.broken[at] & broken::MARK != 0 { least.min(-1.0) } else { least }
    }
}

/// How the row of a section reads on `LANES` bark lines; one entry per field (of the range each is used with).
#[derive(Debug, Clone)]
struct LineFactors {
    height: Vec<Lane>,
    radius: Vec<Lane>,
    shift_out: Vec<Lane>,
    shift_side: Vec<Lane>,
    skew: Vec<Lane>,
    wall: Vec<Lane>,
}

impl LineFactors {
    fn new(block: usize, fields: Fields, gains: &BackGains) -> LineFactors {
        let lanes = |f: &dyn Fn(f64) -> f64| -> Lane {
            std::array::from_fn(|l| single(f(Fan::line_angle(block * LANES + l).radians())))
        };
        let lobes = |g: &dyn Fn(usize) -> f64, odd: bool| -> Vec<Lane> {
            let turn = |n: usize, a: f64| (crate::numeric::summary::count(n) * a).sin_cos();
            (2..=fields.top)
                .flat_map(|n| {
                    // E_n = an cos + bn sin; O_n = bn cos - an sin
                    let first = lanes(&|a| g(n) * if odd { -turn(n, a).0 } else { turn(n, a).1 });
                    let second = lanes(&|a| g(n) * if odd { turn(n, a).1 } else { turn(n, a).0 });
                    [first, second]
                })
                .collect()
        };
        let mut height = vec![lanes(&|_| 1.0)];
        height.extend(lobes(&|_| 1.0, false));
        height.extend([lanes(&f64::cos), lanes(&f64::sin)]);
        LineFactors {
            height,
            radius: lobes(&|n| gains.radius[n], false),
            shift_out: lobes(&|n| gains.shift_out[n], false),
            shift_side: lobes(&|n| gains.shift_side[n], true),
            skew: lobes(&|n| gains.skew[n], true),
            wall: vec![lanes(&|_| 1.0), lanes(&f64::cos), lanes(&f64::sin)],
        }
    }
}

/// Sum of the fields times their factors, lane by lane.
#[inline]
fn weigh(values: &[f32], factors: &[Lane]) -> Lane {
    let mut sum = [0.0_f32; LANES];
    for (v, f) in values.iter().zip(factors) {
        for l in 0..LANES {
            sum[l] += v * f[l];
        }
    }
    sum
}

/// Rows in single precision, the mean radius held as a departure from half the target diameter.
struct SingleRows {
    width: usize,
    count: usize,
    radius: f32,
    values: Vec<f32>,
}

impl SingleRows {
    fn between(sections: &Sections, places: std::ops::Range<usize>, arc_target_mm: f64) -> SingleRows {
        let width = sections.fields().count();
        let mut values = Vec::with_capacity(width * places.len());
        let count = places.len();
        for j in places {
            let row = sections.row(j);
            values.push(single(row[Fields::R0] - arc_target_mm / 2.0));
            values.extend(row[1..].iter().map(|&v| single(v)));
        }
        SingleRows { width, count, radius: single(arc_target_mm / 2.0), values }
    }

    fn row(&self, j: usize) -> &[f32] {
        &self.values[j * self.width..(j + 1) * self.width]
    }
}

#[derive(Default)]
struct LineBlock {
    height: Vec<Lane>,
    arc: Vec<Lane>,
    skew: Vec<Lane>,
    wall: Vec<Lane>,
}

impl LineBlock {
    fn resize(&mut self, n: usize, wall: bool) {
        for v in [&mut self.height, &mut self.arc, &mut self.skew] {
            v.resize(n, [0.0; LANES]);
        }
        self.wall.resize(if wall { n } else { 0 }, [0.0; LANES]);
    }
}

fn add(sum: &mut Lane, row: &Lane, sign: f32) {
    for l in 0..LANES {
        sum[l] += sign * row[l];
    }
}

fn sum_of(rows: &[Lane]) -> Lane {
    rows.iter().fold([0.0; LANES], |mut sum, row| {
        add(&mut sum, row, 1.0);
        sum
    })
}

fn least_of(rows: &[Lane]) -> Lane {
    rows.iter().fold([f32::INFINITY; LANES], |least, row| std::array::from_fn(|l| least[l].min(row[l])))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Saw;
    use crate::tube::simulate::{Stand, TrueTube};
    use nalgebra::{DMatrix, DVector};

    /// A judge of tubes 180 mm long, and a tube of one section, all the way along, with these lobes (n, an, bn).
    fn even_tube(width_mm: f64, radius_mm: f64, lobes: &[(usize, f64, f64)]) -> (Judge, Sections) {
        let target = Target { blank_width_mm: width_mm, ..Target::default() };
        let fan = Fan::new(180.0, &target, &Saw::default()).expect("long enough");
        // no harmonic above the third lobe, so that the highest has to be there
        let fields = Fields { top: 3, wall: false, twist: false };
        let mut sections = Sections::zeros(fields, fan.z_mm());
        for j in 0..sections.len() {
            let row = sections.row_mut(j);
            row[Fields::R0] = radius_mm;
            for &(n, a, b) in lobes {
                (row[2 * n - 3], row[2 * n - 2]) = (a, b);
            }
        }
        (Judge::new(fan, fields, &target, 12.7, Vec::new()), sections)
    }

    #[test]
    fn arc_diameter_and_skew_of_a_narrow_back_by_hand() {
        // 1 mm wide, so that sin nt = nt - (nt)^3 / 6 and cos nt = 1 - (nt)^2 / 2: E_n cos nt is a circle of
        // p = -(n^2 - 1) E_n shifted out by ex = n^2 E_n, O_n sin nt one shifted aside by ey = n O_n and a change of
        // curvature k = -n (n^2 - 1) O_n. Next order: (ex sin t - ey cos t)^2 / 2 R0 with sin^2 t = 2 - 2 cos t and
        // cos^2 t = 2 cos t - 1 adds (2 ex^2 - ey^2) / 2 R0 to p. On bark line 0 E_n is an and O_n is bn:
        // p = -3 x 0.02 - 8 x 0.01 = -0.14, ex = 4 x 0.02 + 9 x 0.01 = 0.17, ey = 2 x 0.01 - 3 x 0.02 = -0.04,
        // k = -6 x 0.01 + 24 x 0.02 = 0.42
        let (judge, sections) = even_tube(1.0, 12.7, &[(2, 0.02, 0.01), (3, 0.01, -0.02)]);
        let phi = (0.5_f64 / 12.7).asin();
        let on_line = |line: usize, [p, ex, ey, k]: [f64; 4]| {
            let [_, _, arc, skew] = judge.window(&sections, 3, line);
            let want = 2.0 * (12.7 + p + (2.0 * ex * ex - ey * ey) / 25.4);
            assert!((arc - want).abs() < 5e-4, "line {line}: {arc} against {want}");
            let want = 4.0 * phi * k;
            assert!((skew - want).abs() < 0.01 * want.abs(), "line {line}: {skew} against {want}");
        };
        on_line(0, [-0.14, 0.17, -0.04, 0.42]);
        // a quarter on, E_2 = -a2, O_2 = -b2, E_3 = -b3, O_3 = a3
        on_line(LINES / 4, [0.06 - 0.16, -0.08 + 0.18, -0.02 + 0.03, 0.06 - 0.24]);
    }

    #[test]
    fn skew_is_positive_where_the_rail_further_clockwise_is_the_flatter() {
        // a long axis at 0 deg: from 45 deg on clockwise the bark flattens toward 90 deg
        let (judge, sections) = even_tube(13.5, 12.7, &[(2, 0.25, 0.0)]);
        let at = |deg: usize| judge.window(&sections, 0, deg / 2)[3];
        assert!(at(44) > 2.5 && at(134) < -2.5, "{} {}", at(44), at(134));
        assert!(at(0).abs() < 1e-4 && at(90).abs() < 1e-4, "{} {}", at(0), at(90));
    }

    #[test]
    fn skew_breaks_its_limit_to_either_side() {
        let (judge, sections) = even_tube(13.5, 12.7, &[(2, 0.25, 0.0)]);
        let judge = Judge::new(
            judge.fan().clone(),
            judge.fields(),
            &Target { skew_mm: 2.5, ..judge.target().clone() },
            12.7,
            Vec::new(),
        );
        let (mut every, mut passing) = (BarkMap::default(), BarkMap::default());
        judge.judge(&sections, &mut every);
        judge.judge_passing(&sections, &mut passing);
        for map in [every, passing] {
            let skewed = [0, 44, 90, 134, 224, 314].map(|deg: usize| map.broken[deg / 2] & broken::SKEW != 0);
            assert_eq!(skewed, [false, true, false, true, true, true]);
        }
    }

    #[test]
    fn arc_diameter_and_skew_of_a_wide_back_are_those_of_the_definition() {
        // the definition word by word: radii over the width, least squares on {1, cos, sin} for the circle and on
        // {1, cos, sin, t} for the slope of the curvature
        let lobes = [(2, 0.20, -0.10), (3, 0.05, 0.08)];
        let (judge, sections) = even_tube(13.5, 12.6, &lobes);
        let phi = (13.5_f64 / 25.4).asin();
        let t: Vec<f64> = (0..61).map(|i| phi * (f64::from(i) / 30.0 - 1.0)).collect();
        let fit = |columns: &[&dyn Fn(f64) -> f64], f: &dyn Fn(f64) -> f64| {
            let x = DMatrix::from_fn(t.len(), columns.len(), |i, j| columns[j](t[i]));
            let y = DVector::from_iterator(t.len(), t.iter().map(|&t| f(t)));
            x.svd(true, true).solve(&y, 1e-13).expect("full rank")
        };
        let (one, cos, sin, slope) = (|_: f64| 1.0, f64::cos, f64::sin, |t: f64| t);
        for line in [0, 17, 45, 100, 163] {
            let a = (2.0 * count(line)).to_radians();
            let lobe = |t: f64| {
                lobes
                    .iter()
                    .map(|&(n, c, s)| c * (count(n) * (a + t)).cos() + s * (count(n) * (a + t)).sin())
                    .sum::<f64>()
            };
            let circle = fit(&[&one, &cos, &sin], &lobe);
            let aside = |t: f64| (circle[1] * t.sin() - circle[2] * t.cos()).powi(2) / (2.0 * 12.6);
            let arc = 2.0 * (12.6 + circle[0] + fit(&[&one, &cos, &sin], &aside)[0]);
            let skew = 4.0 * phi * fit(&[&one, &cos, &sin, &slope], &lobe)[3];
            let [_, _, got_arc, got_skew] = judge.window(&sections, line % 5, line);
            assert!((got_arc - arc).abs() < 2e-4, "line {line}: arc {got_arc} against {arc}");
            assert!((got_skew - skew).abs() < 2e-4, "line {line}: skew {got_skew} against {skew}");
            assert!(skew.abs() > 0.05, "line {line} tests no skew: {skew}");
        }
    }

    #[test]
    fn a_piece_follows_a_turning_grain_by_whole_lines() {
        // 2 deg a line: 10 deg is 5 lines, 4 deg anticlockwise 178; half a turn of 2.9 deg is 1 line, of 3.1 deg 2
        let radians = |deg: f64| single(deg.to_radians());
        let map = BarkMap {
            turn: [10.0, -4.0, 0.9, -0.9, 361.2].map(radians).to_vec(),
            half_turn: [0.0, 2.9, 3.1, 0.9, 7.0].map(radians).to_vec(),
            ..BarkMap::default()
        };
        let sides: Vec<(usize, usize)> = (0..5).map(|s| map.side(s)).collect();
        assert_eq!(sides, [(5, 0), (178, 1), (0, 2), (0, 0), (1, 4)]);
        assert_eq!(BarkMap::default().side(0), (0, 0));
    }

    #[test]
    fn shift_lost_lines_and_drift_of_a_grain_that_turns_evenly_by_hand() {
        // a tenth of a degree clockwise a millimetre: 7 deg over a blank of 70 mm, its middle 3.5 deg beyond the start
        let (judge, _) = even_tube(13.5, 12.7, &[]);
        let fields = Fields { twist: true, ..judge.fields() };
        let judge = Judge::new(judge.fan().clone(), fields, judge.target(), 12.7, Vec::new());
        let z = judge.fan().z_mm().to_vec();
        let mut sections = Sections::zeros(fields, &z);
        for (j, z) in z.iter().enumerate() {
            sections.row_mut(j)[Fields::R0] = 12.7;
            sections.row_mut(j)[fields.turn_at().expect("asked for")] = 40.0 + 0.1 * z;
        }
        let mut map = BarkMap::default();
        judge.judge(&sections, &mut map);
        // 3.5 deg are 1.75 lines: two on; half of 7 deg likewise: two lost on either side
        assert_eq!(map.side(0), (2, 2));
        // the start nearest 65 mm on has turned 6.5 deg more: 10 deg, five lines
        let s = to_index((65.0 / judge.fan().step_mm()).round());
        assert_eq!(map.side(s), (5, 2));
        // 12.7 mm x 7 deg
        assert!((f64::from(map.drift[s]) - 12.7 * 7.0_f64.to_radians()).abs() < 1e-4, "{}", map.drift[s]);
    }

    #[test]
    fn the_short_way_passes_the_same_windows_and_one_window_alone_has_the_same_values() {
        for k in 0..6 {
            let truth = TrueTube::grow(&Stand::default(), 4, k);
            let fan = Fan::new(truth.length_mm, &Target::default(), &Saw::default()).expect("long enough");
            let sections = truth.sections(fan.z_mm());
            let marked = (0..fan.starts() * LINES).map(|i| i % 97 == 0).collect();
            let judge = Judge::new(fan, TrueTube::fields(), &Target::default(), 12.7, marked);
            let (mut every, mut passing) = (BarkMap::default(), BarkMap::default());
            judge.judge(&sections, &mut every);
            judge.judge_passing(&sections, &mut passing);
            // the search starts from other slopes, so a value within a tenth of a micrometre of its limit may fall either way
            let close = |at: usize| (every.hollow[at] - 0.08).abs() < 5e-4 || (every.rock[at] - 0.12).abs() < 5e-3;
            for at in 0..every.broken.len() {
                let same = (every.broken[at] == 0) == (passing.broken[at] == 0);
                assert!(same || close(at), "tube {k}, window {at}");
            }
            for at in (0..every.broken.len()).step_by(611) {
                let one = judge.window(&sections, at / LINES, at % LINES);
                let all = [every.hollow[at], every.rock[at], every.arc[at], every.skew[at]].map(f64::from);
                for q in 0..4 {
                    assert!((one[q] - all[q]).abs() < 5e-3, "tube {k}, window {at}, value {q}: {} {}", one[q], all[q]);
                }
            }
        }
    }
}
