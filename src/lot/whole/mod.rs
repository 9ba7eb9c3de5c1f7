//! Blanks of a whole lot of which only some tubes are measured.
//!
//! What the unmeasured tubes give follows from what the measured ones give and from what is known of both without measuring
//! (see [`rest`]). All of it is done draw by draw, so that what the readings leave open and what is common to the lot's tubes
//! stays in; the deviate of the rest is a Student t.

mod rest;
mod sizes;

use self::rest::Rest;
pub use self::sizes::SizedBy;
pub(super) use self::sizes::room;
use self::sizes::{Sizes, Unmeasured};
use super::interval::{Interval, cost};
use super::outcome::TubeOutcome;
use super::spent::{Estimated, listed_weights, weight_of};
use super::terms::Terms;
use crate::decide::plan::TubePlan;
use crate::domain::WEIGHT_TOLERANCE;
use crate::numeric::summary::{count, mean, ninety, sd};
use serde::{Deserialize, Serialize};

/// Measured tubes from which another size than weight may be chosen by leaving each of them out once: of fewer the best is
/// mostly luck, and luck makes an interval too narrow.
const CHOOSE_FROM: usize = 12;
/// Another way than by weight is taken where its errors, squared, are below this share of weight's.
const BETTER: f64 = 0.8;
/// Means of measured tubes and of the rest that are further apart than so many standard errors are told.
const UNLIKE: f64 = 2.5;

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
    /// Bought beyond the tubes listed, g; `None` where it is not known, as nothing tells what a listed tube weighs: then it is
    /// not counted.
    pub unlisted_g: Option<f64>,
    /// The weights of listed tubes that nobody weighed, where what was bought beyond the list follows from them.
    pub estimated: Option<Estimated>,
    /// By what the rest is counted.
    pub sized_by: SizedBy,
    /// Blanks of all.
    pub blanks: Interval,
    /// Blanks per kilogram; `None` where the weight of a tube is missing and no bought weight stands for it, or where it is not
    /// known what was bought beyond the list.
    pub per_kg: Option<Interval>,
    /// Price over blanks; `None` without a price, where the tubes weigh more than was bought, or where it is not known what was
    /// bought beyond the list.
    pub cost_per_blank: Option<Interval>,
    /// `None` where nothing known sets the measured tubes apart.
    pub unlike: Option<Unlike>,
    /// How far the rest may lie from what the measured tubes say of it, one sd, blanks.
    pub sampling_sd: f64,
    /// Blanks of all in every draw.
    pub totals: Vec<f64>,
}

/// A [`WholeLot`] as stored: one name a number. A cost without limit is no number, so it is null.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    tubes: usize,
    measured: usize,
    unlisted_g: Option<f64>,
    #[serde(default)]
    estimated: Option<Estimated>,
    sized_by: SizedBy,
    blanks: f64,
    low: f64,
    high: f64,
    blanks_per_kg: Option<[f64; 3]>,
    cost_per_blank: Option<[Option<f64>; 3]>,
    unlike: Option<Unlike>,
    #[serde(default)]
    sampling_sd: f64,
    #[serde(default)]
    draws: Vec<f64>,
}

impl From<WholeLot> for Stored {
    fn from(w: WholeLot) -> Stored {
        let finite = |x: f64| Some(x).filter(|x| x.is_finite());
        Stored {
            tubes: w.tubes,
            measured: w.measured,
            unlisted_g: w.unlisted_g,
            estimated: w.estimated,
            sized_by: w.sized_by,
            blanks: w.blanks.expected,
            low: w.blanks.low,
            high: w.blanks.high,
            blanks_per_kg: w.per_kg.map(|i| [i.expected, i.low, i.high]),
            cost_per_blank: w.cost_per_blank.map(|i| [i.expected, i.low, i.high].map(finite)),
            unlike: w.unlike,
            sampling_sd: w.sampling_sd,
            draws: w.totals,
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
            estimated: s.estimated,
            sized_by: s.sized_by,
            blanks: of([s.blanks, s.low, s.high]),
            per_kg: s.blanks_per_kg.map(of),
            cost_per_blank: s.cost_per_blank.map(|c| of(c.map(|x| x.unwrap_or(f64::INFINITY)))),
            unlike: s.unlike,
            sampling_sd: s.sampling_sd,
            totals: s.draws,
        }
    }
}

/// What the lot gives with its unmeasured tubes, those tubes alone that `counts`, each gram `heavier` times as heavy as it was
/// weighed; `None` where every tube is measured, or fewer than two are.
pub(super) fn whole_lot(
    outcomes: &[TubeOutcome],
    terms: &Terms,
    counts: impl Fn(&TubePlan) -> bool,
    heavier: f64,
) -> Option<WholeLot> {
    let measured: Vec<(&TubeOutcome, &TubePlan)> =
        outcomes.iter().filter_map(|o| Some((o, o.plan.as_deref().ok()?))).collect();
    let rest: Vec<&TubeOutcome> = outcomes.iter().filter(|o| o.plan.is_err()).collect();
    let weights = listed_weights(outcomes);
    let listed = weights.as_ref().map(|w| w.0.iter().sum::<f64>());
    let estimated = weights.as_ref().and_then(|w| w.1);
    let bought = terms.bought_as_weighed_g();
    let beyond = match (bought, listed) {
        (Some(bought), Some(listed)) if bought > listed * (1.0 + WEIGHT_TOLERANCE) => Some(bought - listed),
        (Some(_), None) => None,
        _ => Some(0.0),
    };
    let unlisted_g = beyond.unwrap_or(0.0);
    if measured.len() < 2 || (rest.is_empty() && unlisted_g <= 0.0) {
        return None;
    }
    let counted = |p: &TubePlan, blanks: f64| if counts(p) { blanks } else { 0.0 };
    let expected: Vec<f64> = measured.iter().map(|(_, p)| counted(p, p.expected())).collect();
    // what is not listed has a weight alone: all are counted by weight beside it, by one that is estimated where need be
    let size = |(i, o): (usize, &TubeOutcome)| {
        let weight_g = weights.as_ref().filter(|_| unlisted_g > 0.0).map(|w| w.0[i]);
        let own = Sizes::of_tube(o, terms);
        Sizes { weight_g: own.weight_g.or(weight_g), ..own }
    };
    let sizes_of = |planned: bool| -> Vec<Sizes> {
        outcomes.iter().enumerate().filter(|(_, o)| o.plan.is_ok() == planned).map(size).collect()
    };
    let rest_of = best(&sizes_of(true), &Unmeasured::of(sizes_of(false), unlisted_g), &expected)?;
    let draws = measured.iter().filter_map(|(_, p)| p.split.as_ref()).map(|s| s.draws.len()).max().unwrap_or(0);
    let draw = |k: usize| -> Vec<f64> { measured.iter().map(|(_, p)| counted(p, p.blanks_of_draw(k))).collect() };
    let totals = rest_of.totals(draw, draws);
    let sampling_sd = rest_of.error(&expected);
    let expected = rest_of.total(&expected, 0.0);
    let (low, high) = if totals.is_empty() { (expected, expected) } else { ninety(&totals) };
    let blanks = Interval { expected, low, high };
    let fits = |bought: &f64| listed.is_some_and(|l| l <= bought * (1.0 + WEIGHT_TOLERANCE));
    let all_weighed = listed.filter(|_| bought.is_some() || estimated.is_none());
    let weight = bought.filter(fits).or(all_weighed);
    let price = terms.price.filter(|_| bought.is_none_or(|b| fits(&b)));
    Some(WholeLot {
        tubes: outcomes.len(),
        measured: measured.len(),
        unlisted_g: beyond,
        estimated: estimated.filter(|_| bought.is_some()),
        sized_by: rest_of.by,
        blanks,
        per_kg: weight.filter(|w| *w > 0.0).map(|w| blanks.scaled(1000.0 / (w * heavier))),
        cost_per_blank: price.and_then(|p| cost(p, &blanks)),
        unlike: unlike(&measured.iter().map(|(o, _)| *o).collect::<Vec<_>>(), &rest),
        sampling_sd,
        totals,
    })
}

/// The way of counting the rest by which each measured tube is predicted best from the others: by weight where it is known of
/// all and nothing is clearly better. `None` where nothing is known of some tube's size and they are not alike either.
fn best(measured: &[Sizes], rest: &Unmeasured, blanks: &[f64]) -> Option<Rest> {
    let by = |size: SizedBy| Rest::by_sizes(size, measured, rest);
    let usual = [SizedBy::Weight, SizedBy::Room, SizedBy::Tube].into_iter().find_map(by)?;
    let mut others = Vec::new();
    if measured.len() >= CHOOSE_FROM {
        let sizes = [SizedBy::Room, SizedBy::Tube, SizedBy::WeightAndRoom];
        others.extend(sizes.into_iter().filter(|s| *s != usual.by).filter_map(by));
        others.extend(Rest::by_nearest(measured, rest));
    }
    let worst = usual.missed(blanks);
    let better = others.into_iter().map(|r| (r.missed(blanks), r)).filter(|(m, _)| *m < BETTER * worst);
    Some(better.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(usual, |(_, r)| r))
}

/// Whether lengths or weights of the measured tubes lie apart from the rest's by more than chance brings.
fn unlike(measured: &[&TubeOutcome], rest: &[&TubeOutcome]) -> Option<Unlike> {
    let apart = |of: &dyn Fn(&TubeOutcome) -> Option<f64>| -> Option<[f64; 2]> {
        let a: Vec<f64> = measured.iter().filter_map(|o| of(o)).collect();
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

    fn weighed(g: &[f64]) -> Vec<Sizes> {
        g.iter().map(|w| Sizes { length_mm: None, weight_g: Some(*w), room: None }).collect()
    }

    fn open(tubes: Vec<Sizes>, unlisted_g: f64) -> Unmeasured {
        Unmeasured { tubes, unlisted_g, room: f64::INFINITY }
    }

    #[test]
    fn the_rest_is_counted_by_weight_and_its_error_by_hand() {
        // 4 and 8 blanks of 20 and 30 g: 12 of 50 g, 0.24 a gram. Another 50 g: 12 more. Off by -0.8 and 0.8, squares over
        // sizes 0.032 and 0.021333, spread 0.053333; its error is the root of 0.053333 * 50 * 100 / 50 = 2.3094
        let rest =
            Rest::by_sizes(SizedBy::Weight, &weighed(&[20.0, 30.0]), &open(weighed(&[40.0]), 10.0)).expect("known");
        assert!((rest.total(&[4.0, 8.0], 0.0) - 24.0).abs() < 1e-12);
        assert!((rest.total(&[4.0, 8.0], 1.0) - 26.309_401_1).abs() < 1e-6);
        // never fewer than none, never more than there is room for
        assert!((rest.total(&[4.0, 8.0], -9.0) - 12.0).abs() < 1e-12);
        let full = Unmeasured { room: 3.0, ..open(weighed(&[40.0]), 10.0) };
        let rest = Rest::by_sizes(SizedBy::Weight, &weighed(&[20.0, 30.0]), &full).expect("known");
        assert!((rest.total(&[4.0, 8.0], 0.0) - 15.0).abs() < 1e-12);
        // left out, each would be missed by 4 - 20 * 8 / 30 and by 8 - 30 * 4 / 20
        let missed = (4.0_f64 - 160.0 / 30.0).powi(2) + 4.0;
        assert!((rest.missed(&[4.0, 8.0]) - missed).abs() < 1e-9);
        // nothing left open, nothing unsure but the draws
        let all = Rest::by_sizes(SizedBy::Weight, &weighed(&[20.0, 30.0]), &open(Vec::new(), 0.0)).expect("known");
        let draws = [[4.0, 8.0], [5.0, 8.0], [4.0, 7.0]];
        let totals = all.totals(|k| draws[k].to_vec(), 3);
        assert!(totals.iter().zip([12.0, 13.0, 11.0]).all(|(a, b)| (a - b).abs() < 1e-9), "{totals:?}");
    }

    #[test]
    fn weight_and_room_together_follow_a_line_through_both() {
        // blanks 0.1 a gram and 0.5 a place: nothing missed, so nothing unsure
        let size = |w: f64, r: f64| Sizes { length_mm: Some(r), weight_g: Some(w), room: Some(r) };
        let tubes = [size(20.0, 4.0), size(30.0, 8.0), size(26.0, 8.0), size(40.0, 12.0)];
        let blanks: Vec<f64> =
            [(20.0, 4.0), (30.0, 8.0), (26.0, 8.0), (40.0, 12.0)].map(|(w, r)| 0.1 * w + 0.5 * r).to_vec();
        let rest = Rest::by_sizes(SizedBy::WeightAndRoom, &tubes, &open(vec![size(50.0, 16.0)], 0.0)).expect("known");
        let want = blanks.iter().sum::<f64>() + 13.0;
        assert!((rest.total(&blanks, 0.0) - want).abs() < 1e-8 && (rest.total(&blanks, 5.0) - want).abs() < 1e-5);
        assert!(rest.missed(&blanks) < 1e-12);
        // what is not listed has a weight, and no room that is known
        assert!(Rest::by_sizes(SizedBy::WeightAndRoom, &tubes, &open(Vec::new(), 50.0)).is_none());
    }

    #[test]
    fn the_nearest_three_speak_for_a_tube() {
        let size = |l: f64, w: f64| Sizes { length_mm: Some(l), weight_g: Some(w), room: None };
        let tubes: Vec<Sizes> =
            [(100.0, 20.0), (101.0, 20.2), (102.0, 20.3), (200.0, 60.0), (201.0, 60.2), (202.0, 60.4)]
                .map(|(l, w)| size(l, w))
                .to_vec();
        let rest = Rest::by_nearest(&tubes, &open(vec![size(101.0, 20.0), size(199.0, 60.0)], 0.0)).expect("known");
        // 3 like the mean of 2, 3, 4 and 9 like that of 8, 9, 10
        let blanks = [2.0, 3.0, 4.0, 8.0, 9.0, 10.0];
        assert!((rest.total(&blanks, 0.0) - 48.0).abs() < 1e-9);
        assert!(rest.total(&blanks, 1.0) > 49.0);
        assert!(Rest::by_nearest(&tubes[..3], &open(Vec::new(), 0.0)).is_none());
        assert!(Rest::by_nearest(&tubes, &open(weighed(&[30.0]), 0.0)).is_none());
    }

    #[test]
    fn another_way_is_taken_only_where_it_predicts_clearly_better() {
        let size = |l: f64, w: f64, r: f64| Sizes { length_mm: Some(l), weight_g: Some(w), room: Some(r) };
        let tubes: Vec<Sizes> = [(4.0, 30.0), (8.0, 28.0), (4.0, 26.0), (8.0, 31.0), (12.0, 29.0), (4.0, 27.0)]
            .map(|(r, w)| size(180.0, w, r))
            .repeat(2);
        let rest = open(vec![size(180.0, 30.0, 8.0)], 0.0);
        let by_weight: Vec<f64> = tubes.iter().map(|s| 0.2 * s.weight_g.expect("weighed")).collect();
        let by_room: Vec<f64> = tubes.iter().map(|s| 0.8 * s.room.expect("long")).collect();
        assert_eq!(best(&tubes, &rest, &by_weight).map(|r| r.by), Some(SizedBy::Weight));
        assert_eq!(best(&tubes, &rest, &by_room).map(|r| r.by), Some(SizedBy::Room));
        // of eleven tubes nothing is chosen
        assert_eq!(best(&tubes[..11], &rest, &by_room[..11]).map(|r| r.by), Some(SizedBy::Weight));
        // nothing weighed, no length: each as any other
        let bare = vec![Sizes { length_mm: None, weight_g: None, room: None }; 3];
        assert_eq!(best(&bare, &open(bare.clone(), 0.0), &[3.0, 4.0, 5.0]).map(|r| r.by), Some(SizedBy::Tube));
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
                let weights: Vec<f64> = (0..60).map(weight).collect();
                let expected: Vec<f64> = (0..n).map(read).collect();
                let rest = best(&weighed(&weights[..n]), &open(weighed(&weights[n..]), 0.0), &expected).expect("known");
                let draw = |k: usize| {
                    let e = normals(&mut stream(seed, "draw", 1000 * lot + k as u64), n);
                    (0..n).map(|i| (read(i) + 0.6 * e[i]).round().max(0.0)).collect()
                };
                let (low, high) = ninety(&rest.totals(draw, 200));
                held += u32::from((low..=high).contains(&truth));
            }
            println!("{n} of 60 measured: {held} of 500 lots hold");
            assert!((430..=470).contains(&held), "{n}: {held}");
        }
    }
}
