//! Every word of the sheets that are printed before anything is measured, and of the drawings that no lot changes, stands inside
//! them: any accepted size of tube, names of up to 300 characters. The pictures of a report are looked at in `any_size.rs`.

#[path = "support/inside.rs"]
mod inside;

use inside::words_outside;
use proptest::prelude::*;
use quarterlight::domain::units::LengthUnit;
use quarterlight::domain::{Effort, NewLot, Routine, Tool};
use quarterlight::output::bench_list::{SURENESS, marking};
use quarterlight::output::figures::index_end::{self, EndLine};
use quarterlight::output::figures::{bark_map, terms};
use quarterlight::output::new_lot::{sheet_pages, strip_pages};
use quarterlight::paper::scale_card;
use quarterlight::paper::scene::{Mark, Paper, Scene, Text};
use quarterlight::paper::svg;

fn faults(scene: &Scene) -> Vec<String> {
    words_outside(&svg::write(scene, "x").expect("drawn"))
}

#[test]
fn drawings_that_no_lot_changes_hold_their_words() {
    let all = [
        terms::hollow(),
        terms::rock(),
        terms::arc(),
        terms::skew(),
        terms::chance(&SURENESS),
        bark_map::key(),
        marking(2),
        marking(3),
        marking(4),
        marking(5),
        marking(6),
    ];
    for scene in all.iter().chain(&[Paper::A4, Paper::Letter].map(scale_card::sheet)) {
        assert_eq!(faults(scene), Vec::<String>::new(), "{}", scene.title);
    }
    // and the check sees what stands outside
    let mut scene = Scene::new(20.0, 20.0, "too long");
    scene.add(Mark::text(Text::new([5.0, 10.0], "beyond the edge & more", 3.0)));
    scene.add(Mark::text(Text::new([5.0, 18.0], "up and up", 3.0).turned(-90.0)));
    scene.add(Mark::text(Text::new([5.0, 18.0], "up and out of it", 3.0).turned(-90.0)));
    assert_eq!(faults(&scene).len(), 2, "{:?}", faults(&scene));
}

fn names() -> impl Strategy<Value = String> {
    prop_oneof!["[A-Z][0-9]{1,2}", "\\PC{1,100}", "[A-Za-z ]{290,300}", "[iWМ漢&<]{90,300}"]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn measuring_sheets_and_angle_strips_hold_their_words(
        lot_name in names(),
        tubes in proptest::collection::vec(names(), 0..4),
        length_mm in prop_oneof![Just(30.0), Just(3000.0), 30.0..400.0_f64],
        span_mm in 10.0..200.0_f64,
        diameter_mm in 10.0..80.0_f64,
        effort in prop_oneof![Just(Effort::Quick), Just(Effort::Usual), Just(Effort::Thorough)],
        tools in proptest::sample::subsequence(Tool::ALL.to_vec(), 1..=6),
        inches: bool,
        letter: bool,
    ) {
        let unit = if inches { LengthUnit::Inch } else { LengthUnit::Millimetre };
        let routine = Routine::of(effort, &tools);
        let lot = NewLot { name: lot_name, tubes, routine, length_mm, span_mm, unit, ..NewLot::default() };
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let strips = strip_pages(&lot, paper, diameter_mm).expect("an accepted diameter");
        for page in sheet_pages(&lot, paper).iter().chain(&strips) {
            let found = faults(page);
            prop_assert!(found.is_empty(), "{}: {found:?}", page.title);
        }
    }

    #[test]
    fn the_end_of_a_card_holds_its_numbers(
        name in names(),
        radius in 1.5..60.0_f64,
        oval in 0.0..0.3_f64,
        first in 0.0..360.0_f64,
        pieces in 2..=8_u32,
        inches: bool,
    ) {
        let step = 360.0 / f64::from(pieces);
        let along = if inches { "14 31/32" } else { "376.9" };
        let lines: Vec<EndLine> = (0..pieces)
            .map(|i| first + step * f64::from(i))
            .zip(1..)
            .map(|(deg, number)| EndLine { number, deg, middle_deg: deg + step / 2.0, along: along.into() })
            .collect();
        let radii: Vec<f64> = (0..180).map(|i| radius * (1.0 + oval * (f64::from(i) * 0.0698).cos())).collect();
        let found = faults(&index_end::draw(&name, &radii, &lines));
        prop_assert!(found.is_empty(), "{found:?}");
    }
}
