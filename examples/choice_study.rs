//! How many blanks are lost by choosing the split angle from readings, against perfect knowledge of the surface. Truth is
//! judged by other code (`src/known`).
//!
//! * `cargo run --release --example choice_study [TUBES] [SEED]`: smooth tubes, one block for each way of measuring;
//! * `cargo run --release --example choice_study makes [LOTS] [SEED] [MAKE] [PLAN] [hand] [alone] [forms]`: every make of
//!   tubes and seven plans, or with `forms` those that `new` offers, lots of ten tubes. MAKE and PLAN (a part of their words, `-`: all) pick some; `hand` adds the faults of
//!   an ordinary hand; `alone` leaves out the reference that knows the true scales.
//!
//! The tables stand in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::makes::{Goals, Make, Outcome, outcome, sees_all};
use choice::truth::figures::quantile;
use choice::truth::mean;
use choice::truth::measuring::Rig;
use choice::truth::plans::{Plan, ordinary_hand};
use choice::truth::populations::Population;
use choice::{Readings, grown, study};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    if args.first().is_some_and(|a| a == "makes") {
        makes(&args[1..]);
    } else {
        let number = |i: usize| args.get(i).and_then(|a| a.parse::<u64>().ok());
        ways(number(0).unwrap_or(400), number(1).unwrap_or(11));
    }
}

fn ways(tubes: u64, seed: u64) {
    println!("{tubes} smooth tubes, seed {seed}, 200 draws, wander 3 deg; blanks lost against perfect knowledge");
    let known = grown(Population::Smooth, seed, tubes);
    let mut first: Option<Vec<f64>> = None;
    for (name, readings) in Readings::WHOLE.into_iter().chain(Readings::BLIND).chain(Readings::EXACT) {
        let s = study(&known, seed, 200, readings);
        let percent = |x: f64| 100.0 * s.loss(x);
        println!(
            "{name}: from draws {:.2} % (+-{:.2}), from the mean surface {:.2} %, arbitrary angle {:.1} %",
            percent(s.from_draws),
            100.0 * s.loss_error,
            percent(s.from_mean),
            percent(s.arbitrary)
        );
        println!(
            "  blanks best {:.1}, got {:.1}, forecast {:.1}; per kg best {:.0}, arbitrary {:.0}",
            s.best,
            s.from_draws,
            s.forecast,
            1000.0 * s.best / s.weight,
            1000.0 * s.arbitrary / s.weight
        );
        let held = s.short.iter().zip(&s.stated).filter(|(short, stated)| **short <= stated.1).count();
        println!(
            "  short of the best by {:.3} blanks a tube, stated {:.3}; 90 % points of that hold {:.1} % of tubes",
            mean(&s.short),
            mean(&s.stated.iter().map(|s| s.0).collect::<Vec<f64>>()),
            100.0 * held as f64 / s.short.len() as f64
        );
        let first = first.get_or_insert_with(|| s.got.clone());
        let apart: Vec<f64> = first.iter().zip(&s.got).map(|(a, b)| (a - b).abs()).collect();
        println!("  true yield {:.3} blanks a tube from that of the first way", mean(&apart));
        println!(
            "  90 % intervals: {:.1} blanks wide, hold {:.1} % of tubes, {:.1} % of sums of ten tubes",
            s.width,
            100.0 * s.covered,
            100.0 * s.sums_covered
        );
    }
}

fn makes(args: &[String]) {
    let numbers: Vec<u64> = args.iter().filter_map(|a| a.parse().ok()).collect();
    let words: Vec<&str> = args.iter().map(String::as_str).filter(|a| a.parse::<u64>().is_err()).collect();
    let (lots, seed) = (*numbers.first().unwrap_or(&6), *numbers.get(1).unwrap_or(&21));
    let alone = words.contains(&"alone");
    let plans: &[(&str, Plan)] = if words.contains(&"forms") { &Plan::FORMS } else { &Plan::SEVEN };
    let hand = if words.contains(&"hand") { ordinary_hand() } else { Rig::default() };
    let picks: Vec<&str> = words.into_iter().filter(|w| !["alone", "hand", "forms"].contains(w)).collect();
    let picked = |i: usize, word: &str| picks.get(i).is_none_or(|p| *p == "-" || word.contains(p));
    println!("lots of ten tubes: {lots} of each make, seed {seed}, 200 draws, wander 3 deg; percent");
    for (name, population) in Population::ALL.into_iter().filter(|p| picked(0, p.0)) {
        let make = Make::grow(population, seed, lots);
        let (best, arbitrary) = make.blanks();
        let each: Vec<f64> = make.known.iter().map(|k| k.best()).collect();
        println!(
            "\n{name}: {:.2} blanks a tube at the best angle ({:.1} to {:.1} for nine in ten), an arbitrary one loses {:.1}",
            best / each.len() as f64,
            quantile(&each, 0.05),
            quantile(&each, 0.95),
            100.0 * (1.0 - arbitrary / best)
        );
        println!(
            "{:<24} {:>8} {:>12} {:>12} {:>6} {:>6} {:>6} {:>9} {:>7} {:>6} {:>6} {:>8} {:>9}  misses",
            "plan",
            "readings",
            "lost",
            "known scales",
            "hold",
            "exact",
            "sums",
            "promised",
            "marked",
            "sums",
            "width",
            "doubted",
            "suspected"
        );
        for (word, plan) in plans.iter().copied().filter(|p| picked(1, p.0)) {
            let own = outcome(&make, plan, &hand, None, 200);
            let known = (!alone).then(|| outcome(&make, plan, &hand, Some(&make.scales), 200));
            row(word, plan, lots, &own, known.as_ref());
        }
    }
}

/// One plan's line, and the reference's under it. A goal counts as missed beyond one standard error.
fn row(word: &str, plan: Plan, lots: u64, own: &Outcome, known: Option<&Outcome>) {
    let p = |x: f64| format!("{:.1}", 100.0 * x);
    let loss = |o: &Outcome| format!("{} +-{}", p(o.lost.0), p(o.lost.1));
    let line = |name: &str, o: &Outcome, beside: &str, missed: &str| {
        println!(
            "{name:<24} {:>8.0} {:>12} {beside:>12} {:>6} {:>6} {:>6} {:>9} {:>7} {:>6} {:>6.2} {:>8} {:>9}  {missed}",
            o.readings,
            loss(o),
            p(o.hold),
            p(o.exact),
            p(o.sums),
            format!("{:+.1}", 100.0 * o.promised),
            format!("{:+.1}", 100.0 * o.marked.0),
            p(o.marked.1),
            o.width,
            format!("{:.2}", 100.0 * o.blamed.0),
            p(o.blamed.1)
        );
    };
    let missed = known.map_or(String::new(), |k| Goals::beside(k, lots, 1.0).missed(own, sees_all(plan)).join("; "));
    line(word, own, &known.map_or(String::new(), loss), &missed);
    if let Some(k) = known {
        line("  the same, scales known", k, "", "");
    }
}
