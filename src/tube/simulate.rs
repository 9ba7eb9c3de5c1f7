//! Tubes with known truth, and the readings an instrument would give on them.
//!
//! The truth is deliberately not a draw of the model's own prior: it is made of arcs, S-bends and cosine waves, so that
//! recovery is tested against shapes the model has to approximate. Lobes beyond those the model carries are another maker's
//! business (`known::populations`).

use super::bridge::feet_mm;
use super::fields::Fields;
use super::instrument::{Probe, surface_value};
use super::outline::traced_radius;
use super::sections::Sections;
use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::draws;
use crate::numeric::summary::count;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{PI, TAU};

/// Highest lobe of a simulated tube; the model carries two more.
const TRUE_TOP: usize = 7;

/// What a simulated population of tubes is like. All figures are for dry tube cane of about one inch and are
/// "common practice, no source": nothing is published on its ovality, lobing or bow. They were set so that a simulated lot
/// gives 150 to 180 blanks a kilogram at arbitrary angles, which is our own idea of what is plausible, not a record of lots.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Shortest and longest tube, mm (even between).
    pub length_mm: (f64, f64),
    /// Mean diameter and its standard deviation, mm.
    pub diameter_mm: (f64, f64),
    /// Taper in diameter over 200 mm, mean and sd, mm; either end may be the thick one.
    pub taper_mm: (f64, f64),
    /// Median ovality and the sd of its logarithm, mm.
    pub ovality_mm: (f64, f64),
    /// Sd of each component of the bow over 200 mm, mm; the bow grows with the square of the length.
    pub bow_mm: f64,
    /// Sd of each component of the S-bend part, mm.
    pub s_bend_mm: f64,
    /// Amplitude scale of the third lobe; lobe n has it times (3/n)^3.
    pub lobe_mm: f64,
    /// Amplitude scale of local waves along the tube (40 to 150 mm long) in radius and centreline, mm.
    pub wave_mm: f64,
    /// Mean wall and its sd between tubes, mm.
    pub wall_mm: (f64, f64),
    /// Sd of the even change of the mean wall over 200 mm, mm; its two once-round parts change by half as much.
    pub wall_taper_mm: f64,
    /// Density of the wall and its sd between tubes, kg/m3 (value from memory: 550).
    pub density: (f64, f64),
    /// Sd of the angle between fibre and axis, degrees; 0: the grain runs true.
    pub lean_deg: f64,
}

/// Included angle of the V-block, width of the radius gauge and span of the bar where none are named: 90 deg, 13.5 mm and
/// 70 mm.
#[must_use]
fn usual_size(kind: Kind) -> f64 {
    match kind {
        Kind::Vee => 90_f64.to_radians(),
        Kind::Arc => 13.5,
        Kind::Bridge => 70.0,
        _ => 0.0,
    }
}

impl Default for Stand {
    fn default() -> Self {
        Stand {
            length_mm: (150.0, 270.0),
            diameter_mm: (25.4, 0.6),
            taper_mm: (0.4, 0.25),
            ovality_mm: (0.7, 0.45),
            bow_mm: 1.1,
            s_bend_mm: 0.10,
            lobe_mm: 0.025,
            wave_mm: 0.005,
            wall_mm: (3.8, 0.25),
            wall_taper_mm: 0.0,
            density: (550.0, 40.0),
            lean_deg: 0.0,
        }
    }
}

/// One wave along the tube: amplitude, cycles over the length, phase.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wave {
    amplitude: f64,
    cycles: f64,
    phase: f64,
}

impl Wave {
    fn at(&self, t: f64) -> f64 {
        self.amplitude * (TAU * self.cycles * t + self.phase).cos()
    }
}

/// One lobe: `amplitude (1 + swell (2t - 1)) cos n(a - direction - turn (2t - 1))`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Lobe {
    amplitude: f64,
    direction: f64,
    swell: f64,
    turn: f64,
}

/// A tube whose every dimension is known.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueTube {
    /// Name.
    pub name: String,
    /// Length, mm.
    pub length_mm: f64,
    /// Weight, g.
    pub weight_g: f64,
    radius_mm: f64,
    taper_mm: f64,
    lobes: Vec<Lobe>,
    bow: [f64; 2],
    s_bend: [f64; 2],
    waves: [Vec<Wave>; 3],
    wall_mm: f64,
    wall_lean: [f64; 2],
    wall_change: [f64; 3],
    turn_deg: [f64; 2],
}

impl TrueTube {
    /// Tube number `k` of the population under `seed`.
    #[must_use]
    pub fn grow(stand: &Stand, seed: u64, k: u64) -> TrueTube {
        let mut rng = draws::stream(seed, "grow", k);
        let rng = &mut rng;
        let normal = |rng: &mut ChaCha8Rng| draws::normals(rng, 1)[0];
        let length_mm = stand.length_mm.0 + (stand.length_mm.1 - stand.length_mm.0) * rng.random::<f64>();
        let radius_mm = (stand.diameter_mm.0 + stand.diameter_mm.1 * normal(rng)) / 2.0;
        let side = if rng.random::<bool>() { 1.0 } else { -1.0 };
        let taper_mm = side * (stand.taper_mm.0 + stand.taper_mm.1 * normal(rng)) * length_mm / 200.0;
        // the widest minus the narrowest width of R0 + A cos 2a is 4 A
        let oval = stand.ovality_mm.0 * (stand.ovality_mm.1 * normal(rng)).exp() / 4.0;
        let lobes = (2..=TRUE_TOP)
            .map(|n| {
                let scale = stand.lobe_mm * (3.0 / count(n)).powi(3);
                let amplitude = if n == 2 { oval } else { scale * (0.5 * normal(rng)).exp() };
                let direction = TAU * rng.random::<f64>();
                Lobe { amplitude, direction, swell: 0.25 * normal(rng), turn: 0.12 * normal(rng) }
            })
            .collect();
        let grown = (length_mm / 200.0).powi(2);
        let bow = [stand.bow_mm * grown * normal(rng), stand.bow_mm * grown * normal(rng)];
        let s_bend = [stand.s_bend_mm * grown * normal(rng), stand.s_bend_mm * grown * normal(rng)];
        let waves = std::array::from_fn(|_| {
            (0..4)
                .map(|_| {
                    let length = 40.0 + 110.0 * rng.random::<f64>();
                    let amplitude = stand.wave_mm * (length / 100.0) * normal(rng);
                    Wave { amplitude, cycles: length_mm / length, phase: TAU * rng.random::<f64>() }
                })
                .collect()
        });
        let wall_mm = stand.wall_mm.0 + stand.wall_mm.1 * normal(rng);
        let wall_lean = [0.12 * normal(rng), 0.12 * normal(rng)];
        let density = stand.density.0 + stand.density.1 * normal(rng);
        // kg/m3 to g/mm3
        let weight_g = density * 1e-6 * PI * (2.0 * radius_mm - wall_mm) * wall_mm * length_mm;
        let name = format!("S{:03}", k + 1);
        // drawn last, so that a stand without twist or change of wall grows the same tubes as one with it
        let whole = ((stand.lean_deg * normal(rng)).to_radians().tan() * length_mm / radius_mm).to_degrees();
        let turn_deg = [whole, 0.1 * whole * normal(rng)];
        let wall_change = [1.0, 0.5, 0.5].map(|s| s * stand.wall_taper_mm * length_mm / 200.0 * normal(rng));
        TrueTube {
            name,
            length_mm,
            weight_g,
            radius_mm,
            taper_mm,
            lobes,
            bow,
            s_bend,
            waves,
            wall_mm,
            wall_lean,
            wall_change,
            turn_deg,
        }
    }

    /// The fields of the truth.
    #[must_use]
    pub fn fields() -> Fields {
        Fields { top: TRUE_TOP, wall: true, twist: true }
    }

    /// The true sections at these places.
    #[must_use]
    pub fn sections(&self, z_mm: &[f64]) -> Sections {
        let fields = TrueTube::fields();
        let mut out = Sections::zeros(fields, z_mm);
        for (j, &z) in z_mm.iter().enumerate() {
            let t = z / self.length_mm;
            let wave = |i: usize| self.waves[i].iter().map(|w| w.at(t)).sum::<f64>();
            let row = out.row_mut(j);
            row[Fields::R0] = self.radius_mm + self.taper_mm / 2.0 * (t - 0.5) + wave(0);
            for (n, lobe) in (2..).zip(&self.lobes) {
                let size = lobe.amplitude * (1.0 + lobe.swell * (2.0 * t - 1.0));
                let (s, c) = (count(n) * (lobe.direction + lobe.turn * (2.0 * t - 1.0))).sin_cos();
                let at = fields.harmonic(n);
                row[at] = size * c;
                row[at + 1] = size * s;
            }
            let arch = 4.0 * t * (1.0 - t);
            let ess = (TAU * t).sin();
            for part in 0..2 {
                row[fields.centre() + part] = self.bow[part] * arch + self.s_bend[part] * ess + wave(1 + part);
            }
            if let Some(w) = fields.wall_at() {
                let even = [self.wall_mm, self.wall_lean[0], self.wall_lean[1]];
                for (part, (mean, change)) in even.iter().zip(self.wall_change).enumerate() {
                    row[w + part] = mean + change * (t - 0.5);
                }
            }
            if let Some(at) = fields.turn_at() {
                row[at] = self.turn_deg[0] * t + self.turn_deg[1] * arch;
            }
        }
        out
    }

    /// The tube as a maker would list it, without readings.
    #[must_use]
    pub fn listed(&self) -> Tube {
        Tube { name: self.name.clone(), length_mm: self.length_mm, weight_g: Some(self.weight_g), ..Tube::default() }
    }

    /// What an instrument of this kind and its usual size reads at a place, with normal noise; `unknown` is whatever the
    /// instrument adds.
    #[must_use]
    pub fn read(&self, kind: Kind, z_mm: f64, angle: Angle, unknown: f64, noise: f64) -> Reading {
        self.read_with(Probe::new(kind, angle, usual_size(kind)), z_mm, unknown, noise)
    }

    /// As [`Self::read`], the size of the instrument stated.
    #[must_use]
    fn read_with(&self, probe: Probe, z_mm: f64, unknown: f64, noise: f64) -> Reading {
        let fields = TrueTube::fields();
        let mut ignored = vec![0.0; fields.count()];
        let mut at = |z: f64| surface_value(probe, self.sections(&[z]).section(0), &mut ignored);
        let mut value = at(z_mm) + unknown + noise;
        if probe.kind == Kind::Bridge {
            value -= feet_mm(z_mm, probe.size).map(at).iter().sum::<f64>() / 2.0;
        }
        let mut reading = Reading::new(probe.kind, z_mm, probe.angle, value);
        reading.vee_deg = (probe.kind == Kind::Vee).then_some(probe.size.to_degrees());
        reading.width_mm = (probe.kind == Kind::Arc).then_some(probe.size);
        reading.span_mm = (probe.kind == Kind::Bridge).then_some(probe.size);
        reading
    }

    /// Height at the index end and rise per mm of a straightedge that rests on the bark line at `a` (radians), 3 mm off
    /// either end: of all pairs of places, one on either side of its middle, the line that stands highest there.
    fn resting(&self, a: f64) -> (f64, f64) {
        let z: Vec<f64> = (0..100).map(|i| 3.0 + (self.length_mm - 6.0) * f64::from(i) / 99.0).collect();
        let sections = self.sections(&z);
        let h: Vec<f64> = (0..z.len()).map(|j| sections.section(j).height_mm(Angle::from_radians(a))).collect();
        let lines = (0..50).flat_map(|i| (50..100).map(move |j| (i, j))).map(|(i, j)| {
            let rise = (h[j] - h[i]) / (z[j] - z[i]);
            (h[i] - rise * z[i], rise)
        });
        let over = |line: &(f64, f64)| line.0 + line.1 * self.length_mm / 2.0;
        lines.max_by(|a, b| over(a).total_cmp(&over(b))).unwrap_or_default()
    }

    /// The section at `z_mm` traced at `angles` equal steps from a point `from` its own centre, mm.
    #[must_use]
    pub fn outline(&self, z_mm: f64, from: [f64; 2], angles: usize, sd_mm: f64, rng: &mut ChaCha8Rng) -> Vec<Reading> {
        let fields = TrueTube::fields();
        let sections = self.sections(&[z_mm]);
        (0..angles)
            .map(|i| {
                let angle = Angle::from_radians(TAU * count(i) / count(angles));
                let mut ignored = vec![0.0; fields.count()];
                let (r, _) = traced_radius(sections.section(0), angle, from, &mut ignored);
                Reading::new(Kind::Outline, z_mm, angle, r + sd_mm * draws::normals(rng, 1)[0])
            })
            .collect()
    }

    /// Rings of readings with instruments of the usual size; see [`Self::rings_with`].
    #[must_use]
    pub fn rings(&self, kind: Kind, angles: usize, step_mm: f64, sd_mm: f64, rng: &mut ChaCha8Rng) -> Vec<Reading> {
        self.rings_with(kind, usual_size(kind), angles, step_mm, sd_mm, rng)
    }

    /// Rings of readings: `angles` equal steps round the tube at stations about `step_mm` apart, noise `sd_mm` (degrees for
    /// grain), the instrument of this `size` (see [`Probe::size`]).
    ///
    /// Runout and radius are taken from an axis a little off the tube's own, runout and vee from an arbitrary zero, gaps
    /// under a straightedge that rests on each line, bars with their feet 5 mm inside either end at the outermost places, lifted ones under one of arbitrary height and slope for each angle; grain follows one fibre from each angle; outlines
    /// are traced from the section's own centre (see [`Self::outline`] for another).
    #[must_use]
    pub fn rings_with(
        &self,
        kind: Kind,
        size: f64,
        angles: usize,
        step_mm: f64,
        sd_mm: f64,
        rng: &mut ChaCha8Rng,
    ) -> Vec<Reading> {
        // a bar stands with both feet on the tube
        let inset = if kind == Kind::Bridge { 5.0 + size / 2.0 } else { 5.0 };
        let inner = (self.length_mm - 2.0 * inset).max(0.0);
        let stations = crate::numeric::summary::to_index((inner / step_mm).round()).max(1) + 1;
        let axis: Vec<f64> = draws::normals(rng, 4).iter().map(|v| 0.5 * v).collect();
        let zero = match kind {
            Kind::Runout | Kind::Vee => 3.0 * draws::normals(rng, 1)[0] - self.radius_mm,
            _ => 0.0,
        };
        let edges: Vec<f64> = draws::normals(rng, 2 * angles);
        let rests: Vec<(f64, f64)> = match kind {
            Kind::Gap => (0..angles).map(|i| self.resting(TAU * count(i) / count(angles))).collect(),
            _ => Vec::new(),
        };
        let mut out = Vec::new();
        for j in 0..stations {
            let z = inset + inner * count(j) / count(stations - 1);
            let t = z / self.length_mm;
            for i in 0..angles {
                let angle = Angle::from_radians(TAU * count(i) / count(angles));
                let (s, c) = angle.sin_cos();
                let unknown = match kind {
                    Kind::Radius | Kind::Runout => {
                        zero + ((1.0 - t) * axis[0] + t * axis[2]) * c + ((1.0 - t) * axis[1] + t * axis[3]) * s
                    }
                    Kind::Gap => rests[i].0 + rests[i].1 * z,
                    Kind::Lifted => self.radius_mm + 4.0 + edges[2 * i] + edges[2 * i + 1] * (t - 0.5),
                    Kind::Grain => angle.degrees() + edges[2 * i],
                    Kind::Diameter | Kind::Wall | Kind::Vee | Kind::Arc | Kind::Outline | Kind::Bridge => zero,
                };
                let noise = sd_mm * draws::normals(rng, 1)[0];
                let mut reading = self.read_with(Probe::new(kind, angle, size), z, unknown, noise);
                if kind == Kind::Gap {
                    reading.value_mm = reading.value_mm.max(0.0);
                }
                out.push(reading);
            }
        }
        out
    }
}
