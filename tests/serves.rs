//! `screen --for`: sets of the maker's own, what a tube serves best, the lot split by worth.

use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::{Severity, Target};
use quarterlight::lot::Prepared;
use quarterlight::lot::serves::{RankedBy, ServeOrder, Serves};
use quarterlight::readings::{LotRead, read_lot, read_lot_files};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::LazyLock;

const SETS: &str = "[lot]\nname = \"two uses (invented)\"\ncurrency = \"EUR\"\n\
    [target]\ninstrument = \"my-alto\"\nblank_value = 1.5\n\
    [instrument.my-alto]\nlike = \"alto saxophone\"\narc_diameter = \"26 mm\"\narc_tolerance = \"1/16 in\"\n\
    [instrument.clarinet]\nblank_value = 1.1\nhollow = 0.10\n";

/// The sample lot with these settings.
fn files(toml: &str) -> Vec<(String, Vec<u8>)> {
    let at = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples/grid");
    let read = |name: &str| (name.to_string(), std::fs::read(at.join(name)).expect(name));
    vec![read("tubes.csv"), read("readings.csv"), ("lot.toml".to_string(), toml.as_bytes().to_vec())]
}

fn lot(toml: &str) -> LotRead {
    let files = files(toml);
    let named: Vec<(&str, &[u8])> = files.iter().map(|(n, b)| (n.as_str(), b.as_slice())).collect();
    read_lot_files("trial", &named).expect("a lot")
}

static PREPARED: LazyLock<Prepared> = LazyLock::new(|| Prepared::of_read(lot(SETS), &[]).expect("a lot"));

fn serve(names: &[&str], values: &[(&str, f64)]) -> Serves {
    let order = ServeOrder {
        names: names.iter().map(|n| (*n).to_string()).collect(),
        values: values.iter().map(|(n, v)| ((*n).to_string(), *v)).collect(),
    };
    PREPARED.serve(&order, PlanOptions { seed: 5, draws: 20 }, &|_| ()).expect("planned")
}

fn folder(toml: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("temporary folder");
    for (name, bytes) in files(toml) {
        std::fs::write(dir.path().join(name), bytes).expect("write");
    }
    dir
}

fn run(args: &[&str], threads: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .args(args)
        .env("RAYON_NUM_THREADS", threads)
        .output()
        .expect("the binary runs")
}

fn said(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("utf-8")
}

#[test]
fn neither_the_order_of_names_nor_how_they_are_written_changes_a_byte() {
    let one = serve(&["clarinet", "my-alto", "e-flat clarinet"], &[]);
    let other = serve(&["E flat Clarinet", "my alto", "CLARINET", "my_alto"], &[]);
    assert_eq!(one.to_json(), other.to_json());
    let names: Vec<&str> = one.sets.iter().map(|s| s.target.instrument.as_str()).collect();
    assert_eq!(names, ["e-flat clarinet", "clarinet", "my-alto"]);
    // what is not counted is told
    let told = quarterlight::output::serves::text(&one, quarterlight::output::show::Units::Mm);
    assert!(told.contains("not read, taken as good: grain of ") && !told.contains("[promise]"), "{told}");
    let kept = Serves { promise_left_out: true, ..serve(&["clarinet", "my-alto", "e-flat clarinet"], &[]) };
    let told = quarterlight::output::serves::text(&kept, quarterlight::output::show::Units::Mm);
    assert!(told.contains("came to in earlier lots"), "{told}");
    // what a set gives does not hang on which others are asked for
    let alone = serve(&["clarinet"], &[]);
    for (a, b) in one.tubes.iter().zip(&alone.tubes) {
        let (a, b) = (a.served.as_ref().expect("planned"), b.served.as_ref().expect("planned"));
        assert_eq!(a.sets[1], b.sets[0]);
    }
}

#[test]
fn worth_stated_in_the_lot_or_typed_sends_each_tube_where_it_is_worth_most() {
    let stated = serve(&["clarinet", "my-alto"], &[]);
    assert_eq!(stated.ranked_by, RankedBy::Value);
    let values: Vec<Option<f64>> = stated.sets.iter().map(|s| s.blank_value).collect();
    assert_eq!(values, [Some(1.1), Some(1.5)]);
    for other in [&stated, &serve(&["clarinet", "my-alto"], &[("my-alto", 0.01)])] {
        for t in &other.tubes {
            let tube = t.served.as_ref().expect("planned");
            let worth = |j: usize| {
                let left = tube.sets[j].screen.verdict == quarterlight::decide::verdict::Verdict::Leave;
                if left { 0.0 } else { other.sets[j].blank_value.expect("stated") * tube.sets[j].expected }
            };
            let most = (0..2).map(worth).fold(0.0, f64::max);
            match &t.best {
                Some(best) => {
                    assert!(worth(best.set) >= most - 1e-9, "{}", t.tube);
                    assert!(best.counts <= most + 1e-9, "{}", t.tube);
                }
                None => assert!(most < 1e-9, "{}", t.tube),
            }
        }
        let split = other.split.as_ref().expect("two with a worth");
        let piles: f64 = other.sets.iter().filter_map(|s| s.best_for.value).map(|v| v.expected).sum();
        assert!((piles - split.value.expected).abs() < 1e-9, "{piles} {split:?}");
        assert!(split.value.low <= split.value.expected && split.value.expected <= split.value.high, "{split:?}");
    }
    // what is worth next to nothing gets no tube, and what has no worth is no part of the split
    let cheap = serve(&["clarinet", "my-alto"], &[("my-alto", 0.01)]);
    assert!(cheap.sets[1].best_for.tubes.is_empty() && cheap.split.expect("two").single == "clarinet");
    let some = serve(&["clarinet", "my-alto", "e-flat clarinet"], &[]);
    assert_eq!(some.without_value(), ["e-flat clarinet"]);
    assert!(some.sets[0].best_for.tubes.is_empty() && !some.sets[0].alone.tubes.is_empty());
    let none = serve(&["e-flat clarinet", "soprano saxophone", "clarinet"], &[]);
    assert!(none.split.is_none() && none.ranked_by == RankedBy::ShareOfFull);
}

#[test]
fn all_leaves_out_what_no_tube_can_serve_and_what_is_named_is_planned() {
    let all = serve(&["all"], &[]);
    let skipped: Vec<&str> = all.skipped.iter().map(|s| s.name.as_str()).collect();
    assert!(["oboe", "oboe d'amore", "english horn"].iter().all(|n| skipped.contains(n)), "{skipped:?}");
    assert!(all.sets.iter().any(|s| s.target.instrument == "my-alto"), "its own sets too");
    assert_eq!(all.sets.len() + all.skipped.len(), 13);
    let named = serve(&["oboe", "clarinet"], &[]);
    assert!(named.skipped.is_empty() && named.sets.len() == 2);
    assert!(named.tubes.iter().all(|t| !t.served.as_ref().expect("planned").sets[1].in_reach));
}

#[test]
fn sets_stand_in_the_makers_file_and_in_a_sheet_too() {
    let dir = folder("[lot]\nmaker = \"maker.toml\"\n[target]\ninstrument = \"mine\"\n[instrument.mine]\nrock = 0.2\n");
    let maker = "[instrument.mine]\nlike = \"oboe\"\nrock = 0.3\nhollow = 0.07\nblank_value = 4\n[instrument.thin]\npieces = 3\n";
    std::fs::write(dir.path().join("maker.toml"), maker).expect("write");
    let LotRead { lot, findings, .. } = read_lot(dir.path()).expect("a lot");
    assert!(findings.iter().all(|f| f.severity == Severity::Note), "{findings:?}");
    let oboe = Target::for_instrument("oboe").expect("a set");
    let mine = Target { instrument: "mine".into(), rock_mm: 0.2, hollow_mm: 0.07, ..oboe };
    assert_eq!((&lot.target, lot.blank_value), (&mine, Some(4.0)));
    let thin = Target { instrument: "thin".into(), pieces: 3, ..mine };
    assert_eq!(lot.own_sets.iter().find(|s| s.target.instrument == "thin").map(|s| &s.target), Some(&thin));

    let mut book = rust_xlsxwriter::Workbook::new();
    let sheets: [(&str, &[&[&str]]); 3] = [
        (
            "lot",
            &[
                &["section", "key", "value"],
                &["instrument.mine", "like", "oboe"],
                &["instrument.mine", "hollow", "0.003 in"],
                &["[instrument.mine]", "blank_value", "4"],
                &["instrument.bare", "", ""],
                &["target", "instrument", "Mine"],
                &["instrument.mine", "hollow", "0.1"],
            ],
        ),
        ("tubes", &[&["tube", "length_mm"], &["A", "200"]]),
        ("readings", &[&["tube", "kind", "z", "angle", "value"], &["A", "diameter", "50", "0", "10.4"]]),
    ];
    for (name, rows) in sheets {
        let sheet = book.add_worksheet().set_name(name).expect("a name");
        for (r, row) in (0_u32..).zip(rows) {
            for (c, cell) in (0_u16..).zip(*row) {
                sheet.write_string(r, c, *cell).expect("a cell");
            }
        }
    }
    let path = dir.path().join("book.xlsx");
    book.save(&path).expect("written");
    let LotRead { lot, findings, .. } = read_lot(&path).expect("a lot");
    let errors: Vec<_> = findings.iter().filter(|f| f.severity == Severity::Error).collect();
    assert_eq!(errors.len(), 1, "{findings:?}");
    assert!(errors[0].place.line == 7 && errors[0].found.contains("'hollow' again"), "{errors:?}");
    assert!((lot.target.hollow_mm - 0.0762).abs() < 1e-9 && lot.blank_value == Some(4.0), "{:?}", lot.target);
}

#[test]
fn the_command_says_it_on_a_hundred_columns_as_json_and_as_a_table_whatever_the_threads() {
    let dir = folder(SETS);
    let at = dir.path().to_str().expect("utf-8 path");
    let args = |more: &[&'static str]| -> Vec<String> {
        let all = ["screen", at, "--for", "clarinet,my-alto,oboe", "--draws", "20"];
        all.iter().chain(more).map(ToString::to_string).collect()
    };
    let run_with = |more: &[&'static str], threads: &str| {
        let args = args(more);
        run(&args.iter().map(String::as_str).collect::<Vec<_>>(), threads)
    };
    let one = run_with(&[], "1");
    let shown = said(&one.stdout);
    assert!(one.status.success(), "{}", said(&one.stderr));
    assert_eq!(shown, said(&run_with(&[], "3").stdout));
    for line in shown.lines() {
        assert!(line.chars().count() <= 100, "{} characters: {line}", line.chars().count());
    }
    for part in ["worth EUR", "best", "So the lot is worth", "Splitting the lot brings", "all for one", "about an inch"]
    {
        assert!(shown.contains(part), "{part} is missing: {shown}");
    }
    let inches = said(&run_with(&["--units", "in"], "2").stdout);
    assert!(!inches.contains(" mm"), "{inches}");
    let json: Value = serde_json::from_slice(&run_with(&["--json"], "2").stdout).expect("JSON");
    assert_eq!((json["format"].as_u64(), json["tubes"][0]["for"].as_array().map(Vec::len)), (Some(1), Some(3)));
    assert!(json["split_by_value"]["value"]["expected"].as_f64().is_some_and(|v| v > 0.0), "{json}");
    let csv = said(&run_with(&["--csv"], "2").stdout);
    let rows: Vec<&str> = csv.lines().collect();
    let tubes = json["tubes"].as_array().map_or(0, Vec::len);
    assert!(rows.len() == 1 + 3 * tubes && rows[0].starts_with("tube,for,verdict,blanks,low,high"), "{csv}");
    for (more, told) in [
        (&["--value", "clarinet"][..], "such as clarinet=1.20"),
        (&["--value", "bassoon=2"][..], "nothing is planned for bassoon"),
        (&["--for", "tuba"][..], "its sets are e-flat clarinet"),
        (&["--as-split"][..], "cannot be used with"),
    ] {
        let out = run_with(more, "2");
        assert!(out.status.code() == Some(1) && said(&out.stderr).contains(told), "{more:?}: {}", said(&out.stderr));
    }
}
