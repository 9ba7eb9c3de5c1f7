//! One station by itself: what the readings of one kind taken round it say, without any prior.

use super::geometry::Measured;
use super::instrument::vee_deg;
use super::roundness::{EllipseAt, Roundness, ellipse_of, roundness_of, section_points};
use super::rows::reading_sd_mm;
use super::vee::vee_gain;
use crate::domain::units::MM_PER_INCH;
use crate::domain::{Angle, Kind, Reading, Rig};
use crate::geometry::{
    Harmonic, Harmonics, Noise, Ovality, fit_circle_geometric, fit_diameter_harmonics, fit_harmonics,
};
use crate::numeric::summary::mean;
use std::collections::BTreeMap;

/// A lobe that a V-block shows at less than this share of its height is not seen by it: noise would be magnified fivefold.
const LEAST_GAIN: f64 = 0.2;
/// Directions at which a fitted section is searched for its widest and narrowest.
const SEARCH: u32 = 360;

/// A circle's centre and radius with their doubts, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircleAt {
    /// Centre, from the axis of the readings (of a tracing: from its point).
    pub x: Measured,
    /// Centre, from the axis of the readings (of a tracing: from its point).
    pub y: Measured,
    /// Radius.
    pub r: Measured,
    /// Root mean square distance of the readings from the circle.
    pub rms: f64,
}

/// What one kind of reading says at one station; `None` where it cannot see the quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct StationFit {
    /// Kind of reading; a ring of a scan is read as radii.
    pub kind: Kind,
    /// Name of the instrument; empty where none was given, and of a scan.
    pub rig: String,
    /// True for a ring of a scan.
    pub from_scan: bool,
    /// Place, mm from the index end.
    pub z_mm: f64,
    /// Number of readings, or of the patches of a scan.
    pub readings: usize,
    /// Least-squares circle (geometric distance), only from radius and outline readings.
    pub circle: Option<CircleAt>,
    /// Centre of the section from its first harmonic, mm from the axis of the readings.
    pub centre: Option<[Measured; 2]>,
    /// Mean diameter, mm.
    pub diameter_mm: Option<Measured>,
    /// Standard deviation of the error of size that all rings of a scan share, mm on the diameter: part of the doubt of
    /// `diameter_mm`, no part of that of a difference between two of them. 0 for readings.
    pub common_sd_mm: f64,
    /// Largest and smallest diameter of the fitted section; its three ovalities.
    pub ovality: Option<Ovality>,
    /// Doubt of the difference of the two, mm.
    pub ovality_sd_mm: Option<f64>,
    /// Direction of the largest diameter, degrees in [0, 180).
    pub ovality_deg: Option<f64>,
    /// Amplitudes of the lobes n >= 3 that these angles carry: (n, mm).
    pub lobes: Vec<(usize, f64)>,
    /// Reference circles of ISO 12181-1 and the roundness about each.
    pub roundness: Option<Roundness>,
    /// Ellipse of least distances.
    pub ellipse: Option<EllipseAt>,
}

impl StationFit {
    /// A station of which nothing is known yet.
    pub(super) fn new(kind: Kind, z_mm: f64, readings: usize) -> StationFit {
        StationFit {
            kind,
            rig: String::new(),
            from_scan: false,
            z_mm,
            readings,
            circle: None,
            centre: None,
            diameter_mm: None,
            common_sd_mm: 0.0,
            ovality: None,
            ovality_sd_mm: None,
            ovality_deg: None,
            lobes: Vec::new(),
            roundness: None,
            ellipse: None,
        }
    }

    /// What it was read with, in one word.
    #[must_use]
    pub fn word(&self) -> &'static str {
        if self.from_scan { "scan" } else { self.kind.word() }
    }

    /// False where the zero of the readings is unknown, and with it the size.
    #[must_use]
    pub fn knows_size(&self) -> bool {
        !matches!(self.kind, Kind::Runout | Kind::Vee)
    }

    /// Takes size, centre, ovality and lobes from the waves of the section.
    pub(super) fn take_harmonics(&mut self, h: &Harmonics) {
        let sizeless = !self.knows_size();
        // a caliper reads diameters, all else radii
        let size = if self.kind == Kind::Diameter { 1.0 } else { 2.0 };
        if let (Some(m), Some(sd), true) = (h.mean, h.mean_sd(), !sizeless) {
            self.diameter_mm = Some(Measured { value: size * m, sd: size * sd });
        }
        if let (Some([x, y]), Some([Some(sx), Some(sy)]), true) =
            (h.first(), h.order_sd(1), matches!(self.kind, Kind::Radius | Kind::Runout))
        {
            self.centre = Some([Measured { value: x, sd: sx }, Measured { value: y, sd: sy }]);
        }
        if h.order(2).and_then(|o| o.amplitude()).is_some() {
            let base = if sizeless { None } else { Some(size * h.mean.unwrap_or(0.0)) };
            self.take_ovality(h, size, base);
        }
        self.lobes = h.orders.iter().filter(|o| o.order >= 3).filter_map(|o| Some((o.order, o.amplitude()?))).collect();
    }

    /// Largest and smallest diameter about the mean one, `base`, mm.
    fn take_ovality(&mut self, h: &Harmonics, size: f64, base: Option<f64>) {
        // across any direction the even orders add and the odd ones cancel (to first order for radii)
        let even = |order: &&Harmonic| order.order.is_multiple_of(2);
        let across = |a: Angle| -> f64 { size * h.orders.iter().filter(even).map(|o| o.at(a)).sum::<f64>() };
        let turn: Vec<(f64, f64)> = (0..SEARCH)
            .map(|i| 180.0 * f64::from(i) / f64::from(SEARCH))
            .map(|deg| (deg, across(Angle::from_degrees(deg))))
            .collect();
        let largest = turn.iter().copied().fold((0.0, f64::MIN), |b, c| if c.1 > b.1 { c } else { b });
        let smallest = turn.iter().map(|t| t.1).fold(f64::MAX, f64::min);
        self.ovality_deg = Some(largest.0);
        // a dial knows no size: its ovality is a difference only, told about a nominal inch
        let base = base.unwrap_or(MM_PER_INCH);
        self.ovality = Ovality::new(base + largest.1, base + smallest).ok();
        // a quarter turn apart, waves of 4, 8, ... are equal and cancel; those of 2, 6, ... are opposite and double
        let opposite = h.orders.iter().map(|o| o.order).filter(|n| n % 4 == 2);
        let square = opposite.map(|n| h.order_sd(n).and_then(|s| Some(0.5 * (s[0]?.powi(2) + s[1]?.powi(2)))));
        self.ovality_sd_mm = square.sum::<Option<f64>>().map(|v| 2.0 * size * v.sqrt());
    }
}

/// Fits the readings of one kind round one place.
pub(super) fn station(kind: Kind, ring: &[&Reading], rigs: &BTreeMap<String, Rig>) -> StationFit {
    let angles: Vec<Angle> = ring.iter().map(|r| r.angle).collect();
    let values: Vec<f64> = ring.iter().map(|r| r.value_mm).collect();
    let sds: Vec<f64> = ring.iter().map(|r| reading_sd_mm(r, rigs)).collect();
    let mut fit = StationFit::new(kind, mean(&ring.iter().map(|r| r.z_mm).collect::<Vec<f64>>()), ring.len());
    fit.rig.clone_from(&ring[0].rig);
    if kind == Kind::Outline {
        outline(&mut fit, &angles, &values, &sds);
        return fit;
    }
    let harmonics = match kind {
        Kind::Diameter => fit_diameter_harmonics(&angles, &values, &sds, None),
        _ => fit_harmonics(&angles, &values, &sds, None),
    };
    let Ok(mut h) = harmonics else { return fit };
    if kind == Kind::Vee {
        let Some(v) = vee_deg(ring[0], rigs.get(&ring[0].rig)) else { return fit };
        h = through_gains(h, v.to_radians());
    }
    fit.take_harmonics(&h);
    if matches!(kind, Kind::Radius | Kind::Runout) {
        let centre = h.first().unwrap_or([0.0; 2]);
        let points = section_points(&angles, &values, centre, kind == Kind::Runout);
        if kind == Kind::Radius {
            fit.circle = points.as_deref().and_then(|p| circle(p, &sds));
            fit.ellipse = points.as_deref().and_then(|p| ellipse_of(p, &angles, mean(&sds)));
        }
        let round = points.and_then(|p| roundness_of(&p, &angles, mean(&sds), kind == Kind::Radius));
        fit.roundness = round.map(|r| r.by_a_foot(centre));
    }
    fit
}

/// A tracing is told about the centre of its circle: lobes seen from elsewhere are mixed with the offset.
fn outline(fit: &mut StationFit, angles: &[Angle], values: &[f64], sds: &[f64]) {
    let points: Vec<[f64; 2]> = angles
        .iter()
        .zip(values)
        .map(|(a, r)| {
            let (s, c) = a.sin_cos();
            [r * c, r * s]
        })
        .collect();
    fit.circle = circle(&points, sds);
    let Some(c) = fit.circle else { return };
    let from = [c.x.value, c.y.value];
    let places = points.iter().map(|p| [p[0] - from[0], p[1] - from[1]]);
    let (turned, about): (Vec<Angle>, Vec<f64>) =
        places.map(|[x, y]| (Angle::from_radians(y.atan2(x)), x.hypot(y))).unzip();
    if let Ok(h) = fit_harmonics(&turned, &about, sds, None) {
        fit.take_harmonics(&h);
    }
    fit.ellipse = ellipse_of(&points, &turned, mean(sds));
    fit.roundness = roundness_of(&points, &turned, mean(sds), true);
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

fn circle(points: &[[f64; 2]], sds: &[f64]) -> Option<CircleAt> {
    let fit = fit_circle_geometric(points, Noise::Stated(mean(sds))).ok()?;
    let cov = fit.covariance?;
    let m = |value: f64, i: usize| Measured { value, sd: cov[(i, i)].max(0.0).sqrt() };
    let [x, y] = fit.circle.centre;
    Some(CircleAt { x: m(x, 0), y: m(y, 1), r: m(fit.circle.radius, 2), rms: fit.rms_residual })
}
