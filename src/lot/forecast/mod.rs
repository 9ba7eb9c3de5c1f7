//! Blanks, yield by weight and cost for the measured tubes of a lot.

mod value;

pub use self::value::{Earlier, Forecast, NotChecked};
use super::counting::{Air, Share, worth_splitting};
use super::interval::{Interval, cost};
use super::outcome::TubeOutcome;
use super::spent::{spent, weight_of};
use super::terms::Terms;
use super::whole::whole_lot;
use crate::decide::by_eye::by_eye;
use crate::decide::leeway::LimitChange;
use crate::decide::plan::TubePlan;
use crate::decide::unread::Unchecked;
use crate::domain::Target;
use crate::numeric::summary::{count, ninety, sd, to_index};

/// Sums up the plans of a lot's tubes; `outcomes` are all its tubes, those without a plan too.
///
/// Draws of different tubes are independent, so draw k of the sum is the sum of the tubes' draws k. `without_leave`: the
/// tubes that the screening leaves give none. Weights are told in `air`, or as weighed.
#[must_use]
pub fn forecast(outcomes: &[TubeOutcome], lot: &Terms, without_leave: bool, air: Option<Air>) -> Forecast {
    let counts = |p: &TubePlan| !without_leave || worth_splitting(p);
    let heavier = air.map_or(1.0, |a| a.ratio);
    let all = plans_of(outcomes.iter());
    let plans: Vec<&TubePlan> = all.iter().copied().filter(|p| counts(p)).collect();
    let blanks = sum_of(&plans);
    let weighed: Vec<&TubeOutcome> = outcomes.iter().filter(|o| o.plan.is_ok() && weight_of(o).is_some()).collect();
    let weight: f64 = weighed.iter().filter_map(|o| weight_of(o)).sum();
    let weight_g = (weight > 0.0).then_some((weight, weighed.len()));
    let of_weighed: Vec<&TubePlan> = plans_of(weighed.into_iter()).into_iter().filter(|p| counts(p)).collect();
    let per_kg = weight_g.map(|(w, _)| sum_of(&of_weighed).scaled(1000.0 / (w * heavier)));
    let per_lb = per_kg.map(Interval::per_pound);
    let spent = spent(outcomes, lot);
    let bought = lot.bought_as_weighed_g();
    let whole = whole_lot(outcomes, lot, counts, heavier);
    let earlier = lot.promise.map(|promise| Earlier {
        promise,
        blanks: blanks.borne_out(promise),
        whole: whole.as_ref().map(|w| w.blanks.borne_out(promise)),
    });
    Forecast {
        tubes: all.len(),
        blanks,
        without_leave,
        all_measured: share(&all),
        worth_splitting: share(&all.iter().copied().filter(|p| worth_splitting(p)).collect::<Vec<_>>()),
        waste: waste(total(all.iter().map(|p| p.fit.length_mm)), blanks, &lot.target),
        marked: marked(&plans),
        not_checked: not_checked(&plans),
        limit_changes: limit_changes(&plans),
        arbitrary: total(plans.iter().filter_map(|p| p.split.as_ref()).map(|s| s.arbitrary)),
        by_eye: plans.iter().map(|p| by_eye(p)).sum::<Option<f64>>().map(|x| x + 0.0),
        measuring_minutes: all.iter().map(|p| p.minutes).sum::<Option<f64>>().filter(|_| !all.is_empty()),
        splitting_minutes: lot.split_minutes * count(plans.len()),
        weight_g,
        air,
        price_per_kg: lot.price.zip(bought).map(|(p, w)| 1000.0 * p / (w * heavier)),
        per_kg,
        per_lb,
        cost_per_blank: spent.and_then(|s| cost(s.amount, &blanks)),
        cost_basis: spent.map(|s| s.basis),
        whole_price: spent.and_then(|s| s.why_whole),
        estimated: spent.and_then(|s| s.estimated),
        currency: lot.currency.clone(),
        whole,
        earlier,
    }
}

/// The blanks of the tubes that count, draw by draw.
pub(super) struct BlanksOfDraws<'a>(Vec<&'a TubePlan>);

/// The planned tubes whose blanks count.
pub(super) fn blanks_of_draws(outcomes: &[TubeOutcome], without_leave: bool) -> BlanksOfDraws<'_> {
    BlanksOfDraws(plans_of(outcomes.iter()).into_iter().filter(|p| !without_leave || worth_splitting(p)).collect())
}

impl BlanksOfDraws<'_> {
    /// All together in every draw.
    pub(super) fn totals(&self) -> Vec<f64> {
        totals_by(&self.0, &TubePlan::blanks_of_draw)
    }

    /// The variance of each tube over its draws.
    pub(super) fn variances(&self) -> Vec<f64> {
        let draws = |p: &&TubePlan| p.split.as_ref().map_or(0, |s| s.draws.len());
        let one = |p: &&TubePlan| sd(&(0..draws(p)).map(|k| p.blanks_of_draw(k)).collect::<Vec<f64>>()).powi(2);
        self.0.iter().map(one).collect()
    }
}

fn share(plans: &[&TubePlan]) -> Option<Share> {
    Some(Share { tubes: plans.len(), blanks: sum_of(plans) })
}

/// The share of the pieces' length that ends in no blank, of planned tubes of this length, mm, that give these blanks; `None`
/// where nothing is planned.
pub(super) fn waste(tubes_mm: f64, blanks: Interval, target: &Target) -> Option<Interval> {
    let length = count(target.pieces) * tubes_mm;
    let used = blanks.scaled(target.blank_length_mm / length);
    let unused = |x: f64| (1.0 - x).clamp(0.0, 1.0);
    (length > 0.0).then(|| Interval { expected: unused(used.expected), low: unused(used.high), high: unused(used.low) })
}

fn plans_of<'a>(outcomes: impl Iterator<Item = &'a TubeOutcome>) -> Vec<&'a TubePlan> {
    outcomes.filter_map(|o| o.plan.as_deref().ok()).collect()
}

/// A sum that is plain nought where there is nothing to add: an empty `sum` is -0.
fn total(values: impl Iterator<Item = f64>) -> f64 {
    values.sum::<f64>() + 0.0
}

fn sum_of(plans: &[&TubePlan]) -> Interval {
    sum_by(plans, TubePlan::expected, TubePlan::blanks_of_draw)
}

/// The marked runs of all tubes; `None` where no tube has any to mark.
fn marked(plans: &[&TubePlan]) -> Option<Interval> {
    plans.iter().any(|p| p.marked.is_some()).then(|| {
        sum_by(
            plans,
            |p| p.marked.as_ref().map_or(0.0, |m| m.expected),
            |p, k| p.marked.as_ref().and_then(|m| m.draws.get(k)).map_or(0.0, |&n| f64::from(n)),
        )
    })
}

fn not_checked(plans: &[&TubePlan]) -> Option<NotChecked> {
    let without =
        |what: fn(&Unchecked) -> bool| plans.iter().filter(|p| p.unchecked.as_ref().is_some_and(what)).count();
    let (grain, wall) = (without(|u| u.grain), without(|u| u.wall));
    (grain + wall > 0).then(|| NotChecked {
        grain,
        wall,
        blanks: sum_by(
            plans,
            |p| p.unchecked.as_ref().map_or_else(|| p.expected(), |u| u.expected),
            |p, k| p.unchecked.as_ref().map_or_else(|| p.blanks_of_draw(k), |u| u.blanks_of_draw(k)),
        ),
    })
}

/// Every limit's changes, added over tubes that try the same.
fn limit_changes(plans: &[&TubePlan]) -> Vec<LimitChange> {
    let mut sums: Vec<LimitChange> = Vec::new();
    for change in plans.iter().flat_map(|p| &p.limit_changes) {
        let same = |c: &&mut LimitChange| c.limit == change.limit && (c.at_mm - change.at_mm).abs() < 1e-9;
        match sums.iter_mut().find(same) {
            Some(sum) => sum.blanks += change.blanks,
            None => sums.push(change.clone()),
        }
    }
    sums
}

fn totals_by(plans: &[&TubePlan], draw: &impl Fn(&TubePlan, usize) -> f64) -> Vec<f64> {
    let draws = plans.iter().filter_map(|p| p.split.as_ref()).map(|s| s.draws.len()).max().unwrap_or(0);
    (0..draws).map(|k| total(plans.iter().map(|p| draw(p, k)))).collect()
}

fn sum_by(
    plans: &[&TubePlan],
    expected: impl Fn(&TubePlan) -> f64,
    draw: impl Fn(&TubePlan, usize) -> f64,
) -> Interval {
    let totals = totals_by(plans, &draw);
    let expected = total(plans.iter().map(|p| expected(p)));
    if totals.is_empty() {
        return Interval { expected, low: expected, high: expected };
    }
    let (low, high) = ninety(&totals);
    Interval { expected, low, high }
}

/// Chance, in whole percent, for printing; never rounds a doubt away to 0 or 100.
#[must_use]
pub fn percent(chance: f64) -> usize {
    let whole = to_index((chance.clamp(0.0, 1.0) * 100.0).round());
    if chance > 0.0 && chance < 1.0 { whole.clamp(1, 99) } else { whole }
}

#[cfg(test)]
mod tests {
    use super::super::spent::{CostBasis, Estimated, EstimatedBy, WholePrice};
    use super::*;
    use crate::decide::plan::{NoPlan, PlanOptions, plan_tube};
    use crate::domain::{Angle, Kind, Lot, Promise, Reading, Tube};
    use crate::tube::{Measured, Model};
    use std::sync::LazyLock;

    /// Every planned tube counted, weights as weighed.
    fn all_of(outcomes: &[TubeOutcome], terms: &Terms) -> Forecast {
        forecast(outcomes, terms, false, None)
    }

    fn of(cost_high: f64) -> Forecast {
        let interval = |expected: f64, low: f64, high: f64| Interval { expected, low, high };
        Forecast {
            tubes: 2,
            blanks: interval(0.1 + 0.2, 0.0, 1.0),
            without_leave: true,
            all_measured: Some(Share { tubes: 2, blanks: interval(0.4, 0.0, 1.0) }),
            worth_splitting: Some(Share { tubes: 1, blanks: interval(0.1 + 0.2, 0.0, 1.0) }),
            waste: Some(interval(0.7, 0.6, 1.0)),
            marked: Some(interval(0.1, 0.0, 1.0)),
            not_checked: Some(NotChecked { grain: 2, wall: 1, blanks: interval(0.05, 0.0, 1.0) }),
            limit_changes: vec![LimitChange { limit: "hollow".into(), at_mm: 0.06, blanks: 0.2 }],
            arbitrary: 0.25,
            by_eye: Some(0.28),
            measuring_minutes: Some(7.5),
            splitting_minutes: 8.0,
            weight_g: Some((41.5, 2)),
            air: Some(Air { weighed_percent: 48.0, told_percent: 60.0, ratio: 1.02 }),
            price_per_kg: Some(41.0),
            per_kg: Some(interval(1.0 / 3.0, 0.0, 2.0)),
            per_lb: Some(interval(0.15, 0.0, 1.0)),
            cost_per_blank: Some(interval(12.0, 9.0, cost_high)),
            cost_basis: Some(CostBasis::WholePrice),
            whole_price: Some(WholePrice::NoBoughtWeight),
            estimated: Some(Estimated { tubes: 1, weight_g: 0.1 + 0.2, by: EstimatedBy::Length }),
            currency: "EUR".into(),
            whole: None,
            earlier: Some(Earlier {
                promise: Promise { factor: 0.9, log_sd: 0.05 },
                blanks: interval(0.27, 0.0, 1.0),
                whole: None,
            }),
        }
    }

    #[test]
    fn a_forecast_reads_back_equal_even_where_the_cost_has_no_limit() {
        for high in [30.0, f64::INFINITY] {
            let text = serde_json::to_string(&of(high)).expect("finite");
            assert_eq!(serde_json::from_str::<Forecast>(&text).expect("just written"), of(high));
        }
        let bare = Forecast {
            weight_g: None,
            per_kg: None,
            per_lb: None,
            cost_per_blank: None,
            cost_basis: None,
            whole_price: None,
            estimated: None,
            ..of(1.0)
        };
        let text = serde_json::to_string(&bare).expect("finite");
        assert!(text.contains(r#""blanks_per_kg":null"#) && text.contains(r#""tubes_weighed":0"#), "{text}");
        assert_eq!(serde_json::from_str::<Forecast>(&text).expect("just written"), bare);
        assert!(
            serde_json::from_str::<Forecast>(
                &text.replace(r#""blanks_per_lb_low":null"#, r#""blanks_per_lb_low":1.0"#)
            )
            .is_err()
        );
    }

    #[test]
    fn a_forecast_stored_before_weights_were_estimated_is_still_read() {
        let bare = Forecast { whole_price: None, estimated: None, ..of(30.0) };
        let mut value = serde_json::to_value(&bare).expect("finite");
        let object = value.as_object_mut().expect("an object");
        for key in ["whole_price", "estimated_weight_g", "tubes_estimated", "estimated_by"] {
            assert!(object.remove(key).is_some(), "{key}");
        }
        assert_eq!(serde_json::from_value::<Forecast>(value).expect("a forecast"), bare);
    }

    #[test]
    fn the_word_of_an_estimated_share_stands_in_the_record() {
        let f = Forecast { cost_basis: Some(CostBasis::ByEstimatedWeight), whole_price: None, ..of(30.0) };
        let text = serde_json::to_string(&f).expect("finite");
        for part in [
            r#""cost_basis":"by_estimated_weight""#,
            r#""tubes_estimated":1"#,
            r#""estimated_by":"length""#,
            r#""whole_price":null"#,
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
        assert!(serde_json::from_str::<Forecast>(&text.replace(r#""estimated_by":"length","#, "")).is_err());
    }

    /// A planned tube: its length and diameter in mm, weight in g, blanks expected, and blanks of every draw.
    fn planned(size: [f64; 2], weight_g: Option<f64>, expected: f64, draws: &[u16]) -> TubeOutcome {
        static PLAN: LazyLock<(Tube, TubePlan)> = LazyLock::new(|| {
            let around = |z: f64| (0..6).map(move |i| (z, 30.0 * f64::from(i)));
            let readings = [30.0, 90.0, 150.0].into_iter().flat_map(around);
            let readings =
                readings.map(|(z, deg)| Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4)).collect();
            let tube = Tube { name: "P".into(), length_mm: 180.0, readings, ..Tube::default() };
            let options = PlanOptions { seed: 1, draws: 20 };
            let plan = plan_tube(&tube, &Lot::default(), &Model::default(), options).expect("measured");
            (tube, plan)
        });
        let (mut tube, mut plan) = PLAN.clone();
        (tube.length_mm, tube.weight_g) = (size[0], weight_g);
        (plan.fit.length_mm, plan.fit.weight_g) = (size[0], weight_g);
        plan.fit.figures.diameter_mm = (size[1] > 0.0).then_some(Measured { value: size[1], sd: 0.01 });
        let split = plan.split.as_mut().expect("long enough");
        (split.best.expected, split.draws) = (expected, draws.to_vec());
        // what is printed for one tube has no part in the sum
        split.interval = (f64::NAN, f64::NAN);
        TubeOutcome::of(&tube, Ok(plan))
    }

    fn only_weighed(length_mm: f64, weight_g: f64) -> TubeOutcome {
        let tube = Tube { name: "W".into(), length_mm, weight_g: Some(weight_g), ..Tube::default() };
        TubeOutcome::of(&tube, Err(NoPlan::NotMeasured))
    }

    fn terms(bought_weight_g: Option<f64>, price: Option<f64>) -> Terms {
        Terms::of(&Lot { bought_weight_g, price, ..Lot::default() })
    }

    fn near(got: Option<Interval>, [expected, low, high]: [f64; 3]) {
        let got = got.expect("known");
        let close = |a: f64, b: f64| (a - b).abs() < 1e-9 * b;
        let all = close(got.expected, expected) && close(got.low, low) && close(got.high, high);
        assert!(all, "{got:?} against {expected} ({low} to {high})");
    }

    /// 21 draws, so that the 5 % point is the second and the 95 % point the twentieth of their sums in order. Draw k has 2 k
    /// blanks of the first tube and 20 - k of the second: 20 + k together, 21 to 39 with a mean of 30.
    fn two_tubes(second_g: Option<f64>) -> [TubeOutcome; 2] {
        let first: Vec<u16> = (0..21).map(|k| 2 * k).collect();
        let second: Vec<u16> = (0..21).map(|k| 20 - k).collect();
        [planned([180.0, 25.0], Some(30.0), 21.0, &first), planned([180.0, 25.0], second_g, 9.5, &second)]
    }

    #[test]
    fn every_figure_of_two_tubes_by_hand() {
        let f = all_of(&two_tubes(Some(20.0)), &terms(Some(200.0), Some(100.0)));
        assert_eq!((f.tubes, f.weight_g), (2, Some((50.0, 2))));
        near(Some(f.blanks), [30.5, 21.0, 39.0]);
        // 50 g: a kilogram has 20 times as many
        near(f.per_kg, [610.0, 420.0, 780.0]);
        // 0.45359237 kg: fewer than of a kilogram
        near(f.per_lb, [276.691_345_7, 190.508_795_4, 353.802_048_6]);
        // a quarter of the weight pays a quarter of the price, 25; many blanks are cheap ones
        near(f.cost_per_blank, [25.0 / 30.5, 25.0 / 39.0, 25.0 / 21.0]);
        assert_eq!((f.cost_basis, f.whole_price, f.estimated), (Some(CostBasis::ByWeight), None, None));
    }

    #[test]
    fn draws_are_added_one_by_one_whatever_their_order() {
        let turned = |n: &[u16]| planned([180.0, 25.0], None, 1.0, n);
        // sums 5, 5, 5: no doubt, though each tube alone has 1 to 4
        let even = all_of(&[turned(&[1, 4, 2]), turned(&[4, 1, 3])], &terms(None, None));
        near(Some(even.blanks), [2.0, 5.0, 5.0]);
        // sums 2, 8, 5: the 5 % point lies a tenth of the way from 2 to 5
        let apart = all_of(&[turned(&[1, 4, 2]), turned(&[1, 4, 3])], &terms(None, None));
        near(Some(apart.blanks), [2.0, 2.3, 7.7]);
        assert_eq!((even.weight_g, even.per_kg, even.per_lb), (None, None, None));
        assert_eq!((even.cost_per_blank, even.cost_basis, even.whole_price), (None, None, None));
    }

    #[test]
    fn blanks_by_weight_count_the_weighed_tubes_alone() {
        let f = all_of(&two_tubes(None), &terms(None, None));
        assert_eq!((f.tubes, f.weight_g), (2, Some((30.0, 1))));
        near(f.per_kg, [700.0, 2000.0 / 30.0, 38_000.0 / 30.0]);
        near(Some(f.blanks), [30.5, 21.0, 39.0]);
    }

    #[test]
    fn a_cost_has_no_upper_limit_where_no_blank_may_come_and_is_unknown_where_none_is_expected() {
        let f = all_of(&[planned([180.0, 25.0], Some(25.0), 2.0, &[0, 4])], &terms(Some(25.0), Some(8.0)));
        let cost = f.cost_per_blank.expect("blanks are expected");
        // 5 % and 95 % points of 0 and 4: 0.2 and 3.8
        near(Some(cost), [4.0, 8.0 / 3.8, 40.0]);
        let f = all_of(&[planned([180.0, 25.0], Some(25.0), 2.0, &[0; 9])], &terms(Some(25.0), Some(8.0)));
        assert!(f.cost_per_blank.is_some_and(|c| c.high.is_infinite() && c.low.is_infinite()), "{f:?}");
        let f = all_of(&[planned([180.0, 25.0], Some(25.0), 0.0, &[0; 9])], &terms(Some(25.0), Some(8.0)));
        assert_eq!((f.cost_per_blank, f.cost_basis), (None, Some(CostBasis::ByWeight)));
    }

    #[test]
    fn nothing_planned_gives_noughts_without_a_sign() {
        let f = all_of(&[only_weighed(180.0, 25.0)], &terms(Some(25.0), Some(8.0)));
        assert_eq!(f.tubes, 0);
        for x in [f.blanks.expected, f.blanks.low, f.blanks.high, f.arbitrary] {
            assert_eq!(x.to_bits(), 0, "{f:?}");
        }
        assert_eq!((f.weight_g, f.per_kg, f.cost_per_blank), (None, None, None));
    }

    /// What is spent, as cost times blanks, with the basis.
    fn paid(outcomes: &[TubeOutcome], bought: Option<f64>) -> (f64, Forecast) {
        let f = all_of(outcomes, &terms(bought, Some(100.0)));
        (f.cost_per_blank.expect("blanks are expected").expected * f.blanks.expected, f)
    }

    #[track_caller]
    fn pays(outcomes: &[TubeOutcome], bought: Option<f64>, want: f64) -> Forecast {
        let (got, f) = paid(outcomes, bought);
        assert!((got - want).abs() < 1e-9, "{got} against {want}: {f:?}");
        f
    }

    #[test]
    fn one_missing_weight_hardly_changes_the_cost() {
        let tube = |w: Option<f64>| planned([180.0, 25.0], w, 4.0, &[4; 20]);
        let mut tubes = vec![tube(Some(28.0)); 9];
        tubes.push(tube(None));
        let f = pays(&tubes, Some(2800.0), 10.0);
        assert_eq!((f.cost_basis, f.whole_price), (Some(CostBasis::ByEstimatedWeight), None));
        let e = f.estimated.expect("one tube");
        assert_eq!((e.tubes, e.by), (1, EstimatedBy::LengthAndDiameter));
        assert!((e.weight_g - 28.0).abs() < 1e-9, "{e:?}");
        // what is weighed is still told as such
        assert_eq!(f.weight_g, Some((252.0, 9)));
    }

    #[test]
    fn missing_weights_follow_length_and_the_square_of_the_diameter_where_every_diameter_is_seen() {
        let tube = |size: [f64; 2], w: Option<f64>| planned(size, w, 4.0, &[4; 20]);
        // 30 / (200 x 25^2) = 24 / (160 x 25^2) = 0.00024 g/mm^3, so 100 mm of 50 mm weigh 60 g, twice over 120 g
        let known = [tube([200.0, 25.0], Some(30.0)), tube([160.0, 25.0], Some(24.0))];
        let missing = |d: f64| [tube([100.0, d], None), tube([100.0, d], None)];
        let lot = |d: f64| [known.to_vec(), missing(d).to_vec()].concat();
        let f = pays(&lot(50.0), Some(348.0), 50.0);
        assert_eq!(f.estimated.map(|e| (e.tubes, e.by)), Some((2, EstimatedBy::LengthAndDiameter)));
        // their diameter not seen: 0.15 g/mm of length, so 15 g each
        let f = pays(&lot(0.0), Some(168.0), 50.0);
        assert_eq!(f.estimated.map(|e| (e.tubes, e.by)), Some((2, EstimatedBy::Length)));
    }

    #[test]
    fn the_ratio_is_the_mean_over_the_weighed_tubes() {
        let tube = |length: f64, w: Option<f64>| planned([length, 0.0], w, 4.0, &[4; 20]);
        // 0.15 and 0.20 g/mm: 0.175, so 17.5 g; 30 + 32 + 17.5 = 79.5 g
        let tubes = [tube(200.0, Some(30.0)), tube(160.0, Some(32.0)), tube(100.0, None)];
        pays(&tubes, Some(159.0), 50.0);
    }

    #[test]
    fn tubes_that_are_only_weighed_tell_the_weights_where_no_planned_tube_does() {
        let bare = planned([200.0, 25.0], None, 4.0, &[4; 20]);
        // 0.15 g/mm: 30 g
        let f = pays(&[bare.clone(), only_weighed(100.0, 15.0)], Some(60.0), 50.0);
        assert_eq!(f.estimated.map(|e| (e.tubes, e.by)), Some((1, EstimatedBy::Length)));
        assert_eq!((f.weight_g, f.per_kg), (None, None));
        // but a weighed planned tube tells more than they do
        let weighed = planned([200.0, 25.0], Some(40.0), 4.0, &[4; 20]);
        pays(&[bare, weighed, only_weighed(100.0, 15.0)], Some(160.0), 50.0);
    }

    #[test]
    fn the_whole_price_stands_only_without_any_weight_or_without_the_bought_one() {
        let tube = |w: Option<f64>| planned([180.0, 25.0], w, 4.0, &[4; 20]);
        let f = pays(&[tube(None), tube(None)], Some(1000.0), 100.0);
        assert_eq!((f.cost_basis, f.whole_price), (Some(CostBasis::WholePrice), Some(WholePrice::NoWeight)));
        let f = pays(&[tube(Some(25.0)), tube(None)], None, 100.0);
        assert_eq!((f.cost_basis, f.whole_price), (Some(CostBasis::WholePrice), Some(WholePrice::NoBoughtWeight)));
    }

    #[test]
    fn tubes_heavier_than_what_was_bought_never_cost_more_than_the_price() {
        let tube = |w: f64| planned([180.0, 25.0], Some(w), 4.0, &[4; 20]);
        // 99, 102 and 103 g on 100 g
        for (w, paid, basis, why) in [
            (49.5, 99.0, CostBasis::ByWeight, None),
            (51.0, 100.0, CostBasis::ByWeight, None),
            (51.5, 100.0, CostBasis::WholePrice, Some(WholePrice::MoreThanBought)),
        ] {
            let f = pays(&[tube(w), tube(w)], Some(100.0), paid);
            assert_eq!((f.cost_basis, f.whole_price), (Some(basis), why), "{w}");
        }
    }

    #[test]
    fn a_chance_is_never_rounded_to_none_or_certain() {
        assert_eq!([0.0, 0.001, 0.5, 0.999, 1.0].map(percent), [0, 1, 50, 99, 100]);
    }

    #[test]
    fn marked_runs_what_nobody_read_and_limits_are_added_by_hand() {
        let mut outcomes = vec![
            planned([180.0, 25.4], None, 4.5, &[4, 5, 4, 5]),
            planned([180.0, 25.4], None, 6.0, &[6, 6, 7, 5]),
            only_weighed(180.0, 25.0),
        ];
        let change = |at_mm: f64, blanks: f64| LimitChange { limit: "hollow".into(), at_mm, blanks };
        let interval = |low, high, draws: &[u16]| (low, high, draws.to_vec());
        for (o, expected, (low, high, draws), changes) in [
            (0, 4.0, interval(f64::NAN, f64::NAN, &[3, 4, 4, 5]), [change(0.06, 4.0), change(0.10, 5.0)]),
            (1, 5.5, interval(f64::NAN, f64::NAN, &[5, 6, 6, 5]), [change(0.06, 5.25), change(0.10, 6.5)]),
        ] {
            let plan = outcomes[o].plan.as_mut().expect("planned");
            plan.marked = Some(crate::decide::tube_plan::Marked { expected, low, high, draws });
            plan.limit_changes = changes.to_vec();
            plan.unchecked = None;
        }
        let first = outcomes[0].plan.as_mut().expect("planned");
        let (low, high) = (f64::NAN, f64::NAN);
        first.unchecked =
            Some(Unchecked { grain: true, wall: false, expected: 1.0, low, high, draws: vec![0, 4, 0, 0] });
        let f = all_of(&outcomes, &terms(None, None));
        // draw by draw 8, 10, 10, 10: the 5 % point of four lies 0.15 of the way from the first to the second
        near(f.marked, [9.5, 8.3, 10.0]);
        // the second tube was read, and stands as it is: 0 + 6, 4 + 6, 0 + 7, 0 + 5; sorted 5, 6, 7, 10
        let unread = f.not_checked.expect("a fibre is missing");
        assert_eq!((unread.grain, unread.wall), (1, 0));
        near(Some(unread.blanks), [7.0, 5.15, 9.55]);
        assert_eq!(f.limit_changes, [change(0.06, 9.25), change(0.10, 11.5)]);
        for o in &mut outcomes {
            if let Ok(plan) = &mut o.plan {
                (plan.marked, plan.unchecked, plan.limit_changes) = (None, None, Vec::new());
            }
        }
        let bare = all_of(&outcomes, &terms(None, None));
        assert!(bare.marked.is_none() && bare.not_checked.is_none() && bare.limit_changes.is_empty());
    }
}
