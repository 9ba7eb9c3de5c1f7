//! Lots side by side, in words.

use super::fold::fold;
use super::table::{Cell, Table};
use super::words::{UNLISTED_UNKNOWN, cost, money};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::{Against, Compared, Interval, LotSum, Settle, percent};

/// A row for each lot.
#[must_use]
pub fn table(c: &Compared) -> Table {
    let mut t = Table::new(&[
        "lot",
        "tubes",
        "measured",
        "blanks",
        "blanks low",
        "blanks high",
        "blanks per kg",
        "per kg low",
        "per kg high",
        "blanks per lb",
        "price per kg",
        "cost per blank",
        "cost low",
        "cost high",
        "currency",
        "chance dearer %",
        "break-even price per kg",
        "not listed g",
    ]);
    for (i, s) in c.lots.iter().enumerate() {
        let against = c.against.iter().find(|a| a.lot == i);
        let number = |n: usize| Cell::text(n.to_string());
        let rate = |get: fn(Interval) -> f64| Cell::known(s.per_kg.map(get), 1);
        t.push(vec![
            Cell::text(&s.lot),
            number(s.tubes),
            number(s.measured),
            Cell::Number(s.blanks.expected, 1),
            Cell::Number(s.blanks.low, 0),
            Cell::Number(s.blanks.high, 0),
            rate(|r| r.expected),
            rate(|r| r.low),
            rate(|r| r.high),
            Cell::known(s.per_lb.map(|r| r.expected), 1),
            Cell::known(s.price_per_kg, 2),
            Cell::known(s.cost_per_blank.map(|k| k.expected), 3),
            Cell::known(s.cost_per_blank.map(|k| k.low), 3),
            Cell::known(s.cost_per_blank.and_then(|k| k.high), 3),
            Cell::text(&s.currency),
            Cell::known(against.and_then(|a| a.chance_dearer).map(|p| 100.0 * p), 0),
            Cell::known(against.and_then(|a| a.break_even_per_kg).map(|b| b.expected), 2),
            Cell::known(s.unlisted_g, 0),
        ]);
    }
    t
}

/// The lots, then each against the best.
#[must_use]
pub fn lines(c: &Compared) -> String {
    let mut out = String::new();
    let width = c.lots.iter().map(|s| s.lot.chars().count()).max().unwrap_or(0).min(30);
    for s in &c.lots {
        let head = format!("{:width$}  ", s.lot);
        out.push_str(&fold(&head, &lot_words(s), width + 2));
    }
    out.push('\n');
    let air = c.lots.iter().find_map(|s| s.air);
    if let Some(air) = air {
        let words = format!("weights told at {} % of humidity", decimal(air.told_percent, 0));
        out.push_str(&fold("", &[words], 0));
    }
    if !c.same_target {
        let words = "the lots are judged by different targets: a blank of one is not a blank of the other".to_string();
        out.push_str(&fold("", &[words], 0));
    }
    let Some(best) = c.best.map(|b| &c.lots[b]) else {
        let missing =
            "which is better cannot be told: it needs the price of every lot in one currency, or weights of all";
        out.push_str(&fold("", &[missing.to_string()], 0));
        return out;
    };
    for a in &c.against {
        out.push_str(&fold("", &against_words(a, &c.lots[a.lot], best, c.by_cost), 2));
    }
    out
}

fn lot_words(s: &LotSum) -> Vec<String> {
    let range = |i: Interval| format!("{} ({} to {})", decimal(i.expected, 0), decimal(i.low, 0), decimal(i.high, 0));
    let of = if s.measured < s.tubes { format!(", {} measured", s.measured) } else { String::new() };
    let mut words = vec![format!("{}{of}", counted(s.tubes, "tube"))];
    words.extend(match s.unlisted_g {
        Some(g) if g > 0.0 => Some(format!("and {} g that were bought and are not listed", decimal(g, 0))),
        Some(_) => None,
        None => Some(UNLISTED_UNKNOWN.to_string()),
    });
    words.push(format!("{} blanks", range(s.blanks)));
    words.extend(s.per_kg.map(|i| format!("{} per kg", range(i))));
    words.extend(s.per_lb.map(|i| format!("{} per lb", range(i))));
    words.extend(s.price_per_kg.map(|p| format!("{} a kg", money(p, &s.currency))));
    words.extend(s.cost_per_blank.map(|k| cost(k.ends(), &s.currency, " a blank")));
    words
}

fn against_words(a: &Against, lot: &LotSum, best: &LotSum, by_cost: bool) -> Vec<String> {
    let (name, other) = (&lot.lot, &best.lot);
    let mut words = Vec::new();
    if let Some(p) = a.chance_dearer.filter(|_| by_cost) {
        words.push(format!("a blank of {name} is dearer than one of {other} with a chance of {} %", percent(p)));
    }
    if let Some(p) = a.chance_fewer_per_kg {
        let word = if by_cost { "a kilogram of it" } else { "a kilogram of" };
        let whose = if by_cost { String::new() } else { format!(" {name}") };
        words.push(format!("{word}{whose} gives fewer blanks than one of {other} with a chance of {} %", percent(p)));
    }
    if let Some(b) = a.break_even_per_kg {
        let at = cost(b.ends(), &lot.currency, " a kg");
        words.push(format!("at {at} a blank of {name} would cost what one of {other} does"));
    }
    words.push(settle_words(a.settle, name, other));
    words
}

fn settle_words(settle: Settle, name: &str, other: &str) -> String {
    match settle {
        Settle::Settled => "that is settled".to_string(),
        Settle::Never => "measuring every tube of both would not settle it if they go on as those before".to_string(),
        Settle::Measure { of_this, of_best } => {
            let parts = [(of_this, name), (of_best, other)];
            let told: Vec<String> = parts
                .iter()
                .filter(|(n, _)| *n > 0)
                .map(|(n, lot)| format!("{} of {lot}", counted(*n, "more tube")))
                .collect();
            format!("{} would settle it if they go on as those before", told.join(" and "))
        }
    }
}
