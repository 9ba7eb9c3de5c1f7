//! Straightness along the tube (ISO 12780-1, minimum zone): of bark lines in their axial plane, and of the centreline.
//!
//! The zone of a bark line is measured along the height. Whatever is straight along a line takes no part in it: the
//! unknown zero of a dial, an axis that is not the tube's, the unknown height and slope of a straightedge. So radius,
//! runout and gap readings tell it alike. (Square to the zone it would be smaller by the square of half the slope: 2e-4 of
//! it for a slope of 1 in 50.)

use super::contact::SAME_STATION_MM;
use super::geometry::Measured;
use super::rows::reading_sd_mm;
use super::scan_rings::ScanRing;
use crate::domain::{Angle, Kind, Reading, Rig, Tube};
use crate::geometry::{minimum_zone_band, minimum_zone_cylinder};
use crate::numeric::summary::{count, mean};
use std::collections::BTreeMap;

/// Stations a line needs: two are always straight.
const LEAST_STATIONS: usize = 3;
/// Bark lines told from a scan, evenly round it.
const SCAN_LINES: u32 = 24;

/// Straightness of one bark line.
#[derive(Debug, Clone, PartialEq)]
pub struct LineStraightness {
    /// Kind of reading; the line of a scan is read as radii.
    pub kind: Kind,
    /// True for a line of a scan.
    pub from_scan: bool,
    /// The dial setting or straightedge placement; empty when none was given.
    pub set: String,
    /// Where the line runs, degrees in [0, 360).
    pub angle_deg: f64,
    /// Stations on it.
    pub stations: usize,
    /// First station, mm.
    pub from_mm: f64,
    /// Last station, mm.
    pub to_mm: f64,
    /// Width of the minimum zone, mm. Its doubt is at most the square root of two times that of a reading: the zone is
    /// held by two readings on one side, whose shares add to one, and one on the other. Noise also widens a zone.
    pub deviation_mm: Measured,
}

impl LineStraightness {
    /// What it was read with, in one word.
    #[must_use]
    pub fn word(&self) -> &'static str {
        if self.from_scan { "scan" } else { self.kind.word() }
    }
}

/// Straightness along one tube.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Straightness {
    /// Every bark line that can be told, by kind, set and angle.
    pub lines: Vec<LineStraightness>,
    /// Diameter of the thinnest cylinder round the section centres, mm.
    pub centreline_mm: Option<Measured>,
    /// Section centres it holds.
    pub centres: usize,
}

impl Straightness {
    /// The bark line that is farthest from straight; the first of equals.
    #[must_use]
    pub fn worst(&self) -> Option<&LineStraightness> {
        let larger = |a: &LineStraightness, b: &LineStraightness| a.deviation_mm.value > b.deviation_mm.value;
        self.lines.iter().reduce(|worst, l| if larger(l, worst) { l } else { worst })
    }
}

/// Every bark line of a tube along which one kind of reading was taken at three stations or more.
pub(super) fn bark_lines(tube: &Tube, rigs: &BTreeMap<String, Rig>, rings: &[ScanRing]) -> Vec<LineStraightness> {
    let mut groups: BTreeMap<(Kind, &str, &str, u32), Vec<&Reading>> = BTreeMap::new();
    for r in tube.readings.iter().filter(|r| matches!(r.kind, Kind::Radius | Kind::Runout | Kind::Gap | Kind::Lifted)) {
        groups.entry((r.kind, &r.rig, &r.set, half_degrees(r.angle))).or_default().push(r);
    }
    let mut out: Vec<LineStraightness> = groups
        .into_iter()
        .filter_map(|((kind, _, set, _), mut readings)| {
            readings.sort_by(|a, b| a.z_mm.total_cmp(&b.z_mm));
            let sds: Vec<f64> = readings.iter().map(|r| reading_sd_mm(r, rigs)).collect();
            let stations = readings.chunk_by(|a, b| b.z_mm - a.z_mm <= SAME_STATION_MM).map(|same| {
                let of = |get: fn(&Reading) -> f64| mean(&same.iter().map(|r| get(r)).collect::<Vec<f64>>());
                [of(|r| r.z_mm), of(|r| r.value_mm)]
            });
            let profile: Vec<[f64; 2]> = stations.collect();
            let angle_deg = readings[0].angle.wrapped().degrees();
            line(&profile, mean(&sds)).map(|l| LineStraightness { kind, set: set.to_string(), angle_deg, ..l })
        })
        .collect();
    out.extend(scan_lines(rings));
    out
}

/// Readings within the same half degree lie on one line.
fn half_degrees(angle: Angle) -> u32 {
    let half = crate::numeric::summary::to_index((2.0 * angle.wrapped().degrees()).round());
    u32::try_from(half % 720).unwrap_or(0)
}

/// Lines along the rings of a scan that go all round.
fn scan_lines(rings: &[ScanRing]) -> Vec<LineStraightness> {
    let whole: Vec<(f64, &crate::geometry::Harmonics, f64)> =
        rings.iter().filter_map(|r| Some((r.station.z_mm, r.whole.as_ref()?, r.sd_mm))).collect();
    let sd = mean(&whole.iter().map(|r| r.2).collect::<Vec<f64>>());
    (0..SCAN_LINES)
        .filter_map(|k| {
            let angle = Angle::from_degrees(360.0 * f64::from(k) / f64::from(SCAN_LINES));
            let profile: Vec<[f64; 2]> = whole.iter().map(|(z, curve, _)| [*z, curve.at(angle)]).collect();
            line(&profile, sd).map(|l| LineStraightness { from_scan: true, angle_deg: angle.degrees(), ..l })
        })
        .collect()
}

/// The minimum zone of one profile (z, height), in the order of z; `None` below three stations.
fn line(profile: &[[f64; 2]], sd: f64) -> Option<LineStraightness> {
    if profile.len() < LEAST_STATIONS {
        return None;
    }
    let band = minimum_zone_band(profile).ok()?;
    Some(LineStraightness {
        kind: Kind::Radius,
        from_scan: false,
        set: String::new(),
        angle_deg: 0.0,
        stations: profile.len(),
        from_mm: profile[0][0],
        to_mm: profile[profile.len() - 1][0],
        deviation_mm: Measured { value: band.width, sd: 2.0_f64.sqrt() * sd },
    })
}

/// Straightness of the line through section centres, each good to `sd` in a direction, mm: its doubt is at most the
/// square root of two of that, as for a bark line.
pub(super) fn of_centres(points: &[[f64; 3]], sds: &[f64]) -> Option<Measured> {
    if points.len() < LEAST_STATIONS {
        return None;
    }
    let zone = minimum_zone_cylinder(points).ok()?;
    let square = sds.iter().map(|s| s * s).sum::<f64>() / count(sds.len());
    Some(Measured { value: zone.diameter, sd: (2.0 * square).sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tube(kind: Kind, value: impl Fn(f64, f64) -> f64) -> Tube {
        let mut tube = Tube { length_mm: 200.0, ..Tube::default() };
        for z in [10.0, 60.0, 100.0, 140.0, 190.0] {
            for a in [0.0, 90.0, 180.0, 270.0] {
                tube.readings.push(Reading::new(kind, z, Angle::from_degrees(a), value(a, z)));
            }
        }
        tube
    }

    fn bent(z: f64) -> f64 {
        // 0.8 mm between the chord and the middle of stations at 10, 100 and 190
        0.8 * (1.0 - ((z - 100.0) / 90.0).powi(2))
    }

    #[test]
    fn a_bow_toward_the_index_line_shows_on_two_lines_and_not_across() {
        let lines = bark_lines(
            &tube(Kind::Runout, |a, z| bent(z) * a.to_radians().cos() - 3.0 + 0.01 * z),
            &BTreeMap::new(),
            &[],
        );
        assert_eq!(lines.len(), 4);
        for (l, want) in lines.iter().zip([0.8, 0.0, 0.8, 0.0]) {
            assert!((l.deviation_mm.value - want).abs() < 1e-12 && l.stations == 5, "{l:?}");
        }
        let s = Straightness { lines, ..Straightness::default() };
        assert!(s.worst().expect("four lines").angle_deg.abs() < 1e-9);
    }

    #[test]
    fn a_straightedge_laid_anyhow_tells_the_same() {
        let gap = tube(Kind::Lifted, |a, z| 0.7 - 0.004 * z - bent(z) * a.to_radians().cos());
        for (l, want) in bark_lines(&gap, &BTreeMap::new(), &[]).iter().zip([0.8, 0.0, 0.8, 0.0]) {
            assert!((l.deviation_mm.value - want).abs() < 1e-12, "{l:?}");
        }
    }

    #[test]
    fn two_stations_diameters_and_settings_that_change_tell_nothing() {
        let mut two = tube(Kind::Radius, |_, _| 12.7);
        two.readings.retain(|r| r.z_mm < 90.0);
        assert!(bark_lines(&two, &BTreeMap::new(), &[]).is_empty());
        assert!(bark_lines(&tube(Kind::Diameter, |_, _| 25.4), &BTreeMap::new(), &[]).is_empty());
        // one dial setting a station: heights along the line have nothing in common
        let mut set = tube(Kind::Runout, |_, z| z);
        set.readings.iter_mut().for_each(|r| r.set = format!("{}", r.z_mm));
        assert!(bark_lines(&set, &BTreeMap::new(), &[]).is_empty());
    }
}
