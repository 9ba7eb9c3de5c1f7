//! The report of a lot: one page for reading and printing, tables for the spreadsheet, a list and strips for the bench.

pub(super) mod batches;
pub(super) mod bench;
pub(super) mod card;
mod cuts;
mod input;
pub(super) mod list;
mod page;
mod reading;
mod strips;

use super::table::{Cell, Table};
use super::{cautions, tables};
use crate::paper::pdf;
use crate::paper::scene::DrawError;

pub use input::ReportInput;
pub(super) use page::boards;
pub use strips::{strip_pages as strips, strip_spec};

/// Names of all files a report may hold, in the order they are made.
pub const FILES: [&str; 8] = [
    "report.html",
    "splits.csv",
    "runs.csv",
    "forecast.csv",
    "cuts-plan.csv",
    "plan.json",
    "bench-list.pdf",
    "strips.pdf",
];

/// One file of a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportFile {
    /// Its name, one of [`FILES`].
    pub name: &'static str,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// The files of a report and what could not be drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The files; `strips.pdf` is missing when no tube has a strip.
    pub files: Vec<ReportFile>,
    /// One line for every tube without a strip, with the reason.
    pub no_strip: Vec<String>,
}

/// The runs with a caution in every row: a spreadsheet shows the columns of a table and nothing that lies beside the file,
/// and a row keeps its caution when the table is sorted, filtered or pasted elsewhere.
fn cautioned(mut runs: Table) -> Table {
    runs.extend_rows("caution", &Cell::text(cautions::IN_ONE_LINE));
    runs
}

/// Makes all files of a report. The same input always gives the same bytes.
///
/// # Errors
/// [`DrawError`] when a figure cannot be drawn: a number in the plan is not finite, which is a fault of ours.
pub fn report(input: &ReportInput<'_>) -> Result<Report, DrawError> {
    let r = input.results;
    let plans = r.plans();
    let (strip_pages, no_strip) = strips::strip_pages(input);
    let html = page::page(input, &plans, &no_strip)?;
    let mut files: Vec<ReportFile> = [
        ("report.html", html),
        ("splits.csv", tables::splits_table(&r.outcomes).to_csv()),
        ("runs.csv", cautioned(tables::runs_table(&plans, input.units)).to_csv()),
        ("forecast.csv", tables::forecast_table(&r.forecast, &plans, r.lot.weight_unit, input.units).to_csv()),
        ("cuts-plan.csv", cuts::table(input).to_csv()),
        ("plan.json", r.to_json()),
    ]
    .into_iter()
    .map(|(name, text)| ReportFile { name, bytes: text.into_bytes() })
    .collect();
    let bytes = pdf::write(&list::list_pages(input), &format!("Bench list of lot {}", r.lot.name))?;
    files.push(ReportFile { name: "bench-list.pdf", bytes });
    if !strip_pages.is_empty() {
        let bytes = pdf::write(&strip_pages, &format!("Strips of lot {}", r.lot.name))?;
        files.push(ReportFile { name: "strips.pdf", bytes });
    }
    Ok(Report { files, no_strip })
}
