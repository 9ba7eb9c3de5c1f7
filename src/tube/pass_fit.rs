//! What one reweighting pass believes: the normal law of the unknowns under the sites of all rows, by whichever equations are
//! the smaller ones.

use super::by_readings::ByReadings;
use super::gram::Before;
use super::linearised::Equations;
use super::problem::Problem;
use super::rounding::Site;
use super::tangents::Tangents;

/// One pass.
pub(super) enum PassFit<'a> {
    Readings(&'a Before<'a>, ByReadings),
    Unknowns(Equations),
}

impl<'a> PassFit<'a> {
    /// Solves the rows linear about the same unknowns, `from_centre` those less the prior's centre; by the readings where
    /// `before` is given and their equations hold. `None` when the equations are not positive definite.
    pub(super) fn of(
        problem: &Problem,
        before: Option<&'a Before<'a>>,
        tangents: &Tangents,
        from_centre: &[f64],
        sites: &[Site],
    ) -> Option<PassFit<'a>> {
        let by_readings = before.and_then(|before| {
            let forces = tangents.forces(from_centre, sites);
            Some(PassFit::Readings(before, ByReadings::of(before, tangents, sites, forces)?))
        });
        by_readings.or_else(|| Equations::of(problem, tangents, from_centre, sites).map(PassFit::Unknowns))
    }

    /// The unknowns' mean less the prior's centre.
    pub(super) fn off_centre(&self) -> Vec<f64> {
        match self {
            PassFit::Readings(before, fit) => fit.unknowns(before),
            PassFit::Unknowns(equations) => equations.off_centre(),
        }
    }

    /// Variance of what every row would show at these tangents, noise left out; 0 for rows that are not coarse, where each
    /// would cost a solution.
    pub(super) fn spreads(&self, problem: &Problem, tangents: &Tangents) -> Vec<f64> {
        match self {
            PassFit::Readings(before, fit) => fit.spreads(before, tangents),
            PassFit::Unknowns(Equations { factor, .. }) => {
                let mut h = vec![0.0; factor.size()];
                let mut out = vec![0.0; problem.rows.len()];
                for ((out, row), tangent) in out.iter_mut().zip(&problem.rows).zip(&tangents.rows) {
                    if row.half_step > 0.0 {
                        h.fill(0.0);
                        tangent.entries().for_each(|(at, g)| h[at] += g);
                        factor.forward(&mut h);
                        *out = h.iter().map(|v| v * v).sum();
                    }
                }
                out
            }
        }
    }
}
