//! Scans of tubes with known truth.

use super::section::Section;
use super::sections::Sections;
use super::simulate::TrueTube;
use crate::domain::{Angle, IndexEnd, IndexMark, MarkAt, Place, Scan};
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
    /// Standard deviation of an error common to the whole scan by which every surface stands proud, as under a spray:
    /// bark outward, bore inward, mm.
    pub accuracy_mm: f64,
    /// Share of the points that lie anywhere in a box about the tube.
    pub stray: f64,
    /// Share of the points in the bore, as far in as a scanner sees.
    pub bore: f64,
    /// How far into the bore the scanner sees, mm.
    pub bore_depth_mm: f64,
    /// Whether it sees into the bore at the index end and at the far end.
    pub bore_ends: (bool, bool),
    /// The side of the bore that is seen, degrees from and to.
    pub bore_side_deg: (f64, f64),
    /// Amplitude of the second lobe of the wall, mm: the bore is rounder than the bark or lies across it. The third has a
    /// third of it, a wave of 25 mm that goes round five times a quarter.
    pub bore_lobe_mm: f64,
    /// Share of the points strewn through the hollow of the bore, as deep as the scanner sees.
    pub strewn: f64,
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
            bore_depth_mm: 18.0,
            bore_ends: (true, true),
            bore_side_deg: (0.0, 360.0),
            bore_lobe_mm: 0.0,
            strewn: 0.0,
            face: 0.04,
            side_deg: (0.0, 360.0),
            moved: true,
        }
    }
}

impl ScanMaking {
    /// What the wall has more than its once-round part at an angle and a place, mm.
    #[must_use]
    fn wall_lobes(&self, angle: f64, z_mm: f64) -> f64 {
        let lobe = |n: f64, turn: f64| (n * (angle - turn)).cos();
        self.bore_lobe_mm * (lobe(2.0, 0.6) + lobe(3.0, 0.9) / 3.0 + lobe(5.0, TAU * z_mm / 125.0) / 4.0)
    }
}

/// The places along the tube between which sections are taken as straight, mm.
const STEP_MM: f64 = 0.25;

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
        let between = |(from, to): (f64, f64), u: f64| (from + (to - from) * u).to_radians();
        let points = (0..making.points)
            .map(|_| {
                let what: f64 = rng.random();
                let angle = between(making.side_deg, rng.random());
                let place: f64 = rng.random();
                let far = match making.bore_ends {
                    (true, false) => false,
                    (false, true) => true,
                    _ => rng.random::<bool>(),
                };
                let end = if far { self.length_mm } else { 0.0 };
                let within = (end - making.bore_depth_mm * place).abs();
                let up_to = |k: usize| [making.stray, making.bore, making.face, making.strewn][..k].iter().sum::<f64>();
                let p = if what < up_to(1) {
                    let box_of = |u: f64| 120.0 * (u - 0.5);
                    [box_of(rng.random()), box_of(rng.random()), (self.length_mm + 80.0) * place - 40.0]
                } else if what < up_to(2) {
                    let a = between(making.bore_side_deg, rng.random());
                    surface.point(a, within, |r, w| r - w - making.wall_lobes(a, within) - size)
                } else if what < up_to(3) {
                    let a = TAU * rng.random::<f64>();
                    surface.point(a, end, |r, w| r - place * (w + making.wall_lobes(a, end)))
                } else if what < up_to(4) {
                    let (a, share) = (TAU * rng.random::<f64>(), rng.random::<f64>().sqrt());
                    surface.point(a, within, |r, w| share * (r - w))
                } else {
                    surface.point(angle, self.length_mm * place, |r, _| r + size)
                };
                let noise = draws::normals(rng, 3);
                pose.apply([0, 1, 2].map(|i| p[i] + making.noise_mm * noise[i]))
            })
            .collect();
        (points, pose.apply(surface.point(0.0, 12.0, |r, _| r)))
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
    /// The point at an angle and a place whose distance from the centreline `reach` makes of the radius and the wall there.
    fn point(&self, angle: f64, z: f64, reach: impl FnOnce(f64, f64) -> f64) -> [f64; 3] {
        let u = (z / self.length * self.steps).clamp(0.0, self.steps - 1e-9);
        let i = to_index(u.floor());
        let t = u - count(i);
        let (a, b) = (self.sections.row(i), self.sections.row(i + 1));
        let row: Vec<f64> = a.iter().zip(b).map(|(a, b)| a + t * (b - a)).collect();
        let (section, a) = (Section::new(self.sections.fields(), &row), Angle::from_radians(angle));
        let reach = reach(section.radius_mm(a), section.wall_mm(a).unwrap_or(0.0));
        let ((s, c), [x, y]) = (a.sin_cos(), section.centre_mm());
        [x + reach * c, y + reach * s, z]
    }
}
