//! Charts with axes: plotters lays out ticks, grid and labels; marks with hatches, dashes and titles then go into the
//! scene through the [`Frame`] it leaves behind.

use super::font::{Weight, shorten, width_mm};
use super::palette::{GRID, INK, Look, SOFT_INK};
use super::plotters_backend::{Never, SceneBackend, UNITS_PER_MM, units};
use super::scene::{Across, Colour, DrawError, Fill, Mark, Point, Region, Scene, Stroke, Text, Upright};
use crate::domain::units::decimal;
use plotters::chart::{ChartBuilder, ChartContext};
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::DrawingAreaErrorKind;
use plotters::prelude::{Cartesian2d, Color, DrawingArea, IntoDrawingArea, RGBColor};
use plotters::style::{IntoFont, ShapeStyle, TextStyle};

/// Size of tick labels, mm.
const TICK_TEXT_MM: f64 = 2.6;
/// Size of axis labels, mm.
const LABEL_TEXT_MM: f64 = 2.9;
const TICK_MM: f64 = 1.0;

/// One axis of a chart: either numbers with a unit, or a list of names.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What it shows, with its unit: "split angle, deg".
    pub label: String,
    /// Number at its left or lower end.
    pub from: f64,
    /// Number at its right or upper end; above `from`.
    pub to: f64,
    /// About how many ticks.
    pub ticks: usize,
    /// Names instead of numbers, first at the top; only for an upright axis.
    pub names: Vec<String>,
}

impl Axis {
    /// An axis of numbers.
    #[must_use]
    pub fn numbers(label: &str, from: f64, to: f64, ticks: usize) -> Axis {
        Axis { label: label.to_string(), from, to, ticks, names: Vec::new() }
    }

    /// An upright axis of names, first at the top; long ones are shortened when drawn.
    #[must_use]
    pub fn names(label: &str, names: Vec<String>) -> Axis {
        let rows = u32::try_from(names.len()).unwrap_or(u32::MAX);
        Axis { label: label.to_string(), from: 0.0, to: f64::from(rows), ticks: 0, names }
    }

    /// The number as its tick label: as many decimals as the length of the axis calls for, no trailing zeros.
    #[must_use]
    pub fn tick_label(&self, value: f64) -> String {
        let span = (self.to - self.from).abs();
        let places = [0.002, 0.02, 0.2, 2.0, 20.0].iter().position(|&limit| span < limit).map_or(0, |i| 5 - i);
        let text = decimal(value, places);
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        text.to_string()
    }

    fn check(&self, upright: bool) -> Result<(), DrawError> {
        let fault = |why: &str| Err(DrawError::Axis { axis: self.label.clone(), why: why.to_string() });
        let span = self.to - self.from;
        if !self.from.is_finite() || !self.to.is_finite() || !span.is_finite() {
            return fault("its ends are not numbers");
        }
        // closer ends than this would make ticks that all print the same
        if span < 1e-6 || span < 1e-9 * self.from.abs().max(self.to.abs()) {
            return fault("its upper end must lie above its lower end");
        }
        if !self.names.is_empty() && !upright {
            return fault("names can only stand on the upright axis");
        }
        Ok(())
    }
}

/// Where a chart's numbers lie in its scene.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// The plotting area inside the axes.
    pub plot: Region,
    /// Numbers at its left and right edge.
    pub x: (f64, f64),
    /// Numbers at its lower and upper edge.
    pub y: (f64, f64),
    /// How many marks the scene had before the axes.
    first_mark: usize,
}

/// The chart as plotters knows it, for drawing series of plotters.
pub type Chart<'a, 's> = ChartContext<'a, SceneBackend<'s>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// What drawing a series of plotters may return; the backend itself never fails.
pub type SeriesResult = Result<(), DrawingAreaErrorKind<Never>>;

/// Draws axes into `region` and leaves the plotting area empty.
///
/// # Errors
/// [`DrawError::Axis`] when an axis has no length, names stand on the level axis, or the region is too small for
/// the labels (about 25 by 20 mm).
pub fn draw(scene: &mut Scene, region: Region, x: &Axis, y: &Axis) -> Result<Frame, DrawError> {
    draw_with(scene, region, x, y, |_| Ok(()))
}

/// As [`draw`], and lets `series` add series of plotters.
///
/// # Errors
/// As [`draw`], and what `series` returns.
pub fn draw_with<F>(scene: &mut Scene, region: Region, x: &Axis, y: &Axis, series: F) -> Result<Frame, DrawError>
where
    F: FnOnce(&mut Chart<'_, '_>) -> SeriesResult,
{
    x.check(false)?;
    y.check(true)?;
    let left = left_room(y, region);
    let below = TICK_MM * 2.0 + TICK_TEXT_MM + if x.label.is_empty() { 0.5 } else { 1.2 + LABEL_TEXT_MM };
    if region.width - left < 12.0 || region.height - below < 8.0 || !region.width.is_finite() {
        return Err(DrawError::Axis { axis: x.label.clone(), why: "the region is too small for its labels".into() });
    }
    let (room, first_mark) = ((units(left), units(below)), scene.marks.len());
    let plot = lay_out(SceneBackend::new(scene, region), room, x, y, series)
        .map_err(|e| DrawError::Encoder { format: "chart", message: e.to_string() })?;
    let plot = Region { left: region.left + plot.left, top: region.top + plot.top, ..plot };
    let frame = Frame { plot, x: (x.from, x.to), y: (y.from, y.to), first_mark };
    frame.draw_names(scene, y, left);
    Ok(frame)
}

fn left_room(y: &Axis, region: Region) -> f64 {
    let size = TICK_TEXT_MM;
    let label = if y.label.is_empty() { 1.0 } else { LABEL_TEXT_MM + 1.6 };
    let widest = if y.names.is_empty() {
        let probes = (0..=20).map(|i| y.from + (y.to - y.from) * f64::from(i) / 20.0);
        probes.map(|v| width_mm(&y.tick_label(v), size, Weight::Regular)).fold(0.0, f64::max)
    } else {
        let most = region.width * 0.3;
        y.names
            .iter()
            .map(|n| width_mm(&shorten(n, size, Weight::Regular, most), size, Weight::Regular))
            .fold(0.0, f64::max)
    };
    label + widest + 2.0 * TICK_MM + 1.0
}

fn lay_out<'s, F>(
    backend: SceneBackend<'s>,
    room: (i32, i32),
    x: &Axis,
    y: &Axis,
    series: F,
) -> Result<Region, DrawingAreaErrorKind<Never>>
where
    F: FnOnce(&mut Chart<'_, 's>) -> SeriesResult,
{
    let area: DrawingArea<SceneBackend<'s>, Shift> = backend.into_drawing_area();
    let mut chart = ChartBuilder::on(&area)
        .margin_top(units(1.5))
        .margin_right(units(4.0)) // the last tick label reaches past the axis
        .y_label_area_size(room.0)
        .x_label_area_size(room.1)
        .build_cartesian_2d(x.from..x.to, y.from..y.to)?;
    let (x_text, y_text) = (|v: &f64| x.tick_label(*v), |v: &f64| y.tick_label(*v));
    let (ticks, labels) = (text_style(TICK_TEXT_MM, SOFT_INK), text_style(LABEL_TEXT_MM, INK));
    let mut mesh = chart.configure_mesh();
    mesh.axis_style(line_style(INK, 0.25))
        .bold_line_style(line_style(GRID, 0.12))
        .light_line_style(RGBColor(0, 0, 0).mix(0.0))
        .set_all_tick_mark_size(units(TICK_MM))
        .label_style(ticks)
        .axis_desc_style(labels)
        .x_labels(x.ticks)
        .y_labels(y.ticks)
        .x_label_formatter(&x_text)
        .y_label_formatter(&y_text)
        .x_desc(x.label.as_str());
    if y.names.is_empty() {
        mesh.y_desc(y.label.as_str());
    } else {
        mesh.disable_y_mesh().y_labels(0);
    }
    mesh.draw()?;
    series(&mut chart)?;
    let (across, down) = chart.plotting_area().get_pixel_range();
    let mm = |u: i32| f64::from(u) / UNITS_PER_MM;
    // plotters maps the ends of an axis to the first and last unit, so the last unit is the edge
    let last = |r: &std::ops::Range<i32>| mm(r.end - 1 - r.start);
    Ok(Region::new(mm(across.start), mm(down.start), last(&across), last(&down)))
}

fn text_style(size_mm: f64, colour: Colour) -> TextStyle<'static> {
    let [r, g, b] = colour.rgb;
    ("sans-serif", size_mm * UNITS_PER_MM).into_font().color(&RGBColor(r, g, b))
}

/// A plotters line style of the given colour and width, mm.
#[must_use]
pub fn line_style(colour: Colour, width_mm: f64) -> ShapeStyle {
    let [r, g, b] = colour.rgb;
    let style: ShapeStyle = RGBColor(r, g, b).mix(f64::from(colour.alpha) / 255.0).into();
    style.stroke_width(u32::try_from(units(width_mm)).unwrap_or(0))
}

impl Frame {
    /// The place of x across the scene, mm.
    #[must_use]
    pub fn x_mm(&self, x: f64) -> f64 {
        self.plot.left + (x - self.x.0) / (self.x.1 - self.x.0) * self.plot.width
    }

    /// The place of y down the scene, mm.
    #[must_use]
    pub fn y_mm(&self, y: f64) -> f64 {
        self.plot.bottom() - (y - self.y.0) / (self.y.1 - self.y.0) * self.plot.height
    }

    /// The place of (x, y), mm.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> Point {
        [self.x_mm(x), self.y_mm(y)]
    }

    /// The middle of the row of name `index` on an axis of names, mm down the scene, and the row's height.
    #[must_use]
    pub fn row(&self, index: usize) -> (f64, f64) {
        let height = self.plot.height / (self.y.1 - self.y.0);
        let index = u32::try_from(index).unwrap_or(u32::MAX);
        (self.plot.top + (f64::from(index) + 0.5) * height, height)
    }

    /// A line through points given in the chart's numbers. The caller's axes must cover them.
    #[must_use]
    pub fn line(&self, points: &[(f64, f64)], stroke: Stroke) -> Mark {
        Mark::path(points.iter().map(|&(x, y)| self.at(x, y)).collect(), false).stroked(stroke)
    }

    /// The area between a lower and an upper curve: (x, low, high), in order of x.
    #[must_use]
    pub fn band(&self, points: &[(f64, f64, f64)], fill: Fill) -> Mark {
        let low = points.iter().map(|&(x, low, _)| self.at(x, low));
        let high = points.iter().rev().map(|&(x, _, high)| self.at(x, high));
        Mark::path(low.chain(high).collect(), true).filled(fill)
    }

    /// The full height of the plot from x to x.
    #[must_use]
    pub fn column(&self, from: f64, to: f64, fill: Fill) -> Mark {
        let (a, b) = (self.x_mm(from.min(to)), self.x_mm(from.max(to)));
        Mark::rectangle(Region::new(a, self.plot.top, b - a, self.plot.height)).filled(fill)
    }

    /// Paints `mark` behind grid and axes, over what was in the scene before them.
    ///
    /// Call it on the scene the axes were drawn in, and last painted comes lowest.
    pub fn add_behind(&self, scene: &mut Scene, mark: Mark) {
        scene.marks.insert(self.first_mark.min(scene.marks.len()), mark);
    }

    fn draw_names(&self, scene: &mut Scene, y: &Axis, left: f64) {
        let end = self.plot.left - 1.5 * TICK_MM;
        let room = left - 2.0 * TICK_MM - if y.label.is_empty() { 1.0 } else { LABEL_TEXT_MM + 1.6 };
        for (i, name) in y.names.iter().enumerate() {
            let (middle, height) = self.row(i);
            let size = TICK_TEXT_MM.min(height * 0.9);
            let text = shorten(name, size, Weight::Regular, room).into_owned();
            scene.text(Text::new([end, middle], text, size).anchored(Across::End, Upright::Middle).coloured(INK));
        }
        if !y.names.is_empty() && !y.label.is_empty() {
            let at = [self.plot.left - left + LABEL_TEXT_MM * 0.6, self.plot.top + self.plot.height / 2.0];
            let label = Text::new(at, y.label.as_str(), LABEL_TEXT_MM).anchored(Across::Middle, Upright::Middle);
            scene.text(label.turned(-90.0).coloured(INK));
        }
    }
}

/// What stands before the words in a legend.
#[derive(Debug, Clone, PartialEq)]
pub enum Sample {
    /// A piece of line.
    Line(Stroke),
    /// A marker.
    Marker(Look),
    /// A patch of area.
    Area(Fill),
}

/// Writes a legend in one or more lines from `at` (top left), no wider than `most_mm`.
///
/// # Returns
/// Its height, mm.
pub fn legend(scene: &mut Scene, at: Point, entries: &[(Sample, &str)], most_mm: f64) -> f64 {
    const SAMPLE: f64 = 7.0;
    const GAP: f64 = 4.0;
    const LINE: f64 = 4.2;
    let (mut x, mut y) = (at[0], at[1] + LINE / 2.0);
    for (sample, words) in entries {
        let words = shorten(words, TICK_TEXT_MM, Weight::Regular, most_mm - SAMPLE - 1.0);
        let width = SAMPLE + 1.0 + width_mm(&words, TICK_TEXT_MM, Weight::Regular);
        if x > at[0] && x + width > at[0] + most_mm {
            (x, y) = (at[0], y + LINE);
        }
        scene.add(match sample {
            Sample::Line(stroke) => Mark::path(vec![[x, y], [x + SAMPLE, y]], false).stroked(stroke.clone()),
            Sample::Marker(look) => look.marker.mark([x + SAMPLE / 2.0, y], 2.0, look.colour),
            Sample::Area(fill) => Mark::rectangle(Region::new(x, y - 1.3, SAMPLE, 2.6))
                .filled(fill.clone())
                .stroked(Stroke::new(SOFT_INK, 0.12)),
        });
        let place = [x + SAMPLE + 1.0, y];
        scene.text(Text::new(place, words, TICK_TEXT_MM).anchored(Across::Start, Upright::Middle).coloured(INK));
        x += width + GAP;
    }
    if entries.is_empty() { 0.0 } else { y + LINE / 2.0 - at[1] }
}

#[cfg(test)]
mod tests {
    use super::super::scene::Shape;
    use super::*;

    fn chart() -> (Scene, Frame) {
        let mut scene = Scene::new(150.0, 90.0, "t");
        let region = Region::new(5.0, 5.0, 140.0, 80.0);
        let x = Axis::numbers("split angle, deg", 0.0, 90.0, 10);
        let y = Axis::numbers("expected blanks", 0.0, 12.0, 6);
        let frame = draw(&mut scene, region, &x, &y).unwrap();
        (scene, frame)
    }

    fn texts(scene: &Scene) -> Vec<(String, Point)> {
        let text = |m: &Mark| match &m.shape {
            Shape::Text(t) => Some((t.text.clone(), t.at)),
            _ => None,
        };
        scene.marks.iter().filter_map(text).collect()
    }

    #[test]
    fn tick_labels_stand_where_the_frame_puts_their_numbers() {
        let (scene, frame) = chart();
        let found = texts(&scene);
        for v in [0.0, 10.0, 50.0, 90.0] {
            let label = format!("{v:.0}");
            let x = frame.x_mm(v);
            assert!(found.iter().any(|(t, at)| *t == label && (at[0] - x).abs() < 0.02), "{label} at {x}: {found:?}");
        }
        assert!(found.iter().any(|(t, at)| t == "10" && (at[1] - frame.y_mm(10.0)).abs() < 0.02), "{found:?}");
        for want in ["split angle, deg", "expected blanks"] {
            assert!(found.iter().any(|(t, _)| t == want), "{want}: {found:?}");
        }
        scene.check().unwrap();
    }

    #[test]
    fn a_plotters_series_lands_where_the_frame_says() {
        use plotters::series::LineSeries;
        let mut scene = Scene::new(100.0, 60.0, "t");
        let region = scene.region();
        let axis = Axis::numbers("", 0.0, 1.0, 5);
        let style = line_style(Look::of(0).colour, 0.4);
        let frame = draw_with(&mut scene, region, &axis, &axis, |chart| {
            chart.draw_series(LineSeries::new([(0.2, 0.3), (0.8, 0.9)], style)).map(|_| ())
        })
        .unwrap();
        let Some(Mark { shape: Shape::Path { contours, .. }, .. }) = scene.marks.last() else { panic!("no series") };
        for (got, want) in contours[0].iter().zip([frame.at(0.2, 0.3), frame.at(0.8, 0.9)]) {
            assert!((got[0] - want[0]).abs() < 0.02 && (got[1] - want[1]).abs() < 0.02, "{got:?} {want:?}");
        }
    }

    #[test]
    fn axes_without_length_or_room_are_refused() {
        let mut scene = Scene::new(100.0, 60.0, "t");
        let good = Axis::numbers("x", 0.0, 1.0, 5);
        for (from, to) in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY), (f64::MIN, f64::MAX)] {
            let bad = Axis::numbers("x", from, to, 5);
            let region = scene.region();
            assert!(matches!(draw(&mut scene, region, &bad, &good), Err(DrawError::Axis { .. })), "{from} {to}");
        }
        assert!(draw(&mut scene, Region::new(0.0, 0.0, 10.0, 10.0), &good, &good).is_err());
        let names = Axis::names("tube", vec!["a".into()]);
        let region = scene.region();
        assert!(draw(&mut scene, region, &names, &good).is_err());
        assert!(draw(&mut scene, region, &good, &Axis::names("tube", Vec::new())).is_err(), "no rows");
    }

    #[test]
    fn names_stand_in_their_rows_and_are_shortened() {
        let mut scene = Scene::new(100.0, 60.0, "t");
        let names = vec!["T1".to_string(), "a name that goes on and on and on and on and on".to_string()];
        let region = scene.region();
        let x = Axis::numbers("blanks", 0.0, 10.0, 5);
        let frame = draw(&mut scene, region, &x, &Axis::names("tube", names)).unwrap();
        let found = texts(&scene);
        assert!(found.iter().any(|(t, at)| t == "T1" && (at[1] - frame.row(0).0).abs() < 1e-9), "{found:?}");
        assert!(found.iter().any(|(t, _)| t.ends_with('…')), "{found:?}");
        assert!(found.iter().all(|(_, at)| at[0] >= 0.0), "{found:?}");
    }

    #[test]
    fn tick_labels_have_the_decimals_their_axis_needs() {
        assert_eq!(Axis::numbers("", 0.0, 90.0, 9).tick_label(30.000_000_1), "30");
        assert_eq!(Axis::numbers("", 0.0, 1.0, 5).tick_label(0.1 + 0.2), "0.3");
        assert_eq!(Axis::numbers("", 0.0, 0.01, 5).tick_label(0.0025), "0.0025");
        assert_eq!(Axis::numbers("", -1.0, 1.0, 5).tick_label(-0.000_01), "0");
        assert_eq!(Axis::numbers("", 0.0, 1000.0, 5).tick_label(200.0), "200");
    }
}
