//! The card of one tube: pictures, split, runs, cut list.

use super::ReportInput;
use super::bench::bench;
use super::cuts;
use crate::decide::plan::{PlannedPiece, PlannedRun, TubePlan};
use crate::decide::tube_view::TubeView;
use crate::domain::units::{WeightUnit, print_weight};
use crate::domain::{Assumed, Tube};
use crate::lot::percent;
use crate::output::figures::{Source, bark_map, centreline, score, section};
use crate::output::show::{Units, measured_degrees};
use crate::output::words::{self, Signs, sentence};
use crate::paper::font::plain;
use crate::paper::scene::{DrawError, Scene};
use crate::paper::svg;
use crate::tube::Measured;
use maud::{Markup, PreEscaped, html};

/// A figure as it stands in the page.
pub fn figure(scene: &Scene, prefix: &str, class: &str) -> Result<Markup, DrawError> {
    let drawing = PreEscaped(svg::write(scene, prefix)?);
    Ok(html! { figure class=(class) { (drawing) } })
}

/// The card of tube number `n` (from 1).
pub(crate) fn card(
    input: &ReportInput<'_>,
    n: usize,
    tube: &Tube,
    plan: &TubePlan,
    view: &TubeView,
) -> Result<Markup, DrawError> {
    let source = Source { lot: &input.results.lot.name, options: input.results.options, units: input.units };
    let target = &input.results.lot.target;
    let map = figure(&bark_map::draw(plan, view, &tube.marks, target, &source), &format!("t{n}m"), "tall")?;
    let shape = figure(&section::draw(plan, view, target, &source), &format!("t{n}s"), "flat")?;
    let line = figure(&centreline::draw(plan, view, &source)?, &format!("t{n}c"), "flat")?;
    let name = (plan.fit.tube.as_str(), plan.fit.readings);
    let curve = match &plan.split {
        Some(s) if !plan.as_split => Some(figure(&score::draw(name, s, &source)?, &format!("t{n}a"), "flat")?),
        _ => None,
    };
    Ok(html! {
        article.tube id=(format!("tube-{n}")) {
            h3 { "Tube " (plain(&plan.fit.tube)) span.verdict { (plan.screen.verdict.word()) } }
            p.why { (plain(&input.units.told(&plan.screen.reason))) }
            (facts(input.units, input.results.lot.weight_unit, tube, plan))
            (split_words(input.units, input.results.lot.assumed, plan))
            div.pictures {
                (map)
                div.column { (shape) (line) @if let Some(c) = curve { (c) } }
            }
            (runs(input.units, plan))
            (cuts::section(input, plan, view))
        }
    })
}

fn facts(units: Units, weights: WeightUnit, tube: &Tube, plan: &TubePlan) -> Markup {
    let (f, u) = (&plan.fit.figures, units.word());
    let size = |m: Option<Measured>, d: usize| units.measured_in_print(m, d);
    let toward = |m: Option<Measured>, word: &str| {
        m.map_or(String::new(), |_| format!(", {word} {}°", measured_degrees(m).replace(" +-", "° ± ")))
    };
    let weight = plan.fit.weight_g.map_or("not weighed".to_string(), |w| print_weight(w, weights, 1));
    let wall = if plan.wall_checked { size(f.wall_mm, 2) } else { words::WALL_UNCHECKED.to_string() };
    let guess = if tube.length_is_guess { " (furthest reading: the length is not listed)" } else { "" };
    let grain = if plan.grain_checked { "followed" } else { words::GRAIN_UNCHECKED };
    let rows: [(&str, String); 9] = [
        ("length", format!("{} {u}{guess}", units.length(plan.fit.length_mm, 1))),
        ("weight", weight),
        ("readings", plan.fit.readings.to_string()),
        ("diameter", size(f.diameter_mm, 2)),
        ("ovality", size(f.ovality_mm, 2) + &toward(f.ovality_deg, "widest at")),
        ("bow", size(f.bow_mm, 2) + &toward(f.bow_deg, "toward")),
        ("taper", units.measured_taper(f.taper_mm_per_100mm).replace(" +-", " ± ")),
        ("wall", wall),
        ("grain", grain.to_string()),
    ];
    html! {
        dl.facts { @for (term, value) in rows { div { dt { (term) } dd { (value) } } } }
        @if !tube.note.is_empty() { p.small { "Note in the list: " (plain(&tube.note)) } }
        @if !plan.fit.settled { p.warn { (sentence(words::NOT_SETTLED)) } }
    }
}

fn split_words(units: Units, assumed: Assumed, plan: &TubePlan) -> Markup {
    let Some(s) = &plan.split else {
        return html! { p.split { (sentence(words::TOO_SHORT)) } };
    };
    html! {
        p.split {
            @if plan.as_split { strong { (sentence(&words::lines_fell(plan, Signs::Print)).trim_end_matches('.')) } } @else {
                strong { "Split at " (Signs::Print.degrees(s.best.angle_deg)) }
            }
            ": " (words::expected(s)) ". " @if let Some(m) = &plan.marked { (sentence(&words::marked_alone(m))) " " }
            @if !plan.as_split {
                (sentence(&words::flat_top(s, Signs::Print))) " "
                (sentence(&words::next_best(s, Signs::Print))) " " (sentence(&words::arbitrary(s)))
            }
        }
        p.small {
            @if plan.as_split {
                "Split lines in degrees clockwise from the index line, seen looking at the index end, as cuts.csv has them. "
            } @else {
                "First split line at that angle clockwise from the index line, seen looking at the index end; the other "
                (plan.pieces.len().saturating_sub(1)) " evenly on from it. "
            }
            @if plan.fit.seen.size { "The wrap strip carries all of them." }
            @else { (sentence(words::CHECK_GIRTH)) }
        }
        @if let Some(left) = words::left_to_gain(plan) { p.small { (sentence(&left)) } }
        @if let Some(u) = &plan.unchecked { p.small { (sentence(&words::with_unread(u, assumed))) } }
        @if let Some(words) = words::saw_first(plan.saw_first, units, Signs::Print) { p.small { (sentence(&words)) } }
    }
}

fn runs(units: Units, plan: &TubePlan) -> Markup {
    if plan.pieces.is_empty() {
        return html! {};
    }
    html! {
        h4 { "Runs" }
        p.small {
            "Measured from the index end" @if units == Units::Inch { ", to the nearest 1/32 in" } "."
        }
        table.stack {
            thead { tr {
                @for t in ["piece", "from", "to", "bark line", "chance", "hollow", "rock", "arc diameter"] { th scope="col" { (t) } }
            } }
            tbody { @for p in &plan.pieces { (piece_rows(units, p)) } }
        }
    }
}

fn piece_rows(units: Units, p: &PlannedPiece) -> Markup {
    let middle = Signs::Print.degrees(p.centre_deg);
    if p.runs.is_empty() {
        return html! { tr { td data-label="piece" { (p.piece) } td colspan="7" {
            (words::no_run(p)) "; " (format!("{:.1}", p.expected)) " expected about " (middle)
        } } };
    }
    html! { @for r in &p.runs { (run_row(units, p, r)) } }
}

fn run_row(units: Units, p: &PlannedPiece, r: &PlannedRun) -> Markup {
    let size = |m: Option<Measured>, d: usize| units.measured_in_print(m, d);
    html! {
        tr {
            td data-label="piece" { (p.piece) }
            td data-label="from" { strong { (bench(r.from_mm, units)) } }
            td data-label="to" { strong { (bench(r.to_mm, units)) } }
            td data-label="bark line" { (Signs::Print.degrees(r.line_deg)) }
            td data-label="chance" { (percent(r.chance)) " %" }
            td data-label="hollow" { (size(r.hollow_mm, 2)) }
            td data-label="rock" { (size(r.rock_mm, 2)) }
            td data-label="arc diameter" { (size(r.arc_diameter_mm, 1)) }
        }
    }
}
