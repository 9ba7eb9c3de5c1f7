//! The pictures under figures/ are the ones the code draws.

#[path = "../examples/make_figures.rs"]
mod make_figures;

use std::path::Path;

#[test]
fn the_pictures_shown_are_the_ones_the_code_draws() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let made = make_figures::figures(&root.join("data-samples/demo")).expect("the demo lot is read and drawn");
    assert!(made.len() >= 6, "{}", made.len());
    for (name, text) in &made {
        let there = std::fs::read_to_string(root.join("figures").join(name)).unwrap_or_default();
        assert!(there == *text, "figures/{name} is stale: cargo run --release --example make_figures");
        assert!(text.len() < 120_000, "{name}: {} bytes", text.len());
    }
    let listed = std::fs::read_dir(root.join("figures")).expect("figures/");
    let svgs = listed.filter_map(Result::ok).filter(|f| f.path().extension().is_some_and(|e| e == "svg")).count();
    assert_eq!(svgs, made.len(), "figures/ holds pictures nothing draws");
}

#[test]
fn every_figure_says_lot_readings_draws_and_seed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for (name, text) in make_figures::figures(&root.join("data-samples/demo")).expect("drawn") {
        if name != "strips.svg" {
            assert!(text.contains("lot demo") && text.contains("100 draws, seed 1"), "{name}");
            assert!(
                name.starts_with("lot-board")
                    || ["limits.svg", "piles.svg"].contains(&name.as_str())
                    || text.contains("readings,"),
                "{name}"
            );
        }
        for unit in ["mm", "deg", "blanks"] {
            let has_axis = matches!(
                (name.as_str(), unit),
                ("bark-map.svg" | "centreline.svg" | "section.svg", "mm") | ("score.svg", "deg" | "blanks")
            );
            assert!(!has_axis || text.contains(unit), "{name} lacks {unit}");
        }
        assert!(!text.contains("NaN"), "{name}");
    }
}
