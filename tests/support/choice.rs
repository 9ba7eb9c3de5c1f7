//! What choosing the split angle from readings loses against perfect knowledge of the surface.

use quarterlight::decide::bark_map::BarkMap;
use quarterlight::decide::split::{Splitter, judge_draws, splitter_for};
use quarterlight::domain::{Kind, Lot, Tube};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{quantile, sd, to_index};
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::{Belief, Population};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// How the tubes are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readings {
    /// Runout at 12 angles x 17 mm, 0.02 mm noise, and four caliper diameters.
    Dial,
    /// Four directions at stations about 60 mm apart, 0.05 mm noise.
    Caliper,
}

/// Blanks over all tubes, and what the intervals did.
#[derive(Debug, Clone, Default)]
pub struct Study {
    /// Blanks at the best angle of the true surface.
    pub best: f64,
    /// True blanks at the angle chosen from draws.
    pub from_draws: f64,
    /// True blanks at the angle chosen from the mean surface.
    pub from_mean: f64,
    /// True blanks at an arbitrary angle.
    pub arbitrary: f64,
    /// Blanks forecast at the angle chosen from draws.
    pub forecast: f64,
    /// Weight, g.
    pub weight: f64,
    /// Share of tubes whose true count lies in its 90 % interval.
    pub covered: f64,
    /// Mean width of those intervals, blanks.
    pub width: f64,
    /// Standard error of the loss from draws, as a share of `best`.
    pub loss_error: f64,
    /// Share of forecast minus true sums of ten tubes within the 90 % interval of the sum.
    pub sums_covered: f64,
}

impl Study {
    /// Share of the best blanks that is lost.
    pub fn loss(&self, got: f64) -> f64 {
        1.0 - got / self.best
    }
}

struct One {
    best: f64,
    from_draws: f64,
    from_mean: f64,
    arbitrary: f64,
    forecast: f64,
    weight: f64,
    truth: f64,
    interval: (f64, f64),
    draws: Vec<f64>,
}

/// Runs the study on tubes `0..tubes` of the default population. The wall limit is switched off on both sides, since
/// these readings say nothing about the wall.
pub fn study(tubes: u64, seed: u64, n_draws: u64, readings: Readings) -> Study {
    let mut lot = Lot::default();
    lot.target.blank_thickness_mm = 0.0;
    lot.target.clean_up_mm = 0.0;
    let all: Vec<One> = (0..tubes).into_par_iter().map(|k| one(&lot, seed, k, n_draws, readings)).collect();
    let sum = |f: &dyn Fn(&One) -> f64| all.iter().map(f).sum::<f64>();
    let n = all.len() as f64;
    let best = sum(&|o| o.best);
    let losses: Vec<f64> = all.iter().map(|o| o.best - o.from_draws).collect();
    let inside = |o: &One| f64::from(u8::from(o.truth >= o.interval.0 && o.truth <= o.interval.1));
    let groups: Vec<bool> = all
        .chunks_exact(10)
        .map(|ten| {
            let truth: f64 = ten.iter().map(|o| o.truth).sum();
            let totals: Vec<f64> = (0..ten[0].draws.len()).map(|k| ten.iter().map(|o| o.draws[k]).sum()).collect();
            truth >= quantile(&totals, 0.05) && truth <= quantile(&totals, 0.95)
        })
        .collect();
    Study {
        best,
        from_draws: sum(&|o| o.from_draws),
        from_mean: sum(&|o| o.from_mean),
        arbitrary: sum(&|o| o.arbitrary),
        forecast: sum(&|o| o.forecast),
        weight: sum(&|o| o.weight),
        covered: sum(&inside) / n,
        width: sum(&|o| o.interval.1 - o.interval.0) / n,
        loss_error: sd(&losses) * n.sqrt() / best,
        sums_covered: groups.iter().filter(|g| **g).count() as f64 / groups.len().max(1) as f64,
    }
}

fn one(lot: &Lot, seed: u64, k: u64, n_draws: u64, readings: Readings) -> One {
    let truth = TrueTube::grow(&Stand::default(), seed, k);
    let tube = read(&truth, seed, k, readings);
    let belief = Belief::fit(&tube, &BTreeMap::new(), &Population::default(), 12.7).expect("readings of the outside");
    let splitter = splitter_for(truth.length_mm, belief.fields(), lot, &[], 12.7).expect("long enough");
    let z = splitter.judge().fan().z_mm().to_vec();
    // the truth is judged by the same code, with its own lobes
    let true_splitter = splitter_for(truth.length_mm, TrueTube::fields(), lot, &[], 12.7).expect("long enough");
    // wander of the one real split: the same stream the forecast's draws do not use
    let real = true_splitter.draw(truth.sections(&z), seed ^ 0x5eed, &tube.name, k);
    let score = true_splitter.scores(&true_splitter.mean_table(std::slice::from_ref(&real)));
    let draws = judge_draws(&splitter, |k| belief.draw_sections(seed, k, &z), seed, &tube.name, n_draws);
    let mean_surface = belief.mean_sections(&z);
    let mut map = BarkMap::default();
    splitter.judge().judge(&mean_surface, &mut map);
    let choice = splitter.choose(&draws, &map);
    let alone = splitter.draw(mean_surface, seed, &tube.name, 0);
    let from_mean = splitter.choose(std::slice::from_ref(&alone), &map);
    let at = |deg: f64| score[to_index(deg.round()) % score.len()];
    One {
        best: score.iter().copied().fold(0.0, f64::max),
        from_draws: at(choice.best.angle_deg),
        from_mean: at(from_mean.best.angle_deg),
        arbitrary: score.iter().sum::<f64>() / score.len() as f64,
        forecast: choice.best.expected,
        weight: truth.weight_g,
        truth: real_count(&true_splitter, &real, choice.best.angle_deg),
        interval: choice.interval,
        draws: choice.draws.iter().map(|&n| f64::from(n)).collect(),
    }
}

fn real_count(splitter: &Splitter, real: &quarterlight::decide::split::DrawnSurface, deg: f64) -> f64 {
    f64::from(splitter.runs_at(real, deg.to_radians()))
}

fn read(truth: &TrueTube, seed: u64, k: u64, readings: Readings) -> Tube {
    let mut rng = draws::stream(seed, "read", k);
    let mut tube = truth.listed();
    match readings {
        Readings::Dial => {
            tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
            tube.readings.extend(truth.rings(Kind::Diameter, 4, 1e9, 0.05, &mut rng).into_iter().take(4));
        }
        Readings::Caliper => {
            let ring = truth.rings(Kind::Diameter, 8, 60.0, 0.05, &mut rng);
            tube.readings = ring.into_iter().filter(|r| r.angle.degrees() < 179.0).collect();
        }
    }
    tube
}
