//! Are planted slips of reading found and rightly named, and clean tubes left in peace?

#[path = "support/faults.rs"]
mod faults;

use faults::{Plant, false_alarms, study};

#[test]
fn planted_faults_are_found_and_named() {
    let plants = [
        (Plant::Slip(0.3), 95),
        (Plant::SwapNeighbours, 95),
        (Plant::SwapFar, 95),
        (Plant::Decimal(0.2), 95),
        (Plant::InchReading(0.2), 95),
        (Plant::InchRing, 95),
        // less sure than the rest: DEVELOPERS.md has the share over more tubes
        (Plant::InchPlace, 80),
        (Plant::Turn, 95),
        (Plant::TurnKind, 95),
        (Plant::SignSet, 95),
        (Plant::SignRing, 95),
    ];
    for (plant, least_percent) in plants {
        let all = study(plant, 40, 61);
        let named = all.iter().filter(|o| o.found && o.named).count();
        let largest = all.iter().map(|o| o.rms_mm).fold(0.0, f64::max);
        assert!(named * 100 >= all.len() * least_percent, "{plant:?}: {named} of {}, up to {largest} mm", all.len());
    }
}

#[test]
fn clean_tubes_are_not_suspected() {
    let list = false_alarms(60, 62, 1, 4);
    assert!(list.len() <= 1, "{list:?}");
}
