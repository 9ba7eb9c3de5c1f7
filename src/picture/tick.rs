//! The pencil tick on a sawn face: a dark line across the wall, from the bark to the bore, where the index line ends.

use super::outline::Curve;
use super::polar::Rays;
use crate::numeric::summary::{mean, median};
use std::f64::consts::TAU;

/// Directions the face is looked at in.
const DIRECTIONS: usize = 2880;
/// Rings of the wall the line has to cross, and in how many of them it has to be seen.
const BANDS: usize = 7;
const LEAST_BANDS: usize = 5;
/// The part of the wall that is looked at, from the bark inwards: its rims are torn and rounded.
const FROM: f64 = 0.10;
const TO: f64 = 0.88;
/// Directions to either side over which the face's own light is taken, degrees.
const AROUND_DEG: f64 = 20.0;
/// Least darkness of a tick, as a share of the face's light, and in scatters of the face.
const LEAST_DARK: f64 = 0.12;
const LEAST_SCATTERS: f64 = 6.0;
/// A second mark this nearly as dark leaves it open which is the tick.
const RIVAL: f64 = 0.6;
/// Width of a tick, mm.
const WIDTH_MM: std::ops::RangeInclusive<f64> = 0.1..=3.0;
/// A tick whose place is known no better than this is none, degrees.
const MOST_SD_DEG: f64 = 1.5;

/// A tick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tick {
    /// Where it meets the bark, radians clockwise on the picture from the right, about the ring's middle.
    pub angle: f64,
    /// How well its place on the picture is known, radians; how well it was drawn is another matter.
    pub sd: f64,
    /// How much darker than the face it is, share of the face's light.
    pub dark: f64,
    /// How far it stands aside for each millimetre inwards.
    pub lean: f64,
}

/// Why there is no tick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TickFault {
    /// No dark line across the wall.
    None,
    /// Two that are alike.
    Two,
    /// The bore is not seen, so nobody knows how far the face reaches.
    NoBore,
}

/// Looks for the tick between an outline and a bore about the same middle.
pub(super) fn find(rays: &Rays<'_>, bark: &Curve, bore: &Curve) -> Result<Tick, TickFault> {
    let dark = Darkness::of(rays, bark, bore);
    let first = dark.darkest(|_| true).ok_or(TickFault::None)?;
    let scatter = median(&dark.all.iter().map(|d| d.abs()).collect::<Vec<_>>()) / 0.6745;
    let least = LEAST_DARK.max(LEAST_SCATTERS * scatter);
    let radius = bark.mean_mm();
    let is_tick =
        |s: &Span| s.dark >= least && WIDTH_MM.contains(&(s.wide * radius)) && dark.bands_of(s) >= LEAST_BANDS;
    let apart = |k: usize| turn(direction(k), first.at).abs() > first.wide + 3_f64.to_radians();
    let second = dark.darkest(apart).filter(is_tick);
    if !is_tick(&first) {
        // a wide shadow or a crack may be darker than the tick
        return second.and_then(|only| dark.placed(&only, bark, bore)).ok_or(TickFault::None);
    }
    if second.is_some_and(|s| s.dark >= RIVAL * first.dark) {
        return Err(TickFault::Two);
    }
    dark.placed(&first, bark, bore).ok_or(TickFault::None)
}

fn direction(k: usize) -> f64 {
    TAU * k as f64 / DIRECTIONS as f64
}

/// Signed turn from `from` to `to`, within half a turn.
fn turn(to: f64, from: f64) -> f64 {
    (to - from + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0
}

/// A dark stretch.
#[derive(Debug, Clone, Copy)]
struct Span {
    /// Its middle and width, radians.
    at: f64,
    wide: f64,
    /// Darkness at its darkest.
    dark: f64,
}

/// How much darker than its neighbourhood the face is, 0 to 1, in every direction.
struct Darkness {
    /// Band by band, from the bark inwards.
    bands: Vec<Vec<f64>>,
    /// Mean of the bands.
    all: Vec<f64>,
}

impl Darkness {
    fn of(rays: &Rays<'_>, bark: &Curve, bore: &Curve) -> Darkness {
        let share = |b: f64| FROM + (TO - FROM) * b / BANDS as f64;
        let bands: Vec<Vec<f64>> = (0..BANDS)
            .map(|b| {
                let light: Vec<f64> = (0..DIRECTIONS)
                    .map(direction)
                    .map(|a| {
                        let (outer, inner) = (bark.at(a), bore.at(a));
                        let at = |q: f64| outer + (inner - outer) * share(b as f64 + q);
                        mean(&[0.1, 0.3, 0.5, 0.7, 0.9].map(|q| rays.light(a, at(q))))
                    })
                    .collect();
                against_neighbours(&light)
            })
            .collect();
        let all: Vec<f64> = (0..DIRECTIONS).map(|k| bands.iter().map(|b| b[k]).sum::<f64>() / BANDS as f64).collect();
        // a tick is seldom below half a millimetre: that much is averaged
        let half = super::scale::whole(0.15 / bark.mean_mm() / TAU * DIRECTIONS as f64);
        Darkness { bands, all: averaged(&all, half) }
    }

    /// The darkest stretch among the directions that `may` count.
    fn darkest(&self, may: impl Fn(usize) -> bool) -> Option<Span> {
        let top =
            (0..DIRECTIONS).filter(|&k| may(k)).max_by(|&i, &j| self.all[i].total_cmp(&self.all[j]).then(j.cmp(&i)))?;
        let dark = self.all[top];
        if dark <= 0.0 {
            return None;
        }
        let reach = |step: usize| {
            (1..DIRECTIONS / 8).find(|n| self.all[(top + n * step) % DIRECTIONS] < 0.4 * dark).unwrap_or(DIRECTIONS / 8)
        };
        let (up, down) = (reach(1), reach(DIRECTIONS - 1));
        let one = TAU / DIRECTIONS as f64;
        let at = direction(top) + (up as f64 - down as f64) / 2.0 * one;
        Some(Span { at, wide: (up + down - 1) as f64 * one, dark })
    }

    /// In how many bands the stretch is dark.
    fn bands_of(&self, span: &Span) -> usize {
        self.bands.iter().filter(|band| darkest_in(band, span, 0.5) >= 0.4 * span.dark).count()
    }

    /// The line through the dark places of the bands, followed to the bark.
    fn placed(&self, span: &Span, bark: &Curve, bore: &Curve) -> Option<Tick> {
        let radius = bark.at(span.at);
        // depth below the bark and distance aside of the middle of the stretch, mm, and weight: a straight line is straight so
        let places: Vec<(f64, f64, f64)> = self
            .bands
            .iter()
            .enumerate()
            .filter_map(|(b, band)| {
                let (turn, weight) = centroid(band, span)?;
                let depth = (radius - bore.at(span.at)) * (FROM + (TO - FROM) * (b as f64 + 0.5) / BANDS as f64);
                Some((radius - (radius - depth) * turn.cos(), (radius - depth) * turn.sin(), weight))
            })
            .collect();
        if places.len() < LEAST_BANDS {
            return None;
        }
        let total: f64 = places.iter().map(|p| p.2).sum();
        let about = |f: &dyn Fn(&(f64, f64, f64)) -> f64| places.iter().map(|p| p.2 / total * f(p)).sum::<f64>();
        let (depth, aside) = (about(&|p| p.0), about(&|p| p.1));
        let spread = about(&|p| (p.0 - depth).powi(2));
        let lean = about(&|p| (p.0 - depth) * (p.1 - aside)) / spread;
        let n = places.len() as f64;
        let off = about(&|p| (p.1 - aside - lean * (p.0 - depth)).powi(2)) * n / (n - 2.0);
        // no pencil line is straight to better than this, mm
        let one = off.sqrt().max(0.03);
        let sd = one / radius * ((1.0 + depth * depth / spread) / n).sqrt();
        let at_bark = ((aside - lean * depth) / radius).clamp(-1.0, 1.0).asin();
        (sd.to_degrees() <= MOST_SD_DEG).then(|| Tick {
            angle: (span.at + at_bark).rem_euclid(TAU),
            sd,
            dark: span.dark,
            lean,
        })
    }
}

/// Mean place of the darkness of a band within a stretch and a half, against its middle, with its weight.
fn centroid(band: &[f64], span: &Span) -> Option<(f64, f64)> {
    let (mut sum, mut weight) = (0.0, 0.0);
    let most = darkest_in(band, span, 1.0);
    for (turn, d) in within(band, span, 1.0) {
        let d = d - 0.3 * most;
        if d > 0.0 {
            (sum, weight) = (sum + d * turn, weight + d);
        }
    }
    (most >= 0.4 * span.dark && weight > 0.0).then(|| (sum / weight, weight))
}

fn darkest_in(band: &[f64], span: &Span, widths: f64) -> f64 {
    within(band, span, widths).map(|(_, d)| d).fold(0.0, f64::max)
}

/// Turn against the middle of a stretch and darkness, for the directions within `widths` of it.
fn within<'a>(band: &'a [f64], span: &'a Span, widths: f64) -> impl Iterator<Item = (f64, f64)> + 'a {
    let one = TAU / DIRECTIONS as f64;
    let reach = (widths * span.wide).max(2.0 * one);
    let n = super::scale::whole(reach / one);
    let first = super::scale::whole((span.at - reach).rem_euclid(TAU) / one);
    (0..=2 * n + 1).map(move |i| (first + i) % DIRECTIONS).map(move |k| (turn(direction(k), span.at), band[k]))
}

/// One less the light over the middle light of the directions around.
fn against_neighbours(light: &[f64]) -> Vec<f64> {
    let half = super::scale::whole(AROUND_DEG / 360.0 * DIRECTIONS as f64);
    let every = 8;
    let levels: Vec<f64> = (0..DIRECTIONS / every)
        .map(|k| {
            let around: Vec<f64> =
                (0..=2 * half).step_by(4).map(|i| light[(k * every + DIRECTIONS + i - half) % DIRECTIONS]).collect();
            median(&around).max(1e-4)
        })
        .collect();
    light.iter().enumerate().map(|(k, l)| (1.0 - l / levels[k / every]).clamp(-1.0, 1.0)).collect()
}

/// Running mean over `half` to either side.
fn averaged(values: &[f64], half: usize) -> Vec<f64> {
    let n = values.len();
    let width = (2 * half + 1) as f64;
    let mut sum: f64 = (0..=2 * half).map(|i| values[(n + i - half) % n]).sum();
    (0..n)
        .map(|k| {
            let now = sum / width;
            sum += values[(k + half + 1) % n] - values[(k + n - half) % n];
            now
        })
        .collect()
}
