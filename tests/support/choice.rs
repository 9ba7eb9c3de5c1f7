//! What choosing the split angle from readings loses against perfect knowledge of the surface. Truth is judged by the
//! brute-force evaluator of `truth`, which shares nothing with the crate.

#![allow(dead_code, reason = "every test and example uses its own part of it")]

#[path = "tool.rs"]
pub mod tool;
pub use quarterlight::known as truth;
#[allow(unused_imports, reason = "every test and example uses its own part of it")]
pub use quarterlight::known::yields::Known;

use rayon::prelude::*;
use truth::chance::Chance;
use truth::figures::quantile;
use truth::plans::{Plan, ordinary_hand};
use truth::populations::Population;
use truth::scan::scan;
use truth::shape::TrueTube;
use truth::spread;

/// How the tubes are read. Noise: dials 0.02 mm, straightedge gaps 0.03, calipers 0.05.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Readings {
    /// By plain instruments in an ordinary hand: what the tool takes to be off in readings is off in these.
    By(Plan),
    /// The same at the very angles and places that are written down, by instruments that are not off.
    Exactly(Plan),
    /// Ten thousand points of 0.05 mm noise; the mark of the index line lies this many degrees off it.
    Scan(f64),
}

impl Readings {
    /// Every way of measuring that sees the whole outside, with its name.
    pub const WHOLE: [(&str, Readings); 4] = [
        ("dial 12 x 17 mm, 4 diameters", Readings::By(Plan::Dial12)),
        ("V-block 12 x 17 mm, 6 diameters x 30 mm, gap along 4 lines", Readings::By(Plan::VeeAndGap)),
        ("gap along 12 lines, 6 diameters x 30 mm", Readings::By(Plan::Gap)),
        ("scan of 10^4 points", Readings::Scan(0.0)),
    ];
    /// The first of them by a hand that errs nowhere.
    pub const EXACT: [(&str, Readings); 1] =
        [("dial 12 x 17 mm, 4 diameters, every angle as written", Readings::Exactly(Plan::Dial12))];
    /// Ways that do not see the bow.
    pub const BLIND: [(&str, Readings); 2] = [
        ("V-block 12 x 17 mm, 6 diameters x 30 mm", Readings::By(Plan::Vee)),
        ("caliper only, 4 directions x 60 mm", Readings::By(Plan::Widths)),
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

/// The first `tubes` tubes of a population, judged.
pub fn grown(population: Population, seed: u64, tubes: u64) -> Vec<Known> {
    quarterlight::study::outcome::grown(&population.into(), seed, tubes).expect("long enough")
}

struct One<'a> {
    known: &'a Known,
    close: tool::Close,
    cut: f64,
}

/// Runs the study on these tubes. The wall limit is switched off on both sides, since these readings say nothing about
/// the wall (a scan does, but is to be compared with the rest).
pub fn study(known: &[Known], seed: u64, n_draws: u64, readings: Readings) -> Study {
    let tubes: Vec<quarterlight::domain::Tube> =
        known.par_iter().enumerate().map(|(k, known)| read(&known.tube, seed, k as u64, readings)).collect();
    let model = tool::learned(&tubes);
    let all: Vec<One> = known
        .par_iter()
        .zip(&tubes)
        .map(|(known, tube)| {
            let close = tool::promise_closely(tube, &model, seed, n_draws);
            One { known, cut: known.cut(close.promise.angle_deg), close }
        })
        .collect();
    let sum = |f: &dyn Fn(&One) -> f64| all.iter().map(f).sum::<f64>();
    let n = all.len() as f64;
    let best = sum(&|o| o.known.best());
    let got = |o: &One| o.known.at(o.close.promise.angle_deg);
    let losses: Vec<f64> = all.iter().map(|o| o.known.best() - got(o)).collect();
    let interval = |o: &One| o.close.promise.interval;
    let inside = |o: &One| f64::from(u8::from(o.cut >= interval(o).0 && o.cut <= interval(o).1));
    let groups: Vec<bool> = all
        .chunks_exact(10)
        .map(|ten| {
            let truth: f64 = ten.iter().map(|o| o.cut).sum();
            let draws = |o: &One, k: usize| o.close.promise.draws[k];
            let totals: Vec<f64> =
                (0..ten[0].close.promise.draws.len()).map(|k| ten.iter().map(|o| draws(o, k)).sum()).collect();
            truth >= quantile(&totals, 0.05) && truth <= quantile(&totals, 0.95)
        })
        .collect();
    Study {
        best,
        from_draws: sum(&got),
        from_mean: sum(&|o| o.known.at(o.close.mean_surface_deg)),
        arbitrary: sum(&|o| o.known.arbitrary()),
        forecast: sum(&|o| o.close.promise.expected),
        weight: sum(&|o| o.known.tube.weight_g),
        covered: sum(&inside) / n,
        width: sum(&|o| interval(o).1 - interval(o).0) / n,
        loss_error: spread(&losses) * n.sqrt() / best,
        short: losses,
        stated: all.iter().map(|o| o.close.short).collect(),
        got: all.iter().map(got).collect(),
        sums_covered: groups.iter().filter(|g| **g).count() as f64 / groups.len().max(1) as f64,
    }
}

fn read(truth: &TrueTube, seed: u64, k: u64, readings: Readings) -> quarterlight::domain::Tube {
    match readings {
        Readings::By(plan) => tool::tube_of(truth, &plan.read_by(truth, seed, &ordinary_hand())),
        Readings::Exactly(plan) => tool::tube_of(truth, &plan.read(truth, seed)),
        Readings::Scan(off_deg) => {
            // lying in the tube's own frame, so that the mark can be moved round it
            let (points, [x, y, z]) = scan(truth, 10_000, 0.05, 0.02, &mut Chance::of(seed, "scan", k));
            let (s, c) = off_deg.to_radians().sin_cos();
            tool::scanned_tube(truth, points, [c * x - s * y, s * x + c * y, z], 0.02)
        }
    }
}
