//! Clean tubes of makes nobody tuned the search to, read in many ways, and how many of them are accused of a slip.

#![allow(dead_code, reason = "every test and example uses its own part of it")]

#[path = "tool.rs"]
pub mod tool;
pub use quarterlight::known as truth;

use quarterlight::tube::Belief;
use quarterlight::tube::faults::suspicions;
use rayon::prelude::*;
use truth::instruments::Foot;
use truth::measuring::{Bench, Rig, Taken, Tool, half_round, places, places_every, round};
use truth::plans::{Plan, ordinary_hand};
use truth::populations::Population;
use truth::shape::TrueTube;

/// Tubes of a lot.
const IN_A_LOT: u64 = 10;

/// How a tube is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// One of the plans of the other studies.
    Plan(Plan),
    /// One gap at mid-length under a straightedge on blocks along eight lines, and a pair of widths.
    OneGapEach,
    /// Bars of 70 mm along eight lines at three places, and a pair of widths.
    Bars,
    /// Distances from an axis at 12 angles, 17 mm apart.
    Axis,
    /// Outlines traced at 36 angles at six stations.
    Outlines,
    /// Outlines at 72 angles every 15 mm, as a machine would give them.
    Dense,
}

/// Every way with its name.
pub const WAYS: [(&str, Way); 16] = [
    ("one width pair", Way::Plan(Plan::Pair)),
    ("12 caliper", Way::Plan(Plan::Caliper)),
    ("widths every 60 mm", Way::Plan(Plan::Widths)),
    ("both ends traced", Way::Plan(Plan::Ends)),
    ("one gap per line, a width pair", Way::OneGapEach),
    ("bars of 70 mm, a width pair", Way::Bars),
    ("caliper + resting straightedge", Way::Plan(Plan::CaliperAndEdge)),
    ("straightedge on blocks, 12 lines, widths", Way::Plan(Plan::Gap)),
    ("dial 8 x 5", Way::Plan(Plan::Dial8x5)),
    ("dial 12 x 17 mm", Way::Plan(Plan::Dial12)),
    ("dial 24 x 8", Way::Plan(Plan::Dial24x8)),
    ("radius 12 x 17 mm", Way::Axis),
    ("vee, widths", Way::Plan(Plan::Vee)),
    ("vee, widths, gaps", Way::Plan(Plan::VeeAndGap)),
    ("outlines at 6 stations", Way::Outlines),
    ("outlines 72 x 15 mm", Way::Dense),
];

/// The makes they are read on: smooth, and three that no law of the tool has.
pub const MAKES: [Population; 4] =
    [Population::Smooth, Population::RoughLobes, Population::Dents, Population::SlowDecay];

impl Way {
    fn read(self, tube: &TrueTube, seed: u64) -> Vec<Taken> {
        let hand = ordinary_hand();
        let rig = |sd: f64| Rig { sd, ..hand.clone() };
        let mut b = Bench::new(tube, seed);
        let l = tube.length_mm;
        match self {
            Way::Plan(plan) => return plan.read_by(tube, seed, &hand),
            Way::OneGapEach => {
                b.take(Tool::Resting, &rig(0.03), &round(8), &[0.5 * l], "edge ");
                b.take(Tool::Caliper(0.0), &rig(0.05), &half_round(2), &[0.5 * l], "");
            }
            Way::Bars => {
                b.take(Tool::Bridge(70.0), &rig(0.02), &round(8), &places(l, 40.0, 3), "");
                b.take(Tool::Caliper(0.0), &rig(0.05), &half_round(2), &[0.5 * l], "");
            }
            Way::Axis => b.take(Tool::Axis(Foot::Height), &rig(0.02), &round(12), &places_every(l, 5.0, 17.0), ""),
            Way::Outlines => b.take(Tool::Traced, &rig(0.10), &round(36), &places(l, 5.0, 6), "traced"),
            Way::Dense => b.take(Tool::Traced, &rig(0.05), &round(72), &places_every(l, 2.0, 15.0), "scan"),
        }
        b.taken
    }
}

/// What became of the clean tubes of one make read in one way.
pub struct Clean {
    /// Tubes searched.
    pub tubes: usize,
    /// Tubes accused, and of what.
    pub accused: Vec<String>,
    /// Tubes whose search was refused or stopped, and why.
    pub unsearched: Vec<String>,
    /// Tubes whose doubt was widened.
    pub widened: usize,
}

/// Reads `lots` lots of ten clean tubes and searches them as every command does: under the law their lot teaches.
pub fn clean(make: Population, way: Way, seed: u64, lots: u64) -> Clean {
    let mut out = Clean { tubes: 0, accused: Vec::new(), unsearched: Vec::new(), widened: 0 };
    for lot in 0..lots {
        let tubes: Vec<_> = (lot * IN_A_LOT..(lot + 1) * IN_A_LOT)
            .map(|k| make.grow(seed, k))
            .map(|truth| tool::tube_of(&truth, &way.read(&truth, 1000 * seed + lot)))
            .collect();
        let model = tool::learned(&tubes);
        let found: Vec<_> = tubes
            .par_iter()
            .map(|tube| {
                let belief = Belief::fit(tube, &model).expect("readings of the outside");
                (tube.name.clone(), suspicions(tube, &belief, &model), belief.widened().is_some())
            })
            .collect();
        for (name, found, widened) in found {
            out.tubes += 1;
            out.widened += usize::from(widened);
            match found {
                Err(why) => out.unsearched.push(why.to_string()),
                Ok(s) => {
                    out.unsearched.extend(s.stopped.map(|why| why.to_string()));
                    out.accused.extend(s.told.first().map(|s| format!("{name}: gain {:.1}: {}", s.gain, s.words)));
                }
            }
        }
    }
    out
}
