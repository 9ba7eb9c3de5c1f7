//! The figures a maker knows a tube by, from points of the true surface.

use super::shape::TrueTube;
use super::{mean, whole};
use std::f64::consts::PI;

/// True figures of a tube.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Figures {
    /// Twice the mean radius, averaged along the tube, mm.
    pub diameter_mm: f64,
    /// Widest minus narrowest of the average section, mm.
    pub ovality_mm: f64,
    /// Direction of the widest, degrees in [0, 180).
    pub ovality_deg: f64,
    /// Largest distance of the centreline from its end-to-end chord, mm.
    pub bow_mm: f64,
    /// Direction toward which it bulges there, degrees in [0, 360).
    pub bow_deg: f64,
    /// Change of the mean diameter by a line fitted along the tube, mm per 100 mm.
    pub taper_mm: f64,
}

/// The figures, from `stations` places along the tube.
pub fn figures(tube: &TrueTube, stations: usize) -> Figures {
    let z: Vec<f64> = (0..stations).map(|i| tube.length_mm * i as f64 / (stations - 1) as f64).collect();
    let sizes: Vec<f64> = z.iter().map(|&z| 2.0 * tube.mean_radius(z)).collect();
    let rings: Vec<_> = z.iter().map(|&z| (tube.ring)(z)).collect();
    // the average section in steps of a quarter degree
    let section: Vec<f64> = (0..1440)
        .map(|i| mean(&rings.iter().map(|r| r((f64::from(i) / 4.0).to_radians())).collect::<Vec<f64>>()))
        .collect();
    let width = |deg: f64| {
        let a = deg.to_radians();
        let reach =
            |a: f64| (0..1440).map(|i| section[i] * ((i as f64 / 4.0).to_radians() - a).cos()).fold(f64::MIN, f64::max);
        reach(a) + reach(a + PI)
    };
    let widths: Vec<f64> = (0..360).map(|i| width(f64::from(i) / 2.0)).collect();
    let top = (0..360).max_by(|&i, &j| widths[i].total_cmp(&widths[j])).unwrap_or(0);
    let low = widths.iter().copied().fold(f64::MAX, f64::min);
    let line: Vec<[f64; 2]> = z.iter().map(|&z| (tube.axis)(z)).collect();
    let (first, last) = (line[0], line[line.len() - 1]);
    let off = |j: usize| {
        let t = z[j] / tube.length_mm;
        [0, 1].map(|k| line[j][k] - first[k] - t * (last[k] - first[k]))
    };
    let far = (0..z.len()).max_by(|&i, &j| norm(off(i)).total_cmp(&norm(off(j)))).unwrap_or(0);
    let (mz, ms) = (mean(&z), mean(&sizes));
    let slope = z.iter().zip(&sizes).map(|(z, s)| (z - mz) * (s - ms)).sum::<f64>()
        / z.iter().map(|z| (z - mz) * (z - mz)).sum::<f64>();
    Figures {
        diameter_mm: ms,
        ovality_mm: widths[top] - low,
        ovality_deg: top as f64 / 2.0,
        bow_mm: norm(off(far)),
        bow_deg: off(far)[1].atan2(off(far)[0]).to_degrees().rem_euclid(360.0),
        taper_mm: 100.0 * slope,
    }
}

fn norm(v: [f64; 2]) -> f64 {
    v[0].hypot(v[1])
}

/// Value at share `p` of a list, linear between its ordered members.
pub fn quantile(values: &[f64], p: f64) -> f64 {
    let mut v = values.to_vec();
    v.sort_by(f64::total_cmp);
    let at = p * (v.len() - 1) as f64;
    let i = whole(at.floor());
    v[i] + (at - i as f64) * (v[(i + 1).min(v.len() - 1)] - v[i])
}
