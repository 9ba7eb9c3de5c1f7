//! Runs against 40 packings whose optimum an independent solver proved (tests/reference/packings.json names it).

use quarterlight::decide::runs::{best_places, most_runs};
use quarterlight::numeric::summary::to_index;
use serde_json::Value;

fn instances(family: &str) -> Vec<Value> {
    let text = include_str!("reference/packings.json");
    let all: Value = serde_json::from_str(text).expect("reference file");
    all[family].as_array().expect("family").clone()
}

fn bits(list: &[bool]) -> Vec<u64> {
    let mut words = vec![0_u64; list.len().div_ceil(64).max(1)];
    for (i, &b) in list.iter().enumerate() {
        words[i / 64] |= u64::from(b) << (i % 64);
    }
    words
}

#[test]
fn the_twenty_proved_interval_packings() {
    let all = instances("A_intervals");
    assert_eq!(all.len(), 20);
    for case in all {
        let id = case["id"].as_str().expect("id");
        let window = case["window"].as_f64().expect("window");
        let kerf = case["kerf"].as_f64().expect("kerf");
        let stretches: Vec<(f64, f64)> = case["intervals"]
            .as_array()
            .expect("intervals")
            .iter()
            .map(|i| (i[0].as_f64().expect("from"), i[1].as_f64().expect("to")))
            .collect();
        let want = usize::try_from(case["optimum"].as_u64().expect("optimum")).expect("small");
        // a start is allowed where the whole window lies in one stretch
        let end = stretches.iter().map(|s| s.1).fold(0.0, f64::max);
        let starts: Vec<bool> = (0..=to_index(end))
            .map(|s| s as f64)
            .map(|s| stretches.iter().any(|&(from, to)| s >= from && s + window <= to))
            .collect();
        assert_eq!(most_runs(&bits(&starts), starts.len(), window + kerf), want, "case {id} by starts");
    }
}

#[test]
fn the_twenty_proved_allowed_start_packings() {
    let all = instances("B_allowed_starts");
    assert_eq!(all.len(), 20);
    for case in all {
        let id = case["id"].as_str().expect("id");
        let need = case["window"].as_f64().expect("window") + case["kerf"].as_f64().expect("kerf");
        let mut starts = Vec::new();
        for run in case["allowed_starts_rle"].as_array().expect("runs") {
            let n = usize::try_from(run[1].as_u64().expect("length")).expect("small");
            starts.extend(std::iter::repeat_n(run[0].as_u64() == Some(1), n));
        }
        let want = usize::try_from(case["optimum"].as_u64().expect("optimum")).expect("small");
        assert_eq!(most_runs(&bits(&starts), starts.len(), need), want, "case {id} earliest start first");
        let worth: Vec<f64> = starts.iter().map(|&s| f64::from(u8::from(s))).collect();
        assert_eq!(best_places(&worth, to_index(need), 0.5).len(), want, "case {id} by dynamic programming");
    }
}
