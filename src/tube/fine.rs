//! What readings far apart leave open of unevenness between them.
//!
//! A lot teaches its roughness at the distance of its stations; a stick rests on what is shorter. How second differences of a
//! surface fall off towards shorter distances is a matter of its kind: with their power 3/2 on the fields of this model, with the
//! square where it is smooth, with the square root on a rough walk. So the roughness at [`ROUGH_SPACING_MM`] is as unsure as
//! that exponent makes it, beside what the lot leaves open. All tubes of a lot are of one kind: the change is drawn once per draw
//! number.

use super::law::ScaleDoubt;
use super::population::ROUGH_SPACING_MM;
use super::rows::Row;
use crate::domain::Kind;
use crate::numeric::draws;
use crate::numeric::summary::count;
use std::collections::BTreeMap;

/// How unsure the exponent is, sd. Between the square root and the square lies most; common practice, no source.
const EXPONENT_SD: f64 = 0.5;
/// Places nearer to each other than this are one station, mm.
const ONE_STATION_MM: f64 = 2.0;

/// Doubt of the logarithm of the roughness between the stations of a tube, sd: beside that of the lot, which counts in full where
/// the lot told nothing.
pub(super) fn doubt(rows: &[Row], length_mm: f64, lot: &ScaleDoubt) -> f64 {
    if lot.tubes() == 0 {
        return 0.0;
    }
    let Some(apart) = apart_mm(rows, length_mm) else { return 0.0 };
    let told = 1.0 - (lot.rough_sd() / ScaleDoubt::before().rough_sd()).powi(2);
    EXPONENT_SD * (apart / ROUGH_SPACING_MM).ln().max(0.0) * told.max(0.0).sqrt()
}

/// Distance of the stations of the kind that has the most; `None` where the outside was not read.
fn apart_mm(rows: &[Row], length_mm: f64) -> Option<f64> {
    let mut places: BTreeMap<Kind, Vec<f64>> = BTreeMap::new();
    for row in rows.iter().filter(|r| r.index.is_some() && r.probe.kind.is_outside()) {
        let feet = if row.probe.kind == Kind::Bridge { row.probe.size / 2.0 } else { 0.0 };
        let at = [row.z_mm - feet, row.z_mm, row.z_mm + feet];
        places.entry(row.probe.kind).or_default().extend(if feet > 0.0 { &at[..] } else { &at[1..2] });
    }
    let stations = |z: &mut Vec<f64>| {
        z.sort_by(f64::total_cmp);
        z.dedup_by(|b, a| *b - *a < ONE_STATION_MM);
        z.len()
    };
    let most = places.values_mut().map(stations).max()?;
    Some(length_mm / count(most))
}

/// By how much the roughness of draw `k` between the stations lies off what the readings tell, in units of [`doubt`].
pub(super) fn drawn(seed: u64, k: u64) -> f64 {
    draws::mirrored_normals(seed, "unevenness between stations", k, 1)[0]
}

#[cfg(test)]
mod tests {
    use super::super::model::Model;
    use super::super::problem::Problem;
    use super::*;
    use crate::domain::{Angle, Reading, Tube};

    fn rows(kind: Kind, places_mm: &[f64], span_mm: Option<f64>) -> Vec<Row> {
        let mut tube = Tube { name: "T1".into(), length_mm: 180.0, ..Tube::default() };
        for z in places_mm {
            for i in 0..4 {
                let mut r = Reading::new(kind, *z, Angle::from_degrees(45.0 * f64::from(i)), 0.01);
                r.span_mm = span_mm;
                tube.readings.push(r);
            }
        }
        tube.readings.push(Reading::new(Kind::Diameter, 90.0, Angle::ZERO, 25.4));
        Problem::new(&tube, &Model::default()).expect("complete").rows
    }

    /// A lot that told its roughness to `share` of what was known before.
    fn lot(share: f64, tubes: usize) -> ScaleDoubt {
        let before = ScaleDoubt::before();
        ScaleDoubt::of(before.mean.clone(), before.covariance() * share * share, tubes).expect("positive definite")
    }

    #[test]
    fn what_lies_between_stations_is_as_unsure_as_they_are_far_apart() {
        let dial = rows(Kind::Runout, &[5.0, 47.0, 90.0, 132.0, 175.0], None);
        // five on 180 mm: 36, twice the distance roughness is stated for
        let told = doubt(&dial, 180.0, &lot(1e-6, 10));
        assert!((told - 0.5 * 2.0_f64.ln()).abs() < 1e-6, "{told}");
        // what the lot leaves wholly open holds this too
        let (half, nothing) = (doubt(&dial, 180.0, &lot(0.6, 10)), doubt(&dial, 180.0, &lot(1.0, 10)));
        assert!((half - 0.8 * told).abs() < 1e-6 && nothing < 1e-6, "{half} {nothing}");
        assert!(doubt(&dial, 180.0, &lot(0.5, 0)).abs() < f64::EPSILON, "nobody learned");
        let every = (0..10).map(|i| 9.0 + 18.0 * f64::from(i)).collect::<Vec<_>>();
        assert!(doubt(&rows(Kind::Runout, &every, None), 180.0, &lot(1e-6, 10)).abs() < f64::EPSILON);
    }

    #[test]
    fn the_feet_of_a_bar_stand_on_places_of_their_own() {
        let bar = rows(Kind::Bridge, &[60.0, 120.0], Some(60.0));
        // 30, 60, 90, 120 and 150
        assert_eq!(apart_mm(&bar, 180.0), Some(36.0));
        assert_eq!(apart_mm(&[], 180.0), None);
    }

    #[test]
    fn a_pair_of_draws_is_off_to_either_side_alike_on_every_tube() {
        assert!((drawn(3, 6) + drawn(3, 7)).abs() < 1e-12 && (drawn(3, 6) - drawn(4, 6)).abs() > 1e-6);
    }
}
