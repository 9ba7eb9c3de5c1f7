//! The scales of a population, from its true tubes: what somebody would know who had measured thousands of them exactly.

use super::shape::TrueTube;
use super::{mean, spread};

/// Distance of the knots the scales are stated for, mm, and the length tilt and bend are stated over.
const KNOTS_MM: f64 = 18.0;
const SPAN_MM: f64 = 200.0;

/// Standard deviations of one field over tubes: of its mean, of its even change over 200 mm, of its even curving (as the
/// sagitta over 200 mm), of its S-shaped part (as its departure to either side from the line between its ends over 200 mm) and of what is left of the second differences of its spline coefficients 18 mm apart; all mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Scale {
    /// Of the mean.
    pub level: f64,
    /// Of the even change.
    pub tilt: f64,
    /// Of the even curving.
    pub bend: f64,
    /// Of the S-shaped part.
    pub ess: f64,
    /// Of the rest.
    pub rough: f64,
}

/// Scales of all fields of a population.
#[derive(Debug, Clone, PartialEq)]
pub struct Scales {
    /// Mean radius.
    pub radius: Scale,
    /// Each component of the lobes 2, 3, ...
    pub lobes: Vec<Scale>,
    /// Each component of the centreline.
    pub centre: Scale,
}

/// Scales over these tubes, lobes from the second to `top`.
#[must_use]
pub fn scales(tubes: &[TrueTube], top: u32) -> Scales {
    let curves: Vec<Vec<Vec<f64>>> = tubes.iter().map(|t| fields(t, top)).collect();
    let pooled = |which: &[usize], centred: bool| {
        let parts: Vec<(usize, Parts)> = which
            .iter()
            .flat_map(|&f| curves.iter().zip(tubes).map(move |(c, t)| (f, parts(&c[f], t.length_mm))))
            .collect();
        let sd = |pick: &dyn Fn(&Parts) -> f64, centred: bool| {
            let v: Vec<f64> = parts.iter().map(|p| pick(&p.1)).collect();
            if centred { spread(&v) } else { mean(&v.iter().map(|x| x * x).collect::<Vec<f64>>()).sqrt() }
        };
        Scale {
            level: sd(&|p| p.level, centred),
            tilt: sd(&|p| p.tilt, false),
            bend: sd(&|p| p.bend, false),
            ess: sd(&|p| p.ess, false),
            rough: sd(&|p| p.rough, false),
        }
    };
    let lobe = |n: usize| [2 * n - 3, 2 * n - 2];
    let last = 2 * (top as usize) - 1;
    Scales {
        radius: pooled(&[0], true),
        lobes: (2..=top as usize).map(|n| pooled(&lobe(n), false)).collect(),
        centre: pooled(&[last, last + 1], false),
    }
}

struct Parts {
    level: f64,
    tilt: f64,
    bend: f64,
    ess: f64,
    rough: f64,
}

/// Mean radius, the components of every lobe, and the centreline at even places about 18 mm apart, field by field.
fn fields(tube: &TrueTube, top: u32) -> Vec<Vec<f64>> {
    let n = knots(tube.length_mm);
    let mut out = vec![Vec::new(); 2 * top as usize + 1];
    for j in 0..n {
        let z = tube.length_mm * j as f64 / (n - 1) as f64;
        let ring = (tube.ring)(z);
        let r: Vec<f64> = (0..72).map(|i| ring(f64::from(5 * i).to_radians())).collect();
        let wave = |k: u32, odd: bool| {
            let part = |i: usize| {
                let (s, c) = (f64::from(k) * (5.0 * i as f64).to_radians()).sin_cos();
                r[i] * if odd { s } else { c }
            };
            (0..72).map(part).sum::<f64>() / 36.0
        };
        out[0].push(mean(&r));
        for k in 2..=top {
            let at = 2 * k as usize - 3;
            out[at].push(wave(k, false));
            out[at + 1].push(wave(k, true));
        }
        let [x, y] = (tube.axis)(z);
        let at = 2 * top as usize - 1;
        out[at].push(x);
        out[at + 1].push(y);
    }
    out
}

fn knots(length: f64) -> usize {
    super::whole((length / KNOTS_MM).round()).max(4) + 1
}

fn parts(values: &[f64], length: f64) -> Parts {
    let n = values.len();
    let h = length / (n - 1) as f64;
    let z: Vec<f64> = (0..n).map(|j| h * j as f64 - length / 2.0).collect();
    let square: f64 = z.iter().map(|z| z * z).sum();
    let second: Vec<f64> = coefficients(values).windows(3).map(|w| w[0] - 2.0 * w[1] + w[2]).collect();
    let common = mean(&second);
    // of a cube the second differences rise evenly
    let inner = &z[1..n - 1];
    let rise = inner.iter().zip(&second).map(|(z, s)| z * s).sum::<f64>() / inner.iter().map(|z| z * z).sum::<f64>();
    let rest: Vec<f64> = second.iter().zip(inner).map(|(s, z)| (s - common - rise * z).powi(2)).collect();
    // second differences grow with the square of the distance of the knots when even, with its power 3/2 when rough
    let rough = (rest.iter().sum::<f64>() / (rest.len() - 2) as f64).sqrt();
    Parts {
        level: mean(values),
        tilt: SPAN_MM * z.iter().zip(values).map(|(z, v)| z * v).sum::<f64>() / square,
        bend: common / 8.0 * (SPAN_MM / h).powi(2),
        // e u^3 with u = z / 100 leaves its chord by 0.385 e and has second differences of 6 e u (h / 100)^2
        ess: 0.3849 * rise * (SPAN_MM / 2.0).powi(3) / (6.0 * h * h),
        rough: rough * (KNOTS_MM / h).powf(1.5),
    }
}

/// Coefficients of the cubic B-spline through values at its knots, the ends taken as straight: at every inner knot
/// `(c[i-1] + 4 c[i] + c[i+1]) / 6` is the value.
fn coefficients(values: &[f64]) -> Vec<f64> {
    // relaxed until it settles; each pass gains a factor of two
    let mut c = values.to_vec();
    for _ in 0..80 {
        for i in 1..values.len() - 1 {
            c[i] = (6.0 * values[i] - c[i - 1] - c[i + 1]) / 4.0;
        }
    }
    c
}
