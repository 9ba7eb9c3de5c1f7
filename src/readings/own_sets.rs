//! The maker's own sets, `[instrument.NAME]` in `lot.toml`, in its sheet or in the maker's file.
//!
//! A set takes the keys of `[target]`, what one blank is worth (`blank_value`), and `like`: the set that what is not stated
//! comes from, a starting set or another of the maker's. Without `like` that is the lot's target; where the target itself
//! rests on the set, the clarinet. A set with the name of a starting set starts from that one. What a blank is worth comes
//! from no other set.

use super::book::Book;
use super::findings::quoted;
use super::name::bad_name;
use super::nearest::nearest;
use super::settings::{self, Entry, Value};
use crate::domain::{ALL_SETS, Instrument, OwnSet, Place, Target, same_name};

/// What a section of a set begins with.
pub(super) const SECTION: &str = "instrument.";

/// A set as stated, before what it starts from is known.
struct Stated {
    name: String,
    like: Option<Entry>,
    keys: Vec<Entry>,
    state: State,
}

enum State {
    Open,
    /// What it starts from is just being looked for.
    Busy,
    Done(OwnSet),
}

/// Puts all settings into the lot, and its own sets; reports every one that cannot be used.
pub(super) fn apply(entries: &[Entry], book: &mut Book) {
    let (of_sets, others): (Vec<&Entry>, Vec<&Entry>) = entries.iter().partition(|e| e.section.starts_with(SECTION));
    let others: Vec<Entry> = others.into_iter().cloned().collect();
    let mut sets = gathered(&of_sets, book);
    // those that the target rests on come before it, all others may start from it
    let named = settings::instrument_named(&others);
    let usual = Target::default();
    if let Some(i) = position(&sets, named.unwrap_or(&usual.instrument)) {
        resolve(i, &mut sets, &usual, book);
        if let (None, State::Done(set)) = (named, &sets[i].state) {
            (book.lot.target, book.lot.blank_value) = (set.target.clone(), set.blank_value);
        }
    }
    let names = own_names(&sets);
    settings::apply(&others, &done(&sets), &names, book);
    let target = book.lot.target.clone();
    for i in 0..sets.len() {
        resolve(i, &mut sets, &target, book);
    }
    book.lot.own_sets = done(&sets);
    book.lot.own_sets.sort_by(|a, b| a.target.instrument.cmp(&b.target.instrument));
}

fn done(sets: &[Stated]) -> Vec<OwnSet> {
    let one = |s: &Stated| match &s.state {
        State::Done(set) => Some(set.clone()),
        _ => None,
    };
    sets.iter().filter_map(one).collect()
}

/// Names of the sets that no starting set has.
fn own_names(sets: &[Stated]) -> Vec<String> {
    sets.iter().filter(|s| Instrument::named(&s.name).is_none()).map(|s| s.name.clone()).collect()
}

fn position(sets: &[Stated], name: &str) -> Option<usize> {
    sets.iter().position(|s| same_name(&s.name, name))
}

/// The sets in the order of first mention, each with its keys.
fn gathered(entries: &[&Entry], book: &mut Book) -> Vec<Stated> {
    let mut sets: Vec<Stated> = Vec::new();
    let mut refused: Vec<&str> = Vec::new();
    for entry in entries {
        let name = entry.section.strip_prefix(SECTION).unwrap_or_default().trim();
        if refused.contains(&name) {
            continue;
        }
        let what = if name.is_empty() || same_name(name, ALL_SETS) || name.contains(',') {
            Some("call it something else: a name without a comma, and not all")
        } else {
            bad_name(name)
        };
        if let Some(fix) = what {
            refused.push(name);
            book.findings.error(entry.place.clone(), None, quoted(name), "the name of a set of your own", fix);
            continue;
        }
        let i = position(&sets, name).unwrap_or_else(|| {
            sets.push(Stated { name: name.to_string(), like: None, keys: Vec::new(), state: State::Open });
            sets.len() - 1
        });
        let set = &mut sets[i];
        let here = |e: &&Entry| e.place.file == entry.place.file;
        let other_name = set.name != name && set.keys.iter().chain(&set.like).any(|e| here(&e));
        let again = !entry.key.is_empty() && set.keys.iter().chain(&set.like).filter(here).any(|e| e.key == entry.key);
        if other_name || again {
            let found = if other_name { quoted(name) } else { format!("{} again", quoted(&entry.key)) };
            if other_name {
                refused.push(name);
            }
            let fix = format!("it is stated already{}: delete one of the two", set_line(set, &entry.place));
            book.findings.error(entry.place.clone(), None, found, format!("{} once", quoted(&set.name)), fix);
            continue;
        }
        // the lot's own spelling is told, which comes after the maker's
        set.name = name.to_string();
        if entry.key == "like" {
            set.like = Some((*entry).clone());
        } else {
            set.keys.push((*entry).clone());
        }
    }
    sets
}

/// Where a set is first stated in the same file, in words.
fn set_line(set: &Stated, place: &Place) -> String {
    let first = set.keys.iter().chain(&set.like).map(|e| &e.place).find(|p| p.file == place.file && p.line > 0);
    first.map_or(String::new(), |p| format!(" from line {} on", p.line))
}

/// Makes set `i` out of what it starts from; `base` is that where nothing is said.
fn resolve(i: usize, sets: &mut [Stated], base: &Target, book: &mut Book) {
    if !matches!(sets[i].state, State::Open) {
        return;
    }
    sets[i].state = State::Busy;
    let name = sets[i].name.clone();
    let like = sets[i].like.clone();
    let start = match (Target::for_instrument(&name), like) {
        (Some(own), None) => own,
        (Some(own), Some(like)) => {
            let fix = format!("{} is a starting set and starts from itself: delete the line", quoted(&name));
            settings::refuse(&like, "no like here", &fix, book);
            own
        }
        (None, None) => base.clone(),
        (None, Some(like)) => start_of(&like, sets, base, book),
    };
    let mut set = OwnSet { target: Target { instrument: name, ..start }, blank_value: None };
    for entry in sets[i].keys.iter().filter(|e| !e.key.is_empty()) {
        settings::of_set(entry, &mut set, book);
    }
    sets[i].state = State::Done(set);
}

/// What a set that is `like` another starts from.
fn start_of(like: &Entry, sets: &mut [Stated], base: &Target, book: &mut Book) -> Target {
    let word = match &like.value {
        Value::Text(t) | Value::Cell(t) => t.trim().to_string(),
        _ => String::new(),
    };
    if let Some(j) = position(sets, &word) {
        resolve(j, sets, base, book);
        if let State::Done(set) = &sets[j].state {
            return set.target.clone();
        }
        let fix = "these sets start from each other: let one of them start from a starting set";
        settings::refuse(like, "a set that does not itself start from this one", fix, book);
        return base.clone();
    }
    Target::for_instrument(&word).unwrap_or_else(|| {
        let own = own_names(sets);
        let names: Vec<&str> = Instrument::names().into_iter().chain(own.iter().map(String::as_str)).collect();
        let fix = match nearest(&word, names.iter().copied()) {
            Some(near) => format!("is {near} meant?"),
            None => "name a starting set, or another set of yours".to_string(),
        };
        settings::refuse(like, &format!("one of {}", names.join(", ")), &fix, book);
        base.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Finding, Lot, Severity};
    use crate::readings::lot_toml::entries;

    fn read(text: &str) -> (Lot, Vec<Finding>) {
        let mut book = Book::default();
        let found = entries(text.as_bytes(), &"lot.toml".into(), &mut book).expect("well formed");
        apply(&found, &mut book);
        let findings = std::mem::take(&mut book.findings).finish();
        (book.lot, findings)
    }

    fn set<'a>(lot: &'a Lot, name: &str) -> &'a OwnSet {
        lot.own_sets.iter().find(|s| s.target.instrument == name).expect(name)
    }

    #[test]
    fn a_set_takes_from_another_what_it_does_not_state() {
        let text = "[lot]\nunits = \"in\"\n[target]\ninstrument = \"my-alto\"\nhollow = 0.05\n\
            [instrument.my-alto]\nlike = \"alto saxophone\"\nblank_length = \"2 1/2 in\"\nrock = 0.2\nblank_value = 1.4\n\
            [instrument.\"short one\"]\nlike = \"my alto\"\nblank_length = 60\n\
            [instrument.tight]\nskew_in = 0.1\n\
            [instrument.Clarinet]\nblank_value = 0.8\nhollow = 0.06\n[instrument.bare]\n";
        let (lot, findings) = read(text);
        assert!(findings.is_empty(), "{findings:?}");
        let alto = Target::for_instrument("alto saxophone").expect("a set");
        let mine = &set(&lot, "my-alto").target;
        let wanted = Target { instrument: "my-alto".into(), blank_length_mm: 63.5, rock_mm: 0.2, ..alto };
        assert_eq!(*mine, wanted);
        // the target is that set but for what it states, and is worth the same
        assert_eq!(lot.target, Target { hollow_mm: 0.05, ..wanted.clone() });
        assert_eq!(lot.blank_value, Some(1.4));
        // a set like the other has its limits and not its worth
        let short = set(&lot, "short one");
        let like = Target { instrument: "short one".into(), blank_length_mm: 60.0, ..wanted };
        assert_eq!((&short.target, short.blank_value), (&like, None));
        // without like it is the target
        let tight = &set(&lot, "tight").target;
        assert_eq!((tight.hollow_mm, tight.blank_length_mm), (0.05, 63.5));
        assert!((tight.skew_mm - 2.54).abs() < 1e-9);
        assert_eq!(set(&lot, "bare").target, Target { instrument: "bare".into(), ..lot.target.clone() });
        // the name of a starting set starts from that
        let clarinet = set(&lot, "Clarinet");
        let own = Target { instrument: "Clarinet".into(), hollow_mm: 0.06, ..Target::default() };
        assert_eq!((&clarinet.target, clarinet.blank_value), (&own, Some(0.8)));
        let names: Vec<&str> = lot.own_sets.iter().map(|s| s.target.instrument.as_str()).collect();
        assert_eq!(names, ["Clarinet", "bare", "my-alto", "short one", "tight"]);
    }

    #[test]
    fn a_set_that_the_target_rests_on_starts_from_the_clarinet_wherever_it_is_named() {
        let (lot, findings) = read(
            "[target]\ninstrument = \"a\"\nhollow = 0.01\n[instrument.a]\nlike = \"b\"\n[instrument.b]\nrock = 0.3\n",
        );
        assert!(findings.is_empty(), "{findings:?}");
        let b = Target { instrument: "b".into(), rock_mm: 0.3, ..Target::default() };
        assert_eq!(set(&lot, "b").target, b);
        assert_eq!(lot.target, Target { instrument: "a".into(), hollow_mm: 0.01, ..b });
    }

    #[test]
    fn what_cannot_stand_is_told_once_with_its_line() {
        for (text, line, found, expected) in [
            ("[instrument.x]\nhollw = 0.1\n", 2, "'hollw'", "a key of a set"),
            ("[instrument.x]\nhollow = 99\n", 2, "99", "from 0.0001 to 10 mm"),
            ("[instrument.x]\npieces = 9\n", 2, "9", "a whole number from 2 to 6"),
            ("[instrument.x]\nblank_value = -1\n", 2, "-1", "from 0 to 1000000"),
            ("[instrument.x]\nlike = \"tuba\"\n", 2, "'tuba'", "one of e-flat clarinet"),
            ("[instrument.x]\nlike = 3\n", 2, "3", "one of e-flat clarinet"),
            ("[instrument.x]\nlike = \"x\"\n", 2, "'x'", "does not itself start from this one"),
            ("[instrument.x]\nlike = \"y\"\n[instrument.y]\nlike = \"x\"\n", 4, "'x'", "does not itself start"),
            ("[instrument.oboe]\nlike = \"clarinet\"\n", 2, "'clarinet'", "no like here"),
            ("[instrument.x]\nhollow = 0.1\n[instrument.X]\nrock = 0.1\n", 3, "'X'", "'x' once"),
            ("[instrument.all]\nhollow = 0.1\n", 1, "'all'", "the name of a set of your own"),
            ("[instrument.\"a,b\"]\nhollow = 0.1\nrock = 0.1\n", 1, "'a,b'", "the name of a set of your own"),
            ("[instrument]\nhollow = 0.1\n", 2, "'hollow' = 0.1", "a section [instrument.NAME]"),
            ("[target]\ninstrument = \"zz\"\n[instrument.x]\nrock = 0.1\n", 2, "'zz'", ", contrabassoon, x"),
        ] {
            let (lot, findings) = read(text);
            let told = format!("{text}: {findings:?}");
            assert_eq!(findings.len(), 1, "{told}");
            let f = &findings[0];
            assert_eq!((f.severity, f.place.line, &*f.place.file), (Severity::Error, line, "lot.toml"), "{told}");
            assert!(f.found.contains(found) && f.expected.contains(expected) && !f.fix.is_empty(), "{told}");
            // the rest holds
            assert_eq!(lot.target.hollow_mm.to_bits(), Target::default().hollow_mm.to_bits());
        }
    }
}
