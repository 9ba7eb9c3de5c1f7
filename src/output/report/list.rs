//! The bench list from real plans: which tube comes when, and what stands on it.

use super::ReportInput;
use super::bench::bench_fn;
use crate::decide::plan::{PlannedPiece, TubePlan};
use crate::decide::screen::Verdict;
use crate::decide::split::SplitChoice;
use crate::decide::tube_view::TubeView;
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::TubeOutcome;
use crate::lot::batches::{BatchRules, Pile};
use crate::numeric::summary::count;
use crate::output::bench_list::{AsGoodMark, BenchPiece, BenchRun, BenchSheet, BenchTube, Entry, SplitMark, pages};
use crate::output::words::{self, AsGood};
use crate::paper::scene::Scene;

/// The pages of the list.
pub(super) fn list_pages(input: &ReportInput<'_>) -> Vec<Scene> {
    let (r, length) = (input.results, bench_fn(input.units));
    let word = input.units.word();
    let bare = |mm: f64| length(mm).trim_end_matches(word).trim_end().to_string();
    let (target, kerf_mm) = (&r.lot.target, r.lot.saw.kerf_mm);
    let sheet = BenchSheet {
        paper: input.paper,
        units: input.units,
        length_text: bench_fn(input.units),
        lot: r.lot.name.clone(),
        how: format!("seed {}, {}", r.options.seed, counted(r.options.draws, "draw")),
        blank: format!("{} by {}", bare(target.blank_length_mm), length(target.blank_width_mm)),
        pieces: target.pieces,
        kerf: if kerf_mm > 0.0 { format!("kerf {}", length(kerf_mm)) } else { "no kerf".to_string() },
        origin: input.origin.to_string(),
    };
    pages(&entries(input), &sheet)
}

/// The pile that each tube of the lot is worked in.
pub(super) fn pile_of_each(input: &ReportInput<'_>) -> Vec<Option<usize>> {
    let piles = input.results.batches(&BatchRules::default()).map(|b| b.piles).unwrap_or_default();
    let pile_of = |name: &str| piles.iter().find(|p| p.tubes.iter().any(|t| t.tube == name)).map(|p| p.pile);
    input.results.outcomes.iter().map(|o| pile_of(&o.tube)).collect()
}

/// Pile by pile, in the lot's order in each; then, or where there are no piles, the rest in the lot's order; at the end the
/// tubes that are not split.
pub(crate) fn entries(input: &ReportInput<'_>) -> Vec<Entry> {
    let outcomes = &input.results.outcomes;
    let piles = input.results.batches(&BatchRules::default()).map(|b| b.piles).unwrap_or_default();
    let mut placed = vec![false; outcomes.len()];
    let mut list = Vec::new();
    for pile in &piles {
        list.push(Entry::Heading(heading(pile)));
        for tube in &pile.tubes {
            let Some(i) = outcomes.iter().position(|o| o.tube == tube.tube) else { continue };
            placed[i] = true;
            list.push(entry(input, i, Some(pile.pile)));
        }
    }
    let rest = (0..outcomes.len()).filter(|i| !placed[*i]).map(|i| entry(input, i, None));
    let (split, left): (Vec<Entry>, Vec<Entry>) = rest.partition(|e| matches!(e, Entry::Tube(_)));
    if !split.is_empty() && !piles.is_empty() {
        list.push(Entry::Heading("In no pile".into()));
    }
    list.extend(split);
    if !left.is_empty() {
        list.push(Entry::Heading("Not split".into()));
        list.extend(left);
    }
    list
}

fn heading(pile: &Pile) -> String {
    let blanks = pile.expected_blanks.map_or(String::new(), |b| format!(", about {} blanks", decimal(b, 0)));
    format!("Pile {}: {}{blanks}", pile.pile, counted(pile.tubes.len(), "tube"))
}

fn entry(input: &ReportInput<'_>, i: usize, pile: Option<usize>) -> Entry {
    let o = &input.results.outcomes[i];
    match (&o.plan, input.views.get(i).and_then(Option::as_ref)) {
        (Ok(plan), Some(view)) if plan.screen.verdict != Verdict::Leave => match &plan.split {
            Some(split) => Entry::Tube(Box::new(bench_tube(plan, split, view, pile))),
            None => Entry::Left { tube: o.tube.clone(), why: words::TOO_SHORT.into() },
        },
        _ => Entry::Left { tube: o.tube.clone(), why: why_left(input, o) },
    }
}

fn why_left(input: &ReportInput<'_>, o: &TubeOutcome) -> String {
    o.plan.as_ref().map_or_else(
        |_| words::why_not(o),
        |p| format!("{}: {}", p.screen.verdict.word(), input.units.told(&p.screen.reason)),
    )
}

/// What is marked on a tube.
pub(crate) fn bench_tube(plan: &TubePlan, split: &SplitChoice, view: &TubeView, pile: Option<usize>) -> BenchTube {
    let girth = &view.end.girth;
    let deg = split.best.angle_deg;
    let which = AsGood::of(split);
    // where the tube is split, nothing is to be measured off any more
    let next_mm = (which != AsGood::Fell).then(|| girth.whole_mm() / count(plan.pieces.len().max(1)));
    let as_good = match which {
        AsGood::AnyAsFarAsSeen => AsGoodMark::Words("any place, as far as is seen"),
        AsGood::Every => AsGoodMark::Words("any place does as well"),
        AsGood::None => AsGoodMark::Words("no other place does as well"),
        AsGood::Fell => AsGoodMark::Words("split as it fell"),
        AsGood::Range(from, to) => {
            AsGoodMark::Range { along_mm: [girth.at_mm(from), girth.at_mm(to)], deg: [from, to] }
        }
    };
    let middle = |i: usize| plan.pieces[i].from_deg + plan.span_deg(i) / 2.0;
    let pieces = plan.pieces.iter().zip(&view.across_mm).enumerate();
    let pieces = pieces.map(|(i, (p, across))| piece(p, middle(i), across)).collect();
    let notes = if plan.fit.seen.size { Vec::new() } else { vec![words::sentence(words::CHECK_GIRTH)] };
    BenchTube {
        name: plan.fit.tube.clone(),
        pile,
        length_mm: plan.fit.length_mm,
        doubtful: plan.screen.verdict == Verdict::Doubtful,
        split: SplitMark { along_mm: girth.at_mm(deg), deg, next_mm },
        as_good,
        notes,
        radius_mm: view.end.radius_mm.clone(),
        pieces,
    }
}

fn piece(p: &PlannedPiece, middle_deg: f64, across_mm: &[f64]) -> BenchPiece {
    let run = |(r, across_mm): (&crate::decide::plan::PlannedRun, &f64)| BenchRun {
        from_mm: r.from_mm,
        to_mm: r.to_mm,
        across_mm: *across_mm,
        chance: r.chance,
    };
    BenchPiece {
        piece: p.piece,
        from_deg: p.from_deg,
        middle_deg,
        runs: p.runs.iter().zip(across_mm).map(run).collect(),
        // there is no room for the whole sentence
        without: words::no_run(p).trim_start_matches("where "),
    }
}
