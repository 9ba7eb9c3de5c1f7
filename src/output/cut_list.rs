//! A piece's order of cuts in words.

use crate::decide::cut_order::{Cut, CutError, CutOrder, End, Holding, Part};
use crate::decide::cut_plan::TubeHold;

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

/// What is left after the last cut, as [`falls_short`] tells what falls; waste by its length alone.
pub(crate) fn remains(order: &CutOrder, blank_mm: f64, length: impl Fn(f64) -> String) -> String {
    let long = length(order.remains_mm);
    match order.remains {
        Part::Blank(n) if long == length(blank_mm) => format!("blank {n}"),
        Part::Blank(n) => format!("blank {n}: {long}"),
        Part::Waste => long,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::cut_order::{HoldRule, Stretch, order_cuts};

    fn mm(v: f64) -> String {
        format!("{v:.1} mm")
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
}
