//! One tube's belief under several roughnesses, weighed by evidence, and the draws from it.
//!
//! How rough a tube is stands only roughly in its lot's law, and differs from tube to tube. So the same readings are
//! believed under a ladder of roughnesses (a factor of two from rung to rung), each weighed by how probable it makes the
//! readings. Level, tilt and bend of the fields and the errors common to a lot are redrawn with every draw: they stand in
//! the border of the equations, so that taking other scales or values for them costs no new factorisation. Lobes and bow of
//! the tube stand at heights of their own over the lot's (see `own`).

use super::fine;
use super::instrument::Unknown;
use super::kinks::Kinks;
use super::law::{BOW, CENTRE_BEND, LOBE_LEVEL, LOBES, UNEVEN};
use super::linearised::{Equations, Linearised};
use super::model::Model;
use super::own::{Heights, Own};
use super::population::{Population, scales_at};
use super::problem::{Problem, effect_precision};
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use rand::RngExt;
use std::sync::{Arc, OnceLock};

/// Logarithm of the step from one rung to the next: a factor of two.
const STEP: f64 = std::f64::consts::LN_2;
/// Most rungs up or down.
const MOST_STEPS: i32 = 4;
/// A rung that is this much less probable than the best is not climbed.
const LEAST_SHARE: f64 = 0.01;
/// So many rungs below and above stand for what lies between stations.
const BEYOND: i32 = 2;
/// Precision that stands for a value that is given.
const GIVEN: f64 = 1e12;
/// Why the equations of the unknowns have a factor where they were not asked before.
const HOLDS: &str = "a fit that holds by its readings is positive definite by its unknowns";

/// One roughness.
#[derive(Debug, Clone)]
struct Rung {
    /// logarithm of its roughness over the law's
    height: f64,
    /// log evidence; of a rung for what lies between stations alone it is not asked
    evidence: f64,
    /// asked for by the first draw
    solved: OnceLock<SolvedRung>,
    /// how its centreline may be bent, asked for by the first draw; `None`: as the fit has it
    kinks: OnceLock<Option<Kinks>>,
}

impl Rung {
    /// Not solved.
    fn at(height: f64, evidence: f64) -> Rung {
        Rung { height, evidence, solved: OnceLock::new(), kinks: OnceLock::new() }
    }
}

/// The equations of the unknowns on one rung.
#[derive(Debug, Clone)]
struct SolvedRung {
    factor: ArrowFactor,
    /// the band's part of the pull, forwarded
    low: Vec<f64>,
}

impl SolvedRung {
    fn of(problem: &Problem, population: &Population, height: f64, equations: &Equations) -> Option<SolvedRung> {
        let factor = problem.factor_of(population, height.exp(), &equations.added)?;
        let mut low = equations.right.clone();
        factor.forward(&mut low);
        low.truncate(problem.layout.band());
        Some(SolvedRung { factor, low })
    }
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
    population.own_sd[UNEVEN].hypot(population.doubt.rough_sd())
}

/// The rungs of one tube, with what a draw needs.
#[derive(Debug, Clone)]
pub(super) struct Ladder {
    rungs: Vec<Rung>,
    /// rungs below and above, for what lies between stations
    beyond: Vec<Rung>,
    /// doubt of the logarithm of the roughness between stations
    between: f64,
    likeliest: usize,
    /// logarithm of the roughness about which the rungs are weighed: 0, or what a widened doubt needs
    base: f64,
    common: Vec<Common>,
    population: Population,
    /// of lobes and bow, asked for by the first draw
    heights: OnceLock<[Heights; 2]>,
    problem: Arc<Problem>,
    about: Arc<Linearised>,
}

impl Ladder {
    /// Climbs as far as the evidence carries, from `base` times the law's roughness; `between`: doubt of its logarithm between
    /// stations. `None` when the equations are not positive definite.
    pub(super) fn new(
        problem: &Arc<Problem>,
        model: &Model,
        about: &Arc<Linearised>,
        (base, between): (f64, f64),
    ) -> Option<Ladder> {
        let n = problem.layout.band();
        let population = &model.population;
        let spread = spread(population);
        let rung = |step: i32| -> Option<Rung> {
            let height = base.ln() + STEP * f64::from(step);
            let (mut evidence, mut solved) = (None, OnceLock::new());
            if let Some(before) = problem.before_of(population, height.exp()) {
                evidence = about.by_readings(&before).map(|fit| fit.evidence());
            }
            if evidence.is_none() {
                let rung = SolvedRung::of(problem, population, height, about.equations(problem)?)?;
                let mut v = about.equations(problem)?.right.clone();
                rung.factor.forward(&mut v);
                let fit: f64 = v.iter().map(|x| x * x).sum();
                evidence =
                    Some(problem.half_log_det_of(population, height.exp())? + 0.5 * (fit - rung.factor.log_det()));
                solved = OnceLock::from(rung);
            }
            Some(Rung { solved, ..Rung::at(height, evidence?) })
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
        let beyond = if between > 0.0 { beyond(&rungs) } else { Vec::new() };
        let likeliest = (0..rungs.len()).max_by(|a, b| worth(&rungs[*a]).total_cmp(&worth(&rungs[*b])))?;
        // the tube's own readings together with what its lot knows
        let names: Vec<(&Unknown, usize)> =
            problem.layout.measuring.iter().filter(|(u, _)| u.is_common()).map(|(u, &at)| (u, at)).collect();
        let own = about.of_measuring(problem, &names.iter().map(|n| n.1).collect::<Vec<_>>())?;
        let common = names.into_iter().zip(own).map(|((u, at), (mean, variance))| {
            let known = model.common.get(u).copied();
            let (mean, sd) = known.unwrap_or((mean, variance.max(0.0).sqrt()));
            Common { at: at - n, unknown: u.clone(), mean, sd }
        });
        let common = common.collect();
        let (problem, about, population) = (problem.clone(), about.clone(), population.clone());
        let (base, heights) = (base.ln(), OnceLock::new());
        Some(Ladder { rungs, beyond, between, likeliest, base, common, population, heights, problem, about })
    }

    /// The equations of the unknowns on a rung.
    fn solved<'a>(&self, rung: &'a Rung) -> &'a SolvedRung {
        rung.solved.get_or_init(|| {
            let equations = self.equations();
            SolvedRung::of(&self.problem, &self.population, rung.height, equations).expect(HOLDS)
        })
    }

    fn equations(&self) -> &Equations {
        self.about.equations(&self.problem).expect(HOLDS)
    }

    /// Shares of the rungs when the lot's roughness is off the law's by `shift`; they add up to 1.
    fn shares(&self, shift: f64, sd: f64) -> Vec<f64> {
        let worth = |r: &Rung| r.evidence - 0.5 * ((r.height - self.base - shift) / sd).powi(2);
        let top = self.rungs.iter().map(worth).fold(f64::MIN, f64::max);
        let shares: Vec<f64> = self.rungs.iter().map(|r| (worth(r) - top).exp()).collect();
        let total: f64 = shares.iter().sum();
        shares.iter().map(|s| s / total).collect()
    }

    /// Log evidence of what was read on this rung by a tube with these factors of lobes and bow, but for a constant.
    fn evidence_of(&self, own: Own, rung: &Rung) -> Option<f64> {
        let mut prior = self.problem.border.clone();
        let effects = effect_precision(self.problem.layout.fields, &own.of(&self.population));
        prior[..effects.len()].copy_from_slice(&effects);
        let SolvedRung { factor, low } = self.solved(rung);
        let corner = factor.corner_with(|r| prior[r])?;
        let mut high = self.equations().right[low.len()..].to_vec();
        factor.border_forward(low, &mut high);
        corner.forward(&mut high);
        let fit: f64 = high.iter().map(|h| h * h).sum();
        let before: f64 = effects.iter().map(|p| p.ln()).sum();
        Some(0.5 * (fit - corner.log_det() + before))
    }

    /// Heights of lobes and bow, on the likeliest rung.
    fn heights(&self) -> &[Heights; 2] {
        self.heights.get_or_init(|| {
            [LOBES, BOW].map(|factor| {
                Heights::of(|height| {
                    let mut own = Own::default();
                    own.0[factor] = height;
                    self.evidence_of(own, &self.rungs[self.likeliest])
                })
            })
        })
    }

    /// The factor of the precision under the law's own roughness.
    pub(super) fn factor(&self) -> &ArrowFactor {
        &self.equations().factor
    }

    /// How the centreline of `tube` may be bent on this rung.
    fn kinks<'a>(&self, rung: &'a Rung, tube: &str) -> Option<&'a Kinks> {
        let kinks = || {
            let factor = &self.solved(rung).factor;
            let mut mean = self.equations().right.clone();
            factor.solve(&mut mean);
            Kinks::of(&self.problem.layout, factor, &mean, &self.population, rung.height.exp(), tube)
        };
        rung.kinks.get_or_init(kinks).as_ref()
    }

    /// Variance of a quantity (factors of all unknowns) over the rungs.
    pub(super) fn variance(&self, v: &[f64]) -> f64 {
        let shares = self.shares(0.0, spread(&self.population));
        let one = |r: &Rung| -> f64 {
            let mut u = v.to_vec();
            self.solved(r).factor.forward(&mut u);
            u.iter().map(|x| x * x).sum()
        };
        self.rungs.iter().zip(&shares).map(|(r, s)| s * one(r)).sum()
    }

    /// Roughness over the law's, weighed by evidence.
    pub(super) fn rougher(&self) -> f64 {
        let shares = self.shares(0.0, spread(&self.population));
        self.rungs.iter().zip(&shares).map(|(r, s)| s * r.height).sum::<f64>().exp()
    }

    /// The rung for what lies between stations, `off` in units of its doubt, where the readings point to `rung`; `even` from 0 to
    /// 1 decides between two.
    fn between_stations<'a>(&'a self, rung: &'a Rung, off: f64, even: f64) -> &'a Rung {
        let want = rung.height + STEP * (off * self.between / STEP + even).floor();
        let far = |r: &Rung| (r.height - want).abs();
        self.rungs.iter().chain(&self.beyond).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(rung)
    }

    /// Unknowns of draw `k`.
    pub(super) fn draw(&self, tube: &str, seed: u64, k: u64) -> Vec<f64> {
        let doubt = &self.population.doubt;
        let theta = doubt.drawn(seed, k);
        let (mut rng, sign) = draws::mirrored(seed, tube, k);
        // of a pair of draws one is as far from one end as the other is from the other
        let mirrored = |even: f64| if sign < 0.0 { 1.0 - even } else { even };
        let pick = mirrored(rng.random());
        let mut own = Own::default();
        for (factor, number) in [(LOBES, LOBE_LEVEL), (BOW, CENTRE_BEND)] {
            let (shift, sd) = (theta[number] - doubt.mean[number], self.population.own_sd[factor]);
            own.0[factor] = self.heights()[factor].below(shift, sd, mirrored(rng.random())) - shift;
        }
        let scales = own.of(&scales_at(&theta, &self.population));
        let shares = self.shares(doubt.rough_shift(&theta), self.population.own_sd[UNEVEN]);
        let mut sum = 0.0;
        let at = shares
            .iter()
            .position(|s| {
                sum += s;
                pick < sum
            })
            .unwrap_or(shares.len() - 1);
        let mut rung = &self.rungs[at];
        if self.between > 0.0 {
            rung = self.between_stations(rung, fine::drawn(seed, k), mirrored(rng.random()));
        }
        let SolvedRung { factor, low } = self.solved(rung);
        let (layout, centre) = (&self.problem.layout, &self.problem.centre);
        let mut prior = self.problem.border.clone();
        let effects = effect_precision(layout.fields, &scales);
        prior[..effects.len()].copy_from_slice(&effects);
        let n = low.len();
        let mut high = self.equations().right[n..].to_vec();
        for c in &self.common {
            let z = draws::mirrored_normals(seed, &format!("common/{:?}", c.unknown), k, 1)[0];
            let value = c.mean + c.sd * z - centre[n + c.at];
            prior[c.at] = GIVEN;
            high[c.at] += GIVEN * value;
        }
        factor.border_forward(low, &mut high);
        let noise: Vec<f64> = draws::normals(&mut rng, n + high.len()).into_iter().map(|z| sign * z).collect();
        // positive precisions on the diagonal of what was positive definite keep it so
        if let Some(corner) = factor.corner_with(|r| prior[r]) {
            corner.forward(&mut high);
            high.iter_mut().zip(&noise[n..]).for_each(|(h, z)| *h += z);
            corner.backward(&mut high);
        }
        let mut x: Vec<f64> = low.iter().zip(&noise).map(|(y, z)| y + z).collect();
        factor.band_backward(&mut x, &high);
        x.extend(high);
        if let Some(kinks) = self.kinks(rung, tube) {
            kinks.bend(&mut x, mirrored(rng.random()), sign, &mut rng);
        }
        x.iter_mut().zip(centre).for_each(|(x, c)| *x += c);
        x
    }
}

/// Rungs below and above these, which are sorted; no evidence is asked of them.
fn beyond(rungs: &[Rung]) -> Vec<Rung> {
    let [Some(low), Some(high)] = [rungs.first(), rungs.last()].map(|r| r.map(|r| r.height)) else { return Vec::new() };
    let off = |from: f64, steps: i32| Rung::at(from + STEP * f64::from(steps), f64::NEG_INFINITY);
    (1..=BEYOND).flat_map(|i| [off(low, -i), off(high, i)]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Kind, Reading, Tube};

    /// On both sides and at both ends: one step is taken as often as the doubt says, a pair of draws goes opposite ways.
    #[test]
    fn what_lies_between_stations_moves_by_steps_that_are_right_on_the_average() {
        let mut tube = Tube { name: "T1".into(), length_mm: 200.0, ..Tube::default() };
        for i in 0..30_u32 {
            let (z, a) = (40.0 * f64::from(i / 6) + 20.0, Angle::from_degrees(30.0 * f64::from(i % 6)));
            tube.readings.push(Reading::new(Kind::Radius, z, a, 12.7));
        }
        let model = Model::default();
        let problem = Arc::new(Problem::new(&tube, &model).expect("complete"));
        let about = Arc::new(problem.solve().expect("positive definite").last);
        // 0.576 steps of a factor of two
        let ladder =
            Ladder::new(&problem, &model, &about, (1.0, 0.5 * (40_f64 / 18.0).ln())).expect("positive definite");
        assert!((ladder.between / STEP - 0.576).abs() < 1e-3, "{}", ladder.between / STEP);
        let rung = &ladder.rungs[ladder.likeliest];
        let steps = |r: &Rung| (r.height / STEP).round();
        let step = |off: f64, even: f64| steps(ladder.between_stations(rung, off, even)) - steps(rung);
        let thousand = (0..1000).map(|i| step(1.0, (f64::from(i) + 0.5) / 1000.0)).sum::<f64>();
        assert!((thousand / 1000.0 - 0.576).abs() < 2e-3, "{thousand}");
        for (off, even) in [(0.3, 0.2), (1.4, 0.9), (-2.0, 0.6)] {
            assert!((step(off, even) + step(-off, 1.0 - even)).abs() < 1e-12);
        }
        let [low, high] = [-40.0, 40.0].map(|off| steps(ladder.between_stations(rung, off, 0.5)));
        let all: Vec<f64> = ladder.rungs.iter().map(steps).collect();
        assert!((all[0] - low - f64::from(BEYOND)).abs() < 1e-12);
        assert!((high - all[all.len() - 1] - f64::from(BEYOND)).abs() < 1e-12);
        // the readings hold a rougher draw as well
        let rougher = ladder.solved(ladder.between_stations(rung, 40.0, 0.5));
        assert!(rougher.factor.log_det().is_finite());
    }

    /// Against the equations solved anew under the scales of such a tube. Catches a height whose prior is not counted, or
    /// counted for fields it does not move.
    #[test]
    fn heights_are_weighed_as_the_whole_equations_weigh_them() {
        let model = Model::default();
        let mut tube = Tube { name: "T1".into(), length_mm: 200.0, ..Tube::default() };
        for i in 0..60_u32 {
            let (z, a) = (40.0 * f64::from(i / 12) + 20.0, Angle::from_degrees(30.0 * f64::from(i % 12)));
            tube.readings.push(Reading::new(Kind::Radius, z, a, 12.7));
        }
        let tube = Problem::new(&tube, &model).expect("complete").drawn(&tube, 5);
        let problem = Arc::new(Problem::new(&tube, &model).expect("complete"));
        let about = Arc::new(problem.solve().expect("positive definite").last);
        let ladder = Ladder::new(&problem, &model, &about, (1.0, 0.0)).expect("positive definite");
        let rung = ladder.rungs.iter().find(|r| r.height.abs() < 1e-12).expect("the law's own");
        let whole = |own: Own| {
            let other = Model { population: own.of(&model.population), ..Model::default() };
            let mut problem = Problem::clone(&problem);
            problem.move_to(&tube, &other);
            let equations = about.solved(&problem).expect("positive definite");
            let mut v = equations.right.clone();
            equations.factor.forward(&mut v);
            let before: f64 = problem.border.iter().map(|p| p.ln()).sum();
            0.5 * (v.iter().map(|x| x * x).sum::<f64>() - equations.factor.log_det() + before)
        };
        let told = |own: Own| ladder.evidence_of(own, rung).expect("positive definite");
        let mut most: f64 = 0.0;
        for own in [Own([1.0, 0.0, 0.0]), Own([-1.5, 0.0, 0.0]), Own([0.0, 0.75, 0.0]), Own([0.5, -2.0, 0.0])] {
            let (got, want) = (told(own) - told(Own::default()), whole(own) - whole(Own::default()));
            assert!((got - want).abs() < 1e-6, "{own:?}: {got} {want}");
            most = most.max(want.abs());
        }
        assert!(most > 1.0, "these readings tell");
    }
}
