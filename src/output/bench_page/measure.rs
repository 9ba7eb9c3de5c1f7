//! Where readings are typed: one by one as advised, or a grid of places by angles.

use super::asked::{Asked, Prompt};
use super::frame::{Desk, Place, page};
use super::tubes::encoded;
use crate::domain::Tool;
use crate::domain::units::decimal;
use crate::output::show::Units;
use crate::paper::font::plain;
use maud::{Markup, html};

/// A grid of cells for one instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// The instrument.
    pub tool: Tool,
    /// Directions, degrees.
    pub angles_deg: Vec<f64>,
    /// Places, mm.
    pub places_mm: Vec<f64>,
    /// Row by row: a row for each place.
    pub cells: Vec<Vec<Prompt>>,
    /// What was typed for places and angles and is in none of the rows and columns.
    pub left_out: Vec<String>,
}

/// What the page of one tube shows.
#[derive(Debug)]
pub struct Measure<'a> {
    /// The tube.
    pub tube: &'a str,
    /// Its length, mm.
    pub length_mm: f64,
    /// What is advised, in a sentence.
    pub advised: Option<String>,
    /// The readings to be taken one by one; none in a grid.
    pub prompts: Vec<Prompt>,
    /// Whether scanned ends are among what is advised.
    pub ends: bool,
    /// The grid, where one was asked for.
    pub grid: Option<Grid>,
    /// All that was typed here so far.
    pub typed: Vec<Prompt>,
    /// Readings that stand in other files of the lot.
    pub elsewhere: usize,
    /// Minutes spent on it so far, by the clock of this program.
    pub minutes: Option<f64>,
    /// The split as it stands.
    pub answer: Markup,
    /// Which look that is.
    pub stage: &'a str,
    /// What stands in place of prompts where there are none.
    pub next: Markup,
}

/// The page.
#[must_use]
pub fn measure(desk: &Desk, m: &Measure<'_>) -> String {
    let title = format!("Measure {}", m.tube);
    let body = html! {
        p.noprint {
            @let to = encoded(m.tube);
            a href=(format!("/measure?tube={to}")) aria-current=[m.grid.is_none().then_some("true")] { "one by one" } " · "
            a href=(format!("/measure?tube={to}&with={}", m.grid.as_ref().map_or("caliper", |g| g.tool.word())))
                aria-current=[m.grid.is_some().then_some("true")] { "a grid" } " · "
            a href=(format!("/card?tube={to}")) { "split card" } " · " a href=(format!("/fell?tube={to}")) { "split, cut" }
            @if let Some(min) = m.minutes { " · " span id="clock" { (decimal(min, 1)) " min on this tube" } }
        }
        @if m.length_mm <= 0.0 { (size(desk, m.tube)) }
        @match &m.grid {
            Some(grid) => (a_grid(desk.units, m, grid)),
            None => (one_by_one(desk.units, m)),
        }
        div.answer id="answer" aria-live="polite" { (m.answer) }
        (so_far(desk.units, m))
        (clock(desk, m))
    };
    page(desk, Place::Tube, &title, Some((m.tube, m.stage)), &body)
}

/// Asks for what a form of names alone leaves open.
fn size(desk: &Desk, tube: &str) -> Markup {
    html! {
        form.now method="post" action="/tubes" {
            input type="hidden" name="token" value=(desk.token);
            input type="hidden" name="tube" value=(tube);
            label { span { "its length (" (desk.units.word()) " where no unit is typed)" } input name="length" required autofocus inputmode="decimal" autocomplete="off"; }
            label { span { "weight (g where no unit is typed)" } input name="weight" inputmode="decimal" autocomplete="off"; }
            button.main { "keep" }
        }
    }
}

fn one_by_one(units: Units, m: &Measure<'_>) -> Markup {
    html! {
        div.now {
            @if let Some(a) = &m.advised { p.small { (plain(a)) } }
            @if m.ends { p { "Scan the ends: " a href="/ends" { "drop the picture here" } "." } }
            @for (i, p) in m.prompts.iter().enumerate() {
                @let (first, second) = p.asked.words(units);
                div.hidden data-step {
                    p.ask { (first) small { " " (second) } }
                    (p.cell(&format!("p{i}"), units))
                }
            }
            div.hidden id="done" { (m.next) }
            @if m.prompts.is_empty() { (m.next) } @else {
                p { button type="button" id="back" { "back" } " " button type="button" id="skip" { "skip" } " " span id="count" {} " "
                    span.small { "Enter keeps it and goes on. " (bare(units)) } }
            }
        }
    }
}

fn bare(units: Units) -> String {
    let unit = if units == Units::Inch { "inches" } else { "mm" };
    format!("A number alone is in {unit}; 1 1/64 in, 25,8 and 35 um are understood.")
}

fn a_grid(units: Units, m: &Measure<'_>, g: &Grid) -> Markup {
    let list = |of: &[f64], say: &dyn Fn(f64) -> String| of.iter().map(|x| say(*x)).collect::<Vec<_>>().join(", ");
    html! {
        form method="get" action="/measure" {
            input type="hidden" name="tube" value=(m.tube);
            label { span { "with" } select name="with" {
                @for t in Tool::ALL { option value=(t.word()) selected[t == g.tool] { (t.word()) } }
            } }
            label { span { "at places, " (units.word()) } input name="places" value=(list(&g.places_mm, &|z| units.length(z, 1))) autocomplete="off"; }
            label { span { "at angles, degrees" } input name="angles" value=(list(&g.angles_deg, &|a| short(a))) autocomplete="off"; }
            button { "show" }
        }
        @if !g.left_out.is_empty() {
            p.warn role="alert" {
                "Left out: " (plain(&g.left_out.join(", "))) ". A place lies on the tube, 0 to "
                (units.length(m.length_mm, 1)) " " (units.word()) "; an angle from 0 to below 360°; of more than fit the first are shown."
            }
        }
        p.small { (bare(units)) " A column pasted into a cell fills those that follow, row by row." }
        table.cells {
            thead { tr { th scope="col" { (g.tool.word()) } @for a in &g.angles_deg { th scope="col" { (short(*a)) "°" } } } }
            tbody {
                @for (j, (z, row)) in g.places_mm.iter().zip(&g.cells).enumerate() {
                    tr {
                        th scope="row" { (units.length(*z, 1)) " " (units.word()) }
                        @for (i, p) in row.iter().enumerate() {
                            td { label { span { (short(p.asked.angle)) "°" } (p.cell(&format!("g{j}-{i}"), units)) } }
                        }
                    }
                }
            }
        }
    }
}

fn short(deg: f64) -> String {
    decimal(deg, if (deg - deg.round()).abs() < 1e-9 { 0 } else { 1 })
}

fn so_far(units: Units, m: &Measure<'_>) -> Markup {
    html! {
        section {
            h2 { "Typed so far" }
            @if m.typed.is_empty() { p { "Nothing typed here yet." } }
            @if m.elsewhere > 0 {
                p.small { (m.elsewhere) " readings of this tube stand in other files of the lot. They count like these; they are mended there." }
            }
            @if !m.typed.is_empty() {
                p.small { "Type over a reading to mend it; empty the cell to take it out." }
                table.cells {
                    thead { tr { th scope="col" { "reading" } th scope="col" { "value" } } }
                    tbody { @for (i, p) in m.typed.iter().enumerate() {
                        tr {
                            th scope="row" { (p.asked.kind) ", " (spoken(&p.asked, units)) }
                            td { (p.cell(&format!("t{i}"), units)) }
                        }
                    } }
                }
            }
        }
    }
}

fn spoken(a: &Asked, units: Units) -> String {
    format!("{} {} at {}°", units.length(a.z, 1), units.word(), short(a.angle))
}

fn clock(desk: &Desk, m: &Measure<'_>) -> Markup {
    html! {
        form method="post" action="/minutes" {
            input type="hidden" name="token" value=(desk.token);
            input type="hidden" name="tube" value=(m.tube);
            label { span { "minutes this tube took" }
                input name="minutes" inputmode="decimal" value=(m.minutes.map_or(String::new(), |x| decimal(x, 1))) autocomplete="off"; }
            button { "write them down, next tube" }
        }
    }
}
