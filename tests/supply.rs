//! What comes from outside is under terms that `deny.toml` allows and asks no newer compiler than we do; what a package of our
//! own holds is what belongs there.
//!
//! Asked of `cargo`, without the network, for the system the tests run on; `cargo deny check` asks it for all systems.

#[path = "support/lock.rs"]
mod lock;

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn file(name: &str) -> String {
    std::fs::read_to_string(root().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn cargo(args: &[&str]) -> String {
    let out = Command::new(env!("CARGO")).current_dir(root()).args(args).output().expect("cargo");
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("utf-8")
}

/// The packages of the system at hand.
fn packages() -> Vec<Value> {
    let rustc = std::env::var("RUSTC").unwrap_or_else(|_| "rustc".into());
    let told = Command::new(rustc).arg("-vV").output().expect("rustc").stdout;
    let told = String::from_utf8(told).expect("utf-8");
    let host = told.lines().find_map(|l| l.strip_prefix("host: ")).expect("a host");
    let text = cargo(&["metadata", "--format-version", "1", "--offline", "--locked", "--filter-platform", host]);
    let told: Value = serde_json::from_str(&text).expect("JSON");
    told["packages"].as_array().expect("packages").clone()
}

fn named<'a>(package: &'a Value, key: &str) -> &'a str {
    package[key].as_str().unwrap_or_default()
}

/// Whether an expression of licences (SPDX, or the older `A/B`) can be met with those allowed.
fn met(expression: &str, allowed: &dyn Fn(&str) -> bool) -> bool {
    let plain = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = plain.split_whitespace().collect();
    let (met, used) = any_of(&words, allowed);
    assert_eq!(used, words.len(), "'{expression}' is no expression of licences");
    met
}

fn any_of(words: &[&str], allowed: &dyn Fn(&str) -> bool) -> (bool, usize) {
    let (mut met, mut used) = all_of(words, allowed);
    while words.get(used) == Some(&"OR") {
        let (also, more) = all_of(&words[used + 1..], allowed);
        (met, used) = (met || also, used + 1 + more);
    }
    (met, used)
}

fn all_of(words: &[&str], allowed: &dyn Fn(&str) -> bool) -> (bool, usize) {
    let (mut met, mut used) = one(words, allowed);
    while words.get(used) == Some(&"AND") {
        let (also, more) = one(&words[used + 1..], allowed);
        (met, used) = (met && also, used + 1 + more);
    }
    (met, used)
}

fn one(words: &[&str], allowed: &dyn Fn(&str) -> bool) -> (bool, usize) {
    if words.first() == Some(&"(") {
        let (met, used) = any_of(&words[1..], allowed);
        return (met, used + 2);
    }
    // a licence with an exception is another licence, and none of them is needed
    let with = words.get(1) == Some(&"WITH");
    (!with && words.first().is_some_and(|w| allowed(w)), if with { 3 } else { 1 })
}

#[test]
fn expressions_of_licences_by_hand() {
    let mit = |w: &str| w == "MIT" || w == "Zlib";
    for (expression, want) in [
        ("MIT", true),
        ("GPL-3.0", false),
        ("Apache-2.0 OR MIT", true),
        ("MIT/Apache-2.0", true),
        ("MIT AND IJG", false),
        ("(Apache-2.0 OR MIT) AND Zlib", true),
        ("(Apache-2.0 OR MIT) AND BSD-3-Clause", false),
        ("Apache-2.0 WITH LLVM-exception OR Apache-2.0 OR MIT", true),
        ("Apache-2.0 WITH LLVM-exception", false),
    ] {
        assert_eq!(met(expression, &mit), want, "{expression}");
    }
}

#[test]
fn every_package_is_under_terms_that_are_allowed_and_no_term_is_allowed_in_vain() {
    let deny: toml::Table = file("deny.toml").parse().expect("TOML");
    let texts = |list: &toml::Value| -> BTreeSet<String> {
        list.as_array().expect("a list").iter().filter_map(|l| l.as_str().map(String::from)).collect()
    };
    let allowed = texts(&deny["licenses"]["allow"]);
    let exceptions = deny["licenses"]["exceptions"].as_array().expect("a list");
    let ours = lock::reachable(&file("Cargo.toml"), &file("Cargo.lock"));
    let all = packages();
    assert!(all.len() > 150, "{}", all.len());
    for p in &all {
        let own = exceptions.iter().find(|e| e["crate"].as_str() == Some(named(p, "name"))).map(|e| texts(&e["allow"]));
        let extra = own.unwrap_or_default();
        let terms = named(p, "license");
        assert!(met(terms, &|w| allowed.contains(w) || extra.contains(w)), "{} is under '{terms}'", named(p, "id"));
        let in_binary = ours.iter().any(|o| o.0 == named(p, "name"));
        assert!(extra.is_empty() || !in_binary, "{}: an exception for what is part of a binary", named(p, "id"));
    }
    for term in &allowed {
        let without = |p: &Value| !met(named(p, "license"), &|w| allowed.contains(w) && w != term);
        let excepted = |p: &&Value| exceptions.iter().any(|e| e["crate"].as_str() == Some(named(p, "name")));
        assert!(all.iter().filter(|p| !excepted(p)).any(without), "{term} is allowed, and nothing needs it");
    }
    for e in exceptions {
        assert!(all.iter().any(|p| e["crate"].as_str() == Some(named(p, "name"))), "{e}: no such package");
    }
}

#[test]
fn no_package_asks_for_a_newer_compiler_than_ours_and_all_come_from_one_place() {
    let version = |text: &str| -> Vec<u32> { text.split('.').map(|n| n.parse().expect("a number")).collect() };
    let all = packages();
    let own = all.iter().find(|p| named(p, "name") == "quarterlight").expect("our own");
    let most = version(named(own, "rust_version"));
    for p in &all {
        let asked = named(p, "rust_version");
        assert!(
            asked.is_empty() || version(asked) <= [&most[..], &[0]].concat(),
            "{} asks for {asked}",
            named(p, "id")
        );
        let from = named(p, "source");
        assert!(from.is_empty() || from.starts_with("registry+"), "{}", named(p, "id"));
    }
}

#[test]
fn a_package_holds_what_builds_and_what_is_read_and_nothing_else() {
    let listed = cargo(&["package", "--list", "--offline", "--locked", "--allow-dirty"]);
    let listed: BTreeSet<&str> = listed.lines().collect();
    let made = ["Cargo.toml", "Cargo.toml.orig", "Cargo.lock", ".cargo_vcs_info.json"];
    let texts = ["README.md", "CHANGELOG.md", "DEVELOPERS.md", "THIRD-PARTY.md", "LICENSE-MIT", "LICENSE-APACHE"];
    let folders = ["src", "tests", "examples", "benches", "data-samples", "figures"];
    for name in &listed {
        let below = name.split_once('/').is_some_and(|(folder, _)| folders.contains(&folder));
        assert!(below || made.contains(name) || texts.contains(name), "{name} does not belong in a package");
    }
    for name in
        texts.into_iter().chain(["src/main.rs", "src/paper/fonts/LICENCE-DejaVu.txt", "data-samples/demo/lot.toml"])
    {
        assert!(listed.contains(name), "{name} is missing");
    }
    // what README shows or points to
    for link in file("README.md").split("](").skip(1).filter_map(|l| l.split([')', '#']).next()) {
        let here = root().join(link).is_file();
        assert!(!here || listed.contains(link), "README.md shows {link}, which is missing");
    }
}
