//! How the cards are read: where the index line lies, which way is clockwise, and every word that is no everyday one, with a
//! drawing each. Once for the whole report.

use super::ReportInput;
use super::bench::bench;
use super::card::figure;
use crate::output::bench_list::{SURENESS, marking};
use crate::output::figures::{bark_map, section::SEEN_WALL, terms};
use crate::output::show::Units;
use crate::paper::scene::DrawError;
use maud::{Markup, html};

/// The section.
pub fn section(input: &ReportInput<'_>) -> Result<Markup, DrawError> {
    let t = &input.results.lot.target;
    let fine = |mm: f64| format!("{} {}", input.units.length(mm, 2), input.units.word());
    let to_32 = if input.units == Units::Inch { ", to the nearest 1/32 in" } else { "" };
    let terms = [
        (
            "hollow",
            terms::hollow(),
            format!(
                "The largest gap under a straight stick as long as a blank ({}), laid on the bark: light shows there. Here at most {}.",
                bench(t.blank_length_mm, input.units),
                fine(t.hollow_mm)
            ),
        ),
        (
            "rock",
            terms::rock(),
            format!("How far an end of that stick can drop where the bark has a belly. Here at most {}.", fine(t.rock_mm)),
        ),
        (
            "arc diameter",
            terms::arc(),
            format!(
                "Of the circle that fits the back over the width of a blank. Here {} ± {}.",
                fine(t.arc_diameter_mm),
                fine(t.arc_tolerance_mm)
            ),
        ),
        (
            "skew",
            terms::skew(),
            format!(
                "How much the two rails differ in roundness, as a difference of diameters. Here at most {}.",
                fine(t.skew_mm)
            ),
        ),
        (
            "chance",
            terms::chance(&SURENESS),
            "Of a hundred surfaces that agree with the readings, how many let the stretch pass. The bench list says it in these words."
                .to_string(),
        ),
    ];
    Ok(html! {
        section id="reading" {
            h2 { "How to work from the cards" }
            div.reading {
                div {
                    (figure(&marking(t.pieces), "how", "drawn")?)
                    p {
                        b { "Index line." } " Lay the tube in a groove or against a straight edge and draw a pencil line along it from end to "
                        "end: that is angle 0. The end the readings start from is the index end; mark it. "
                        b { "Clockwise" } " is as the hands of a clock go, looking at the index end from outside."
                    }
                    p {
                        b { "Mark and split." } " Lengths of split lines are measured round the bark of the index end, clockwise from the index line, "
                        "with a strip of paper or a bent rule. Piece 1 lies clockwise of line 1. Number the pieces before you split: the index "
                        "line is gone then."
                    }
                    p {
                        b { "Runs." } " From the index end along the piece" (to_32) ". " b { "Across" } ": bark up, index end towards you, over the bark "
                        "from the right-hand (clockwise) edge to the blank's middle, half way along it."
                    }
                    p {
                        b { "Saw." } " In the order of the list, the outermost part first; gauge each quarter again before, and where more fits, "
                        "mark and saw that instead. The stop is measured from the near face of the blade to the end that is held, saw "
                        "marks from the index end, the kerf outside the run. A blank has its length beside it where it is longer than asked. "
                        "Slivers can be thrown: keep clear."
                    }
                    p {
                        b { "Expected" } " counts on every quarter being gauged again after the split, blanks wherever they then fit; the "
                        b { "marked runs alone" } " give less. 90 %: nine times of ten it lies in this range."
                    }
                    p { b { "Section." } " Seen looking at the index end. " (SEEN_WALL) }
                }
                div {
                    dl.terms {
                        @for (i, (word, scene, words)) in terms.iter().enumerate() {
                            div { (figure(scene, &format!("term{i}"), "drawn")?) div { dt { (word) } dd { (words) } } }
                        }
                    }
                    (figure(&bark_map::key(), "key", "flat")?)
                }
            }
        }
    })
}
