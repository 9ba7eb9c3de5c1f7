//! A lot on two screens: what it gives, a line a tube, and at the end what to do.

use super::cautions;
use super::show::Units;
use super::table::{Cell, Table};
use super::text::{forecast_lines, hanging, wrapped};
use super::words::{self, AsGood, Signs};
use crate::decide::plan::TubePlan;
use crate::decide::screen::Verdict;
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::Assessed;

/// The lot, its tubes, `next` (where more is to be had), a caution, and the answer.
#[must_use]
pub fn text(assessed: &Assessed, next: &str, units: Units) -> String {
    format!(
        "{}\n{}{}\n{next}\n{}\n{}",
        forecast_lines(assessed, units),
        table(assessed, units).to_text(),
        odd(assessed),
        wrapped(cautions::FIRST_OF_ALL),
        wrapped(&answer(assessed))
    )
}

/// Of which tubes readings are doubted, slips suspected or doubts widened; where the sentences about them stand.
fn odd(assessed: &Assessed) -> String {
    let plans = assessed.plans();
    let of = |what: &str, is: &dyn Fn(&TubePlan) -> bool| -> Option<String> {
        let names: Vec<&str> = plans.iter().filter(|p| is(p)).map(|p| p.fit.tube.as_str()).collect();
        (!names.is_empty()).then(|| format!("{what}: {}", names.join(", ")))
    };
    let told: Vec<String> = [
        of("readings doubted", &|p| !p.fit.doubted.is_empty()),
        of("slips suspected", &|p| !p.fit.suspicions.is_empty() || p.fit.unsearched.is_some()),
        of("doubt widened", &|p| p.fit.widened.is_some() || !p.fit.settled),
    ]
    .into_iter()
    .flatten()
    .collect();
    if told.is_empty() { String::new() } else { hanging(&told.join("; "), 2) }
}

/// One line a tube.
fn table(assessed: &Assessed, units: Units) -> Table {
    let mut t =
        Table::new(&["tube", "verdict", "split at", "as good", "blanks", "90 %", "any angle", "mostly because of"]);
    for o in &assessed.outcomes {
        let plan = match &o.plan {
            Ok(plan) => plan,
            Err(why) => {
                t.push_note(&o.tube, &why.to_string());
                continue;
            }
        };
        let Some(s) = &plan.split else {
            t.push_note(&o.tube, words::TOO_SHORT);
            continue;
        };
        t.push(vec![
            Cell::text(&o.tube),
            Cell::text(plan.screen.verdict.word()),
            Cell::text(Signs::Plain.degrees(s.best.angle_deg)),
            Cell::text(as_good(AsGood::of(s))),
            Cell::Number(s.best.expected, 1),
            Cell::text(format!("{} to {}", decimal(s.interval.0, 0), decimal(s.interval.1, 0))),
            Cell::Number(s.arbitrary, 1),
            Cell::text(first_reason(plan, units)),
        ]);
    }
    t
}

/// Which other angles do as well, in a word.
fn as_good(which: AsGood) -> String {
    match which {
        AsGood::AnyAsFarAsSeen | AsGood::Every => "any".into(),
        AsGood::None => "none".into(),
        AsGood::Fell => "is split".into(),
        AsGood::Range(from, to) => {
            let whole = |deg: f64| decimal(words::round_the_clock(deg.round()), 0);
            format!("{} to {}", whole(from), whole(to))
        }
    }
}

/// The reason that weighs most.
fn first_reason(plan: &TubePlan, units: Units) -> String {
    let all = units.told(&plan.screen.reason);
    all.split("; ").next().unwrap_or_default().to_string()
}

/// What to do, in a few sentences.
#[must_use]
pub fn answer(assessed: &Assessed) -> String {
    let with = |verdict: Verdict| -> Vec<&str> {
        let is = |p: &&&TubePlan| p.split.is_some() && p.screen.verdict == verdict;
        assessed.plans().iter().filter(is).map(|p| p.fit.tube.as_str()).collect()
    };
    let (split, doubtful, leave) = (with(Verdict::Split), with(Verdict::Doubtful), with(Verdict::Leave));
    let mut parts = vec![format!("split {} at the angles above", counted(split.len(), "tube"))];
    if !doubtful.is_empty() {
        parts.push(format!("{} can go either way", doubtful.join(", ")));
    }
    if !leave.is_empty() {
        parts.push(format!("leave {}", leave.join(", ")));
    }
    let f = &assessed.forecast;
    let [expected, low, high] = [f.blanks.expected, f.blanks.low, f.blanks.high].map(|x| decimal(x, 0));
    let cost = f
        .cost_per_blank
        .map_or(String::new(), |c| format!(", {}", words::cost([c.expected, c.low, c.high], &f.currency, " a blank")));
    let more = f.blanks.expected - f.arbitrary;
    let gain =
        if more >= 0.5 { format!(", {} more than at arbitrary angles", decimal(more, 0)) } else { String::new() };
    format!(
        "Answer: {}. All measured tubes together give {expected} blanks ({low} to {high}){gain}{cost}.",
        parts.join("; ")
    )
}
