//! How many blanks are lost by choosing the split angle from readings, against perfect knowledge of the surface.
//!
//! `cargo run --release --example choice_study [TUBES] [SEED]`; 400 tubes take about a minute on two cores. The table
//! stands in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::{Readings, study};

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let (tubes, seed) = (args.next().unwrap_or(400), args.next().unwrap_or(11));
    println!("{tubes} simulated tubes, seed {seed}, 200 draws, wander 3 deg; blanks lost against perfect knowledge");
    for (name, readings) in [("dial 12 x 17 mm + 4 diameters", Readings::Dial), ("caliper only", Readings::Caliper)] {
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
        println!(
            "  90 % intervals: {:.1} blanks wide, hold {:.1} % of tubes, {:.1} % of sums of ten tubes",
            s.width,
            100.0 * s.covered,
            100.0 * s.sums_covered
        );
    }
}
