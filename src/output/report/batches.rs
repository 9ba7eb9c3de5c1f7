//! The lot in piles, as a part of the page.

use super::ReportInput;
use super::card::figure;
use crate::domain::units::decimal;
use crate::lot::batches::{BatchRules, Pile};
use crate::lot::percent;
use crate::output::batches::{heading, notes, spread, weight};
use crate::output::figures::{Source, piles};
use crate::output::words::sentence;
use crate::paper::font::plain;
use crate::paper::scene::DrawError;
use maud::{Markup, html};

/// The piles that the edge life asks; `None` where the lot states none, or none can be counted.
pub(crate) fn section(input: &ReportInput<'_>) -> Result<Option<Markup>, DrawError> {
    let r = input.results;
    let Ok(made) = r.batches(&BatchRules::default()) else { return Ok(None) };
    let source = Source { lot: &r.lot.name, options: r.options, units: input.units, in_card: false };
    let scenes = piles::draw(&made, &source)?;
    let figures: Vec<Markup> =
        scenes.iter().enumerate().map(|(i, s)| figure(s, &format!("piles{i}"), "flat")).collect::<Result<_, _>>()?;
    let length = format!("mean length {}", input.units.word());
    let remarks = notes(&made, r.lot.weight_unit, input.units);
    Ok(Some(html! {
        section id="piles" {
            h2 { "Piles for one sharpening each" }
            p { (sentence(&heading(&made))) }
            div.which {
                div { @for f in &figures { (f) } }
                div {
                    table.stack {
                        thead { tr {
                            @for t in ["pile", "tubes", "blanks", "90 %", "edge outlasts it", length.as_str(), "weight"] {
                                th scope="col" { (t) }
                            }
                        } }
                        tbody { @for p in &made.piles { (row(p, &length, input)) } }
                    }
                    p { (sentence(&spread(&made, r.lot.weight_unit, input.units))) }
                    @if !remarks.is_empty() {
                        ul { @for line in &remarks { li { (plain(line)) } } }
                    }
                }
            }
        }
    }))
}

fn row(p: &Pile, length: &str, input: &ReportInput<'_>) -> Markup {
    let known = |x: Option<f64>, d: usize| x.map_or("–".to_string(), |x| decimal(x, d));
    let range = match (p.low, p.high) {
        (Some(low), Some(high)) => format!("{} to {}", decimal(low, 0), decimal(high, 0)),
        _ => "–".to_string(),
    };
    html! {
        tr {
            td.nb data-label="pile" { b { (p.pile) } }
            td data-label="tubes" { @for t in &p.tubes { span.nb { (plain(&t.tube)) } " " } }
            td.nb data-label="blanks" { (known(p.expected_blanks, 1)) }
            td.nb data-label="90 %" { (range) }
            td.nb data-label="edge outlasts it" { (p.outlasts.map_or("–".to_string(), |c| format!("{} %", percent(c)))) }
            td.nb data-label=(length) {
                (p.mean_length_mm.map_or("–".to_string(), |l| input.units.length(l, 0)))
            }
            td.nb data-label="weight" { (weight(p, input.results.lot.weight_unit).unwrap_or_else(|| "–".to_string())) }
        }
    }
}
