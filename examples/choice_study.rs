//! How many blanks are lost by choosing the split angle from readings, against perfect knowledge of the surface. Truth is
//! judged by other code (`src/known`).
//!
//! `cargo run --release --example choice_study [TUBES] [SEED]`: smooth tubes, one block for each way of measuring. Other makes and
//! plans: `quarterlight simulate --study`.
//!
//! The tables stand in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::truth::mean;
use choice::truth::populations::Population;
use choice::{Readings, grown, study};

fn main() {
    let number = |i: usize| std::env::args().nth(i + 1).and_then(|a| a.parse::<u64>().ok());
    ways(number(0).unwrap_or(400), number(1).unwrap_or(11));
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
