//! Drawings as files: sizes measured from the files themselves, equal bytes, speed.
//!
//! The files land in Cargo's folder for test output, so that a person can look at them.

mod support;

use quarterlight::paper::scene::{Paper, Scene};
use quarterlight::paper::strip::pages;
use quarterlight::paper::{pdf, svg};
use std::path::PathBuf;
use std::process::Command;
use support::pdf_lines::{Line, lines_of_each_page, media_boxes};
use support::samples;

fn keep(name: &str, bytes: &[u8]) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

fn strips_pdf(paper: Paper) -> Vec<u8> {
    pdf::write(&pages(&samples::strips(), &samples::sheet(paper)).unwrap(), "Strips").unwrap()
}

/// Says what was not done; where the outside tools were promised (`QUARTERLIGHT_TOOLS=required`) that is a failure.
fn skip(why: &str) {
    assert!(std::env::var("QUARTERLIGHT_TOOLS").as_deref() != Ok("required"), "{why}");
    println!("skipped: {why}");
}

#[test]
fn sample_scenes_are_written_in_both_forms_with_equal_bytes_each_time() {
    for (name, scene) in [("looks", samples::looks()), ("score", samples::score()), ("board", samples::board(12))] {
        let one = std::slice::from_ref(&scene);
        let write = |s: &Scene| (svg::write(s, "sample").unwrap(), pdf::write(one, name).unwrap());
        let (vector, paper) = write(&scene);
        assert!(write(&scene) == (vector.clone(), paper.clone()), "{name}: bytes differ");
        for stamp in ["CreationDate", "ModDate", "CreateDate", "ModifyDate"] {
            assert!(!paper.windows(stamp.len()).any(|w| w == stamp.as_bytes()), "{name}: the PDF names a {stamp}");
        }
        keep(&format!("{name}.svg"), vector.as_bytes());
        keep(&format!("{name}.pdf"), &paper);
    }
}

#[test]
fn svg_is_well_formed_and_two_drawings_share_no_id() {
    use quick_xml::events::Event;
    let mut ids = std::collections::BTreeSet::new();
    let mut strips = pages(&samples::strips(), &samples::sheet(Paper::A4)).unwrap();
    strips.push(Scene { description: "A curve.".into(), ..samples::score() });
    for (i, scene) in strips.iter().enumerate() {
        let text = svg::write(scene, &format!("f{i}")).unwrap();
        let mut reader = quick_xml::Reader::from_str(&text);
        let (mut depth, mut words) = (0, String::new());
        loop {
            // the reader checks that every end tag has its start
            match reader.read_event().unwrap_or_else(|e| panic!("page {i} at {}: {e}", reader.buffer_position())) {
                Event::Eof => break,
                Event::End(_) => depth -= 1,
                Event::Text(t) => words.push_str(&t),
                event @ (Event::Start(_) | Event::Empty(_)) => {
                    depth += i32::from(matches!(event, Event::Start(_)));
                    let (Event::Start(e) | Event::Empty(e)) = event else { unreachable!() };
                    for a in e.attributes() {
                        let a = a.unwrap();
                        let value = a.value.to_string();
                        assert!(!value.contains("NaN") && !value.contains("inf"), "page {i}: {value}");
                        if a.key.as_ref() == "id" {
                            assert!(ids.insert(value.clone()), "page {i}: id {value} twice");
                        }
                    }
                }
                _ => {}
            }
        }
        assert_eq!(depth, 0, "page {i}");
        assert!(words.contains("index end") || words.contains("split angle, deg"), "page {i}: {words}");
    }
    assert_eq!(ids.len(), 2 * strips.len());
}

#[test]
fn a_pdf_page_is_as_large_as_its_paper_in_points() {
    // ISO 216 and ANSI/ASME Y14.1 sizes times 72/25.4
    for (paper, want) in [(Paper::A4, (595.2756, 841.8898)), (Paper::Letter, (612.0, 792.0))] {
        let boxes = media_boxes(&strips_pdf(paper));
        assert!(!boxes.is_empty(), "{paper:?}: no page found");
        for (w, h) in boxes {
            assert!((w - want.0).abs() < 0.001 && (h - want.1).abs() < 0.001, "{paper:?}: {w} by {h} points");
        }
    }
}

#[test]
fn a_thick_tube_turns_the_sheet_and_keeps_its_size() {
    let mut specs = samples::strips();
    specs[0].girth_mm = 230.0;
    let bytes = pdf::write(&pages(&specs, &samples::sheet(Paper::A4)).unwrap(), "Strips").unwrap();
    keep("strips-lying.pdf", &bytes);
    for (w, h) in media_boxes(&bytes) {
        assert!((w - 841.8898).abs() < 0.001 && (h - 595.2756).abs() < 0.001, "{w} by {h} points");
    }
    for lines in lines_of_each_page(&bytes) {
        assert!(lines.iter().any(|l| l.is_level() && (l.length() * MM - 100.0).abs() < 0.01));
    }
}

/// Millimetres in a point.
const MM: f64 = 25.4 / 72.0;

#[test]
fn check_line_girth_and_ticks_are_true_to_size_in_the_page_content() {
    for paper in Paper::ALL {
        let bytes = strips_pdf(paper);
        keep(&format!("strips-{}.pdf", paper.word()), &bytes);
        let all = lines_of_each_page(&bytes);
        assert_eq!(all.len(), media_boxes(&bytes).len());
        for (i, lines) in all.iter().enumerate() {
            let level: Vec<f64> = lines.iter().filter(|l| l.is_level()).map(|l| l.length() * MM).collect();
            let hits = level.iter().filter(|&&l| (l - 100.0).abs() < 0.01).count();
            assert!(hits >= 1, "{paper:?} page {i}: no line of 100 mm among {level:?}");
        }
        wrap_strip_is_true(&all[0], paper);
    }
}

/// The first wrap strip: index lines one girth apart, ticks at girth x angle / 360.
fn wrap_strip_is_true(lines: &[Line], paper: Paper) {
    let spec = &samples::strips()[0];
    let at = |height: f64| -> Vec<f64> {
        let tall = |l: &&Line| l.is_upright() && (l.length() * MM - height).abs() < 0.01;
        lines.iter().filter(tall).map(|l| l.from[0] * MM).collect()
    };
    let index = at(24.0);
    let first = index.iter().copied().fold(f64::INFINITY, f64::min);
    let second = first + spec.girth_mm;
    assert!(index.iter().any(|x| (x - second).abs() < 0.02), "{paper:?}: no index line at {second}: {index:?}");
    let ticks = at(14.5);
    assert!(ticks.len() >= 4, "{ticks:?}");
    for (tick, angle) in ticks.iter().zip(&spec.split_angles) {
        let want = first + spec.girth_mm * angle.degrees() / 360.0;
        assert!((tick - want).abs() < 0.02, "{paper:?}: tick at {tick}, wanted {want}");
    }
}

/// The first page of a PDF at 10 pixels a millimetre, grey; `None` (or a failure, see [`skip`]) without pdftoppm.
fn rendered(name: &str, bytes: &[u8]) -> Option<Vec<u8>> {
    let path = keep(&format!("{name}.pdf"), bytes);
    let stem = path.with_extension("");
    // 254 dpi is exactly 10 pixels to the millimetre
    let options = ["-r", "254", "-gray", "-f", "1", "-l", "1", "-singlefile"];
    let run = Command::new("pdftoppm").args(options).arg(&path).arg(&stem).status();
    if !run.is_ok_and(|s| s.success()) {
        skip("the rendering half: pdftoppm is not installed");
        return None;
    }
    Some(std::fs::read(stem.with_extension("pgm")).unwrap())
}

#[test]
fn the_check_line_is_100_mm_when_rendered() {
    for paper in Paper::ALL {
        let Some(image) = rendered(&format!("render-{}", paper.word()), &strips_pdf(paper)) else { return };
        let (width, _, data) = support::pgm::read(&image);
        // the check line lies 20 mm down; 1.5 mm above it only its end ticks are crossed
        let dark = |row: usize| -> Vec<u32> {
            (0..1120_u32).filter(|&x| data[row * width + usize::try_from(x).unwrap()] < 128).collect()
        };
        let ends = dark(185);
        // outer edges of two ticks of 0.2 mm
        let span = f64::from(ends[ends.len() - 1] + 1 - ends[0]) / 10.0 - 0.2;
        println!("{paper:?}: rendered check line {span:.1} mm");
        assert!((span - 100.0).abs() <= 0.2, "{paper:?}: rendered check line is {span} mm");
        let ink = f64::from(u32::try_from(dark(200).len()).unwrap()) / 10.0;
        assert!((ink - 100.2).abs() <= 0.2, "{paper:?}: {ink} mm of ink along the line");
    }
}

#[test]
fn a_square_and_a_line_of_text_cover_the_paper_they_say_when_rendered() {
    use quarterlight::paper::font::{Weight, width_mm};
    use quarterlight::paper::scene::{Colour, Mark, Region, Text};
    let mut square = Scene::new(30.0, 20.0, "");
    square.add(Mark::rectangle(Region::new(5.0, 5.0, 10.0, 10.0)).filled(Colour::BLACK));
    let mut letters = Scene::new(60.0, 20.0, "");
    letters.text(Text::new([5.0, 15.0], "HHHH", 10.0));
    // columns and rows of ink, and how much of it there is
    let ink = |name: &str, scene: Scene| {
        let image = rendered(name, &pdf::write(&[scene], name).unwrap())?;
        let (width, _, data) = support::pgm::read(&image);
        let dark: Vec<usize> = (0..data.len()).filter(|&i| data[i] < 128).collect();
        let ends = |of: &dyn Fn(usize) -> usize| {
            let all = dark.iter().map(|&i| of(i));
            (all.clone().min().unwrap(), all.max().unwrap())
        };
        Some((ends(&|i| i % width), ends(&|i| i / width), dark.len()))
    };
    let Some((across, down, area)) = ink("square", square) else { return };
    assert!(across.0.abs_diff(50) <= 1 && across.1.abs_diff(149) <= 1, "{across:?}");
    assert!(down.0.abs_diff(50) <= 1 && down.1.abs_diff(149) <= 1, "{down:?}");
    assert!(area.abs_diff(100 * 100) <= 400, "{area} pixels");
    let Some((across, down, _)) = ink("letters", letters) else { return };
    // H has 201 units of 2048 bearing on the left and as much on the right: ink from 5.98 mm to 5 + w - 0.98; the last
    // pixel of ink begins a tenth of a millimetre before its end, as with the square
    let right = (5.0 + width_mm("HHHH", 10.0, Weight::Regular) - 0.98) * 10.0 - 1.0;
    let end = f64::from(u32::try_from(across.1).unwrap());
    assert!(across.0.abs_diff(60) <= 1 && (end - right).abs() <= 1.5, "{across:?} {right}");
    assert!(down.0.abs_diff(77) <= 1, "a capital of 7.29 mm starts at 7.71 mm: {down:?}");
}

#[test]
fn pdf_text_can_be_searched_and_hostile_names_are_only_text() {
    let path = keep("text.pdf", &strips_pdf(Paper::A4));
    let Ok(out) = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output() else {
        skip("pdftotext is not installed");
        return;
    };
    let text = String::from_utf8(out.stdout).unwrap();
    for want in
        ["T01", "Print at 100 %, no fit to page", "clockwise, seen looking at the index end", "<script>alert", "…"]
    {
        assert!(text.contains(want), "{want:?} not in:\n{text}");
    }
}

#[test]
fn a_large_lot_makes_many_pages_and_every_tube_is_on_one() {
    let specs: Vec<_> = (0..20).flat_map(|_| samples::strips()).collect();
    let all = pages(&specs, &samples::sheet(Paper::Letter)).unwrap();
    let titled = |what: &str| all.iter().flat_map(|p| &p.marks).filter(|m| m.title == what).count();
    assert_eq!(titled("lap"), 60);
    assert_eq!(titled("index end"), 60);
    assert_eq!(titled("100 mm check line"), all.len());
    let bytes = pdf::write(&all, "strips").unwrap();
    assert_eq!(media_boxes(&bytes).len(), all.len());
    assert!(bytes.len() < 2_000_000, "{} bytes", bytes.len());
}

#[test]
fn the_caution_stands_whole_at_the_foot_of_every_strip_page_of_both_papers() {
    use quarterlight::output::cautions::IN_ONE_LINE;
    use quarterlight::paper::scene::Shape;
    for paper in Paper::ALL {
        let sheet = quarterlight::paper::strip::StripSheet { foot: IN_ONE_LINE.into(), ..samples::sheet(paper) };
        let mut thick = samples::strips();
        thick[0].girth_mm = 230.0;
        for specs in [samples::strips(), thick] {
            for page in pages(&specs, &sheet).unwrap() {
                let said: Vec<&str> = page
                    .marks
                    .iter()
                    .filter_map(|m| match &m.shape {
                        Shape::Text(t) if t.at[1] > page.height_mm - 13.0 => Some(t.text.as_str()),
                        _ => None,
                    })
                    .collect();
                let words = said.iter().filter(|t| !t.starts_with("page ")).copied().collect::<Vec<_>>().join(" ");
                assert_eq!(words, IN_ONE_LINE, "{paper:?}");
                assert!(said.iter().any(|t| t.starts_with("page ")), "{said:?}");
            }
        }
    }
}

#[test]
fn nothing_on_a_strip_page_stands_outside_the_printable_part() {
    use quarterlight::paper::font::width_mm;
    use quarterlight::paper::scene::Shape;
    for page in pages(&samples::strips(), &samples::sheet(Paper::A4)).unwrap() {
        let inside =
            |p: [f64; 2]| p[0] >= 9.99 && p[0] <= page.width_mm - 9.99 && p[1] >= 9.0 && p[1] <= page.height_mm - 8.0;
        for mark in &page.marks {
            match &mark.shape {
                Shape::Path { contours, .. } => assert!(contours.iter().flatten().all(|&p| inside(p)), "{mark:?}"),
                Shape::Circle { centre, .. } => assert!(inside(*centre), "{mark:?}"),
                Shape::Text(t) if t.turn_deg.abs() < 1.0 => {
                    let left = t.at[0] + t.shift_mm();
                    let right = left + width_mm(&t.text, t.size_mm, t.weight);
                    assert!(inside([left, t.at[1]]) && inside([right, t.at[1]]), "{mark:?}");
                }
                Shape::Text(t) => assert!(inside(t.at), "{mark:?}"),
            }
        }
    }
}

#[test]
fn strips_in_inches_have_a_ruler_in_32nds_and_every_page_checks_both_units() {
    use quarterlight::domain::units::{InchStep, LengthUnit, print_inch_fraction};
    use quarterlight::paper::strip::{StripMark, StripRun, StripSheet};
    fn fraction(mm: f64) -> String {
        print_inch_fraction(mm, InchStep::ThirtySecond)
    }
    let mut spec = samples::strips().remove(0);
    spec.length_mm = 6.0 * 25.4;
    // a run from 1 in to 3 3/4 in, its blank 3/8 in from the clockwise edge
    let run = StripRun { piece: 0, from_mm: 25.4, to_mm: 95.25, across_mm: Some(9.525), chance: Some(0.76) };
    spec.runs = vec![run];
    spec.marks = vec![StripMark { pieces: vec![1], from_mm: 40.0, to_mm: 44.0, why: "crack".into() }];
    spec.split_along_mm = vec![8.1, 28.0, 48.2, 68.0];
    for paper in Paper::ALL {
        let sheet = StripSheet { length_text: fraction, ruler: LengthUnit::Inch, ..samples::sheet(paper) };
        let page = pages(std::slice::from_ref(&spec), &sheet).unwrap().remove(0);
        let said: Vec<&str> = page.marks.iter().filter_map(words_of).collect();
        for want in
            ["1 in – 3 3/4 in · across 3/8 in · 76 %", "girth 3 5/32 in", "crack", "5/16", "36.0°", "100 mm", "4 in"]
        {
            assert!(said.contains(&want), "{want} is missing in {said:?}");
        }
        assert!(said.iter().any(|t| t.starts_with("left edge at the index end, inches")), "{said:?}");
        assert!(["1", "2", "3", "4", "5"].iter().all(|n| said.contains(n)), "{said:?}");
        assert!(page.marks.iter().any(|m| m.title.starts_with("mark crack from 40.0 to 44.0")));
        let lines = lines_of_each_page(&pdf::write(&[page], "x").unwrap()).remove(0);
        for long in [100.0, 101.6] {
            assert!(
                lines.iter().any(|l| l.is_level() && (l.length() * MM - long).abs() < 0.01),
                "no line of {long} mm"
            );
        }
        let upright = |high: f64| -> Vec<f64> {
            let tall = |l: &&Line| l.is_upright() && (l.length() * MM - high).abs() < 0.01;
            lines.iter().filter(tall).map(|l| l.from[0] * MM).collect()
        };
        // six inches: 96 odd 32nds, 7 whole inches
        let (odd, whole) = (upright(0.65), upright(2.4));
        assert_eq!((odd.len(), whole.len()), (96, 7), "{paper:?}");
        for (i, x) in whole.iter().enumerate() {
            let want = whole[0] + 25.4 * f64::from(u32::try_from(i).unwrap());
            assert!((x - want).abs() < 0.02, "{paper:?}: inch {i} at {x}, wanted {want}");
        }
        // ticks stand where the bark says, not at equal angles
        let first = upright(24.0).into_iter().fold(f64::INFINITY, f64::min);
        let ticks = upright(14.5);
        for (tick, along) in ticks.iter().zip(&spec.split_along_mm) {
            assert!((tick - first - along).abs() < 0.02, "tick at {tick}, wanted {along} from {first}");
        }
    }
}

fn words_of(mark: &quarterlight::paper::scene::Mark) -> Option<&str> {
    match &mark.shape {
        quarterlight::paper::scene::Shape::Text(t) => Some(t.text.as_str()),
        _ => None,
    }
}

#[test]
fn figures_are_drawn_fast_enough_for_a_page_of_many() {
    // Limits are for the optimised build; the debug build gets ten times as long.
    let slack = if cfg!(debug_assertions) { 10.0 } else { 1.0 };
    let scene = samples::score();
    let least_ms = |job: &dyn Fn()| {
        (0..5).fold(f64::INFINITY, |least, _| {
            let start = std::time::Instant::now();
            job();
            (start.elapsed().as_secs_f64() * 1000.0).min(least)
        })
    };
    let vector = least_ms(&|| drop(svg::write(&scene, "a").unwrap()));
    println!("150 x 100 mm figure: SVG {vector:.2} ms");
    assert!(vector < 5.0 * slack, "SVG {vector} ms");
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(300))]

    #[test]
    fn any_name_and_any_finite_mark_is_drawn_by_every_writer(
        name in "\\PC{0,40}|[\\x00-\\x20\u{202e}\u{feff}\u{5d0}\u{627}\u{4e00}👍é]{0,20}",
        points in proptest::collection::vec(proptest::array::uniform2(-200.0..200.0_f64), 0..6),
        size in 0.0..30.0_f64,
        turn in -720.0..720.0_f64,
        closed: bool,
    ) {
        use quarterlight::paper::palette::Look;
        use quarterlight::paper::scene::{Mark, Text};
        let mut scene = Scene::new(60.0, 40.0, &name);
        scene.description.clone_from(&name);
        let look = Look::of(points.len());
        scene.add(Mark::path(points.clone(), closed).filled(look.fill()).stroked(look.stroke(size / 10.0)).titled(&name));
        scene.add(Mark::contours(vec![points.clone(), Vec::new(), points.clone()], closed).filled(look.fill()));
        for p in &points {
            scene.add(Mark::circle(*p, size).filled(look.fill()).stroked(look.stroke(0.0)));
            scene.text(Text::new(*p, name.as_str(), size).turned(turn).rimmed(look.colour));
        }
        let text = svg::write(&scene, "x").unwrap();
        let mut reader = quick_xml::Reader::from_str(&text);
        while reader.read_event().unwrap() != quick_xml::events::Event::Eof {}
        pdf::write(&[scene], &name).unwrap();
    }

    #[test]
    fn strips_of_any_tube_are_pages_or_an_error(
        name in "\\PC{0,40}|[A-Za-z ]{290,300}",
        marks in proptest::collection::vec((0_usize..6, -5.0..900.0_f64, 0.0..50.0_f64, "\\PC{0,30}"), 0..3),
        inches: bool,
        girth in -10.0..400.0_f64,
        length in -10.0..3500.0_f64,
        angles in proptest::collection::vec(-1000.0..1000.0_f64, 0..15),
        pieces in proptest::collection::vec("\\PC{0,9}", 0..15),
        runs in proptest::collection::vec((0_usize..6, -5.0..900.0_f64, 0.0..200.0_f64), 0..4),
        letter: bool,
    ) {
        use quarterlight::domain::Angle;
        use quarterlight::domain::units::LengthUnit;
        use quarterlight::paper::font::width_mm;
        use quarterlight::paper::strip::{StripMark, StripRun, StripSheet, StripSpec};
        let marks = marks.into_iter().map(|(piece, from_mm, long, why)| StripMark {
            pieces: vec![piece], from_mm, to_mm: from_mm + long, why,
        });
        let runs = runs.into_iter().map(|(piece, from_mm, long)| StripRun {
            piece, from_mm, to_mm: from_mm + long, ..StripRun::default()
        });
        let split_angles = angles.into_iter().map(Angle::from_degrees).collect();
        let spec = StripSpec {
            tube: name, girth_mm: girth, length_mm: length, split_angles, piece_names: pieces, runs: runs.collect(),
            note: "split 1: anywhere from 31° through 0° to 40° does as well".into(), marks: marks.collect(),
            ..StripSpec::default()
        };
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let ruler = if inches { LengthUnit::Inch } else { LengthUnit::Millimetre };
        match pages(&[spec], &StripSheet { ruler, ..samples::sheet(paper) }) {
            Ok(all) => {
                for page in &all {
                    page.check().unwrap();
                    for mark in &page.marks {
                        if let quarterlight::paper::scene::Shape::Text(t) = &mark.shape && t.turn_deg.abs() < 1.0 {
                            let left = t.at[0] + t.shift_mm();
                            let right = left + width_mm(&t.text, t.size_mm, t.weight);
                            proptest::prop_assert!(left >= 9.0 && right <= page.width_mm - 9.0, "{mark:?}");
                        }
                    }
                    let path_inside = |m: &quarterlight::paper::scene::Mark| match &m.shape {
                        quarterlight::paper::scene::Shape::Path { contours, .. } => contours.iter().flatten().all(|p| {
                            p[0] >= 9.99 && p[0] <= page.width_mm - 9.99 && p[1] >= 9.0 && p[1] <= page.height_mm - 9.0
                        }),
                        _ => true,
                    };
                    for mark in &page.marks {
                        proptest::prop_assert!(path_inside(mark), "{mark:?}");
                    }
                }
            }
            Err(e) => proptest::prop_assert!(!e.to_string().is_empty()),
        }
    }
}
