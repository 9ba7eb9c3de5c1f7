//! What was bought together, and the rules it is judged by.

use super::moisture::weight_at;
use super::units::{LengthUnit, WeightUnit};
use super::{Assumed, OwnSet, Promise, Saw, ScanRule, Split, Target, Tube};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Facts about one measuring instrument, from `[rig.NAME]`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rig {
    /// Smallest step it shows, mm.
    pub resolution_mm: Option<f64>,
    /// Standard deviation of one reading, mm.
    pub sd_mm: Option<f64>,
    /// Included angle of its V-block, degrees.
    pub vee_deg: Option<f64>,
    /// Distance between the two feet of its bar, mm.
    pub span_mm: Option<f64>,
    /// How far a line it is read on lies from its angle, one sd, degrees.
    pub line_deg: Option<f64>,
    /// How far one setting of it is turned against the index line, one sd, degrees.
    pub setting_deg: Option<f64>,
    /// Error of its zero that is the same on every tube, one sd, mm.
    pub bias_mm: Option<f64>,
    /// Error of its scale that is the same on every tube, one sd, percent of what it reads.
    pub scale_percent: Option<f64>,
    /// The foot of a dial; where none is stated, what a flat foot reads to second order.
    pub foot: Option<Foot>,
    /// Radius of a ball foot, mm.
    pub foot_radius_mm: Option<f64>,
    /// Seconds one reading takes.
    pub seconds: Option<f64>,
    /// Seconds one setting-up takes.
    pub setup_seconds: Option<f64>,
}

/// What a dial touches the bark with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Foot {
    /// A flat, square to the spindle, wide enough to reach the highest point.
    Flat,
    /// A ball.
    Ball,
    /// A point, or an edge that lies along the tube: it reads where the line of the spindle meets the bark.
    Point,
}

impl Foot {
    /// By its word in `lot.toml`: flat, ball, point, or edge, which is a point in every section.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Foot> {
        match word.trim().to_lowercase().as_str() {
            "flat" => Some(Foot::Flat),
            "ball" => Some(Foot::Ball),
            "point" | "edge" => Some(Foot::Point),
            _ => None,
        }
    }
}

/// Radius of a ball foot of which none is stated, mm: the usual contact point of a dial (value from memory).
pub const BALL_FOOT_MM: f64 = 1.5;

/// The rig of ends read from pictures whose scale card was measured, and of those whose scale nobody checked.
pub const ENDS_RIGS: [&str; 2] = ["ends", "ends-unchecked"];

impl Rig {
    /// The facts of a rig that this program itself names in what it writes (see [`ENDS_RIGS`]); a section of that name in
    /// `lot.toml` stands before it.
    ///
    /// A card's lines are measured to 0.1 mm in 140, 0.1 %; scanners stretch by up to 0.6 % and printers by as much, taken as
    /// 0.3 % where nobody checked (common practice, no source). Torn rims of a bore shift walls by about 0.05 mm alike.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Rig> {
        let at = ENDS_RIGS.iter().position(|n| *n == name)?;
        Some(Rig { scale_percent: Some([0.1, 0.3][at]), bias_mm: Some(0.05), ..Rig::default() })
    }

    /// Radius of its foot in the section, mm: infinite for a flat, 0 for a point; `None` where no foot is stated.
    #[must_use]
    pub fn foot_mm(&self) -> Option<f64> {
        self.foot.map(|foot| match foot {
            Foot::Flat => f64::INFINITY,
            Foot::Ball => self.foot_radius_mm.unwrap_or(BALL_FOOT_MM),
            Foot::Point => 0.0,
        })
    }
}

/// When a tube is called worth splitting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ScreenRule {
    /// Blanks a tube must give to be worth the work.
    pub least_blanks: f64,
    /// At or above this chance of reaching `least_blanks` the verdict is "split".
    pub split_chance: f64,
    /// At or below this chance the verdict is "leave"; between the two it is "doubtful".
    pub leave_chance: f64,
}

impl Default for ScreenRule {
    /// Own choice, to be set by the maker: three blanks, 75 % and 25 %.
    fn default() -> Self {
        ScreenRule { least_blanks: 3.0, split_chance: 0.75, leave_chance: 0.25 }
    }
}

/// Prior scales set in `lot.toml` under `[population]`, by name, in the unit each scale is documented with.
pub type PopulationOverride = BTreeMap<String, f64>;

/// Least and largest value of such a scale: beyond these no tube and no number behaves.
pub const SCALE_RANGE: (f64, f64) = (1e-6, 1e4);

/// Share of the bought weight by which tubes may together weigh more than was bought: two scales, and cane that took up water
/// in between, differ by so much. Common practice, no source.
pub const WEIGHT_TOLERANCE: f64 = 0.02;

/// Minutes that marking a tube and splitting it take where a lot states none. Common practice, no source.
pub const SPLIT_MINUTES: f64 = 4.0;
/// Blanks that a minute of the maker's should bring unless the lot says otherwise: a twentieth. Own choice, to be set by the maker.
pub const MINUTE_BLANKS: f64 = 0.05;

/// A lot: tubes bought together with everything known about them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lot {
    /// Its name; the folder's name where `lot.toml` gives none.
    pub name: String,
    /// Weight paid for, g.
    pub bought_weight_g: Option<f64>,
    /// Price paid for that weight, in `currency`.
    pub price: Option<f64>,
    /// Free text put behind prices.
    pub currency: String,
    /// Relative humidity when the tubes were weighed, percent.
    pub humidity_percent: Option<f64>,
    /// Relative humidity when the bought weight was weighed, percent; `None`: as when the tubes were.
    pub bought_humidity_percent: Option<f64>,
    /// Unit that lengths are told in unless another is asked for: `mm` or `in`; `None` where the lot states none.
    pub units: Option<LengthUnit>,
    /// Unit that most of its tubes' weights, else the bought weight, were typed in: weights are told in it.
    pub weight_unit: WeightUnit,
    /// The limits.
    pub target: Target,
    /// What one blank of the target is worth, in `currency`.
    pub blank_value: Option<f64>,
    /// The maker's own sets, in the order of their names; none of one name but for case and hyphens.
    pub own_sets: Vec<OwnSet>,
    /// The saw.
    pub saw: Saw,
    /// The splitting.
    pub split: Split,
    /// What is taken of grain and wall where they were not read.
    pub assumed: Assumed,
    /// Blanks between two sharpenings.
    pub edge_life: Option<f64>,
    /// Blanks that a minute of measuring should bring; `None`: the advice's own.
    pub minute_blanks: Option<f64>,
    /// How many times as long as its rigs say this maker's readings take; `None`: as they say.
    pub pace: Option<f64>,
    /// Minutes that marking and splitting a tube take; `None`: [`SPLIT_MINUTES`].
    pub split_minutes: Option<f64>,
    /// What earlier lots of this maker bore out; `None`: nothing is known of it.
    pub promise: Option<Promise>,
    /// When a tube is worth splitting.
    pub screen: ScreenRule,
    /// How scans are read.
    pub scan: ScanRule,
    /// Instruments by name.
    pub rigs: BTreeMap<String, Rig>,
    /// How far the index line of a tube lies from where its splits are counted, one sd, degrees; by hand about 1.
    pub index_line_deg: Option<f64>,
    /// Prior scales that replace the built-in ones.
    pub population: PopulationOverride,
    /// Whether tubes that were split already are planned as their lines fell, not as they were aimed.
    pub as_split: bool,
    /// The tubes, in the order of `tubes.csv`, then of first mention.
    pub tubes: Vec<Tube>,
}

impl Lot {
    /// The bought weight as it would weigh in the air the tubes were weighed in, g.
    #[must_use]
    pub fn bought_as_weighed_g(&self) -> Option<f64> {
        self.bought_weight_g.map(|g| weight_at(g, self.bought_humidity_percent, self.humidity_percent))
    }
}
