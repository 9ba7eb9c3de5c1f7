//! Stations measured directly: what must not change them, and whether those of a scan are as sure as they say.

use proptest::prelude::*;
use quarterlight::domain::{Angle, Kind, Reading, Tube};
use quarterlight::geometry::{bow, minimum_zone_cylinder};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{count, mean};
use quarterlight::tube::direct::{DirectFigures, Roundness, direct_figures};
use quarterlight::tube::geometry::ovality_of;
use quarterlight::tube::scan::ready;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use quarterlight::tube::{Fields, Measured};
use std::collections::BTreeMap;

fn figures(tube: &Tube) -> DirectFigures {
    direct_figures(tube, &BTreeMap::new())
}

/// Deviations about the four circles, and their radii.
fn told(r: &Roundness) -> Vec<Option<f64>> {
    let circles = [Some(r.least_squares), r.minimum_zone, r.minimum_circumscribed, r.maximum_inscribed];
    circles.iter().flat_map(|c| [c.map(|c| c.deviation_mm), c.and_then(|c| c.radius_mm)]).collect()
}

fn same(a: &[Option<f64>], b: &[Option<f64>], tolerance: f64) -> bool {
    a.iter().zip(b).all(|(a, b)| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= tolerance,
        (a, b) => a.is_none() && b.is_none(),
    })
}

/// A bent, lobed tube read at a number of angles.
fn read(kind: Kind, round: u32, shape: [f64; 4]) -> Tube {
    let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
    for z in [5.0, 70.0, 130.0, 195.0] {
        for k in 0..round {
            let a = std::f64::consts::TAU * f64::from(k) / f64::from(round);
            let bend = shape[3] * (std::f64::consts::PI * z / 200.0).sin();
            let wave = shape[0] * (2.0 * a + 0.3).cos() + shape[1] * (3.0 * a).sin() + shape[2] * (5.0 * a + z).cos();
            let size = if kind == Kind::Runout { -2.0 } else { 12.7 };
            tube.readings.push(Reading::new(kind, z, Angle::from_radians(a), size + wave + bend * (a - 1.0).cos()));
        }
    }
    tube
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn turning_the_index_line_changes_no_roundness_and_no_straightness(
        by in 0.0..360.0_f64, round in 8..20_u32, dial: bool,
        shape in [0.0..0.4_f64, 0.0..0.1_f64, 0.0..0.05_f64, 0.0..2.0_f64],
    ) {
        let kind = if dial { Kind::Runout } else { Kind::Radius };
        let tube = read(kind, round, shape);
        let mut turned = tube.clone();
        turned.readings.iter_mut().for_each(|r| r.angle = (r.angle + Angle::from_degrees(by)).wrapped());
        let (a, b) = (figures(&tube), figures(&turned));
        for (s, t) in a.stations.iter().zip(&b.stations) {
            let (r, q) = (s.roundness.expect("seen"), t.roundness.expect("seen"));
            // the inscribed circle may have two equal places, so only its size is held to rounding
            let keep = |r: &Roundness| told(r).into_iter().enumerate().filter(|(i, _)| *i != 6).map(|x| x.1).collect::<Vec<_>>();
            // a dial is laid out 1e5 mm large, which rounds to 1e-10
            prop_assert!(same(&keep(&r), &keep(&q), 1e-8), "{:?} {:?}", r, q);
            let [x, y] = r.least_squares.centre_mm;
            let (sin, cos) = by.to_radians().sin_cos();
            let want = [x * cos - y * sin, x * sin + y * cos];
            for (got, want) in q.least_squares.centre_mm.iter().zip(want) {
                prop_assert!((got - want).abs() < 1e-8);
            }
        }
        let worst = |d: &DirectFigures| d.straightness.worst().expect("lines").deviation_mm.value;
        prop_assert!((worst(&a) - worst(&b)).abs() < 1e-12);
        let centreline = |d: &DirectFigures| d.straightness.centreline_mm.expect("four centres").value;
        prop_assert!((centreline(&a) - centreline(&b)).abs() < 1e-9);
    }

    #[test]
    fn another_axis_moves_the_centres_and_nothing_else(
        at in [-2.0..2.0_f64, -2.0..2.0_f64], lean in [-0.02..0.02_f64, -0.02..0.02_f64], round in 8..20_u32, dial: bool,
        shape in [0.0..0.4_f64, 0.0..0.1_f64, 0.0..0.05_f64, 0.0..2.0_f64],
    ) {
        let kind = if dial { Kind::Runout } else { Kind::Radius };
        let tube = read(kind, round, shape);
        let mut moved = tube.clone();
        for r in &mut moved.readings {
            let (s, c) = r.angle.sin_cos();
            r.value_mm += (at[0] + lean[0] * r.z_mm) * c + (at[1] + lean[1] * r.z_mm) * s;
        }
        let (a, b) = (figures(&tube), figures(&moved));
        for (s, t) in a.stations.iter().zip(&b.stations) {
            let (r, q) = (s.roundness.expect("seen"), t.roundness.expect("seen"));
            let keep = |r: &Roundness| told(r).into_iter().enumerate().filter(|(i, _)| *i != 6).map(|x| x.1).collect::<Vec<_>>();
            prop_assert!(same(&keep(&r), &keep(&q), 1e-8), "{:?} {:?}", r, q);
            for k in 0..2 {
                let want = r.least_squares.centre_mm[k] + at[k] + lean[k] * s.z_mm;
                prop_assert!((q.least_squares.centre_mm[k] - want).abs() < 1e-8);
            }
            if let (Some(e), Some(f)) = (s.ellipse, t.ellipse) {
                prop_assert!((e.semi_major_mm.value - f.semi_major_mm.value).abs() < 1e-8);
            }
        }
        for (l, m) in a.straightness.lines.iter().zip(&b.straightness.lines) {
            prop_assert!((l.deviation_mm.value - m.deviation_mm.value).abs() < 1e-12);
        }
    }

    #[test]
    fn no_circle_shows_less_than_the_minimum_zone(
        round in 7..24_u32, shape in [0.0..0.4_f64, 0.0..0.1_f64, 0.0..0.05_f64, 0.0..2.0_f64],
    ) {
        for s in &figures(&read(Kind::Radius, round, shape)).stations {
            let r = s.roundness.expect("seen");
            let zone = r.minimum_zone.expect("a zone").deviation_mm;
            for c in [Some(r.least_squares), r.minimum_circumscribed, r.maximum_inscribed].into_iter().flatten() {
                prop_assert!(c.deviation_mm >= zone - 1e-12, "{:?}", r);
            }
        }
    }
}

#[test]
fn widths_and_v_blocks_show_no_roundness_and_no_straightness() {
    let truth = TrueTube::grow(&Stand::default(), 3, 1);
    for kind in [Kind::Diameter, Kind::Vee, Kind::Wall] {
        let mut rng = draws::stream(3, "no roundness", 1);
        let mut tube = truth.listed();
        tube.readings = truth.rings(kind, 12, 40.0, 0.02, &mut rng);
        tube.readings.iter_mut().for_each(|r| r.vee_deg = (kind == Kind::Vee).then_some(90.0));
        let d = figures(&tube);
        assert!(d.stations.iter().all(|s| s.roundness.is_none() && s.ellipse.is_none()), "{kind:?}");
        assert!(d.straightness.lines.is_empty() && d.straightness.centreline_mm.is_none(), "{kind:?}");
    }
}

fn scanned(k: u64, making: &ScanMaking) -> (TrueTube, Tube) {
    let truth = TrueTube::grow(&Stand::default(), 77, k);
    let mut rng = draws::stream(6, "stations of a scan", k);
    let scan = truth.scanned(making, true, &mut rng);
    let tube = Tube { scan: Some(scan), ..truth.listed() };
    let tube = ready(&tube).unwrap_or_else(|e| panic!("{e}")).into_owned();
    (truth, tube)
}

/// Departures from the truth in sd of what the rings of scans say: size, ovality, bow, straightness, taper.
fn departures(points: usize, tubes: u64) -> [Vec<f64>; 5] {
    let making = ScanMaking { points, ..ScanMaking::default() };
    let mut off: [Vec<f64>; 5] = Default::default();
    for k in 0..tubes {
        let (truth, tube) = scanned(k, &making);
        let d = figures(&tube);
        let z: Vec<f64> = d.stations.iter().map(|s| s.z_mm).collect();
        assert!(z.len() >= 3 && z[0] < 8.0 && truth.length_mm - z[z.len() - 1] < 8.0, "{k}: rings at {z:?}");
        let sections = truth.sections(&z);
        let f = sections.fields();
        let in_sd = |m: Measured, t: f64| (m.value - t) / m.sd;
        let mut sizes = Vec::new();
        for (j, s) in d.stations.iter().enumerate() {
            let row = sections.row(j);
            sizes.push(in_sd(
                s.diameter_mm.unwrap_or_else(|| panic!("{k} of {points}: {s:?} length {}", truth.length_mm)),
                2.0 * row[Fields::R0],
            ));
            let oval = Measured { value: s.ovality.expect("seen").difference(), sd: s.ovality_sd_mm.expect("seen") };
            off[1].push(in_sd(oval, ovality_of(sections.section(j)).0));
            assert!(s.roundness.is_some() && s.ellipse.is_some(), "{k}: ring at {} has no circles", s.z_mm);
        }
        // the error of size is common to the rings of a scan: one number a tube
        off[0].push(mean(&sizes));
        let centres: Vec<[f64; 3]> =
            (0..z.len()).map(|j| [sections.row(j)[f.centre()], sections.row(j)[f.centre() + 1], z[j]]).collect();
        off[2].push(in_sd(d.bow_mm.expect("seen"), bow(&centres).expect("a line").height));
        let zone = minimum_zone_cylinder(&centres).expect("a line").diameter;
        off[3].push(in_sd(d.straightness.centreline_mm.expect("seen"), zone));
        let slope = |get: &dyn Fn(usize) -> f64| {
            let middle = mean(&z);
            let up: f64 = z.iter().enumerate().map(|(j, z)| (z - middle) * get(j)).sum();
            100.0 * up / z.iter().map(|z| (z - middle).powi(2)).sum::<f64>()
        };
        off[4].push(in_sd(d.taper_mm_per_100mm.expect("seen"), slope(&|j| 2.0 * sections.row(j)[Fields::R0])));
    }
    off
}

#[test]
fn rings_of_a_scan_are_as_sure_as_they_say() {
    for points in [1_500, 10_000] {
        let off = departures(points, 30);
        for (name, list) in ["size", "ovality", "bow", "straightness", "taper"].iter().zip(&off) {
            let rms = (list.iter().map(|u| u * u).sum::<f64>() / count(list.len())).sqrt();
            let held = count(list.iter().filter(|u| u.abs() < 1.645).count()) / count(list.len());
            println!("{points} points, {name}: rms {rms:.2} sd, 90 % intervals hold {held:.2} of {}", list.len());
            assert!(rms < 1.5 && held > 0.75, "{points} points, {name}: rms {rms}, held {held}");
        }
    }
}

#[test]
fn a_scan_of_one_side_shows_no_circle() {
    let whole = ScanMaking { points: 6_000, ..ScanMaking::default() };
    for side in [(-80.0, 80.0), (0.0, 250.0)] {
        let (_, tube) = scanned(2, &ScanMaking { side_deg: side, stray: 0.0, bore: 0.0, face: 0.0, ..whole.clone() });
        let d = figures(&tube);
        assert!(!d.stations.is_empty(), "{side:?}: the rings are listed all the same");
        for s in &d.stations {
            assert!(
                s.from_scan && s.roundness.is_none() && s.ellipse.is_none() && s.circle.is_none(),
                "{side:?}: {s:?}"
            );
            assert!(s.diameter_mm.is_none() && s.centre.is_none() && s.ovality.is_none(), "{side:?}: {s:?}");
        }
        assert!(d.bow_mm.is_none() && d.straightness.lines.is_empty() && d.taper_mm_per_100mm.is_none());
    }
}
