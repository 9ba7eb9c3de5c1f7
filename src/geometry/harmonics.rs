//! Fourier analysis of readings taken at any angles round a section.
//!
//! `r(a) = mean + sum over n of (c_n cos n a + s_n sin n a)`. For radii from a known axis, n = 1 is where the centre lies
//! (`x = c_1`, `y = s_1`, exact to second order in the offset over the radius), n = 2 is ovality, n >= 3 lobing. A caliper
//! width is the sum of two opposite support values, so it holds even n only.

use crate::domain::Angle;
use crate::geometry::error::FitError;
use crate::numeric::linear::{LinearFit, LinearProblem, count};
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Highest order looked for when the angles choose: beyond it lie tool marks, not the shape of a tube.
const HIGHEST_SOUGHT: usize = 12;

/// The angles "carry" an order when no combination of the coefficients up to it gets a standard deviation above this
/// many times what equally spaced angles would give. Our own trade of detail for noise.
const MOST_AMPLIFIED: f64 = 4.0;

/// The two coefficients of one order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harmonic {
    /// Order n >= 1: waves per turn.
    pub order: usize,
    /// Coefficient of cos n a, mm; `None` when these angles cannot see it.
    pub cos: Option<f64>,
    /// Coefficient of sin n a, mm; `None` when these angles cannot see it.
    pub sin: Option<f64>,
}

impl Harmonic {
    /// Half the peak-to-valley height of this order, mm; `None` unless both coefficients are seen.
    #[must_use]
    pub fn amplitude(&self) -> Option<f64> {
        Some(self.cos?.hypot(self.sin?))
    }

    /// What this order adds at an angle, mm; an unseen coefficient adds nothing.
    #[must_use]
    pub fn at(&self, angle: Angle) -> f64 {
        let (s, c) = (count(self.order) * angle.radians()).sin_cos();
        self.cos.unwrap_or(0.0) * c + self.sin.unwrap_or(0.0) * s
    }

    /// Direction of its first crest, in `[0, 360/n)` degrees; `None` unless both coefficients are seen. Undefined in
    /// substance (but finite) when the amplitude is 0.
    #[must_use]
    pub fn crest(&self) -> Option<Angle> {
        let n = count(self.order);
        Some(Angle::from_radians(self.sin?.atan2(self.cos?) / n).wrapped_to(2.0 * PI / n))
    }
}

/// What readings round a section say, order by order.
#[derive(Debug, Clone, PartialEq)]
pub struct Harmonics {
    /// Mean, mm; `None` when the angles cannot see it.
    pub mean: Option<f64>,
    /// Orders fitted, ascending.
    pub orders: Vec<Harmonic>,
    /// Covariance, mm^2, order (mean, cos, sin of the first order fitted, cos, sin of the next, ...). Rows of unseen
    /// coefficients mean nothing. Assumes independent readings with the sds given; an order left out of the fit but
    /// present in the section is not in it.
    pub covariance: DMatrix<f64>,
    /// Combinations of coefficients that the angles determine.
    pub rank: usize,
    /// Root mean square residual, mm (divides by the number of readings).
    pub rms_residual: f64,
    /// Sum of squared residuals over their sds, for a check of the sds against `readings - rank`.
    pub chi_square: f64,
    /// Number of readings.
    pub readings: usize,
    /// Finite coefficients for evaluation: unseen ones take the value of least norm.
    filled: Vec<f64>,
}

impl Harmonics {
    /// One order, if it was fitted.
    #[must_use]
    pub fn order(&self, n: usize) -> Option<Harmonic> {
        self.orders.iter().copied().find(|h| h.order == n)
    }

    /// Centre offset (x, y) in mm: the first order of radius readings. `None` when not fitted or not seen.
    #[must_use]
    pub fn first(&self) -> Option<[f64; 2]> {
        let h = self.order(1)?;
        Some([h.cos?, h.sin?])
    }

    /// Highest order fitted, 0 for the mean alone.
    #[must_use]
    pub fn highest(&self) -> usize {
        self.orders.last().map_or(0, |h| h.order)
    }

    /// Standard deviation of the mean, mm; `None` when it is unseen.
    #[must_use]
    pub fn mean_sd(&self) -> Option<f64> {
        self.mean.map(|_| self.covariance[(0, 0)].sqrt())
    }

    /// Standard deviations (cos, sin) of one order, mm, `None` where unseen; `None` outside when it was not fitted.
    #[must_use]
    pub fn order_sd(&self, n: usize) -> Option<[Option<f64>; 2]> {
        let k = self.orders.iter().position(|h| h.order == n)?;
        let sd = |row: usize| self.covariance[(row, row)].sqrt();
        Some([self.orders[k].cos.map(|_| sd(2 * k + 1)), self.orders[k].sin.map(|_| sd(2 * k + 2))])
    }

    /// The fitted curve at an angle, mm. Where a coefficient is unseen the value of least norm stands in for it: right
    /// at the angles that were read, a guess between them.
    #[must_use]
    pub fn at(&self, angle: Angle) -> f64 {
        let mut sum = self.filled[0];
        for (k, h) in self.orders.iter().enumerate() {
            let (s, c) = (count(h.order) * angle.radians()).sin_cos();
            sum += self.filled[2 * k + 1] * c + self.filled[2 * k + 2] * s;
        }
        sum
    }

    /// Where the fitted curve is largest and smallest over a turn: (angle, value) each, mm; the first such angle.
    ///
    /// # Accuracy
    /// The value to about 1e-12 of the amplitude, the angle to about 1e-7 rad (a crest is flat).
    #[must_use]
    pub fn extremes(&self) -> ((Angle, f64), (Angle, f64)) {
        (self.largest(1.0), self.largest(-1.0))
    }

    /// Coarse search at 16 angles per wave of the highest order, then golden section between the neighbours.
    fn largest(&self, sign: f64) -> (Angle, f64) {
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let value = |a: f64| sign * self.at(Angle::from_radians(a));
        let n = 16 * self.highest().max(1);
        let step = 2.0 * PI / count(n);
        let mut best = 0.0;
        for k in 1..n {
            let a = step * count(k);
            // a margin of rounding keeps the first of equal crests
            if value(a) > value(best) + 4.0 * f64::EPSILON * value(best).abs() {
                best = a;
            }
        }
        let (mut low, mut high) = (best - step, best + step);
        for _ in 0..60 {
            let reach = GOLDEN * (high - low);
            if value(high - reach) >= value(low + reach) { high = low + reach } else { low = high - reach }
        }
        let a = Angle::from_radians(0.5 * (low + high));
        (a.wrapped(), self.at(a))
    }
}

/// Highest order (at most `cap`) that radius readings at these angles carry: up to it no combination of the
/// coefficients is known four times worse than from as many equally spaced angles (our own trade of detail for noise). 0
/// when they carry only the mean; 0 also for no readings.
///
/// # Example
/// ```
/// use quarterlight::{domain::Angle, geometry::highest_carried};
/// let twelve: Vec<Angle> = (0..12).map(|k| Angle::from_degrees(30.0 * f64::from(k))).collect();
/// assert_eq!(highest_carried(&twelve, 12), 5); // order 6 would show its cosine only
/// ```
#[must_use]
pub fn highest_carried(angles: &[Angle], cap: usize) -> usize {
    (1..=cap).take_while(|n| carried(angles, 1..=*n)).last().unwrap_or(0)
}

/// Highest even order (at most `cap`) that two-point readings at these angles carry; 0 when only the mean.
#[must_use]
fn highest_even_carried(angles: &[Angle], cap: usize) -> usize {
    (1..=cap / 2).take_while(|n| carried(angles, (1..=*n).map(|k| 2 * k))).last().map_or(0, |n| 2 * n)
}

/// Equal spacing gives every column, scaled to unit mean square, the same singular value sqrt(n).
fn carried(angles: &[Angle], orders: impl Iterator<Item = usize>) -> bool {
    let orders: Vec<usize> = orders.collect();
    let unknowns = 2 * orders.len() + 1;
    if angles.len() < unknowns || !angles.iter().all(|a| a.is_finite()) {
        return false;
    }
    let mut problem = LinearProblem::of_one_size(unknowns);
    let mut row = vec![0.0; unknowns];
    for a in angles {
        fill(&mut row, *a, &orders);
        row[1..].iter_mut().for_each(|v| *v *= std::f64::consts::SQRT_2);
        problem.add(&row, 0.0, 1.0);
    }
    let fit = problem.solve().filter(|f| f.rank == unknowns);
    // the covariance with unit noise is (A^T A)^-1; its largest eigenvalue is the worst combination's variance
    fit.is_some_and(|f| f.covariance.symmetric_eigenvalues().max() * count(angles.len()) <= MOST_AMPLIFIED.powi(2))
}

/// 1, cos, sin, ... of the orders at an angle.
fn fill(row: &mut [f64], angle: Angle, orders: &[usize]) {
    row[0] = 1.0;
    for (k, n) in orders.iter().enumerate() {
        let (s, c) = (count(*n) * angle.radians()).sin_cos();
        row[2 * k + 1] = c;
        row[2 * k + 2] = s;
    }
}

/// Least-squares Fourier analysis of radius readings at any angles.
///
/// # Arguments
/// `angles` and `radii` (mm, from one fixed axis) have the same length m >= 1; `sd` is the standard deviation of each
/// reading, mm, one value for all or one per reading. `highest` asks for an order; `None` lets the angles choose
/// ([`highest_carried`], at most 12: beyond lie tool marks, not the shape of a tube).
///
/// # Returns
/// Coefficients, with `None` where the angles cannot see them, their covariance and the rank.
///
/// # Errors
/// [`FitError::TooFewPoints`], [`FitError::LengthMismatch`], [`FitError::NotFinite`], [`FitError::BadSd`].
///
/// # Accuracy
/// Solved by QR; to about 1e-15 of the readings times the amplification of noise. Orders above the one fitted fold back
/// into it (12 equally spaced readings show order 11 as order 1): choose more angles when lobing is high.
///
/// # Example
/// ```
/// use quarterlight::{domain::Angle, geometry::fit_harmonics};
/// let angles: Vec<Angle> = (0..12).map(|k| Angle::from_degrees(30.0 * f64::from(k))).collect();
/// let radii: Vec<f64> = angles.iter().map(|a| 12.5 + 0.2 * (2.0 * a.radians()).cos()).collect();
/// let h = fit_harmonics(&angles, &radii, &[0.02], None).unwrap();
/// assert!((h.order(2).unwrap().amplitude().unwrap() - 0.2).abs() < 1e-12);
/// assert!((h.mean_sd().unwrap() - 0.02 / 12f64.sqrt()).abs() < 1e-12);
/// // six readings cannot show the sine of order 3
/// let h = fit_harmonics(&angles[..6], &radii[..6], &[0.02], Some(6)).unwrap();
/// assert!(h.order(6).unwrap().sin.is_none());
/// ```
pub fn fit_harmonics(
    angles: &[Angle],
    radii: &[f64],
    sd: &[f64],
    highest: Option<usize>,
) -> Result<Harmonics, FitError> {
    let top = highest.unwrap_or_else(|| highest_carried(angles, HIGHEST_SOUGHT));
    fit(angles, radii, sd, &(1..=top).collect::<Vec<_>>())
}

/// Least-squares Fourier analysis of two-point (caliper) readings: mean diameter and even orders only.
///
/// The coefficients are those of the *width* `S(a) + S(a + 180 deg)`, twice those of the radius's even orders; odd orders
/// and the place of the centre cancel in every reading and are not in the answer. `highest` is rounded down to even.
///
/// # Arguments, errors, accuracy
/// As [`fit_harmonics`], with `diameters` in mm and even orders to choose from.
///
/// # Errors
/// As [`fit_harmonics`].
pub fn fit_diameter_harmonics(
    angles: &[Angle],
    diameters: &[f64],
    sd: &[f64],
    highest: Option<usize>,
) -> Result<Harmonics, FitError> {
    let top = highest.unwrap_or_else(|| highest_even_carried(angles, HIGHEST_SOUGHT));
    fit(angles, diameters, sd, &(1..=top / 2).map(|k| 2 * k).collect::<Vec<_>>())
}

fn fit(angles: &[Angle], values: &[f64], sd: &[f64], orders: &[usize]) -> Result<Harmonics, FitError> {
    check(angles, values, sd)?;
    let unknowns = 2 * orders.len() + 1;
    let mut problem = LinearProblem::of_one_size(unknowns);
    let mut row = vec![0.0; unknowns];
    let sd_of = |i: usize| if sd.len() == 1 { sd[0] } else { sd[i] };
    // taking a typical value off first keeps the rounding to that of the departures
    let base = values[0];
    for (i, (a, v)) in angles.iter().zip(values).enumerate() {
        fill(&mut row, *a, orders);
        problem.add(&row, v - base, 1.0 / sd_of(i));
    }
    let solved = problem.solve().ok_or(FitError::NotFinite { index: 0 })?;
    let squares: f64 = angles
        .iter()
        .zip(values)
        .map(|(a, v)| {
            fill(&mut row, *a, orders);
            let fitted: f64 = row.iter().zip(solved.least_norm.iter()).map(|(c, x)| c * x).sum();
            (v - base - fitted).powi(2)
        })
        .sum();
    Ok(collect(solved, orders, base, (squares / count(values.len())).sqrt()))
}

fn collect(solved: LinearFit, orders: &[usize], base: f64, rms_residual: f64) -> Harmonics {
    let mut filled: Vec<f64> = solved.least_norm.iter().copied().collect();
    filled[0] += base;
    let one = |(k, n): (usize, &usize)| Harmonic {
        order: *n,
        cos: solved.estimate[2 * k + 1],
        sin: solved.estimate[2 * k + 2],
    };
    Harmonics {
        mean: solved.estimate[0].map(|m| m + base),
        orders: orders.iter().enumerate().map(one).collect(),
        rank: solved.rank,
        rms_residual,
        chi_square: solved.sum_of_squares,
        readings: solved.rows,
        covariance: solved.covariance,
        filled,
    }
}

fn check(angles: &[Angle], values: &[f64], sd: &[f64]) -> Result<(), FitError> {
    if angles.is_empty() {
        return Err(FitError::TooFewPoints { need: 1, got: 0 });
    }
    if angles.len() != values.len() {
        return Err(FitError::LengthMismatch { left: angles.len(), right: values.len() });
    }
    if sd.len() != 1 && sd.len() != values.len() {
        return Err(FitError::LengthMismatch { left: values.len(), right: sd.len() });
    }
    if let Some(index) = (0..values.len()).find(|i| !(angles[*i].is_finite() && values[*i].is_finite())) {
        return Err(FitError::NotFinite { index });
    }
    match sd.iter().find(|s| !(s.is_finite() && **s > 0.0)) {
        Some(bad) => Err(FitError::BadSd { sd: *bad }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every(step: f64, n: usize) -> Vec<Angle> {
        (0..n).map(|k| Angle::from_degrees(step * count(k))).collect()
    }

    #[test]
    fn uneven_angles_and_uneven_sds_give_the_curve_back() {
        let angles: Vec<Angle> =
            [0.0, 22.0, 61.0, 95.0, 130.0, 170.0, 200.0, 244.0, 291.0, 330.0].map(Angle::from_degrees).to_vec();
        let curve = |a: f64| 12.7 + 0.3 * a.cos() - 0.1 * a.sin() + 0.2 * (2.0 * a).sin() + 0.05 * (3.0 * a).cos();
        let radii: Vec<f64> = angles.iter().map(|a| curve(a.radians())).collect();
        let sd: Vec<f64> = (0..10).map(|i| 0.01 + 0.01 * count(i)).collect();
        let h = fit_harmonics(&angles, &radii, &sd, Some(3)).expect("good readings");
        let first = h.first().expect("seen");
        assert!((first[0] - 0.3).abs() < 1e-13 && (first[1] + 0.1).abs() < 1e-13, "{h:?}");
        assert!((h.order(2).expect("fitted").crest().expect("seen").degrees() - 45.0).abs() < 1e-9, "{h:?}");
        assert!((h.at(Angle::from_degrees(77.0)) - curve(77f64.to_radians())).abs() < 1e-13);
        assert!(h.rms_residual < 1e-14 && h.rank == 7, "{h:?}");
    }

    #[test]
    fn the_highest_order_follows_the_angles() {
        assert_eq!(highest_carried(&every(30.0, 12), 12), 5);
        assert_eq!(highest_carried(&every(45.0, 8), 12), 3);
        // 12 readings crowded into a quarter turn do not carry even the first order
        assert_eq!(highest_carried(&every(7.5, 12), 12), 0);
        assert_eq!(highest_carried(&[], 12), 0);
        // four calipers at 45 degrees: mean and the second order; the sine of the fourth is not seen
        assert_eq!(highest_even_carried(&every(45.0, 4), 12), 2);
        assert_eq!(highest_even_carried(&every(90.0, 2), 12), 0);
    }

    #[test]
    fn a_repeated_angle_is_no_new_angle() {
        let angles: Vec<Angle> = every(90.0, 4).into_iter().cycle().take(40).collect();
        assert_eq!(highest_carried(&angles, 12), 1);
    }

    #[test]
    fn unseen_coefficients_are_none_and_the_seen_ones_stay() {
        let angles = every(60.0, 6);
        let radii: Vec<f64> = angles.iter().map(|a| 12.0 + 0.1 * (3.0 * a.radians()).cos()).collect();
        let h = fit_harmonics(&angles, &radii, &[0.02], Some(3)).expect("good readings");
        let third = h.order(3).expect("fitted");
        assert!(third.sin.is_none() && third.amplitude().is_none(), "{third:?}");
        assert!((third.cos.expect("seen") - 0.1).abs() < 1e-13 && h.rank == 6, "{h:?}");
        assert_eq!(h.order_sd(3).expect("fitted")[1], None);
    }

    #[test]
    fn calipers_on_an_odd_lobed_section_see_a_perfect_circle() {
        let angles = every(15.0, 12);
        let support = |a: f64| 12.5 + 0.3 * (3.0 * a).cos() + 0.2 * a.cos();
        let widths: Vec<f64> = angles.iter().map(|a| support(a.radians()) + support(a.radians() + PI)).collect();
        let h = fit_diameter_harmonics(&angles, &widths, &[0.02], None).expect("good readings");
        assert!((h.mean.expect("seen") - 25.0).abs() < 1e-13 && h.order(3).is_none() && h.order(1).is_none(), "{h:?}");
        assert!(h.orders.iter().all(|o| o.amplitude().expect("seen") < 1e-13), "{h:?}");
    }

    #[test]
    fn one_reading_gives_a_mean_and_nothing_else() {
        let h = fit_harmonics(&[Angle::ZERO], &[12.5], &[0.02], None).expect("one reading");
        assert_eq!((h.mean, h.orders.len(), h.rank), (Some(12.5), 0, 1));
        let h = fit_harmonics(&[Angle::ZERO], &[12.5], &[0.02], Some(1)).expect("one reading");
        assert!(h.mean.is_none() && h.rank == 1, "mean and cosine cannot be told apart: {h:?}");
    }

    #[test]
    fn the_extremes_of_an_oval_lie_on_its_axes() {
        let angles = every(20.0, 9);
        let widths: Vec<f64> = angles.iter().map(|a| 25.0 + 0.4 * (2.0 * (a.radians() - 0.5)).cos()).collect();
        let h = fit_diameter_harmonics(&angles, &widths, &[0.02], Some(2)).expect("good readings");
        let ((wide, most), (narrow, least)) = h.extremes();
        assert!((most - 25.4).abs() < 1e-12 && (least - 24.6).abs() < 1e-12, "{most} {least}");
        assert!(
            (wide.radians() - 0.5).abs() < 1e-6 && (narrow.radians() - 0.5 - PI / 2.0).abs() < 1e-6,
            "{wide:?} {narrow:?}"
        );
    }

    #[test]
    fn bad_input_is_named() {
        let a = every(90.0, 2);
        assert_eq!(fit_harmonics(&a, &[1.0], &[0.1], None).err(), Some(FitError::LengthMismatch { left: 2, right: 1 }));
        assert_eq!(fit_harmonics(&a, &[1.0, f64::NAN], &[0.1], None).err(), Some(FitError::NotFinite { index: 1 }));
        assert_eq!(fit_harmonics(&a, &[1.0, 1.0], &[0.0], None).err(), Some(FitError::BadSd { sd: 0.0 }));
        assert_eq!(fit_harmonics(&[], &[], &[0.1], None).err(), Some(FitError::TooFewPoints { need: 1, got: 0 }));
    }
}
