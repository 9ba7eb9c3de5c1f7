//! Light along rays from a middle, in millimetres.

use super::grey::Grey;
use super::scale::PixelScale;

/// Samples a pixel along a ray.
const PER_PIXEL: f64 = 2.0;

/// Rays from a middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rays<'a> {
    pub(super) grey: &'a Grey,
    pub(super) scale: PixelScale,
    /// The middle, mm from the left top corner of the picture.
    pub(super) middle: [f64; 2],
}

impl Rays<'_> {
    /// Distance of two samples along a ray, mm.
    pub(super) fn step_mm(&self) -> f64 {
        1.0 / (PER_PIXEL * self.scale.mean())
    }

    /// Light at a distance in a direction.
    pub(super) fn light(&self, a: f64, r: f64) -> f64 {
        let (s, c) = a.sin_cos();
        self.grey.light((self.middle[0] + r * c) * self.scale.x, (self.middle[1] + r * s) * self.scale.y)
    }

    /// Light from `from` outwards to `to`, mm, each sample the mean of three across the ray over `wide` mm.
    pub(super) fn line(&self, a: f64, from: f64, to: f64, wide: f64) -> Vec<f64> {
        let step = self.step_mm();
        let turn = wide / 3.0 / f64::midpoint(from, to).max(1.0);
        let mut out = Vec::new();
        let mut r = from;
        while r <= to {
            out.push((self.light(a - turn, r) + self.light(a, r) + self.light(a + turn, r)) / 3.0);
            r += step;
        }
        out
    }

    /// True when a circle of radius `r` mm about the middle lies within the picture.
    pub(super) fn has_room(&self, r: f64) -> bool {
        let (w, h) = (self.grey.width() as f64 / self.scale.x, self.grey.height() as f64 / self.scale.y);
        let [x, y] = self.middle;
        x - r >= 0.0 && y - r >= 0.0 && x + r <= w && y + r <= h
    }
}
