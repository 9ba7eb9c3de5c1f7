//! Each kind of reading as a functional of the surface. To add a kind: its word in `domain::Kind`, its value and
//! gradient in `surface_value`, its unknown zeros and slopes in `unknowns`.

use super::arc_fit::arc_diameter;
use super::outline::traced_radius;
use super::section::Section;
use crate::domain::{Angle, Kind, Reading, Rig};
use std::f64::consts::PI;

/// An unknown that belongs to the measuring, not to the tube.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unknown {
    /// Zero of one dial setting, or start of one fibre: (kind, rig, set), mm or degrees.
    Zero(Kind, String, String),
    /// Height of one straightedge placement at mid-length: (gap or lifted, rig, set), mm.
    EdgeHeight(Kind, String, String),
    /// Rise of one straightedge placement over the length: (gap or lifted, rig, set), mm.
    EdgeRise(Kind, String, String),
    /// Height of the bark at a post of a bar's line (see `bridge`): (line, number), mm.
    Post(String, u32),
    /// Offset of the turning axis from the frame, for one kind and rig: end 0 or 1, component x (0) or y (1); mm.
    Axis(Kind, String, u8, u8),
    /// Error of the radius common to a whole scan, mm; its sd is the scan's stated accuracy.
    ScanSize,
    /// Error of the wall common to a whole scan, mm; its sd is twice the scan's stated accuracy, since a spray or a bloom
    /// lies on bark and bore alike.
    ScanWall,
    /// Lobe n of the wall at the places where a scan saw it, beside the once-round change that the fields hold: (n),
    /// component cos (0) or sin (1); mm.
    ScanWallLobe(u8, u8),
    /// The point a tracing was measured from, relative to the section's own centre: (rig, set), component x (0) or y (1); mm.
    Tracing(String, String, u8),
    /// How far the pencil line of the tube lies from where its splits are counted, radians.
    IndexLine,
    /// How far one setting of an instrument was turned against the index line: (kind, rig, set), radians.
    Setting(Kind, String, String),
    /// How far one line along the tube, on which an instrument was read, lies from its angle: (kind, rig, tenths of a
    /// degree), radians.
    Line(Kind, String, i64),
    /// Error of zero that an instrument has on every tube of the lot: (kind, rig), mm.
    Bias(Kind, String),
    /// Error of scale that an instrument has on every tube of the lot, as a share of what it reads: (kind, rig). Carried
    /// where its rig states one: over sizes as alike as those of one lot it hardly differs from an error of zero.
    Scale(Kind, String),
}

/// How far a line drawn by hand, a setting, or the index line lies from where it should, one sd; common practice, no
/// source: a millimetre of pencil and eye on a 25 mm tube is 4.6 deg round, and care leaves a quarter of that.
pub const BY_HAND_DEG: f64 = 1.0;
/// More lines than this round one tube are not drawn by hand, and no error of theirs is carried.
pub(super) const MOST_LINES: usize = 36;

impl Unknown {
    /// True of what is the same on every tube of a lot.
    pub(super) fn is_common(&self) -> bool {
        matches!(self, Unknown::Bias(..) | Unknown::Scale(..))
    }

    /// Prior standard deviation, mm (degrees for a fibre, radians for an angle, a share for a scale): how far off it could reasonably be. Weak
    /// on purpose. What a rig states stands before it (see [`Unknown::sd_with`]).
    #[must_use]
    pub fn prior_sd_mm(&self) -> f64 {
        match self {
            Unknown::IndexLine | Unknown::Setting(..) | Unknown::Line(..) => BY_HAND_DEG.to_radians(),
            // half a division of a hand caliper (0.05 mm), rounded down; values from memory
            Unknown::Bias(Kind::Diameter | Kind::Radius, _) => 0.02,
            Unknown::Bias(Kind::Arc, _) => 0.1,
            // how truly a dial is set to 0 on a flat: a division of an ordinary one; value from memory
            Unknown::Bias(Kind::Bridge, _) => 0.01,
            Unknown::Bias(..) => 0.03,
            Unknown::Scale(..) => 0.0,
            Unknown::Zero(..) | Unknown::Post(..) => 100.0,
            Unknown::EdgeHeight(..) => 20.0,
            Unknown::EdgeRise(..) | Unknown::Axis(..) => 5.0,
            Unknown::Tracing(..) => 10.0,
            Unknown::ScanSize => crate::domain::ScanRule::default().accuracy_mm,
            Unknown::ScanWall => 2.0 * crate::domain::ScanRule::default().accuracy_mm,
            // common practice, no source: a bore is grown somewhat rounder than the bark
            Unknown::ScanWallLobe(2, _) => 0.10,
            Unknown::ScanWallLobe(..) => 0.04,
        }
    }

    /// The same with what the rig states of its angles and its zero.
    #[must_use]
    pub fn sd_with(&self, rig: Option<&Rig>) -> f64 {
        let stated = match self {
            Unknown::Setting(..) => rig.and_then(|r| r.setting_deg).map(f64::to_radians),
            Unknown::Line(..) => rig.and_then(|r| r.line_deg).map(f64::to_radians),
            Unknown::Bias(..) => rig.and_then(|r| r.bias_mm.or(r.resolution_mm.map(|s| s / 2.0))),
            Unknown::Scale(..) => rig.and_then(|r| r.scale_percent).map(|p| p / 100.0),
            _ => None,
        };
        // a stated 0 is taken as far below anything a reading shows
        stated.unwrap_or(self.prior_sd_mm()).max(1e-6)
    }

    /// The rig whose facts hold for it.
    pub(super) fn rig(&self) -> &str {
        match self {
            Unknown::Setting(_, rig, _) | Unknown::Line(_, rig, _) | Unknown::Bias(_, rig) | Unknown::Scale(_, rig) => {
                rig
            }
            _ => "",
        }
    }
}

/// The unknowns that turn the direction a reading was taken in: the index line, its setting, its line. A caliper's line is
/// that of its angle, a straightedge's that of its bark line; a tracing has no lines, a followed fibre no direction, and a
/// wall changes too little round the tube.
pub(super) fn turns(reading: &Reading) -> Vec<Unknown> {
    let (kind, rig) = (reading.kind, reading.rig.clone());
    let setting = || Unknown::Setting(kind, rig.clone(), reading.set.clone());
    match kind {
        Kind::Wall | Kind::Grain => Vec::new(),
        Kind::Outline => vec![Unknown::IndexLine, setting()],
        // every straightedge placement is a set of its own: its line is its setting; so is a bar's
        Kind::Gap | Kind::Lifted | Kind::Bridge => vec![Unknown::IndexLine, line(reading)],
        _ => vec![Unknown::IndexLine, setting(), line(reading)],
    }
}

/// The error of scale of the rig a reading is taken with, where it states one, with its factor: what it shows, mm. A fibre
/// is no length.
pub(super) fn scale(reading: &Reading, rig: Option<&Rig>, shown_mm: f64) -> Option<(Unknown, f64)> {
    rig.and_then(|r| r.scale_percent).filter(|p| *p > 0.0 && reading.kind != Kind::Grain)?;
    Some((Unknown::Scale(reading.kind, reading.rig.clone()), shown_mm))
}

/// Whole tenths, to group by.
#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
pub(super) fn tenths(x: f64) -> i64 {
    (x * 10.0).round() as i64
}

/// The line a reading was taken on.
pub(super) fn line(reading: &Reading) -> Unknown {
    Unknown::Line(reading.kind, reading.rig.clone(), tenths(reading.angle.wrapped().degrees()))
}

/// The unknowns that `reading` involves on a tube of `length_mm`, with their factors.
///
/// * runout, vee: one zero per rig and `set`; radius and runout: an axis through two ends (four unknowns) per kind and rig;
/// * gap, lifted: height and rise of the straightedge per rig and `set`; where no set is given every angle is a placement of its
///   own; what makes a gap of them is that the straightedge touches (see `resting`);
/// * bridge: the zero of its rig; the heights under its feet are given by `bridge`;
/// * grain: the start of the fibre per rig and `set`; where no set is given every `angle` is a fibre of its own;
/// * outline: the point measured from, per rig, `set` and place. Their factors depend on the shape and are given by
///   `traced_radius`; here they stand as 0.
#[must_use]
pub(super) fn unknowns(reading: &Reading, length_mm: f64) -> Vec<(Unknown, f64)> {
    let along = if length_mm > 0.0 { reading.z_mm / length_mm } else { 0.0 };
    let set_or_angle = || {
        if reading.set.is_empty() {
            format!("at {:.3} deg", reading.angle.wrapped().degrees())
        } else {
            reading.set.clone()
        }
    };
    let (kind, rig) = (reading.kind, reading.rig.clone());
    let bias = || (Unknown::Bias(kind, rig.clone()), 1.0);
    let zero = |set: String| (Unknown::Zero(kind, rig.clone(), set), 1.0);
    match kind {
        Kind::Diameter | Kind::Wall | Kind::Arc | Kind::Bridge => vec![bias()],
        Kind::Radius | Kind::Runout => {
            let (s, c) = reading.angle.sin_cos();
            let axis = |end, part| Unknown::Axis(kind, rig.clone(), end, part);
            let mut list = vec![
                (axis(0, 0), (1.0 - along) * c),
                (axis(0, 1), (1.0 - along) * s),
                (axis(1, 0), along * c),
                (axis(1, 1), along * s),
            ];
            if kind == Kind::Runout {
                list.push(zero(reading.set.clone()));
            } else {
                list.push(bias());
            }
            list
        }
        Kind::Vee => vec![zero(reading.set.clone())],
        Kind::Gap | Kind::Lifted => {
            let set = set_or_angle();
            let height = Unknown::EdgeHeight(kind, rig.clone(), set.clone());
            vec![(height, 1.0), (Unknown::EdgeRise(kind, rig, set), along - 0.5)]
        }
        Kind::Grain => vec![zero(set_or_angle())],
        Kind::Outline => {
            let set = format!("{} at {:.1} mm", reading.set, reading.z_mm);
            [0, 1].map(|part| (Unknown::Tracing(rig.clone(), set.clone(), part), 0.0)).to_vec()
        }
    }
}

/// Included angle of the V-block a reading was taken over, degrees: its own, else its rig's.
#[must_use]
pub fn vee_deg(reading: &Reading, rig: Option<&Rig>) -> Option<f64> {
    reading.vee_deg.or(rig.and_then(|r| r.vee_deg))
}

/// Distance between the feet of the bar a reading was taken with, mm: its own, else its rig's.
#[must_use]
pub fn span_mm(reading: &Reading, rig: Option<&Rig>) -> Option<f64> {
    reading.span_mm.or(rig.and_then(|r| r.span_mm)).filter(|s| s.is_finite() && *s > 0.0)
}

/// How one reading touches a section: its kind, its direction, and the one size of the instrument that matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// Kind of reading.
    pub kind: Kind,
    /// Direction round the tube.
    pub angle: Angle,
    /// Included angle of the V-block (radians) for vee, width of the gauge (mm) for arc, span of the feet (mm) for bridge; for wall [`Probe::ALL_ROUND`] asks
    /// for the mean round the section; else not used.
    pub size: f64,
}

impl Probe {
    /// Size of a wall probe that is the mean round the section, as a tube list gives it.
    pub const ALL_ROUND: f64 = 1.0;

    /// A probe of a kind that needs no size, or with its size (see [`Probe::size`]).
    #[must_use]
    pub fn new(kind: Kind, angle: Angle, size: f64) -> Probe {
        Probe { kind, angle, size }
    }

    /// The probe of a reading, the V-block's angle from the reading or else from its rig.
    ///
    /// # Errors
    /// What is missing, in words: a vee reading without the angle of its block, an arc reading without its width, a bridge
    /// reading without the span of its feet.
    pub fn of(reading: &Reading, rig: Option<&Rig>) -> Result<Probe, &'static str> {
        let size = match reading.kind {
            Kind::Vee => vee_deg(reading, rig)
                .filter(|v| (10.0..=170.0).contains(v))
                .ok_or("a vee reading without the included angle of its V-block (10 to 170 deg)")?
                .to_radians(),
            Kind::Arc => reading
                .width_mm
                .filter(|w| w.is_finite() && *w > 0.0)
                .ok_or("an arc reading without the width its gauge touches")?,
            Kind::Bridge => {
                span_mm(reading, rig).ok_or("a bridge reading without the span of its feet (more than 0 mm)")?
            }
            _ => 0.0,
        };
        Ok(Probe { kind: reading.kind, angle: reading.angle, size })
    }
}

/// What the surface alone would give for a probe on this section, and its gradient by the fields (written into `gradient`,
/// which has one place per field).
///
/// * diameter: the exact width between parallel jaws, `S(a) + S(a + 180 deg)`, `S` the support function;
/// * radius, runout: the height `h(a) = R(a) + cx cos a + cy sin a` (a flat-footed dial reads it to second order);
/// * bridge: `h(a)` under its dial, the heights under its feet being unknowns of their own (see `bridge`);
/// * gap, lifted: `-h(a)`; wall: the wall field; grain: the turn, degrees;
/// * vee: see `Section::summit_mm`; arc: see `arc_diameter`; outline: `traced_radius` from the section's own centre.
///
/// A wall or grain reading where the fields hold no wall or turn gives 0 and no gradient.
pub(super) fn surface_value(probe: Probe, section: Section<'_>, gradient: &mut [f64]) -> f64 {
    gradient.fill(0.0);
    let (angle, fields) = (probe.angle, section.fields());
    let a = angle.radians();
    match probe.kind {
        Kind::Diameter => section.support(a, 1.0, gradient) + section.support(a + PI, 1.0, gradient),
        Kind::Radius | Kind::Runout | Kind::Bridge => linear(section, gradient, |g| fields.add_height(a, 1.0, g)),
        Kind::Gap | Kind::Lifted => linear(section, gradient, |g| fields.add_height(a, -1.0, g)),
        Kind::Wall if probe.size >= Probe::ALL_ROUND => {
            let Some(at) = fields.wall_at() else { return 0.0 };
            gradient[at] = 1.0;
            section.row()[at]
        }
        Kind::Wall => linear(section, gradient, |g| fields.add_wall(a, 1.0, g)),
        Kind::Grain => {
            let Some(at) = fields.turn_at() else { return 0.0 };
            gradient[at] = 1.0;
            section.row()[at]
        }
        Kind::Vee => section.summit(angle, probe.size, gradient),
        Kind::Arc => arc_diameter(section, angle, probe.size, gradient),
        Kind::Outline => traced_radius(section, angle, [0.0; 2], gradient).0,
    }
}

impl Section<'_> {
    /// What an instrument would read here were its own unknowns (zeros, axes, the point of a tracing) all 0: mm, of grain
    /// degrees. 0 for wall or grain where the fields hold none. One section does not hold the feet of a bar: `bridge` gives the
    /// height under its dial.
    #[must_use]
    pub fn reading(self, probe: Probe) -> f64 {
        surface_value(probe, self, &mut vec![0.0; self.fields().count()])
    }
}

/// The value of what is linear in the fields: its gradient times the row.
fn linear(section: Section<'_>, gradient: &mut [f64], add: impl Fn(&mut [f64])) -> f64 {
    add(gradient);
    gradient.iter().zip(section.row()).map(|(g, v)| g * v).sum()
}

#[cfg(test)]
mod tests {
    use super::super::fields::Fields;
    use super::*;

    fn example() -> (Fields, Vec<f64>) {
        let fields = Fields { top: 5, wall: true, twist: true };
        (fields, vec![12.7, 0.2, -0.1, 0.04, 0.05, 0.01, -0.02, 0.01, 0.005, 0.3, -0.7, 3.5, 0.1, -0.2, 11.0])
    }

    fn probe(kind: Kind, deg: f64) -> Probe {
        let size = match kind {
            Kind::Vee => 72_f64.to_radians(),
            Kind::Arc => 13.5,
            _ => 0.0,
        };
        Probe::new(kind, Angle::from_degrees(deg), size)
    }

    #[test]
    fn gradients_agree_with_numeric_differentiation() {
        let (fields, row) = example();
        for kind in Kind::ALL {
            for deg in [0.0, 33.0, 101.0, 275.0] {
                let p = probe(kind, deg);
                let mut g = vec![0.0; fields.count()];
                surface_value(p, Section::new(fields, &row), &mut g);
                for f in 0..fields.count() {
                    let shifted = |h: f64| {
                        let mut r = row.clone();
                        r[f] += h;
                        surface_value(p, Section::new(fields, &r), &mut vec![0.0; fields.count()])
                    };
                    let numeric = (shifted(1e-5) - shifted(-1e-5)) / 2e-5;
                    // the fitted arc magnifies the shape some tenfold, and the rounding of the difference with it
                    let close = if kind == Kind::Arc { 1e-5 } else { 1e-7 };
                    assert!((numeric - g[f]).abs() < close, "{kind:?} at {deg}, field {f}: {numeric} {}", g[f]);
                }
            }
        }
    }
}
