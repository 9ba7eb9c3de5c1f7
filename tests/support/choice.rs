//! What choosing the split angle from readings loses against perfect knowledge of the surface.

use quarterlight::decide::bark_map::BarkMap;
use quarterlight::decide::split::{Splitter, judge_draws, splitter_for};
use quarterlight::domain::{IndexMark, Kind, Lot, MarkAt, Tube};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{mean, quantile, sd, to_index};
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use quarterlight::tube::{Belief, Model};
use rayon::prelude::*;

/// How the tubes are read. Noise: dials 0.02 mm, straightedge gaps 0.03, calipers 0.05.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Readings {
    /// Runout at 12 angles x 17 mm and four caliper diameters.
    Dial,
    /// Summit over a V-block of 90 deg at 12 angles x 17 mm, and diameters in six directions every 30 mm.
    Vee,
    /// The same, and the gap from a straightedge along four lines, every 17 mm.
    VeeAndGap,
    /// The gap from a straightedge along 12 lines, every 17 mm, and diameters in six directions every 30 mm.
    Gap,
    /// Ten thousand points of 0.05 mm noise; the mark of the index line lies this many degrees off it.
    Scan(f64),
    /// Diameters in four directions at stations about 60 mm apart.
    Caliper,
}

impl Readings {
    /// Every way of measuring that sees the whole outside, with its name.
    pub const WHOLE: [(&str, Readings); 4] = [
        ("dial 12 x 17 mm, 4 diameters", Readings::Dial),
        ("V-block 12 x 17 mm, 6 diameters x 30 mm, gap along 4 lines", Readings::VeeAndGap),
        ("gap along 12 lines, 6 diameters x 30 mm", Readings::Gap),
        ("scan of 10^4 points", Readings::Scan(0.0)),
    ];
    /// Ways that do not see the bow.
    pub const BLIND: [(&str, Readings); 2] = [
        ("V-block 12 x 17 mm, 6 diameters x 30 mm", Readings::Vee),
        ("caliper only, 4 directions x 60 mm", Readings::Caliper),
    ];
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
    /// True blanks that the best angle gives more than the chosen one, tube by tube.
    pub short: Vec<f64>,
    /// The same as the draws expect it, on average, and its 90 % point.
    pub stated: Vec<(f64, f64)>,
    /// Blanks at the chosen angle, tube by tube.
    pub got: Vec<f64>,
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
    stated: (f64, f64),
}

/// Runs the study on tubes `0..tubes` of the default population. The wall limit is switched off on both sides, since
/// these readings say nothing about the wall (a scan does, but is to be compared with the rest).
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
        short: losses,
        stated: all.iter().map(|o| o.stated).collect(),
        got: all.iter().map(|o| o.from_draws).collect(),
        sums_covered: groups.iter().filter(|g| **g).count() as f64 / groups.len().max(1) as f64,
    }
}

fn one(lot: &Lot, seed: u64, k: u64, n_draws: u64, readings: Readings) -> One {
    let truth = TrueTube::grow(&Stand::default(), seed, k);
    let tube = read(&truth, seed, k, readings);
    let belief = Belief::fit(&tube, &Model::default()).expect("readings of the outside");
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
    let place = to_index(choice.best.angle_deg.round()) % score.len();
    // what each draw says another angle would give more
    let more: Vec<f64> = draws
        .iter()
        .map(|d| {
            let own = splitter.scores(&splitter.mean_table(std::slice::from_ref(d)));
            own.iter().copied().fold(0.0, f64::max) - own[place]
        })
        .collect();
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
        stated: (mean(&more), quantile(&more, 0.9)),
    }
}

fn real_count(splitter: &Splitter, real: &quarterlight::decide::split::DrawnSurface, deg: f64) -> f64 {
    f64::from(splitter.runs_at(real, deg.to_radians()))
}

fn read(truth: &TrueTube, seed: u64, k: u64, readings: Readings) -> Tube {
    let mut rng = draws::stream(seed, "read", k);
    let mut tube = truth.listed();
    let rng = &mut rng;
    let widths = |rng: &mut _| truth.rings(Kind::Diameter, 6, 30.0, 0.05, rng);
    match readings {
        Readings::Dial => {
            tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, rng);
            tube.readings.extend(truth.rings(Kind::Diameter, 4, 1e9, 0.05, rng).into_iter().take(4));
        }
        Readings::Vee | Readings::VeeAndGap => {
            tube.readings = truth.rings_with(Kind::Vee, 90_f64.to_radians(), 12, 17.0, 0.02, rng);
            tube.readings.extend(widths(rng));
            if readings == Readings::VeeAndGap {
                tube.readings.extend(truth.rings(Kind::Gap, 4, 17.0, 0.03, rng));
            }
        }
        Readings::Gap => {
            tube.readings = truth.rings(Kind::Gap, 12, 17.0, 0.03, rng);
            tube.readings.extend(widths(rng));
        }
        Readings::Scan(off_deg) => {
            // lying in the tube's own frame, so that the mark can be moved round it
            let mut scan = truth.scanned(&ScanMaking { moved: false, ..ScanMaking::default() }, true, rng);
            if let Some(IndexMark { at: MarkAt::Point([x, y, _]), .. }) = &mut scan.index {
                let (s, c) = off_deg.to_radians().sin_cos();
                (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
            }
            tube.scan = Some(scan);
        }
        Readings::Caliper => {
            let ring = truth.rings(Kind::Diameter, 8, 60.0, 0.05, rng);
            tube.readings = ring.into_iter().filter(|r| r.angle.degrees() < 179.0).collect();
        }
    }
    tube
}
