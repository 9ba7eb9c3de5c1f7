//! Every row of a problem linear about the same unknowns, kept.

use super::layout::Layout;
use super::rounding::Site;
use super::rows::Row;
use super::tangent::Tangent;
use crate::numeric::arrow::Arrow;

/// The tangents of all rows, in their order, with the place of each along the tube.
#[derive(Debug, Default)]
pub(super) struct Tangents {
    pub(super) rows: Vec<Tangent>,
    pub(super) z_mm: Vec<f64>,
}

impl Tangents {
    /// Takes the tangents of `rows` at the unknowns `x`, the first of them as number `from`; what was held of them and behind them
    /// before is written over.
    pub(super) fn take(&mut self, from: usize, rows: &[Row], layout: &Layout, x: &[f64]) {
        self.rows.resize_with(from + rows.len(), || Tangent::new(layout.fields));
        self.z_mm.truncate(from);
        for (tangent, row) in self.rows[from..].iter_mut().zip(rows) {
            tangent.take(row, layout, x);
            self.z_mm.push(row.z_mm);
        }
    }

    /// What every row would read.
    pub(super) fn values(&self) -> Vec<f64> {
        self.rows.iter().map(|t| t.value).collect()
    }

    /// How hard every row pulls from the prior's centre under its tangent, `from_centre` being where the tangents were taken less
    /// that centre: the pull of its site times the residual that a surface at the centre would leave.
    pub(super) fn forces(&self, from_centre: &[f64], sites: &[Site]) -> Vec<f64> {
        let one = |(t, s): (&Tangent, &Site)| s.moment - s.pull * (t.value - t.along(from_centre));
        self.rows.iter().zip(sites).map(one).collect()
    }

    /// What the rows add to the precision, and their pull from the prior's centre.
    pub(super) fn equations(&self, layout: &Layout, from_centre: &[f64], sites: &[Site]) -> (Arrow, Vec<f64>) {
        let mut matrix = Arrow::zeros(layout.band(), layout.half_band(), layout.border());
        let mut right = vec![0.0; from_centre.len()];
        for ((tangent, site), force) in self.rows.iter().zip(sites).zip(self.forces(from_centre, sites)) {
            tangent.add_to(&mut matrix, &mut right, site.pull, force);
        }
        (matrix, right)
    }
}
