//! Scans of tubes with known truth.

use super::sections::{Fields, Sections};
use super::simulate::TrueTube;
use crate::domain::{IndexEnd, IndexMark, MarkAt, Place, Scan};
use crate::numeric::draws;
use crate::numeric::summary::{count, to_index};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

/// How a simulated scan is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanMaking {
    /// Points in all.
    pub points: usize,
    /// Normal noise of each coordinate, mm.
    pub noise_mm: f64,
    /// Standard deviation of the error of radius common to the whole scan, mm.
    pub accuracy_mm: f64,
    /// Share of the points that lie anywhere in a box about the tube.
    pub stray: f64,
    /// Share of the points in the bore, as far in as a scanner sees.
    pub bore: f64,
    /// Share of the points on the two sawn faces.
    pub face: f64,
    /// The side of the bark that is seen, degrees from and to.
    pub side_deg: (f64, f64),
    /// False for a scan that lies in the tube's own frame.
    pub moved: bool,
}

impl Default for ScanMaking {
    /// Ten thousand points all round with a noise of 0.05 mm, some in the bore, on the faces and astray.
    fn default() -> Self {
        ScanMaking {
            points: 10_000,
            noise_mm: 0.05,
            accuracy_mm: 0.02,
            stray: 0.005,
            bore: 0.06,
            face: 0.04,
            side_deg: (0.0, 360.0),
            moved: true,
        }
    }
}

/// The places along the tube between which sections are taken as straight, mm.
const STEP_MM: f64 = 0.25;
/// How far into the bore a scanner sees, mm.
const BORE_DEPTH_MM: f64 = 18.0;

/// A rigid position: a unit quaternion and a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    turn: [f64; 4],
    shift: [f64; 3],
}

impl Pose {
    /// Any direction (K. Shoemake, Uniform random rotations, Graphics Gems III, 1992: four normals, made a unit), and a
    /// shift of some hundred millimetres.
    pub fn any(rng: &mut ChaCha8Rng) -> Pose {
        let q = draws::normals(rng, 4);
        let n = q.iter().map(|v| v * v).sum::<f64>().sqrt().max(1e-12);
        let t = draws::normals(rng, 3);
        Pose { turn: [q[0] / n, q[1] / n, q[2] / n, q[3] / n], shift: [150.0 * t[0], 150.0 * t[1], 150.0 * t[2]] }
    }

    /// The position that leaves everything where it is.
    #[must_use]
    pub fn still() -> Pose {
        Pose { turn: [1.0, 0.0, 0.0, 0.0], shift: [0.0; 3] }
    }

    /// Where a point comes to lie.
    #[must_use]
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        let [w, x, y, z] = self.turn;
        let cross = |a: [f64; 3], b: [f64; 3]| {
            [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
        };
        let v = [x, y, z];
        let t = cross(v, p).map(|u| 2.0 * u);
        let c = cross(v, t);
        [0, 1, 2].map(|i| p[i] + w * t[i] + c[i] + self.shift[i])
    }
}

impl TrueTube {
    /// Scans the tube; the second answer is a point on the index line, a little in from the index end, in the same
    /// position.
    #[must_use]
    pub fn scan(&self, making: &ScanMaking, rng: &mut ChaCha8Rng) -> (Vec<[f64; 3]>, [f64; 3]) {
        let pose = if making.moved { Pose::any(rng) } else { Pose::still() };
        let size = making.accuracy_mm * draws::normals(rng, 1)[0];
        let steps = to_index((self.length_mm / STEP_MM).ceil()) + 1;
        let z: Vec<f64> = (0..=steps).map(|i| self.length_mm * count(i) / count(steps)).collect();
        let surface = Surface { sections: self.sections(&z), length: self.length_mm, steps: count(steps) };
        let (from, to) = (making.side_deg.0.to_radians(), making.side_deg.1.to_radians());
        let points = (0..making.points)
            .map(|_| {
                let what: f64 = rng.random();
                let angle = from + (to - from) * rng.random::<f64>();
                let place: f64 = rng.random();
                let far = rng.random::<bool>();
                let end = if far { self.length_mm } else { 0.0 };
                let p = if what < making.stray {
                    let box_of = |u: f64| 120.0 * (u - 0.5);
                    [box_of(rng.random()), box_of(rng.random()), (self.length_mm + 80.0) * place - 40.0]
                } else if what < making.stray + making.bore {
                    let depth = BORE_DEPTH_MM * place;
                    surface.point(TAU * rng.random::<f64>(), (end - depth).abs(), 1.0, 0.0)
                } else if what < making.stray + making.bore + making.face {
                    surface.point(TAU * rng.random::<f64>(), end, place, 0.0)
                } else {
                    surface.point(angle, self.length_mm * place, 0.0, size)
                };
                let noise = draws::normals(rng, 3);
                pose.apply([0, 1, 2].map(|i| p[i] + making.noise_mm * noise[i]))
            })
            .collect();
        (points, pose.apply(surface.point(0.0, 12.0, 0.0, 0.0)))
    }

    /// [`TrueTube::scan`] as the domain's scan, with its index mark when `marked`.
    #[must_use]
    pub fn scanned(&self, making: &ScanMaking, marked: bool, rng: &mut ChaCha8Rng) -> Scan {
        let (points, on_line) = self.scan(making, rng);
        let mark = || IndexMark { at: MarkAt::Point(on_line), end: IndexEnd::Near, place: Place::default() };
        let index = marked.then(mark);
        Scan { points, accuracy_mm: making.accuracy_mm, index, place: Place::default(), unrolled: None }
    }
}

/// A known surface, fast to ask.
struct Surface {
    sections: Sections,
    length: f64,
    steps: f64,
}

impl Surface {
    /// A point at an angle and a place, `deep` of the wall under the bark, `size` added to the radius.
    fn point(&self, angle: f64, z: f64, deep: f64, size: f64) -> [f64; 3] {
        let f = self.sections.fields();
        let u = (z / self.length * self.steps).clamp(0.0, self.steps - 1e-9);
        let i = to_index(u.floor());
        let t = u - count(i);
        let (a, b) = (self.sections.row(i), self.sections.row(i + 1));
        let at = |k: usize| a[k] + t * (b[k] - a[k]);
        let mut radius = at(Fields::R0) + size;
        for n in 2..=f.top {
            let (s, c) = (count(n) * angle).sin_cos();
            radius += at(f.harmonic(n)) * c + at(f.harmonic(n) + 1) * s;
        }
        let (s, c) = angle.sin_cos();
        if let Some(w) = f.wall_at() {
            radius -= deep * (at(w) + at(w + 1) * c + at(w + 2) * s);
        }
        [at(f.centre()) + radius * c, at(f.centre() + 1) + radius * s, z]
    }
}
