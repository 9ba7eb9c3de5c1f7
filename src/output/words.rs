//! Every sentence that more than one face of the program says, said once: command line, page, figures and strips.
//!
//! A sentence begins small and ends without a stop, so that it can stand in a list, behind a colon or alone;
//! [`sentence`] dresses it for running text. [`Signs`] is the one difference between faces: a terminal may not show a
//! degree sign. Angles of a split are always told from 0 to 360.

use super::show::Units;
use crate::decide::plan::PlannedPiece;
use crate::decide::saw_first::{SawFirst, SawnLength};
use crate::decide::split::{Choice, SplitChoice};
use crate::decide::tube_plan::{Marked, TubePlan};
use crate::decide::unread::Unchecked;
use crate::domain::Assumed;
use crate::domain::units::{WeightUnit, decimal, print_weight};
use crate::domain::{Promise, Severity, counted};
use crate::lot::NotChecked;
use crate::lot::{CostBasis, EstimatedBy, Forecast, SizedBy, TubeOutcome, WholeLot, WholePrice};
use crate::numeric::summary::{NINETY, count};
use crate::tube::Widened;

pub use crate::decide::tube_plan::TOO_SHORT;

/// What is said of the wall where no reading of it exists.
pub(crate) const WALL_UNCHECKED: &str = "not seen by these readings, so its limit was not checked";
/// What is said of the grain where no fibre was followed.
pub(crate) const GRAIN_UNCHECKED: &str = "not followed, taken as running true, so its limit was not checked";
/// What is said of a fit that was stopped before it came to rest.
pub(crate) const NOT_SETTLED: &str = "the fit had not settled when it was stopped; treat it with care";
/// What is said where a strip is as long as a girth nobody read.
pub(crate) const CHECK_GIRTH: &str = "size not read: check the girth with a strip of paper before use";
/// A piece that yields something, at no place that is likely enough to mark now.
const SHOWS_LATER: &str = "where shows only after splitting";
/// A piece that hardly yields anything.
const NO_RUN: &str = "no run worth marking";
/// From this many expected blanks on, a piece without a run is one whose runs show later.
const WORTH_LOOKING: f64 = 0.25;

/// How a face writes degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signs {
    /// In letters every terminal has.
    Plain,
    /// As printed.
    Print,
}

impl Signs {
    /// A direction in whole degrees, 0 to 359.
    #[must_use]
    pub fn degrees(self, deg: f64) -> String {
        self.directions([deg]).concat()
    }

    /// Directions in whole degrees; a spelt unit stands behind the last only.
    fn directions<const N: usize>(self, degrees: [f64; N]) -> [String; N] {
        let mut told = degrees.map(|d| decimal(whole_degrees(d), 0));
        match self {
            Signs::Print => told.iter_mut().for_each(|t| t.push('°')),
            Signs::Plain => told.last_mut().into_iter().for_each(|t| t.push_str(" deg")),
        }
        told
    }

    /// From one direction clockwise to another, told through 0 where it lies between them.
    pub(crate) fn range(self, from: f64, to: f64) -> String {
        let (start, end) = (from.round(), to.round());
        if (start / 360.0).floor() < ((end - 0.5) / 360.0).floor() {
            let [a, nought, b] = self.directions([start, 0.0, end]);
            format!("{a} through {nought} to {b}")
        } else {
            self.directions([start, end]).join(" to ")
        }
    }
}

/// Degrees in [0, 360): a flat top that begins before the index line is told as 358, not -2.
#[must_use]
pub(crate) fn round_the_clock(deg: f64) -> f64 {
    // adding nought drops the sign of a nought below it
    deg.rem_euclid(360.0) + 0.0
}

/// A direction as a number of whole degrees, 0 to 359.
#[must_use]
pub(crate) fn whole_degrees(deg: f64) -> f64 {
    round_the_clock(deg.round())
}

/// With a capital and a stop, for running text.
#[must_use]
pub fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let head: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let stop = if words.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{head}{}{stop}", letters.as_str())
}

/// What is said of a tube whose readings do not look like those of its lot.
#[must_use]
pub fn widened(w: Widened) -> String {
    w.words()
}

/// What these readings say nothing about.
#[must_use]
pub fn unseen(what: &str) -> String {
    format!("{what} not seen by these readings")
}

/// Blanks expected at the chosen angle, with their interval.
#[must_use]
pub fn expected(s: &SplitChoice) -> String {
    let (low, high) = (decimal(s.interval.0, 0), decimal(s.interval.1, 0));
    format!("{} blanks expected (90 %: {low} to {high})", decimal(s.best.expected, 1))
}

/// What the maker does for the expected number, and what there is without it.
#[must_use]
pub fn marked_alone(m: &Marked) -> String {
    format!(
        "gauge every quarter again after the split: the marked runs alone give {} (90 %: {:.0} to {:.0})",
        decimal(m.expected, 1),
        m.low,
        m.high
    )
}

/// What a tube would give were what nobody read of it as it may be.
#[must_use]
pub(crate) fn with_unread(u: &Unchecked, assumed: Assumed) -> String {
    let how = taken_as(assumed, u.grain, u.wall);
    format!(
        "{} not read, taken as good; {how} {} blanks ({:.0} to {:.0})",
        u.what(),
        decimal(u.expected, 1),
        u.low,
        u.high
    )
}

/// As what is taken what nobody read.
fn taken_as(assumed: Assumed, grain: bool, wall: bool) -> &'static str {
    let told = [(grain, assumed.lean_deg.is_some()), (wall, assumed.wall_mm.is_some())];
    let asked = told.iter().filter(|t| t.0);
    if asked.clone().all(|t| t.1) {
        "as lot.toml assumes"
    } else if asked.clone().any(|t| t.1) {
        "as lot.toml assumes and for all that is known"
    } else {
        "for all that is known"
    }
}

/// The same of a lot, in parts, with what would narrow it.
#[must_use]
pub(crate) fn lot_with_unread(n: &NotChecked, tubes: usize, assumed: Assumed) -> Vec<String> {
    let of = |k: usize, what: &str| (k > 0).then(|| format!("{what} not read on {k} of {}", counted(tubes, "tube")));
    let how = taken_as(assumed, n.grain > 0, n.wall > 0);
    let [expected, low, high] = [n.blanks.expected, n.blanks.low, n.blanks.high].map(|x| decimal(x, 0));
    let first = format!("{expected} ({low} to {high}) {how}, taken as good above");
    let narrower =
        ["a followed fibre (kind grain) or two walls (kind wall) make it surer", "so does [assumed] in lot.toml"];
    let read = [of(n.grain, "grain"), of(n.wall, "wall")].into_iter().flatten();
    std::iter::once(first).chain(read).chain(narrower.map(String::from)).collect()
}

/// One limit with the blanks it leaves a quarter tighter and wider.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitRow {
    /// The limit in words.
    pub limit: String,
    /// What it is changed to with its unit, and the blanks expected then.
    pub changes: Vec<(String, f64)>,
}

impl LimitRow {
    /// In words.
    #[must_use]
    pub fn told(&self) -> String {
        let one = |(at, blanks): &(String, f64)| format!("{at}: {}", decimal(*blanks, 0));
        self.changes.iter().map(one).collect::<Vec<String>>().join(", ")
    }
}

/// The limits of a lot as rows.
#[must_use]
pub fn limit_rows(f: &Forecast, units: Units) -> Vec<LimitRow> {
    let mut rows: Vec<LimitRow> = Vec::new();
    for c in &f.limit_changes {
        let limit = c.limit.replace('_', " ");
        let change = (units.with_word(c.at_mm, 2), c.blanks);
        match rows.iter_mut().find(|r| r.limit == limit) {
            Some(row) => row.changes.push(change),
            None => rows.push(LimitRow { limit, changes: vec![change] }),
        }
    }
    rows
}

/// Which other angles do as well as the chosen one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum AsGood {
    /// As far as these readings can tell, all of them.
    AnyAsFarAsSeen,
    /// All of them.
    Every,
    /// None.
    None,
    /// From one clockwise to another, degrees; not brought into one turn.
    Range(f64, f64),
    /// Nothing is left to choose: the tube is split.
    Fell,
}

impl AsGood {
    /// For this choice.
    pub(crate) fn of(s: &SplitChoice) -> AsGood {
        let (from, to) = s.flat_top;
        if fell(s) {
            AsGood::Fell
        } else if s.any_angle {
            AsGood::AnyAsFarAsSeen
        } else if to - from < 0.5 {
            AsGood::None
        } else if to - from >= step_deg(s) * (count(s.by_angle.len()) - 1.5) {
            // the whole period is one step longer than the way from its first angle to its last
            AsGood::Every
        } else {
            AsGood::Range(from, to)
        }
    }
}

/// Which other angles do as well, in words.
#[must_use]
pub fn flat_top(s: &SplitChoice, signs: Signs) -> String {
    match AsGood::of(s) {
        AsGood::Fell => "the split lines lie where they fell".to_string(),
        AsGood::AnyAsFarAsSeen => "any angle does as well as these readings can tell".to_string(),
        AsGood::None => format!("no other angle than {} does as well", signs.degrees(s.best.angle_deg)),
        AsGood::Every => "every angle does as well".to_string(),
        AsGood::Range(from, to) => format!("anywhere from {} does as well", signs.range(from, to)),
    }
}

/// Whether the lines fell already: then there is one angle, and nothing to choose.
fn fell(s: &SplitChoice) -> bool {
    s.by_angle.len() < 2
}

/// Where the pieces of a split tube begin.
#[must_use]
pub fn lines_fell(p: &TubePlan, signs: Signs) -> String {
    let lines: Vec<String> = p.pieces.iter().map(|x| Signs::Print.degrees(x.from_deg)).collect();
    let told = format!("split as it fell, at {}", lines.join(", "));
    if signs == Signs::Print { told } else { told.replace('°', "") + " deg" }
}

/// Degrees between neighbouring angles of the score.
#[must_use]
pub fn step_deg(s: &SplitChoice) -> f64 {
    match s.by_angle.as_slice() {
        [a, b, ..] => b.angle_deg - a.angle_deg,
        _ => 1.0,
    }
}

/// The next-best separate choices.
#[must_use]
pub fn next_best(s: &SplitChoice, signs: Signs) -> String {
    if fell(s) {
        return "nothing is left to choose".to_string();
    }
    let one = |c: &Choice| format!("{} ({:.1} blanks)", signs.degrees(c.angle_deg), c.expected);
    let others: Vec<String> = s.runners_up.iter().map(one).collect();
    format!("next best: {}", if others.is_empty() { "none apart from it".to_string() } else { others.join(", ") })
}

/// What splitting without looking gives.
#[must_use]
pub fn arbitrary(s: &SplitChoice) -> String {
    format!("an arbitrary angle gives {:.1}", s.arbitrary)
}

/// What stands in the place of the runs of a piece that has none.
#[must_use]
pub fn no_run(piece: &PlannedPiece) -> &'static str {
    if piece.expected >= WORTH_LOOKING { SHOWS_LATER } else { NO_RUN }
}

/// What sawing first brings, where it wins.
#[must_use]
pub fn sawing_first(s: &SawFirst) -> Option<String> {
    let [gain, low, high, handling] = [s.gain, s.interval.0, s.interval.1, s.handling].map(|x| decimal(x, 1));
    let lengths = counted(s.lengths.len(), "length");
    s.wins().then(|| {
        format!(
            "sawn across first, into {lengths}: {gain} blanks more (90 %: {low} to {high}), {handling} of them for the handling"
        )
    })
}

/// The same with a part for each length.
#[must_use]
pub fn saw_first(s: &SawFirst, units: Units, signs: Signs) -> Option<Vec<String>> {
    let length = |(i, l): (usize, &SawnLength)| {
        format!(
            "length {} from {} to {}: line 1 at {}, {} along the bark",
            i + 1,
            units.length(l.from_mm, 1),
            units.with_word(l.to_mm, 1),
            signs.degrees(l.angle_deg),
            units.with_word(l.along_mm, 1)
        )
    };
    Some(std::iter::once(sawing_first(s)?).chain(s.lengths.iter().enumerate().map(length)).collect())
}

/// What goes with it: how the lengths are told apart, and the caution.
pub const SAWING_FIRST: [&str; 3] = [
    "draw the index line all along and number the lengths before you saw",
    "an angle counts at that end of its length that lay nearer the index end",
    "round stock and short lengths only in a clamped cradle",
];

/// How the price was shared out over the planned tubes; empty where no price is known.
#[must_use]
pub(crate) fn price_shared(f: &Forecast) -> String {
    let Some(basis) = f.cost_basis else { return String::new() };
    let why = match f.whole_price {
        Some(WholePrice::NoBoughtWeight) => ": lot.toml gives no bought weight",
        Some(WholePrice::NoWeight) => ": no tube has a weight to share it by",
        Some(WholePrice::MoreThanBought) => ": they weigh more than was bought",
        None => "",
    };
    match (basis, f.estimated) {
        (CostBasis::WholePrice, _) => format!("the whole price on these tubes{why}"),
        (CostBasis::ByEstimatedWeight, Some(e)) => {
            let size = estimated_from(e.by);
            format!("the price shared by weight, that of {} estimated from {size}", counted(e.tubes, "tube"))
        }
        _ => "the price shared by weight".to_string(),
    }
}

fn estimated_from(by: EstimatedBy) -> &'static str {
    match by {
        EstimatedBy::LengthAndDiameter => "length and diameter",
        EstimatedBy::Length => "length",
    }
}

/// Said where nothing tells what was bought beyond the listed tubes.
pub(crate) const UNLISTED_UNKNOWN: &str = "what was bought beyond the listed tubes is not known and not counted: it follows from \
     their weights in tubes.csv";

/// By what the tubes that nobody measured are counted, and how sure to be of it.
#[must_use]
pub(crate) fn whole_lot(w: &WholeLot, weights: WeightUnit, units: Units) -> Vec<String> {
    let by = match w.sized_by {
        SizedBy::Weight => "weight",
        SizedBy::Room => "room for blanks",
        SizedBy::WeightAndRoom => "weight and room for blanks",
        SizedBy::Tube => "number, each as any other",
        SizedBy::Nearest => "the three most like it in length and weight",
    };
    let grams = |g: f64| print_weight(g, weights, 0);
    let rest = match (w.tubes - w.measured, w.unlisted_g.unwrap_or(0.0)) {
        (0, g) => format!("{} that were bought and are not listed", grams(g)),
        (n, g) if g > 0.0 => format!("{} and {} that are not listed", counted(n, "tube"), grams(g)),
        (n, _) => counted(n, "tube"),
    };
    let mut parts = vec![
        format!("the rest, {rest}, counted by {by} after the {} measured", w.measured),
        "as if it were measured and split like those".to_string(),
    ];
    if w.unlisted_g.is_none() {
        parts.push(UNLISTED_UNKNOWN.to_string());
    }
    parts.extend(w.estimated.map(|e| {
        let whose = counted(e.tubes, "listed tube");
        format!("the weight of {whose}, {}, estimated from {}", grams(e.weight_g), estimated_from(e.by))
    }));
    let apart = |what: &str, told: [String; 2]| format!("{what} {} on average, the rest {}", told[0], told[1]);
    if let Some(u) = w.unlike {
        let length = u.length_mm.map(|l| apart("long", l.map(|mm| units.with_word(mm, 0))));
        let weight = u.weight_g.map(|g| apart("heavy", g.map(grams)));
        let both: Vec<String> = length.into_iter().chain(weight).collect();
        parts.push(format!("the measured tubes are not like the rest ({}): measure some that are", both.join("; ")));
    }
    parts
}

/// What earlier lots bore out, in words.
#[must_use]
pub fn promise(p: Promise) -> String {
    let ends = [-NINETY, NINETY].map(|z: f64| decimal(p.factor * (z * p.log_sd).exp(), 2));
    format!("{} blanks came of each one promised ({} to {})", decimal(p.factor, 2), ends[0], ends[1])
}

/// The fewest blanks that count as so many or more: they come whole.
#[must_use]
pub(crate) fn least(blanks: f64) -> String {
    decimal(blanks.ceil(), 0)
}

/// A number of settings, with the decimals it has, two at most.
#[must_use]
pub(crate) fn plain_number(x: f64) -> String {
    format!("{}", (x * 100.0).round() / 100.0 + 0.0)
}

/// An amount of money, its currency behind it where one is named.
#[must_use]
pub(crate) fn money(amount: f64, currency: &str) -> String {
    format!("{} {currency}", decimal(amount, 2)).trim().to_string()
}

/// What something costs, `each` behind the amount, and its 90 % interval, which may have no upper limit.
#[must_use]
pub(crate) fn cost([expected, low, high]: [f64; 3], currency: &str, each: &str) -> String {
    let high = if high.is_finite() { decimal(high, 2) } else { "no limit".to_string() };
    format!("{}{each} ({} to {high})", money(expected, currency), decimal(low, 2))
}

/// Why blanks per kilogram cannot be told of a lot.
#[must_use]
pub(crate) fn no_rate(planned: usize, outcomes: &[TubeOutcome]) -> &'static str {
    if planned == 0 {
        "not known: no tube is planned"
    } else if outcomes.iter().any(|o| o.weight_g.is_some()) {
        "not known: no planned tube has a weight (tubes.csv, column weight)"
    } else {
        "not known: no tube has a weight (tubes.csv, column weight)"
    }
}

/// Why a tube has no plan; empty when it has one.
#[must_use]
pub(crate) fn why_not(outcome: &TubeOutcome) -> String {
    outcome.plan.as_ref().err().map_or(String::new(), ToString::to_string)
}

/// How much a finding matters.
#[must_use]
pub fn severity(s: Severity) -> &'static str {
    match s {
        Severity::Error => "error",
        Severity::Note => "note",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A choice of a split into quarters with this flat top about `best`.
    fn split(best: f64, flat_top: (f64, f64)) -> SplitChoice {
        let by_angle: Vec<Choice> = (0..90).map(|k| Choice { angle_deg: f64::from(k), expected: 5.0 }).collect();
        SplitChoice {
            best: Choice { angle_deg: best, expected: 5.0 },
            interval: (4.0, 6.0),
            flat_top,
            any_angle: false,
            winners_gain: 0.0,
            runners_up: vec![Choice { angle_deg: 70.0, expected: 4.5 }],
            arbitrary: 3.94,
            by_angle,
            draws: Vec::new(),
            margin: None,
        }
    }

    #[test]
    fn a_flat_top_is_told_from_0_to_360_in_the_same_words_everywhere() {
        for (best, flat, plain, print) in [
            (36.0, (31.0, 40.0), "anywhere from 31 to 40 deg does as well", "anywhere from 31° to 40° does as well"),
            (
                0.0,
                (-18.0, 18.0),
                "anywhere from 342 through 0 to 18 deg does as well",
                "anywhere from 342° through 0° to 18° does as well",
            ),
            // the end of a quarter is no end of the circle: a split at 108 deg is as good as one at 18
            (80.0, (72.0, 108.0), "anywhere from 72 to 108 deg does as well", "anywhere from 72° to 108° does as well"),
            (85.0, (-10.0, 0.0), "anywhere from 350 to 0 deg does as well", "anywhere from 350° to 0° does as well"),
            (2.0, (-0.3, 4.0), "anywhere from 0 to 4 deg does as well", "anywhere from 0° to 4° does as well"),
            (7.0, (7.0, 7.0), "no other angle than 7 deg does as well", "no other angle than 7° does as well"),
            (7.0, (-40.0, 49.0), "every angle does as well", "every angle does as well"),
        ] {
            let s = split(best, flat);
            assert_eq!(flat_top(&s, Signs::Plain), plain, "{flat:?}");
            assert_eq!(flat_top(&s, Signs::Print), print, "{flat:?}");
        }
    }

    #[test]
    fn directions_are_whole_and_never_a_negative_nought() {
        for (deg, told) in [(-0.2, "0 deg"), (359.7, "0 deg"), (-10.0, "350 deg"), (725.0, "5 deg"), (12.4, "12 deg")] {
            assert_eq!(Signs::Plain.degrees(deg), told, "{deg}");
        }
    }

    #[test]
    fn other_choices_and_the_arbitrary_angle_have_one_wording() {
        let s = split(36.0, (31.0, 40.0));
        assert_eq!(next_best(&s, Signs::Plain), "next best: 70 deg (4.5 blanks)");
        assert_eq!(
            next_best(&SplitChoice { runners_up: vec![], ..s.clone() }, Signs::Print),
            "next best: none apart from it"
        );
        assert_eq!(sentence(&arbitrary(&s)), "An arbitrary angle gives 3.9.");
        assert_eq!(expected(&s), "5.0 blanks expected (90 %: 4 to 6)");
    }

    #[test]
    fn sawing_first_is_told_only_where_it_wins() {
        let length =
            |from_mm, to_mm, angle_deg, along_mm| SawnLength { from_mm, to_mm, angle_deg, along_mm, expected: 3.5 };
        let won = SawFirst {
            lengths: vec![length(0.0, 101.6, 12.0, 2.66), length(102.6, 200.0, -4.0, 78.91)],
            expected: 7.0,
            gain: 0.8,
            interval: (-0.04, 2.0),
            gain_error: 0.1,
            needed_errors: 2.0,
            handling: 0.2,
        };
        let said = saw_first(&won, Units::Mm, Signs::Plain).expect("wins");
        assert_eq!(
            said,
            [
                "sawn across first, into 2 lengths: 0.8 blanks more (90 %: 0.0 to 2.0), 0.2 of them for the handling",
                "length 1 from 0.0 to 101.6 mm: line 1 at 12 deg, 2.7 mm along the bark",
                "length 2 from 102.6 to 200.0 mm: line 1 at 356 deg, 78.9 mm along the bark",
            ]
        );
        assert_eq!(saw_first(&SawFirst { gain: 0.35, ..won }, Units::Mm, Signs::Plain), None);
    }

    #[test]
    fn settings_are_told_with_the_decimals_they_have_and_blanks_come_whole() {
        assert_eq!([5.0, 5.4, 0.5].map(least), ["5", "6", "1"]);
        assert_eq!([2.5, 2.0, 0.25, -0.0].map(plain_number), ["2.5", "2", "0.25", "0"]);
    }
}
