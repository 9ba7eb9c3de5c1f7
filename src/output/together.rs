//! Records of many lots summed up, as lines of text and as a table.

use super::fold::fold;
use super::show::Units;
use super::table::{Cell, Table};
use super::text::{blank_lines, count_lines, earlier_lines, gauged_lines, limit_lines, range, rate_lines, time_lines};
use super::words;
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::{CostBasis, Forecast, LotShare, Together, WholePrice};
use std::fmt::Write as _;

/// Lots that are listed one by one; of more the table tells.
const LISTED: usize = 12;

/// What the lots come to, as lines of text.
#[must_use]
pub fn lines(t: &Together, units: Units) -> String {
    let (f, target) = (&t.forecast, &t.target);
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{}, {}; {}, {}, blank {}; seed {}, {}",
        counted(t.lots.len(), "lot"),
        counted(t.total(|l| l.listed), "tube"),
        target.instrument,
        counted(target.pieces, "piece"),
        units.with_word(target.blank_length_mm, 1),
        t.options.seed,
        counted(t.options.draws, "draw")
    );
    let _ = writeln!(out, "{} planned{}; every interval is 90 %", counted(f.tubes, "tube"), left_out(t));
    out.push_str(&blank_lines(f));
    if let Some(apart) = t.lots_apart {
        let parts = [
            "as of lots read with the same instruments, which err alike".to_string(),
            format!("{} if lots have nothing in common", range(apart, 0)),
        ];
        out.push_str(&fold("                ", &parts, 16));
    }
    out.push_str(&count_lines(f));
    out.push_str(&time_lines(f));
    out.push_str(&gauged_lines(f, t.assumed.unwrap_or_default()));
    out.push_str(&rate_lines(f, t.weight_unit, || "not known: no planned tube has a weight"));
    if f.per_kg.is_some() {
        out.push_str(&air_lines(t));
    }
    out.push_str(&cost_lines(t));
    out.push_str(&earlier_lines(f));
    out.push_str(&limit_lines(f, units));
    let not_here = [
        "nothing of tubes that were not measured".to_string(),
        "no weights that were not taken".to_string(),
        "`forecast LOT` tells both of each lot".to_string(),
    ];
    out.push_str(&fold("not in here     ", &not_here, 16));
    if (2..=LISTED).contains(&t.lots.len()) {
        out.push('\n');
        out.push_str(&listing(t).to_text());
    } else if t.lots.len() > LISTED {
        out.push_str("                --csv tells every lot by itself\n");
    }
    out
}

/// What of the lots' tubes has no plan here.
fn left_out(t: &Together) -> String {
    let told = |n: usize, what: &str| (n > 0).then(|| format!(", {n} {what}"));
    let all = [
        told(t.total(|l| l.not_measured), "not measured"),
        told(t.total(|l| l.not_analysed), "not analysed"),
        told(t.total(|l| l.missing), "without a record"),
    ];
    all.into_iter().flatten().collect()
}

/// In what air weights are told, where the lots' own differ: one air is told with the rates.
fn air_lines(t: &Together) -> String {
    let told = match t.told_percent.filter(|_| t.forecast.air.is_none()) {
        Some(percent) => format!("weights of every lot told at {} % of humidity", decimal(percent, 0)),
        None if t.mixed_air => {
            "weights as they were weighed, in air that differs from lot to lot or is not told: --at-humidity tells them in one"
                .to_string()
        }
        None => return String::new(),
    };
    fold("                ", &[told], 16)
}

fn cost_lines(t: &Together) -> String {
    let f = &t.forecast;
    let Some(c) = f.cost_per_blank else {
        let why = if t.costed_lots == 0 {
            "not known: no price that can be shared out over weighed tubes"
        } else if f.currency.is_empty() {
            "not known: prices in several currencies"
        } else {
            "none: no blank is expected"
        };
        return format!("cost per blank  {why}\n");
    };
    let mut parts = vec![words::cost([c.expected, c.low, c.high], &f.currency, "")];
    parts.push(match (f.cost_basis, f.whole_price) {
        (Some(CostBasis::ByWeight), _) => "the price shared by weight".into(),
        (Some(CostBasis::WholePrice), Some(WholePrice::MoreThanBought)) => {
            "whole prices: the tubes weigh more than was bought".into()
        }
        (Some(CostBasis::WholePrice), _) => "whole prices on the planned tubes".into(),
        _ => "prices shared by weight, or whole where no bought weight is known".to_string(),
    });
    if t.costed_lots < t.lots.len() {
        parts.push(format!(
            "over {} of {}: of the others it is not known",
            t.costed_lots,
            counted(t.lots.len(), "lot")
        ));
    }
    fold("cost per blank  ", &parts, 16)
}

/// One line a lot, and one for all of them.
#[must_use]
pub fn table(t: &Together) -> Table {
    let unit = t.weight_unit;
    let mut table = Table::new(&[
        "lot",
        "tubes",
        "planned",
        "no record",
        &format!("weight {}", unit.word()),
        "blanks",
        "low",
        "high",
        "marked alone",
        "blanks per kg",
        "blanks per lb",
        "cost per blank",
        "currency",
        "by eye",
        "measuring min",
    ]);
    let row = |name: &str, [listed, missing]: [usize; 2], f: &Forecast| {
        vec![
            Cell::text(name),
            whole(listed),
            whole(f.tubes),
            whole(missing),
            Cell::known(f.weight_g.map(|w| w.0 / unit.grams()), unit.decimals(1)),
            Cell::Number(f.blanks.expected, 2),
            Cell::Number(f.blanks.low, 0),
            Cell::Number(f.blanks.high, 0),
            Cell::known(f.marked.map(|m| m.expected), 2),
            Cell::known(f.per_kg.map(|i| i.expected), 1),
            Cell::known(f.per_lb.map(|i| i.expected), 1),
            Cell::known(f.cost_per_blank.map(|i| i.expected), 3),
            Cell::text(&f.currency),
            Cell::known(f.by_eye, 2),
            Cell::known(f.measuring_minutes, 1),
        ]
    };
    for LotShare { lot, listed, missing, forecast, .. } in &t.lots {
        table.push(row(lot, [*listed, *missing], forecast));
    }
    table.push(row("all lots", [t.total(|l| l.listed), t.total(|l| l.missing)], &t.forecast));
    table
}

/// The same in the columns that a terminal has room for.
fn listing(t: &Together) -> Table {
    let mut table = Table::new(&["lot", "tubes", "planned", "blanks", "low", "high", "per kg", "cost per blank", ""]);
    for LotShare { lot, listed, forecast: f, .. } in &t.lots {
        table.push(vec![
            Cell::text(lot),
            whole(*listed),
            whole(f.tubes),
            Cell::Number(f.blanks.expected, 1),
            Cell::Number(f.blanks.low, 0),
            Cell::Number(f.blanks.high, 0),
            Cell::known(f.per_kg.map(|i| i.expected), 1),
            Cell::known(f.cost_per_blank.map(|i| i.expected), 3),
            Cell::text(&f.currency),
        ]);
    }
    table
}

fn whole(n: usize) -> Cell {
    Cell::Number(crate::numeric::summary::count(n), 0)
}
