//! The fixed fan of bark lines and stations on which every stretch is judged.

use crate::domain::{Angle, Saw, Target};
use crate::numeric::summary::{count, to_index};
use std::f64::consts::TAU;

/// Bark lines round the tube: one every 2 degrees.
pub const LINES: usize = 180;
/// Distance aimed at between stations, mm.
const STATION_STEP_MM: f64 = 2.0;
/// Steps tried for one blank length; always odd, so that the middle of a window falls between two stations and the
/// edge of the hull that spans it is unique.
const WINDOW_STEPS: std::ops::RangeInclusive<usize> = 25..=45;

/// Where windows may start and which bark lines are looked at.
///
/// Stations lie `step_mm` apart from the trim at the index end; a window covers `window` steps, exactly one blank
/// length. The number of steps per blank is chosen (odd, step near 2 mm) so that the last window ends as close as
/// possible to the trim at the far end: at most a few tenths of a millimetre stay unused.
#[derive(Debug, Clone, PartialEq)]
pub struct Fan {
    first_mm: f64,
    step_mm: f64,
    stations: usize,
    window: usize,
    z_mm: Vec<f64>,
}

impl Fan {
    /// The fan for a tube of this length, or `None` when not even one blank fits between the trims.
    #[must_use]
    pub fn new(length_mm: f64, target: &Target, saw: &Saw) -> Option<Fan> {
        let blank = target.blank_length_mm;
        let spare = length_mm - 2.0 * saw.trim_mm - blank;
        if !(blank > 0.0 && spare >= 0.0 && length_mm.is_finite()) {
            return None;
        }
        let wanted = blank / STATION_STEP_MM;
        let (low, high) = (*WINDOW_STEPS.start(), *WINDOW_STEPS.end());
        // for blanks far from 70 mm keep the step near 2 mm by scaling the range of counts tried
        let scale = (wanted / 35.0).max(0.2);
        let pick = |i: usize| to_index((count(i) * scale / 2.0).floor()) * 2 + 1;
        let best = (low..=high).map(pick).filter(|&w| w >= 5).min_by(|&a, &b| {
            let waste = |w: usize| (spare * count(w) / blank).fract() * blank / count(w);
            let cost = |w: usize| waste(w) + 0.02 * (count(w) - wanted).abs() * STATION_STEP_MM / wanted;
            cost(a).total_cmp(&cost(b)).then(a.cmp(&b))
        })?;
        let step_mm = blank / count(best);
        let starts = to_index((spare / step_mm + 1e-9).floor()) + 1;
        let stations = starts + best;
        let z_mm = (0..stations).map(|j| saw.trim_mm + count(j) * step_mm).collect();
        Some(Fan { first_mm: saw.trim_mm, step_mm, stations, window: best, z_mm })
    }

    /// Places of the stations, mm from the index end.
    #[must_use]
    pub fn z_mm(&self) -> &[f64] {
        &self.z_mm
    }

    /// Steps in one window; a window covers `window() + 1` stations.
    #[must_use]
    pub fn window(&self) -> usize {
        self.window
    }

    /// Distance between stations, mm.
    #[must_use]
    pub fn step_mm(&self) -> f64 {
        self.step_mm
    }

    /// Number of window starts.
    #[must_use]
    pub fn starts(&self) -> usize {
        self.stations - self.window
    }

    /// Place of start `s`, mm from the index end.
    #[must_use]
    pub fn start_mm(&self, s: usize) -> f64 {
        self.first_mm + count(s) * self.step_mm
    }

    /// Length of a window, mm.
    #[must_use]
    pub fn blank_mm(&self) -> f64 {
        count(self.window) * self.step_mm
    }

    /// Direction of bark line `i`.
    #[must_use]
    pub fn line_angle(i: usize) -> Angle {
        Angle::from_radians(TAU * count(i % LINES) / count(LINES))
    }
}

/// Single precision is ample here: heights are held as departures of a few millimetres, so the rounding is below a nanometre.
#[allow(clippy::cast_possible_truncation, reason = "the loss of digits is the purpose, and is stated above")]
#[inline]
pub(crate) fn single(x: f64) -> f32 {
    x as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_is_exactly_one_blank_and_little_is_wasted() {
        for length in [86.0, 120.3, 160.0, 199.7, 243.1, 301.0, 412.9] {
            let (target, saw) = (Target::default(), Saw::default());
            let fan = Fan::new(length, &target, &saw).expect("long enough");
            assert!((fan.blank_mm() - 70.0).abs() < 1e-9);
            let end = fan.start_mm(fan.starts() - 1) + 70.0;
            let waste = length - saw.trim_mm - end;
            assert!((-1e-6..0.35).contains(&waste), "length {length}: {waste} mm unused");
            assert!(
                fan.window() % 2 == 1 && (1.5..2.9).contains(&fan.step_mm()),
                "{} x {}",
                fan.window(),
                fan.step_mm()
            );
        }
    }

    #[test]
    fn a_tube_shorter_than_a_blank_has_no_fan() {
        assert!(Fan::new(85.9, &Target::default(), &Saw::default()).is_none());
        assert!(Fan::new(f64::NAN, &Target::default(), &Saw::default()).is_none());
    }
}
