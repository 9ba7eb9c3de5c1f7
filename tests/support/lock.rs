//! The packages a built binary may hold, by Cargo.toml and Cargo.lock alone.

use std::collections::BTreeSet;

/// Names and versions of everything that the dependencies (not those of tests) lead to, on whatever system, sorted.
pub fn reachable(manifest: &str, lock: &str) -> Vec<(String, String)> {
    let manifest: toml::Table = manifest.parse().expect("Cargo.toml");
    let lock: toml::Table = lock.parse().expect("Cargo.lock");
    let packages = lock["package"].as_array().expect("packages");
    let text = |p: &toml::Value, key: &str| p[key].as_str().expect("a text").to_string();
    // an entry is "name", or "name version" where there are several
    let find = |entry: &str| {
        let mut words = entry.split(' ');
        let (name, version) = (words.next().unwrap_or_default(), words.next());
        let is_it = |p: &&toml::Value| text(p, "name") == name && version.is_none_or(|v| text(p, "version") == v);
        packages.iter().find(is_it).unwrap_or_else(|| panic!("{entry} is not in Cargo.lock"))
    };
    let own = find("quarterlight");
    let named: Vec<&str> =
        manifest["dependencies"].as_table().expect("dependencies").keys().map(String::as_str).collect();
    let entries = |p: &toml::Value| -> Vec<String> {
        let list = p.get("dependencies").and_then(toml::Value::as_array).cloned().unwrap_or_default();
        list.iter().filter_map(|d| d.as_str().map(String::from)).collect()
    };
    let is_named = |e: &String| named.contains(&e.split(' ').next().unwrap_or_default());
    let mut open: Vec<String> = entries(own).into_iter().filter(is_named).collect();
    assert_eq!(open.len(), named.len(), "Cargo.lock does not fit Cargo.toml");
    let mut seen = BTreeSet::new();
    while let Some(entry) = open.pop() {
        let package = find(&entry);
        if seen.insert((text(package, "name"), text(package, "version"))) {
            open.extend(entries(package));
        }
    }
    seen.into_iter().collect()
}
