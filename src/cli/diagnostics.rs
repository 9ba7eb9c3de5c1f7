//! What went wrong, said once, with the exit code it deserves.

use super::say::{STANDARD_OUTPUT, say};
use quarterlight::domain::{Finding, Severity};
use quarterlight::lot::LotError;
use quarterlight::paper::scene::DrawError;
use quarterlight::readings::{FormError, ReadError};
use std::process::ExitCode;

/// Why a command could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The lot cannot be worked on.
    #[error(transparent)]
    Lot(#[from] LotError),
    /// A file of records cannot be read.
    #[error("{path} cannot be read: {source}")]
    Records {
        /// The file, or "standard input".
        path: String,
        /// What the system says.
        source: std::io::Error,
    },
    /// The learned scales cannot be kept.
    #[error("the scales cannot be kept: {why}")]
    Keep {
        /// Why.
        why: String,
    },
    /// The output file is there already.
    #[error("{path} is there already")]
    WouldOverwrite {
        /// The file.
        path: String,
    },
    /// Files of a report are there already.
    #[error("these files are there already:\n{}", .paths.iter().map(|p| format!("  {p}")).collect::<Vec<_>>().join("\n"))]
    ManyInTheWay {
        /// All of them.
        paths: Vec<String>,
    },
    /// A lot is there already.
    #[error("nothing was written: these files are there already:\n{}", .paths.iter().map(|p| format!("  {p}")).collect::<Vec<_>>().join("\n"))]
    LotThere {
        /// All of them.
        paths: Vec<String>,
    },
    /// Choices that do not go together.
    #[error("{what}")]
    Choice {
        /// What is wrong.
        what: String,
        /// What to do.
        fix: String,
    },
    /// Forms could not be made: a fault of ours.
    #[error("a fault of ours: {source}")]
    Forms {
        /// Why.
        source: FormError,
    },
    /// Something that is no regular file has the name of the output.
    #[error("{path} is {what}: only plain files are written")]
    NoPlainFile {
        /// The name.
        path: String,
        /// What stands there.
        what: &'static str,
    },
    /// The file to be replaced may not be written.
    #[error("{path} is write-protected")]
    Protected {
        /// The file.
        path: String,
    },
    /// Another run is writing its report into the same folder.
    #[error("another report is just being written into {path}")]
    Busy {
        /// The folder.
        path: String,
    },
    /// A picture of ends, or what was typed about it, cannot be used.
    #[error("{what}")]
    Ends {
        /// What is wrong.
        what: String,
        /// What to do.
        fix: String,
    },
    /// A figure could not be drawn: a fault of ours.
    #[error("a fault of ours: {source}")]
    Draw {
        /// Why.
        source: DrawError,
    },
    /// The output cannot be written.
    #[error("{path} cannot be written: {source}")]
    Write {
        /// The file, or "standard output".
        path: String,
        /// What the system says.
        source: std::io::Error,
    },
}

impl Failure {
    /// What went wrong and what to do, in one sentence: for a page.
    pub fn with_hint(&self) -> String {
        format!("{self}: {}", self.hint())
    }

    fn hint(&self) -> String {
        match self {
            Failure::Lot(error) => lot_hint(error),
            Failure::Records { .. } => "name files that `split --jsonl` wrote, or - for standard input".into(),
            Failure::Keep { .. } => "leave out --keep and copy the printed section into lot.toml by hand".into(),
            Failure::WouldOverwrite { .. } => "choose another name, or add --force to replace it".into(),
            Failure::ManyInTheWay { .. } => "choose another folder, or add --force to replace them".into(),
            Failure::LotThere { .. } => {
                "a lot is never written over: choose another folder, or go on with what is there".into()
            }
            Failure::Choice { fix, .. } => fix.clone(),
            Failure::Ends { fix, .. } => fix.clone(),
            Failure::Draw { .. } | Failure::Forms { .. } => "please report it with the files that caused it".into(),
            Failure::NoPlainFile { .. } => "give another name; without --out the result goes to standard output".into(),
            Failure::Protected { .. } => "choose another name, or take its write protection away".into(),
            Failure::Busy { .. } => "wait for it, or choose another folder".into(),
            Failure::Write { path, .. } if path == STANDARD_OUTPUT => {
                "is there room where it goes? --out FILE writes a file instead, and leaves an old one whole".into()
            }
            Failure::Write { .. } => "check the folder, its permissions and the room on the disk".into(),
        }
    }
}

impl From<ReadError> for Failure {
    fn from(error: ReadError) -> Failure {
        Failure::Lot(error.into())
    }
}

/// What stands under `[population]`.
pub const SCALE_NAMES: &str =
    "names are like radius_level, lobe2_rough, centre_bend, wall_mm; values are positive millimetres (twist: degrees)";

fn lot_hint(error: &LotError) -> String {
    if let LotError::Read(ReadError::NothingUsable { path, found }) = error
        && let Some(book) = only_workbook(found)
    {
        return format!("give the workbook in place of its folder: {}", path.join(book).display());
    }
    match error {
        LotError::NoSuchTube { known, .. } => {
            let some: Vec<&str> = known.iter().take(12).map(String::as_str).collect();
            let more = if known.len() > 12 { ", ..." } else { "" };
            format!("its tubes are {}{more}", some.join(", "))
        }
        LotError::NoSuchSet { known, .. } => {
            format!("its sets are {}, or all; others stand under [instrument.NAME] in lot.toml", known.join(", "))
        }
        LotError::ValueOfNone { name } => format!("name it too: --for ...,{name}"),
        LotError::WhichTube { .. } => "they differ by small and capital letters alone: write the name as it stands".into(),
        LotError::Population(_) => SCALE_NAMES.into(),
        LotError::Learn(_) => "learn from a lot with more tubes measured all round".into(),
        LotError::Humidity(_) => "write humidity_percent = 50, or what it was, under [lot] in lot.toml".into(),
        LotError::Record(_) => "plan the lot again with this version".into(),
        _ => {
            "give a folder with lot.toml, tubes.csv and readings*.csv or scans, one file of readings or points, or a workbook; `quarterlight new DIR` makes a folder to start from".into()
        }
    }
}

/// The one workbook in a folder that holds nothing else to read.
fn only_workbook(found: &[String]) -> Option<&String> {
    let is_book = |n: &&String| n.to_lowercase().ends_with(".xlsx") || n.to_lowercase().ends_with(".ods");
    let mut books = found.iter().filter(is_book);
    books.next().filter(|_| books.next().is_none())
}

/// Prints a failure and gives its exit code: 1 where the user can mend it, 2 where the fault is ours.
pub fn report(failure: &Failure) -> ExitCode {
    if let Failure::Write { source, .. } = failure
        && source.kind() == std::io::ErrorKind::BrokenPipe
    {
        // whoever read our output has seen enough
        return ExitCode::SUCCESS;
    }
    say(format_args!("error: {failure}\n  hint: {}", failure.hint()));
    ExitCode::from(if matches!(failure, Failure::Draw { .. } | Failure::Forms { .. }) { 2 } else { 1 })
}

/// Prints findings to standard error; errors always, notes unless there are many.
pub fn print_findings(findings: &[Finding], all: bool) {
    let notes = findings.iter().filter(|f| f.severity == Severity::Note).count();
    for f in findings {
        if all || f.severity == Severity::Error || notes <= 5 {
            say(f);
        }
    }
    if !all && notes > 5 {
        say(format_args!("note: {notes} notes about these files: `quarterlight check` lists them"));
    }
}

/// Exit code after the work is done: 1 when anything in the files must be mended.
pub fn code_after(findings: &[Finding]) -> ExitCode {
    if findings.iter().any(|f| f.severity == Severity::Error) { ExitCode::from(1) } else { ExitCode::SUCCESS }
}
