//! Ellipses fitted to points.

use crate::domain::Angle;
use crate::geometry::circle::Circle;
use crate::geometry::circle_fit::{Noise, Normalised, fit_circle_taubin};
use crate::geometry::ellipse::{Ellipse, foot_in_quadrant};
use crate::geometry::error::FitError;
use crate::numeric::Triangle;
use crate::numeric::least_squares::{FitReport, Limits, Model, Termination, minimise};
use crate::numeric::small_svd::SmallSvd;
use nalgebra::{DMatrix, SMatrix, SymmetricEigen};

/// An ellipse fitted by least distances.
#[derive(Debug, Clone, PartialEq)]
pub struct EllipseFit {
    /// The ellipse.
    pub ellipse: Ellipse,
    /// Covariance, mm^2, order (x, y, m, u, v): centre, mean semi-axis `m = (a + b)/2`, and the oval part
    /// `(u, v) = (a - b)/2 (cos 2t, sin 2t)` with `t` the tilt. These five are well behaved for a round section, where
    /// a tilt has no meaning. First order in the noise; `None` when noise was to come from the residuals of 5 points.
    pub covariance: Option<SMatrix<f64, 5, 5>>,
    /// Sd of one reading that the covariance assumes, mm.
    pub sd: Option<f64>,
    /// Root mean square distance of the points from the ellipse, mm (divides by n).
    pub rms_residual: f64,
    /// Number of points.
    pub points: usize,
    /// Why the solver stopped.
    pub termination: Termination,
    /// Steps of the solver.
    pub iterations: usize,
}

impl EllipseFit {
    /// The oval part (u, v), mm: half the difference of the semi-axes along twice the tilt.
    #[must_use]
    pub fn oval(&self) -> [f64; 2] {
        let (s, c) = (self.ellipse.tilt() + self.ellipse.tilt()).sin_cos();
        let half = 0.5 * (self.ellipse.semi_major() - self.ellipse.semi_minor());
        [half * c, half * s]
    }

    /// Covariance in the usual unknowns, order (x, y, semi-major, semi-minor, tilt), mm and radians. `None` when there
    /// is no covariance or the section is as good as round (oval part below 3 of its sds), where it would mislead.
    #[must_use]
    pub fn axes_covariance(&self) -> Option<SMatrix<f64, 5, 5>> {
        let c = self.covariance?;
        let [u, v] = self.oval();
        let h = u.hypot(v);
        if h * h <= 9.0 * c[(3, 3)].max(c[(4, 4)]) {
            return None;
        }
        let mut j = SMatrix::<f64, 5, 5>::identity();
        (j[(2, 3)], j[(2, 4)]) = (u / h, v / h);
        (j[(3, 2)], j[(3, 3)], j[(3, 4)]) = (1.0, -u / h, -v / h);
        (j[(4, 3)], j[(4, 4)]) = (-v / (2.0 * h * h), u / (2.0 * h * h));
        Some(j * c * j.transpose())
    }
}

/// The ellipse with the unknowns (x, y, m, u, v) in normalised units.
fn ellipse_of(at: &[f64]) -> Option<Ellipse> {
    let h = at[3].hypot(at[4]);
    let tilt = Angle::from_radians(0.5 * at[4].atan2(at[3]));
    Ellipse::new([at[0], at[1]], at[2] + h, at[2] - h, tilt).ok()
}

/// Ellipse by a direct algebraic fit that can only give an ellipse: the start for [`fit_ellipse_geometric`].
///
/// Minimises the sum of squares of `a x^2 + b x y + c y^2 + d x + e y + f` under `4 a c - b^2 = 1`. Biased towards small, round
/// ellipses where noise is large or the arc short: never the answer.
///
/// # Arguments
/// `points`: n >= 5, mm, any order.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`], [`FitError::Collinear`],
/// [`FitError::Undetermined`] when fewer than 5 points differ or they fit a pair of lines, [`FitError::NotAnEllipse`].
///
/// # Source
/// Fitzgibbon, Pilu and Fisher, IEEE Trans. PAMI 21 (1999) 476-480; reduced to three unknowns as by Halir and Flusser
/// (1998), here by QR instead of scatter matrices.
pub fn fit_ellipse_direct(points: &[[f64; 2]]) -> Result<Ellipse, FitError> {
    let data = Normalised::new(points, 5)?;
    let conic = direct(&data)?;
    restore(&data, ellipse_of_conic(conic)?)
}

/// Coefficients (a, b, c, d, e, f) for normalised points.
fn direct(data: &Normalised) -> Result<[f64; 6], FitError> {
    // columns x y 1 first, so that the lower corner of the triangle is what they cannot explain
    let mut triangle = Triangle::new(6);
    for [x, y] in data.iter() {
        triangle.absorb(&mut [x, y, 1.0, x * x, x * y, y * y]);
    }
    let svd = SmallSvd::new(triangle.block(3, 6)).ok_or(FitError::NotAnEllipse)?;
    let floor = f64::EPSILON * svd.s[0];
    if svd.s[1] <= 8.0 * floor {
        let rank = 3 + svd.s.iter().filter(|s| **s > 8.0 * floor).count();
        return Err(FitError::Undetermined { rank, need: 5 });
    }
    // minimise |S V^T q|^2 with q^T C q = 1, C = 4ac - b^2: largest eigenvalue of S^-1 V^T C V S^-1
    let c = DMatrix::from_row_slice(3, 3, &[0.0, 0.0, 2.0, 0.0, -1.0, 0.0, 2.0, 0.0, 0.0]);
    // an exact ellipse has a last singular value of 0; the floor makes its vector dominate instead of dividing by 0
    let w = DMatrix::from_fn(3, 3, |i, k| svd.v[(i, k)] / svd.s[k].max(floor));
    let eigen = SymmetricEigen::new(w.transpose() * c * &w);
    let best = (0..3).max_by(|i, j| eigen.eigenvalues[*i].total_cmp(&eigen.eigenvalues[*j])).unwrap_or(0);
    let q = &w * eigen.eigenvectors.column(best);
    let q = &q / q.norm();
    // the linear part by back substitution in the upper rows
    let mut rest = [0.0; 3];
    for i in (0..3).rev() {
        let mut sum: f64 = (0..3).map(|k| triangle.at(i, 3 + k) * q[k]).sum();
        sum += (i + 1..3).map(|k| triangle.at(i, k) * rest[k]).sum::<f64>();
        rest[i] = -sum / triangle.at(i, i);
    }
    Ok([q[0], q[1], q[2], rest[0], rest[1], rest[2]])
}

fn ellipse_of_conic([a, b, c, d, e, f]: [f64; 6]) -> Result<Ellipse, FitError> {
    let det = 4.0 * a * c - b * b;
    if det.is_nan() || det <= 0.0 {
        return Err(FitError::NotAnEllipse);
    }
    let x = (b * e - 2.0 * c * d) / det;
    let y = (b * d - 2.0 * a * e) / det;
    let k = -(f + 0.5 * (d * x + e * y));
    // eigenvalues of [[a, b/2], [b/2, c]]; their product is det/4, which avoids the cancelling difference
    let (mean, half) = (0.5 * (a + c), 0.5 * (a - c).hypot(b));
    let larger = mean + half.copysign(mean);
    let smaller = det / (4.0 * larger);
    let minor = Angle::from_radians(0.5 * (b * mean.signum()).atan2((a - c) * mean.signum()));
    let axis = |eigenvalue: f64| (k / eigenvalue).sqrt();
    Ellipse::new([x, y], axis(larger), axis(smaller), minor).map_err(|_| FitError::NotAnEllipse)
}

/// From normalised units to those of the data.
fn restore(data: &Normalised, e: Ellipse) -> Result<Ellipse, FitError> {
    let centre = data.place(e.centre()[0], e.centre()[1]);
    Ellipse::new(centre, e.semi_major() * data.scale, e.semi_minor() * data.scale, e.tilt())
}

/// Signed distances of normalised points from the ellipse (x, y, m, u, v).
struct Distances<'a>(&'a Normalised<'a>);

impl Model for Distances<'_> {
    fn parameters(&self) -> usize {
        5
    }
    fn readings(&self) -> usize {
        self.0.len()
    }
    fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64 {
        let p = self.0.point(i);
        let h = at[3].hypot(at[4]);
        let (a, b) = (at[2] + h, at[2] - h);
        if b.is_nan() || b <= 0.0 {
            return f64::NAN;
        }
        let (s, c) = (0.5 * at[4].atan2(at[3])).sin_cos();
        let (dx, dy) = (p[0] - at[0], p[1] - at[1]);
        let local = [c * dx + s * dy, c * dy - s * dx];
        let foot = foot_in_quadrant(a, b, local.map(f64::abs));
        let foot = [foot[0].copysign(local[0]), foot[1].copysign(local[1])];
        // outward unit normal at the foot
        let (nx, ny) = (foot[0] / a * b, foot[1] / b * a);
        let n = nx.hypot(ny);
        let (nx, ny) = (nx / n, ny / n);
        if let Some(g) = gradient {
            // x = c + m (cos t, sin t) + (u cos t + v sin t, v cos t - u sin t); in the local frame t = tilt + tau
            let (gx, gy) = (c * nx - s * ny, s * nx + c * ny);
            let (ct, st) = (foot[0] / a, foot[1] / b);
            let (ct, st) = (c * ct - s * st, s * ct + c * st);
            g.copy_from_slice(&[-gx, -gy, -(gx * ct + gy * st), -(gx * ct - gy * st), -(gx * st + gy * ct)]);
        }
        nx * (local[0] - foot[0]) + ny * (local[1] - foot[1])
    }
}

/// Ellipse with the least sum of squared distances to the points (orthogonal-distance fit).
///
/// # Arguments
/// `points`: n >= 5, mm, any order, at least five different. `noise`: see [`Noise`].
///
/// # Returns
/// The ellipse, its covariance, rms residual and why the solver stopped. The better of two starts (direct ellipse, Taubin
/// circle) is kept.
///
/// # Errors
/// As [`fit_ellipse_direct`], with [`FitError::Undetermined`] when the points leave a combination of the five unknowns
/// open, and [`FitError::BadSd`].
///
/// # Accuracy
/// 1e-13 of the size of the ellipse on the published eight-point example, whose residuals are large; better on tubes.
///
/// # Degenerate cases
/// A round section is no special case in (x, y, m, u, v); its tilt means nothing, see [`EllipseFit::axes_covariance`].
/// An arc of less than half the ellipse may have its best fit at infinity (a parabola): the solver then stops at its cap and
/// says so, or the answer is [`FitError::NotAnEllipse`].
///
/// # Source
/// Gander, Golub and Strebel, BIT 34 (1994) 558-578; Ahn, Rauh and Warnecke, Pattern Recognition 34 (2001)
/// 2283-2303. The unknowns (m, u, v) are our own choice.
///
/// # Example
/// ```
/// use quarterlight::geometry::{Noise, fit_ellipse_geometric};
/// let tube: Vec<[f64; 2]> = (0..12)
///     .map(|k| (f64::from(k) * 0.5236).sin_cos())
///     .map(|(s, c)| [12.9 * c, 12.5 * s])
///     .collect();
/// let fit = fit_ellipse_geometric(&tube, Noise::Stated(0.02)).unwrap();
/// assert!((fit.ellipse.semi_major() - 12.9).abs() < 1e-12);
/// ```
pub fn fit_ellipse_geometric(points: &[[f64; 2]], noise: Noise) -> Result<EllipseFit, FitError> {
    let data = Normalised::new(points, 5)?;
    let algebraic = direct(&data).and_then(ellipse_of_conic).map(start_of_ellipse);
    let round = fit_circle_taubin(points).map(|c| start_of_circle(&data, &c));
    let mut best = None;
    for start in [algebraic, round].into_iter().flatten() {
        let report = minimise(&Distances(&data), &start, Limits::default())?;
        let better = best.as_ref().is_none_or(|b: &FitReport| report.sum_of_squares < b.sum_of_squares * (1.0 - 1e-12));
        if better && report.sum_of_squares.is_finite() {
            best = Some(report);
        }
    }
    let report = best.ok_or(FitError::NotAnEllipse)?;
    let unit = report.unit_covariance.as_ref().ok_or(FitError::Undetermined { rank: report.rank, need: 5 })?;
    let sd = noise.sd(&report, data.scale)?;
    let ellipse = ellipse_of(report.estimate.as_slice()).ok_or(FitError::NotAnEllipse)?;
    Ok(EllipseFit {
        ellipse: restore(&data, ellipse)?,
        covariance: sd.map(|s| SMatrix::from_fn(|i, j| unit[(i, j)] * s * s)),
        sd,
        rms_residual: report.rms() * data.scale,
        points: points.len(),
        termination: report.termination,
        iterations: report.iterations,
    })
}

fn start_of_ellipse(e: Ellipse) -> [f64; 5] {
    let (s, c) = (e.tilt() + e.tilt()).sin_cos();
    let half = 0.5 * (e.semi_major() - e.semi_minor());
    [e.centre()[0], e.centre()[1], 0.5 * (e.semi_major() + e.semi_minor()), half * c, half * s]
}

fn start_of_circle(data: &Normalised, c: &Circle) -> [f64; 5] {
    let [x, y] = data.inward(c.centre);
    [x, y, c.radius / data.scale, 0.0, 0.0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::least_squares::check_jacobian;

    fn outline(e: &Ellipse, n: u32) -> Vec<[f64; 2]> {
        let (s, c) = e.tilt().sin_cos();
        let turn = |k: u32| std::f64::consts::TAU * f64::from(k) / f64::from(n);
        let local = (0..n).map(|k| turn(k).sin_cos()).map(|(ss, cc)| [e.semi_major() * cc, e.semi_minor() * ss]);
        local.map(|[x, y]| [e.centre()[0] + c * x - s * y, e.centre()[1] + s * x + c * y]).collect()
    }

    #[test]
    fn the_hand_written_derivatives_are_right_for_ovals_and_for_circles() {
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0], [6.0, 2.0], [8.0, 4.0]];
        let data = Normalised::new(&points, 5).expect("good points");
        for at in [[0.1, -0.2, 1.2, 0.2, -0.15], [0.1, -0.2, 1.2, 1e-3, 1e-3]] {
            let check = check_jacobian(&Distances(&data), &at, &[1e-4; 5]).expect("not empty");
            assert!(check.worst < 1e-8, "{at:?}: {check:?}");
        }
    }

    #[test]
    fn exact_points_give_their_ellipse_back() {
        for (a, b, degrees) in
            [(13.0, 12.0, 0.0), (13.0, 12.0, 35.0), (13.0, 12.0, 90.0), (13.0, 2.0, 120.0), (5.0, 5.0, 0.0)]
        {
            let e = Ellipse::new([100.0, -40.0], a, b, Angle::from_degrees(degrees)).expect("an ellipse");
            let points = outline(&e, 9);
            let fit =
                fit_ellipse_geometric(&points, Noise::Stated(0.01)).unwrap_or_else(|x| panic!("{e:?}: {x}")).ellipse;
            let direct = fit_ellipse_direct(&points).unwrap_or_else(|x| panic!("{e:?}: {x}"));
            for got in [fit, direct] {
                assert!((got.semi_major() - a).abs() < 1e-11 && (got.semi_minor() - b).abs() < 1e-11, "{e:?}: {got:?}");
                assert!((got.centre()[0] - 100.0).abs() < 1e-11, "{e:?}: {got:?}");
                let turn = (2.0 * (got.tilt().radians() - e.tilt().radians())).sin().abs();
                assert!(a <= b || turn < 1e-11, "{e:?}: {got:?}");
            }
        }
    }

    #[test]
    fn a_round_section_has_a_covariance_but_no_tilt() {
        let e = Ellipse::new([0.0, 0.0], 12.5, 12.5, Angle::ZERO).expect("a circle");
        let fit = fit_ellipse_geometric(&outline(&e, 12), Noise::Stated(0.02)).expect("a fit");
        let c = fit.covariance.expect("stated");
        // mean semi-axis as the radius of a circle, the oval part as an order of a Fourier analysis
        assert!((c[(2, 2)] - 0.0004 / 12.0).abs() < 1e-12 && (c[(3, 3)] - 0.0004 / 6.0).abs() < 1e-12, "{c}");
        assert!(fit.axes_covariance().is_none());
    }

    #[test]
    fn an_oval_section_tells_its_axes_and_their_sds() {
        let e = Ellipse::new([0.0, 0.0], 12.7, 12.3, Angle::from_degrees(30.0)).expect("an ellipse");
        let c = fit_ellipse_geometric(&outline(&e, 16), Noise::Stated(0.02)).expect("a fit").axes_covariance();
        let c = c.expect("clearly oval");
        // a = m + h: variance sd^2 (1/n + 2/n), to the order of the ovality
        assert!((c[(2, 2)] / (0.0004 * 3.0 / 16.0) - 1.0).abs() < 0.05, "{c}");
        // tilt: sd(v)/(2h)
        assert!((c[(4, 4)].sqrt() / (0.02 * (2.0f64 / 16.0).sqrt() / 0.4) - 1.0).abs() < 0.05, "{c}");
    }

    #[test]
    fn what_is_no_ellipse_is_an_error() {
        let few = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]];
        assert_eq!(fit_ellipse_direct(&few), Err(FitError::TooFewPoints { need: 5, got: 4 }));
        let repeated = [few[0], few[1], few[2], few[3], few[0], few[1]];
        assert!(
            matches!(fit_ellipse_direct(&repeated), Err(FitError::Undetermined { .. })),
            "{:?}",
            fit_ellipse_direct(&repeated)
        );
        assert!(fit_ellipse_geometric(&repeated, Noise::Stated(0.1)).is_err());
        let line: Vec<[f64; 2]> = (0..7).map(|k| [f64::from(k), 2.0 * f64::from(k)]).collect();
        assert_eq!(fit_ellipse_direct(&line), Err(FitError::Collinear));
    }
}
