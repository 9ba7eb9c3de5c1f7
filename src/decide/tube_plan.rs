//! What is planned for one tube, or why nothing is: the words of a plan, which [`plan`](super::plan) fills in.

use super::broken;
use super::leeway::LimitChange;
use super::packages::Next;
use super::saw_first::SawFirst;
use super::split::SplitChoice;
use super::unread::Unchecked;
use super::verdict::Screened;
use crate::domain::Angle;
use crate::numeric::summary::count;
use crate::tube::{BeliefError, FittedTube, Measured};
use serde::{Deserialize, Serialize};

/// Why a tube has no split.
pub const TOO_SHORT: &str = "too short: no blank fits between the trims";

/// How a plan is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanOptions {
    /// Seed of all draws.
    pub seed: u64,
    /// Number of draws per tube.
    pub draws: u64,
}

impl Default for PlanOptions {
    fn default() -> Self {
        PlanOptions { seed: 1, draws: 200 }
    }
}

/// A run laid out on a piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedRun {
    /// First end, mm from the index end.
    pub from_mm: f64,
    /// Second end, mm from the index end.
    pub to_mm: f64,
    /// Bark line the blank is centred on, degrees.
    pub line_deg: f64,
    /// Chance that the stretch passes on some line its piece leaves open.
    pub chance: f64,
    /// Hollow there; `None` where the readings do not see it.
    pub hollow_mm: Option<Measured>,
    /// Rock there; `None` where the readings do not see it.
    pub rock_mm: Option<Measured>,
    /// Arc diameter there; `None` where the readings do not see it.
    pub arc_diameter_mm: Option<Measured>,
    /// Skew there; `None` where the readings do not see it.
    pub skew_mm: Option<Measured>,
    /// Distance over the bark from the run's least-read place to the nearest reading, mm.
    pub nearest_reading_mm: Option<f64>,
}

/// One piece of the chosen split.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedPiece {
    /// Number, from 1, clockwise from the split angle.
    pub piece: usize,
    /// Split line it starts at, degrees.
    pub from_deg: f64,
    /// Middle of the piece, degrees.
    pub centre_deg: f64,
    /// Blanks expected of it.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
    /// Runs laid out, from the index end.
    pub runs: Vec<PlannedRun>,
}

/// What the runs marked before splitting give by themselves, each where it is marked: good or not. Gauging every quarter
/// again after the split finds more (see [`SplitChoice`]).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Marked {
    /// Blanks expected, from draws that placed no mark.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
    /// Good runs of every draw.
    pub draws: Vec<u16>,
}

/// Shares of all windows of the mean surface that break each limit, and where the good ones lie.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct LimitShares {
    /// (limit word, share of windows that break it), in the order of [`broken::WORDS`].
    #[serde(rename = "limits", with = "by_word")]
    pub broken: Vec<(&'static str, f64)>,
    /// Share of windows that pass, by the third of the tube their middle lies in, index end first.
    pub passing_by_third: [f64; 3],
}

/// Everything said about one tube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TubePlan {
    /// Its figures.
    #[serde(flatten)]
    pub fit: FittedTube,
    /// The split; `None` when the tube is too short for a blank.
    #[serde(with = "too_short")]
    pub split: Option<SplitChoice>,
    /// The pieces at the chosen split.
    pub pieces: Vec<PlannedPiece>,
    /// What the runs laid out on them give by themselves; `None` when the tube is too short for a blank.
    #[serde(default, rename = "marked_runs")]
    pub marked: Option<Marked>,
    /// The same tube with the grain or wall that nobody read as they may be; `None` where both were read.
    #[serde(default)]
    pub unchecked: Option<Unchecked>,
    /// What it would give were one of the limits tighter or wider.
    #[serde(default)]
    pub limit_changes: Vec<LimitChange>,
    /// Most blanks the length could hold were every window good.
    pub capacity: usize,
    /// Whether it is worth splitting.
    pub screen: Screened,
    /// What sawing the tube into two lengths or more before splitting would give; `None` where it was not worth trying.
    pub saw_first: Option<SawFirst>,
    /// Blanks that knowing the surface exactly would add to the choice of the split; `None` when the tube is too short for a
    /// blank.
    #[serde(default, rename = "left_to_gain_blanks")]
    pub left_to_gain: Option<f64>,
    /// What to measure next; `None` where nobody asked or little is left to gain. It is said to people alone: as data the
    /// advice gives it.
    #[serde(skip)]
    pub next: Option<Next>,
    /// Whether its pieces are those that its split lines made as they fell.
    #[serde(default)]
    pub as_split: bool,
    /// Minutes that its readings took, at the pace of their rigs; `None` for a scan, whose pace nobody stated.
    #[serde(default, rename = "measuring_minutes")]
    pub minutes: Option<f64>,
    /// What rules windows out.
    #[serde(flatten)]
    pub limits: LimitShares,
    /// False where no reading of the wall exists: the wall limit was not checked.
    pub wall_checked: bool,
    /// False where no fibre was followed: the grain is taken as running true.
    pub grain_checked: bool,
}

/// Where knowing a tube better may still gain as much, blanks, it is told.
const WORTH_TELLING: f64 = 0.25;

impl TubePlan {
    /// Blanks that knowing the surface would add, where that is worth a word.
    #[must_use]
    pub fn much_left(&self) -> Option<f64> {
        self.left_to_gain.filter(|l| *l >= WORTH_TELLING)
    }

    /// Blanks expected; 0 for a tube too short for one.
    #[must_use]
    pub fn expected(&self) -> f64 {
        self.split.as_ref().map_or(0.0, |s| s.best.expected)
    }

    /// How far piece `p` (from 0) reaches from its first split line to its second, degrees.
    #[must_use]
    pub fn span_deg(&self, p: usize) -> f64 {
        let at = |i: usize| self.pieces[i % self.pieces.len()].from_deg;
        if self.pieces.len() < 2 { 360.0 } else { (at(p + 1) - at(p)).rem_euclid(360.0) }
    }

    /// Blanks of draw `k`.
    #[must_use]
    pub fn blanks_of_draw(&self, k: usize) -> f64 {
        self.split.as_ref().and_then(|s| s.draws.get(k)).map_or(0.0, |&n| f64::from(n))
    }

    /// Chance of at least `least` blanks.
    #[must_use]
    pub fn chance_of(&self, least: f64) -> f64 {
        match &self.split {
            Some(s) if !s.draws.is_empty() => {
                count(s.draws.iter().filter(|&&n| f64::from(n) >= least).count()) / count(s.draws.len())
            }
            _ => f64::from(u8::from(least <= 0.0)),
        }
    }
}

/// Degrees in [0, 360) without the last-digit noise of a conversion.
pub(super) fn tidy(a: Angle) -> f64 {
    (a.wrapped().degrees() * 1e6).round() / 1e6 % 360.0
}

/// Why a tube has no plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NoPlan {
    /// Rows that concern it could not be read; see the findings.
    #[error("not analysed: a row of its data cannot be read")]
    InDoubt,
    /// Nothing usable was measured on its outside.
    #[error("not measured yet")]
    NotMeasured,
    /// The fit failed.
    #[error("not analysed: {0}")]
    Failed(#[source] BeliefError),
}

/// Shares are stored by the word of their limit.
mod by_word {
    use super::broken;
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(shares: &[(&'static str, f64)], to: S) -> Result<S::Ok, S::Error> {
        to.collect_map(shares.iter().copied())
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<(&'static str, f64)>, D::Error> {
        let stored = std::collections::BTreeMap::<String, f64>::deserialize(from)?;
        if let Some(word) = stored.keys().find(|k| !broken::WORDS.iter().any(|w| w.1 == k.as_str())) {
            return Err(D::Error::custom(format!("'{word}' is no limit")));
        }
        Ok(broken::WORDS.iter().filter_map(|w| Some((w.1, *stored.get(w.1)?))).collect())
    }
}

/// The split of a tube too short for one is stored as one without an angle, of no blanks, with the reason.
mod too_short {
    use super::SplitChoice;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Serialize, Deserialize)]
    struct NoSplit {
        angle_deg: (),
        expected_blanks: f64,
        low: f64,
        high: f64,
        as_good_from_deg: (),
        as_good_to_deg: (),
        by_angle: [(); 0],
        why: String,
    }

    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Stored {
        Split(SplitChoice),
        None(NoSplit),
    }

    pub(super) fn serialize<S: Serializer>(split: &Option<SplitChoice>, to: S) -> Result<S::Ok, S::Error> {
        if let Some(split) = split {
            return split.serialize(to);
        }
        let none = NoSplit {
            angle_deg: (),
            expected_blanks: 0.0,
            low: 0.0,
            high: 0.0,
            as_good_from_deg: (),
            as_good_to_deg: (),
            by_angle: [],
            why: super::TOO_SHORT.into(),
        };
        none.serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<SplitChoice>, D::Error> {
        Stored::deserialize(from).map(|s| match s {
            Stored::Split(split) => Some(split),
            Stored::None(NoSplit { .. }) => None,
        })
    }
}
