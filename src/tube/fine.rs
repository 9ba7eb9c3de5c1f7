//! What readings far apart leave open of unevenness between them.
//!
//! A lot teaches its roughness at the distance of its stations; a stick rests on what is shorter. How second differences of a
//! surface fall off towards shorter distances is a matter of its kind: with their power 3/2 on the fields of this model, with the
//! square where it is smooth, with the square root on a rough walk. So the roughness at [`ROUGH_SPACING_MM`] is as unsure as
//! that exponent makes it, beside what the lot leaves open. All tubes of a lot are of one kind: the change is drawn once per draw
//! number. A tube read at stations nearer to each other than its lot's tells more of itself.

use super::contact::{SAME_STATION_MM, contacts};
use super::law::ScaleDoubt;
use super::model::Model;
use super::population::ROUGH_SPACING_MM;
use crate::domain::{Kind, Rig, Tube};
use crate::numeric::draws;
use crate::numeric::summary::count;
use std::collections::BTreeMap;

/// How unsure the exponent is, sd. Between the square root and the square lies most; common practice, no source.
const EXPONENT_SD: f64 = 0.5;

/// Doubt of the logarithm of a tube's roughness between stations, sd: beside that of the lot, which counts in full where the lot
/// told nothing.
pub(super) fn doubt(tube: &Tube, model: &Model) -> f64 {
    let lot = &model.population.doubt;
    let apart = match stations(tube, &model.rigs) {
        0 => lot.stations_mm,
        own => lot.stations_mm.min(tube.length_mm / count(own)),
    };
    let told = 1.0 - (lot.rough_sd() / ScaleDoubt::before().rough_sd()).powi(2);
    EXPONENT_SD * (apart / ROUGH_SPACING_MM).ln().max(0.0) * told.max(0.0).sqrt()
}

/// Distance of the stations at which these tubes teach their lot, mm: a tube of more stations tells more.
pub(super) fn taught_mm<'a>(tubes: impl Iterator<Item = &'a Tube>, rigs: &BTreeMap<String, Rig>) -> f64 {
    let (mut all, mut sum) = (0.0, 0.0);
    for tube in tubes {
        let own = count(stations(tube, rigs));
        if own > 0.0 {
            all += own;
            sum += own * (tube.length_mm / own).ln();
        }
    }
    if all > 0.0 { (sum / all).exp() } else { 0.0 }
}

/// Number of stations at which the bark was read, of the kind that has the most.
fn stations(tube: &Tube, rigs: &BTreeMap<String, Rig>) -> usize {
    let mut places: BTreeMap<Kind, Vec<f64>> = BTreeMap::new();
    for r in &tube.readings {
        places.entry(r.kind).or_default().extend(contacts(r, rigs.get(&r.rig)).iter().map(|c| c.z_mm));
    }
    if let Some(scan) = tube.scan.as_ref().and_then(|s| s.unrolled.as_ref()) {
        places.entry(Kind::Radius).or_default().extend(scan.cells.iter().map(|c| c.z_mm));
    }
    let of_kind = |z: &mut Vec<f64>| {
        z.sort_by(f64::total_cmp);
        z.chunk_by(|a, b| b - a <= SAME_STATION_MM).count()
    };
    places.values_mut().map(of_kind).max().unwrap_or(0)
}

/// By how much the roughness of draw `k` between the stations lies off what the readings tell, in units of [`doubt`].
pub(super) fn drawn(seed: u64, k: u64) -> f64 {
    draws::mirrored_normals(seed, "unevenness between stations", k, 1)[0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Reading};

    fn tube(kind: Kind, places_mm: &[f64], span_mm: Option<f64>) -> Tube {
        let mut tube = Tube { name: "T1".into(), length_mm: 180.0, ..Tube::default() };
        for z in places_mm {
            for i in 0..4 {
                let mut r = Reading::new(kind, *z, Angle::from_degrees(45.0 * f64::from(i)), 0.01);
                r.span_mm = span_mm;
                tube.readings.push(r);
            }
        }
        tube.readings.push(Reading::new(Kind::Diameter, 90.0, Angle::ZERO, 25.4));
        tube
    }

    fn even(n: u32) -> Vec<f64> {
        (0..n).map(|i| 180.0 * (f64::from(i) + 0.5) / f64::from(n)).collect()
    }

    /// A lot taught at stations so far apart, its roughness to `share` of what was known before.
    fn lot(share: f64, stations_mm: f64) -> Model {
        let before = ScaleDoubt::before();
        let known = ScaleDoubt::of(before.mean.clone(), before.covariance() * share * share, 10);
        let mut model = Model::default();
        model.population.doubt = ScaleDoubt { stations_mm, ..known.expect("positive definite") };
        model
    }

    #[test]
    fn what_lies_between_stations_is_as_unsure_as_they_are_far_apart() {
        let dial = tube(Kind::Runout, &[5.0, 47.0, 90.0, 132.0, 175.0], None);
        // five on 180 mm: 36, twice the distance roughness is stated for
        let told = doubt(&dial, &lot(1e-6, 36.0));
        assert!((told - 0.5 * 2.0_f64.ln()).abs() < 1e-6, "{told}");
        // what the lot leaves wholly open holds this too
        let (half, nothing) = (doubt(&dial, &lot(0.6, 36.0)), doubt(&dial, &lot(1.0, 36.0)));
        assert!((half - 0.8 * told).abs() < 1e-6 && nothing < 1e-6, "{half} {nothing}");
        assert!(doubt(&dial, &Model::default()).abs() < f64::EPSILON, "nobody learned");
        assert!(doubt(&tube(Kind::Runout, &even(10), None), &lot(1e-6, 18.0)).abs() < f64::EPSILON);
    }

    /// What a lot was taught holds for a tube read at few places, or not at all; what a tube was read at for itself.
    #[test]
    fn the_nearer_of_a_tubes_own_stations_and_its_lots_count() {
        let (near, far) = (lot(1e-6, 18.0), lot(1e-6, 36.0));
        let bare = Tube { length_mm: 180.0, ..Tube::default() };
        assert!(doubt(&bare, &near).abs() < f64::EPSILON && doubt(&bare, &far) > 0.3);
        assert!(doubt(&tube(Kind::Runout, &even(2), None), &near).abs() < f64::EPSILON);
        assert!(doubt(&tube(Kind::Runout, &even(10), None), &far).abs() < f64::EPSILON);
        // ten stations and two, 18 and 90 mm apart: (10 ln 18 + 2 ln 90) / 12
        let lot = [tube(Kind::Runout, &even(10), None), tube(Kind::Runout, &even(2), None), bare];
        let taught = taught_mm(lot.iter(), &BTreeMap::new());
        assert!((taught - 23.54).abs() < 0.01, "{taught}");
        assert!(taught_mm([].iter(), &BTreeMap::new()).abs() < f64::EPSILON);
    }

    #[test]
    fn the_feet_of_a_bar_stand_on_places_of_their_own() {
        let bar = tube(Kind::Bridge, &[60.0, 120.0], Some(60.0));
        // 30, 60, 90, 120 and 150
        assert_eq!(stations(&bar, &BTreeMap::new()), 5);
        // a wall says nothing of the bark
        let wall = Reading::new(Kind::Wall, 20.0, Angle::ZERO, 3.5);
        assert_eq!(stations(&Tube { readings: vec![wall], ..Tube::default() }, &BTreeMap::new()), 0);
    }

    #[test]
    fn a_pair_of_draws_is_off_to_either_side_alike_on_every_tube() {
        assert!((drawn(3, 6) + drawn(3, 7)).abs() < 1e-12 && (drawn(3, 6) - drawn(4, 6)).abs() > 1e-6);
    }
}
