//! How evenly an unevenness is spread over its places: alike everywhere, or small but for a few places.
//!
//! A normal law of one size says of a tube with one sharp bend that it is rough everywhere. So each place `j` has a factor
//! of its own: its two components are normal with standard deviation `base f_j`, `1 / f_j^2` is Gamma(v/2, v/2), and with
//! `f_j` integrated out they are a bivariate Student-t of `v` degrees of freedom (D. F. Andrews, C. L. Mallows, J. R.
//! Statist. Soc. B 36 (1974) 99-102, scale mixtures of normal distributions). How heavy the tails are and how large the base
//! is follow from the readings of the tube, and stay unsure where those do not tell.
//!
//! The readings enter by what they leave of the places under the normal law, which is normal itself. Its factor by
//! which the prior changes is known in closed form, so that each step costs the factor of a matrix as large as there are
//! components, not a fit (Gibbs sampling, S. Geman, D. Geman, IEEE Trans. Pattern Anal. 6 (1984) 721-741; tails, base and
//! then all `f_j` given the components; in between the base, or whether tails are heavy at all, with the components
//! integrated out).

use crate::numeric::draws;
use crate::numeric::summary::count;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma};

/// How probable it is that a tube is uneven alike everywhere, by one normal law: cane bends where it was hurt or leaned, so
/// that is the odd case; common practice, no source.
const ALIKE: f64 = 0.1;
/// Degrees of freedom of the others, equally probable.
const TAILS: [f64; 3] = [1.0, 2.0, 4.0];
/// Bases tried, from the least upward, and how many of them to a standard deviation of its logarithm.
const STEPS: usize = 6;
const STEPS_A_SD: f64 = 2.0;
/// Steps before any is kept, those between two kept ones, and how many are kept.
const BEFORE: usize = 80;
const BETWEEN: usize = 4;
const KEPT: usize = 40;
/// Least `1 / f^2`: a place this loose is read through whatever holds it.
const LOOSEST: f64 = 1e-12;

/// What is known of the components of all places, those of place `j` at `2 j` and `2 j + 1`.
#[derive(Debug)]
pub(super) struct Spread<'a> {
    /// Their precision, readings and a prior in which each is independent with standard deviation `sd`.
    pub(super) precision: &'a DMatrix<f64>,
    /// That precision times their mean.
    pub(super) pulled: &'a DVector<f64>,
    /// Of the prior that is to be replaced, mm.
    pub(super) sd: f64,
    /// The least base, mm, as that of a normal law with as many small places. Smoother tubes are for another prior (see
    /// `ladder`): else what a few readings show of a smooth tube would make its other places surer than they are.
    pub(super) usual: f64,
    /// How far above it the base may lie, as a standard deviation of its logarithm.
    pub(super) unsure: f64,
}

/// The components of all places under one set of factors.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    mean: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
}

impl Pattern {
    /// Components made of these independent normal numbers.
    pub(super) fn drawn(&self, normals: Vec<f64>) -> DVector<f64> {
        let mut z = DVector::from_vec(normals);
        // a factor of positive diagonal always solves
        self.factor.l_dirty().tr_solve_lower_triangular_mut(&mut z);
        &self.mean + z
    }

    /// Half the square of the pulled mean less half the logarithm of the determinant.
    fn evidence(&self, pulled: &DVector<f64>) -> f64 {
        0.5 * pulled.dot(&self.mean) - self.factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>()
    }
}

/// Tails and base of one tube.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Heavy {
    tail_at: usize,
    /// number of the base among those tried
    step: usize,
    /// degrees of freedom
    tail: f64,
    /// logarithm of the base
    base: f64,
    /// logarithm of how probable both are before any reading
    prior: f64,
}

/// Where the chain stands.
#[derive(Debug, Clone)]
struct State {
    /// `None`: alike everywhere
    heavy: Option<Heavy>,
    /// `1 / f^2` of every place
    tight: Vec<f64>,
    pattern: Pattern,
    evidence: f64,
}

impl Spread<'_> {
    /// Sets of factors, each as probable as the others, from those alike everywhere (`None`) to those of the heaviest tails;
    /// `None` where the precision is not positive definite. The same for the same `name`.
    pub(super) fn patterns(&self, name: &str) -> Option<Vec<Option<Pattern>>> {
        let mut rng = draws::stream(0, &format!("{name}/tails"), 0);
        let alike = self.alike()?;
        let grid = self.grid();
        let mut now = alike.clone();
        let mut kept: Vec<(f64, Option<Pattern>)> = Vec::with_capacity(KEPT);
        for step in 0..BEFORE + KEPT * BETWEEN {
            let proposed = self.proposed(&now, &alike, &grid, step % 2 == 0, &mut rng);
            if let Some((proposed, odds)) = proposed
                && rng.random::<f64>().ln() < odds
            {
                now = proposed;
            }
            if step >= BEFORE && (step - BEFORE).is_multiple_of(BETWEEN) {
                let tail = now.heavy.map_or(f64::INFINITY, |h| h.tail);
                kept.push((tail, now.heavy.is_some().then(|| now.pattern.clone())));
            }
            let components = now.pattern.drawn(draws::normals(&mut rng, self.pulled.len()));
            now = match self.tails_of(&components, &grid, &mut rng) {
                None => alike.clone(),
                Some(heavy) => {
                    let tight = factors_of(&components, heavy, &mut rng);
                    self.state(heavy, tight).unwrap_or(now)
                }
            };
        }
        kept.sort_by(|a, b| b.0.total_cmp(&a.0));
        Some(kept.into_iter().map(|k| k.1).collect())
    }

    /// Another base, or whether the tails are heavy at all, the components integrated out; with the logarithm of the odds
    /// at which it is taken.
    fn proposed(
        &self,
        now: &State,
        alike: &State,
        grid: &[Heavy],
        base: bool,
        rng: &mut ChaCha8Rng,
    ) -> Option<(State, f64)> {
        match now.heavy {
            Some(heavy) if base => {
                // one that is beyond the bases tried is never taken
                let step = heavy.step.checked_add_signed([-2, -1, 1, 2][rng.random_range(0..4)])?;
                let to = grid.iter().find(|g| (g.tail_at, g.step) == (heavy.tail_at, step))?;
                let state = self.state(*to, now.tight.clone())?;
                let odds = state.evidence + to.prior - now.evidence - heavy.prior;
                Some((state, odds))
            }
            Some(_) => Some((alike.clone(), alike.evidence + ALIKE.ln() - now.evidence - (1.0 - ALIKE).ln())),
            None if base => None,
            None => {
                // tails, base and factors as they are before any reading: what is left of the odds is the evidence
                let heavy = pick(grid, |g| g.prior.exp(), rng)?;
                let gamma = Gamma::new(heavy.tail / 2.0, 2.0 / heavy.tail).ok()?;
                let tight = (0..self.pulled.len() / 2).map(|_| gamma.sample(rng).max(LOOSEST)).collect();
                let state = self.state(*heavy, tight)?;
                let odds = state.evidence + (1.0 - ALIKE).ln() - now.evidence - ALIKE.ln();
                Some((state, odds))
            }
        }
    }

    /// All tails and bases. The base of a tail is such that the middle one of many places is as large as under a normal
    /// law: `|d|^2` is below `v (2^(2/v) - 1)` base squares for half of a t law, below `2 ln 2` variances for half of a
    /// normal one.
    fn grid(&self) -> Vec<Heavy> {
        let off = |step: usize| count(step) / STEPS_A_SD;
        let share = |step: usize| (-0.5 * off(step).powi(2)).exp();
        let all: f64 = (0..STEPS).map(share).sum::<f64>() * count(TAILS.len());
        let of_tail = |(tail_at, tail): (usize, f64)| {
            let middle = (2.0 * std::f64::consts::LN_2 / (tail * ((2.0 / tail).exp2() - 1.0))).sqrt();
            let centre = (self.usual * middle).ln();
            (0..STEPS).map(move |step| Heavy {
                tail_at,
                step,
                tail,
                base: centre + off(step) * self.unsure,
                prior: ((1.0 - ALIKE) * share(step) / all).ln(),
            })
        };
        TAILS.into_iter().enumerate().flat_map(of_tail).collect()
    }

    fn alike(&self) -> Option<State> {
        let factor = Cholesky::new(self.precision.clone())?;
        let pattern = Pattern { mean: factor.solve(self.pulled), factor };
        let evidence = pattern.evidence(self.pulled);
        Some(State { heavy: None, tight: Vec::new(), pattern, evidence })
    }

    fn state(&self, heavy: Heavy, tight: Vec<f64>) -> Option<State> {
        let mut precision = self.precision.clone();
        let before = self.sd.powi(-2);
        let mut evidence = 0.0;
        for (j, t) in tight.iter().enumerate() {
            let prior = t * (-2.0 * heavy.base).exp();
            [2 * j, 2 * j + 1].iter().for_each(|&i| precision[(i, i)] += prior - before);
            // two components, half the logarithm of each
            evidence += (prior / before).ln();
        }
        let factor = Cholesky::new(precision)?;
        let pattern = Pattern { mean: factor.solve(self.pulled), factor };
        evidence += pattern.evidence(self.pulled);
        Some(State { heavy: Some(heavy), tight, pattern, evidence })
    }

    /// Tails and base given the components, the factors integrated out; `None`: alike everywhere.
    fn tails_of(&self, components: &DVector<f64>, grid: &[Heavy], rng: &mut ChaCha8Rng) -> Option<Heavy> {
        let squares = squares(components);
        let places = count(squares.len());
        let heavy = |h: &Heavy| {
            let scale = (-2.0 * h.base).exp() / h.tail;
            let fall: f64 = squares.iter().map(|q| (q * scale).ln_1p()).sum();
            h.prior - 2.0 * places * h.base - 0.5 * (h.tail + 2.0) * fall
        };
        let alike = ALIKE.ln() - 2.0 * places * self.sd.ln() - 0.5 * squares.iter().sum::<f64>() / self.sd.powi(2);
        let odds: Vec<f64> = std::iter::once(alike).chain(grid.iter().map(heavy)).collect();
        let top = odds.iter().copied().fold(f64::MIN, f64::max);
        let places: Vec<(Option<Heavy>, f64)> =
            std::iter::once(None).chain(grid.iter().copied().map(Some)).zip(odds).collect();
        pick(&places, |(_, odds)| (odds - top).exp(), rng).and_then(|p| p.0)
    }
}

/// Sums of squares of the two components of every place.
fn squares(components: &DVector<f64>) -> Vec<f64> {
    components.as_slice().chunks_exact(2).map(|d| d[0] * d[0] + d[1] * d[1]).collect()
}

/// `1 / f^2` of every place given its components.
fn factors_of(components: &DVector<f64>, heavy: Heavy, rng: &mut ChaCha8Rng) -> Vec<f64> {
    let scale = (-2.0 * heavy.base).exp();
    let one = |q: f64| {
        let gamma = Gamma::new(0.5 * (heavy.tail + 2.0), 2.0 / (heavy.tail + q * scale));
        gamma.map_or(1.0, |g| g.sample(rng)).max(LOOSEST)
    };
    squares(components).into_iter().map(one).collect()
}

/// One of these, as probable as its weight says; `None` of none.
fn pick<'a, T>(all: &'a [T], weight: impl Fn(&T) -> f64, rng: &mut ChaCha8Rng) -> Option<&'a T> {
    let mut left = rng.random::<f64>() * all.iter().map(&weight).sum::<f64>();
    all.iter()
        .find(|one| {
            left -= weight(one);
            left <= 0.0
        })
        .or(all.last())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Components read one by one, each with its own noise (`None`: not read), under a normal law of 1.
    fn read(values: &[Option<(f64, f64)>], usual: f64, unsure: f64, name: &str) -> Vec<Option<Pattern>> {
        let n = values.len();
        let weight = |i: usize| values[i].map_or(0.0, |(_, noise)| noise.powi(-2));
        let precision = DMatrix::from_fn(n, n, |i, j| if i == j { 1.0 + weight(i) } else { 0.0 });
        let pulled = DVector::from_fn(n, |i, _| weight(i) * values[i].map_or(0.0, |v| v.0));
        let spread = Spread { precision: &precision, pulled: &pulled, sd: 1.0, usual, unsure };
        spread.patterns(name).expect("positive definite")
    }

    /// Draws of all components, patterns in turn; those alike everywhere are drawn by the normal law.
    fn drawn(patterns: &[Option<Pattern>], alike: &dyn Fn(Vec<f64>) -> DVector<f64>, each: usize) -> Vec<DVector<f64>> {
        let mut rng = draws::stream(9, "drawn", 0);
        let n = patterns.iter().flatten().next().map_or(2, |p| p.mean.len());
        let mut one = |p: &Option<Pattern>| {
            let z = draws::normals(&mut rng, n);
            p.as_ref().map_or_else(|| alike(z.clone()), |p| p.drawn(z.clone()))
        };
        patterns.iter().flat_map(|p| (0..each).map(|_| one(p)).collect::<Vec<_>>()).collect()
    }

    #[test]
    fn where_nothing_is_read_half_the_places_are_as_small_as_under_a_normal_law() {
        let patterns: Vec<Option<Pattern>> =
            (0..12).flat_map(|i| read(&[None; 24], 1.0, 0.01, &format!("tube {i}"))).collect();
        let alike = patterns.iter().filter(|p| p.is_none()).count();
        // 48 of 480 expected; the patterns of a chain hang together, so that 12 chains are some 100 independent ones
        assert!((12..100).contains(&alike), "{alike} of 480");
        let all = drawn(&patterns, &DVector::from_vec, 4);
        let mut squares: Vec<f64> = all.iter().flat_map(squares).collect();
        squares.sort_by(f64::total_cmp);
        let middle = squares[squares.len() / 2];
        assert!((middle / (2.0 * std::f64::consts::LN_2) - 1.0).abs() < 0.15, "{middle}");
        // six times as far as the middle: never by the normal law (2^-36), one in 109 by four degrees of freedom, one in 19
        // by two, one in 10 by one
        let far = squares.iter().filter(|q| **q > 36.0 * middle).count();
        assert!(count(far) > 0.02 * count(squares.len()) && count(far) < 0.12 * count(squares.len()), "{far}");
    }

    /// Posterior mean of the first component by quadrature: prior `0.1 N(0, 1) + 0.9 (t1 + t2 + t4) / 3` over bases.
    fn by_quadrature(value: f64, noise: f64, usual: f64, unsure: f64) -> f64 {
        let (mut sum, mut mean) = (0.0, 0.0);
        let mut density = |d: [f64; 2]| {
            let q = d[0] * d[0] + d[1] * d[1];
            let normal = (-0.5 * q).exp() / std::f64::consts::TAU;
            let all: f64 = (0..6).map(|i| (-0.125 * f64::from(i * i)).exp()).sum();
            let heavy: f64 = (0..6)
                .flat_map(|i| [1.0, 2.0, 4.0].map(|v| (f64::from(i) / 2.0, v)))
                .map(|(off, v)| {
                    let like = 2.0 * std::f64::consts::LN_2 / (v * (2_f64.powf(2.0 / v) - 1.0));
                    let square = usual * usual * like * (2.0 * unsure * off).exp();
                    let share = (-0.5 * off * off).exp() / all / 3.0;
                    share * (1.0 + q / (v * square)).powf(-0.5 * v - 1.0) / (std::f64::consts::TAU * square)
                })
                .sum();
            let read = (-0.5 * (d.map(|d| d - value).map(|o| o * o)[0] + (d[1] - value).powi(2)) / noise.powi(2)).exp();
            let w = read * (0.1 * normal + 0.9 * heavy);
            sum += w;
            mean += w * d[0];
        };
        for i in -60..=60 {
            (-60..=60).for_each(|j| density([i, j].map(|k| value + noise * f64::from(k) / 10.0)));
        }
        mean / sum
    }

    #[test]
    fn one_place_is_believed_as_quadrature_says() {
        for (value, noise) in [(0.5, 0.7), (2.5, 0.7), (4.0, 1.0)] {
            let want = by_quadrature(value, noise, 0.4, 0.8);
            let chains = 60;
            let patterns: Vec<Option<Pattern>> = (0..chains)
                .flat_map(|i| read(&[Some((value, noise)); 2], 0.4, 0.8, &format!("chain {i} of {value}")))
                .collect();
            let plain = value / (1.0 + noise * noise);
            let means: Vec<f64> = patterns.iter().map(|p| p.as_ref().map_or(plain, |p| p.mean[0])).collect();
            let per_chain: Vec<f64> = means.chunks(KEPT).map(|c| c.iter().sum::<f64>() / count(c.len())).collect();
            let (mean, error) = (
                crate::numeric::summary::mean(&per_chain),
                crate::numeric::summary::sd(&per_chain) / count(chains).sqrt(),
            );
            assert!((mean - want).abs() < 3.5 * error + 0.01, "{value}: {mean} +-{error}, {want} by quadrature");
            assert!(error < 0.05, "{error}");
        }
    }

    #[test]
    fn one_sharp_place_does_not_make_the_others_rough() {
        // twelve places, of which every other one is read: one is bent by 8, the others by next to nothing
        let read_at = |i: usize| (i / 2).is_multiple_of(2).then_some((if i / 2 == 4 { 8.0 } else { 0.0 }, 0.05));
        let values: Vec<Option<(f64, f64)>> = (0..24).map(read_at).collect();
        let patterns = read(&values, 0.1, 0.8, "bent");
        assert!(patterns.iter().all(Option::is_some), "a normal law of 1 has no bend of 8");
        let all = drawn(&patterns, &DVector::from_vec, 20);
        let mut unread: Vec<f64> =
            all.iter().flat_map(|d| (0..6).map(|j| d[4 * j + 2].abs()).collect::<Vec<_>>()).collect();
        unread.sort_by(f64::total_cmp);
        // half of a normal law of 1 lies within 0.67
        assert!(unread[unread.len() / 2] < 0.2, "{}", unread[unread.len() / 2]);
        assert!(unread[unread.len() - unread.len() / 100] > 1.0, "another may be bent, too");
        let bent = all.iter().map(|d| d[8]).sum::<f64>() / count(all.len());
        assert!((bent - 8.0).abs() < 0.05, "{bent}");
    }

    #[test]
    fn the_same_name_gives_the_same_patterns() {
        let means = |name: &str| -> Vec<Option<DVector<f64>>> {
            read(&[Some((1.0, 0.5)), None, None, None], 0.5, 0.8, name).into_iter().map(|p| p.map(|p| p.mean)).collect()
        };
        assert_eq!(means("A"), means("A"));
        assert_ne!(means("A"), means("B"));
    }
}
