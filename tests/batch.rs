//! `batch`: a lot in piles for one sharpening each, on the sample lots and on lots that hold little or nothing.

use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::units::WeightUnit;
use quarterlight::lot::batches::{BatchRules, Batches, CountedBy, DividedBy, GIVEN_BLANKS};
use quarterlight::output::batches::{table, text as told};
use quarterlight::output::show::Units;
use quarterlight::{Assessed, Options, assess};
use std::path::Path;
use std::process::{Command, Output};
use std::sync::LazyLock;

fn batch(args: &[&str]) -> Output {
    let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
    c.current_dir(env!("CARGO_MANIFEST_DIR")).arg("batch").args(args).env("NO_COLOR", "1");
    c.output().expect("the binary runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("utf-8")
}

/// What is printed; the command succeeds.
fn shown(args: &[&str]) -> String {
    let out = batch(args);
    assert!(out.status.success(), "{args:?}: {}", text(&out.stderr));
    text(&out.stdout)
}

/// What is said where the command does not succeed, with exit code 1.
fn refused(args: &[&str]) -> String {
    let out = batch(args);
    assert_eq!(out.status.code(), Some(1), "{args:?}");
    text(&out.stderr)
}

fn stored(args: &[&str]) -> Batches {
    serde_json::from_str(&shown(&[args, &["--json"]].concat())).expect("a record of piles")
}

fn lot(files: &[(&str, &str)]) -> (tempfile::TempDir, String) {
    let dir = tempfile::tempdir().expect("temporary folder");
    for (name, content) in files {
        std::fs::write(dir.path().join(name), content).expect("write");
    }
    let path = dir.path().to_str().expect("utf-8 path").to_string();
    (dir, path)
}

/// Sample lot `grid` with this at the end of its settings.
fn grid_with(settings: &str) -> (tempfile::TempDir, String) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples/grid");
    let read = |name: &str| std::fs::read_to_string(from.join(name)).expect("sample");
    let toml = read("lot.toml") + settings;
    lot(&[("lot.toml", &toml), ("tubes.csv", &read("tubes.csv")), ("readings.csv", &read("readings.csv"))])
}

/// The demo, planned once.
static DEMO: LazyLock<Assessed> = LazyLock::new(|| {
    let options = Options { plan: PlanOptions { seed: 1, draws: 40 }, ..Options::default() };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples/demo");
    assess(&folder, &options, &|_| ()).expect("the demo")
});

fn demo(piles: Option<usize>, by: DividedBy, all_tubes: bool) -> Batches {
    DEMO.batches(&BatchRules { piles, by, all_tubes }).expect("an edge life")
}

fn names(b: &Batches) -> Vec<&str> {
    let mut all: Vec<&str> = b.piles.iter().flat_map(|p| &p.tubes).map(|t| t.tube.as_str()).collect();
    all.extend(b.left_out.iter().map(|l| l.tube.as_str()));
    all.sort_unstable();
    all
}

#[test]
fn the_demo_lies_in_two_piles_that_the_edge_is_expected_to_outlast() {
    let text = shown(&["data-samples/demo", "--draws", "40"]);
    // wherever its lines are broken
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "23 tubes in 2 piles alike in expected blanks, as many as an edge life of 60 blanks asks",
        "\npile 1     T01  ",
        "the edge outlasts it in ",
        "no division can have piles closer than ",
        "1 tube not measured and counted by weight, at the measured tubes' blanks per gram: T24",
        "in no pile: T14: leave: ",
    ] {
        assert!(text.contains(part) || flat.contains(part), "{part}: {text}");
    }
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
}

#[test]
fn the_record_is_the_librarys_reads_back_and_holds_every_tube_once() {
    let b = demo(None, DividedBy::Blanks, false);
    assert_eq!(shown(&["data-samples/demo", "--draws", "40", "--json"]), b.to_json());
    assert_eq!(serde_json::from_str::<Batches>(&b.to_json()).expect("reads back"), b);
    assert_eq!(names(&b), (1..=24).map(|i| format!("T{i:02}")).collect::<Vec<String>>());
    assert_eq!((b.piles.len(), b.divided_by, b.edge_life), (2, DividedBy::Blanks, Some(60.0)));
    assert!(b.spread_bound <= b.spread && b.spread <= b.spread_bound + GIVEN_BLANKS + 1e-9, "{}", b.spread);
    assert!(b.largest_bound <= b.largest && b.largest <= 60.0);
    for p in &b.piles {
        let sum: f64 = p.tubes.iter().map(|t| t.expected_blanks.expect("counted")).sum();
        assert!((p.expected_blanks.expect("counted") - sum).abs() < 1e-9 && (p.size - sum).abs() < 1e-9);
        let (low, high) = (p.low.expect("drawn"), p.high.expect("drawn"));
        assert!(low <= sum && sum <= high, "{low} {sum} {high}");
        // with 5 % of the draws above an interval that reaches beyond the life, it cannot outlast them all
        let chance = p.outlasts.expect("an edge life");
        assert!((chance < 0.95 + 1e-9) == (high > 60.0), "{chance} {high}");
    }
    let t24 = b.piles.iter().flat_map(|p| &p.tubes).find(|t| t.tube == "T24").expect("in a pile");
    assert_eq!(t24.counted_by, CountedBy::Weight);
    // a tube nobody measured is far less sure than one that was
    assert!(t24.high.expect("drawn") - t24.low.expect("drawn") > 2.0, "{t24:?}");
}

#[test]
fn what_an_unmeasured_tube_counts_for_is_its_share_by_weight() {
    let b = demo(None, DividedBy::Blanks, false);
    let t24 = b.piles.iter().flat_map(|p| &p.tubes).find(|t| t.tube == "T24").expect("in a pile");
    // all measured tubes, the one to leave too: their blanks over their weight
    let (blanks, grams) =
        DEMO.plans().iter().fold((0.0, 0.0), |s, p| (s.0 + p.expected(), s.1 + p.fit.weight_g.expect("weighed")));
    let want = blanks / grams * t24.weight_g.expect("weighed");
    assert!((t24.expected_blanks.expect("counted") - want).abs() < 1e-9, "{t24:?} {want}");
}

#[test]
fn what_measuring_took_and_brought_adds_up_over_the_piles() {
    let piles = demo(Some(4), DividedBy::Blanks, true).piles;
    let sum = |of: &dyn Fn(&quarterlight::lot::batches::Pile) -> f64| piles.iter().map(of).sum::<f64>();
    let f = &DEMO.forecast;
    let minutes = sum(&|p| p.measuring_minutes.expect("each has a measured tube"));
    assert!((minutes - f.measuring_minutes.expect("no scan")).abs() < 1e-9, "{minutes}");
    let gain = sum(&|p| p.over_by_eye.expect("each has a planned tube"));
    assert!((gain - (f.blanks.expected - f.by_eye.expect("none is split"))).abs() < 1e-9, "{gain}");
    // all 24 tubes, the one not measured too, 4 min each
    assert!((sum(&|p| p.splitting_minutes) - 96.0).abs() < 1e-9);
    let said = told(&demo(Some(4), DividedBy::Blanks, true), WeightUnit::Gram, Units::Mm);
    assert!(said.contains("blanks over splitting by eye") && said.contains("splitting takes 24 min"), "{said}");
}

#[test]
fn a_row_a_tube_and_inches() {
    let csv = table(&demo(Some(3), DividedBy::Blanks, false), WeightUnit::Gram, Units::Inch).to_csv();
    let mut lines = csv.lines();
    assert_eq!(
        lines.next(),
        Some("tube,pile,blanks,low,high,counted by,length in,weight g,measuring min,over by eye,note")
    );
    assert_eq!(lines.clone().filter(|l| l.ends_with(',')).count(), 23);
    let left: Vec<&str> = lines.filter(|l| l.contains("in no pile: leave")).collect();
    assert!(left.len() == 1 && left[0].starts_with("T14,,,,,,,,,,"), "{left:?}");
    let cut = shown(&["data-samples/grid", "--draws", "20", "--piles", "2", "--csv", "--units", "in"]);
    assert_eq!(cut.lines().count(), 4);
    assert!(
        cut.starts_with("tube,pile,blanks,low,high,counted by,length in,weight g,measuring min,over by eye\n"),
        "{cut}"
    );
}

#[test]
fn tubes_to_leave_go_in_when_asked() {
    let b = demo(Some(4), DividedBy::Blanks, true);
    assert!(b.left_out.is_empty() && b.piles.len() == 4 && b.pile_of("T14").is_some());
    let text = shown(&["data-samples/grid", "--draws", "20", "--piles", "2", "--all-tubes", "--by", "weight"]);
    assert!(text.contains("3 tubes in 2 piles alike in weight"), "{text}");
}

#[test]
fn piles_alike_in_weight_are_within_one_in_a_hundred_of_the_closest() {
    let b = demo(Some(4), DividedBy::Weight, false);
    assert_eq!(b.divided_by, DividedBy::Weight);
    let mean = b.piles.iter().map(|p| p.size).sum::<f64>() / 4.0;
    assert!(b.spread <= b.spread_bound + 0.011 * mean, "{} {}", b.spread, mean);
    for p in &b.piles {
        assert!((p.weight_g.expect("weighed") - p.size).abs() < 1e-9 && p.unweighed == 0);
    }
}

#[test]
fn more_piles_than_tubes_are_one_a_tube_and_said() {
    let text = shown(&["data-samples/grid", "--draws", "20", "--piles", "9"]);
    assert!(text.contains("3 tubes in 3 piles alike in expected blanks, one a tube, where 9 were asked for"), "{text}");
    let b = stored(&["data-samples/grid", "--draws", "20", "--piles", "9", "--tube", "G1"]);
    assert_eq!((b.piles.len(), b.spread.to_bits()), (1, 0));
}

#[test]
fn without_an_edge_life_the_number_of_piles_is_asked_for() {
    let said = refused(&["data-samples/grid", "--draws", "20"]);
    assert!(said.contains("nothing says how many piles") && said.contains("--piles N"), "{said}");
    assert!(refused(&["data-samples/grid", "--piles", "0"]).contains("1..=999"));
}

#[test]
fn an_edge_life_of_nothing_or_less_is_refused_where_it_is_read() {
    for bad in ["0", "-5", "nan"] {
        let (_dir, path) = grid_with(&format!("\n[batch]\nedge_life = {bad}\n"));
        let said = refused(&[&path, "--draws", "20"]);
        assert!(said.contains("column edge_life: found "), "{bad}: {said}");
    }
}

#[test]
fn a_tube_beyond_the_edge_life_lies_alone_and_is_said() {
    let (_dir, path) = grid_with("\n[batch]\nedge_life = 8\n");
    let b = stored(&[&path, "--draws", "20"]);
    assert_eq!((b.piles.len(), b.beyond_edge_life.as_slice()), (3, ["G3".to_string()].as_slice()));
    let text = told(&b, WeightUnit::Gram, Units::Mm);
    assert!(text.contains("one tube alone is expected to give more than the edge life of 8 blanks: G3"), "{text}");
}

#[test]
fn a_lot_of_tubes_to_leave_has_no_piles() {
    let (_dir, path) = grid_with("\n[screen]\nleast_blanks = 500\n[batch]\nedge_life = 60\n");
    let b = stored(&[&path, "--draws", "20"]);
    let text = told(&b, WeightUnit::Gram, Units::Mm);
    assert!(text.contains("no piles: no tube is left to divide") && text.contains("in no pile: G3: leave"), "{text}");
    assert!(b.piles.is_empty() && b.left_out.len() == 3);
}

#[test]
fn a_lot_nobody_measured_is_divided_by_weight_and_its_blanks_are_not_known() {
    let tubes = "tube,length_mm,weight_g\nA,180,20\nB,200,25\nC,190,22\nD,200,\nE,,\n";
    let (_dir, path) = lot(&[("lot.toml", "[batch]\nedge_life = 60\n"), ("tubes.csv", tubes)]);
    assert!(refused(&[&path]).contains("so no blanks can be counted"));
    let b = stored(&[&path, "--piles", "2"]);
    // D by its length: mean of 20/180, 25/200 and 22/190 g/mm times 200 mm = 23.46 g; 45 g against 45.46 g
    assert_eq!((b.divided_by, b.piles.len()), (DividedBy::Weight, 2));
    assert!((b.spread - 0.460_039).abs() < 1e-6 && b.spread_bound <= b.spread, "{}", b.spread);
    for p in &b.piles {
        assert_eq!((p.expected_blanks, p.low, p.outlasts), (None, None, None));
    }
    assert_eq!(b.left_out.iter().map(|l| l.tube.as_str()).collect::<Vec<&str>>(), ["E"]);
    let text = shown(&[&path, "--piles", "2"]);
    for part in ["no tube is measured, so their blanks are not known", "22 g (1 not weighed)", "in no pile: E"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let (_dir, path) = lot(&[("tubes.csv", "tube,length_mm\nA,180\nB,200\nC,380\n")]);
    let text = shown(&[&path, "--piles", "2"]);
    assert!(text.contains("3 tubes in 2 piles alike in length, since no tube is weighed"), "{text}");
}

#[test]
fn a_list_without_tubes_is_no_piles() {
    let (_dir, path) = lot(&[("tubes.csv", "tube,length_mm,weight_g\n")]);
    assert!(shown(&[&path, "--piles", "2"]).contains("no piles: no tube is left to divide"));
    assert!(stored(&[&path, "--piles", "2"]).piles.is_empty());
}

#[test]
fn a_file_is_not_written_over_unasked() {
    let (dir, _) = lot(&[("out.json", "mine")]);
    let out = dir.path().join("out.json");
    let args = ["data-samples/grid", "--draws", "20", "--piles", "2", "--out", out.to_str().expect("utf-8")];
    assert!(refused(&args).contains("is there already"));
    assert_eq!(std::fs::read_to_string(&out).expect("there"), "mine");
    shown(&[&args[..], &["--force"]].concat());
    assert!(std::fs::read_to_string(&out).expect("there").contains("pile 2"));
}
