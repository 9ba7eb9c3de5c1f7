//! Which readings to take next on a tube, what they are worth, and when to stop.

use super::believed_after::Surfaces;
use super::packages::{Package, Round, Way, rounds};
use super::plan::{believe, mean_radius_mm};
use super::split::{judge_draws, splitter_for};
use super::tube_plan::{NoPlan, PlanOptions};
use super::worth::{Gain, Yields};
use crate::domain::{Angle, Kind, Lot, Pace, Reading, Tube};
use crate::tube::Model;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// At most so many numbers of what readings tell enter a choice.
const MOST_TOLD: usize = 16;
/// So many times the draws of a plan are made where surfaces are regressed on what readings tell, which judges none of them.
const MORE_DRAWS: u64 = 3;
/// On so many draws a package is judged, or on all there are.
const JUDGED: usize = 60;
/// Of every way so many rounds, those most worth their minutes, are tried together with those of another.
const TOGETHER: usize = 2;
/// How well a tube that nobody read is known by what it was bought for, sd of its width in mm; common practice, no source.
const BOUGHT_SD_MM: f64 = 0.6;
/// Where knowing the surface exactly would add no more than so many blanks, no other instrument is thought of.
const MUCH_LEFT: f64 = 0.5;
/// A gain below this many of its standard errors may be none.
const SURELY: f64 = 1.5;

/// An instrument that can be taken up next.
#[derive(Debug, Clone, PartialEq)]
pub struct AtHand {
    /// What is done with it.
    pub way: Way,
    /// Its rig in the lot; empty where none is named.
    pub rig: String,
    /// Span of a bridge, mm, where the lot says one.
    pub span_mm: Option<f64>,
    /// Whether the lot was read with it, or has a rig of that name.
    pub used: bool,
}

impl AtHand {
    /// Every way, with the rig and the span that a lot takes it by: look at the whole lot, not at the tubes asked for.
    #[must_use]
    pub fn all(lot: &Lot) -> Vec<AtHand> {
        let read = |w: Way| lot.tubes.iter().any(|t| t.readings.iter().any(|r| r.kind == w.kind()));
        // a new lot names its instruments before anything is read with them
        let named = |w: Way| lot.rigs.contains_key(w.word());
        let rig = |w: Way| match rig_of(lot, w) {
            none if none.is_empty() && named(w) => w.word().to_string(),
            rig => rig,
        };
        let of = |w: Way| {
            let rig = rig(w);
            AtHand { way: w, span_mm: span_of(lot, w, &rig), rig, used: read(w) || named(w) }
        };
        Way::ALL.into_iter().map(of).collect()
    }

    /// Those of `all` that are not among `with`.
    #[must_use]
    pub fn others(all: &[AtHand], with: &[AtHand]) -> Vec<AtHand> {
        all.iter().filter(|h| !with.contains(h)).cloned().collect()
    }

    /// Those of these ways; of none: what the lot was read with or has a rig of, and a caliper, which is always at hand.
    #[must_use]
    pub fn chosen(all: &[AtHand], ways: &[Way]) -> Vec<AtHand> {
        let asked = |h: &&AtHand| if ways.is_empty() { h.used || h.way == Way::Caliper } else { ways.contains(&h.way) };
        all.iter().filter(asked).cloned().collect()
    }
}

/// What is asked of an advice.
#[derive(Debug, Clone, PartialEq)]
pub struct AdviceRules {
    /// What is at hand to measure with.
    pub with: Vec<AtHand>,
    /// What is not: named where nothing at hand pays and much is left to gain.
    pub others: Vec<AtHand>,
    /// Most minutes to spend on a tube; `None`: as many as are worth it.
    pub minutes: Option<f64>,
    /// Blanks that a minute should bring.
    pub minute_blanks: f64,
}

/// What one tube needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// The tube.
    pub tube: String,
    /// Readings it has.
    pub readings: usize,
    /// Blanks expected of it as it is read.
    pub expected_blanks: f64,
    /// Blanks that knowing its surface exactly would add.
    pub ceiling_blanks: f64,
    /// The package worth most more than its minutes; `None` where none is: stop measuring.
    pub next: Option<Package>,
    /// The best package of every way by itself, most worth first, whether it pays or not.
    pub by_way: Vec<Package>,
    /// What an instrument that is not at hand would be worth, where nothing at hand is worth its minutes; `None` where that is
    /// not either, or so little is left to gain that it was not asked.
    #[serde(default)]
    pub elsewhere: Option<Package>,
}

impl Advice {
    /// True where the next minute is worth less than it should bring.
    #[must_use]
    pub fn settled(&self) -> bool {
        self.next.is_none()
    }
}

/// Advises on one tube whose scan, if it has one, is laid out.
///
/// # Errors
/// See [`NoPlan`]; a tube too short for a blank needs nothing and is settled.
pub fn advise_tube(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
    rules: &AdviceRules,
) -> Result<Advice, NoPlan> {
    let mut advice = advise_with(tube, lot, model, options, rules)?;
    if advice.settled() && advice.ceiling_blanks > MUCH_LEFT && !rules.others.is_empty() {
        let others = AdviceRules { with: rules.others.clone(), others: Vec::new(), ..rules.clone() };
        advice.elsewhere = advise_with(tube, lot, model, options, &others)?.next;
    }
    Ok(advice)
}

/// The same with what is at hand alone.
fn advise_with(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
    rules: &AdviceRules,
) -> Result<Advice, NoPlan> {
    // of a tube nobody read so much is known: it was bought for its arc
    let mut guessed = tube.clone();
    if tube.is_unread() && !tube.in_doubt && tube.length_mm > 0.0 {
        let size = 2.0 * model.centre_radius_mm;
        let mut bought = Reading::new(Kind::Diameter, tube.length_mm / 2.0, Angle::ZERO, size);
        bought.sd_mm = Some(BOUGHT_SD_MM);
        guessed.readings.push(bought);
    }
    let belief = believe(&guessed, model)?;
    let mut advice = Advice {
        tube: tube.name.clone(),
        readings: tube.readings.len(),
        expected_blanks: 0.0,
        ceiling_blanks: 0.0,
        next: None,
        by_way: Vec::new(),
        elsewhere: None,
    };
    let radius = mean_radius_mm(&belief);
    let Some(splitter) = splitter_for(tube.length_mm, belief.fields(), lot, &tube.marks, radius) else {
        return Ok(advice);
    };
    let z = splitter.judge().fan().z_mm().to_vec();
    let drawn = options.draws.max(2);
    let draws = judge_draws(&splitter, |k| belief.draw_sections(options.seed, k, &z), options.seed, &tube.name, drawn);
    let yields = Yields::of_draws(&splitter, &draws);
    advice.expected_blanks = yields.now();
    advice.ceiling_blanks = yields.ceiling();
    if advice.ceiling_blanks <= 0.0 {
        return Ok(advice);
    }
    let pace = |hand: &AtHand| Pace::of(hand.way.kind(), lot.rigs.get(&hand.rig)).times(lot.pace.unwrap_or(1.0));
    let of = |hand: &AtHand| rounds(hand.way, tube, hand.span_mm, pace(hand));
    let each: Vec<Vec<Round>> = rules.with.iter().map(of).collect();
    let mut list: Vec<Reading> = Vec::new();
    let mut at: BTreeMap<Numbered, Vec<usize>> = BTreeMap::new();
    for (way, all) in each.iter().enumerate() {
        for (i, round) in all.iter().enumerate() {
            let places = round.readings(&rules.with[way].rig).into_iter().map(|r| place_of(r, &mut list)).collect();
            at.insert((way, i), places);
        }
    }
    let foreseen = belief.foresee(&list, model, options.seed, MORE_DRAWS * drawn).map_err(NoPlan::Failed)?;
    let surface = |unknowns: &[f64]| belief.sections_of(unknowns, &z);
    let surfaces = Surfaces::of(&splitter, foreseen.unknowns(), &surface);
    let after = |which: &[Numbered], judged: usize| {
        let readings: Vec<usize> = which.iter().flat_map(|w| at[w].iter().copied()).collect();
        surfaces.yields_after(&foreseen.told(&readings, MOST_TOLD), judged)
    };
    let worth = |which: &[Numbered]| -> Tried {
        let gain = yields.gain(&after(which, JUDGED.min(draws.len())));
        let rounds: Vec<Round> = which.iter().map(|&(way, i)| each[way][i].clone()).collect();
        let package = Package {
            readings: rounds.iter().map(|r| r.readings).sum(),
            minutes: rounds.iter().map(|r| r.minutes).sum(),
            rounds,
            gain_blanks: gain.blanks,
            gain_error: gain.error,
        };
        Tried { which: which.to_vec(), package, borne_out: None }
    };
    let net_of = |blanks: f64, minutes: f64| blanks - rules.minute_blanks * minutes;
    let short = |minutes: f64| rules.minutes.is_none_or(|m| minutes <= m + 1e-9);
    // no readings bring more than knowing the surface: what takes longer than that is worth cannot pay
    let may_pay = |minutes: f64| short(minutes) && net_of(advice.ceiling_blanks, minutes) > 0.0;
    let minutes_of = |which: &[Numbered]| which.iter().map(|&(w, i)| each[w][i].minutes).sum::<f64>();
    let mut all: Vec<Tried> = (0..each.len())
        .flat_map(|way| (0..each[way].len()).map(move |i| [(way, i)]))
        .filter(|which| may_pay(minutes_of(which)))
        .map(|which| worth(&which))
        .collect();
    let alone = all.len();
    // one believed surface boasts, and the best of many angles more: how much of a gain is borne out is counted on all draws
    let count_out = |all: &mut [Tried]| settle(all, &net_of, &|which| yields.valued(&after(which, draws.len())));
    if count_out(&mut all).is_none() {
        return Ok(advice);
    }
    let share = share_of(&all);
    let net = |t: &Tried| net_of(share * t.package.gain_blanks, t.package.minutes);
    let best_of = |way: usize| {
        let mut own: Vec<&Tried> = all.iter().filter(|t| t.which[0].0 == way).collect();
        own.sort_by(|a, b| net(b).total_cmp(&net(a)));
        own.iter().take(TOGETHER).map(|t| t.which[0]).collect::<Vec<_>>()
    };
    let best: Vec<Vec<Numbered>> = (0..each.len()).map(best_of).collect();
    for (way, own) in best.iter().enumerate() {
        for more in &best[way + 1..] {
            let pairs = own.iter().flat_map(|&a| more.iter().map(move |&b| [a, b]));
            all.extend(pairs.filter(|pair| may_pay(minutes_of(pair))).map(|pair| worth(&pair)));
        }
    }
    let Some(chosen) = count_out(&mut all) else { return Ok(advice) };
    let share = share_of(&all);
    let told = |t: &Tried| Package {
        gain_blanks: share * t.package.gain_blanks,
        gain_error: (share * t.package.gain_error).hypot(t.borne_out.map_or(0.0, |g| g.error)),
        ..t.package.clone()
    };
    let net = |p: &Package| net_of(p.gain_blanks, p.minutes);
    advice.by_way = (0..each.len())
        .filter_map(|way| {
            let own = all[..alone].iter().filter(|t| t.which[0].0 == way).map(told);
            own.reduce(|a, b| if net(&b) > net(&a) { b } else { a })
        })
        .collect();
    advice.by_way.sort_by(|a, b| net(b).total_cmp(&net(a)));
    advice.next = Some(told(&all[chosen])).filter(|p| net(p) > 0.0 && p.gain_blanks > SURELY * p.gain_error);
    Ok(advice)
}

/// A round: which way, and which of its rounds.
type Numbered = (usize, usize);

/// A package that was tried.
struct Tried {
    /// Its rounds.
    which: Vec<Numbered>,
    /// With the gain as one believed surface has it.
    package: Package,
    /// What of it all draws bear out, where that was counted.
    borne_out: Option<Gain>,
}

/// The share of their gains that packages bear out, of those where it was counted; it holds for every package of the tube.
fn share_of(all: &[Tried]) -> f64 {
    let counted = || all.iter().filter_map(|t| Some((t.package.gain_blanks, t.borne_out?.blanks)));
    let said: f64 = counted().map(|c| c.0).sum();
    if said > 0.0 { (counted().map(|c| c.1).sum::<f64>() / said).clamp(0.0, 1.0) } else { 1.0 }
}

/// Counts the package that seems best, then the one that seems best with that known, until it is one that was counted; gives
/// its number, of nothing tried `None`.
fn settle(all: &mut [Tried], net_of: &dyn Fn(f64, f64) -> f64, count: &dyn Fn(&[Numbered]) -> Gain) -> Option<usize> {
    loop {
        let share = share_of(all);
        let net = |i: usize| net_of(share * all[i].package.gain_blanks, all[i].package.minutes);
        let best = (0..all.len()).reduce(|a, b| if net(b) > net(a) { b } else { a })?;
        if all[best].borne_out.is_some() {
            return Some(best);
        }
        all[best].borne_out = Some(count(&all[best].which));
    }
}

/// Where a reading stands in the list, put there if it is not.
fn place_of(reading: Reading, list: &mut Vec<Reading>) -> usize {
    list.iter().position(|r| *r == reading).unwrap_or_else(|| {
        list.push(reading);
        list.len() - 1
    })
}

/// The span of the lot's bridge, mm, where it has one: of this rig; where no rig is named, of any that has one.
fn span_of(lot: &Lot, way: Way, rig: &str) -> Option<f64> {
    if way != Way::Bridge {
        return None;
    }
    let readings = || lot.tubes.iter().flat_map(|t| &t.readings).filter(|r| r.kind == Kind::Bridge && r.rig == rig);
    let any = || lot.rigs.values().find_map(|r| r.span_mm).filter(|_| rig.is_empty());
    lot.rigs.get(rig).and_then(|r| r.span_mm).or_else(|| readings().find_map(|r| r.span_mm)).or_else(any)
}

/// The rig that the lot's readings of a way name most often, ties to the first by name; empty where none does.
fn rig_of(lot: &Lot, way: Way) -> String {
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    for r in lot.tubes.iter().flat_map(|t| &t.readings).filter(|r| r.kind == way.kind()) {
        *named.entry(&r.rig).or_default() += 1;
    }
    named.into_iter().reduce(|best, n| if n.1 > best.1 { n } else { best }).map_or(String::new(), |n| n.0.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Rig};

    #[test]
    fn a_package_that_boasts_gives_way_to_one_that_pays() {
        let tried = |i: usize, gain_blanks: f64, minutes: f64| Tried {
            which: vec![(0, i)],
            package: Package { rounds: Vec::new(), readings: 1, minutes, gain_blanks, gain_error: 0.0 },
            borne_out: None,
        };
        let net = |blanks: f64, minutes: f64| blanks - 0.05 * minutes;
        // by what one surface says the long one nets 0.5 and the short one 0.45; a fifth of it is true: -0.3 and 0.05
        let mut all = vec![tried(0, 1.0, 10.0), tried(1, 0.5, 1.0), tried(2, 0.1, 1.0)];
        let mut asked = std::cell::RefCell::new(Vec::new());
        let count = |which: &[Numbered]| {
            asked.borrow_mut().push(which[0].1);
            Gain { blanks: [0.2, 0.1, 0.02][which[0].1], error: 0.01 }
        };
        assert_eq!(settle(&mut all, &net, &count), Some(1));
        assert!((share_of(&all) - 0.2).abs() < 1e-12);
        assert_eq!(*asked.get_mut(), [0, 1]);
        // nothing is counted twice, and of nothing tried nothing is chosen
        assert_eq!(settle(&mut all, &net, &|_| panic!("counted again")), Some(1));
        assert_eq!(settle(&mut [], &net, &|_| Gain::default()), None);
        assert!((share_of(&[]) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_bar_has_the_span_of_its_own_rig() {
        let rig = |span: f64| Rig { span_mm: Some(span), ..Rig::default() };
        let rigs = [("narrow".to_string(), rig(40.0)), ("wide".to_string(), rig(100.0))];
        let bar = |rig: &str, span_mm| Reading {
            rig: rig.into(),
            span_mm,
            ..Reading::new(Kind::Bridge, 100.0, Angle::ZERO, 0.0)
        };
        let lot = |reading| Lot {
            rigs: rigs.clone().into(),
            tubes: vec![Tube { readings: vec![reading], ..Tube::default() }],
            ..Lot::default()
        };
        let span = |lot: &Lot| AtHand::all(lot).into_iter().find(|h| h.way == Way::Bridge).and_then(|h| h.span_mm);
        assert_eq!(span(&lot(bar("wide", None))), Some(100.0));
        assert_eq!(span(&lot(bar("borrowed", Some(55.0)))), Some(55.0));
        assert_eq!(span(&lot(bar("", Some(60.0)))), Some(60.0));
        assert_eq!(span(&lot(bar("", None))), Some(40.0));
        assert_eq!(span(&lot(bar("borrowed", None))), None);
    }
}
