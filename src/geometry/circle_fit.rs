//! Circles fitted to points.

use crate::geometry::circle::Circle;
use crate::geometry::error::{FitError, check_points};
use crate::numeric::Triangle;
use crate::numeric::least_squares::{FitReport, Limits, Model, Termination, minimise};
use crate::numeric::linear::count;
use crate::numeric::small_svd::SmallSvd;
use nalgebra::{DMatrix, Matrix3, SymmetricEigen};

/// Where the standard deviation of one reading comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Noise {
    /// Stated by the maker of the reading: every point is off by an independent error of this sd, mm, square to the
    /// curve. Departures of the true shape from the curve are then *not* in the covariance.
    Stated(f64),
    /// Estimated from the residuals with n - p degrees of freedom: instrument noise and lack of fit together, taken
    /// as independent from point to point. Not possible when n = p.
    FromResiduals,
}

impl Noise {
    /// Sd of one reading for a finished fit, mm; `None` when it should come from residuals and there are none to spare.
    pub(crate) fn sd(self, report: &FitReport, scale: f64) -> Result<Option<f64>, FitError> {
        match self {
            Noise::Stated(sd) if sd.is_finite() && sd > 0.0 => Ok(Some(sd)),
            Noise::Stated(sd) => Err(FitError::BadSd { sd }),
            Noise::FromResiduals => Ok(report.residual_sd().map(|s| s * scale)),
        }
    }
}

/// A circle fitted by least distances.
#[derive(Debug, Clone, PartialEq)]
pub struct CircleFit {
    /// The circle.
    pub circle: Circle,
    /// Covariance, order (x, y, r), mm^2, first order in the noise. `None` when the noise was to be estimated from
    /// the residuals of only 3 points.
    pub covariance: Option<Matrix3<f64>>,
    /// Sd of one reading that the covariance assumes, mm.
    pub sd: Option<f64>,
    /// Root mean square distance of the points from the circle, mm (divides by n).
    pub rms_residual: f64,
    /// Number of points.
    pub points: usize,
    /// Why the solver stopped.
    pub termination: Termination,
    /// Steps of the solver.
    pub iterations: usize,
}

/// Points moved to their mean and divided by their root mean square distance from it.
pub(crate) struct Normalised<'a> {
    points: &'a [[f64; 2]],
    mean: [f64; 2],
    pub(crate) scale: f64,
}

impl<'a> Normalised<'a> {
    /// # Errors
    /// Too few, not finite, coincident to rounding, or all on one line to rounding.
    pub(crate) fn new(points: &'a [[f64; 2]], need: usize) -> Result<Self, FitError> {
        check_points(points, need)?;
        let n = count(points.len());
        let first = points[0];
        let sum = points.iter().fold([0.0; 2], |s, p| [s[0] + (p[0] - first[0]), s[1] + (p[1] - first[1])]);
        let mean = [first[0] + sum[0] / n, first[1] + sum[1] / n];
        let squares: f64 = points.iter().map(|p| (p[0] - mean[0]).powi(2) + (p[1] - mean[1]).powi(2)).sum();
        let scale = (squares / n).sqrt();
        let size = points.iter().flatten().map(|v| v.abs()).fold(0.0, f64::max);
        let rounding = 4.0 * f64::EPSILON * size;
        if scale.is_nan() || scale <= rounding || !scale.is_normal() || !size.is_finite() {
            return Err(if scale.is_finite() { FitError::Coincident } else { FitError::NotFinite { index: 0 } });
        }
        let all = Normalised { points, mean, scale };
        if all.thickness() * scale <= rounding { Err(FitError::Collinear) } else { Ok(all) }
    }

    pub(crate) fn len(&self) -> usize {
        self.points.len()
    }

    pub(crate) fn point(&self, i: usize) -> [f64; 2] {
        self.inward(self.points[i])
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = [f64; 2]> + '_ {
        (0..self.len()).map(|i| self.point(i))
    }

    /// Root mean square extent square to the best line, in units of the scale: 0 for points in line.
    fn thickness(&self) -> f64 {
        let mut t = Triangle::new(2);
        self.iter().for_each(|mut p| t.absorb(&mut p));
        let (a, b, d) = (t.at(0, 0), t.at(0, 1), t.at(1, 1));
        // smaller singular value of [[a, b], [0, d]]: |det| over the larger one
        let sum = (a + d).hypot(b) + (a - d).hypot(b);
        2.0 * (a * d).abs() / sum / count(self.len()).sqrt()
    }

    /// The circle in the units and place of the data.
    fn restore(&self, x: f64, y: f64, r: f64) -> Circle {
        Circle { centre: [x * self.scale + self.mean[0], y * self.scale + self.mean[1]], radius: r.abs() * self.scale }
    }

    /// A normalised place in the units and place of the data.
    pub(crate) fn place(&self, x: f64, y: f64) -> [f64; 2] {
        [x * self.scale + self.mean[0], y * self.scale + self.mean[1]]
    }

    /// A place in the data, normalised.
    pub(crate) fn inward(&self, p: [f64; 2]) -> [f64; 2] {
        [(p[0] - self.mean[0]) / self.scale, (p[1] - self.mean[1]) / self.scale]
    }

    /// The circle `a (x^2 + y^2) + b x + c y + d = 0`; an infinite one is an error.
    fn circle_of_conic(&self, [a, b, c, d]: [f64; 4]) -> Result<Circle, FitError> {
        let square = b * b + c * c - 4.0 * a * d;
        let circle = self.restore(-b / (2.0 * a), -c / (2.0 * a), square.max(0.0).sqrt() / (2.0 * a));
        let finite = circle.centre.iter().all(|v| v.is_finite()) && circle.radius.is_finite();
        if finite && a != 0.0 { Ok(circle) } else { Err(FitError::Collinear) }
    }
}

/// Circle by Taubin's algebraic fit: the start for [`fit_circle_geometric`].
///
/// Minimises `sum f_i^2 / sum |grad f_i|^2` of `f = a(x^2 + y^2) + bx + cy + d`. Nearly unbiased even on short arcs,
/// not iterative, but its residual is not a distance: use the geometric fit for answers.
///
/// # Arguments
/// `points`: n >= 3, mm, any order, duplicates allowed as long as three differ.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`], [`FitError::Collinear`].
///
/// # Accuracy
/// Solved by QR and singular values of the centred, scaled points: within 1e-13 of the scale on the NIST sets.
///
/// # Source
/// G. Taubin, IEEE Trans. PAMI 13 (1991) 1115-1138; in this form N. Chernov, Circular and Linear Regression (2010).
pub fn fit_circle_taubin(points: &[[f64; 2]]) -> Result<Circle, FitError> {
    taubin(&Normalised::new(points, 3)?)
}

fn taubin(data: &Normalised) -> Result<Circle, FitError> {
    // with centred data the constraint is 4 zm a^2 + b^2 + c^2 = 1 and d = -zm a; zm, the mean of z = x^2 + y^2, is 1
    let mean = data.iter().map(|[x, y]| x * x + y * y).sum::<f64>() / count(data.len());
    let half = 2.0 * mean.sqrt();
    let mut triangle = Triangle::new(3);
    for [x, y] in data.iter() {
        triangle.absorb(&mut [(x * x + y * y - mean) / half, x, y]);
    }
    let svd = SmallSvd::new(triangle.block(0, 3)).ok_or(FitError::Collinear)?;
    let v = svd.v.column(2);
    let a = v[0] / half;
    data.circle_of_conic([a, v[1], v[2], -mean * a])
}

/// Circle by the "Hyper" algebraic fit, free of essential bias.
///
/// When to use it: for many noisy points on a short arc where an answer without iteration is wanted. For a radius to be
/// believed, and its doubt, use [`fit_circle_geometric`].
///
/// # Arguments
/// `points`: n >= 3, mm, any order, duplicates allowed as long as three differ.
///
/// # Errors
/// As [`fit_circle_taubin`].
///
/// # Source
/// A. Al-Sharadqah and N. Chernov, Electronic Journal of Statistics 3 (2009) 886-911.
pub fn fit_circle_hyper(points: &[[f64; 2]]) -> Result<Circle, FitError> {
    let data = Normalised::new(points, 3)?;
    let mut triangle = Triangle::new(4);
    let mut mean = 0.0;
    for [x, y] in data.iter() {
        let z = x * x + y * y;
        mean += z / count(data.len());
        triangle.absorb(&mut [z, x, y, 1.0]);
    }
    let svd = SmallSvd::new(triangle.block(0, 4)).ok_or(FitError::Collinear)?;
    let conic = |v: &[f64]| data.circle_of_conic([v[0], v[1], v[2], v[3]]);
    if svd.s[3] <= 1e-12 * svd.s[0] {
        // the points lie on a circle: the null vector is the answer, the eigenproblem below would divide by it
        return conic(svd.v.column(3).as_slice());
    }
    // N = [[8 zm, 0, 0, 2], [0, 1, 0, 0], [0, 0, 1, 0], [2, 0, 0, 0]]; its inverse has this corner
    let inverse = |i: usize, j: usize| match (i, j) {
        (1, 1) | (2, 2) => 1.0,
        (0, 3) | (3, 0) => 0.5,
        (3, 3) => -2.0 * mean,
        _ => 0.0,
    };
    // M v = eta N v with M = V S^2 V^T: symmetric in w = S V^T v, (S V^T N^-1 V S) w = eta w
    let sv = DMatrix::from_fn(4, 4, |i, j| svd.s[i] * svd.v[(j, i)]);
    let middle = &sv * DMatrix::from_fn(4, 4, inverse) * sv.transpose();
    let eigen = SymmetricEigen::new(middle);
    let positive = (0..4).filter(|k| eigen.eigenvalues[*k] > 0.0);
    let least = positive.min_by(|i, j| eigen.eigenvalues[*i].total_cmp(&eigen.eigenvalues[*j]));
    let w = eigen.eigenvectors.column(least.ok_or(FitError::Collinear)?);
    let v: Vec<f64> = (0..4).map(|j| (0..4).map(|k| svd.v[(j, k)] * w[k] / svd.s[k]).sum()).collect();
    conic(&v)
}

/// Distances of normalised points from the circle (x, y, r).
struct Distances<'a>(&'a Normalised<'a>);

impl Model for Distances<'_> {
    fn parameters(&self) -> usize {
        3
    }
    fn readings(&self) -> usize {
        self.0.len()
    }
    fn residual(&self, i: usize, at: &[f64], gradient: Option<&mut [f64]>) -> f64 {
        let p = self.0.point(i);
        let (dx, dy) = (p[0] - at[0], p[1] - at[1]);
        let d = dx.hypot(dy);
        if let Some(g) = gradient {
            // a point at the very centre has no direction; any unit vector is a subgradient
            let (ux, uy) = if d > 0.0 { (dx / d, dy / d) } else { (1.0, 0.0) };
            g.copy_from_slice(&[-ux, -uy, -1.0]);
        }
        d - at[2]
    }
}

/// Circle with the least sum of squared distances to the points (orthogonal-distance, "geometric" fit).
///
/// # Arguments
/// `points`: n >= 3, mm, any order, duplicates allowed as long as three differ. `noise`: see [`Noise`].
///
/// # Returns
/// Centre, radius, covariance (order x, y, r; mm^2), rms residual and why the solver stopped.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::NotFinite`], [`FitError::Coincident`], [`FitError::BadSd`];
/// [`FitError::Collinear`] for points in line to rounding, and for points whose circle grows without bound because a
/// straight line fits better.
///
/// # Accuracy
/// Within 1e-15 of the scale (largest coordinate) on the 30 NIST reference sets. The covariance is first order in
/// noise over radius; evenly spread round the circle it is sd(x) = sd(y) = sd sqrt(2/n), sd(r) = sd / sqrt(n).
///
/// # Degenerate cases
/// A short arc sees its sagitta, not its radius. On an arc of half-angle `h` with noise sd `s` at each of n points the
/// radius is known to about `s 6.7 / (h^2 sqrt(n))` for small `h`: 30 degrees of arc (h = 0.26) give a radius some 98
/// times less certain than one reading over sqrt(n), strongly correlated with the centre. The covariance says so; look at
/// it before using the radius. Of several minima (points far from any circle) the one nearest the Taubin start is found.
///
/// # Source
/// Gander, Golub and Strebel, BIT 34 (1994) 558-578; Chernov, Circular and Linear Regression (2010).
///
/// # Example
/// ```
/// use quarterlight::geometry::{FitError, Noise, fit_circle_geometric};
/// // four caliper corners of a tube, read to 0.02 mm
/// let section = [[12.71, 0.0], [0.01, 12.69], [-12.68, 0.01], [0.0, -12.7]];
/// let fit = fit_circle_geometric(&section, Noise::Stated(0.02)).unwrap();
/// assert!((fit.circle.radius - 12.695).abs() < 1e-3);
/// assert!((fit.covariance.unwrap()[(2, 2)].sqrt() - 0.01).abs() < 1e-4);
/// let line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]];
/// assert_eq!(fit_circle_geometric(&line, Noise::Stated(0.02)).err(), Some(FitError::Collinear));
/// ```
pub fn fit_circle_geometric(points: &[[f64; 2]], noise: Noise) -> Result<CircleFit, FitError> {
    /// Radii beyond this many times the spread of the points are told from a line by less than 1e-6 of the spread.
    const STRAIGHT: f64 = 1e6;
    let data = Normalised::new(points, 3)?;
    let start = taubin(&data)?;
    let [x, y] = data.inward(start.centre);
    let at = [x, y, start.radius / data.scale];
    let report = minimise(&Distances(&data), &at, Limits { first_damping: 1e-6, ..Limits::default() })?;
    let [x, y, r] = [report.estimate[0], report.estimate[1], report.estimate[2]];
    let Some(unit) = report.unit_covariance.as_ref().filter(|_| r < STRAIGHT) else {
        return Err(FitError::Collinear);
    };
    let sd = noise.sd(&report, data.scale)?;
    Ok(CircleFit {
        circle: data.restore(x, y, r),
        covariance: sd.map(|s| Matrix3::from_fn(|i, j| unit[(i, j)] * s * s)),
        sd,
        rms_residual: report.rms() * data.scale,
        points: points.len(),
        termination: report.termination,
        iterations: report.iterations,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::least_squares::check_jacobian;

    fn arc(radius: f64, half_angle: f64, n: usize) -> Vec<[f64; 2]> {
        let step = 2.0 * half_angle / count(n - 1);
        (0..n).map(|i| (step * count(i) - half_angle).sin_cos()).map(|(s, c)| [radius * c, radius * s]).collect()
    }

    #[test]
    fn the_hand_written_derivatives_are_right() {
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]];
        let data = Normalised::new(&points, 3).expect("good points");
        let check = check_jacobian(&Distances(&data), &[0.1, -0.8, 1.4], &[1e-3; 3]).expect("not empty");
        assert!(check.worst < 1e-9, "{check:?}");
    }

    #[test]
    fn evenly_spread_readings_give_the_textbook_covariance() {
        let n = 12;
        let points: Vec<[f64; 2]> = (0..n)
            .map(|i| (count(i) * std::f64::consts::TAU / 12.0).sin_cos())
            .map(|(s, c)| [12.5 * c, 12.5 * s])
            .collect();
        let c = fit_circle_geometric(&points, Noise::Stated(0.02)).expect("a circle").covariance.expect("stated");
        assert!((c[(0, 0)] - 0.0004 / 6.0).abs() < 1e-15 && (c[(2, 2)] - 0.0004 / 12.0).abs() < 1e-15, "{c}");
        assert!(c[(0, 1)].abs() < 1e-16 && c[(0, 2)].abs() < 1e-16, "{c}");
    }

    #[test]
    fn three_points_give_the_circle_through_them_but_no_noise() {
        let points = [[10.0, 20.0], [14.0, 20.0], [10.0, 23.0]];
        let fit = fit_circle_geometric(&points, Noise::FromResiduals).expect("a circle");
        assert!((fit.circle.radius - 2.5).abs() < 1e-14 && fit.covariance.is_none() && fit.sd.is_none(), "{fit:?}");
        assert!(fit.rms_residual < 1e-15 && fit.termination == Termination::Converged, "{fit:?}");
        assert!(fit_circle_geometric(&points, Noise::Stated(0.01)).expect("a circle").covariance.is_some());
    }

    #[test]
    fn a_short_arc_says_how_little_it_knows_of_the_radius() {
        // the rule printed in the docs, for 30 degrees of arc
        let (h, n) = (std::f64::consts::PI / 12.0, 101);
        let fit = fit_circle_geometric(&arc(12.5, h, n), Noise::Stated(0.02)).expect("a circle");
        let sd = fit.covariance.expect("stated")[(2, 2)].sqrt();
        let rule = 0.02 * 6.7 / (h * h * count(n).sqrt());
        assert!((sd / rule - 1.0).abs() < 0.05, "sd of the radius {sd}, rule {rule}");
        assert!((fit.circle.radius - 12.5).abs() < 1e-11, "{}", fit.circle.radius);
    }

    #[test]
    fn a_gently_bent_line_is_a_circle_and_a_straight_or_wavy_one_is_not() {
        let bow = fit_circle_geometric(&arc(10_000.0, 0.01, 21), Noise::Stated(0.01)).expect("sagitta 0.5 mm");
        assert!((bow.circle.radius - 10_000.0).abs() < 1e-6, "{}", bow.circle.radius);
        let wave: Vec<[f64; 2]> = (-10..=10).map(|i| [f64::from(i), 0.1 * (f64::from(i) * 0.6).sin()]).collect();
        for points in
            [wave, vec![[0.0, 0.1], [1.0, 0.3], [2.0, 0.5], [3.0, 0.7]], vec![[1e6, 1.0], [2e6, 2.0], [3e6, 3.0]]]
        {
            let fit = fit_circle_geometric(&points, Noise::FromResiduals);
            assert_eq!(fit.clone().err(), Some(FitError::Collinear), "{fit:?}");
        }
    }

    #[test]
    fn impossible_input_is_an_error() {
        let same = [[3.1, 4.1]; 5];
        for fit in [fit_circle_taubin, fit_circle_hyper] {
            assert_eq!(fit(&same), Err(FitError::Coincident));
            assert_eq!(fit(&[[0.0, 1.0], [1.0, 1.0]]), Err(FitError::TooFewPoints { need: 3, got: 2 }));
            assert_eq!(fit(&[[0.0, 1.0], [1.0, 1.0], [2.0, 1.0], [7.0, 1.0]]), Err(FitError::Collinear));
            assert_eq!(fit(&[[0.0, 1.0], [1.0, f64::INFINITY], [2.0, 1.0]]), Err(FitError::NotFinite { index: 1 }));
        }
        let square = [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]];
        let bad = fit_circle_geometric(&square, Noise::Stated(-1.0));
        assert_eq!(bad.err(), Some(FitError::BadSd { sd: -1.0 }));
    }

    #[test]
    fn every_fit_agrees_on_an_exact_circle() {
        let points = arc(12.7, 2.0, 9);
        for fit in [fit_circle_taubin, fit_circle_hyper] {
            let c = fit(&points).expect("a circle");
            assert!((c.radius - 12.7).abs() < 1e-13 && c.centre[0].abs() < 1e-13, "{c:?}");
        }
    }
}
