//! Where results go: standard output, or a file written beside and renamed.

use super::args::ShowArgs;
use super::diagnostics::Failure;
use std::io::Write;
use std::path::Path;

/// Writes `text` to the place `show` names.
pub fn put(text: &str, show: &ShowArgs) -> Result<(), Failure> {
    match &show.out {
        None => {
            let mut out = anstream::stdout().lock();
            let end = if text.ends_with('\n') { "" } else { "\n" };
            write!(out, "{text}{end}")
                .and_then(|()| out.flush())
                .map_err(|source| Failure::Write { path: "standard output".into(), source })
        }
        Some(path) => write_file(path, text.as_bytes(), show.force),
    }
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
