//! What a built binary carries of other people's work is told, by the file and by the binary.

#[path = "support/lock.rs"]
mod lock;

use std::path::Path;
use std::process::Command;

fn file(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Name and version of each package in the table of the notices.
fn listed(notices: &str) -> Vec<(String, String)> {
    let rows = notices.lines().skip_while(|l| !l.starts_with("| package |")).skip(2).take_while(|l| l.starts_with('|'));
    let cell = |row: &str, i: usize| row.split('|').nth(i).unwrap_or_default().trim().to_string();
    rows.map(|r| (cell(r, 1), cell(r, 2))).collect()
}

#[test]
fn every_package_that_a_binary_may_hold_is_in_the_notices_with_its_terms() {
    let notices = file("THIRD-PARTY.md");
    let wanted = lock::reachable(&file("Cargo.toml"), &file("Cargo.lock"));
    assert!(wanted.len() > 60 && wanted.iter().any(|p| p.0 == "nalgebra"), "{wanted:?}");
    assert!(!wanted.iter().any(|p| p.0 == "proptest"), "what only tests use is no part of a binary");
    let told = listed(&notices);
    let missing: Vec<_> = wanted.iter().filter(|p| !told.contains(p)).collect();
    let gone: Vec<_> = told.iter().filter(|p| !wanted.contains(p)).collect();
    assert!(
        missing.is_empty() && gone.is_empty(),
        "missing {missing:?}, gone {gone:?}: cargo run --example third_party"
    );
    for row in notices.lines().filter(|l| l.starts_with("| ") && !l.starts_with("| package")) {
        let terms = row.split('|').nth(3).unwrap_or_default().trim();
        assert!(!terms.is_empty() && terms != "not stated", "no licence: {row}");
    }
    let (table, wordings) = notices.split_once("## Wordings").expect("wordings");
    let without: Vec<&(String, String)> =
        wanted.iter().filter(|(name, version)| !wordings.contains(&format!("{name} {version}"))).collect();
    assert!(without.is_empty() && table.len() > 10_000, "no wording for {without:?}");
    assert!(notices.contains("Bitstream Vera") && notices.contains("Permission is hereby granted, free of charge"));
    assert!(!notices.contains("/home/") && !notices.contains("/root/"), "a path of the machine it was made on");
}

#[test]
fn the_binary_prints_the_notices_it_was_built_with() {
    let out = Command::new(env!("CARGO_BIN_EXE_quarterlight")).arg("licences").output().expect("runs");
    let shown = String::from_utf8(out.stdout).expect("utf-8");
    assert!(out.status.success() && shown.contains(&file("THIRD-PARTY.md")), "{} characters", shown.len());
    assert!(shown.contains("MIT or Apache-2.0"));
}
