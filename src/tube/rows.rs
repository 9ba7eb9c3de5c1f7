//! Readings made ready for the equations: what was read, where, how surely, and which unknowns of the measuring it holds.

use super::instrument::{Probe, Unknown};
use super::rounding::{COARSE, Site};
use crate::domain::{Angle, Kind, Reading, Rig, Scan, ScanWall};
use crate::geometry::fit_circle_taubin;
use std::collections::BTreeMap;

/// One reading ready for the equations.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) index: Option<usize>,
    pub(super) probe: Probe,
    pub(super) z_mm: f64,
    pub(super) value: f64,
    pub(super) sd: f64,
    /// Half the step of a coarse instrument; 0 where the step is fine enough to count as noise.
    pub(super) half_step: f64,
    pub(super) nuisance: Vec<(usize, f64)>,
    /// Unknowns that turn its direction, radians.
    pub(super) turn: Vec<usize>,
    /// Radius of the foot of a dial, mm (see [`crate::domain::Rig::foot_mm`]); `None`: the height of the bark line.
    pub(super) foot: Option<f64>,
    /// What holds by construction and is no reading: it is never weighed.
    pub(super) held: bool,
}

impl Row {
    /// A reading with its instrument's noise taken `louder` times.
    pub(super) fn of(index: usize, r: &Reading, probe: Probe, rig: Option<&Rig>, louder: f64) -> Row {
        let (sd, step) = noise_mm(r, rig);
        let sd = sd * louder;
        let coarse = step > COARSE * sd;
        let sd = if coarse { sd } else { (sd * sd + step * step / 12.0).sqrt() };
        let half_step = if coarse { step / 2.0 } else { 0.0 };
        Row {
            index: Some(index),
            probe,
            z_mm: r.z_mm,
            // a feeler goes in or it does not: a gap is rounded down to the leaf
            value: r.value_mm + if r.kind.is_gap() { step / 2.0 } else { 0.0 },
            sd,
            half_step,
            nuisance: Vec::new(),
            turn: Vec::new(),
            foot: rig.and_then(Rig::foot_mm).filter(|_| matches!(r.kind, Kind::Radius | Kind::Runout)),
            held: false,
        }
    }

    /// Standard deviation of one reading, a coarse step by its rectangle's variance.
    pub(super) fn whole_sd(&self) -> f64 {
        (self.sd * self.sd + self.half_step * self.half_step / 3.0).sqrt()
    }

    /// What it says before any fit.
    pub(super) fn site(&self) -> Site {
        Site::normal(self.value, self.whole_sd().powi(2))
    }

    /// How far the reading is from `predicted` (beyond its interval, where it is one), in standard deviations.
    pub(super) fn departure(&self, predicted: f64) -> f64 {
        let off = self.value - predicted;
        off.signum() * (off.abs() - self.half_step).max(0.0) / self.sd
    }
}

/// What a patch of a scan involves besides the surface: the scan's axis, which is only nearly the tube's, and the error
/// of size common to the whole scan. `t` is the place along the tube from 0 to 1.
pub(super) fn scan_unknowns(t: f64, angle: Angle) -> [(Unknown, f64); 5] {
    let (s, c) = angle.sin_cos();
    // radius readings of a rig that is itself called so would share the axis; no maker writes the brackets
    let axis = |end, part| Unknown::Axis(Kind::Radius, "(scan)".to_string(), end, part);
    [
        (axis(0, 0), (1.0 - t) * c),
        (axis(0, 1), (1.0 - t) * s),
        (axis(1, 0), t * c),
        (axis(1, 1), t * s),
        (Unknown::ScanSize, 1.0),
    ]
}

/// Patches of a scan as radii.
pub(super) fn scan_rows(scan: &Scan, length_mm: f64, names: &BTreeMap<Unknown, usize>) -> Vec<Row> {
    let turn: Vec<usize> = names.get(&Unknown::IndexLine).copied().into_iter().collect();
    let places = scan_unknowns(0.0, Angle::ZERO).map(|(u, _)| names[&u]);
    let cells = scan.unrolled.iter().flat_map(|u| &u.cells);
    cells
        .map(|c| {
            let factors = scan_unknowns(c.z_mm / length_mm, c.angle);
            let nuisance = places.iter().zip(&factors).map(|(&at, (_, f))| (at, *f)).collect();
            let (z_mm, value, sd) = (c.z_mm, c.height_mm, c.sd_mm);
            Row {
                index: None,
                probe: Probe::new(Kind::Radius, c.angle, 0.0),
                z_mm,
                value,
                sd,
                half_step: 0.0,
                nuisance,
                turn: turn.clone(),
                foot: None,
                held: false,
            }
        })
        .collect()
}

/// What a patch of wall of a scan involves besides the wall field: the error common to the whole scan, and lobes that the
/// field does not carry.
pub(super) fn scan_wall_unknowns(angle: Angle) -> [(Unknown, f64); 5] {
    let lobe = |n: u8| (f64::from(n) * angle.radians()).sin_cos();
    let ((s2, c2), (s3, c3)) = (lobe(2), lobe(3));
    [
        (Unknown::ScanWall, 1.0),
        (Unknown::ScanWallLobe(2, 0), c2),
        (Unknown::ScanWallLobe(2, 1), s2),
        (Unknown::ScanWallLobe(3, 0), c3),
        (Unknown::ScanWallLobe(3, 1), s3),
    ]
}

/// Patches of wall of a scan.
pub(super) fn scan_wall_rows(walls: &[ScanWall], names: &BTreeMap<Unknown, usize>) -> Vec<Row> {
    walls
        .iter()
        .map(|w| Row {
            index: None,
            probe: Probe::new(Kind::Wall, w.angle, 0.0),
            z_mm: w.z_mm,
            value: w.wall_mm,
            sd: w.sd_mm,
            half_step: 0.0,
            turn: Vec::new(),
            nuisance: scan_wall_unknowns(w.angle).iter().map(|(u, factor)| (names[u], *factor)).collect(),
            foot: None,
            held: false,
        })
        .collect()
}

/// Standard deviation of a reading taken by itself: its own, else its rig's, else its kind's; a resolution adds its
/// rectangle's variance, step^2 / 12 (JCGM 100:2008, F.2.2.1).
#[must_use]
pub(super) fn reading_sd_mm(reading: &Reading, rigs: &BTreeMap<String, Rig>) -> f64 {
    let (sd, step) = noise_mm(reading, rigs.get(&reading.rig));
    (sd * sd + step * step / 12.0).sqrt()
}

/// Standard deviation of a reading before it is rounded, and the step it is rounded to (0: none), in its unit.
pub(super) fn noise_mm(reading: &Reading, rig: Option<&Rig>) -> (f64, f64) {
    let sd = reading.sd_mm.or(rig.and_then(|r| r.sd_mm)).unwrap_or(reading.kind.default_sd_mm());
    let step = rig.and_then(|r| r.resolution_mm).or(reading.step_mm).unwrap_or(0.0);
    (sd.max(1e-6), step.max(0.0))
}

/// Fibres go round and round: every value is moved by whole turns to within half a turn of the one before it.
pub(super) fn unwrap_fibres(rows: &mut [Row]) {
    let mut fibres: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate().filter(|(_, r)| r.probe.kind == Kind::Grain) {
        fibres.entry(row.nuisance.first().map_or(0, |n| n.0)).or_default().push(i);
    }
    for list in fibres.values_mut() {
        list.sort_by(|&i, &j| rows[i].z_mm.total_cmp(&rows[j].z_mm));
        for pair in list.windows(2) {
            let turns = ((rows[pair[1]].value - rows[pair[0]].value) / 360.0).round();
            rows[pair[1]].value -= 360.0 * turns;
        }
    }
}

/// Where a tracing was probably measured from, relative to the centre of the circle nearest to it; [0, 0] when no circle
/// fits.
pub(super) fn tracing_point(rows: &[&Row]) -> [f64; 2] {
    let points: Vec<[f64; 2]> = rows
        .iter()
        .map(|r| {
            let (s, c) = r.probe.angle.sin_cos();
            [r.value * c, r.value * s]
        })
        .collect();
    fit_circle_taubin(&points).map_or([0.0; 2], |c| [-c.centre[0], -c.centre[1]])
}
