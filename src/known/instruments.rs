//! What plain instruments read on a true tube, from points of its surface: no formula of a model, no noise.

use super::circle::nearest_circle;
use super::shape::TrueTube;
use std::f64::consts::{FRAC_PI_2, TAU};

/// Step between points round the tube where a highest one is sought: 0.1 deg misses at most 5e-6 mm under a flat, 5e-5 under
/// a ball of 1.5 mm.
const FINE: f64 = TAU / 3600.0;

/// What a dial touches the bark with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Foot {
    /// The height of the bark line itself, `R(a) + axis . (cos a, sin a)`: what a flat foot reads on a nearly round section.
    Height,
    /// A flat of this half-width, mm, square to the spindle.
    Flat(f64),
    /// A ball of this radius, mm.
    Ball(f64),
    /// A point, which reads where the spindle's line meets the bark.
    Point,
    /// A knife edge parallel to the tube that lies this far to the side, mm (clockwise): it meets the bark there.
    Aside(f64),
}

/// What a dial reads over the point `from` in the section's plane, its spindle pointing at it along direction `a`.
#[must_use]
pub fn dial(tube: &TrueTube, a: f64, z: f64, from: [f64; 2], foot: Foot) -> f64 {
    let (s, c) = a.sin_cos();
    // (sideways, up) as the dial stands
    let seen = |p: [f64; 2]| {
        let (x, y) = (p[0] - from[0], p[1] - from[1]);
        (y * c - x * s, x * c + y * s)
    };
    match foot {
        Foot::Height => tube.height(a, z) - from[0] * c - from[1] * s,
        Foot::Point => meet(tube, a, z, 0.0, &seen),
        Foot::Aside(by) => meet(tube, a, z, by, &seen),
        Foot::Flat(half) => highest(tube, a, z, |p| {
            let (side, up) = seen(p);
            if side.abs() <= half { up } else { f64::MIN }
        })
        .max(meet(tube, a, z, half, &seen))
        .max(meet(tube, a, z, -half, &seen)),
        Foot::Ball(radius) => highest(tube, a, z, |p| {
            let (side, up) = seen(p);
            if side.abs() < radius { up - radius + (radius * radius - side * side).sqrt() } else { f64::MIN }
        }),
    }
}

/// Largest value over the points of the section within 75 deg of direction `a`.
fn highest(tube: &TrueTube, a: f64, z: f64, value: impl Fn([f64; 2]) -> f64) -> f64 {
    let (ring, [x, y]) = ((tube.ring)(z), (tube.axis)(z));
    (-750..=750)
        .map(|i| a + FINE * f64::from(i))
        .map(|b| (ring(b), b.sin_cos()))
        .map(|(r, (s, c))| value([x + r * c, y + r * s]))
        .fold(f64::MIN, f64::max)
}

/// Where the section lies `aside` of the spindle's line, by halving.
fn meet(tube: &TrueTube, a: f64, z: f64, aside: f64, seen: &dyn Fn([f64; 2]) -> (f64, f64)) -> f64 {
    let (ring, [x, y]) = ((tube.ring)(z), (tube.axis)(z));
    let at = |b: f64| {
        let r = ring(b);
        seen([x + r * b.cos(), y + r * b.sin()])
    };
    let (mut low, mut high) = (a - 1.3, a + 1.3);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if at(middle).0 < aside { low = middle } else { high = middle }
    }
    at(low).1
}

/// Width between parallel jaws closed along `a`; the jaws are `jaw_mm` wide along the tube, ride on the highest points, and
/// are rocked along it until they read least, as a hand does.
#[must_use]
pub fn caliper(tube: &TrueTube, a: f64, z: f64, jaw_mm: f64) -> f64 {
    let places = if jaw_mm > 0.0 { 9 } else { 1 };
    let of = |a: f64| -> Vec<[f64; 2]> {
        (0..places)
            .map(|i| jaw_mm * (f64::from(i) / f64::from(places.max(2) - 1) - if places > 1 { 0.5 } else { 0.0 }))
            .filter(|d| (0.0..=tube.length_mm).contains(&(z + d)))
            .map(|d| [d, highest(tube, a, z + d, |p| p[0] * a.cos() + p[1] * a.sin())])
            .collect()
    };
    let sides = [of(a), of(a + std::f64::consts::PI)];
    let jaw = |side: &[[f64; 2]], tilt: f64| side.iter().map(|p| p[1] - tilt * p[0]).fold(f64::MIN, f64::max);
    let width = |tilt: f64| (jaw(&sides[0], tilt) + jaw(&sides[1], -tilt)) / tilt.hypot(1.0);
    if places == 1 {
        return width(0.0);
    }
    let (mut low, mut high) = (-0.2, 0.2);
    for _ in 0..60 {
        let (u, w) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if width(u) < width(w) { high = w } else { low = u }
    }
    width(0.5 * (low + high))
}

/// Height of the summit, under a flat anvil, over the apex of a V-block of included angle `v`: the section, turned so that
/// `a` points up, is lowered into the block as a polygon and slides until it touches both faces.
pub fn vee(tube: &TrueTube, a: f64, z: f64, v: f64) -> f64 {
    let turned: Vec<[f64; 2]> = tube
        .outline(z, 1440)
        .iter()
        .map(|p| [p[1] * a.cos() - p[0] * a.sin(), p[0] * a.cos() + p[1] * a.sin()])
        .collect();
    let top = turned.iter().map(|p| p[1]).fold(f64::MIN, f64::max);
    let steep = 1.0 / (v / 2.0).tan();
    // how far the apex lies below the section's origin when it is shifted sideways: the least lift is where it rests
    let lift = |shift: f64| turned.iter().map(|p| (p[0] + shift).abs() * steep - p[1]).fold(f64::MIN, f64::max);
    let middle = (tube.axis)(z);
    let centre = middle[0] * a.sin() - middle[1] * a.cos();
    let (mut low, mut high) = (centre - 2.0, centre + 2.0);
    for _ in 0..42 {
        let (u, w) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if lift(u) < lift(w) { high = w } else { low = u }
    }
    top + lift(0.5 * (low + high))
}

/// A straight line along a bark line: height at the index end and rise per mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    height: f64,
    rise: f64,
}

impl Edge {
    /// A straightedge from `from` to `to` resting on the bark line at `a`: of all pairs of points, one on either side of its
    /// middle, the line through the pair that stands highest over the middle.
    #[must_use]
    pub fn resting(tube: &TrueTube, a: f64, from: f64, to: f64) -> Edge {
        // an even number of points about a millimetre apart: the middle lies between two
        let n = 2 * super::whole(((to - from) / 2.0).round().max(4.0));
        let z: Vec<f64> = (0..n).map(|i| from + (to - from) * i as f64 / (n - 1) as f64).collect();
        let h: Vec<f64> = z.iter().map(|&z| tube.height(a, z)).collect();
        let middle = 0.5 * (from + to);
        let mut best = (f64::MIN, Edge { height: 0.0, rise: 0.0 });
        for i in 0..n / 2 {
            for j in n / 2..n {
                let rise = (h[j] - h[i]) / (z[j] - z[i]);
                let over = h[i] + rise * (middle - z[i]);
                if over > best.0 {
                    best = (over, Edge { height: h[i] - rise * z[i], rise });
                }
            }
        }
        best.1
    }

    /// A straightedge lifted off the bark line at `a` by two equal blocks at two places.
    #[must_use]
    pub fn lifted(tube: &TrueTube, a: f64, at: [f64; 2], block_mm: f64) -> Edge {
        let [h0, h1] = at.map(|z| tube.height(a, z));
        let rise = (h1 - h0) / (at[1] - at[0]);
        Edge { height: h0 + block_mm - rise * at[0], rise }
    }

    /// Gap under it at a place.
    #[must_use]
    pub fn gap(&self, tube: &TrueTube, a: f64, z: f64) -> f64 {
        self.height + self.rise * z - tube.height(a, z)
    }
}

/// Sag at the middle of a bar on two feet `span` apart, zeroed on a flat: positive where the bark bulges.
#[must_use]
pub fn bridge(tube: &TrueTube, a: f64, z: f64, span: f64) -> f64 {
    tube.height(a, z) - 0.5 * (tube.height(a, z - span / 2.0) + tube.height(a, z + span / 2.0))
}

/// Diameter of the gauge that fits the back over `width`: the circle nearest to points no further aside than half of it.
#[must_use]
pub fn arc_gauge(tube: &TrueTube, a: f64, z: f64, width: f64) -> f64 {
    let (ring, n) = ((tube.ring)(z), 400);
    let points: Vec<[f64; 2]> = (0..=n)
        .map(|i| FRAC_PI_2 * (2.0 * f64::from(i) / f64::from(n) - 1.0))
        .map(|t| (t, ring(a + t)))
        .map(|(t, r)| [r * t.cos(), r * t.sin()])
        .filter(|p| p[1].abs() <= width / 2.0)
        .collect();
    2.0 * nearest_circle(&points, [0.0, 0.0, ring(a)])[2]
}

/// Distance from a point inside the section (in the tube's frame) to its outline along direction `a`.
#[must_use]
pub fn traced(tube: &TrueTube, a: f64, z: f64, from: [f64; 2]) -> f64 {
    dial(tube, a, z, from, Foot::Point)
}
