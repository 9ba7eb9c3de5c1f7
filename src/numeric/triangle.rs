//! A QR factorisation fed one row at a time.

use nalgebra::DMatrix;

/// The triangle `R` of a QR factorisation `A = Q R`, updated row by row with Givens rotations.
///
/// `A` is never stored, so the cost in memory is `columns^2` numbers whatever the number of rows. Feeding the
/// rows `[J_i | r_i]` leaves `R` of `J` in the leading block and `Q^T r` in the last column.
///
/// # Accuracy
/// Backward stable: the answer is that of a matrix whose entries differ by a few units in the last place.
///
/// # Source
/// Golub and Van Loan, Matrix Computations (4th ed. 2013), sections 5.1.8 and 6.5.3 (appending a row).
#[derive(Debug, Clone)]
pub struct Triangle {
    columns: usize,
    r: Vec<f64>,
}

impl Triangle {
    /// An empty triangle for rows of `columns` numbers.
    #[must_use]
    pub fn new(columns: usize) -> Self {
        Triangle { columns, r: vec![0.0; columns * columns] }
    }

    /// Forgets every row.
    pub fn clear(&mut self) {
        self.r.fill(0.0);
    }

    /// Rotates one row of `A` into the triangle; the row is used as scratch space. Entries beyond the number of
    /// columns are ignored, missing ones count as 0.
    pub fn absorb(&mut self, row: &mut [f64]) {
        let n = self.columns.min(row.len());
        for j in 0..n {
            if row[j] == 0.0 {
                continue;
            }
            let held = &mut self.r[j * self.columns..(j + 1) * self.columns];
            let h = held[j].hypot(row[j]);
            let (c, s) = (held[j] / h, row[j] / h);
            for k in j..n {
                let kept = c * held[k] + s * row[k];
                row[k] = c * row[k] - s * held[k];
                held[k] = kept;
            }
        }
    }

    /// One entry of the triangle; 0 below the diagonal and outside the matrix.
    #[must_use]
    pub fn at(&self, row: usize, column: usize) -> f64 {
        if row.max(column) < self.columns { self.r[row * self.columns + column] } else { 0.0 }
    }

    /// Rows and columns `from..to` as a dense square matrix.
    #[must_use]
    pub fn block(&self, from: usize, to: usize) -> DMatrix<f64> {
        let n = to.saturating_sub(from);
        DMatrix::from_fn(n, n, |i, j| self.at(from + i, from + j))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_rows_of_one_number_make_their_norm() {
        let mut t = Triangle::new(1);
        t.absorb(&mut [3.0]);
        t.absorb(&mut [4.0]);
        assert!((t.at(0, 0) - 5.0).abs() < 1e-15);
    }

    #[test]
    fn the_triangle_has_the_gram_matrix_of_the_rows() {
        let rows = [[1.0, 2.0, -1.0], [0.5, -3.0, 4.0], [2.0, 0.0, 1.0], [1e-3, 7.0, 2.0]];
        let mut t = Triangle::new(3);
        for row in rows {
            t.absorb(&mut row.clone());
        }
        let r = t.block(0, 3);
        let gram = r.transpose() * &r;
        for i in 0..3 {
            for j in 0..3 {
                let want: f64 = rows.iter().map(|row| row[i] * row[j]).sum();
                assert!((gram[(i, j)] - want).abs() < 1e-13, "({i}, {j}): {} against {want}", gram[(i, j)]);
                assert!(i <= j || r[(i, j)] == 0.0, "({i}, {j}) below the diagonal is {}", r[(i, j)]);
            }
        }
    }
}
