//! A maker's year: three lots bought one after the other, sampled, planned, split with a hand that wanders more than he thinks,
//! judged by limits of his own, counted and learned from. Tubes and truth come from other code (`src/known`).
//!
//! `cargo run --release --example makers_year [MAKERS] [SEED]`: so many makers, each with limits and a hand of his own, one
//! lot of each of three makes of tubes. Twelve tubes of every lot are measured by a dial at 12 angles every 17 mm; what is kept of
//! lots 1 and 2 plans lot 3. The table stands in DEVELOPERS.md.

#[path = "../tests/support/choice.rs"]
mod choice;

use choice::tool;
use choice::truth::chance::Chance;
use choice::truth::evaluator::{Judged, Rules};
use choice::truth::measuring::Rig;
use choice::truth::plans::Plan;
use choice::truth::populations::Population;
use choice::truth::shape::TrueTube;
use choice::truth::{mean, whole};
use quarterlight::decide::plan::{PlanOptions, TubePlan};
use quarterlight::domain::{Angle, Cut, Lot, Stretch};
use quarterlight::lot::{CutLots, Kept, Prepared, learn_from};

const TUBES: u64 = 12;
const MAKES: [Population; 3] = [Population::Smooth, Population::RoughLobes, Population::SlowDecay];

/// What nobody knows of a maker before he cuts.
struct Maker {
    rules: Rules,
    shift_deg: f64,
    turn_deg: f64,
    spread_deg: f64,
}

impl Maker {
    fn of(seed: u64, m: u64) -> Maker {
        let mut c = Chance::of(seed, "a maker", m);
        let mut rules = tool::rules(&tool::lot());
        // stricter than the starting set on the whole, each limit by itself
        let mut times = || (-0.2 + 0.25 * c.normal()).exp();
        rules.hollow_mm *= times();
        rules.rock_mm *= times();
        rules.arc_mm[1] *= times();
        rules.skew_mm *= times();
        Maker { rules, shift_deg: 2.0 * c.normal(), turn_deg: c.even(1.0, 5.0), spread_deg: c.even(2.0, 5.0) }
    }

    /// Where the lines of one tube fall off their aims, degrees.
    fn off(&self, c: &mut Chance) -> Vec<f64> {
        let turn = self.shift_deg + self.turn_deg * c.normal();
        (0..self.rules.pieces).map(|_| turn + self.spread_deg * c.normal()).collect()
    }

    /// What came of a tube that was planned: lines, blanks, and every marked stretch judged.
    fn cut(&self, tube: &TrueTube, plan: &TubePlan, c: &mut Chance) -> Cut {
        let judged = Judged::of(tube, &self.rules).expect("long enough");
        let aim = plan.split.as_ref().map_or(0.0, |s| s.best.angle_deg);
        let off = self.off(c);
        let line = |p: usize| aim + 90.0 * p as f64 + off[p % 4];
        let blanks: usize = judged.runs_at(aim, &off).iter().sum();
        let mut stretches = Vec::new();
        for p in &plan.pieces {
            for r in &p.runs {
                let at = ((r.from_mm - self.rules.trim_mm) / judged.step_mm).max(0.0);
                let s = whole(at.round()).min(judged.starts() - 1);
                let got = judged.stretch_between(s, line(p.piece - 1), line(p.piece));
                let (from_mm, to_mm, piece) = (r.from_mm, r.to_mm, Some(p.piece));
                stretches.push(Stretch { piece, from_mm, to_mm, got, why: String::new() });
            }
        }
        let lines = (0..4).map(|p| Angle::from_degrees(line(p).rem_euclid(360.0))).collect();
        Cut { lines, blanks: u32::try_from(blanks).ok(), stretches, ..Cut::default() }
    }
}

/// How a promise came out.
struct Outcome {
    promised: f64,
    interval: (f64, f64),
    got: f64,
}

fn main() {
    let args: Vec<u64> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let (makers, seed) = (args.first().copied().unwrap_or(9), args.get(1).copied().unwrap_or(3));
    let options = PlanOptions { seed, draws: 100 };
    let mut years: Vec<Vec<Outcome>> = Vec::new();
    let (mut limits_held, mut limits) = (0, 0);
    for m in 0..makers {
        let maker = Maker::of(seed, m);
        let make = MAKES[whole(m as f64) % MAKES.len()];
        let (mut past, mut year): (CutLots, Vec<Outcome>) = (Vec::new(), Vec::new());
        for lot_number in 0..3_u64 {
            let place = 1000 * seed + 10 * m + lot_number;
            let grown: Vec<TrueTube> = (0..TUBES).map(|k| make.grow(place, k)).collect();
            let tubes = grown.iter().map(|t| tool::tube_of(t, &Plan::Dial12.read_by(t, place, &Rig::default())));
            let mut lot = Lot { name: format!("lot {}", lot_number + 1), tubes: tubes.collect(), ..tool::lot() };
            if !past.is_empty() {
                let learned = learn_from(past.clone(), options, &|_| ()).expect("a population");
                if let Some(own) = learned.limits.as_ref().filter(|_| lot_number == 2) {
                    let r = &maker.rules;
                    let true_mm = [r.hollow_mm, r.rock_mm, r.arc_mm[1], r.skew_mm];
                    for (l, t) in own.limits.iter().zip(true_mm) {
                        limits += 1;
                        limits_held += u32::from((l.own_mm.low..=l.own_mm.high).contains(&t));
                    }
                }
                let kept = Kept::of(&learned);
                kept.put_into(&mut lot);
                lot.promise = kept.promise;
            }
            let read = Prepared::of_lot(lot);
            let planned = read.assess(options, &|_| ()).expect("a population");
            let blanks = planned.forecast.earlier.map_or(planned.forecast.blanks, |e| e.blanks);
            let mut chance = Chance::of(seed, "where the lines fall", place);
            let mut got = 0.0;
            let mut cut = read.clone();
            for tube in &mut cut.lot.tubes {
                let plans = planned.plans();
                let plan = plans.iter().find(|p| p.fit.tube == tube.name).expect("measured");
                let truth = grown.iter().find(|t| t.name == tube.name).expect("grown");
                let what = maker.cut(truth, plan, &mut chance);
                got += what.blanks.map_or(0.0, f64::from);
                tube.cut = Some(what);
            }
            year.push(Outcome { promised: blanks.expected, interval: (blanks.low, blanks.high), got });
            // learned from as it was promised at first, by nobody's limits and hand
            let bare = Lot { promise: None, target: tool::lot().target, split: tool::lot().split, ..cut.lot.clone() };
            let mut first = cut;
            first.lot = bare;
            past.push((format!("lot {}", lot_number + 1), first, planned));
        }
        let told: Vec<String> = year.iter().map(|o| format!("{:.0} promised, {:.0} got", o.promised, o.got)).collect();
        println!("maker {}, {make:?}: {}", m + 1, told.join("; "));
        years.push(year);
    }
    println!("limits held {limits_held} of {limits}");
    for i in 0..3 {
        let lots: Vec<&Outcome> = years.iter().map(|y| &y[i]).collect();
        let off: Vec<f64> = lots.iter().map(|o| o.promised / o.got.max(1.0) - 1.0).collect();
        let far: Vec<f64> = off.iter().map(|x| x.abs()).collect();
        let held = lots.iter().filter(|o| (o.interval.0..=o.interval.1).contains(&o.got)).count();
        println!(
            "lot {}: promised {:+.1} %, off by {:.1} % on average, {held} of {} intervals hold",
            i + 1,
            100.0 * mean(&off),
            100.0 * mean(&far),
            lots.len()
        );
    }
}
