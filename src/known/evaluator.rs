//! What a true tube yields, by brute force: every window on bark lines a degree and stations about a millimetre apart.

use super::circle::{arc_diameter, back, skew};
use super::shape::{Ring, TrueTube};
use super::whole;
use std::f64::consts::{FRAC_PI_2, TAU};

/// Bark lines, one a degree.
pub const LINES: usize = 360;
/// Directions at which a ring is tabled; between them it is taken as straight (0.25 um for a groove of 0.25 mm, sd 6 deg).
const TABLED: usize = 720;
/// Points across the back.
const ACROSS: usize = 41;
/// Arc and skew are taken at every so many stations and as even between: they are averaged along the window anyhow.
const ARC_EVERY: usize = 4;
/// The corners of a blank are held against the faces of its piece at every so many stations, and at the last.
const CORNER_EVERY: usize = 7;
/// Points of the bore over the width of a blank.
const BORE: usize = 9;
/// The same where the words of the definition are followed: a sixth of a degree apart.
const FINE_BORE: usize = 401;
/// Standard deviations to which a wander is summed.
const REACH: f64 = 4.0;

/// What must hold, and what the saw takes.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Rules {
    /// Pieces a tube is split into.
    pub pieces: usize,
    /// Blank length and width, mm.
    pub blank_mm: [f64; 2],
    /// Thickness of a blank at its crown, down to its flat underside, mm.
    pub thick_mm: f64,
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
            thick_mm: 3.2,
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
    /// Least height of bark over bore, on the crown.
    pub wall: f64,
    /// How far the fibre drifts sideways.
    pub drift: f64,
}

impl Shown {
    /// Whether every limit holds.
    #[must_use]
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
#[must_use]
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
    /// How far a fibre has gone round from the index end to each start, degrees.
    turn_deg: Vec<f64>,
    /// Where a blank on line i from start s needs the faces of its piece: degrees from its line to the split line below and
    /// to the one above at the index end. Filled where the stretch passes.
    faces: Vec<[f64; 2]>,
}

impl Judged {
    /// Judges a tube. `None` when not even one blank fits between the trims.
    #[must_use]
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
            turn_deg: z[..starts].iter().map(|&z| (tube.turn_deg)(z)).collect(),
            faces: vec![[0.0; 2]; starts * LINES],
        };
        judged.judge(tube, &z);
        Some(judged)
    }

    /// Number of window starts.
    #[must_use]
    pub fn starts(&self) -> usize {
        self.passing.len() / LINES
    }

    /// Place of start `s`, mm from the index end.
    #[must_use]
    pub fn start_mm(&self, s: usize) -> f64 {
        self.rules.trim_mm + s as f64 * self.step_mm
    }

    /// Expected blanks of a length sawn off before it is split, from one place to another, mm, its split aimed at `aim` degrees
    /// as seen at its own first end. Where that lies behind a kerf the first window begins less than a step further on.
    #[must_use]
    pub fn sawn(&self, wander_deg: f64, [from_mm, to_mm]: [f64; 2], aim: f64) -> f64 {
        let place = |mm: f64| (mm - self.rules.trim_mm) / self.step_mm;
        let first = whole((place(from_mm) - 1e-6).ceil().max(0.0));
        let fits = (place(to_mm) - self.window as f64 + 1e-6).floor();
        let end = if fits < 0.0 { 0 } else { self.starts().min(whole(fits) + 1) };
        if first >= end {
            return 0.0;
        }
        let turned = if from_mm > self.rules.trim_mm { self.turn_deg[first] } else { 0.0 };
        let by_angle = self.by_angle_of(wander_deg, first..end);
        by_angle[whole((aim - turned).round().rem_euclid(by_angle.len() as f64)) % by_angle.len()]
    }

    fn judge(&mut self, tube: &TrueTube, z: &[f64]) {
        let (n, w) = (z.len(), self.window);
        let rings: Vec<Ring> = z.iter().map(|&z| (tube.ring)(z)).collect();
        let axis: Vec<[f64; 2]> = z.iter().map(|&z| (tube.axis)(z)).collect();
        let tables: Vec<Vec<f64>> = rings.iter().map(|r| table(r.as_ref())).collect();
        let turn: Vec<f64> = z.iter().map(|&z| (tube.turn_deg)(z)).collect();
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
            for start in 0..self.starts() {
                let (new, old) = (across[start + w], across[start]);
                sum = [sum[0] + new[0], sum[1] + new[1]];
                let over = turn[start..=start + w].iter();
                let (low, high) = over.fold((f64::MAX, f64::MIN), |(l, h), &t| (l.min(t), h.max(t)));
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
                    let wall = |j: usize| wall_over(&rings[j], &|b| (tube.wall)(b, z[j]), a, &self.rules, BORE);
                    shown.wall = (start..=start + w).map(wall).fold(f64::MAX, f64::min);
                }
                let at = start * LINES + i;
                self.passing[at] = shown.passes(&self.rules);
                if self.passing[at] {
                    let places = (start..start + w).step_by(CORNER_EVERY).chain([start + w]);
                    let places: Vec<Place> = places
                        .map(|j| Place { table: &tables[j], z_mm: z[j], axis: axis[j], turn_deg: turn[j] })
                        .collect();
                    self.faces[at] = faces_wanted(&places, i, &self.rules);
                }
            }
        }
    }

    /// Runs on the piece between the split lines at `from` and `to` degrees (at the index end, `to` beyond `from`).
    #[must_use]
    pub fn runs_between(&self, from: f64, to: f64) -> usize {
        let allowed: Vec<bool> = (0..self.starts()).map(|s| self.stretch_between(s, from, to)).collect();
        most_runs(&allowed, self.step_mm, self.rules.blank_mm[0] + self.rules.kerf_mm)
    }

    /// Whether the stretch from start `s` passes on some line that the piece between these split lines leaves open.
    #[must_use]
    pub fn stretch_between(&self, s: usize, from: f64, to: f64) -> bool {
        to >= self.least_far_line(s, from)
    }

    /// Where the far split line has to lie, degrees, for a stretch from start `s` to pass in the piece whose near split line
    /// is at `from`; no place is far enough where nothing passes. A line stands for half a degree to either side of it.
    fn least_far_line(&self, s: usize, from: f64) -> f64 {
        let round = LINES as f64;
        let mut least = f64::INFINITY;
        for i in (0..LINES).filter(|i| self.passing[s * LINES + i]) {
            let [below, above] = self.faces[s * LINES + i];
            // the first time round that the line is far enough from the near split line
            let first = from + below;
            let line = i as f64 + round * ((first - 0.5 - i as f64) / round).ceil();
            least = least.min(first.max(line - 0.5) + above);
        }
        least
    }

    /// Runs on every piece when the first split line is aimed at `aim` degrees and the lines fall `off` degrees from their
    /// aims (one number a line; none: as aimed).
    #[must_use]
    pub fn runs_at(&self, aim: f64, off: &[f64]) -> Vec<usize> {
        let n = self.rules.pieces;
        let line = |p: usize| aim + (p * 360) as f64 / n as f64 + off.get(p % n).copied().unwrap_or(0.0);
        (0..n).map(|p| self.runs_between(line(p), line(p + 1))).collect()
    }

    /// How many of the stretches that begin at these places, mm, piece by piece, are good somewhere across their piece when
    /// the split is aimed and falls as in [`Judged::runs_at`]: at the starts on either side of the place.
    #[must_use]
    pub fn good_at(&self, aim: f64, off: &[f64], places: &[Vec<f64>]) -> usize {
        let n = self.rules.pieces;
        let line = |p: usize| aim + (p * 360) as f64 / n as f64 + off.get(p % n).copied().unwrap_or(0.0);
        let good = |p: usize, from_mm: f64| {
            let at = ((from_mm - self.rules.trim_mm) / self.step_mm).max(0.0);
            let last = self.starts().saturating_sub(1);
            [at.floor(), at.ceil()].iter().all(|s| self.stretch_between(whole(*s).min(last), line(p), line(p + 1)))
        };
        places.iter().enumerate().map(|(p, list)| list.iter().filter(|z| good(p, **z)).count()).sum()
    }

    /// Expected blanks at split angles 0, 1, 2, ... degrees, below `360 / pieces`: every split line falls about its aim
    /// with this standard deviation (degrees), each by itself. 0: as aimed.
    #[must_use]
    pub fn by_angle(&self, wander_deg: f64) -> Vec<f64> {
        self.by_angle_of(wander_deg, 0..self.starts())
    }

    /// The same of the part of the tube that the windows from these starts lie in, the angles told at the index end of the
    /// whole tube.
    #[must_use]
    pub fn by_angle_of(&self, wander_deg: f64, starts: std::ops::Range<usize>) -> Vec<f64> {
        let period = whole((360.0 / self.rules.pieces as f64).round());
        let odds = odds(wander_deg);
        let reach = odds.len() / 2;
        let widths = 2 * odds.len() - 1;
        // runs of every piece with whole-degree lines: 360 places of the low line, widths about the period
        let mut runs = vec![0.0; LINES * widths];
        let need = self.rules.blank_mm[0] + self.rules.kerf_mm;
        for low in 0..LINES {
            let from = low as f64;
            let far: Vec<f64> = starts.clone().map(|s| self.least_far_line(s, from)).collect();
            for width in 0..widths {
                let to = from + period as f64 + width as f64 - 2.0 * reach as f64;
                let allowed: Vec<bool> = far.iter().map(|&least| to >= least).collect();
                runs[low * widths + width] = most_runs(&allowed, self.step_mm, need) as f64;
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

/// One place along a window.
struct Place<'a> {
    /// The ring, tabled.
    table: &'a [f64],
    /// Its place, mm from the index end.
    z_mm: f64,
    /// The centre of the section.
    axis: [f64; 2],
    /// How far a fibre has gone round since the index end, degrees.
    turn_deg: f64,
}

/// How far, in degrees at the index end, the split lines below and above line `i` must at least be from it for a straight
/// blank along it.
///
/// A split follows the fibre and runs through the centre of every section. The blank lies straight, its flat side across the
/// direction of the line, along the chord of the centres at its ends and half-way between where the bent centreline goes
/// furthest to one side of it and to the other.
/// At each place its four corners must lie within the two faces: the edges of its back, with the margin, on the bark, and
/// the edges of its underside as deep under the crown as the blank is thick. A blank that is too wide or too thick for any
/// piece wants half a turn.
fn faces_wanted(places: &[Place], i: usize, rules: &Rules) -> [f64; 2] {
    let a = (i as f64).to_radians();
    let (s, c) = a.sin_cos();
    let half = rules.blank_mm[1] / 2.0;
    let (first, last) = (&places[0], &places[places.len() - 1]);
    let aside = |p: &Place| {
        let t = (p.z_mm - first.z_mm) / (last.z_mm - first.z_mm);
        let off = [0, 1].map(|k| p.axis[k] - first.axis[k] - t * (last.axis[k] - first.axis[k]));
        off[1] * c - off[0] * s
    };
    let (low, high) = places.iter().map(aside).fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
    let middle = 0.5 * (low + high);
    let mut wanted = [f64::MIN; 2];
    for p in places {
        let crown = look_up(p.table, a);
        for (side, sign) in [(0, -1.0), (1, 1.0)] {
            // how far the edge lies to this side of the section's centre
            let edge = half + sign * (middle - aside(p));
            // the bark as far out as that: its direction with the crown's radius, then with the radius found there
            let out = edge + rules.margin_mm;
            let on_circle = |r: f64| if out < r { (out / r).asin() } else { f64::INFINITY };
            let about = on_circle(crown).min(FRAC_PI_2);
            let back = on_circle(look_up(p.table, a + sign * about));
            let deep = crown - rules.thick_mm;
            let underside = if deep > 0.0 { (edge / deep).atan() } else { f64::INFINITY };
            let degrees = back.max(underside).to_degrees().min(180.0);
            // the split line has turned on with the fibre: away from the line below, toward the one above
            wanted[side] = wanted[side].max(degrees - sign * p.turn_deg);
        }
    }
    wanted
}

/// How thick the cane is over the bore where a blank lies on the line at `a`: the bark's crown less the highest of `n` bore
/// points under its width, both seen along the crown's direction. The bore lies a wall under the bark, toward the centre.
fn wall_over(ring: &dyn Fn(f64) -> f64, wall: &dyn Fn(f64) -> f64, a: f64, rules: &Rules, n: usize) -> f64 {
    let reach = (rules.blank_mm[1] / 2.0 / ring(a)).min(1.0).asin();
    let highest = (0..n)
        .map(|k| reach * (2.0 * k as f64 / (n - 1) as f64 - 1.0))
        .map(|u| (ring(a + u) - wall(a + u)) * u.cos())
        .fold(f64::MIN, f64::max);
    ring(a) - highest
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
        wall: z
            .iter()
            .map(|&z| wall_over(&(tube.ring)(z), &|b| (tube.wall)(b, z), a, rules, FINE_BORE))
            .fold(f64::MAX, f64::min),
        drift: turned.to_radians() * tube.mean_radius(from_mm + rules.blank_mm[0] / 2.0),
    }
}
