//! The reports the commands print as text.

use super::fold::{fold, set_in};
use super::next_readings;
use super::scales;
use super::show::{NOT_SEEN, Units, measured_degrees};
use super::tables;
use super::words::{self, Signs};
use crate::decide::by_eye::EYE_DEG;
use crate::decide::packages::Next;
use crate::decide::plan::{PlanOptions, TubePlan};
use crate::domain::units::{WeightUnit, decimal, print_weight};
use crate::domain::{Assumed, Finding, Lot, Severity, WETTER_ABOVE_PERCENT, counted};
use crate::lot::{Assessed, Forecast, Interval, Terms, percent};
use crate::numeric::summary::count;
use crate::tube::Measured;
use std::fmt::Write as _;

pub use super::fold::{hanging, wrapped};

/// The plan of one tube as a block of text.
#[must_use]
fn plan_block(p: &TubePlan, lot: &Terms, units: Units) -> String {
    let u = units.word();
    let mut out = String::new();
    let weight = p.fit.weight_g.map_or(String::new(), |w| format!(", {}", print_weight(w, lot.weight_unit, 1)));
    let f = &p.fit.figures;
    let _ = writeln!(
        out,
        "{}: {} {u}{weight}, {}",
        p.fit.tube,
        units.length(p.fit.length_mm, 1),
        counted(p.fit.readings, "reading")
    );
    let seen = |name: &str, m: Option<Measured>, toward: Option<(&str, Option<Measured>)>| match m {
        None => format!("{name} {NOT_SEEN}"),
        Some(_) => {
            let where_to = toward.map_or(String::new(), |(word, a)| format!(" {word} {} deg", measured_degrees(a)));
            format!("{name} {} {u}{where_to}", units.measured(m, 2))
        }
    };
    let figures = [
        seen("diameter", f.diameter_mm, None),
        seen("ovality", f.ovality_mm, Some(("at", f.ovality_deg))),
        seen("bow", f.bow_mm, Some(("toward", f.bow_deg))),
    ];
    out.push_str(&fold("  ", &figures, 2));
    out.push_str(&super::scan_report::scan_lines(&p.fit, units));
    let Some(s) = &p.split else {
        let _ = writeln!(out, "  {}", words::TOO_SHORT);
        return out;
    };
    let split = if p.as_split {
        vec![format!("{}: {}", words::lines_fell(p, Signs::Plain), words::expected(s))]
    } else {
        let at = Signs::Plain.degrees(s.best.angle_deg);
        vec![format!("split at {at}: {}", words::expected(s)), words::flat_top(s, Signs::Plain)]
    };
    out.push_str(&fold("  ", &split, 4));
    if let Some(m) = &p.marked {
        out.push_str(&fold("  ", &[words::marked_alone(m)], 4));
    }
    if !p.as_split {
        out.push_str(&fold("  ", &[words::next_best(s, Signs::Plain), words::arbitrary(s)], 4));
    }
    for piece in &p.pieces {
        let runs: Vec<String> = piece
            .runs
            .iter()
            .map(|r| {
                format!(
                    "{} to {} on {} ({} %)",
                    units.length(r.from_mm, 1),
                    units.length(r.to_mm, 1),
                    Signs::Plain.degrees(r.line_deg),
                    percent(r.chance)
                )
            })
            .collect();
        let runs = if runs.is_empty() { vec![words::no_run(piece).to_string()] } else { runs };
        let head = format!(
            "  piece {} about {:>3.0} deg, {:.1}: ",
            piece.piece,
            words::whole_degrees(piece.centre_deg),
            piece.expected
        );
        out.push_str(&fold(&head, &runs, 6));
    }
    if let Some(mut words) = p.saw_first.as_ref().and_then(|s| words::saw_first(s, units, Signs::Plain)) {
        words.extend(words::SAWING_FIRST.map(String::from));
        out.push_str(&fold("  ", &words, 4));
    }
    if let Some(u) = &p.unchecked {
        out.push_str(&fold("  ", &[words::with_unread(u, lot.assumed)], 4));
    }
    if let Some(words) = next_readings::next(p, units) {
        out.push_str(&set_in(&words, 2, 4));
    }
    out
}

/// What was computed, in one line.
#[must_use]
pub fn lot_line(lot: &Lot, options: PlanOptions, units: Units) -> String {
    let t = &lot.target;
    let small = if scales::far_from_an_inch(t.arc_diameter_mm) {
        format!("\n  {}", hanging(scales::SMALL_TUBES, 2).trim_end())
    } else {
        String::new()
    };
    format!(
        "Lot {}: {}; {}, {}, blank {}, arc {} +-{}; seed {}, {}{small}",
        lot.name,
        counted(lot.tubes.len(), "tube"),
        t.instrument,
        counted(t.pieces, "piece"),
        units.with_word(t.blank_length_mm, 1),
        units.length(t.arc_diameter_mm, 1),
        units.with_word(t.arc_tolerance_mm, 1),
        options.seed,
        counted(options.draws, "draw")
    )
}

/// What a check found, in a few lines.
#[must_use]
pub fn check_lines(lot: &Lot, files: &[String], findings: &[Finding]) -> String {
    let mut out = String::new();
    let readings: usize = lot.tubes.iter().map(|t| t.readings.len()).sum();
    let doubt: Vec<&str> = lot.tubes.iter().filter(|t| t.in_doubt).map(|t| t.name.as_str()).collect();
    let errors = findings.iter().filter(|f| f.severity == Severity::Error).count();
    let _ = writeln!(
        out,
        "Lot {}: {}, {}, from {}",
        lot.name,
        counted(lot.tubes.len(), "tube"),
        counted(readings, "reading"),
        files.join(", ")
    );
    if errors == 0 {
        let _ = writeln!(out, "nothing to mend; {}", counted(findings.len(), "note"));
    } else {
        let _ = writeln!(out, "{errors} to mend, {}", counted(findings.len() - errors, "note"));
    }
    if !doubt.is_empty() {
        let _ = writeln!(out, "not analysed until mended: {}", doubt.join(", "));
    }
    out
}

/// The forecast as lines of text.
#[must_use]
pub fn forecast_lines(assessed: &Assessed, units: Units) -> String {
    let f = &assessed.forecast;
    let mut out = String::new();
    let left_out = assessed.outcomes.len() - f.tubes;
    let _ = writeln!(
        out,
        "{} planned{}; every interval is 90 %",
        counted(f.tubes, "tube"),
        if left_out > 0 { format!(", {left_out} left out") } else { String::new() }
    );
    out.push_str(&blank_lines(f));
    out.push_str(&count_lines(f));
    out.push_str(&time_lines(f));
    out.push_str(&gauged_lines(f, assessed.lot.assumed));
    out.push_str(&rate_lines(f, assessed.lot.weight_unit, || words::no_rate(f.tubes, &assessed.outcomes)));
    match (f.cost_per_blank, f.cost_basis) {
        (_, None) => {
            let _ = writeln!(out, "cost per blank  not known: lot.toml gives no price");
        }
        (Some(c), Some(_)) => {
            let each = words::cost([c.expected, c.low, c.high], &f.currency, "");
            out.push_str(&fold("cost per blank  ", &[each, words::price_shared(f)], 16));
        }
        (None, Some(_)) => {
            let why = if f.tubes == 0 { "not known: no tube is planned" } else { "none: no blank is expected" };
            let _ = writeln!(out, "cost per blank  {why}");
        }
    }
    out.push_str(&whole_lines(f, assessed.lot.weight_unit, units));
    out.push_str(&earlier_lines(f));
    out.push_str(&limit_lines(f, units));
    out
}

/// What marked runs give alone, and what was not checked.
pub(super) fn gauged_lines(f: &Forecast, assumed: Assumed) -> String {
    let mut out = String::new();
    if let Some(marked) = f.marked {
        let _ = writeln!(out, "marked runs     {} alone, good or not where they are marked", range(marked, 0));
    }
    if let Some(n) = &f.not_checked {
        let told = words::lot_with_unread(n, f.tubes, assumed);
        out.push_str(&fold("not checked     ", &told, 16));
    }
    out
}

/// Blanks by weight, or why there are none.
pub(super) fn rate_lines(f: &Forecast, unit: WeightUnit, why: impl FnOnce() -> &'static str) -> String {
    let (Some(kg), Some(lb), Some((w, n))) = (f.per_kg, f.per_lb, f.weight_g) else {
        return format!("blanks per kg   {}\n", why());
    };
    let some = if n < f.tubes { format!(" ({n} of {} weighed)", counted(f.tubes, "tube")) } else { String::new() };
    let mut out = format!("blanks per kg   {}\nblanks per lb   {}{some}\n", range(kg, 0), range(lb, 0));
    let _ = writeln!(out, "weight          {}", weighed(w, unit));
    out.push_str(&air_lines(f));
    out
}

/// The blanks, and those of arbitrary split angles.
pub(super) fn blank_lines(f: &Forecast) -> String {
    let again = if f.marked.is_some() { " when every quarter is gauged again after the split" } else { "" };
    let mut out = format!("blanks          {}{again}\n", range(f.blanks, 0));
    if f.blanks.expected > 0.0 && f.arbitrary < f.blanks.expected {
        let _ = writeln!(
            out,
            "                {:.0} at arbitrary split angles: choosing them is worth {:.0} % more",
            f.arbitrary,
            100.0 * (f.blanks.expected / f.arbitrary.max(1e-9) - 1.0)
        );
    }
    out
}

/// A weight in the unit of its lot, and in one of the other system.
fn weighed(g: f64, unit: WeightUnit) -> String {
    let other = match unit {
        WeightUnit::Pound => WeightUnit::Kilogram,
        _ => WeightUnit::Pound,
    };
    format!("{} ({})", print_weight(g, unit, 1), print_weight(g, other, 0))
}

/// The blanks as earlier lots bore out what was promised of them.
pub(super) fn earlier_lines(f: &Forecast) -> String {
    let Some(e) = f.earlier else { return String::new() };
    let mut parts = vec![format!("{} blanks", range(e.blanks, 0))];
    parts.extend(e.whole.map(|w| format!("{} of the whole lot", range(w, 0))));
    parts.push(words::promise(e.promise));
    fold("as earlier lots ", &parts, 16)
}

/// The blanks with and without the tubes to leave, both; and what ends in no blank.
pub(super) fn count_lines(f: &Forecast) -> String {
    let mut parts = Vec::new();
    if let (Some(all), Some(worth)) = (f.all_measured, f.worth_splitting)
        && worth.tubes < all.tubes
    {
        let left = counted(all.tubes - worth.tubes, "tube");
        parts.push(if f.without_leave {
            format!("{left} to leave counted as none; {} of all {}", range(all.blanks, 0), counted(all.tubes, "tube"))
        } else {
            format!("{} without the {left} that the screening leaves", range(worth.blanks, 0))
        });
    }
    if f.tubes > 0 {
        parts.push(format!("{} a tube", decimal(f.blanks.expected / count(f.tubes), 1)));
    }
    parts.extend(f.waste.map(|w| {
        let percent = |x: f64| decimal(100.0 * x, 0);
        let (low, high) = (percent(w.low), percent(w.high));
        format!("{} % ({low} to {high}) of the pieces' length ends in no blank", percent(w.expected))
    }));
    if parts.is_empty() { String::new() } else { fold("                ", &parts, 16) }
}

/// What measuring and splitting take, and what measuring brings over splitting by eye.
pub(super) fn time_lines(f: &Forecast) -> String {
    // of a tube that is split already nothing is left to choose
    let Some(by_eye) = f.by_eye.filter(|_| f.tubes > 0) else { return String::new() };
    let brings = f.blanks.expected - by_eye;
    let mut parts = vec![format!(
        "{} blanks split by eye, on the axes of the ovals, {} deg off",
        decimal(by_eye, 0),
        decimal(EYE_DEG, 0)
    )];
    match f.measuring_minutes {
        Some(m) if m > 0.0 => parts.push(format!(
            "measuring took {} min and brings {} blanks over that, {} an hour",
            decimal(m, 0),
            decimal(brings, 1),
            decimal(60.0 * brings / m, 1)
        )),
        _ => parts.push(format!("measuring brings {} blanks over that", decimal(brings, 1))),
    }
    parts.push(format!("splitting takes {} min", decimal(f.splitting_minutes, 0)));
    fold("by eye, time    ", &parts, 16)
}

/// In what air weights are told.
fn air_lines(f: &Forecast) -> String {
    let Some(air) = f.air else { return String::new() };
    let told = |percent: f64| decimal(percent, 0);
    let mut parts = vec![format!(
        "weighed at {} % of humidity, told at {} %: {} times as heavy",
        told(air.weighed_percent),
        told(air.told_percent),
        decimal(air.ratio, 3)
    )];
    parts.extend(f.price_per_kg.map(|p| format!("{} a kg there", words::money(p, &f.currency))));
    parts.push("cane is taken to be close to wood".to_string());
    if air.weighed_percent.max(air.told_percent) > WETTER_ABOVE_PERCENT {
        parts.push(format!("above {} % cane that was never washed is wetter than that", told(WETTER_ABOVE_PERCENT)));
    }
    fold("                ", &parts, 16)
}

/// The whole lot, where some of it is not measured.
fn whole_lines(f: &Forecast, weights: WeightUnit, units: Units) -> String {
    let Some(w) = &f.whole else { return String::new() };
    let mut parts = vec![format!("{} blanks", range(w.blanks, 0))];
    parts.extend(w.per_kg.map(|i| format!("{} per kg", range(i, 0))));
    parts.extend(w.cost_per_blank.map(|c| words::cost([c.expected, c.low, c.high], &f.currency, " a blank")));
    parts.extend(words::whole_lot(w, weights, units));
    fold("the whole lot   ", &parts, 16)
}

/// What stands below a screening: what it did not check, and what that may cost.
#[must_use]
pub fn screen_notes(assessed: &Assessed, units: Units) -> String {
    let f = &assessed.forecast;
    let mut out = String::new();
    if let Some(n) = &f.not_checked {
        let mut told = vec![format!("blanks of all tubes {} as screened", range(f.blanks, 0))];
        told.extend(words::lot_with_unread(n, f.tubes, assessed.lot.assumed));
        out = fold("", &told, 0);
    }
    for p in assessed.plans() {
        if let Some(Next::Take(package)) = &p.next {
            out += &hanging(&format!("{}: {}", p.fit.tube, next_readings::sentence(package, units)), 2);
        }
    }
    out
}

/// What each limit costs, as lines of text; empty where none was tried.
pub(super) fn limit_lines(f: &Forecast, units: Units) -> String {
    let rows = words::limit_rows(f, units);
    if rows.is_empty() {
        return String::new();
    }
    let told: Vec<String> = rows.iter().map(|r| format!("{} {}", r.limit, r.told())).collect();
    fold("other limits    ", &told, 16)
}

pub(super) fn range(i: Interval, decimals: usize) -> String {
    let [expected, low, high] = [i.expected, i.low, i.high].map(|x| decimal(x, decimals));
    format!("{expected} ({low} to {high})")
}

/// The plan of every tube: summary table, then a block each.
#[must_use]
pub fn split_report(assessed: &Assessed, units: Units) -> String {
    let outcomes = &assessed.outcomes;
    let mut out = tables::splits_table(outcomes).to_text();
    for p in outcomes.iter().filter_map(|o| o.plan.as_ref().ok()) {
        out.push('\n');
        out.push_str(&plan_block(p, &assessed.lot, units));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::plan::NoPlan;
    use crate::domain::Tube;
    use crate::lot::{CostBasis, Estimated, EstimatedBy, ScalesUsed, TubeOutcome, WholePrice};

    /// A lot of two tubes nobody measured.
    fn unmeasured(weight_g: Option<f64>) -> Assessed {
        let tube = |name: &str| Tube { name: name.into(), length_mm: 180.0, weight_g, ..Tube::default() };
        let lot = Lot { bought_weight_g: Some(100.0), price: Some(8.0), ..Lot::default() };
        let outcomes = ["A", "B"].map(|n| TubeOutcome::of(&tube(n), Err(NoPlan::NotMeasured))).to_vec();
        Assessed::of(&lot, PlanOptions::default(), ScalesUsed::default(), outcomes, Vec::new())
    }

    #[test]
    fn a_lot_of_which_nothing_is_measured_is_not_said_to_lack_weights_and_has_no_negative_nought() {
        let shown = forecast_lines(&unmeasured(Some(25.0)), Units::Mm);
        let want = "0 tubes planned, 2 left out; every interval is 90 %\n\
                    blanks          0 (0 to 0)\n\
                    blanks per kg   not known: no tube is planned\n\
                    cost per blank  not known: no tube is planned\n";
        assert_eq!(shown, want);
        let table = tables::forecast_table(&unmeasured(None).forecast, &[], WeightUnit::Gram, Units::Mm);
        for text in [shown, table.to_text(), table.to_csv()] {
            assert!(!text.contains("-0"), "{text}");
        }
    }

    #[test]
    fn the_sentence_of_a_missing_weight_says_whose_is_missing() {
        let mut a = unmeasured(None);
        a.forecast.tubes = 1;
        assert!(forecast_lines(&a, Units::Mm).contains("not known: no tube has a weight (tubes.csv, column weight)\n"));
        a.outcomes[1].weight_g = Some(25.0);
        assert!(
            forecast_lines(&a, Units::Mm)
                .contains("not known: no planned tube has a weight (tubes.csv, column weight)\n")
        );
    }

    #[test]
    fn the_cost_says_how_the_price_was_shared() {
        let estimated = |by| Some(Estimated { tubes: 2, weight_g: 50.0, by });
        for (basis, whole_price, estimated, words) in [
            (CostBasis::ByWeight, None, None, "the price shared by weight"),
            (
                CostBasis::ByEstimatedWeight,
                None,
                estimated(EstimatedBy::LengthAndDiameter),
                "the price shared by weight, that of 2 tubes estimated from length and diameter",
            ),
            (
                CostBasis::ByEstimatedWeight,
                None,
                estimated(EstimatedBy::Length),
                "the price shared by weight, that of 2 tubes estimated from length",
            ),
            (
                CostBasis::WholePrice,
                Some(WholePrice::NoBoughtWeight),
                None,
                "the whole price on these tubes: lot.toml gives no bought weight",
            ),
            (
                CostBasis::WholePrice,
                Some(WholePrice::NoWeight),
                None,
                "the whole price on these tubes: no tube has a weight to share it by",
            ),
            (
                CostBasis::WholePrice,
                Some(WholePrice::MoreThanBought),
                None,
                "the whole price on these tubes: they weigh more than was bought",
            ),
        ] {
            let mut a = unmeasured(None);
            let f = &mut a.forecast;
            f.cost_per_blank = Some(Interval { expected: 0.6, low: 0.5, high: 0.75 });
            (f.cost_basis, f.whole_price, f.estimated, f.currency) =
                (Some(basis), whole_price, estimated, "EUR".into());
            let shown = forecast_lines(&a, Units::Mm);
            let cost = shown.split_once("cost per blank").expect("told").1;
            let cost = cost.split_whitespace().collect::<Vec<&str>>().join(" ");
            assert_eq!(cost, format!("0.60 EUR (0.50 to 0.75); {words}"));
            assert!(shown.lines().all(|l| l.chars().count() <= 100), "{shown}");
        }
    }
}
