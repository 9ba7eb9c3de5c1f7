//! How many blanks are lost by choosing the split angle from readings, against perfect knowledge of the surface.
//!
//! `cargo run --release --example choice_study [TUBES] [SEED]`: one block for each way of measuring. The table stands in
//! DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::{Readings, study};
use quarterlight::numeric::summary::{count, mean};

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let (tubes, seed) = (args.next().unwrap_or(400), args.next().unwrap_or(11));
    println!("{tubes} simulated tubes, seed {seed}, 200 draws, wander 3 deg; blanks lost against perfect knowledge");
    let mut first: Option<Vec<f64>> = None;
    for (name, readings) in Readings::WHOLE.into_iter().chain(Readings::BLIND) {
        let s = study(tubes, seed, 200, readings);
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
            100.0 * count(held) / count(s.short.len())
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
