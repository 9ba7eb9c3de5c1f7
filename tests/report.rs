//! `report`: the files it writes, what stands in them, and what it refuses.

#[path = "support/pdf_lines.rs"]
mod pdf_lines;
#[path = "support/report_run.rs"]
mod report_run;

use pdf_lines::{lines_of_each_page, media_boxes};
use quarterlight::decide::girth::Girth;
use quarterlight::domain::Kind;
use quarterlight::numeric::draws;
use quarterlight::tube::simulate::{Stand, TrueTube};
use scraper::{Html, Selector};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const MM: f64 = 25.4 / 72.0;
const FILES: [&str; 8] = [
    "report.html",
    "splits.csv",
    "runs.csv",
    "forecast.csv",
    "cuts-plan.csv",
    "plan.json",
    "bench-list.pdf",
    "strips.pdf",
];

fn run(lot: &Path, out: &Path, more: &[&str]) -> Output {
    report_run::report(lot, out, "40", more)
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(name)
}

fn read(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn good(out: &Output) {
    assert!(out.status.success(), "{:?}\n{}", out.status, String::from_utf8_lossy(&out.stderr));
}

/// Parses the page and checks what every page must hold.
fn checked(text: &str) -> Html {
    let page = Html::parse_document(text);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let select = |s: &str| Selector::parse(s).expect("a selector");
    assert_eq!(page.select(&select("script, iframe, object, embed, base, form")).count(), 0);
    let mut ids = BTreeSet::new();
    for e in page.select(&select("*")) {
        let v = e.value();
        for (name, value) in v.attrs() {
            assert!(!name.starts_with("on"), "{name} on {}", v.name());
            let link = matches!(name, "href" | "src" | "action" | "data" | "srcset" | "poster");
            assert!(!link || value.starts_with('#') || value == "data:,", "{}: {name}={value}", v.name());
        }
        if let Some(id) = v.id() {
            assert!(ids.insert(id.to_string()), "id {id} twice");
        }
    }
    let style: String = page.select(&select("style")).flat_map(|s| s.text()).collect();
    assert!(!style.contains("url(") && !style.contains("@import"), "the style fetches something");
    for svg in page.select(&select("svg")) {
        let by = svg.value().attr("aria-labelledby").expect("every svg is labelled");
        for id in by.split_whitespace() {
            assert!(ids.contains(id), "label {id} is missing");
        }
        assert_eq!(svg.value().attr("role"), Some("img"));
    }
    for a in page.select(&select("a[href]")) {
        let to = a.value().attr("href").unwrap_or_default();
        assert!(ids.contains(&to[1..]), "{to} leads nowhere");
    }
    assert_eq!(page.select(&select("img:not([alt])")).count(), 0);
    page
}

#[test]
fn the_demo_gives_all_files_and_a_page_that_parses() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().join("new/deep");
    let ran = run(&sample("demo"), &out, &[]);
    good(&ran);
    let there: BTreeSet<String> = std::fs::read_dir(&out)
        .expect("made")
        .map(|f| f.expect("a file").file_name().to_string_lossy().into())
        .collect();
    assert_eq!(there, FILES.iter().map(ToString::to_string).collect());
    let text = read(&out, "report.html");
    let page = checked(&text);
    let cards = Selector::parse("article.tube").expect("a selector");
    assert_eq!(page.select(&cards).count(), 23);
    // a lot with an edge life lies in piles, each a bar and a row
    let rows = Selector::parse("section#piles tbody tr").expect("a selector");
    assert_eq!(page.select(&rows).count(), 2);
    assert_eq!(text.matches("the edge outlasts it in").count(), 4, "title and description of each bar");
    for want in ["T24", "not measured yet", "Before anything is cut", "Doubted readings", "wormhole", "mitre box", "±"]
    {
        assert!(text.contains(want), "{want}");
    }
    assert!(
        !text.contains("http:") || text.matches("http:").count() == text.matches("http://www.w3.org/2000/svg").count()
    );
    assert!(!text.contains("https:"));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("no wrap strip for tube T24"));
}

#[test]
fn every_row_of_the_runs_carries_the_caution_in_its_last_column() {
    let dir = tempfile::tempdir().expect("a folder");
    good(&run(&sample("inches"), dir.path(), &[]));
    let text = read(dir.path(), "runs.csv");
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let titles = rows.headers().expect("titles").clone();
    let at = titles.iter().position(|t| t == "caution").expect("a caution");
    let mut n = 0;
    for row in rows.records() {
        assert!(row.expect("a row")[at].contains("clamp what is short"), "{text}");
        n += 1;
    }
    assert!(n > 4, "{n} rows");
}

#[test]
fn plan_json_is_what_split_prints_and_the_same_bytes_come_twice() {
    let dir = tempfile::tempdir().expect("a folder");
    let (a, b) = (dir.path().join("a"), dir.path().join("b"));
    good(&run(&sample("inches"), &a, &[]));
    good(&run(&sample("inches"), &b, &[]));
    for name in FILES {
        let bytes = |d: &Path| std::fs::read(d.join(name)).expect("written");
        assert!(bytes(&a) == bytes(&b), "{name} differs");
    }
    let split = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .args(["split", "--json", "--draws", "40"])
        .arg(sample("inches"))
        .output()
        .expect("runs");
    assert_eq!(read(&a, "plan.json"), String::from_utf8_lossy(&split.stdout));
}

#[test]
fn what_is_there_is_not_replaced_without_force_and_every_file_in_the_way_is_listed() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().join("out");
    std::fs::create_dir(&out).expect("made");
    for name in ["runs.csv", "bench-list.pdf", "strips.pdf"] {
        std::fs::write(out.join(name), "mine").expect("written");
    }
    std::fs::write(out.join("notes.txt"), "mine").expect("written");
    let ran = run(&sample("inches"), &out, &[]);
    let said = String::from_utf8_lossy(&ran.stderr).to_string();
    assert_eq!(ran.status.code(), Some(1), "{said}");
    assert!(said.contains("runs.csv") && said.contains("strips.pdf") && said.contains("--force"), "{said}");
    assert!(said.contains("bench-list.pdf"), "{said}");
    assert!(!out.join("report.html").exists() && read(&out, "runs.csv") == "mine");
    good(&run(&sample("inches"), &out, &["--force"]));
    assert!(read(&out, "runs.csv").starts_with("tube,") && read(&out, "notes.txt") == "mine");
    assert!(
        std::fs::read_dir(&out)
            .expect("there")
            .all(|f| { !f.expect("a file").file_name().to_string_lossy().contains("tmp") })
    );
    // a file where the folder should be; a folder where a file should be
    assert_eq!(run(&sample("inches"), &out.join("notes.txt"), &["--force"]).status.code(), Some(1));
    let other = dir.path().join("other");
    std::fs::create_dir_all(other.join("plan.json")).expect("made");
    assert_eq!(run(&sample("inches"), &other, &["--force"]).status.code(), Some(1));
    assert!(!other.join("report.html").exists());
}

#[test]
fn inches_are_told_to_the_nearest_32nd() {
    let dir = tempfile::tempdir().expect("a folder");
    good(&run(&sample("inches"), dir.path(), &["--units", "in", "--paper", "letter", "--no-hands", "6 in"]));
    let page = checked(&read(dir.path(), "report.html"));
    let plan: serde_json::Value = serde_json::from_str(&read(dir.path(), "plan.json")).expect("JSON");
    let cells = Selector::parse("td[data-label=\"from\"], td[data-label=\"to\"]").expect("a selector");
    let shown: Vec<String> = page.select(&cells).map(|c| c.text().collect()).collect();
    let mut ends = Vec::new();
    for tube in plan["tubes"].as_array().expect("tubes") {
        for piece in tube["pieces"].as_array().expect("pieces") {
            for run in piece["runs"].as_array().expect("runs") {
                ends.extend([&run["from_mm"], &run["to_mm"]].map(|v| v.as_f64().expect("a number")));
            }
        }
    }
    assert!(!ends.is_empty() && shown.len() == ends.len(), "{} {}", shown.len(), ends.len());
    for (text, mm) in shown.iter().zip(&ends) {
        // read back by hand: whole and fraction, the bottom at most 32
        let number = text.strip_suffix(" in").unwrap_or_else(|| panic!("{text}: no unit"));
        let value: f64 = number
            .split(' ')
            .map(|part| match part.split_once('/') {
                None => part.parse::<f64>().expect("a whole number"),
                Some((top, bottom)) => {
                    let bottom: f64 = bottom.parse().expect("a number");
                    assert!(bottom <= 32.0, "{text}");
                    top.parse::<f64>().expect("a number") / bottom
                }
            })
            .sum();
        assert!((value * 25.4 - mm).abs() <= 25.4 / 64.0 + 1e-6, "{text} for {mm} mm");
    }
    let cuts = read(dir.path(), "cuts-plan.csv");
    assert!(cuts.starts_with("tube,piece,cut,") && cuts.contains("stop at nearest 1/32"), "{cuts}");
    for (w, h) in media_boxes(&std::fs::read(dir.path().join("strips.pdf")).expect("there")) {
        assert!((w - 612.0).abs() < 0.001 && (h - 792.0).abs() < 0.001, "{w} by {h} points");
    }
    assert!(read(dir.path(), "report.html").contains("size:letter"));
}

#[test]
fn the_flag_follows_the_no_hands_distance() {
    let dir = tempfile::tempdir().expect("a folder");
    // flags, and statements for a whole tube
    let count = |value: &str| {
        let out = dir.path().join(value.replace(' ', ""));
        good(&run(&sample("inches"), &out, &["--no-hands", value]));
        let text = read(&out, "cuts-plan.csv");
        let mut table = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = table.records().map(|r| r.expect("a row")).collect();
        let flagged = rows.iter().filter(|r| !r[11].is_empty()).count();
        let alike = rows.iter().filter(|r| r[12].starts_with("all blanks of this tube")).count();
        assert!(rows.iter().all(|r| r[11].is_empty() || !r[12].starts_with("all")), "both: {text}");
        (flagged, alike, rows.len())
    };
    let (few, all) = (count("50"), count("30 cm"));
    assert!(few.0 <= few.2 / 2 && all.2 == few.2, "flags are for the fewer cuts: {few:?}");
    assert_eq!((all.0, all.1), (0, all.2), "every cut is alike: one statement, no flag");
    let page = read(&dir.path().join("30cm"), "report.html");
    assert_eq!(page.matches("All blanks of this tube: clamp").count(), 4, "once a tube");
    for bad in ["0", "-5", "ten", "5 kg"] {
        let ran = run(&sample("inches"), &dir.path().join("bad"), &["--no-hands", bad]);
        assert_eq!(ran.status.code(), Some(1), "{bad}");
    }
}

/// A lot of simulated tubes in a folder; `names` overrides the first names.
fn lot_of(folder: &Path, tubes: u64, names: &[&str]) {
    let mut list = csv::Writer::from_path(folder.join("tubes.csv")).expect("a file");
    let mut readings = csv::Writer::from_path(folder.join("readings.csv")).expect("a file");
    list.write_record(["tube", "length_mm", "weight_g"]).expect("written");
    readings.write_record(["tube", "kind", "z_mm", "angle_deg", "value_mm", "set"]).expect("written");
    for k in 0..tubes {
        let truth = TrueTube::grow(&Stand::default(), 44, k);
        let name = usize::try_from(k).ok().and_then(|k| names.get(k)).map_or(truth.name.clone(), ToString::to_string);
        list.write_record([&name, &format!("{:.1}", truth.length_mm), &format!("{:.1}", truth.weight_g)])
            .expect("written");
        let mut rng = draws::stream(44, "report", k);
        let mut rows = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
        rows.extend(truth.rings(Kind::Diameter, 4, 1e6, 0.05, &mut rng));
        for r in rows {
            let (z, a, v) = (r.z_mm, r.angle.degrees(), r.value_mm);
            let mut line = [String::new(), String::new(), String::new()];
            for (text, x) in line.iter_mut().zip([z, a, v]) {
                write!(text, "{x:.3}").expect("written");
            }
            let [z, a, v] = &line;
            readings.write_record([name.as_str(), r.kind.word(), z, a, v, "a"]).expect("written");
        }
    }
    list.flush().expect("written");
    readings.flush().expect("written");
}

#[test]
fn a_lot_cut_without_a_kerf_has_an_order_of_cuts_for_every_piece() {
    let dir = tempfile::tempdir().expect("a folder");
    lot_of(dir.path(), 3, &[]);
    let rows = |kerf: &str| {
        std::fs::write(dir.path().join("lot.toml"), format!("[saw]\nkerf = {kerf}\n")).expect("written");
        let out = dir.path().join(format!("out{kerf}"));
        good(&run(dir.path(), &out, &[]));
        let page = read(&out, "report.html");
        checked(&page);
        assert_eq!(page.contains("a knife or a break"), kerf == "0");
        assert!(!page.to_lowercase().contains("no order of cuts"));
        let strips = std::fs::read(out.join("strips.pdf")).expect("there");
        assert!(!media_boxes(&strips).is_empty());
        read(&out, "cuts-plan.csv")
    };
    let (saw, knife) = (rows("1"), rows("0"));
    assert!(!knife.contains("no order of cuts"), "{knife}");
    assert!(knife.lines().count() > 6 && saw.lines().count() > 6, "{knife}");
    // with a knife the blade leaves where it enters
    let mut table = csv::Reader::from_reader(knife.as_bytes());
    for row in table.records() {
        let row = row.expect("a row");
        assert_eq!(row[6], row[7], "{row:?}");
    }
}

#[test]
fn a_hostile_name_is_just_a_name() {
    let dir = tempfile::tempdir().expect("a folder");
    let names = ["<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "=HYPERLINK(\"x\")", "a & b </title>"];
    lot_of(dir.path(), 4, &names);
    std::fs::write(dir.path().join("lot.toml"), "[lot]\nname = \"</style><script>x</script>\"\n").expect("written");
    let out = dir.path().join("out");
    good(&run(dir.path(), &out, &[]));
    let page = checked(&read(&out, "report.html"));
    let heads: Vec<String> =
        page.select(&Selector::parse("h3").expect("a selector")).map(|h| h.text().collect()).collect();
    for name in names {
        assert!(heads.iter().any(|h| h.contains(name)), "{name}: {heads:?}");
    }
    for name in ["splits.csv", "runs.csv", "cuts-plan.csv", "forecast.csv"] {
        assert!(!read(&out, name).lines().any(|l| l.starts_with('=') || l.starts_with("\"=")), "{name}");
    }
}

#[test]
fn a_strip_is_as_long_as_the_believed_girth_and_its_ticks_stand_at_the_splits() {
    let dir = tempfile::tempdir().expect("a folder");
    lot_of(dir.path(), 1, &["one"]);
    let out = dir.path().join("out");
    good(&run(dir.path(), &out, &[]));
    let plan: serde_json::Value = serde_json::from_str(&read(&out, "plan.json")).expect("JSON");
    let lines = lines_of_each_page(&std::fs::read(out.join("strips.pdf")).expect("there")).remove(0);
    assert!(lines.iter().any(|l| l.is_level() && (l.length() * MM - 100.0).abs() < 0.01), "no check line");
    // index lines are 24 mm tall, ticks 14.5 mm
    let upright = |height: f64| -> Vec<f64> {
        lines
            .iter()
            .filter(|l| l.is_upright() && (l.length() * MM - height).abs() < 0.01)
            .map(|l| l.from[0] * MM)
            .collect()
    };
    let index = upright(24.0);
    let first = index.iter().copied().fold(f64::INFINITY, f64::min);
    // two widths near that end, read with a caliper of 0.05 mm: 0.035 mm on the diameter, 0.11 on the girth; limit 5 sd
    let truth = TrueTube::grow(&Stand::default(), 44, 0).sections(&[0.0]);
    // the edge of the lap, 12 mm further on, is as tall
    let girth = index.iter().map(|x| x - first).filter(|g| *g > 40.0).fold(f64::INFINITY, f64::min);
    let true_girth = std::f64::consts::TAU * truth.row(0)[0];
    assert!((girth - true_girth).abs() < 0.6, "{girth} {true_girth}");
    let split = plan["tubes"][0]["split"]["angle_deg"].as_f64().expect("a split");
    let ticks = upright(14.5);
    assert_eq!(ticks.len(), 4, "{ticks:?}");
    // as far round the true bark, which is oval: what the readings leave open of its shape is worth a tenth of a millimetre
    let bark = Girth::of_section(truth.section(0));
    for k in 0..4 {
        let want = first + girth * bark.at_mm(split + 90.0 * f64::from(k)) / bark.whole_mm();
        assert!(ticks.iter().any(|t| (t - want).abs() < 0.15), "no tick at {want}: {ticks:?}");
    }
}

#[test]
fn sixty_tubes_make_a_page_of_at_most_eight_megabytes() {
    let dir = tempfile::tempdir().expect("a folder");
    lot_of(dir.path(), 60, &[]);
    let out = dir.path().join("out");
    let begun = std::time::Instant::now();
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .arg("report")
        .arg(dir.path())
        .arg("--out")
        .arg(&out)
        .args(["--draws", "20"])
        .output()
        .expect("runs");
    good(&ran);
    let size = std::fs::metadata(out.join("report.html")).expect("there").len();
    println!("60 tubes, 20 draws: {:.1} s, {:.2} MB", begun.elapsed().as_secs_f64(), size as f64 / 1e6);
    assert!(size <= 8_000_000, "{size}");
    checked(&read(&out, "report.html"));
}

#[test]
fn tubes_without_a_plan_and_lots_without_a_strip_are_still_reported() {
    let dir = tempfile::tempdir().expect("a folder");
    let ran = run(&sample("broken"), dir.path(), &[]);
    // there is something to mend, and what could be analysed is written all the same
    assert_eq!(ran.status.code(), Some(1));
    let text = read(dir.path(), "report.html");
    checked(&text);
    assert!(text.contains("Tubes without a plan") && text.contains("a row of its data cannot be read"));
    let short = tempfile::tempdir().expect("a folder");
    std::fs::write(short.path().join("tubes.csv"), "tube,length_mm\nS,60\n").expect("written");
    std::fs::write(
        short.path().join("readings.csv"),
        "tube,kind,z_mm,angle_deg,value_mm\nS,diameter,5,0,25.3\nS,diameter,5,90,25.5\nS,diameter,55,0,25.3\nS,diameter,55,90,25.4\n",
    )
    .expect("written");
    let out = short.path().join("out");
    let ran = run(short.path(), &out, &[]);
    good(&ran);
    let page = read(&out, "report.html");
    checked(&page);
    assert!(!page.contains("id=\"piles\""), "no edge life, no piles");
    assert!(page.contains("too short") && !out.join("strips.pdf").exists());
    // of a lot that nobody measured nothing is said to be seen, nor to agree
    let unread = tempfile::tempdir().expect("a folder");
    std::fs::write(unread.path().join("tubes.csv"), "tube,length_mm\nA,180\nB,190\n").expect("written");
    let nothing = unread.path().join("out");
    run(unread.path(), &nothing, &[]);
    let none = read(&nothing, "report.html");
    checked(&none);
    assert!(!none.contains("all seen on every tube") && !none.contains("agrees with the rest"), "{none}");
    assert!(none.contains("No tube was fitted"), "{none}");
    // the list is there all the same and says that nothing is to be split
    assert_eq!(media_boxes(&std::fs::read(out.join("bench-list.pdf")).expect("there")).len(), 1);
    assert!(String::from_utf8_lossy(&ran.stderr).contains("strips.pdf was not written"));
}

#[test]
fn the_bench_list_comes_on_both_papers_about_ten_tubes_a_page() {
    let dir = tempfile::tempdir().expect("a folder");
    for (paper, (width, height)) in [("a4", (595.276, 841.89)), ("letter", (612.0, 792.0))] {
        let out = dir.path().join(paper);
        good(&run(&sample("demo"), &out, &["--paper", paper]));
        let list = std::fs::read(out.join("bench-list.pdf")).expect("there");
        let boxes = media_boxes(&list);
        // 22 tubes to split
        assert!((2..=3).contains(&boxes.len()), "{} pages on {paper}", boxes.len());
        for (w, h) in boxes {
            assert!((w - width).abs() < 0.01 && (h - height).abs() < 0.01, "{w} by {h} points on {paper}");
        }
        let again = run(&sample("demo"), &out, &["--paper", paper]);
        let said = String::from_utf8_lossy(&again.stderr).to_string();
        assert!(again.status.code() == Some(1) && said.contains("bench-list.pdf"), "{said}");
        assert!(std::fs::read(out.join("bench-list.pdf")).expect("there") == list, "the first list was touched");
    }
}

#[test]
fn one_tube_can_be_asked_for() {
    let dir = tempfile::tempdir().expect("a folder");
    good(&run(&sample("demo"), dir.path(), &["--tube", "T02"]));
    let page = checked(&read(dir.path(), "report.html"));
    assert_eq!(page.select(&Selector::parse("article.tube").expect("a selector")).count(), 1);
    assert_eq!(run(&sample("demo"), &dir.path().join("x"), &["--tube", "T99"]).status.code(), Some(1));
}
