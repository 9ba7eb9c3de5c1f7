//! Colours, markers, dashes and hatches: six looks that stay apart for every reader and in greyscale.
//!
//! # Where the colours come from
//!
//! The six category colours were searched for, not picked from any list: six lightness steps L* = 15 to 61.5, evenly
//! apart (so the order survives a black-and-white printer, and the lightest still has a contrast of 3 to 1 on
//! white paper, as WCAG 2.2, success criterion 1.4.11, asks of graphics); at each step every sRGB colour on a grid
//! of 5 whose chroma lies between 18 and 60 (strong enough to name, soft enough to print); coordinate ascent from
//! 300 seeded starts on the least CIE 1976 difference between any two, over normal sight and simulated
//! protanopia, deuteranopia and tritanopia. The best set found has a least difference of 34; the tests hold it to 30.
//! Colour is never alone: each look also has its own marker, dash and hatch.

use super::scene::{Colour, Fill, Hatch, Mark, Point, Stroke};
use std::f64::consts::TAU;

/// Text, axes and outlines.
pub const INK: Colour = Colour::solid(30, 30, 30);
/// Second-rank text and axes.
pub const SOFT_INK: Colour = Colour::solid(95, 95, 95);
/// Grid lines and cut outlines.
pub const GRID: Colour = Colour::solid(205, 205, 205);
/// Areas that only set something apart.
pub const WASH: Colour = Colour::solid(240, 238, 233);
/// The paper.
pub const PAPER: Colour = Colour::WHITE;

/// A sign that stands at a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Marker {
    /// A disc.
    Disc,
    /// A square standing on a side.
    Square,
    /// A triangle standing on a side.
    Triangle,
    /// A square standing on a corner.
    Diamond,
    /// Two strokes, slanted.
    Cross,
    /// Two strokes, upright and level.
    Plus,
}

impl Marker {
    /// The marker as a mark of about `size_mm` across, centred at `at`.
    #[must_use]
    pub fn mark(self, at: Point, size_mm: f64, colour: Colour) -> Mark {
        let r = size_mm / 2.0;
        let place = |turns: f64, reach: f64| {
            let (s, c) = (turns * TAU).sin_cos();
            [at[0] + reach * c, at[1] + reach * s]
        };
        let strokes = |turn: f64| {
            let ends = |t: f64| vec![place(t, r), place(t + 0.5, r)];
            Mark::contours(vec![ends(turn), ends(turn + 0.25)], false).stroked(Stroke::new(colour, size_mm * 0.25))
        };
        let corners = |n: u8, first: f64, reach: f64| {
            let ring = (0..n).map(|i| place(first + f64::from(i) / f64::from(n), reach)).collect();
            Mark::path(ring, true).filled(colour)
        };
        match self {
            Marker::Disc => Mark::circle(at, r).filled(colour),
            Marker::Square => corners(4, 0.125, r * 1.25),
            Marker::Triangle => corners(3, 0.75, r * 1.3),
            Marker::Diamond => corners(4, 0.0, r * 1.3),
            Marker::Cross => strokes(0.125),
            Marker::Plus => strokes(0.0),
        }
    }
}

/// How one category is drawn, by whatever means a figure has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Its colour.
    pub colour: Colour,
    /// Its sign at points.
    pub marker: Marker,
    /// Its line: dash, gap, ... in mm; empty = full.
    pub dash_mm: &'static [f64],
    /// Direction of its hatch, degrees, and whether a second set of lines crosses the first.
    pub hatch: (f64, bool),
    /// Distance between its hatch lines, mm.
    pub hatch_spacing_mm: f64,
}

/// The looks, in the order categories take them: neighbours are far apart in lightness.
pub const LOOKS: [Look; 6] = [
    look([40, 25, 90], Marker::Disc, &[], (45.0, false), 1.6),
    look([203, 129, 115], Marker::Square, &[2.4, 0.8], (-45.0, false), 1.6),
    look([145, 45, 5], Marker::Triangle, &[0.8, 0.8], (90.0, false), 1.6),
    look([60, 95, 195], Marker::Diamond, &[2.4, 0.7, 0.7, 0.7], (0.0, false), 1.6),
    look([90, 45, 50], Marker::Cross, &[4.0, 1.2], (45.0, true), 2.2),
    look([140, 115, 155], Marker::Plus, &[1.4, 0.6, 0.5, 0.6, 0.5, 0.6], (0.0, true), 2.2),
];

const fn look(
    rgb: [u8; 3],
    marker: Marker,
    dash_mm: &'static [f64],
    hatch: (f64, bool),
    hatch_spacing_mm: f64,
) -> Look {
    Look { colour: Colour { rgb, alpha: 255 }, marker, dash_mm, hatch, hatch_spacing_mm }
}

impl Look {
    /// The look of category `index`, from 0; after the sixth they repeat, and only the label tells them apart.
    #[must_use]
    pub fn of(index: usize) -> Look {
        LOOKS[index % LOOKS.len()]
    }

    /// Its line at the given width, mm.
    #[must_use]
    pub fn stroke(&self, width_mm: f64) -> Stroke {
        Stroke::new(self.colour, width_mm).dashed(self.dash_mm)
    }

    /// Its area: a light tint under its hatch, so that black text on it stays readable.
    #[must_use]
    pub fn fill(&self) -> Fill {
        let (turn_deg, crossed) = self.hatch;
        let hatch = Hatch { turn_deg, spacing_mm: self.hatch_spacing_mm, width_mm: 0.2, colour: self.colour, crossed };
        Fill { colour: Some(tint(self.colour, 0.18)), hatch: Some(hatch) }
    }
}

/// `colour` thinned with white: 1 leaves it, 0 is white.
#[must_use]
pub fn tint(colour: Colour, share: f64) -> Colour {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 1.0 };
    let rgb = colour.rgb.map(|c| byte(255.0 - (255.0 - f64::from(c)) * share));
    Colour { rgb, alpha: colour.alpha }
}

/// The colour of a chance from 0 (pale straw) to 1 (deep blue): lightness L* falls evenly from 96 to 24, so the
/// order is seen without colour; values outside are taken as the nearer end, NaN as white.
#[must_use]
pub fn chance(value: f64) -> Colour {
    if value.is_nan() {
        return PAPER;
    }
    let t = value.clamp(0.0, 1.0);
    let lightness = 96.0 - 72.0 * t;
    // straw (hue 95 deg) through leaf green to blue (265 deg); chroma as far as sRGB allows, at most this
    let hue = (95.0 + 170.0 * t).to_radians();
    let mut chroma = 14.0 + 34.0 * t.sqrt();
    loop {
        let linear = linear_from_lab([lightness, chroma * hue.cos(), chroma * hue.sin()]);
        if chroma < 0.5 || linear.iter().all(|c| (0.0..=1.0).contains(c)) {
            return Colour { rgb: linear.map(|c| byte(255.0 * encoded(c.clamp(0.0, 1.0)))), alpha: 255 };
        }
        chroma -= 0.5;
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded and within 0 to 255")]
fn byte(v: f64) -> u8 {
    v.round().clamp(0.0, 255.0) as u8
}

/// Linear sRGB to CIE XYZ, white D65 (IEC 61966-2-1:1999, computed from its primaries to seven digits).
const XYZ_FROM_RGB: [[f64; 3]; 3] = [
    [0.412_456_4, 0.357_576_1, 0.180_437_5],
    [0.212_672_9, 0.715_152_2, 0.072_175_0],
    [0.019_333_9, 0.119_192_0, 0.950_304_1],
];

/// sRGB transfer function (IEC 61966-2-1:1999), linear to encoded.
fn encoded(c: f64) -> f64 {
    if c <= 0.003_130_8 { 12.92 * c } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 }
}

/// CIE 1976 L*a*b* (ISO/CIE 11664-4) to linear sRGB; components may fall outside 0 to 1.
fn linear_from_lab([l, a, b]: [f64; 3]) -> [f64; 3] {
    let fy = (l + 16.0) / 116.0;
    let undo = |f: f64| if f > 6.0 / 29.0 { f.powi(3) } else { (116.0 * f - 16.0) * 27.0 / 24389.0 };
    let white = XYZ_FROM_RGB.map(|row| row.iter().sum::<f64>());
    let xyz =
        nalgebra::Vector3::new(white[0] * undo(fy + a / 500.0), white[1] * undo(fy), white[2] * undo(fy - b / 200.0));
    let matrix = nalgebra::Matrix3::from_fn(|i, j| XYZ_FROM_RGB[i][j]);
    // three independent primaries: the matrix is never singular
    let rgb = matrix.lu().solve(&xyz).unwrap_or_else(nalgebra::Vector3::zeros);
    [rgb[0], rgb[1], rgb[2]]
}

#[cfg(test)]
mod tests {
    use super::*;

    type Matrix = [[f64; 3]; 3];

    /// Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency",
    /// IEEE Trans. Visualization and Computer Graphics 15(6):1291-1298 (2009), severity 1.0, on linear sRGB.
    const SIGHTS: [(&str, Matrix); 4] = [
        ("normal", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanopia",
            [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
        ),
        (
            "deuteranopia",
            [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
        ),
        (
            "tritanopia",
            [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
        ),
    ];

    fn times(m: &Matrix, v: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|i| m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2])
    }

    fn linear(c: Colour) -> [f64; 3] {
        c.rgb.map(|b| {
            let v = f64::from(b) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        })
    }

    fn lab(c: Colour, sight: &Matrix) -> [f64; 3] {
        let xyz = times(&XYZ_FROM_RGB, times(sight, linear(c)).map(|v| v.clamp(0.0, 1.0)));
        let white = times(&XYZ_FROM_RGB, [1.0; 3]);
        let f = [0, 1, 2].map(|i| {
            let t: f64 = xyz[i] / white[i];
            if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
        });
        [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
    }

    fn pairs() -> impl Iterator<Item = (Look, Look)> {
        LOOKS.iter().enumerate().flat_map(|(i, a)| LOOKS[..i].iter().map(|b| (*a, *b)))
    }

    fn difference(a: [f64; 3], b: [f64; 3]) -> f64 {
        (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn the_lab_used_here_gives_the_published_values_of_the_srgb_primaries() {
        // red, green and blue of sRGB in L*a*b* with white D65, to two digits as commonly tabulated
        for (c, want) in [
            (Colour::solid(255, 0, 0), [53.24, 80.09, 67.20]),
            (Colour::solid(0, 255, 0), [87.73, -86.18, 83.18]),
            (Colour::solid(0, 0, 255), [32.30, 79.19, -107.86]),
        ] {
            let got = lab(c, &SIGHTS[0].1);
            assert!(difference(got, want) < 0.05, "{c:?}: {got:?}");
            let back = linear_from_lab(got);
            assert!(difference(back, linear(c)) < 1e-9, "{c:?}: {back:?}");
        }
    }

    #[test]
    fn any_two_looks_differ_by_30_for_every_sight() {
        for (name, sight) in &SIGHTS {
            for (a, b) in pairs() {
                let d = difference(lab(a.colour, sight), lab(b.colour, sight));
                assert!(d >= 30.0, "{name}: {a:?} and {b:?} differ by only {d:.1}");
            }
        }
    }

    #[test]
    fn the_difference_the_header_states_is_the_one_there_is() {
        let least = SIGHTS
            .iter()
            .flat_map(|(_, s)| pairs().map(|(a, b)| difference(lab(a.colour, s), lab(b.colour, s))))
            .fold(f64::INFINITY, f64::min);
        assert!((least - 34.4).abs() < 0.1, "{least}");
    }

    #[test]
    fn lightness_steps_survive_greyscale_and_stand_out_on_paper() {
        let mut steps: Vec<f64> = LOOKS.iter().map(|l| lab(l.colour, &SIGHTS[0].1)[0]).collect();
        steps.sort_by(f64::total_cmp);
        assert!(steps.windows(2).all(|w| w[1] - w[0] >= 8.0), "{steps:?}");
        for look in LOOKS {
            let y = times(&XYZ_FROM_RGB, linear(look.colour))[1];
            let contrast = 1.05 / (y + 0.05);
            assert!(contrast >= 3.0, "{look:?}: {contrast}");
            let tinted = times(&XYZ_FROM_RGB, linear(look.fill().colour.unwrap()))[1];
            let ink = times(&XYZ_FROM_RGB, linear(INK))[1];
            assert!((tinted + 0.05) / (ink + 0.05) >= 7.0, "text on {look:?}");
        }
        // neighbours in the list are two steps or more apart
        for pair in LOOKS.windows(2) {
            let d = (lab(pair[0].colour, &SIGHTS[0].1)[0] - lab(pair[1].colour, &SIGHTS[0].1)[0]).abs();
            assert!(d > 8.0, "{pair:?}: {d}");
        }
    }

    #[test]
    fn no_two_looks_share_a_marker_dash_or_hatch() {
        for (a, b) in pairs() {
            assert!(a.marker != b.marker && a.dash_mm != b.dash_mm && a.hatch != b.hatch, "{a:?} {b:?}");
        }
    }

    #[test]
    fn a_higher_chance_is_darker_for_every_sight() {
        for (name, sight) in &SIGHTS {
            let mut before = f64::INFINITY;
            for k in 0..=20 {
                let l = lab(chance(f64::from(k) / 20.0), sight)[0];
                assert!(l < before - 1.0, "{name}: step {k}, L* {l:.1} after {before:.1}");
                before = l;
            }
        }
        assert_eq!(chance(f64::NAN), PAPER);
        assert_eq!(chance(-3.0), chance(0.0));
        assert_eq!(chance(f64::INFINITY), chance(1.0));
    }
}
