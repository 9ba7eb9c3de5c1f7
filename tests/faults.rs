//! Are planted slips of reading found and rightly named, and clean tubes left in peace?

#[path = "support/alarms.rs"]
mod alarms;
#[path = "support/faults.rs"]
mod faults;

use alarms::truth::plans::Plan;
use alarms::truth::populations::Population;
use alarms::{Way, clean};
use faults::{Bench, Plant, false_alarms, study, study_pair};

/// Tubes a fault is planted in.
const TUBES: u64 = 20;

/// Every fault is named on at least so many of a hundred tubes.
fn named(bench: Bench, plants: &[(Plant, usize)]) {
    named_on(bench, plants, TUBES);
}

fn named_on(bench: Bench, plants: &[(Plant, usize)], tubes: u64) {
    for &(plant, least_percent) in plants {
        let all = study(bench, plant, tubes, 61);
        let named = all.iter().filter(|o| o.found && o.named).count();
        let largest = all.iter().map(|o| o.rms_mm).fold(0.0, f64::max);
        let of = all.len();
        assert!(named * 100 >= of * least_percent, "{bench:?}, {plant:?}: {named} of {of}, up to {largest} mm");
    }
}

#[test]
fn faults_of_a_dial_are_found_and_named() {
    let plants = [
        Plant::Slip(0.3),
        Plant::SwapNeighbours,
        Plant::SwapFar,
        Plant::Decimal(0.2),
        Plant::InchReading(0.2),
        Plant::InchRing,
        Plant::InchPlace,
        Plant::Turn,
        Plant::TurnKind,
        Plant::SignSet,
        Plant::SignRing,
    ];
    named(Bench::Dial, &plants.map(|p| (p, 95)));
}

#[test]
fn faults_of_distances_from_an_axis_are_found_and_named() {
    let plants = [
        Plant::Slip(0.3),
        Plant::SwapNeighbours,
        Plant::Decimal(0.2),
        Plant::InchReading(0.2),
        Plant::InchRing,
        Plant::InchPlace,
        Plant::Turn,
        Plant::TurnKind,
    ];
    named(Bench::Axis, &plants.map(|p| (p, 95)));
}

// Below 95 %: what the kind hardly sees. A V-block sees no bow, a caliper neither bow nor odd lobes, so that stations
// that differ only in those are alike to them; DEVELOPERS.md has the shares over more tubes.
#[test]
fn faults_over_a_v_block_are_found_and_named() {
    let plants = [
        (Plant::Slip(0.3), 95),
        (Plant::SwapFar, 85),
        (Plant::Decimal(0.2), 95),
        (Plant::InchReading(0.2), 95),
        (Plant::InchRing, 95),
        (Plant::InchPlace, 75),
        (Plant::Turn, 95),
        (Plant::TurnKind, 95),
        (Plant::SignSet, 95),
        (Plant::SignRing, 95),
    ];
    named(Bench::Block, &plants);
}

#[test]
fn faults_along_a_straightedge_are_found_and_named() {
    let plants = [
        (Plant::Slip(1.0), 95),
        (Plant::SwapFar, 95),
        (Plant::Decimal(0.2), 95),
        (Plant::InchReading(0.2), 95),
        (Plant::InchRing, 95),
        (Plant::InchPlace, 95),
        (Plant::Turn, 95),
        (Plant::SignSet, 95),
    ];
    named(Bench::Straightedge, &plants);
}

// Below 95 %: a bow sags alike at every station, so stations, angles and values of like sag can change places or units
// without much changing. The place in inches is not asked for: a bar there would hang over the end, which the reader says.
#[test]
fn faults_of_bars_are_found_and_named() {
    let plants = [
        (Plant::Slip(0.3), 95),
        (Plant::SwapFar, 60),
        (Plant::Decimal(0.2), 85),
        (Plant::InchReading(0.2), 80),
        (Plant::InchRing, 75),
        (Plant::Turn, 70),
        (Plant::SignSet, 90),
        (Plant::SignRing, 95),
    ];
    named(Bench::Bar, &plants);
}

#[test]
fn faults_of_a_caliper_are_found_and_named() {
    let plants = [
        (Plant::Slip(0.3), 95),
        (Plant::SwapFar, 75),
        (Plant::Decimal(0.2), 95),
        (Plant::InchReading(0.2), 95),
        (Plant::InchRing, 95),
        (Plant::Turn, 80),
    ];
    named(Bench::Caliper, &plants);
    // found on 69 of 100, which twenty tubes tell from 60 only by luck
    named_on(Bench::Caliper, &[(Plant::InchPlace, 60)], 3 * TUBES);
}

#[test]
fn two_faults_on_one_tube_are_both_named() {
    let pairs = [
        [Plant::Slip(0.3), Plant::Decimal(0.2)],
        [Plant::Turn, Plant::Decimal(0.2)],
        [Plant::SwapNeighbours, Plant::InchReading(0.2)],
    ];
    for plants in pairs {
        let (all, both, _) = study_pair(Bench::Dial, plants, 20, 63);
        assert!(all >= 18 && both * 100 >= all * 90, "{plants:?}: both named on {both} of {all}");
    }
}

#[test]
fn clean_tubes_are_not_suspected() {
    for bench in [Bench::Dial, Bench::Axis, Bench::Block, Bench::Straightedge, Bench::Bar, Bench::Caliper] {
        let list = false_alarms(bench, 12, 62, 1, 4);
        assert!(list.is_empty(), "{bench:?}: {list:?}");
    }
}

#[test]
fn sparse_and_traced_readings_of_other_makes_are_not_accused() {
    // the ways that were: a line with one gap, whose height is free, and tracings, which have no zero to slip
    for make in [Population::RoughLobes, Population::SlowDecay] {
        for way in [Way::OneGapEach, Way::Bars, Way::Plan(Plan::Ends), Way::Plan(Plan::Pair)] {
            let c = clean(make, way, 71, 1);
            assert!(c.tubes == 10 && c.accused.is_empty(), "{way:?}: {:?}", c.accused);
            assert!(c.unsearched.is_empty(), "{way:?}: {:?}", c.unsearched);
        }
    }
}
