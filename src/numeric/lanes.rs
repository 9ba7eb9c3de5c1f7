//! Sums of products in lanes of a fixed order, and the widest lanes this processor has.
//!
//! Every sum is folded in the same order whatever the width, and nothing is fused, so that wider lanes change the time alone
//! and never a bit of the result.

use pulp::NullaryFnOnce;

/// Numbers worked on side by side.
pub(crate) const LANES: usize = 8;
/// Rows that are worked on at once.
pub(super) const TOGETHER: usize = 4;

/// Runs `work` compiled for the widest lanes of this processor; what it calls goes along only where it is inlined.
#[inline]
pub(crate) fn wide<W: NullaryFnOnce>(work: W) -> W::Output {
    pulp::Arch::new().dispatch(work)
}

/// Sum of products, in eight lanes of fixed order so that it is fast and always the same.
#[inline(always)]
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let (a, b) = (&a[..n], &b[..n]);
    let mut sum = [0.0_f64; LANES];
    let (ca, cb) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest: f64 = ca.remainder().iter().zip(cb.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in ca.zip(cb) {
        for l in 0..LANES {
            sum[l] += x[l] * y[l];
        }
    }
    let half = [sum[0] + sum[4], sum[1] + sum[5], sum[2] + sum[6], sum[3] + sum[7]];
    (half[0] + half[2]) + (half[1] + half[3]) + rest
}

/// [`dot`] of each of `rows` with `x`, all as long: what is fetched of `x` serves all, and no sum waits for another.
#[inline(always)]
pub(super) fn dots(rows: [&[f64]; TOGETHER], x: &[f64]) -> [f64; TOGETHER] {
    let n = x.len();
    let rows = rows.map(|row| &row[..n]);
    let whole = n - n % LANES;
    let mut sums = [[0.0_f64; LANES]; TOGETHER];
    for at in (0..whole).step_by(LANES) {
        let x = &x[at..at + LANES];
        for (sum, row) in sums.iter_mut().zip(rows) {
            let row = &row[at..at + LANES];
            for l in 0..LANES {
                sum[l] += row[l] * x[l];
            }
        }
    }
    std::array::from_fn(|i| {
        let (sum, row) = (&sums[i], rows[i]);
        let rest: f64 = row[whole..].iter().zip(&x[whole..]).map(|(x, y)| x * y).sum();
        let half = [sum[0] + sum[4], sum[1] + sum[5], sum[2] + sum[6], sum[3] + sum[7]];
        (half[0] + half[2]) + (half[1] + half[3]) + rest
    })
}

/// `y += factor x`.
#[inline(always)]
pub(crate) fn axpy(factor: f64, x: &[f64], y: &mut [f64]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += factor * x;
    }
}

/// [`axpy`] of one row after another, `y` fetched once for all.
#[inline(always)]
pub(super) fn axpys(factors: [f64; TOGETHER], rows: [&[f64]; TOGETHER], y: &mut [f64]) {
    let rows = rows.map(|row| &row[..y.len()]);
    for (k, y) in y.iter_mut().enumerate() {
        let mut v = *y;
        for (factor, row) in factors.iter().zip(rows) {
            v += factor * row[k];
        }
        *y = v;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_together_give_the_bits_of_one_after_another() {
        for n in [0, 1, 7, 8, 9, 37, 64] {
            let value = |i: usize, k: usize| ((i * 31 + k * 17) % 23) as f64 / 7.0 - 1.3;
            let rows: [Vec<f64>; TOGETHER] = std::array::from_fn(|i| (0..n).map(|k| value(i, k)).collect());
            let x: Vec<f64> = (0..n).map(|k| value(9, k)).collect();
            let slices = || std::array::from_fn(|i| &rows[i][..]);
            assert_eq!(dots(slices(), &x).map(f64::to_bits), rows.each_ref().map(|row| dot(row, &x).to_bits()));
            let (mut one, mut all) = (x.clone(), x);
            let factors = [0.3, -1.7, 2.9, 1.0 / 3.0];
            factors.iter().zip(&rows).for_each(|(f, row)| axpy(*f, row, &mut one));
            axpys(factors, slices(), &mut all);
            assert_eq!(one, all);
        }
    }
}
