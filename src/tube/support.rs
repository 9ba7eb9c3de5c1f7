//! The support function of a section: how far it reaches in a direction.

use super::instrument::{add_radius_gradient, radius};
use super::sections::Fields;
use crate::numeric::summary::count;

/// Whether the section bulges everywhere, so that a jaw has only one place to touch: the curvature radius of
/// `R0 + sum` cannot reach zero while `sum (n^2 - 1) |amplitude|` stays well below `R0`.
fn surely_convex(fields: Fields, row: &[f64]) -> bool {
    let dents: f64 = (2..=fields.top)
        .map(|n| {
            let at = fields.harmonic(n);
            (count(n * n) - 1.0) * (row[at].abs() + row[at + 1].abs())
        })
        .sum();
    dents < 0.6 * row[Fields::R0]
}

/// The support function about the centreline, `max over b of R(b) cos(b - a)`; adds `factor` times its gradient.
///
/// By the envelope theorem the gradient is that of `R(b) cos(b - a)` at the touching place `b`.
pub(super) fn support(a: f64, fields: Fields, row: &[f64], gradient: &mut [f64], factor: f64) -> f64 {
    let reach = |d: f64| radius(a + d, fields, row)[0] * d.cos();
    let mut best = (0.0, f64::MIN);
    if !surely_convex(fields, row) {
        // the touching place is near `a` on any tube; look 30 degrees either way so that a dent cannot hide it
        best = (0.0, reach(0.0));
        for step in 1..=6 {
            for d in [f64::from(step) * 0.0873, f64::from(step) * -0.0873] {
                let v = reach(d);
                if v > best.1 {
                    best = (d, v);
                }
            }
        }
    }
    let mut d = best.0;
    for _ in 0..12 {
        let [r, r1, r2] = radius(a + d, fields, row);
        let (s, c) = d.sin_cos();
        let slope = r1 * c - r * s;
        let bend = r2 * c - 2.0 * r1 * s - r * c;
        if bend >= 0.0 {
            break;
        }
        let step = (-slope / bend).clamp(-0.1, 0.1);
        d += step;
        if step.abs() < 1e-13 {
            break;
        }
    }
    if reach(d) < best.1 {
        d = best.0;
    }
    add_radius_gradient(a + d, factor * d.cos(), fields, gradient);
    radius(a + d, fields, row)[0] * d.cos()
}
