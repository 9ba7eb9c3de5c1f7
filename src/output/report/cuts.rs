//! The cut list: as a table for the spreadsheet and as a section of a tube's card.

use super::ReportInput;
use super::bench::{bench, bench_fn, inch_32};
use crate::decide::cut_order::{Cut, Holding, Part};
use crate::decide::cut_plan::PieceCuts;
use crate::decide::plan::TubePlan;
use crate::output::cut_list;
use crate::output::show::Units;
use crate::output::table::{Cell, Table};
use crate::output::words;
use maud::{Markup, html};

/// One row per cut of every planned tube.
pub fn table(input: &ReportInput<'_>, plans: &[&TubePlan]) -> Table {
    let u = input.units.word();
    let mut titles: Vec<String> = ["tube", "piece", "cut", "stop against", "turn first"].map(String::from).to_vec();
    titles.extend(["stop at", "saw from", "saw to", "falls length", "held"].map(|t| format!("{t} {u}")));
    titles.extend(["falls", "flag", "what to do"].map(String::from));
    if input.units == Units::Inch {
        titles.extend(["stop at nearest 1/32", "saw from nearest 1/32"].map(String::from));
    }
    let mut t = Table::new(&titles.iter().map(String::as_str).collect::<Vec<_>>());
    for plan in plans {
        for piece in input.cuts(plan) {
            match &piece.order {
                Ok(order) => {
                    for (i, cut) in order.cuts.iter().enumerate() {
                        t.push(row(input.units, &plan.fit.tube, piece.piece, i + 1, cut));
                    }
                }
                Err(why) => {
                    let mut cells = vec![Cell::text(&plan.fit.tube), number(piece.piece)];
                    cells.resize(12, Cell::Empty);
                    cells.push(Cell::text(cut_list::no_order(why)));
                    t.push(cells);
                }
            }
        }
    }
    t
}

fn number(n: usize) -> Cell {
    Cell::Number(crate::numeric::summary::count(n), 0)
}

fn row(units: Units, tube: &str, piece: usize, n: usize, cut: &Cut) -> Vec<Cell> {
    let length = |mm: f64| Cell::Number(units.number(mm), units.decimals(1));
    let falls = match cut.falls {
        Part::Blank(b) => format!("blank {b}"),
        Part::Waste if cut.falls_mm < 1e-6 => "dust only".to_string(),
        Part::Waste if cut.falls_mm < cut_list::SLIVER_MM => "waste sliver".to_string(),
        Part::Waste => "waste".to_string(),
    };
    let mut cells = vec![
        Cell::text(tube),
        number(piece),
        number(n),
        Cell::text(cut_list::end_word(cut.held_end)),
        Cell::text(if cut.turned { "yes" } else { "no" }),
        length(cut.held_mm),
        length(cut.kerf.from_mm),
        length(cut.kerf.to_mm),
        length(cut.falls_mm),
        length(cut.held_mm),
        Cell::text(falls),
        Cell::text(flag(cut.holding)),
        Cell::text(cut_list::advice(cut.holding)),
    ];
    if units == Units::Inch {
        cells.extend([cut.held_mm, cut.kerf.from_mm].map(|mm| Cell::text(inch_32(mm))));
    }
    cells
}

/// A flag of one or two words.
fn flag(holding: Holding) -> &'static str {
    match holding {
        Holding::HandsClear => "clear",
        Holding::HandReachesIn => "clamp",
        Holding::TooShort => "too short",
    }
}

/// The cut list of one tube; nothing without pieces.
pub fn section(input: &ReportInput<'_>, plan: &TubePlan) -> Markup {
    let cuts = input.cuts(plan);
    let any = cuts.iter().any(|c| c.order.as_ref().map_or(true, |o| !o.cuts.is_empty()));
    html! {
        @if any {
            h4 { "Cut list" }
            p.small {
                "For the runs as marked. Gauge each quarter again before it is sawn: where more fits, mark and saw that instead. "
                "Stop positions are measured from the near face of the blade to the held end, saw marks from the index end. "
                "No hand nearer to the blade than " (bench(input.hold.no_hands_mm, input.units)) "."
            }
            (flags_explained(&cuts))
            table.stack {
                thead { tr {
                    @for t in ["piece", "cut", "against the stop", "stop at", "saw", "falls", "hold"] { th scope="col" { (t) } }
                } }
                tbody {
                    @for piece in &cuts { (piece_rows(input, piece)) }
                }
            }
            @if cuts.iter().any(|c| c.order.as_ref().is_ok_and(cut_list::uses_far_end)) {
                p.small { (words::sentence(cut_list::MEASURE_FIRST)) }
            }
        }
    }
}

fn piece_rows(input: &ReportInput<'_>, piece: &PieceCuts) -> Markup {
    let order = match &piece.order {
        Ok(order) => order,
        Err(why) => {
            return html! { tr { td data-label="piece" { (piece.piece) } td colspan="6" { (words::sentence(&cut_list::no_order(why))) } } };
        }
    };
    let rows = cut_list::rows(order, bench_fn(input.units));
    html! {
        @for (cut, [n, against, stop, _, _, falls, _]) in order.cuts.iter().zip(rows) {
            tr.held[cut.holding != Holding::HandsClear] {
                td data-label="piece" { (piece.piece) }
                td data-label="cut" { (n) }
                td data-label="against the stop" { (against) }
                td.nb data-label="stop at" { (stop) }
                td.nb data-label="saw" { (cut_list::place(cut, bench_fn(input.units))) }
                td data-label="falls" { (falls) }
                td.nb data-label="hold" { (hold_words(cut.holding)) }
            }
        }
        @if !order.cuts.is_empty() {
            tr.rest { td colspan="7" { "Piece " (piece.piece) ": " (cut_list::remainder(order, bench_fn(input.units))) "." } }
        }
    }
}

/// What the flags in this list ask for; nothing where every part can be held.
fn flags_explained(cuts: &[PieceCuts]) -> Markup {
    let all = || cuts.iter().filter_map(|c| c.order.as_ref().ok()).flat_map(|o| &o.cuts);
    html! {
        @for holding in [Holding::TooShort, Holding::HandReachesIn] {
            @if all().any(|c| c.holding == holding) { p.warn { "▲ " (cut_list::advice(holding)) "." } }
        }
    }
}

/// The flag, set off by a sign that stands without colour; what to do about it stands above the list.
fn hold_words(holding: Holding) -> Markup {
    match holding {
        Holding::HandsClear => html! { "by hand, better clamped" },
        Holding::HandReachesIn => html! { strong { "▲ clamp" } },
        Holding::TooShort => html! { strong { "▲ too short" } },
    }
}
