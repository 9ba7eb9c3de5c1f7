//! The shape of a tube as a table: one row of field values per place along it.

/// Which fields a surface is made of, and where each stands in a row.
///
/// A row holds `R0, a2, b2, ..., aN, bN, cx, cy`, where the wall is known `w0, wc, ws`, and where fibres were followed the
/// turn of the grain. The bark radius about the centreline is `R(a) = R0 + sum_n (an cos na + bn sin na)`, the wall
/// `w0 + wc cos a + ws sin a`; all mm. The turn is how far the fibre has gone round the tube, degrees clockwise: only its
/// changes along the tube mean anything, and its slope is the twist.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fields {
    /// Highest harmonic N, at least 2.
    pub top: usize,
    /// Whether the wall fields are there.
    pub wall: bool,
    /// Whether the turn of the grain is there.
    pub twist: bool,
}

impl Fields {
    /// Place of the mean radius.
    pub const R0: usize = 0;

    /// Number of fields.
    #[must_use]
    pub fn count(self) -> usize {
        self.outside() + if self.wall { 3 } else { 0 } + usize::from(self.twist)
    }

    /// Number of fields of the outside shape (without the wall).
    #[must_use]
    pub fn outside(self) -> usize {
        1 + 2 * (self.top - 1) + 2
    }

    /// Place of `an`; `bn` stands right behind it.
    #[must_use]
    pub fn harmonic(self, n: usize) -> usize {
        1 + 2 * (n - 2)
    }

    /// Place of `cx`; `cy` stands right behind it.
    #[must_use]
    pub fn centre(self) -> usize {
        self.outside() - 2
    }

    /// Place of `w0`; `wc` and `ws` stand behind it. `None` where the wall is not known.
    #[must_use]
    pub fn wall_at(self) -> Option<usize> {
        self.wall.then(|| self.outside())
    }

    /// Place of the turn of the grain, degrees. `None` where no fibre was followed.
    #[must_use]
    pub fn turn_at(self) -> Option<usize> {
        self.twist.then(|| self.count() - 1)
    }
}

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
    pub fn mean_row(&self) -> Vec<f64> {
        (0..self.fields.count()).map(|f| self.mean_of(f)).collect()
    }
}
