//! A tube of very many readings: a machine's log, not a hand's list. A fit costs in proportion to its readings, and some
//! thousands leave nothing open that more of them would settle.

use crate::domain::{Finding, Kind, Lot, Severity, Tube};
use crate::numeric::draws;
use rand::seq::index;
use std::collections::BTreeMap;

/// Readings of one tube that are fitted and searched for slips. Common practice, no source: nobody types more by hand. 3000
/// readings good to 0.03 mm leave the surface open by less than 0.01 mm, below the texture of the bark.
pub(super) const MOST_READINGS: usize = 3000;

/// Takes from every tube that has more readings than are fitted a part of them by chance, the same at every run; of a kind
/// that is rare beside the others every reading stays. What is left out is told, tube by tube.
pub fn sample_readings(lot: &mut Lot) -> Vec<Finding> {
    lot.tubes.iter_mut().filter_map(sampled).collect()
}

fn sampled(tube: &mut Tube) -> Option<Finding> {
    let before = tube.readings.len();
    if before <= MOST_READINGS {
        return None;
    }
    let mut kinds: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
    for (i, r) in tube.readings.iter().enumerate() {
        kinds.entry(r.kind).or_default().push(i);
    }
    // the rarest first: what it leaves of its share goes to the others
    let mut by_size: Vec<(Kind, Vec<usize>)> = kinds.into_iter().collect();
    by_size.sort_by_key(|(kind, list)| (list.len(), *kind));
    let (mut left, mut kept) = (MOST_READINGS, vec![false; before]);
    for (at, (_, list)) in by_size.iter().enumerate() {
        let share = (left / (by_size.len() - at)).min(list.len());
        let mut rng = draws::stream(0x5a3e, &tube.name, at as u64);
        index::sample(&mut rng, list.len(), share).iter().for_each(|i| kept[list[i]] = true);
        left -= share;
    }
    let mut keep = kept.into_iter();
    tube.readings.retain(|_| keep.next().unwrap_or(false));
    Some(Finding {
        severity: Severity::Note,
        place: tube.readings[0].place.clone(),
        found: format!("{before} readings of tube {}", tube.name),
        expected: format!("at most {MOST_READINGS} of one tube"),
        fix: format!(
            "{MOST_READINGS} of them, drawn by chance and the same at every run, are used and searched for slips; points of a whole surface belong into the folder scans"
        ),
        tube: Some(tube.name.clone()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Reading};

    #[test]
    fn a_rare_kind_stays_whole_and_no_angle_is_favoured() {
        let mut tube = Tube { name: "A".into(), length_mm: 200.0, ..Tube::default() };
        // rings of 360 angles: every k-th reading would fall on few of them
        for (z, deg) in (0..100).flat_map(|z| (0..360).map(move |a| (2 * z, a))) {
            tube.readings.push(Reading::new(Kind::Radius, f64::from(z), Angle::from_degrees(f64::from(deg)), 12.7));
        }
        tube.readings.extend((0..12).map(|i| Reading::new(Kind::Wall, f64::from(i), Angle::from_degrees(0.0), 3.2)));
        let mut lot = Lot { tubes: vec![tube], ..Lot::default() };
        let again = {
            let mut other = lot.clone();
            sample_readings(&mut other);
            other
        };
        let told = sample_readings(&mut lot);
        assert!(told.len() == 1 && told[0].found.contains("36012 readings"), "{told:?}");
        assert_eq!(lot.tubes[0].readings, again.tubes[0].readings);
        let kept = &lot.tubes[0].readings;
        assert_eq!((kept.len(), kept.iter().filter(|r| r.kind == Kind::Wall).count()), (MOST_READINGS, 12));
        // 2988 readings fall on 360 angles with 8.3 each; an angle without any has a chance of 2.5e-4, of 360 some 0.1
        let mut of_angle = [0; 4];
        kept.iter()
            .for_each(|r| of_angle[[90.0, 180.0, 270.0].iter().filter(|e| r.angle.degrees() >= **e).count()] += 1);
        // a quarter: 747 +- 23
        assert!(of_angle.iter().all(|n| (630..870).contains(n)), "{of_angle:?}");
        assert!(sample_readings(&mut lot).is_empty(), "what is a sample already is left as it is");
    }
}
