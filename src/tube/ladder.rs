//! One tube's belief under several roughnesses, weighed by evidence, and the draws from it.
//!
//! How rough a tube is stands only roughly in its lot's law, and differs from tube to tube. So the same readings are
//! believed under a ladder of roughnesses (a factor of two from rung to rung), each weighed by how probable it makes the
//! readings. Level, tilt and bend of the fields and the errors common to a lot are redrawn with every draw: they stand in
//! the border of the equations, so that taking other scales or values for them costs no new factorisation.

use super::instrument::Unknown;
use super::kinks::Kinks;
use super::model::Model;
use super::population::{Population, scales_at};
use super::problem::{Problem, Solved, effect_precision};
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use rand::RngExt;

/// Logarithm of the step from one rung to the next: a factor of two.
const STEP: f64 = std::f64::consts::LN_2;
/// Most rungs up or down.
const MOST_STEPS: i32 = 4;
/// A rung that is this much less probable than the best is not climbed.
const LEAST_SHARE: f64 = 0.01;
/// How much the roughness of one tube differs from its lot's, sd of the logarithm; common practice, no source.
const OWN_ROUGH_SD: f64 = 0.45;
/// The same of its lobes beyond the oval: their level differs from tube to tube by more than one normal law has it.
const OWN_LOBE_SD: f64 = 0.3;
/// Precision that stands for a value that is given.
const GIVEN: f64 = 1e12;

/// One roughness.
#[derive(Debug, Clone)]
struct Rung {
    /// logarithm of its roughness over the law's
    height: f64,
    /// log evidence
    evidence: f64,
    factor: ArrowFactor,
    /// the band's part of the pull, forwarded
    low: Vec<f64>,
    /// how its centreline may be bent; `None`: as the fit has it
    kinks: Option<Kinks>,
}

/// An error common to a lot, as one tube's border has it.
#[derive(Debug, Clone)]
struct Common {
    /// place in the border
    at: usize,
    unknown: Unknown,
    mean: f64,
    sd: f64,
}

/// How far the roughness of a tube may lie from the law's, the lot's doubt and its own, sd of the logarithm.
fn spread(population: &Population) -> f64 {
    OWN_ROUGH_SD.hypot(population.doubt.rough_sd())
}

/// The rungs of one tube, with what a draw needs.
#[derive(Debug, Clone)]
pub(super) struct Ladder {
    rungs: Vec<Rung>,
    /// logarithm of the roughness about which the rungs are weighed: 0, or what a widened doubt needs
    base: f64,
    /// the border's part of the pull
    high: Vec<f64>,
    centre: Vec<f64>,
    border: Vec<f64>,
    common: Vec<Common>,
    population: Population,
    fields: super::fields::Fields,
}

impl Ladder {
    /// Climbs as far as the evidence carries; `None` when the equations are not positive definite.
    pub(super) fn new(tube: &str, problem: &Problem, model: &Model, solved: &Solved, base: f64) -> Option<Ladder> {
        let n = problem.layout.band();
        let population = &model.population;
        let spread = spread(population);
        let rung = |step: i32| -> Option<Rung> {
            let height = base.ln() + STEP * f64::from(step);
            let factor = problem.factor_under(problem.band_prior(population, height.exp()), &solved.added)?;
            let mut v = solved.right.clone();
            factor.forward(&mut v);
            let fit: f64 = v.iter().map(|x| x * x).sum();
            let unknowns = problem.layout.knots() * crate::numeric::summary::count(problem.layout.fields.count());
            let evidence = 0.5 * (fit - factor.log_det()) - unknowns * height;
            v.truncate(n);
            Some(Rung { height, evidence, factor, low: v, kinks: None })
        };
        let worth = |r: &Rung| r.evidence - 0.5 * ((r.height - base.ln()) / spread).powi(2);
        let mut rungs = vec![rung(0)?];
        let mut best = worth(&rungs[0]);
        for side in [-1, 1] {
            for step in 1..=MOST_STEPS {
                let Some(next) = rung(side * step) else { break };
                let value = worth(&next);
                best = best.max(value);
                if value < best + LEAST_SHARE.ln() {
                    break;
                }
                rungs.push(next);
            }
        }
        rungs.retain(|r| worth(r) >= best + LEAST_SHARE.ln());
        rungs.sort_by(|a, b| a.height.total_cmp(&b.height));
        for rung in &mut rungs {
            let mut mean = solved.right.clone();
            rung.factor.solve(&mut mean);
            rung.kinks = Kinks::of(&problem.layout, &rung.factor, &mean, population, rung.height.exp(), tube);
        }
        let common = problem
            .layout
            .measuring
            .iter()
            .filter(|(u, _)| u.is_common())
            .map(|(u, &at)| {
                // the tube's own readings together with what its lot knows
                let covariance = solved.factor.border_covariance();
                let (r, b) = (at - n, problem.layout.border());
                let known = model.common.get(u).copied();
                let own = (solved.x[at], covariance[r * b + r].max(0.0).sqrt());
                let (mean, sd) = known.unwrap_or(own);
                Common { at: r, unknown: u.clone(), mean, sd }
            })
            .collect();
        Some(Ladder {
            rungs,
            base: base.ln(),
            high: solved.right[n..].to_vec(),
            centre: problem.centre.clone(),
            border: problem.border.clone(),
            common,
            population: population.clone(),
            fields: problem.layout.fields,
        })
    }

    /// Shares of the rungs when the lot's roughness is off the law's by `shift`; they add up to 1.
    fn shares(&self, shift: f64, sd: f64) -> Vec<f64> {
        let worth = |r: &Rung| r.evidence - 0.5 * ((r.height - self.base - shift) / sd).powi(2);
        let top = self.rungs.iter().map(worth).fold(f64::MIN, f64::max);
        let shares: Vec<f64> = self.rungs.iter().map(|r| (worth(r) - top).exp()).collect();
        let total: f64 = shares.iter().sum();
        shares.iter().map(|s| s / total).collect()
    }

    /// Variance of a quantity (factors of all unknowns) over the rungs.
    pub(super) fn variance(&self, v: &[f64]) -> f64 {
        let shares = self.shares(0.0, spread(&self.population));
        let one = |r: &Rung| -> f64 {
            let mut u = v.to_vec();
            r.factor.forward(&mut u);
            u.iter().map(|x| x * x).sum()
        };
        self.rungs.iter().zip(&shares).map(|(r, s)| s * one(r)).sum()
    }

    /// Roughness over the law's, weighed by evidence.
    pub(super) fn rougher(&self) -> f64 {
        let shares = self.shares(0.0, spread(&self.population));
        self.rungs.iter().zip(&shares).map(|(r, s)| s * r.height).sum::<f64>().exp()
    }

    /// Unknowns of draw `k`.
    pub(super) fn draw(&self, tube: &str, seed: u64, k: u64) -> Vec<f64> {
        let doubt = &self.population.doubt;
        let theta = doubt.drawn(seed, k);
        let mut scales = scales_at(&theta, &self.population);
        let (mut rng, sign) = draws::mirrored(seed, tube, k);
        // of a pair of draws one is as far from one end as the other is from the other
        let mirrored = |even: f64| if sign < 0.0 { 1.0 - even } else { even };
        let pick = mirrored(rng.random());
        let own = sign * draws::normals(&mut rng, 1)[0];
        let larger = (OWN_LOBE_SD * own).exp();
        for lobe in scales.lobes.iter_mut().skip(1) {
            lobe.level *= larger;
            lobe.tilt *= larger;
            lobe.bend *= larger;
            lobe.ess *= larger;
        }
        let shares = self.shares(doubt.rough_shift(&theta), OWN_ROUGH_SD);
        let mut sum = 0.0;
        let at = shares
            .iter()
            .position(|s| {
                sum += s;
                pick < sum
            })
            .unwrap_or(shares.len() - 1);
        let rung = &self.rungs[at];
        let mut prior = self.border.clone();
        let effects = effect_precision(self.fields, &scales);
        prior[..effects.len()].copy_from_slice(&effects);
        let mut high = self.high.clone();
        let n = rung.low.len();
        for c in &self.common {
            let z = draws::mirrored_normals(seed, &format!("common/{:?}", c.unknown), k, 1)[0];
            let value = c.mean + c.sd * z - self.centre[n + c.at];
            prior[c.at] = GIVEN;
            high[c.at] += GIVEN * value;
        }
        rung.factor.border_forward(&rung.low, &mut high);
        let noise: Vec<f64> = draws::normals(&mut rng, n + high.len()).into_iter().map(|z| sign * z).collect();
        // positive precisions on the diagonal of what was positive definite keep it so
        if let Some(corner) = rung.factor.corner_with(|r| prior[r]) {
            corner.forward(&mut high);
            high.iter_mut().zip(&noise[n..]).for_each(|(h, z)| *h += z);
            corner.backward(&mut high);
        }
        let mut x: Vec<f64> = rung.low.iter().zip(&noise).map(|(y, z)| y + z).collect();
        rung.factor.band_backward(&mut x, &high);
        x.extend(high);
        if let Some(kinks) = &rung.kinks {
            kinks.bend(&mut x, mirrored(rng.random()), sign, &mut rng);
        }
        x.iter_mut().zip(&self.centre).for_each(|(x, c)| *x += c);
        x
    }
}
