//! What tubes give together, as sums that do not depend on order or grouping.

use super::super::counting::worth_splitting;
use super::super::interval::Interval;
use crate::decide::by_eye::by_eye;
use crate::decide::leeway::LimitChange;
use crate::decide::plan::TubePlan;
use crate::numeric::exact_sum::ExactSum;
use crate::numeric::summary::ninety;
use std::collections::BTreeMap;

/// Blanks: expected, and in every draw.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Drawn {
    pub(super) expected: ExactSum,
    /// Empty where no tube gave any draws.
    pub(super) draws: Vec<u64>,
}

impl Drawn {
    fn add(&mut self, expected: f64, draws: &[u16]) {
        self.expected.add(expected);
        self.add_draws(draws.iter().map(|n| u64::from(*n)));
    }

    fn add_draws(&mut self, draws: impl ExactSizeIterator<Item = u64>) {
        if self.draws.len() < draws.len() {
            self.draws.resize(draws.len(), 0);
        }
        self.draws.iter_mut().zip(draws).for_each(|(sum, n)| *sum += n);
    }

    pub(super) fn join(&mut self, other: &Drawn) {
        self.expected = self.expected.plus(other.expected);
        self.add_draws(other.draws.iter().copied());
    }

    /// What is expected, with the 5 and 95 % points of the draws.
    pub(super) fn interval(&self) -> Interval {
        let expected = self.expected.value();
        if self.draws.is_empty() {
            return Interval { expected, low: expected, high: expected };
        }
        let (low, high) = ninety(&self.totals());
        Interval { expected, low, high }
    }

    /// Blanks in every draw; exact below 2^53.
    pub(super) fn totals(&self) -> Vec<f64> {
        self.draws.iter().map(|n| *n as f64).collect()
    }
}

/// Planned tubes together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Sums {
    pub(super) tubes: usize,
    pub(super) length_mm: ExactSum,
    pub(super) blanks: Drawn,
    /// Tubes that have a weight, what they weigh, g, and what they give.
    pub(super) weighed: usize,
    pub(super) weight_g: ExactSum,
    pub(super) of_weighed: Drawn,
    /// Tubes with marked runs, and what those give alone.
    pub(super) with_marks: usize,
    pub(super) marked: Drawn,
    pub(super) no_grain: usize,
    pub(super) no_wall: usize,
    /// Blanks with what nobody read as it may be.
    pub(super) unread: Drawn,
    pub(super) arbitrary: ExactSum,
    pub(super) by_eye: ExactSum,
    pub(super) split_already: usize,
    pub(super) minutes: ExactSum,
    /// Tubes of which nobody knows how long they took.
    pub(super) no_minutes: usize,
    /// By the limit's word and the bits of what it is changed to.
    limits: BTreeMap<(String, u64), ExactSum>,
}

impl Sums {
    /// Adds a planned tube.
    pub(super) fn add(&mut self, p: &TubePlan) {
        let draws: &[u16] = p.split.as_ref().map_or(&[], |s| &s.draws);
        self.tubes += 1;
        self.length_mm.add(p.fit.length_mm);
        self.blanks.add(p.expected(), draws);
        if let Some(w) = p.fit.weight_g.filter(|w| *w > 0.0) {
            self.weighed += 1;
            self.weight_g.add(w);
            self.of_weighed.add(p.expected(), draws);
        }
        if let Some(m) = &p.marked {
            self.with_marks += 1;
            self.marked.add(m.expected, &m.draws);
        }
        match &p.unchecked {
            Some(u) => {
                self.no_grain += usize::from(u.grain);
                self.no_wall += usize::from(u.wall);
                self.unread.add(u.expected, &u.draws);
            }
            None => self.unread.add(p.expected(), draws),
        }
        self.arbitrary.add(p.split.as_ref().map_or(0.0, |s| s.arbitrary));
        match by_eye(p) {
            Some(blanks) => self.by_eye.add(blanks),
            None => self.split_already += 1,
        }
        match p.minutes {
            Some(minutes) => self.minutes.add(minutes),
            None => self.no_minutes += 1,
        }
        for c in &p.limit_changes {
            self.limits.entry((c.limit.clone(), c.at_mm.to_bits())).or_default().add(c.blanks);
        }
    }

    /// Adds other tubes.
    pub(super) fn join(&mut self, other: &Sums) {
        self.tubes += other.tubes;
        self.length_mm = self.length_mm.plus(other.length_mm);
        self.blanks.join(&other.blanks);
        self.weighed += other.weighed;
        self.weight_g = self.weight_g.plus(other.weight_g);
        self.of_weighed.join(&other.of_weighed);
        self.with_marks += other.with_marks;
        self.marked.join(&other.marked);
        self.no_grain += other.no_grain;
        self.no_wall += other.no_wall;
        self.unread.join(&other.unread);
        self.arbitrary = self.arbitrary.plus(other.arbitrary);
        self.by_eye = self.by_eye.plus(other.by_eye);
        self.split_already += other.split_already;
        self.minutes = self.minutes.plus(other.minutes);
        self.no_minutes += other.no_minutes;
        for (key, sum) in &other.limits {
            let mine = self.limits.entry(key.clone()).or_default();
            *mine = mine.plus(*sum);
        }
    }

    /// Blanks were one of the limits another, by the limit's word and size.
    pub(super) fn limit_changes(&self) -> Vec<LimitChange> {
        let one = |((limit, bits), sum): (&(String, u64), &ExactSum)| LimitChange {
            limit: limit.clone(),
            at_mm: f64::from_bits(*bits),
            blanks: sum.value(),
        };
        self.limits.iter().map(one).collect()
    }

    /// Whether every number of a plan can be summed up; else the word of the first that cannot.
    pub(super) fn takes(p: &TubePlan, draws: usize) -> Result<(), &'static str> {
        let fit = |x: f64| ExactSum::takes(x);
        let of_all = |d: &[u16]| d.len() == draws;
        let (split, marked, unread) = (p.split.as_ref(), p.marked.as_ref(), p.unchecked.as_ref());
        let checks = [
            ("split.draws", split.is_none_or(|s| of_all(&s.draws))),
            ("marked_runs.draws", marked.is_none_or(|m| of_all(&m.draws))),
            ("unchecked.draws", unread.is_none_or(|u| u.draws.is_empty() || of_all(&u.draws))),
            ("length_mm", fit(p.fit.length_mm)),
            ("weight_g", p.fit.weight_g.is_none_or(fit)),
            ("split.expected_blanks", fit(p.expected())),
            ("split.arbitrary_blanks", split.is_none_or(|s| fit(s.arbitrary))),
            ("split.by_angle", by_eye(p).is_none_or(fit)),
            ("marked_runs.expected_blanks", marked.is_none_or(|m| fit(m.expected))),
            ("unchecked.expected_blanks", unread.is_none_or(|u| fit(u.expected))),
            ("measuring_minutes", p.minutes.is_none_or(fit)),
            ("limit_changes", p.limit_changes.iter().all(|c| fit(c.blanks))),
        ];
        checks.into_iter().find(|c| !c.1).map_or(Ok(()), |c| Err(c.0))
    }
}

/// All planned tubes, and those of them that the screening does not leave.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Both {
    pub(super) all: Sums,
    pub(super) worth: Sums,
}

impl Both {
    pub(super) fn add(&mut self, p: &TubePlan) {
        self.all.add(p);
        if worth_splitting(p) {
            self.worth.add(p);
        }
    }

    pub(super) fn join(&mut self, other: &Both) {
        self.all.join(&other.all);
        self.worth.join(&other.worth);
    }
}
