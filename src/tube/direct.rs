//! What is measured directly, station by station, without any prior: the figures a maker can check by hand.

use super::geometry::Measured;
use super::instrument::vee_gain;
use super::rows::reading_sd_mm;
use crate::domain::{Angle, Kind, Reading, Rig, Tube};
use crate::geometry::{Harmonics, Noise, Ovality, bow, fit_circle_geometric, fit_diameter_harmonics, fit_harmonics};
use crate::numeric::summary::{count, mean};
use std::collections::BTreeMap;

/// Readings closer than this along the tube belong to one station, mm.
const SAME_STATION_MM: f64 = 0.5;
/// Kinds that go round a station.
const SEEN_ROUND: [Kind; 5] = [Kind::Diameter, Kind::Radius, Kind::Runout, Kind::Vee, Kind::Outline];
/// A lobe that a V-block shows at less than this share of its height is not seen by it: noise would be magnified fivefold.
const LEAST_GAIN: f64 = 0.2;
/// Directions at which a fitted section is searched for its widest and narrowest.
const SEARCH: u32 = 360;

/// A circle's centre and radius with their doubts, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircleAt {
    /// Centre, from the axis of the readings.
    pub x: Measured,
    /// Centre, from the axis of the readings.
    pub y: Measured,
    /// Radius.
    pub r: Measured,
    /// Root mean square distance of the readings from the circle.
    pub rms: f64,
}

/// What one kind of reading says at one station; `None` where it cannot see the quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct StationFit {
    /// Kind of reading.
    pub kind: Kind,
    /// Place, mm from the index end.
    pub z_mm: f64,
    /// Number of readings.
    pub readings: usize,
    /// Least-squares circle (geometric distance), only from radius readings.
    pub circle: Option<CircleAt>,
    /// Centre of the section from its first harmonic, mm from the axis of the readings.
    pub centre: Option<[Measured; 2]>,
    /// Mean diameter, mm.
    pub diameter_mm: Option<Measured>,
    /// Largest and smallest diameter of the fitted section; its three ovalities.
    pub ovality: Option<Ovality>,
    /// Doubt of the difference of the two, mm.
    pub ovality_sd_mm: Option<f64>,
    /// Direction of the largest diameter, degrees in [0, 180).
    pub ovality_deg: Option<f64>,
    /// Amplitudes of the lobes n >= 3 that these angles carry: (n, mm).
    pub lobes: Vec<(usize, f64)>,
}

/// What the stations say together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DirectFigures {
    /// Stations by kind and place.
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
}

/// Fits every station of a tube by itself.
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
    let wall = tube.readings.iter().filter(|r| r.kind == Kind::Wall).min_by(|a, b| a.value_mm.total_cmp(&b.value_mm));
    let mut out = DirectFigures {
        least_wall: wall.map(|r| (r.value_mm, r.z_mm, r.angle.wrapped().degrees())),
        taper_mm_per_100mm: taper(&stations),
        stations,
        ..DirectFigures::default()
    };
    centreline(&mut out);
    out
}

fn station(kind: Kind, ring: &[&Reading], rigs: &BTreeMap<String, Rig>) -> StationFit {
    let angles: Vec<Angle> = ring.iter().map(|r| r.angle).collect();
    let values: Vec<f64> = ring.iter().map(|r| r.value_mm).collect();
    let sds: Vec<f64> = ring.iter().map(|r| reading_sd_mm(r, rigs)).collect();
    let z_mm = mean(&ring.iter().map(|r| r.z_mm).collect::<Vec<f64>>());
    let mut fit = StationFit {
        kind,
        z_mm,
        readings: ring.len(),
        circle: None,
        centre: None,
        diameter_mm: None,
        ovality: None,
        ovality_sd_mm: None,
        ovality_deg: None,
        lobes: Vec::new(),
    };
    let two_point = kind == Kind::Diameter;
    if matches!(kind, Kind::Radius | Kind::Outline) {
        fit.circle = circle(&angles, &values, &sds);
    }
    let harmonics = match kind {
        Kind::Diameter => fit_diameter_harmonics(&angles, &values, &sds, None),
        Kind::Outline => {
            // told about the centre of its circle: lobes seen from elsewhere are mixed with the offset
            let Some(c) = fit.circle else { return fit };
            let (turned, about) = about_point(&angles, &values, [c.x.value, c.y.value]);
            fit_harmonics(&turned, &about, &sds, None)
        }
        _ => fit_harmonics(&angles, &values, &sds, None),
    };
    let harmonics = if kind == Kind::Vee {
        let v = ring[0].vee_deg.or(rigs.get(&ring[0].rig).and_then(|r| r.vee_deg));
        let Some(v) = v else { return fit };
        harmonics.map(|h| through_gains(h, v.to_radians()))
    } else {
        harmonics
    };
    let sizeless = matches!(kind, Kind::Runout | Kind::Vee);
    let Ok(h) = harmonics else { return fit };
    let size = if two_point { 1.0 } else { 2.0 };
    if let (Some(m), Some(sd), true) = (h.mean, h.mean_sd(), !sizeless) {
        fit.diameter_mm = Some(Measured { value: size * m, sd: size * sd });
    }
    if let (Some([x, y]), Some([Some(sx), Some(sy)]), false) =
        (h.first(), h.order_sd(1), !matches!(kind, Kind::Radius | Kind::Runout))
    {
        fit.centre = Some([Measured { value: x, sd: sx }, Measured { value: y, sd: sy }]);
    }
    if h.order(2).and_then(|o| o.amplitude()).is_some() {
        // across any direction the even orders add and the odd ones cancel (to first order for radii)
        let across = |a: Angle| {
            let even = |order: &crate::geometry::Harmonic| order.order.is_multiple_of(2);
            let terms = h.orders.iter().filter(|o| even(o)).map(|o| {
                let (s, c) = (count(o.order) * a.radians()).sin_cos();
                o.cos.unwrap_or(0.0) * c + o.sin.unwrap_or(0.0) * s
            });
            size * (terms.sum::<f64>() + if sizeless { 0.0 } else { h.mean.unwrap_or(0.0) })
        };
        let turn: Vec<(f64, f64)> = (0..SEARCH)
            .map(|i| 180.0 * f64::from(i) / f64::from(SEARCH))
            .map(|deg| (deg, across(Angle::from_degrees(deg))))
            .collect();
        let largest = turn.iter().copied().fold((0.0, f64::MIN), |b, c| if c.1 > b.1 { c } else { b });
        let smallest = turn.iter().map(|t| t.1).fold(f64::MAX, f64::min);
        fit.ovality_deg = Some(largest.0);
        // a dial knows no size: its ovality is a difference only, told about a nominal inch
        let base = if sizeless { crate::domain::units::MM_PER_INCH } else { 0.0 };
        fit.ovality = Ovality::new(base + largest.1, base + smallest).ok();
        fit.ovality_sd_mm = h.order_sd(2).and_then(|s| Some(2.0 * size * 0.5_f64.sqrt() * s[0]?.hypot(s[1]?)));
    }
    fit.lobes = h.orders.iter().filter(|o| o.order >= 3).filter_map(|o| Some((o.order, o.amplitude()?))).collect();
    fit
}

/// The same places seen from `from`, relative to where they were seen from.
fn about_point(angles: &[Angle], radii: &[f64], from: [f64; 2]) -> (Vec<Angle>, Vec<f64>) {
    let places = angles.iter().zip(radii).map(|(a, r)| {
        let (s, c) = a.sin_cos();
        [r * c - from[0], r * s - from[1]]
    });
    places.map(|[x, y]| (Angle::from_radians(y.atan2(x)), x.hypot(y))).unzip()
}

/// Lobes of the section from the lobes of summit readings over a V-block (included angle `v`, radians): divided by their
/// gains; what the block hardly shows is not seen.
fn through_gains(mut h: Harmonics, v: f64) -> Harmonics {
    h.mean = None;
    for (k, order) in h.orders.iter_mut().enumerate() {
        let gain = vee_gain(order.order, v);
        if gain.abs() < LEAST_GAIN {
            (order.cos, order.sin) = (None, None);
            continue;
        }
        order.cos = order.cos.map(|c| c / gain);
        order.sin = order.sin.map(|s| s / gain);
        for i in [1 + 2 * k, 2 + 2 * k] {
            h.covariance.row_mut(i).unscale_mut(gain);
            h.covariance.column_mut(i).unscale_mut(gain);
        }
    }
    h
}

fn circle(angles: &[Angle], radii: &[f64], sds: &[f64]) -> Option<CircleAt> {
    let points: Vec<[f64; 2]> = angles
        .iter()
        .zip(radii)
        .map(|(a, r)| {
            let (s, c) = a.sin_cos();
            [r * c, r * s]
        })
        .collect();
    let fit = fit_circle_geometric(&points, Noise::Stated(mean(sds))).ok()?;
    let cov = fit.covariance?;
    let m = |value: f64, i: usize| Measured { value, sd: cov[(i, i)].max(0.0).sqrt() };
    let [x, y] = fit.circle.centre;
    Some(CircleAt { x: m(x, 0), y: m(y, 1), r: m(fit.circle.radius, 2), rms: fit.rms_residual })
}

/// Centreline through the stations of the kind that has most of them with a centre.
fn centreline(out: &mut DirectFigures) {
    let of_kind = |kind: Kind| -> Vec<([f64; 3], f64)> {
        let rings = out.stations.iter().filter(|s| s.kind == kind);
        rings
            .filter_map(|s| s.centre.map(|[x, y]| ([x.value, y.value, s.z_mm], 0.5_f64.sqrt() * x.sd.hypot(y.sd))))
            .collect()
    };
    let (radius, runout) = (of_kind(Kind::Radius), of_kind(Kind::Runout));
    let mut line = if radius.len() >= runout.len() { radius } else { runout };
    line.sort_by(|a, b| a.0[2].total_cmp(&b.0[2]));
    if line.len() < 3 {
        return;
    }
    let points: Vec<[f64; 3]> = line.iter().map(|l| l.0).collect();
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

/// Weighted slope of the diameters along the tube.
fn taper(stations: &[StationFit]) -> Option<Measured> {
    let points: Vec<(f64, Measured)> = stations.iter().filter_map(|s| s.diameter_mm.map(|d| (s.z_mm, d))).collect();
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
    use super::*;
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
}
