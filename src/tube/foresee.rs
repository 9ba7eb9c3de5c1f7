//! What readings that were not taken would show on the draws of a belief, and what of it could be told from their noise.

use super::belief::{Belief, Expected};
use super::error::BeliefError;
use super::instrument::Unknown;
use super::model::Model;
use super::sections::Sections;
use crate::domain::Reading;
use crate::numeric::draws;
use crate::numeric::summary::count;
use nalgebra::{DMatrix, SymmetricEigen};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Combinations of readings whose values over the draws vary by less than this share of their own noise tell nothing.
const LEAST_TOLD: f64 = 0.2;

/// Readings that might be taken, draw by draw.
#[derive(Debug, Clone)]
pub struct Foreseen {
    /// All unknowns of the draws, a column each.
    unknowns: DMatrix<f64>,
    /// What each would show by the surface and by what is already unsure of the measuring: draws x readings, mm.
    shown: DMatrix<f64>,
    /// Noise of each, one sd, mm.
    noise: Vec<f64>,
    /// What is new and unsure with each: unknowns of the measuring, each with its sd times its factor, mm.
    fresh: Vec<Vec<(Unknown, f64)>>,
    seed: u64,
    tube: String,
}

impl Belief {
    /// The surface that unknowns make, at these places: linear in them.
    pub(crate) fn sections_of(&self, unknowns: &[f64], z_mm: &[f64]) -> Sections {
        self.layout.sections(unknowns, z_mm)
    }

    /// Foresees readings, all as one plan may take some of them; linear about the mean surface as [`Belief::expect`] is.
    /// `model` is what the belief was formed with.
    ///
    /// # Errors
    /// Those of [`Belief::expect`].
    pub fn foresee(&self, readings: &[Reading], model: &Model, seed: u64, draws: u64) -> Result<Foreseen, BeliefError> {
        let expected: Vec<Expected> =
            readings.iter().map(|r| Ok(self.look_out(r, model)?.0)).collect::<Result<_, BeliefError>>()?;
        let columns: Vec<Arc<Vec<f64>>> = (0..draws).into_par_iter().map(|k| self.drawn_unknowns(seed, k)).collect();
        let size = columns.first().map_or(0, |c| c.len());
        let unknowns = DMatrix::from_fn(size, columns.len(), |at, k| columns[k][at]);
        let of = |k: usize, e: &Expected| e.row.iter().map(|&(at, g)| g * unknowns[(at, k)]).sum();
        let shown = DMatrix::from_fn(columns.len(), readings.len(), |k, i| of(k, &expected[i]));
        let sd = |u: &Unknown| model.common.get(u).map_or_else(|| u.sd_with(model.rig(u.rig())), |c| c.1);
        let fresh = expected.iter().map(|e| e.fresh.iter().map(|(u, g)| (u.clone(), g * sd(u))).collect()).collect();
        let noise = expected.iter().map(|e| e.noise_sd).collect();
        Ok(Foreseen { unknowns, shown, noise, fresh, seed, tube: self.tube().to_string() })
    }
}

impl Foreseen {
    /// All unknowns of the draws, a column each; their texture is none of them.
    pub(crate) fn unknowns(&self) -> &DMatrix<f64> {
        &self.unknowns
    }

    /// What the readings at these places of the list, taken together, would tell: draws x at most `most` numbers, each a
    /// combination of readings with a noise of 1 in it, those that tell most first.
    ///
    /// Readings are divided by the factor of the covariance of their noise, unknown zeros, lines and biases included, so
    /// that what those hide vanishes; the principal parts of what is left are kept.
    #[must_use]
    pub fn told(&self, which: &[usize], most: usize) -> DMatrix<f64> {
        let (n, m) = (self.shown.nrows(), which.len());
        let nothing = DMatrix::zeros(n, 0);
        let mut noise = DMatrix::zeros(m, m);
        let mut shared: BTreeMap<&Unknown, Vec<(usize, f64)>> = BTreeMap::new();
        for (i, &at) in which.iter().enumerate() {
            noise[(i, i)] += self.noise[at] * self.noise[at];
            self.fresh[at].iter().for_each(|(u, by)| shared.entry(u).or_default().push((i, *by)));
        }
        for list in shared.values() {
            for &(i, a) in list {
                list.iter().for_each(|&(j, b)| noise[(i, j)] += a * b);
            }
        }
        let Some(factor) = noise.cholesky() else { return nothing };
        let mut shown = DMatrix::from_fn(n, m, |k, i| self.shown[(k, which[i])]);
        for mut column in shown.column_iter_mut() {
            let middle = column.mean();
            column.add_scalar_mut(-middle);
        }
        let Some(whitened) = factor.l().solve_lower_triangular(&shown.transpose()) else { return nothing };
        let parts = SymmetricEigen::new(&whitened * whitened.transpose() / count(n.max(2) - 1));
        let mut order: Vec<usize> = (0..m).filter(|&i| parts.eigenvalues[i] > LEAST_TOLD).collect();
        order.sort_by(|&a, &b| parts.eigenvalues[b].total_cmp(&parts.eigenvalues[a]));
        order.truncate(most);
        let directions = DMatrix::from_fn(m, order.len(), |i, j| parts.eigenvectors[(i, order[j])]);
        let mut told = whitened.transpose() * directions;
        let name = format!("{}/readings not taken", self.tube);
        for (k, mut row) in (0_u64..).zip(told.row_iter_mut()) {
            let z = draws::mirrored_normals(self.seed, &name, k, order.len());
            row.iter_mut().zip(z).for_each(|(value, z)| *value += z);
        }
        told
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Kind, Tube};
    use crate::numeric::summary::sd;

    fn belief(model: &Model) -> Belief {
        let width = |deg: f64| Reading::new(Kind::Diameter, 100.0, Angle::from_degrees(deg), 25.4);
        let tube =
            Tube { name: "T".into(), length_mm: 200.0, readings: vec![width(0.0), width(90.0)], ..Tube::default() };
        Belief::fit(&tube, model).expect("two widths")
    }

    #[test]
    fn what_is_told_has_the_spread_the_belief_expects() {
        let model = Model::default();
        let belief = belief(&model);
        let next = Reading::new(Kind::Diameter, 100.0, Angle::from_degrees(45.0), 25.4);
        let foreseen = belief.foresee(std::slice::from_ref(&next), &model, 5, 2000).expect("a width");
        let told = foreseen.told(&[0], 6);
        assert_eq!(told.ncols(), 1);
        let values: Vec<f64> = told.column(0).iter().copied().collect();
        // of one reading: the sd of what it should show over that of its noise, and the noise of 1
        let e = belief.expect(&next, &model).expect("a width");
        let turned: f64 = e.fresh.iter().map(|(u, g)| (g * u.sd_with(None)).powi(2)).sum();
        let noise = (e.noise_sd * e.noise_sd + turned).sqrt();
        // draws take the scales of the oval as unsure as they are: sd 0.6 of the logarithm, e^0.36 = 1.43 times the spread
        let want = (1.0 + (1.43 * e.sd / noise).powi(2)).sqrt();
        assert!((sd(&values) / want - 1.0).abs() < 0.15, "{} {want}", sd(&values));
    }

    #[test]
    fn a_dial_set_anew_on_an_unknown_axis_tells_nothing_by_three_readings() {
        let model = Model::default();
        let belief = belief(&model);
        let dial = |deg: f64| {
            let mut r = Reading::new(Kind::Runout, 60.0, Angle::from_degrees(deg), 0.0);
            r.set = "new".into();
            r
        };
        let ring: Vec<Reading> = (0..8).map(|i| dial(45.0 * f64::from(i))).collect();
        let foreseen = belief.foresee(&ring, &model, 5, 200).expect("a dial");
        // its zero and both parts of its axis take up three
        assert_eq!(foreseen.told(&[0], 6).ncols() + foreseen.told(&[0, 1, 2], 6).ncols(), 0);
        assert!(foreseen.told(&[0, 1, 2, 3, 4, 5, 6, 7], 6).ncols() >= 1);
    }
}
