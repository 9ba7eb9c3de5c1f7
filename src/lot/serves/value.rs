//! What is said of a lot that may serve several instruments.

use super::best::Best;
use crate::decide::plan::{NoPlan, PlanOptions};
use crate::decide::serves::{Served, ServedTube};
use crate::decide::verdict::Verdict;
use crate::domain::{Finding, Target};
use crate::lot::Interval;
use crate::lot::json::{FORMAT, pretty};
use crate::lot::scales::ScalesUsed;
use serde::Serialize;

/// By what it is told which set a tube serves best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RankedBy {
    /// Blanks expected, times what one is worth; sets of which that is not stated stand aside.
    Value,
    /// Blanks expected as a share of what the tube's length could hold at most: fewer than two sets have a worth.
    ShareOfFull,
}

/// A set that was asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetAsked {
    /// What is wanted; its name is the instrument.
    #[serde(flatten)]
    pub target: Target,
    /// What one blank is worth, in the lot's currency.
    pub blank_value: Option<f64>,
    /// True of the lot's own target where its limits are not those of the set it is named by.
    pub own_limits: bool,
    /// The lot were it cut for this set alone: the tubes that the screening does not leave for it.
    pub alone: Share,
    /// Those of its tubes that serve it best.
    pub best_for: Share,
}

/// Tubes, and what they give together.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Share {
    /// Their names, in the lot's order.
    pub tubes: Vec<String>,
    /// Blanks: expected, and the ends of the 90 % interval from the tubes' draws added draw by draw. Of the tubes that serve a
    /// set best as told by draws that did not choose it.
    pub blanks: Interval,
    /// What they are worth; `None` where that is not stated.
    pub value: Option<Amount>,
}

/// An amount of money with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Amount {
    /// What is expected.
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
}

impl From<Interval> for Amount {
    fn from(i: Interval) -> Amount {
        Amount { expected: i.expected, low: i.low, high: i.high }
    }
}

/// A set that no tube which was analysed can serve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Skipped {
    /// The set.
    #[serde(rename = "instrument")]
    pub name: String,
    /// True where the tubes are too short for its blank, false where their size is out of reach of its arc diameter.
    pub too_long: bool,
    /// The length of its blank, or its arc diameter, mm.
    pub wants_mm: f64,
}

/// What became of one tube.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeServes {
    /// Its name.
    pub tube: String,
    /// What it gives for each set, in their order, or why nothing is planned.
    pub served: Result<ServedTube, NoPlan>,
    /// Which set it serves best; `None` where the screening leaves it for every set.
    pub best: Option<Best>,
}

/// The lot split between sets by what their blanks are worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Split {
    /// What all blanks are worth, each tube cut for what it serves best, on draws that did not choose it.
    pub value: Amount,
    /// The set that the whole lot does best with if it is cut for one alone.
    pub single: String,
    /// What the lot is worth then, on draws that did not choose it.
    pub single_value: Amount,
    /// What splitting the lot brings over that, draw by draw.
    pub gain: Amount,
}

/// A lot and the sets it may serve.
#[derive(Debug, Clone, PartialEq)]
pub struct Serves {
    /// Seed and draws.
    pub options: PlanOptions,
    /// The lot's name.
    pub lot: String,
    /// What worth is told in.
    pub currency: String,
    /// Blanks a tube must give to be worth it.
    pub least_blanks: f64,
    /// Under which scales its tubes are believed.
    pub scales: ScalesUsed,
    /// By what the best is told.
    pub ranked_by: RankedBy,
    /// The sets, starting sets first and in the order of their names.
    pub sets: Vec<SetAsked>,
    /// Sets that no tube can serve.
    pub skipped: Vec<Skipped>,
    /// Mean diameters of the smallest and of the largest tube, mm; `None` where none is seen.
    pub sizes_mm: Option<(f64, f64)>,
    /// The tubes, in the lot's order.
    pub tubes: Vec<TubeServes>,
    /// The lot split by worth; `None` where fewer than two sets have one.
    pub split: Option<Split>,
    /// Whether the lot states what promises came to in earlier lots, which is not counted here.
    pub promise_left_out: bool,
    /// What was noticed about the lot's files.
    pub findings: Vec<Finding>,
}

#[derive(Serialize)]
struct Stored<'a> {
    format: u64,
    #[serde(flatten)]
    options: PlanOptions,
    lot: &'a str,
    currency: &'a str,
    least_blanks: f64,
    ranked_by: RankedBy,
    sets: &'a [SetAsked],
    skipped: &'a [Skipped],
    diameters_mm: Option<(f64, f64)>,
    tubes: Vec<StoredTube<'a>>,
    not_analysed: Vec<StoredNone<'a>>,
    left_for_every_set: Vec<&'a str>,
    promise_left_out: bool,
    split_by_value: &'a Option<Split>,
}

#[derive(Serialize)]
struct StoredNone<'a> {
    tube: &'a str,
    why: String,
}

#[derive(Serialize)]
struct StoredTube<'a> {
    tube: &'a str,
    serves_best: Option<&'a str>,
    next_best: Option<&'a str>,
    next_as_good: Option<f64>,
    either: bool,
    grain_checked: bool,
    wall_checked: bool,
    #[serde(rename = "for")]
    sets: Vec<StoredServed<'a>>,
}

#[derive(Serialize)]
struct StoredServed<'a> {
    instrument: &'a str,
    verdict: Verdict,
    chance: f64,
    expected_blanks: f64,
    low: f64,
    high: f64,
    most_blanks: usize,
    angle_deg: Option<f64>,
    value: Option<f64>,
    in_reach: bool,
    reason: String,
}

impl Serves {
    /// Tubes that the screening leaves for every set.
    #[must_use]
    pub fn left(&self) -> Vec<&str> {
        self.tubes.iter().filter(|t| t.served.is_ok() && t.best.is_none()).map(|t| t.tube.as_str()).collect()
    }

    /// Sets of which it is not stated what a blank is worth.
    #[must_use]
    pub fn without_value(&self) -> Vec<&str> {
        self.sets.iter().filter(|s| s.blank_value.is_none()).map(|s| s.target.instrument.as_str()).collect()
    }

    /// As JSON of format 1, lengths in mm.
    #[must_use]
    pub fn to_json(&self) -> String {
        pretty(&Stored {
            format: FORMAT,
            options: self.options,
            lot: &self.lot,
            currency: &self.currency,
            least_blanks: self.least_blanks,
            ranked_by: self.ranked_by,
            sets: &self.sets,
            skipped: &self.skipped,
            diameters_mm: self.sizes_mm,
            tubes: self.tubes.iter().filter_map(|t| self.stored(t)).collect(),
            not_analysed: self
                .tubes
                .iter()
                .filter_map(|t| Some(StoredNone { tube: &t.tube, why: t.served.as_ref().err()?.to_string() }))
                .collect(),
            left_for_every_set: self.left(),
            promise_left_out: self.promise_left_out,
            split_by_value: &self.split,
        })
    }

    fn stored<'a>(&'a self, t: &'a TubeServes) -> Option<StoredTube<'a>> {
        let served = t.served.as_ref().ok()?;
        let name = |i: usize| self.sets[i].target.instrument.as_str();
        let second = t.best.as_ref().and_then(|b| b.second);
        let one = |(set, s): (&'a SetAsked, &'a Served)| StoredServed {
            instrument: &set.target.instrument,
            verdict: s.screen.verdict,
            chance: s.screen.chance,
            expected_blanks: s.expected,
            low: s.interval.0,
            high: s.interval.1,
            most_blanks: s.capacity,
            angle_deg: s.angle_deg,
            value: set.blank_value.map(|v| v * s.expected),
            in_reach: s.in_reach,
            reason: s.screen.reason.to_string(),
        };
        Some(StoredTube {
            tube: &t.tube,
            serves_best: t.best.as_ref().map(|b| name(b.set)),
            next_best: second.map(|s| name(s.set)),
            next_as_good: second.map(|s| s.as_good),
            either: second.is_some_and(|s| s.either),
            grain_checked: served.grain_checked,
            wall_checked: served.wall_checked,
            sets: self.sets.iter().zip(&served.sets).map(one).collect(),
        })
    }
}
