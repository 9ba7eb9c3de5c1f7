//! Measuring by hand: instruments with noise, steps, biases, pencil lines that are a little off, and slips.

use super::chance::Chance;
use super::instruments::{Edge, Foot, arc_gauge, bridge, caliper, dial, traced, vee};
use super::shape::TrueTube;

/// What a reading was taken with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tool {
    /// Caliper whose jaws are this wide along the tube, mm.
    Caliper(f64),
    /// Distance from a known axis, and the dial's foot.
    Axis(Foot),
    /// A dial of unknown zero, and its foot.
    Dial(Foot),
    /// A dial over a V-block of this included angle, degrees.
    Vee(f64),
    /// A straightedge that rests on the bark.
    Resting,
    /// A straightedge lifted on two equal blocks near the ends.
    Lifted,
    /// A bar on two feet this far apart, mm.
    Bridge(f64),
    /// Wall thickness.
    Wall,
    /// A radius gauge that fits over this width, mm.
    Arc(f64),
    /// A traced or scanned end.
    Traced,
    /// A followed fibre; its value is in degrees.
    Fibre,
}

/// One reading as it is written down.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// With what.
    pub tool: Tool,
    /// Place, mm.
    pub z_mm: f64,
    /// Angle as meant, degrees.
    pub angle_deg: f64,
    /// Value as written, mm (degrees for a fibre).
    pub value: f64,
    /// Noise the maker states for it; none: left to the tool's default.
    pub stated_sd: Option<f64>,
    /// Setting, placement, fibre or tracing; empty: none named.
    pub set: String,
}

/// One instrument and the hand that holds it. The default is perfect.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// Normal noise of one reading, mm.
    pub sd: f64,
    /// The step it shows, mm; 0: none.
    pub step: f64,
    /// A feeler goes in or it does not: values are rounded down to the step.
    pub rounds_down: bool,
    /// Sd of its zero over lots, mm, and of its scale (parts of one); one draw for the whole lot.
    pub bias: [f64; 2],
    /// Sd of where a pencil line really is, degrees: one draw for each line of a tube, shared by all its stations.
    pub line_deg: f64,
    /// Sd of how a tube lies at one station, degrees: one draw for all readings of the station.
    pub station_deg: f64,
    /// Sd of the index line of a tube, degrees: one draw for all readings of the tube.
    pub index_deg: f64,
    /// Chance that a reading slips, and the sd of how far, mm.
    pub slips: (f64, f64),
    /// Whether the maker states the noise.
    pub states_sd: bool,
}

impl Default for Rig {
    fn default() -> Self {
        Rig {
            sd: 0.0,
            step: 0.0,
            rounds_down: false,
            bias: [0.0; 2],
            line_deg: 0.0,
            station_deg: 0.0,
            index_deg: 0.0,
            slips: (0.0, 0.0),
            states_sd: true,
        }
    }
}

impl Rig {
    /// An instrument with normal noise and no other fault.
    #[must_use]
    pub fn noisy(sd: f64) -> Rig {
        Rig { sd, ..Rig::default() }
    }

    /// The value as written, the true one being `value`.
    fn shown(&self, value: f64, bias: [f64; 2], c: &mut Chance) -> f64 {
        let mut v = value * (1.0 + bias[1]) + bias[0] + self.sd * c.normal();
        if c.is(self.slips.0) {
            v += self.slips.1 * c.normal();
        }
        if self.step > 0.0 {
            let steps = v / self.step;
            v = self.step * if self.rounds_down { steps.floor() } else { steps.round() };
        }
        v
    }
}

/// One tool read at every one of some angles of some places.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// With what.
    pub tool: Tool,
    /// The instrument and the hand that holds it.
    pub rig: Rig,
    /// Angles, degrees.
    pub angles_deg: Vec<f64>,
    /// Places, mm.
    pub places_mm: Vec<f64>,
    /// Setting, tracing or fibre.
    pub set: String,
}

impl Take {
    /// Takes it on a bench.
    pub fn by(&self, bench: &mut Bench<'_>) {
        bench.take(self.tool, &self.rig, &self.angles_deg, &self.places_mm, &self.set);
    }
}

/// Readings being taken on one tube of a lot.
#[derive(Debug)]
pub struct Bench<'a> {
    tube: &'a TrueTube,
    seed: u64,
    chance: Chance,
    /// What has been written down.
    pub taken: Vec<Taken>,
}

impl<'a> Bench<'a> {
    /// A bench for a tube of the lot of this seed.
    #[must_use]
    pub fn new(tube: &'a TrueTube, seed: u64) -> Bench<'a> {
        Bench { tube, seed, chance: Chance::of(seed, &format!("readings of {}", tube.name), 0), taken: Vec::new() }
    }

    /// Reads `tool` at every angle (degrees) and place, station by station.
    ///
    /// `set` names the setting, tracing or fibre; a straightedge is laid once along every angle over the places it is read
    /// at, and each placement is a set of its own.
    pub fn take(&mut self, tool: Tool, rig: &Rig, angles_deg: &[f64], places: &[f64], set: &str) {
        let name = format!("{tool:?}");
        let (tube, seed) = (self.tube, self.seed);
        let apart = |what: &str, which: f64| {
            Chance::of(
                seed,
                &format!("{what} {} {which:.3} {}", tube.name, if what == "index" { "" } else { &name }),
                0,
            )
            .normal()
        };
        let mut lot = Chance::of(seed, &format!("bias of {name}"), 0);
        let bias = rig.bias.map(|b| b * lot.normal());
        let index = rig.index_deg * apart("index", 0.0);
        let zero = self.zero(tool);
        let lean = [0; 4].map(|_| 0.5 * self.chance.normal());
        let ends = [places.iter().copied().fold(f64::MAX, f64::min), places.iter().copied().fold(f64::MIN, f64::max)];
        let truly = |angle: f64, z: f64| {
            let off = index + rig.line_deg * apart("line", angle) + rig.station_deg * apart("station", z);
            (angle + off).to_radians()
        };
        let edges: Vec<Edge> = match tool {
            Tool::Resting => {
                angles_deg.iter().map(|&d| Edge::resting(tube, truly(d, -1.0), 3.0, tube.length_mm - 3.0)).collect()
            }
            Tool::Lifted => angles_deg.iter().map(|&d| Edge::lifted(tube, truly(d, -1.0), ends, 1.0)).collect(),
            _ => Vec::new(),
        };
        for &z in places {
            for (i, &angle) in angles_deg.iter().enumerate() {
                let a = truly(angle, if edges.is_empty() { z } else { -1.0 });
                let t = z / tube.length_mm;
                let from = [0, 1].map(|k| lean[k] * (1.0 - t) + lean[k + 2] * t);
                let value = match tool {
                    Tool::Caliper(jaw) => caliper(tube, a, z, jaw),
                    Tool::Axis(foot) => dial(tube, a, z, from, foot),
                    Tool::Dial(foot) => dial(tube, a, z, from, foot) + zero,
                    Tool::Vee(v) => vee(tube, a, z, v.to_radians()) + zero,
                    Tool::Resting | Tool::Lifted => edges[i].gap(tube, a, z),
                    Tool::Bridge(span) => bridge(tube, a, z, span),
                    Tool::Wall => (tube.wall)(a, z),
                    Tool::Arc(width) => arc_gauge(tube, a, z, width),
                    Tool::Traced => {
                        let [x, y] = (tube.axis)(z);
                        traced(tube, a, z, [x + 2.0 * lean[0], y + 2.0 * lean[1]])
                    }
                    Tool::Fibre => angle + (tube.turn_deg)(z),
                };
                let mut value = rig.shown(value, bias, &mut self.chance);
                if tool == Tool::Resting {
                    value = value.max(0.0);
                }
                let set = if edges.is_empty() { set.to_string() } else { format!("{set}{angle}") };
                let stated_sd = (rig.states_sd && rig.sd > 0.0).then_some(rig.sd);
                self.taken.push(Taken { tool, z_mm: z, angle_deg: angle, value, stated_sd, set });
            }
        }
    }

    /// What a dial of this kind shows at 0.
    fn zero(&mut self, tool: Tool) -> f64 {
        match tool {
            Tool::Dial(_) | Tool::Vee(_) => 3.0 * self.chance.normal() - 12.0,
            _ => 0.0,
        }
    }

    /// The zero of a set slips by `by` mm after its first `after` readings.
    pub fn slip_after(&mut self, set: &str, after: usize, by: f64) {
        self.taken.iter_mut().filter(|t| t.set == set).skip(after).for_each(|t| t.value += by);
    }
}

/// `n` even steps round, degrees.
#[must_use]
pub fn round(n: u32) -> Vec<f64> {
    (0..n).map(|i| 360.0 * f64::from(i) / f64::from(n)).collect()
}

/// `n` directions in which a caliper is closed, degrees: half round.
#[must_use]
pub fn half_round(n: u32) -> Vec<f64> {
    (0..n).map(|i| 180.0 * f64::from(i) / f64::from(n)).collect()
}

/// `n` even places from `inset` of either end.
#[must_use]
pub fn places(length: f64, inset: f64, n: usize) -> Vec<f64> {
    if n < 2 {
        return vec![length / 2.0];
    }
    (0..n).map(|i| inset + (length - 2.0 * inset) * i as f64 / (n - 1) as f64).collect()
}

/// Places about `step` apart.
#[must_use]
pub fn places_every(length: f64, inset: f64, step: f64) -> Vec<f64> {
    places(length, inset, super::whole(((length - 2.0 * inset) / step).round()).max(1) + 1)
}
