//! Planning a lot tube by tube, each plan written as soon as it is there.

use super::super::error::LotError;
use super::super::options::Progress;
use super::super::outcome::TubeOutcome;
use super::super::prepared::{Prepared, Told, named};
use super::super::record::NotPlanned;
use super::super::terms::Terms;
use super::line::{About, Line};
use crate::decide::plan::{PlanOptions, plan_tube};
use rayon::prelude::*;
use std::borrow::Cow;
use std::io::{self, Write};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Tubes planned at once, for every thread: enough that threads seldom wait for each other.
const AHEAD: usize = 8;

/// One of several even parts of a lot's list: part k of n holds the tubes k, k + n, k + 2 n, ...
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Which, from 1.
    pub part: usize,
    /// Of how many.
    pub of: usize,
}

impl Part {
    /// From a text such as `2/5`; `None` where it is none.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Part> {
        let (part, of) = text.trim().split_once('/')?;
        let (part, of) = (part.trim().parse().ok()?, of.trim().parse().ok()?);
        (part >= 1 && part <= of && of <= 1_000_000).then_some(Part { part, of })
    }
}

/// Which tubes of a lot are planned. Whichever they are, all tubes of the lot are read and teach its scales.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Which {
    /// Names of tubes; none for all.
    pub tubes: Vec<String>,
    /// Of those a part.
    pub part: Option<Part>,
}

impl Which {
    /// Places in the lot's list, from 0.
    fn places(&self, lot: &Prepared) -> Result<Vec<usize>, LotError> {
        let names = named(&lot.lot, &self.tubes)?;
        let asked = |i: &usize| names.is_empty() || names.contains(&lot.lot.tubes[*i].name);
        let mine = |i: &usize| self.part.is_none_or(|p| i % p.of == p.part - 1);
        Ok((0..lot.lot.tubes.len()).filter(mine).filter(asked).collect())
    }
}

impl Prepared {
    /// Plans tubes of the lot and writes a line for the lot and one for each of them, in the lot's order, the same bytes
    /// whatever the thread count. A plan is dropped once it is written: of the lot only what was read is held. `self` must be
    /// the whole lot.
    ///
    /// # Errors
    /// [`LotError::NoSuchTube`], [`LotError::WhichTube`], [`LotError::Population`]; in the inner result what `to` says.
    pub fn write_lines(
        &self,
        options: PlanOptions,
        which: &Which,
        to: &mut impl Write,
        progress: Told<'_>,
    ) -> Result<io::Result<()>, LotError> {
        let (model, places) = (self.model()?, which.places(self)?);
        let about = About {
            terms: Cow::Owned(Terms::of(&self.lot)),
            scales: Cow::Owned(self.scales()),
            tubes: self.lot.tubes.len(),
            as_split: self.lot.as_split,
        };
        let head = Line::of_lot(about, options);
        let done = AtomicUsize::new(0);
        let one = |i: &usize| {
            let tube = &self.lot.tubes[*i];
            let outcome = TubeOutcome::of(tube, plan_tube(tube, &self.lot, &model, options));
            let mut line = head.of_tube(i + 1);
            line.not_planned = NotPlanned::of(&outcome, i + 1);
            line.plan = outcome.plan.as_deref().ok().map(Cow::Borrowed);
            let text = line.text();
            progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, of: places.len() });
            text
        };
        let mut write = || {
            to.write_all(head.text().as_bytes())?;
            for some in places.chunks(AHEAD * rayon::current_num_threads()) {
                let lines: Vec<String> = some.par_iter().map(one).collect();
                lines.iter().try_for_each(|l| to.write_all(l.as_bytes()))?;
                to.flush()?;
            }
            to.flush()
        };
        Ok(write())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_named_by_number_and_count() {
        assert_eq!(Part::from_text(" 2/5"), Some(Part { part: 2, of: 5 }));
        for wrong in ["", "2", "0/3", "4/3", "1/0", "a/b", "1/2/3", "-1/2", "1/2000000"] {
            assert_eq!(Part::from_text(wrong), None, "{wrong}");
        }
    }
}
