//! Wrap strips from real plans.

use super::ReportInput;
use super::bench::bench_fn;
use crate::decide::plan::TubePlan;
use crate::decide::tube_view::TubeView;
use crate::domain::{Angle, counted};
use crate::output::cautions;
use crate::output::words::{self, Signs};
use crate::paper::font::plain;
use crate::paper::scene::Scene;
use crate::paper::strip::{StripError, StripRun, StripSheet, StripSpec, pages};

/// The strip of one tube; `None` when it has no split.
#[must_use]
pub fn strip_spec(plan: &TubePlan, view: &TubeView) -> Option<StripSpec> {
    let split = plan.split.as_ref()?;
    let runs = plan
        .pieces
        .iter()
        .enumerate()
        .flat_map(|(piece, p)| p.runs.iter().map(move |r| StripRun { piece, from_mm: r.from_mm, to_mm: r.to_mm }));
    let note = if plan.fit.seen.size {
        format!("split 1: {}", words::flat_top(split, Signs::Print))
    } else {
        words::sentence(words::CHECK_GIRTH)
    };
    Some(StripSpec {
        tube: plan.fit.tube.clone(),
        girth_mm: view.girth_mm,
        length_mm: plan.fit.length_mm,
        split_angles: plan.pieces.iter().map(|p| Angle::from_degrees(p.from_deg)).collect(),
        piece_names: plan.pieces.iter().map(|p| p.piece.to_string()).collect(),
        runs: runs.collect(),
        note,
    })
}

/// The pages of all tubes that have a strip, and one line for each tube that has none.
pub(crate) fn strip_pages(input: &ReportInput<'_>) -> (Vec<Scene>, Vec<String>) {
    let r = &input.results;
    let sheet = StripSheet {
        paper: input.paper,
        heading: format!("Lot {}, seed {}, {}", r.lot.name, r.options.seed, counted(r.options.draws, "draw")),
        foot: cautions::IN_ONE_LINE.to_string(),
        length_text: bench_fn(input.units),
        ..StripSheet::default()
    };
    let (mut specs, mut without) = (Vec::new(), Vec::new());
    for (outcome, view) in r.outcomes.iter().zip(input.views) {
        let name = plain(&outcome.tube);
        let (Ok(plan), Some(view)) = (&outcome.plan, view) else {
            without.push(format!("tube {name}: {}", plain(&words::why_not(outcome))));
            continue;
        };
        match strip_spec(plan, view) {
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
