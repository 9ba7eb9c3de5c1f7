//! A lot made ready: read, only the tubes asked for, its scans laid out.

use super::assessed::Assessed;
use super::error::LotError;
use super::fits::Fits;
use super::options::{Options, Progress};
use super::outcome::{FitOutcome, TubeOutcome};
use crate::decide::plan::{NoPlan, PlanOptions, fit_tube, plan_tube};
use crate::decide::tube_view::{TubeView, plan_tube_with_view};
use crate::domain::{Finding, Lot, Tube};
use crate::readings::{LotRead, read_lot};
use crate::tube::Population;
use crate::tube::learn::{Learned, learn_population};
use crate::tube::scan::unroll_lot;
use rayon::prelude::*;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Told after every tube, from any thread.
type Told<'a> = &'a (dyn Fn(Progress) + Sync);

/// A lot ready to be fitted and planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// The lot: only the tubes asked for, every scan laid out or its tube in doubt.
    pub lot: Lot,
    /// What was noticed about its files and scans.
    pub findings: Vec<Finding>,
    /// The files it was read from; none for a lot made in code.
    pub files: Vec<String>,
}

impl Prepared {
    /// Reads the lot at `path` (a folder, a file of readings or points, a workbook); `tubes` are the names of those to
    /// work on, none for all.
    ///
    /// # Errors
    /// [`LotError::Read`], [`LotError::NoSuchTube`].
    pub fn read(path: &Path, tubes: &[String]) -> Result<Prepared, LotError> {
        Prepared::of_read(read_lot(path)?, tubes)
    }

    /// The same of a lot that was read already.
    ///
    /// # Errors
    /// [`LotError::NoSuchTube`].
    pub fn of_read(read: LotRead, tubes: &[String]) -> Result<Prepared, LotError> {
        let LotRead { mut lot, mut findings, files } = read;
        keep_tubes(&mut lot, tubes)?;
        findings.extend(unroll_lot(&mut lot));
        Ok(Prepared { lot, findings, files })
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
        Prepared { lot, findings, files: Vec::new() }
    }

    /// What tubes of this lot are taken to be like before anything is measured.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn population(&self) -> Result<Population, LotError> {
        Ok(Population::with(&self.lot.population)?)
    }

    /// Fits every tube without planning any.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn fit(&self, options: PlanOptions, progress: Told<'_>) -> Result<Fits, LotError> {
        let population = self.population()?;
        let fits = self.of_tubes(progress, |tube| FitOutcome {
            tube: tube.name.clone(),
            fit: fit_tube(tube, &self.lot, &population, options),
        });
        Ok(Fits { options, fits })
    }

    /// Plans and screens every tube, and sums up.
    ///
    /// # Errors
    /// [`LotError::Population`].
    pub fn assess(&self, options: PlanOptions, progress: Told<'_>) -> Result<Assessed, LotError> {
        let population = self.population()?;
        let outcomes =
            self.of_tubes(progress, |tube| TubeOutcome::of(tube, plan_tube(tube, &self.lot, &population, options)));
        Ok(Assessed::of(&self.lot, options, outcomes, self.findings.clone()))
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
        let population = self.population()?;
        let planned = self.of_tubes(progress, |tube| {
            let (plan, view) = apart(plan_tube_with_view(tube, &self.lot, &population, options));
            (TubeOutcome::of(tube, plan), view)
        });
        let (outcomes, views): (Vec<TubeOutcome>, _) = planned.into_iter().unzip();
        Ok((Assessed::of(&self.lot, options, outcomes, self.findings.clone()), views))
    }

    /// Learns the prior scales from the lot's tubes; `progress` is told the share of the longest it could take.
    ///
    /// # Errors
    /// [`LotError::Population`], [`LotError::Learn`].
    pub fn learn(&self, progress: &dyn Fn(f64)) -> Result<Learned, LotError> {
        let centre = self.lot.target.arc_diameter_mm / 2.0;
        Ok(learn_population(&self.lot.tubes, &self.lot.rigs, &self.population()?, centre, progress)?)
    }

    /// One answer a tube, in the lot's order.
    fn of_tubes<T: Send>(&self, progress: Told<'_>, one: impl Fn(&Tube) -> T + Sync) -> Vec<T> {
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

fn keep_tubes(lot: &mut Lot, names: &[String]) -> Result<(), LotError> {
    if let Some(name) = names.iter().find(|name| !lot.tubes.iter().any(|t| &t.name == *name)) {
        let known = lot.tubes.iter().map(|t| t.name.clone()).collect();
        return Err(LotError::NoSuchTube { name: name.clone(), known });
    }
    if !names.is_empty() {
        lot.tubes.retain(|t| names.contains(&t.name));
    }
    Ok(())
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
