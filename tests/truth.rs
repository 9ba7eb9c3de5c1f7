//! Is the judge itself right? The brute-force evaluator and the plain instruments against slower words of the definition
//! and against shapes whose answers are known.

use quarterlight::known as truth;
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
    // room of 19.2 deg a piece: two lines 3 deg out each take all of it three times in a million
    assert!(judged.by_angle(3.0).iter().all(|n| (n - 12.0).abs() < 1e-4));
    // three pieces
    let rules = Rules { pieces: 3, ..Rules::default() };
    let judged = Judged::of(&TrueTube::round(233.0, 12.7), &rules).expect("long enough");
    assert_eq!(judged.by_angle(0.0).len(), 120);
    assert!(judged.by_angle(3.0).iter().all(|n| (n - 9.0).abs() < 1e-9));
    // on a tube of 24 mm the underside of a blank of 13.5 x 3.2 needs 37.5 deg to either side of its middle, tangent 6.75 / 8.8
    let judged = Judged::of(&TrueTube::round(233.0, 12.0), &Rules { arc_mm: [24.0, 1.0], ..Rules::default() });
    let judged = judged.expect("long enough");
    assert_eq!(judged.runs_at(0.0, &[0.0, -14.5, 0.0, 0.0]), [3, 3, 3, 3]);
    assert_eq!(judged.runs_at(0.0, &[0.0, -15.5, 0.0, 0.0]), [0, 3, 3, 3]);
    assert!(Judged::of(&TrueTube::round(85.0, 12.7), &Rules::default()).is_none());
}

#[test]
fn a_bent_and_a_tapered_tube_leave_a_blank_the_room_that_their_corners_leave() {
    let rules = Rules { hollow_mm: 5.0, rock_mm: 5.0, arc_mm: [25.4, 5.0], ..Rules::default() };
    let runs = |tube: &TrueTube, aim: f64, off: f64| {
        Judged::of(tube, &rules).expect("long enough").runs_at(aim, &[0.0, -off, 0.0, 0.0])[0]
    };
    // bent by 12 mm along 0 deg: 12 (70 / 233)^2 = 1.083 mm over a blank, all of it across the line at 90 deg, where tangent
    // 7.29 / 9.5 asks for 37.5 deg and a quarter has 15.0 to spare instead of 19.2
    let mut bent = TrueTube::round(233.0, 12.7);
    assert_eq!((runs(&bent, 45.0, 18.7), runs(&bent, 45.0, 19.7)), (3, 0));
    bent.axis = Box::new(|z| [12.0 * (1.0 - (z / 116.5 - 1.0).powi(2)), 0.0]);
    assert_eq!((runs(&bent, 45.0, 14.5), runs(&bent, 45.0, 15.5)), (3, 0));
    // R = 11.7 mm at the index end and 1 mm more every 100: 38.2 deg needed at the trim; with 75.8 deg from face to face a
    // blank begins only where R = 11.87, at 17 mm, and three no longer fit into 233
    let mut tapered = TrueTube::round(233.0, 12.7);
    tapered.ring = Box::new(|z| Box::new(move |_| 11.7 + z / 100.0));
    assert_eq!((runs(&tapered, 0.0, 13.4), runs(&tapered, 0.0, 14.2)), (3, 2));
    // a fibre that goes round by 5 deg over a blank takes 5 off the room
    let mut turning = TrueTube::round(233.0, 12.7);
    turning.turn_deg = Box::new(|z| z / 14.0);
    let rules = Rules { drift_mm: 3.0, ..Rules::default() };
    let of = |off: f64| Judged::of(&turning, &rules).expect("long enough").runs_at(0.0, &[0.0, -off, 0.0, 0.0])[0];
    assert_eq!((of(13.7), of(14.7)), (3, 0));
}

/// Catches a wall looked at on the crown alone: the bore must not come through the flat anywhere over its width.
#[test]
fn the_bore_must_stay_under_the_flat() {
    let rules = Rules { wall_mm: 3.4, ..Rules::default() };
    let walled = |wall: Box<dyn Fn(f64, f64) -> f64 + Send + Sync>| TrueTube { wall, ..TrueTube::round(233.0, 12.7) };
    let shown = |tube: &TrueTube, deg: f64| window_by_definition(tube, &rules, f64::to_radians(deg), 50.0, 1.0).wall;
    // an even wall shows itself
    assert!((shown(&walled(Box::new(|_, _| 3.6)), 70.0) - 3.6).abs() < 1e-9);
    // a groove in the bore from 22 to 28 deg off the crown leaves 2 mm: 12.7 - 10.7 cos 22 = 2.78 as seen from the crown
    let grooved = |a: f64, _: f64| if (a.to_degrees() - 95.0).abs() < 3.0 { 2.0 } else { 3.6 };
    assert!((shown(&walled(Box::new(grooved)), 70.0) - 2.78).abs() < 0.03);
    assert!((shown(&walled(Box::new(grooved)), 130.1) - 3.6).abs() < 1e-9);
    let judged = Judged::of(&walled(Box::new(grooved)), &rules).expect("long enough");
    assert!(!judged.passing[70] && judged.passing[131] && judged.passing[55]);
}
