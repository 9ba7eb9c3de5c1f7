//! What sawing a tube across before it is split really gives, where the tool says that it pays: told gain against true gain,
//! make by make. Truth is judged by other code (`src/known`).
//!
//! `cargo run --release --example sawing_first [LOTS] [SEED] [LENGTH]`: lots of ten tubes of every make, read by a dial at
//! twelve angles every 17 mm and four diameters in an ordinary hand, and read exactly; LENGTH is that of the tubes in mm, else each make's own. The table stands in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::tool::{learned, lot, rules, tube_of};
use choice::truth::plans::{Plan, ordinary_hand};
use choice::truth::populations::Population;
use choice::truth::shape::TrueTube;
use choice::truth::yields::{Known, WANDER_DEG};
use choice::truth::{mean, spread};
use quarterlight::decide::plan::{PlanOptions, plan_tube};
use quarterlight::decide::saw_first::SawFirst;
use quarterlight::domain::{Lot, Tube};
use rayon::prelude::*;

const IN_A_LOT: usize = 10;

/// What was told of one tube that had a cut worth a thought, and what is true of it.
struct One {
    told: SawFirst,
    whole: f64,
    sawn: f64,
}

fn main() {
    let word = |i: usize| std::env::args().nth(i + 1);
    let number = |i: usize| word(i).and_then(|a| a.parse::<u64>().ok());
    let (lots, seed, length_mm) =
        (number(0).unwrap_or(4), number(1).unwrap_or(41), word(2).and_then(|a| a.parse().ok()));
    println!(
        "{lots} lots of {IN_A_LOT} tubes of every make, seed {seed}, 200 draws; blanks a tube that is told to be sawn first"
    );
    println!(
        "make, readings: tubes, thought of, told; told gain, true gain +-error, of tubes told; true gain of those thought of and not told"
    );
    for (name, make) in Population::ALL {
        for (how, exact) in [("dial 12x17", false), ("exactly", true)] {
            let all: Vec<Option<One>> =
                (0..lots).flat_map(|l| of_lot(make, seed + 1000 * l, exact, length_mm)).collect();
            row(&format!("{name}, {how}"), &all);
        }
    }
}

fn row(name: &str, all: &[Option<One>]) {
    let (told, not): (Vec<&One>, Vec<&One>) = all.iter().flatten().partition(|o| o.told.wins());
    let gains = |of: &[&One]| -> Vec<f64> { of.iter().map(|o| o.sawn - o.whole).collect() };
    let said: Vec<f64> = told.iter().map(|o| o.told.gain).collect();
    let (real, left) = (gains(&told), gains(&not));
    let error = |x: &[f64]| spread(x) / (x.len() as f64).sqrt();
    println!(
        "{name}: {}, {}, {}; {:.2}, {:.2} +-{:.2}; {:.2} +-{:.2}",
        all.len(),
        told.len() + not.len(),
        told.len(),
        mean(&said),
        mean(&real),
        error(&real),
        mean(&left),
        error(&left)
    );
}

/// Tubes grow at once `length_mm` long where it is asked for.
fn of_lot(make: Population, seed: u64, exact: bool, length_mm: Option<f64>) -> Vec<Option<One>> {
    let trues: Vec<TrueTube> = (0..IN_A_LOT as u64)
        .map(|k| {
            let mut tube = quarterlight::known::populations::Recipe::from(make).form(seed, k).tube();
            tube.length_mm = length_mm.unwrap_or(tube.length_mm);
            tube
        })
        .collect();
    let known: Vec<Known> = trues
        .into_par_iter()
        .enumerate()
        .map(|(k, tube)| Known::of(tube, &rules(&lot()), seed, k as u64).expect("long enough"))
        .collect();
    let tubes: Vec<Tube> = known
        .par_iter()
        .map(|k| {
            let plan = Plan::Dial12;
            tube_of(
                &k.tube,
                &if exact { plan.read(&k.tube, seed) } else { plan.read_by(&k.tube, seed, &ordinary_hand()) },
            )
        })
        .collect();
    let model = learned(&tubes);
    let lot = Lot { tubes: tubes.clone(), ..lot() };
    let options = PlanOptions { seed, draws: 200 };
    known
        .par_iter()
        .zip(&tubes)
        .map(|(known, tube)| {
            let plan = plan_tube(tube, &lot, &model, options).expect("measured");
            let told = plan.saw_first?;
            let whole = known.at(plan.split.expect("long enough").best.angle_deg);
            let of = |l: &quarterlight::decide::saw_first::SawnLength| {
                known.judged.sawn(WANDER_DEG, [l.from_mm, l.to_mm], l.angle_deg)
            };
            let sawn = told.lengths.iter().map(of).sum();
            Some(One { told, whole, sawn })
        })
        .collect()
}
