//! `ends` from picture to readings, by the binary: names, both ends, what is left out, nothing replaced, the scale sheet.

#[path = "support/glass.rs"]
mod glass;
#[allow(dead_code, reason = "page sizes are asked for elsewhere")]
#[path = "support/pdf_lines.rs"]
mod pdf_lines;

use glass::{End, Page};
use quarterlight::domain::{Kind, Tube};
use quarterlight::readings::read_lot;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn quarterlight(folder: &Path, args: &[&str]) -> Output {
    let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
    c.current_dir(folder).args(args).env("NO_COLOR", "1").output().expect("the binary runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("utf-8")
}

/// Both ends of tube A and the index end of B, whose tick was lost.
fn page() -> Page {
    let mut page = Page::dark([105.0, 40.0], 300.0);
    page.ends = [(18.0, 40.0, false), (51.0, 200.0, true), (84.0, 0.0, false)]
        .map(|(x, turn, far)| End::plain([x, 19.5], turn, far))
        .to_vec();
    page.ends[2].tick = None;
    page
}

fn lot(page: &Page) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("temporary folder");
    let write = |name: &str, bytes: &[u8]| std::fs::write(dir.path().join(name), bytes).expect("write");
    write("tubes.csv", b"tube,length_mm\nA,210\nB,190\n");
    write("batch 1.png", &glass::png(&page.draw(), page.pixels(), Some(page.dpi)));
    dir
}

fn readings(tube: &Tube, kind: Kind, z_mm: f64) -> Vec<(f64, f64)> {
    let at = tube.readings.iter().filter(|r| r.kind == kind && (r.z_mm - z_mm).abs() < 1e-9);
    at.map(|r| (r.angle.radians(), r.value_mm)).collect()
}

#[test]
fn without_names_it_numbers_the_rings_and_says_what_to_type() {
    let dir = lot(&page());
    let out = quarterlight(dir.path(), &["ends", "batch 1.png", "--lot", "."]);
    let shown = text(&out.stdout);
    assert!(out.status.success(), "{}", text(&out.stderr));
    for part in
        ["3 rings", "as the file states", "   3  diameter", "no pencil tick", "--tubes T01,T02/far", "No readings"]
    {
        assert!(shown.contains(part), "{part} is missing in {shown}");
    }
    assert!(shown.lines().all(|l| l.chars().count() <= 100), "{shown}");
    assert!(dir.path().join("ends-batch-1-numbers.png").is_file());
    assert!(!dir.path().join("readings-ends-batch-1.csv").exists());
    let again = quarterlight(dir.path(), &["ends", "batch 1.png"]);
    assert!(again.status.code() == Some(1) && text(&again.stderr).contains("--force"), "{}", text(&again.stderr));
}

#[test]
fn both_ends_come_out_in_the_frame_of_the_tube_and_the_lost_tick_is_left_out() {
    let page = page();
    let dir = lot(&page);
    let args = ["ends", "batch 1.png", "--tubes", "A,A/far,B"];
    let out = quarterlight(dir.path(), &args);
    let (shown, said) = (text(&out.stdout), text(&out.stderr));
    assert_eq!(out.status.code(), Some(1), "{said}");
    for part in
        ["A index end: diameter 25.2", "A far end", "left out: no pencil tick", "--tick 3=DEG", "Look at the picture"]
    {
        assert!(shown.replace("\n      ", " ").contains(part), "{part} is missing in {shown}");
    }
    assert!(said.contains("1 of 3"), "{said}");
    let read = read_lot(dir.path()).expect("a lot");
    assert!(!read.has_errors(), "{:?}", read.findings);
    let tube = |name: &str| read.lot.tubes.iter().find(|t| t.name == name).expect("there");
    assert!(tube("B").readings.is_empty());
    // the same end twice, seen from opposite sides: its third lobe and its bore off the middle would betray a wrong mirror
    for (z, end) in [(0.0, &page.ends[0]), (210.0, &page.ends[1])] {
        let outline = readings(tube("A"), Kind::Outline, z);
        let walls = readings(tube("A"), Kind::Wall, z);
        assert_eq!((outline.len(), walls.len()), (72, 24), "at {z}");
        for (a, r) in outline {
            assert!((r - end.bark(a)).abs() < 0.03, "{z} {a}: {r} {}", end.bark(a));
        }
        for (a, w) in walls {
            assert!((w - (end.bark(a) - end.hole(a))).abs() < 0.05, "{z} {a}: {w}");
        }
    }
    // the rig it names has facts of its own: the scale of nobody's card
    let rig = read.lot.rigs.get("ends-unchecked").expect("declared by the program");
    assert_eq!(rig.scale_percent, Some(0.3));
    // a second run replaces nothing, with --force and the tick by hand it takes all three
    let again = quarterlight(dir.path(), &args);
    assert!(again.status.code() == Some(1) && text(&again.stderr).contains("earlier run"), "{}", text(&again.stderr));
    let out = quarterlight(dir.path(), &["ends", "batch 1.png", "--tubes", "A,A/far,B", "--force", "--tick", "3=90"]);
    assert!(out.status.success() && text(&out.stdout).contains("tick at 90.0 deg, given"), "{}", text(&out.stdout));
    let read = read_lot(dir.path()).expect("a lot");
    let b = read.lot.tubes.iter().find(|t| t.name == "B").expect("there");
    assert!(readings(b, Kind::Outline, 0.0).iter().all(|(a, r)| (r - page.ends[2].bark(*a)).abs() < 0.03));
}

#[test]
fn what_is_written_can_be_fitted_and_the_scale_is_in_its_doubt() {
    let mut page = page();
    page.ends.truncate(2);
    let dir = lot(&page);
    let out = quarterlight(dir.path(), &["ends", "batch 1.png", "--tubes", "A,A/far"]);
    assert!(out.status.success(), "{}", text(&out.stderr));
    let fit = quarterlight(dir.path(), &["fit", ".", "--tube", "A", "--json"]);
    let v: Value = serde_json::from_slice(&fit.stdout).unwrap_or_else(|e| panic!("{e}: {}", text(&fit.stderr)));
    let figures = &v["tubes"][0]["geometry"];
    let number = |key: &str, part: &str| figures[key][part].as_f64().unwrap_or_else(|| panic!("{key}: {v:#}"));
    assert!((number("diameter_mm", "value") - 25.2).abs() < 0.1, "{figures}");
    // 0.3 % of 25.2 mm is 0.076 mm
    assert!((0.06..0.16).contains(&number("diameter_mm", "sd")), "{figures}");
    assert!(figures["bow_mm"].is_null(), "{figures}");
}

#[test]
fn names_that_do_not_fit_and_files_that_are_no_pictures_are_one_clear_error() {
    let dir = lot(&page());
    std::fs::write(dir.path().join("bad.png"), b"\x89PNG\r\n\x1a\nrubbish").expect("write");
    let one = glass::png(&[9], [1, 1], None);
    std::fs::write(dir.path().join("dot.png"), one).expect("write");
    let blank = glass::png(&[30; 90_000], [300, 300], Some([300.0; 2]));
    std::fs::write(dir.path().join("blank.png"), blank).expect("write");
    let unknown = glass::png(&[30; 90_000], [300, 300], None);
    std::fs::write(dir.path().join("unstated.png"), unknown).expect("write");
    for (args, wanted) in [
        (vec!["batch 1.png", "--tubes", "A,B"], "2 names for the 3 numbered rings"),
        (vec!["batch 1.png", "--tubes", "A,C,B"], "no tube C"),
        (vec!["batch 1.png", "--tubes", "A,A,B"], "named twice"),
        (vec!["batch 1.png", "--tubes", "A,,B"], "expected names"),
        (vec!["batch 1.png", "--all-tubes"], "2 names for the 3"),
        (vec!["batch 1.png", "--dpi", "72"], "expected pixels per inch"),
        (vec!["batch 1.png", "--tick", "7=0", "--tubes", "A,A/far,B"], "ring 7"),
        (vec!["batch 1.png", "--lot", "tubes.csv"], "is no folder"),
        (vec!["bad.png"], "damaged"),
        (vec!["dot.png"], "1 x 1 pixels"),
        (vec!["blank.png"], "no ring found"),
        (vec!["unstated.png"], "its file states no resolution"),
        (vec!["tubes.csv"], "no PNG, JPEG or TIFF"),
        (vec!["missing.png"], "cannot be read"),
    ] {
        let mut all = vec!["ends"];
        all.extend(&args);
        let out = quarterlight(dir.path(), &all);
        let said = text(&out.stderr);
        assert!(out.status.code() == Some(1) && said.contains(wanted) && said.contains("hint:"), "{args:?}: {said}");
        assert!(said.lines().filter(|l| l.starts_with("error:")).count() == 1, "{args:?}: {said}");
    }
    assert!(!dir.path().join("readings-ends-batch-1.csv").exists());
}

#[test]
fn the_scale_sheet_is_printed_at_true_size_on_both_papers() {
    let dir = tempfile::tempdir().expect("temporary folder");
    for paper in ["a4", "letter"] {
        let name = format!("card-{paper}.pdf");
        let out = quarterlight(dir.path(), &["ends", "--scale-sheet", &name, "--paper", paper]);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let bytes = std::fs::read(dir.path().join(&name)).expect("written");
        let lines = pdf_lines::lines_of_each_page(&bytes).concat();
        let mm = 72.0 / 25.4;
        let is = |long: f64| move |l: &&pdf_lines::Line| (l.length() / mm - long).abs() < 0.01;
        assert!(lines.iter().filter(is(140.0)).any(|l| l.is_level()), "{paper}");
        assert!(lines.iter().filter(is(60.0)).any(|l| l.is_upright()), "{paper}");
        let again = quarterlight(dir.path(), &["ends", "--scale-sheet", &name]);
        assert_eq!(again.status.code(), Some(1));
    }
}
