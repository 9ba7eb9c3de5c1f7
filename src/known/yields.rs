//! A true tube with everything it would yield.

use super::chance::Chance;
use super::evaluator::{Judged, Rules};
use super::shape::TrueTube;
use super::{mean, whole};

/// Sd of where a split line falls, degrees: the lot's default.
pub const WANDER_DEG: f64 = 3.0;

/// So many real splits show what marked runs give on average.
const WANDERS: u32 = 20;

/// A true tube with everything it would yield.
#[derive(Debug)]
pub struct Known {
    /// The tube.
    pub tube: TrueTube,
    /// It judged.
    pub judged: Judged,
    /// Expected blanks at every whole split angle, the wander averaged.
    pub by_angle: Vec<f64>,
    /// Where its split lines really fall, degrees off their aims.
    pub off: Vec<f64>,
}

impl Known {
    /// Tube `k` of a lot of this seed, judged. `None` where not even one blank fits between the trims.
    #[must_use]
    pub fn of(tube: TrueTube, rules: &Rules, seed: u64, k: u64) -> Option<Known> {
        let judged = Judged::of(&tube, rules)?;
        let by_angle = judged.by_angle(WANDER_DEG);
        let mut c = Chance::of(seed, "where the split falls", k);
        let off = (0..rules.pieces).map(|_| WANDER_DEG * c.normal()).collect();
        Some(Known { tube, judged, by_angle, off })
    }

    /// Most that any angle gives.
    #[must_use]
    pub fn best(&self) -> f64 {
        self.by_angle.iter().copied().fold(0.0, f64::max)
    }

    /// What an angle gives, the wander averaged.
    #[must_use]
    pub fn at(&self, deg: f64) -> f64 {
        self.by_angle[whole(deg.round()) % self.by_angle.len()]
    }

    /// What an arbitrary angle gives.
    #[must_use]
    pub fn arbitrary(&self) -> f64 {
        mean(&self.by_angle)
    }

    /// How many marked runs are good when the one real split is aimed at this angle.
    #[must_use]
    pub fn cut_marked(&self, deg: f64, places: &[Vec<f64>]) -> f64 {
        self.judged.good_at(deg, &self.off, places) as f64
    }

    /// The same on average over the wander.
    #[must_use]
    pub fn marked(&self, deg: f64, places: &[Vec<f64>], seed: u64) -> f64 {
        let mut c = Chance::of(seed, &format!("wander of the marks of {}", self.tube.name), 0);
        let mut one = || {
            let off: Vec<f64> = self.off.iter().map(|_| WANDER_DEG * c.normal()).collect();
            self.judged.good_at(deg, &off, places) as f64
        };
        mean(&(0..WANDERS).map(|_| one()).collect::<Vec<f64>>())
    }

    /// Blanks of the one real split aimed at this angle.
    #[must_use]
    pub fn cut(&self, deg: f64) -> f64 {
        self.judged.runs_at(deg, &self.off).iter().sum::<usize>() as f64
    }
}
