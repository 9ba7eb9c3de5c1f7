//! What the maker wants cut, and with what.

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

/// A named starting set of targets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    /// The word used in `lot.toml`.
    pub name: &'static str,
    /// Blank length, width, thickness and arc diameter, mm.
    pub blank: [f64; 4],
    /// Tolerance of the arc diameter, mm.
    pub arc_tolerance_mm: f64,
}

/// Starting sets: the middle of the ranges in common use for each instrument. Common practice, no source.
pub const INSTRUMENTS: [Instrument; 7] = [
    Instrument { name: "e-flat clarinet", blank: [63.0, 12.6, 3.0, 24.5], arc_tolerance_mm: 1.2 },
    Instrument { name: "clarinet", blank: [70.0, 13.5, 3.2, 25.4], arc_tolerance_mm: 1.2 },
    Instrument { name: "bass clarinet", blank: [76.0, 16.0, 3.5, 29.0], arc_tolerance_mm: 1.4 },
    Instrument { name: "soprano saxophone", blank: [64.0, 13.2, 3.2, 26.5], arc_tolerance_mm: 1.3 },
    Instrument { name: "alto saxophone", blank: [72.5, 15.4, 3.4, 27.2], arc_tolerance_mm: 1.3 },
    Instrument { name: "tenor saxophone", blank: [80.5, 16.6, 3.5, 29.0], arc_tolerance_mm: 1.4 },
    Instrument { name: "baritone saxophone", blank: [89.5, 18.0, 3.8, 31.5], arc_tolerance_mm: 1.5 },
];

impl Target {
    /// The starting set for `instrument`, or `None` when there is no set of that name.
    #[must_use]
    pub fn for_instrument(instrument: &str) -> Option<Target> {
        let wanted = instrument.trim().to_lowercase().replace(['_', '-'], " ");
        let set = INSTRUMENTS.iter().find(|i| i.name.replace('-', " ") == wanted)?;
        let [length, width, thickness, arc] = set.blank;
        Some(Target {
            instrument: set.name.to_string(),
            pieces: 4,
            blank_length_mm: length,
            blank_width_mm: width,
            blank_thickness_mm: thickness,
            arc_diameter_mm: arc,
            arc_tolerance_mm: set.arc_tolerance_mm,
            hollow_mm: 0.08,
            rock_mm: 0.12,
            skew_mm: 6.0,
            grain_drift_mm: 1.0,
            edge_margin_mm: 0.3,
            clean_up_mm: 0.2,
        })
    }
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
