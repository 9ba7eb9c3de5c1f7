//! Random numbers that depend on what they are for and on nothing else.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// One stream of random numbers.
#[derive(Debug)]
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream for the `k`-th thing called `name` under `seed`.
    #[must_use]
    pub fn of(seed: u64, name: &str, k: u64) -> Chance {
        // every byte stirs the whole key: the finishing step of a common 64-bit mixer (Steele, Lea, Flood 2014)
        let stir = |h: u64, b: u64| {
            let x = (h ^ b).wrapping_add(0x9e37_79b9_7f4a_7c15);
            let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            x ^ (x >> 31)
        };
        let key = name.bytes().fold(stir(1, seed), |h, b| stir(h, u64::from(b)));
        Chance(ChaCha8Rng::seed_from_u64(stir(key, k)))
    }

    /// A standard normal number.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// An even number between two bounds.
    pub fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// True with this chance.
    pub fn is(&mut self, chance: f64) -> bool {
        self.even(0.0, 1.0) < chance
    }

    /// A direction, radians.
    pub fn direction(&mut self) -> f64 {
        self.even(0.0, std::f64::consts::TAU)
    }

    /// 1 or -1.
    pub fn side(&mut self) -> f64 {
        if self.is(0.5) { 1.0 } else { -1.0 }
    }

    /// A number from Student's distribution of `freedom` (whole) degrees: heavy tails.
    pub fn heavy(&mut self, freedom: u32) -> f64 {
        let top = self.normal();
        let sum: f64 = (0..freedom).map(|_| self.normal().powi(2)).sum();
        top / (sum / f64::from(freedom)).sqrt()
    }
}
