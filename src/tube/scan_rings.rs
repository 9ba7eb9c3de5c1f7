//! Stations of a scan: rings of its patches at even places along the tube, each told as a station of radii.
//!
//! A ring takes the patches within 4 mm of its place (8 mm where a thin scan leaves a gap), moved there along the local
//! slope of the bark (of size and centreline, from the patches within 12 mm), and fits up to eight waves a turn to them, as
//! far as they stand out of the noise. Finer waves are bark texture and the scanner's noise, which would otherwise widen
//! every zone: with a hundred patches of 0.03 mm by about 0.15 mm. Roundness and ellipse are those of the fitted curve,
//! told only where the patches go all round: see `roundness`.
//!
//! The doubt of a patch is the scan's own scatter; where a ring scatters more than that says, its doubts are widened to
//! match. The error of size common to the scan is part of every diameter's doubt.

use super::geometry::Measured;
use super::roundness::{ellipse_of, goes_round, roundness_of, section_points};
use super::station::StationFit;
use crate::domain::{Angle, Kind, Scan, ScanCell, Tube};
use crate::geometry::{Harmonics, fit_harmonics, highest_carried};
use crate::numeric::linear::LinearProblem;
use crate::numeric::summary::{count, to_index};

/// Distance between rings, about, mm.
const APART_MM: f64 = 20.0;
/// Patches nearer than this to a ring's place are in it, mm.
const HALF_WIDTH_MM: f64 = 4.0;
/// Half widths tried in turn, mm, until the patches of a thin scan go all round.
const HALF_WIDTHS_MM: [f64; 3] = [HALF_WIDTH_MM, 6.0, 8.0];
/// Patches nearer than this tell the slope there, mm.
const SLOPE_REACH_MM: f64 = 12.0;
/// Most waves a turn; the whole tube is believed in one more.
const MOST_WAVES: usize = 8;
/// Waves always fitted where the patches carry them: oval and triangle.
const LEAST_WAVES: usize = 3;
/// A wave stands out when it is higher than this many sd: noise alone is so in one of a hundred (exp(-3^2 / 2)).
const CLEAR_SD: f64 = 3.0;
/// Waves that stand for the section while the slope is found.
const SLOPE_WAVES: usize = 4;
/// Fewest patches of a ring that goes all round.
const LEAST_PATCHES: usize = 12;
/// Places round the fitted curve at which roundness is told, every 5 degrees.
const PLACES: u32 = 72;

/// One ring.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ScanRing {
    pub(super) station: StationFit,
    /// Its curve, where the patches go all round.
    pub(super) whole: Option<Harmonics>,
    /// Doubt of one place of the curve, mm, without the error of size.
    pub(super) sd_mm: f64,
}

/// The rings of a tube's scan; none without one.
pub(super) fn scan_rings(tube: &Tube) -> Vec<ScanRing> {
    let Some(scan) = &tube.scan else { return Vec::new() };
    let cells: &[ScanCell] = scan.unrolled.as_ref().map_or(&[], |u| &u.cells);
    places(cells).into_iter().filter_map(|z| ring(scan, cells, z)).collect()
}

/// Even places from one end of the scan to the other: both ends and at least the middle.
fn places(cells: &[ScanCell]) -> Vec<f64> {
    let first = cells.iter().map(|c| c.z_mm).fold(f64::INFINITY, f64::min) + HALF_WIDTH_MM;
    let last = cells.iter().map(|c| c.z_mm).fold(f64::NEG_INFINITY, f64::max) - HALF_WIDTH_MM;
    let span = last - first;
    if !span.is_finite() {
        return Vec::new();
    }
    if span < 4.0 * HALF_WIDTH_MM {
        return vec![0.5 * (first + last)];
    }
    let steps = to_index((span / APART_MM).round()).max(2);
    (0..=steps).map(|k| first + span * count(k) / count(steps)).collect()
}

fn ring(scan: &Scan, cells: &[ScanCell], z: f64) -> Option<ScanRing> {
    let within = |reach: f64| cells.iter().filter(move |c| (c.z_mm - z).abs() <= reach);
    let angles_of = |near: &[&ScanCell]| near.iter().map(|c| c.angle).collect::<Vec<Angle>>();
    let round = |near: &Vec<&ScanCell>| near.len() >= LEAST_PATCHES && goes_round(&angles_of(near));
    let found = HALF_WIDTHS_MM.iter().map(|reach| within(*reach).collect()).find(round);
    let whole = found.is_some();
    let near: Vec<&ScanCell> = found.unwrap_or_else(|| within(HALF_WIDTH_MM).collect());
    let angles = angles_of(&near);
    let waves = highest_carried(&angles, MOST_WAVES);
    if waves == 0 {
        return None;
    }
    let slope = slope(&within(SLOPE_REACH_MM).collect::<Vec<_>>(), z);
    let heights: Vec<f64> = near
        .iter()
        .map(|c| {
            let (s, cos) = c.angle.sin_cos();
            c.height_mm - (c.z_mm - z) * (slope[0] + slope[1] * cos + slope[2] * s)
        })
        .collect();
    let stated: Vec<f64> = near.iter().map(|c| c.sd_mm).collect();
    let widened = |waves: usize| {
        let first = fit_harmonics(&angles, &heights, &stated, Some(waves)).ok()?;
        let free = near.len().saturating_sub(first.rank).max(1);
        let wider = (first.chi_square / count(free)).max(1.0).sqrt();
        let sds: Vec<f64> = stated.iter().map(|sd| sd * wider).collect();
        fit_harmonics(&angles, &heights, &sds, Some(waves)).ok()
    };
    let all = widened(waves)?;
    let h = match waves_that_stand_out(&all) {
        n if n < waves => widened(n)?,
        _ => all,
    };
    let mut station = StationFit { from_scan: true, ..StationFit::new(Kind::Radius, z, near.len()) };
    let sd_mm = curve_sd(&h);
    if whole {
        station.take_harmonics(&h);
        station.common_sd_mm = 2.0 * scan.accuracy_mm;
        station.diameter_mm = station.diameter_mm.map(|d| Measured { sd: d.sd.hypot(station.common_sd_mm), ..d });
        about_curve(&mut station, &h, sd_mm);
    }
    Some(ScanRing { station, whole: whole.then_some(h), sd_mm })
}

/// The highest wave that stands out of its noise; three at least, where the patches carry them.
fn waves_that_stand_out(h: &Harmonics) -> usize {
    let clear = |n: usize| -> Option<bool> {
        let [cos, sin] = h.order_sd(n)?;
        Some(h.order(n)?.amplitude()? > CLEAR_SD * (0.5 * (cos?.powi(2) + sin?.powi(2))).sqrt())
    };
    let least = LEAST_WAVES.min(h.highest());
    (least..=h.highest()).rev().find(|n| clear(*n) == Some(true)).unwrap_or(least)
}

/// Slopes of the bark at a place: of the mean radius and of the centreline toward x and y, mm per mm; zero where the patches
/// are too few to tell.
fn slope(cells: &[&ScanCell], z: f64) -> [f64; 3] {
    // waves, then slopes, then the centreline's bend, which one-sided patches at an end would take for a slope
    const UNKNOWNS: usize = 1 + 2 * SLOPE_WAVES + 3 + 2;
    const SLOPES: usize = 1 + 2 * SLOPE_WAVES;
    if cells.len() < 2 * UNKNOWNS {
        return [0.0; 3];
    }
    let mut problem = LinearProblem::new(UNKNOWNS);
    for c in cells {
        let mut row = [1.0; UNKNOWNS];
        for n in 1..=SLOPE_WAVES {
            let (s, cos) = (count(n) * c.angle.radians()).sin_cos();
            (row[2 * n - 1], row[2 * n]) = (cos, s);
        }
        // in units of the reach, so that all columns are of one size
        let t = (c.z_mm - z) / SLOPE_REACH_MM;
        row[SLOPES] = t;
        row[SLOPES + 1] = t * row[1];
        row[SLOPES + 2] = t * row[2];
        row[SLOPES + 3] = t * t * row[1];
        row[SLOPES + 4] = t * t * row[2];
        problem.add(&row, c.height_mm, 1.0 / c.sd_mm);
    }
    match problem.solve().filter(|f| f.rank == UNKNOWNS) {
        Some(fit) => [0, 1, 2].map(|i| fit.least_norm[SLOPES + i] / SLOPE_REACH_MM),
        None => [0.0; 3],
    }
}

/// Doubt of one place of a curve, mm: the mean over the turn, of all but its mean.
fn curve_sd(h: &Harmonics) -> f64 {
    let waves = (1..h.covariance.nrows()).map(|i| h.covariance[(i, i)]).sum::<f64>();
    (0.5 * waves).max(0.0).sqrt()
}

/// Roundness and ellipse of the fitted curve.
fn about_curve(station: &mut StationFit, h: &Harmonics, sd: f64) {
    let Some(centre) = h.first() else { return };
    let angles: Vec<Angle> =
        (0..PLACES).map(|k| Angle::from_degrees(360.0 * f64::from(k) / f64::from(PLACES))).collect();
    let heights: Vec<f64> = angles.iter().map(|a| h.at(*a)).collect();
    if h.highest() < LEAST_WAVES {
        return;
    }
    let Some(points) = section_points(&angles, &heights, centre, false) else { return };
    station.roundness = roundness_of(&points, &angles, sd, true);
    // places of one curve are not independent: together they know no more than its coefficients
    let dependent = (count(angles.len()) / count(1 + 2 * h.highest())).sqrt();
    station.ellipse = ellipse_of(&points, &angles, sd * dependent).map(|mut e| {
        let size = 0.5 * station.common_sd_mm;
        for axis in [&mut e.semi_major_mm, &mut e.semi_minor_mm] {
            axis.sd = axis.sd.hypot(size);
        }
        e
    });
}
