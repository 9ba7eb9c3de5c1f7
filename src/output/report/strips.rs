//! Wrap strips from real plans.

use super::ReportInput;
use super::bench::bench_fn;
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::domain::units::LengthUnit;
use crate::domain::{Angle, Mark, counted};
use crate::output::cautions;
use crate::output::show::Units;
use crate::output::words::{self, Signs};
use crate::paper::font::plain;
use crate::paper::scene::Scene;
use crate::paper::strip::{StripError, StripMark, StripRun, StripSheet, StripSpec, pages};

/// The strip of one tube; `None` when it has no split.
#[must_use]
pub fn strip_spec(plan: &TubePlan, view: &TubeView, marks: &[Mark]) -> Option<StripSpec> {
    let split = plan.split.as_ref()?;
    let runs = plan.pieces.iter().zip(&view.across_mm).enumerate().flat_map(|(piece, (p, across))| {
        p.runs.iter().zip(across).map(move |(r, across_mm)| StripRun {
            piece,
            from_mm: r.from_mm,
            to_mm: r.to_mm,
            across_mm: Some(*across_mm),
            chance: Some(r.chance),
        })
    });
    let note = if plan.fit.seen.size {
        format!("split 1: {}", words::flat_top(split, Signs::Print))
    } else {
        words::sentence(words::CHECK_GIRTH)
    };
    Some(StripSpec {
        tube: plan.fit.tube.clone(),
        girth_mm: view.end.girth.whole_mm(),
        length_mm: plan.fit.length_mm,
        split_angles: plan.pieces.iter().map(|p| Angle::from_degrees(p.from_deg)).collect(),
        split_along_mm: plan.pieces.iter().map(|p| view.end.girth.at_mm(p.from_deg)).collect(),
        piece_names: plan.pieces.iter().map(|p| p.piece.to_string()).collect(),
        runs: runs.collect(),
        marks: marks.iter().map(|m| strip_mark(plan, m)).collect(),
        note,
    })
}

/// A mark with the pieces it touches.
fn strip_mark(plan: &TubePlan, mark: &Mark) -> StripMark {
    let touches = |i: usize| {
        let (Some(from), Some(to)) = (mark.from, mark.to) else { return true };
        let piece_deg = plan.pieces[i].from_deg;
        let ahead = |of: f64, base: f64| (of - base).rem_euclid(360.0);
        // one of two stretches of a circle begins in the other, or they do not meet
        ahead(from.degrees(), piece_deg) <= plan.span_deg(i)
            || ahead(piece_deg, from.degrees()) <= ahead(to.degrees(), from.degrees())
    };
    StripMark {
        pieces: (0..plan.pieces.len()).filter(|i| touches(*i)).collect(),
        from_mm: mark.from_mm,
        to_mm: mark.to_mm,
        why: mark.why.clone(),
    }
}

/// The pages of all tubes that have a strip, and one line for each tube that has none.
#[must_use]
pub fn strip_pages(input: &ReportInput<'_>) -> (Vec<Scene>, Vec<String>) {
    let r = &input.results;
    let sheet = StripSheet {
        paper: input.paper,
        heading: format!("Lot {}, seed {}, {}", r.lot.name, r.options.seed, counted(r.options.draws, "draw")),
        foot: cautions::IN_ONE_LINE.to_string(),
        length_text: bench_fn(input.units),
        ruler: if input.units == Units::Inch { LengthUnit::Inch } else { LengthUnit::Millimetre },
        ..StripSheet::default()
    };
    let (mut specs, mut without) = (Vec::new(), Vec::new());
    for ((outcome, view), tube) in r.outcomes.iter().zip(input.views).zip(&input.lot.tubes) {
        let name = plain(&outcome.tube);
        let (Ok(plan), Some(view)) = (&outcome.plan, view) else {
            without.push(format!("tube {name}: {}", plain(&words::why_not(outcome))));
            continue;
        };
        match strip_spec(plan, view, &tube.marks) {
            None => without.push(format!("tube {name}: {}", words::TOO_SHORT)),
            Some(spec) => match pages(std::slice::from_ref(&spec), &sheet) {
                Ok(_) => specs.push(spec),
                Err(StripError::Refused(faults)) => {
                    without.extend(faults.iter().map(|f| f.to_string().trim().to_string()));
                }
                Err(other) => without.push(format!("tube {name}: {other}")),
            },
        }
    }
    if specs.is_empty() {
        return (Vec::new(), without);
    }
    match pages(&specs, &sheet) {
        Ok(scenes) => (scenes, without),
        Err(why) => {
            without.push(why.to_string());
            (Vec::new(), without)
        }
    }
}
