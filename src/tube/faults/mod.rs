//! What went wrong with the readings: slips that have a likely cause, named.
//!
//! The readings are never changed. Every explanation (see [`Cause`]) is judged by how much its correction raises the
//! likelihood of all readings of the tube with the shape integrated out (`evidence`), less what the freedom of the
//! explanation is worth: twice the log of the number of explanations of its kind, and for a free amount its share of
//! doubt under a normal prior (the marginal likelihood itself; Schwarz, Annals of Statistics 6 (1978) 461-464, for the
//! asymptotic form). One reading off without a known cause competes with the rest, so that an ordinary slip is left to
//! the doubted readings. The best explanation is taken as true and the search goes on, until nothing gains enough.

mod evidence;
mod hypothesis;
mod ring;
mod words;

use super::belief::Belief;
use super::population::Population;
use crate::domain::units::MM_PER_INCH;
use crate::domain::{Kind, Rig, Tube};
use evidence::Evidence;
use hypothesis::{Explanation, Groups, What, explanations};
use std::collections::BTreeMap;

/// Gain an explanation must have beyond its tolls. In odds: e^(12/2), four hundred to one, before anything else is known.
/// Chosen with `examples/fault_study.rs` so that less than 1 % of clean tubes are suspected.
pub const LEAST_GAIN: f64 = 12.0;
/// Another explanation whose score comes within this of the best is named beside it (odds of 20 to 1).
const NEAR_GAIN: f64 = 6.0;
/// Most explanations taken on one tube; beyond, its readings as a whole are not to be trusted.
const MOST_ROUNDS: usize = 12;
/// Fewer readings of a kind than this say nothing of how far its stated sd holds.
const LEAST_FOR_EXCESS: usize = 8;

/// A likely cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Cause {
    /// A dial's zero was bumped part way: later readings of the set are off by one amount.
    SlippedZero,
    /// The places of two stations were interchanged.
    SwappedStations,
    /// The decimal mark of one reading stands one place off.
    DecimalSlip,
    /// Inches written where mm were due (a reading, a ring, a set, or the place of a ring).
    InchAsMm,
    /// Millimetres written where inches were due.
    MmAsInch,
    /// The angles of a ring, or of a whole kind, are turned by one step.
    AnglesShifted,
    /// The sign of a reading, a ring or a set is reversed.
    SignReversed,
}

impl Cause {
    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Cause::SlippedZero => "slipped zero",
            Cause::SwappedStations => "swapped stations",
            Cause::DecimalSlip => "decimal slip",
            Cause::InchAsMm => "inch as mm",
            Cause::MmAsInch => "mm as inch",
            Cause::AnglesShifted => "angles shifted",
            Cause::SignReversed => "sign reversed",
        }
    }
}

/// Readings that look wrong in a way that has a likely cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspicion {
    /// The likely cause.
    pub cause: Cause,
    /// Places in `tube.readings` of the readings concerned, ascending.
    pub readings: Vec<usize>,
    /// Where on the tube, or which set, in words.
    pub place: String,
    /// What looks wrong and what to check, in a sentence; lengths in mm.
    pub words: String,
    /// Twice the log of how much better all readings agree once this is put right, tolls taken off.
    pub gain: f64,
}

/// Looks for slips with a likely cause among the readings `belief` was formed from.
///
/// # Arguments
/// The tube (its scan laid out), rigs, population and centre radius that [`Belief::fit`] was given.
///
/// # Returns
/// Suspicions, the strongest first; empty when all is well, or when the belief is of another tube.
///
/// # What it cannot see
/// A fault that leaves the readings in agreement: all angles of the only kind turned by a step (that is a turned index
/// line), the only dial set with its sign reversed, a swap of two like stations, a slip below the noise.
#[must_use]
pub fn suspicions(
    tube: &Tube,
    belief: &Belief,
    rigs: &BTreeMap<String, Rig>,
    population: &Population,
    centre_radius_mm: f64,
) -> Vec<Suspicion> {
    let search = Search { tube, belief, rigs, population, centre_radius_mm };
    search.run().unwrap_or_default()
}

struct Search<'a> {
    tube: &'a Tube,
    belief: &'a Belief,
    rigs: &'a BTreeMap<String, Rig>,
    population: &'a Population,
    centre_radius_mm: f64,
}

/// An explanation with its score: gain over the noise as it shows, less its tolls.
type Scored = (f64, Explanation);

impl Search<'_> {
    fn run(&self) -> Option<Vec<Suspicion>> {
        let readings = &self.tube.readings;
        let mut tube = self.tube.clone();
        let equations = self.belief.linear_equations(&tube, self.rigs, self.population, self.centre_radius_mm)?;
        let mut evidence = Evidence::new(&equations, readings.len())?;
        let mut groups = Groups::of(&tube.readings);
        let mut values: Vec<f64> = readings.iter().map(|r| r.value_mm).collect();
        let mut out: Vec<Suspicion> = Vec::new();
        for _ in 0..MOST_ROUNDS {
            let mut list = explanations(readings, &values, &groups, &evidence, LEAST_GAIN);
            if !list.is_empty() {
                list.extend(self.places_in_inches(&tube, &groups, &evidence, &values));
            }
            let scored = self.scored(&groups, &evidence, list);
            let Some((score, best)) = scored.first() else { break };
            let again = out.iter().any(|s| s.readings == sorted(groups.touched(best.what)));
            if again {
                break;
            }
            if !matches!(best.what, What::Alone(_)) {
                out.push(words::suspicion(self.tube, &groups, &values, *score, &best.what, &rivals(&groups, &scored)));
            }
            if let What::PlaceInInches(ring) = best.what {
                for &i in &groups.rings[ring].members {
                    tube.readings[i].z_mm *= MM_PER_INCH;
                }
                evidence = self.moved(&tube, &values)?;
                groups = Groups::of(&tube.readings);
            } else {
                evidence.apply(&best.change);
                for &(i, by) in &best.change {
                    values[i] += by;
                }
            }
        }
        out.sort_by(|a, b| b.gain.total_cmp(&a.gain));
        Some(out)
    }

    /// Explanations that still gain enough over the noise as it shows once they are made, best first.
    fn scored(&self, groups: &Groups, evidence: &Evidence, mut list: Vec<Explanation>) -> Vec<Scored> {
        list.sort_by(|a, b| (b.gain - b.toll).total_cmp(&(a.gain - a.toll)));
        list.truncate(40);
        let mut scored: Vec<Scored> = list
            .into_iter()
            .filter_map(|e| {
                let excess = match e.what {
                    What::PlaceInInches(_) => 1.0,
                    _ => self.excess(groups, evidence, &e),
                };
                // the excess decides whether to believe it; explanations are compared by what they gain
                (e.gain / excess - e.toll > LEAST_GAIN).then_some((e.gain - e.toll, e))
            })
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        scored
    }

    /// How much larger the noise shows than stated, over the kinds an explanation is about (all kinds where it is about
    /// one kind against another).
    fn excess(&self, groups: &Groups, evidence: &Evidence, e: &Explanation) -> f64 {
        let touched = groups.touched(e.what);
        let mut by_kind: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
        for (i, r) in self.tube.readings.iter().enumerate() {
            by_kind.entry(r.kind).or_default().push(i);
        }
        by_kind
            .iter()
            .filter(|(kind, list)| {
                let about = touched.iter().any(|&i| self.tube.readings[i].kind == **kind);
                list.len() >= LEAST_FOR_EXCESS && (about || matches!(e.what, What::TurnKind(..)))
            })
            .map(|(_, list)| evidence.excess_after(&e.change, list))
            .fold(1.0, f64::max)
    }

    /// Rings near the index end whose place may be inches: put where they would then lie, and fitted anew.
    fn places_in_inches(&self, tube: &Tube, groups: &Groups, now: &Evidence, values: &[f64]) -> Vec<Explanation> {
        let near: Vec<usize> = (0..groups.rings.len())
            .filter(|&r| {
                let z = groups.rings[r].z_mm;
                z > 0.0 && z * MM_PER_INCH <= tube.length_mm
            })
            .collect();
        let mut out = Vec::new();
        for &r in &near {
            let mut moved = tube.clone();
            for &i in &groups.rings[r].members {
                moved.readings[i].z_mm *= MM_PER_INCH;
            }
            for (r, v) in moved.readings.iter_mut().zip(values) {
                r.value_mm = *v;
            }
            let equations = self.belief.linear_equations(&moved, self.rigs, self.population, self.centre_radius_mm);
            let Some(then) = equations.and_then(|e| Evidence::deviance_of(&e)) else { continue };
            let toll = 2.0 * crate::numeric::summary::count(near.len()).ln();
            let gain = now.deviance() - then;
            out.push(Explanation { what: What::PlaceInInches(r), change: Vec::new(), gain, toll });
        }
        out
    }

    fn moved(&self, tube: &Tube, values: &[f64]) -> Option<Evidence> {
        let mut corrected = tube.clone();
        for (r, v) in corrected.readings.iter_mut().zip(values) {
            r.value_mm = *v;
        }
        let equations = self.belief.linear_equations(&corrected, self.rigs, self.population, self.centre_radius_mm)?;
        Evidence::new(&equations, corrected.readings.len())
    }
}

/// Explanations almost as good as the best that are about something else.
fn rivals(groups: &Groups, scored: &[Scored]) -> Vec<What> {
    let Some((top, best)) = scored.first() else { return Vec::new() };
    let same = |a: What, b: What| {
        let slips = matches!((a, b), (What::Slip { set: p, .. }, What::Slip { set: q, .. }) if p == q);
        let one = words::cause(a) == words::cause(b) && sorted(groups.touched(a)) == sorted(groups.touched(b));
        slips || one
    };
    let mut out: Vec<What> = Vec::new();
    for (score, e) in &scored[1..] {
        let known = same(e.what, best.what) || out.iter().any(|&w| same(w, e.what));
        if top - score < NEAR_GAIN && !known {
            out.push(e.what);
        }
    }
    out
}

fn sorted(mut list: Vec<usize>) -> Vec<usize> {
    list.sort_unstable();
    list
}
