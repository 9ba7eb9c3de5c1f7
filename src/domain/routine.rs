//! What is read on every tube: with which instruments, in how many directions, at how many places.
//!
//! The numbers of a routine are our own, chosen in a study on simulated tubes (DEVELOPERS.md, "What a new lot asks for").

use super::count::count;
use super::{Kind, Pace};

/// An instrument that a maker may have at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Tool {
    /// A caliper closed across the tube.
    Caliper,
    /// A dial against the tube, which turns about an axis.
    Dial,
    /// A straightedge that rests on the bark, and feelers.
    Straightedge,
    /// A bar on two feet with a dial in its middle.
    Bridge,
    /// A dial over a V-block.
    VBlock,
    /// A caliper on the wall of either end.
    Wall,
}

impl Tool {
    /// All of them, in the order they are listed to the user.
    pub const ALL: [Tool; 6] = [Tool::Caliper, Tool::Bridge, Tool::Dial, Tool::Straightedge, Tool::VBlock, Tool::Wall];
    /// What a new lot is measured with unless something else is asked for.
    pub const USUAL: [Tool; 2] = [Tool::Caliper, Tool::Bridge];

    /// The word on the command line, and the name of its rig.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Tool::Caliper => "caliper",
            Tool::Dial => "dial",
            Tool::Straightedge => "straightedge",
            Tool::Bridge => "bridge",
            Tool::VBlock => "v-block",
            Tool::Wall => "wall",
        }
    }

    /// The tool named by `word`, ignoring case and surrounding blanks.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Tool> {
        let w = word.trim().to_lowercase();
        Tool::ALL.into_iter().find(|t| t.word() == w)
    }

    /// The kind of reading it gives.
    #[must_use]
    pub fn kind(self) -> Kind {
        match self {
            Tool::Caliper => Kind::Diameter,
            Tool::Dial => Kind::Runout,
            Tool::Straightedge => Kind::Gap,
            Tool::Bridge => Kind::Bridge,
            Tool::VBlock => Kind::Vee,
            Tool::Wall => Kind::Wall,
        }
    }
}

/// How much is read of every tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Effort {
    /// As little as is worth doing.
    Quick,
    /// What most tubes deserve.
    #[default]
    Usual,
    /// For tubes that are dear, or lots that must be known well.
    Thorough,
}

impl Effort {
    /// From the shortest.
    pub const ALL: [Effort; 3] = [Effort::Quick, Effort::Usual, Effort::Thorough];

    /// The word on the command line.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Effort::Quick => "quick",
            Effort::Usual => "usual",
            Effort::Thorough => "thorough",
        }
    }
}

/// What one instrument is to read on a tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Task {
    /// The instrument.
    pub tool: Tool,
    /// Number of directions, evenly round the tube; of a caliper over half of it.
    pub angles: usize,
    /// Number of places along the tube, evenly between the first and the last that the instrument reaches.
    pub places: usize,
}

impl Task {
    /// What a tool reads under an effort.
    #[must_use]
    pub fn of(tool: Tool, effort: Effort) -> Task {
        let [quick, usual, thorough] = match tool {
            Tool::Caliper => [(4, 2), (4, 2), (4, 3)],
            Tool::Bridge => [(8, 1), (8, 3), (12, 5)],
            Tool::Straightedge => [(4, 3), (8, 3), (12, 5)],
            Tool::Dial | Tool::VBlock => [(8, 3), (8, 5), (12, 8)],
            Tool::Wall => [(4, 2); 3],
        };
        let (angles, places) = match effort {
            Effort::Quick => quick,
            Effort::Usual => usual,
            Effort::Thorough => thorough,
        };
        Task { tool, angles, places }
    }

    /// The directions, degrees.
    #[must_use]
    pub fn angles_deg(self) -> Vec<f64> {
        let turn = if self.tool == Tool::Caliper { 180.0 } else { 360.0 };
        (0..self.angles).map(|i| turn * count(i) / count(self.angles.max(1))).collect()
    }

    /// The places on a tube of this length, mm from the index end; `span_mm` is the distance between the feet of the bar.
    #[must_use]
    pub fn places_mm(self, length_mm: f64, span_mm: f64) -> Vec<f64> {
        let inset = match self.tool {
            // both feet on the bark, clear of the rim
            Tool::Bridge => span_mm / 2.0 + 5.0,
            Tool::Wall => 5.0,
            _ => 10.0,
        };
        let room = length_mm - 2.0 * inset;
        if self.places < 2 || room <= 0.0 {
            return vec![length_mm / 2.0];
        }
        (0..self.places).map(|i| inset + room * count(i) / count(self.places - 1)).collect()
    }

    /// Number of readings.
    #[must_use]
    pub fn readings(self) -> usize {
        self.angles * self.places
    }

    /// Seconds a tube at the usual pace.
    #[must_use]
    pub fn seconds(self) -> f64 {
        Pace::of(self.tool.kind(), None).grid_seconds(self.angles, self.places)
    }
}

/// What is read on every tube of a lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Routine {
    /// How much.
    pub effort: Effort,
    /// Instrument by instrument.
    pub tasks: Vec<Task>,
}

/// Blanks lost, percent, on every make of [`Routine::MAKES`], by effort.
type Lost = [[f64; 3]; 3];

/// Caliper and bar.
const LOST_BRIDGE: Lost = [[6.0, 19.0, 6.0], [5.0, 17.0, 6.0], [4.0, 16.0, 5.0]];
/// Caliper and dial.
const LOST_DIAL: Lost = [[5.0, 17.0, 6.0], [4.0, 15.0, 4.0], [2.0, 13.0, 3.0]];
/// Caliper and straightedge.
const LOST_STRAIGHTEDGE: Lost = [[6.0, 17.0, 6.0], [5.0, 18.0, 6.0], [4.0, 17.0, 4.0]];

impl Routine {
    /// The makes of simulated tubes on which the loss was measured.
    pub const MAKES: [&'static str; 3] = ["smooth tubes", "rough lobes", "grooves"];
    /// Blanks an arbitrary angle loses on them, percent.
    pub const ARBITRARY_PERCENT: [f64; 3] = [24.0, 32.0, 21.0];

    /// Blanks lost by choosing the split from the readings of this routine, against perfect knowledge, percent on each of
    /// [`Routine::MAKES`]; `None` where it was not measured for these instruments together.
    ///
    /// # Accuracy
    /// Ten lots of ten tubes each, instruments with noise and no other fault: one standard error is 0.4 to 1 point, of rough lobes 2.
    #[must_use]
    pub fn lost_percent(&self) -> Option<[f64; 3]> {
        let tools: Vec<Tool> = self.tasks.iter().map(|t| t.tool).filter(|t| *t != Tool::Wall).collect();
        let table = match tools[..] {
            [Tool::Caliper, Tool::Bridge] => LOST_BRIDGE,
            [Tool::Caliper, Tool::Dial] => LOST_DIAL,
            [Tool::Caliper, Tool::Straightedge] => LOST_STRAIGHTEDGE,
            _ => return None,
        };
        Some(match self.effort {
            Effort::Quick => table[0],
            Effort::Usual => table[1],
            Effort::Thorough => table[2],
        })
    }

    /// A routine for these instruments, in the order of [`Tool::ALL`]. Beside a dial, which sees all but the mean size, a
    /// caliper is closed in two directions at two places only.
    #[must_use]
    pub fn of(effort: Effort, tools: &[Tool]) -> Routine {
        let with_dial = tools.contains(&Tool::Dial);
        let task = |tool: Tool| match tool {
            Tool::Caliper if with_dial => Task { tool, angles: 2, places: 2 },
            _ => Task::of(tool, effort),
        };
        Routine { effort, tasks: Tool::ALL.into_iter().filter(|t| tools.contains(t)).map(task).collect() }
    }

    /// Readings a tube.
    #[must_use]
    pub fn readings(&self) -> usize {
        self.tasks.iter().map(|t| t.readings()).sum()
    }

    /// Minutes a tube at the usual pace.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.tasks.iter().map(|t| t.seconds()).sum::<f64>() / 60.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_stands_with_both_feet_on_the_tube_and_a_caliper_goes_half_round() {
        let bar = Task::of(Tool::Bridge, Effort::Usual);
        assert_eq!(bar.places_mm(200.0, 70.0), [40.0, 100.0, 160.0]);
        // a bar that only just fits is read in the middle
        assert_eq!(bar.places_mm(75.0, 70.0), [37.5]);
        assert_eq!(Task::of(Tool::Caliper, Effort::Thorough).angles_deg(), [0.0, 45.0, 90.0, 135.0]);
        assert_eq!(Task::of(Tool::Wall, Effort::Quick).angles_deg(), [0.0, 90.0, 180.0, 270.0]);
    }

    #[test]
    fn more_effort_is_more_readings_and_more_minutes_with_every_instrument_but_the_wall() {
        for tool in Tool::ALL {
            assert_eq!(Tool::from_word(&tool.word().to_uppercase()), Some(tool));
            let n = Effort::ALL.map(|e| (Task::of(tool, e).readings(), Task::of(tool, e).seconds()));
            assert!(n[0] <= n[1] && n[1] <= n[2], "{tool:?}: {n:?}");
        }
        let minutes = Effort::ALL.map(|e| Routine::of(e, &Tool::USUAL).minutes());
        assert!(minutes[0] < minutes[1] && minutes[1] < minutes[2], "{minutes:?}");
    }
}
