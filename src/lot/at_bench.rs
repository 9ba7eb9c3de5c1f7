//! A lot that grows while it is worked on: read anew after every reading, believed under the scales learned a moment ago, one
//! tube at a time.

use super::options::Progress;
use super::prepared::Prepared;
use crate::readings::LotRead;
use crate::tube::learn::Learned;
use crate::tube::scan::unroll_lot;
use crate::tube::{Model, recognise_habits};

impl Prepared {
    /// One tube of a lot that was read anew, believed under scales that were learned before: what one more reading says at
    /// once, without learning the whole lot again. With `None` it is believed under the built-in scales with their whole doubt.
    /// `None` where no tube has that name.
    ///
    /// # Example
    /// ```
    /// use quarterlight::lot::{Options, Prepared, QUIETLY};
    /// use quarterlight::readings::read_lot;
    /// let lot = Prepared::read("data-samples/grid".as_ref(), &[])?;
    /// let read = read_lot("data-samples/grid".as_ref())?;
    /// let one = Prepared::one_tube(read, "G1", lot.learned.clone()).expect("listed");
    /// let plan = one.assess(Options::default().plan, QUIETLY)?;
    /// // nothing has changed meanwhile, so it is what the whole lot's plan says of it
    /// assert_eq!(plan.plans(), lot.assess(Options::default().plan, QUIETLY)?.plans()[..1]);
    /// # Ok::<(), quarterlight::lot::LotError>(())
    /// ```
    #[must_use]
    pub fn one_tube(read: LotRead, tube: &str, learned: Option<Learned>) -> Option<Prepared> {
        let LotRead { mut lot, mut findings, files } = read;
        let at = lot.tubes.iter().position(|t| t.name == tube)?;
        // scans of other tubes need no laying out
        for (i, other) in lot.tubes.iter_mut().enumerate() {
            if i != at {
                other.scan = None;
            }
        }
        findings.extend(unroll_lot(&mut lot));
        findings.extend(recognise_habits(&mut lot));
        let model = Model::of(&lot).map(|m| m.with_walls_of(&lot.tubes));
        let one = Prepared::with_scales(lot, findings, files, learned, model);
        Some(one.only(&[tube.to_string()]))
    }

    /// Only one tube of it; nothing is then said of the whole. `None` where no tube has that name.
    #[must_use]
    pub fn of_tube(&self, tube: &str) -> Option<Prepared> {
        self.lot.tubes.iter().any(|t| t.name == tube).then(|| self.clone().only(&[tube.to_string()]))
    }
}

/// Nothing is told while it works: it is soon done.
pub const QUIETLY: &(dyn Fn(Progress) + Sync) = &|_| ();
