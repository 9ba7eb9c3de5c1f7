//! What each tube of a lot serves best, and the lot split by worth, in words and tables.

use super::fold::{hanging, laid_out, wrapped};
use super::scales;
use super::show::Units;
use super::table::{Cell, Table};
use super::words::{least, whole_degrees};
use crate::decide::serves::Served;
use crate::decide::verdict::Verdict;
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::serves::{Amount, Best, RankedBy, Serves, SetAsked, Share, TubeServes};
use crate::lot::{Interval, percent};
use crate::numeric::summary::count;
use crate::paper::font::plain;

/// Fewer blanks than this are told as none in a line below the table.
const HARDLY_ANY: f64 = 0.05;
/// Where the lines behind a word begin.
const INDENT: usize = 20;

/// Every tube and set, a row each.
#[must_use]
pub fn table(s: &Serves, units: Units) -> Table {
    let chance = chance_title(s);
    let titles = [
        "tube",
        "for",
        "verdict",
        "blanks",
        "low",
        "high",
        "at most",
        &chance,
        "split at deg",
        "each",
        "worth",
        "currency",
        "serves",
        "next as good %",
        "why",
    ];
    let mut t = Table::new(&titles);
    for tube in &s.tubes {
        let served = match &tube.served {
            Ok(served) => served,
            Err(why) => {
                t.push_note(&tube.tube, &why.to_string());
                continue;
            }
        };
        for (j, (set, one)) in s.sets.iter().zip(&served.sets).enumerate() {
            let mut row = vec![Cell::text(&tube.tube)];
            row.extend(figures(set, one));
            row.extend([
                count_cell(percent(one.screen.chance)),
                Cell::known(one.angle_deg.map(whole_degrees), 0),
                Cell::known(set.blank_value, 2),
                Cell::known(set.blank_value.map(|v| v * one.expected), 2),
                Cell::text(&s.currency),
                Cell::text(place(tube.best.as_ref(), j).map_or("", Place::word)),
                Cell::known(as_good(tube.best.as_ref(), j).map(|p| count(percent(p))), 0),
                Cell::text(units.told(&one.screen.reason)),
            ]);
            t.push(row);
        }
    }
    t
}

fn figures(set: &SetAsked, one: &Served) -> [Cell; 6] {
    [
        Cell::text(&set.target.instrument),
        Cell::text(if one.in_reach { one.screen.verdict.word() } else { "out of reach" }),
        Cell::Number(one.expected, 1),
        Cell::Number(one.interval.0, 0),
        Cell::Number(one.interval.1, 0),
        Cell::known((one.capacity > 0).then(|| count(one.capacity)), 0),
    ]
}

fn count_cell(n: usize) -> Cell {
    Cell::Number(count(n), 0)
}

fn chance_title(s: &Serves) -> String {
    format!("chance of {}+ %", least(s.least_blanks))
}

/// How a set stands to a tube.
#[derive(Clone, Copy)]
enum Place {
    Best,
    AsWell,
    Next,
}

impl Place {
    fn word(self) -> &'static str {
        match self {
            Place::Best => "best",
            Place::AsWell => "as well",
            Place::Next => "next",
        }
    }
}

fn place(best: Option<&Best>, set: usize) -> Option<Place> {
    let best = best?;
    if best.set == set {
        return Some(Place::Best);
    }
    let second = best.second.filter(|s| s.set == set)?;
    Some(if second.either { Place::AsWell } else { Place::Next })
}

fn as_good(best: Option<&Best>, set: usize) -> Option<f64> {
    best?.second.filter(|s| s.set == set).map(|s| s.as_good)
}

/// The sets of every tube, then the lot for each set alone, then where the tubes go and what that is worth.
#[must_use]
pub fn text(s: &Serves, units: Units) -> String {
    let head = format!(
        "Lot {}: {} for {}; seed {}, {}",
        s.lot,
        counted(s.tubes.len(), "tube"),
        counted(s.sets.len(), "set"),
        s.options.seed,
        counted(s.options.draws, "draw")
    );
    let mut out = format!("{head}\n{}\n", hanging(&scales::line(&s.scales), 2).trim_end());
    out += &tubes(s, units);
    out += &notes(s, units);
    if !s.sets.is_empty() && s.tubes.iter().any(|t| t.served.is_ok()) {
        out += &format!("\n{}", lot(s));
        out += &format!("\n{}", shared_out(s));
    }
    out
}

fn tubes(s: &Serves, units: Units) -> String {
    let by_value = s.ranked_by == RankedBy::Value;
    let counts = if by_value { title(s, "worth") } else { "of full %".to_string() };
    let mut t = Table::new(&["tube", "for", "verdict", "blanks", "low", "high", "at most", &counts, "serves"]);
    let mut below = String::new();
    for tube in &s.tubes {
        let served = match &tube.served {
            Ok(served) => served,
            Err(why) => {
                t.push_note(&tube.tube, &why.to_string());
                continue;
            }
        };
        let mut order: Vec<usize> = (0..s.sets.len()).collect();
        let counts_of = |j: usize| {
            let one = &served.sets[j];
            let full = (one.capacity > 0).then(|| 100.0 * one.expected / count(one.capacity));
            if by_value { s.sets[j].blank_value.map(|v| v * one.expected) } else { full }
        };
        let rank = |j: usize| match place(tube.best.as_ref(), j) {
            Some(Place::Best) => 0,
            Some(_) => 1,
            None if served.sets[j].screen.verdict != Verdict::Leave => 2,
            None => 3,
        };
        let counted_as = |j: usize| counts_of(j).unwrap_or(-1.0);
        order.sort_by(|&a, &b| rank(a).cmp(&rank(b)).then(counted_as(b).total_cmp(&counted_as(a))).then(a.cmp(&b)));
        let (told, hardly): (Vec<usize>, Vec<usize>) =
            order.into_iter().partition(|&j| served.sets[j].expected >= HARDLY_ANY);
        for (i, &j) in told.iter().enumerate() {
            let one = &served.sets[j];
            let mut row = vec![if i == 0 { Cell::text(&tube.tube) } else { Cell::Empty }];
            row.extend(figures(&s.sets[j], one));
            row.extend([Cell::known(counts_of(j), if by_value { 2 } else { 0 }), Cell::text(serves(tube, j))]);
            t.push(row);
        }
        if told.is_empty() {
            below +=
                &hanging(&format!("{}: no blank for any of these sets{}", plain(&tube.tube), why(served, units)), 2);
        } else if !hardly.is_empty() && s.tubes.len() == 1 {
            let each: Vec<String> = hardly
                .iter()
                .map(|&j| format!("{} ({})", s.sets[j].target.instrument, units.told(&served.sets[j].screen.reason)))
                .collect();
            below += &hanging(&format!("hardly any blank for {}", each.join(", ")), 2);
        }
    }
    let table = if t.is_empty() { String::new() } else { t.to_text() };
    format!("{table}{below}")
}

/// Why a tube gives nothing, where it is the same for all sets.
fn why(served: &crate::decide::serves::ServedTube, units: Units) -> String {
    let mut reasons: Vec<String> = served.sets.iter().map(|one| units.told(&one.screen.reason)).collect();
    reasons.dedup();
    if let [only] = &reasons[..] { format!(": {only}") } else { String::new() }
}

fn serves(tube: &TubeServes, j: usize) -> String {
    match (place(tube.best.as_ref(), j), as_good(tube.best.as_ref(), j)) {
        (Some(Place::Next), Some(p)) if p > 0.0 => format!("as good in {} of 100", percent(p)),
        (Some(place), _) => place.word().to_string(),
        (None, _) => String::new(),
    }
}

fn title(s: &Serves, word: &str) -> String {
    if s.currency.is_empty() { word.to_string() } else { format!("{word} {}", s.currency) }
}

/// What the table cannot say.
fn notes(s: &Serves, units: Units) -> String {
    let mut lines = Vec::new();
    let skipped = |too_long: bool| {
        let of = s.skipped.iter().filter(|k| k.too_long == too_long);
        of.map(|k| format!("{} ({})", plain(&k.name), units.with_word(k.wants_mm, 1)))
            .collect::<Vec<String>>()
            .join(", ")
    };
    let (too_long, out_of_reach) = (skipped(true), skipped(false));
    if !out_of_reach.is_empty() {
        let (least, most) =
            s.sizes_mm.map_or_else(Default::default, |r| (units.length(r.0, 1), units.with_word(r.1, 1)));
        let range = if units.with_word(s.sizes_mm.map_or(0.0, |r| r.0), 1) == most {
            most
        } else {
            format!("{least} to {most}")
        };
        lines.push(format!("not planned, arc diameter out of reach of tubes that measure {range}: {out_of_reach}"));
    }
    if !too_long.is_empty() {
        lines.push(format!("not planned, no tube is long enough for one blank: {too_long}"));
    }
    if let Some(own) = s.sets.iter().find(|set| set.own_limits) {
        let name = plain(&own.target.instrument);
        lines.push(format!("{name} with the limits that [target] states, the others with those of their sets"));
    }
    let small: Vec<String> = s
        .sets
        .iter()
        .filter(|set| scales::far_from_an_inch(set.target.arc_diameter_mm))
        .map(|set| plain(&set.target.instrument).into_owned())
        .collect();
    if !small.is_empty() {
        lines.push(format!("{}: {}", small.join(", "), scales::SMALL_TUBES));
    }
    lines.extend(not_counted(s));
    lines.iter().map(|l| hanging(l, 2)).collect()
}

/// What `split` counts and these blanks do not.
fn not_counted(s: &Serves) -> Vec<String> {
    let mut lines = Vec::new();
    let tubes = || s.tubes.iter().filter_map(|t| t.served.as_ref().ok());
    let unread = [
        ("grain", tubes().filter(|t| !t.grain_checked).count()),
        ("wall", tubes().filter(|t| !t.wall_checked).count()),
    ];
    let of: Vec<String> =
        unread.iter().filter(|u| u.1 > 0).map(|(what, n)| format!("{what} of {}", counted(*n, "tube"))).collect();
    if !of.is_empty() {
        lines.push(format!("not read, taken as good: {}; split tells what that may cost", of.join(", ")));
    }
    if s.promise_left_out {
        lines.push("what promises came to in earlier lots ([promise] in lot.toml) is not counted here".to_string());
    }
    lines
}

/// The lot cut for one set alone, a row each.
fn lot(s: &Serves) -> String {
    let by_value = s.ranked_by == RankedBy::Value;
    let worth = title(s, "worth");
    let mut titles = vec!["all for one", "tubes", "blanks", "low", "high"];
    if by_value {
        titles.extend(["each", &worth, "low", "high"]);
    }
    let mut t = Table::new(&titles);
    for set in &s.sets {
        let Share { tubes, blanks, value } = &set.alone;
        let mut row = vec![Cell::text(&set.target.instrument), count_cell(tubes.len())];
        row.extend([Cell::Number(blanks.expected, 1), Cell::Number(blanks.low, 0), Cell::Number(blanks.high, 0)]);
        if by_value {
            row.extend([
                Cell::known(set.blank_value, 2),
                Cell::known(value.map(|v| v.expected), 2),
                Cell::known(value.map(|v| v.low), 0),
                Cell::known(value.map(|v| v.high), 0),
            ]);
        }
        t.push(row);
    }
    t.to_text()
}

/// Where the tubes go, and what that is worth.
fn shared_out(s: &Serves) -> String {
    let mut out = match s.ranked_by {
        RankedBy::Value => wrapped("Each tube where its blanks are expected to be worth most, every interval 90 %:"),
        RankedBy::ShareOfFull => {
            wrapped("Each tube where it gives the largest share of what its length could hold, every interval 90 %:")
        }
    };
    let each = |names: &[String]| names.iter().map(|n| plain(n).into_owned()).collect::<Vec<String>>();
    for set in s.sets.iter().filter(|set| !set.best_for.tubes.is_empty()) {
        let pile = &set.best_for;
        let name = plain(&set.target.instrument).into_owned();
        out += &laid_out(&format!("{name:INDENT$}"), &each(&pile.tubes), INDENT);
        let worth = pile.value.map_or(String::new(), |v| format!(", worth {}", amount(v, &s.currency)));
        out += &format!("{:INDENT$}{}{worth}\n", "", blanks(pile.blanks));
    }
    let left: Vec<String> = s.left().into_iter().map(ToString::to_string).collect();
    if !left.is_empty() {
        out += &laid_out(&format!("{:INDENT$}", "left for every set"), &each(&left), INDENT);
    }
    let either: Vec<String> = s.tubes.iter().filter_map(|t| either(s, t)).collect();
    if !either.is_empty() {
        out += &hanging(&format!("Either does as well: {}", either.join("; ")), 2);
    }
    out + &conclusion(s)
}

fn either(s: &Serves, t: &TubeServes) -> Option<String> {
    let best = t.best.as_ref()?;
    let second = best.second.filter(|x| x.either)?;
    let name = |j: usize| plain(&s.sets[j].target.instrument).into_owned();
    Some(format!("{} for {} or {}", plain(&t.tube), name(best.set), name(second.set)))
}

fn blanks(i: Interval) -> String {
    format!("{} blanks ({} to {})", decimal(i.expected, 1), decimal(i.low, 0), decimal(i.high, 0))
}

fn amount(a: Amount, currency: &str) -> String {
    let behind = if currency.is_empty() { String::new() } else { format!(" {currency}") };
    format!("{}{behind} ({} to {})", decimal(a.expected, 2), decimal(a.low, 2), decimal(a.high, 2))
}

fn conclusion(s: &Serves) -> String {
    let missing = s.without_value().iter().map(|n| plain(n).into_owned()).collect::<Vec<String>>().join(", ");
    let how = "write blank_value under [instrument.NAME] in lot.toml (of the lot's own target under [target]), or give --value NAME=AMOUNT";
    let Some(split) = &s.split else {
        let stated: Vec<String> = s
            .sets
            .iter()
            .filter(|x| x.blank_value.is_some())
            .map(|x| plain(&x.target.instrument).into_owned())
            .collect();
        let what = match &stated[..] {
            [] => "nothing states what a blank is worth".to_string(),
            all => format!("what a blank is worth is stated for {} alone", all.join(", ")),
        };
        return hanging(&format!("The lot is not split by value: {what}. To have it split, {how}."), 2);
    };
    let gain = split.gain;
    let brings = if gain.low > 0.0 {
        format!("Splitting the lot brings {}.", amount(gain, &s.currency))
    } else {
        format!("Splitting the lot brings {}: it may bring nothing.", amount(gain, &s.currency))
    };
    let mut out = hanging(
        &format!(
            "So the lot is worth {}; all for {} alone {}. {brings}",
            amount(split.value, &s.currency),
            plain(&split.single),
            amount(split.single_value, &s.currency)
        ),
        2,
    );
    if !missing.is_empty() {
        out += &hanging(
            &format!("Not in the split by value, since what a blank is worth is not stated: {missing}; {how}."),
            2,
        );
    }
    out
}
