//! Ways of measuring a tube, from a single pair of widths to two hundred readings.

use super::instruments::Foot;
use super::measuring::{Bench, Rig, Take, Taken, Tool, half_round, places, places_every, round};
use super::shape::TrueTube;

/// A way of measuring. Noise: dials 0.02 mm, straightedge gaps 0.03, calipers 0.05, tracings 0.10.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plan {
    /// Two widths at mid-length, square to each other.
    Pair,
    /// Widths in four directions at three stations.
    Caliper,
    /// Both ends traced at 36 angles.
    Ends,
    /// Widths in four directions at four stations, and the gaps at five places under a straightedge resting along eight lines.
    CaliperAndEdge,
    /// A dial at 8 angles x 5 stations and four widths.
    Dial8x5,
    /// A dial at 12 angles x 17 mm and four widths.
    Dial12,
    /// A dial at 24 angles x 8 stations and four widths.
    Dial24x8,
    /// A dial over a V-block of 90 deg at 12 angles x 17 mm, and widths in six directions every 30 mm.
    Vee,
    /// The same, and a straightedge on two blocks along four lines, read every 17 mm.
    VeeAndGap,
    /// A straightedge on two blocks along 12 lines, every 17 mm, and widths in six directions every 30 mm.
    Gap,
    /// Widths in four directions every 60 mm.
    Widths,
    /// Widths, and a bar of 70 mm along lines: what the forms of a new lot ask for.
    CaliperAndBar(Bars),
    /// Widths and gaps under a straightedge that rests along lines, in the same numbers.
    CaliperAndGap(Bars),
    /// Widths and a dial on an axis, in the same numbers: angles for lines.
    CaliperAndDial(Bars),
}

/// How many widths, and how many readings along or round, a new lot's forms ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bars {
    /// Directions in which the caliper is closed, and stations.
    pub widths: (u32, usize),
    /// Lines along the tube, or angles round it, and places along.
    pub lines: (u32, usize),
}

impl Bars {
    /// By its four numbers.
    #[must_use]
    pub const fn of(directions: u32, stations: usize, lines: u32, places: usize) -> Bars {
        Bars { widths: (directions, stations), lines: (lines, places) }
    }
}

/// Span of the bar of the forms, mm.
pub const SPAN_MM: f64 = 70.0;

impl Plan {
    /// The seven plans of the study, from 2 to 200 readings, with a word for tables.
    pub const SEVEN: [(&str, Plan); 7] = [
        ("one width pair", Plan::Pair),
        ("12 caliper", Plan::Caliper),
        ("both ends traced", Plan::Ends),
        ("caliper + straightedge", Plan::CaliperAndEdge),
        ("dial 8x5", Plan::Dial8x5),
        ("dial 12x17mm", Plan::Dial12),
        ("dial 24x8", Plan::Dial24x8),
    ];

    /// The routines of a new lot: caliper and bar, caliper and dial, caliper and straightedge, three efforts each.
    pub const FORMS: [(&str, Plan); 9] = [
        ("quick, bar", Plan::CaliperAndBar(Bars::of(4, 2, 8, 1))),
        ("usual, bar", Plan::CaliperAndBar(Bars::of(4, 2, 8, 3))),
        ("thorough, bar", Plan::CaliperAndBar(Bars::of(4, 3, 12, 5))),
        ("quick, dial", Plan::CaliperAndDial(Bars::of(2, 2, 8, 3))),
        ("usual, dial", Plan::CaliperAndDial(Bars::of(2, 2, 8, 5))),
        ("thorough, dial", Plan::CaliperAndDial(Bars::of(2, 2, 12, 8))),
        ("quick, edge", Plan::CaliperAndGap(Bars::of(4, 2, 4, 3))),
        ("usual, edge", Plan::CaliperAndGap(Bars::of(4, 2, 8, 3))),
        ("thorough, edge", Plan::CaliperAndGap(Bars::of(4, 3, 12, 5))),
    ];

    /// Reads a tube of the lot of this seed with instruments whose only fault is noise.
    #[must_use]
    pub fn read(self, tube: &TrueTube, seed: u64) -> Vec<Taken> {
        self.read_by(tube, seed, &Rig::default())
    }

    /// Reads a tube of the lot of this seed; `hand` holds every fault but the noise, which is the tool's own.
    #[must_use]
    pub fn read_by(self, tube: &TrueTube, seed: u64, hand: &Rig) -> Vec<Taken> {
        let mut b = Bench::new(tube, seed);
        for take in self.takes(tube.length_mm, hand) {
            take.by(&mut b);
        }
        b.taken
    }

    /// What is taken on a tube of this length by this hand, in order.
    #[must_use]
    pub fn takes(self, l: f64, hand: &Rig) -> Vec<Take> {
        let take = |tool: Tool, sd: f64, angles_deg: Vec<f64>, places_mm: Vec<f64>, set: &str| Take {
            tool,
            rig: Rig { sd, ..hand.clone() },
            angles_deg,
            places_mm,
            set: set.to_string(),
        };
        let pair = || vec![0.25 * l, 0.75 * l];
        let blades = Tool::Caliper(0.0);
        let dial = Tool::Dial(Foot::Height);
        let every = |step: f64| places_every(l, 5.0, step);
        // a dial has no size of its own
        let sized = || take(blades, 0.05, half_round(2), pair(), "");
        match self {
            Plan::Pair => vec![take(blades, 0.05, half_round(2), vec![0.5 * l], "")],
            Plan::Caliper => vec![take(blades, 0.05, half_round(4), places(l, 10.0, 3), "")],
            Plan::Ends => vec![
                take(Tool::Traced, 0.10, round(36), vec![0.0], "index end"),
                take(Tool::Traced, 0.10, round(36), vec![l], "far end"),
            ],
            Plan::CaliperAndEdge => vec![
                take(blades, 0.05, half_round(4), places(l, 5.0, 4), ""),
                take(Tool::Resting, 0.03, round(8), places(l, 10.0, 5), "edge "),
            ],
            Plan::Dial8x5 => vec![take(dial, 0.02, round(8), places(l, 5.0, 5), "a"), sized()],
            Plan::Dial12 => vec![take(dial, 0.02, round(12), every(17.0), "a"), sized()],
            Plan::Dial24x8 => vec![take(dial, 0.02, round(24), places(l, 5.0, 8), "a"), sized()],
            Plan::Vee | Plan::VeeAndGap => {
                let mut all = vec![
                    take(Tool::Vee(90.0), 0.02, round(12), every(17.0), "v"),
                    take(blades, 0.05, half_round(6), every(30.0), ""),
                ];
                if self == Plan::VeeAndGap {
                    all.push(take(Tool::Lifted, 0.03, round(4), every(17.0), "edge "));
                }
                all
            }
            Plan::Gap => vec![
                take(Tool::Lifted, 0.03, round(12), every(17.0), "edge "),
                take(blades, 0.05, half_round(6), every(30.0), ""),
            ],
            Plan::CaliperAndBar(Bars { widths: w, lines: n }) => vec![
                take(blades, 0.05, half_round(w.0), places(l, 10.0, w.1), ""),
                take(Tool::Bridge(SPAN_MM), 0.02, round(n.0), places(l, SPAN_MM / 2.0 + 5.0, n.1), ""),
            ],
            Plan::CaliperAndGap(Bars { widths: w, lines: n }) => vec![
                take(blades, 0.05, half_round(w.0), places(l, 10.0, w.1), ""),
                take(Tool::Resting, 0.03, round(n.0), places(l, 10.0, n.1), "edge "),
            ],
            Plan::CaliperAndDial(Bars { widths: w, lines: n }) => vec![
                take(blades, 0.05, half_round(w.0), places(l, 10.0, w.1), ""),
                take(dial, 0.02, round(n.0), places(l, 10.0, n.1), "a"),
            ],
            Plan::Widths => vec![take(blades, 0.05, half_round(4), every(60.0), "")],
        }
    }
}

/// The faults of an ordinary hand beside the noise: pencil lines and the index line 1 deg off, the instrument off by half a
/// division of 0.05 mm over the lot. Common practice, no source.
#[must_use]
pub fn ordinary_hand() -> Rig {
    Rig { line_deg: 1.0, index_deg: 1.0, bias: [0.025, 0.0], ..Rig::default() }
}
