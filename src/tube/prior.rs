//! The prior of one field along the tube as a precision matrix of its spline coefficients.

use super::population::{FieldScale, ROUGH_SPACING_MM, SPAN_MM};
use crate::numeric::summary::count;
use nalgebra::DMatrix;

/// Prior precision of a field of `m` coefficients `h` mm apart: mean, tilt and second differences with a common part.
pub(super) fn field_precision(m: usize, h: f64, scale: FieldScale) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(m, m);
    let middle = count(m - 1) / 2.0;
    let square: f64 = (0..m).map(|i| (count(i) - middle).powi(2)).sum();
    // factors of the coefficients in (mean, change over 200 mm), each divided by its sd
    let level: Vec<f64> = vec![1.0 / (count(m) * scale.level); m];
    let tilt: Vec<f64> = (0..m).map(|i| (count(i) - middle) / square * (SPAN_MM / h) / scale.tilt).collect();
    let rough = scale.rough * (h / ROUGH_SPACING_MM).powf(1.5);
    let bend = scale.bend * 8.0 * (h / SPAN_MM).powi(2);
    let seconds = m - 2;
    // (rough^2 I + bend^2 1 1')^-1 by Sherman and Morrison
    let shared = bend * bend / (rough * rough + count(seconds) * bend * bend);
    let mut sum = vec![0.0; m];
    for i in 0..seconds {
        let d = [(i, 1.0), (i + 1, -2.0), (i + 2, 1.0)];
        for (a, u) in d {
            sum[a] += u;
            for (b, v) in d {
                out[(a, b)] += u * v / (rough * rough);
            }
        }
    }
    for a in 0..m {
        for b in 0..m {
            out[(a, b)] += level[a] * level[b] + tilt[a] * tilt[b] - shared * sum[a] * sum[b] / (rough * rough);
        }
    }
    out
}
