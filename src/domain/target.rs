//! What the maker wants cut, and with what.

use super::instruments::Instrument;
use serde::{Deserialize, Serialize};

/// The limits a stretch of bark must hold to be worth a blank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// Name of the starting set the numbers came from.
    pub instrument: String,
    /// Pieces a tube is split into: 3 or 4 (2 to 6 are computed).
    pub pieces: usize,
    /// Length of a blank as sawn, mm.
    pub blank_length_mm: f64,
    /// Width of a blank, mm.
    pub blank_width_mm: f64,
    /// Thickness of a blank at the crown, mm.
    pub blank_thickness_mm: f64,
    /// Wanted arc diameter of the back, mm.
    pub arc_diameter_mm: f64,
    /// Largest departure of the arc diameter either way, mm.
    pub arc_tolerance_mm: f64,
    /// Largest gap in the middle under the gauge stick, mm.
    pub hollow_mm: f64,
    /// Furthest an end of the gauge stick may drop, mm.
    pub rock_mm: f64,
    /// Largest difference of curvature between the two rails, as diameter, mm.
    pub skew_mm: f64,
    /// Furthest the fibre may drift sideways over a blank, mm.
    pub grain_drift_mm: f64,
    /// Spare width wanted on each side of a blank inside its piece, mm.
    pub edge_margin_mm: f64,
    /// Wall wanted beyond the blank's thickness for cleaning up the bore side, mm.
    pub clean_up_mm: f64,
}

impl Target {
    /// The starting set for `instrument`, or `None` when there is no set of that name.
    #[must_use]
    pub fn for_instrument(instrument: &str) -> Option<Target> {
        let set = Instrument::named(instrument)?;
        let [length, width, thickness, arc] = set.blank;
        Some(Target {
            instrument: set.name.to_string(),
            pieces: set.pieces,
            blank_length_mm: length,
            blank_width_mm: width,
            blank_thickness_mm: thickness,
            arc_diameter_mm: arc,
            arc_tolerance_mm: set.arc_tolerance_mm,
            hollow_mm: set.flat[0],
            rock_mm: set.flat[1],
            skew_mm: set.skew_mm,
            grain_drift_mm: set.grain_drift_mm,
            edge_margin_mm: set.edge_margin_mm,
            clean_up_mm: set.clean_up_mm,
        })
    }
}

/// A maker's own set of targets, from `[instrument.NAME]`.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnSet {
    /// What is wanted; its instrument is the name of the set.
    pub target: Target,
    /// What one blank of it is worth, in the lot's currency.
    pub blank_value: Option<f64>,
}

impl Default for Target {
    fn default() -> Self {
        Target::for_instrument("clarinet").unwrap_or_else(|| unreachable!("the clarinet set is in the table"))
    }
}

/// What the saw takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Saw {
    /// Width a cut takes away, mm; 0 for a sharp knife or a break.
    pub kerf_mm: f64,
    /// Length given up at each end of the tube, mm.
    pub trim_mm: f64,
}

impl Default for Saw {
    /// Fine saw and ordinary end trim; common practice, no source.
    fn default() -> Self {
        Saw { kerf_mm: 1.0, trim_mm: 8.0 }
    }
}

/// How a split goes, and what it does to the pieces.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Split {
    /// Standard deviation of where a split really falls about its aim, degrees.
    pub wander_deg: f64,
    /// Which lines one blow makes; they are off their aims together.
    #[serde(default)]
    pub one_blow: OneBlow,
    /// How far a piece springs when it is split, mm: the light that comes under a stick of a blank's length on its bark.
    #[serde(default)]
    pub spring_mm: f64,
}

/// The lines that one blow makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OneBlow {
    /// One line, from the rim to the middle.
    #[default]
    Line,
    /// Two lines, across the whole end; where the number of pieces is odd no line has another across from it.
    Across,
    /// All lines, by a wedge with as many arms.
    All,
}

impl OneBlow {
    /// By its word in `lot.toml`.
    #[must_use]
    pub fn from_word(word: &str) -> Option<OneBlow> {
        match word.trim().to_lowercase().as_str() {
            "line" => Some(OneBlow::Line),
            "across" => Some(OneBlow::Across),
            "all" => Some(OneBlow::All),
            _ => None,
        }
    }

    /// The first line of the blow that makes line `i` of `pieces`.
    #[must_use]
    pub fn first_of(self, i: usize, pieces: usize) -> usize {
        match self {
            OneBlow::Across if pieces.is_multiple_of(2) => i % (pieces / 2),
            OneBlow::Line | OneBlow::Across => i,
            OneBlow::All => 0,
        }
    }
}

/// What is taken of a tube where it was not read, in place of the built-in doubt.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Assumed {
    /// How far the grain leans to the axis, degrees.
    pub lean_deg: Option<f64>,
    /// Wall, even all round and along, mm.
    pub wall_mm: Option<f64>,
}

impl Default for Split {
    /// 3 degrees, about 0.7 mm on the bark of a one-inch tube, each line by itself, no spring; common practice, no source.
    fn default() -> Self {
        Split { wander_deg: 3.0, one_blow: OneBlow::Line, spring_mm: 0.0 }
    }
}
