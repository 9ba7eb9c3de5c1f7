//! Records of tubes, written in parts and summed up in any order: the same bytes, and what `forecast LOT` says.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn run(args: &[&str]) -> Output {
    let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
    c.current_dir(env!("CARGO_MANIFEST_DIR")).args(args).output().expect("runs")
}

fn done(args: &[&str]) -> String {
    let out = run(args);
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("utf-8")
}

/// Lines of a sample lot at 20 draws, by these further words, in a file.
fn written(lot: &str, words: &[&str], to: PathBuf) -> String {
    let to = to.display().to_string();
    let lot = format!("data-samples/{lot}");
    done(&[&["split", &lot, "--jsonl", "--draws", "20", "--out", &to], words].concat());
    to
}

#[test]
fn parts_in_any_order_give_the_same_bytes_and_what_the_lots_give() {
    let dir = tempfile::tempdir().expect("folder");
    let at = |name: &str| dir.path().join(name);
    // the same lots whole, in uneven parts, and by tube
    let few = ["--tube", "T03", "--tube", "T14", "--tube", "T20", "--tube", "T24"];
    let some = |lot: &str| if lot == "demo" { few.to_vec() } else { Vec::new() };
    let whole = ["demo", "bars", "grid"].map(|lot| written(lot, &some(lot), at(&format!("{lot}.jsonl"))));
    let parts = [
        written("demo", &[&few[..], &["--part", "2/3"]].concat(), at("a")),
        written("grid", &["--tube", "g2"], at("b")),
        written("demo", &[&few[..], &["--part", "3/3"]].concat(), at("c")),
        written("bars", &["--part", "1/1"], at("d")),
        written("demo", &[&few[..], &["--part", "1/3"]].concat(), at("e")),
        written("grid", &["--tube", "G3", "--tube", "G1"], at("f")),
        written("bars", &["--part", "7/7"], at("g")),
    ];
    let read = |p: &str| std::fs::read_to_string(p).expect("written");
    // a line is the same whichever part it stands in
    let mut lines: Vec<String> =
        whole.iter().flat_map(|p| read(p).lines().map(String::from).collect::<Vec<_>>()).collect();
    for line in parts.iter().flat_map(|p| read(p).lines().map(String::from).collect::<Vec<_>>()) {
        assert!(lines.contains(&line), "{}", &line[..120]);
    }
    // all lines in one file, backwards
    lines.reverse();
    std::fs::write(at("back"), lines.join("\n")).expect("written");
    let back = at("back").display().to_string();
    let turned: Vec<&String> = parts.iter().rev().collect();
    for face in [&[][..], &["--json"], &["--csv"], &["--without-leave"]] {
        let sum = |files: &[&str]| done(&[&["forecast", "--from"], files, face].concat());
        let first = sum(&whole.iter().map(String::as_str).collect::<Vec<_>>());
        for files in [
            parts.iter().map(String::as_str).collect::<Vec<_>>(),
            turned.iter().map(|s| s.as_str()).collect(),
            vec![back.as_str()],
        ] {
            assert_eq!(sum(&files), first, "{files:?} {face:?}");
        }
    }
    // what every lot gives by itself is what its own forecast says
    let sums: Value =
        serde_json::from_str(&done(&["forecast", "--json", "--from", &whole[0], &whole[1], &whole[2]])).expect("JSON");
    let mut expected = 0.0;
    for (i, lot) in ["bars", "demo", "grid"].iter().enumerate() {
        let alone: Value = serde_json::from_str(&done(
            &[&["forecast", &format!("data-samples/{lot}"), "--draws", "20", "--json"], &some(lot)[..]].concat(),
        ))
        .expect("JSON");
        let (alone, got) = (&alone["forecast"], &sums["lots"][i]["forecast"]);
        for (key, value) in alone.as_object().expect("an object") {
            if ["whole_lot", "limit_changes"].contains(&key.as_str()) {
                continue; // tubes without readings have no part in records; limits stand in another order
            }
            assert!(alike(value, &got[key]), "{lot} {key}: {value} against {}", got[key]);
        }
        let blanks = |l: &Value| {
            l["limit_changes"]
                .as_array()
                .expect("a list")
                .iter()
                .map(|c| c["blanks"].as_f64().expect("a number"))
                .sum::<f64>()
        };
        assert!((blanks(alone) - blanks(got)).abs() < 1e-9, "{lot}");
        expected += alone["blanks"].as_f64().expect("a number");
    }
    assert!((sums["forecast"]["blanks"].as_f64().expect("a number") - expected).abs() < 1e-9);
    let demo = &sums["lots"][1];
    assert_eq!([&demo["listed"], &demo["missing"], &demo["not_measured"]], [24, 20, 1]);
}

/// Equal, numbers to 12 digits: sums are taken in another order.
fn alike(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            (a - b).abs() <= 1e-11 * a.abs().max(1.0)
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(k, v)| b.get(k).is_some_and(|w| alike(v, w)))
        }
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b)),
        _ => a == b,
    }
}

#[test]
fn lines_are_the_same_on_one_thread_and_on_three_and_go_through_a_pipe() {
    let lines = |threads: &str| {
        let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
        let c = c.current_dir(env!("CARGO_MANIFEST_DIR")).env("RAYON_NUM_THREADS", threads);
        let out = c.args(["split", "data-samples/grid", "--jsonl", "--draws", "20"]).output().expect("runs");
        assert!(out.status.success());
        out.stdout
    };
    let all = lines("1");
    assert_eq!(all, lines("3"));
    let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
    let mut c = c
        .args(["forecast", "--from", "-", "--json"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("runs");
    std::io::Write::write_all(&mut c.stdin.take().expect("a pipe"), &all).expect("read");
    let out = c.wait_with_output().expect("ends");
    let sums: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    assert_eq!(sums["lots"][0]["listed"], 3);
}

#[test]
fn files_that_do_not_go_together_are_refused_with_every_reason() {
    let dir = tempfile::tempdir().expect("folder");
    let at = |name: &str| dir.path().join(name);
    let grid = written("grid", &[], at("grid"));
    let inches = written("inches", &[], at("inches"));
    let refused = |files: &[&str], parts: &[&str]| {
        let out = run(&[&["forecast", "--from"], files].concat());
        let said = String::from_utf8_lossy(&out.stderr).to_string();
        assert!(out.status.code() == Some(1) && out.stdout.is_empty(), "{said}");
        for part in parts {
            assert!(said.contains(part), "{part}\n{said}");
        }
    };
    refused(&[&grid, &inches], &["blank_length_mm 69.85", "sum up blanks of one kind"]);
    refused(&[&grid, &grid], &["grid, line 2: found tube G1 of lot", "again, first in", "3 faults in the records"]);
    std::fs::write(at("none"), "").expect("written");
    let cut: String = std::fs::read_to_string(&grid).expect("written").chars().take(20_000).collect();
    std::fs::write(at("cut"), cut).expect("written");
    let name = |p: &Path| p.display().to_string();
    refused(&[&name(&at("none")), &name(&at("cut"))], &["none: found no record", "the file was cut off"]);
    refused(&[&name(&at("missing"))], &["cannot be read"]);
    refused(&["data-samples/grid/readings.csv"], &["line 1", "no JSON"]);
    // an old file is not written over, nor one half of a new one left behind
    let out = run(&["split", "data-samples/grid", "--jsonl", "--out", &grid]);
    assert!(out.status.code() == Some(1) && String::from_utf8_lossy(&out.stderr).contains("is there already"));
    let out = run(&["split", "data-samples/grid", "--jsonl", "--tube", "none", "--out", &name(&at("new"))]);
    assert!(out.status.code() == Some(1) && !at("new").exists());
    assert_eq!(std::fs::read_dir(dir.path()).expect("folder").count(), 4);
}
