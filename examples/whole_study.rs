//! How often the interval of a whole lot holds when 6, 12 or 24 of its sixty tubes are measured. Tubes and truth come from
//! other code (`src/known`).
//!
//! `cargo run --release --example whole_study [LOTS] [SEED] [MAKE] [sparse]`: so many true lots a make (MAKE: a part of its word), read by a dial at 12
//! angles every 17 mm (`sparse`: at 8 angles and 5 stations), from each of which tubes to be
//! measured are picked at random until there are 500 samples. Every tube of a true lot is measured and planned once, so that
//! what the unmeasured ones really give is what they give when they are split as the measured ones are. The table stands in
//! DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::truth::chance::Chance;
use choice::truth::mean;
use choice::truth::measuring::Rig;
use choice::truth::plans::Plan;
use choice::truth::populations::Population;
use choice::{grown, tool};
use quarterlight::decide::plan::{NoPlan, PlanOptions, plan_tube};
use quarterlight::domain::Lot;
use quarterlight::lot::{Terms, TubeOutcome, WholeLot, forecast};
use rayon::prelude::*;
use std::collections::BTreeMap;

const IN_A_LOT: u64 = 60;
const SAMPLES: u64 = 500;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| args.get(i).and_then(|a| a.parse::<u64>().ok());
    let (lots, seed) = (number(0).unwrap_or(10), number(1).unwrap_or(5));
    let pick = args.get(2).map_or("", String::as_str);
    let plan = if args.iter().any(|a| a == "sparse") { Plan::Dial8x5 } else { Plan::Dial12 };
    println!("{lots} true lots of sixty a make, seed {seed}, {plan:?}, {SAMPLES} samples a row");
    for make in [Population::Smooth, Population::RoughLobes, Population::SlowDecay] {
        if format!("{make:?}").to_lowercase().contains(pick) {
            study(make, plan, seed, lots);
        }
    }
}

/// A lot whose tubes are all measured: what became of each, and the blanks it truly gives.
struct TrueLot {
    outcomes: Vec<TubeOutcome>,
    cut: Vec<f64>,
    lot: Lot,
}

fn true_lots(make: Population, plan: Plan, seed: u64, lots: u64) -> Vec<TrueLot> {
    let known = grown(make, seed, lots * IN_A_LOT);
    let one = |(i, known): (u64, &[choice::Known])| {
        let read = |k: &choice::Known| tool::tube_of(&k.tube, &plan.read_by(&k.tube, 1000 * seed + i, &Rig::default()));
        let tubes: Vec<_> = known.par_iter().map(read).collect();
        let lot = Lot { tubes, ..tool::lot() };
        let model = tool::learned(&lot.tubes);
        let options = PlanOptions { seed, draws: 100 };
        let planned = |tube| TubeOutcome::of(tube, plan_tube(tube, &lot, &model, options));
        let outcomes: Vec<TubeOutcome> = lot.tubes.par_iter().map(planned).collect();
        let angle =
            |o: &TubeOutcome| o.plan.as_ref().ok().and_then(|p| p.split.as_ref()).map_or(0.0, |s| s.best.angle_deg);
        let cut = known.iter().zip(&outcomes).map(|(k, o)| k.cut(angle(o))).collect();
        TrueLot { outcomes, cut, lot }
    };
    (0..).zip(known.chunks(60)).map(one).collect()
}

fn study(make: Population, plan: Plan, seed: u64, lots: u64) {
    let lots = true_lots(make, plan, seed, lots);
    for measured in [6, 12, 24] {
        let samples: Vec<(f64, WholeLot)> = (0..SAMPLES)
            .into_par_iter()
            .map(|s| {
                let lot = &lots[usize::try_from(s).expect("small") % lots.len()];
                (lot.cut.iter().sum(), sample(lot, measured, Chance::of(seed, "which are measured", s)))
            })
            .collect();
        let share = |holds: &dyn Fn(&(f64, WholeLot)) -> bool| {
            samples.iter().filter(|s| holds(s)).count() as f64 / SAMPLES as f64
        };
        let mut ways: BTreeMap<String, u32> = BTreeMap::new();
        samples.iter().for_each(|(_, w)| *ways.entry(format!("{:?}", w.sized_by)).or_default() += 1);
        let off: Vec<f64> = samples.iter().map(|(truth, w)| w.blanks.expected / truth - 1.0).collect();
        let width: Vec<f64> = samples.iter().map(|(truth, w)| (w.blanks.high - w.blanks.low) / truth).collect();
        println!(
            "{make:?}, {measured} of 60: holds {:.1} %, truth below {:.1} %, above {:.1} %; promised {:+.1} %, interval {:.0} % wide; {ways:?}",
            100.0 * share(&|(t, w)| (w.blanks.low..=w.blanks.high).contains(t)),
            100.0 * share(&|(t, w)| *t < w.blanks.low),
            100.0 * share(&|(t, w)| *t > w.blanks.high),
            100.0 * mean(&off),
            100.0 * mean(&width)
        );
    }
}

/// The whole lot forecast from some of its tubes, picked at random.
fn sample(lot: &TrueLot, measured: usize, mut chance: Chance) -> WholeLot {
    let mut order: Vec<(f64, usize)> = (0..lot.outcomes.len()).map(|i| (chance.even(0.0, 1.0), i)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut outcomes = lot.outcomes.clone();
    for &(_, i) in &order[measured..] {
        outcomes[i].plan = Err(NoPlan::NotMeasured);
    }
    forecast(&outcomes, &Terms::of(&lot.lot), false, None).whole.expect("some are measured")
}
