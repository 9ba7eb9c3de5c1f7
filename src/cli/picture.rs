//! A picture into a file of its own.

use super::diagnostics::Failure;
use super::replace::{place_of, write_file};
use quarterlight::paper::scene::{DrawError, Scene};
use quarterlight::paper::{pdf, svg};
use std::path::Path;

/// Refused where a file is in the way of a picture that is asked for: asked before anything is written.
pub fn free(path: Option<&Path>, force: bool) -> Result<(), Failure> {
    path.map_or(Ok(()), |path| place_of(path, force).map(drop))
}

/// Writes what was drawn; an error that says `missing` where there is nothing to draw. A file that is there is replaced only with
/// `force`.
pub fn put(path: &Path, drawn: Result<Option<Scene>, DrawError>, missing: &str, force: bool) -> Result<(), Failure> {
    let fail = |source| Failure::Draw { source };
    let scene =
        drawn.map_err(fail)?.ok_or_else(|| Failure::Choice { what: "nothing to draw".into(), fix: missing.into() })?;
    let ends_in = |end: &str| path.extension().is_some_and(|e| e.eq_ignore_ascii_case(end));
    let bytes = if ends_in("pdf") {
        pdf::write(std::slice::from_ref(&scene), &scene.title).map_err(fail)?
    } else {
        svg::write(&scene, "p").map_err(fail)?.into_bytes()
    };
    write_file(path, &bytes, force)
}
