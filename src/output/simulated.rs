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

/// One standard error of a share of `n`.
fn share_error(p: f64, n: usize) -> f64 {
    (p * (1.0 - p) / n.max(1) as f64).sqrt()
}

fn with_error(x: f64, error: f64) -> Cell {
    Cell::text(format!("{} +-{}", decimal(percent(x), 1), decimal(percent(error), 1)))
}

fn signed(x: f64, error: Option<f64>) -> Cell {
    let sign = if percent(x) >= 0.05 { "+" } else { "" };
    let error = error.map_or(String::new(), |e| format!(" +-{}", decimal(percent(e), 1)));
    Cell::text(format!("{sign}{}{error}", decimal(percent(x), 1)))
}

fn row(name: &str, o: &Outcome) -> Vec<Cell> {
    let (tubes, lots) = o.counted;
    let of_lots = |share: f64| Cell::text(format!("{} of {lots}", decimal(share * lots as f64, 0)));
    vec![
        Cell::text(name),
        Cell::Number(o.readings, 0),
        Cell::Number(o.minutes, 1),
        with_error(o.lost.0, o.lost.1),
        signed(o.promised, Some(o.promised_error)),
        with_error(o.hold, share_error(o.hold, tubes)),
        with_error(o.exact, share_error(o.exact, tubes)),
        of_lots(o.sums),
        signed(o.marked.0, None),
        of_lots(o.marked.1),
        Cell::Number(percent(o.blamed.0), 2),
        Cell::Number(percent(o.blamed.1), 0),
    ]
}

/// The table of a study: percent unless a title says otherwise.
#[must_use]
pub fn study_table(study: &Study) -> Table {
    let mut t = Table::new(&[
        "plan",
        "readings",
        "minutes",
        "lost",
        "promised",
        "hold",
        "exact",
        "lots",
        "marked",
        "lots of it",
        "doubted",
        "accused",
    ]);
    for StudyRow { plan, own, scales_known, .. } in &study.rows {
        t.push(row(plan, own));
        if let Some(known) = scales_known {
            t.push(row(&format!("{plan}, scales known"), known));
        }
    }
    t
}

/// The study: what was grown, the table, what it leaves to be wished, how to read it.
#[must_use]
pub fn study_lines(study: &Study) -> String {
    let [mean, low, high] = study.best;
    let mut out = format!(
        "{} of the make '{}' in {}, seed {}, {} draws; all of it invented\n\
         {} blanks a tube at the best angle ({} to {} for nine in ten); an arbitrary angle loses {} %\n\n",
        counted(study.tubes, "tube"),
        study.population.name,
        counted(study.lots, "lot"),
        study.seed,
        study.draws,
        decimal(mean, 2),
        decimal(low, 1),
        decimal(high, 1),
        decimal(percent(study.arbitrary_lost), 1)
    );
    out.push_str(study_table(study).to_text().trim_end());
    out.push('\n');
    for r in study.rows.iter().filter(|r| !r.misses.is_empty()) {
        let _ = writeln!(out, "\n{} misses its goals: {}", r.plan, r.misses.join("; "));
    }
    out.push_str(
        "\nPercent, +- one standard error. lost: blanks of the best angle that the chosen one does not give. promised: against what the\n\
         chosen angles truly give. hold: tubes whose count lies in its 90 % interval, ends included; exact: ends counted in part, of\n\
         a perfect belief 90. lots: lots of ten whose sum lies in its interval. marked: marked runs against those that are good.\n\
         doubted: good readings doubted; accused: tubes on which a slip is suspected.\n",
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
