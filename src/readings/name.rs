//! What a name may be: of a tube, a set, a rig.

use super::findings::unprintable;

/// Longest name of a tube, set or rig, in characters.
const MAX_NAME: usize = 100;

/// What is wrong with a name, if anything.
pub(super) fn bad_name(name: &str) -> Option<&'static str> {
    if name.chars().any(unprintable) {
        Some("type the name again: it holds control characters")
    } else if name.chars().count() > MAX_NAME {
        Some("shorten it to 100 characters at most")
    } else {
        None
    }
}
