//! The limits a maker really works by, from the stretches that were got and refused at the bench.
//!
//! Of every limit the logarithm of the maker's own over the stated one is unknown, before any stretch normal about 0 with an sd
//! of [`LIMIT_SD`]. A value is let pass with a logistic chance in the logarithm of value over limit, whose width is unknown
//! too; a stretch is got when every value is let pass, and a few are refused for what no gauge shows. What a gauge would have shown
//! is known as far as the draws tell, the same draw for all stretches of a tube: its chances are averaged over draws. A reason
//! that names one limit says which value was not let pass; one that names none of them (a crack) says nothing of limits.
//!
//! The posterior of the five numbers is summed by importance sampling about its mode (a Student t of five degrees of freedom
//! with the curvature's shape; A. B. Owen, Monte Carlo theory, methods and examples, ch. 9, from memory), the same points
//! every time.

use super::estimate::Estimate;
use crate::decide::judged::{GAUGED, Judged};
use crate::numeric::draws::{normals, stream};
use crate::numeric::summary::count;
use nalgebra::{SMatrix, SVector, SymmetricEigen};
use rayon::prelude::*;
use serde::Serialize;

/// Sd of the logarithm of a maker's own limit over the stated one; common practice, no source.
const LIMIT_SD: f64 = 0.4;
/// Middle of the logistic's width, and the sd of its logarithm: a value a quarter beyond its limit passes one time in five;
/// common practice, no source.
const WIDTH: (f64, f64) = (0.15, 0.5);
/// Share of good stretches that are refused for what no gauge shows, without a reason that says so; common practice, no source.
const OTHERWISE: f64 = 0.03;
/// Points of the sum.
const POINTS: u64 = 1500;
/// Degrees of freedom of the points' distribution.
const FREEDOM: f64 = 5.0;
/// Fewer judged stretches teach nothing worth keeping.
pub const LEAST_STRETCHES: usize = 10;

/// The four logarithms of limits, and that of the logistic's width over its middle.
type Numbers = SVector<f64, 5>;

/// One limit as the maker works by it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnLimit {
    /// Its word in `lot.toml`.
    pub limit: &'static str,
    /// As stated, mm.
    pub stated_mm: f64,
    /// As worked by, mm.
    pub own_mm: Estimate,
    /// How much of the doubt from before is left, as a share of its sd: near 1 the stretches say nothing of it.
    pub left: f64,
}

impl OwnLimit {
    /// Whether the stretches say anything of it: the doubt from before has fallen by a quarter at least.
    #[must_use]
    pub fn told(&self) -> bool {
        self.left < 0.75
    }
}

/// What the judged stretches of some tubes say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnLimits {
    /// Stretches used that were got.
    pub got: usize,
    /// Stretches used that were refused.
    pub refused: usize,
    /// Refused for a reason that is no limit's: not used.
    pub otherwise: usize,
    /// The limits, in a fixed order.
    pub limits: Vec<OwnLimit>,
}

/// What a reason says.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Reason {
    /// Nothing was written down.
    None,
    /// One or more limits were named; by their places.
    Named([bool; 4]),
    /// Something else was.
    Otherwise,
}

/// Words that name a limit in a reason, by the limit's place.
const NAMING: [(&str, usize); 16] = [
    ("hollow", 0),
    ("light", 0),
    ("gap", 0),
    ("dip", 0),
    ("rock", 1),
    ("crown", 1),
    ("wobbl", 1),
    ("bump", 1),
    ("arc", 2),
    ("round", 2),
    ("flat", 2),
    ("small", 2),
    ("large", 2),
    ("diameter", 2),
    ("skew", 3),
    ("lopsided", 3),
];

impl Reason {
    fn of(why: &str) -> Reason {
        let why = why.to_lowercase();
        let mut named = [false; 4];
        for (word, at) in NAMING {
            // "arc" is no part of a longer word, but "rock" may be of "rocks" and "rocking"
            let begins = |w: &str| w.starts_with(word) && (word != "arc" || w == "arc");
            named[at] |= why.split(|c: char| !c.is_alphabetic()).any(begins);
        }
        match (why.trim().is_empty(), named.contains(&true)) {
            (true, _) => Reason::None,
            (false, true) => Reason::Named(named),
            (false, false) => Reason::Otherwise,
        }
    }
}

/// A stretch that counts.
struct Counted<'a> {
    got: bool,
    named: Option<[bool; 4]>,
    over: &'a [[f64; 4]],
}

/// From the judged stretches of tubes, each tube's together, with the limits they were judged by, mm; `None` where fewer than
/// [`LEAST_STRETCHES`] can be used.
#[must_use]
pub fn own_limits(tubes: &[Vec<Judged>], stated_mm: [f64; 4]) -> Option<OwnLimits> {
    let mut otherwise = 0;
    let mut used: Vec<Vec<Counted<'_>>> = Vec::new();
    for tube in tubes {
        let mut of_tube = Vec::new();
        for s in tube.iter().filter(|s| !s.over.is_empty()) {
            let named = match (s.got, Reason::of(&s.why)) {
                (true, _) | (false, Reason::None) => None,
                (false, Reason::Named(which)) => Some(which),
                (false, Reason::Otherwise) => {
                    otherwise += 1;
                    continue;
                }
            };
            of_tube.push(Counted { got: s.got, named, over: &s.over });
        }
        used.push(of_tube);
    }
    let all = || used.iter().flatten();
    let got = all().filter(|s| s.got).count();
    let refused = all().count() - got;
    if got + refused < LEAST_STRETCHES {
        return None;
    }
    let log = |x: &Numbers| log_posterior(&used, x);
    let mode = climbed(&log);
    let points = sampled(&log, &mode)?;
    let limits = (0..4)
        .map(|q| {
            let mut of: Vec<(f64, f64)> = points.iter().map(|(x, w)| (x[q], *w)).collect();
            of.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mean: f64 = of.iter().map(|(x, w)| x * w).sum();
            let sd = of.iter().map(|(x, w)| w * (x - mean).powi(2)).sum::<f64>().sqrt();
            let mm = |x: f64| stated_mm[q] * x.exp();
            let own_mm = Estimate { expected: mm(mean), low: mm(point(&of, 0.05)), high: mm(point(&of, 0.95)) };
            OwnLimit { limit: GAUGED[q], stated_mm: stated_mm[q], own_mm, left: sd / LIMIT_SD }
        })
        .collect();
    Some(OwnLimits { got, refused, otherwise, limits })
}

/// The point below which `p` of the weight lies, of values in rising order.
fn point(of: &[(f64, f64)], p: f64) -> f64 {
    let mut sum = 0.0;
    let at = of.iter().position(|(_, w)| {
        sum += w;
        sum >= p
    });
    at.or(of.len().checked_sub(1)).map_or(f64::NAN, |i| of[i].0)
}

/// Logarithm of the posterior, up to a constant.
fn log_posterior(tubes: &[Vec<Counted<'_>>], x: &Numbers) -> f64 {
    let width = WIDTH.0 * x[4].exp();
    let prior: f64 = (0..4).map(|q| (x[q] / LIMIT_SD).powi(2)).sum::<f64>() + (x[4] / WIDTH.1).powi(2);
    let of_tube = |stretches: &Vec<Counted<'_>>| {
        let draws = stretches.iter().map(|s| s.over.len()).min().unwrap_or(0);
        if draws == 0 {
            return 0.0;
        }
        let chance = |k: usize| stretches.iter().map(|s| chance_of(s, &s.over[k], x, width)).product::<f64>();
        ((0..draws).map(chance).sum::<f64>() / count(draws)).max(f64::MIN_POSITIVE).ln()
    };
    tubes.iter().map(of_tube).sum::<f64>() - 0.5 * prior
}

/// Chance that a stretch comes out as it did where a gauge would show `over`.
fn chance_of(s: &Counted<'_>, over: &[f64; 4], x: &Numbers, width: f64) -> f64 {
    let pass: [f64; 4] = std::array::from_fn(|q| 1.0 / (1.0 + ((over[q] - x[q]) / width).exp()));
    let all: f64 = pass.iter().product();
    if s.got {
        return (1.0 - OTHERWISE) * all;
    }
    let Some(named) = s.named else { return OTHERWISE + (1.0 - OTHERWISE) * (1.0 - all) };
    (1.0 - OTHERWISE) * (0..4).filter(|q| named[*q]).map(|q| naming(&pass, q)).sum::<f64>()
}

/// Chance that value `q` is not let pass and is the one named: of several that are not, each as likely.
fn naming(pass: &[f64; 4], q: usize) -> f64 {
    // chances that 0, 1, 2 or 3 of the others are not let pass
    let mut others = [1.0, 0.0, 0.0, 0.0];
    for p in (0..4).filter(|i| *i != q).map(|i| pass[i]) {
        for n in (0..4).rev() {
            others[n] = others[n] * p + if n > 0 { others[n - 1] * (1.0 - p) } else { 0.0 };
        }
    }
    (1.0 - pass[q]) * (0_u8..).zip(others).map(|(n, chance)| chance / f64::from(1 + n)).sum::<f64>()
}

/// The highest place, and the shape about it: minus the inverse of the curvature, never wider than before any stretch.
struct Mode {
    at: Numbers,
    /// A root of the covariance.
    root: SMatrix<f64, 5, 5>,
}

const STEP: f64 = 0.02;
const MOST_STEPS: usize = 40;

fn climbed(log: &impl Fn(&Numbers) -> f64) -> Mode {
    let mut at = Numbers::zeros();
    let mut here = log(&at);
    let mut root = SMatrix::identity();
    for _ in 0..MOST_STEPS {
        let (slope, curvature) = slopes(log, &at, here);
        let eigen = SymmetricEigen::new(curvature);
        // the prior's own precision is the least there is; where the sum curves the other way it stands in for it
        let least = 1.0 / LIMIT_SD.max(WIDTH.1).powi(2);
        let inverse_root = eigen.eigenvalues.map(|v| (-v).max(least).sqrt().recip());
        root = eigen.eigenvectors * SMatrix::<f64, 5, 5>::from_diagonal(&inverse_root);
        let mut step: Numbers = root * (root.transpose() * slope);
        let longest = step.amax();
        if longest > 0.5 {
            step *= 0.5 / longest;
        }
        let mut moved = false;
        for _ in 0..8 {
            let there = log(&(at + step));
            if there > here {
                (at, here, moved) = (at + step, there, true);
                break;
            }
            step *= 0.5;
        }
        if !moved || step.amax() < 1e-3 {
            break;
        }
    }
    Mode { at, root }
}

/// Slope and curvature by central differences.
fn slopes(log: &impl Fn(&Numbers) -> f64, at: &Numbers, here: f64) -> (Numbers, SMatrix<f64, 5, 5>) {
    let off = |i: usize, h: f64| {
        let mut v = Numbers::zeros();
        v[i] = h;
        v
    };
    let mut slope = Numbers::zeros();
    let mut curvature = SMatrix::zeros();
    for i in 0..5 {
        let [down, up] = [-STEP, STEP].map(|h| log(&(at + off(i, h))));
        slope[i] = (up - down) / (2.0 * STEP);
        curvature[(i, i)] = (up - 2.0 * here + down) / (STEP * STEP);
        for j in 0..i {
            let corner = |a: f64, b: f64| log(&(at + off(i, a) + off(j, b)));
            let mixed = corner(STEP, STEP) - corner(STEP, -STEP) - corner(-STEP, STEP) + corner(-STEP, -STEP);
            curvature[(i, j)] = mixed / (4.0 * STEP * STEP);
            curvature[(j, i)] = curvature[(i, j)];
        }
    }
    (slope, curvature)
}

/// Points of the posterior with their weights, which sum to 1; `None` where no point has any.
fn sampled(log: &(impl Fn(&Numbers) -> f64 + Sync), mode: &Mode) -> Option<Vec<(Numbers, f64)>> {
    let one = |k: u64| {
        let mut rng = stream(0x11b1, "own limits", k);
        let z = normals(&mut rng, 10);
        // a Student t: normals over the root of a chi-squared by its degrees of freedom
        let scale = (FREEDOM / z[5..].iter().map(|v| v * v).sum::<f64>()).sqrt();
        let t = Numbers::from_iterator(z[..5].iter().map(|v| v * scale));
        let density = -0.5 * (FREEDOM + 5.0) * (t.norm_squared() / FREEDOM).ln_1p();
        let x = mode.at + mode.root * t;
        (x, log(&x) - density)
    };
    let points: Vec<(Numbers, f64)> = (0..POINTS).into_par_iter().map(one).collect();
    let top = points.iter().map(|p| p.1).fold(f64::MIN, f64::max);
    let sum: f64 = points.iter().map(|p| (p.1 - top).exp()).sum();
    (sum > 0.0 && sum.is_finite()).then(|| points.into_iter().map(|(x, l)| (x, (l - top).exp() / sum)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::RngExt;

    const STATED: [f64; 4] = [0.08, 0.12, 1.2, 6.0];

    /// Stretches whose values lie about their limits, judged by a maker with limits `own` times the stated ones and a width
    /// of his own: `tubes` of five, seen through draws that are `blur` off, as logarithms.
    fn judged(own: [f64; 4], width: f64, tubes: u64, blur: f64, seed: u64, reasons: bool) -> Vec<Vec<Judged>> {
        let tube = |t: u64| {
            let mut rng = stream(seed, "judged", t);
            let stretch = |_| {
                let truth: [f64; 4] = std::array::from_fn(|_| -0.5 + 0.5 * normals(&mut rng, 1)[0]);
                let chance: [f64; 4] = std::array::from_fn(|q| 1.0 / (1.0 + ((truth[q] - own[q].ln()) / width).exp()));
                let passes: [bool; 4] = chance.map(|p| rng.random::<f64>() < p);
                let got = passes.iter().all(|p| *p) && rng.random::<f64>() >= OTHERWISE;
                let failed: Vec<usize> = (0..4).filter(|q| !passes[*q]).collect();
                let pick = rng.random::<f64>() * count(failed.len());
                let why = failed.get(crate::numeric::summary::to_index(pick)).filter(|_| reasons && !got);
                // a reading off by blur, and draws of what is then believed of the truth
                let sd = (blur.powi(-2) + 4.0).powf(-0.5);
                let read: [f64; 4] = std::array::from_fn(|q| truth[q] + blur * normals(&mut rng, 1)[0]);
                let believed = read.map(|r| sd * sd * (r * blur.powi(-2) - 0.5 * 4.0));
                let draw = |_| std::array::from_fn(|q| believed[q] + sd * normals(&mut rng, 1)[0]);
                let over = (0..50).map(draw).collect();
                Judged { got, why: why.map_or(String::new(), |q| GAUGED[*q].replace("_tolerance", "")), over }
            };
            (0..5).map(stretch).collect()
        };
        (0..tubes).map(tube).collect()
    }

    #[test]
    fn reasons_name_their_limit_another_or_none() {
        assert_eq!(Reason::of("too HOLLOW in the middle"), Reason::Named([true, false, false, false]));
        assert_eq!(Reason::of("rocks, arc too small"), Reason::Named([false, true, true, false]));
        assert_eq!(Reason::of("crack starts here"), Reason::Otherwise);
        assert_eq!(Reason::of("dark arcs"), Reason::Otherwise);
        assert_eq!(Reason::of("  "), Reason::None);
    }

    #[test]
    fn a_stretch_has_the_chances_of_the_hand() {
        let s = |got: bool, named: Option<[bool; 4]>| Counted { got, named, over: &[] };
        // every value at its limit: each passes one time in two, all four one time in 16
        let (over, x, w) = ([0.0; 4], Numbers::zeros(), 0.15);
        assert!((chance_of(&s(true, None), &over, &x, w) - 0.97 / 16.0).abs() < 1e-12);
        assert!((chance_of(&s(false, None), &over, &x, w) - (0.03 + 0.97 * 15.0 / 16.0)).abs() < 1e-12);
        // each is named as often: a quarter of the refused
        let named = chance_of(&s(false, Some([true, false, false, false])), &over, &x, w);
        assert!((named - 0.97 * 15.0 / 16.0 / 4.0).abs() < 1e-12);
        let all_named: f64 = (0..4).map(|q| naming(&[0.9, 0.5, 0.2, 0.7], q)).sum();
        assert!((all_named - (1.0 - 0.9 * 0.5 * 0.2 * 0.7)).abs() < 1e-12);
        // a logarithm of 0.15 ln 4 beyond: one time in five
        let beyond = chance_of(&s(true, None), &[0.15 * 4_f64.ln(), -9.0, -9.0, -9.0], &x, w);
        assert!((beyond - 0.97 * 0.2).abs() < 1e-9);
    }

    #[test]
    fn a_strict_maker_is_told_from_an_easy_one_and_few_stretches_say_nothing() {
        let strict = own_limits(&judged([0.6, 1.0, 1.0, 1.0], 0.1, 20, 0.05, 1, true), STATED).expect("enough");
        let hollow = &strict.limits[0];
        assert_eq!((hollow.limit, strict.got + strict.refused), ("hollow", 100));
        assert!(hollow.told() && hollow.own_mm.excludes(0.08) && (0.04..0.056).contains(&hollow.own_mm.expected));
        let easy = own_limits(&judged([1.6, 1.0, 1.0, 1.0], 0.1, 20, 0.05, 1, true), STATED).expect("enough");
        assert!(easy.limits[0].own_mm.low > 0.08, "{easy:?}");
        assert_eq!(own_limits(&judged([1.0; 4], 0.1, 1, 0.05, 1, true), STATED), None);
        // cracks say nothing of limits
        let mut cracked = judged([1.0; 4], 0.1, 3, 0.05, 1, false);
        cracked.iter_mut().flatten().for_each(|s| (s.got, s.why) = (false, "crack".into()));
        assert_eq!(own_limits(&cracked, STATED), None);
    }

    #[test]
    fn intervals_of_own_limits_hold_as_often_as_they_say_with_sixty_stretches() {
        let makers: Vec<[u32; 4]> = (0..100_u64)
            .into_par_iter()
            .map(|m| {
                let z = normals(&mut stream(9, "maker", m), 5);
                let own: [f64; 4] = std::array::from_fn(|q| (LIMIT_SD * z[q]).exp());
                let width = WIDTH.0 * (WIDTH.1 * z[4]).exp();
                let said = own_limits(&judged(own, width, 12, 0.2, 100 + m, m % 2 == 0), STATED).expect("sixty");
                std::array::from_fn(|q| {
                    let mm = said.limits[q].own_mm;
                    u32::from((mm.low..=mm.high).contains(&(STATED[q] * own[q])))
                })
            })
            .collect();
        for q in 0..4 {
            let held: u32 = makers.iter().map(|m| m[q]).sum();
            println!("{}: {held} of 100", GAUGED[q]);
        }
        let held: u32 = makers.iter().flatten().sum();
        // 86 to 94 % of 400
        assert!((344..=376).contains(&held), "{held} of 400");
    }
}
