//! What each tube counts for: blanks of its own plan, or the measured tubes' blanks per gram or per millimetre.
//!
//! A tube of size x that nobody measured gives b x blanks with a variance of s^2 x, and b itself is off by a variance of
//! s^2 / X, with X, b and s^2 those of the measured tubes as in [`whole`](super::super::whole): the tubes that the screening
//! leaves are among them, since an unmeasured one may be such a tube too. Every draw has its own b and s, a deviate shared by
//! all unmeasured tubes (what is not known of b, and of s by a chi-squared number) and one of each tube's own.

use super::super::counting::worth_splitting;
use super::super::outcome::TubeOutcome;
use super::super::spent::weight_of;
use super::super::terms::Terms;
use super::super::whole::room;
use super::value::{CountedBy, DividedBy};
use crate::decide::plan::{PlanOptions, TubePlan};
use crate::domain::Phrase;
use crate::numeric::draws::{normals, stream};
use crate::numeric::summary::{count, mean};
use rand_distr::{ChiSquared, Distribution};

/// A tube that goes into a pile.
#[derive(Debug, Clone)]
pub(super) struct Counted {
    /// Its place in the lot.
    pub(super) place: usize,
    pub(super) by: CountedBy,
    pub(super) expected: Option<f64>,
    /// Blanks of every draw; `None` where nothing tells how far tubes differ.
    pub(super) draws: Option<Vec<f64>>,
    pub(super) length_mm: Option<f64>,
    pub(super) weight_g: Option<f64>,
    /// Its weight, or what its length says of it.
    pub(super) likely_weight_g: Option<f64>,
}

impl Counted {
    /// What it counts in a division.
    pub(super) fn size(&self, by: DividedBy) -> Option<f64> {
        match by {
            DividedBy::Blanks => self.expected,
            DividedBy::Weight => self.likely_weight_g,
            DividedBy::Length => self.length_mm,
        }
    }
}

/// Why the screening keeps a tube out; `None` where it does not.
pub(super) fn left(o: &TubeOutcome) -> Option<Phrase> {
    let plan = o.plan.as_deref().ok().filter(|p| !worth_splitting(p))?;
    Some(Phrase::new("leave: ").then(plan.screen.reason.clone()))
}

/// Every tube of a lot, counted, in the lot's order.
pub(super) fn counted(outcomes: &[TubeOutcome], terms: &Terms, options: PlanOptions) -> Vec<Counted> {
    let draws = outcomes.iter().filter_map(|o| o.plan.as_deref().ok()?.split.as_ref()).map(|s| s.draws.len()).max();
    let draws = draws.unwrap_or(1);
    let ratio = |size: fn(&TubeOutcome) -> Option<f64>| {
        let pairs: Vec<(&TubePlan, f64)> =
            outcomes.iter().filter_map(|o| Some((o.plan.as_deref().ok()?, size(o)?))).collect();
        let sizes: Vec<f64> = pairs.iter().map(|p| p.1).collect();
        let expected: Vec<f64> = pairs.iter().map(|p| p.0.expected()).collect();
        let of_draw = |k: usize| pairs.iter().map(|p| p.0.blanks_of_draw(k)).collect::<Vec<f64>>();
        Ratio::of(&sizes, &expected, draws, of_draw, options.seed)
    };
    let (by_weight, by_length) = (ratio(weight_of), ratio(length_of));
    let per_mm = weight_per_mm(outcomes);
    let one = |(place, o): (usize, &TubeOutcome)| {
        let (length_mm, weight_g) = (length_of(o), weight_of(o));
        let likely_weight_g = weight_g.or_else(|| Some(length_mm? * per_mm?));
        let most = length_mm.map_or(f64::INFINITY, |l| room(l, terms));
        let counted = |by, ratio: &Ratio, x: f64| {
            (by, Some(ratio.expected(x).min(most)), ratio.draws(x, most, &o.tube, options.seed))
        };
        let (by, expected, draws) = match (&o.plan, weight_g, &by_weight, length_mm, &by_length) {
            (Ok(p), ..) => {
                let of_draws = (0..draws).map(|k| p.blanks_of_draw(k)).collect();
                (CountedBy::Measured, Some(p.expected()), Some(of_draws))
            }
            (Err(_), Some(w), Some(ratio), ..) => counted(CountedBy::Weight, ratio, w),
            (Err(_), _, _, Some(l), Some(ratio)) => counted(CountedBy::Length, ratio, l),
            _ => (CountedBy::Nothing, None, None),
        };
        Counted { place, by, expected, draws, length_mm, weight_g, likely_weight_g }
    };
    outcomes.iter().enumerate().map(one).collect()
}

fn length_of(o: &TubeOutcome) -> Option<f64> {
    Some(o.length_mm).filter(|l| *l > 0.0)
}

/// Mean weight of a millimetre over the tubes that have both.
fn weight_per_mm(outcomes: &[TubeOutcome]) -> Option<f64> {
    let all: Vec<f64> = outcomes.iter().filter_map(|o| Some(weight_of(o)? / length_of(o)?)).collect();
    (!all.is_empty()).then(|| mean(&all))
}

/// Blanks per size of the measured tubes.
struct Ratio {
    each: f64,
    /// Of every draw: blanks per size, off by what is not known of it, and the spread of a tube about it; none with a single
    /// measured tube.
    of_draws: Vec<(f64, f64)>,
}

impl Ratio {
    /// From the sizes, all above 0, of the measured tubes and their blanks; `None` without any.
    fn of(
        sizes: &[f64],
        expected: &[f64],
        draws: usize,
        of_draw: impl Fn(usize) -> Vec<f64>,
        seed: u64,
    ) -> Option<Ratio> {
        let held: f64 = sizes.iter().sum();
        if held <= 0.0 {
            return None;
        }
        let each = |blanks: &[f64]| blanks.iter().sum::<f64>() / held;
        let free = count(sizes.len()) - 1.0;
        let of_draws = match ChiSquared::new(free) {
            Err(_) => Vec::new(),
            Ok(chi) => (0..draws)
                .map(|k| {
                    let blanks = of_draw(k);
                    let b = each(&blanks);
                    let off = |(y, x): (&f64, &f64)| (y - b * x).powi(2) / x;
                    let spread = blanks.iter().zip(sizes).map(off).sum::<f64>() / free;
                    let mut rng = stream(seed, "blanks per size", k as u64);
                    let z = normals(&mut rng, 1)[0];
                    let s = (spread * free / chi.sample(&mut rng)).sqrt();
                    (b + z * s / held.sqrt(), s)
                })
                .collect(),
        };
        Some(Ratio { each: each(expected), of_draws })
    }

    fn expected(&self, size: f64) -> f64 {
        self.each * size
    }

    /// Blanks of a tube nobody measured in every draw, never fewer than none nor more than `most`.
    fn draws(&self, size: f64, most: f64, tube: &str, seed: u64) -> Option<Vec<f64>> {
        let own = |k: usize| normals(&mut stream(seed, &format!("batch of {tube}"), k as u64), 1)[0];
        let one = |(k, (b, s)): (usize, &(f64, f64))| (b * size + own(k) * s * size.sqrt()).clamp(0.0, most);
        (!self.of_draws.is_empty()).then(|| self.of_draws.iter().enumerate().map(one).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::summary::{ninety, sd};

    #[test]
    fn a_tube_nobody_measured_is_counted_by_hand() {
        // 4 and 8 blanks of 20 and 30 g: 0.24 a gram; 25 g: 6 blanks
        let r = Ratio::of(&[20.0, 30.0], &[4.0, 8.0], 3, |_| vec![4.0, 8.0], 1).expect("measured");
        assert!((r.expected(25.0) - 6.0).abs() < 1e-12);
        assert_eq!(r.draws(25.0, 9.0, "A", 1).expect("two tubes").len(), 3);
        // one measured tube says nothing of how far tubes differ, none says nothing at all
        let r = Ratio::of(&[20.0], &[4.0], 3, |_| vec![4.0], 1).expect("measured");
        assert!((r.expected(25.0) - 5.0).abs() < 1e-12 && r.draws(25.0, 9.0, "A", 1).is_none());
        assert!(Ratio::of(&[], &[], 3, |_| Vec::new(), 1).is_none());
    }

    #[test]
    fn its_spread_is_that_of_the_measured_tubes_about_the_ratio() {
        // 40 tubes of 25 g, 20 with 4 and 20 with 6 blanks: b = 0.2, s^2 = 40 / 25 / 39 = 0.041, so a tube of 25 g is off by
        // (0.041 * 25 * (1 + 25 / 1000))^1/2 = 1.025, a little more for what 39 degrees of freedom leave open of s
        let blanks: Vec<f64> = (0..40).map(|i| if i % 2 == 0 { 4.0 } else { 6.0 }).collect();
        let r = Ratio::of(&[25.0; 40], &blanks, 4000, |_| blanks.clone(), 1).expect("measured");
        let draws = r.draws(25.0, f64::INFINITY, "A", 1).expect("forty tubes");
        assert!((mean(&draws) - 5.0).abs() < 0.06, "{}", mean(&draws));
        assert!((sd(&draws) - 1.04).abs() < 0.04, "{}", sd(&draws));
        // the same again, and another tube another
        assert_eq!(r.draws(25.0, f64::INFINITY, "A", 1), Some(draws.clone()));
        assert_ne!(r.draws(25.0, f64::INFINITY, "B", 1), Some(draws));
        let (low, high) = ninety(&r.draws(1.0, 0.5, "A", 1).expect("forty tubes"));
        assert!(low >= 0.0 && high <= 0.5);
    }
}
