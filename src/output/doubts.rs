//! Readings that are not believed, and slips that are suspected, in words.

use super::fold::hanging;
use super::show::Units;
use super::words::{self, NOT_SETTLED};
use crate::domain::units::decimal;
use crate::domain::{Finding, Lot, Reading, Severity, Tube};
use crate::tube::{BeliefError, Doubted, FittedTube, Suspicion};

/// Readings the fits do not believe and slips with a likely cause, tube by tube, a sentence each.
#[must_use]
pub fn doubts<'a>(lot: &Lot, fits: impl IntoIterator<Item = &'a FittedTube>, units: Units) -> Vec<String> {
    let mut out = Vec::new();
    for fit in fits {
        let Some(tube) = lot.tubes.iter().find(|t| t.name == fit.tube) else { continue };
        out.extend(fit.doubted.iter().map(|d| doubted(tube, d, units)));
        out.extend(fit.suspicions.iter().map(|s| suspected(tube, s, units)));
        if fit.suspicions_untold > 0 {
            out.push(format!(
                "{}: {} more suspected, perhaps because of these; put these right and run again, or measure the tube anew",
                fit.tube, fit.suspicions_untold
            ));
        }
        if let Some(why) = &fit.unsearched {
            out.push(unsearched(why));
        }
        if let Some(widened) = fit.widened {
            out.push(format!("{}: {}", fit.tube, words::widened(widened)));
        }
        if !fit.settled {
            out.push(format!("{}: {NOT_SETTLED}", fit.tube));
        }
    }
    out
}

fn unsearched(why: &BeliefError) -> String {
    match why {
        BeliefError::Stopped { .. } => why.to_string(),
        _ => format!("slips were not looked for: {why}"),
    }
}

/// [`doubts`] as lines for a terminal; empty without any.
#[must_use]
pub fn doubt_lines<'a>(lot: &Lot, fits: impl IntoIterator<Item = &'a FittedTube>, units: Units) -> String {
    doubts(lot, fits, units).iter().map(|d| hanging(d, 2)).collect()
}

fn doubted(tube: &Tube, d: &Doubted, units: Units) -> String {
    let r = &tube.readings[d.index];
    format!(
        "doubted: {}, {} {} at {}, {} deg: {} expected, {:+.1} sd off; {}",
        tube.name,
        r.kind.word(),
        value(r, r.value_mm, units),
        units.with_word(r.z_mm, 1),
        decimal(r.angle.degrees(), 0),
        value(r, d.expected_mm, units),
        d.departure_sd,
        r.place,
    )
}

/// A value of the reading's kind with its unit.
fn value(r: &Reading, value: f64, units: Units) -> String {
    if r.kind.is_angle() { format!("{} deg", decimal(value, 3)) } else { units.with_word(value, 3) }
}

fn suspected(tube: &Tube, s: &Suspicion, units: Units) -> String {
    let first = s.readings.first().map_or(String::new(), |&i| format!("; first at {}", tube.readings[i].place));
    let what = units.told(&s.words);
    let more = if s.readings.len() > 1 { format!(" and {} more", s.readings.len() - 1) } else { String::new() };
    format!("suspected {}: {}, {what}; {}{first}{more}", s.cause.word(), tube.name, s.advice)
}

/// The same as notes about the files, for who looks at the files only; all suspicions, the strongest first.
#[must_use]
pub fn doubts_found<'a>(lot: &Lot, fits: impl IntoIterator<Item = &'a FittedTube>, units: Units) -> Vec<Finding> {
    let mut out = Vec::new();
    for fit in fits {
        let Some(tube) = lot.tubes.iter().find(|t| t.name == fit.tube) else { continue };
        let note = |i: usize, found: String, expected: String, fix: &str| Finding {
            severity: Severity::Note,
            place: tube.readings[i].place.clone(),
            found,
            expected,
            fix: fix.to_string(),
            tube: Some(tube.name.clone()),
        };
        if let Some(why) = &fit.unsearched {
            out.push(Finding {
                severity: Severity::Note,
                place: tube.readings.first().map(|r| r.place.clone()).unwrap_or_default(),
                found: unsearched(why),
                expected: "readings whose agreement can be judged".into(),
                fix: "look through this tube's readings yourself".into(),
                tube: Some(tube.name.clone()),
            });
        }
        if let Some(widened) = fit.widened {
            out.push(note(
                0,
                words::widened(widened),
                "readings like those of a tube of this lot".into(),
                "look at the tube and at how it was read: an odd tube is no fault, a slip of many readings is",
            ));
        }
        for s in &fit.suspicions {
            let Some(&first) = s.readings.first() else { continue };
            let n = s.readings.len();
            let count = if n > 1 { format!(" ({n} readings, the first of them here)") } else { String::new() };
            let found = format!("signs of {}: {}{count}", s.cause.word(), units.told(&s.words));
            out.push(note(first, found, format!("readings that agree with the rest of tube {}", tube.name), &s.advice));
        }
        for d in fit.doubted.iter().filter(|d| !fit.suspicions.iter().any(|s| s.readings.contains(&d.index))) {
            let r = &tube.readings[d.index];
            let expected = format!("about {} by the rest of tube {}", value(r, d.expected_mm, units), tube.name);
            out.push(note(
                d.index,
                value(r, r.value_mm, units),
                expected,
                "measure it again; as it stands it hardly counts",
            ));
        }
    }
    out
}
