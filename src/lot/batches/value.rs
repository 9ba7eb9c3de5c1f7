//! What is said of a lot in piles.

use crate::decide::plan::PlanOptions;
use crate::domain::Phrase;
use serde::{Deserialize, Serialize};

/// In what piles are made alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DividedBy {
    /// Blanks expected.
    #[default]
    Blanks,
    /// Weight, g.
    Weight,
    /// Length, mm: where nothing is measured and nothing weighed.
    Length,
}

/// What was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BatchRules {
    /// Number of piles; `None`: as many as the edge life asks.
    pub piles: Option<usize>,
    /// In what they are to be alike.
    pub by: DividedBy,
    /// Whether tubes that the screening leaves go in too.
    pub all_tubes: bool,
}

/// By what the blanks of a tube are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CountedBy {
    /// Its own plan.
    Measured,
    /// Its weight, times the measured tubes' blanks per weight.
    Weight,
    /// Its length, times the measured tubes' blanks per length.
    Length,
    /// Nothing: no tube of the lot is measured.
    Nothing,
}

/// A tube in a pile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PiledTube {
    /// Its name.
    pub tube: String,
    /// By what its blanks are counted.
    pub counted_by: CountedBy,
    /// Blanks expected.
    pub expected_blanks: Option<f64>,
    /// 5 % point; `None` where nothing tells how far tubes differ.
    pub low: Option<f64>,
    /// 95 % point.
    pub high: Option<f64>,
    /// Length, mm; `None` where it is not known.
    pub length_mm: Option<f64>,
    /// Weight, g; `None` where nobody weighed it.
    pub weight_g: Option<f64>,
    /// Minutes that measuring it took; `None` where it was not, or by a scan.
    #[serde(default)]
    pub measuring_minutes: Option<f64>,
    /// Blanks that its plan gives beyond a split by eye; `None` where it has no plan, or is split already.
    #[serde(default)]
    pub over_by_eye: Option<f64>,
}

/// Tubes for one sharpening of the edge tools.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pile {
    /// Its number, from 1.
    pub pile: usize,
    /// Its tubes, in the lot's order.
    pub tubes: Vec<PiledTube>,
    /// What it adds up to in what was divided: blanks, g, or mm. Weights that nobody took are estimated by length.
    pub size: f64,
    /// Blanks expected.
    pub expected_blanks: Option<f64>,
    /// 5 % point, from the tubes' draws added draw by draw.
    pub low: Option<f64>,
    /// 95 % point.
    pub high: Option<f64>,
    /// Chance that the edge outlasts it: share of draws with no more blanks than its life. `None` without an edge life.
    pub outlasts: Option<f64>,
    /// Mean length of the tubes that have one, mm.
    pub mean_length_mm: Option<f64>,
    /// Weight of the tubes that have one, g.
    pub weight_g: Option<f64>,
    /// Tubes without a weight.
    pub unweighed: usize,
    /// Minutes that measuring its tubes took, over those of which that is known.
    #[serde(default)]
    pub measuring_minutes: Option<f64>,
    /// Blanks that their plans give beyond splits by eye, over those that have one.
    #[serde(default)]
    pub over_by_eye: Option<f64>,
    /// Minutes that marking and splitting all its tubes take.
    #[serde(default)]
    pub splitting_minutes: f64,
}

/// A tube in no pile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "StoredOut", into = "StoredOut")]
pub struct LeftOut {
    /// Its name.
    pub tube: String,
    /// Blanks expected, where it is measured.
    pub expected_blanks: Option<f64>,
    /// Why.
    pub why: Phrase,
}

/// A [`LeftOut`] as stored: the reason as text, and as the parts it is read back from.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct StoredOut {
    tube: String,
    expected_blanks: Option<f64>,
    #[serde(default)]
    why: String,
    why_parts: Phrase,
}

impl From<LeftOut> for StoredOut {
    fn from(l: LeftOut) -> StoredOut {
        StoredOut { tube: l.tube, expected_blanks: l.expected_blanks, why: l.why.to_string(), why_parts: l.why }
    }
}

impl From<StoredOut> for LeftOut {
    fn from(s: StoredOut) -> LeftOut {
        LeftOut { tube: s.tube, expected_blanks: s.expected_blanks, why: s.why_parts }
    }
}

/// A lot in piles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Batches {
    /// Format of the record.
    pub format: u64,
    /// Seed and draws.
    #[serde(flatten)]
    pub options: PlanOptions,
    /// The lot's name.
    pub lot: String,
    /// In what the piles are alike.
    pub divided_by: DividedBy,
    /// Number of piles asked for; `None` where the edge life asked.
    pub piles_asked: Option<usize>,
    /// Blanks between two sharpenings.
    pub edge_life: Option<f64>,
    /// The piles, that of the lot's first tube first.
    pub piles: Vec<Pile>,
    /// Largest pile less smallest, in what was divided.
    pub spread: f64,
    /// No division of these tubes has piles that are closer.
    pub spread_bound: f64,
    /// The largest pile.
    pub largest: f64,
    /// No division has a smaller largest pile.
    pub largest_bound: f64,
    /// By how much the spread was let grow to mix lengths.
    pub given_for_length: f64,
    /// Tubes of which one alone is expected to outlive the edge.
    pub beyond_edge_life: Vec<String>,
    /// Tubes in no pile.
    pub left_out: Vec<LeftOut>,
}

/// Why there are no piles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BatchError {
    /// Neither a number of piles nor an edge life.
    #[error("nothing says how many piles to make: the lot has no edge life")]
    HowMany,
    /// An edge life, but no tube is measured.
    #[error(
        "how many piles the edge life asks is not known: no tube of the lot is measured, so no blanks can be counted"
    )]
    NoBlanks,
}
