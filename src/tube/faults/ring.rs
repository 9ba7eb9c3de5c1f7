//! Which readings belong together: rings at one station, and sets.

use crate::domain::{Kind, Reading};
use crate::numeric::summary::{count, mean};
use std::collections::BTreeMap;

/// Readings closer than this along the tube belong to one station, mm.
const SAME_STATION_MM: f64 = 0.5;
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

/// True for kinds read on a dial, whose sign depends on how the dial is held.
pub(super) fn has_sign(kind: Kind) -> bool {
    matches!(kind.word(), "runout" | "vee" | "gap")
}

/// True for kinds whose values are lengths of the outside.
pub(super) fn is_length(kind: Kind) -> bool {
    !matches!(kind.word(), "grain" | "wall")
}

/// Every ring of at least three readings, by kind and place. Gaps are grouped over their sets: a straightedge lies along
/// the tube, so every reading of its ring has a set of its own.
pub(super) fn rings(readings: &[Reading]) -> Vec<Ring> {
    let mut groups: BTreeMap<(Kind, &str, &str), Vec<usize>> = BTreeMap::new();
    for (i, r) in readings.iter().enumerate().filter(|(_, r)| r.kind.word() != "grain") {
        let set = if r.kind == Kind::Gap { "" } else { r.set.as_str() };
        groups.entry((r.kind, r.rig.as_str(), set)).or_default().push(i);
    }
    let mut out = Vec::new();
    for ((kind, _, _), mut members) in groups {
        members.sort_by(|&a, &b| readings[a].z_mm.total_cmp(&readings[b].z_mm));
        for part in members.chunk_by(|&a, &b| readings[b].z_mm - readings[a].z_mm <= SAME_STATION_MM) {
            out.extend(ring(kind, part, readings));
        }
    }
    out
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

/// Every set of at least three readings, in the order of kinds.
pub(super) fn sets(readings: &[Reading]) -> Vec<Set> {
    let mut groups: BTreeMap<(Kind, &str, String), Vec<usize>> = BTreeMap::new();
    for (i, r) in readings.iter().enumerate().filter(|(_, r)| is_length(r.kind)) {
        let name = match (r.kind, r.set.is_empty()) {
            (Kind::Gap, true) => format!("at {:.0} deg", r.angle.wrapped().degrees()),
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
