//! Reading the reference files.

use approx::abs_diff_eq;
use serde_json::Value;
use std::path::PathBuf;

/// The text of a file in `tests/reference/`.
pub fn text(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A JSON file in `tests/reference/`.
pub fn json(name: &str) -> Value {
    serde_json::from_str(&text(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A number, written as such or as a string of many digits.
#[track_caller]
pub fn number(value: &Value) -> f64 {
    match value {
        Value::String(s) => s.parse().unwrap_or_else(|e| panic!("{s}: {e}")),
        other => other.as_f64().unwrap_or_else(|| panic!("not a number: {other}")),
    }
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap_or_else(|| panic!("not a list: {value}")).iter().map(number).collect()
}

/// A list of points.
pub fn points(value: &Value) -> Vec<[f64; 2]> {
    value
        .as_array()
        .unwrap_or_else(|| panic!("not a list: {value}"))
        .iter()
        .map(|p| [number(&p[0]), number(&p[1])])
        .collect()
}

/// A CSV file with a header line, as numbers.
pub fn table(name: &str) -> Vec<Vec<f64>> {
    let row =
        |line: &str| line.split(',').map(|c| c.trim().parse().unwrap_or_else(|e| panic!("{name}: {c}: {e}"))).collect();
    text(name).lines().skip(1).filter(|l| !l.trim().is_empty()).map(row).collect()
}

/// Asserts `|got - want| <= tolerance` and names the case.
#[track_caller]
pub fn close(case: &str, got: f64, want: f64, tolerance: f64) {
    let off = (got - want).abs();
    assert!(
        abs_diff_eq!(got, want, epsilon = tolerance),
        "{case}: got {got}, want {want}, off by {off:e}, allowed {tolerance:e}"
    );
}

/// Asserts `|got - want| <= relative * |want|` and names the case.
#[track_caller]
pub fn near(case: &str, got: f64, want: f64, relative: f64) {
    close(case, got, want, relative * want.abs());
}
