//! What minutes of measuring bring: loss against perfect knowledge of the surface by even plans, and by readings advised tube
//! by tube with stopping. Truth is judged by other code (`src/known`).
//!
//! `cargo run --release --example advise_study [LOTS] [SEED] [MAKE] [WORTH]`: lots of ten tubes of each of two makes; WORTH:
//! blanks that a minute should bring, with a decimal point. The table stands in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::truth::measuring::{Bench, Rig, Tool};
use choice::truth::populations::Population;
use choice::truth::{mean, spread};
use choice::{Known, grown, tool};
use quarterlight::decide::advice::{AdviceRules, AtHand, advise_tube};
use quarterlight::decide::packages::{Round, Way};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::{Lot, MINUTE_BLANKS, Pace, Tube};
use rayon::prelude::*;

const IN_A_LOT: usize = 10;
const SPAN_MM: f64 = 70.0;
/// Advice is asked for at most so many times.
const ROUNDS: usize = 5;

/// A tube under way: what was taken, and the minutes.
#[derive(Clone)]
struct Under {
    tube: Tube,
    minutes: f64,
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = args.iter().filter_map(|a| a.parse().ok()).collect();
    let (lots, seed) = (*numbers.first().unwrap_or(&10), *numbers.get(1).unwrap_or(&51));
    let minute_blanks = args.iter().filter(|a| a.contains('.')).find_map(|a| a.parse().ok()).unwrap_or(MINUTE_BLANKS);
    let make = args.iter().find(|a| a.parse::<f64>().is_err());
    let makes = [("smooth", Population::Smooth), ("rough lobes", Population::RoughLobes)];
    if let Some(word) = make.filter(|m| !makes.iter().any(|(name, _)| name.contains(m.as_str()))) {
        eprintln!("error: no make, number or worth: {word}\n  hint: a part of one of: smooth; rough lobes");
        std::process::exit(2);
    }
    for (name, population) in makes {
        if make.is_some_and(|m| !name.contains(m.as_str())) {
            continue;
        }
        let known = grown(population, seed, lots * IN_A_LOT as u64);
        let best: f64 = known.iter().map(Known::best).sum();
        let arbitrary: f64 = known.iter().map(Known::arbitrary).sum();
        println!("\n{name}: {} tubes, an arbitrary angle loses {:.1} %", known.len(), 100.0 * (1.0 - arbitrary / best));
        for (word, plan) in even_plans() {
            let read = |k: &Known, seed: u64| {
                let mut u = bare(k);
                plan(k.tube.length_mm).iter().enumerate().for_each(|(i, r)| take(&mut u, k, r, seed + 100 * i as u64));
                u
            };
            let all: Vec<Under> = lots_of(&known, seed, &read);
            told(word, &known, &all, seed);
        }
        for (word, ways) in [
            ("advised: caliper, bridge", vec![Way::Caliper, Way::Bridge]),
            ("advised: caliper, bridge, dial", vec![Way::Caliper, Way::Bridge, Way::Dial]),
        ] {
            advised(word, &known, seed, &ways, minute_blanks);
        }
    }
}

type Plan = Box<dyn Fn(f64) -> Vec<Round> + Sync>;

/// Even plans from under a minute to a quarter of an hour.
fn even_plans() -> Vec<(&'static str, Plan)> {
    fn widths(l: f64, angles: u32, places: u32) -> Round {
        of(Way::Caliper, round(angles, 180.0), even(l, places), None)
    }
    fn bars(l: f64, lines: u32, places: u32) -> Round {
        let room = l - SPAN_MM;
        let at = |i: u32| SPAN_MM / 2.0 + room * (f64::from(i) + 0.5) / f64::from(places);
        of(Way::Bridge, round(lines, 360.0), (0..places).map(at).collect(), Some(SPAN_MM))
    }
    fn dial(l: f64, angles: u32, places: u32) -> Vec<Round> {
        let pair = of(Way::Caliper, vec![0.0, 90.0], vec![0.5 * l], None);
        vec![pair, of(Way::Dial, round(angles, 360.0), even(l, places), None)]
    }
    vec![
        ("widths 4 x 1", Box::new(|l| vec![widths(l, 4, 1)])),
        ("widths 4 x 1, bridge 4 x 1", Box::new(|l| vec![widths(l, 4, 1), bars(l, 4, 1)])),
        ("widths 4 x 2, bridge 4 x 2", Box::new(|l| vec![widths(l, 4, 2), bars(l, 4, 2)])),
        ("widths 4 x 3", Box::new(|l| vec![widths(l, 4, 3)])),
        ("widths 4 x 3, bridge 8 x 2", Box::new(|l| vec![widths(l, 4, 3), bars(l, 8, 2)])),
        ("widths 4 x 3, bridge 8 x 3", Box::new(|l| vec![widths(l, 4, 3), bars(l, 8, 3)])),
        ("widths 6 x 5, bridge 8 x 3", Box::new(|l| vec![widths(l, 6, 5), bars(l, 8, 3)])),
        ("dial 8 x 5, 2 widths", Box::new(|l| dial(l, 8, 5))),
        ("dial 12 x 5, 2 widths", Box::new(|l| dial(l, 12, 5))),
        ("dial 12 x 8, 2 widths", Box::new(|l| dial(l, 12, 8))),
    ]
}

fn of(way: Way, angles_deg: Vec<f64>, places_mm: Vec<f64>, span_mm: Option<f64>) -> Round {
    Round::of(way, angles_deg, places_mm, span_mm, Pace::of(way.kind(), None))
}

fn round(n: u32, over: f64) -> Vec<f64> {
    (0..n).map(|i| over * f64::from(i) / f64::from(n)).collect()
}

fn even(length: f64, n: u32) -> Vec<f64> {
    (0..n).map(|i| length * (f64::from(i) + 0.5) / f64::from(n)).collect()
}

fn bare(known: &Known) -> Under {
    Under { tube: tool::tube_of(&known.tube, &[]), minutes: 0.0 }
}

/// Reads one round with plain instruments whose only fault is noise.
fn take(under: &mut Under, known: &Known, round: &Round, seed: u64) {
    let mut b = Bench::new(&known.tube, seed);
    let (tool, sd) = match round.way {
        Way::Caliper => (Tool::Caliper(0.0), 0.05),
        Way::Dial => (Tool::Dial(choice::truth::instruments::Foot::Height), 0.02),
        Way::Bridge => (Tool::Bridge(round.span_mm.unwrap_or(SPAN_MM)), 0.02),
        _ => panic!("not part of the study"),
    };
    // a tube is put into the dial's bearings once for all stations
    b.take(tool, &Rig { sd, ..Rig::default() }, &round.angles_deg, &round.places_mm, &format!("{seed} "));
    let mut new = tool::tube_of(&known.tube, &b.taken).readings;
    if round.way == Way::Bridge {
        new.iter_mut().for_each(|r| r.span_mm = round.span_mm.or(Some(SPAN_MM)));
    }
    under.tube.readings.extend(new);
    under.minutes += round.minutes;
}

fn lots_of(known: &[Known], seed: u64, read: &(dyn Fn(&Known, u64) -> Under + Sync)) -> Vec<Under> {
    known.par_iter().enumerate().map(|(i, k)| read(k, 1000 * seed + (i / IN_A_LOT) as u64)).collect()
}

/// Plans every lot and prints what is lost; gives what every tube gives at the angle chosen.
fn told(word: &str, known: &[Known], all: &[Under], seed: u64) -> Vec<f64> {
    let mut losses = Vec::new();
    let mut promised = 0.0;
    for (known, lot) in known.chunks(IN_A_LOT).zip(all.chunks(IN_A_LOT)) {
        let tubes = lot.iter().map(|u| u.tube.clone()).collect();
        let promises = tool::promises(tubes, None, seed, 200);
        losses.extend(known.iter().zip(&promises).map(|(k, p)| k.best() - k.at(p.angle_deg)));
        promised += promises.iter().map(|p| p.expected).sum::<f64>();
    }
    let best: f64 = known.iter().map(Known::best).sum();
    let lost: f64 = losses.iter().sum();
    println!(
        "{word:<34} {:>5.1} min {:>5.0} readings   lost {:>5.1} % +-{:.1}   promised {:+.1} %",
        mean(&all.iter().map(|u| u.minutes).collect::<Vec<f64>>()),
        mean(&all.iter().map(|u| u.tube.readings.len() as f64).collect::<Vec<f64>>()),
        100.0 * lost / best,
        100.0 * spread(&losses) * (losses.len() as f64).sqrt() / best,
        100.0 * (promised / (best - lost) - 1.0)
    );
    known.iter().zip(&losses).map(|(k, l)| k.best() - l).collect()
}

/// Takes what is advised, tube by tube, until nothing is; a lot learns anew before every advice.
fn advised(word: &str, known: &[Known], seed: u64, ways: &[Way], minute_blanks: f64) {
    let with = AtHand::chosen(&AtHand::all(&tool::lot()), ways);
    let rules = AdviceRules { with, others: Vec::new(), minutes: None, minute_blanks };
    let mut all = lots_of(known, seed, &|k, seed| {
        let mut u = bare(k);
        let first = of(Way::Caliper, round(4, 180.0), even(k.tube.length_mm, 1), None);
        take(&mut u, k, &first, seed);
        u
    });
    let mut got = told(&format!("{word}, before"), known, &all, seed);
    for step in 0..ROUNDS {
        let mut said: Vec<f64> = vec![0.0; all.len()];
        for (l, (known, lot)) in known.chunks(IN_A_LOT).zip(all.chunks_mut(IN_A_LOT)).enumerate() {
            let tubes: Vec<Tube> = lot.iter().map(|u| u.tube.clone()).collect();
            let model = tool::learned(&tubes);
            let frame = Lot { tubes, ..tool::lot() };
            let options = PlanOptions { seed, draws: 200 };
            let next: Vec<_> = frame
                .tubes
                .par_iter()
                .map(|t| advise_tube(t, &frame, &model, options, &rules).expect("read").next)
                .collect();
            for (i, ((under, k), package)) in lot.iter_mut().zip(known).zip(next).enumerate() {
                let Some(package) = package else { continue };
                said[l * IN_A_LOT + i] = package.gain_blanks;
                for (i, r) in package.rounds.iter().enumerate() {
                    take(under, k, r, 1000 * seed + l as u64 + 100 * (step * 10 + i + 1) as u64);
                }
            }
        }
        if said.iter().all(|s| *s <= 0.0) {
            break;
        }
        let before = std::mem::replace(&mut got, told(&format!("{word}, after {}", step + 1), known, &all, seed));
        // of the tubes read further: the others' angles change with what the lot learns alone
        let gained: Vec<f64> = (0..said.len()).filter(|&i| said[i] > 0.0).map(|i| got[i] - before[i]).collect();
        println!(
            "    {} tubes read further: {:.2} blanks a tube said to be gained, {:.2} +-{:.2} were",
            gained.len(),
            said.iter().sum::<f64>() / gained.len() as f64,
            mean(&gained),
            spread(&gained) / (gained.len() as f64).sqrt()
        );
    }
}
