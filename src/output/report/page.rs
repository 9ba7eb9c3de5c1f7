//! The page: one HTML file that needs nothing else.

use super::ReportInput;
use super::batches;
use super::bench::bench;
use super::card::{Place, card, figure};
use super::list::pile_of_each;
use super::reading;
use crate::decide::plan::TubePlan;
use crate::decide::screen::{Screened, Verdict};
use crate::decide::unread::unread_words;
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::{ScalesUsed, percent};
use crate::output::cautions::{CAUTIONS, FIRST_OF_ALL};
use crate::output::doubts::doubts;
use crate::output::figures::{Source, limits, lot_board};
use crate::output::show::Units;
use crate::output::words::{self, why_not};
use crate::output::{fit_report, scales, text};
use crate::paper::font::plain;
use crate::paper::scene::{DrawError, Paper};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use rayon::prelude::*;

const STYLE: &str = include_str!("style.css");

/// The whole page.
pub fn page(input: &ReportInput<'_>, plans: &[&TubePlan], no_strip: &[String]) -> Result<String, DrawError> {
    let r = input.results;
    let boards = boards(input)?;
    let limits = limits_figure(input)?;
    let cards = cards(input)?;
    let piles = batches::section(input)?;
    let reading = if cards.is_empty() { None } else { Some(reading::section(input)?) };
    let sheet = match input.paper {
        Paper::A4 => "@page{size:A4;margin:13mm}",
        Paper::Letter => "@page{size:letter;margin:0.5in}",
    };
    let title = format!("Splitting plan of lot {}", plain(&r.lot.name));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light";
                link rel="icon" href="data:,";
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(sheet)) }
            }
            body {
                header {
                    h1 { (title) }
                    p.small { (plain(&text::lot_line(input.lot, r.options, input.units)).replace("+-", "± ")) }
                }
                main {
                    (glance(input, plans))
                    p.first { strong { "Before anything is cut. " } (FIRST_OF_ALL) }
                    (contents(input, &cards, piles.is_some()))
                    section id="tubes" {
                        h2 { "Which tubes" }
                        div.which { div { @for b in &boards { (b) } } div { (screening(input)) } }
                    }
                    (cautions())
                    @if let Some(r) = &reading { (r) }
                    section id="plans" {
                        h2 { "Tube by tube" }
                        @for (_, c) in &cards { (c) }
                    }
                    (left_out(input))
                    section id="forecast" {
                        h2 { "Forecast" }
                        pre { (text::forecast_lines(r, input.units)) }
                        @if let Some(f) = &limits { (f) }
                    }
                    @if let Some(p) = &piles { (p) }
                    (in_doubt(input, plans, no_strip))
                    (method(input))
                }
            }
        }
    };
    Ok(page.into_string())
}

fn limits_figure(input: &ReportInput<'_>) -> Result<Option<Markup>, DrawError> {
    let r = input.results;
    let source = Source { lot: &r.lot.name, options: r.options, units: input.units, in_card: false };
    limits::draw(&r.forecast, &source)?.map(|s| figure(&s, "limits", "flat")).transpose()
}

pub(crate) fn boards(input: &ReportInput<'_>) -> Result<Vec<Markup>, DrawError> {
    let r = input.results;
    let judged: Vec<(&TubePlan, &Screened)> = r.plans().into_iter().map(|p| (p, &p.screen)).collect();
    if judged.is_empty() {
        return Ok(Vec::new());
    }
    let source = Source { lot: &r.lot.name, options: r.options, units: input.units, in_card: false };
    let scenes = lot_board::draw(&judged, r.lot.screen.least_blanks, &source)?;
    scenes.iter().enumerate().map(|(i, s)| figure(s, &format!("lot{i}"), "flat")).collect()
}

/// Number and card of every planned tube.
fn cards(input: &ReportInput<'_>) -> Result<Vec<(usize, Markup)>, DrawError> {
    let r = input.results;
    let of =
        |i: usize| Some((r.outcomes[i].plan.as_deref().ok()?, input.views.get(i)?.as_ref()?, input.lot.tubes.get(i)?));
    let piles = pile_of_each(input);
    let with: Vec<usize> = (0..r.outcomes.len()).filter(|&i| of(i).is_some()).collect();
    (0..with.len())
        .into_par_iter()
        .filter_map(|k| {
            let (i, (plan, view, tube)) = (with[k], of(with[k])?);
            let beside = |k: Option<usize>| k.and_then(|k| with.get(k)).map(|i| i + 1);
            let place = Place { n: i + 1, neighbours: [beside(k.checked_sub(1)), beside(Some(k + 1))], pile: piles[i] };
            Some(card(input, place, tube, plan, view).map(|c| (i + 1, c)))
        })
        .collect()
}

fn glance(input: &ReportInput<'_>, plans: &[&TubePlan]) -> Markup {
    let (r, f) = (input.results, &input.results.forecast);
    let said = |v: Verdict| plans.iter().filter(|p| p.screen.verdict == v).count();
    let readings: usize = input.lot.tubes.iter().map(|t| t.readings.len()).sum();
    let range = |i: crate::lot::Interval, d: usize| {
        let high = if i.high.is_finite() { decimal(i.high, d) } else { "no limit".to_string() };
        format!("{} to {high}", decimal(i.low, d))
    };
    let mut cells: Vec<(&str, String, String)> = vec![
        ("tubes", r.outcomes.len().to_string(), format!("{} planned, {}", plans.len(), counted(readings, "reading"))),
        (
            "worth splitting",
            said(Verdict::Split).to_string(),
            format!("{} doubtful, {} to leave", said(Verdict::Doubtful), said(Verdict::Leave)),
        ),
        (
            "blanks expected",
            decimal(f.blanks.expected, 0),
            format!("90 %: {}, quarters gauged again", range(f.blanks, 0)),
        ),
    ];
    if let Some(by_eye) = f.by_eye {
        cells.push((
            "split by eye",
            decimal(by_eye, 0),
            format!("blanks, on the axes of the ovals; {} at arbitrary angles", decimal(f.arbitrary, 0)),
        ));
    }
    if let Some(m) = f.marked {
        cells.push(("marked runs alone", decimal(m.expected, 0), format!("90 %: {}", range(m, 0))));
    }
    if let Some(n) = &f.not_checked {
        let what = unread_words(n.grain > 0, n.wall > 0);
        cells.push((
            "with what was not read",
            decimal(n.blanks.expected, 0),
            format!("{what}; 90 %: {}", range(n.blanks, 0)),
        ));
    }
    if let Some(e) = f.earlier {
        cells.push((
            "as earlier lots",
            decimal(e.blanks.expected, 0),
            format!("blanks, 90 %: {}; {}", range(e.blanks, 0), crate::output::words::promise(e.promise)),
        ));
    }
    if let (Some(kg), Some(lb)) = (f.per_kg, f.per_lb) {
        cells.push(("blanks per kg", format!("{:.0}", kg.expected), format!("{:.0} per lb", lb.expected)));
    }
    if let Some(c) = f.cost_per_blank {
        let money = format!("{:.2} {}", c.expected, plain(&r.lot.currency));
        cells.push(("cost per blank", money.trim().to_string(), format!("90 %: {}", range(c, 2))));
    }
    html! {
        dl.glance { @for (term, value, more) in cells { div { dt { (term) } dd { b { (value) } small { (more) } } } } }
    }
}

fn contents(input: &ReportInput<'_>, cards: &[(usize, Markup)], piles: bool) -> Markup {
    let r = input.results;
    html! {
        nav aria-label="Contents" {
            @for (to, words) in [
                ("tubes", "Which tubes"), ("cautions", "Cautions"), ("reading", "How to work from the cards"),
                ("plans", "Tube by tube"), ("forecast", "Forecast"), ("piles", "Piles"), ("doubts", "What is in doubt"), ("method", "How it was computed"),
            ] { @if (to != "piles" || piles) && (to != "reading" || !cards.is_empty()) { a href=(format!("#{to}")) { (words) } " " } }
            @if cards.len() > 1 {
                span.tubes { "Tubes: " @for (n, _) in cards { a href=(format!("#tube-{n}")) { (plain(&r.outcomes[n - 1].tube)) } " " } }
            }
        }
    }
}

fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Split => "◆",
        Verdict::Doubtful => "■",
        Verdict::Leave => "✕",
    }
}

fn screening(input: &ReportInput<'_>) -> Markup {
    let r = input.results;
    let least = r.lot.screen.least_blanks;
    let chance_of = format!("chance of {} or more", words::least(least));
    html! {
        h3 { "Screening" }
        table.stack.screen {
            thead { tr {
                @for t in ["tube", "verdict", "blanks", "90 %", chance_of.as_str(), "why"] { th scope="col" { (t) } }
            } }
            tbody {
                @for (i, o) in r.outcomes.iter().enumerate() {
                    @match &o.plan {
                        Ok(p) => tr id=(format!("row-{}", i + 1)) {
                            td data-label="tube" { a href=(format!("#tube-{}", i + 1)) { (plain(&o.tube)) } }
                            td.nb data-label="verdict" { span.sign aria-hidden="true" { (sign(p.screen.verdict)) } " " (p.screen.verdict.word()) }
                            td.nb data-label="blanks" { (decimal(p.expected(), 1)) }
                            td.nb data-label="90 %" {
                                @let (low, high) = p.split.as_ref().map_or((0.0, 0.0), |x| x.interval);
                                (format!("{} to {}", decimal(low, 0), decimal(high, 0)))
                            }
                            td.nb data-label=(chance_of) { (percent(p.screen.chance)) " %" }
                            td data-label="why" { (plain(&input.units.told(&p.screen.reason))) }
                        },
                        Err(why) => tr {
                            td data-label="tube" { (plain(&o.tube)) }
                            td data-label="verdict" { "not judged" }
                            td data-label="blanks" { "–" } td data-label="90 %" { "–" } td data-label=(chance_of) { "–" }
                            td data-label="why" { (plain(&why.to_string())) }
                        },
                    }
                }
            }
        }
    }
}

fn left_out(input: &ReportInput<'_>) -> Markup {
    let without: Vec<_> = input.results.outcomes.iter().filter(|o| o.plan.is_err()).collect();
    html! {
        @if !without.is_empty() {
            section id="without" {
                h2 { "Tubes without a plan" }
                ul { @for o in without { li { b { (plain(&o.tube)) } ": " (plain(&why_not(o))) } } }
            }
        }
    }
}

fn cautions() -> Markup {
    html! {
        section id="cautions" {
            h2 { "Cautions" }
            p { (FIRST_OF_ALL) }
            dl.cautions {
                @for c in &CAUTIONS { div { dt { (c.topic) } dd { (c.words) " " small { "Source: " (c.source) "." } } } }
            }
        }
    }
}

fn in_doubt(input: &ReportInput<'_>, plans: &[&TubePlan], no_strip: &[String]) -> Markup {
    let r = input.results;
    let fits = r.fits();
    let blind = fit_report::blind(input.lot, &fits);
    let without: Vec<&str> = fits.iter().filter(|f| f.fit.is_err()).map(|f| f.tube.as_str()).collect();
    let (unfitted, unfitted_names) = (without.len(), without.join(", "));
    let none_fitted = (unfitted == fits.len()).then_some("No tube was fitted: nothing can be said of any.");
    let doubted = doubts(input.lot, plans.iter().map(|p| &p.fit), input.units);
    let lines = |list: &[String], none: &str| -> Markup {
        html! {
            @if list.is_empty() { p { (none) } }
            @else { ul { @for line in list { li { (plain(line)) } } } }
        }
    };
    html! {
        section id="doubts" {
            h2 { "What is in doubt" }
            h3 { "What these readings cannot see" }
            (lines(&blind, none_fitted.unwrap_or(if unfitted == 0 {
                "Size, taper, ovality, odd lobes, bow and wall are all seen on every tube."
            } else {
                "Size, taper, ovality, odd lobes, bow and wall are all seen on every tube that was fitted."
            })))
            @if unfitted > 0 && none_fitted.is_none() && blind.is_empty() {
                p { (format!("Nothing is seen of {}: ", counted(unfitted, "tube without a fit"))) (plain(&unfitted_names)) "." }
            }
            p.small { "What no reading of this lot can tell: the inside of the cane, its hardness and density from place to place, and how it will warp once split." }
            h3 { "What these tubes are taken to be like" }
            (scales_used(&r.scales, input.units))
            h3 { "Doubted readings and suspected slips" }
            (lines(&doubted, none_fitted.unwrap_or(if unfitted == 0 {
                "None: every reading agrees with the rest of its tube."
            } else {
                "None: every reading of a tube that was fitted agrees with the rest of it."
            })))
            h3 { "Findings about the files" }
            @if r.findings.is_empty() { p { "None." } }
            @else {
                ul { @for f in &r.findings {
                    li {
                        b { (words::severity(f.severity)) } ": "
                        (plain(&f.place.to_string())) ": found " (plain(&f.found)) ", expected " (plain(&f.expected))
                        @if !f.fix.is_empty() { ". " (plain(&f.fix)) }
                    }
                } }
            }
            @if !no_strip.is_empty() {
                h3 { "Tubes without a wrap strip" }
                ul { @for line in no_strip { li { (plain(line)) } } }
            }
        }
    }
}

fn scales_used(used: &ScalesUsed, units: Units) -> Markup {
    let rows = scales::rows(used);
    html! {
        p { (plain(&words::sentence(&scales::line(used)))) }
        @if !rows.is_empty() {
            table.stack {
                thead { tr { @for t in scales::TITLES { th scope="col" { (t) } } } }
                tbody {
                    @for row in &rows {
                        tr { @for (title, cell) in scales::TITLES.iter().zip(row) { td.nb data-label=(title) { (cell) } } }
                    }
                }
            }
            p.small { (words::sentence(scales::LEGEND)) }
            ul { @for line in scales::beside(used, units) { li { (plain(&line).replace("+-", "± ")) } } }
        }
    }
}

fn method(input: &ReportInput<'_>) -> Markup {
    let (r, t) = (input.results, &input.results.lot.target);
    let l = |mm: f64| bench(mm, input.units);
    let fine = |mm: f64| format!("{} {}", input.units.length(mm, 2), input.units.word());
    let kerf = |mm: f64| if mm > 0.0 { fine(mm) } else { "none (a knife or a break)".to_string() };
    html! {
        section id="method" {
            h2 { "How it was computed" }
            p {
                "All readings of a tube are joined in one model of its whole surface, which knows its own doubt. "
                (r.options.draws) " surfaces that agree with the readings were drawn (seed " (r.options.seed)
                "; the same seed gives the same report). On each, every stretch one blank long was judged against the limits "
                "below on bark lines 2° apart. For each split angle the blanks that fit were counted, with each split "
                "falling " (format!("{}°", words::plain_number(r.lot.split.wander_deg))) " (one standard deviation) about its aim; the angle with the "
                "most expected blanks was chosen, and among equals the one with most margin. A chance is the share of "
                "drawn surfaces on which the stretch passes; an interval of 90 % leaves 5 % on either side."
            }
            dl.facts {
                @for (term, value) in [
                    ("blank", format!("{} by {} by {}", l(t.blank_length_mm), l(t.blank_width_mm), fine(t.blank_thickness_mm))),
                    ("pieces", t.pieces.to_string()),
                    ("arc diameter", format!("{} ± {}", fine(t.arc_diameter_mm), fine(t.arc_tolerance_mm))),
                    ("hollow at most", fine(t.hollow_mm)),
                    ("rock at most", fine(t.rock_mm)),
                    ("skew at most", fine(t.skew_mm)),
                    ("wall at least", fine(t.blank_thickness_mm + t.clean_up_mm)),
                    ("kerf and trim", format!("{} and {}", kerf(r.lot.saw.kerf_mm), l(r.lot.saw.trim_mm))),
                ] { div { dt { (term) } dd { (value) } } }
            }
            p.small {
                "Beside this page: splits.csv, runs.csv, forecast.csv, cuts-plan.csv, plan.json, bench-list.pdf (what to mark, split and "
                "saw, to work from and tick off) and strips.pdf (print it at 100 %, no fit to page, and check its lines of 100 mm and 4 in)."
            }
        }
    }
}
