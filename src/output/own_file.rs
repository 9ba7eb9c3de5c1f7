//! The maker's own file, written anew: what was learned put in, all else left as it is.

use super::toml_put::{self, document, put};
use crate::domain::units::decimal;
use crate::lot::Kept;

/// What stands at the top of a file that is new.
const HEAD: &str = "# What lots of one maker share. A lot uses it with   maker = \"../maker.toml\"   under [lot] of its lot.toml; what a\n\
                    # lot.toml sets itself comes first. `quarterlight learn LOT... --keep FILE` writes what was learned; everything\n\
                    # else in it stays as it is, and limits, saw and instruments may be added by hand.\n\n";

/// One setting that learning changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptChange {
    /// Its section.
    pub section: &'static str,
    /// Its key.
    pub key: &'static str,
    /// As it stood; `None` where it did not.
    pub before: Option<String>,
    /// As it stands now.
    pub now: String,
}

/// The text of the file with what was learned in it, and what changes; everything else, comments included, stays as it was.
///
/// # Errors
/// What is wrong, in words, when the text is not TOML, a name that should be a section is none, or a limit stands there in
/// another unit already.
pub fn kept_in(text: &str, kept: &Kept) -> Result<(String, Vec<KeptChange>), String> {
    let mut document = document(text)?;
    let mut changes = Vec::new();
    for (section, key, x, decimals) in settings(kept) {
        let table = toml_put::section(&mut document, section)?;
        let in_unit = |k: &str| k.strip_prefix(key).is_some_and(|rest| rest.starts_with('_'));
        if let Some((other, _)) = table.iter().find(|(k, _)| in_unit(k)) {
            return Err(format!("[{section}] {other} stands there: take it away, {key} is written in mm"));
        }
        let (before, now) = put(table, key, decimal(x, decimals).parse().unwrap_or(x));
        changes.push(KeptChange { section, key, before, now });
    }
    let body = document.to_string();
    Ok((if text.trim().is_empty() { format!("{HEAD}{body}") } else { body }, changes))
}

/// Section, key, value and decimals of everything that is kept.
fn settings(kept: &Kept) -> Vec<(&'static str, &'static str, f64, usize)> {
    let limit = |(key, mm): &(&'static str, f64)| ("target", *key, *mm, if *mm < 1.0 { 4 } else { 2 });
    let mut out: Vec<_> = kept.limits_mm.iter().map(limit).collect();
    out.extend(kept.wander_deg.map(|w| ("split", "wander_deg", w, 2)));
    out.extend(kept.pace.map(|p| ("measure", "pace", p, 2)));
    if let Some(p) = kept.promise {
        out.extend([("promise", "factor", p.factor, 3), ("promise", "log_sd", p.log_sd, 3)]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Promise;

    fn kept() -> Kept {
        Kept {
            limits_mm: vec![("hollow", 0.065_43), ("skew", 4.518)],
            wander_deg: Some(5.234),
            pace: Some(1.25),
            promise: Some(Promise { factor: 0.9312, log_sd: 0.0412 }),
        }
    }

    #[test]
    fn a_new_file_says_what_it_is_and_an_old_one_keeps_what_is_the_makers() {
        let (text, changes) = kept_in("", &kept()).expect("nothing in the way");
        assert!(text.starts_with("# What lots of one maker share"), "{text}");
        assert!(text.contains("[target]\nhollow = 0.0654\nskew = 4.52\n"), "{text}");
        assert!(text.contains("wander_deg = 5.23\n") && text.contains("factor = 0.931\nlog_sd = 0.041\n"), "{text}");
        assert!(changes.iter().all(|c| c.before.is_none()) && changes.len() == 6);
        let own = "# mine\n[target]\nhollow = 0.08 # long ago\nedge_margin = 0.4\n\n[saw]\nkerf = 0.6\n";
        let (text, changes) = kept_in(own, &kept()).expect("nothing in the way");
        assert!(text.starts_with("# mine\n[target]\nhollow = 0.0654 # long ago\nedge_margin = 0.4\n"), "{text}");
        assert!(text.contains("[saw]\nkerf = 0.6\n"), "{text}");
        assert_eq!((changes[0].before.as_deref(), changes[0].now.as_str()), (Some("0.08"), "0.0654"));
        // the second time the same
        assert_eq!(kept_in(&text, &kept()).expect("just written").0, text);
    }

    #[test]
    fn what_would_be_said_twice_or_is_no_section_is_refused() {
        assert!(kept_in("[target]\nhollow_in = 0.003\n", &kept()).expect_err("two units").contains("hollow_in"));
        assert!(kept_in("split = 3\n", &kept()).expect_err("no section").contains("split"));
        assert!(kept_in("[target\n", &kept()).is_err());
    }
}
