//! A section lying in a V-block: what a dial over its summit reads.

use super::section::Section;
use crate::domain::Angle;
use crate::numeric::summary::count;
use std::f64::consts::FRAC_PI_2;

impl Section<'_> {
    /// Height of the summit (the flat anvil above, square to the bisector) over the apex of a V-block of included angle `v` (radians),
    /// the block symmetric about the vertical through its apex and the tube turned so that `a` points straight up.
    ///
    /// # Derivation and sign
    /// The faces of the block touch the section where its outward normals are `u = a + (90 + v/2)` and `a - (90 + v/2)`. Let
    /// the section's centre stand at `t` from the apex; each face holds `u . t + S(u) = 0`. Both normals have the component
    /// `-sin(v/2)` along `a`, so the centre stands `[S(u+) + S(u-)] / (2 sin(v/2))` above the apex, and the anvil `S(a)` above
    /// the centre. The reading grows when the summit rises. A lobe `cos n(phi - a)` of the support function therefore shows with
    /// the gain `F(n, v) = 1 + cos(n (90 + v/2)) / sin(v/2)`, and the mean radius with `1 + 1 / sin(v/2)`.
    #[must_use]
    pub fn summit_mm(self, a: Angle, v: f64) -> f64 {
        self.summit(a, v, &mut vec![0.0; self.fields().count()])
    }

    /// As [`Section::summit_mm`]; adds its gradient.
    pub(super) fn summit(self, a: Angle, v: f64, gradient: &mut [f64]) -> f64 {
        let lean = FRAC_PI_2 + v / 2.0;
        let share = 0.5 / (v / 2.0).sin();
        let mut sum = self.support(a.radians(), 1.0, gradient);
        sum += share * self.support(a.radians() + lean, share, gradient);
        sum + share * self.support(a.radians() - lean, share, gradient)
    }
}

/// Gain with which the `n`-th lobe of the support function shows in a summit reading over a V-block of included angle `v`
/// radians, sign as in [`Section::summit_mm`].
#[must_use]
pub fn vee_gain(n: usize, v: f64) -> f64 {
    1.0 + (count(n) * (FRAC_PI_2 + v / 2.0)).cos() / (v / 2.0).sin()
}

#[cfg(test)]
mod tests {
    use super::super::fields::Fields;
    use super::*;

    fn example() -> (Fields, Vec<f64>) {
        let fields = Fields { top: 5, wall: true, twist: true };
        (fields, vec![12.7, 0.2, -0.1, 0.04, 0.05, 0.01, -0.02, 0.01, 0.005, 0.3, -0.7, 3.5, 0.1, -0.2, 11.0])
    }

    #[test]
    fn the_summit_is_where_a_section_dropped_into_the_block_comes_to_rest() {
        // many bark points lowered until both faces of the V are touched: no support function involved
        let (fields, row) = example();
        let section = Section::new(fields, &row);
        let points: Vec<(f64, f64)> = (0..100_000)
            .map(|i| f64::from(i) * std::f64::consts::TAU / 100_000.0)
            .map(|b| (b, section.radius_and_slopes(b)[0]))
            .collect();
        for (deg, v) in [(0.0, 60_f64), (40.0, 90.0), (111.0, 108.0), (200.0, 35.0)] {
            let (a, half) = (Angle::from_degrees(deg), v.to_radians() / 2.0);
            // section turned so that `a` points up: (side, up) of every point
            let turned: Vec<[f64; 2]> =
                points.iter().map(|(b, r)| [r * (b - a.radians()).sin(), r * (b - a.radians()).cos()]).collect();
            let top = turned.iter().map(|p| p[1]).fold(f64::MIN, f64::max);
            // inside the V: up >= |side| / tan(half); slide sideways until the needed lift is least
            let lift =
                |shift: f64| turned.iter().map(|p| (p[0] + shift).abs() / half.tan() - p[1]).fold(f64::MIN, f64::max);
            let (mut low, mut high) = (-2.0, 2.0);
            for _ in 0..100 {
                let (u, w) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                if lift(u) < lift(w) { high = w } else { low = u }
            }
            let want = lift(low) + top;
            let got = section.summit_mm(a, v.to_radians());
            assert!((got - want).abs() < 1e-5, "{deg} deg on {v} deg: {got} {want}");
        }
    }
}
