//! The order of cuts for every piece of a planned tube, and what help its parts need to be held.

use super::cut_order::{CutError, CutOrder, HoldRule, Holding, RoughEnds, Stretch, order_cuts_rough};
use super::tube_plan::{PlannedPiece, PlannedRun, TubePlan};
use super::tube_view::CentrePlace;
use crate::domain::{Angle, Saw};
use crate::numeric::summary::count;

/// The cuts of one piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceCuts {
    /// Number of the piece, from 1.
    pub piece: usize,
    /// Its cuts in order, or why there is no order.
    pub order: Result<CutOrder, CutError>,
}

/// The rule for this saw and no-hands distance, mm.
#[must_use]
pub fn hold_rule(saw: &Saw, no_hands_mm: f64) -> HoldRule {
    HoldRule { kerf_mm: saw.kerf_mm, no_hands_mm, ..HoldRule::default() }
}

/// Cuts of all pieces, in their order; empty when the tube is too short for a blank.
///
/// # Arguments
/// * `centreline` - of the tube as believed, rising along it: where it says that an end keeps a piece from lying square,
///   that end comes off first by a rough cut. Empty: no end does.
/// * `width_mm` - of a blank.
#[must_use]
pub fn cut_plan(plan: &TubePlan, centreline: &[CentrePlace], width_mm: f64, rule: &HoldRule) -> Vec<PieceCuts> {
    plan.pieces
        .iter()
        .map(|p| {
            let runs: Vec<Stretch> = p.runs.iter().map(|r| Stretch { from_mm: r.from_mm, to_mm: r.to_mm }).collect();
            let rough = rough_ends(p, plan.fit.length_mm, centreline, width_mm);
            PieceCuts { piece: p.piece, order: order_cuts_rough(plan.fit.length_mm, &runs, rough, rule) }
        })
        .collect()
}

/// A cut more out of square than this, mm over the width of a blank, is worth a rough cut before it; own choice, no source.
const OUT_OF_SQUARE_MM: f64 = 0.5;
/// A rough cut is worth its while where it leaves less than this share of what was out of square; own choice.
const STAYS: f64 = 0.7;

/// The ends of a piece that keep its first or last run from lying along the fence.
///
/// What is left of a piece touches the fence near its two ends, so it lies along the chord between them; a run is sawn square
/// where its own direction, sideways, is that of the chord. The piece bends as the tube's centreline does.
fn rough_ends(piece: &PlannedPiece, length_mm: f64, centreline: &[CentrePlace], width_mm: f64) -> RoughEnds {
    let (Some(first), Some(last)) = (piece.runs.first(), piece.runs.last()) else { return RoughEnds::default() };
    let out_mm = |run: &PlannedRun, from_mm: f64, to_mm: f64| {
        let slope = |a: f64, b: f64| sideways(centreline, b, run.line_deg) - sideways(centreline, a, run.line_deg);
        let of_run = slope(run.from_mm, run.to_mm) / (run.to_mm - run.from_mm);
        (of_run - slope(from_mm, to_mm) / (to_mm - from_mm)).abs() * width_mm
    };
    let bent = |run: &PlannedRun, without: (f64, f64)| {
        let whole = out_mm(run, 0.0, length_mm);
        whole > OUT_OF_SQUARE_MM && out_mm(run, without.0, without.1) < STAYS * whole
    };
    RoughEnds { index: bent(first, (first.from_mm, length_mm)), far: bent(last, (0.0, last.to_mm)) }
}

/// How far the centreline lies from its chord across the direction of a bark line, mm; 0 of an empty centreline.
fn sideways(centreline: &[CentrePlace], z_mm: f64, line_deg: f64) -> f64 {
    let (sin, cos) = Angle::from_degrees(line_deg).sin_cos();
    let off = |p: &CentrePlace| p.off_mm[1] * cos - p.off_mm[0] * sin;
    let next = centreline.partition_point(|p| p.z_mm < z_mm);
    match (next.checked_sub(1).and_then(|i| centreline.get(i)), centreline.get(next)) {
        (Some(a), Some(b)) => off(a) + (off(b) - off(a)) * (z_mm - a.z_mm) / (b.z_mm - a.z_mm),
        (Some(only), None) | (None, Some(only)) => off(only),
        (None, None) => 0.0,
    }
}

/// What is to be said of a tube about holding what is sawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TubeHold {
    /// Nothing is sawn.
    NoCut,
    /// Every cut leaves enough for a whole hand outside the no-hands distance.
    Clear,
    /// Most or all cuts need help: one statement for the whole tube, no flag at a cut.
    HelpAll,
    /// The fewer cuts need help: a flag at each of them.
    HelpSome,
}

/// What is to be said of a tube with these cuts.
///
/// A clamp or a hand saw that most cuts ask for is set up once and used for all of them; a flag at every cut says nothing.
#[must_use]
pub fn tube_hold(cuts: &[PieceCuts]) -> TubeHold {
    let all = || cuts.iter().filter_map(|c| c.order.as_ref().ok()).flat_map(|o| &o.cuts);
    let (n, help) = (all().count(), all().filter(|c| c.holding != Holding::HandsClear).count());
    match (n, help) {
        (0, _) => TubeHold::NoCut,
        (_, 0) => TubeHold::Clear,
        _ if count(help) >= 0.5 * count(n) => TubeHold::HelpAll,
        _ => TubeHold::HelpSome,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::cut_order::order_cuts;

    fn piece(runs: &[(f64, f64)], line_deg: f64) -> PlannedPiece {
        let run = |&(from_mm, to_mm): &(f64, f64)| PlannedRun {
            from_mm,
            to_mm,
            line_deg,
            chance: 1.0,
            hollow_mm: None,
            rock_mm: None,
            arc_diameter_mm: None,
            skew_mm: None,
            nearest_reading_mm: None,
        };
        let runs = runs.iter().map(run).collect();
        PlannedPiece { piece: 1, from_deg: line_deg - 45.0, centre_deg: line_deg, expected: 1.0, runs }
    }

    /// Straight, but for its first 40 mm, which bend toward 0 deg by `crook_mm` at the end.
    fn crooked(length_mm: f64, crook_mm: f64) -> Vec<CentrePlace> {
        (0..=40)
            .map(|i| {
                let z_mm = length_mm * f64::from(i) / 40.0;
                let from_axis = crook_mm * (1.0 - z_mm / 40.0).max(0.0).powi(2);
                CentrePlace { z_mm, off_mm: [from_axis - crook_mm * (1.0 - z_mm / length_mm), 0.0], sd_mm: [0.0; 2] }
            })
            .collect()
    }

    #[test]
    fn a_crook_in_the_waste_comes_off_first_where_it_lies_along_the_fence() {
        let (line, length) = (crooked(250.0, 12.0), 250.0);
        let ends = |deg: f64, from: f64| rough_ends(&piece(&[(from, from + 70.0)], deg), length, &line, 13.0);
        // sideways for bark at 90 deg: 12 mm over 250 mm is 0.6 mm over a blank's width
        assert_eq!(ends(90.0, 60.0), RoughEnds { index: true, far: false });
        // bark at 0 deg bends up and down, not along the fence
        assert_eq!(ends(0.0, 60.0), RoughEnds::default());
        // straight cane and no centreline at all
        assert_eq!(
            rough_ends(&piece(&[(60.0, 130.0)], 90.0), length, &crooked(250.0, 0.2), 13.0),
            RoughEnds::default()
        );
        assert_eq!(rough_ends(&piece(&[(60.0, 130.0)], 90.0), length, &[], 13.0), RoughEnds::default());
        // of an even bow a long end is as good as a crook, once it is strong enough
        let even = |bow_mm: f64| {
            let bow = |z: f64| bow_mm * (1.0 - (2.0 * z / length - 1.0).powi(2));
            let places = (0..=40).map(|i| length * f64::from(i) / 40.0);
            let line: Vec<CentrePlace> =
                places.map(|z_mm| CentrePlace { z_mm, off_mm: [bow(z_mm), 0.0], sd_mm: [0.0; 2] }).collect();
            rough_ends(&piece(&[(20.0, 90.0)], 90.0), length, &line, 13.0)
        };
        assert_eq!(even(3.0), RoughEnds::default());
        assert_eq!(even(6.0), RoughEnds { index: false, far: true });
    }

    #[test]
    fn cuts_that_are_all_alike_get_one_statement_and_the_odd_one_a_flag() {
        let cuts = |length: f64, runs: &[(f64, f64)]| {
            let runs: Vec<Stretch> = runs.iter().map(|&(from_mm, to_mm)| Stretch { from_mm, to_mm }).collect();
            vec![PieceCuts { piece: 1, order: order_cuts(length, &runs, &HoldRule::default()) }]
        };
        assert_eq!(tube_hold(&cuts(200.0, &[])), TubeHold::NoCut);
        assert_eq!(tube_hold(&cuts(176.0, &[(27.0, 97.0), (98.0, 168.0)])), TubeHold::HelpAll);
        assert_eq!(tube_hold(&cuts(500.0, &[(400.0, 470.0)])), TubeHold::Clear);
        // three of seven cuts
        let long = cuts(540.0, &[(20.0, 90.0), (91.0, 161.0), (162.0, 232.0), (300.0, 370.0), (371.0, 441.0)]);
        let flagged = long[0].order.as_ref().unwrap().cuts.iter().filter(|c| c.holding != Holding::HandsClear).count();
        assert_eq!(tube_hold(&long), TubeHold::HelpSome, "{flagged}");
    }
}
