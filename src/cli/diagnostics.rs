//! What went wrong, said once, with the exit code it deserves.

use quarterlight::domain::{Finding, Severity};
use quarterlight::paper::scene::DrawError;
use quarterlight::readings::ReadError;
use quarterlight::tube::learn::LearnError;
use std::process::ExitCode;

/// Why a command could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The lot cannot be read at all.
    #[error("{0}")]
    Read(#[from] ReadError),
    /// A tube named on the command line is not in the lot.
    #[error("the lot has no tube {name}")]
    NoSuchTube {
        /// The name asked for.
        name: String,
        /// The tubes there are.
        known: Vec<String>,
    },
    /// A scale under `[population]` has a name or value that does not exist.
    #[error("lot.toml, [population]: {} cannot be used", .names.join(", "))]
    Population {
        /// The names.
        names: Vec<String>,
    },
    /// The lot says too little to learn its scales.
    #[error("nothing learned: {0}")]
    Learn(#[from] LearnError),
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
    fn hint(&self) -> String {
        match self {
            Failure::Read(_) => {
                "give a folder with lot.toml, tubes.csv and readings*.csv or scans, one file of readings or points, or a workbook".into()
            }
            Failure::NoSuchTube { known, .. } => {
                let some: Vec<&str> = known.iter().take(12).map(String::as_str).collect();
                let more = if known.len() > 12 { ", ..." } else { "" };
                format!("its tubes are {}{more}", some.join(", "))
            }
            Failure::Population { .. } => {
                "names are like radius_level, lobe2_rough, centre_bend, wall_mm; values are positive millimetres (twist: degrees)".into()
            }
            Failure::Learn(_) => "learn from a lot with more tubes measured all round".into(),
            Failure::Keep { .. } => "leave out --keep and copy the printed section into lot.toml by hand".into(),
            Failure::WouldOverwrite { .. } => "choose another name, or add --force to replace it".into(),
            Failure::ManyInTheWay { .. } => "choose another folder, or add --force to replace them".into(),
            Failure::Draw { .. } => "please report it with the files that caused it".into(),
            Failure::Write { .. } => "check the folder and its permissions".into(),
        }
    }
}

/// Prints a failure and gives its exit code: 1 where the user can mend it, 2 where the fault is ours.
pub fn report(failure: &Failure) -> ExitCode {
    if let Failure::Write { source, .. } = failure
        && source.kind() == std::io::ErrorKind::BrokenPipe
    {
        // whoever read our output has seen enough
        return ExitCode::SUCCESS;
    }
    anstream::eprintln!("error: {failure}\n  hint: {}", failure.hint());
    ExitCode::from(if matches!(failure, Failure::Draw { .. }) { 2 } else { 1 })
}

/// Prints findings to standard error; errors always, notes unless there are many.
pub fn print_findings(findings: &[Finding], all: bool) {
    let notes = findings.iter().filter(|f| f.severity == Severity::Note).count();
    for f in findings {
        if all || f.severity == Severity::Error || notes <= 5 {
            anstream::eprintln!("{f}");
        }
    }
    if !all && notes > 5 {
        anstream::eprintln!("note: {notes} notes about these files: `quarterlight check` lists them");
    }
}

/// Exit code after the work is done: 1 when anything in the files must be mended.
pub fn code_after(findings: &[Finding]) -> ExitCode {
    if findings.iter().any(|f| f.severity == Severity::Error) { ExitCode::from(1) } else { ExitCode::SUCCESS }
}
