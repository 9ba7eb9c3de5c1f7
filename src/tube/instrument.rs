//! Each kind of reading as a functional of the surface. To add a kind: its word in `domain::Kind`, its value and
//! gradient in [`surface_value`], its unknown zeros and slopes in [`unknowns`].

use super::sections::Fields;
use crate::domain::{Angle, Kind, Reading};
use std::f64::consts::PI;

/// An unknown that belongs to the measuring, not to the tube.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unknown {
    /// Zero of one dial setting: (kind, set), mm.
    Zero(Kind, String),
    /// Height of one straightedge placement at mid-length: (set), mm.
    EdgeHeight(String),
    /// Rise of one straightedge placement over the length: (set), mm.
    EdgeRise(String),
    /// Offset of the turning axis from the frame, for one kind and rig: end 0 or 1, component x (0) or y (1); mm.
    Axis(Kind, String, u8, u8),
    /// Error of the radius common to a whole scan, mm; its sd is the scan's stated accuracy.
    ScanSize,
}

impl Unknown {
    /// Prior standard deviation, mm: how far off it could reasonably be. Weak on purpose.
    #[must_use]
    pub fn prior_sd_mm(&self) -> f64 {
        match self {
            Unknown::Zero(..) => 100.0,
            Unknown::EdgeHeight(_) => 20.0,
            Unknown::EdgeRise(_) => 5.0,
            Unknown::Axis(..) => 5.0,
            Unknown::ScanSize => crate::domain::ScanRule::default().accuracy_mm,
        }
    }
}

/// The unknowns that `reading` involves on a tube of `length_mm`, with their factors.
///
/// * runout: one zero per `set`; radius and runout: an axis through two ends (four unknowns) per kind and rig;
/// * gap: height and rise of the straightedge per `set`; where no set is given every angle is a placement of its own.
#[must_use]
pub fn unknowns(reading: &Reading, length_mm: f64) -> Vec<(Unknown, f64)> {
    let along = if length_mm > 0.0 { reading.z_mm / length_mm } else { 0.0 };
    match reading.kind {
        Kind::Diameter | Kind::Wall => Vec::new(),
        Kind::Radius | Kind::Runout => {
            let (s, c) = reading.angle.sin_cos();
            let axis = |end, part| Unknown::Axis(reading.kind, reading.rig.clone(), end, part);
            let mut list = vec![
                (axis(0, 0), (1.0 - along) * c),
                (axis(0, 1), (1.0 - along) * s),
                (axis(1, 0), along * c),
                (axis(1, 1), along * s),
            ];
            if reading.kind == Kind::Runout {
                list.push((Unknown::Zero(reading.kind, reading.set.clone()), 1.0));
            }
            list
        }
        Kind::Gap => {
            let set = if reading.set.is_empty() {
                format!("at {:.3} deg", reading.angle.wrapped().degrees())
            } else {
                reading.set.clone()
            };
            vec![(Unknown::EdgeHeight(set.clone()), 1.0), (Unknown::EdgeRise(set), along - 0.5)]
        }
    }
}

/// What the surface alone would give for a reading of `kind` at `angle` where the section is `row`, and its gradient by
/// the fields (written into `gradient`, which has one place per field).
///
/// * diameter: the exact width between parallel jaws, `S(a) + S(a + 180 deg)`, `S` the support function;
/// * radius, runout: the height `h(a) = R(a) + cx cos a + cy sin a` (a flat-footed dial reads it to second order);
/// * gap: `-h(a)`; wall: the wall field.
///
/// A wall reading where the fields hold no wall gives 0 and no gradient.
pub fn surface_value(kind: Kind, angle: Angle, fields: Fields, row: &[f64], gradient: &mut [f64]) -> f64 {
    gradient.fill(0.0);
    match kind {
        Kind::Diameter => {
            let near = support(angle.radians(), fields, row, gradient);
            near + support(angle.radians() + PI, fields, row, gradient)
        }
        Kind::Radius | Kind::Runout => height(angle, fields, row, gradient, 1.0),
        Kind::Gap => height(angle, fields, row, gradient, -1.0),
        Kind::Wall => {
            let Some(at) = fields.wall_at() else { return 0.0 };
            let (s, c) = angle.sin_cos();
            gradient[at..at + 3].copy_from_slice(&[1.0, c, s]);
            row[at] + row[at + 1] * c + row[at + 2] * s
        }
    }
}

/// `sign * h(a)` and its gradient.
fn height(angle: Angle, fields: Fields, row: &[f64], gradient: &mut [f64], sign: f64) -> f64 {
    let (s, c) = angle.sin_cos();
    gradient[Fields::R0] = sign;
    for n in 2..=fields.top {
        let at = fields.harmonic(n);
        let (sn, cn) = (crate::numeric::summary::count(n) * angle.radians()).sin_cos();
        gradient[at] = sign * cn;
        gradient[at + 1] = sign * sn;
    }
    let centre = fields.centre();
    gradient[centre] = sign * c;
    gradient[centre + 1] = sign * s;
    gradient[..fields.outside()].iter().zip(row).map(|(g, v)| g * v).sum()
}

/// Radius about the centreline and its first two derivatives by the angle.
fn radius(a: f64, fields: Fields, row: &[f64]) -> [f64; 3] {
    let mut r = [row[Fields::R0], 0.0, 0.0];
    for n in 2..=fields.top {
        let at = fields.harmonic(n);
        let k = crate::numeric::summary::count(n);
        let (s, c) = (k * a).sin_cos();
        r[0] += row[at] * c + row[at + 1] * s;
        r[1] += k * (row[at + 1] * c - row[at] * s);
        r[2] -= k * k * (row[at] * c + row[at + 1] * s);
    }
    r
}

/// Whether the section bulges everywhere, so that a jaw has only one place to touch: the curvature radius of
/// `R0 + sum` cannot reach zero while `sum (n^2 - 1) |amplitude|` stays well below `R0`.
fn surely_convex(fields: Fields, row: &[f64]) -> bool {
    let dents: f64 = (2..=fields.top)
        .map(|n| {
            let at = fields.harmonic(n);
            (crate::numeric::summary::count(n * n) - 1.0) * (row[at].abs() + row[at + 1].abs())
        })
        .sum();
    dents < 0.6 * row[Fields::R0]
}

/// The support function about the centreline, `max over b of R(b) cos(b - a)`; adds its gradient.
///
/// By the envelope theorem the gradient is that of `R(b) cos(b - a)` at the touching place `b`.
fn support(a: f64, fields: Fields, row: &[f64], gradient: &mut [f64]) -> f64 {
    let reach = |d: f64| radius(a + d, fields, row)[0] * d.cos();
    let mut best = (0.0, f64::MIN);
    if !surely_convex(fields, row) {
        // the touching place is near `a` on any tube; look 30 degrees either way so that a dent cannot hide it
        best = (0.0, reach(0.0));
        for step in 1..=6 {
            for d in [f64::from(step) * 0.0873, f64::from(step) * -0.0873] {
                let v = reach(d);
                if v > best.1 {
                    best = (d, v);
                }
            }
        }
    }
    let mut d = best.0;
    for _ in 0..12 {
        let [r, r1, r2] = radius(a + d, fields, row);
        let (s, c) = d.sin_cos();
        let slope = r1 * c - r * s;
        let bend = r2 * c - 2.0 * r1 * s - r * c;
        if bend >= 0.0 {
            break;
        }
        let step = (-slope / bend).clamp(-0.1, 0.1);
        d += step;
        if step.abs() < 1e-13 {
            break;
        }
    }
    if reach(d) < best.1 {
        d = best.0;
    }
    let c = d.cos();
    gradient[Fields::R0] += c;
    for n in 2..=fields.top {
        let at = fields.harmonic(n);
        let (sn, cn) = (crate::numeric::summary::count(n) * (a + d)).sin_cos();
        gradient[at] += c * cn;
        gradient[at + 1] += c * sn;
    }
    radius(a + d, fields, row)[0] * c
}

/// Width between parallel jaws closed along `angle` on a section.
#[must_use]
pub fn caliper_width_mm(angle: Angle, fields: Fields, row: &[f64]) -> f64 {
    let mut ignored = vec![0.0; fields.count()];
    surface_value(Kind::Diameter, angle, fields, row, &mut ignored)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> (Fields, Vec<f64>) {
        let fields = Fields { top: 5, wall: true };
        (fields, vec![12.7, 0.2, -0.1, 0.04, 0.05, 0.01, -0.02, 0.01, 0.005, 0.3, -0.7, 3.5, 0.1, -0.2])
    }

    #[test]
    fn gradients_agree_with_numeric_differentiation() {
        let (fields, row) = example();
        for kind in Kind::ALL {
            for deg in [0.0, 33.0, 101.0, 275.0] {
                let a = Angle::from_degrees(deg);
                let mut g = vec![0.0; fields.count()];
                surface_value(kind, a, fields, &row, &mut g);
                for f in 0..fields.count() {
                    let shifted = |h: f64| {
                        let mut r = row.clone();
                        r[f] += h;
                        surface_value(kind, a, fields, &r, &mut vec![0.0; fields.count()])
                    };
                    let numeric = (shifted(1e-5) - shifted(-1e-5)) / 2e-5;
                    assert!((numeric - g[f]).abs() < 1e-7, "{kind:?} at {deg}, field {f}: {numeric} {}", g[f]);
                }
            }
        }
    }

    #[test]
    fn the_width_is_the_widest_shadow_of_many_points() {
        let (fields, row) = example();
        for deg in [0.0, 17.0, 60.0, 133.0] {
            let a = Angle::from_degrees(deg);
            let shadow: Vec<f64> = (0..200_000)
                .map(|i| f64::from(i) * std::f64::consts::TAU / 200_000.0)
                .map(|b| radius(b, fields, &row)[0] * (b - a.radians()).cos())
                .collect();
            let (low, high) = shadow.iter().fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
            let width = caliper_width_mm(a, fields, &row);
            assert!((width - (high - low)).abs() < 1e-7, "{deg}: {width} {}", high - low);
        }
    }

    #[test]
    fn a_caliper_on_a_three_lobed_tube_reads_the_same_all_round() {
        // support functions with odd lobes only have constant width; to second order so do small odd lobes of the radius
        let fields = Fields { top: 3, wall: false };
        let row = [12.7, 0.0, 0.0, 0.05, 0.02, 0.4, -0.3];
        let w: Vec<f64> =
            (0..36).map(|i| caliper_width_mm(Angle::from_degrees(f64::from(i) * 5.0), fields, &row)).collect();
        let spread = w.iter().copied().fold(f64::MIN, f64::max) - w.iter().copied().fold(f64::MAX, f64::min);
        assert!(spread < 0.003, "{spread} mm");
    }
}
