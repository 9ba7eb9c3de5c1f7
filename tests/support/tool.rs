//! Where tests call the judged tool step by step: true tubes and plain readings in, plain numbers out.

#![allow(dead_code, reason = "every test and example uses its own part of it")]

use super::truth::figures::quantile;
use super::truth::shape::TrueTube;
use super::truth::{mean, whole};
use quarterlight::decide::bark_map::BarkMap;
use quarterlight::decide::plan::{PlanOptions, plan_tube};
use quarterlight::decide::split::{judge_draws, splitter_for};
use quarterlight::domain::{IndexEnd, IndexMark, Lot, MarkAt, Place, Rig, Scan, Tube};
use quarterlight::known::moments::Scales;
#[allow(unused_imports, reason = "every test and example uses its own part of it")]
pub use quarterlight::study::promise::{Promise, lot, population_of, rules, tube_of};
use quarterlight::tube::learn::learn_population;
use quarterlight::tube::scan::ready;
use quarterlight::tube::{Belief, Fields, Model, Sections};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The tube as a scanner hands it over: points, and a point on the index line.
pub fn scanned_tube(truth: &TrueTube, points: Vec<[f64; 3]>, mark: [f64; 3], accuracy_mm: f64) -> Tube {
    let index = Some(IndexMark { at: MarkAt::Point(mark), end: IndexEnd::Near, place: Place::default() });
    let scan = Scan { points, accuracy_mm, index, place: Place::default(), unrolled: None };
    Tube { scan: Some(scan), ..tube_of(truth, &[]) }
}

/// What the tool promises for the tubes of one lot; `scales`: the ones to use, else its own.
pub fn promises(tubes: Vec<Tube>, scales: Option<&Scales>, seed: u64, draws: u64) -> Vec<Promise> {
    quarterlight::study::promise::promises(tubes, scales, seed, draws).expect("readings of the outside")
}

/// What the tool takes the tubes of a lot to be like once it has seen their readings: what every command begins with.
pub fn learned(tubes: &[Tube]) -> Model {
    quarterlight::study::promise::learned(tubes).expect("tubes that can be fitted")
}

/// Lines and instruments without an error of angle or zero, as readings that only have noise are.
fn sure() -> Model {
    let rig = Rig { line_deg: Some(0.0), setting_deg: Some(0.0), bias_mm: Some(0.0), ..Rig::default() };
    Model { rigs: BTreeMap::from([(String::new(), rig)]), index_line_deg: 0.0, ..Model::default() }
}

/// What the tool believes of the tubes of one lot whose readings have noise, but no error of angle or zero; the lot
/// teaches its own scales, as in every command.
pub fn believe_all(tubes: &[Tube]) -> Vec<Belief> {
    let ready: Vec<Tube> = tubes.iter().map(|t| ready(t).expect("a scan that can be laid out").into_owned()).collect();
    let before = sure();
    let model = learn_population(&ready, &before).expect("tubes that can be fitted").model(&before);
    ready.par_iter().map(|t| Belief::fit(t, &model).expect("readings of the outside")).collect()
}

/// The same of a tube by itself.
pub fn believe(tube: &Tube) -> Belief {
    believe_all(std::slice::from_ref(tube)).remove(0)
}

/// A promise, and what the tool says of its own doubt in the angle.
#[derive(Debug, Clone, PartialEq)]
pub struct Close {
    /// The promise.
    pub promise: Promise,
    /// The angle the mean surface would have had chosen, degrees.
    pub mean_surface_deg: f64,
    /// Blanks that another angle would give more than the chosen one, as the draws have it: mean and 90 % point.
    pub short: (f64, f64),
}

/// The promise for one tube with its doubt in the angle: the steps of planning one by one, without suspicions.
pub fn promise_closely(tube: &Tube, model: &Model, seed: u64, n_draws: u64) -> Close {
    let lot = lot();
    let tube = &*ready(tube).expect("a scan that can be laid out");
    let belief = Belief::fit(tube, model).expect("readings of the outside");
    let along: Vec<f64> = (0..25).map(|i| tube.length_mm * f64::from(i) / 24.0).collect();
    let radius = belief.mean_sections(&along).mean_of(Fields::R0);
    let splitter = splitter_for(tube.length_mm, belief.fields(), &lot, &[], radius).expect("long enough");
    let z = splitter.judge().fan().z_mm().to_vec();
    let draws = judge_draws(&splitter, |k| belief.draw_sections(seed, k, &z), seed, &tube.name, n_draws);
    let mean_surface = belief.mean_sections(&z);
    let mut map = BarkMap::default();
    splitter.judge().judge(&mean_surface, &mut map);
    let choice = splitter.choose(&draws, &map);
    let alone = splitter.draw(mean_surface, seed, &tube.name, 0);
    let from_mean = splitter.choose(std::slice::from_ref(&alone), &map);
    // what each draw says another angle would give more
    let more: Vec<f64> = draws
        .iter()
        .map(|d| {
            let own = splitter.scores(&splitter.mean_table(std::slice::from_ref(d)));
            let here = own[whole(choice.best.angle_deg.round()) % own.len()];
            own.iter().copied().fold(0.0, f64::max) - here
        })
        .collect();
    let promise = Promise {
        angle_deg: choice.best.angle_deg,
        expected: choice.best.expected,
        interval: choice.interval,
        draws: choice.draws.iter().map(|&n| f64::from(n)).collect(),
        marked: (0.0, Vec::new()),
        marks: Vec::new(),
        doubted: belief.doubted().len(),
        suspicions: 0,
    };
    Close { promise, mean_surface_deg: from_mean.best.angle_deg, short: (mean(&more), quantile(&more, 0.9)) }
}

/// A run as planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// First end, mm.
    pub from_mm: f64,
    /// Bark line, degrees.
    pub line_deg: f64,
    /// Stated chance.
    pub chance: f64,
}

/// What is planned for one tube, and its runs piece by piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// The split angle, degrees.
    pub angle_deg: f64,
    /// Expected blanks at every whole angle.
    pub by_angle: Vec<f64>,
    /// Blanks of every draw.
    pub draws: Vec<f64>,
    /// Runs of every piece.
    pub pieces: Vec<Vec<Run>>,
}

/// Lines and instruments without an error of angle or zero, and bark without a texture, as in tests that know the surface;
/// what the tube's readings say of its scales.
fn exact(tube: &Tube) -> Model {
    let mut before = sure();
    before.population.texture.mm = 0.0;
    learn_population(std::slice::from_ref(tube), &before).expect("a tube that can be fitted").model(&before)
}

/// Plans one tube of a lot.
pub fn plan(tube: &Tube, lot: &Lot, seed: u64, draws: u64) -> Planned {
    let plan = plan_tube(tube, lot, &exact(tube), PlanOptions { seed, draws }).expect("readings of the outside");
    let split = plan.split.as_ref().expect("long enough");
    let run =
        |r: &quarterlight::decide::plan::PlannedRun| Run { from_mm: r.from_mm, line_deg: r.line_deg, chance: r.chance };
    Planned {
        angle_deg: split.best.angle_deg,
        by_angle: split.by_angle.iter().map(|c| c.expected).collect(),
        draws: split.draws.iter().map(|&n| f64::from(n)).collect(),
        pieces: plan.pieces.iter().map(|p| p.runs.iter().map(run).collect()).collect(),
    }
}

/// The true sections in the crate's own terms: components of the lobes by summing over 720 directions.
pub fn sections_of(truth: &TrueTube, fields: Fields, z_mm: &[f64]) -> Sections {
    let mut out = Sections::zeros(fields, z_mm);
    for (j, &z) in z_mm.iter().enumerate() {
        let ring = (truth.ring)(z);
        let r: Vec<f64> = (0..720).map(|i| ring((f64::from(i) / 2.0).to_radians())).collect();
        let row = out.row_mut(j);
        row[Fields::R0] = mean(&r);
        for n in 2..=fields.top {
            let wave = |f: fn(f64) -> f64| {
                r.iter()
                    .enumerate()
                    .map(|(i, r)| r * f((n * i) as f64 / 2.0 * std::f64::consts::PI / 180.0))
                    .sum::<f64>()
                    / 360.0
            };
            row[fields.harmonic(n)] = wave(f64::cos);
            row[fields.harmonic(n) + 1] = wave(f64::sin);
        }
        let [x, y] = (truth.axis)(z);
        row[fields.centre()] = x;
        row[fields.centre() + 1] = y;
        if let Some(at) = fields.turn_at() {
            row[at] = (truth.turn_deg)(z);
        }
    }
    out
}
