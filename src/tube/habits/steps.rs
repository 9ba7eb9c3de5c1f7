//! The step of an instrument of which nobody states it, told from the values.
//!
//! A caliper read in 64ths of an inch, or to 0.05 mm, rounds by more than its noise; read as if it did not, equal values
//! look like a proof of roundness. All values of one kind and rig over a whole lot that are multiples of a real division
//! were read to that division: eight by chance once in 10^8 (a metric one of ten finer steps) or 10^12 (a fraction of an
//! inch printed to hundredths of a mm).
//!
//! Only a step no finer than the noise of the kind matters and is told; an instrument whose rig states a resolution has it.

use super::note::note;
use crate::domain::{Finding, Kind, Lot, Reading, units::MM_PER_INCH};
use std::collections::{BTreeMap, BTreeSet};

/// Readings needed.
const LEAST_READINGS: usize = 8;
/// Different values needed: fewer are multiples of too many steps.
const LEAST_VALUES: usize = 3;
/// Rounding of a fraction of an inch that was written down in hundredths of a mm.
const PRINTED_MM: f64 = 0.0051;
/// The same of a decimal inch, written in full.
const EXACT_MM: f64 = 1e-6;

/// A division that instruments have: mm, its words, how far a printed value may lie from a multiple.
struct Division(f64, &'static str, f64);

/// Coarsest first. Common practice, no source: rules and fractional calipers 1/16 to 1/128 in, vernier and dial calipers
/// 0.1, 0.05 and 0.02 mm or 0.005 and 0.001 in, leaves and rules 1 and 0.5 mm; 0.2 of a scale read by halves.
const DIVISIONS: [Division; 12] = [
    Division(MM_PER_INCH / 16.0, "1/16 in", PRINTED_MM),
    Division(1.0, "1 mm", EXACT_MM),
    Division(MM_PER_INCH / 32.0, "1/32 in", PRINTED_MM),
    Division(0.5, "0.5 mm", EXACT_MM),
    Division(MM_PER_INCH / 64.0, "1/64 in", PRINTED_MM),
    Division(0.2, "0.2 mm", EXACT_MM),
    Division(MM_PER_INCH / 128.0, "1/128 in", PRINTED_MM),
    Division(MM_PER_INCH * 0.005, "0.005 in", EXACT_MM),
    Division(0.1, "0.1 mm", EXACT_MM),
    Division(0.05, "0.05 mm", EXACT_MM),
    Division(MM_PER_INCH * 0.001, "0.001 in", EXACT_MM),
    Division(0.02, "0.02 mm", EXACT_MM),
];

/// Gives every reading of an instrument without a stated resolution the step that its values show.
pub(super) fn recognise(lot: &mut Lot) -> Vec<Finding> {
    let mut instruments: BTreeMap<(Kind, String), Vec<&Reading>> = BTreeMap::new();
    for r in lot.tubes.iter().flat_map(|t| &t.readings).filter(|r| r.kind != Kind::Grain) {
        let stated = lot.rigs.get(&r.rig).is_some_and(|rig| rig.resolution_mm.is_some());
        if !stated {
            instruments.entry((r.kind, r.rig.clone())).or_default().push(r);
        }
    }
    let mut found = BTreeMap::new();
    let mut notes = Vec::new();
    for ((kind, rig), readings) in instruments {
        let sd = lot.rigs.get(&rig).and_then(|r| r.sd_mm).unwrap_or(kind.default_sd_mm());
        let values: Vec<f64> = readings.iter().map(|r| r.value_mm).collect();
        let Some(division) = shown(&values).filter(|d| d.0 > sd * (1.0 - 1e-9)) else { continue };
        let place = readings[0].place.clone();
        let whose = if rig.is_empty() { String::new() } else { format!(" by {rig}") };
        let how = if kind.is_gap() { "rounded down, as a feeler does" } else { "rounded to the nearest" };
        notes.push(note(
            place,
            format!("{} values of {}{whose} that are all whole multiples of {}", values.len(), kind.word(), division.1),
            "a resolution under the rig",
            &format!("taken as read to that step, {how}; state another resolution under [rig.NAME] if that is wrong"),
        ));
        found.insert((kind, rig), division.0);
    }
    for r in lot.tubes.iter_mut().flat_map(|t| &mut t.readings) {
        if let Some(&step) = found.get(&(r.kind, r.rig.clone())) {
            r.step_mm = Some(step);
        }
    }
    notes
}

/// The coarsest division of which all values are multiples.
fn shown(values: &[f64]) -> Option<&'static Division> {
    let distinct: BTreeSet<i64> = values.iter().map(|v| micrometres(*v)).collect();
    if values.len() < LEAST_READINGS || distinct.len() < LEAST_VALUES {
        return None;
    }
    let is_multiple = |v: f64, d: &Division| (v - d.0 * (v / d.0).round()).abs() <= d.2;
    DIVISIONS.iter().find(|d| values.iter().all(|v| is_multiple(*v, d)))
}

#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
fn micrometres(mm: f64) -> i64 {
    (mm * 1000.0).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Rig, Tube};

    /// Widely spread: near 25.4 mm (128 times 0.1984 mm, 127 times 0.2 mm) the two steps print alike.
    fn spread(i: u32) -> f64 {
        25.4 + 1.5 * (f64::from(i) * 1.7).sin()
    }

    fn lot(kind: Kind, step: f64, print: f64) -> Lot {
        let value = |i: u32| {
            let read = step * (spread(i) / step).round();
            if print > 0.0 { (read / print).round() * print } else { read }
        };
        let readings = (0..24).map(|i| Reading::new(kind, 10.0, Angle::from_degrees(15.0 * f64::from(i)), value(i)));
        Lot {
            tubes: vec![Tube { name: "A".into(), readings: readings.collect(), ..Tube::default() }],
            ..Lot::default()
        }
    }

    #[test]
    fn the_step_of_a_caliper_shows_in_its_values() {
        for (step, print, word) in [
            (MM_PER_INCH / 64.0, 0.0, "1/64 in"),
            (MM_PER_INCH / 64.0, 0.01, "1/64 in"),
            (MM_PER_INCH / 128.0, 0.01, "1/128 in"),
            (0.1, 0.0, "0.1 mm"),
            (0.05, 0.0, "0.05 mm"),
        ] {
            let mut lot = lot(Kind::Diameter, step, print);
            let notes = recognise(&mut lot);
            assert!(notes.len() == 1 && notes[0].found.ends_with(word), "{step}: {notes:?}");
            assert!(lot.tubes[0].readings.iter().all(|r| r.step_mm.is_some_and(|s| (s - step).abs() < 1e-9)));
        }
    }

    #[test]
    fn what_is_finer_than_the_noise_stated_or_not_told_is_left_alone() {
        let untouched = |mut lot: Lot| {
            let notes = recognise(&mut lot);
            notes.is_empty() && lot.tubes[0].readings.iter().all(|r| r.step_mm.is_none())
        };
        assert!(untouched(lot(Kind::Diameter, 0.01, 0.0)) && untouched(lot(Kind::Diameter, 0.02, 0.0)));
        // a radius gauge comes in whole steps of half its noise
        assert!(untouched(lot(Kind::Arc, 0.1, 0.0)));
        let mut stated = lot(Kind::Diameter, 0.1, 0.0);
        stated.rigs.insert(String::new(), Rig { resolution_mm: Some(0.1), ..Rig::default() });
        assert!(untouched(stated));
        let mut few = lot(Kind::Diameter, 0.1, 0.0);
        few.tubes[0].readings.truncate(7);
        assert!(untouched(few));
        let mut equal = lot(Kind::Diameter, 0.1, 0.0);
        equal.tubes[0].readings.iter_mut().for_each(|r| r.value_mm = 25.4);
        assert!(untouched(equal));
    }
}
