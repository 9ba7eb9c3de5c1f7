//! The support function of a section: how far it reaches in a direction, and the width between two jaws.

use super::fields::Fields;
use super::section::Section;
use crate::domain::Angle;
use crate::numeric::summary::count;
use std::f64::consts::PI;

impl Section<'_> {
    /// How far it reaches from its own centre in direction `a`: the support function, `max over b of R(b) cos(b - a)`, mm.
    #[must_use]
    pub fn support_mm(self, a: Angle) -> f64 {
        self.reach(self.touching(a.radians()), a.radians())
    }

    /// Width between parallel jaws closed along `a`, `S(a) + S(a + 180 deg)`, mm.
    #[must_use]
    pub fn width_mm(self, a: Angle) -> f64 {
        self.support_mm(a) + self.support_mm(a + Angle::from_radians(PI))
    }

    /// The support function in direction `a` (radians); adds `factor` times its gradient.
    ///
    /// By the envelope theorem the gradient is that of `R(b) cos(b - a)` at the touching place `b`.
    pub(super) fn support(self, a: f64, factor: f64, gradient: &mut [f64]) -> f64 {
        let d = self.touching(a);
        self.fields().add_radius(a + d, factor * d.cos(), gradient);
        self.reach(d, a)
    }

    /// How far the place `d` radians on from `a` reaches in direction `a`.
    fn reach(self, d: f64, a: f64) -> f64 {
        self.radius_and_slopes(a + d)[0] * d.cos()
    }

    /// How far on from `a` the touching place lies, radians.
    fn touching(self, a: f64) -> f64 {
        let mut best = (0.0, f64::MIN);
        if !self.surely_convex() {
            // the touching place is near `a` on any tube; look 30 degrees either way so that a dent cannot hide it
            best = (0.0, self.reach(0.0, a));
            for step in 1..=6 {
                for d in [f64::from(step) * 0.0873, f64::from(step) * -0.0873] {
                    let v = self.reach(d, a);
                    if v > best.1 {
                        best = (d, v);
                    }
                }
            }
        }
        let mut d = best.0;
        for _ in 0..12 {
            let [r, r1, r2] = self.radius_and_slopes(a + d);
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
        if self.reach(d, a) < best.1 { best.0 } else { d }
    }

    /// Whether the section bulges everywhere, so that a jaw has only one place to touch: the curvature radius of
    /// `R0 + sum` cannot reach zero while `sum (n^2 - 1) |amplitude|` stays well below `R0`.
    fn surely_convex(self) -> bool {
        let (fields, row) = (self.fields(), self.row());
        let dents: f64 = (2..=fields.top)
            .map(|n| {
                let at = fields.harmonic(n);
                (count(n * n) - 1.0) * (row[at].abs() + row[at + 1].abs())
            })
            .sum();
        dents < 0.6 * row[Fields::R0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_width_is_the_widest_shadow_of_many_points() {
        let fields = Fields { top: 5, wall: false, twist: false };
        let row = [12.7, 0.2, -0.1, 0.04, 0.05, 0.01, -0.02, 0.01, 0.005, 0.3, -0.7];
        let section = Section::new(fields, &row);
        for deg in [0.0, 17.0, 60.0, 133.0] {
            let a = Angle::from_degrees(deg);
            let shadow: Vec<f64> = (0..200_000)
                .map(|i| f64::from(i) * std::f64::consts::TAU / 200_000.0)
                .map(|b| section.radius_mm(Angle::from_radians(b)) * (b - a.radians()).cos())
                .collect();
            let (low, high) = shadow.iter().fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
            let width = section.width_mm(a);
            assert!((width - (high - low)).abs() < 1e-7, "{deg}: {width} {}", high - low);
        }
    }

    #[test]
    fn a_caliper_on_a_three_lobed_tube_reads_the_same_all_round() {
        // support functions with odd lobes only have constant width; to second order so do small odd lobes of the radius
        let fields = Fields { top: 3, wall: false, twist: false };
        let row = [12.7, 0.0, 0.0, 0.05, 0.02, 0.4, -0.3];
        let section = Section::new(fields, &row);
        let w: Vec<f64> = (0..36).map(|i| section.width_mm(Angle::from_degrees(f64::from(i) * 5.0))).collect();
        let spread = w.iter().copied().fold(f64::MIN, f64::max) - w.iter().copied().fold(f64::MAX, f64::min);
        assert!(spread < 0.003, "{spread} mm");
    }
}
