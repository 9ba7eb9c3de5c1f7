//! How often a planted fault is found and rightly named, and how often a clean tube is suspected.
//!
//! `cargo run --example fault_study [TUBES] [SEED]`. The table stands in DEVELOPERS.md.

#[path = "../tests/support/faults.rs"]
mod faults;

use faults::{Outcome, Plant, clean, false_alarms, planted, study};
use quarterlight::tube::faults::suspicions;
use quarterlight::tube::{Belief, Population};
use std::collections::BTreeMap;
use std::time::Instant;

const PLANTS: [(&str, Plant); 19] = [
    ("zero slipped by 0.05 mm", Plant::Slip(0.05)),
    ("zero slipped by 0.07 mm", Plant::Slip(0.07)),
    ("zero slipped by 0.10 mm", Plant::Slip(0.10)),
    ("zero slipped by 0.30 mm", Plant::Slip(0.30)),
    ("neighbouring stations swapped", Plant::SwapNeighbours),
    ("distant stations swapped", Plant::SwapFar),
    ("decimal slip, value >= 0.02 mm", Plant::Decimal(0.02)),
    ("decimal slip, value >= 0.2 mm", Plant::Decimal(0.2)),
    ("decimal slip, value >= 0.5 mm", Plant::Decimal(0.5)),
    ("reading in inches, value >= 0.1 mm", Plant::InchReading(0.1)),
    ("reading in inches, value >= 0.2 mm", Plant::InchReading(0.2)),
    ("reading in inches, value >= 0.3 mm", Plant::InchReading(0.3)),
    ("station in inches", Plant::InchRing),
    ("place of a station in inches", Plant::InchPlace),
    ("station turned one step", Plant::Turn),
    ("all dial angles turned one step", Plant::TurnKind),
    ("one of three sets reversed", Plant::SignSet),
    ("one station reversed about its mean", Plant::SignRing),
    ("zero slipped by 1.00 mm", Plant::Slip(1.0)),
];

/// Smallest size from which on 95 % of the tubes with a fault at least as large are found and rightly named, mm.
fn smallest(outcomes: &[Outcome]) -> Option<f64> {
    let mut list: Vec<&Outcome> = outcomes.iter().collect();
    list.sort_by(|a, b| b.rms_mm.total_cmp(&a.rms_mm));
    let mut named = 0;
    let mut best = None;
    for (n, o) in list.iter().enumerate() {
        named += usize::from(o.named);
        if n >= 19 && named * 100 >= (n + 1) * 95 {
            best = Some(o.rms_mm);
        }
    }
    best
}

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let (tubes, seed) = (args.next().unwrap_or(200), args.next().unwrap_or(51));
    println!("{tubes} simulated tubes each, seed {seed}; runout 12 x 17 mm, 0.02 mm noise, with 4 diameters (0.05 mm)");
    println!("{:<38} {:>7} {:>7} {:>22}", "fault", "found", "named", "95 % named from, mm");
    for (name, plant) in PLANTS {
        let all = study(plant, tubes, seed);
        let share =
            |f: &dyn Fn(&Outcome) -> bool| 100.0 * all.iter().filter(|o| f(o)).count() as f64 / all.len().max(1) as f64;
        let from = smallest(&all).map_or("-".to_string(), |s| format!("{s:.3}"));
        println!("{name:<38} {:>5.1} % {:>5.1} % {from:>22}", share(&|o| o.found), share(&|o| o.named));
    }
    for (name, sets, diameters) in
        [("one set, 4 diameters", 1, 4), ("three sets, 4 diameters", 3, 4), ("one set, 40 diameters", 1, 40)]
    {
        let list = false_alarms(3 * tubes, seed + 1, sets, diameters);
        println!("clean tubes, {name}: {} of {} suspected", list.len(), 3 * tubes);
        for (k, s) in list.iter().take(5) {
            println!("  tube {k}: gain {:.1}: {}", s.gain, s.words);
        }
    }
    time_of("clean", &clean(seed, 0, 1, 4).0);
    time_of("sign of a set", &planted(Plant::SignSet, seed, 0).0);
}

fn time_of(name: &str, tube: &quarterlight::domain::Tube) {
    let (rigs, population) = (BTreeMap::new(), Population::default());
    let begun = Instant::now();
    let belief = Belief::fit(tube, &rigs, &population, 12.7).expect("readings");
    let fit = begun.elapsed();
    let begun = Instant::now();
    let list = suspicions(tube, &belief, &rigs, &population, 12.7);
    let n = tube.readings.len();
    println!("{name}: {n} readings, fit {fit:.1?}, suspicions {:.1?} ({})", begun.elapsed(), list.len());
    for s in list {
        println!("  {:.1}: {}", s.gain, s.words);
    }
}
