//! The surfaces that would be believed once readings were taken, and what every split angle gives on them.
//!
//! Every draw of the surface is once taken for the truth. What the readings would tell on it, noise included, is known
//! ([`Foreseen::told`](crate::tube::Foreseen::told)); the surface expected by what they tell is its regression over the
//! draws, linear as a belief about a surface is nearly linear in its readings. A draw's own surface is expected by the
//! other nine tenths of the draws.

use super::choice::part_of;
use super::split::Splitter;
use crate::tube::Sections;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// So many parts the draws fall into.
const PARTS: usize = 10;
/// Draws take the scales of a lot as unsure as they are, so that some show what is many times the usual; such a draw must not
/// decide a regression. In usual sizes, the median of the absolute values: a normal number lies beyond in 4 %.
const BOUND: f64 = 3.0;
/// Weight of the wish for small factors, in draws.
const RIDGE: f64 = 5.0;

/// Drawn surfaces, each a column of the unknowns it is made from.
pub(super) struct Surfaces<'a> {
    splitter: &'a Splitter,
    odds: Vec<Vec<(usize, f64)>>,
    unknowns: &'a DMatrix<f64>,
    /// The surface that such unknowns make; linear in them.
    surface: &'a (dyn Fn(&[f64]) -> Sections + Sync),
}

impl<'a> Surfaces<'a> {
    /// `unknowns`: a column for every draw.
    pub(super) fn of(
        splitter: &'a Splitter,
        unknowns: &'a DMatrix<f64>,
        surface: &'a (dyn Fn(&[f64]) -> Sections + Sync),
    ) -> Surfaces<'a> {
        Surfaces { splitter, odds: splitter.weights_by_aim(), unknowns, surface }
    }

    /// What every angle gives on the surfaces believed after the readings of the first `judged` draws (draws x angles).
    /// `told`: draws x numbers.
    pub(super) fn yields_after(&self, told: &DMatrix<f64>, judged: usize) -> DMatrix<f64> {
        let features = features(told);
        let n = features.nrows();
        let squares = features.tr_mul(&features) + ridge(features.ncols());
        let products = self.unknowns * &features;
        let of_part = |part: usize| -> Vec<(usize, Vec<f64>)> {
            let own: Vec<usize> = (0..n).filter(|k| part_of(*k, PARTS) == part).collect();
            let x = features.select_rows(&own);
            let others = &products - self.unknowns.select_columns(&own) * &x;
            let Some(factor) = (&squares - x.tr_mul(&x)).cholesky() else { return Vec::new() };
            let by = factor.solve(&others.transpose());
            let few = own.iter().enumerate().filter(|(_, k)| **k < judged);
            few.map(|(i, &k)| (k, self.yields((x.row(i) * &by).as_slice()))).collect()
        };
        let parts: Vec<Vec<(usize, Vec<f64>)>> = (0..PARTS).into_par_iter().map(of_part).collect();
        let mut out = DMatrix::zeros(judged.min(n), self.odds.len());
        for (k, row) in parts.into_iter().flatten() {
            row.iter().enumerate().for_each(|(a, v)| out[(k, a)] = *v);
        }
        out
    }

    fn yields(&self, unknowns: &[f64]) -> Vec<f64> {
        let table = self.splitter.runs_on(&(self.surface)(unknowns));
        self.odds.iter().map(|odds| table.weighed(odds)).collect()
    }
}

fn ridge(q: usize) -> DMatrix<f64> {
    DMatrix::from_fn(q, q, |i, j| if i == j && i > 0 { RIDGE } else { 0.0 })
}

/// 1, and every number told within [`BOUND`] of its usual size.
fn features(told: &DMatrix<f64>) -> DMatrix<f64> {
    let (n, q) = told.shape();
    let usual = |c: &[f64]| crate::numeric::summary::median(&c.iter().map(|v| v.abs()).collect::<Vec<f64>>()).max(1e-9);
    let scale: Vec<f64> = told.as_slice().chunks(n.max(1)).map(usual).collect();
    DMatrix::from_fn(n, 1 + q, |k, f| match f {
        0 => 1.0,
        f => (told[(k, f - 1)] / scale[f - 1]).clamp(-BOUND, BOUND),
    })
}

#[cfg(test)]
mod tests {
    use super::super::split::splitter_for;
    use super::*;
    use crate::domain::Lot;
    use crate::numeric::draws::{normals, stream};
    use crate::tube::Fields;

    const FIELDS: Fields = Fields { top: 4, wall: false, twist: false };

    #[test]
    fn what_is_told_exactly_brings_the_surfaces_back_and_what_tells_nothing_their_mean() {
        // round straight tubes but for lobe 4, which bends along the tube by as much as the only unknown says
        let splitter = splitter_for(160.0, FIELDS, &Lot::default(), &[], 12.7).expect("long enough");
        let z = splitter.judge().fan().z_mm().to_vec();
        let surface = |unknowns: &[f64]| {
            let mut s = Sections::zeros(FIELDS, &z);
            for (j, z) in z.iter().enumerate() {
                let u = z / 80.0 - 1.0;
                (s.row_mut(j)[0], s.row_mut(j)[FIELDS.harmonic(4)]) = (12.7, 0.2 * unknowns[0] * u * u);
            }
            s
        };
        let sizes = normals(&mut stream(5, "lobe", 0), 400);
        let unknowns = DMatrix::from_row_slice(1, 400, &sizes);
        let surfaces = Surfaces::of(&splitter, &unknowns, &surface);
        let apart = |after: &DMatrix<f64>| -> f64 {
            let of = |k: usize| -> f64 {
                let own = surfaces.yields(&sizes[k..=k]);
                own.iter().enumerate().map(|(a, y)| (y - after[(k, a)]).abs()).sum()
            };
            (0..after.nrows()).map(of).sum::<f64>() / (after.nrows() * after.ncols()) as f64
        };
        let exact = surfaces.yields_after(&DMatrix::from_fn(400, 1, |k, _| 50.0 * sizes[k]), 100);
        assert_eq!(exact.shape(), (100, splitter.aims().len()));
        let none =
            surfaces.yields_after(&DMatrix::from_column_slice(400, 1, &normals(&mut stream(6, "", 0), 400)), 100);
        let (near, far) = (apart(&exact), apart(&none));
        println!("{near} {far}");
        assert!(near < 0.15 * far, "{near} {far}");
        // every draw but those far out is told apart, so the surfaces believed differ little among each other
        let spread = crate::numeric::summary::sd(none.column(0).as_slice());
        assert!(spread < 0.1, "{spread}");
    }
}
