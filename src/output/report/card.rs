//! The card of one tube in the order of the work: mark, split, runs, saw, doubts; its geometry and pictures last.

use super::ReportInput;
use super::bench::bench;
use super::cuts;
use super::list::bench_tube;
use crate::decide::plan::{PlannedPiece, PlannedRun, TubePlan};
use crate::decide::split::SplitChoice;
use crate::decide::tube_view::TubeView;
use crate::domain::Tube;
use crate::domain::units::{decimal, print_weight};
use crate::lot::percent;
use crate::output::bench_list::{AsGoodMark, BenchTube};
use crate::output::doubts::doubts;
use crate::output::figures::index_end::{self, EndLine};
use crate::output::figures::{Source, bark_map, centreline, score, section};
use crate::output::next_readings;
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

/// Where a card stands among the others.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Number of its tube in the lot, from 1.
    pub n: usize,
    /// Numbers of the tubes before and after it that have a card.
    pub neighbours: [Option<usize>; 2],
    /// The pile its tube is worked in.
    pub pile: Option<usize>,
}

/// The card of a tube.
pub(crate) fn card(
    input: &ReportInput<'_>,
    place: Place,
    tube: &Tube,
    plan: &TubePlan,
    view: &TubeView,
) -> Result<Markup, DrawError> {
    let (n, units) = (place.n, input.units);
    let target = &input.results.lot.target;
    let source = Source { lot: &input.results.lot.name, options: input.results.options, units, in_card: true };
    let map = bark_map::draw(plan, view, &tube.marks, target, &source);
    // maps of long and of short tubes are to have words of one size
    let wide = format!("--w:{:.0}", map.width_mm);
    let map = PreEscaped(svg::write(&map, &format!("t{n}m"))?);
    let shape = figure(&section::draw(plan, view, target, &source), &format!("t{n}s"), "flat")?;
    let line = figure(&centreline::draw(plan, view, &source)?, &format!("t{n}c"), "flat")?;
    let name = (plan.fit.tube.as_str(), plan.fit.readings);
    let curve = match &plan.split {
        Some(s) if !plan.as_split => Some(figure(&score::draw(name, s, &source)?, &format!("t{n}a"), "score")?),
        _ => None,
    };
    Ok(html! {
        article.tube id=(format!("tube-{n}")) {
            (head(input, place, plan))
            p.why { (plain(&units.told(&plan.screen.reason))) }
            div.card {
                div.work {
                    (mark_and_split(units, n, plan, view)?)
                    (runs(units, plan, view))
                    (sawn_first(units, plan))
                    (cuts::section(input, plan, view))
                    (doubted(input, plan))
                }
                div.beside {
                    div.pictures { figure.tall style=(wide) { (map) } (shape) (line) @if let Some(c) = curve { (c) } (measures(units, plan)) }
                    div.geometry { (facts(input, tube, plan)) }
                }
            }
        }
    })
}

/// Name, verdict and pile; the ways back to the list and to the tubes beside it.
fn head(input: &ReportInput<'_>, place: Place, plan: &TubePlan) -> Markup {
    let name = |n: usize| plain(&input.results.outcomes[n - 1].tube).into_owned();
    html! {
        header.head {
            h3 { "Tube " (plain(&plan.fit.tube)) span.verdict { (plan.screen.verdict.word()) } }
            @if let Some(p) = place.pile { span.pile { "pile " (p) } }
            span.ways {
                a href=(format!("#row-{}", place.n)) { "↑ list" }
                @for (n, before, after) in [(place.neighbours[0], "‹ ", ""), (place.neighbours[1], "", " ›")] {
                    @if let Some(n) = n { a href=(format!("#tube-{n}")) { (before) (name(n)) (after) } }
                }
            }
        }
    }
}

fn mark_and_split(units: Units, n: usize, plan: &TubePlan, view: &TubeView) -> Result<Markup, DrawError> {
    let Some(s) = &plan.split else {
        return Ok(html! { p.split { (sentence(words::TOO_SHORT)) } });
    };
    let marked = bench_tube(plan, s, view, None);
    let along = |i: usize| bench(view.end.girth.at_mm(marked.pieces[i].from_deg), units);
    let bare = |text: String| text.trim_end_matches(units.word()).trim_end().to_string();
    let lines: Vec<EndLine> = (0..marked.pieces.len())
        .map(|i| {
            let p = &marked.pieces[i];
            EndLine { number: p.piece, deg: p.from_deg, middle_deg: p.middle_deg, along: bare(along(i)) }
        })
        .collect();
    let end = index_end::draw(&plan.fit.tube, &view.end.radius_mm, &lines);
    Ok(html! {
        h4 { @if plan.as_split { "Split as it fell" } @else { "Mark and split" } }
        div.mark {
            (figure(&end, &format!("t{n}e"), "end")?)
            div {
                table.lines {
                    thead { tr { @for t in ["line", "from the index line", "angle"] { th scope="col" { (t) } } } }
                    tbody { @for (i, l) in lines.iter().enumerate() { tr {
                        td { (l.number) } td.nb { strong { (along(i)) } } td.nb { (Signs::Print.degrees(l.deg)) }
                    } } }
                }
            }
        }
        p.as-good { (as_good(units, plan, s, &marked)) }
        (split_words(plan, s))
    })
}

/// Where else the first line may go, as it is marked.
fn as_good(units: Units, plan: &TubePlan, s: &SplitChoice, marked: &BenchTube) -> Markup {
    match marked.as_good {
        AsGoodMark::Range { along_mm: [from, to], deg: [a, b] } if !plan.as_split => html! {
            "As good: line 1 anywhere from " (bench(from, units)) " to " (bench(to, units)) " (" (Signs::Print.range(a, b))
            "), the others as far on."
        },
        _ if plan.as_split => html! {
            (sentence(&words::lines_fell(plan, Signs::Print))) " Clockwise from the index line, as cuts.csv has them."
        },
        _ => html! { (sentence(&words::flat_top(s, Signs::Print))) },
    }
}

fn split_words(plan: &TubePlan, s: &SplitChoice) -> Markup {
    html! {
        p.split {
            strong { (sentence(&words::expected(s)).trim_end_matches('.')) } ". "
            @if let Some(m) = &plan.marked { (sentence(&words::marked_alone(m))) " " }
            @if !plan.as_split { (sentence(&words::next_best(s, Signs::Print))) " " (sentence(&words::arbitrary(s))) }
        }
        @if !plan.fit.seen.size { p.warn { (sentence(words::CHECK_GIRTH)) } }
    }
}

fn runs(units: Units, plan: &TubePlan, view: &TubeView) -> Markup {
    if plan.pieces.is_empty() {
        return html! {};
    }
    html! {
        h4 { "Runs" }
        table.runs {
            thead { tr {
                @for t in ["piece", "from", "to", "across", "chance"] { th scope="col" { (t) } }
            } }
            tbody { @for (p, across) in plan.pieces.iter().zip(&view.across_mm) { (piece_rows(units, p, across)) } }
        }
    }
}

/// The other order of the work, where it wins.
fn sawn_first(units: Units, plan: &TubePlan) -> Markup {
    let Some((s, told)) = plan.saw_first.as_ref().and_then(|s| Some((s, words::sawing_first(s)?))) else {
        return html! {};
    };
    html! {
        h4 { "Or sawn across first" }
        p.small { (sentence(&told)) }
        table.runs {
            thead { tr {
                @for t in ["length", "from", "to", "line 1 along the bark", "line 1 at", "blanks"] { th scope="col" { (t) } }
            } }
            tbody { @for (i, l) in s.lengths.iter().enumerate() {
                tr {
                    td data-label="length" { (i + 1) }
                    td.nb data-label="from" { strong { (bench(l.from_mm, units)) } }
                    td.nb data-label="to" { strong { (bench(l.to_mm, units)) } }
                    td.nb data-label="line 1 along the bark" { strong { (bench(l.along_mm, units)) } }
                    td.nb data-label="line 1 at" { (Signs::Print.degrees(l.angle_deg)) }
                    td.nb data-label="blanks" { (decimal(l.expected, 1)) }
                }
            } }
        }
        p.small { @for words in words::SAWING_FIRST { (sentence(words)) " " } }
    }
}

fn piece_rows(units: Units, p: &PlannedPiece, across: &[f64]) -> Markup {
    if p.runs.is_empty() {
        return html! { tr { td data-label="piece" { (p.piece) } td colspan="4" {
            (words::no_run(p)) "; " (format!("{:.1}", p.expected)) " expected"
        } } };
    }
    html! { @for (r, across_mm) in p.runs.iter().zip(across) {
        tr {
            td data-label="piece" { (p.piece) }
            td.nb data-label="from" { strong { (bench(r.from_mm, units)) } }
            td.nb data-label="to" { strong { (bench(r.to_mm, units)) } }
            td.nb data-label="across" { strong { (bench(*across_mm, units)) } }
            td.nb data-label="chance" { (percent(r.chance)) " %" }
        }
    } }
}

/// What is in doubt on this tube.
fn doubted(input: &ReportInput<'_>, plan: &TubePlan) -> Markup {
    let mut said: Vec<String> = Vec::new();
    said.extend((!plan.fit.settled).then(|| words::NOT_SETTLED.to_string()));
    said.extend(next_readings::next(plan, input.units));
    said.extend(plan.unchecked.as_ref().map(|u| words::with_unread(u, input.results.lot.assumed)));
    said.extend(doubts(input.lot, [&plan.fit], input.units));
    html! {
        @if !said.is_empty() {
            h4 { "In doubt" }
            ul.doubted { @for line in &said { li { (plain(&sentence(line)).replace("+-", "± ")) } } }
        }
    }
}

fn facts(input: &ReportInput<'_>, tube: &Tube, plan: &TubePlan) -> Markup {
    let units = input.units;
    let (f, u) = (&plan.fit.figures, units.word());
    let size = |m: Option<Measured>, d: usize| units.measured_in_print(m, d);
    let toward = |m: Option<Measured>, word: &str| {
        m.map_or(String::new(), |_| format!(", {word} {}°", measured_degrees(m).replace(" +-", "° ± ")))
    };
    let weight =
        plan.fit.weight_g.map_or("not weighed".to_string(), |w| print_weight(w, input.results.lot.weight_unit, 1));
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
        h4 { "Geometry" }
        dl.facts { @for (term, value) in rows { div { dt { (term) } dd { (value) } } } }
        @if !tube.note.is_empty() { p.small { "Note in the list: " (plain(&tube.note)) } }
    }
}

/// What is believed of every run.
fn measures(units: Units, plan: &TubePlan) -> Markup {
    if plan.pieces.iter().all(|p| p.runs.is_empty()) {
        return html! {};
    }
    html! {
        div.measures { table {
            thead { tr {
                @for t in ["run", "line"] { th scope="col" { (t) } }
                @for t in ["hollow", "rock", "arc"] { th scope="col" { (t) ", " (units.word()) } }
            } }
            tbody {
                @for p in &plan.pieces { @for (i, r) in p.runs.iter().enumerate() { (measure(units, (p.piece, i + 1), r)) } }
            }
        } }
    }
}

fn measure(units: Units, (piece, n): (usize, usize), r: &PlannedRun) -> Markup {
    let size = |m: Option<Measured>, d: usize| units.measured(m, d).replace(" +-", " ± ");
    html! { tr {
        td.nb { (piece) " · " (n) }
        td.nb { (Signs::Print.degrees(r.line_deg)) }
        td.nb { (size(r.hollow_mm, 2)) }
        td.nb { (size(r.rock_mm, 2)) }
        td.nb { (size(r.arc_diameter_mm, 1)) }
    } }
}
