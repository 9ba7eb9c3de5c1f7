//! One file written so that at any moment its name shows the old file whole or the new one whole.
//!
//! The bytes go into a file of a random name in the same folder (`tempfile`), onto the disk, and only then under the name
//! that was asked for. A link is followed to the file it means; what is neither nothing nor a regular file is refused. The
//! new file has the mode of the old one, and its owner where the system allows that; without an old one the usual mode.
//! Another hard link to the old file keeps the old contents.

use super::diagnostics::Failure;
use std::error::Error;
use std::fs::{File, Metadata};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// How the name of a single file begins until it is in its place.
pub const PART: &str = ".quarterlight-part-";

/// Writes a file; refuses to replace one that is there unless `force`.
pub fn write_file(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    Beside::write(path, bytes, PART, force)?.take_place().map(drop)
}

/// A file written whole beside the place it is meant for. Dropped, it is gone.
pub struct Beside {
    file: NamedTempFile,
    place: PathBuf,
    shown: String,
    force: bool,
}

impl Beside {
    /// Writes `bytes` beside the place that `path` means, under a random name behind `prefix`, and onto the disk.
    pub fn write(path: &Path, bytes: &[u8], prefix: &str, force: bool) -> Result<Beside, Failure> {
        let mut beside = Beside::begin(path, prefix, force)?;
        beside.fill(|to| to.write_all(bytes))?;
        Ok(beside)
    }

    /// An empty file beside the place that `path` means, under a random name behind `prefix`.
    pub fn begin(path: &Path, prefix: &str, force: bool) -> Result<Beside, Failure> {
        let (place, old) = place_of(path, force)?;
        let shown = path.display().to_string();
        let fail = |source| Failure::Write { path: shown.clone(), source: bare(source) };
        let file = in_folder(folder_of(&place), prefix).map_err(fail)?;
        if let Some(old) = &old {
            take_after(file.as_file(), old).map_err(fail)?;
        }
        Ok(Beside { file, place, shown, force })
    }

    /// Writes it, by `write`, and onto the disk.
    pub fn fill(&mut self, write: impl FnOnce(&mut File) -> io::Result<()>) -> Result<(), Failure> {
        let done = write(self.file.as_file_mut()).and_then(|()| self.file.as_file().sync_all());
        done.map_err(|source| Failure::Write { path: self.shown.clone(), source: bare(source) })
    }

    /// Renames it to its place, which is given back. Without `force` nothing that has come there meanwhile is replaced.
    pub fn take_place(self) -> Result<PathBuf, Failure> {
        let Beside { file, place, shown, force } = self;
        let done = if force { file.persist(&place) } else { file.persist_noclobber(&place) };
        match done {
            Ok(_) => Ok(place),
            Err(e) if e.error.kind() == ErrorKind::AlreadyExists => Err(Failure::WouldOverwrite { path: shown }),
            Err(e) => Err(Failure::Write { path: shown, source: bare(e.error) }),
        }
    }
}

/// Where a file asked for as `path` goes, and what is there; an error when something is there that is not to be replaced.
pub fn place_of(path: &Path, force: bool) -> Result<(PathBuf, Option<Metadata>), Failure> {
    let shown = || path.display().to_string();
    let fail = |source| Failure::Write { path: shown(), source };
    let own = match path.symlink_metadata() {
        Ok(own) => own,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok((path.to_path_buf(), None)),
        Err(e) => return Err(fail(e)),
    };
    let (place, old) = if own.is_symlink() {
        match path.metadata() {
            Ok(old) => (path.canonicalize().map_err(fail)?, old),
            Err(e) if e.kind() == ErrorKind::NotFound => {
                return Err(Failure::NoPlainFile { path: shown(), what: "a link that leads nowhere" });
            }
            Err(e) => return Err(fail(e)),
        }
    } else {
        (path.to_path_buf(), own)
    };
    if !old.is_file() {
        return Err(Failure::NoPlainFile { path: shown(), what: what_is(&old) });
    }
    if !force {
        return Err(Failure::WouldOverwrite { path: shown() });
    }
    if old.permissions().readonly() {
        return Err(Failure::Protected { path: shown() });
    }
    Ok((place, Some(old)))
}

/// The folder a file stands in.
fn folder_of(place: &Path) -> &Path {
    place.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// A file of a random name in `folder`, with the mode any new file has.
fn in_folder(folder: &Path, prefix: &str) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(prefix).suffix(".tmp");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // without this it would be 600, for a secret; the system takes away what the umask says
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Gives the new file the owner, as far as the system allows, and the mode of the old one.
fn take_after(file: &File, old: &Metadata) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{MetadataExt, fchown};
        let new = file.metadata()?;
        if (new.uid(), new.gid()) != (old.uid(), old.gid()) {
            // only the superuser may give files away: then the file is the writer's, as any that he makes
            let _ = fchown(file, Some(old.uid()), Some(old.gid()));
        }
    }
    file.set_permissions(old.permissions())
}

/// What stands there in place of a regular file.
fn what_is(there: &Metadata) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        let kind = there.file_type();
        if kind.is_char_device() || kind.is_block_device() {
            return "a device";
        }
        if kind.is_fifo() {
            return "a pipe";
        }
        if kind.is_socket() {
            return "a socket";
        }
    }
    if there.is_dir() { "a folder" } else { "no plain file" }
}

/// The system's own error, without the random name of a file that nobody asked for.
fn bare(e: io::Error) -> io::Error {
    let inner = e.get_ref().and_then(Error::source).and_then(|s| s.downcast_ref::<io::Error>());
    match inner.and_then(io::Error::raw_os_error) {
        Some(code) => io::Error::from_raw_os_error(code),
        // some wrap the error and do not hand it out: its kind says as much
        None if e.get_ref().is_some() && e.kind() != io::ErrorKind::Other => e.kind().into(),
        None => e,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_of_the_system_names_no_file_that_nobody_asked_for() {
        let nowhere = tempfile::tempdir().expect("a folder").path().join("gone");
        let told = bare(in_folder(&nowhere, PART).expect_err("no such folder"));
        assert_eq!(told.kind(), io::ErrorKind::NotFound);
        assert!(!told.to_string().contains(PART) && !told.to_string().contains("gone"), "{told}");
        // what says more than its kind stays
        assert_eq!(bare(io::Error::other("a reason")).to_string(), "a reason");
    }
}
