//! The layers point one way: a file imports only from its own folder and folders listed before it.

use std::fs;
use std::path::{Path, PathBuf};

/// Lowest first. `readings` is a side branch on `domain`; only `lot`, where files and belief meet, and `study`
/// import it. `paper` draws
/// and knows no tubes, though it stands just below `output`. `picture` is another side branch: `lot` makes readings of what it
/// sees, `output` tells it. `known`, the tubes of known truth, stands on `domain` alone: nothing of the code it judges enters it, and
/// only `study`, which judges by it, and `output` know of it.
const LAYERS: [&str; 12] = [
    "domain", "readings", "known", "numeric", "geometry", "picture", "tube", "decide", "lot", "study", "paper",
    "output",
];

fn rust_files(folder: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder).expect("folder").map(|e| e.expect("entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

/// Layers named after `crate::` (or `quarterlight::` in a doc example) in a source text.
fn named_layers(text: &str) -> Vec<(usize, String)> {
    let mut out = Vec::new();
    for (i, line) in text.lines().enumerate() {
        for (at, _) in line.match_indices("crate::") {
            // `$crate` or a longer word is not a path of ours
            let before = line[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '$') {
                continue;
            }
            let name: String =
                line[at + 7..].chars().take_while(|c| c.is_alphanumeric() || *c == '_' || *c == '{').collect();
            out.push((i + 1, name));
        }
    }
    out
}

fn may_import(from: &str, to: &str) -> bool {
    let place = |l: &str| LAYERS.iter().position(|x| *x == l);
    match (from, to) {
        ("readings", "domain" | "readings") | ("lot" | "study", "readings") => true,
        ("readings", _) | (_, "readings") => false,
        ("known", "domain" | "known") | ("study" | "output", "known") => true,
        ("known", _) | (_, "known") => false,
        ("lot" | "output" | "picture", "picture") => true,
        (_, "picture") => false,
        ("paper", _) => matches!(to, "domain" | "numeric" | "geometry" | "paper"),
        _ => place(to) <= place(from),
    }
}

fn violations(layer: &str, text: &str) -> Vec<String> {
    named_layers(text)
        .into_iter()
        .filter_map(|(line, name)| {
            if name.starts_with('{') {
                return Some(format!("line {line}: `crate::{{...}}` hides which layers are used"));
            }
            if !LAYERS.contains(&name.as_str()) {
                return None;
            }
            (!may_import(layer, &name)).then(|| format!("line {line}: {layer} imports {name}"))
        })
        .collect()
}

#[test]
fn no_layer_imports_a_later_one() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut seen = 0;
    let mut bad = Vec::new();
    for layer in LAYERS {
        let mut files = Vec::new();
        rust_files(&src.join(layer), &mut files);
        for file in files {
            seen += 1;
            let text = fs::read_to_string(&file).expect("source");
            let name = file.strip_prefix(&src).unwrap_or(&file).display().to_string();
            bad.extend(violations(layer, &text).into_iter().map(|v| format!("{name}, {v}")));
        }
    }
    assert!(seen > 40, "only {seen} files found: the walk is broken");
    assert!(bad.is_empty(), "backward imports:\n{}", bad.join("\n"));
}

#[test]
fn the_command_line_uses_the_public_crate_only() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = vec![src.join("main.rs")];
    rust_files(&src.join("cli"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).expect("source");
        for (line, name) in named_layers(&text) {
            assert!(!LAYERS.contains(&name.as_str()), "{}, line {line}: crate::{name}", file.display());
        }
    }
}

#[test]
fn a_planted_backward_import_is_caught() {
    assert_eq!(violations("numeric", "use crate::geometry::Circle;").len(), 1);
    assert_eq!(violations("tube", "fn f() { crate::decide::plan::x() }").len(), 1);
    assert_eq!(violations("tube", "use crate::readings::read_lot;").len(), 1);
    assert_eq!(violations("output", "use crate::readings::read_lot;").len(), 1);
    assert_eq!(violations("decide", "use crate::lot::Assessed;").len(), 1);
    assert_eq!(violations("output", "use crate::{decide, tube};").len(), 1);
    assert_eq!(violations("paper", "use crate::tube::Belief;").len(), 1);
    assert_eq!(violations("paper", "use crate::output::show::Units;").len(), 1);
    assert_eq!(violations("decide", "use crate::paper::scene::Scene;").len(), 1);
    assert_eq!(violations("tube", "use crate::picture::Grey;").len(), 1);
    assert_eq!(violations("picture", "use crate::tube::Belief;").len(), 1);
    assert_eq!(violations("known", "use crate::numeric::Draws;").len(), 1);
    assert_eq!(violations("known", "use crate::geometry::Circle;").len(), 1);
    assert_eq!(violations("known", "use crate::tube::Belief;").len(), 1);
    assert_eq!(violations("known", "use crate::decide::split::Splitter;").len(), 1);
    assert_eq!(violations("known", "use crate::readings::read_lot;").len(), 1);
    assert_eq!(violations("tube", "use crate::known::shape::TrueTube;").len(), 1);
    assert!(violations("known", "use crate::domain::Place;").is_empty());
    assert!(violations("study", "use crate::known::shape::TrueTube; use crate::lot::Prepared;").is_empty());
    assert_eq!(violations("decide", "use crate::study::outcome::Make;").len(), 1);
    assert!(violations("lot", "use crate::picture::Grey;").is_empty());
    assert!(violations("decide", "use crate::tube::Belief; use super::piece;").is_empty());
    assert!(violations("lot", "use crate::readings::read_lot;").is_empty());
    assert!(violations("paper", "use crate::domain::Angle; use crate::paper::font;").is_empty());
    assert!(violations("output", "use crate::paper::svg;").is_empty());
}

#[test]
fn no_source_file_has_grown_past_its_screen() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    for file in files {
        let lines = fs::read_to_string(&file).expect("source").lines().count();
        assert!(lines <= 700, "{} has {lines} lines: split it by the nouns in it", file.display());
    }
}
