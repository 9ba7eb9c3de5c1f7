//! A centreline that is bent at places of its own.
//!
//! What drives the unevenness of a field along the tube are its second differences (see `prior`): independent from knot to
//! knot. Those of the centreline, in both planes, are taken from the normal law of the fit over to one with tails (see
//! `tails`): a tube read at few places may be bent sharply at one and straight between the others. A draw of the fit is
//! moved by what the change of its second differences means for all unknowns (linear regression on them under the fit's
//! own covariance), so that it passes as near to the readings as before.
//!
//! The precision of the prior is `(k^2 I + D2)^2` but for its ends, `k` some 0.1: that only `D2` takes the tails and the
//! rest of it stays is an approximation.

use super::group::Group;
use super::law::{CENTRE_ROUGH, LAW};
use super::layout::Layout;
use super::population::{PARTS, Population, ROUGH, ROUGH_SPACING_MM};
use super::tails::{Pattern, Spread};
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use crate::numeric::summary::{count, to_index};
use nalgebra::{Cholesky, DMatrix, DVector};
use rand_chacha::ChaCha8Rng;

/// How the centreline of one tube may be bent.
#[derive(Debug, Clone)]
pub(super) struct Kinks {
    /// coefficients whose second difference each one is: of both planes at the first knot, then at the next
    places: Vec<[usize; 3]>,
    /// change of every unknown by the change of each
    follow: DMatrix<f64>,
    patterns: Vec<Option<Pattern>>,
}

impl Kinks {
    /// Under the answer of a fit whose roughness is `rougher` times the population's: factor of its precision and mean of all
    /// unknowns. `None` where `lot.toml` holds the roughness, and where the tube is too short to have a bend.
    pub(super) fn of(
        layout: &Layout,
        factor: &ArrowFactor,
        mean: &[f64],
        population: &Population,
        rougher: f64,
        tube: &str,
    ) -> Option<Kinks> {
        if population.is_fixed(&format!("centre_{}", PARTS[ROUGH])) {
            return None;
        }
        let centre = layout.fields.centre();
        let knots = layout.spline.size().checked_sub(2).filter(|n| *n > 0)?;
        let places: Vec<[usize; 3]> =
            (0..2 * knots).map(|i| [0, 1, 2].map(|on| layout.coefficient(i / 2 + on, centre + i % 2))).collect();
        let mut columns = DMatrix::zeros(layout.size(), places.len());
        for (i, [a, b, c]) in places.iter().enumerate() {
            let mut v = vec![0.0; layout.size()];
            (v[*a], v[*b], v[*c]) = (1.0, -2.0, 1.0);
            factor.solve(&mut v);
            columns.column_mut(i).copy_from_slice(&v);
        }
        let covariance =
            DMatrix::from_fn(places.len(), places.len(), |i, j| second(columns.column(j).as_slice(), &places[i]));
        // the same either way but for rounding
        let precision = Cholesky::new(0.5 * (&covariance + covariance.transpose()))?.inverse();
        let follow = columns * &precision;
        let pulled = &precision * DVector::from_iterator(places.len(), places.iter().map(|p| second(mean, p)));
        let spacing = (layout.spline.spacing() / ROUGH_SPACING_MM).powf(1.5);
        let sd = rougher * Group::of(layout.fields, centre).scale(population).rough * spacing;
        let Some(known) = LAW.get(CENTRE_ROUGH) else { return None };
        // a lot bent here and there is rough on the average; one that is smoother than usual is so everywhere
        let usual = (known.centre.exp() * spacing).min(sd);
        let spread = Spread { precision: &precision, pulled: &pulled, sd, usual, unsure: known.sd };
        let patterns = spread.patterns(tube)?;
        Some(Kinks { places, follow, patterns })
    }

    /// Bends the draw `x` anew. `at` from 0 to 1 picks one of the patterns, which are sorted, so that mirrored draws take
    /// opposite ones; normal numbers are taken times `sign`.
    pub(super) fn bend(&self, x: &mut [f64], at: f64, sign: f64, rng: &mut ChaCha8Rng) {
        let most = self.patterns.len().saturating_sub(1);
        let Some(Some(pattern)) = self.patterns.get(to_index(at * count(self.patterns.len())).min(most)) else {
            return;
        };
        let normals = draws::normals(rng, self.places.len()).into_iter().map(|z| sign * z).collect();
        let mut change = pattern.drawn(normals);
        change.iter_mut().zip(&self.places).for_each(|(d, p)| *d -= second(x, p));
        let moved = &self.follow * change;
        x.iter_mut().zip(moved.iter()).for_each(|(x, by)| *x += by);
    }
}

fn second(x: &[f64], [a, b, c]: &[usize; 3]) -> f64 {
    x[*a] - 2.0 * x[*b] + x[*c]
}
