//! The order of cuts for every piece of a planned tube.

use super::cut_order::{CutError, CutOrder, HoldRule, Stretch, order_cuts};
use super::tube_plan::TubePlan;
use crate::domain::Saw;

/// The cuts of one piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceCuts {
    /// Number of the piece, from 1.
    pub piece: usize,
    /// Its cuts in order, or why there is no order.
    pub order: Result<CutOrder, CutError>,
}

/// The rule for this saw and no-hands distance, mm.
#[must_use]
pub fn hold_rule(saw: &Saw, no_hands_mm: f64) -> HoldRule {
    HoldRule { kerf_mm: saw.kerf_mm, no_hands_mm, ..HoldRule::default() }
}

/// Cuts of all pieces, in their order; empty when the tube is too short for a blank.
#[must_use]
pub fn cut_plan(plan: &TubePlan, rule: &HoldRule) -> Vec<PieceCuts> {
    plan.pieces
        .iter()
        .map(|p| {
            let runs: Vec<Stretch> = p.runs.iter().map(|r| Stretch { from_mm: r.from_mm, to_mm: r.to_mm }).collect();
            PieceCuts { piece: p.piece, order: order_cuts(plan.fit.length_mm, &runs, rule) }
        })
        .collect()
}
