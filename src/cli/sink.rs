//! Where results go: standard output, or a file written beside and renamed.

use super::args::ShowArgs;
use super::diagnostics::Failure;
use std::io::Write;
use std::path::Path;

/// Writes `text` to the place `show` names.
pub fn put(text: &str, show: &ShowArgs) -> Result<(), Failure> {
    match &show.out {
        None => print(text),
        Some(path) => write_file(path, text.as_bytes(), show.force),
    }
}

/// Prints `text` to standard output, a line end behind it.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    let end = if text.ends_with('\n') { "" } else { "\n" };
    write!(out, "{text}{end}")
        .and_then(|()| out.flush())
        .map_err(|source| Failure::Write { path: "standard output".into(), source })
}

/// Sees to it that `folder` can take files of these names: all that are in the way are listed in one error.
pub fn room_for(folder: &Path, names: &[&str], force: bool) -> Result<(), Failure> {
    if folder.exists() && !folder.is_dir() {
        let source = std::io::Error::new(std::io::ErrorKind::NotADirectory, "it is a file, not a folder");
        return Err(Failure::Write { path: folder.display().to_string(), source });
    }
    let there = names.iter().map(|n| folder.join(n)).filter(|p| p.symlink_metadata().is_ok());
    // even --force replaces files only, never a folder of that name
    let in_the_way: Vec<String> = there.filter(|p| !force || p.is_dir()).map(|p| p.display().to_string()).collect();
    if in_the_way.is_empty() { Ok(()) } else { Err(Failure::ManyInTheWay { paths: in_the_way }) }
}

/// Writes files into `folder`, which is made when it is not there: all of them beside their places first, then renamed, so
/// that a full disk leaves the old ones whole.
pub fn write_all(folder: &Path, files: &[(&str, &[u8])], force: bool) -> Result<(), Failure> {
    room_for(folder, &files.iter().map(|f| f.0).collect::<Vec<_>>(), force)?;
    let fail = |path: &Path, source| Failure::Write { path: path.display().to_string(), source };
    std::fs::create_dir_all(folder).map_err(|e| fail(folder, e))?;
    let beside = |name: &str| folder.join(format!("{name}.tmp-quarterlight"));
    let tidy = || files.iter().for_each(|(name, _)| drop(std::fs::remove_file(beside(name))));
    for (name, bytes) in files {
        std::fs::write(beside(name), bytes).map_err(|e| {
            tidy();
            fail(&folder.join(name), e)
        })?;
    }
    for (name, _) in files {
        std::fs::rename(beside(name), folder.join(name)).map_err(|e| {
            tidy();
            fail(&folder.join(name), e)
        })?;
    }
    Ok(())
}

/// Writes a file beside its place and renames it, so that a broken run leaves no half file; refuses to replace one that
/// is there unless `force`.
pub fn write_file(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    let shown = path.display().to_string();
    if path.exists() && !force {
        return Err(Failure::WouldOverwrite { path: shown });
    }
    let fail = |source| Failure::Write { path: shown.clone(), source };
    let mut beside = path.as_os_str().to_owned();
    beside.push(".tmp-quarterlight");
    std::fs::write(&beside, bytes).map_err(fail)?;
    std::fs::rename(&beside, path).map_err(|source| {
        let _ = std::fs::remove_file(&beside);
        fail(source)
    })
}
