//! The shape of a tube as a table: one row of field values per place along it.

use super::fields::Fields;
use super::section::Section;

/// Field values at places along a tube.
#[derive(Debug, Clone, PartialEq)]
pub struct Sections {
    fields: Fields,
    z_mm: Vec<f64>,
    rows: Vec<f64>,
}

impl Sections {
    /// A table of zeros at these places.
    #[must_use]
    pub fn zeros(fields: Fields, z_mm: &[f64]) -> Self {
        Sections { fields, z_mm: z_mm.to_vec(), rows: vec![0.0; fields.count() * z_mm.len()] }
    }

    /// Which fields the rows hold.
    #[must_use]
    pub fn fields(&self) -> Fields {
        self.fields
    }

    /// The places, mm from the index end.
    #[must_use]
    pub fn z_mm(&self) -> &[f64] {
        &self.z_mm
    }

    /// Number of places.
    #[must_use]
    pub fn len(&self) -> usize {
        self.z_mm.len()
    }

    /// True when there is no place at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.z_mm.is_empty()
    }

    /// The field values at place `j`.
    #[must_use]
    pub fn row(&self, j: usize) -> &[f64] {
        let n = self.fields.count();
        &self.rows[j * n..(j + 1) * n]
    }

    /// The cross-section at place `j`.
    #[must_use]
    pub fn section(&self, j: usize) -> Section<'_> {
        Section::new(self.fields, self.row(j))
    }

    /// The field values at place `j`, to fill in.
    pub fn row_mut(&mut self, j: usize) -> &mut [f64] {
        let n = self.fields.count();
        &mut self.rows[j * n..(j + 1) * n]
    }

    /// Mean over the places of one field; 0 of an empty table.
    #[must_use]
    pub fn mean_of(&self, field: usize) -> f64 {
        let column: Vec<f64> = (0..self.len()).map(|j| self.row(j)[field]).collect();
        crate::numeric::summary::mean(&column)
    }

    /// The row of field means: the average section.
    #[must_use]
    pub(super) fn mean_row(&self) -> Vec<f64> {
        (0..self.fields.count()).map(|f| self.mean_of(f)).collect()
    }
}
