//! `advise` on sample lots: the binary's answer, and what it may and may not say.

use serde_json::Value;
use std::process::{Command, Output};

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quarterlight")).args(args).output().expect("the binary runs")
}

fn json(args: &[&str]) -> Value {
    let out = run(&[args, &["--json"]].concat());
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).expect("JSON")
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

#[test]
fn a_bare_tube_is_told_where_to_begin_and_a_well_read_one_to_stop() {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("tubes.csv"), "tube,length,weight\nA,210,26\nB,190,24\n").expect("written");
    let widths: String = (0..12).map(|i| format!("A,diameter,{},{},25.4\n", 10 + 16 * i, 45 * (i % 4))).collect();
    std::fs::write(dir.path().join("readings.csv"), format!("tube,kind,z,angle,value\n{widths}")).expect("written");
    let lot = dir.path().to_str().expect("a path");
    let advised = json(&["advise", lot, "--with", "caliper,bridge"]);
    let tubes = advised["tubes"].as_array().expect("a list");
    assert_eq!(tubes.len(), 2);
    let of = |name: &str| tubes.iter().find(|t| t["tube"] == name).expect("advised");
    let (read, bare) = (of("A"), of("B"));
    // nothing is known of the bare one: reading it is worth more, and more than its minutes
    assert_eq!(bare["readings"], 0);
    assert!(bare["settled"] == false && number(&bare["next"]["gain_blanks"]) > 0.1, "{bare}");
    for t in tubes {
        let Some(next) = t["next"].as_object() else { continue };
        assert!(number(&next["gain_blanks"]) > 0.05 * number(&next["minutes"]));
        let ceiling = number(&t["ceiling_blanks"]);
        assert!(number(&next["gain_blanks"]) < ceiling + 3.0 * number(&next["gain_error"]), "{t}");
    }
    // a caliper alone has no more to say of A, and what has is named
    let alone = json(&["advise", lot, "--with", "caliper", "--tube", "A"]);
    let a = &alone["tubes"][0];
    assert!(a["settled"] == true, "{a}");
    let ways: Vec<&str> =
        a["elsewhere"]["rounds"].as_array().expect("named").iter().filter_map(|r| r["way"].as_str()).collect();
    assert!(!ways.is_empty() && !ways.contains(&"caliper") && number(&a["elsewhere"]["gain_blanks"]) > 0.05, "{a}");
    // the bow of A was never read: the bridge is its best way
    assert_eq!(read["by_way"][0]["rounds"][0]["way"], "bridge", "{read}");
}

#[test]
fn a_new_lot_is_advised_with_the_instruments_it_names() {
    let dir = tempfile::tempdir().expect("a folder");
    let lot = dir.path().join("new");
    let lot = lot.to_str().expect("a path");
    assert!(run(&["new", lot, "--tubes", "1"]).status.success());
    let list = std::path::Path::new(lot).join("tubes.csv");
    let filled = std::fs::read_to_string(&list).expect("a form").replace("T01,,", "T01,205,");
    std::fs::write(&list, filled).expect("written");
    let advised = json(&["advise", lot]);
    assert_eq!(advised["with"], serde_json::json!(["caliper", "bridge"]));
    let next = &advised["tubes"][0]["next"];
    assert!(next["rounds"].as_array().is_some_and(|r| r.iter().any(|r| r["way"] == "bridge")), "{advised}");
}

#[test]
fn minutes_and_what_is_at_hand_bind_and_words_are_checked() {
    let advised =
        json(&["advise", "data-samples/inches", "--with", "caliper", "--minutes", "1", "--minute-blanks", "0"]);
    for t in advised["tubes"].as_array().expect("a list") {
        for p in t["by_way"].as_array().expect("a list").iter().chain([&t["next"]]).filter(|p| p.is_object()) {
            assert!(number(&p["minutes"]) <= 1.0 + 1e-9, "{p}");
            assert!(p["rounds"].as_array().expect("a list").iter().all(|r| r["way"] == "caliper"));
        }
    }
    for (bad, words) in [
        (["--with", "sextant"], "expected caliper, dial, bridge, straightedge, ends"),
        (["--minutes", "0"], "expected a number from 0.1 to 600"),
        (["--minute-blanks", "many"], "expected a number from 0 to 10"),
    ] {
        let out = run(&[&["advise", "data-samples/grid"], &bad[..]].concat());
        assert_eq!(out.status.code(), Some(1));
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn the_answer_is_the_same_on_one_thread_and_in_both_units() {
    let ask = |threads: &str, units: &str| {
        let out = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
            .args(["advise", "data-samples/grid", "--units", units])
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .expect("the binary runs");
        String::from_utf8(out.stdout).expect("text")
    };
    assert_eq!(ask("1", "mm"), ask("3", "mm"));
    let inches = ask("2", "in");
    assert!(!inches.contains(" mm"), "{inches}");
}

#[test]
fn one_tube_asked_for_is_advised_as_among_all() {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("tubes.csv"), "tube,length,weight\nA,180,23\nB,160,20\n").expect("written");
    let mut rows = String::from("tube,kind,z,angle,value\n");
    (0..4).for_each(|i| rows += &format!("A,diameter,90,{},{}\n", 45 * i, 25.4 + 0.1 * f64::from(i)));
    (0..8).for_each(|i| rows += &format!("B,runout,80,{},{}\n", 45 * i, 0.02 * f64::from(i % 4)));
    (0..2).for_each(|i| rows += &format!("B,diameter,80,{},25.3\n", 90 * i));
    std::fs::write(dir.path().join("readings.csv"), rows).expect("written");
    let lot = dir.path().to_str().expect("a path");
    let (all, alone) = (json(&["advise", lot]), json(&["advise", lot, "--tube", "A"]));
    // the dial lies on the bench, though this tube was not read with it
    assert_eq!(alone["with"], serde_json::json!(["caliper", "dial"]));
    assert_eq!(alone["tubes"], serde_json::json!([all["tubes"][0]]));
}

/// Catches a split that points to an advice which says something else, or nothing at all.
#[test]
fn a_split_a_screening_and_the_advice_name_the_same_readings() {
    let lot = "data-samples/five";
    let plans = json(&["split", lot]);
    let advised = json(&["advise", lot]);
    let (mut took, mut none) = (0, 0);
    for plan in plans["tubes"].as_array().expect("plans") {
        let advice = advised["tubes"].as_array().expect("advice").iter().find(|a| a["tube"] == plan["tube"]);
        let advice = advice.expect("every tube is advised");
        let left = number(&plan["left_to_gain_blanks"]);
        assert!((left - number(&advice["ceiling_blanks"])).abs() < 1e-9, "{left} {advice}");
        if left >= 0.25 {
            *(if advice["next"].is_null() { &mut none } else { &mut took }) += 1;
        }
    }
    assert!(took > 0 && none > 0, "{took} {none}");
    let text = |args: &[&str]| {
        let all = String::from_utf8(run(args).stdout).expect("text");
        all.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let (split, screen) = (text(&["split", lot]), text(&["screen", lot]));
    assert_eq!(split.matches("measure next: ").count(), took, "{split}");
    let places = advised["tubes"]
        .as_array()
        .expect("advice")
        .iter()
        .find_map(|a| a["next"]["rounds"][0]["places_mm"].as_array());
    let places: Vec<String> = places.expect("a round").iter().map(|z| format!("{:.0}", number(z))).collect();
    assert!(split.contains(&format!("at {} mm", places.join(", "))), "{places:?} {split}");
    assert_eq!(split.matches("no readings with what is at hand are worth their minutes").count(), none, "{split}");
    assert_eq!(screen.matches(": measure next: ").count(), took, "{screen}");
    assert!(!split.contains("says which to take next"), "{split}");
}

/// Catches a package judged on more draws than there are.
#[test]
fn few_draws_are_enough_for_an_answer() {
    for draws in ["20", "59"] {
        let advised = json(&["advise", "data-samples/five", "--draws", draws]);
        assert_eq!(advised["tubes"].as_array().expect("advice").len(), 5, "{draws} draws");
    }
}
