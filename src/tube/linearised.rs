//! A problem linear about some unknowns, under the sites its rows have there.

use super::by_readings::ByReadings;
use super::gram::Before;
use super::problem::Problem;
use super::rounding::Site;
use super::rows::Row;
use super::tangents::Tangents;
use crate::numeric::arrow::{Arrow, ArrowFactor};
use std::sync::OnceLock;

/// The equations of the unknowns.
#[derive(Debug, Clone)]
pub(super) struct Equations {
    /// What the readings add to the precision.
    pub(super) added: Arrow,
    /// Their pull from the prior's centre.
    pub(super) right: Vec<f64>,
    /// Factor of the whole precision.
    pub(super) factor: ArrowFactor,
}

impl Equations {
    /// Of rows linear about the same unknowns; `None` when they are not positive definite.
    pub(super) fn of(problem: &Problem, tangents: &Tangents, from_centre: &[f64], sites: &[Site]) -> Option<Equations> {
        let (added, right) = tangents.equations(&problem.layout, from_centre, sites);
        let factor = problem.factor_with(&added)?;
        Some(Equations { added, right, factor })
    }

    /// The unknowns' mean less the prior's centre.
    pub(super) fn off_centre(&self) -> Vec<f64> {
        let mut step = self.right.clone();
        self.factor.solve(&mut step);
        step
    }
}

/// A problem of its own, and its rows linear about a believed surface, each with the noise it states.
pub(super) struct LinearEquations {
    pub(super) problem: Problem,
    pub(super) about: Linearised,
}

impl LinearEquations {
    /// About the unknowns `x`; a coarse step enters by its rectangle's variance.
    pub(super) fn of(problem: Problem, x: &[f64]) -> LinearEquations {
        let about = Linearised::about(&problem, x, problem.rows.iter().map(Row::site).collect());
        LinearEquations { problem, about }
    }
}

/// All rows about the same unknowns.
#[derive(Debug)]
pub(super) struct Linearised {
    pub(super) tangents: Tangents,
    /// The unknowns less the prior's centre.
    pub(super) from_centre: Vec<f64>,
    /// What every row adds to the equations.
    pub(super) sites: Vec<Site>,
    equations: OnceLock<Option<Equations>>,
}

impl Linearised {
    /// `equations`, where they are solved already.
    pub(super) fn new(
        tangents: Tangents,
        from_centre: Vec<f64>,
        sites: Vec<Site>,
        equations: Option<Equations>,
    ) -> Linearised {
        let solved = equations.map_or_else(OnceLock::new, |e| OnceLock::from(Some(e)));
        Linearised { tangents, from_centre, sites, equations: solved }
    }

    /// The equations of the unknowns of `problem`, the one whose rows these are, worked out when first asked for and kept; `None`
    /// when they are not positive definite.
    pub(super) fn equations(&self, problem: &Problem) -> Option<&Equations> {
        self.equations.get_or_init(|| self.solved(problem)).as_ref()
    }

    /// The same of any problem with these rows, not kept.
    pub(super) fn solved(&self, problem: &Problem) -> Option<Equations> {
        Equations::of(problem, &self.tangents, &self.from_centre, &self.sites)
    }

    /// The rows of `problem` about the unknowns `x` under these sites, not solved.
    pub(super) fn about(problem: &Problem, x: &[f64], sites: Vec<Site>) -> Linearised {
        Linearised::new(problem.tangents(x), problem.less_centre(x), sites, None)
    }

    /// The fit by its readings under this prior; `None` where it does not hold (see [`ByReadings::of`]).
    pub(super) fn by_readings(&self, before: &Before<'_>) -> Option<ByReadings> {
        ByReadings::of(before, &self.tangents, &self.sites, self.forces())
    }

    /// Mean and variance of unknowns of the measuring, by their places among all unknowns; `None` when the equations are not
    /// positive definite.
    pub(super) fn of_measuring(&self, problem: &Problem, at: &[usize]) -> Option<Vec<(f64, f64)>> {
        let n = problem.layout.band();
        let before = problem.before();
        if let Some((before, fit)) = before.as_ref().and_then(|b| Some((b, self.by_readings(b)?))) {
            let one = |&at: &usize| {
                let (mean, variance) = fit.of_measuring(before, at - n);
                (problem.centre[at] + mean, variance)
            };
            return Some(at.iter().map(one).collect());
        }
        let equations = self.equations(problem)?;
        let (off, covariance) = (equations.off_centre(), equations.factor.border_covariance());
        let b = problem.layout.border();
        Some(at.iter().map(|&at| (problem.centre[at] + off[at], covariance[(at - n) * b + at - n])).collect())
    }

    /// How hard every row pulls from the prior's centre (see [`Tangents::forces`]).
    pub(super) fn forces(&self) -> Vec<f64> {
        self.tangents.forces(&self.from_centre, &self.sites)
    }

    /// What the rows would show at the prior's centre, by their tangents.
    pub(super) fn at_centre(&self) -> Vec<f64> {
        self.tangents.rows.iter().map(|t| t.value - t.along(&self.from_centre)).collect()
    }
}
