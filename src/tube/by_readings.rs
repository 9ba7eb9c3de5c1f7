//! A fit seen from its readings instead of its unknowns.
//!
//! With K the prior covariance of what the rows would show (see `gram`), D their pulls and `f` their forces, the unknowns' mean
//! is `Q^-1 A' v` with `v = (I + D K)^-1 f`, written `v = S B^-1 S^-1 f` with `S^2 = D` and `B = I + S K S`, whose eigenvalues are
//! all at least 1 (C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), 3.4.3). A hundred
//! readings against six hundred unknowns cost a thirtieth of the equations of the unknowns, and say exactly what those
//! say: of the mean, of what a row would show, and of the evidence.

use super::gram::{Before, FieldSquares, Seen};
use super::rounding::Site;
use super::squares::{FieldTold, Squares};
use super::tangents::Tangents;
use crate::numeric::arrow::Corner;

/// A row that pulls more than this many times as hard as the prior holds what it shows is not solved so: rounding, 1e-16 of
/// that, would be felt. Below it the equations of the unknowns are positive definite, too.
const MOST_PULL: f64 = 2e10;

/// One fit.
pub(super) struct ByReadings {
    seen: Seen,
    /// square roots of the pulls
    root: Vec<f64>,
    /// the factor of B
    factor: Corner,
    /// what every row pulls at the unknowns, through the prior
    v: Vec<f64>,
    forces: Vec<f64>,
}

impl ByReadings {
    /// `None` where a row pulls too hard, or the prior gives no covariance.
    pub(super) fn of(before: &Before<'_>, tangents: &Tangents, sites: &[Site], forces: Vec<f64>) -> Option<ByReadings> {
        let seen = before.seen(tangents);
        let root: Vec<f64> = sites.iter().map(|s| s.pull.sqrt()).collect();
        let m = root.len();
        let mut b = before.among(&seen);
        for (i, row) in b.chunks_exact_mut(m.max(1)).enumerate() {
            row[..=i].iter_mut().zip(&root).for_each(|(b, s)| *b *= s * root[i]);
            if row[i].is_nan() || row[i] > MOST_PULL {
                return None;
            }
            row[i] += 1.0;
        }
        let factor = Corner::of(m, b)?;
        let mut v: Vec<f64> = forces.iter().zip(&root).map(|(f, s)| f / s).collect();
        factor.forward(&mut v);
        factor.backward(&mut v);
        v.iter_mut().zip(&root).for_each(|(v, s)| *v *= s);
        Some(ByReadings { seen, root, factor, v, forces })
    }

    /// The unknowns' mean less the prior's centre.
    pub(super) fn unknowns(&self, before: &Before<'_>) -> Vec<f64> {
        before.unknowns(&self.seen, &self.v)
    }

    /// Variance of what rows taken at other tangents would show, noise left out.
    pub(super) fn spreads(&self, before: &Before<'_>, tangents: &Tangents) -> Vec<f64> {
        let m = self.root.len();
        let there = before.seen(tangents);
        let shared = before.between(&there, &self.seen);
        let mut out = before.variances(&there);
        for (spread, shared) in out.iter_mut().zip(shared.chunks_exact(m.max(1))) {
            let mut told: Vec<f64> = shared.iter().zip(&self.root).map(|(k, s)| k * s).collect();
            self.factor.forward(&mut told);
            *spread -= told.iter().map(|t| t * t).sum::<f64>();
        }
        out
    }

    /// Mean less the prior's centre and variance of an unknown of the measuring, by its place in the border.
    pub(super) fn of_measuring(&self, before: &Before<'_>, at: usize) -> (f64, f64) {
        let (mut told, variance) = before.of_measuring(&self.seen, at);
        let mean = told.iter().zip(&self.v).map(|(k, v)| k * v).sum();
        told.iter_mut().zip(&self.root).for_each(|(k, s)| *k *= s);
        self.factor.forward(&mut told);
        (mean, variance - told.iter().map(|t| t * t).sum::<f64>())
    }

    /// Log evidence of the rows' forces, but for a constant that no scale moves.
    pub(super) fn evidence(&self) -> f64 {
        let fit: f64 = self.forces.iter().zip(self.along()).map(|(f, a)| f * a).sum();
        0.5 * (fit - self.factor.log_det())
    }

    /// What the rows would show beyond what they would at the prior's centre: `K v`, by `(I + D K) v = f`.
    fn along(&self) -> impl Iterator<Item = f64> + '_ {
        self.forces.iter().zip(&self.v).zip(&self.root).map(|((f, v), s)| (f - v) / (s * s))
    }

    /// `u_i = L^-1 S e_i` of every row, one after another, `L` the factor of B: the inverse of the covariance of all rows, noise
    /// included, is their products.
    pub(super) fn columns(&self) -> Vec<f64> {
        let mut out = self.factor.inverse_factor();
        let rows = out.chunks_exact_mut(self.root.len().max(1)).zip(&self.root);
        rows.for_each(|(row, s)| row.iter_mut().for_each(|v| *v *= s));
        out
    }

    /// Logarithm of the determinant of B.
    pub(super) fn log_det(&self) -> f64 {
        self.factor.log_det()
    }

    /// What the fit says of the scales it was made under; `at_centre`: what the rows would show at the prior's centre.
    pub(super) fn squares(&self, before: &Before<'_>, at_centre: &[f64]) -> Option<Squares> {
        let m = self.root.len();
        let mut inverse = self.factor.inverse();
        let used = (0..m).map(|i| 1.0 - inverse[i * m + i]).collect();
        for (row, s) in inverse.chunks_exact_mut(m.max(1)).zip(&self.root) {
            row.iter_mut().zip(&self.root).for_each(|(b, r)| *b *= s * r);
        }
        let told = before.squares(&self.seen, &inverse, &self.v)?;
        let (fields, knots) = (before.layout().fields, before.layout().knots());
        let shape = |[told, seen]: [f64; 2]| (told - seen, seen.clamp(0.0, 1.0));
        let field = |f: &FieldSquares| FieldTold {
            shapes: f.shapes.map(shape),
            rough: (f.rough[0] - f.rough[1], (f.rough[1] / knots).clamp(0.0, 1.0)),
        };
        let reach = told[..fields.outside()].iter().map(|f| 0.5 * (f.reach[0] - f.reach[1])).sum();
        Some(Squares {
            fields: told.iter().map(field).collect(),
            reach,
            used,
            shown: at_centre.iter().zip(self.along()).map(|(c, a)| c + a).collect(),
            evidence: self.evidence(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::linearised::Linearised;
    use super::super::model::Model;
    use super::super::problem::Problem;
    use crate::domain::{Angle, Kind, Reading, Rig, Tube};
    use std::collections::BTreeMap;

    /// Widths, a dial of one zero, a coarse caliper, bars on posts, edges, a wall and a fibre: every kind of row but a scan's.
    fn tube() -> (Tube, Model) {
        let mut tube = Tube { name: "T1".into(), length_mm: 180.0, wall_mm: Some(3.4), ..Tube::default() };
        let mut read = |kind: Kind, z: f64, deg: f64, value: f64, rig: &str| {
            let r = Reading::new(kind, z, Angle::from_degrees(deg), value);
            tube.readings.push(Reading { rig: rig.into(), ..r });
        };
        for i in 0..36_u32 {
            let (z, deg) = (60.0 * f64::from(i / 12) + 30.0, 30.0 * f64::from(i % 12));
            read(Kind::Runout, z, deg, 0.1 * (2.0 * deg.to_radians()).cos(), "");
            if i % 3 == 0 {
                read(Kind::Diameter, z, deg, 25.3, "");
                read(Kind::Diameter, z + 5.0, deg, 25.4, "coarse");
                read(Kind::Wall, z, deg, 3.5, "");
            }
            if i % 4 == 0 {
                read(Kind::Bridge, z, deg, 0.02, "bar");
                read(Kind::Lifted, z, deg, 0.4, "");
            }
        }
        for z in [20.0, 80.0, 150.0] {
            read(Kind::Grain, z, 0.0, 3.0 + 0.02 * z, "");
        }
        let rigs = BTreeMap::from([
            ("coarse".to_string(), Rig { resolution_mm: Some(0.4), scale_percent: Some(0.2), ..Rig::default() }),
            ("bar".to_string(), Rig { span_mm: Some(40.0), ..Rig::default() }),
        ]);
        (tube, Model { rigs, ..Model::default() })
    }

    /// Catches a covariance that lacks a part of the prior (a reach, a shape, an unknown of the measuring), or rows mixed up.
    #[test]
    fn both_ways_give_the_same_answer() {
        let (tube, model) = tube();
        let problem = Problem::new(&tube, &model).expect("complete");
        let x: Vec<f64> = problem.centre.iter().zip(0..).map(|(c, i)| c + 1e-3 * f64::from(i % 7)).collect();
        let about = Linearised::about(&problem, &x, problem.rows.iter().map(super::super::rows::Row::site).collect());
        let before = problem.before().expect("few rows");
        let fit = about.by_readings(&before).expect("holds");
        let equations = about.equations(&problem).expect("positive definite");
        let (one, other) = (fit.unknowns(&before), equations.off_centre());
        let worst = one.iter().zip(&other).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let most = other.iter().map(|v| v.abs()).fold(0.0, f64::max);
        assert!(worst < 1e-6 * most.max(1.0) && most > 0.01, "{worst} of {most}");

        let n = problem.layout.band();
        let covariance = equations.factor.border_covariance();
        for &at in problem.layout.measuring.values() {
            let (mean, variance) = fit.of_measuring(&before, at - n);
            let want = covariance[(at - n) * problem.layout.border() + at - n];
            assert!((mean - other[at]).abs() < 1e-6 && (variance / want - 1.0).abs() < 1e-4, "{at}: {variance} {want}");
        }

        // of rows taken at other tangents
        let there = problem.tangents(&problem.centre);
        for (tangent, spread) in there.rows.iter().zip(fit.spreads(&before, &there)) {
            let mut h = vec![0.0; x.len()];
            tangent.entries().for_each(|(at, g)| h[at] += g);
            equations.factor.forward(&mut h);
            let want: f64 = h.iter().map(|v| v * v).sum();
            assert!((spread - want).abs() < 1e-6 + 1e-6 * want, "{spread} {want}");
        }

        // log det (I + S K S) = log det of the whole precision less that of the prior's
        let half = problem.half_log_det().expect("a proper prior");
        let mut v = equations.right.clone();
        equations.factor.forward(&mut v);
        let want = half + 0.5 * (v.iter().map(|v| v * v).sum::<f64>() - equations.factor.log_det());
        assert!((fit.evidence() - want).abs() < 1e-6 * want.abs(), "{} {want}", fit.evidence());
        let m = about.sites.len();
        let columns = fit.columns();
        let column = |i: usize| &columns[i * m..(i + 1) * m];
        // (V^-1 r)_i two ways: by the columns, and as what is left of a residual once the unknowns are taken off
        let r: Vec<f64> = about.forces().iter().zip(&about.sites).map(|(f, s)| f / s.pull).collect();
        for (i, (tangent, site)) in about.tangents.rows.iter().zip(&about.sites).enumerate().step_by(7) {
            let by_columns: f64 =
                (0..m).map(|j| r[j] * column(i).iter().zip(column(j)).map(|(a, b)| a * b).sum::<f64>()).sum();
            let left = site.pull * (r[i] - tangent.along(&other));
            assert!((by_columns - left).abs() < 1e-5 * (1.0 + left.abs()), "{i}: {by_columns} {left}");
        }
    }

    #[test]
    fn a_row_that_pulls_too_hard_is_left_to_the_equations_of_the_unknowns() {
        let (mut tube, model) = tube();
        tube.readings[0].sd_mm = Some(1e-6);
        let problem = Problem::new(&tube, &model).expect("complete");
        let about = Linearised::about(
            &problem,
            &problem.centre,
            problem.rows.iter().map(super::super::rows::Row::site).collect(),
        );
        assert!(about.by_readings(&problem.before().expect("few rows")).is_none());
        assert!(problem.solve().is_some_and(|s| s.x.iter().all(|v| v.is_finite())));
    }
}
