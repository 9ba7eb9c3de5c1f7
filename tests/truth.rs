//! Is the judge itself right? The brute-force evaluator and the plain instruments against slower words of the definition
//! and against shapes whose answers are known.

#[path = "support/truth/mod.rs"]
mod truth;

use truth::chance::Chance;
use truth::evaluator::{Judged, LINES, Rules, lay_stick, most_runs, window_by_definition};
use truth::populations::Population;
use truth::shape::TrueTube;

#[test]
fn the_quick_judge_agrees_with_the_words_of_the_definition() {
    let rules = Rules::default();
    let (mut differ, mut passed, mut seen) = (0, 0, 0);
    for (k, (name, population)) in (0..).zip(Population::ALL) {
        let tube = population.grow(7, k);
        let judged = Judged::of(&tube, &rules).expect("long enough");
        let mut c = Chance::of(3, name, k);
        for _ in 0..60 {
            let s = truth::whole(c.even(0.0, judged.starts() as f64));
            let i = truth::whole(c.even(0.0, LINES as f64));
            let quick = judged.passing[s * LINES + i];
            let slow = window_by_definition(&tube, &rules, (i as f64).to_radians(), judged.start_mm(s), 0.25);
            passed += usize::from(quick);
            seen += 1;
            if quick != slow.passes(&rules) {
                differ += 1;
                // only windows at the very edge of a limit may differ: 3 um of gap, 0.02 mm of arc, 0.1 mm of skew
                let edge = (slow.hollow - rules.hollow_mm).abs() < 0.003
                    || (slow.rock - rules.rock_mm).abs() < 0.004
                    || ((slow.arc - rules.arc_mm[0]).abs() - rules.arc_mm[1]).abs() < 0.02
                    || (slow.skew.abs() - rules.skew_mm).abs() < 0.1;
                assert!(edge, "{name}, start {s}, line {i}: {quick} against {slow:?}");
            }
        }
    }
    println!("{differ} of {seen} differ, {passed} pass");
    assert!(differ * 50 <= seen && passed * 10 > seen, "{differ} of {seen} differ, {passed} pass");
}

#[test]
fn the_earliest_start_every_time_is_the_most() {
    // every set of starts of at most three runs tried, in steps of a quarter
    let mut c = Chance::of(5, "starts", 0);
    for case in 0..200 {
        let allowed: Vec<bool> = (0..14).map(|_| c.is(0.6)).collect();
        let need = 3.0 + 0.25 * f64::from(case % 9);
        let free = |q: usize| {
            let (j, between) = (q / 4, !q.is_multiple_of(4));
            if between { allowed[j] && allowed[j + 1] } else { allowed[j] }
        };
        fn most(free: &dyn Fn(usize) -> bool, from: f64, need: f64) -> usize {
            (0..=52)
                .filter(|&q| q as f64 / 4.0 >= from - 1e-9 && free(q))
                .map(|q| 1 + most(free, q as f64 / 4.0 + need, need))
                .max()
                .unwrap_or(0)
        }
        assert_eq!(most_runs(&allowed, 1.0, need), most(&free, 0.0, need), "case {case}: {allowed:?} {need}");
    }
}

#[test]
fn a_stick_on_a_hollow_a_crown_and_a_step() {
    let bent = |by: f64| (0..72).map(|i| by * (f64::from(i) / 35.5 - 1.0).powi(2)).collect::<Vec<f64>>();
    let (hollow, rock) = lay_stick(&bent(0.1));
    assert!((hollow - 0.1).abs() < 1e-4 && rock.abs() < 1e-12, "{hollow} {rock}");
    let (hollow, rock) = lay_stick(&bent(-0.1));
    assert!(hollow < 1e-12 && (rock - 0.1).abs() < 1e-4, "{hollow} {rock}");
    // a step up of 0.2 at two thirds: the stick leans from the first point to the step
    let step: Vec<f64> = (0..72).map(|i| if i < 48 { 0.0 } else { 0.2 }).collect();
    let (hollow, rock) = lay_stick(&step);
    assert!((hollow - 0.2 * 47.0 / 48.0).abs() < 1e-9 && (rock - 0.2 * 23.0 / 48.0).abs() < 1e-9, "{hollow} {rock}");
}

#[test]
fn a_perfect_tube_yields_all_its_length_holds() {
    // 233 mm less two trims of 8: three blanks of 70 and two cuts of 1 take 212, and 5 are left over
    let judged = Judged::of(&TrueTube::round(233.0, 12.7), &Rules::default()).expect("long enough");
    assert_eq!(judged.runs_at(17.0, &[]), [3, 3, 3, 3]);
    // room of 22.6 deg a piece: two lines 3 deg out each take all of it once in ten million
    assert!(judged.by_angle(3.0).iter().all(|n| (n - 12.0).abs() < 1e-5));
    // three pieces
    let rules = Rules { pieces: 3, ..Rules::default() };
    let judged = Judged::of(&TrueTube::round(233.0, 12.7), &rules).expect("long enough");
    assert_eq!(judged.by_angle(0.0).len(), 120);
    assert!(judged.by_angle(3.0).iter().all(|n| (n - 9.0).abs() < 1e-9));
    // on a tube of 24 mm a blank of 13.5 with 0.3 to spare needs 36.2 deg to either side of its middle
    let judged = Judged::of(&TrueTube::round(233.0, 12.0), &Rules { arc_mm: [24.0, 1.0], ..Rules::default() });
    let judged = judged.expect("long enough");
    assert_eq!(judged.runs_at(0.0, &[0.0, -17.0, 0.0, 0.0]), [3, 3, 3, 3]);
    assert_eq!(judged.runs_at(0.0, &[0.0, -18.5, 0.0, 0.0]), [0, 3, 3, 3]);
    assert!(Judged::of(&TrueTube::round(85.0, 12.7), &Rules::default()).is_none());
}
