//! A way of measuring: a built-in plan, or instruments, angles and places of one's own.

use super::measuring::{Bench, Rig, Take, Taken, Tool, half_round, places, places_every, round};
use super::plans::Plan;
use super::shape::TrueTube;

/// A way of measuring and its word.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Its word in tables and files.
    pub name: String,
    /// What is read.
    pub reads: Reads,
}

/// What is read.
#[derive(Debug, Clone, PartialEq)]
pub enum Reads {
    /// A built-in plan.
    Plan(Plan),
    /// Of one's own.
    Own(Vec<OwnTake>),
}

/// One tool of one's own.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnTake {
    /// With what.
    pub tool: Tool,
    /// Noise of one reading, mm (degrees for a fibre).
    pub sd: f64,
    /// The step it shows, mm; 0: none.
    pub step: f64,
    /// Sd of its zero over lots, mm; none: as the hand has it.
    pub bias: Option<f64>,
    /// Sd of where a line lies, degrees; none: as the hand has it.
    pub line_deg: Option<f64>,
    /// Sd of how a tube lies at one station, degrees; none: as the hand has it.
    pub setting_deg: Option<f64>,
    /// Angles round the tube, or directions of a caliper.
    pub angles: u32,
    /// Places along it.
    pub places: Places,
    /// How far the outermost places lie from the ends, mm.
    pub inset_mm: f64,
}

/// Places along a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Places {
    /// So many.
    Count(usize),
    /// About so far apart, mm.
    Every(f64),
}

impl Tool {
    /// The word for what it reads in files, and the word for the instrument.
    #[must_use]
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Tool::Caliper(_) => ("diameter", "caliper"),
            Tool::Axis(_) => ("radius", "axis"),
            Tool::Dial(_) => ("runout", "dial"),
            Tool::Vee(_) => ("vee", "vblock"),
            Tool::Resting => ("gap", "straightedge"),
            Tool::Lifted => ("lifted", "blocks"),
            Tool::Bridge(_) => ("bridge", "bridge"),
            Tool::Wall => ("wall", "wallgauge"),
            Tool::Arc(_) => ("arc", "radiusgauge"),
            Tool::Traced => ("outline", "tracer"),
            Tool::Fibre => ("grain", "fibre"),
        }
    }
}

impl From<(&str, Plan)> for Way {
    fn from((name, plan): (&str, Plan)) -> Way {
        Way { name: name.to_string(), reads: Reads::Plan(plan) }
    }
}

impl Way {
    /// The built-in ones: the study's seven, the routines of a new lot, V-block, straightedge on blocks, widths alone.
    #[must_use]
    pub fn all() -> Vec<Way> {
        let more = [
            ("vee 12x17mm", Plan::Vee),
            ("vee + gap", Plan::VeeAndGap),
            ("gap 12x17mm", Plan::Gap),
            ("widths every 60 mm", Plan::Widths),
        ];
        Plan::SEVEN.into_iter().chain(Plan::FORMS).chain(more).map(Way::from).collect()
    }

    /// What is taken on a tube of this length by this hand, in order.
    #[must_use]
    pub fn takes(&self, length_mm: f64, hand: &Rig) -> Vec<Take> {
        match &self.reads {
            Reads::Plan(plan) => plan.takes(length_mm, hand),
            Reads::Own(own) => {
                own.iter().enumerate().flat_map(|(i, take)| take.laid_out(length_mm, hand, i + 1)).collect()
            }
        }
    }

    /// Reads a tube of the lot of this seed.
    #[must_use]
    pub fn read_by(&self, tube: &TrueTube, seed: u64, hand: &Rig) -> Vec<Taken> {
        let mut b = Bench::new(tube, seed);
        self.takes(tube.length_mm, hand).iter().for_each(|take| take.by(&mut b));
        b.taken
    }

    /// Whether walls are read.
    #[must_use]
    pub fn reads_wall(&self) -> bool {
        matches!(&self.reads, Reads::Own(own) if own.iter().any(|t| t.tool == Tool::Wall))
    }

    /// Whether bow and lobes are both seen: by dials over the whole tube.
    #[must_use]
    pub fn sees_all(&self) -> bool {
        matches!(self.reads, Reads::Plan(Plan::Dial8x5 | Plan::Dial12 | Plan::Dial24x8))
    }
}

impl OwnTake {
    /// The takes of the `number`-th tool of a plan: one, but of a tracing one for each end.
    fn laid_out(&self, length_mm: f64, hand: &Rig, number: usize) -> Vec<Take> {
        let rig = Rig {
            sd: self.sd,
            step: self.step,
            bias: [self.bias.unwrap_or(hand.bias[0]), hand.bias[1]],
            line_deg: self.line_deg.unwrap_or(hand.line_deg),
            station_deg: self.setting_deg.unwrap_or(hand.station_deg),
            ..hand.clone()
        };
        let take = |angles_deg: Vec<f64>, places_mm: Vec<f64>, set: String| Take {
            tool: self.tool,
            rig: rig.clone(),
            angles_deg,
            places_mm,
            set,
        };
        let along = match self.places {
            Places::Count(n) => places(length_mm, self.inset_mm, n),
            Places::Every(step) => places_every(length_mm, self.inset_mm, step),
        };
        match self.tool {
            Tool::Traced => vec![
                take(round(self.angles), vec![0.0], "index end".into()),
                take(round(self.angles), vec![length_mm], "far end".into()),
            ],
            Tool::Caliper(_) => vec![take(half_round(self.angles), along, String::new())],
            Tool::Resting | Tool::Lifted => vec![take(round(self.angles), along, format!("edge {number} "))],
            Tool::Dial(_) | Tool::Vee(_) => vec![take(round(self.angles), along, format!("set {number}"))],
            Tool::Fibre => (0..self.angles)
                .map(|i| (i, 360.0 * f64::from(i) / f64::from(self.angles)))
                .map(|(i, a)| take(vec![a], along.clone(), format!("fibre {}", i + 1)))
                .collect(),
            _ => vec![take(round(self.angles), along, String::new())],
        }
    }
}
