//! Sums of products in lanes of a fixed order, and the widest lanes this processor has.
//!
//! Every sum is folded in the same order whatever the width, and nothing is fused, so that wider lanes change the time alone
//! and never a bit of the result.

use pulp::NullaryFnOnce;

/// Numbers worked on side by side.
pub(super) const LANES: usize = 8;

/// Runs `work` compiled for the widest lanes of this processor; what it calls goes along only where it is inlined.
#[inline]
pub(crate) fn wide<W: NullaryFnOnce>(work: W) -> W::Output {
    pulp::Arch::new().dispatch(work)
}

/// Sum of products, in eight lanes of fixed order so that it is fast and always the same.
#[inline(always)]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
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

/// `y += factor x`.
#[inline(always)]
pub(crate) fn axpy(factor: f64, x: &[f64], y: &mut [f64]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += factor * x;
    }
}
