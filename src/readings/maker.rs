//! The maker's own file: settings that several lots share, such as what `learn --keep` writes.
//!
//! `[lot] maker = "../maker.toml"` names it, from the lot's own folder. It is written as `lot.toml` is, without what belongs to
//! one lot alone (`[lot]`, the instrument and the blank of `[target]`, `[population]`); what the lot says itself comes first.

use super::book::Book;
use super::findings::{quoted, whole_file};
use super::lot_toml;
use super::own_sets::{self, apply};
use super::settings::{Entry, Value};
use std::path::Path;
use std::sync::Arc;

/// Sections that a maker's file may have; `target` of these only its limits.
const SECTIONS: [&str; 7] = ["saw", "split", "promise", "screen", "measure", "batch", "target"];
/// Of `[target]`, what is the maker's way of judging and not the lot's blank.
const LIMITS: [&str; 6] = ["arc_tolerance", "hollow", "rock", "skew", "grain_drift", "edge_margin"];

/// Applies a lot's settings, behind those of the maker's file that they name. `read` reads a file.
pub(super) fn settle(entries: Vec<Entry>, read: impl Fn(&Path) -> Result<Vec<u8>, String>, book: &mut Book) {
    let all = match named(&entries) {
        Some((entry, word)) => {
            let mut all = of_maker(entry, word, read, book);
            all.extend(entries);
            all
        }
        None => entries,
    };
    apply(&all, book);
}

fn named(entries: &[Entry]) -> Option<(&Entry, &str)> {
    entries.iter().rfind(|e| e.key == "maker" && (e.section == "lot" || e.section.is_empty())).and_then(|e| {
        match &e.value {
            Value::Text(t) | Value::Cell(t) if !t.trim().is_empty() => Some((e, t.trim())),
            _ => None,
        }
    })
}

/// What the maker's file sets; none, and an error at the setting that names it, where it cannot be read.
fn of_maker(entry: &Entry, word: &str, read: impl Fn(&Path) -> Result<Vec<u8>, String>, book: &mut Book) -> Vec<Entry> {
    let bytes = match &book.folder {
        Some(folder) => read(&folder.join(word)),
        None => Err("no folder that it could be found from".to_string()),
    };
    let bytes = match bytes {
        Ok(bytes) => bytes,
        Err(why) => {
            let fix = "write its path as seen from the lot's folder, or take the line away";
            book.findings.error(
                entry.place.clone(),
                None,
                format!("{}: {why}", quoted(word)),
                "the maker's own file",
                fix,
            );
            return Vec::new();
        }
    };
    let file: Arc<str> = word.into();
    let (mine, others): (Vec<Entry>, Vec<Entry>) =
        lot_toml::entries(&bytes, &file, book).unwrap_or_default().into_iter().partition(belongs);
    for other in others {
        let found = format!("[{}] {}", other.section, other.key);
        let fix = "ignored here; write it into the lot's own lot.toml";
        book.findings.note(other.place, None, found, "what lots share", fix);
    }
    if !mine.is_empty() {
        let names: Vec<String> = mine.iter().filter(|e| !e.section.contains('.')).map(|e| e.key.clone()).collect();
        let has = |start: &str| mine.iter().any(|e| e.section.starts_with(start));
        let names = (!names.is_empty()).then(|| names.join(", "));
        let rigs = has("rig.").then(|| "its rigs".to_string());
        let sets = has(own_sets::SECTION).then(|| "its own sets".to_string());
        let found = [names, rigs, sets].into_iter().flatten().collect::<Vec<_>>().join(" and ");
        book.findings.note(whole_file(&file), None, found, "what the lot does not set itself", "used");
    }
    mine
}

fn belongs(e: &Entry) -> bool {
    match e.section.as_str() {
        "target" => {
            LIMITS.iter().any(|l| e.key == *l || e.key.strip_prefix(l).is_some_and(|rest| rest.starts_with('_')))
        }
        section => SECTIONS.contains(&section) || section.starts_with("rig.") || section.starts_with(own_sets::SECTION),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Place, Severity, units::DecimalMark};

    fn entry(section: &str, key: &str, value: Value) -> Entry {
        let place = Place { file: "lot.toml".into(), line: 1, column: key.into() };
        Entry { section: section.into(), key: key.into(), value, place, mark: DecimalMark::Point }
    }

    fn book() -> Book {
        Book::in_folder(Some(Path::new("lots/spring")))
    }

    #[test]
    fn the_makers_file_fills_in_what_the_lot_does_not_say() {
        let own = "[target]\nhollow = 0.06\nrock = 0.1\ninstrument = \"clarinet\"\n[split]\nwander_deg = 5.5\n\
                   [promise]\nfactor = 0.9\nlog_sd = 0.04\n[rig.dial]\nsd = 0.02\n[lot]\nprice = 3\n";
        let mut book = book();
        let entries = vec![
            entry("lot", "maker", Value::Text("../maker.toml".into())),
            entry("target", "instrument", Value::Text("bass clarinet".into())),
            entry("target", "hollow", Value::Number(0.09)),
        ];
        settle(
            entries,
            |path| {
                assert_eq!(path, Path::new("lots/spring/../maker.toml"));
                Ok(own.into())
            },
            &mut book,
        );
        let t = &book.lot.target;
        assert_eq!((t.instrument.as_str(), t.hollow_mm, t.rock_mm), ("bass clarinet", 0.09, 0.1));
        assert!((book.lot.split.wander_deg - 5.5).abs() < 1e-12 && book.lot.price.is_none());
        assert_eq!(book.lot.promise.map(|p| (p.factor, p.log_sd)), Some((0.9, 0.04)));
        assert_eq!(book.lot.rigs["dial"].sd_mm, Some(0.02));
        let notes = std::mem::take(&mut book.findings).finish();
        assert!(notes.iter().all(|f| f.severity == Severity::Note), "{notes:?}");
        // the price and the instrument are not the maker's; what was used is told once
        assert_eq!(notes.len(), 3, "{notes:?}");
    }

    #[test]
    fn a_makers_file_that_is_not_there_is_an_error_where_it_is_named() {
        let mut one = book();
        let entries = || vec![entry("lot", "maker", Value::Text("gone.toml".into()))];
        settle(entries(), |_| Err("not found".into()), &mut one);
        let mut none = Book::default();
        settle(entries(), |_| panic!("there is no folder to look in"), &mut none);
        for mut book in [one, none] {
            let found = std::mem::take(&mut book.findings).finish();
            assert_eq!((found.len(), found[0].severity, &*found[0].place.file), (1, Severity::Error, "lot.toml"));
        }
    }
}
