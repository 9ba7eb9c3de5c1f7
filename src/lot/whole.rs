//! Blanks of a whole lot of which only some tubes are measured.
//!
//! What the unmeasured tubes give is predicted by their size, `x`: tube `i` gives `b x_i` blanks on average with a variance in
//! proportion to `x_i`, so `b` is the measured tubes' blanks over their size, and what the rest gives is off by a variance of
//! `s^2 X (X + X_m) / X_m`, with `X` the size of the rest, `X_m` that of the measured and `s^2` the mean of `(y_i - b x_i)^2 /
//! x_i` over `n - 1` (R. M. Royall, Biometrika 57 (1970) 377-387: the ratio estimator as a prediction; from memory). As the
//! rest shrinks to nothing, so does its doubt: the lot is finite. All of it is done draw by draw, so that what the readings
//! leave open and what is common to the lot's tubes stays in; the deviate is a Student t of `n - 1` degrees of freedom.

use super::interval::{Interval, cost};
use super::outcome::TubeOutcome;
use super::spent::weight_of;
use super::terms::Terms;
use crate::decide::plan::TubePlan;
use crate::domain::WEIGHT_TOLERANCE;
use crate::numeric::summary::{count, mean, ninety, sd};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Measured tubes from which the size that predicts best is chosen by leaving each of them out once.
const CHOOSE_FROM: usize = 5;
/// Another size than weight is taken where its errors, squared, are below this share of weight's.
const BETTER: f64 = 0.9;
/// Means of measured tubes and of the rest that are further apart than so many standard errors are told.
const UNLIKE: f64 = 2.5;

/// By what size the unmeasured tubes are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SizedBy {
    /// Weight.
    Weight,
    /// Blank lengths that fit into the tube end to end, times its pieces.
    Room,
    /// Every tube as any other.
    Tube,
}

/// In what the measured tubes are not like the rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Unlike {
    /// Mean length of the measured tubes and of the rest, mm.
    pub length_mm: Option<[f64; 2]>,
    /// Mean weight, g.
    pub weight_g: Option<[f64; 2]>,
}

/// What a whole lot is expected to give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", from = "Stored")]
pub struct WholeLot {
    /// Tubes listed.
    pub tubes: usize,
    /// Of those, measured.
    pub measured: usize,
    /// Bought beyond the tubes listed, g.
    pub unlisted_g: f64,
    /// By what the rest is counted.
    pub sized_by: SizedBy,
    /// Blanks of all.
    pub blanks: Interval,
    /// Blanks per kilogram; `None` where the weight of a tube is missing and no bought weight stands for it.
    pub per_kg: Option<Interval>,
    /// Price over blanks; `None` without a price, or where the tubes weigh more than was bought.
    pub cost_per_blank: Option<Interval>,
    /// `None` where nothing known sets the measured tubes apart.
    pub unlike: Option<Unlike>,
}

/// A [`WholeLot`] as stored: one name a number. A cost without limit is no number, so it is null.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    tubes: usize,
    measured: usize,
    unlisted_g: f64,
    sized_by: SizedBy,
    blanks: f64,
    low: f64,
    high: f64,
    blanks_per_kg: Option<[f64; 3]>,
    cost_per_blank: Option<[Option<f64>; 3]>,
    unlike: Option<Unlike>,
}

impl From<WholeLot> for Stored {
    fn from(w: WholeLot) -> Stored {
        let finite = |x: f64| Some(x).filter(|x| x.is_finite());
        Stored {
            tubes: w.tubes,
            measured: w.measured,
            unlisted_g: w.unlisted_g,
            sized_by: w.sized_by,
            blanks: w.blanks.expected,
            low: w.blanks.low,
            high: w.blanks.high,
            blanks_per_kg: w.per_kg.map(|i| [i.expected, i.low, i.high]),
            cost_per_blank: w.cost_per_blank.map(|i| [i.expected, i.low, i.high].map(finite)),
            unlike: w.unlike,
        }
    }
}

impl From<Stored> for WholeLot {
    fn from(s: Stored) -> WholeLot {
        let of = |[expected, low, high]: [f64; 3]| Interval { expected, low, high };
        WholeLot {
            tubes: s.tubes,
            measured: s.measured,
            unlisted_g: s.unlisted_g,
            sized_by: s.sized_by,
            blanks: of([s.blanks, s.low, s.high]),
            per_kg: s.blanks_per_kg.map(of),
            cost_per_blank: s.cost_per_blank.map(|c| of(c.map(|x| x.unwrap_or(f64::INFINITY)))),
            unlike: s.unlike,
        }
    }
}

/// A measured tube: blanks expected, its plan for the draws, its sizes.
struct Measured<'a> {
    plan: &'a TubePlan,
    outcome: &'a TubeOutcome,
}

/// What the lot gives with its unmeasured tubes; `None` where every tube is measured, or fewer than two are.
pub(super) fn whole_lot(outcomes: &[TubeOutcome], terms: &Terms) -> Option<WholeLot> {
    let measured: Vec<Measured<'_>> =
        outcomes.iter().filter_map(|o| Some(Measured { plan: o.plan.as_deref().ok()?, outcome: o })).collect();
    let rest: Vec<&TubeOutcome> = outcomes.iter().filter(|o| o.plan.is_err()).collect();
    let listed: Option<f64> = outcomes.iter().map(weight_of).sum();
    let unlisted_g = match (terms.bought_weight_g, listed) {
        (Some(bought), Some(listed)) if bought > listed * (1.0 + WEIGHT_TOLERANCE) => bought - listed,
        _ => 0.0,
    };
    if measured.len() < 2 || (rest.is_empty() && unlisted_g <= 0.0) {
        return None;
    }
    let sized_by = best_size(&measured, outcomes, terms, unlisted_g > 0.0);
    let size = |o: &TubeOutcome| size_of(o, sized_by, terms).unwrap_or(0.0);
    let sizes: Vec<f64> = measured.iter().map(|m| size(m.outcome)).collect();
    let open: f64 = rest.iter().map(|o| size(o)).sum::<f64>() + unlisted_g;
    if sizes.iter().sum::<f64>() <= 0.0 {
        return None;
    }
    // no tube gives more than what fits into it
    let room = || rest.iter().map(|o| size_of(o, SizedBy::Room, terms)).sum::<Option<f64>>();
    let most = if unlisted_g > 0.0 { None } else { room() }.unwrap_or(f64::INFINITY);
    let rest_of = Rest { sizes, open, most };
    let expected: Vec<f64> = measured.iter().map(|m| m.plan.expected()).collect();
    let expected = rest_of.total(&expected, 0.0);
    let draws = measured.iter().filter_map(|m| m.plan.split.as_ref()).map(|s| s.draws.len()).max().unwrap_or(0);
    let draw = |k: usize| -> Vec<f64> { measured.iter().map(|m| m.plan.blanks_of_draw(k)).collect() };
    let (low, high) = rest_of.interval(draw, draws).unwrap_or((expected, expected));
    let blanks = Interval { expected, low, high };
    let fits = |bought: &f64| listed.is_none_or(|l| l <= bought * (1.0 + WEIGHT_TOLERANCE));
    let bought = terms.bought_weight_g.filter(|b| *b > 0.0);
    let weight = bought.filter(fits).or(listed);
    let price = terms.price.filter(|_| bought.is_none_or(|b| fits(&b)));
    Some(WholeLot {
        tubes: outcomes.len(),
        measured: measured.len(),
        unlisted_g,
        sized_by,
        blanks,
        per_kg: weight.filter(|w| *w > 0.0).map(|w| blanks.scaled(1000.0 / w)),
        cost_per_blank: price.and_then(|p| cost(p, &blanks)),
        unlike: unlike(&measured, &rest),
    })
}

/// The measured tubes' sizes, and how much is not measured.
struct Rest {
    sizes: Vec<f64>,
    /// Size of what is not measured.
    open: f64,
    /// Blanks it has room for.
    most: f64,
}

impl Rest {
    /// Blanks of the lot where the measured tubes give these, the rest `t` standard errors beyond what is expected of it.
    fn total(&self, blanks: &[f64], t: f64) -> f64 {
        let (known, held): (f64, f64) = (blanks.iter().sum(), self.sizes.iter().sum());
        let each = known / held;
        let off = |(y, x): (&f64, &f64)| if *x > 0.0 { (y - each * x).powi(2) / x } else { 0.0 };
        let spread =
            blanks.iter().zip(&self.sizes).map(off).sum::<f64>() / count(blanks.len().saturating_sub(1).max(1));
        let error = (spread * self.open * (self.open + held) / held).sqrt();
        known + (each * self.open + t * error).clamp(0.0, self.most)
    }

    /// The 90 % interval of that over draws; `None` without any.
    fn interval(&self, draw: impl Fn(usize) -> Vec<f64>, draws: usize) -> Option<(f64, f64)> {
        let student = StudentsT::new(0.0, 1.0, count(self.sizes.len().saturating_sub(1).max(1))).ok()?;
        let totals: Vec<f64> = (0..draws).map(|k| self.total(&draw(k), student.inverse_cdf(even_part(k)))).collect();
        (!totals.is_empty()).then(|| ninety(&totals))
    }
}

/// A place between 0 and 1 for every draw: multiples of the golden ratio, which fill the line evenly however many there are.
fn even_part(k: usize) -> f64 {
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    ((count(k) + 0.5) * golden).fract().clamp(1e-6, 1.0 - 1e-6)
}

fn size_of(o: &TubeOutcome, by: SizedBy, terms: &Terms) -> Option<f64> {
    match by {
        SizedBy::Weight => weight_of(o),
        SizedBy::Room => (o.length_mm > 0.0).then(|| room(o.length_mm, terms)),
        SizedBy::Tube => Some(1.0),
    }
}

/// Blanks that fit into a tube if every stretch of it were good.
pub(super) fn room(length_mm: f64, terms: &Terms) -> f64 {
    let (blank, kerf, trim) = (terms.target.blank_length_mm, terms.saw.kerf_mm, terms.saw.trim_mm);
    let in_a_row = ((length_mm - 2.0 * trim + kerf) / (blank + kerf) + 1e-9).floor().max(0.0);
    in_a_row * count(terms.target.pieces)
}

/// The size by which each measured tube is predicted best from the others; weight where it is known of all and nothing is
/// clearly better.
fn best_size(measured: &[Measured<'_>], all: &[TubeOutcome], terms: &Terms, unlisted: bool) -> SizedBy {
    let known = |by: SizedBy| all.iter().all(|o| size_of(o, by, terms).is_some());
    if unlisted {
        return SizedBy::Weight;
    }
    let usual = [SizedBy::Weight, SizedBy::Room].into_iter().find(|by| known(*by)).unwrap_or(SizedBy::Tube);
    if measured.len() < CHOOSE_FROM {
        return usual;
    }
    let missed = |by: SizedBy| -> f64 {
        let pairs: Vec<(f64, f64)> =
            measured.iter().map(|m| (m.plan.expected(), size_of(m.outcome, by, terms).unwrap_or(0.0))).collect();
        let (y, x) = pairs.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        let without = |p: &(f64, f64)| if x - p.1 > 0.0 { (y - p.0) / (x - p.1) * p.1 } else { 0.0 };
        pairs.iter().map(|p| (p.0 - without(p)).powi(2)).sum()
    };
    let others = [SizedBy::Room, SizedBy::Tube].into_iter().filter(|by| *by != usual && known(*by));
    others
        .fold((usual, missed(usual)), |best, by| {
            let m = missed(by);
            if m < BETTER * best.1 { (by, m) } else { best }
        })
        .0
}

/// Whether lengths or weights of the measured tubes lie apart from the rest's by more than chance brings.
fn unlike(measured: &[Measured<'_>], rest: &[&TubeOutcome]) -> Option<Unlike> {
    let apart = |of: &dyn Fn(&TubeOutcome) -> Option<f64>| -> Option<[f64; 2]> {
        let a: Vec<f64> = measured.iter().filter_map(|m| of(m.outcome)).collect();
        let b: Vec<f64> = rest.iter().filter_map(|o| of(o)).collect();
        if a.len() < 2 || b.len() < 2 {
            return None;
        }
        let error = (sd(&a).powi(2) / count(a.len()) + sd(&b).powi(2) / count(b.len())).sqrt();
        let means = [mean(&a), mean(&b)];
        ((means[0] - means[1]).abs() > UNLIKE * error.max(1e-9)).then_some(means)
    };
    let length_mm = apart(&|o| Some(o.length_mm).filter(|l| *l > 0.0));
    let weight_g = apart(&weight_of);
    (length_mm.is_some() || weight_g.is_some()).then_some(Unlike { length_mm, weight_g })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::draws::{normals, stream};

    #[test]
    fn the_rest_is_counted_by_size_and_its_error_by_hand() {
        // 4 and 8 blanks of 20 and 30 g: 12 of 50 g, 0.24 a gram. Another 50 g: 12 more. Off by -0.8 and 0.8, squares over
        // sizes 0.032 and 0.021333, spread 0.053333; its error is the root of 0.053333 * 50 * 100 / 50 = 2.3094
        let rest = Rest { sizes: vec![20.0, 30.0], open: 50.0, most: f64::INFINITY };
        assert!((rest.total(&[4.0, 8.0], 0.0) - 24.0).abs() < 1e-12);
        assert!((rest.total(&[4.0, 8.0], 1.0) - 26.309_401_1).abs() < 1e-6);
        // never fewer than none, never more than there is room for
        assert!((rest.total(&[4.0, 8.0], -9.0) - 12.0).abs() < 1e-12);
        assert!((Rest { most: 3.0, ..rest }.total(&[4.0, 8.0], 0.0) - 15.0).abs() < 1e-12);
        // nothing left open, nothing unsure but the draws
        let all = Rest { sizes: vec![20.0, 30.0], open: 0.0, most: 0.0 };
        let draws = [[4.0, 8.0], [5.0, 8.0], [4.0, 7.0]];
        let (low, high) = all.interval(|k| draws[k].to_vec(), 3).expect("drawn");
        assert!((low - 11.1).abs() < 1e-12 && (high - 12.9).abs() < 1e-12, "{low} {high}");
    }

    #[test]
    fn intervals_of_lots_of_sixty_hold_as_often_as_they_say() {
        // made-up lots: weights about 30 g, a rate of the lot's own, tubes that differ from it by 40 %, counted in whole blanks;
        // what is measured of a tube is off by 0.6 blanks and its draws are unsure by as much
        for (n, seed) in [(6, 1), (12, 2), (24, 3)] {
            let mut held = 0;
            for lot in 0..500 {
                let mut rng = stream(seed, "lot", lot);
                let z = normals(&mut rng, 241);
                let rate = 0.16 * (0.2 * z[240]).exp();
                let weight = |i: usize| (30.0 + 6.0 * z[i]).max(8.0);
                let blanks = |i: usize| (rate * weight(i) * (1.0 + 0.4 * z[60 + i])).round().max(0.0);
                let read = |i: usize| blanks(i) + 0.6 * z[120 + i];
                let truth: f64 = (0..60).map(blanks).sum();
                let rest =
                    Rest { sizes: (0..n).map(weight).collect(), open: (n..60).map(weight).sum(), most: f64::INFINITY };
                let draw = |k: usize| {
                    let e = normals(&mut stream(seed, "draw", 1000 * lot + k as u64), n);
                    (0..n).map(|i| (read(i) + 0.6 * e[i]).round().max(0.0)).collect()
                };
                let (low, high) = rest.interval(draw, 200).expect("drawn");
                held += u32::from((low..=high).contains(&truth));
            }
            println!("{n} of 60 measured: {held} of 500 lots hold");
            assert!((430..=470).contains(&held), "{n}: {held}");
        }
    }

    #[test]
    fn the_parts_of_the_line_are_even() {
        let mut parts: Vec<f64> = (0..200).map(even_part).collect();
        parts.sort_by(f64::total_cmp);
        for (i, p) in parts.iter().enumerate() {
            assert!((p - (count(i) + 0.5) / 200.0).abs() < 0.01, "{i}: {p}");
        }
    }
}
