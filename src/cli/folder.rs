//! The files of a report, which belong together: all of one run, or the user is told.
//!
//! Renaming several files is not one step. So that a run that is stopped between them is noticed, a note stands in the
//! folder from before the first rename until after the last: its first line says what is wrong, for whoever opens the folder,
//! and the next `report` into the folder, and `check` of a lot that holds it, say so too. While a report is being written
//! the note is locked, so that two of them cannot mix either. Empty, it means that nothing had been replaced yet.

use super::diagnostics::Failure;
use super::replace::{Beside, place_of};
use super::sink::say;
use quarterlight::domain::{Finding, Place, Severity};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Read, Seek, Write};
use std::path::{Path, PathBuf};

/// The note.
pub const UNFINISHED: &str = "report-unfinished.txt";
/// How it begins.
const FIRST_LINE: &str = "A report was being written into this folder and was not finished.\n";
/// How the names of its files begin until they are in their places.
const PART: &str = ".quarterlight-report-";
/// More than the note ever holds, bytes.
const MOST_NOTE: u64 = 10_000;
/// How often the note is looked for again when another run has just taken it away.
const MOST_TRIES: usize = 100;

/// Sees to it that `folder` can take files of these names: all that are in the way are listed in one error. Tells of a
/// report there that was not finished.
pub fn room_for(folder: &Path, names: &[&str], force: bool) -> Result<(), Failure> {
    if folder.exists() && !folder.is_dir() {
        let source = io::Error::new(ErrorKind::NotADirectory, "it is a file, not a folder");
        return Err(Failure::Write { path: folder.display().to_string(), source });
    }
    if let Some(words) = unfinished(folder) {
        say(format_args!("note: {words}"));
    }
    free(folder, names, force)
}

fn free(folder: &Path, names: &[&str], force: bool) -> Result<(), Failure> {
    let paths = in_the_way(folder, names, force)?;
    if paths.is_empty() { Ok(()) } else { Err(Failure::ManyInTheWay { paths }) }
}

/// Files of these names that would be written over without `force`.
pub fn in_the_way(folder: &Path, names: &[impl AsRef<str>], force: bool) -> Result<Vec<String>, Failure> {
    let mut in_the_way = Vec::new();
    for name in names {
        match place_of(&folder.join(name.as_ref()), force) {
            Ok(_) => {}
            Err(Failure::WouldOverwrite { path }) => in_the_way.push(path),
            // what even --force does not replace
            Err(e) => return Err(e),
        }
    }
    Ok(in_the_way)
}

/// What is to be told of a folder in which a report was not finished.
pub fn unfinished(folder: &Path) -> Option<String> {
    let path = folder.join(UNFINISHED);
    if !path.symlink_metadata().is_ok_and(|m| m.is_file()) {
        return None;
    }
    let mut text = String::new();
    File::open(&path).ok()?.take(MOST_NOTE).read_to_string(&mut text).ok()?;
    text.starts_with(FIRST_LINE).then(|| {
        let folder = folder.display();
        format!("a report in {folder} was not finished: its files may be of two different runs, do not cut by them")
    })
}

/// Reports not finished in the folder of a lot or in a folder in it, in the order of their names.
pub fn unfinished_below(lot: &Path) -> Vec<Finding> {
    let inner = std::fs::read_dir(lot).into_iter().flatten().filter_map(Result::ok).map(|e| e.path());
    let mut folders: Vec<PathBuf> = inner.filter(|p| p.is_dir()).collect();
    folders.sort();
    folders.insert(0, lot.to_path_buf());
    let found = folders.iter().filter(|f| unfinished(f).is_some()).map(|f| {
        let note = f.join(UNFINISHED);
        let file = note.strip_prefix(lot).unwrap_or(&note).display().to_string();
        Finding {
            severity: Severity::Note,
            place: Place { file: file.into(), line: 0, column: String::new() },
            found: "a report that was not finished: its files may be of two different runs".into(),
            expected: "a finished report".into(),
            fix: "do not cut by it; write it again with --force, or delete its files and this note".into(),
            tube: None,
        }
    });
    found.collect()
}

/// Writes files into `folder`, which is made when it is not there: all of them beside their places first, then renamed, so
/// that a full disk leaves the old ones whole. Of `names`, those that the new report lacks are taken away with `force`.
pub fn write_all(folder: &Path, names: &[&str], files: &[(&str, &[u8])], force: bool) -> Result<(), Failure> {
    free(folder, names, force)?;
    std::fs::create_dir_all(folder).map_err(|source| failed(folder, source))?;
    let mut note = Note::lay(folder)?;
    let beside: Result<Vec<Beside>, Failure> =
        files.iter().map(|(name, bytes)| Beside::write(&folder.join(name), bytes, PART, force)).collect();
    let beside = match beside {
        Ok(all) => all,
        Err(e) => {
            note.leave_as_found();
            return Err(e);
        }
    };
    if let Err(source) = note.write(files) {
        note.leave_as_found();
        return Err(failed(&note.path, source));
    }
    let mut placed: Vec<PathBuf> = Vec::new();
    for file in beside {
        match file.take_place() {
            Ok(place) => placed.push(place),
            Err(e) => {
                if !force {
                    // none of these was there before
                    placed.iter().for_each(|p| drop(std::fs::remove_file(p)));
                    note.leave_as_found();
                }
                return Err(e);
            }
        }
    }
    for name in names.iter().filter(|n| force && !files.iter().any(|f| f.0 == **n)) {
        match std::fs::remove_file(folder.join(name)) {
            Err(e) if e.kind() != ErrorKind::NotFound => return Err(failed(&folder.join(name), e)),
            _ => {}
        }
    }
    note.take_away()
}

fn failed(path: &Path, source: io::Error) -> Failure {
    Failure::Write { path: path.display().to_string(), source }
}

/// The note, locked as long as it is held.
struct Note {
    file: File,
    path: PathBuf,
    /// True when it told of an earlier report that was not finished.
    told: bool,
}

impl Note {
    /// Lays the note, still empty, into the folder, or takes over the one that a stopped run left.
    fn lay(folder: &Path) -> Result<Note, Failure> {
        let path = folder.join(UNFINISHED);
        for _ in 0..MOST_TRIES {
            let (mut file, told) = match open_note(&path) {
                Err(Failure::Write { source, .. }) if source.kind() == ErrorKind::NotFound => continue,
                other => other?,
            };
            let locked = match file.try_lock() {
                Ok(()) => true,
                Err(TryLockError::WouldBlock) => return Err(Failure::Busy { path: folder.display().to_string() }),
                // a few network folders know no locks: then two reports at a time are not kept apart
                Err(TryLockError::Error(_)) => false,
            };
            // whoever held it may have taken it away between opening and locking
            if is_still(&file, &path) {
                if locked {
                    sweep(folder).map_err(|e| failed(folder, e))?;
                }
                file.rewind().map_err(|e| failed(&path, e))?;
                return Ok(Note { file, path, told });
            }
        }
        Err(Failure::Busy { path: folder.display().to_string() })
    }

    /// Writes what the note has to say, onto the disk, before anything is replaced.
    fn write(&mut self, files: &[(&str, &[u8])]) -> io::Result<()> {
        let mut text = format!(
            "{FIRST_LINE}These files may be of two different runs: do not cut by them.\n\
             Write the report again with --force, or delete them and this file:\n\n"
        );
        for (name, _) in files {
            text.push_str(&format!("{name}\n"));
        }
        // over the old text, if any: at no moment is a note that tells of a mixture empty
        self.file.write_all(text.as_bytes())?;
        self.file.set_len(text.len() as u64)?;
        self.file.sync_all()
    }

    /// Nothing was replaced: the note stays only if it was there before.
    fn leave_as_found(&mut self) {
        if !self.told {
            let _ = std::fs::remove_file(&self.path);
        }
    }

    /// Everything is in its place.
    fn take_away(self) -> Result<(), Failure> {
        let fail = |source| failed(&self.path, source);
        #[cfg(unix)]
        if let Some(folder) = self.path.parent() {
            // the renames must be on the disk before the note goes
            File::open(folder).and_then(|f| f.sync_all()).map_err(fail)?;
        }
        std::fs::remove_file(&self.path).map_err(fail)
    }
}

/// The note's file, new or left over, and whether it told of an unfinished report. A file of that name that is not ours is
/// not touched.
fn open_note(path: &Path) -> Result<(File, bool), Failure> {
    let fail = |source| failed(path, source);
    match OpenOptions::new().read(true).write(true).create_new(true).open(path) {
        Ok(file) => return Ok((file, false)),
        Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
        Err(e) => return Err(fail(e)),
    }
    let not_ours = || Failure::ManyInTheWay { paths: vec![path.display().to_string()] };
    if !path.symlink_metadata().map_err(fail)?.is_file() {
        return Err(not_ours());
    }
    let mut file = OpenOptions::new().read(true).write(true).open(path).map_err(fail)?;
    let mut text = Vec::new();
    (&mut file).take(MOST_NOTE).read_to_end(&mut text).map_err(fail)?;
    let told = text.starts_with(FIRST_LINE.as_bytes());
    // a run stopped while it wrote the note itself had replaced nothing
    if told || FIRST_LINE.as_bytes().starts_with(&text) { Ok((file, told)) } else { Err(not_ours()) }
}

/// True when the open file is the one that stands at `path`.
fn is_still(file: &File, path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let id = |m: std::fs::Metadata| (m.dev(), m.ino());
        let ids = (file.metadata().map(id), path.symlink_metadata().map(id));
        matches!(ids, (Ok(open), Ok(named)) if open == named)
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        path.exists()
    }
}

/// Takes away what stopped runs left beside their places; nobody else writes a report here while the note is locked.
fn sweep(folder: &Path) -> io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name();
        let ours = name.to_str().is_some_and(|n| n.starts_with(PART) && n.ends_with(".tmp"));
        if ours && entry.file_type()?.is_file() {
            std::fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}
