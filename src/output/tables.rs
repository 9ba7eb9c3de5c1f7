//! The tables the commands print.

use super::show::Units;
use super::table::{Cell, Table};
use super::words::{self, whole_degrees};
use crate::decide::by_eye::by_eye;
use crate::decide::plan::TubePlan;
use crate::domain::Finding;
use crate::domain::units::{G_PER_POUND, WeightUnit};
use crate::lot::{FitOutcome, Forecast, TubeOutcome, percent};

/// The figures of every tube; `n` counts its readings, `odd` those the fit does not believe.
#[must_use]
pub fn figures_table(outcomes: &[FitOutcome], units: Units) -> Table {
    let u = units.word();
    let titles = [
        "tube".to_string(),
        format!("length {u}"),
        "n".into(),
        format!("diameter {u}"),
        "sd".into(),
        format!("ovality {u}"),
        "sd".into(),
        "at deg".into(),
        format!("bow {u}"),
        "sd".into(),
        "to deg".into(),
        format!("taper {}", units.taper_word()),
        "odd".into(),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    for o in outcomes {
        let p = match &o.fit {
            Ok(p) => p,
            Err(why) => {
                t.push_note(&o.tube, &why.to_string());
                continue;
            }
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
            Cell::known(f.ovality_deg.map(|m| whole_degrees(m.value)), 0),
            value(f.bow_mm, 2),
            sd(f.bow_mm, 2),
            Cell::known(f.bow_deg.map(|m| whole_degrees(m.value)), 0),
            Cell::seen(f.taper_mm_per_100mm.map(|m| units.taper(m.value)), units.taper_decimals()),
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
pub(crate) fn splits_table(outcomes: &[TubeOutcome]) -> Table {
    let mut t = Table::new(&[
        "tube",
        "split at deg",
        "blanks",
        "low",
        "high",
        "marked alone",
        "as good from deg",
        "to deg",
        "any angle gives",
    ]);
    for o in outcomes {
        match &o.plan {
            Ok(p) => match &p.split {
                Some(s) => t.push(vec![
                    Cell::text(&p.fit.tube),
                    Cell::Number(whole_degrees(s.best.angle_deg), 0),
                    Cell::Number(s.best.expected, 1),
                    Cell::Number(s.interval.0, 0),
                    Cell::Number(s.interval.1, 0),
                    Cell::known(p.marked.as_ref().map(|m| m.expected), 1),
                    Cell::Number(whole_degrees(s.flat_top.0), 0),
                    Cell::Number(whole_degrees(s.flat_top.1), 0),
                    Cell::Number(s.arbitrary, 1),
                ]),
                None => t.push_note(&p.fit.tube, words::TOO_SHORT),
            },
            Err(why) => t.push_note(&o.tube, &why.to_string()),
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
                        Cell::text(&p.fit.tube),
                        count_cell(piece.piece),
                        Cell::Number(whole_degrees(piece.centre_deg), 0),
                        Cell::Number(piece.expected, 2),
                    ]
                } else {
                    vec![
                        Cell::text(&p.fit.tube),
                        count_cell(piece.piece),
                        Cell::Number(whole_degrees(piece.centre_deg), 0),
                        Cell::Empty,
                    ]
                }
            };
            if piece.runs.is_empty() {
                let mut row = head(true);
                row.push(Cell::text(words::no_run(piece)));
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
                    Cell::Number(whole_degrees(r.line_deg), 0),
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
pub fn screen_table(outcomes: &[TubeOutcome], least: f64, units: Units) -> Table {
    let chance = format!("chance of {}+ %", words::least(least));
    let mut t = Table::new(&["tube", "verdict", "blanks", "low", "high", &chance, "why"]);
    for o in outcomes {
        match &o.plan {
            Ok(p) => {
                let (low, high) = p.split.as_ref().map_or((0.0, 0.0), |x| x.interval);
                t.push(vec![
                    Cell::text(&p.fit.tube),
                    Cell::text(p.screen.verdict.word()),
                    Cell::Number(p.expected(), 1),
                    Cell::Number(low, 0),
                    Cell::Number(high, 0),
                    count_cell(percent(p.screen.chance)),
                    Cell::text(units.told(&p.screen.reason)),
                ]);
            }
            Err(why) => t.push_note(&o.tube, &why.to_string()),
        }
    }
    t
}

/// The forecast, one line for the lot and one a tube.
#[must_use]
pub fn forecast_table(f: &Forecast, plans: &[&TubePlan], weights: WeightUnit, units: Units) -> Table {
    let weight = |g: Option<f64>| Cell::known(g.map(|g| g / weights.grams()), weights.decimals(1));
    let mut t = Table::new(&[
        "tube",
        &format!("weight {}", weights.word()),
        "blanks",
        "low",
        "high",
        "marked alone",
        "with what nobody read",
        "blanks per kg",
        "blanks per lb",
        "cost per blank",
        "currency",
        "cost basis",
        "by eye",
        "measuring min",
    ]);
    // rates of the rows in the air that the total is told in
    let heavier = f.air.map_or(1.0, |a| a.ratio);
    let all = if f.without_leave { "all planned tubes, those to leave as giving none" } else { "all planned tubes" };
    for p in plans {
        let (low, high) = p.split.as_ref().map_or((0.0, 0.0), |s| s.interval);
        let rate = p.fit.weight_g.filter(|w| *w > 0.0).map(|w| p.expected() / (w * heavier));
        t.push(vec![
            Cell::text(&p.fit.tube),
            weight(p.fit.weight_g),
            Cell::Number(p.expected(), 2),
            Cell::Number(low, 0),
            Cell::Number(high, 0),
            Cell::known(p.marked.as_ref().map(|m| m.expected), 2),
            Cell::known(p.unchecked.as_ref().map(|u| u.expected), 2),
            Cell::known(rate.map(|r| r * 1000.0), 1),
            Cell::known(rate.map(|r| r * G_PER_POUND), 1),
            Cell::Empty,
            Cell::Empty,
            Cell::Empty,
            Cell::known(by_eye(p), 2),
            Cell::known(p.minutes, 1),
        ]);
    }
    t.push(vec![
        Cell::text(all),
        weight(f.weight_g.map(|w| w.0)),
        Cell::Number(f.blanks.expected, 2),
        Cell::Number(f.blanks.low, 0),
        Cell::Number(f.blanks.high, 0),
        Cell::known(f.marked.map(|m| m.expected), 2),
        Cell::known(f.not_checked.map(|n| n.blanks.expected), 2),
        Cell::known(f.per_kg.map(|i| i.expected), 1),
        Cell::known(f.per_lb.map(|i| i.expected), 1),
        Cell::known(f.cost_per_blank.map(|i| i.expected), 3),
        Cell::text(&f.currency),
        Cell::text(words::price_shared(f)),
        Cell::known(f.by_eye, 2),
        Cell::known(f.measuring_minutes, 1),
    ]);
    if let Some(w) = &f.whole {
        t.push(vec![
            Cell::text("the whole lot"),
            Cell::Empty,
            Cell::Number(w.blanks.expected, 2),
            Cell::Number(w.blanks.low, 0),
            Cell::Number(w.blanks.high, 0),
            Cell::Empty,
            Cell::Empty,
            Cell::known(w.per_kg.map(|i| i.expected), 1),
            Cell::known(w.per_kg.map(|i| i.expected * G_PER_POUND / 1000.0), 1),
            Cell::known(w.cost_per_blank.map(|i| i.expected), 3),
            Cell::text(&f.currency),
            Cell::text(words::whole_lot(w, weights, units).join("; ")),
        ]);
    }
    if let Some(e) = &f.earlier {
        let rows = [(all, Some(e.blanks)), ("the whole lot", e.whole)];
        for (name, blanks) in rows {
            let Some(i) = blanks else { continue };
            let mut row = vec![Cell::text(format!("{name}, as earlier lots")), Cell::Empty];
            row.extend([Cell::Number(i.expected, 2), Cell::Number(i.low, 0), Cell::Number(i.high, 0)]);
            row.resize_with(11, || Cell::Empty);
            row.push(Cell::text(words::promise(e.promise)));
            t.push(row);
        }
    }
    t
}

/// One line a finding.
#[must_use]
pub fn findings_table(findings: &[Finding]) -> Table {
    let mut t = Table::new(&["severity", "file", "line", "column", "found", "expected", "what to do", "tube"]);
    for f in findings {
        t.push(vec![
            Cell::text(words::severity(f.severity)),
            Cell::text(&*f.place.file),
            if f.place.line > 0 { Cell::text(f.place.line.to_string()) } else { Cell::Empty },
            Cell::text(&f.place.column),
            Cell::text(&f.found),
            Cell::text(&f.expected),
            Cell::text(&f.fix),
            Cell::text(f.tube.as_deref().unwrap_or("")),
        ]);
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rows_of_a_forecast_are_in_the_air_of_its_total_which_says_what_it_counts() {
        let mut lot = crate::lot::Prepared::read("data-samples/grid".as_ref(), &["G1".into()]).expect("ready");
        lot.lot.humidity_percent = Some(40.0);
        let options = crate::decide::plan::PlanOptions { draws: 5, ..Default::default() };
        let plan = lot.assess(options, crate::lot::QUIETLY).expect("planned");
        let rows = |without_leave: bool| -> Vec<Vec<String>> {
            let counting = crate::lot::Counting { without_leave, at_humidity_percent: Some(70.0) };
            let plan = plan.clone().counted(counting).expect("known");
            let text = forecast_table(&plan.forecast, &plan.plans(), WeightUnit::Gram, Units::Mm).to_csv();
            text.lines().skip(1).map(|l| l.split(',').map(String::from).collect()).collect()
        };
        // one tube is all there is: its row and the total say the same rates, per kg and per lb
        let all = rows(false);
        assert_eq!((all[0][0].as_str(), all[1][0].as_str()), ("G1", "all planned tubes"));
        assert!(!all[0][7].is_empty() && all[0][7..9] == all[1][7..9], "{all:?}");
        assert!(
            rows(true)[1][0].contains("those to leave as giving none") || rows(true)[1][1].contains("those to leave")
        );
    }
}
