//! The cut list: as a table for the spreadsheet and as a section of a tube's card.

use super::ReportInput;
use super::bench::{bench, inch_32};
use crate::decide::cut_order::{Cut, Holding, Part};
use crate::decide::cut_plan::{PieceCuts, TubeHold, tube_hold};
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::output::cut_list;
use crate::output::show::Units;
use crate::output::table::{Cell, Table};
use crate::output::words;
use maud::{Markup, html};

/// One row per cut of every planned tube.
pub fn table(input: &ReportInput<'_>) -> Table {
    let u = input.units.word();
    let mut titles: Vec<String> = ["tube", "piece", "cut", "stop against", "turn first"].map(String::from).to_vec();
    titles.extend(["stop at", "saw from", "saw to", "falls length", "held"].map(|t| format!("{t} {u}")));
    titles.extend(["falls", "flag", "what to do"].map(String::from));
    if input.units == Units::Inch {
        titles.extend(["stop at nearest 1/32", "saw from nearest 1/32"].map(String::from));
    }
    let mut t = Table::new(&titles.iter().map(String::as_str).collect::<Vec<_>>());
    for (outcome, view) in input.results.outcomes.iter().zip(input.views) {
        let Ok(plan) = &outcome.plan else { continue };
        let cuts = input.cuts(plan, view.as_ref());
        let hold = tube_hold(&cuts);
        for piece in &cuts {
            match &piece.order {
                Ok(order) => {
                    for (i, cut) in order.cuts.iter().enumerate() {
                        t.push(row(input.units, &plan.fit.tube, piece.piece, i + 1, (cut, hold)));
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

fn row(units: Units, tube: &str, piece: usize, n: usize, (cut, hold): (&Cut, TubeHold)) -> Vec<Cell> {
    let length = |mm: f64| Cell::Number(units.number(mm), units.decimals(1));
    let falls = match cut.falls {
        Part::Blank(b) => format!("blank {b}"),
        Part::Waste if cut.rough => "bent end".to_string(),
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
        if cut_list::is_flagged(hold, cut) { Cell::text(flag(cut.holding)) } else { Cell::Empty },
        // a row keeps what is to be done when the table is sorted or pasted elsewhere
        Cell::text(match (hold, cut_list::for_the_tube(hold)) {
            (TubeHold::HelpAll, Some(all)) => all,
            _ => cut_list::advice(cut.holding),
        }),
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

/// The cut list of one tube, piece by piece in the order of the cuts; nothing where nothing is sawn.
pub fn section(input: &ReportInput<'_>, plan: &TubePlan, view: &TubeView) -> Markup {
    let cuts = input.cuts(plan, Some(view));
    let hold = tube_hold(&cuts);
    let orders = || cuts.iter().filter_map(|c| c.order.as_ref().ok());
    let any = cuts.iter().any(|c| c.order.as_ref().map_or(true, |o| !o.cuts.is_empty()));
    html! {
        @if any {
            h4 { "Saw" }
            @if let Some(words) = cut_list::for_the_tube(hold) {
                p.hold.warn[matches!(hold, TubeHold::HelpAll | TubeHold::HelpSome)] { (words::sentence(words)) }
            }
            table.saw {
                thead { tr {
                    th scope="col" { "piece" }
                    @for t in ["stop", "saw", "falls"] { th scope="col" { (t) ", " (input.units.word()) } }
                } }
                @for piece in &cuts { (piece_rows(input, piece, hold)) }
            }
            p.small {
                "No hand nearer to the blade than " (bench(input.hold.no_hands_mm, input.units)) "."
                @if orders().any(cut_list::uses_far_end) { " " (words::sentence(cut_list::MEASURE_FIRST)) }
            }
        }
    }
}

/// The cuts of one piece; nothing where there is nothing to saw.
fn piece_rows(input: &ReportInput<'_>, piece: &PieceCuts, hold: TubeHold) -> Markup {
    let order = match &piece.order {
        Ok(order) => order,
        Err(why) => {
            return html! { tbody { tr { td { (piece.piece) } td colspan="3" { (words::sentence(&cut_list::no_order(why))) } } } };
        }
    };
    let blank_mm = input.results.lot.target.blank_length_mm;
    // the unit stands in the titles; a whole number and its fraction stay together on a narrow page
    let word = input.units.word();
    let length = |mm: f64| bench(mm, input.units).trim_end_matches(word).trim_end().replace(' ', "\u{a0}");
    html! {
        @if !order.cuts.is_empty() {
            tbody { @for (i, cut) in order.cuts.iter().enumerate() {
                @let flagged = cut_list::is_flagged(hold, cut);
                tr.held[flagged] {
                    td { @if i == 0 { b { (piece.piece) } } @if flagged { " ▲" } }
                    td.nb {
                        @if cut.turned { b { "turn: " } }
                        @if i == 0 || cut.turned { (cut_list::end_word(cut.held_end)) ", " }
                        (length(cut.held_mm))
                    }
                    td.nb { (cut_list::place(cut, length).replace(" to ", "–")) }
                    td {
                        (cut_list::falls_short(cut, blank_mm, length))
                        @if i + 1 == order.cuts.len() { "; left " (cut_list::remains(order, blank_mm, length)) }
                        @if flagged { " " strong { (flag(cut.holding)) } }
                    }
                }
            } }
        }
    }
}
