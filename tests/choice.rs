//! The choice of the split angle on simulated tubes, from every way of measuring; the full study is
//! `examples/choice_study.rs`.

#[path = "support/choice.rs"]
mod choice;

use choice::truth::measuring::Rig;
use choice::truth::plans::Plan;
use choice::truth::populations::Population;
use choice::truth::{mean, spread};
use choice::{Readings, Study, grown, study};
use quarterlight::known::way::Way;
use quarterlight::study::goals::Goals;
use quarterlight::study::outcome::{Make, outcome};

#[test]
fn choosing_from_dial_readings_loses_little_and_an_arbitrary_angle_much() {
    let s = study(&grown(Population::Smooth, 12, 100), 12, 120, Readings::EXACT[0].1);
    let loss = s.loss(s.from_draws);
    println!("loss {loss:.4} +-{:.4}, mean surface {:.4}", s.loss_error, s.loss(s.from_mean));
    // the study's own figure is near 2 % where every angle is as written (in an ordinary hand see below); a hundred tubes leave a standard error of half a percent
    assert!(loss <= 0.035, "lost {loss:.4} +-{:.4}", s.loss_error);
    assert!(s.loss(s.arbitrary) > 0.10, "an arbitrary angle loses {:.3}", s.loss(s.arbitrary));
    assert!(loss < 0.3 * s.loss(s.arbitrary), "{loss:.4}");
    // the forecast is neither boastful nor shy
    assert!((s.forecast / s.from_draws - 1.0).abs() < 0.04, "forecast {} against {}", s.forecast, s.from_draws);
    assert!(s.covered >= 0.86, "intervals hold {:.3} of the tubes", s.covered);
    assert!(s.sums_covered >= 0.6, "sums of ten tubes: {:.2}", s.sums_covered);
    // our own band of what is plausible, round the 150 to 180 a kilogram that the simulator's scales were set for; no
    // record of what real lots give stands behind it
    let per_kg = 1000.0 * s.arbitrary / s.weight;
    assert!((130.0..=200.0).contains(&per_kg), "{per_kg:.0} blanks per kg at arbitrary angles");
}

#[test]
fn caliper_readings_alone_promise_little() {
    let known = grown(Population::Smooth, 13, 30);
    let dial = study(&known, 13, 60, Readings::By(Plan::Dial12));
    let caliper = study(&known, 13, 60, Readings::By(Plan::Widths));
    assert!(caliper.width > 2.5 * dial.width, "caliper {:.1}, dial {:.1} blanks wide", caliper.width, dial.width);
    assert!(caliper.covered >= 0.86, "{:.3}", caliper.covered);
}

/// Share of the tubes whose true shortfall is within the 90 % point that their own draws state for it. Less than a fiftieth of
/// a blank is none: two scores, on lines one and two degrees apart, differ by that.
fn held(s: &Study) -> f64 {
    let within = |(short, stated): (&f64, &(f64, f64))| *short <= stated.1.max(0.02);
    s.short.iter().zip(&s.stated).filter(|pair| within(*pair)).count() as f64 / s.short.len() as f64
}

/// The stated doubt of a chosen angle is the belief's own: for each draw, how many blanks its best angle gives more than
/// the chosen one. Two ways of measuring then differ in true yield by no more than the larger of their stated 90 % points,
/// unless one of them is among the tenth that its point does not hold.
#[test]
fn every_way_of_measuring_gives_yields_that_differ_by_less_than_is_stated() {
    let known = grown(Population::Smooth, 33, 60);
    // the study's losses over 150 tubes are 2.2, 3.0, 3.6, 1.0 and, the bow not seen, 9.8 %; the bounds leave three
    // standard errors of sixty tubes
    let most = [0.040, 0.055, 0.065, 0.020];
    let mut ways: Vec<Study> = Vec::new();
    for ((name, readings), most) in Readings::WHOLE.into_iter().zip(most).chain([(Readings::BLIND[0], 0.15)]) {
        let s = study(&known, 33, 100, readings);
        let (loss, short) = (s.loss(s.from_draws), mean(&s.short));
        let stated = mean(&s.stated.iter().map(|s| s.0).collect::<Vec<f64>>());
        let point = mean(&s.stated.iter().map(|s| s.1).collect::<Vec<f64>>());
        println!(
            "{name}: loss {:.2} %, short by {short:.3} +-{:.3} blanks, stated {stated:.3}, 90 % point {point:.2} holds {:.0} %",
            100.0 * loss,
            spread(&s.short) / (s.short.len() as f64).sqrt(),
            100.0 * held(&s)
        );
        assert!(loss <= most, "{name}: {loss}");
        // a tenth of sixty tubes has a standard error of 4 %
        assert!(held(&s) >= 0.80, "{name}: {}", held(&s));
        // neither boastful nor shy; a straightedge and a caliper do not see how large the odd lobes are, and these tubes have
        // smaller ones than their doubt allows for
        let shy = if readings == Readings::By(Plan::Gap) { 2.2 } else { 1.7 };
        assert!((0.6..=shy).contains(&(stated / short)), "{name}: {stated} {short}");
        ways.push(s);
    }
    let pooled = mean(&ways.iter().map(held).collect::<Vec<f64>>());
    assert!(pooled >= 0.86, "{pooled}");
    let (mut within, mut pairs) = (0_u32, 0_u32);
    let mut apart = Vec::new();
    for (i, a) in ways.iter().enumerate() {
        for b in &ways[i + 1..] {
            for k in 0..a.got.len() {
                let differ = (a.got[k] - b.got[k]).abs();
                within += u32::from(differ <= a.stated[k].1.max(b.stated[k].1));
                pairs += 1;
                apart.push(differ);
            }
        }
    }
    println!("{within} of {pairs} pairs within the stated doubt; {:.3} blanks apart on average", mean(&apart));
    assert!(f64::from(within) >= 0.9 * f64::from(pairs), "{within} of {pairs}");
    // the same comparison finds out a scan whose index mark lies 12 degrees off: its doubt knows nothing of that
    let off = study(&known, 33, 100, Readings::Scan(12.0));
    let kept = (0..off.got.len()).filter(|&k| ways[3].got[k] - off.got[k] <= off.stated[k].1).count() as f64;
    println!("mark 12 deg off: holds {:.0} %, within {kept}", 100.0 * held(&off));
    assert!(held(&off) < 0.7 && kept < 0.8 * off.got.len() as f64, "{} {kept}", held(&off));
}

/// The makes and plans on which the belief meets its goals (`study::goals::Goals`); `simulate --study` prints them all.
/// To be lengthened as more of them do, never shortened.
const MET: [(Population, Plan); 2] = [(Population::Smooth, Plan::Dial12), (Population::Grooves, Plan::Dial12)];

#[test]
fn goals_that_are_met_stay_met() {
    for (population, plan) in MET {
        let lots = 2;
        let make = Make::grow(population, 21, 10 * lots).expect("long enough");
        let way = Way::from(("dial", plan));
        let hand = Rig::default();
        let reference = outcome(&make, &way, &hand, Some(&make.scales), 100).expect("tubes that are seen");
        let own = outcome(&make, &way, &hand, None, 100).expect("tubes that are seen");
        println!("{}, {plan:?}: {own:?}\n  scales known: {reference:?}", population.word());
        // twenty tubes: two standard errors are left to chance
        let missed = Goals::beside(&reference, lots, 2.0).missed(&own, way.sees_all());
        assert!(missed.is_empty(), "{}, {plan:?}: {missed:?}", population.word());
        // good readings doubted: the goal is 0.3 %
        assert!(own.blamed.0 <= 0.005 && own.blamed.1 <= 0.05, "{}: {own:?}", population.word());
    }
}
