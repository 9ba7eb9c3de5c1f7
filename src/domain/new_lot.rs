//! A lot before anything of it is measured.

use super::units::{LengthUnit, MM_PER_INCH};
use super::{Effort, Kind, Routine, Target, Task, Tool};

/// What is known of a lot before anything is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct NewLot {
    /// Its name.
    pub name: String,
    /// Names of its tubes; none: only column names are written.
    pub tubes: Vec<String>,
    /// The limits its blanks are held to.
    pub target: Target,
    /// What is read of every tube.
    pub routine: Routine,
    /// Length that the places are laid out on: that of the shortest tube, mm.
    pub length_mm: f64,
    /// Distance between the feet of the bar, mm.
    pub span_mm: f64,
    /// Unit of lengths in the forms.
    pub unit: LengthUnit,
}

/// Distance between the feet of a bar of which none is stated, mm: about a blank's length. Common practice, no source.
pub const SPAN_MM: f64 = 70.0;
/// Length that places are laid out on where none is stated, mm. Common practice, no source.
pub const LENGTH_MM: f64 = 200.0;

impl Default for NewLot {
    /// A lot without a name or tubes, in mm, for the usual routine.
    fn default() -> Self {
        NewLot {
            name: String::new(),
            tubes: Vec::new(),
            target: Target::default(),
            routine: Routine::of(Effort::Usual, &Tool::USUAL),
            length_mm: LENGTH_MM,
            span_mm: SPAN_MM,
            unit: LengthUnit::Millimetre,
        }
    }
}

impl NewLot {
    /// Names T01, T02, ... of so many tubes, all of one length.
    #[must_use]
    pub fn numbered(tubes: usize) -> Vec<String> {
        let digits = tubes.to_string().len().max(2);
        (1..=tubes).map(|i| format!("T{i:0digits$}")).collect()
    }

    /// Places of a task as they stand in the forms, mm: whole millimetres or eighths of an inch.
    #[must_use]
    pub fn places_mm(&self, task: Task) -> Vec<f64> {
        let step = if self.unit == LengthUnit::Inch { MM_PER_INCH / 8.0 } else { 1.0 };
        task.places_mm(self.length_mm, self.span_mm).into_iter().map(|z| (z / step).round() * step).collect()
    }
}

/// True when readings of a task are written down line by line, a column for each place: what a bar or a straightedge gives
/// before the tube is turned.
#[must_use]
pub fn goes_by_lines(task: Task) -> bool {
    task.places > 1 && matches!(task.tool.kind(), Kind::Bridge | Kind::Gap)
}
