//! What bars on two feet show by themselves: along every line the largest sag, and the arc it belongs to.

use super::geometry::Measured;
use super::instrument::span_mm;
use super::rows::reading_sd_mm;
use crate::domain::{Kind, Reading, Rig, Tube};
use std::collections::BTreeMap;

/// The bars laid along one bark line.
#[derive(Debug, Clone, PartialEq)]
pub struct BarLine {
    /// Where the line runs, degrees in [0, 360).
    pub angle_deg: f64,
    /// Distance between the feet, mm.
    pub span_mm: f64,
    /// Readings on it.
    pub readings: usize,
    /// The sag that is farthest from 0, mm: positive where the bark stands above the line through the feet.
    pub sag_mm: Measured,
    /// Where that was read, mm.
    pub at_mm: f64,
}

impl BarLine {
    /// Radius of the circle through both feet and the middle, mm: `s^2 / 8w + w / 2`, negative where the line is hollow;
    /// `None` where nothing shows.
    #[must_use]
    pub fn radius_mm(&self) -> Option<f64> {
        let w = self.sag_mm.value;
        (w.abs() > self.sag_mm.sd).then(|| self.span_mm * self.span_mm / (8.0 * w) + w / 2.0)
    }
}

/// Every line a bar was laid along, by span and angle.
pub(super) fn bar_lines(tube: &Tube, rigs: &BTreeMap<String, Rig>) -> Vec<BarLine> {
    let mut lines: BTreeMap<(i64, i64), Vec<(&Reading, f64)>> = BTreeMap::new();
    for r in tube.readings.iter().filter(|r| r.kind == Kind::Bridge) {
        let Some(span) = span_mm(r, rigs.get(&r.rig)) else { continue };
        let key = [span, r.angle.wrapped().degrees()].map(super::instrument::tenths);
        lines.entry((key[0], key[1])).or_default().push((r, span));
    }
    let one = |list: Vec<(&Reading, f64)>| {
        let most = list.iter().max_by(|a, b| a.0.value_mm.abs().total_cmp(&b.0.value_mm.abs()))?;
        Some(BarLine {
            angle_deg: most.0.angle.wrapped().degrees(),
            span_mm: most.1,
            readings: list.len(),
            sag_mm: Measured { value: most.0.value_mm, sd: reading_sd_mm(most.0, rigs) },
            at_mm: most.0.z_mm,
        })
    };
    lines.into_values().filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Angle;

    #[test]
    fn the_largest_sag_of_a_line_gives_the_radius_of_its_arc() {
        let bar = |z: f64, deg: f64, value: f64| Reading {
            span_mm: Some(60.0),
            ..Reading::new(Kind::Bridge, z, Angle::from_degrees(deg), value)
        };
        let readings = vec![bar(50.0, 0.0, 0.05), bar(90.0, 0.0, -0.15), bar(50.0, 90.0, 0.01)];
        let lines = bar_lines(&Tube { readings, ..Tube::default() }, &BTreeMap::new());
        assert_eq!(lines.len(), 2);
        assert!((lines[0].sag_mm.value + 0.15).abs() < 1e-12 && lines[0].readings == 2);
        assert!((lines[0].at_mm - 90.0).abs() < 1e-12);
        // 60^2 / (8 * 0.15) = 3000 mm, hollow
        assert!((lines[0].radius_mm().expect("it shows") + 3000.075).abs() < 1e-9);
        // 0.01 mm is less than its sd of 0.02
        assert!(lines[1].radius_mm().is_none());
    }
}
