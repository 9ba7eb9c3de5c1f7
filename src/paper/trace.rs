//! Contours as the steps of a painter's pen.

use super::scene::Point;

/// One step, in the painter's numbers.
pub(super) enum Step {
    Move(f32, f32),
    Line(f32, f32),
    Close,
}

/// Hands the steps along contours, all open or all closed, to `step`. A contour of one point becomes a dot.
pub(super) fn trace<'a>(contours: impl Iterator<Item = &'a [Point]>, closed: bool, mut step: impl FnMut(Step)) {
    for points in contours {
        for (i, p) in points.iter().enumerate() {
            let (x, y) = (single(p[0]), single(p[1]));
            if i == 0 {
                step(Step::Move(x, y));
            }
            if i > 0 || points.len() == 1 {
                step(Step::Line(x, y));
            }
        }
        if closed && !points.is_empty() {
            step(Step::Close);
        }
    }
}

/// A number as painters take it.
#[allow(clippy::cast_possible_truncation, reason = "painters take f32; range checked by Scene::check")]
pub(super) fn single(v: f64) -> f32 {
    v as f32
}
