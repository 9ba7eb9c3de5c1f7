//! How surely a quantity was known before any reading.

use super::layout::Layout;
use super::prior::Alone;
use super::problem::Problem;
use super::uneven::Uneven;

/// The prior's variance of any quantity of the surface.
#[derive(Debug, Clone)]
pub(super) struct PriorVariance {
    uneven: Vec<Uneven>,
    /// by reach, each with the bits of it
    alone: Vec<(u64, Alone)>,
    /// precision of the border
    border: Vec<f64>,
}

impl PriorVariance {
    /// `None` when a precision of the prior is none.
    pub(super) fn of(problem: &Problem) -> Option<PriorVariance> {
        let spline = &problem.layout.spline;
        let mut alone: Vec<(u64, Alone)> = Vec::new();
        for u in problem.uneven() {
            if alone.iter().all(|a| a.0 != u.reach_mm.to_bits()) {
                alone.push((u.reach_mm.to_bits(), Alone::of(spline.size(), spline.spacing(), u.reach_mm)?));
            }
        }
        Some(PriorVariance { uneven: problem.uneven().to_vec(), alone, border: problem.border.clone() })
    }

    /// Variance of a quantity given as factors of all unknowns.
    pub(super) fn of_quantity(&self, layout: &Layout, v: &[f64]) -> f64 {
        let n = layout.band();
        let mut variance: f64 = v[n..].iter().zip(&self.border).map(|(v, p)| v * v / p).sum();
        for (field, u) in self.uneven.iter().enumerate() {
            let own: Vec<f64> = (0..layout.spline.size()).map(|knot| v[layout.coefficient(knot, field)]).collect();
            let alone = self.alone.iter().find(|a| a.0 == u.reach_mm.to_bits());
            if let (Some((_, alone)), true) = (alone, own.iter().any(|v| v.abs() > 0.0)) {
                variance += u.rough * u.rough * alone.forward(own).iter().map(|v| v * v).sum::<f64>();
            }
        }
        variance
    }
}
