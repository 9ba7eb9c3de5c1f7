//! Are planted slips of reading found and rightly named, and clean tubes left in peace?

#[path = "support/faults.rs"]
mod faults;

use faults::{Plant, false_alarms, study};

#[test]
fn planted_faults_are_found_and_named() {
    for plant in [Plant::Slip(0.3), Plant::SwapFar, Plant::InchRing, Plant::Turn, Plant::SignSet, Plant::TurnKind] {
        let all = study(plant, 40, 61);
        let named = all.iter().filter(|o| o.found && o.named).count();
        let largest = all.iter().map(|o| o.rms_mm).fold(0.0, f64::max);
        assert!(named * 100 >= all.len() * 90, "{plant:?}: {named} of {}, up to {largest} mm", all.len());
    }
}

#[test]
fn clean_tubes_are_not_suspected() {
    let list = false_alarms(60, 62, 1, 4);
    assert!(list.len() <= 1, "{list:?}");
}
