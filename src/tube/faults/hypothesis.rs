//! What could have gone wrong with the readings of one tube, and how well each explains them.

use super::effort::Effort;
use super::evidence::{Change, Evidence};
use super::mechanism::mechanism;
use super::ring::{Ring, Set, rings, sets};
use crate::domain::Reading;
use crate::domain::units::MM_PER_INCH;
use crate::numeric::summary::count;

/// Prior sd of a bumped zero and of a slip without a known cause, mm.
const SLIP_SCALE_MM: f64 = 1.0;
/// Prior sd of the value a dial was reversed about, mm.
const PIVOT_SCALE_MM: f64 = 5.0;
/// A zero counts as slipped part way only with this many readings of its set before and after.
const LEAST_SIDE: usize = 3;

/// A value within so many sd of 0 tells nothing of its unit.
const TOLD_SD: f64 = 2.0;

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

    /// The readings an explanation is about, ascending.
    pub(super) fn touched(&self, what: What) -> Vec<usize> {
        let mut list = match what {
            What::Slip { set, from, .. } => self.sets[set].members[from..].to_vec(),
            What::Swap(a, b) => [self.rings[a].members.as_slice(), &self.rings[b].members].concat(),
            What::Decimal(i, _) | What::Alone(i) => vec![i],
            What::Unit(span, _) | What::Sign(span) => self.span(span),
            What::Turn(r, _) | What::PlaceInInches(r) => self.rings[r].members.clone(),
            What::TurnKind(r, _) => self.of_kind(r).flat_map(|r| r.members.iter().copied()).collect(),
        };
        list.sort_unstable();
        list
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

/// What is known of the readings that are to be explained.
pub(super) struct Known<'a> {
    pub(super) readings: &'a [Reading],
    /// Values as the dial or jaws showed them.
    pub(super) shown: &'a [f64],
    pub(super) groups: &'a Groups,
    pub(super) evidence: &'a Evidence,
}

/// Every explanation that gains more than its toll and `least`, as far as the effort reaches.
pub(super) fn explanations(known: &Known<'_>, least: f64, effort: &Effort) -> Vec<Explanation> {
    let mut found = Found { list: Vec::new(), least };
    let pairs = alike(known.groups);
    let in_sets: usize = known.groups.sets.iter().map(|s| s.members.len()).sum();
    let in_rings: usize = known.groups.rings.iter().map(|r| r.members.len()).sum();
    // the cheap ones first, so that what a cap leaves out is the rarest: pairs of stations
    if effort.spend(7 * known.readings.len()) {
        singles(known, &mut found);
    }
    if effort.spend(in_sets) {
        slips(known, &mut found);
    }
    if effort.spend(4 * (in_sets + in_rings)) {
        spans(known, &mut found);
    }
    if effort.spend(4 * in_rings) {
        turns(known, &mut found);
    }
    let in_pairs = pairs.iter().map(|p| 2 * known.groups.rings[p.0].members.len()).sum();
    if effort.spend(in_pairs) {
        swaps(known, &pairs, &mut found);
    }
    found.list
}

/// Pairs of stations whose readings could change places.
fn alike(groups: &Groups) -> Vec<(usize, usize)> {
    let rings = &groups.rings;
    (0..rings.len())
        .flat_map(|a| (a + 1..rings.len()).map(move |b| (a, b)))
        .filter(|&(a, b)| rings[a].matches(&rings[b]))
        .collect()
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

fn slips(&Known { groups, evidence, .. }: &Known<'_>, found: &mut Found) {
    let with_zero = || groups.sets.iter().enumerate().filter(|(_, s)| mechanism(s.kind).zero);
    let starts = with_zero().map(|(_, s)| (s.members.len() + 1).saturating_sub(2 * LEAST_SIDE)).sum();
    for (set, s) in with_zero() {
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

fn swaps(&Known { shown, groups, evidence, .. }: &Known<'_>, pairs: &[(usize, usize)], found: &mut Found) {
    let rings = &groups.rings;
    for &(a, b) in pairs {
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

fn turns(&Known { shown, groups, evidence, .. }: &Known<'_>, found: &mut Found) {
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

/// What stretching values by a factor does to their density (the Jacobian): without it, shrinking any readings towards
/// nothing would look like an improvement. Stretching earns it only as far as the rest of the readings could contradict:
/// a value that a free zero follows, or one that is 0 within its noise, tells nothing of its unit.
fn stretch(known: &Known<'_>, members: &[usize], factor: f64) -> f64 {
    let share = |&i: &usize| {
        let told = known.shown[i].abs() > TOLD_SD * known.evidence.noise_mm(i);
        if factor.abs() <= 1.0 {
            1.0
        } else if told {
            known.evidence.checked(i)
        } else {
            0.0
        }
    };
    2.0 * members.iter().map(share).sum::<f64>() * factor.abs().ln()
}

/// True where nothing can be said of a scale: 0 is 0 in every unit, and what the rest leaves open contradicts nothing.
fn unscaled(known: &Known<'_>, members: &[usize]) -> bool {
    members.iter().all(|&i| known.shown[i] == 0.0 || known.evidence.open(i))
}

fn singles(known: &Known<'_>, found: &mut Found) {
    let &Known { readings, shown, evidence, .. } = known;
    for (i, r) in readings.iter().enumerate() {
        let (alone, by) = evidence.alone(i, SLIP_SCALE_MM);
        found.offer(What::Alone(i), alone, readings.len(), || vec![(i, by)]);
        let can = mechanism(r.kind);
        if !can.typed || unscaled(known, &[i]) {
            continue;
        }
        let mut scaled = |what: What, factor: f64| {
            let change = vec![(i, (factor - 1.0) * shown[i])];
            found.offer(what, evidence.gain(&change) + stretch(known, &[i], factor), readings.len(), || change);
        };
        for factor in [10.0, 0.1] {
            scaled(What::Decimal(i, factor), factor);
        }
        for factor in [MM_PER_INCH, 1.0 / MM_PER_INCH] {
            scaled(What::Unit(Span::One(i), factor), factor);
        }
        if can.sign {
            scaled(What::Sign(Span::One(i)), -1.0);
        }
    }
}

fn spans(known: &Known<'_>, found: &mut Found) {
    let &Known { readings, shown, groups, evidence } = known;
    let wide = groups.wide_spans();
    for &span in &wide {
        let members = groups.span(span);
        let can = mechanism(readings[members[0]].kind);
        if unscaled(known, &members) {
            continue;
        }
        let scaled = |factor: f64| -> Change { members.iter().map(|&i| (i, (factor - 1.0) * shown[i])).collect() };
        if can.typed && readings[members[0]].kind.is_outside() {
            // not the other way: shrinking a whole set would hide any large fault in it
            let change = scaled(MM_PER_INCH);
            let gain = evidence.gain(&change) + stretch(known, &members, MM_PER_INCH);
            found.offer(What::Unit(span, MM_PER_INCH), gain, wide.len(), || change);
        }
        if can.sign {
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
