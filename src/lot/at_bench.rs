//! A lot that grows while it is worked on: read anew after every reading, believed under the scales learned a moment ago, one
//! tube at a time.

use super::options::Progress;
use super::prepared::Prepared;
use crate::decide::advice::AtHand;
use crate::domain::{Finding, Lot, Tube};
use crate::readings::LotRead;
use crate::tube::learn::Learned;
use crate::tube::scan::unroll_lot;
use crate::tube::{Model, PopulationError, recognise_habits, sample_readings};

/// A lot as it was read, made ready but for its scans and its scales.
#[derive(Debug)]
pub struct AtBench {
    tubes: Vec<Tube>,
    settings: Lot,
    findings: Vec<Finding>,
    files: Vec<String>,
    model: Result<Model, PopulationError>,
    at_hand: Vec<AtHand>,
}

impl AtBench {
    /// Recognises the habits of the lot's readings; its scans are laid out only for the tube that is asked for.
    ///
    /// # Example
    /// ```
    /// use quarterlight::lot::{AtBench, Options, Prepared, QUIETLY};
    /// use quarterlight::readings::read_lot;
    /// let lot = Prepared::read("data-samples/grid".as_ref(), &[])?;
    /// let now = AtBench::of(&read_lot("data-samples/grid".as_ref())?);
    /// let one = now.tube("G1", lot.learned.clone()).expect("listed");
    /// let plan = one.assess(Options::default().plan, QUIETLY)?;
    /// // nothing has changed meanwhile, so its split is that of the whole lot's plan
    /// assert_eq!(plan.plans()[0].split, lot.assess(Options::default().plan, QUIETLY)?.plans()[0].split);
    /// # Ok::<(), quarterlight::lot::LotError>(())
    /// ```
    #[must_use]
    pub fn of(read: &LotRead) -> AtBench {
        let LotRead { lot, findings, files } = read;
        let (mut lot, mut findings) = (lot.clone(), findings.clone());
        findings.extend(recognise_habits(&mut lot));
        findings.extend(sample_readings(&mut lot));
        let model = Model::of(&lot).map(|m| m.with_walls_of(&lot.tubes));
        let at_hand = AtHand::all(&lot);
        let tubes = std::mem::take(&mut lot.tubes);
        AtBench { tubes, settings: lot, findings, files: files.clone(), model, at_hand }
    }

    /// The lot without its tubes.
    #[must_use]
    pub fn settings(&self) -> &Lot {
        &self.settings
    }

    /// One tube, believed under scales that were learned before: what one more reading says at once, without learning the
    /// whole lot again. With `None` it is believed under the built-in scales with their whole doubt. `None` where no tube has
    /// that name.
    #[must_use]
    pub fn tube(&self, name: &str, learned: Option<Learned>) -> Option<Prepared> {
        let tube = self.tubes.iter().find(|t| t.name == name)?;
        let mut lot = Lot { tubes: vec![tube.clone()], ..self.settings.clone() };
        let mut findings = self.findings.clone();
        findings.extend(unroll_lot(&mut lot));
        let mut one = Prepared::with_scales(lot, findings, self.files.clone(), learned, self.model.clone());
        one.at_hand.clone_from(&self.at_hand);
        Some(one.only(&[name.to_string()]))
    }
}

impl Prepared {
    /// Only one tube of it; nothing is then said of the whole. `None` where no tube has that name.
    #[must_use]
    pub fn of_tube(&self, tube: &str) -> Option<Prepared> {
        self.lot.tubes.iter().any(|t| t.name == tube).then(|| self.clone().only(&[tube.to_string()]))
    }
}

/// Nothing is told while it works: it is soon done.
pub const QUIETLY: &(dyn Fn(Progress) + Sync) = &|_| ();
