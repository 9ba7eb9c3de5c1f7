//! What a true tube yields, by brute force: every window on bark lines a degree and stations about a millimetre apart.

use super::circle::{arc_diameter, back, skew};
use super::shape::{Ring, TrueTube};
use super::whole;
use std::f64::consts::TAU;

/// Bark lines, one a degree.
pub const LINES: usize = 360;
/// Directions at which a ring is tabled; between them it is taken as straight (0.25 um for a groove of 0.25 mm, sd 6 deg).
const TABLED: usize = 720;
/// Points across the back.
const ACROSS: usize = 41;
/// Arc and skew are taken at every so many stations and as even between: they are averaged along the window anyhow.
const ARC_EVERY: usize = 4;
/// Standard deviations to which a wander is summed.
const REACH: f64 = 4.0;

/// What must hold, and what the saw takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Pieces a tube is split into.
    pub pieces: usize,
    /// Blank length and width, mm.
    pub blank_mm: [f64; 2],
    /// Least wall, mm; 0: not checked.
    pub wall_mm: f64,
    /// Wanted arc diameter and how far it may be off, mm.
    pub arc_mm: [f64; 2],
    /// Most hollow, mm.
    pub hollow_mm: f64,
    /// Most rock, mm.
    pub rock_mm: f64,
    /// Most skew either way, mm.
    pub skew_mm: f64,
    /// Most drift of the fibre over a blank, mm.
    pub drift_mm: f64,
    /// Spare width beside a blank, mm.
    pub margin_mm: f64,
    /// Width of a cut, mm.
    pub kerf_mm: f64,
    /// Length given up at each end, mm.
    pub trim_mm: f64,
}

impl Default for Rules {
    /// A clarinet blank with ordinary limits, the wall not checked; common practice, no source.
    fn default() -> Self {
        Rules {
            pieces: 4,
            blank_mm: [70.0, 13.5],
            wall_mm: 0.0,
            arc_mm: [25.4, 1.2],
            hollow_mm: 0.08,
            rock_mm: 0.12,
            skew_mm: 6.0,
            drift_mm: 1.0,
            margin_mm: 0.3,
            kerf_mm: 1.0,
            trim_mm: 8.0,
        }
    }
}

/// What one window shows, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Largest gap between the gauge stick's two contacts.
    pub hollow: f64,
    /// Larger of the gaps under its two ends.
    pub rock: f64,
    /// Mean arc diameter.
    pub arc: f64,
    /// Mean skew.
    pub skew: f64,
    /// Least wall.
    pub wall: f64,
    /// How far the fibre drifts sideways.
    pub drift: f64,
}

impl Shown {
    /// Whether every limit holds.
    pub fn passes(&self, rules: &Rules) -> bool {
        self.hollow <= rules.hollow_mm
            && self.rock <= rules.rock_mm
            && (self.arc - rules.arc_mm[0]).abs() <= rules.arc_mm[1]
            && self.skew.abs() <= rules.skew_mm
            && (rules.wall_mm <= 0.0 || self.wall >= rules.wall_mm)
            && self.drift <= rules.drift_mm
    }
}

/// The gauge stick laid on an even number of heights one step apart: its contacts are the pair of points, one on either
/// side of the middle, whose joining line stands highest over the middle. Every pair is tried. Answers hollow and rock.
pub fn lay_stick(h: &[f64]) -> (f64, f64) {
    let (half, middle) = (h.len() / 2, (h.len() - 1) as f64 / 2.0);
    let mut best = (f64::NEG_INFINITY, 0, half);
    for i in 0..half {
        for (j, hj) in h.iter().enumerate().skip(half) {
            let over = h[i] + (hj - h[i]) * (middle - i as f64) / (j - i) as f64;
            if over > best.0 {
                best = (over, i, j);
            }
        }
    }
    let (_, i, j) = best;
    let slope = (h[j] - h[i]) / (j - i) as f64;
    let gap = |k: usize| h[i] + slope * (k as f64 - i as f64) - h[k];
    ((i..=j).map(gap).fold(0.0, f64::max), gap(0).max(gap(h.len() - 1)))
}

/// Most runs that fit: `allowed` says of each start (`step` apart) whether a run may begin there; runs begin at least
/// `need` apart, anywhere between two neighbouring allowed starts too. Always the earliest possible one.
pub fn most_runs(allowed: &[bool], step: f64, need: f64) -> usize {
    let (mut runs, mut from) = (0, 0.0);
    let mut j = 0;
    while j < allowed.len() {
        let at = j as f64 * step;
        if !allowed[j] || at < from - 1e-9 {
            j += 1;
            continue;
        }
        // the earliest place at or after `from` that lies at this start or between it and an allowed one before it
        let place = if j > 0 && allowed[j - 1] { from.max(at - step) } else { at };
        runs += 1;
        from = place + need;
    }
    runs
}

/// A true tube judged everywhere.
#[derive(Debug, Clone)]
pub struct Judged {
    rules: Rules,
    /// Distance between starts, and steps in a window.
    pub step_mm: f64,
    window: usize,
    /// Whether start s passes on line i: `[s * LINES + i]`.
    pub passing: Vec<bool>,
    /// For every start: angle a blank gives up at each split line, and the range of the turn over the window, degrees.
    room: Vec<[f64; 3]>,
    /// For every start, how many lines up to each of twice round pass.
    up_to: Vec<u32>,
}

impl Judged {
    /// Judges a tube. `None` when not even one blank fits between the trims.
    pub fn of(tube: &TrueTube, rules: &Rules) -> Option<Judged> {
        let spare = tube.length_mm - 2.0 * rules.trim_mm - rules.blank_mm[0];
        if spare < 0.0 {
            return None;
        }
        // an odd number of steps near 1 mm, so that the middle of a window is never a station; of these the one that
        // leaves the least unused at the far end
        let about = whole((rules.blank_mm[0] / 2.0).floor());
        let odd = (about - about / 10..=about + about / 10).map(|k| 2 * k + 1);
        let unused = |n: usize| spare % (rules.blank_mm[0] / n as f64);
        let window = odd.min_by(|&a, &b| unused(a).total_cmp(&unused(b)))?;
        let step_mm = rules.blank_mm[0] / window as f64;
        let starts = whole((spare / step_mm + 1e-9).floor()) + 1;
        let z: Vec<f64> = (0..starts + window).map(|j| rules.trim_mm + j as f64 * step_mm).collect();
        let mut judged = Judged {
            rules: rules.clone(),
            step_mm,
            window,
            passing: vec![false; starts * LINES],
            room: Vec::new(),
            up_to: Vec::new(),
        };
        judged.room = judged.rooms(tube, &z);
        judged.judge(tube, &z);
        judged.count_up();
        Some(judged)
    }

    /// Number of window starts.
    pub fn starts(&self) -> usize {
        self.room.len()
    }

    /// Place of start `s`, mm from the index end.
    pub fn start_mm(&self, s: usize) -> f64 {
        self.rules.trim_mm + s as f64 * self.step_mm
    }

    fn rooms(&self, tube: &TrueTube, z: &[f64]) -> Vec<[f64; 3]> {
        let radius: Vec<f64> = z.iter().map(|&z| tube.mean_radius(z)).collect();
        let turn: Vec<f64> = z.iter().map(|&z| (tube.turn_deg)(z)).collect();
        let need = self.rules.blank_mm[1] / 2.0 + self.rules.margin_mm;
        (0..z.len() - self.window)
            .map(|s| {
                let over = |v: &[f64]| {
                    v[s..=s + self.window].iter().fold((f64::MAX, f64::MIN), |(l, h), &x| (l.min(x), h.max(x)))
                };
                let (low, high) = over(&turn);
                [(need / over(&radius).0).min(1.0).asin().to_degrees(), low, high]
            })
            .collect()
    }

    fn judge(&mut self, tube: &TrueTube, z: &[f64]) {
        let (n, w) = (z.len(), self.window);
        let rings: Vec<Ring> = z.iter().map(|&z| (tube.ring)(z)).collect();
        let axis: Vec<[f64; 2]> = z.iter().map(|&z| (tube.axis)(z)).collect();
        let tables: Vec<Vec<f64>> = rings.iter().map(|r| table(r.as_ref())).collect();
        let mut heights = vec![0.0; n];
        let mut across = vec![[0.0; 2]; n];
        for i in 0..LINES {
            let a = (i as f64).to_radians();
            let (s, c) = a.sin_cos();
            for j in (0..n).step_by(ARC_EVERY).chain([n - 1]) {
                let ring = |b: f64| look_up(&tables[j], b);
                let (phi, radii) = back(&ring, a, self.rules.blank_mm[1], ACROSS);
                across[j] = [arc_diameter(phi, &radii), skew(phi, &radii)];
            }
            fill_between(&mut across);
            for j in 0..n {
                heights[j] = tables[j][2 * i] + axis[j][0] * c + axis[j][1] * s;
            }
            let mut sum = across[..w].iter().fold([0.0; 2], |s, v| [s[0] + v[0], s[1] + v[1]]);
            for start in 0..self.room.len() {
                let (new, old) = (across[start + w], across[start]);
                sum = [sum[0] + new[0], sum[1] + new[1]];
                let [_, low, high] = self.room[start];
                let mut shown = Shown {
                    hollow: 0.0,
                    rock: 0.0,
                    arc: sum[0] / (w + 1) as f64,
                    skew: sum[1] / (w + 1) as f64,
                    wall: f64::MAX,
                    drift: (high - low).to_radians() * rings_mean(&tables[start + w / 2]),
                };
                sum = [sum[0] - old[0], sum[1] - old[1]];
                // the dear limits are looked at only where the cheap ones hold
                if !shown.passes(&self.rules) {
                    continue;
                }
                (shown.hollow, shown.rock) = lay_stick(&heights[start..=start + w]);
                if !shown.passes(&self.rules) {
                    continue;
                }
                if self.rules.wall_mm > 0.0 {
                    shown.wall = (start..=start + w).map(|j| (tube.wall)(a, z[j])).fold(f64::MAX, f64::min);
                }
                self.passing[start * LINES + i] = shown.passes(&self.rules);
            }
        }
    }

    fn count_up(&mut self) {
        self.up_to = Vec::with_capacity(self.starts() * (2 * LINES + 1));
        for s in 0..self.starts() {
            let mut sum = 0;
            self.up_to.push(0);
            for i in 0..2 * LINES {
                sum += u32::from(self.passing[s * LINES + i % LINES]);
                self.up_to.push(sum);
            }
        }
    }

    /// Runs on the piece between the split lines at `from` and `to` degrees (at the index end, `to` beyond `from`).
    pub fn runs_between(&self, from: f64, to: f64) -> usize {
        let allowed: Vec<bool> = (0..self.starts()).map(|s| self.stretch_between(s, from, to)).collect();
        most_runs(&allowed, self.step_mm, self.rules.blank_mm[0] + self.rules.kerf_mm)
    }

    /// Whether the stretch from start `s` passes on some line that the piece between these split lines leaves open.
    ///
    /// A split follows the fibre. A blank lies straight, so its centre line keeps its distance from both split lines over
    /// the whole window; the nearest bark line stands for each end of the room that is left.
    pub fn stretch_between(&self, s: usize, from: f64, to: f64) -> bool {
        let [inset, low, high] = self.room[s];
        let (first, last) = (from + high + inset, to + low - inset);
        if last < first {
            return false;
        }
        let begin = whole(first.round().rem_euclid(LINES as f64)) % LINES;
        let end = (begin + whole(last.round() - first.round())).min(begin + LINES - 1);
        let row = &self.up_to[s * (2 * LINES + 1)..];
        row[end + 1] > row[begin]
    }

    /// Runs on every piece when the first split line is aimed at `aim` degrees and the lines fall `off` degrees from their
    /// aims (one number a line; none: as aimed).
    pub fn runs_at(&self, aim: f64, off: &[f64]) -> Vec<usize> {
        let n = self.rules.pieces;
        let line = |p: usize| aim + (p * 360) as f64 / n as f64 + off.get(p % n).copied().unwrap_or(0.0);
        (0..n).map(|p| self.runs_between(line(p), line(p + 1))).collect()
    }

    /// Expected blanks at split angles 0, 1, 2, ... degrees, below `360 / pieces`: every split line falls about its aim
    /// with this standard deviation (degrees), each by itself. 0: as aimed.
    pub fn by_angle(&self, wander_deg: f64) -> Vec<f64> {
        let period = whole((360.0 / self.rules.pieces as f64).round());
        let odds = odds(wander_deg);
        let reach = odds.len() / 2;
        let widths = 2 * odds.len() - 1;
        // runs of every piece with whole-degree lines: 360 places of the low line, widths about the period
        let mut runs = vec![0.0; LINES * widths];
        for low in 0..LINES {
            for width in 0..widths {
                let from = low as f64;
                let to = from + period as f64 + width as f64 - 2.0 * reach as f64;
                runs[low * widths + width] = self.runs_between(from, to) as f64;
            }
        }
        let piece = |aim: usize| -> f64 {
            let mut sum = 0.0;
            for (i, p) in odds.iter().enumerate() {
                let low = (aim + LINES + i - reach) % LINES;
                for (j, q) in odds.iter().enumerate() {
                    sum += p * q * runs[low * widths + (j + 2 * reach - i)];
                }
            }
            sum
        };
        (0..period).map(|aim| (0..self.rules.pieces).map(|p| piece(aim + p * period)).sum()).collect()
    }
}

/// Chances of whole degrees about an aim under a normal wander.
fn odds(wander_deg: f64) -> Vec<f64> {
    if wander_deg <= 0.0 {
        return vec![1.0];
    }
    let reach = (REACH * wander_deg).ceil();
    let density = |d: f64| (-0.5 * (d / wander_deg).powi(2)).exp();
    let all: Vec<f64> = (0..=whole(2.0 * reach)).map(|i| density(i as f64 - reach)).collect();
    let sum: f64 = all.iter().sum();
    all.iter().map(|p| p / sum).collect()
}

fn table(ring: &dyn Fn(f64) -> f64) -> Vec<f64> {
    (0..TABLED).map(|i| ring(TAU * i as f64 / TABLED as f64)).collect()
}

fn look_up(table: &[f64], b: f64) -> f64 {
    let at = (b / TAU * TABLED as f64).rem_euclid(TABLED as f64);
    let i = whole(at.floor());
    let t = at - i as f64;
    let (here, next) = (table[i % TABLED], table[(i + 1) % TABLED]);
    here + t * (next - here)
}

fn rings_mean(table: &[f64]) -> f64 {
    table.iter().step_by(20).sum::<f64>() / (table.len() / 20) as f64
}

/// Even steps between every `ARC_EVERY`-th station and the next.
fn fill_between(values: &mut [[f64; 2]]) {
    let n = values.len();
    let mut from = 0;
    while from + 1 < n {
        let to = (from + ARC_EVERY).min(n - 1);
        for j in from + 1..to {
            let t = (j - from) as f64 / (to - from) as f64;
            values[j] = [0, 1].map(|k| values[from][k] + t * (values[to][k] - values[from][k]));
        }
        from = to;
    }
}

/// One window by the words of the definition and nothing else, on stations `fine` mm apart: the upper hull of the bark
/// line point by point, the back at every station through many points. Slow; it checks the quick way.
pub fn window_by_definition(tube: &TrueTube, rules: &Rules, a: f64, from_mm: f64, fine: f64) -> Shown {
    let steps = whole((rules.blank_mm[0] / fine / 2.0).round()) * 2 + 1;
    let z: Vec<f64> = (0..=steps).map(|j| from_mm + rules.blank_mm[0] * j as f64 / steps as f64).collect();
    let h: Vec<f64> = z.iter().map(|&z| tube.height(a, z)).collect();
    let mut hull: Vec<usize> = Vec::new();
    for k in 0..h.len() {
        while let [.., i, j] = hull[..] {
            // j stays only while it lies above the line from i to k
            let line = h[i] + (h[k] - h[i]) * (j - i) as f64 / (k - i) as f64;
            if h[j] > line {
                break;
            }
            hull.pop();
        }
        hull.push(k);
    }
    let middle = steps as f64 / 2.0;
    let right = hull.iter().position(|&k| k as f64 > middle).unwrap_or(hull.len() - 1);
    let (i, j) = (hull[right - 1], hull[right]);
    let gap = |k: usize| h[i] + (h[j] - h[i]) * (k as f64 - i as f64) / (j - i) as f64 - h[k];
    let backs: Vec<(f64, f64)> = z
        .iter()
        .map(|&z| {
            let ring = (tube.ring)(z);
            let (phi, radii) = back(&ring, a, rules.blank_mm[1], 201);
            (arc_diameter(phi, &radii), skew(phi, &radii))
        })
        .collect();
    let n = backs.len() as f64;
    let turn: Vec<f64> = z.iter().map(|&z| (tube.turn_deg)(z)).collect();
    let turned = turn.iter().copied().fold(f64::MIN, f64::max) - turn.iter().copied().fold(f64::MAX, f64::min);
    Shown {
        hollow: (i..=j).map(gap).fold(0.0, f64::max),
        rock: gap(0).max(gap(h.len() - 1)),
        arc: backs.iter().map(|b| b.0).sum::<f64>() / n,
        skew: backs.iter().map(|b| b.1).sum::<f64>() / n,
        wall: z.iter().map(|&z| (tube.wall)(a, z)).fold(f64::MAX, f64::min),
        drift: turned.to_radians() * tube.mean_radius(from_mm + rules.blank_mm[0] / 2.0),
    }
}
