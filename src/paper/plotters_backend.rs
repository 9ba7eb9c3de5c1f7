//! Lets charts of the plotters library draw into a scene: one backend unit is 0.01 mm.
//!
//! plotters lays out axes, ticks, grids and series in whole backend units; at 0.01 mm a unit is finer than any
//! printer, so nothing is visibly rounded. Sizes given to plotters are therefore in hundredths of a millimetre:
//! a font size of 300 is a type of 3 mm, a stroke width of 20 a line of 0.2 mm.

use super::font::{self, Weight};
use super::scene::{Across, Colour, Mark, Point, Region, Scene, Stroke, Text, Upright};
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind, FontStyle,
    FontTransform,
};

/// Backend units in a millimetre.
pub(crate) const UNITS_PER_MM: f64 = 100.0;

/// Thinnest line drawn, mm: plotters asks for one unit where a chart sets no width.
const LEAST_STROKE_MM: f64 = 0.1;

/// A region of a scene as plotters sees it.
#[derive(Debug)]
pub struct SceneBackend<'a> {
    scene: &'a mut Scene,
    region: Region,
}

/// The backend never fails; plotters wants a type all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Never {}

type Drawn = Result<(), DrawingErrorKind<Never>>;

/// `mm` in backend units, rounded.
#[allow(clippy::cast_possible_truncation, reason = "rounded; sheets are at most 5080 mm, so 508 000 units")]
#[must_use]
pub fn units(mm: f64) -> i32 {
    (mm * UNITS_PER_MM).round() as i32
}

#[allow(clippy::cast_sign_loss, reason = "negative lengths become 0")]
fn size_units(mm: f64) -> u32 {
    units(mm).max(0) as u32
}

impl<'a> SceneBackend<'a> {
    /// Draws into `region` of `scene`.
    #[must_use]
    pub fn new(scene: &'a mut Scene, region: Region) -> SceneBackend<'a> {
        SceneBackend { scene, region }
    }

    fn place(&self, (x, y): BackendCoord) -> Point {
        [self.region.left + f64::from(x) / UNITS_PER_MM, self.region.top + f64::from(y) / UNITS_PER_MM]
    }

    fn add(&mut self, mark: Mark, style: &impl BackendStyle, fill: bool) {
        let colour = colour(style.color());
        if colour.alpha == 0 {
            return;
        }
        let mark = if fill { mark.filled(colour) } else { mark.stroked(stroke(style)) };
        self.scene.add(mark);
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded and within 0 to 255")]
fn colour(c: BackendColor) -> Colour {
    let (r, g, b) = c.rgb;
    Colour::solid(r, g, b).with_alpha((c.alpha * 255.0).round().clamp(0.0, 255.0) as u8)
}

fn stroke(style: &impl BackendStyle) -> Stroke {
    Stroke::new(colour(style.color()), (f64::from(style.stroke_width()) / UNITS_PER_MM).max(LEAST_STROKE_MM))
}

fn weight(style: &impl BackendTextStyle) -> Weight {
    match style.style() {
        FontStyle::Bold => Weight::Bold,
        FontStyle::Normal | FontStyle::Oblique | FontStyle::Italic => Weight::Regular,
    }
}

impl DrawingBackend for SceneBackend<'_> {
    type ErrorType = Never;

    fn get_size(&self) -> (u32, u32) {
        (size_units(self.region.width), size_units(self.region.height))
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, c: BackendColor) -> Drawn {
        let [x, y] = self.place(point);
        let dot = Region::new(x, y, 1.0 / UNITS_PER_MM, 1.0 / UNITS_PER_MM);
        self.add(Mark::rectangle(dot), &c, true);
        Ok(())
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        let line = Mark::path(vec![self.place(from), self.place(to)], false);
        self.add(line, style, false);
        Ok(())
    }

    fn draw_rect<S: BackendStyle>(&mut self, a: BackendCoord, b: BackendCoord, style: &S, fill: bool) -> Drawn {
        let ([left, top], [right, bottom]) = (self.place(a), self.place(b));
        let mark = Mark::path(vec![[left, top], [right, top], [right, bottom], [left, bottom]], true);
        self.add(mark, style, fill);
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Drawn {
        let points = path.into_iter().map(|p| self.place(p)).collect();
        self.add(Mark::path(points, false), style, false);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(&mut self, centre: BackendCoord, radius: u32, style: &S, fill: bool) -> Drawn {
        let mark = Mark::circle(self.place(centre), f64::from(radius) / UNITS_PER_MM);
        self.add(mark, style, fill);
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Drawn {
        let points = path.into_iter().map(|p| self.place(p)).collect();
        self.add(Mark::path(points, true), style, true);
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Drawn {
        let colour = colour(style.color());
        if colour.alpha == 0 || text.is_empty() {
            return Ok(());
        }
        let anchor = style.anchor();
        let across = match anchor.h_pos {
            HPos::Left => Across::Start,
            HPos::Center => Across::Middle,
            HPos::Right => Across::End,
        };
        let upright = match anchor.v_pos {
            VPos::Top => Upright::Top,
            VPos::Center => Upright::Middle,
            VPos::Bottom => Upright::Bottom,
        };
        let turn_deg = match style.transform() {
            FontTransform::None => 0.0,
            FontTransform::Rotate90 => 90.0,
            FontTransform::Rotate180 => 180.0,
            FontTransform::Rotate270 => -90.0,
        };
        let at = self.place(at);
        let size_mm = style.size() / UNITS_PER_MM;
        self.scene.text(Text {
            at,
            text: text.into(),
            size_mm,
            across,
            upright,
            turn_deg,
            weight: weight(style),
            colour,
            rim: None,
        });
        Ok(())
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Never>> {
        let size_mm = style.size() / UNITS_PER_MM;
        let height = size_mm * (font::CAPITAL_HEIGHT + font::TAIL_DEPTH);
        Ok((size_units(font::width_mm(text, size_mm, weight(style))), size_units(height)))
    }
}
