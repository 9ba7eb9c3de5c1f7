//! Why a lot could not be read at all.

use std::path::PathBuf;

/// Nothing of the lot could be read. Bad rows and broken files inside a lot are not errors of this kind but
/// [`Finding`](crate::domain::Finding)s, because the rest of the lot is still worth having.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// There is nothing at that path.
    #[error("there is no file or folder at {path}")]
    NotFound {
        /// The path as given.
        path: PathBuf,
    },
    /// The path is there but the system refuses to read it.
    #[error("{path} cannot be read: {source}")]
    Unreadable {
        /// The path as given.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A folder or workbook that holds neither a list of tubes nor readings.
    #[error("{path} holds no tubes.csv, no readings*.csv and no scans (found: {})", listed(.found))]
    NothingUsable {
        /// The path or name as given.
        path: PathBuf,
        /// What is there instead: file or sheet names, sorted.
        found: Vec<String>,
    },
    /// A file that is one part of a lot folder and means nothing alone.
    #[error("{path} is one part of a lot: give the folder it stands in, or a file of readings")]
    PartOfALot {
        /// The path as given.
        path: PathBuf,
    },
}

/// At most ten names, or "nothing".
fn listed(names: &[String]) -> String {
    match names.len() {
        0 => "nothing".to_string(),
        n if n > 10 => format!("{} and {} more", names[..10].join(", "), n - 10),
        _ => names.join(", "),
    }
}
