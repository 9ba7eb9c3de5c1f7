//! Which readings to take next on a tube, what they are worth, and when to stop.

use super::packages::{Round, Way, rounds};
use super::plan::{believe, mean_radius_mm};
use super::split::{judge_draws, splitter_for};
use super::tube_plan::{NoPlan, PlanOptions};
use super::worth::Yields;
use crate::domain::{Angle, Kind, Lot, Pace, Reading, Tube};
use crate::tube::Model;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a minute of measuring should bring: a twentieth of a blank. Own choice, to be set by the maker.
pub const MINUTE_BLANKS: f64 = 0.05;
/// At most so many numbers of what readings tell enter a choice.
const MOST_TOLD: usize = 8;
/// So many times the draws of a plan are made: a regression needs more of them than a mean.
const MORE_DRAWS: u64 = 3;
/// Of every way so many rounds are tried together with those of another.
const TOGETHER: usize = 3;
/// How well a tube that nobody read is known by what it was bought for, sd of its width in mm; common practice, no source.
const BOUGHT_SD_MM: f64 = 0.6;
/// A gain below this many of its standard errors may be none.
const SURELY: f64 = 1.5;

/// What is asked of an advice.
#[derive(Debug, Clone, PartialEq)]
pub struct AdviceRules {
    /// Ways of measuring at hand.
    pub ways: Vec<Way>,
    /// Most minutes to spend on a tube; `None`: as many as are worth it.
    pub minutes: Option<f64>,
    /// Blanks that a minute should bring.
    pub minute_blanks: f64,
}

/// Readings taken together, and what they are worth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Package {
    /// Its rounds, in the order they are best taken.
    pub rounds: Vec<Round>,
    /// Readings to be written down.
    pub readings: usize,
    /// Minutes they take.
    pub minutes: f64,
    /// Blanks that the split angle chosen with them gives more.
    pub gain_blanks: f64,
    /// Standard error of that from the number of draws.
    pub gain_error: f64,
}

/// What one tube needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// The tube.
    pub tube: String,
    /// Readings it has.
    pub readings: usize,
    /// Blanks expected of it as it is read.
    pub expected_blanks: f64,
    /// Blanks that knowing its surface exactly would add.
    pub ceiling_blanks: f64,
    /// The package worth most more than its minutes; `None` where none is: stop measuring.
    pub next: Option<Package>,
    /// The best package of every way by itself, most worth first, whether it pays or not.
    pub by_way: Vec<Package>,
}

impl Advice {
    /// True where the next minute is worth less than it should bring.
    #[must_use]
    pub fn settled(&self) -> bool {
        self.next.is_none()
    }
}

/// Advises on one tube whose scan, if it has one, is laid out.
///
/// # Errors
/// See [`NoPlan`]; a tube too short for a blank needs nothing and is settled.
pub fn advise_tube(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
    rules: &AdviceRules,
) -> Result<Advice, NoPlan> {
    // of a tube nobody read so much is known: it was bought for its arc
    let mut guessed = tube.clone();
    let unread = tube.scan.is_none() && !tube.readings.iter().any(|r| r.kind.is_outside());
    if unread && !tube.in_doubt && tube.length_mm > 0.0 {
        let size = 2.0 * model.centre_radius_mm;
        let mut bought = Reading::new(Kind::Diameter, tube.length_mm / 2.0, Angle::ZERO, size);
        bought.sd_mm = Some(BOUGHT_SD_MM);
        guessed.readings.push(bought);
    }
    let belief = believe(&guessed, model)?;
    let mut advice = Advice {
        tube: tube.name.clone(),
        readings: tube.readings.len(),
        expected_blanks: 0.0,
        ceiling_blanks: 0.0,
        next: None,
        by_way: Vec::new(),
    };
    let radius = mean_radius_mm(&belief);
    let Some(splitter) = splitter_for(tube.length_mm, belief.fields(), lot, &tube.marks, radius) else {
        return Ok(advice);
    };
    let z = splitter.judge().fan().z_mm().to_vec();
    let surface = |k| belief.draw_sections(options.seed, k, &z);
    let many = options.draws.max(2) * MORE_DRAWS;
    let draws = judge_draws(&splitter, surface, options.seed, &tube.name, many);
    let yields = Yields::of_draws(&splitter, &draws);
    advice.expected_blanks = yields.now();
    advice.ceiling_blanks = yields.ceiling();
    if advice.ceiling_blanks <= 0.0 {
        return Ok(advice);
    }
    let pace = |w: Way| Pace::of(w.kind(), lot.rigs.get(&rig_of(lot, w)));
    let each: Vec<Vec<Round>> = rules.ways.iter().map(|w| rounds(*w, tube, span_of(lot, *w), pace(*w))).collect();
    let mut list: Vec<Reading> = Vec::new();
    let mut at: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (way, all) in each.iter().enumerate() {
        let rig = rig_of(lot, rules.ways[way]);
        for (i, round) in all.iter().enumerate() {
            let places = round.readings(&rig).into_iter().map(|r| place_of(r, &mut list)).collect();
            at.insert((way, i), places);
        }
    }
    let foreseen = belief.foresee(&list, model, options.seed, many).map_err(NoPlan::Failed)?;
    let worth = |which: &[(usize, usize)]| -> Package {
        let readings: Vec<usize> = which.iter().flat_map(|w| at[w].iter().copied()).collect();
        let gain = yields.gain(&foreseen.told(&readings, MOST_TOLD));
        let rounds: Vec<Round> = which.iter().map(|&(way, i)| each[way][i].clone()).collect();
        Package {
            readings: rounds.iter().map(|r| r.readings).sum(),
            minutes: rounds.iter().map(|r| r.minutes).sum(),
            rounds,
            gain_blanks: gain.blanks,
            gain_error: gain.error,
        }
    };
    let net = |p: &Package| p.gain_blanks - rules.minute_blanks * p.minutes;
    let better = |a: Package, b: Package| if net(&b) > net(&a) { b } else { a };
    let allowed = |p: &Package| rules.minutes.is_none_or(|m| p.minutes <= m + 1e-9);
    let mut all = Vec::new();
    for (way, rounds) in each.iter().enumerate() {
        let own: Vec<Package> = (0..rounds.len()).map(|i| worth(&[(way, i)])).filter(&allowed).collect();
        advice.by_way.extend(own.iter().cloned().reduce(better));
        all.extend(own);
        for (other, more) in each.iter().enumerate().skip(way + 1) {
            for i in 0..rounds.len().min(TOGETHER) {
                let both = (0..more.len().min(TOGETHER)).map(|j| worth(&[(way, i), (other, j)]));
                all.extend(both.filter(&allowed));
            }
        }
    }
    advice.by_way.sort_by(|a, b| net(b).total_cmp(&net(a)));
    advice.next = all.into_iter().reduce(better).filter(|p| net(p) > 0.0 && p.gain_blanks > SURELY * p.gain_error);
    Ok(advice)
}

/// Where a reading stands in the list, put there if it is not.
fn place_of(reading: Reading, list: &mut Vec<Reading>) -> usize {
    list.iter().position(|r| *r == reading).unwrap_or_else(|| {
        list.push(reading);
        list.len() - 1
    })
}

/// The span of the lot's bridge, mm, where it has one.
fn span_of(lot: &Lot, way: Way) -> Option<f64> {
    let of_readings = || lot.tubes.iter().flat_map(|t| &t.readings).filter_map(|r| r.span_mm).next();
    if way == Way::Bridge { lot.rigs.values().find_map(|r| r.span_mm).or_else(of_readings) } else { None }
}

/// The rig that the lot's readings of a way name most often, ties to the first by name; empty where none does.
fn rig_of(lot: &Lot, way: Way) -> String {
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    for r in lot.tubes.iter().flat_map(|t| &t.readings).filter(|r| r.kind == way.kind()) {
        *named.entry(&r.rig).or_default() += 1;
    }
    named.into_iter().reduce(|best, n| if n.1 > best.1 { n } else { best }).map_or(String::new(), |n| n.0.to_string())
}

/// The ways that a lot's readings were taken by; a caliper is always at hand.
#[must_use]
pub fn ways_of(lot: &Lot) -> Vec<Way> {
    let read = |w: &Way| lot.tubes.iter().any(|t| t.readings.iter().any(|r| r.kind == w.kind()));
    Way::ALL.into_iter().filter(|w| *w == Way::Caliper || read(w)).collect()
}
