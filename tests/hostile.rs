//! Files that once cost too much, were taken for what they are not, or were answered with the wrong words.

use std::path::Path;
use std::process::Command;

const TUBES: &str = "tube,length_mm\nA,200\n";

fn readings() -> String {
    let mut out = "tube,kind,z_mm,angle_deg,value_mm\n".to_string();
    for (z, deg) in (0..5).flat_map(|j| (0..8).map(move |i| (10 + 40 * j, 45 * i))) {
        out.push_str(&format!("A,radius,{z},{deg},{:.2}\n", 12.7 + 0.1 * f64::from(2 * deg).to_radians().cos()));
    }
    out
}

/// What `check` prints of a lot of these files, and its exit code.
fn check(files: &[(&str, &[u8])]) -> (String, i32) {
    let dir = tempfile::tempdir().expect("a folder");
    let mut all: Vec<(&str, &[u8])> = vec![("lot.toml", b"[lot]\nname = \"trial\"\n"), ("tubes.csv", TUBES.as_bytes())];
    let usual = readings();
    all.push(("readings.csv", usual.as_bytes()));
    all.retain(|(name, _)| !files.iter().any(|(n, _)| n == name));
    for (name, bytes) in all.iter().chain(files) {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap_or(Path::new("."))).expect("a folder");
        std::fs::write(path, bytes).expect("written");
    }
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight")).arg("check").arg(dir.path()).output().expect("it runs");
    let said = format!("{}{}", String::from_utf8_lossy(&ran.stdout), String::from_utf8_lossy(&ran.stderr));
    assert!(!said.contains("panicked"), "{said}");
    (said, ran.status.code().expect("not killed"))
}

#[test]
fn a_scale_that_no_tube_has_is_refused_at_its_line() {
    let (said, code) = check(&[("lot.toml", b"[lot]\nname = \"x\"\n[population]\nlobe2_rough = 1e-300\n")]);
    assert!(
        said.contains("lot.toml, line 4, column lobe2_rough") && said.contains("expected from 0.000001 to 10000"),
        "{said}"
    );
    assert!(code == 1 && !said.contains("nothing to mend"), "{said}");
}

#[test]
fn a_scale_of_a_name_that_does_not_exist_is_one_thing_to_mend() {
    let (said, code) = check(&[("lot.toml", b"[lot]\nname = \"x\"\n[population]\nlobe2_ruff = 0.1\n")]);
    assert!(said.contains("lobe2_ruff") && said.contains("1 to mend") && code == 1, "{said}");
    assert!(!said.contains("nothing to mend"), "{said}");
}

#[test]
fn a_setting_that_is_no_number_is_not_told_as_a_row_of_readings() {
    let (said, _) = check(&[("lot.toml", b"[target]\npieces = nan\n")]);
    assert!(said.contains("lot.toml, line 2, column pieces: found NaN, expected a whole number"), "{said}");
    assert!(said.contains("delete the line to use the default") && !said.contains("leave out the row"), "{said}");
}

#[test]
fn a_header_of_a_hundred_kilobytes_is_told_by_its_beginning() {
    let table = readings().replacen("value_mm", &"x".repeat(100_000), 1);
    let (said, _) = check(&[("readings.csv", table.as_bytes())]);
    assert!(said.contains("xxx") && said.len() < 5_000, "{} bytes", said.len());
}

#[test]
fn a_vertex_without_properties_is_told_in_words() {
    let (said, _) = check(&[("scans/A.ply", b"ply\nformat ascii 1.0\nelement vertex 3\nend_header\n1\n2\n3\n")]);
    assert!(said.contains("found a vertex without properties, expected properties x, y and z"), "{said}");
}

#[test]
fn tubes_nobody_measured_are_notes_and_few_are_named() {
    let tubes: String = std::iter::once(TUBES.to_string()).chain((0..20_000).map(|i| format!("U{i},200\n"))).collect();
    let (said, code) = check(&[("tubes.csv", tubes.as_bytes())]);
    assert!(said.contains("no readings of 19976 tubes more") && said.contains("nothing to mend"), "{said}");
    assert!(code == 0 && said.lines().count() < 80, "{code} {}", said.lines().count());
}

#[test]
fn quotation_marks_that_never_close_are_told_line_by_line() {
    let table: String = std::iter::once("tube,kind,z_mm,angle_deg,value_mm\n".to_string())
        .chain((0..1100).map(|_| format!("\"A,radius,1,2,{}\n", "y".repeat(6000))))
        .collect();
    let (said, code) = check(&[("readings.csv", table.as_bytes())]);
    assert!(
        said.contains("line 1002: found 1000 quotation marks that are not closed") && code == 1,
        "{}",
        &said[said.len().saturating_sub(500)..]
    );
    assert!(said.len() < 400_000, "{} bytes", said.len());
}

#[test]
fn a_log_of_very_many_readings_is_sampled_and_says_so() {
    let mut table = "tube,kind,z_mm,angle_deg,value_mm\n".to_string();
    for (i, deg) in (0..20_000).map(|i| (i, (i * 7919) % 3600)) {
        let z = 5.0 + 190.0 * f64::from(i) / 20_000.0;
        let deg = f64::from(deg) / 10.0;
        table.push_str(&format!("A,radius,{z:.2},{deg},{:.3}\n", 12.7 + 0.1 * (2.0 * deg).to_radians().cos()));
    }
    let (said, code) = check(&[("readings.csv", table.as_bytes())]);
    assert!(said.contains("found 20000 readings of tube A, expected at most 3000") && code == 0, "{said}");
}
