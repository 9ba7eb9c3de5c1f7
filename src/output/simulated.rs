//! What is said of a simulated lot and of a study.

use super::table::{Cell, Table};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::study::outcome::Outcome;
use crate::study::whole::{Study, StudyRow};
use std::fmt::Write as _;
use std::time::Duration;

/// After a lot was written: where, what, and what to do with it.
#[must_use]
pub fn written_lines(folder: &str, make: &str, tubes: usize, seed: u64, slips: usize, files: &[&str]) -> String {
    let mut out =
        format!("{} of the make '{make}' into {folder}, seed {seed}; all of it invented:\n", counted(tubes, "tube"));
    for file in files {
        let _ = writeln!(out, "  {file}");
    }
    if slips > 0 {
        let _ = writeln!(out, "{} planted in readings.csv; truth.json has the lines", slips_words(slips));
    }
    let _ = write!(out, "Next: quarterlight split {folder}; the truth of every tube stands in truth.json");
    out
}

fn slips_words(n: usize) -> String {
    if n == 1 { "1 slip is".into() } else { format!("{n} slips are") }
}

fn percent(x: f64) -> f64 {
    100.0 * x
}

/// One standard error of a share of `n`, one more taken to hold and one not: where all hold it is not known for certain either.
fn share_error(p: f64, n: usize) -> f64 {
    let n = n as f64;
    let p = (p * n + 1.0) / (n + 2.0);
    (p * (1.0 - p) / (n + 2.0)).sqrt()
}

fn signed(x: f64) -> Cell {
    let sign = if percent(x) >= 0.05 { "+" } else { "" };
    Cell::text(format!("{sign}{}", decimal(percent(x), 1)))
}

fn rows(study: &Study) -> impl Iterator<Item = (String, &Outcome)> {
    study.rows.iter().flat_map(|StudyRow { plan, own, scales_known, .. }| {
        let known = scales_known.as_ref().map(|k| (format!("{plan}, scales known"), k));
        std::iter::once((plan.clone(), own)).chain(known)
    })
}

/// What is lost and promised.
fn promised_table(study: &Study) -> Table {
    let mut t = Table::new(&[
        "plan",
        "readings",
        "minutes",
        "lost, %",
        "+-",
        "promised, %",
        "+-",
        "marked runs, %",
        "doubted, %",
        "accused, %",
    ]);
    for (name, o) in rows(study) {
        t.push(vec![
            Cell::text(name),
            Cell::Number(o.readings, 0),
            Cell::Number(o.minutes, 1),
            o.lost.map_or(Cell::text("none possible"), |l| Cell::Number(percent(l.0), 1)),
            Cell::known(o.lost.map(|l| percent(l.1)), 1),
            o.promised.map_or(Cell::text("none possible"), signed),
            Cell::known(o.promised_error.map(percent), 1),
            o.marked.0.map_or(Cell::text("none good"), signed),
            Cell::Number(percent(o.blamed.0), 2),
            Cell::Number(percent(o.blamed.1), 0),
        ]);
    }
    t
}

/// What the intervals hold.
fn held_table(study: &Study) -> Table {
    let mut t = Table::new(&["plan", "tubes hold, %", "+-", "exact, %", "+-", "width", "lots hold", "of marked runs"]);
    for (name, o) in rows(study) {
        let (tubes, lots) = o.counted;
        let of_lots = |share: f64| Cell::text(format!("{} of {lots}", decimal(share * lots as f64, 0)));
        t.push(vec![
            Cell::text(name),
            Cell::Number(percent(o.hold), 0),
            Cell::Number(percent(share_error(o.hold, tubes)), 0),
            Cell::Number(percent(o.exact), 0),
            Cell::Number(percent(share_error(o.exact, tubes)), 0),
            Cell::Number(o.width, 1),
            of_lots(o.sums),
            of_lots(o.marked.1),
        ]);
    }
    t
}

/// The table of a study, all columns in one, for values.
#[must_use]
pub fn study_table(study: &Study) -> Table {
    let mut t = Table::new(&[
        "plan",
        "tubes",
        "lots",
        "readings",
        "minutes",
        "lost_percent",
        "lost_error",
        "promised_percent",
        "promised_error",
        "hold_percent",
        "hold_error",
        "exact_percent",
        "exact_error",
        "width_blanks",
        "lots_hold_percent",
        "marked_percent",
        "marked_lots_hold_percent",
        "doubted_percent",
        "accused_percent",
    ]);
    for (name, o) in rows(study) {
        let (tubes, lots) = o.counted;
        let p = |x: f64| Cell::Number(percent(x), 2);
        t.push(vec![
            Cell::text(name),
            Cell::Number(tubes as f64, 0),
            Cell::Number(lots as f64, 0),
            Cell::Number(o.readings, 1),
            Cell::Number(o.minutes, 2),
            Cell::known(o.lost.map(|l| percent(l.0)), 2),
            Cell::known(o.lost.map(|l| percent(l.1)), 2),
            Cell::known(o.promised.map(percent), 2),
            Cell::known(o.promised_error.map(percent), 2),
            p(o.hold),
            p(share_error(o.hold, tubes)),
            p(o.exact),
            p(share_error(o.exact, tubes)),
            Cell::Number(o.width, 2),
            p(o.sums),
            Cell::known(o.marked.0.map(percent), 2),
            p(o.marked.1),
            p(o.blamed.0),
            p(o.blamed.1),
        ]);
    }
    t
}

/// The study: what was grown, the table, what it leaves to be wished, how to read it.
#[must_use]
pub fn study_lines(study: &Study) -> String {
    let [mean, low, high] = study.best;
    let mut out = format!(
        "{} of the make '{}' in {}, seed {}, {} draws; all of it invented\n\
         {} blanks a tube at the best angle ({} to {} for nine in ten); {}\n\n",
        counted(study.tubes, "tube"),
        study.population.name,
        counted(study.lots, "lot"),
        study.seed,
        study.draws,
        decimal(mean, 2),
        decimal(low, 1),
        decimal(high, 1),
        study.arbitrary_lost.map_or("no angle gives any".to_string(), |lost| {
            format!("an arbitrary angle loses {} %", decimal(percent(lost), 1))
        })
    );
    for table in [promised_table(study), held_table(study)] {
        out.push_str(table.to_text().trim_end());
        out.push_str("\n\n");
    }
    for r in study.rows.iter().filter(|r| !r.misses.is_empty()) {
        let _ = writeln!(out, "{} misses its goals: {}", r.plan, r.misses.join("; "));
    }
    out.push_str(
        "+-: one standard error. Lost: blanks of the best angle that the chosen one does not give. Promised, and marked runs:\n\
         above or below what is truly there. Hold: 90 % intervals of tubes with the true count in them, ends included; exact: with\n\
         ends counted in part, of a perfect belief 90. Lots: lots of ten whose sum lies in its interval. Width: blanks. Doubted:\n\
         good readings doubted; accused: tubes on which a slip is suspected.\n",
    );
    out
}

/// The study as JSON, shares as parts of one.
#[must_use]
pub fn study_json(study: &Study) -> String {
    // plain numbers and words: nothing in it can fail
    let mut text = serde_json::to_string_pretty(study).unwrap_or_default();
    text.push('\n');
    text
}

/// How long a study took, for each tube and plan; truth and reference included.
#[must_use]
pub fn took(time: Duration, tubes: usize, plans: usize) -> String {
    let seconds = time.as_secs_f64();
    format!(
        "took {} s: {} s a tube and plan, its truth counted",
        decimal(seconds, 1),
        decimal(seconds / (tubes * plans).max(1) as f64, 2)
    )
}
