//! Minimum-zone straightness of a line in space: the thinnest cylinder that holds all points.

use crate::geometry::error::{FitError, check_points};
use crate::geometry::least_offset::{Frame, Zone, solve};
use crate::numeric::Triangle;
use crate::numeric::linear::count;
use crate::numeric::small_svd::SmallSvd;
use nalgebra::Vector3;

/// A cylinder that holds all points.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneCylinder {
    /// Its diameter, mm: the straightness deviation.
    pub diameter: f64,
    /// A proven bound, mm: no cylinder holding these points is thinner.
    pub lower_bound: f64,
    /// A place on its axis, mm.
    pub point: [f64; 3],
    /// Direction of its axis, of length 1, with z not negative.
    pub direction: [f64; 3],
    /// Indices of the points on its surface (to 1e-9 of the radius), ascending.
    pub touching: Vec<usize>,
}

/// Thinnest cylinder round points that lie along a line: minimum-zone straightness in space (ISO 12780-1).
///
/// Iterative, with a proof: a barrier method for the least largest offset across the line, finished by Newton's method on the
/// contact equations, in a frame turned until the axis lies along it. The weights of the contacts give a lower bound for
/// every line.
///
/// # Arguments
/// `points`: n >= 2, mm, any order, longer along one line than across.
///
/// # Returns
/// The cylinder and a lower bound that holds for every cylinder. With `r` its radius and `l` the length along it, the bound falls
/// short of the diameter by about `8 (r/l)^2` of it, because it allows for all tilts; across the final axis the gap is below
/// 1e-10 of the radius.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`].
///
/// # Degenerate cases
/// Points not longer than wide have a bound of 0: the answer is then a local one.
///
/// # Example
/// ```
/// use quarterlight::geometry::minimum_zone_cylinder;
/// // three corners of a bend: the axis runs half way
/// let c = minimum_zone_cylinder(&[[0.0, 0.0, 0.0], [0.4, 0.0, 100.0], [0.0, 0.0, 200.0]]).unwrap();
/// assert!((c.diameter - 0.4).abs() < 1e-12);
/// ```
pub fn minimum_zone_cylinder(points: &[[f64; 3]]) -> Result<ZoneCylinder, FitError> {
    /// The tilt left after a turn is about its square: two turns reach rounding, the rest is caution.
    const TURNS: usize = 8;
    check_points(points, 2)?;
    let (mut origin, mut third) = principal(points)?;
    let mut best: Option<(Frame, Zone)> = None;
    for _ in 0..TURNS {
        let frame = Frame::new(points, origin, third);
        let zone = solve(&frame);
        let tilt = zone.line[2].hypot(zone.line[3]) / frame.half_length;
        let local = |v: [f64; 3]| frame.axes * Vector3::from(v);
        origin = frame.origin + local([zone.line[0], zone.line[1], 0.0]);
        third = local([zone.line[2], zone.line[3], frame.half_length]).normalize();
        best = Some((frame, zone));
        if tilt <= 4.0 * f64::EPSILON {
            break;
        }
    }
    let (frame, zone) = best.ok_or(FitError::Coincident)?;
    Ok(cylinder(points, &frame, &zone, origin, third))
}

/// Measures the cylinder on the axis found and widens its bound over all tilts.
fn cylinder(
    points: &[[f64; 3]],
    frame: &Frame,
    zone: &Zone,
    origin: Vector3<f64>,
    third: Vector3<f64>,
) -> ZoneCylinder {
    let distance = |p: &[f64; 3]| (Vector3::from(*p) - origin).cross(&third).norm();
    let radius = points.iter().map(distance).fold(0.0, f64::max);
    let (low, high) = frame.along.iter().fold((1.0f64, -1.0f64), |(l, h), z| (l.min(*z), h.max(*z)));
    let length = (high - low) * frame.half_length;
    // two points a length apart in a cylinder of radius r: its axis is within asin(2r/l) of their line, and that line
    // within atan(2r/l) of ours. Square distances are at least the offsets across our axis times the cosine of that tilt
    let ratio = 2.0 * zone.largest / length;
    let lower = if ratio < 1.0 { zone.bound * (ratio.asin() + ratio.atan()).cos().max(0.0) } else { 0.0 };
    let upward = if third.z < 0.0 { -third } else { third };
    let slack = 1e-9 * radius + 1e-15 * frame.half_length;
    ZoneCylinder {
        diameter: 2.0 * radius,
        lower_bound: 2.0 * lower.min(radius),
        point: origin.into(),
        direction: upward.into(),
        touching: (0..points.len()).filter(|i| distance(&points[*i]) >= radius - slack).collect(),
    }
}

/// Mean and direction of largest extent.
fn principal(points: &[[f64; 3]]) -> Result<(Vector3<f64>, Vector3<f64>), FitError> {
    let first = Vector3::from(points[0]);
    let mean = first + points.iter().map(|p| Vector3::from(*p) - first).sum::<Vector3<f64>>() / count(points.len());
    let mut triangle = Triangle::new(3);
    points.iter().for_each(|p| {
        let d = Vector3::from(*p) - mean;
        triangle.absorb(&mut [d.x, d.y, d.z]);
    });
    let size = points.iter().flatten().map(|v| v.abs()).fold(0.0, f64::max);
    let svd = SmallSvd::new(triangle.block(0, 3)).ok_or(FitError::NotFinite { index: 0 })?;
    if svd.s[0] <= 8.0 * f64::EPSILON * size {
        return Err(FitError::Coincident);
    }
    Ok((mean, Vector3::new(svd.v[(0, 0)], svd.v[(1, 0)], svd.v[(2, 0)])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_s_in_a_plane_has_the_plane_zone() {
        let wave = |k: u32| 0.3 * (std::f64::consts::TAU * f64::from(k) / 40.0).sin();
        let line: Vec<[f64; 3]> = (0..=40).map(|k| [wave(k), 0.0, 5.0 * f64::from(k)]).collect();
        let c = minimum_zone_cylinder(&line).expect("a line");
        // the strip square to the zone, from the straightness reference values
        assert!((c.diameter - 0.408_697_770_362_251_9).abs() < 1e-12, "{c:?}");
        assert!(c.lower_bound <= c.diameter && c.lower_bound > c.diameter * (1.0 - 1e-4), "{c:?}");
    }

    #[test]
    fn a_helix_lies_on_its_cylinder() {
        let turn = |k: u32| std::f64::consts::TAU * f64::from(k) / 12.0;
        let line: Vec<[f64; 3]> = (0..=36).map(|k| [turn(k).cos(), turn(k).sin(), 4.0 * f64::from(k)]).collect();
        let c = minimum_zone_cylinder(&line).expect("a line");
        // all 37 points touch: no single set of contacts to finish with, so the barrier's own accuracy stands
        assert!((c.diameter - 2.0).abs() < 1e-10, "{c:?}");
        assert!(c.direction[2] > 0.999_999, "{c:?}");
    }

    #[test]
    fn straight_points_have_no_zone_and_one_place_is_an_error() {
        let line: Vec<[f64; 3]> = (0..9).map(|k| [f64::from(k), 2.0 * f64::from(k), -3.0 * f64::from(k)]).collect();
        let c = minimum_zone_cylinder(&line).expect("a line");
        assert!(c.diameter < 1e-13, "{c:?}");
        assert!(minimum_zone_cylinder(&line[..2]).expect("two points").diameter < 1e-14);
        assert_eq!(minimum_zone_cylinder(&[[1.0, 2.0, 3.0]; 4]), Err(FitError::Coincident));
    }
}
