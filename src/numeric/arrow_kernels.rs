//! The loops of an arrow's factor, each compiled for the widest lanes the processor has.
//!
//! All work in place on plain slices: a band of `w + 1` numbers a row, the diagonal last; rows of `n`; a corner of `b` by
//! `b`, its lower half.

use super::lanes::{LANES, TOGETHER, axpy, axpys, dot, dots};
use pulp::NullaryFnOnce;

/// Vectors that are solved for side by side.
const SIDE: usize = 2 * LANES;

/// Factors a band of `n` rows; `false` when it is not positive definite.
pub(super) struct FactorBand<'a> {
    pub(super) band: &'a mut [f64],
    pub(super) w: usize,
    pub(super) n: usize,
}

impl NullaryFnOnce for FactorBand<'_> {
    type Output = bool;

    #[inline(always)]
    fn call(self) -> bool {
        let FactorBand { band, w, n } = self;
        // every element waits for the one before it in its row: some rows at once keep the processor busy meanwhile
        for start in (0..n).step_by(TOGETHER) {
            let (done, rest) = band.split_at_mut(start * (w + 1));
            let end = (start + TOGETHER).min(n);
            for j in start.saturating_sub(w)..start {
                let above = &done[j * (w + 1)..(j + 1) * (w + 1)];
                for (i, row) in (start..end).zip(rest.chunks_exact_mut(w + 1)) {
                    if j + w >= i {
                        element(row, above, [i, j], w);
                    }
                }
            }
            for i in start..end {
                let (above, row) = rest.split_at_mut((i - start) * (w + 1));
                let from = i.saturating_sub(w);
                for j in start.max(from)..i {
                    element(row, &above[(j - start) * (w + 1)..], [i, j], w);
                }
                let own = &row[w + from - i..w];
                let d = row[w] - dot(own, own);
                if !(d > 0.0 && d.is_finite()) {
                    return false;
                }
                row[w] = d.sqrt();
            }
        }
        true
    }
}

/// Row `i` of a band's factor at column `j`, row `j` being `above`.
#[inline(always)]
fn element(row: &mut [f64], above: &[f64], [i, j]: [usize; 2], w: usize) {
    // columns both rows hold: from the later of their first ones, which is the lower row's
    let first = i.saturating_sub(w);
    let s = dot(&row[w + first - i..w + j - i], &above[w + first - j..w]);
    row[w + j - i] = (row[w + j - i] - s) / above[w];
}

/// `r := L^-1 r` of many rows of `n`, one after another: [`SIDE`] at a time side by side, so that every element of the band is
/// fetched once for all of them and no sum has to be folded.
pub(super) struct FactorRows<'a> {
    pub(super) band: &'a [f64],
    pub(super) w: usize,
    pub(super) n: usize,
    pub(super) rows: &'a mut [f64],
}

impl NullaryFnOnce for FactorRows<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let FactorRows { band, w, n, rows } = self;
        if n == 0 {
            return;
        }
        let mut side = vec![[0.0_f64; SIDE]; n];
        for group in rows.chunks_mut(SIDE * n) {
            for (k, row) in group.chunks_exact(n).enumerate() {
                side.iter_mut().zip(row).for_each(|(s, v)| s[k] = *v);
            }
            for i in 0..n {
                let row = &band[i * (w + 1)..(i + 1) * (w + 1)];
                let from = i.saturating_sub(w);
                let (done, rest) = side.split_at_mut(i);
                let mut own = rest[0];
                for (l, x) in row[w + from - i..w].iter().zip(&done[from..]) {
                    for k in 0..SIDE {
                        own[k] -= l * x[k];
                    }
                }
                rest[0] = own.map(|v| v / row[w]);
            }
            for (k, row) in group.chunks_exact_mut(n).enumerate() {
                row.iter_mut().zip(&side).for_each(|(v, s)| *v = s[k]);
            }
        }
    }
}

/// Takes the products of the rows with each other off a corner.
pub(super) struct TakeSquares<'a> {
    pub(super) rows: &'a [f64],
    pub(super) n: usize,
    pub(super) from: &'a mut [f64],
    pub(super) b: usize,
}

impl NullaryFnOnce for TakeSquares<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let TakeSquares { rows, n, from, b } = self;
        let row = |r: usize| &rows[r * n..(r + 1) * n];
        for r in 0..b {
            for (k, out) in from[r * b..=r * b + r].chunks_mut(TOGETHER).enumerate() {
                if out.len() == TOGETHER {
                    let products = dots(std::array::from_fn(|i| row(TOGETHER * k + i)), row(r));
                    out.iter_mut().zip(products).for_each(|(out, p)| *out -= p);
                } else {
                    out.iter_mut().enumerate().for_each(|(i, out)| *out -= dot(row(r), row(TOGETHER * k + i)));
                }
            }
        }
    }
}

/// `v := L^-1 v` of the band.
pub(super) struct Forward<'a> {
    pub(super) band: &'a [f64],
    pub(super) w: usize,
    pub(super) v: &'a mut [f64],
}

impl NullaryFnOnce for Forward<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Forward { band, w, v } = self;
        for i in 0..v.len() {
            let row = &band[i * (w + 1)..(i + 1) * (w + 1)];
            let from = i.saturating_sub(w);
            v[i] = (v[i] - dot(&row[w + from - i..w], &v[from..i])) / row[w];
        }
    }
}

/// Takes the rows times `low` off `high`.
pub(super) struct TakeRows<'a> {
    pub(super) rows: &'a [f64],
    pub(super) n: usize,
    pub(super) low: &'a [f64],
    pub(super) high: &'a mut [f64],
}

impl NullaryFnOnce for TakeRows<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for (r, h) in self.high.iter_mut().enumerate() {
            *h -= dot(&self.rows[r * self.n..(r + 1) * self.n], self.low);
        }
    }
}

/// `low := L^-T low` of the band, the unknowns `high` behind it being known.
pub(super) struct Backward<'a> {
    pub(super) band: &'a [f64],
    pub(super) w: usize,
    pub(super) rows: &'a [f64],
    pub(super) low: &'a mut [f64],
    pub(super) high: &'a [f64],
}

impl NullaryFnOnce for Backward<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Backward { band, w, rows, low, high } = self;
        let n = low.len();
        let row = |r: usize| &rows[r * n..(r + 1) * n];
        for (k, high) in high.chunks(TOGETHER).enumerate() {
            if high.len() == TOGETHER {
                axpys(std::array::from_fn(|i| -high[i]), std::array::from_fn(|i| row(TOGETHER * k + i)), low);
            } else {
                high.iter().enumerate().for_each(|(i, &h)| axpy(-h, row(TOGETHER * k + i), low));
            }
        }
        for i in (0..n).rev() {
            let row = &band[i * (w + 1)..(i + 1) * (w + 1)];
            let from = i.saturating_sub(w);
            let x = low[i] / row[w];
            low[i] = x;
            axpy(-x, &row[w + from - i..w], &mut low[from..i]);
        }
    }
}

/// Factors a corner, `more` added to its diagonal; `false` when it is not positive definite.
pub(super) struct FactorCorner<'a> {
    pub(super) lower: &'a mut [f64],
    pub(super) b: usize,
    pub(super) more: &'a [f64],
}

impl NullaryFnOnce for FactorCorner<'_> {
    type Output = bool;

    #[inline(always)]
    fn call(self) -> bool {
        let FactorCorner { lower, b, more } = self;
        // rows in groups side by side: what is done of the factor is fetched once for all of a group, and no sum is folded
        let mut side = vec![[0.0_f64; SIDE]; b];
        for start in (0..b).step_by(SIDE) {
            let end = (start + SIDE).min(b);
            let (done, rest) = lower.split_at_mut(start * b);
            for (k, row) in rest.chunks_exact(b).take(end - start).enumerate() {
                side.iter_mut().zip(&row[..end]).for_each(|(s, v)| s[k] = *v);
            }
            for j in 0..start {
                let row = &done[j * b..=j * b + j];
                let (before, from) = side.split_at_mut(j);
                let known = summed(&row[..j], before);
                from[0] = std::array::from_fn(|k| (from[0][k] - known[k]) / row[j]);
            }
            for j in start..end {
                let own: Vec<f64> = (0..start).map(|i| side[i][j - start]).collect();
                let squares = summed(&own, &side[..start]);
                for k in j - start..end - start {
                    side[j][k] -= squares[k];
                }
            }
            // what is left is the group's own block, column by column
            for j in start..end {
                let whole = rest[(j - start) * b + j];
                let mut column = side[j];
                for before in &side[start..j] {
                    let by = before[j - start];
                    for k in 0..SIDE {
                        column[k] -= by * before[k];
                    }
                }
                let d = column[j - start] + more[j];
                // nothing may be left of a pivot but rounding
                if !(d > 1e-14 * whole.abs() && d.is_finite() && d > 0.0) {
                    return false;
                }
                let root = d.sqrt();
                side[j] = column.map(|v| v / root);
                side[j][j - start] = root;
            }
            for (k, row) in rest.chunks_exact_mut(b).take(end - start).enumerate() {
                row[..=start + k].iter_mut().zip(&side).for_each(|(v, s)| *v = s[k]);
            }
        }
        true
    }
}

/// The sum of `rows` times `factors`, in two lanes of fixed order so that one does not wait for the other.
#[inline(always)]
fn summed(factors: &[f64], rows: &[[f64; SIDE]]) -> [f64; SIDE] {
    let mut sums = [[0.0_f64; SIDE]; 2];
    let whole = factors.len() & !1;
    for (f, r) in factors[..whole].chunks_exact(2).zip(rows.chunks_exact(2)) {
        for (sum, (f, r)) in sums.iter_mut().zip(f.iter().zip(r)) {
            for k in 0..SIDE {
                sum[k] += f * r[k];
            }
        }
    }
    if let (Some(f), Some(r)) = (factors.get(whole), rows.get(whole)) {
        for k in 0..SIDE {
            sums[0][k] += f * r[k];
        }
    }
    std::array::from_fn(|k| sums[0][k] + sums[1][k])
}

/// The inverse of a corner's factor, transposed: row r holds column r of it, which begins at its diagonal; `out` holds zeros.
pub(super) struct InvertFactor<'a> {
    pub(super) lower: &'a [f64],
    pub(super) b: usize,
    pub(super) out: &'a mut [f64],
}

impl NullaryFnOnce for InvertFactor<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let InvertFactor { lower, b, out } = self;
        for r in 0..b {
            let column = &mut out[r * b..(r + 1) * b];
            column[r] = 1.0 / lower[r * b + r];
            for i in r + 1..b {
                column[i] = -dot(&lower[i * b + r..i * b + i], &column[r..i]) / lower[i * b + i];
            }
        }
    }
}

/// The inverse of the corner behind a factor, full; `out` holds zeros.
pub(super) struct InvertCorner<'a> {
    pub(super) lower: &'a [f64],
    pub(super) b: usize,
    pub(super) out: &'a mut [f64],
}

impl NullaryFnOnce for InvertCorner<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let InvertCorner { lower, b, out } = self;
        InvertFactor { lower, b, out }.call();
        // then the products of two of them, from the first on: each row needs itself and later ones alone
        for r in 0..b {
            let (done, later) = out.split_at_mut((r + 1) * b);
            let own = &mut done[r * b..];
            let products = |own: &[f64], row: &[f64], from: usize| dot(&own[from..], &row[from..]);
            let first = products(own, own, r);
            for (k, row) in later.chunks_exact(b).enumerate() {
                let i = r + 1 + k;
                own[i] = products(own, row, i);
            }
            own[r] = first;
        }
        for r in 0..b {
            for i in r + 1..b {
                out[i * b + r] = out[r * b + i];
            }
        }
    }
}

/// `v := L^-1 v` of a corner.
#[inline(always)]
pub(super) fn forward_corner(lower: &[f64], b: usize, v: &mut [f64]) {
    for i in 0..b {
        v[i] = (v[i] - dot(&lower[i * b..i * b + i], &v[..i])) / lower[i * b + i];
    }
}

/// `v := L^-T v` of a corner.
#[inline(always)]
pub(super) fn backward_corner(lower: &[f64], b: usize, v: &mut [f64]) {
    for i in (0..b).rev() {
        let x = v[i] / lower[i * b + i];
        v[i] = x;
        axpy(-x, &lower[i * b..i * b + i], &mut v[..i]);
    }
}
