//! What a report is made from.

use crate::decide::cut_order::HoldRule;
use crate::decide::cut_plan::{PieceCuts, cut_plan};
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::domain::Lot;
use crate::lot::Assessed;
use crate::output::show::Units;
use crate::paper::scene::Paper;

/// Everything a report is made from.
#[derive(Debug)]
pub struct ReportInput<'a> {
    /// The plan of the lot.
    pub results: &'a Assessed,
    /// The lot itself, as it was planned.
    pub lot: &'a Lot,
    /// What pictures need, in the same order; one for every tube that has a plan.
    pub views: &'a [Option<TubeView>],
    /// Unit of lengths.
    pub units: Units,
    /// Sheet it is to be printed on.
    pub paper: Paper,
    /// Said on the bench list of where the lot comes from; empty where nothing has to be said.
    pub origin: &'a str,
    /// When a part can be held by hand.
    pub hold: HoldRule,
}

impl ReportInput<'_> {
    /// Cuts of all pieces of a tube.
    pub(super) fn cuts(&self, plan: &TubePlan, view: Option<&TubeView>) -> Vec<PieceCuts> {
        let centreline = view.map_or(&[][..], |v| &v.centreline);
        cut_plan(plan, centreline, self.results.lot.target.blank_width_mm, &self.hold)
    }
}
