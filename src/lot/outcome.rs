//! What became of each tube of a lot.

use crate::decide::plan::{NoPlan, TubePlan};
use crate::domain::Tube;
use crate::tube::FittedTube;

/// A tube's plan, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeOutcome {
    /// The tube's name.
    pub tube: String,
    /// Its length as listed or scanned, mm; 0 where neither tells it.
    pub length_mm: f64,
    /// Its weight, g: a tube that is only weighed still counts in what a sample says about its lot.
    pub weight_g: Option<f64>,
    /// Its plan.
    pub plan: Result<Box<TubePlan>, NoPlan>,
}

impl TubeOutcome {
    /// What became of `tube`.
    #[must_use]
    pub fn of(tube: &Tube, plan: Result<TubePlan, NoPlan>) -> TubeOutcome {
        let (length_mm, weight_g) = (tube.length_mm, tube.weight_g);
        TubeOutcome { tube: tube.name.clone(), length_mm, weight_g, plan: plan.map(Box::new) }
    }
}

/// A tube's figures, or why there are none.
#[derive(Debug, Clone, PartialEq)]
pub struct FitOutcome {
    /// The tube's name.
    pub tube: String,
    /// Its figures.
    pub fit: Result<FittedTube, NoPlan>,
}

impl From<&TubeOutcome> for FitOutcome {
    fn from(o: &TubeOutcome) -> FitOutcome {
        FitOutcome { tube: o.tube.clone(), fit: o.plan.as_ref().map(|p| p.fit.clone()).map_err(Clone::clone) }
    }
}
