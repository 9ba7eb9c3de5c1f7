//! The tables the commands print.

use super::show::Units;
use super::table::{Cell, Table};
use crate::decide::forecast::percent;
use crate::decide::plan::{NoPlan, TubeOutcome, TubePlan};
use crate::decide::screen::Screened;

/// The figures of every tube.
#[must_use]
pub fn figures_table(outcomes: &[TubeOutcome], units: Units) -> Table {
    let u = units.word();
    let titles = [
        "tube".to_string(),
        format!("length {u}"),
        "readings".into(),
        format!("diameter {u}"),
        "sd".into(),
        format!("ovality {u}"),
        "sd".into(),
        "at deg".into(),
        format!("bow {u}"),
        "sd".into(),
        "toward deg".into(),
        format!("taper {u}/100 mm"),
        "doubted".into(),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    for o in outcomes {
        let Ok(p) = &o.plan else {
            t.push(vec![Cell::text(&o.tube), Cell::text(why_not(o))]);
            continue;
        };
        let f = &p.figures;
        let value = |m: Option<crate::tube::Measured>, d: usize| {
            Cell::seen(m.map(|m| units.number(m.value)), units.decimals(d))
        };
        let sd =
            |m: Option<crate::tube::Measured>, d: usize| Cell::known(m.map(|m| units.number(m.sd)), units.decimals(d));
        t.push(vec![
            Cell::text(&p.tube),
            Cell::Number(units.number(p.length_mm), units.decimals(1)),
            count_cell(p.readings),
            value(f.diameter_mm, 2),
            sd(f.diameter_mm, 2),
            value(f.ovality_mm, 2),
            sd(f.ovality_mm, 2),
            Cell::known(f.ovality_deg.map(|m| m.value), 0),
            value(f.bow_mm, 2),
            sd(f.bow_mm, 2),
            Cell::known(f.bow_deg.map(|m| m.value), 0),
            value(f.taper_mm_per_100mm, 2),
            count_cell(p.doubted.len()),
        ]);
    }
    t
}

fn count_cell(n: usize) -> Cell {
    Cell::Number(crate::numeric::summary::count(n), 0)
}

/// One line a tube: angle, blanks, flat top.
#[must_use]
pub fn splits_table(outcomes: &[TubeOutcome]) -> Table {
    let mut t =
        Table::new(&["tube", "split at deg", "blanks", "low", "high", "as good from deg", "to deg", "any angle gives"]);
    for o in outcomes {
        match &o.plan {
            Ok(p) => match &p.split {
                Some(s) => t.push(vec![
                    Cell::text(&p.tube),
                    Cell::Number(s.best.angle_deg, 0),
                    Cell::Number(s.best.expected, 1),
                    Cell::Number(s.interval.0, 0),
                    Cell::Number(s.interval.1, 0),
                    Cell::Number(s.flat_top.0, 0),
                    Cell::Number(s.flat_top.1, 0),
                    Cell::Number(s.arbitrary, 1),
                ]),
                None => t.push(vec![
                    Cell::text(&p.tube),
                    Cell::text("too short"),
                    Cell::Number(0.0, 1),
                    Cell::Number(0.0, 0),
                    Cell::Number(0.0, 0),
                    Cell::Empty,
                    Cell::Empty,
                    Cell::Number(0.0, 1),
                ]),
            },
            Err(_) => t.push(vec![Cell::text(&o.tube), Cell::text(why_not(o))]),
        }
    }
    t
}

/// One line a run.
#[must_use]
pub fn runs_table(plans: &[&TubePlan], units: Units) -> Table {
    let u = units.word();
    let titles = [
        "tube".to_string(),
        "piece".into(),
        "centre deg".into(),
        "piece expects".into(),
        format!("from {u}"),
        format!("to {u}"),
        "line deg".into(),
        "chance %".into(),
        format!("hollow {u}"),
        format!("rock {u}"),
        format!("arc {u}"),
        format!("nearest reading {u}"),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    for p in plans {
        for piece in &p.pieces {
            let head = |first: bool| {
                if first {
                    vec![
                        Cell::text(&p.tube),
                        count_cell(piece.piece),
                        Cell::Number(piece.centre_deg, 0),
                        Cell::Number(piece.expected, 2),
                    ]
                } else {
                    vec![Cell::text(&p.tube), count_cell(piece.piece), Cell::Number(piece.centre_deg, 0), Cell::Empty]
                }
            };
            if piece.runs.is_empty() {
                let mut row = head(true);
                row.push(Cell::text("no run"));
                t.push(row);
            }
            for (i, r) in piece.runs.iter().enumerate() {
                let mut row = head(i == 0);
                let value = |m: Option<crate::tube::Measured>, d: usize| {
                    Cell::seen(m.map(|m| units.number(m.value)), units.decimals(d))
                };
                row.extend([
                    Cell::Number(units.number(r.from_mm), units.decimals(1)),
                    Cell::Number(units.number(r.to_mm), units.decimals(1)),
                    Cell::Number(r.line_deg, 0),
                    count_cell(percent(r.chance)),
                    value(r.hollow_mm, 2),
                    value(r.rock_mm, 2),
                    value(r.arc_diameter_mm, 1),
                    Cell::known(r.nearest_reading_mm.map(|v| units.number(v)), units.decimals(0)),
                ]);
                t.push(row);
            }
        }
    }
    t
}

/// One line a tube: verdict and reason.
#[must_use]
pub fn screen_table(outcomes: &[TubeOutcome], screened: &[Option<Screened>], least: f64) -> Table {
    let chance = format!("chance of {least:.0}+ %");
    let mut t = Table::new(&["tube", "verdict", "blanks", "low", "high", &chance, "why"]);
    for (o, s) in outcomes.iter().zip(screened) {
        match (&o.plan, s) {
            (Ok(p), Some(s)) => {
                let (low, high) = p.split.as_ref().map_or((0.0, 0.0), |x| x.interval);
                t.push(vec![
                    Cell::text(&p.tube),
                    Cell::text(s.verdict.word()),
                    Cell::Number(p.expected(), 1),
                    Cell::Number(low, 0),
                    Cell::Number(high, 0),
                    count_cell(percent(s.chance)),
                    Cell::text(&s.reason),
                ]);
            }
            _ => t.push(vec![
                Cell::text(&o.tube),
                Cell::text("not judged"),
                Cell::Empty,
                Cell::Empty,
                Cell::Empty,
                Cell::Empty,
                Cell::text(why_not(o)),
            ]),
        }
    }
    t
}

/// Why a tube has no plan, in words.
#[must_use]
pub fn why_not(outcome: &TubeOutcome) -> String {
    match &outcome.plan {
        Ok(_) => String::new(),
        Err(NoPlan::InDoubt) => "not analysed: a row of its data cannot be read".into(),
        Err(NoPlan::NotMeasured) => "not measured yet".into(),
        Err(NoPlan::Failed(why)) => format!("not analysed: {why}"),
    }
}
