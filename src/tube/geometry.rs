//! The figures a maker knows a tube by, as the whole belief gives them.

use super::belief::Belief;
use super::instrument::caliper_width_mm;
use super::population::SPAN_MM;
use super::sections::{Fields, Sections};
use crate::domain::Angle;
use crate::numeric::summary::{count, mean, sd};
use serde::{Deserialize, Deserializer, Serialize};
use std::f64::consts::{PI, TAU};

/// Places along the tube at which the figures are taken.
const PLACES: usize = 49;
/// Directions in which a section is measured across.
const WIDTHS: usize = 36;
/// A quantity counts as seen when the readings at least halve the standard deviation it had before them.
const SEEN_SHARE: f64 = 0.5;

/// A measured quantity: its estimate and how far it may be off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The estimate, in the unit of the field that holds it.
    pub value: f64,
    /// Standard deviation, same unit.
    pub sd: f64,
}

/// The figures of one tube; `None` where these readings cannot see the quantity.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct TubeFigures {
    /// Mean diameter, mm: twice the mean radius, averaged along the tube.
    pub diameter_mm: Option<Measured>,
    /// Largest minus smallest width of the tube's average section, mm.
    pub ovality_mm: Option<Measured>,
    /// Direction of the largest width, degrees in [0, 180).
    pub ovality_deg: Option<Measured>,
    /// Largest distance of the centreline from its end-to-end chord, mm.
    pub bow_mm: Option<Measured>,
    /// Direction toward which the centreline bulges there, degrees in [0, 360).
    pub bow_deg: Option<Measured>,
    /// Place of the largest distance, mm from the index end.
    pub bow_at_mm: Option<f64>,
    /// Even change of the diameter along the tube, mm per 100 mm; positive when the far end is thicker.
    pub taper_mm_per_100mm: Option<Measured>,
    /// Mean wall, mm.
    pub wall_mm: Option<Measured>,
}

/// Which groups of quantities the readings see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seen {
    /// Mean size.
    pub size: bool,
    /// Change of size along the tube.
    pub taper: bool,
    /// Ovality.
    #[serde(rename = "ovality")]
    pub oval: bool,
    /// Third lobe (stands for the odd ones).
    #[serde(rename = "odd_lobes")]
    pub odd: bool,
    /// Bow in both planes.
    pub bow: bool,
    /// The wall.
    pub wall: bool,
}

/// A word of [`SIGHTS`]; as an alias, lest serde take the field for one that borrows from what it is read from.
type Word = &'static str;

/// How well one quantity is seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sight {
    /// The quantity in words.
    #[serde(deserialize_with = "known_word")]
    pub quantity: Word,
    /// Unit of the standard deviations: `mm`, `mm per 100 mm` or `deg per 100 mm`.
    #[serde(deserialize_with = "known_word")]
    pub unit: Word,
    /// True when the readings at least halve the doubt.
    pub seen: bool,
    /// Standard deviation with the readings. Of a quantity with two components (ovality, a lobe, the bow) the larger.
    pub sd: f64,
    /// Standard deviation before any reading.
    pub prior_sd: f64,
}

/// Every quantity a [`Sight`] is of, with its unit.
const SIGHTS: [(Word, Word); 9] = [
    ("mean size", "mm"),
    ("taper", "mm per 100 mm"),
    ("ovality", "mm"),
    ("lobe 3", "mm"),
    ("lobe 4", "mm"),
    ("lobe 5", "mm"),
    ("bow", "mm"),
    ("wall", "mm"),
    ("twist", "deg per 100 mm"),
];

/// A quantity or unit of [`SIGHTS`] as it was stored.
fn known_word<'de, D: Deserializer<'de>>(from: D) -> Result<Word, D::Error> {
    let word = String::deserialize(from)?;
    let known = SIGHTS.iter().flat_map(|s| [s.0, s.1]).find(|w| *w == word);
    known.ok_or_else(|| serde::de::Error::custom(format!("'{word}' is no quantity that is seen, and no unit of one")))
}

impl Belief {
    /// What these readings see and how well, quantity by quantity, always the same list: mean size (diameter), taper (of
    /// the diameter), ovality (widest minus narrowest, four times the amplitude of the second lobe), lobes 3, 4 and 5
    /// (amplitude), bow (sagitta at mid-length), wall, twist. What no reading brings into the model keeps its prior doubt.
    #[must_use]
    pub fn sight(&self) -> Vec<Sight> {
        let l = self.length_mm();
        let f = self.fields();
        let scaled = |terms: &[(f64, usize, f64)], by: f64| -> (f64, f64) {
            let (after, before) = self.doubt_of(terms);
            (by * after, by * before)
        };
        let along = |field: usize| -> Vec<(f64, usize, f64)> {
            [0.1, 0.3, 0.5, 0.7, 0.9].iter().map(|t| (t * l, field, 0.2)).collect()
        };
        let rise = |field: usize| [(l, field, 1.0), (0.0, field, -1.0)];
        let bend = |field: usize| [(0.5 * l, field, 1.0), (0.0, field, -0.5), (l, field, -0.5)];
        let worse = |a: (f64, f64), b: (f64, f64)| if b.0 / b.1 > a.0 / a.1 { b } else { a };
        let lobe = |n: usize, by: f64| worse(scaled(&along(f.harmonic(n)), by), scaled(&along(f.harmonic(n) + 1), by));
        let (per_100, unmodelled) = (100.0 / l, self.unmodelled());
        let c = f.centre();
        let wall = f.wall_at().map_or((unmodelled.wall_mm, unmodelled.wall_mm), |w| scaled(&along(w), 1.0));
        let unseen_twist = unmodelled.twist_deg * 100.0 / SPAN_MM;
        let twist = f.turn_at().map_or((unseen_twist, unseen_twist), |t| scaled(&rise(t), per_100));
        let list = [
            scaled(&along(Fields::R0), 2.0),
            scaled(&rise(Fields::R0), 2.0 * per_100),
            lobe(2, 4.0),
            lobe(3, 1.0),
            lobe(4, 1.0),
            lobe(5, 1.0),
            worse(scaled(&bend(c), 1.0), scaled(&bend(c + 1), 1.0)),
            wall,
            twist,
        ];
        SIGHTS
            .into_iter()
            .zip(list)
            .map(|((quantity, unit), (sd, prior_sd))| Sight {
                quantity,
                unit,
                seen: sd <= SEEN_SHARE * prior_sd,
                sd,
                prior_sd,
            })
            .collect()
    }

    /// Which groups of quantities these readings see: those whose doubt they at least halve.
    #[must_use]
    pub fn seen(&self) -> Seen {
        let l = self.length_mm();
        let f = self.fields();
        let along = |field: usize| -> Vec<(f64, usize, f64)> {
            [0.1, 0.3, 0.5, 0.7, 0.9].iter().map(|t| (t * l, field, 0.2)).collect()
        };
        let halves = |terms: &[(f64, usize, f64)]| {
            let (after, before) = self.doubt_of(terms);
            after <= SEEN_SHARE * before
        };
        let bend = |field: usize| [(0.5 * l, field, 1.0), (0.0, field, -0.5), (l, field, -0.5)];
        let pair = |n: usize| halves(&along(f.harmonic(n))) && halves(&along(f.harmonic(n) + 1));
        Seen {
            size: halves(&along(Fields::R0)),
            taper: halves(&[(l, Fields::R0, 1.0), (0.0, Fields::R0, -1.0)]),
            oval: pair(2),
            odd: pair(3),
            bow: halves(&bend(f.centre())) && halves(&bend(f.centre() + 1)),
            wall: self.wall_seen(),
        }
    }

    /// The tube's figures from the mean surface, their doubt from `n` draws under `seed`.
    #[must_use]
    pub fn figures(&self, seed: u64, n: u64) -> TubeFigures {
        let z: Vec<f64> = (0..PLACES).map(|i| self.length_mm() * count(i) / count(PLACES - 1)).collect();
        let best = figures_of(&self.mean_sections(&z));
        let drawn: Vec<Raw> = (0..n.max(2)).map(|k| figures_of(&self.draw_sections(seed, k, &z))).collect();
        let seen = self.seen();
        let spread = |get: &dyn Fn(&Raw) -> f64| {
            let values: Vec<f64> = drawn.iter().map(get).collect();
            Measured { value: get(&best), sd: sd(&values) }
        };
        let turn = |get: &dyn Fn(&Raw) -> f64, period: f64| {
            // spread of the difference from the estimate, taken the short way round
            let off: Vec<f64> = drawn
                .iter()
                .map(|d| {
                    let x = (get(d) - get(&best)).rem_euclid(period);
                    if x > period / 2.0 { x - period } else { x }
                })
                .collect();
            let rms = mean(&off.iter().map(|x| x * x).collect::<Vec<f64>>()).sqrt();
            Measured { value: get(&best), sd: rms }
        };
        TubeFigures {
            diameter_mm: seen.size.then(|| spread(&|r| r.diameter)),
            ovality_mm: seen.oval.then(|| spread(&|r| r.ovality)),
            ovality_deg: seen.oval.then(|| turn(&|r| r.ovality_deg, 180.0)),
            bow_mm: seen.bow.then(|| spread(&|r| r.bow)),
            bow_deg: seen.bow.then(|| turn(&|r| r.bow_deg, 360.0)),
            bow_at_mm: seen.bow.then_some(best.bow_at),
            taper_mm_per_100mm: seen.taper.then(|| spread(&|r| r.taper)),
            wall_mm: seen.wall.then(|| spread(&|r| r.wall)),
        }
    }
}

/// The figures of one known surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Raw {
    /// Mean diameter, mm.
    pub diameter: f64,
    /// Ovality of the average section, mm.
    pub ovality: f64,
    /// Direction of the largest width, degrees in [0, 180).
    pub ovality_deg: f64,
    /// Bow, mm.
    pub bow: f64,
    /// Direction of the bow, degrees in [0, 360).
    pub bow_deg: f64,
    /// Place of the bow, mm.
    pub bow_at: f64,
    /// Taper, mm of diameter per 100 mm.
    pub taper: f64,
    /// Mean wall, mm; 0 where the fields hold none.
    pub wall: f64,
}

/// Measures a known surface; its first and last place stand for the ends.
#[must_use]
pub fn figures_of(sections: &Sections) -> Raw {
    let fields = sections.fields();
    let row = sections.mean_row();
    let (ovality, ovality_deg) = ovality_of(fields, &row);
    let (bow, bow_deg, bow_at) = bow_of(sections);
    Raw {
        diameter: 2.0 * row[Fields::R0],
        ovality,
        ovality_deg,
        bow,
        bow_deg,
        bow_at,
        taper: 200.0 * slope_of(sections),
        wall: fields.wall_at().map_or(0.0, |w| row[w]),
    }
}

/// Largest minus smallest caliper width of a section, and the direction (degrees, [0, 180)) of the largest.
///
/// Widths are taken every 5 degrees and the extremes refined by a parabola through three neighbours.
#[must_use]
pub fn ovality_of(fields: Fields, row: &[f64]) -> (f64, f64) {
    let step = PI / count(WIDTHS);
    let width: Vec<f64> =
        (0..WIDTHS).map(|i| caliper_width_mm(Angle::from_radians(step * count(i)), fields, row)).collect();
    let peak = |sign: f64| {
        let mut at = 0;
        for i in 1..WIDTHS {
            if sign * width[i] > sign * width[at] {
                at = i;
            }
        }
        let (b, m, a) = (width[(at + WIDTHS - 1) % WIDTHS], width[at], width[(at + 1) % WIDTHS]);
        let bend = b - 2.0 * m + a;
        let off = if bend.abs() > 1e-15 { (0.5 * (b - a) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        (m - 0.25 * (b - a) * off, (count(at) + off) * step)
    };
    let ((largest, direction), (smallest, _)) = (peak(1.0), peak(-1.0));
    (largest - smallest, Angle::from_radians(direction).wrapped_to(PI).degrees())
}

/// Largest distance of the centreline from its chord, its direction (degrees) and place (mm).
fn bow_of(sections: &Sections) -> (f64, f64, f64) {
    let c = sections.fields().centre();
    let n = sections.len();
    if n < 3 {
        return (0.0, 0.0, 0.0);
    }
    let z = sections.z_mm();
    let point = |j: usize| [sections.row(j)[c], sections.row(j)[c + 1]];
    let (first, last, span) = (point(0), point(n - 1), z[n - 1] - z[0]);
    let mut best = (0.0, 0.0, 0.0);
    for j in 1..n - 1 {
        let t = (z[j] - z[0]) / span;
        let p = point(j);
        let off = [0, 1].map(|i| p[i] - first[i] - t * (last[i] - first[i]));
        // square to the chord; its lean is below a hundredth of a radian on any tube, so this is the distance to 1e-4
        let d = off[0].hypot(off[1]);
        if d > best.0 {
            best = (d, off[1].atan2(off[0]).rem_euclid(TAU).to_degrees(), z[j]);
        }
    }
    best
}

/// Least-squares slope of the mean radius along the tube, mm per mm.
fn slope_of(sections: &Sections) -> f64 {
    let z = sections.z_mm();
    let middle = mean(z);
    let (mut up, mut down) = (0.0, 0.0);
    for (j, z) in z.iter().enumerate() {
        up += (z - middle) * sections.row(j)[Fields::R0];
        down += (z - middle) * (z - middle);
    }
    if down > 0.0 { up / down } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tube(shape: impl Fn(f64, &mut [f64])) -> Sections {
        let z: Vec<f64> = (0..=40).map(|i| 5.0 * f64::from(i)).collect();
        let mut s = Sections::zeros(Fields { top: 4, wall: false, twist: false }, &z);
        for (j, &at) in z.iter().enumerate() {
            shape(at, s.row_mut(j));
        }
        s
    }

    #[test]
    fn an_arched_oval_cone_gives_its_own_figures() {
        let raw = figures_of(&tube(|z, row| {
            let t = z / 200.0;
            row[0] = 12.7 + 0.2 * (t - 0.5);
            let (s, c) = 80_f64.to_radians().sin_cos();
            row[1] = 0.15 * c;
            row[2] = 0.15 * s;
            let (s, c) = 140_f64.to_radians().sin_cos();
            let bow = 1.3 * 4.0 * t * (1.0 - t);
            row[7] = 0.5 + 0.1 * t + bow * c;
            row[8] = -0.2 + 0.4 * t + bow * s;
        }));
        assert!((raw.diameter - 25.4).abs() < 1e-9);
        assert!((raw.taper - 0.2).abs() < 1e-9, "{}", raw.taper);
        assert!((raw.bow - 1.3).abs() < 1e-9 && (raw.bow_deg - 140.0).abs() < 1e-6, "{raw:?}");
        assert!((raw.bow_at - 100.0).abs() < 1e-9);
        // to first order the widest is 4 A across the direction 80 / 2; the next order is A^2 / R
        assert!((raw.ovality - 0.6).abs() < 0.004 && (raw.ovality_deg - 40.0).abs() < 0.01, "{raw:?}");
    }

    #[test]
    fn a_round_section_has_no_ovality() {
        let raw = figures_of(&tube(|_, row| row[0] = 12.7));
        assert!(raw.ovality.abs() < 1e-9 && raw.bow.abs() < 1e-12);
    }
}
