//! Unevenness along a tube.

use super::chance::Chance;
use serde::Serialize;
use std::f64::consts::TAU;

/// A smooth random curve along z, of bells or of waves: bell-shaped rises and falls of one width at places strewn along the tube (shot noise).
///
/// Its standard deviation is the one asked for; two places are alike within about `reach_mm` and strangers beyond three
/// times that (correlation `exp(-d^2 / 4 reach^2)`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wobble {
    reach: f64,
    bells: Vec<(f64, f64)>,
    /// height, mm per mm, phase
    waves: Vec<[f64; 3]>,
}

impl Wobble {
    /// A curve over a tube of this length.
    pub fn new(c: &mut Chance, length_mm: f64, sd_mm: f64, reach_mm: f64) -> Wobble {
        // one bell every `gap`; the sum of their variances at a place is height^2 sqrt(pi) reach / gap
        let gap = reach_mm / 2.0;
        let height = sd_mm * (gap / (std::f64::consts::PI.sqrt() * reach_mm)).sqrt();
        let mut bells = Vec::new();
        let mut z = -4.0 * reach_mm;
        while z < length_mm + 4.0 * reach_mm {
            bells.push((z + gap * c.even(0.0, 1.0), height * c.normal()));
            z += gap;
        }
        Wobble { reach: reach_mm, bells, waves: Vec::new() }
    }

    /// Four even waves, each of a length between the bounds, mm, and of a height that grows with it (normal, sd
    /// `height_mm` for one of 100 mm).
    pub fn waves(c: &mut Chance, length_mm: (f64, f64), height_mm: f64) -> Wobble {
        let waves = [0; 4].map(|_| {
            let length = c.even(length_mm.0, length_mm.1);
            [height_mm * length / 100.0 * c.normal(), TAU / length, c.direction()]
        });
        Wobble { reach: 1.0, bells: Vec::new(), waves: waves.to_vec() }
    }

    /// Its value at a place, mm.
    #[must_use]
    pub fn at(&self, z: f64) -> f64 {
        let waves: f64 = self.waves.iter().map(|[height, per_mm, phase]| height * (per_mm * z + phase).cos()).sum();
        let bells: f64 = self
            .bells
            .iter()
            .map(|(at, height)| ((z - at) / self.reach, height))
            .filter(|(d, _)| d.abs() < 5.0)
            .map(|(d, height)| height * (-0.5 * d * d).exp())
            .sum();
        bells + waves
    }
}
