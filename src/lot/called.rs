//! Which tube of a lot a name means.

use crate::domain::Lot;

/// The name as it stands in the lot: as it is, else that of the one tube of this name whatever the case.
///
/// # Errors
/// The tubes it may mean: several that differ by case alone, or none.
pub(super) fn called(lot: &Lot, name: &str) -> Result<String, Vec<String>> {
    let all = || lot.tubes.iter().map(|t| &t.name);
    if all().any(|t| t == name) {
        return Ok(name.to_string());
    }
    let mut like: Vec<String> = all().filter(|t| t.to_lowercase() == name.to_lowercase()).cloned().collect();
    if like.len() == 1 { like.pop().ok_or(like) } else { Err(like) }
}
