//! `new`: the folder it makes is read without an error, nothing is written over, sheets and strips are what they say.

#[path = "support/pdf_lines.rs"]
mod pdf_lines;

use pdf_lines::{lines_of_each_page, media_boxes};
use quarterlight::domain::units::LengthUnit;
use quarterlight::domain::{Effort, Kind, NewLot, Routine, Tool};
use quarterlight::known as truth;
use quarterlight::output::new_lot::{sheet_pages, strip_pages};
use quarterlight::paper::pdf;
use quarterlight::paper::scene::{Paper, Scene, Shape};
use quarterlight::readings::read_lot;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output};
use truth::plans::{Plan, SPAN_MM};

const MM: f64 = 25.4 / 72.0;

fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quarterlight")).current_dir(folder).args(args).output().expect("the binary runs")
}

fn good(out: &Output) -> String {
    assert!(out.status.success(), "{:?}\n{}", out.status, String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).into_owned()
}

fn refused(out: &Output) -> String {
    assert_eq!(out.status.code(), Some(1), "{}", String::from_utf8_lossy(&out.stdout));
    String::from_utf8_lossy(&out.stderr).into_owned()
}

fn there(folder: &Path) -> BTreeSet<String> {
    let names = std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").file_name());
    names.map(|n| n.to_string_lossy().into_owned()).collect()
}

fn words(pages: &[Scene]) -> Vec<String> {
    let of = |s: &Shape| match s {
        Shape::Text(t) => Some(t.text.clone()),
        _ => None,
    };
    pages.iter().flat_map(|p| p.marks.iter().filter_map(|m| of(&m.shape))).collect()
}

/// A run that was stopped part of the way left whole files, and lacks some.
#[test]
fn a_run_that_was_stopped_is_gone_on_with_and_nothing_that_was_typed_is_written_over() {
    let dir = tempfile::tempdir().expect("a folder");
    let (folder, new) = (dir.path().join("spring"), ["new", "spring", "--tubes", "3"]);
    good(&run(dir.path(), &new));
    let before = std::fs::read(folder.join("angle-strips.pdf")).expect("written");
    for gone in ["angle-strips.pdf", "tubes.csv"] {
        std::fs::remove_file(folder.join(gone)).expect("there");
    }
    let said = good(&run(dir.path(), &new));
    assert!(said.contains("lot.toml") && said.contains("tubes.csv"), "{said}");
    assert_eq!(std::fs::read(folder.join("angle-strips.pdf")).expect("there again"), before);
    // once whole it is a lot like any other
    assert!(refused(&run(dir.path(), &new)).contains("tubes.csv"));
    std::fs::remove_file(folder.join("tubes.csv")).expect("there");
    std::fs::write(folder.join("lot.toml"), "[lot]\nname = \"mine\"\n").expect("writable");
    let said = refused(&run(dir.path(), &new));
    assert!(said.contains("lot.toml") && !said.contains("angle-strips.pdf"), "{said}");
    assert!(!folder.join("tubes.csv").exists());
}

#[test]
fn a_new_lot_has_its_files_reads_without_an_error_and_is_not_written_over() {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, units) in [("spring", "mm"), ("autumn", "IN")] {
        let said = good(&run(dir.path(), &["new", name, "--tubes", "12", "--units", units]));
        let folder = dir.path().join(name);
        let files =
            ["angle-strips.pdf", "lot.toml", "measuring-sheet.pdf", "readings-bridge.csv", "readings-caliper.csv"];
        assert_eq!(
            there(&folder),
            files.iter().chain(&["scale-card.pdf", "tubes.csv"]).map(ToString::to_string).collect()
        );
        for want in ["quick", "* usual", "thorough", "lost: smooth tubes", "readings-bridge.csv", "quarterlight split"]
        {
            assert!(said.contains(want), "{want}: {said}");
        }
        let read = read_lot(&folder).expect("a lot");
        assert!(!read.has_errors(), "{:#?}", read.findings);
        assert_eq!((read.lot.name.as_str(), read.lot.tubes.len()), (name, 12));
        let settings = std::fs::read_to_string(folder.join("lot.toml")).expect("read");
        let minute = format!("# minute_blanks = {} ", quarterlight::domain::MINUTE_BLANKS);
        assert!(settings.contains(&minute), "{settings}");
        assert_eq!((read.lot.tubes[0].name.as_str(), read.lot.tubes[11].name.as_str()), ("T01", "T12"));
        let checked = good(&run(dir.path(), &["check", name]));
        assert!(checked.contains("nothing measured yet of 12 tubes") && checked.contains("nothing to mend; 1 note"));
        let fit = run(dir.path(), &["fit", name]);
        let (fitted, beside) = (good(&fit), String::from_utf8_lossy(&fit.stderr).into_owned());
        assert!(fitted.contains("T01: not measured yet"), "{fitted}");
        assert!(beside.contains("`quarterlight new DIR` makes forms"), "{beside}");
        let before: Vec<Vec<u8>> =
            there(&folder).iter().map(|f| std::fs::read(folder.join(f)).expect("read")).collect();
        let again = refused(&run(dir.path(), &["new", name]));
        assert!(files.iter().all(|f| again.contains(f)) && again.contains("nothing was written"), "{again}");
        let after: Vec<Vec<u8>> = there(&folder).iter().map(|f| std::fs::read(folder.join(f)).expect("read")).collect();
        assert!(before == after);
    }
}

#[test]
fn one_file_in_the_way_under_any_case_stops_all_and_a_parent_that_takes_nothing_is_named() {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::create_dir(dir.path().join("lot")).expect("made");
    std::fs::write(dir.path().join("lot/Tubes.CSV"), "mine").expect("written");
    let said = refused(&run(dir.path(), &["new", "lot"]));
    assert!(said.contains("Tubes.CSV") && !said.contains("lot.toml"), "{said}");
    assert_eq!(there(&dir.path().join("lot")).len(), 1);
    std::fs::write(dir.path().join("file"), "").expect("written");
    let said = refused(&run(dir.path(), &["new", "file"]));
    assert!(said.contains("it is a file, not a folder"), "{said}");
    let said = refused(&run(dir.path(), &["new", "file/inside"]));
    assert!(said.contains("cannot be written"), "{said}");
}

#[test]
fn choices_that_make_no_sense_are_refused_with_what_would() {
    let dir = tempfile::tempdir().expect("a folder");
    for (args, want) in [
        (&["--with", "spoon"][..], "caliper, bridge, dial, straightedge, v-block, wall"),
        (&["--diameter", "1"], "expected 5 to 80 mm"),
        (&["--length", "70"], "does not stand on a tube"),
        (&["--quick", "--thorough"], "cannot be used with"),
        (&["--instrument", "kazoo"], "alto saxophone"),
        (&["--tubes", "0"], "1..=999"),
    ] {
        let said = refused(&run(dir.path(), &[&["new", "x"], args].concat()));
        assert!(said.contains(want), "{args:?}: {said}");
        assert!(there(dir.path()).is_empty());
    }
}

#[test]
fn the_workbook_is_the_same_lot_as_the_files() {
    let dir = tempfile::tempdir().expect("a folder");
    let all =
        ["--with", "dial,CALIPER,bridge,straightedge,v-block,wall", "--tubes", "3", "--instrument", "alto saxophone"];
    for units in ["mm", "in"] {
        let (a, b) = (format!("a{units}"), format!("b{units}"));
        good(&run(dir.path(), &[&["new", &a, "--units", units], &all[..]].concat()));
        good(&run(dir.path(), &[&["new", &b, "--units", units, "--workbook"], &all[..]].concat()));
        assert_eq!(there(&dir.path().join(&b)).len(), 4);
        let files = read_lot(&dir.path().join(&a)).expect("a lot");
        let book = read_lot(&dir.path().join(&b).join("lot.xlsx")).expect("a lot");
        assert!(!files.has_errors() && !book.has_errors(), "{:#?} {:#?}", files.findings, book.findings);
        let same = |l: &quarterlight::domain::Lot| (l.target.clone(), l.rigs.clone(), l.tubes.clone(), l.saw, l.split);
        assert_eq!(same(&files.lot), same(&book.lot));
        assert_eq!(book.lot.rigs.len(), 6);
        // the folder alone is no lot, and the words say what is
        let said = refused(&run(dir.path(), &["check", &b]));
        assert!(said.contains("give the workbook in place of its folder"), "{said}");
    }
}

#[test]
fn forms_filled_in_with_a_round_straight_tube_are_fitted_as_one() {
    let dir = tempfile::tempdir().expect("a folder");
    good(&run(dir.path(), &["new", "lot", "--tubes", "1", "--units", "in"]));
    let fill = |name: &str, value: &str| {
        let path = dir.path().join("lot").join(name);
        let text = std::fs::read_to_string(&path).expect("read");
        let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
        for line in &mut lines[1..] {
            while line.contains(",,") || line.ends_with(',') {
                *line = line.replacen(",,", &format!(",{value},"), 1);
                if line.ends_with(',') && !line.contains(",,") {
                    line.push_str(value);
                }
            }
        }
        std::fs::write(path, lines.join("\n")).expect("written");
    };
    fill("readings-caliper.csv", "1.0");
    fill("readings-bridge.csv", "0.0");
    std::fs::write(dir.path().join("lot/tubes.csv"), "tube,length_in,weight_oz,note\nT01,8,1,\n").expect("written");
    let read = read_lot(&dir.path().join("lot")).expect("a lot");
    assert!(!read.has_errors(), "{:#?}", read.findings);
    let tube = &read.lot.tubes[0];
    assert_eq!(tube.readings.len(), Routine::of(Effort::Usual, &Tool::USUAL).readings());
    let widths: Vec<f64> = tube.readings.iter().filter(|r| r.kind == Kind::Diameter).map(|r| r.value_mm).collect();
    assert!(widths.iter().all(|w| (w - 25.4).abs() < 1e-9), "{widths:?}");
    // a lot begun in inches is told in inches until another unit is asked for
    let told = good(&run(dir.path(), &["fit", "lot"]));
    assert!(told.contains("1.000") && told.contains("bow in") && !told.contains("25.4"), "{told}");
    let fitted = good(&run(dir.path(), &["fit", "lot", "--units", "mm"]));
    assert!(fitted.contains("25.4") && !fitted.contains("not analysed"), "{fitted}");
}

fn lot(effort: Effort, unit: LengthUnit) -> NewLot {
    NewLot {
        name: "lot".into(),
        tubes: NewLot::numbered(5),
        routine: Routine::of(effort, &Tool::ALL),
        unit,
        ..NewLot::default()
    }
}

#[test]
fn the_sheet_has_every_tube_station_and_angle_in_either_unit_and_the_file_is_that_sheet() {
    for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
        for effort in Effort::ALL {
            let lot = lot(effort, unit);
            let words = words(&sheet_pages(&lot, Paper::A4));
            let has = |w: &str| words.iter().any(|t| t == w);
            for task in &lot.routine.tasks {
                for a in task.angles_deg() {
                    assert!(has(&format!("{a:.0}°")), "{effort:?} {task:?} {a}");
                }
                for z in lot.places_mm(*task) {
                    let text = match unit {
                        LengthUnit::Inch => quarterlight::domain::units::print_inch_fraction(
                            z,
                            quarterlight::domain::units::InchStep::ThirtySecond,
                        ),
                        _ => format!("{z:.0} mm"),
                    };
                    assert!(has(&text), "{effort:?} {task:?} {text}");
                }
            }
            assert!(lot.tubes.iter().all(|t| has(&format!("Tube {t}"))));
            let all = words.join(" ");
            for want in ["index line", "clockwise", "mould", "Wear eye protection"] {
                assert!(all.contains(want), "{want}");
            }
        }
    }
    let dir = tempfile::tempdir().expect("a folder");
    good(&run(dir.path(), &["new", "lot", "--tubes", "5", "--paper", "LETTER", "--diameter", "1 in"]));
    let usual =
        NewLot { routine: Routine::of(Effort::Usual, &Tool::USUAL), ..lot(Effort::Usual, LengthUnit::Millimetre) };
    let sheet = pdf::write(&sheet_pages(&usual, Paper::Letter), "Measuring sheet").expect("a PDF");
    assert!(std::fs::read(dir.path().join("lot/measuring-sheet.pdf")).expect("there") == sheet);
    let strips = strip_pages(&usual, Paper::Letter, 25.4).expect("strips");
    let file = std::fs::read(dir.path().join("lot/angle-strips.pdf")).expect("there");
    assert!(file == pdf::write(&strips, "Angle strips").expect("a PDF"));
    for (w, h) in media_boxes(&file) {
        assert!((w - 612.0).abs() < 0.001 && (h - 792.0).abs() < 0.001, "{w} by {h} points");
    }
}

#[test]
fn strips_and_check_lines_are_true_to_size_in_the_file() {
    let lot = lot(Effort::Thorough, LengthUnit::Millimetre);
    for paper in Paper::ALL {
        let bytes = pdf::write(&strip_pages(&lot, paper, 25.4).expect("strips"), "Angle strips").expect("a PDF");
        let pages = lines_of_each_page(&bytes);
        assert_eq!(pages.len(), 1);
        let level: Vec<f64> = pages[0].iter().filter(|l| l.is_level()).map(|l| l.length() * MM).collect();
        for want in [100.0, 101.6] {
            assert!(level.iter().any(|l| (l - want).abs() < 0.01), "{paper:?}: no line of {want}: {level:?}");
        }
        let tall = |height: f64| -> Vec<[f64; 2]> {
            let of = pages[0].iter().filter(move |l| l.is_upright() && (l.length() * MM - height).abs() < 0.01);
            of.map(|l| [l.from[0] * MM, l.from[1].min(l.to[1]) * MM]).collect()
        };
        let (index, ticks) = (tall(14.0), tall(4.5));
        let angles = quarterlight::output::new_lot::angles_deg(&lot.routine);
        // of every diameter: two index lines one girth apart at one height, and a tick for every angle
        for k in -5i32..=5 {
            let girth = std::f64::consts::PI * (25.4 + 0.5 * f64::from(k));
            let pair = index
                .iter()
                .find(|a| index.iter().any(|b| (b[1] - a[1]).abs() < 0.01 && (b[0] - a[0] - girth).abs() < 0.01));
            let from = pair.unwrap_or_else(|| panic!("{paper:?}: no strip of girth {girth}"));
            for a in &angles {
                let want = from[0] + girth * a / 360.0;
                let near = |t: &&[f64; 2]| (t[0] - want).abs() < 0.01 && (t[1] - from[1]).abs() < 0.01;
                assert!(ticks.iter().any(|t| near(&t)), "{paper:?} {girth}: no tick at {a} deg");
            }
        }
    }
}

#[test]
fn the_routines_are_those_whose_loss_was_measured() {
    let sets = [Tool::Bridge, Tool::Dial, Tool::Straightedge].map(|t| [Tool::Caliper, t]);
    for ((word, plan), (tools, effort)) in
        Plan::FORMS.into_iter().zip(sets.into_iter().flat_map(|s| Effort::ALL.map(|e| (s, e))))
    {
        let (Plan::CaliperAndBar(n) | Plan::CaliperAndDial(n) | Plan::CaliperAndGap(n)) = plan else {
            panic!("{word}")
        };
        assert!(word.starts_with(effort.word()), "{word}");
        let routine = Routine::of(effort, &tools);
        let measured = [n.widths, n.lines].map(|(a, p)| (usize::try_from(a).expect("few"), p));
        let asked: Vec<(usize, usize)> = routine.tasks.iter().map(|t| (t.angles, t.places)).collect();
        assert_eq!(asked, measured, "{word}");
        assert!(routine.lost_percent().is_some_and(|l| l.iter().all(|x| (1.0..40.0).contains(x))), "{word}");
    }
    assert!((SPAN_MM - quarterlight::domain::SPAN_MM).abs() < 1e-12);
    assert_eq!(Routine::of(Effort::Quick, &[Tool::VBlock]).lost_percent(), None);
}
