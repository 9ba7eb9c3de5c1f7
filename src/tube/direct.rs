//! What is measured directly, station by station, without any prior: the figures a maker can check by hand.

use super::bar_lines::bar_lines;
use super::contact::SAME_STATION_MM;
use super::geometry::Measured;
use super::scan_rings::scan_rings;
use super::station::station;
use super::straightness::{bark_lines, of_centres};
use crate::domain::{Kind, Reading, Rig, Tube};
use crate::geometry::bow;
use std::collections::BTreeMap;

pub use super::bar_lines::BarLine;
pub use super::roundness::{AboutCircle, EllipseAt, Roundness};
pub use super::station::{CircleAt, StationFit};
pub use super::straightness::{LineStraightness, Straightness};

/// Kinds that go round a station.
const SEEN_ROUND: [Kind; 5] = [Kind::Diameter, Kind::Radius, Kind::Runout, Kind::Vee, Kind::Outline];

/// What the stations say together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DirectFigures {
    /// Stations by kind and place, those of a scan last.
    pub stations: Vec<StationFit>,
    /// Bow of the line through the section centres, mm, from its first to its last station.
    pub bow_mm: Option<Measured>,
    /// Direction of that bow, degrees.
    pub bow_deg: Option<f64>,
    /// Radius of the arc with that bow, mm.
    pub bow_radius_mm: Option<f64>,
    /// How far the centreline passes to the other side of its chord, mm.
    pub s_bend_mm: Option<f64>,
    /// Slope of the diameter, mm per 100 mm; positive when the far end is thicker.
    pub taper_mm_per_100mm: Option<Measured>,
    /// Least wall read, mm, and where (mm, degrees).
    pub least_wall: Option<(f64, f64, f64)>,
    /// Straightness of bark lines and of the centreline.
    pub straightness: Straightness,
    /// What bars on two feet show, line by line.
    pub bars: Vec<BarLine>,
}

/// Fits every station of a tube by itself. A scan takes part once it is laid out ([`super::scan`]).
#[must_use]
pub fn direct_figures(tube: &Tube, rigs: &BTreeMap<String, Rig>) -> DirectFigures {
    let mut groups: BTreeMap<(Kind, String, String), Vec<&Reading>> = BTreeMap::new();
    for r in tube.readings.iter().filter(|r| SEEN_ROUND.contains(&r.kind)) {
        groups.entry((r.kind, r.rig.clone(), r.set.clone())).or_default().push(r);
    }
    let mut stations = Vec::new();
    for ((kind, _, _), mut readings) in groups {
        readings.sort_by(|a, b| a.z_mm.total_cmp(&b.z_mm));
        for ring in readings.chunk_by(|a, b| b.z_mm - a.z_mm <= SAME_STATION_MM) {
            stations.push(station(kind, ring, rigs));
        }
    }
    let rings = scan_rings(tube);
    stations.extend(rings.iter().map(|r| r.station.clone()));
    let wall = tube.readings.iter().filter(|r| r.kind == Kind::Wall).min_by(|a, b| a.value_mm.total_cmp(&b.value_mm));
    let mut out = DirectFigures {
        least_wall: wall.map(|r| (r.value_mm, r.z_mm, r.angle.wrapped().degrees())),
        taper_mm_per_100mm: taper(&stations),
        straightness: Straightness { lines: bark_lines(tube, rigs, &rings), ..Straightness::default() },
        stations,
        bars: bar_lines(tube, rigs),
        ..DirectFigures::default()
    };
    centreline(&mut out);
    out
}

/// Centreline through the stations of the way of reading that has most of them with a centre. Every instrument turns the tube
/// about an axis of its own.
fn centreline(out: &mut DirectFigures) {
    let with_centre = || out.stations.iter().filter(|s| s.centre.is_some());
    let way = |s: &StationFit| (s.from_scan, s.kind, s.rig.clone());
    let mut many: BTreeMap<_, usize> = BTreeMap::new();
    with_centre().for_each(|s| *many.entry(way(s)).or_default() += 1);
    // the first of equals
    let Some((most, _)) = many.into_iter().reduce(|best, w| if w.1 > best.1 { w } else { best }) else { return };
    let centre =
        |s: &StationFit| s.centre.map(|[x, y]| ([x.value, y.value, s.z_mm], 0.5_f64.sqrt() * x.sd.hypot(y.sd)));
    let mut line: Vec<([f64; 3], f64)> = with_centre().filter(|s| way(s) == most).filter_map(centre).collect();
    line.sort_by(|a, b| a.0[2].total_cmp(&b.0[2]));
    if line.len() < 3 {
        return;
    }
    let points: Vec<[f64; 3]> = line.iter().map(|l| l.0).collect();
    out.straightness.centreline_mm = of_centres(&points, &line.iter().map(|l| l.1).collect::<Vec<f64>>());
    out.straightness.centres = points.len();
    let Ok(b) = bow(&points) else { return };
    // the distance of one centre from the chord through the two end centres
    let t = (b.along / b.chord).clamp(0.0, 1.0);
    let (first, last) = (line[0].1, line[line.len() - 1].1);
    let sd = (line[b.at].1.powi(2) + ((1.0 - t) * first).powi(2) + (t * last).powi(2)).sqrt();
    out.bow_mm = Some(Measured { value: b.height, sd });
    out.bow_deg = b.direction.map(|d| d.wrapped().degrees());
    out.bow_radius_mm = b.radius();
    out.s_bend_mm = Some(b.s_bend);
}

/// Weighted slope of the diameters along the tube: of a scan where there is one, which is by far the denser.
fn taper(stations: &[StationFit]) -> Option<Measured> {
    let scanned = stations.iter().filter(|s| s.from_scan && s.diameter_mm.is_some()).count() >= 2;
    let of = |s: &StationFit| {
        let d = s.diameter_mm?;
        // an error of size that all share is no slope
        let own = (d.sd.powi(2) - s.common_sd_mm.powi(2)).max(0.0).sqrt();
        Some((s.z_mm, Measured { sd: own, ..d }))
    };
    let points: Vec<(f64, Measured)> = stations.iter().filter(|s| s.from_scan == scanned).filter_map(of).collect();
    let weight = |m: &Measured| m.sd.max(1e-9).powi(-2);
    let total: f64 = points.iter().map(|(_, m)| weight(m)).sum();
    let middle = points.iter().map(|(z, m)| z * weight(m)).sum::<f64>() / total;
    let square: f64 = points.iter().map(|(z, m)| (z - middle).powi(2) * weight(m)).sum();
    // stations within a few millimetres of each other say nothing about a slope
    let span = points.iter().map(|p| (p.0 - middle).abs()).fold(0.0, f64::max);
    if points.len() < 2 || span < 10.0 {
        return None;
    }
    let up: f64 = points.iter().map(|(z, m)| (z - middle) * m.value * weight(m)).sum();
    Some(Measured { value: 100.0 * up / square, sd: 100.0 / square.sqrt() })
}

#[cfg(test)]
mod tests {
    use super::super::vee::vee_gain;
    use super::*;
    use crate::domain::Angle;

    fn reading(kind: Kind, z_mm: f64, deg: f64, value_mm: f64) -> Reading {
        let angle = Angle::from_degrees(deg);
        Reading { sd_mm: Some(0.02), ..Reading::new(kind, z_mm, angle, value_mm) }
    }

    #[test]
    fn radii_of_an_eccentric_oval_give_circle_centre_and_ovality() {
        let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
        for (z, x) in [(10.0, 0.1), (100.0, 0.9), (190.0, 0.1)] {
            for i in 0..12 {
                let a = f64::from(i) * 30.0;
                let r = 12.7 + x * a.to_radians().cos() + 0.15 * (2.0 * a.to_radians()).cos();
                tube.readings.push(reading(Kind::Radius, z, a, r));
            }
        }
        let d = direct_figures(&tube, &BTreeMap::new());
        assert_eq!(d.stations.len(), 3);
        let s = &d.stations[1];
        let c = s.circle.expect("twelve radii");
        assert!((c.x.value - 0.9).abs() < 0.02 && c.y.value.abs() < 1e-6, "{c:?}");
        assert!((s.ovality.expect("seen").difference() - 0.6).abs() < 1e-9);
        assert!(s.ovality_deg.expect("seen").abs() < 1e-9);
        let b = d.bow_mm.expect("three stations");
        assert!((b.value - 0.8).abs() < 1e-6 && b.sd > 0.005 && b.sd < 0.02, "{b:?}");
    }

    #[test]
    fn a_v_block_tells_ovality_only_where_its_angle_shows_it() {
        let at = |v: f64| {
            let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
            for i in 0..12 {
                let a = f64::from(i) * 30.0;
                let gain = |n: usize| vee_gain(n, v.to_radians());
                let shown =
                    gain(2) * 0.15 * (2.0 * a.to_radians()).cos() + gain(3) * 0.04 * (3.0 * a.to_radians()).sin();
                tube.readings.push(Reading { vee_deg: Some(v), ..reading(Kind::Vee, 50.0, a, 3.0 + shown) });
            }
            direct_figures(&tube, &BTreeMap::new()).stations[0].clone()
        };
        let (sixty, ninety) = (at(60.0), at(90.0));
        assert!(sixty.ovality.is_none() && sixty.diameter_mm.is_none());
        let third = |s: &StationFit| s.lobes.iter().find(|l| l.0 == 3).expect("seen").1;
        assert!((third(&sixty) - 0.04).abs() < 1e-9 && (third(&ninety) - 0.04).abs() < 1e-9);
        assert!((ninety.ovality.expect("seen").difference() - 0.6).abs() < 1e-9);
    }

    #[test]
    fn a_tracing_is_told_about_the_centre_of_its_circle() {
        // a round outline seen from 4 mm off its centre is round
        let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
        for i in 0..36 {
            let a = f64::from(i) * 10.0;
            let along = 4.0 * a.to_radians().cos();
            let r = -along + (along * along + 12.7 * 12.7 - 16.0).sqrt();
            tube.readings.push(reading(Kind::Outline, 0.0, a, r));
        }
        let s = direct_figures(&tube, &BTreeMap::new()).stations[0].clone();
        assert!((s.diameter_mm.expect("seen").value - 25.4).abs() < 1e-9, "{s:?}");
        assert!(s.ovality.expect("seen").difference().abs() < 1e-9 && s.centre.is_none(), "{s:?}");
    }

    #[test]
    fn two_diameters_give_a_mean_but_no_ovality_and_no_bow() {
        let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
        tube.readings.push(reading(Kind::Diameter, 10.0, 0.0, 25.3));
        tube.readings.push(reading(Kind::Diameter, 10.0, 90.0, 25.5));
        let d = direct_figures(&tube, &BTreeMap::new());
        let m = d.stations[0].diameter_mm.expect("two widths at right angles");
        assert!((m.value - 25.4).abs() < 1e-9);
        assert!(d.stations[0].ovality.is_none() && d.bow_mm.is_none() && d.taper_mm_per_100mm.is_none());
    }

    /// Catches a centreline that goes from the axis of one instrument to that of another.
    #[test]
    fn centres_about_different_axes_are_not_joined() {
        let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
        for (rig, off, places) in [("one", 0.0, [10.0, 100.0, 190.0]), ("other", 0.7, [50.0, 120.0, 150.0])] {
            for z in places {
                for i in 0..8 {
                    let deg = 45.0 * f64::from(i);
                    let value = off * deg.to_radians().cos();
                    tube.readings.push(Reading { rig: rig.into(), ..reading(Kind::Runout, z, deg, value) });
                }
            }
        }
        let out = direct_figures(&tube, &BTreeMap::new());
        assert!(out.straightness.centres == 3 && out.bow_mm.expect("three centres").value < 1e-9, "{out:?}");
    }
}
