//! Where a reading touches the bark.

use super::instrument::{span_mm, vee_deg};
use crate::domain::{Angle, Kind, Reading, Rig};

/// Readings closer than this along the tube belong to one station, mm.
pub(super) const SAME_STATION_MM: f64 = 0.5;

/// A place on the bark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// mm from the index end.
    pub z_mm: f64,
    /// Direction round the tube.
    pub angle: Angle,
}

/// Where `reading` touches the bark, the place it is written under first.
///
/// * diameter: both jaws; vee: the summit and the two faces of the block;
/// * radius, runout, gap, arc (the middle of the width it touches), outline: one place;
/// * bridge: under the dial and under both feet;
/// * wall and grain: none, for they say nothing of the bark's shape.
///
/// The places are those of a round section: on a lobed one a jaw or a face touches a few degrees off. A V-block whose
/// angle neither the reading nor `rig` states is known to touch at its summit only, a bar without a span under its dial only.
#[must_use]
pub fn contacts(reading: &Reading, rig: Option<&Rig>) -> Vec<Contact> {
    let at = |turn_deg: f64| Contact { z_mm: reading.z_mm, angle: reading.angle + Angle::from_degrees(turn_deg) };
    match reading.kind {
        Kind::Diameter => vec![at(0.0), at(180.0)],
        Kind::Vee => match vee_deg(reading, rig) {
            Some(v) => vec![at(0.0), at(90.0 + v / 2.0), at(-(90.0 + v / 2.0))],
            None => vec![at(0.0)],
        },
        Kind::Bridge => {
            let feet = span_mm(reading, rig).map_or(Vec::new(), |s| vec![-s / 2.0, s / 2.0]);
            let along = |by: &f64| Contact { z_mm: reading.z_mm + by, angle: reading.angle };
            [0.0].iter().chain(&feet).map(along).collect()
        }
        Kind::Radius | Kind::Runout | Kind::Gap | Kind::Lifted | Kind::Arc | Kind::Outline => vec![at(0.0)],
        Kind::Wall | Kind::Grain => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(kind: Kind, vee_deg: Option<f64>, rig: Option<&Rig>) -> Vec<f64> {
        let reading = Reading { vee_deg, ..Reading::new(kind, 40.0, Angle::from_degrees(10.0), 0.0) };
        let list = contacts(&reading, rig);
        assert!(list.iter().all(|c| (c.z_mm - 40.0).abs() < 1e-12));
        list.iter().map(|c| c.angle.wrapped().degrees().round()).collect()
    }

    #[test]
    fn a_block_touches_at_three_places_whoever_states_its_angle() {
        // the faces of a 90 deg block touch where the outward normals lie 135 deg from the summit
        let rig = Rig { vee_deg: Some(90.0), ..Rig::default() };
        assert_eq!(degrees(Kind::Vee, Some(90.0), None), [10.0, 145.0, 235.0]);
        assert_eq!(degrees(Kind::Vee, None, Some(&rig)), [10.0, 145.0, 235.0]);
        assert_eq!(degrees(Kind::Vee, None, None), [10.0]);
    }

    #[test]
    fn a_caliper_touches_twice_a_foot_once_and_a_followed_fibre_not_at_all() {
        assert_eq!(degrees(Kind::Diameter, None, None), [10.0, 190.0]);
        assert_eq!(degrees(Kind::Runout, None, None), [10.0]);
        assert!(degrees(Kind::Grain, None, None).is_empty() && degrees(Kind::Wall, None, None).is_empty());
    }
}
