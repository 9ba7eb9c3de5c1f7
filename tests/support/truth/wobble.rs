//! Unevenness along a tube.

use super::chance::Chance;

/// A smooth random curve along z: bell-shaped rises and falls of one width at places strewn along the tube (shot noise).
///
/// Its standard deviation is the one asked for; two places are alike within about `reach_mm` and strangers beyond three
/// times that (correlation `exp(-d^2 / 4 reach^2)`).
#[derive(Debug, Clone)]
pub struct Wobble {
    reach: f64,
    bells: Vec<(f64, f64)>,
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
        Wobble { reach: reach_mm, bells }
    }

    /// Its value at a place, mm.
    pub fn at(&self, z: f64) -> f64 {
        self.bells
            .iter()
            .map(|(at, height)| ((z - at) / self.reach, height))
            .filter(|(d, _)| d.abs() < 5.0)
            .map(|(d, height)| height * (-0.5 * d * d).exp())
            .sum()
    }
}
