//! A drawing in millimetres: plain data that the SVG, PNG and PDF writers turn into files.
//!
//! Origin at the top left, x to the right, y down, lengths in mm, angles in degrees clockwise as seen on paper.
//! Curves are drawn as fine polylines; a scene holds no clock, no path and no font file, so the same scene
//! always gives the same bytes.

mod colour;
mod error;
mod hatch;
mod mark;
mod paper;

pub use colour::{Colour, Point};
pub use error::DrawError;
pub use hatch::{Hatch, LEAST_SPACING_MM, hatch_lines};
pub use mark::{Across, Fill, Mark, Shape, Stroke, Text, Upright};
pub use paper::Paper;

/// One drawing: its size, what it shows in words, and its marks in the order they are painted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scene {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// What it is, in a few words; read out by screen readers.
    pub title: String,
    /// What it shows, in a sentence or two for those who cannot see it.
    pub description: String,
    /// Painted behind everything; nothing when `None`. PNG is painted on white in any case.
    pub background: Option<Colour>,
    /// The marks, first painted first.
    pub marks: Vec<Mark>,
}

/// A region of a scene, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Region {
    /// The place nearest to `x` that is at least `room` from both sides; the middle where the region is too narrow for that.
    #[must_use]
    pub fn keep_across(&self, x: f64, room: f64) -> f64 {
        let (low, high) = (self.left + room, self.right() - room);
        if low <= high { x.clamp(low, high) } else { self.left + self.width / 2.0 }
    }

    /// From the left and top edge, width and height, mm.
    #[must_use]
    pub fn new(left: f64, top: f64, width: f64, height: f64) -> Region {
        Region { left, top, width, height }
    }

    /// Right edge, mm.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// Bottom edge, mm.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// The four corners, clockwise from the top left.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        [[self.left, self.top], [self.right(), self.top], [self.right(), self.bottom()], [self.left, self.bottom()]]
    }
}

/// Widest and tallest scene any writer takes, mm.
///
/// A PDF page may be at most 14 400 default units of 1/72 in on a side, which is 5080 mm (ISO 32000-1:2008,
/// annex C, table C.1).
pub const LARGEST_SIDE_MM: f64 = 5080.0;

impl Scene {
    /// An empty scene of the given size, mm.
    #[must_use]
    pub fn new(width_mm: f64, height_mm: f64, title: &str) -> Scene {
        Scene { width_mm, height_mm, title: title.to_string(), ..Scene::default() }
    }

    /// The whole scene as a region.
    #[must_use]
    pub fn region(&self) -> Region {
        Region::new(0.0, 0.0, self.width_mm, self.height_mm)
    }

    /// Paints `mark` over what is there.
    pub fn add(&mut self, mark: Mark) {
        self.marks.push(mark);
    }

    /// A straight line.
    pub fn line(&mut self, from: Point, to: Point, stroke: Stroke) {
        self.add(Mark::path(vec![from, to], false).stroked(stroke));
    }

    /// Text.
    pub fn text(&mut self, text: Text) {
        self.add(Mark::text(text));
    }

    /// Sees to it that every number can be drawn; each writer asks this first.
    ///
    /// # Errors
    /// [`DrawError::Size`] when a side is not a number above 0 and up to [`LARGEST_SIDE_MM`];
    /// [`DrawError::NotANumber`] naming the first mark with a NaN or an infinity, or with a negative stroke
    /// width, radius, dash or text size.
    pub fn check(&self) -> Result<(), DrawError> {
        let fits = |side: f64| side.is_finite() && side > 0.0 && side <= LARGEST_SIDE_MM;
        if !fits(self.width_mm) || !fits(self.height_mm) {
            return Err(DrawError::Size { width_mm: self.width_mm, height_mm: self.height_mm });
        }
        match self.marks.iter().position(|m| !m.is_drawable()) {
            Some(index) => Err(DrawError::NotANumber { index, title: self.marks[index].title.clone() }),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scene_without_size_or_with_a_nan_is_refused_with_the_place() {
        assert!(matches!(Scene::new(0.0, 10.0, "").check(), Err(DrawError::Size { .. })));
        assert!(matches!(Scene::new(10.0, f64::NAN, "").check(), Err(DrawError::Size { .. })));
        let mut s = Scene::new(10.0, 10.0, "ok");
        s.line([0.0, 0.0], [1.0, 1.0], Stroke::new(Colour::BLACK, 0.2));
        assert!(s.check().is_ok());
        s.add(Mark::circle([1.0, f64::INFINITY], 1.0).titled("dot"));
        match s.check() {
            Err(DrawError::NotANumber { index, title }) => assert_eq!((index, title.as_str()), (1, "dot")),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn negative_sizes_are_refused() {
        for bad in [
            Mark::circle([0.0, 0.0], -1.0),
            Mark::path(vec![[0.0, 0.0]], false).stroked(Stroke::new(Colour::BLACK, -0.1)),
            Mark::path(vec![[0.0, 0.0]], false).stroked(Stroke::new(Colour::BLACK, 0.1).dashed(&[-1.0, 1.0])),
            Mark::text(Text::new([0.0, 0.0], "x", -3.0)),
        ] {
            let mut s = Scene::new(10.0, 10.0, "");
            s.add(bad.clone());
            assert!(s.check().is_err(), "{bad:?}");
        }
    }
}
