//! How often a planted fault is found and rightly named, and how often a clean tube is suspected.
//!
//! `cargo run --release --example fault_study [TUBES] [SEED] [clean|planted] [WAY ...]`. A WAY is a part of the name of a way
//! to read clean tubes, such as "outlines"; without one all are run. The tables stand in DEVELOPERS.md.

#[path = "../tests/support/alarms.rs"]
mod alarms;
#[path = "../tests/support/faults.rs"]
mod faults;

use alarms::{MAKES, WAYS};
use faults::{Bench, Outcome, Plant, clean, false_alarms, planted, study, study_pair};
use quarterlight::tube::faults::suspicions;
use quarterlight::tube::{Belief, Model};
use std::time::Instant;

const ALL: [Bench; 6] = [Bench::Dial, Bench::Axis, Bench::Block, Bench::Straightedge, Bench::Bar, Bench::Caliper];

const PLANTS: [(&str, Plant); 19] = [
    ("zero slipped by 0.05 mm", Plant::Slip(0.05)),
    ("zero slipped by 0.07 mm", Plant::Slip(0.07)),
    ("zero slipped by 0.10 mm", Plant::Slip(0.10)),
    ("zero slipped by 0.30 mm", Plant::Slip(0.30)),
    ("zero slipped by 1.00 mm", Plant::Slip(1.0)),
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
    ("all angles turned one step", Plant::TurnKind),
    ("one of three sets, or a line, reversed", Plant::SignSet),
    ("one station reversed about its mean", Plant::SignRing),
];

const PAIRS: [(&str, [Plant; 2]); 6] = [
    ("slip 0.30 mm, decimal slip", [Plant::Slip(0.3), Plant::Decimal(0.2)]),
    ("slip 0.30 mm, distant swap", [Plant::Slip(0.3), Plant::SwapFar]),
    ("neighbours swapped, reading in inches", [Plant::SwapNeighbours, Plant::InchReading(0.2)]),
    ("station turned, decimal slip", [Plant::Turn, Plant::Decimal(0.2)]),
    ("station in inches, another turned", [Plant::InchRing, Plant::Turn]),
    ("station reversed, others swapped", [Plant::SignRing, Plant::SwapNeighbours]),
];

/// Faults that can befall a bench: only a dial has a sign, and a caliper has nothing beside it to be turned against.
fn befalls(bench: Bench, plant: Plant) -> bool {
    match plant {
        Plant::SignSet => !matches!(bench, Bench::Axis | Bench::Caliper),
        Plant::SignRing => matches!(bench, Bench::Dial | Bench::Block | Bench::Bar),
        Plant::TurnKind => bench != Bench::Caliper,
        _ => true,
    }
}

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
    let words: Vec<String> = std::env::args().skip(1).collect();
    let only = |word: &str| words.iter().any(|w| w == word);
    let mut args = words.iter().filter_map(|a| a.parse::<u64>().ok());
    let (tubes, seed) = (args.next().unwrap_or(200), args.next().unwrap_or(51));
    let known = |w: &str| ["clean", "planted"].contains(&w) || w.parse::<u64>().is_ok();
    let ways: Vec<&str> = words.iter().map(String::as_str).filter(|w| !known(w)).collect();
    if let Some(word) = ways.iter().find(|word| !WAYS.iter().any(|(name, _)| name.contains(*word))) {
        let names: Vec<&str> = WAYS.iter().map(|w| w.0).collect();
        eprintln!("error: no way to read tubes is called so: {word}\n  hint: a part of one of: {}", names.join("; "));
        std::process::exit(2);
    }
    if !only("planted") {
        of_clean(tubes.div_ceil(10), seed, &ways);
    }
    if !only("clean") {
        of_planted(tubes, seed);
    }
}

/// Clean tubes of other makes, read in the ways whose names hold one of these words; of no word, in every way.
fn of_clean(lots: u64, seed: u64, words: &[&str]) {
    println!("clean tubes accused, {} of each make and way, seed {seed} (w: tubes whose doubt was widened)", 10 * lots);
    let heads: Vec<String> = MAKES.iter().map(|m| format!("{:>18}", m.word())).collect();
    println!("{:<42}{}", "", heads.concat());
    let (mut all, mut accused) = (0, Vec::new());
    let asked = |name: &str| words.is_empty() || words.iter().any(|w| name.contains(w));
    for (name, way) in WAYS.into_iter().filter(|w| asked(w.0)) {
        print!("{name:<42}");
        for make in MAKES {
            let c = alarms::clean(make, way, seed, lots);
            print!("{:>18}", format!("{}{} (w {})", c.accused.len(), "!".repeat(c.unsearched.len()), c.widened));
            all += c.tubes;
            accused.extend(c.accused.into_iter().map(|a| format!("{name}, {}, {a}", make.word())));
        }
        println!();
    }
    println!("{} of {all} clean tubes accused", accused.len());
    accused.iter().for_each(|a| println!("  {a}"));
}

/// Faults planted in the crate's own simulated tubes.
fn of_planted(tubes: u64, seed: u64) {
    println!("{tubes} simulated tubes each, seed {seed}");
    for bench in ALL {
        println!("\n{bench:?}: {:<30} {:>7} {:>7} {:>22}", "fault", "found", "named", "95 % named from, mm");
        for (name, plant) in PLANTS.into_iter().filter(|p| befalls(bench, p.1)) {
            let all = study(bench, plant, tubes, seed);
            let share = |f: &dyn Fn(&Outcome) -> bool| {
                100.0 * all.iter().filter(|o| f(o)).count() as f64 / all.len().max(1) as f64
            };
            let from = smallest(&all).map_or("-".to_string(), |s| format!("{s:.3}"));
            println!("{name:<38} {:>5.1} % {:>5.1} % {from:>22}", share(&|o| o.found), share(&|o| o.named));
        }
        for (name, sets, diameters) in
            [("one set, 4 widths", 1, 4), ("three sets, 4 widths", 3, 4), ("one set, 40 widths", 1, 40)]
        {
            let list = false_alarms(bench, 2 * tubes, seed + 1, sets, diameters);
            println!("clean tubes, {name}: {} of {} suspected", list.len(), 2 * tubes);
            for (k, s) in list.iter().take(5) {
                println!("  tube {k}: gain {:.1}: {}", s.gain, s.words);
            }
        }
    }
    println!("\nDial, two faults on one tube: {:<12} {:>7} {:>12}", "", "both", "at least one");
    for (name, plants) in PAIRS {
        let (all, both, one) = study_pair(Bench::Dial, plants, tubes, seed);
        let share = |n: usize| 100.0 * n as f64 / all.max(1) as f64;
        println!("{name:<38} {:>5.1} % {:>10.1} %  of {all}", share(both), share(one));
    }
    time_of("clean", &clean(Bench::Dial, seed, 0, 1, 4).tube);
    time_of("sign of a set", &planted(Bench::Dial, Plant::SignSet, seed, 0).tube);
}

fn time_of(name: &str, tube: &quarterlight::domain::Tube) {
    let model = Model::default();
    let begun = Instant::now();
    let belief = Belief::fit(tube, &model).expect("readings");
    let fit = begun.elapsed();
    let begun = Instant::now();
    let list = suspicions(tube, &belief, &model).expect("searched").told;
    let n = tube.readings.len();
    println!("{name}: {n} readings, fit {fit:.1?}, suspicions {:.1?} ({})", begun.elapsed(), list.len());
    for s in list {
        println!("  {:.1}: {}", s.gain, s.words);
    }
}
