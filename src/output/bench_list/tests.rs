//! The list as it is drawn: what stands on it, and that everything stands where it can be read.

use super::*;
use crate::output::report::bench::bench_fn;
use crate::output::show::Units;
use crate::paper::font::{CAPITAL_HEIGHT, Weight, width_mm};
use crate::paper::head::texts_outside;
use crate::paper::scene::{Paper, Shape};
use proptest::prelude::*;

fn sheet(paper: Paper, units: Units) -> BenchSheet {
    BenchSheet {
        paper,
        units,
        length_text: bench_fn(units),
        lot: "north wall".into(),
        how: "seed 1, 200 draws".into(),
        blank: "70.0 mm by 13.5 mm".into(),
        pieces: 4,
        kerf: "kerf 1.0 mm".into(),
        origin: String::new(),
    }
}

fn tube(name: &str, pieces: usize, runs: usize) -> BenchTube {
    let step = 360.0 / pieces as f64;
    let run = |j: usize| BenchRun {
        from_mm: 8.0 + 71.0 * j as f64,
        to_mm: 78.0 + 71.0 * j as f64,
        across_mm: 9.6,
        chance: 0.97 - 0.2 * (j % 5) as f64,
    };
    let piece = |i: usize| BenchPiece {
        piece: i + 1,
        from_deg: 12.0 + step * i as f64,
        middle_deg: 12.0 + step * (i as f64 + 0.5),
        // the last piece has none
        runs: if i + 1 < pieces { (0..runs).map(run).collect() } else { Vec::new() },
        without: "shows only after splitting",
    };
    BenchTube {
        name: name.into(),
        pile: Some(1),
        length_mm: 228.0,
        doubtful: false,
        split: SplitMark { along_mm: 2.66, deg: 12.0, next_mm: Some(80.0 / pieces as f64) },
        as_good: AsGoodMark::Range { along_mm: [75.4, 4.2], deg: [340.0, 19.0] },
        notes: Vec::new(),
        radius_mm: vec![12.7; 180],
        pieces: (0..pieces).map(piece).collect(),
    }
}

fn entry(t: BenchTube) -> Entry {
    Entry::Tube(Box::new(t))
}

fn said(pages: &[Scene]) -> Vec<String> {
    let texts = pages.iter().flat_map(|p| &p.marks);
    texts.filter_map(|m| if let Shape::Text(t) = &m.shape { Some(t.text.clone()) } else { None }).collect()
}

fn titled(pages: &[Scene], title: &str) -> usize {
    pages.iter().flat_map(|p| &p.marks).filter(|m| m.title == title).count()
}

/// Faults of a page: words beyond its margins, over each other or too small, lines beyond the sheet.
fn faults(page: &Scene) -> Vec<String> {
    let mut out = texts_outside(page);
    let mut boxes: Vec<(String, [f64; 4])> = Vec::new();
    for mark in &page.marks {
        match &mark.shape {
            Shape::Path { contours, .. } => {
                let on = |p: &[f64; 2]| {
                    (5.0..=page.width_mm - 5.0).contains(&p[0]) && (5.0..=page.height_mm - 5.0).contains(&p[1])
                };
                if !contours.iter().flatten().all(on) {
                    out.push(format!("line {:?} beyond the sheet", mark.title));
                }
            }
            Shape::Circle { .. } => {}
            Shape::Text(t) => {
                if t.size_mm < 8.5 * 25.4 / 72.0 {
                    out.push(format!("{:?} is only {} mm", t.text, t.size_mm));
                }
                if t.text.is_empty() {
                    continue;
                }
                let from = t.at[0] + t.shift_mm();
                let low = t.at[1] + t.drop_mm();
                let this = [from, from + width_mm(&t.text, t.size_mm, t.weight), low - CAPITAL_HEIGHT * t.size_mm, low];
                for (other, b) in &boxes {
                    let over = |i: usize| this[i].max(b[i]) + 0.05 < this[i + 1].min(b[i + 1]);
                    if over(0) && over(2) {
                        out.push(format!("{:?} lies over {other:?}", t.text));
                    }
                }
                boxes.push((t.text.clone(), this));
            }
        }
    }
    out
}

#[test]
fn a_block_holds_every_number_that_the_work_needs() {
    for (units, want) in [
        // 2.66 mm, a girth of 80 mm in four; 9.6 mm across; the run from 8 to 78 mm
        (Units::Mm, ["2.7 mm  12°", "75.4 to 4.2, 340 to 19°", "20.0", "8.0–78.0", "9.6"]),
        // 2.66 / 25.4 * 32 = 3.4; 75.4: 95.0; 4.2: 5.3; 20: 25.2; 8: 10.1 and 78: 98.3; 9.6: 12.1
        (Units::Inch, ["3/32 in  12°", "2 31/32 to 5/32, 340 to 19°", "25/32", "5/16–3 1/16", "3/8"]),
    ] {
        let pages = pages(&[entry(tube("T07", 4, 2))], &sheet(Paper::A4, units));
        let said = said(&pages);
        for w in want.iter().chain(&["T07", "split", "as good", "next", "sure", "likely", "page 1 of 1"]) {
            assert!(said.iter().any(|s| s == w), "{w} in {said:?}");
        }
        let long = if units == Units::Mm { "pile 1, 228.0 long" } else { "pile 1, 8 31/32 long" };
        assert!(said.iter().any(|s| s == long), "{long} in {said:?}");
        // three pieces with two runs and one without
        assert_eq!(titled(&pages, "box to tick"), 7);
        assert_eq!(titled(&pages, "line to write on"), 7);
        assert!(said.iter().any(|s| s == "shows only after splitting"));
        assert!(said.iter().any(|s| s.starts_with("Wear eye protection")));
    }
}

#[test]
fn pieces_without_a_run_for_the_same_reason_share_a_row() {
    let mut t = tube("T05", 4, 2);
    for i in [1, 3] {
        t.pieces[i].runs.clear();
        t.pieces[i].without = "no run worth marking";
    }
    let made = pages(&[entry(t)], &sheet(Paper::A4, Units::Mm));
    assert!(said(&made).iter().any(|s| s == "2, 4"), "{:?}", said(&made));
    assert_eq!(titled(&made, "box to tick"), 5);
}

#[test]
fn a_list_of_nothing_to_split_says_so_on_one_page() {
    let left = Entry::Left { tube: "T1".into(), why: "too short: no blank fits between the trims".into() };
    for entries in [vec![], vec![Entry::Heading("Not split".into()), left]] {
        let made = pages(&entries, &sheet(Paper::Letter, Units::Mm));
        assert_eq!(made.len(), 1);
        assert!(said(&made).iter().any(|s| s == "No tube of this lot is to be split"), "{:?}", said(&made));
        assert!(faults(&made[0]).is_empty(), "{:?}", faults(&made[0]));
    }
}

#[test]
fn what_is_not_split_takes_no_page_of_its_own_where_the_first_column_has_room() {
    // four tubes of ten rows fill a column but for some 20 mm; the eighth is made taller row by row until the second is full
    let mut went_back = 0;
    for more in 0..10 {
        let mut tubes: Vec<BenchTube> = (0..8).map(|i| tube(&format!("T{i}"), 4, 3)).collect();
        let run = tubes[7].pieces[0].runs[0];
        tubes[7].pieces[0].runs.extend(vec![run; more]);
        let mut entries: Vec<Entry> = tubes.into_iter().map(entry).collect();
        let alone = pages(&entries, &sheet(Paper::A4, Units::Mm)).len();
        entries.push(Entry::Heading("Not split".into()));
        entries.push(Entry::Left { tube: "N14".into(), why: "leave: bow 0.8 mm".into() });
        let made = pages(&entries, &sheet(Paper::A4, Units::Mm));
        assert_eq!(made.len(), alone, "{more} rows more");
        assert!(made.iter().all(|p| faults(p).is_empty()), "{:?}", faults(&made[0]));
        let place = made.iter().flat_map(|p| &p.marks).find_map(|m| match &m.shape {
            Shape::Text(t) if t.text == "N14" => Some(t.at[0]),
            _ => None,
        });
        went_back += usize::from(alone == 1 && place.expect("on the list") < 100.0);
    }
    assert!(went_back > 0, "never back in the first column");
}

#[test]
fn every_tube_of_a_lot_of_two_hundred_is_there_once_and_in_order() {
    let entries: Vec<Entry> = (0..200).map(|i| entry(tube(&format!("N{i:03}"), 4, 2))).collect();
    let made = pages(&entries, &sheet(Paper::A4, Units::Mm));
    let names: Vec<String> = said(&made).into_iter().filter(|s| s.starts_with('N') && s.len() == 4).collect();
    assert_eq!(names, (0..200).map(|i| format!("N{i:03}")).collect::<Vec<_>>());
    // seven rows a tube: ten of them a page
    assert_eq!(made.len(), 20);
    assert_eq!(titled(&made, "box to tick"), 1400);
    let texts = said(&made);
    assert_eq!(texts.iter().filter(|s| s.starts_with("Wear eye protection")).count(), 20, "the caution on every page");
    assert!(texts.iter().any(|s| s == "page 20 of 20"));
}

#[test]
fn twelve_tubes_of_six_runs_take_one_page() {
    let twelve: Vec<Entry> = (0..12)
        .map(|i| {
            let mut t = tube(&format!("T{i}"), 4, 1);
            t.pieces[0].runs.push(BenchRun { from_mm: 90.0, to_mm: 160.0, across_mm: 10.0, chance: 0.8 });
            entry(t)
        })
        .collect();
    assert_eq!(pages(&twelve, &sheet(Paper::A4, Units::Mm)).len(), 1);
}

#[test]
fn a_tube_taller_than_a_column_goes_on_with_every_run() {
    // 3 m: 42 runs on each of five pieces and one piece without
    let made = pages(&[entry(tube("long", 6, 42))], &sheet(Paper::Letter, Units::Inch));
    assert_eq!(titled(&made, "box to tick"), 5 * 42 + 1);
    assert!(said(&made).iter().filter(|s| s.contains("goes on")).count() >= 3);
    assert!(made.iter().all(|p| faults(p).is_empty()), "{:?}", faults(&made[0]));
}

#[test]
fn a_long_name_is_shortened_where_all_can_see_it() {
    let name = "the tube from the far corner of the third shelf ".repeat(7);
    let made = pages(&[entry(tube(&name, 4, 1))], &sheet(Paper::A4, Units::Inch));
    let shown = said(&made).into_iter().find(|s| s.starts_with("the tube")).expect("its name");
    assert!(shown.ends_with('…') && shown.len() > 12, "{shown}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn everything_stands_inside_the_sheet_and_nothing_over_another(
        names in proptest::collection::vec("\\PC{0,300}", 1..4),
        pieces in 2..=6_usize,
        runs in 0..44_usize,
        radius in 1.5..60.0_f64,
        oval in 0.0..0.2_f64,
        first_deg in 0.0..360.0_f64,
        inches: bool,
        letter: bool,
        noted: bool,
    ) {
        let units = if inches { Units::Inch } else { Units::Mm };
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let mut sheet = sheet(paper, units);
        sheet.lot.clone_from(&names[0]);
        if noted {
            sheet.origin = names[0].clone();
        }
        let mut entries = Vec::new();
        for name in &names {
            let mut t = tube(name, pieces, runs);
            let girth = radius * std::f64::consts::TAU;
            let next_mm = (!noted).then_some(girth / pieces as f64);
            t.split = SplitMark { along_mm: girth * first_deg / 360.0, deg: first_deg, next_mm };
            t.as_good = AsGoodMark::Range { along_mm: [0.97 * girth, 0.98 * girth], deg: [349.2, 352.8] };
            t.radius_mm = (0..180).map(|i| radius * (1.0 + oval * (f64::from(i) * 0.0698).cos())).collect();
            t.doubtful = noted;
            for (i, p) in t.pieces.iter_mut().enumerate() {
                p.from_deg = first_deg + 360.0 / pieces as f64 * i as f64;
                p.middle_deg = p.from_deg + 180.0 / pieces as f64;
                p.runs.iter_mut().for_each(|r| r.across_mm = girth / pieces as f64 - 2.0);
            }
            if noted {
                t.notes = vec![crate::output::words::sentence(crate::output::words::CHECK_GIRTH)];
            }
            entries.push(Entry::Heading(format!("Pile 1: {name}")));
            entries.push(entry(t));
            entries.push(Entry::Left { tube: name.clone(), why: name.clone() });
        }
        for page in pages(&entries, &sheet) {
            let faults = faults(&page);
            prop_assert!(faults.is_empty(), "{faults:?}");
            prop_assert!(page.check().is_ok());
        }
    }
}

#[test]
fn a_split_tube_has_no_line_to_come_and_its_numbers_stand_in_the_pieces_as_they_are() {
    let aimed = tube("T09", 2, 1);
    let mut fell = aimed.clone();
    fell.split.next_mm = None;
    fell.as_good = AsGoodMark::Words("split as it fell");
    fell.pieces[1].from_deg = 72.0;
    let made = |t: &BenchTube| pages(&[entry(t.clone())], &sheet(Paper::A4, Units::Mm));
    let next = |pages: &[Scene]| said(pages).iter().filter(|s| *s == "next").count();
    // the legend names it once
    assert_eq!(next(&made(&aimed)), next(&made(&fell)) + 1);
    // where the number of the first piece stands from the second's, of all bold numbers; those of the legend do not move
    let mut apart = |middles: [f64; 2]| {
        fell.pieces.iter_mut().zip(middles).for_each(|(p, deg)| p.middle_deg = deg);
        let pages = made(&fell);
        let texts = pages.iter().flat_map(|p| &p.marks);
        let texts = texts.filter_map(|m| if let Shape::Text(t) = &m.shape { Some(t) } else { None });
        let bold = texts.filter(|t| t.weight == Weight::Bold).map(|t| (t.text.clone(), t.at)).collect::<Vec<_>>();
        let sum = |n: &str| bold.iter().filter(|b| b.0 == n).fold([0.0, 0.0], |s, b| [s[0] + b.1[0], s[1] + b.1[1]]);
        let ([a, b], [c, d]) = (sum("1"), sum("2"));
        [a - c, b - d]
    };
    // the middle of the first at 42 degrees: right of and above the axis, the second's left and below; then the other way
    let ([x, y], [back_x, back_y]) = (apart([42.0, 222.0]), apart([222.0, 42.0]));
    assert!(x > back_x + 5.0 && y < back_y - 5.0, "{x} {y}, {back_x} {back_y}");
}

#[test]
fn the_legend_draws_as_many_pieces_as_the_lot_is_split_into() {
    for pieces in 2..=6 {
        let scene = super::legend::marking(pieces);
        let texts = scene.marks.iter().filter_map(|m| if let Shape::Text(t) = &m.shape { Some(t) } else { None });
        let mut inside: Vec<String> = texts.filter(|t| t.weight == Weight::Bold).map(|t| t.text.clone()).collect();
        inside.sort();
        assert_eq!(inside, (1..=pieces).map(|p| p.to_string()).collect::<Vec<String>>());
    }
}
