//! The readings file of a picture.

use super::named::NamedEnd;
use crate::domain::{Angle, ENDS_RIGS, Kind};
use crate::picture::ScaleFound;
use crate::readings::{Form, Separator, TableWriter, WriteError};

/// Step of the outline, degrees: what stands between two directions is in their means.
const OUTLINE_STEP_DEG: u32 = 5;
/// Step of the wall, degrees: it changes little round a tube.
const WALL_STEP_DEG: u32 = 15;
/// Standard deviation of an outline reading beyond what its pixels scatter, mm: bark torn by the saw, and an end that is not
/// square (2 deg off make it 0.06 % longer one way, 0.004 mm of the second lobe). Common practice, no source.
const OUTLINE_SD_MM: f64 = 0.03;
/// The same of a wall reading: the rim of a bore is torn and rounded more than the bark.
const WALL_SD_MM: f64 = 0.06;
/// Share of a pixel by which an edge may lie off all along a part of its girth.
const PIXEL_SHARE: f64 = 0.2;

/// What was written of one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    /// Readings of the outline.
    pub outlines: usize,
    /// Readings of the wall.
    pub walls: usize,
    /// Mean diameter, mm.
    pub diameter_mm: f64,
    /// Mean wall, mm; `None` where the bore is not clear.
    pub wall_mm: Option<f64>,
    /// Standard deviation written beside each outline reading, mm.
    pub sd_mm: f64,
}

/// The readings of a picture's ends as a file, and what of each end is in it. `stem` names the settings: every ring has its
/// own tick and its own point it was measured from.
///
/// # Errors
/// None with this version's columns: the type is the writer's.
pub fn readings_table(
    ends: &[(usize, &NamedEnd)],
    scale: &ScaleFound,
    stem: &str,
) -> Result<(String, Vec<Written>), WriteError> {
    let headers = ["tube", "kind", "z_mm", "angle_deg", "value_mm", "set", "sd_mm", "rig"];
    let mut table = TableWriter::new(Form::Readings, &headers, Separator::Comma)?;
    let rig = ENDS_RIGS[usize::from(!scale.is_checked())];
    let pixel_mm = 2.0 / (scale.scale.x + scale.scale.y);
    let mut written = Vec::with_capacity(ends.len());
    for (number, end) in ends {
        let ring = &end.ring;
        let rest = ring.bark.scatter_mm.hypot(PIXEL_SHARE * pixel_mm);
        let (sd, wall_sd) = (OUTLINE_SD_MM.hypot(rest), WALL_SD_MM.hypot(rest));
        let set = format!("{stem} {number}");
        let mut row = |kind: Kind, degrees: u32, value: f64, sd: f64| {
            let (z, degrees) = (end.z_mm.to_string(), degrees.to_string());
            let cells = [&end.name.tube, kind.word(), &z, &degrees, &fixed(value), &set, &fixed(sd), rig];
            table.row(&cells)
        };
        let (mut outlines, mut walls) = (0, Vec::new());
        for degrees in (0..360).step_by(OUTLINE_STEP_DEG as usize) {
            let on_picture = end.on_picture(Angle::from_degrees(f64::from(degrees))).radians();
            if let Some(radius) = ring.bark.clear_at(on_picture) {
                row(Kind::Outline, degrees, radius, sd)?;
                outlines += 1;
            }
        }
        for degrees in (0..360).step_by(WALL_STEP_DEG as usize) {
            let on_picture = end.on_picture(Angle::from_degrees(f64::from(degrees))).radians();
            let bore = ring.bore.as_ref().and_then(|b| b.clear_at(on_picture));
            if let Some((bark, bore)) = ring.bark.clear_at(on_picture).zip(bore) {
                row(Kind::Wall, degrees, bark - bore, wall_sd)?;
                walls.push(bark - bore);
            }
        }
        let mean = |v: &[f64]| (!v.is_empty()).then(|| v.iter().sum::<f64>() / v.len() as f64);
        written.push(Written {
            outlines,
            walls: walls.len(),
            diameter_mm: 2.0 * ring.bark.mean_mm(),
            wall_mm: mean(&walls),
            sd_mm: sd,
        });
    }
    Ok((table.finish(), written))
}

/// Micrometres are more than a picture shows.
fn fixed(mm: f64) -> String {
    format!("{mm:.4}")
}
