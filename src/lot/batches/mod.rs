//! A lot in piles, each for one sharpening of the edge tools.
//!
//! Tubes are divided so that the piles are as alike as can be in expected blanks (or weight), by
//! [`divide`] with its proven bounds; then tubes are exchanged one for one while that brings
//! the piles' mean lengths together and the spread grows by no more than [`GIVEN_BLANKS`]. What a pile gives is added draw by
//! draw, as in the forecast.

mod counted;
mod mixed;
mod value;

pub use value::{BatchError, BatchRules, Batches, CountedBy, DividedBy, LeftOut, Pile, PiledTube};

use super::assessed::Assessed;
use super::json::FORMAT;
use super::json::pretty;
use crate::decide::by_eye::by_eye;
use crate::domain::Phrase;
use crate::numeric::partition::{Division, divide, divide_for_least_largest};
use crate::numeric::summary::{count, mean, ninety, to_index};
use counted::{Counted, counted, left};
use mixed::Mixing;

/// Blanks by which the spread may grow so that lengths are mixed. Own choice: a quarter of a blank is less than anybody can
/// tell.
pub const GIVEN_BLANKS: f64 = 0.25;
/// The same for weights and lengths, as a share of the mean pile.
const GIVEN_SHARE: f64 = 0.01;

impl Assessed {
    /// The lot in piles.
    ///
    /// Without a plan for any tube the piles are alike in weight, or in length where nothing is weighed, and their blanks are
    /// not known.
    ///
    /// # Errors
    /// [`BatchError`] where nothing says how many piles there are to be.
    ///
    /// # Example
    /// ```
    /// use quarterlight::lot::BatchRules;
    /// use quarterlight::{Options, assess};
    /// let options = Options { tubes: vec!["G1".into(), "G2".into()], ..Options::default() };
    /// let plan = assess("data-samples/grid".as_ref(), &options, &|_| ())?;
    /// let batches = plan.batches(&BatchRules { piles: Some(2), ..BatchRules::default() })?;
    /// assert_eq!(batches.piles.len(), 2);
    /// assert!(batches.spread_bound <= batches.spread);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn batches(&self, rules: &BatchRules) -> Result<Batches, BatchError> {
        let all = counted(&self.outcomes, &self.lot, self.options);
        let by = divided_by(&all, rules.by);
        let mut left_out = Vec::new();
        let mut tubes: Vec<Counted> = Vec::new();
        for c in all {
            let outcome = &self.outcomes[c.place];
            let no_size = || c.size(by).is_none().then(|| Phrase::new(no_size(by)));
            match left(outcome).filter(|_| !rules.all_tubes).or_else(no_size) {
                Some(why) => {
                    left_out.push(LeftOut { tube: outcome.tube.clone(), expected_blanks: c.expected, why });
                }
                None => tubes.push(c),
            }
        }
        let ask = Ask { by, piles: rules.piles, life: self.lot.edge_life };
        let made = ask.made(&tubes)?;
        let largest = made.sums.iter().copied().fold(0.0, f64::max);
        let names = |c: &&Counted| ask.life.is_some_and(|life| c.expected.is_some_and(|e| e > life));
        let name = |c: &Counted| self.outcomes[c.place].tube.clone();
        Ok(Batches {
            format: FORMAT,
            options: self.options,
            lot: self.lot.name.clone(),
            divided_by: by,
            piles_asked: rules.piles,
            edge_life: ask.life,
            spread: made.spread(),
            // sums in another order differ in their last digit: what is found stands before what is proved
            spread_bound: made.division.spread_bound.min(made.spread()),
            largest,
            largest_bound: made.division.largest_bound.min(largest),
            given_for_length: (made.spread() - made.division.spread).max(0.0),
            beyond_edge_life: tubes.iter().filter(names).map(name).collect(),
            piles: made.piles.iter().enumerate().map(|(i, p)| self.pile(i, p, made.sums[i], &tubes)).collect(),
            left_out,
        })
    }

    fn pile(&self, i: usize, places: &[usize], size: f64, tubes: &[Counted]) -> Pile {
        let tubes: Vec<&Counted> = places.iter().map(|t| &tubes[*t]).collect();
        let expected_blanks = tubes.iter().map(|c| c.expected).sum::<Option<f64>>();
        let draws: Option<Vec<&Vec<f64>>> = tubes.iter().map(|c| c.draws.as_ref()).collect();
        let draws = draws.filter(|d| !d.is_empty()).map(|d| {
            let of_draw = |k: usize| d.iter().map(|t| t.get(k).copied().unwrap_or(0.0)).sum::<f64>();
            (0..d.iter().map(|t| t.len()).max().unwrap_or(0)).map(of_draw).collect::<Vec<f64>>()
        });
        let interval = draws.as_ref().map(|d| ninety(d));
        let outlasts = draws
            .as_ref()
            .zip(self.lot.edge_life)
            .map(|(d, life)| count(d.iter().filter(|n| **n <= life + 1e-9).count()) / count(d.len()));
        let lengths: Vec<f64> = tubes.iter().filter_map(|c| c.length_mm).collect();
        let weights: Vec<f64> = tubes.iter().filter_map(|c| c.weight_g).collect();
        let piled: Vec<PiledTube> = tubes.iter().map(|c| self.piled(c)).collect();
        let known = |get: fn(&PiledTube) -> Option<f64>| {
            let all: Vec<f64> = piled.iter().filter_map(get).collect();
            (!all.is_empty()).then(|| all.iter().sum::<f64>() + 0.0)
        };
        Pile {
            pile: i + 1,
            size,
            expected_blanks,
            low: interval.map(|x| x.0),
            high: interval.map(|x| x.1),
            outlasts,
            mean_length_mm: (!lengths.is_empty()).then(|| mean(&lengths)),
            weight_g: (!weights.is_empty()).then(|| weights.iter().sum()),
            unweighed: tubes.len() - weights.len(),
            measuring_minutes: known(|t| t.measuring_minutes),
            over_by_eye: known(|t| t.over_by_eye),
            splitting_minutes: self.lot.split_minutes * count(piled.len()),
            tubes: piled,
        }
    }

    fn piled(&self, c: &Counted) -> PiledTube {
        let plan = self.outcomes[c.place].plan.as_deref().ok();
        let of_plan = plan.map(|p| p.split.as_ref().map_or((0.0, 0.0), |s| s.interval));
        let interval = of_plan.or_else(|| c.draws.as_ref().map(|d| ninety(d)));
        PiledTube {
            tube: self.outcomes[c.place].tube.clone(),
            counted_by: c.by,
            expected_blanks: c.expected,
            low: interval.map(|i| i.0),
            high: interval.map(|i| i.1),
            length_mm: c.length_mm,
            weight_g: c.weight_g,
            measuring_minutes: plan.and_then(|p| p.minutes),
            over_by_eye: plan.and_then(|p| Some(p.expected() - by_eye(p)?)),
        }
    }
}

impl Batches {
    /// As JSON, indented; lengths in mm, weights in g.
    #[must_use]
    pub fn to_json(&self) -> String {
        pretty(self)
    }

    /// Tubes in the piles whose blanks are counted like this.
    #[must_use]
    pub fn counted_by(&self, by: CountedBy) -> Vec<&str> {
        let tubes = self.piles.iter().flat_map(|p| &p.tubes);
        tubes.filter(|t| t.counted_by == by).map(|t| t.tube.as_str()).collect()
    }

    /// The pile a tube lies in; `None` where it is left out.
    #[must_use]
    pub fn pile_of(&self, tube: &str) -> Option<usize> {
        self.piles.iter().find(|p| p.tubes.iter().any(|t| t.tube == tube)).map(|p| p.pile)
    }

    /// Whether no division has piles that are closer, to a thousandth.
    #[must_use]
    pub fn closest(&self) -> bool {
        self.spread - self.spread_bound < 1e-3
    }
}

/// What is known of all: what was asked, or weights, or lengths.
fn divided_by(all: &[Counted], asked: DividedBy) -> DividedBy {
    let known = |by: &DividedBy| all.iter().any(|c| c.size(*by).is_some());
    let usual = [DividedBy::Weight, DividedBy::Length];
    [asked].into_iter().chain(usual).find(known).unwrap_or(asked)
}

fn no_size(by: DividedBy) -> &'static str {
    match by {
        DividedBy::Blanks => "not measured, and neither its weight nor its length tells how many blanks it may give",
        DividedBy::Weight => "its weight is not known, and no length tells it",
        DividedBy::Length => "its length is not known",
    }
}

/// How many piles, of what.
struct Ask {
    by: DividedBy,
    piles: Option<usize>,
    life: Option<f64>,
}

/// Piles of tubes by their place among those that go in.
struct Made {
    division: Division,
    piles: Vec<Vec<usize>>,
    sums: Vec<f64>,
}

impl Made {
    fn spread(&self) -> f64 {
        let most = self.sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = self.sums.iter().copied().fold(f64::INFINITY, f64::min);
        if self.sums.is_empty() { 0.0 } else { most - least }
    }
}

impl Ask {
    fn made(&self, tubes: &[Counted]) -> Result<Made, BatchError> {
        let sizes: Vec<f64> = tubes.iter().map(|c| c.size(self.by).unwrap_or(0.0)).collect();
        let blanks: Option<Vec<f64>> = tubes.iter().map(|c| c.expected).collect();
        let division = match (self.piles, self.life, &blanks) {
            (Some(n), ..) => self.divided(&sizes, n.min(tubes.len())),
            (None, None, _) => return Err(BatchError::HowMany),
            (None, Some(life), Some(blanks)) => self.for_life(&sizes, blanks, life),
            (None, Some(_), None) => return Err(BatchError::NoBlanks),
        };
        let mut piles = division.piles.clone();
        let lengths: Vec<Option<f64>> = tubes.iter().map(|c| c.length_mm).collect();
        let given = match self.by {
            DividedBy::Blanks => GIVEN_BLANKS,
            _ => GIVEN_SHARE * mean(&division.sums),
        };
        Mixing {
            sizes: &sizes,
            lengths: &lengths,
            blanks: blanks.as_deref().zip(self.life),
            spread: division.spread + given,
        }
        .mix(&mut piles);
        for p in &mut piles {
            p.sort_unstable();
        }
        piles.sort_by_key(|p| p.first().copied().unwrap_or(usize::MAX));
        let sums = piles.iter().map(|p| p.iter().map(|t| sizes[*t]).sum()).collect();
        Ok(Made { division, piles, sums })
    }

    /// No piles of nothing; sizes of tubes are finite and not negative, so nothing else is refused.
    fn divided(&self, sizes: &[f64], piles: usize) -> Division {
        divide(sizes, piles).unwrap_or_else(|_| nothing())
    }

    /// The fewest piles that the edge outlasts in expectation, those of a single tube aside.
    fn for_life(&self, sizes: &[f64], blanks: &[f64], life: f64) -> Division {
        let fits = |d: &Division| {
            let of = |p: &Vec<usize>| p.iter().map(|t| blanks[*t]).sum::<f64>();
            d.piles.iter().all(|p| p.len() < 2 || of(p) <= life + 1e-9)
        };
        let least = to_index((blanks.iter().sum::<f64>() / life - 1e-9).ceil()).clamp(1, sizes.len().max(1));
        for piles in least..=sizes.len() {
            let d = self.divided(sizes, piles);
            if fits(&d) {
                return d;
            }
            if self.by == DividedBy::Blanks
                && d.largest_bound <= life
                && let Ok(d) = divide_for_least_largest(sizes, piles)
                && fits(&d)
            {
                return d;
            }
        }
        self.divided(sizes, sizes.len())
    }
}

fn nothing() -> Division {
    Division {
        piles: Vec::new(),
        sums: Vec::new(),
        spread: 0.0,
        spread_bound: 0.0,
        largest: 0.0,
        largest_bound: 0.0,
        proved: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tubes of so many blanks and mm, each blank weighing 5 g.
    fn tubes(of: &[(f64, f64)]) -> Vec<Counted> {
        let one = |(place, (blanks, length)): (usize, &(f64, f64))| Counted {
            place,
            by: CountedBy::Measured,
            expected: Some(*blanks),
            draws: Some(vec![*blanks]),
            length_mm: Some(*length),
            weight_g: Some(5.0 * blanks),
            likely_weight_g: Some(5.0 * blanks),
        };
        of.iter().enumerate().map(one).collect()
    }

    fn ask(piles: Option<usize>, life: Option<f64>) -> Ask {
        Ask { by: DividedBy::Blanks, piles, life }
    }

    #[test]
    fn as_many_piles_as_the_edge_asks() {
        let list = tubes(&[(4.0, 180.0), (5.0, 180.0), (6.0, 180.0), (7.0, 180.0), (8.0, 180.0)]);
        let piles = |life: f64| ask(None, Some(life)).made(&list).expect("an edge life").piles.len();
        // 30 blanks: one pile, or two of 15
        assert_eq!([30.0, 29.0, 15.0].map(piles), [1, 2, 2]);
        // three piles of 8, 7 + 4 and 6 + 5; below 11 it takes four
        assert_eq!([14.9, 11.0, 10.9].map(piles), [3, 3, 4]);
        // no two tubes are within 8: each alone
        assert_eq!([8.0, 1.0].map(piles), [5, 5]);
    }

    #[test]
    fn a_life_that_only_the_less_alike_piles_keep_is_kept() {
        // the closest piles are 17, 18 and 22; 15, 21 and 21 are less alike, but the edge outlasts them
        let list = tubes(&[15.0, 11.0, 10.0, 7.0, 7.0, 7.0].map(|b| (b, 180.0)));
        let sums = |piles, life| {
            let mut sums = ask(piles, life).made(&list).expect("how many").sums;
            sums.sort_by(f64::total_cmp);
            sums
        };
        assert_eq!(sums(Some(3), None), [17.0, 18.0, 22.0]);
        assert_eq!(sums(None, Some(21.0)), [15.0, 21.0, 21.0]);
        assert_eq!(
            ask(None, Some(21.0)).made(&list).expect("a life").division.spread_bound.to_bits(),
            5.0_f64.to_bits()
        );
    }

    #[test]
    fn no_tubes_one_tube_and_more_piles_than_tubes() {
        assert!(ask(Some(3), None).made(&[]).expect("a number").piles.is_empty());
        assert!(ask(None, Some(60.0)).made(&[]).expect("a life").piles.is_empty());
        let one = tubes(&[(4.0, 180.0)]);
        assert_eq!(ask(Some(3), None).made(&one).expect("a number").piles, [vec![0]]);
        assert_eq!(ask(None, Some(60.0)).made(&one).expect("a life").piles, [vec![0]]);
        assert_eq!(ask(None, None).made(&one).err(), Some(BatchError::HowMany));
        let mut unknown = one;
        unknown[0].expected = None;
        assert_eq!(ask(None, Some(60.0)).made(&unknown).err(), Some(BatchError::NoBlanks));
    }

    #[test]
    fn lengths_are_mixed_within_a_quarter_of_a_blank() {
        // as alike as can be: (5.0 + 5.1), (5.1 + 5.0); the long ones together or apart is all one to the blanks
        let list = tubes(&[(5.0, 220.0), (5.1, 220.0), (5.1, 150.0), (5.0, 150.0)]);
        let made = ask(Some(2), None).made(&list).expect("a number");
        let means: Vec<f64> = made
            .piles
            .iter()
            .map(|p| mean(&p.iter().filter_map(|t| list[*t].length_mm).collect::<Vec<f64>>()))
            .collect();
        assert_eq!(means, [185.0, 185.0]);
        assert!(made.spread() <= GIVEN_BLANKS + 1e-12 && made.division.spread_bound.abs() < 1e-12);
    }
}
