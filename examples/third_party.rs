//! Writes THIRD-PARTY.md anew: what a built binary carries of other people's work, and under which terms.
//!
//! Run from the crate's folder after a change of Cargo.lock: `cargo run --example third_party`. Needs the sources of all
//! dependencies (`cargo fetch`), asks `cargo metadata` where they are, and nothing of the network.

use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

#[path = "../tests/support/lock.rs"]
mod lock;

const HEAD: &str = "# Third-party notices\n\n\
    quarterlight itself is under MIT or Apache-2.0, at your option (LICENSE-MIT, LICENSE-APACHE). A built binary also holds\n\
    two fonts and, depending on the system it is built for, code of the packages below or made with their help. Written by\n\
    examples/third_party.rs from Cargo.lock and the packages' own files; a package that is offered under several licences\n\
    and brings the text of MIT is used under that one.\n";

/// Words in the names of files that state terms.
const NAMES: [&str; 5] = ["licen", "copying", "copyright", "notice", "unlicense"];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let asked = ["metadata", "--format-version", "1", "--offline", "--locked"];
    let told = Command::new(cargo).current_dir(root).args(asked).output()?;
    if !told.status.success() {
        return Err(String::from_utf8_lossy(&told.stderr).into_owned().into());
    }
    let metadata: Value = serde_json::from_slice(&told.stdout)?;
    let read = |name: &str| std::fs::read_to_string(root.join(name));
    let wanted = lock::reachable(&read("Cargo.toml")?, &read("Cargo.lock")?);
    let fonts = read("src/paper/fonts/LICENCE-DejaVu.txt")?;
    std::fs::write(root.join("THIRD-PARTY.md"), notices(&metadata, &wanted, &fonts)?)?;
    Ok(())
}

/// The whole text: fonts, the list of packages, then every wording once with those who use it.
fn notices(metadata: &Value, wanted: &[(String, String)], fonts: &str) -> Result<String, Box<dyn std::error::Error>> {
    let mut out = format!("{HEAD}\n## Fonts: DejaVu Sans and DejaVu Sans Bold\n\n{}\n", quoted(fonts));
    let mut bare: Vec<String> = Vec::new();
    let mut texts: BTreeMap<String, (String, Vec<String>)> = BTreeMap::new();
    out.push_str("## Packages\n\n| package | version | licence | authors | source |\n|---|---|---|---|---|\n");
    for (name, version) in wanted {
        let mut known = metadata["packages"].as_array().into_iter().flatten();
        let package = known
            .find(|p| p["name"] == name.as_str() && p["version"] == version.as_str())
            .ok_or_else(|| format!("{name} {version} is in Cargo.lock and not in cargo metadata"))?;
        let word = |key: &str| package[key].as_str().unwrap_or("not stated").replace('|', "/");
        let people: Vec<&str> = package["authors"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        // addresses are nobody's business here
        let people: Vec<&str> = people.iter().map(|p| p.split('<').next().unwrap_or(p).trim()).collect();
        let people = if people.is_empty() { "not stated".to_string() } else { people.join(", ").replace('|', "/") };
        writeln!(out, "| {name} | {version} | {} | {people} | {} |", word("license"), word("repository"))?;
        let folder = Path::new(package["manifest_path"].as_str().unwrap_or_default()).parent().ok_or("no folder")?;
        // of several licences that hold at once every text counts
        let texts_brought = terms(folder, word("license").contains("AND"))?;
        if texts_brought.is_empty() {
            bare.push(format!("{name} {version}"));
        }
        for text in texts_brought {
            let same: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
            texts.entry(same).or_insert_with(|| (text, Vec::new())).1.push(format!("{name} {version}"));
        }
    }
    write!(
        out,
        "\n## Wordings\n\nThese packages bring no text of their own; the wording of MIT below holds for them with their authors as \
         stated above:\n{}.\n",
        bare.join(", ")
    )?;
    let mut wordings: Vec<(String, Vec<String>)> = texts.into_values().collect();
    wordings.sort_by(|a, b| a.1.cmp(&b.1));
    for (text, users) in wordings {
        write!(out, "\n### {}\n\n{}", users.join(", "), quoted(&text))?;
    }
    Ok(out)
}

/// The texts of the terms a package brings; where MIT is among them and not `all` hold at once, that one and notices.
fn terms(folder: &Path, all: bool) -> std::io::Result<Vec<String>> {
    let mut found: Vec<(String, String)> = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().to_lowercase();
        let is_text = name.rsplit_once('.').is_none_or(|(_, end)| !["rs", "toml", "json", "html"].contains(&end));
        if entry.file_type()?.is_file() && is_text && NAMES.iter().any(|n| name.contains(n)) {
            found.push((name, String::from_utf8_lossy(&std::fs::read(entry.path())?).into_owned()));
        }
    }
    found.sort();
    let is_mit = |t: &str| t.contains("Permission is hereby granted, free of charge");
    if !all && found.iter().any(|f| is_mit(&f.1)) {
        found.retain(|(name, text)| is_mit(text) || name.contains("notice") || name.contains("copyright"));
    }
    Ok(found.into_iter().map(|f| f.1).collect())
}

/// The text as a block that is shown as it stands.
fn quoted(text: &str) -> String {
    let lines: Vec<String> = text.trim_matches('\n').lines().map(|l| format!("    {}", l.trim_end())).collect();
    let lines: Vec<&str> = lines.iter().map(|l| l.trim_end()).collect();
    format!("{}\n", lines.join("\n"))
}
