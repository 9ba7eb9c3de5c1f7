//! Uniform cubic B-splines on an interval.

/// A uniform cubic B-spline basis on `[0, length]`: `spans` equal knot spans, `spans + 3` coefficients.
///
/// # Source
/// C. de Boor, A Practical Guide to Splines (1978), ch. IX: the uniform cubic case written out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CubicSpline {
    length: f64,
    spans: usize,
}

/// Four neighbouring basis values: coefficient `first + k` has weight `weight[k]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Index of the first coefficient that matters.
    pub first: usize,
    /// Weights of the four coefficients; they add up to 1.
    pub weight: [f64; 4],
}

impl CubicSpline {
    /// A basis on `[0, length]` with knots as near to `spacing` as equal spans allow; at least one span.
    ///
    /// Lengths and spacings that are not positive and finite are taken as 1.
    #[must_use]
    pub fn with_spacing(length: f64, spacing: f64) -> Self {
        let sane = |x: f64| if x.is_finite() && x > 0.0 { x } else { 1.0 };
        let (length, spacing) = (sane(length), sane(spacing));
        let spans = super::summary::to_index((length / spacing).round().clamp(1.0, 10_000.0));
        CubicSpline { length, spans }
    }

    /// Number of coefficients.
    #[must_use]
    pub fn size(&self) -> usize {
        self.spans + 3
    }

    /// Distance between knots.
    #[must_use]
    pub fn spacing(&self) -> f64 {
        self.length / self.spans_f64()
    }

    fn spans_f64(&self) -> f64 {
        super::summary::count(self.spans)
    }

    /// The basis at `z`; outside the interval the end span's cubics are continued to a quarter span, then held.
    #[must_use]
    pub fn weights(&self, z: f64) -> Weights {
        let u = (z / self.spacing()).clamp(-0.25, self.spans_f64() + 0.25);
        let first = super::summary::to_index(u.floor().clamp(0.0, self.spans_f64() - 1.0));
        let t = u - super::summary::count(first);
        let s = 1.0 - t;
        let weight = [
            s * s * s / 6.0,
            (4.0 + t * t * (3.0 * t - 6.0)) / 6.0,
            (4.0 + s * s * (3.0 * s - 6.0)) / 6.0,
            t * t * t / 6.0,
        ];
        Weights { first, weight }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(s: &CubicSpline, coefficients: &[f64], z: f64) -> f64 {
        let w = s.weights(z);
        w.weight.iter().zip(&coefficients[w.first..]).map(|(w, c)| w * c).sum()
    }

    #[test]
    fn weights_add_up_to_one_everywhere() {
        let s = CubicSpline::with_spacing(201.0, 18.0);
        for i in 0..=201 {
            let w: f64 = s.weights(f64::from(i)).weight.iter().sum();
            assert!((w - 1.0).abs() < 1e-14, "at {i}: {w}");
        }
    }

    #[test]
    fn a_straight_line_is_reproduced() {
        let s = CubicSpline::with_spacing(180.0, 18.0);
        // coefficient i belongs to the knot (i - 1) * spacing
        let c: Vec<f64> = (0..s.size()).map(|i| 3.0 + 0.5 * (i as f64 - 1.0) * s.spacing()).collect();
        for z in [0.0, 7.3, 90.0, 180.0] {
            let v = value(&s, &c, z);
            assert!((v - (3.0 + 0.5 * z)).abs() < 1e-11, "at {z}: {v}");
        }
    }

    #[test]
    fn the_curve_is_smooth_across_a_knot() {
        let s = CubicSpline::with_spacing(90.0, 18.0);
        let c: Vec<f64> = (0..s.size()).map(|i| (i as f64 * 1.7).sin()).collect();
        let (h, z) = (1e-4, 36.0);
        let d2 = |z: f64| (value(&s, &c, z + h) - 2.0 * value(&s, &c, z) + value(&s, &c, z - h)) / (h * h);
        assert!((d2(z - 2.0 * h) - d2(z + 2.0 * h)).abs() < 1e-4);
    }
}
