//! What could have gone wrong with the readings of one tube, and how well each explains them.

use super::evidence::{Change, Evidence};
use super::ring::{Ring, Set, has_sign, is_length, rings, sets};
use crate::domain::Reading;
use crate::domain::units::MM_PER_INCH;
use crate::numeric::summary::count;

/// Prior sd of a bumped zero and of a slip without a known cause, mm.
const SLIP_SCALE_MM: f64 = 1.0;
/// Prior sd of the value a dial was reversed about, mm.
const PIVOT_SCALE_MM: f64 = 5.0;
/// A zero counts as slipped part way only with this many readings of its set before and after.
const LEAST_SIDE: usize = 3;

/// What a scaling or a sign is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Span {
    /// One reading.
    One(usize),
    /// Ring number.
    Ring(usize),
    /// Set number.
    Set(usize),
}

/// One thing that could have happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum What {
    /// From the `from`-th reading of a set on, all are off by the same amount.
    Slip { set: usize, from: usize, by_mm: f64 },
    /// Two rings changed places.
    Swap(usize, usize),
    /// The decimal mark: the true value is this many times the written one.
    Decimal(usize, f64),
    /// Written in the other unit: the true value is this many times the written one.
    Unit(Span, f64),
    /// One ring's angles turned by one step, forward or back.
    Turn(usize, bool),
    /// All angles of one kind turned by one step; the kind is that of the ring.
    TurnKind(usize, bool),
    /// Sign reversed.
    Sign(Span),
    /// One ring's place written in inches.
    PlaceInInches(usize),
    /// One reading off without a known cause.
    Alone(usize),
}

/// One explanation with what it gains.
#[derive(Debug, Clone)]
pub(super) struct Explanation {
    pub(super) what: What,
    /// How the readings would have to change.
    pub(super) change: Change,
    /// Lowering of twice the negative log likelihood.
    pub(super) gain: f64,
    /// Twice the log of the number of explanations of this kind.
    pub(super) toll: f64,
}

/// The groups of readings of one tube.
pub(super) struct Groups {
    pub(super) rings: Vec<Ring>,
    pub(super) sets: Vec<Set>,
}

impl Groups {
    pub(super) fn of(readings: &[Reading]) -> Groups {
        Groups { rings: rings(readings), sets: sets(readings) }
    }

    /// The readings an explanation is about.
    pub(super) fn touched(&self, what: What) -> Vec<usize> {
        match what {
            What::Slip { set, from, .. } => self.sets[set].members[from..].to_vec(),
            What::Swap(a, b) => [self.rings[a].members.as_slice(), &self.rings[b].members].concat(),
            What::Decimal(i, _) | What::Alone(i) => vec![i],
            What::Unit(span, _) | What::Sign(span) => self.span(span),
            What::Turn(r, _) | What::PlaceInInches(r) => self.rings[r].members.clone(),
            What::TurnKind(r, _) => self.of_kind(r).flat_map(|r| r.members.iter().copied()).collect(),
        }
    }

    fn span(&self, span: Span) -> Vec<usize> {
        match span {
            Span::One(i) => vec![i],
            Span::Ring(r) => self.rings[r].members.clone(),
            Span::Set(s) => self.sets[s].members.clone(),
        }
    }

    fn of_kind(&self, ring: usize) -> impl Iterator<Item = &Ring> {
        let kind = self.rings[ring].kind;
        self.rings.iter().filter(move |r| r.kind == kind)
    }

    /// Spans of more than one reading, no two with the same readings.
    fn wide_spans(&self) -> Vec<Span> {
        let same = |s: &Set, r: &Ring| {
            s.kind == r.kind && s.members.len() == r.members.len() && s.members.iter().all(|i| r.members.contains(i))
        };
        let sets = (0..self.sets.len()).filter(|&s| !self.rings.iter().any(|r| same(&self.sets[s], r)));
        (0..self.rings.len()).map(Span::Ring).chain(sets.map(Span::Set)).collect()
    }
}

/// Every explanation that gains more than its toll and `least`; `shown` are the values as the dial or jaws showed them.
pub(super) fn explanations(
    readings: &[Reading],
    shown: &[f64],
    groups: &Groups,
    evidence: &Evidence,
    least: f64,
) -> Vec<Explanation> {
    let mut found = Found { list: Vec::new(), least };
    slips(groups, evidence, &mut found);
    swaps(shown, groups, evidence, &mut found);
    turns(shown, groups, evidence, &mut found);
    singles(readings, shown, evidence, &mut found);
    spans(readings, shown, groups, evidence, &mut found);
    found.list
}

struct Found {
    list: Vec<Explanation>,
    least: f64,
}

impl Found {
    fn offer(&mut self, what: What, gain: f64, of: usize, change: impl FnOnce() -> Change) {
        let toll = 2.0 * count(of.max(1)).ln();
        if gain - toll > self.least {
            self.list.push(Explanation { what, change: change(), gain, toll });
        }
    }
}

fn slips(groups: &Groups, evidence: &Evidence, found: &mut Found) {
    let starts = groups.sets.iter().map(|s| (s.members.len() + 1).saturating_sub(2 * LEAST_SIDE)).sum();
    for (set, s) in groups.sets.iter().enumerate() {
        let mut later = evidence.nowhere();
        for from in (LEAST_SIDE..s.members.len()).rev() {
            evidence.extend(&mut later, s.members[from], 1.0);
            if s.members.len() - from < LEAST_SIDE {
                continue;
            }
            let (gain, by) = Evidence::free_gain(&later, SLIP_SCALE_MM);
            let change = || s.members[from..].iter().map(|&i| (i, by)).collect();
            // the readings have to change by the opposite of what happened to them
            found.offer(What::Slip { set, from, by_mm: -by }, gain, starts, change);
        }
    }
}

fn swaps(shown: &[f64], groups: &Groups, evidence: &Evidence, found: &mut Found) {
    let rings = &groups.rings;
    let pairs: Vec<(usize, usize)> = (0..rings.len())
        .flat_map(|a| (a + 1..rings.len()).map(move |b| (a, b)))
        .filter(|&(a, b)| rings[a].matches(&rings[b]))
        .collect();
    for &(a, b) in &pairs {
        let change: Change = rings[a]
            .members
            .iter()
            .zip(&rings[b].members)
            .flat_map(|(&i, &j)| [(i, shown[j] - shown[i]), (j, shown[i] - shown[j])])
            .collect();
        found.offer(What::Swap(a, b), evidence.gain(&change), pairs.len(), || change);
    }
}

fn turned(ring: &Ring, shown: &[f64], forward: bool) -> Change {
    let n = ring.members.len();
    let from = |k: usize| ring.members[if forward { k + 1 } else { k + n - 1 } % n];
    ring.members.iter().enumerate().map(|(k, &i)| (i, shown[from(k)] - shown[i])).collect()
}

fn turns(shown: &[f64], groups: &Groups, evidence: &Evidence, found: &mut Found) {
    let even: Vec<usize> = (0..groups.rings.len()).filter(|&r| groups.rings[r].step_deg.is_some()).collect();
    for &r in &even {
        for forward in [true, false] {
            let change = turned(&groups.rings[r], shown, forward);
            found.offer(What::Turn(r, forward), evidence.gain(&change), 2 * even.len(), || change);
        }
    }
    for &first in &even {
        let all: Vec<&Ring> = groups.of_kind(first).collect();
        let one_step = all.iter().all(|r| r.step_deg.is_some() && r.matches(&groups.rings[first]));
        // a single ring was tried above; each kind is tried once, from its first ring
        if all.len() < 2 || !one_step || !std::ptr::eq(all[0], &groups.rings[first]) {
            continue;
        }
        for forward in [true, false] {
            let change: Change = all.iter().flat_map(|r| turned(r, shown, forward)).collect();
            found.offer(What::TurnKind(first, forward), evidence.gain(&change), 4, || change);
        }
    }
}

/// What stretching `n` values by a factor does to their density (the Jacobian): without it, shrinking any readings towards
/// nothing would look like an improvement.
fn stretch(factor: f64, n: usize) -> f64 {
    2.0 * count(n) * factor.abs().ln()
}

fn singles(readings: &[Reading], shown: &[f64], evidence: &Evidence, found: &mut Found) {
    for (i, r) in readings.iter().enumerate() {
        let (alone, by) = evidence.alone(i, SLIP_SCALE_MM);
        found.offer(What::Alone(i), alone, readings.len(), || vec![(i, by)]);
        let mut scaled = |what: What, factor: f64| {
            let change = vec![(i, (factor - 1.0) * shown[i])];
            found.offer(what, evidence.gain(&change) + stretch(factor, 1), readings.len(), || change);
        };
        if r.kind.word() == "grain" {
            continue;
        }
        for factor in [10.0, 0.1] {
            scaled(What::Decimal(i, factor), factor);
        }
        for factor in [MM_PER_INCH, 1.0 / MM_PER_INCH] {
            scaled(What::Unit(Span::One(i), factor), factor);
        }
        if has_sign(r.kind) {
            scaled(What::Sign(Span::One(i)), -1.0);
        }
    }
}

fn spans(readings: &[Reading], shown: &[f64], groups: &Groups, evidence: &Evidence, found: &mut Found) {
    let wide = groups.wide_spans();
    for &span in &wide {
        let members = groups.span(span);
        let kind = readings[members[0]].kind;
        let scaled = |factor: f64| -> Change { members.iter().map(|&i| (i, (factor - 1.0) * shown[i])).collect() };
        if is_length(kind) {
            // not the other way: shrinking a whole set would hide any large fault in it
            let change = scaled(MM_PER_INCH);
            let gain = evidence.gain(&change) + stretch(MM_PER_INCH, members.len());
            found.offer(What::Unit(span, MM_PER_INCH), gain, wide.len(), || change);
        }
        if has_sign(kind) {
            let mut change = scaled(-1.0);
            found.offer(What::Sign(span), evidence.gain(&change), wide.len(), || change.clone());
            let free: Change = members.iter().map(|&i| (i, 1.0)).collect();
            let (gain, pivot) = evidence.gain_with(&change, &free, PIVOT_SCALE_MM);
            for c in &mut change {
                c.1 += pivot;
            }
            found.offer(What::Sign(span), gain, wide.len(), || change);
        }
    }
}

/// Numbers of readings, ascending.
pub(super) fn sorted(mut list: Vec<usize>) -> Vec<usize> {
    list.sort_unstable();
    list
}
