//! Prior scales re-estimated from a lot: which [`Population`] makes its readings most probable.
//!
//! For one tube the readings, at the weights and tangents of its fit, give the Gaussian evidence
//! `2 log p = log|Q| - log|Q + M| + b' (Q + M)^-1 b + const` with `Q` the prior's precision, `M` what the readings add and
//! `b` their pull from the prior's centre (Laplace; C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine
//! Learning (2006), ch. 5). Its sum over the lot is climbed over the logarithms of the scales by Fisher scoring; with
//! `D = Q^-1 - (Q + M)^-1` the expected curvature is `tr(D dQ_i D dQ_j) / 2`. The fits are then renewed under the new
//! scales, and so on. A weak normal prior on every logarithm keeps a scale the lot says nothing about where it was.

use super::belief::{Belief, BeliefError, Problem};
use super::population::{FieldScale, Population};
use super::prior::field_precision;
use super::sections::Fields;
use crate::domain::{Rig, Tube, counted};
use crate::numeric::summary::count;
use nalgebra::{Cholesky, DMatrix, DVector};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Standard deviation of the weak prior on the logarithm of a scale: a factor of 4.5 either way.
const WEAK_LOG_SD: f64 = 1.5;
/// A scale counts as learned when the lot leaves its logarithm at most this uncertain (a factor of 2.1); else it stays.
const MOST_LOG_SD: f64 = 0.75;
/// Times the tubes are fitted afresh under the scales found.
const ROUNDS: usize = 4;
/// Scoring steps between two fits.
const STEPS: usize = 12;
/// Largest change of a logarithm in one step.
const LARGEST_STEP: f64 = 0.7;
/// The search has settled when no logarithm moves by more than this: far below any doubt it could have.
const SETTLED: f64 = 2e-3;
/// Step of the logarithm for the derivative of the precision; the error is its square.
const DERIVATIVE_STEP: f64 = 1e-4;
/// A lot says something about the spread between tubes only when there are a few.
pub const LEAST_TUBES: usize = 3;

/// One scale as a lot tells it.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnedScale {
    /// Its name, as under `[population]` in `lot.toml`.
    pub name: String,
    /// What it was.
    pub before: f64,
    /// What it is now; the same as before where the lot says nothing.
    pub value: f64,
    /// Standard deviation of its logarithm, from the curvature of the log likelihood (and the weak prior); about the
    /// relative doubt.
    pub log_sd: f64,
    /// Whether the lot says enough about it to replace it.
    pub learned: bool,
}

/// The scales of a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Every scale the lot's tubes use, in a fixed order.
    pub scales: Vec<LearnedScale>,
    /// The set with the learned scales in it.
    pub population: Population,
    /// Tubes that could be fitted.
    pub tubes: usize,
    /// Gain in log likelihood over the set it began with.
    pub gain: f64,
}

/// Why nothing was learned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LearnError {
    /// Too few tubes could be fitted.
    #[error("{} could be fitted; the spread between tubes needs at least {need}", counted(*.fitted, "tube"))]
    TooFewTubes {
        /// Tubes fitted.
        fitted: usize,
        /// Tubes needed.
        need: usize,
    },
}

/// Which fields share a scale, and its four parts.
#[derive(Debug, Clone)]
struct Parameter {
    name: String,
    /// the fields' name in the set: `radius`, `lobe2` ...
    group: String,
    part: usize,
}

const PARTS: [&str; 4] = ["level", "tilt", "bend", "rough"];

fn part_mut(s: &mut FieldScale, part: usize) -> &mut f64 {
    match part {
        0 => &mut s.level,
        1 => &mut s.tilt,
        2 => &mut s.bend,
        _ => &mut s.rough,
    }
}

/// Name of the group a field belongs to, its scale under `p`, and for the frame's sake whether level and tilt are free.
fn group_of(field: usize, fields: Fields, p: &Population) -> (String, FieldScale) {
    if field == Fields::R0 {
        return ("radius".into(), p.radius);
    }
    if field < fields.centre() {
        let n = 2 + (field - 1) / 2;
        // higher lobes shrink with the last that has a scale of its own
        return (format!("lobe{}", n.min(p.lobes.len() + 1)), p.lobe(n));
    }
    if field < fields.outside() {
        return ("centre".into(), p.centre);
    }
    if fields.turn_at() == Some(field) {
        return ("twist".into(), p.twist);
    }
    if fields.wall_at() == Some(field) { ("wall".into(), p.wall) } else { ("wall_lean".into(), p.wall_lean) }
}

/// A straight centreline anywhere, and a turn counted from anywhere, are the same tube: such scales only fix the frame.
fn only_frame(group: &str, part: usize) -> bool {
    (group == "centre" && part < 2) || (group == "twist" && part == 0)
}

/// What one tube's readings say, at the weights of its fit.
struct Evidence {
    fields: Fields,
    coefficients: usize,
    spacing: f64,
    /// precision the readings add, and that of the unknowns of the measuring; full
    added: DMatrix<f64>,
    /// pull of the readings from the prior's centre
    pull: DVector<f64>,
}

/// Sum over tubes of the log evidence, its slope and its expected curvature.
struct Slope {
    value: f64,
    slope: DVector<f64>,
    curvature: DMatrix<f64>,
}

/// Re-estimates the scales of `start` from the readings of `tubes`.
///
/// `centre_radius_mm` is where the prior expects the mean radius. Tubes that cannot be fitted are left out. `progress` is
/// told now and then the share of the longest possible work that is done, from 0 to 1; it never falls.
///
/// # Errors
/// [`LearnError::TooFewTubes`] below three tubes.
///
/// # Accuracy
/// The doubt of a scale assumes tubes drawn from the prior's own shape; roughness in particular stands for whatever local
/// unevenness there is. Scales of between-tube spread from n tubes are known to about 1 / sqrt(2 n) at best.
pub fn learn_population(
    tubes: &[Tube],
    rigs: &BTreeMap<String, Rig>,
    start: &Population,
    centre_radius_mm: f64,
    progress: &dyn Fn(f64),
) -> Result<Learned, LearnError> {
    let gather = |p: &Population| -> Vec<Evidence> {
        let all: Vec<Result<Evidence, BeliefError>> =
            tubes.par_iter().filter(|t| !t.in_doubt).map(|t| evidence(t, rigs, p, centre_radius_mm)).collect();
        all.into_iter().filter_map(Result::ok).collect()
    };
    let mut held = gather(start);
    if held.len() < LEAST_TUBES {
        return Err(LearnError::TooFewTubes { fitted: held.len(), need: LEAST_TUBES });
    }
    let parameters = parameters(&held, start);
    let origin: Vec<f64> = parameters.iter().map(|p| scale_of(start, p).ln()).collect();
    let mut theta = origin.clone();
    let mut log_sd = vec![WEAK_LOG_SD; theta.len()];
    for round in 0..ROUNDS {
        if round > 0 {
            held = gather(&with(start, &parameters, &theta));
        }
        let free = vec![true; theta.len()];
        let before = theta.clone();
        let told = |share: f64| progress(part_done(round, share));
        log_sd = climb(&held, start, &parameters, &origin, &mut theta, &free, &told);
        if theta.iter().zip(&before).all(|(a, b)| (a - b).abs() < 10.0 * SETTLED) {
            break;
        }
    }
    // what the lot leaves open goes back to where it was, and the rest is sought again with it
    let free: Vec<bool> = log_sd.iter().map(|sd| *sd <= MOST_LOG_SD).collect();
    for ((t, o), f) in theta.iter_mut().zip(&origin).zip(&free) {
        if !f {
            *t = *o;
        }
    }
    let told = |share: f64| progress(part_done(ROUNDS, share));
    let last = climb(&held, start, &parameters, &origin, &mut theta, &free, &told);
    // only what was learned is written over, so that the rest keeps its last digit
    let (new, kept): (Vec<Parameter>, Vec<f64>) =
        parameters.iter().cloned().zip(theta.iter().copied()).zip(&free).filter(|(_, f)| **f).map(|(q, _)| q).unzip();
    let population = with(start, &new, &kept);
    let gain = sum_evidence(&held, &population, &parameters).value - sum_evidence(&held, start, &parameters).value;
    let scales = (0..theta.len())
        .map(|i| LearnedScale {
            name: parameters[i].name.clone(),
            before: scale_of(start, &parameters[i]),
            value: if free[i] { theta[i].exp() } else { scale_of(start, &parameters[i]) },
            log_sd: if free[i] { last[i] } else { log_sd[i] },
            learned: free[i],
        })
        .collect();
    Ok(Learned { scales, population, tubes: held.len(), gain })
}

/// Share of the longest possible work that is done after `share` of a round: the rounds, then the last climb.
fn part_done(round: usize, share: f64) -> f64 {
    (count(round) + share) / (count(ROUNDS) + 1.0)
}

/// The evidence of one tube: its fit, then what the readings add there.
fn evidence(
    tube: &Tube,
    rigs: &BTreeMap<String, Rig>,
    population: &Population,
    centre_radius_mm: f64,
) -> Result<Evidence, BeliefError> {
    Belief::check(tube)?;
    let problem = Problem::new(tube, rigs, population, centre_radius_mm)?;
    let (belief, sites) = problem.solve(tube)?;
    let (added, pull) = problem.added(&belief, &sites);
    let (coefficients, spacing) = problem.grid();
    Ok(Evidence { fields: problem.fields, coefficients, spacing, added, pull })
}

/// Every scale that any of these tubes uses, in the order of the fields.
fn parameters(held: &[Evidence], p: &Population) -> Vec<Parameter> {
    let mut out: Vec<Parameter> = Vec::new();
    let order = |e: &Evidence| (e.fields.count(), e.fields.top);
    let mut all: Vec<&Evidence> = held.iter().collect();
    all.sort_by_key(|e| std::cmp::Reverse(order(e)));
    for e in all {
        for field in 0..e.fields.count() {
            let (group, _) = group_of(field, e.fields, p);
            for part in (0..4).filter(|&part| !only_frame(&group, part)) {
                let name = format!("{group}_{}", PARTS[part]);
                if out.iter().all(|q| q.name != name) {
                    out.push(Parameter { name, group: group.clone(), part });
                }
            }
        }
    }
    out
}

fn field_scale_mut<'a>(p: &'a mut Population, group: &str) -> Option<&'a mut FieldScale> {
    match group {
        "radius" => Some(&mut p.radius),
        "centre" => Some(&mut p.centre),
        "wall" => Some(&mut p.wall),
        "wall_lean" => Some(&mut p.wall_lean),
        "twist" => Some(&mut p.twist),
        other => {
            let n: usize = other.strip_prefix("lobe")?.parse().ok()?;
            p.lobes.get_mut(n.checked_sub(2)?)
        }
    }
}

fn scale_of(p: &Population, parameter: &Parameter) -> f64 {
    let mut p = p.clone();
    field_scale_mut(&mut p, &parameter.group).map_or(f64::NAN, |s| *part_mut(s, parameter.part))
}

fn with(start: &Population, parameters: &[Parameter], theta: &[f64]) -> Population {
    let mut p = start.clone();
    for (parameter, t) in parameters.iter().zip(theta) {
        if let Some(s) = field_scale_mut(&mut p, &parameter.group) {
            *part_mut(s, parameter.part) = t.exp();
        }
    }
    p
}

/// Climbs over the free logarithms; returns the standard deviation of every logarithm where it ends.
fn climb(
    held: &[Evidence],
    start: &Population,
    parameters: &[Parameter],
    origin: &[f64],
    theta: &mut Vec<f64>,
    free: &[bool],
    told: &dyn Fn(f64),
) -> Vec<f64> {
    let weak = WEAK_LOG_SD.powi(-2);
    let penalty = |t: &[f64]| -> f64 { t.iter().zip(origin).map(|(a, b)| -0.5 * weak * (a - b).powi(2)).sum() };
    let at = |t: &[f64]| sum_evidence(held, &with(start, parameters, t), parameters);
    let mut here = at(theta);
    let bend = |s: &Slope| {
        let n = s.slope.len();
        let hold = |i: usize, j: usize| if i == j { weak + f64::from(u8::from(!free[i])) * 1e12 } else { 0.0 };
        DMatrix::from_fn(n, n, |i, j| s.curvature[(i, j)] + hold(i, j))
    };
    for step in 0..STEPS {
        told(count(step) / count(STEPS));
        let slope =
            DVector::from_fn(
                theta.len(),
                |i, _| {
                    if free[i] { here.slope[i] - weak * (theta[i] - origin[i]) } else { 0.0 }
                },
            );
        let Some(factor) = Cholesky::new(bend(&here)) else { break };
        let step = factor.solve(&slope).map(|s| s.clamp(-LARGEST_STEP, LARGEST_STEP));
        let value = here.value + penalty(theta);
        let mut share = 1.0;
        let mut moved = 0.0;
        for _ in 0..6 {
            let next: Vec<f64> = theta.iter().zip(step.iter()).map(|(t, s)| t + share * s).collect();
            let there = at(&next);
            if there.value + penalty(&next) >= value - 1e-9 {
                moved = share * step.amax();
                *theta = next;
                here = there;
                break;
            }
            share *= 0.4;
        }
        if moved < SETTLED {
            break;
        }
    }
    Cholesky::new(bend(&here)).map_or_else(
        || vec![f64::INFINITY; theta.len()],
        |f| f.inverse().diagonal().iter().map(|v| v.max(0.0).sqrt()).collect(),
    )
}

fn sum_evidence(held: &[Evidence], p: &Population, parameters: &[Parameter]) -> Slope {
    let n = parameters.len();
    let none = || Slope { value: 0.0, slope: DVector::zeros(n), curvature: DMatrix::zeros(n, n) };
    // collected in order before summing, so that threads do not change the last digits
    let all: Vec<Option<Slope>> = held.par_iter().map(|e| one_evidence(e, p, parameters)).collect();
    all.into_iter().fold(none(), |mut sum, one| {
        match one {
            Some(one) => {
                sum.value += one.value;
                sum.slope += one.slope;
                sum.curvature += one.curvature;
            }
            None => sum.value = f64::NEG_INFINITY,
        }
        sum
    })
}

/// Log evidence of one tube under `p`, its slope and expected curvature over the logarithms; `None` when the equations
/// cannot be solved.
fn one_evidence(e: &Evidence, p: &Population, parameters: &[Parameter]) -> Option<Slope> {
    let (f, m) = (e.fields.count(), e.coefficients);
    let n = e.added.nrows();
    let mut whole = e.added.clone();
    let mut log_prior = 0.0;
    // field by field: which parameters act on it, their derivatives, and the prior's own covariance
    let mut priors: Vec<DMatrix<f64>> = Vec::with_capacity(f);
    let mut acting: Vec<(usize, usize, DMatrix<f64>)> = Vec::new();
    for field in 0..f {
        let (group, scale) = group_of(field, e.fields, p);
        let q = field_precision(m, e.spacing, scale);
        for (a, b) in (0..m).flat_map(|a| (0..m).map(move |b| (a, b))) {
            whole[(a * f + field, b * f + field)] += q[(a, b)];
        }
        for (i, parameter) in parameters.iter().enumerate().filter(|(_, q)| q.group == group) {
            let moved = |h: f64| {
                let mut s = scale;
                *part_mut(&mut s, parameter.part) *= h.exp();
                field_precision(m, e.spacing, s)
            };
            acting.push((i, field, (moved(DERIVATIVE_STEP) - moved(-DERIVATIVE_STEP)) / (2.0 * DERIVATIVE_STEP)));
        }
        let factor = Cholesky::new(q)?;
        log_prior += 2.0 * factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        priors.push(factor.inverse());
    }
    let factor = Cholesky::new(whole)?;
    let log_whole = 2.0 * factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    let answer = factor.solve(&e.pull);
    let value = 0.5 * (log_prior - log_whole + e.pull.dot(&answer));
    let covariance = factor.inverse();
    // D = Q^-1 - (Q + M)^-1 between two fields
    let block = |u: usize, v: usize| {
        DMatrix::from_fn(m, m, |a, b| {
            let prior = if u == v { priors[u][(a, b)] } else { 0.0 };
            prior - covariance[(a * f + u, b * f + v)]
        })
    };
    debug_assert!(n >= f * m);
    let k = parameters.len();
    let (mut slope, mut curvature) = (DVector::zeros(k), DMatrix::zeros(k, k));
    for (i, u, du) in &acting {
        let own = DVector::from_fn(m, |a, _| answer[a * f + u]);
        slope[*i] += 0.5 * (block(*u, *u).component_mul(du).sum() - own.dot(&(du * &own)));
    }
    // products D du, one per pair of fields and parameter
    for (i, u, du) in &acting {
        for (j, v, dv) in &acting {
            if j > i || (i == j && v > u) {
                continue;
            }
            let d = block(*u, *v);
            // tr(D_vu du D_uv dv) = sum of (du D_uv) o (D_uv dv)
            let t = (du * &d).component_mul(&(&d * dv)).sum();
            let twice = if i == j && u != v { 1.0 } else { 0.5 };
            curvature[(*i, *j)] += twice * t;
            if i != j {
                curvature[(*j, *i)] += twice * t;
            }
        }
    }
    Some(Slope { value, slope, curvature })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Kind, Reading};

    /// Tubes drawn from `truth`, read all round by dial and caliper, or by caliper alone.
    fn lot(truth: &Population, n: u64, dial: bool) -> Vec<Tube> {
        (0..n)
            .map(|k| {
                let mut tube = Tube { name: format!("P{k}"), length_mm: 150.0, ..Tube::default() };
                for j in 0..9 {
                    let z = 5.0 + 17.5 * f64::from(j);
                    for i in 0..12 {
                        let a = Angle::from_degrees(30.0 * f64::from(i));
                        if dial {
                            tube.readings.push(Reading::new(Kind::Runout, z, a, 0.0));
                        }
                        if i < 6 && (!dial || j % 4 == 0) {
                            tube.readings.push(Reading::new(Kind::Diameter, z, a, 25.4));
                        }
                    }
                }
                let problem = Problem::new(&tube, &BTreeMap::new(), truth, 12.7).expect("complete readings");
                problem.drawn(&tube, 40 + k)
            })
            .collect()
    }

    #[test]
    fn the_slope_and_value_agree_with_each_other() {
        let p = Population::default();
        let tubes = lot(&p, 1, true);
        let e = vec![evidence(&tubes[0], &BTreeMap::new(), &p, 12.7).expect("fits")];
        let parameters = parameters(&e, &p);
        let theta: Vec<f64> = parameters.iter().map(|q| scale_of(&p, q).ln()).collect();
        let here = sum_evidence(&e, &p, &parameters);
        for i in 0..theta.len() {
            let moved = |h: f64| {
                let mut t = theta.clone();
                t[i] += h;
                sum_evidence(&e, &with(&p, &parameters, &t), &parameters).value
            };
            let numeric = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            assert!((numeric - here.slope[i]).abs() < 1e-3, "{}: {numeric} {}", parameters[i].name, here.slope[i]);
            assert!(here.curvature[(i, i)] >= -1e-9);
        }
    }

    #[test]
    fn the_scales_a_lot_was_drawn_with_are_found_within_their_doubt() {
        let mut truth = Population::default();
        truth.radius.level = 0.4;
        truth.lobes[0].level = 0.5;
        truth.lobes[0].tilt = 0.03;
        truth.centre.bend = 0.35;
        truth.centre.rough = 0.04;
        let tubes = lot(&truth, 16, true);
        let got =
            learn_population(&tubes, &BTreeMap::new(), &Population::default(), 12.7, &|_| ()).expect("enough tubes");
        let mut square = 0.0;
        let mut learned = 0.0;
        for s in &got.scales {
            println!("{s:?}");
            if s.learned {
                let want = with_name(&truth, &s.name);
                let u = (s.value / want).ln() / s.log_sd;
                assert!(u.abs() < 3.5, "{s:?}, truth {want}");
                square += u * u;
                learned += 1.0;
            }
        }
        for name in ["radius_level", "lobe2_level", "lobe2_tilt", "centre_bend", "centre_rough"] {
            assert!(got.scales.iter().any(|s| s.name == name && s.learned), "{name} not learned");
        }
        let rms = f64::sqrt(square / learned);
        assert!(rms > 0.4 && rms < 1.5, "rms departure {rms} of {learned} scales");
        assert!(got.gain > 10.0, "{}", got.gain);
    }

    #[test]
    fn what_a_caliper_cannot_tell_stays_as_it_was() {
        let tubes = lot(&Population::default(), 6, false);
        let got =
            learn_population(&tubes, &BTreeMap::new(), &Population::default(), 12.7, &|_| ()).expect("enough tubes");
        for name in ["centre_bend", "centre_rough", "lobe3_level", "lobe5_level"] {
            let s = got.scales.iter().find(|s| s.name == name).expect("listed");
            assert!(!s.learned && (s.value - s.before).abs() < 1e-15, "{s:?}");
        }
        assert!(got.scales.iter().any(|s| s.name == "lobe2_level" && s.learned));
        assert_eq!(got.population.centre, Population::default().centre);
        // the share of the work told never falls, and ends in the last climb
        let shares = std::cell::RefCell::new(Vec::new());
        let told = |share: f64| shares.borrow_mut().push(share);
        let again = learn_population(&tubes, &BTreeMap::new(), &Population::default(), 12.7, &told);
        assert_eq!(again.expect("enough tubes"), got);
        let shares = shares.into_inner();
        assert!(shares.len() > 3 && shares.windows(2).all(|w| w[0] <= w[1]), "{shares:?}");
        assert!(shares[0] >= 0.0 && shares[shares.len() - 1] > 0.8 && shares[shares.len() - 1] <= 1.0, "{shares:?}");
        let few = learn_population(&tubes[..2], &BTreeMap::new(), &Population::default(), 12.7, &|_| ());
        assert_eq!(few.expect_err("too few"), LearnError::TooFewTubes { fitted: 2, need: 3 });
    }

    fn with_name(p: &Population, name: &str) -> f64 {
        let (group, part) = name.rsplit_once('_').expect("a part");
        let part = PARTS.iter().position(|q| *q == part).expect("known");
        scale_of(p, &Parameter { name: name.into(), group: group.into(), part })
    }
}
