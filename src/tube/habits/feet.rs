//! Dials of which nobody says what they touch the bark with, where it matters.
//!
//! Off the axis a point reads `s^2 / 2R` lower than a flat, `s` the way of the section's centre to the side of the spindle
//! (see `foot`). `s` is at most the eccentricity of a ring, which is the first wave of its readings.

use super::note::note;
use crate::domain::{Angle, Finding, Kind, Lot, Place, Reading};
use crate::geometry::fit_harmonics;
use std::collections::BTreeMap;

/// Readings that make a ring.
const LEAST_RING: usize = 4;

/// Asks for the foot of every dial where a point and a flat would differ by more than one reading's noise.
#[must_use]
pub fn feet_asked(lot: &Lot) -> Vec<Finding> {
    let mut worst: BTreeMap<(Kind, &str), (f64, &Place)> = BTreeMap::new();
    for tube in &lot.tubes {
        let mut rings: BTreeMap<(Kind, &str, &str, i64), Vec<&Reading>> = BTreeMap::new();
        for r in tube.readings.iter().filter(|r| matches!(r.kind, Kind::Runout | Kind::Radius)) {
            let at = super::super::instrument::tenths(r.z_mm);
            rings.entry((r.kind, r.rig.as_str(), r.set.as_str(), at)).or_default().push(r);
        }
        for ((kind, rig, ..), ring) in rings.into_iter().filter(|(_, ring)| ring.len() >= LEAST_RING) {
            if lot.rigs.get(rig).is_some_and(|r| r.foot.is_some()) {
                continue;
            }
            let low = eccentricity(&ring).powi(2) / lot.target.arc_diameter_mm;
            let place = worst.entry((kind, rig)).or_insert((0.0, &ring[0].place));
            if low > place.0 {
                *place = (low, &ring[0].place);
            }
        }
    }
    let asked = |((kind, rig), (low, place)): ((Kind, &str), (f64, &Place))| {
        let named = if rig.is_empty() { format!("{} readings", kind.word()) } else { format!("rig {rig}") };
        let found = format!("{named} without a foot; a point would read up to {low:.2} mm lower than a flat here");
        let fix = if rig.is_empty() {
            "name a rig in the readings and write its foot in lot.toml: flat, ball (with foot_radius), point or edge; until then it is taken as flat"
        } else {
            "write foot = \"flat\", \"ball\" (with foot_radius), \"point\" or \"edge\" under it in lot.toml; until then it is taken as flat"
        };
        note(place.clone(), found, "what the dial touches the bark with", fix)
    };
    let noise = |kind: Kind, rig: &str| lot.rigs.get(rig).and_then(|r| r.sd_mm).unwrap_or(kind.default_sd_mm());
    worst.into_iter().filter(|((kind, rig), (low, _))| *low > noise(*kind, rig)).map(asked).collect()
}

/// Amplitude of the first wave, mm; 0 where these angles do not tell it.
fn eccentricity(ring: &[&Reading]) -> f64 {
    let angles: Vec<Angle> = ring.iter().map(|r| r.angle).collect();
    let values: Vec<f64> = ring.iter().map(|r| r.value_mm).collect();
    let first = fit_harmonics(&angles, &values, &vec![1.0; ring.len()], Some(1)).ok().and_then(|h| h.first());
    first.map_or(0.0, |[x, y]| x.hypot(y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Foot, Rig, Tube};

    #[test]
    fn the_foot_is_asked_for_only_where_it_matters() {
        let lot = |aside: f64, foot: Option<Foot>| {
            let mut tube = Tube { name: "A".into(), length_mm: 200.0, ..Tube::default() };
            for i in 0..12 {
                let a = Angle::from_degrees(30.0 * f64::from(i));
                let value = 12.7 + aside * a.sin_cos().1;
                tube.readings.push(Reading { rig: "dial".into(), ..Reading::new(Kind::Radius, 50.0, a, value) });
            }
            let rigs = [("dial".to_string(), Rig { foot, sd_mm: Some(0.02), ..Rig::default() })].into_iter().collect();
            Lot { tubes: vec![tube], rigs, ..Lot::default() }
        };
        // 1.5^2 / 25.4 = 0.0886 mm
        let asked = feet_asked(&lot(1.5, None));
        assert_eq!(asked.len(), 1);
        assert!(
            asked[0].found.contains("rig dial without a foot; a point would read up to 0.09 mm lower"),
            "{asked:?}"
        );
        assert!(feet_asked(&lot(1.5, Some(Foot::Flat))).is_empty());
        assert!(feet_asked(&lot(0.3, None)).is_empty(), "0.0035 mm is less than its noise");
    }
}
