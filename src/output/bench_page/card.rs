//! The split card: where to split, large enough to be read from the bench.

use super::asked::Asked;
use super::frame::{Desk, Place, page};
use super::tubes::encoded;
use crate::decide::advice::Advice;
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::domain::units::decimal;
use crate::lot::percent;
use crate::output::advice::elsewhere;
use crate::output::bench_list::{AsGoodMark, BenchPiece, BenchTube, sureness};
use crate::output::cautions::IN_ONE_LINE;
use crate::output::doubts::doubts;
use crate::output::figures::index_end::{self, EndLine};
use crate::output::next_readings::sentence;
use crate::output::report::ReportInput;
use crate::output::report::bench::bench_fn;
use crate::output::report::card::{Place as InReport, card as whole_card, figure};
use crate::output::report::list::bench_tube;
use crate::output::show::Units;
use crate::output::words::{self, Signs, round_the_clock};
use crate::paper::font::plain;
use crate::paper::scene::{DrawError, Scene};
use maud::{Markup, html};

/// How thoroughly the tube was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Few draws, the lot's scales as of a moment ago.
    First(u64),
    /// All draws, the scales as of a moment ago.
    Full(u64),
    /// So many draws, before anything was learned from the lot.
    Before(u64),
    /// The lot's own plan: what the command line says.
    Whole(u64),
}

impl Look {
    /// The word that the script goes by.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Look::First(_) => "first",
            Look::Full(_) | Look::Before(_) => "full",
            Look::Whole(_) => "whole",
        }
    }

    fn told(self) -> String {
        match self {
            Look::First(n) => format!("A first look, from {n} draws: the full number follows at once."),
            Look::Full(n) => format!("From {n} draws, the lot as it was a moment ago: it is being looked at again."),
            Look::Before(n) => {
                format!("From {n} draws, before the lot's other tubes were looked at: these figures will change.")
            }
            Look::Whole(n) => format!("From {n} draws, the whole lot looked at."),
        }
    }
}

/// What is known of one tube.
#[derive(Debug)]
pub struct Answer<'a> {
    /// The lot with this tube's plan in it, and which of its tubes it is.
    pub input: &'a ReportInput<'a>,
    /// Its number there, from 0.
    pub at: usize,
    /// How thoroughly it was looked at.
    pub look: Look,
    /// What to measure next, where that is worked out.
    pub advice: Option<&'a Advice>,
    /// Doubted readings that were typed here, with what is said of each.
    pub odd: Vec<(Asked, String)>,
}

impl Answer<'_> {
    fn planned(&self) -> Option<(&TubePlan, &TubeView)> {
        let plan = self.input.results.outcomes.get(self.at)?.plan.as_deref().ok()?;
        Some((plan, self.input.views.get(self.at)?.as_ref()?))
    }

    fn why_not(&self) -> String {
        self.input.results.outcomes.get(self.at).map_or(String::new(), words::why_not)
    }
}

/// The split as it stands, small enough to stand beside the readings.
///
/// # Errors
/// [`DrawError`] when the end cannot be drawn: a fault of ours.
pub fn fragment(answer: &Answer<'_>) -> Result<Markup, DrawError> {
    let units = answer.input.units;
    let Some((plan, view)) = answer.planned() else {
        return Ok(html! { p { (plain(&answer.why_not())) } });
    };
    let Some(split) = &plan.split else { return Ok(html! { p { (words::sentence(words::TOO_SHORT)) } }) };
    let tube = bench_tube(plan, split, view, None);
    let along = |mm: f64| bench_fn(units)(mm);
    Ok(html! {
        p.large id="angle" {
            "Split at " (Signs::Print.degrees(split.best.angle_deg))
            small { (along(tube.split.along_mm)) " of bark clockwise from the index line"
                @if let Some(next) = tube.split.next_mm { ", the next lines about " (along(next)) " on" } }
        }
        p { (as_good(&tube, units)) }
        p { b { (decimal(split.best.expected, 1)) " blanks" } " expected, 90 %: " (decimal(split.interval.0, 0)) " to " (decimal(split.interval.1, 0))
            "; " (plan.screen.verdict.word()) ", " (plain(&units.told(&plan.screen.reason))) "." }
        div.two {
            (figure(&end_scene(&tube, plan, view, units), "end", "flat")?)
            div { (pieces(&tube, units)) }
        }
        @if !plan.fit.seen.size { p.small { (words::sentence(words::CHECK_GIRTH)) } }
        (doubted(answer, plan))
        p.small { (next(answer.advice, units)) }
        p.small { (answer.look.told()) }
        p.small { (IN_ONE_LINE) }
    })
}

fn as_good(tube: &BenchTube, units: Units) -> String {
    match &tube.as_good {
        AsGoodMark::Words(said) => words::sentence(said),
        AsGoodMark::Range { along_mm, deg } => {
            let [a, b] = along_mm.map(bench_fn(units));
            let [from, to] = deg.map(|d| decimal(round_the_clock(d.round()), 0));
            format!("Anywhere from {from}° to {to}° does as well: {a} to {b} of bark.")
        }
    }
}

/// The index end as it is seen when the chisel is placed.
fn end_scene(tube: &BenchTube, plan: &TubePlan, view: &TubeView, units: Units) -> Scene {
    let line = |p: &BenchPiece| EndLine {
        number: p.piece,
        deg: p.from_deg,
        middle_deg: p.middle_deg,
        along: if plan.as_split {
            Signs::Print.degrees(p.from_deg)
        } else {
            bench_fn(units)(view.end.girth.at_mm(p.from_deg))
        },
    };
    let lines: Vec<EndLine> = tube.pieces.iter().map(line).collect();
    index_end::draw(&tube.name, &tube.radius_mm, &lines)
}

fn pieces(tube: &BenchTube, units: Units) -> Markup {
    let text = |mm: f64| {
        let said = bench_fn(units)(mm);
        said.strip_suffix(units.word()).map_or(said.clone(), |bare| bare.trim_end().to_string())
    };
    let titles = [("piece", ""), ("along", units.word()), ("across", units.word()), ("chance", "")];
    html! {
        table.runs {
            thead { tr { @for (t, unit) in titles { th scope="col" { (t) @if !unit.is_empty() { ", " (unit) } } } } }
            tbody { @for p in &tube.pieces {
                @if p.runs.is_empty() { tr { td { (p.piece) } td colspan="3" { (p.without) } } }
                @for (i, r) in p.runs.iter().enumerate() {
                    tr {
                        td { @if i == 0 { (p.piece) } }
                        td.nb { b { (text(r.from_mm)) " to " (text(r.to_mm)) } }
                        td.nb { b { (text(r.across_mm)) } }
                        td.nb { (sureness(r.chance)) " " (percent(r.chance)) " %" (bar(r.chance)) }
                    }
                }
            } }
        }
        p.small { "Along: from the index end. Across: from the piece's clockwise edge to the middle of the blank." }
    }
}

fn bar(chance: f64) -> Markup {
    let width = decimal(100.0 * chance.clamp(0.0, 1.0), 0);
    html! { span.bar aria-hidden="true" { svg viewBox="0 0 100 10" preserveAspectRatio="none" { rect width=(width) height="10" fill="#1e1e1e" {} } } }
}

fn doubted(answer: &Answer<'_>, plan: &TubePlan) -> Markup {
    let said = doubts(answer.input.lot, [&plan.fit], answer.input.units);
    html! {
        @if !said.is_empty() {
            details open { summary { "In doubt" } ul { @for line in &said { li { (plain(line)) } } } }
        }
        @for (asked, why) in &answer.odd { span.hidden data-odd=(asked.key()) { (plain(why)) } }
    }
}

/// What to measure next, or that it is enough.
#[must_use]
pub fn next_words(advice: &Advice, units: Units) -> String {
    match (&advice.next, &advice.elsewhere) {
        (Some(p), _) => words::sentence(&sentence(p, units)),
        (None, Some(p)) => format!("Stop: settled with what is at hand. {}", words::sentence(&elsewhere(p, units))),
        (None, None) => "Stop: settled, the next minute is not worth it.".into(),
    }
}

fn next(advice: Option<&Advice>, units: Units) -> String {
    advice.map_or_else(|| "What to measure next is being worked out.".into(), |a| next_words(a, units))
}

/// The page of one tube's split.
///
/// # Errors
/// [`DrawError`] when a figure cannot be drawn: a fault of ours.
pub fn card(desk: &Desk, answer: &Answer<'_>) -> Result<String, DrawError> {
    let name = answer.input.results.outcomes.get(answer.at).map_or("", |o| o.tube.as_str());
    let to = encoded(name);
    let here = InReport { n: answer.at + 1, neighbours: [None, None], pile: None };
    let whole = match (answer.planned(), answer.input.lot.tubes.get(answer.at)) {
        (Some((plan, view)), Some(tube)) => Some(whole_card(answer.input, here, tube, plan, view)?),
        _ => None,
    };
    let body = html! {
        p.noprint {
            a href=(format!("/measure?tube={to}")) { "measure" } " · " a href=(format!("/fell?tube={to}")) { "split, cut" } " · "
            a href=(format!("/strip.pdf?tube={to}")) { "wrap strip" }
        }
        div.answer id="answer" aria-live="polite" { (fragment(answer)?) }
        @if let Some(card) = whole { details.noprint { summary { "Pictures, runs and saw cuts" } (card) } }
    };
    Ok(page(desk, Place::Tube, &format!("Tube {name}"), Some((name, answer.look.word())), &body))
}
