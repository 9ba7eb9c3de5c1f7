//! A lot made ready: read, only the tubes asked for, its scans laid out.

use super::assessed::Assessed;
use super::called::called;
use super::error::LotError;
use super::fits::Fits;
use super::options::{Options, Progress};
use super::outcome::{FitOutcome, TubeOutcome};
use super::scales::ScalesUsed;
use crate::decide::advice::AtHand;
use crate::decide::judged::{Judged, judged_stretches};
use crate::decide::plan::{NoPlan, PlanOptions, TubePlan, fit_tube, plan_tube};
use crate::decide::tube_view::{TubeView, glance_tube_with_view, plan_tube_with_view};
use crate::domain::{Finding, Lot, Tube};
use crate::readings::{LotRead, read_lot};
use crate::tube::learn::{LearnError, Learned, learn_population};
use crate::tube::scan::unroll_lot;
use crate::tube::{Model, PopulationError, recognise_habits, sample_readings};
use rayon::prelude::*;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Told after every tube, from any thread.
pub(super) type Told<'a> = &'a (dyn Fn(Progress) + Sync);

/// A lot ready to be fitted and planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// The lot: only the tubes asked for, every scan laid out or its tube in doubt.
    pub lot: Lot,
    /// What was noticed about its files and scans.
    pub findings: Vec<Finding>,
    /// The files it was read from; none for a lot made in code.
    pub files: Vec<String>,
    /// What all its tubes, those not asked for too, say of their scales and instruments; `None` where none could be fitted.
    pub learned: Option<Learned>,
    model: Result<Model, PopulationError>,
    /// What all its tubes, those not asked for too, were read with.
    pub(super) at_hand: Vec<AtHand>,
    /// Whether only some of its tubes were asked for: then nothing is said of the whole.
    selected: bool,
}

impl Prepared {
    /// Reads the lot at `path` (a folder, a file of readings or points, a workbook); `tubes` are the names of those to
    /// work on, none for all. A name that no tube has exactly may differ from one by case.
    ///
    /// # Errors
    /// [`LotError::Read`], [`LotError::NoSuchTube`], [`LotError::WhichTube`].
    pub fn read(path: &Path, tubes: &[String]) -> Result<Prepared, LotError> {
        Prepared::of_read(read_lot(path)?, tubes)
    }

    /// The same of a lot that was read already.
    ///
    /// # Errors
    /// [`LotError::NoSuchTube`], [`LotError::WhichTube`].
    pub fn of_read(read: LotRead, tubes: &[String]) -> Result<Prepared, LotError> {
        let LotRead { mut lot, mut findings, files } = read;
        let tubes = named(&lot, tubes)?;
        findings.extend(unroll_lot(&mut lot));
        let prepared = Prepared::learning(lot, findings, files);
        Ok(if tubes.is_empty() { prepared } else { prepared.only(&tubes) })
    }

    /// Only these tubes of it.
    pub(super) fn only(mut self, tubes: &[String]) -> Prepared {
        self.lot.tubes.retain(|t| tubes.contains(&t.name));
        self.selected = true;
        self
    }

    /// A lot made in code.
    ///
    /// # Example
    /// ```
    /// use quarterlight::domain::{Angle, Kind, Lot, Reading, Tube};
    /// use quarterlight::lot::{Options, Prepared};
    /// let mut tube = Tube { name: "A".into(), length_mm: 180.0, weight_g: Some(24.0), ..Tube::default() };
    /// for i in 0..12 {
    ///     let deg = 15.0 * f64::from(i);
    ///     let width = 25.4 + 0.3 * (2.0 * (deg - 40.0)).to_radians().cos();
    ///     tube.readings.push(Reading::new(Kind::Diameter, 90.0, Angle::from_degrees(deg), width));
    /// }
    /// let lot = Prepared::of_lot(Lot { tubes: vec![tube], ..Lot::default() });
    /// let assessed = lot.assess(Options::default().plan, &|_| ())?;
    /// assert_eq!(assessed.plans().len(), 1);
    /// # Ok::<(), quarterlight::lot::LotError>(())
    /// ```
    #[must_use]
    pub fn of_lot(mut lot: Lot) -> Prepared {
        let findings = unroll_lot(&mut lot);
        Prepared::learning(lot, findings, Vec::new())
    }

    /// Learns from all tubes what they are like.
    fn learning(mut lot: Lot, mut findings: Vec<Finding>, files: Vec<String>) -> Prepared {
        findings.extend(recognise_habits(&mut lot));
        findings.extend(sample_readings(&mut lot));
        let model = Model::of(&lot).map(|m| m.with_walls_of(&lot.tubes));
        // a lot of which no tube can be fitted has nothing to plan either: every tube says why
        let learned = model.as_ref().ok().and_then(|m| learn_population(&lot.tubes, m).ok());
        Prepared::with_scales(lot, findings, files, learned, model)
    }

    /// A lot believed under these scales.
    pub(super) fn with_scales(
        lot: Lot,
        findings: Vec<Finding>,
        files: Vec<String>,
        learned: Option<Learned>,
        model: Result<Model, PopulationError>,
    ) -> Prepared {
        let model = match (&learned, model) {
            (Some(learned), Ok(model)) => Ok(learned.model(&model)),
            (_, model) => model,
        };
        let at_hand = AtHand::all(&lot);
        Prepared { lot, findings, files, learned, model, at_hand, selected: false }
    }

    /// Its instruments, and what its tubes are taken to be like: learned from all of them.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn model(&self) -> Result<Model, LotError> {
        Ok(self.model.clone()?)
    }

    /// Fits every tube without planning any.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn fit(&self, options: PlanOptions, progress: Told<'_>) -> Result<Fits, LotError> {
        let model = self.model()?;
        let fits = self
            .of_tubes(progress, |tube| FitOutcome { tube: tube.name.clone(), fit: fit_tube(tube, &model, options) });
        Ok(Fits { options, scales: self.scales(), fits })
    }

    /// Plans and screens every tube, and sums up.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn assess(&self, options: PlanOptions, progress: Told<'_>) -> Result<Assessed, LotError> {
        let model = self.model()?;
        let outcomes =
            self.of_tubes(progress, |tube| TubeOutcome::of(tube, plan_tube(tube, &self.lot, &model, options)));
        Ok(self.summed_up(options, outcomes))
    }

    /// As [`Prepared::assess`], and for every tube that has a plan what pictures need, from the same draws.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn assess_with_views(
        &self,
        options: PlanOptions,
        progress: Told<'_>,
    ) -> Result<(Assessed, Vec<Option<TubeView>>), LotError> {
        self.viewed(options, progress, plan_tube_with_view)
    }

    /// As [`Prepared::assess_with_views`], without what takes longer than the split itself: no slips are looked for, no other
    /// limits, no other order of the work and no grain or wall nobody read are tried.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn glance_with_views(&self, options: PlanOptions) -> Result<(Assessed, Vec<Option<TubeView>>), LotError> {
        self.viewed(options, &|_| (), glance_tube_with_view)
    }

    fn viewed(
        &self,
        options: PlanOptions,
        progress: Told<'_>,
        one: impl Fn(&Tube, &Lot, &Model, PlanOptions) -> Result<(TubePlan, TubeView), NoPlan> + Sync,
    ) -> Result<(Assessed, Vec<Option<TubeView>>), LotError> {
        let model = self.model()?;
        let planned = self.of_tubes(progress, |tube| {
            let (plan, view) = apart(one(tube, &self.lot, &model, options));
            (TubeOutcome::of(tube, plan), view)
        });
        let (outcomes, views): (Vec<TubeOutcome>, _) = planned.into_iter().unzip();
        Ok((self.summed_up(options, outcomes), views))
    }

    /// What of its judged stretches the belief says, tube by tube; those that cannot be planned say nothing.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn judged(&self, options: PlanOptions) -> Result<Vec<Vec<Judged>>, LotError> {
        let model = self.model()?;
        let as_it_fell = Lot { as_split: true, ..self.lot.clone() };
        let one = |tube: &Tube| judged_stretches(tube, &as_it_fell, &model, options).unwrap_or_default();
        Ok(self.lot.tubes.par_iter().map(one).collect())
    }

    fn summed_up(&self, options: PlanOptions, outcomes: Vec<TubeOutcome>) -> Assessed {
        let mut assessed = Assessed::of(&self.lot, options, self.scales(), outcomes, self.findings.clone());
        if self.selected {
            assessed.nothing_of_the_whole();
        }
        assessed
    }

    /// Under which scales its tubes are believed.
    #[must_use]
    pub fn scales(&self) -> ScalesUsed {
        self.learned.as_ref().map(ScalesUsed::of).unwrap_or_default()
    }

    /// What the lot's tubes say of their scales and instruments.
    ///
    /// # Errors
    /// [`LotError::Population`], [`LotError::Learn`] where no tube could be fitted.
    pub fn learned(&self) -> Result<&Learned, LotError> {
        self.model()?;
        Ok(self.learned.as_ref().ok_or(LearnError::TooFewTubes { fitted: 0, need: 1 })?)
    }

    /// One answer a tube, in the lot's order.
    pub(super) fn of_tubes<T: Send>(&self, progress: Told<'_>, one: impl Fn(&Tube) -> T + Sync) -> Vec<T> {
        let (done, of) = (AtomicUsize::new(0), self.lot.tubes.len());
        let counted = |tube: &Tube| {
            let answer = one(tube);
            progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, of });
            answer
        };
        self.lot.tubes.par_iter().map(counted).collect()
    }
}

fn apart<P, V>(both: Result<(P, V), NoPlan>) -> (Result<P, NoPlan>, Option<V>) {
    match both {
        Ok((plan, view)) => (Ok(plan), Some(view)),
        Err(why) => (Err(why), None),
    }
}

/// The names of the lot's tubes that were asked for: as they stand there, else whatever the case.
pub(super) fn named(lot: &Lot, names: &[String]) -> Result<Vec<String>, LotError> {
    let one = |name: &String| {
        called(lot, name).map_err(|like| match like.is_empty() {
            true => {
                LotError::NoSuchTube { name: name.clone(), known: lot.tubes.iter().map(|t| t.name.clone()).collect() }
            }
            false => LotError::WhichTube { name: name.clone(), like },
        })
    };
    names.iter().map(one).collect()
}

/// Reads the lot at `path` and assesses it. `progress` is told after every tube, from any thread.
///
/// # Errors
/// See [`LotError`]. Rows and tubes that cannot be used are no error: they stand in the answer with the reason.
///
/// # Example
/// ```
/// use quarterlight::lot::{Assessed, Options, assess};
/// let options = Options { tubes: vec!["G1".into()], ..Options::default() };
/// let assessed = assess("data-samples/grid".as_ref(), &options, &|_| ())?;
/// assert!(assessed.forecast.blanks.expected > 1.0);
/// assert_eq!(Assessed::from_json(&assessed.to_json())?, assessed);
/// # Ok::<(), quarterlight::lot::LotError>(())
/// ```
pub fn assess(path: &Path, options: &Options, progress: Told<'_>) -> Result<Assessed, LotError> {
    Prepared::read(path, &options.tubes)?.assess(options.plan, progress)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lot(names: &[&str]) -> Lot {
        let tubes = names.iter().map(|n| Tube { name: (*n).into(), ..Tube::default() }).collect();
        Lot { tubes, ..Lot::default() }
    }

    #[test]
    fn a_tube_is_found_whatever_the_case_and_the_exact_name_wins() {
        let found = |names: &[&str], asked: &str| named(&lot(names), &[asked.to_string()]);
        for (names, asked, want) in
            [(&["T01", "T02"][..], "t02", "T02"), (&["Ahorn", "ÄSCHE"], "äsche", "ÄSCHE"), (&["t1", "T1"], "T1", "T1")]
        {
            assert_eq!(found(names, asked).expect(asked), [want], "{asked} among {names:?}");
        }
        let Err(LotError::WhichTube { name, like }) = found(&["ab", "Ab", "aB", "b"], "AB") else { panic!("which?") };
        assert_eq!((name.as_str(), like), ("AB", vec!["ab".to_string(), "Ab".into(), "aB".into()]));
        assert!(matches!(found(&["T01"], "T1"), Err(LotError::NoSuchTube { .. })));
    }
}
