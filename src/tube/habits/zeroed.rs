//! A dial set to zero at every station.
//!
//! Many a maker turns the tube to its index line at each station and sets the dial to 0 there. Read as one setting, the
//! stations then have all the same height on that line, and what is wrong with it goes into size, bow and taper.
//!
//! Recognised by an exact 0 at one and the same angle of every ring of a tube that names no `set`: in three rings, or in two
//! where every tube read so has it. A dial that shows hundredths over some 0.3 mm of departure has an exact 0 at a given
//! place once in thirty times: three by chance once in some 30 000 tubes.

use super::super::instrument::tenths;
use super::note::note;
use crate::domain::{Finding, Kind, Lot, Reading, Tube, counted};
use std::collections::{BTreeMap, BTreeSet};

/// Readings that make a ring.
const LEAST_RING: usize = 3;
/// Rings that tell by themselves.
const LEAST_RINGS: usize = 3;

/// One instrument of unknown zero.
type Dial = (Kind, String);

/// Tubes where a dial was zeroed at every station, and how often it was not.
#[derive(Default)]
struct Told {
    /// (tube, angle in tenths of a degree, rings)
    zeroed: Vec<(usize, i64, usize)>,
    otherwise: usize,
}

/// Makes every station of such a dial a set of its own.
pub(super) fn recognise(lot: &mut Lot) -> Vec<Finding> {
    let mut dials: BTreeMap<Dial, Told> = BTreeMap::new();
    for (i, tube) in lot.tubes.iter().enumerate() {
        for (dial, rings) in rings(tube) {
            let told = dials.entry(dial).or_default();
            match zero_of(&rings) {
                Some(at) => told.zeroed.push((i, at, rings.len())),
                None if rings.len() > 1 => told.otherwise += 1,
                None => {}
            }
        }
    }
    let mut notes = Vec::new();
    for ((kind, rig), told) in dials {
        let all = told.otherwise == 0 && told.zeroed.len() > 1;
        let sure: Vec<_> = told.zeroed.into_iter().filter(|z| all || z.2 >= LEAST_RINGS).collect();
        let Some(&(first, at, _)) = sure.first() else { continue };
        let belongs = |r: &Reading| r.kind == kind && r.rig == rig && r.set.is_empty();
        let place = lot.tubes[first].readings.iter().find(|r| belongs(r)).map(|r| r.place.clone()).unwrap_or_default();
        for &(i, ..) in &sure {
            for r in lot.tubes[i].readings.iter_mut().filter(|r| belongs(r)) {
                r.set = format!("station at {:.1} mm", r.z_mm);
            }
        }
        let found = format!(
            "{} that is exactly 0 at {} deg of every station ({}), and no set",
            kind.word(),
            of_tenths(at),
            counted(sure.len() as u64, "tube")
        );
        let fix = "taken as a dial set to 0 at every station; if it was set once, write one name under set in all rows";
        notes.push(note(place, found, "one setting of the dial, or a set for each", fix));
    }
    notes
}

/// An angle in whole tenths of a degree, as it is told.
fn of_tenths(tenths: i64) -> String {
    match tenths % 10 {
        0 => (tenths / 10).to_string(),
        rest => format!("{}.{}", tenths / 10, rest.abs()),
    }
}

/// The rings of every dial without a set: readings by station.
fn rings(tube: &Tube) -> BTreeMap<Dial, Vec<Vec<&Reading>>> {
    let mut stations: BTreeMap<Dial, BTreeMap<i64, Vec<&Reading>>> = BTreeMap::new();
    for r in tube.readings.iter().filter(|r| matches!(r.kind, Kind::Runout | Kind::Vee) && r.set.is_empty()) {
        stations.entry((r.kind, r.rig.clone())).or_default().entry(tenths(r.z_mm)).or_default().push(r);
    }
    let mut out = BTreeMap::new();
    for (dial, places) in stations {
        let whole: Vec<_> = places.into_values().filter(|ring| ring.len() >= LEAST_RING).collect();
        if !whole.is_empty() {
            out.insert(dial, whole);
        }
    }
    out
}

/// The angle (tenths of a degree) at which all rings, two or more, are exactly 0.
fn zero_of(rings: &[Vec<&Reading>]) -> Option<i64> {
    if rings.len() < 2 {
        return None;
    }
    let zeros = |ring: &Vec<&Reading>| -> BTreeSet<i64> {
        let zero = ring.iter().filter(|r| r.value_mm.abs() < 1e-9);
        zero.map(|r| tenths(r.angle.wrapped().degrees()) % 3600).collect()
    };
    let mut common = zeros(&rings[0]);
    for ring in &rings[1..] {
        common = common.intersection(&zeros(ring)).copied().collect();
    }
    // a ring that is 0 nearly everywhere was not read
    let read = rings.iter().all(|ring| ring.iter().filter(|r| r.value_mm.abs() > 1e-9).count() * 2 >= ring.len());
    common.first().copied().filter(|_| read)
}

#[cfg(test)]
mod tests {
    use super::super::super::{Belief, Fields, Model};
    use super::*;
    use crate::domain::{Angle, Severity};

    /// 12.7 mm of mean radius, an oval of 0.3 mm, a bow of 3 mm toward 0 deg: the line at 0 deg is far from level.
    fn height(deg: f64, z: f64) -> f64 {
        let a = deg.to_radians();
        let bow = 3.0 * (1.0 - (z / 100.0 - 1.0).powi(2));
        12.7 + 0.15 * (2.0 * (a - 0.5)).cos() + bow * a.cos()
    }

    fn tube(name: &str, stations: usize, zeroed: bool) -> Tube {
        let mut readings: Vec<Reading> = Vec::new();
        for j in 0..stations {
            let z = 10.0 + 180.0 * j as f64 / (stations - 1) as f64;
            let zero = if zeroed { height(0.0, z) } else { height(0.0, 10.0) };
            for i in 0..12 {
                let deg = 30.0 * f64::from(i);
                let value = ((height(deg, z) - zero) * 100.0).round() / 100.0;
                readings.push(Reading::new(Kind::Runout, z, Angle::from_degrees(deg), value));
            }
            let width = Reading::new(Kind::Diameter, z, Angle::ZERO, 25.4 + 0.3 * (-1.0_f64).cos());
            readings.push(width);
        }
        Tube { name: name.into(), length_mm: 200.0, readings, ..Tube::default() }
    }

    #[test]
    fn stations_zeroed_one_by_one_become_sets_and_the_size_comes_back() {
        let mut lot = Lot { tubes: vec![tube("A", 6, true)], ..Lot::default() };
        let radius = |lot: &Lot| {
            let belief = Belief::fit(&lot.tubes[0], &Model::default()).expect("fits");
            (belief.mean_sections(&[100.0]).row(0)[Fields::R0], belief.doubted().len())
        };
        let before = radius(&lot);
        let notes = recognise(&mut lot);
        assert_eq!(notes.len(), 1);
        assert!(notes[0].severity == Severity::Note && notes[0].found.contains("exactly 0 at 0 deg"), "{}", notes[0]);
        assert!(lot.tubes[0].readings.iter().all(|r| (r.kind == Kind::Runout) == r.set.starts_with("station at")));
        let after = radius(&lot);
        println!("mean radius {:.3} before, {:.3} after; {} and {} doubted", before.0, after.0, before.1, after.1);
        // the caliper sees the size at 0 deg only; the rings tell the oval, so the mean is known to some hundredths
        assert!((after.0 - 12.7).abs() < 0.03 && after.1 == 0, "{after:?}");
        assert!((before.0 - 12.7).abs() > 0.1 || before.1 > 0, "{before:?}");
    }

    #[test]
    fn one_setting_stays_one_setting() {
        let mut lot =
            Lot { tubes: vec![tube("A", 6, false), tube("B", 2, true), tube("C", 2, false)], ..Lot::default() };
        assert!(recognise(&mut lot).is_empty());
        assert!(lot.tubes.iter().flat_map(|t| &t.readings).all(|r| r.set.is_empty()));
    }

    #[test]
    fn two_stations_tell_where_every_tube_was_read_so() {
        let mut lot = Lot { tubes: vec![tube("A", 2, true), tube("B", 2, true)], ..Lot::default() };
        assert_eq!(recognise(&mut lot).len(), 1);
        assert!(lot.tubes[1].readings[0].set.starts_with("station"));
        // a set that has a name is not touched
        let mut named = Lot { tubes: vec![tube("A", 6, true)], ..Lot::default() };
        named.tubes[0].readings.iter_mut().for_each(|r| r.set = "a".into());
        assert!(recognise(&mut named).is_empty());
    }
}
