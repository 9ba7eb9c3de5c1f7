//! Fine texture of the bark: what differs from place to place within a few millimetres.

use crate::numeric::draws;

/// How large the texture is, and how unsure that is.
///
/// A gauge stick stands on the highest places under it, so texture lifts it off everywhere at once: 0.001 mm of it by some
/// 0.004 mm. Its doubt is common to the tubes of a lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Texture {
    /// Standard deviation of the bark from place to place, mm.
    pub mm: f64,
    /// Standard deviation of the logarithm of that.
    pub log_sd: f64,
}

impl Texture {
    /// Where nothing is known of it. No measurement of the bark of cane at this scale is known to us: common practice, no
    /// source.
    pub const BUILT_IN: Texture = Texture { mm: 0.001, log_sd: 0.9 };

    /// How large draw `k` takes it, mm: common to all tubes of a lot. Depends on (seed, k) only.
    pub(super) fn drawn(self, seed: u64, k: u64) -> f64 {
        let z = draws::mirrored_normals(seed, "texture of the lot", k, 1)[0];
        self.mm * (self.log_sd * z).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::summary::{mean, sd};

    #[test]
    fn draws_of_the_texture_have_the_stated_spread() {
        let logs: Vec<f64> = (0..2000).map(|k| Texture::BUILT_IN.drawn(3, k).ln()).collect();
        assert!((mean(&logs) - 0.001_f64.ln()).abs() < 0.06 && (sd(&logs) - 0.9).abs() < 0.05);
        assert!((Texture { mm: 0.01, log_sd: 0.0 }.drawn(3, 7) - 0.01).abs() < 1e-15);
    }
}
