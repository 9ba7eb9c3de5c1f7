//! The results as JSON, format 1. Lengths are millimetres, weights grams, angles degrees, whatever units the tables use.

use crate::decide::forecast::{Forecast, Interval};
use crate::decide::plan::{PlanOptions, PlannedPiece, TubeOutcome, TubePlan};
use crate::decide::screen::Screened;
use crate::domain::{Finding, Lot, Severity};
use crate::tube::{Doubted, FittedTube, Measured, TubeFigures};
use serde_json::{Map, Value, json};

/// Everything a plan of a lot says.
#[derive(Debug)]
pub struct Results<'a> {
    /// The lot.
    pub lot: &'a Lot,
    /// Seed and draws.
    pub options: PlanOptions,
    /// Tubes, in the lot's order.
    pub outcomes: &'a [TubeOutcome],
    /// Verdicts, in the same order.
    pub screened: &'a [Option<Screened>],
    /// The forecast over the planned tubes.
    pub forecast: &'a Forecast,
    /// What was noticed about the files.
    pub findings: &'a [Finding],
}

/// The whole result. Tubes without a plan stand in `not_planned` with the reason.
#[must_use]
pub fn results(r: &Results<'_>) -> Value {
    let tubes: Vec<Value> = r
        .outcomes
        .iter()
        .zip(r.screened)
        .filter_map(|(o, s)| o.plan.as_ref().ok().map(|p| tube(p, s.as_ref())))
        .collect();
    let not_planned: Vec<Value> = r
        .outcomes
        .iter()
        .filter(|o| o.plan.is_err())
        .map(|o| json!({"tube": o.tube, "why": super::tables::why_not(o)}))
        .collect();
    json!({
        "format": 1,
        "seed": r.options.seed,
        "draws": r.options.draws,
        "lot": lot(r.lot),
        "tubes": tubes,
        "not_planned": not_planned,
        "forecast": forecast(r.forecast, r.lot),
        "findings": r.findings.iter().map(finding).collect::<Vec<Value>>(),
    })
}

/// A number rounded to six decimals; null when it is not finite.
pub(crate) fn num(x: f64) -> Value {
    if x.is_finite() { json!(super::show::tidy(x, 6)) } else { Value::Null }
}

fn maybe(x: Option<f64>) -> Value {
    x.map_or(Value::Null, num)
}

/// `{"value", "sd"}`, or null where the readings cannot see it.
pub(crate) fn measured(m: Option<Measured>) -> Value {
    m.map_or(Value::Null, |m| json!({"value": num(m.value), "sd": num(m.sd)}))
}

fn lot(l: &Lot) -> Value {
    let t = &l.target;
    json!({
        "name": l.name,
        "bought_weight_g": maybe(l.bought_weight_g),
        "price": maybe(l.price),
        "currency": l.currency,
        "humidity_percent": maybe(l.humidity_percent),
        "target": {
            "instrument": t.instrument,
            "pieces": t.pieces,
            "blank_length_mm": num(t.blank_length_mm),
            "blank_width_mm": num(t.blank_width_mm),
            "blank_thickness_mm": num(t.blank_thickness_mm),
            "arc_diameter_mm": num(t.arc_diameter_mm),
            "arc_tolerance_mm": num(t.arc_tolerance_mm),
            "hollow_mm": num(t.hollow_mm),
            "rock_mm": num(t.rock_mm),
            "skew_mm": num(t.skew_mm),
            "grain_drift_mm": num(t.grain_drift_mm),
            "edge_margin_mm": num(t.edge_margin_mm),
            "clean_up_mm": num(t.clean_up_mm),
        },
        "saw": {"kerf_mm": num(l.saw.kerf_mm), "trim_mm": num(l.saw.trim_mm)},
        "split": {"wander_deg": num(l.split.wander_deg)},
    })
}

fn tube(p: &TubePlan, s: Option<&Screened>) -> Value {
    let f = &p.fit.figures;
    json!({
        "tube": p.fit.tube,
        "length_mm": num(p.fit.length_mm),
        "weight_g": maybe(p.fit.weight_g),
        "readings": p.fit.readings,
        "scan_points": p.fit.scan.map_or(0, |s| s.points),
        "scan_cells": p.fit.scan.map_or(0, |s| s.cells),
        "scan": super::scan_report::scan_json(p.fit.scan.as_ref()),
        "geometry": figures_json(f),
        "split": split(p),
        "pieces": p.pieces.iter().map(piece).collect::<Vec<Value>>(),
        "capacity": p.capacity,
        "screen": s.map_or(Value::Null, |s| json!({
            "verdict": s.verdict.word(), "chance": num(s.chance), "reason": s.reason.to_string(),
        })),
        "saw_first": p.saw_first.map(|s| json!({
            "cut_mm": num(s.cut_mm), "angles_deg": s.angles_deg.map(num), "expected_blanks": num(s.expected),
            "gain_blanks": num(s.gain), "gain_error": num(s.gain_error), "wins": s.wins(),
        })),
        "limits": p.limits.broken.iter().map(|(w, share)| ((*w).to_string(), num(*share))).collect::<Map<String, Value>>(),
        "wall_checked": p.wall_checked,
        "grain_checked": p.grain_checked,
        "doubted": doubted(&p.fit.doubted),
        "suspicions": suspicions(&p.fit),
    })
}

/// A tube's figures.
#[must_use]
pub(crate) fn figures_json(f: &TubeFigures) -> Value {
    json!({
        "diameter_mm": measured(f.diameter_mm),
        "ovality_mm": measured(f.ovality_mm),
        "ovality_deg": measured(f.ovality_deg),
        "bow_mm": measured(f.bow_mm),
        "bow_deg": measured(f.bow_deg),
        "bow_at_mm": maybe(f.bow_at_mm),
        "taper_mm_per_100mm": measured(f.taper_mm_per_100mm),
        "wall_mm": measured(f.wall_mm),
    })
}

/// Slips with a likely cause; `readings` count the tube's readings from 1 in the order of the files. Null when they could
/// not be looked for.
pub(crate) fn suspicions(fit: &FittedTube) -> Value {
    if fit.unsearched.is_some() {
        return Value::Null;
    }
    fit.suspicions
        .iter()
        .map(|s| {
            let readings: Vec<usize> = s.readings.iter().map(|i| i + 1).collect();
            json!({"cause": s.cause.word(), "readings": readings, "place": s.place.to_string(), "words": s.words.to_string(), "advice": s.advice, "gain": num(s.gain)})
        })
        .collect()
}

/// Readings a fit does not believe; `reading` counts the tube's readings from 1 in the order of the files.
pub(crate) fn doubted(list: &[Doubted]) -> Value {
    list.iter()
        .map(|d| {
            json!({
                "reading": d.index + 1, "expected_mm": num(d.expected_mm),
                "departure_sd": num(d.departure_sd), "weight": num(d.weight),
            })
        })
        .collect()
}

fn split(p: &TubePlan) -> Value {
    let Some(s) = &p.split else {
        return json!({
            "angle_deg": null, "expected_blanks": 0.0, "low": 0.0, "high": 0.0,
            "as_good_from_deg": null, "as_good_to_deg": null, "by_angle": [],
            "why": "too short: no blank fits between the trims",
        });
    };
    let choice =
        |c: &crate::decide::split::Choice| json!({"angle_deg": num(c.angle_deg), "expected_blanks": num(c.expected)});
    json!({
        "angle_deg": num(s.best.angle_deg),
        "expected_blanks": num(s.best.expected),
        "low": num(s.interval.0),
        "high": num(s.interval.1),
        "as_good_from_deg": num(s.flat_top.0),
        "as_good_to_deg": num(s.flat_top.1),
        "arbitrary_blanks": num(s.arbitrary),
        "least_margin": maybe(s.margin),
        "next_best": s.runners_up.iter().map(choice).collect::<Vec<Value>>(),
        "by_angle": s.by_angle.iter().map(choice).collect::<Vec<Value>>(),
    })
}

fn piece(p: &PlannedPiece) -> Value {
    let runs: Vec<Value> = p
        .runs
        .iter()
        .map(|r| {
            json!({
                "from_mm": num(r.from_mm),
                "to_mm": num(r.to_mm),
                "line_deg": num(r.line_deg),
                "chance": num(r.chance),
                "hollow_mm": measured(r.hollow_mm),
                "rock_mm": measured(r.rock_mm),
                "arc_diameter_mm": measured(r.arc_diameter_mm),
                "skew_mm": measured(r.skew_mm),
                "nearest_reading_mm": maybe(r.nearest_reading_mm),
            })
        })
        .collect();
    json!({
        "piece": p.piece,
        "from_deg": num(p.from_deg),
        "centre_deg": num(p.centre_deg),
        "expected_blanks": num(p.expected),
        "runs": runs,
    })
}

/// The forecast alone.
#[must_use]
pub fn forecast(f: &Forecast, lot: &Lot) -> Value {
    let side = |i: Option<Interval>, get: fn(&Interval) -> f64| maybe(i.as_ref().map(get));
    json!({
        "tubes": f.tubes,
        "blanks": num(f.blanks.expected),
        "low": num(f.blanks.low),
        "high": num(f.blanks.high),
        "arbitrary_blanks": num(f.arbitrary),
        "weight_g": maybe(f.weight_g.map(|w| w.0)),
        "tubes_weighed": f.weight_g.map_or(0, |w| w.1),
        "blanks_per_kg": side(f.per_kg, |i| i.expected),
        "blanks_per_kg_low": side(f.per_kg, |i| i.low),
        "blanks_per_kg_high": side(f.per_kg, |i| i.high),
        "blanks_per_lb": side(f.per_lb, |i| i.expected),
        "blanks_per_lb_low": side(f.per_lb, |i| i.low),
        "blanks_per_lb_high": side(f.per_lb, |i| i.high),
        "cost_per_blank": side(f.cost_per_blank, |i| i.expected),
        "cost_per_blank_low": side(f.cost_per_blank, |i| i.low),
        "cost_per_blank_high": side(f.cost_per_blank, |i| i.high),
        "currency": lot.currency,
    })
}

/// One finding.
#[must_use]
pub fn finding(f: &Finding) -> Value {
    json!({
        "severity": match f.severity { Severity::Error => "error", Severity::Note => "note" },
        "file": &*f.place.file,
        "line": f.place.line,
        "column": f.place.column,
        "found": f.found,
        "expected": f.expected,
        "fix": f.fix,
        "tube": f.tube,
    })
}
