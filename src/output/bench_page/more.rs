//! Piles, the board of the lot, lots side by side, and what can be printed.

use super::frame::{Desk, Place, page};
use crate::lot::Compared;
use crate::output::compare;
use crate::output::report::batches::section;
use crate::output::report::{ReportInput, boards};
use crate::output::text::forecast_lines;
use crate::paper::font::plain;
use crate::paper::scene::DrawError;
use maud::html;

/// The board of the lot, its forecast, and its piles.
///
/// # Errors
/// [`DrawError`] when a figure cannot be drawn: a fault of ours.
pub fn piles(desk: &Desk, input: &ReportInput<'_>) -> Result<String, DrawError> {
    let (boards, piles) = (boards(input)?, section(input)?);
    let body = html! {
        @match piles {
            Some(p) => (p),
            None => p { "The lot states no edge life, or no tube has a plan yet: no piles. Write edge_life under [batch] in lot.toml." }
        }
        section { h2 { "Forecast" } pre { (forecast_lines(input.results, input.units)) } }
        section { h2 { "The board of the lot" } @for b in &boards { (b) } }
    };
    Ok(page(desk, Place::Piles, "Piles and forecast", None, &body))
}

/// Lots side by side; one alone says how others are set beside it.
#[must_use]
pub fn lots(desk: &Desk, compared: Option<&Compared>) -> String {
    let body = html! {
        @if let Some(c) = compared {
            pre { (compare::table(c).to_text()) }
            pre { (compare::lines(c)) }
        } @else {
            p { "Only this lot is open. Start the program with other lots behind it, `quarterlight bench LOT LOT2`, to see them side by side." }
        }
    };
    page(desk, Place::Lots, "Lots side by side", None, &body)
}

/// What can be printed; `not_yet`: why nothing is, for now.
#[must_use]
pub fn prints(desk: &Desk, no_strip: &[String], not_yet: Option<&str>) -> String {
    let body = html! {
        @if let Some(why) = not_yet { p.warn role="alert" { (plain(why)) } }
        ul {
            li { a href="/bench-list.pdf" { "Bench list" } ": what to mark, split and saw, to work from and tick off" }
            li { a href="/strips.pdf" { "Wrap strips" } ": print at 100 %, no fit to page, and check the lines of 100 mm and 4 in" }
            li { a href="/report.html" { "The whole report" } ", a card for every tube" }
            li { a href="/plan.json" { "The plan as JSON" } ", as `split --json` writes it" }
        }
        @if !no_strip.is_empty() { h2 { "Tubes without a strip" } ul { @for n in no_strip { li { (plain(n)) } } } }
    };
    page(desk, Place::Print, "Print", None, &body)
}
