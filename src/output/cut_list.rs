//! A piece's order of cuts as a table and as text.

use crate::decide::cut_order::{Cut, CutError, CutOrder, End, Holding, Part};
use crate::decide::cut_plan::TubeHold;
use crate::paper::font::plain;
use std::fmt::Write as _;

/// Waste shorter than this is called a sliver, mm; own choice: about as wide as a guard's slot.
pub(crate) const SLIVER_MM: f64 = 10.0;

/// What to do about the part to be held.
#[must_use]
pub fn advice(holding: Holding) -> &'static str {
    match holding {
        Holding::HandsClear => "by hand outside the no-hands distance, better clamped",
        Holding::HandReachesIn => "CLAMP: a hand on this part would reach inside the no-hands distance",
        Holding::TooShort => {
            "TOO SHORT TO HOLD: clamp both sides in a fixture, or use a fine hand saw in a mitre box; \
             not by hand at a powered saw"
        }
    }
}

/// What is said once for a whole tube about holding what is sawn; nothing where nothing is sawn.
#[must_use]
pub fn for_the_tube(hold: TubeHold) -> Option<&'static str> {
    match hold {
        TubeHold::NoCut => None,
        TubeHold::Clear => Some("all cuts: by hand outside the no-hands distance, better clamped"),
        TubeHold::HelpAll => Some(
            "all blanks of this tube: clamp, or a fine hand saw in a mitre box; what is held is too short for a hand at a \
             powered saw",
        ),
        TubeHold::HelpSome => Some(
            "cuts with \u{25b2}: what is held is short: clamp it, or use a fine hand saw in a mitre box; not by hand at a powered \
             saw",
        ),
    }
}

/// Whether a cut is flagged: only where the held part is short and the tube has no statement for all its cuts.
#[must_use]
pub fn is_flagged(hold: TubeHold, cut: &Cut) -> bool {
    hold == TubeHold::HelpSome && cut.holding != Holding::HandsClear
}

/// One row per cut, in order: number, stop against, stop at, saw from, saw to, what falls, how to hold.
///
/// `length` writes a length in the user's unit. Stop positions are measured from the near face of the blade to the
/// held end; "saw from" and "saw to" from the index end of the tube.
#[must_use]
pub fn rows(order: &CutOrder, length: impl Fn(f64) -> String) -> Vec<[String; 7]> {
    order.cuts.iter().enumerate().map(|(i, cut)| row(i + 1, cut, &length)).collect()
}

fn row(number: usize, cut: &Cut, length: &impl Fn(f64) -> String) -> [String; 7] {
    let end = end_word(cut.held_end);
    let turned = if cut.turned { ", piece turned" } else { "" };
    [
        number.to_string(),
        format!("{end}{turned}"),
        length(cut.held_mm),
        length(cut.kerf.from_mm),
        length(cut.kerf.to_mm),
        falls(cut, length),
        advice(cut.holding).to_string(),
    ]
}

/// Where the saw goes, from the index end; a cut without a kerf has one place.
#[must_use]
pub fn place(cut: &Cut, length: impl Fn(f64) -> String) -> String {
    let (from, to) = (length(cut.kerf.from_mm), length(cut.kerf.to_mm));
    if cut.kerf.to_mm - cut.kerf.from_mm <= 0.0 {
        return from;
    }
    // a decimal number takes its unit from the one that follows
    let bare = if to.ends_with(" mm") { from.trim_end_matches(" mm") } else { &from };
    format!("{bare} to {to}")
}

/// The word for an end.
#[must_use]
pub(crate) fn end_word(end: End) -> &'static str {
    match end {
        End::Index => "index end",
        End::Far => "far end",
    }
}

/// What is said where no order of cuts was made.
#[must_use]
pub(crate) fn no_order(why: &CutError) -> String {
    format!("no order of cuts: {why}")
}

/// What stops against the far end ask for.
pub(crate) const MEASURE_FIRST: &str =
    "stops against the far end hold for a piece of the stated length: measure it first";

/// True when a cut of this order is set from the far end.
#[must_use]
pub(crate) fn uses_far_end(order: &CutOrder) -> bool {
    order.cuts.iter().any(|c| c.held_end == End::Far)
}

fn falls(cut: &Cut, length: &impl Fn(f64) -> String) -> String {
    let long = length(cut.falls_mm);
    match cut.falls {
        Part::Blank(n) => format!("blank {n}, {long}"),
        Part::Waste if cut.rough => format!("bent end, {long}: a rough cut, its place need not be exact"),
        Part::Waste if cut.falls_mm < SLIVER_MM => format!("waste sliver, {long}: keep clear, it can be thrown"),
        Part::Waste => format!("waste, {long}"),
    }
}

/// What falls, in as few words as a narrow table takes; what a sliver does is told once. A blank of the length `blank_mm`
/// needs none.
pub(crate) fn falls_short(cut: &Cut, blank_mm: f64, length: impl Fn(f64) -> String) -> String {
    let long = length(cut.falls_mm);
    match cut.falls {
        Part::Blank(n) if long == length(blank_mm) => format!("blank {n}"),
        Part::Blank(n) => format!("blank {n}: {long}"),
        Part::Waste if cut.rough => format!("bent end {long}, roughly"),
        Part::Waste if cut.falls_mm < SLIVER_MM => format!("sliver {long}"),
        Part::Waste => format!("waste {long}"),
    }
}

/// What is left after the last cut, in words.
#[must_use]
pub(crate) fn remainder(order: &CutOrder, length: impl Fn(f64) -> String) -> String {
    match order.remains {
        Part::Blank(n) => format!("what is left in the hand is blank {n}, {}", length(order.remains_mm)),
        Part::Waste => format!("what is left in the hand is waste, {}", length(order.remains_mm)),
    }
}

/// What is left after the last cut, as [`falls_short`] tells what falls; waste by its length alone.
pub(crate) fn remains(order: &CutOrder, blank_mm: f64, length: impl Fn(f64) -> String) -> String {
    let long = length(order.remains_mm);
    match order.remains {
        Part::Blank(n) if long == length(blank_mm) => format!("blank {n}"),
        Part::Blank(n) => format!("blank {n}: {long}"),
        Part::Waste => long,
    }
}

/// The order of cuts of one piece as plain text: a heading, one line per cut, and what is left.
#[must_use]
pub fn text(tube: &str, piece: &str, order: &CutOrder, length: impl Fn(f64) -> String) -> String {
    let mut out = format!("tube {}, piece {}\n", plain(tube), plain(piece));
    if order.cuts.is_empty() {
        let _ = writeln!(out, "  no cut; {}", remainder(order, &length));
        return out;
    }
    for (cut, [number, end, stop, _, _, falls, hold]) in order.cuts.iter().zip(rows(order, &length)) {
        let saw = place(cut, &length);
        let _ = writeln!(out, "  {number}. {end} against the stop at {stop}; saw {saw} from the index end");
        let _ = writeln!(out, "     falls: {falls}; hold: {hold}");
    }
    let _ = writeln!(out, "  {}", remainder(order, &length));
    if uses_far_end(order) {
        let _ = writeln!(out, "  {MEASURE_FIRST}");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::cut_order::{HoldRule, Stretch, order_cuts};

    fn mm(v: f64) -> String {
        format!("{v:.1} mm")
    }

    #[test]
    fn a_short_quarter_is_listed_with_its_flags() {
        let runs = [(8.0, 78.0), (79.0, 149.0)].map(|(from_mm, to_mm)| Stretch { from_mm, to_mm });
        let order = order_cuts(180.0, &runs, &HoldRule::default()).unwrap();
        let list = text("T1\n<b>", "2", &order, mm);
        assert!(list.starts_with("tube T1\u{FFFD}<b>, piece 2\n"), "{list}");
        assert!(list.contains("TOO SHORT TO HOLD") && list.contains("mitre box"), "{list}");
        assert!(list.contains("waste sliver, 7.0 mm"), "{list}");
        for n in [1, 2] {
            let falls_or_stays = list.contains(&format!("blank {n}, 70.0 mm"));
            assert!(falls_or_stays, "blank {n}: {list}");
        }
        assert_eq!(rows(&order, mm).len(), order.cuts.len());
    }

    #[test]
    fn a_cut_without_a_kerf_has_one_place() {
        let run = Stretch { from_mm: 100.0, to_mm: 170.0 };
        let saw = order_cuts(400.0, &[run], &HoldRule::default()).unwrap();
        let knife = order_cuts(400.0, &[run], &HoldRule { kerf_mm: 0.0, ..HoldRule::default() }).unwrap();
        let first = |o: &CutOrder| place(&o.cuts[0], mm);
        assert!(["99.0 to 100.0 mm", "170.0 to 171.0 mm"].contains(&first(&saw).as_str()), "{}", first(&saw));
        assert!(["100.0 mm", "170.0 mm"].contains(&first(&knife).as_str()), "{}", first(&knife));
    }

    #[test]
    fn a_piece_without_runs_needs_no_cut() {
        let order = order_cuts(180.0, &[], &HoldRule::default()).unwrap();
        assert_eq!(
            text("T1", "1", &order, mm),
            "tube T1, piece 1\n  no cut; what is left in the hand is waste, 180.0 mm\n"
        );
    }
}
