//! No two files of a folder import each other, directly or round a few others: what a file needs can be read below it.
//!
//! A name that a `mod.rs` only hands on (`pub use child::Name`) counts as an import of the child.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Circles there still are, each to be opened where its files are next worked on. None may be added.
const KNOWN: &[&[&str]] = &[
    &[
        "output/report/card.rs",
        "output/report/cuts.rs",
        "output/report/mod.rs",
        "output/report/page.rs",
        "output/report/strips.rs",
    ],
    &["output/scan_report.rs", "output/text.rs"],
    &["paper/scene/hatch.rs", "paper/scene/mark.rs"],
    &["paper/strip.rs", "paper/strip/length.rs", "paper/strip/wrap.rs"],
    &["tube/arc_fit.rs", "tube/instrument.rs", "tube/outline.rs", "tube/support.rs"],
];

/// A module's path, `["tube", "scan", "frame"]`.
type Module = Vec<String>;

struct Source {
    file: String,
    text: String,
    /// Names handed on by `pub use`, with the path they come from.
    handed_on: BTreeMap<String, Vec<String>>,
}

struct Crate(BTreeMap<Module, Source>);

impl Crate {
    fn read(files: Vec<(String, String)>) -> Crate {
        let source = |(file, text): (String, String)| {
            let mut module: Module = file.trim_end_matches(".rs").split('/').map(String::from).collect();
            if module.last().is_some_and(|m| m == "mod") {
                module.pop();
            }
            let text = without_tests_and_comments(&text);
            let mut handed_on = BTreeMap::new();
            for statement in statements(&text).filter(|s| s.starts_with("pub")) {
                for path in paths(statement.split_once("use ").map_or("", |s| s.1)) {
                    if let Some(name) = path.last() {
                        handed_on.insert(name.clone(), path.clone());
                    }
                }
            }
            (module, Source { file, text, handed_on })
        };
        Crate(files.into_iter().map(source).collect())
    }

    /// The module that `path`, written in `from`, leads into; names handed on are followed.
    fn leads_to(&self, from: &[String], path: &[String], hops: usize) -> Option<Module> {
        let mut at = from.to_vec();
        let mut rest = path;
        while let Some((first, more)) = rest.split_first() {
            match first.as_str() {
                "self" => {}
                "super" => drop(at.pop()),
                "crate" => at.clear(),
                name => {
                    at.push(name.to_string());
                    if !self.0.contains_key(&at) {
                        at.pop();
                        break;
                    }
                }
            }
            rest = more;
        }
        let source = self.0.get(&at)?;
        match rest.first().and_then(|name| source.handed_on.get(name)) {
            Some(on) if hops < 5 => self.leads_to(&at, on, hops + 1),
            _ => Some(at),
        }
    }

    /// The modules of its own folder that a module imports.
    fn imports(&self, module: &Module) -> BTreeSet<Module> {
        let mut text = self.0[module].text.clone();
        for statement in statements(&self.0[module].text).filter(|s| s.starts_with("pub")) {
            text = text.replace(statement, "");
        }
        let mut heads = vec!["super".to_string(), "crate".into(), "self".into()];
        heads.extend(
            self.0
                .keys()
                .filter(|k| k.len() == module.len() + 1 && k.starts_with(module))
                .map(|k| k[module.len()].clone()),
        );
        let mut out = BTreeSet::new();
        for head in heads {
            for (at, _) in text.match_indices(&format!("{head}::")) {
                let before = text[..at].chars().next_back();
                if before.is_some_and(|c| c.is_alphanumeric() || "_:$".contains(c)) {
                    continue;
                }
                let reached = paths(&text[at..]).into_iter().filter_map(|p| self.leads_to(module, &p, 0));
                out.extend(reached.filter(|m| m != module && m.first() == module.first()));
            }
        }
        out
    }

    /// Groups of files that can all be reached from each other.
    fn circles(&self) -> Vec<Vec<&str>> {
        let direct: BTreeMap<&Module, BTreeSet<Module>> = self.0.keys().map(|m| (m, self.imports(m))).collect();
        let reach = |from: &Module| {
            let (mut seen, mut open) = (BTreeSet::new(), vec![from.clone()]);
            while let Some(m) = open.pop() {
                open.extend(direct[&m].iter().filter(|n| seen.insert((*n).clone())).cloned());
            }
            seen
        };
        let all: BTreeMap<&Module, BTreeSet<Module>> = self.0.keys().map(|m| (m, reach(m))).collect();
        let round = |m: &Module| -> Vec<&str> {
            let back = |n: &&Module| all[m].contains(*n) && all[*n].contains(m);
            let mut files: Vec<&str> = self.0.keys().filter(back).map(|n| self.0[n].file.as_str()).collect();
            files.sort_unstable();
            files
        };
        let groups: BTreeSet<Vec<&str>> = self.0.keys().map(round).filter(|g| g.len() > 1).collect();
        groups.into_iter().collect()
    }
}

fn without_tests_and_comments(text: &str) -> String {
    let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or("");
    let bare = |l: &str| {
        if l.trim_start().starts_with("//") { String::new() } else { l.split(" //").next().unwrap_or("").into() }
    };
    code.lines().map(bare).collect::<Vec<String>>().join("\n")
}

/// `use` statements at the start of a line, with what stands before `use`.
fn statements(text: &str) -> impl Iterator<Item = &str> {
    text.match_indices("use ").filter_map(|(at, _)| {
        let start = text[..at].rfind('\n').map_or(0, |n| n + 1);
        let lead = text[start..at].trim();
        let end = at + text[at..].find(';')?;
        (lead.is_empty() || (lead.starts_with("pub") && !lead.contains(' '))).then(|| text[start..end].trim())
    })
}

/// All paths of a `use` tree or of a path in code that begins at the start of `text`.
fn paths(text: &str) -> Vec<Vec<String>> {
    let text = text.trim_start();
    if let Some(inner) = text.strip_prefix('{') {
        let (mut depth, mut start, mut out) = (1, 0, Vec::new());
        for (i, c) in inner.char_indices() {
            depth += i32::from(c == '{') - i32::from(c == '}');
            if depth == 0 || (depth == 1 && c == ',') {
                out.extend(paths(&inner[start..i]));
                start = i + 1;
            }
            if depth == 0 {
                break;
            }
        }
        return out;
    }
    let name: String = text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    if name.is_empty() {
        return Vec::new();
    }
    let more = text[name.len()..].strip_prefix("::").map_or(Vec::new(), paths);
    if more.is_empty() {
        return vec![vec![name]];
    }
    more.into_iter().map(|p| std::iter::once(name.clone()).chain(p).collect()).collect()
}

fn sources(folder: &Path, below: &str, out: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).expect("folder") {
        let path = entry.expect("entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let full = if below.is_empty() { name.clone() } else { format!("{below}/{name}") };
        if path.is_dir() {
            sources(&path, &full, out);
        } else if name.ends_with(".rs") && !matches!(full.as_str(), "lib.rs" | "main.rs") {
            out.push((full, fs::read_to_string(&path).expect("source")));
        }
    }
}

#[test]
fn no_files_of_a_folder_import_each_other_in_a_circle() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "", &mut files);
    assert!(files.len() > 100, "only {} files found: the walk is broken", files.len());
    let whole = Crate::read(files);
    let circles = whole.circles();
    let new: Vec<_> = circles.iter().filter(|c| !KNOWN.contains(&c.as_slice())).collect();
    assert!(new.is_empty(), "files that import each other: {new:#?}");
    let opened: Vec<_> = KNOWN.iter().filter(|k| !circles.iter().any(|c| c.as_slice() == **k)).collect();
    assert!(opened.is_empty(), "no circle any more, take it off the list: {opened:#?}");
}

#[test]
fn planted_circles_are_found_and_a_name_handed_on_is_none() {
    let files =
        |list: &[(&str, &str)]| Crate::read(list.iter().map(|(f, t)| ((*f).to_string(), (*t).to_string())).collect());
    let direct = files(&[
        ("a/mod.rs", "mod x;\nmod y;"),
        ("a/x.rs", "use super::y::Y;"),
        ("a/y.rs", "fn f() { super::x::g() }"),
    ]);
    assert_eq!(direct.circles(), [["a/x.rs", "a/y.rs"]]);
    let long = files(&[
        ("a/mod.rs", ""),
        ("a/x.rs", "use crate::a::{q::Q, y::{Y, Z}};"),
        ("a/y.rs", "use super::z;"),
        ("a/z.rs", "use super::x::{\n    A,\n    B,\n};"),
        ("a/q.rs", ""),
    ]);
    assert_eq!(long.circles(), [["a/x.rs", "a/y.rs", "a/z.rs"]]);
    let handed = files(&[
        ("a/mod.rs", "mod x;\nmod y;\npub use x::X;\npub use y::Y;"),
        ("a/x.rs", "pub struct X; // not super::y::Y\n#[cfg(test)]\nmod tests { use super::super::y::Y; }"),
        ("a/y.rs", "use super::X;"),
    ]);
    assert!(handed.circles().is_empty(), "{:?}", handed.circles());
    let parent = files(&[("a/mod.rs", "mod x;\nuse x::f;\npub struct A;"), ("a/x.rs", "use super::A;")]);
    assert_eq!(parent.circles(), [["a/mod.rs", "a/x.rs"]]);
}
