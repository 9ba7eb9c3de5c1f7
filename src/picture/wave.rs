//! A closed curve as a sum of few waves, fitted so that outliers do not count.

use crate::numeric::linear::LinearProblem;
use crate::numeric::summary::median;

/// Most waves round a curve: as many as are believed of a tube.
const WAVES: usize = 9;
/// Waves in every round of weighing: few until what sticks out is left out, since nine would follow it.
const ROUNDS: [usize; 14] = [1, 2, 3, 3, 3, 3, 4, 5, 6, 7, 9, 9, 9, 9];
/// Departures beyond this many standard deviations do not count at all (Tukey's biweight; value from memory: 4.685 leaves 95 %
/// of the efficiency under a normal law).
const CUT_SDS: f64 = 4.685;
/// No scatter is taken as less than this, mm: a thousandth of what is asked of an edge.
const LEAST_SCATTER_MM: f64 = 0.003;

/// A sum of waves `c0 + sum of cn cos n a + sn sin n a`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wave {
    /// `c0, c1, s1, c2, s2, ...`
    parts: Vec<f64>,
}

impl Wave {
    /// The same height all round.
    pub(super) fn round(height: f64) -> Wave {
        Wave { parts: vec![height] }
    }

    /// Its value in direction `a`, radians.
    pub(super) fn at(&self, a: f64) -> f64 {
        row(a, self.parts.len() / 2).iter().zip(&self.parts).map(|(r, p)| r * p).sum()
    }

    /// Its mean.
    pub(super) fn mean(&self) -> f64 {
        self.parts[0]
    }

    /// Its first wave: where the middle lies.
    pub(super) fn first(&self) -> [f64; 2] {
        [self.parts.get(1).copied().unwrap_or(0.0), self.parts.get(2).copied().unwrap_or(0.0)]
    }

    /// The same about its own middle.
    pub(super) fn without_first(&self) -> Wave {
        let mut parts = self.parts.clone();
        parts.iter_mut().skip(1).take(2).for_each(|p| *p = 0.0);
        Wave { parts }
    }

    /// The curve through most of these (direction, height), with the scatter of those it goes through, mm. Points far off it
    /// do not count. `None` for fewer points than it has parts.
    ///
    /// # Accuracy
    /// Waves are pulled towards 0 by 0.2 % of the ninth and less of the others, so that a gap does not let them run away.
    pub(super) fn through(points: &[(f64, f64)], waves: usize) -> Option<(Wave, f64)> {
        let waves = waves.min(WAVES);
        if points.len() < 2 * (2 * waves + 1) {
            return None;
        }
        let heights: Vec<f64> = points.iter().map(|p| p.1).collect();
        let mut wave = Wave::round(median(&heights));
        let mut scatter = f64::INFINITY;
        for now in ROUNDS {
            let waves = waves.min(now);
            let mut problem = LinearProblem::of_one_size(2 * waves + 1);
            for &(a, h) in points {
                let u = (h - wave.at(a)) / (CUT_SDS * scatter);
                if u.abs() < 1.0 {
                    problem.add(&row(a, waves), h, 1.0 - u * u);
                }
            }
            for n in 1..=waves {
                for part in [2 * n - 1, 2 * n] {
                    let mut pull = vec![0.0; 2 * waves + 1];
                    pull[part] = 1.0;
                    problem.add(&pull, 0.0, 0.01 * (n * n) as f64);
                }
            }
            wave = Wave { parts: problem.solve()?.least_norm.iter().copied().collect() };
            let off: Vec<f64> = points.iter().map(|&(a, h)| (h - wave.at(a)).abs()).collect();
            // the middle of absolute departures of a normal law is 0.6745 of its sd
            scatter = (median(&off) / 0.6745).max(LEAST_SCATTER_MM);
        }
        Some((wave, scatter))
    }
}

/// `1, cos a, sin a, cos 2a, sin 2a, ...`
fn row(a: f64, waves: usize) -> Vec<f64> {
    let (s1, c1) = a.sin_cos();
    let (mut c, mut s) = (1.0, 0.0);
    let mut out = vec![1.0];
    for _ in 0..waves {
        (c, s) = (c * c1 - s * s1, s * c1 + c * s1);
        out.extend([c, s]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_found_under_a_tenth_of_outliers_on_one_side() {
        let true_at = |a: f64| 12.5 + 0.3 * (2.0 * a - 0.4).cos() + 0.05 * (5.0 * a).sin();
        let points: Vec<(f64, f64)> = (0..360)
            .map(|i| f64::from(i).to_radians())
            .map(|a| (a, true_at(a) + if (1.0..1.6).contains(&a) { 0.8 } else { 0.0 }))
            .collect();
        let (wave, scatter) = Wave::through(&points, 9).expect("points enough");
        for i in 0..360 {
            let a = f64::from(i).to_radians();
            assert!((wave.at(a) - true_at(a)).abs() < 0.02, "{i} deg: {} {}", wave.at(a), true_at(a));
        }
        assert!(scatter < 0.02 && Wave::through(&points[..10], 9).is_none());
    }
}
