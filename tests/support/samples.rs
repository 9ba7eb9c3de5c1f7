//! Sample drawings of an invented lot.

use quarterlight::domain::Angle;
use quarterlight::paper::axes::{self, Axis, Sample};
use quarterlight::paper::palette::{INK, LOOKS, Look, WASH, chance};
use quarterlight::paper::scene::{Across, Colour, Fill, Mark, Paper, Region, Scene, Stroke, Text, Upright};
use quarterlight::paper::strip::{StripRun, StripSheet, StripSpec};

/// All looks beside each other: areas, lines, markers, the ramp of chances.
pub fn looks() -> Scene {
    let mut s = Scene::new(150.0, 70.0, "The looks");
    s.description = "Six category looks and the ramp of chances.".to_string();
    for (i, look) in (0_u8..).zip(LOOKS) {
        let x = 8.0 + 23.0 * f64::from(i);
        let area = Region::new(x, 6.0, 18.0, 16.0);
        s.add(Mark::rectangle(area).filled(look.fill()).stroked(Stroke::new(look.colour, 0.3)).titled("area"));
        s.add(Mark::path(vec![[x, 28.0], [x + 18.0, 28.0]], false).stroked(look.stroke(0.6)));
        s.add(look.marker.mark([x + 9.0, 36.0], 3.0, look.colour));
        let label = Text::new([x + 9.0, 14.0], format!("piece {}", i + 1), 3.2).rimmed(Colour::WHITE);
        s.text(label.anchored(Across::Middle, Upright::Middle));
    }
    for i in 0..20_u8 {
        let t = f64::from(i) / 19.0;
        s.add(Mark::rectangle(Region::new(8.0 + 6.65 * f64::from(i), 44.0, 6.65, 10.0)).filled(chance(t)));
    }
    s.text(Text::new([8.0, 60.0], "chance 0", 3.0));
    s.text(Text::new([141.0, 60.0], "1", 3.0).anchored(Across::End, Upright::Baseline).bold());
    let signs = Text::new([75.0, 66.0], "Ø 25.4 ± 0.3 mm, ½ in, 45°, ≤ … ↻ ä", 3.0);
    s.text(signs.anchored(Across::Middle, Upright::Middle));
    s
}

/// A score curve with a band, a flat top and a legend; invented numbers.
pub fn score() -> Scene {
    use plotters::series::LineSeries;
    let mut s = Scene::new(150.0, 100.0, "Expected blanks by split angle");
    s.background = Some(Colour::WHITE);
    s.text(Text::new([6.0, 8.0], "Expected blanks by split angle (invented numbers)", 3.6).bold().coloured(INK));
    let curve: Vec<(f64, f64, f64)> = (0..=90_u8)
        .map(|d| {
            let a = f64::from(d);
            let mean = 7.0 + 1.8 * ((a - 36.0).to_radians() * 4.0).cos() + 0.3 * (a / 7.0).sin();
            (a, mean - 1.1, mean + 1.0)
        })
        .collect();
    let middle: Vec<(f64, f64)> = curve.iter().map(|&(a, lo, hi)| (a, f64::midpoint(lo, hi))).collect();
    let (x, y) = (Axis::numbers("split angle, deg", 0.0, 90.0, 10), Axis::numbers("blanks", 0.0, 12.0, 7));
    let region = Region::new(4.0, 12.0, 142.0, 76.0);
    let style = axes::line_style(Look::of(0).colour, 0.5);
    let line = middle.clone();
    let frame =
        axes::draw_with(&mut s, region, &x, &y, |c| c.draw_series(LineSeries::new(line, style)).map(|_| ())).unwrap();
    frame.add_behind(&mut s, frame.column(31.0, 40.0, Fill::from(WASH)).titled("as good from 31 to 40 deg"));
    s.add(frame.band(&curve, Look::of(0).fill()).titled("90 % interval"));
    s.add(frame.line(&middle, Look::of(0).stroke(0.5)));
    s.add(Look::of(1).marker.mark(frame.at(36.0, 8.75), 2.4, Look::of(1).colour).titled("chosen: 36 deg"));
    let entries = [
        (Sample::Line(Look::of(0).stroke(0.5)), "expected"),
        (Sample::Area(Look::of(0).fill()), "90 % interval"),
        (Sample::Area(Fill::from(WASH)), "as good"),
        (Sample::Marker(Look::of(1)), "chosen"),
    ];
    axes::legend(&mut s, [17.0, 91.0], &entries, 128.0);
    s
}

/// A lot board with intervals; invented numbers.
pub fn board(tubes: u8) -> Scene {
    let mut s = Scene::new(150.0, 30.0 + 5.0 * f64::from(tubes), "Lot board");
    let long = "a tube with a name far too long for its place in a picture".to_string();
    let names = (0..tubes).map(|i| if i == 3 { long.clone() } else { format!("T{i}") });
    let (x, y) = (Axis::numbers("expected blanks", 0.0, 14.0, 8), Axis::names("tube", names.collect()));
    let region = Region::new(4.0, 4.0, 142.0, s.height_mm - 8.0);
    let frame = axes::draw(&mut s, region, &x, &y).unwrap();
    for i in 0..tubes {
        let value = 12.0 - 10.0 * f64::from(i) / f64::from(tubes);
        let (middle, height) = frame.row(usize::from(i));
        let (a, b) = (frame.x_mm((value - 1.5).max(0.0)), frame.x_mm(value + 1.5));
        let look = Look::of(if value > 8.0 { 3 } else { 1 });
        s.add(Mark::path(vec![[a, middle], [b, middle]], false).stroked(Stroke::new(look.colour, 0.5)));
        s.add(look.marker.mark([frame.x_mm(value), middle], (height * 0.6).min(2.4), look.colour));
    }
    s
}

/// Three tubes: an ordinary one, one with a hostile name and no runs, one longer than the sheet.
pub fn strips() -> Vec<StripSpec> {
    let run = |piece, from_mm| StripRun { piece, from_mm, to_mm: from_mm + 70.0, ..StripRun::default() };
    let names = || ["1", "2", "3", "4"].map(String::from).to_vec();
    let angles = |a: f64| [0.0, 90.0, 180.0, 270.0].map(|k| Angle::from_degrees(a + k)).to_vec();
    vec![
        StripSpec {
            tube: "T01".into(),
            girth_mm: 79.8,
            length_mm: 178.0,
            split_angles: angles(36.0),
            piece_names: names(),
            runs: vec![run(0, 8.0), run(0, 79.0), run(1, 31.5), run(2, 12.0), run(2, 96.0), run(3, 60.2)],
            note: "split 1: anywhere from 31° to 40° does as well".into(),
            ..StripSpec::default()
        },
        StripSpec {
            tube: "<script>alert('a tube name without end, ')</script>".repeat(20),
            girth_mm: 82.4,
            length_mm: 141.0,
            split_angles: angles(-3.0),
            piece_names: names(),
            ..StripSpec::default()
        },
        StripSpec {
            tube: "T03 Ø 24".into(),
            girth_mm: 76.1,
            length_mm: 412.5,
            split_angles: [0.0, 120.0, 240.0].map(Angle::from_degrees).to_vec(),
            piece_names: vec!["left".into(), "right".into(), "back".into()],
            runs: vec![run(0, 20.0), run(0, 100.0), run(1, 175.0), run(2, 330.0), run(2, 60.0)],
            ..StripSpec::default()
        },
    ]
}

/// A sheet for the invented lot.
pub fn sheet(paper: Paper) -> StripSheet {
    StripSheet { paper, heading: "Invented lot · strips, seed 7".to_string(), ..StripSheet::default() }
}
