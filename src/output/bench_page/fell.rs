//! What really happened: where the split lines fell, which blanks were got, and why others were not.

use super::frame::{Desk, Place, page};
use super::tubes::encoded;
use crate::decide::plan::TubePlan;
use crate::domain::units::decimal;
use crate::output::report::bench::bench_fn;
use crate::output::words::{Signs, sentence};
use crate::paper::font::plain;
use maud::{Markup, html};

/// Reasons for refusing a stretch that are one tap away: the words by which `learn` knows limits, then what says nothing of
/// a limit.
#[must_use]
pub fn reasons() -> [&'static str; 8] {
    ["hollow", "rock", "small", "large", "skew", "crack", "mould", "broke"]
}

/// What is shown.
#[derive(Debug)]
pub struct FellForm<'a> {
    /// The tube.
    pub tube: &'a str,
    /// Its plan before the split, where it has one: what was aimed at and marked.
    pub plan: Option<&'a TubePlan>,
    /// Its plan on the pieces as they fell.
    pub as_split: Option<&'a TubePlan>,
    /// Number of pieces.
    pub pieces: usize,
    /// The angle aimed at, lines and backs as they are written down.
    pub aim: String,
    /// Lines, degrees.
    pub lines: String,
    /// Widths of the backs.
    pub backs: String,
    /// Blanks of the tube.
    pub blanks: String,
    /// Blanks of each piece.
    pub of_piece: Vec<String>,
    /// Stretches judged: piece, from, to in mm, and the word of what became of it (`yes`, a reason, or nothing).
    pub stretches: Vec<(usize, f64, f64, String)>,
    /// Why what was typed was not taken.
    pub refused: Option<String>,
}

/// The page.
#[must_use]
pub fn fell(desk: &Desk, f: &FellForm<'_>) -> String {
    let unit = desk.units.word();
    let body = html! {
        p.noprint {
            a href=(format!("/card?tube={}", encoded(f.tube))) { "split card" } " · "
            a href=(format!("/measure?tube={}", encoded(f.tube))) { "measure" }
        }
        @if let Some(why) = &f.refused { p.warn role="alert" { (plain(why)) } }
        (promised(f))
        form method="post" action="/fell" {
            input type="hidden" name="token" value=(desk.token);
            input type="hidden" name="tube" value=(f.tube);
            fieldset {
                legend { "Where it split" }
                label { span { "aimed at, degrees" } input name="aim" value=(f.aim) inputmode="decimal" autocomplete="off"; }
                label { span { "lines, degrees, clockwise" } input name="split" value=(f.lines) autocomplete="off" placeholder="31 122 214 300"; }
                label { span { "or widths of the backs, " (unit) } input name="back" value=(f.backs) autocomplete="off"; }
            }
            (judged(desk, f))
            fieldset {
                legend { "Blanks got" }
                label { span { "of the whole tube" } input name="blanks" value=(f.blanks) inputmode="numeric" autocomplete="off"; }
                @for (i, n) in f.of_piece.iter().enumerate() {
                    label { span { "piece " (i + 1) } input name=(format!("blanks{}", i + 1)) value=(n) inputmode="numeric" autocomplete="off" size="4"; }
                }
            }
            button.main { "write it down" }
        }
    };
    page(desk, Place::Tube, &format!("Split and cut {}", f.tube), None, &body)
}

fn promised(f: &FellForm<'_>) -> Markup {
    let of = |p: &TubePlan| {
        p.split.as_ref().map_or(String::new(), |s| {
            format!(
                "{} blanks, 90 %: {} to {}",
                decimal(s.best.expected, 1),
                decimal(s.interval.0, 0),
                decimal(s.interval.1, 0)
            )
        })
    };
    html! {
        @if let Some(p) = f.plan { p { "Promised before the split: " (of(p)) "." } }
        @if let Some(p) = f.as_split {
            p { "On the pieces as they fell: " b { (of(p)) } ". "
                (sentence(&crate::output::words::lines_fell(p, Signs::Print))) " Mark the runs anew where they stand now." }
        }
    }
}

/// The runs to be judged: those of the pieces as they fell where that is known, else those planned.
fn judged(desk: &Desk, f: &FellForm<'_>) -> Markup {
    let Some(plan) = f.as_split.or(f.plan) else { return html! {} };
    let text = bench_fn(desk.units);
    let mut rows: Vec<(usize, f64, f64)> = f.stretches.iter().map(|s| (s.0, s.1, s.2)).collect();
    for p in &plan.pieces {
        for r in &p.runs {
            let new = (p.piece, r.from_mm, r.to_mm);
            let near = |o: &(usize, f64, f64)| o.0 == new.0 && (o.1 - new.1).abs() < 0.06 && (o.2 - new.2).abs() < 0.06;
            if !rows.iter().any(near) {
                rows.push(new);
            }
        }
    }
    rows.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    html! {
        @for (i, (piece, from, to)) in rows.iter().enumerate() {
            @let now = f.stretches.iter().find(|s| s.0 == *piece && (s.1 - from).abs() < 0.06 && (s.2 - to).abs() < 0.06);
            @let now = now.map_or("", |s| s.3.as_str());
            fieldset.reasons {
                legend { "Piece " (piece) ", " (text(*from)) " to " (text(*to)) }
                input type="hidden" name=(format!("run{i}")) value=(format!("{piece} {from} {to}"));
                @for (value, words) in [("", "not judged"), ("yes", "got a blank")].into_iter().chain(reasons().map(|r| (r, r))) {
                    label { input type="radio" name=(format!("got{i}")) value=(value) checked[value == now]; " " (words) }
                }
                @if !now.is_empty() && now != "yes" && !reasons().contains(&now) {
                    label { input type="radio" name=(format!("got{i}")) value=(now) checked; " " (plain(now)) }
                }
            }
        }
    }
}
