//! Piles as alike as can be, on 25 lists of sizes whose optimum is known.

use crate::source::{json, number, numbers};
use quarterlight::numeric::partition::{divide, divide_for_least_largest};
use quarterlight::numeric::summary::to_index;

#[test]
fn the_twenty_five_proved_divisions() {
    let all = json("partitions.json");
    let cases = all["cases"].as_array().expect("a list");
    assert_eq!(cases.len(), 25);
    for case in cases {
        let id = case["id"].as_str().expect("a name");
        let (sizes, piles) = (numbers(&case["sizes"]), to_index(number(&case["piles"])));
        let (spread, largest) = (number(&case["least_spread"]), number(&case["least_largest"]));
        // whole numbers, so nothing is rounded, and all is proved
        let d = divide(&sizes, piles).expect("sizes");
        assert_eq!(
            [d.spread, d.spread_bound, d.largest_bound].map(to_index),
            [spread, spread, largest].map(to_index),
            "{id}"
        );
        let d = divide_for_least_largest(&sizes, piles).expect("sizes");
        assert_eq!([d.largest, d.largest_bound].map(to_index), [largest, largest].map(to_index), "{id}");
        assert!(d.proved, "{id}");
    }
}
