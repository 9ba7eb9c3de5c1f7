//! Readings that could not be used beside others of the same file that could: the rest decides, where it is most of them.

use super::book::Book;
use super::findings::whole_file;
use crate::domain::counted;
use std::sync::Arc;

/// So many readings of a tube must have been read from a file for each one that could not be: a slip of the pen here and
/// there leaves them, while a column of the wrong meaning does not. Own choice.
const READ_FOR_EACH_LOST: usize = 5;

/// Puts the tubes in doubt of which too many readings were set aside, and says of the others what goes on without.
pub(super) fn decide(book: &mut Book) {
    for ((tube, file), lost) in book.findings.take_aside() {
        let read = read_from(book, &tube, &file);
        if lost.saturating_mul(READ_FOR_EACH_LOST) > read {
            book.findings.doubt(&tube);
        } else if !book.findings.doubtful().contains(&tube) {
            let found = format!("{} of {tube} set aside", counted(lost, "reading"));
            let fix = format!("nothing to do but mend: until then the other {read} of this file decide");
            book.findings.note(whole_file(&file), Some(&tube), found, "readings that can all be used", fix);
        }
    }
}

fn read_from(book: &Book, tube: &str, file: &Arc<str>) -> usize {
    book.tube(tube).map_or(0, |t| t.readings.iter().filter(|r| r.place.file == *file).count())
}
