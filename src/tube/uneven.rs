//! The unevenness of every field of a tube, and the prior precision it makes.

use super::fields::Fields;
use super::group::Group;
use super::layout::{Layout, SHAPES};
use super::population::Population;
use super::prior::{Alone, unevenness};
use crate::numeric::arrow::Arrow;
use crate::numeric::summary::count;

/// The unevenness of one field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Uneven {
    /// See [`super::population::FieldScale::rough`].
    pub(super) rough: f64,
    pub(super) reach_mm: f64,
}

impl Uneven {
    /// Of every field of a population, `rougher` times as large as it says.
    pub(super) fn all(fields: Fields, p: &Population, rougher: f64) -> Vec<Uneven> {
        let group = |field| Group::of(fields, field);
        let one = |g: Group| Uneven { rough: rougher * g.scale(p).rough, reach_mm: g.reach_mm(p) };
        (0..fields.count()).map(|field| one(group(field))).collect()
    }
}

/// Prior precision of every field's unevenness; the border is empty.
pub(super) fn band_prior(layout: &Layout, uneven: &[Uneven]) -> Arrow {
    let (m, h) = (layout.spline.size(), layout.spline.spacing());
    let mut out = Arrow::zeros(layout.band(), layout.half_band(), layout.border());
    for (field, u) in uneven.iter().enumerate() {
        for (apart, values) in unevenness(m, h, u.rough, u.reach_mm).iter().enumerate() {
            for (knot, value) in values.iter().enumerate().take(m.saturating_sub(apart)) {
                out.add(layout.coefficient(knot + apart, field), layout.coefficient(knot, field), *value);
            }
        }
    }
    debug_assert!(SHAPES * layout.fields.count() <= layout.border());
    out
}

/// Half the logarithm of the determinant of that precision; `None` where it has none.
pub(super) fn half_log_det(layout: &Layout, uneven: &[Uneven]) -> Option<f64> {
    let (m, h) = (layout.spline.size(), layout.spline.spacing());
    let mut half = 0.0;
    let mut known: Option<(f64, f64)> = None;
    for u in uneven {
        let alone = match known.filter(|k| k.0.to_bits() == u.reach_mm.to_bits()) {
            Some((_, alone)) => alone,
            None => Alone::of(m, h, u.reach_mm)?.half_log_det(),
        };
        known = Some((u.reach_mm, alone));
        half += alone - count(m) * u.rough.ln();
    }
    Some(half)
}
