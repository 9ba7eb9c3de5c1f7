//! A lot in piles, in words: what lies in which pile, what each gives, how alike they are.

use super::fold::{fold, hanging, laid_out};
use super::show::Units;
use super::table::{Cell, Table};
use crate::domain::counted;
use crate::domain::units::{WeightUnit, decimal, print_weight};
use crate::lot::batches::{Batches, CountedBy, DividedBy, Pile};
use crate::lot::percent;
use crate::numeric::summary::count;
use crate::paper::font::plain;

/// Where the lines behind a word begin.
const INDENT: usize = 11;

/// The tubes, a row each, pile by pile; those in no pile as remarks.
#[must_use]
pub fn table(b: &Batches, weights: WeightUnit, units: Units) -> Table {
    let u = units.word();
    let titles = [
        "tube",
        "pile",
        "blanks",
        "low",
        "high",
        "counted by",
        &format!("length {u}"),
        &format!("weight {}", weights.word()),
        "measuring min",
        "over by eye",
    ];
    let mut table = Table::new(&titles);
    for (pile, t) in b.piles.iter().flat_map(|p| p.tubes.iter().map(move |t| (p.pile, t))) {
        table.push(vec![
            Cell::text(&t.tube),
            Cell::Number(count(pile), 0),
            Cell::known(t.expected_blanks, 1),
            Cell::known(t.low, 1),
            Cell::known(t.high, 1),
            Cell::text(word(t.counted_by)),
            Cell::known(t.length_mm.map(|l| units.number(l)), units.decimals(1)),
            Cell::known(t.weight_g.map(|g| g / weights.grams()), weights.decimals(1)),
            Cell::known(t.measuring_minutes, 1),
            Cell::known(t.over_by_eye, 2),
        ]);
    }
    for l in &b.left_out {
        table.push_note(&l.tube, &format!("in no pile: {}", units.told(&l.why)));
    }
    table
}

/// By what a tube's blanks are counted, in a word.
fn word(by: CountedBy) -> &'static str {
    match by {
        CountedBy::Measured => "measured",
        CountedBy::Weight => "weight",
        CountedBy::Length => "length",
        CountedBy::Nothing => "nothing",
    }
}

/// The piles as they are laid out on a bench, then how alike they are and what lies in none.
#[must_use]
pub fn text(b: &Batches, weights: WeightUnit, units: Units) -> String {
    let mut out = hanging(&heading(b), 2);
    for p in &b.piles {
        out.push('\n');
        out += &pile(p, b, weights, units);
    }
    if !b.piles.is_empty() {
        out.push('\n');
        out += &hanging(&spread(b, weights, units), INDENT);
    }
    for line in notes(b, weights, units) {
        out += &hanging(&line, INDENT);
    }
    out
}

/// How many piles, alike in what, and why so many.
#[must_use]
pub fn heading(b: &Batches) -> String {
    if b.piles.is_empty() {
        return "no piles: no tube is left to divide".into();
    }
    let (n, tubes) = (b.piles.len(), b.piles.iter().map(|p| p.tubes.len()).sum::<usize>());
    let why = match (b.piles_asked, b.edge_life) {
        (Some(asked), _) if asked > n => format!(", one a tube, where {asked} were asked for"),
        (None, Some(life)) => format!(", as many as an edge life of {} asks", blanks(life, 0)),
        _ => String::new(),
    };
    let known = if b.piles.iter().all(|p| p.expected_blanks.is_some()) {
        "every interval is 90 %"
    } else {
        "no tube is measured, so their blanks are not known"
    };
    let (tubes, n) = (counted(tubes, "tube"), counted(n, "pile"));
    format!("{tubes} in {n} alike in {}{why}; {known}", alike(b))
}

fn alike(b: &Batches) -> &'static str {
    match b.divided_by {
        DividedBy::Blanks => "expected blanks",
        DividedBy::Weight => "weight",
        DividedBy::Length if b.piles.iter().all(|p| p.weight_g.is_none()) => "length, since no tube is weighed",
        DividedBy::Length => "length",
    }
}

fn pile(p: &Pile, b: &Batches, weights: WeightUnit, units: Units) -> String {
    let names: Vec<String> = p.tubes.iter().map(|t| plain(&t.tube).into_owned()).collect();
    let mut out = laid_out(&format!("{:INDENT$}", format!("pile {}", p.pile)), &names, INDENT);
    out += &fold(&" ".repeat(INDENT), &facts(p, b, weights, units), INDENT);
    out
}

/// What is told of a pile: blanks, chance, mean length, weight.
fn facts(p: &Pile, b: &Batches, weights: WeightUnit, units: Units) -> Vec<String> {
    let mut facts = vec![blanks_of(p)];
    facts.extend(p.outlasts.map(outlasts));
    facts.extend(p.mean_length_mm.map(|l| format!("mean length {}", units.with_word(l, 0))));
    facts.extend(weight(p, weights));
    if b.divided_by == DividedBy::Weight && p.unweighed > 0 {
        facts.push(format!("about {} with those not weighed", print_weight(p.size, weights, 0)));
    }
    facts.push(minutes(p));
    facts
}

/// What a pile takes, and what measuring its tubes brings over splitting them by eye.
#[must_use]
pub fn minutes(p: &Pile) -> String {
    let split = format!("splitting takes {} min", decimal(p.splitting_minutes, 0));
    match (p.measuring_minutes, p.over_by_eye) {
        (Some(m), Some(gain)) => {
            format!("measured in {} min for {} blanks over splitting by eye, {split}", decimal(m, 0), decimal(gain, 1))
        }
        (None, Some(gain)) => format!("measuring brings {} blanks over splitting by eye, {split}", decimal(gain, 1)),
        _ => split,
    }
}

/// Blanks of a pile with their interval.
#[must_use]
pub fn blanks_of(p: &Pile) -> String {
    match (p.expected_blanks, p.low, p.high) {
        (Some(e), Some(low), Some(high)) => {
            format!("{} blanks ({} to {})", decimal(e, 1), decimal(low, 0), decimal(high, 0))
        }
        (Some(e), ..) => format!("{} blanks, how surely is not known", decimal(e, 1)),
        _ => "blanks not known".into(),
    }
}

/// The chance of outlasting in words.
#[must_use]
pub fn outlasts(chance: f64) -> String {
    format!("the edge outlasts it in {} of 100", percent(chance))
}

/// Weight of a pile, and of how many of its tubes.
#[must_use]
pub fn weight(p: &Pile, weights: WeightUnit) -> Option<String> {
    let some = match p.unweighed {
        0 => String::new(),
        n => format!(" ({n} not weighed)"),
    };
    p.weight_g.map(|w| format!("{}{some}", print_weight(w, weights, 0)))
}

/// The spread and the bound under it.
#[must_use]
pub fn spread(b: &Batches, weights: WeightUnit, units: Units) -> String {
    let amount = |size: f64| match b.divided_by {
        DividedBy::Blanks => blanks(size, 2),
        DividedBy::Weight => print_weight(size, weights, 2),
        DividedBy::Length => units.with_word(size, 2),
    };
    let given = if b.given_for_length > 5e-3 {
        format!(", {} of it given to mix lengths", amount(b.given_for_length))
    } else {
        String::new()
    };
    let spread = amount(b.spread);
    let bound = amount(b.spread_bound);
    let closer = if b.closest() {
        "no division can have piles closer than that".to_string()
    } else {
        format!("no division can have piles closer than {bound}")
    };
    format!("spread {spread} between the largest and the smallest pile{given}; {closer}")
}

fn blanks(n: f64, decimals: usize) -> String {
    format!("{} blanks", decimal(n, decimals))
}

/// Tubes counted by something else than readings, tubes beyond the edge's life, tubes in no pile: a line each.
#[must_use]
pub fn notes(b: &Batches, weights: WeightUnit, units: Units) -> Vec<String> {
    let mut lines = Vec::new();
    let list = |names: &[&str]| names.iter().map(|n| plain(n).into_owned()).collect::<Vec<String>>().join(", ");
    let a_weight = match weights {
        WeightUnit::Kilogram => "kilogram",
        WeightUnit::Ounce => "ounce",
        WeightUnit::Pound => "pound",
        _ => "gram",
    };
    let a_length = if units == Units::Inch { "inch" } else { "millimetre" };
    let by = [
        (CountedBy::Weight, format!("by weight, at the measured tubes' blanks per {a_weight}")),
        (CountedBy::Length, format!("by length, at the measured tubes' blanks per {a_length}")),
    ];
    for (counted_by, how) in by {
        let names = b.counted_by(counted_by);
        if !names.is_empty() {
            let n = counted(names.len(), "tube");
            lines.push(format!("{n} not measured and counted {how}: {}", list(&names)));
        }
    }
    if let (Some(life), false) = (b.edge_life, b.beyond_edge_life.is_empty()) {
        let names: Vec<&str> = b.beyond_edge_life.iter().map(String::as_str).collect();
        let life = blanks(life, 0);
        lines.push(format!("one tube alone is expected to give more than the edge life of {life}: {}", list(&names)));
    }
    for l in &b.left_out {
        lines.push(format!("in no pile: {}: {}", plain(&l.tube), plain(&units.told(&l.why))));
    }
    lines
}
