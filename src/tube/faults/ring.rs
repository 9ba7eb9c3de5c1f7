//! Which readings belong together: rings at one station, and sets.

use super::mechanism::mechanism;
use crate::domain::{Kind, Reading};
use crate::numeric::summary::{count, mean};
use crate::tube::contact::SAME_STATION_MM;
use std::collections::BTreeMap;

/// Angles this close count as equal, degrees.
const SAME_ANGLE_DEG: f64 = 0.2;
/// Fewer readings than this make no ring.
const LEAST_RING: usize = 3;

/// The readings of one kind, rig and set round one station.
#[derive(Debug, Clone)]
pub(super) struct Ring {
    pub(super) kind: Kind,
    pub(super) z_mm: f64,
    /// Places of the readings, by angle.
    pub(super) members: Vec<usize>,
    angles_deg: Vec<f64>,
    /// Step between neighbours, degrees, where they stand evenly all the way round (halfway for a diameter).
    pub(super) step_deg: Option<f64>,
}

impl Ring {
    /// True when both rings have readings at the same angles.
    pub(super) fn matches(&self, other: &Ring) -> bool {
        self.kind == other.kind
            && self.members.len() == other.members.len()
            && self.angles_deg.iter().zip(&other.angles_deg).all(|(a, b)| (a - b).abs() < SAME_ANGLE_DEG)
    }
}

/// The readings of one dial setting or straightedge placement, in the order they were written.
#[derive(Debug, Clone)]
pub(super) struct Set {
    pub(super) kind: Kind,
    pub(super) name: String,
    pub(super) members: Vec<usize>,
}

/// Every ring of at least three readings, by kind and place. Gaps are grouped over their sets: a straightedge lies along
/// the tube, so every reading of its ring has a set of its own.
pub(super) fn rings(readings: &[Reading]) -> Vec<Ring> {
    let mut groups: BTreeMap<(Kind, &str, &str), Vec<usize>> = BTreeMap::new();
    for (i, r) in readings.iter().enumerate().filter(|(_, r)| mechanism(r.kind).placed) {
        let set = if r.kind.is_gap() { "" } else { r.set.as_str() };
        groups.entry((r.kind, r.rig.as_str(), set)).or_default().push(i);
    }
    let mut out = Vec::new();
    for ((kind, _, _), mut members) in groups {
        members.sort_by(|&a, &b| readings[a].z_mm.total_cmp(&readings[b].z_mm));
        for part in members.chunk_by(|&a, &b| readings[b].z_mm - readings[a].z_mm <= SAME_STATION_MM) {
            apart(kind, part, readings, &mut out);
        }
    }
    out
}

/// The rings among readings that lie close together along the tube. Where an angle comes twice they are more than one
/// ring: two stations nearer to each other than [`SAME_STATION_MM`] (a place written wrongly may land beside another),
/// or one station gone round more than once.
fn apart(kind: Kind, part: &[usize], readings: &[Reading], out: &mut Vec<Ring>) {
    if part.len() < LEAST_RING {
        return;
    }
    if let Some(ring) = ring(kind, part, readings) {
        out.push(ring);
        return;
    }
    let z = |n: usize| readings[part[n]].z_mm;
    let widest = (1..part.len()).max_by(|&a, &b| (z(a) - z(a - 1)).total_cmp(&(z(b) - z(b - 1))));
    match widest {
        Some(n) if z(n) > z(n - 1) => {
            apart(kind, &part[..n], readings, out);
            apart(kind, &part[n..], readings, out);
        }
        _ => rounds(kind, part, readings, out),
    }
}

/// Readings at one place, taken apart into rounds in the order they were written.
fn rounds(kind: Kind, part: &[usize], readings: &[Reading], out: &mut Vec<Ring>) {
    let mut list: Vec<Vec<usize>> = Vec::new();
    let mut written = part.to_vec();
    written.sort_unstable();
    for i in written {
        let angle = readings[i].angle;
        let free = |round: &Vec<usize>| {
            round.iter().all(|&j| readings[j].angle.gap_to(angle).degrees().abs() > SAME_ANGLE_DEG)
        };
        match list.iter_mut().find(|round| free(round)) {
            Some(round) => round.push(i),
            None => list.push(vec![i]),
        }
    }
    out.extend(list.iter().filter_map(|round| ring(kind, round, readings)));
}

fn ring(kind: Kind, part: &[usize], readings: &[Reading]) -> Option<Ring> {
    let period = if kind == Kind::Diameter { 180.0 } else { 360.0 };
    let at_period = |period: f64| {
        let mut list: Vec<(f64, usize)> = part
            .iter()
            .map(|&i| {
                let deg = readings[i].angle.wrapped().degrees().rem_euclid(period);
                (if period - deg < SAME_ANGLE_DEG { 0.0 } else { deg }, i)
            })
            .collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let apart = list.windows(2).all(|w| w[1].0 - w[0].0 > SAME_ANGLE_DEG);
        apart.then_some((list, period))
    };
    if part.len() < LEAST_RING {
        return None;
    }
    let (list, period) = at_period(period).or_else(|| at_period(360.0))?;
    let step = period / count(list.len());
    let even = list.windows(2).all(|w| (w[1].0 - w[0].0 - step).abs() < SAME_ANGLE_DEG);
    Some(Ring {
        kind,
        z_mm: mean(&part.iter().map(|&i| readings[i].z_mm).collect::<Vec<f64>>()),
        members: list.iter().map(|l| l.1).collect(),
        angles_deg: list.iter().map(|l| l.0).collect(),
        step_deg: even.then_some(step),
    })
}

/// Kinds whose readings of one set share a zero or a sign.
fn has_settings(kind: Kind) -> bool {
    let m = mechanism(kind);
    m.zero || m.sign
}

/// Every set of at least three readings, in the order of kinds.
pub(super) fn sets(readings: &[Reading]) -> Vec<Set> {
    let mut groups: BTreeMap<(Kind, &str, String), Vec<usize>> = BTreeMap::new();
    for (i, r) in readings.iter().enumerate().filter(|(_, r)| has_settings(r.kind)) {
        let name = match (r.kind, r.set.is_empty()) {
            (Kind::Gap | Kind::Lifted, true) => format!("at {:.0} deg", r.angle.wrapped().degrees()),
            _ => r.set.clone(),
        };
        groups.entry((r.kind, r.rig.as_str(), name)).or_default().push(i);
    }
    groups
        .into_iter()
        .filter(|(_, members)| members.len() >= LEAST_RING)
        .map(|((kind, _, name), members)| Set { kind, name, members })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Angle;

    fn dial(z_mm: f64, angles: u32) -> impl Iterator<Item = Reading> {
        (0..angles).map(move |i| {
            let angle = Angle::from_degrees(360.0 * f64::from(i) / f64::from(angles));
            Reading::new(Kind::Runout, z_mm, angle, f64::from(i))
        })
    }

    #[test]
    fn stations_nearer_than_the_tolerance_are_told_apart_by_their_angles() {
        // as when 127 mm is written as inches: 5.0 mm, beside the station at 5.2 mm
        let readings: Vec<Reading> = dial(5.2, 8).chain(dial(22.0, 8)).chain(dial(5.0, 8)).collect();
        let list = rings(&readings);
        let places: Vec<f64> = list.iter().map(|r| r.z_mm).collect();
        assert_eq!(list.len(), 3, "{list:?}");
        assert!((places[0] - 5.0).abs() < 1e-12 && (places[1] - 5.2).abs() < 1e-12, "{places:?}");
        assert_eq!(list[0].members, (16..24).collect::<Vec<usize>>());
    }

    #[test]
    fn readings_of_one_station_a_little_apart_stay_one_ring() {
        let mut readings: Vec<Reading> = dial(50.0, 8).collect();
        for (i, r) in readings.iter_mut().enumerate() {
            r.z_mm += 0.05 * count(i);
        }
        let list = rings(&readings);
        assert_eq!(list.len(), 1);
        assert!((list[0].step_deg.expect("even") - 45.0).abs() < 1e-9);
    }

    #[test]
    fn a_station_gone_round_twice_is_two_rings() {
        let readings: Vec<Reading> = dial(50.0, 6).chain(dial(50.0, 6)).collect();
        let members: Vec<Vec<usize>> = rings(&readings).into_iter().map(|r| r.members).collect();
        assert_eq!(members, vec![(0..6).collect::<Vec<usize>>(), (6..12).collect()]);
    }
}
