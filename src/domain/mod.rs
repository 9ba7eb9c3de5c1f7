//! The nouns of the job: lots, tubes, readings, targets. No files, no numerics.
//!
//! # The frame
//!
//! ```text
//!              angle 0 (index line)
//!                   | x
//!                   |
//!   you look        o------ angle 90, y         z runs away from you,
//!   at the         /                            0 at the index end,
//!   index end     z                             length at the far end
//! ```
//!
//! Angles run clockwise as seen looking at the index end from outside. x points to angle 0, y to angle
//! 90 deg, z away from the viewer: a right-handed frame. Lengths are `f64` millimetres (suffix `_mm`), weights
//! grams (`_g`), angles the [`Angle`] type. A bark point at angle `a` and height `z` is
//! `(cx(z), cy(z), z) + R(a, z) (cos a, sin a, 0)`, where `R` has no first harmonic: that is what makes
//! `(cx, cy)` the centreline.

mod angle;
mod count;
mod cut;
mod finding;
mod instruments;
mod lot;
mod mark;
mod moisture;
mod new_lot;
mod pace;
mod phrase;
mod promise;
mod reading;
mod routine;
mod scan;
mod target;
mod tube;
pub mod units;

pub use angle::Angle;
pub use cut::{Cut, Stretch, spans};
pub use finding::{Finding, Place, Severity, counted};
pub use instruments::{ALL_SETS, INSTRUMENTS, Instrument, same_name};
pub use lot::{
    BALL_FOOT_MM, ENDS_RIGS, Foot, Lot, MINUTE_BLANKS, PopulationOverride, Rig, SCALE_RANGE, SPLIT_MINUTES, ScreenRule,
    WEIGHT_TOLERANCE,
};
pub use mark::Mark;
pub use moisture::{WETTER_ABOVE_PERCENT, moisture_percent, weight_at, weight_ratio};
pub use new_lot::{LENGTH_MM, NewLot, SPAN_MM, goes_by_lines};
pub use pace::{Pace, SetUp, measuring_seconds};
pub use phrase::Phrase;
pub use promise::Promise;
pub use reading::{Kind, Reading};
pub use routine::{Effort, Routine, Task, Tool};
pub use scan::{FoundFrame, IndexEnd, IndexMark, MarkAt, Scan, ScanCell, ScanRule, ScanWall, Unrolled};
pub use target::{Assumed, OneBlow, OwnSet, Saw, Split, Target};
pub use tube::Tube;
