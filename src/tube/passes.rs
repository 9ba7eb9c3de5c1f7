//! A problem solved by reweighting: bounded weights, then weights that fall off as a Student-t's, until no predicted reading
//! moves.

use super::doubted::Doubted;
use super::linearised::{Equations, Linearised};
use super::pass_fit::PassFit;
use super::problem::Problem;
use super::resting::{CONTACT_PASSES, LOOSE_MM, Laid, Placement, drawn};
use super::rounding::Site;
use super::rows::Row;
use super::tangents::Tangents;
use crate::domain::Kind;
use crate::numeric::arrow::ArrowFactor;

/// Departure up to which a reading has its full weight, sd: 93 % of good ones.
const PLATEAU: f64 = 1.8;
/// How fast the weight falls beyond, sd: a quarter is left at 3.9, about as under a Student-t likelihood of 4 degrees of
/// freedom (Lange, Little and Taylor, J. Amer. Statist. Assoc. 84 (1989) 881-896).
const FALL: f64 = 1.2;
/// Reweighting passes with a bounded-influence (Huber) weight before the Student-t one takes over.
const BOUNDED_PASSES: usize = 12;
/// Passes in all; the report says when they were not enough.
const MOST_PASSES: usize = 60;
/// The fit has settled when a full step would move no predicted reading by more than this share of its noise.
const SETTLED_SD: f64 = 0.01;
/// The bounded weights have done their work when no predicted reading moves by more than this share of its noise.
const NEARLY_SD: f64 = 0.1;
/// Least share of a step that is taken.
const LEAST_STEP: f64 = 0.1;
/// Each time the way turns back the largest share of a whole step shrinks by this: else two bumps are visited in turn for
/// ever.
const TIRED: f64 = 0.75;
/// A reading is listed as doubted when its weight falls below this (a departure of about 3.7 sd).
const DOUBT_WEIGHT: f64 = 0.28;

impl Problem {
    /// Solves by reweighting from the prior's centre; `None` when the equations are not positive definite.
    pub(super) fn solve(&self) -> Option<Solved> {
        let mut sites: Vec<Site> = self.rows.iter().map(Row::site).collect();
        self.lift(&mut sites, |edge| edge.laid == Laid::Once);
        let laying = if self.resting.is_empty() { 0 } else { CONTACT_PASSES };
        self.passes(self.centre.clone(), sites, true, laying, 1.0, MOST_PASSES)
    }

    /// The same with every straightedge lifted off the bark: where it rests follows from the scales, and so must not teach
    /// them.
    pub(super) fn solve_lifted(&self) -> Option<Solved> {
        let mut sites: Vec<Site> = self.rows.iter().map(Row::site).collect();
        self.lift(&mut sites, |_| true);
        self.passes(self.centre.clone(), sites, true, 0, 1.0, MOST_PASSES)
    }

    /// Takes those straightedges off the bark.
    fn lift(&self, sites: &mut [Site], which: impl Fn(&Placement) -> bool) {
        for (i, _) in self.resting.iter().enumerate().filter(|(_, edge)| which(edge)) {
            let at = self.first_contact() + 2 * i;
            sites[at..at + 2].fill(Site::normal(0.0, LOOSE_MM * LOOSE_MM));
        }
    }

    /// Whether the contacts of some straightedge are renewed after this pass: those under which a gap shows by what is believed
    /// then, the others once, by what all other readings say.
    fn is_laid_anew(&self, pass: usize) -> bool {
        self.resting.iter().any(|edge| edge.is_due(pass))
    }

    /// Renews what the contacts of straightedges say after a pass: where each touches by what is believed now, and how sure that
    /// is. Both stay together until they are renewed again.
    fn renew_contacts(
        &self,
        sites: &mut [Site],
        contacts: &mut [[f64; 2]],
        x: &[f64],
        factor: &ArrowFactor,
        pass: usize,
    ) {
        if !self.is_laid_anew(pass) {
            return;
        }
        let surfaces = drawn(x, factor);
        for (i, edge) in self.resting.iter().enumerate().filter(|(_, edge)| edge.is_due(pass)) {
            contacts[i] = edge.contacts(&self.layout, x);
            for (side, (value, sd)) in edge.doubt(&self.layout, contacts[i], &surfaces).into_iter().enumerate() {
                sites[self.first_contact() + 2 * i + side] = Site::normal(value, sd * sd);
            }
        }
    }

    /// Goes on from an earlier answer, its contacts kept, for at most `passes` passes; `share`: of a whole step, where it
    /// left off.
    pub(super) fn solve_from(&self, start: Vec<f64>, sites: Vec<Site>, share: f64, passes: usize) -> Option<Solved> {
        self.passes(start, sites, false, 0, share, passes)
    }

    fn passes(
        &self,
        start: Vec<f64>,
        sites: Vec<Site>,
        bounded: bool,
        laying: usize,
        share: f64,
        passes: usize,
    ) -> Option<Solved> {
        let (mut x, mut sites, mut bounded, mut share) = (start, sites, bounded, share);
        let mut most_share: f64 = 1.0;
        let mut weights = vec![1.0; self.rows.len()];
        let coarse = self.rows.iter().any(|r| r.half_step > 0.0);
        let before = self.before();
        let (mut here, mut last) = (Tangents::default(), Tangents::default());
        let mut contacts = self.contacts(&x);
        self.take_tangents(&mut here, &x, &contacts);
        let mut way: Vec<f64> = Vec::new();
        let mut settled = false;
        let mut done = None;
        let some_lifted = laying > 0 && self.resting.iter().any(|edge| edge.is_lifted(0));
        for pass in 0..passes {
            if pass < laying {
                self.lift(&mut sites, |edge| edge.is_lifted(pass));
            }
            // what moves from pass to pass while edges are lifted by turns says nothing of unrest
            let by_turns = some_lifted && pass <= laying;
            let from_centre = self.less_centre(&x);
            let before = before.as_ref().filter(|_| pass >= laying || !self.is_laid_anew(pass));
            let fit = PassFit::of(self, before, &here, &from_centre, &sites)?;
            for ((x, c), s) in x.iter_mut().zip(&self.centre).zip(&fit.off_centre()) {
                *x += share * (c + s - *x);
            }
            std::mem::swap(&mut here, &mut last);
            self.take_tangents(&mut here, &x, &contacts);
            let predicted = here.values();
            let pulled = sites.clone();
            if pass > 0 {
                let moved: Vec<f64> = (last.rows.iter().zip(&predicted).zip(&self.rows))
                    .map(|((a, b), r)| if r.held { 0.0 } else { (b - a.value) / r.sd })
                    .collect();
                let most = moved.iter().map(|m| m.abs()).fold(0.0, f64::max) / share;
                if bounded && (pass >= BOUNDED_PASSES || (most < NEARLY_SD && !by_turns)) {
                    bounded = false;
                } else if !bounded && most < SETTLED_SD && pass >= laying {
                    settled = true;
                    done = Some((fit, from_centre, pulled));
                    break;
                }
                // jaws that ride from bump to bump and back again never come to rest with whole steps
                let back = way.iter().zip(&moved).map(|(a, b)| a * b).sum::<f64>() < 0.0;
                if back && !by_turns {
                    share = (0.5 * share).max(LEAST_STEP);
                    most_share = (TIRED * most_share).max(LEAST_STEP);
                } else {
                    share = (1.5 * share).min(most_share);
                }
                way = moved;
            }
            let spread = if coarse { fit.spreads(self, &here) } else { Vec::new() };
            if let (PassFit::Unknowns(Equations { factor, .. }), true) = (&fit, pass < laying) {
                self.renew_contacts(&mut sites, &mut contacts, &x, factor, pass);
                self.retake_contacts(&mut here, &x, &contacts);
            }
            for (i, (row, p)) in self.rows.iter().zip(&predicted).enumerate().take(self.first_contact()) {
                if row.held {
                    continue;
                }
                let u = row.departure(*p);
                weights[i] = if bounded { bounded_weight(u) } else { tail_weight(u) };
                let variance = row.sd * row.sd / weights[i];
                sites[i] = if row.half_step > 0.0 {
                    sites[i].renewed(row.value, row.half_step, variance, *p, spread[i])
                } else {
                    Site { pull: 1.0 / variance, moment: row.value / variance }
                };
            }
            done = Some((fit, from_centre, pulled));
        }
        let (fit, from_centre, pulled) = done?;
        let equations = if let PassFit::Unknowns(equations) = fit { Some(equations) } else { None };
        let last = Linearised::new(last, from_centre, pulled, equations);
        Some(Solved { x, last, weights, sites, share, settled })
    }

    /// What rows added to the equations, renewed for the noise they have now; coarse rows and contacts keep their own.
    pub(super) fn renewed(&self, mut sites: Vec<Site>, weights: &[f64]) -> Vec<Site> {
        for ((site, row), weight) in sites.iter_mut().zip(&self.rows).zip(weights).take(self.first_contact()) {
            if row.half_step <= 0.0 {
                *site = Site::normal(row.value, row.sd * row.sd / weight);
            }
        }
        sites
    }

    /// Readings whose weight fell below `DOUBT_WEIGHT`.
    pub(super) fn doubted(&self, solved: &Solved) -> Vec<Doubted> {
        let predicted = self.predict(&solved.x);
        let rows = self.rows.iter().zip(&solved.weights).zip(predicted);
        rows.filter(|((_, w), _)| **w < DOUBT_WEIGHT)
            .filter_map(|((row, &weight), expected_mm)| {
                let departure_sd = row.departure(expected_mm);
                // what rests has no negative gap
                let shown = if row.probe.kind == Kind::Gap { expected_mm.max(0.0) } else { expected_mm };
                row.index.map(|index| Doubted { index, expected_mm: shown, departure_sd, weight })
            })
            .collect()
    }
}

/// The answer of a problem.
pub(super) struct Solved {
    /// Mean of every unknown.
    pub(super) x: Vec<f64>,
    /// The rows as the last pass had them.
    pub(super) last: Linearised,
    pub(super) weights: Vec<f64>,
    /// What each row added to the equations in the end.
    pub(super) sites: Vec<Site>,
    /// Share of a whole step that was taken last.
    pub(super) share: f64,
    /// False when the reweighting was stopped by its cap.
    pub(super) settled: bool,
}

/// Full weight within one sd, then falling as 1/|u|: convex, so a wild reading cannot trap the fit.
fn bounded_weight(u: f64) -> f64 {
    1.0 / u.abs().max(1.0)
}

/// Full weight within `PLATEAU` sd, so that good readings count for what they state and scales learned from them are not
/// taken for less; beyond it the weight of a Student-t likelihood (falling as `u^-2`).
fn tail_weight(u: f64) -> f64 {
    let beyond = (u.abs() - PLATEAU).max(0.0) / FALL;
    1.0 / (1.0 + beyond * beyond)
}
