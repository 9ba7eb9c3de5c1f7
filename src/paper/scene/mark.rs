//! What can stand in a scene: paths, circles and text, with their strokes and fills.

use super::{Colour, Hatch, Point};
use crate::paper::font::{CAPITAL_HEIGHT, TAIL_DEPTH, Weight, plain, width_mm};

/// A line's look. Ends and corners are round.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub colour: Colour,
    /// Width, mm; 0 draws nothing.
    pub width_mm: f64,
    /// Lengths of dash, gap, dash, ... in mm; empty for a full line. Dashed lines have flat ends, so a dash is as
    /// long as it says.
    pub dash_mm: Vec<f64>,
}

impl Stroke {
    /// A full line.
    #[must_use]
    pub fn new(colour: Colour, width_mm: f64) -> Stroke {
        Stroke { colour, width_mm, dash_mm: Vec::new() }
    }

    /// The same line dashed: lengths of dash, gap, ... in mm.
    #[must_use]
    pub fn dashed(mut self, dash_mm: &[f64]) -> Stroke {
        self.dash_mm = dash_mm.to_vec();
        self
    }

    fn is_drawable(&self) -> bool {
        let size = |v: f64| v.is_finite() && v >= 0.0;
        size(self.width_mm) && self.dash_mm.iter().all(|&d| size(d)) && self.dash_pattern().is_some()
    }

    /// The dash lengths as every writer needs them: an even count, not all zero. `Some(empty)` is a full line,
    /// `None` a pattern that cannot be drawn.
    #[must_use]
    pub fn dash_pattern(&self) -> Option<Vec<f64>> {
        let mut dash = self.dash_mm.clone();
        if dash.len() % 2 == 1 {
            dash.extend_from_within(..);
        }
        // a pattern of length near nothing would be cut into countless dashes
        let usable = dash.is_empty() || dash.iter().sum::<f64>() >= 0.05;
        usable.then_some(dash)
    }
}

/// What stands inside a closed outline (even-odd rule: a contour inside another is a hole).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fill {
    /// Flat colour, painted first.
    pub colour: Option<Colour>,
    /// Lines over it, so that the area is known without colour.
    pub hatch: Option<Hatch>,
}

impl From<Colour> for Fill {
    fn from(colour: Colour) -> Fill {
        Fill { colour: Some(colour), hatch: None }
    }
}

/// Which part of the text stands at its place, along the line of writing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Across {
    /// Its beginning.
    #[default]
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// Which height of the text stands at its place, across the line of writing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Upright {
    /// The line the letters stand on.
    #[default]
    Baseline,
    /// Half the height of a capital.
    Middle,
    /// The top of a capital.
    Top,
    /// The bottom of a letter with a tail.
    Bottom,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Where it is fixed.
    pub at: Point,
    /// What it says. Control signs are shown as a replacement sign, never obeyed.
    pub text: String,
    /// Size of the type (em), mm.
    pub size_mm: f64,
    /// Which part along the writing stands at `at`.
    pub across: Across,
    /// Which height stands at `at`.
    pub upright: Upright,
    /// Turned about `at`, degrees clockwise.
    pub turn_deg: f64,
    /// Regular or bold.
    pub weight: Weight,
    /// Colour.
    pub colour: Colour,
    /// A rim of this colour round the letters, a quarter of the type size wide in all, so that text stays readable
    /// on a hatch or over lines.
    pub rim: Option<Colour>,
}

impl Text {
    /// Black regular text that begins at `at` and stands on it.
    #[must_use]
    pub fn new(at: Point, text: impl Into<String>, size_mm: f64) -> Text {
        Text {
            at,
            text: text.into(),
            size_mm,
            across: Across::Start,
            upright: Upright::Baseline,
            turn_deg: 0.0,
            weight: Weight::Regular,
            colour: Colour::BLACK,
            rim: None,
        }
    }

    /// Fixed by another part of the text.
    #[must_use]
    pub fn anchored(mut self, across: Across, upright: Upright) -> Text {
        (self.across, self.upright) = (across, upright);
        self
    }

    /// Turned, degrees clockwise.
    #[must_use]
    pub fn turned(mut self, degrees: f64) -> Text {
        self.turn_deg = degrees;
        self
    }

    /// Bold.
    #[must_use]
    pub fn bold(mut self) -> Text {
        self.weight = Weight::Bold;
        self
    }

    /// With a rim round the letters.
    #[must_use]
    pub fn rimmed(mut self, colour: Colour) -> Text {
        self.rim = Some(colour);
        self
    }

    /// The rim as a stroke, if there is one.
    #[must_use]
    pub fn rim_stroke(&self) -> Option<Stroke> {
        self.rim.map(|colour| Stroke::new(colour, self.size_mm * 0.25))
    }

    /// Distance from `at` down to the line the letters stand on, before turning, mm.
    #[must_use]
    pub fn drop_mm(&self) -> f64 {
        self.size_mm
            * match self.upright {
                Upright::Baseline => 0.0,
                Upright::Middle => CAPITAL_HEIGHT / 2.0,
                Upright::Top => CAPITAL_HEIGHT,
                Upright::Bottom => -TAIL_DEPTH,
            }
    }

    /// Distance from `at` back to where the writing starts, before turning, mm (zero or less).
    #[must_use]
    pub fn shift_mm(&self) -> f64 {
        let share = match self.across {
            Across::Start => return 0.0,
            Across::Middle => 0.5,
            Across::End => 1.0,
        };
        -share * width_mm(&plain(&self.text), self.size_mm, self.weight)
    }

    /// In another colour.
    #[must_use]
    pub fn coloured(mut self, colour: Colour) -> Text {
        self.colour = colour;
        self
    }
}

/// The form of a mark.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Straight pieces from point to point.
    Path {
        /// One list of points per contour.
        contours: Vec<Vec<Point>>,
        /// Whether each contour returns to its first point.
        closed: bool,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: Point,
        /// Its radius, mm.
        radius_mm: f64,
    },
    /// Text; stroke and fill of the mark are not used.
    Text(Text),
}

/// One thing in a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its form.
    pub shape: Shape,
    /// Its outline, if drawn.
    pub stroke: Option<Stroke>,
    /// Its inside, if painted. Only closed paths and circles have one.
    pub fill: Option<Fill>,
    /// What it means, for pointer and screen reader; empty for none.
    pub title: String,
}

impl Mark {
    fn of(shape: Shape) -> Mark {
        Mark { shape, stroke: None, fill: None, title: String::new() }
    }

    /// A path through `points`.
    #[must_use]
    pub fn path(points: Vec<Point>, closed: bool) -> Mark {
        Mark::of(Shape::Path { contours: vec![points], closed })
    }

    /// A path of several contours, all open or all closed; closed contours inside others are holes.
    #[must_use]
    pub fn contours(contours: Vec<Vec<Point>>, closed: bool) -> Mark {
        Mark::of(Shape::Path { contours, closed })
    }

    /// A circle.
    #[must_use]
    pub fn circle(centre: Point, radius_mm: f64) -> Mark {
        Mark::of(Shape::Circle { centre, radius_mm })
    }

    /// A rectangle by its region.
    #[must_use]
    pub fn rectangle(region: super::Region) -> Mark {
        Mark::path(region.corners().to_vec(), true)
    }

    /// Text.
    #[must_use]
    pub fn text(text: Text) -> Mark {
        Mark::of(Shape::Text(text))
    }

    /// With an outline.
    #[must_use]
    pub fn stroked(mut self, stroke: Stroke) -> Mark {
        self.stroke = Some(stroke);
        self
    }

    /// With an inside.
    #[must_use]
    pub fn filled(mut self, fill: impl Into<Fill>) -> Mark {
        self.fill = Some(fill.into());
        self
    }

    /// With words for pointer and screen reader.
    #[must_use]
    pub fn titled(mut self, title: impl Into<String>) -> Mark {
        self.title = title.into();
        self
    }

    /// The outline as closed contours: what a fill covers; empty for open paths and text.
    #[must_use]
    pub fn closed_contours(&self) -> Vec<Vec<Point>> {
        match &self.shape {
            Shape::Path { contours, closed: true } => contours.clone(),
            Shape::Circle { centre, radius_mm } => vec![ring(*centre, *radius_mm)],
            Shape::Path { .. } | Shape::Text(_) => Vec::new(),
        }
    }

    pub(super) fn is_drawable(&self) -> bool {
        let place = |p: &Point| p.iter().all(|v| v.is_finite() && v.abs() <= FURTHEST_MM);
        let size = |v: f64| v.is_finite() && (0.0..=FURTHEST_MM).contains(&v);
        let shape = match &self.shape {
            Shape::Path { contours, .. } => contours.iter().flatten().all(place),
            Shape::Circle { centre, radius_mm } => place(centre) && size(*radius_mm),
            Shape::Text(t) => place(&t.at) && size(t.size_mm) && t.turn_deg.is_finite(),
        };
        let hatch = self.fill.as_ref().and_then(|f| f.hatch.as_ref()).is_none_or(Hatch::is_drawable);
        shape && hatch && self.stroke.as_ref().is_none_or(Stroke::is_drawable)
    }
}

/// Furthest from the origin that a mark may stand, mm: beyond it single precision in the PDF writer
/// would no longer hold a hundredth of a millimetre.
const FURTHEST_MM: f64 = 100_000.0;

/// A circle as 96 points, for hatching (departs from the circle by 0.05 % of its radius).
fn ring(centre: Point, radius_mm: f64) -> Vec<Point> {
    (0..96)
        .map(|i| {
            let (s, c) = (f64::from(i) / 96.0 * std::f64::consts::TAU).sin_cos();
            [centre[0] + radius_mm * c, centre[1] + radius_mm * s]
        })
        .collect()
}
