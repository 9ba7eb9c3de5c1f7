//! A scene as a PNG picture, with text drawn from the built-in type: no system fonts needed.

use super::font::{self, Outline, plain};
use super::scene::{Colour, DrawError, Fill, Mark, Scene, Shape, Stroke, Text, hatch_lines};
use tiny_skia::{FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform};

/// Most pixels a picture may have: 64 million are 256 MB while drawing, an A4 page at 25 pixels a millimetre.
pub const MOST_PIXELS: u32 = 64_000_000;

/// `scene` as a PNG file on white at `pixels_per_mm`.
///
/// # Returns
/// An 8-bit RGB file of width by height times `pixels_per_mm`, rounded up to whole pixels; its pHYs chunk holds
/// the resolution, so that it prints at true size. The same input always gives the same bytes.
///
/// # Errors
/// [`DrawError::TooManyPixels`] above [`MOST_PIXELS`] or for a resolution that is not a number above 0; else
/// what [`Scene::check`] finds.
pub fn write(scene: &Scene, pixels_per_mm: f64) -> Result<Vec<u8>, DrawError> {
    scene.check()?;
    let (width, height) = ((scene.width_mm * pixels_per_mm).ceil(), (scene.height_mm * pixels_per_mm).ceil());
    let too_many = DrawError::TooManyPixels { width, height, most: MOST_PIXELS };
    if !(width >= 1.0 && height >= 1.0 && width * height <= f64::from(MOST_PIXELS)) {
        return Err(too_many);
    }
    let mut canvas = Canvas {
        pixmap: Pixmap::new(whole(width), whole(height)).ok_or(too_many)?,
        scale: Transform::from_scale(single(pixels_per_mm), single(pixels_per_mm)),
    };
    canvas.pixmap.fill(tiny_skia::Color::WHITE);
    if let Some(colour) = scene.background {
        canvas.mark(&Mark::rectangle(scene.region()).filled(colour), scene);
    }
    for mark in &scene.marks {
        canvas.mark(mark, scene);
    }
    encode(&canvas.pixmap, pixels_per_mm)
}

struct Canvas {
    pixmap: Pixmap,
    scale: Transform,
}

impl Canvas {
    fn mark(&mut self, mark: &Mark, scene: &Scene) {
        match &mark.shape {
            Shape::Text(text) => self.text(text),
            Shape::Circle { centre, radius_mm } => {
                let path = PathBuilder::from_circle(single(centre[0]), single(centre[1]), single(*radius_mm));
                self.fill(path.as_ref(), mark.fill.as_ref());
                self.hatch(mark, scene);
                self.stroke(path.as_ref(), mark.stroke.as_ref());
            }
            Shape::Path { contours, closed } => {
                let mut builder = PathBuilder::new();
                for contour in contours {
                    trace(&mut builder, contour, *closed);
                }
                let path = builder.finish();
                if *closed {
                    self.fill(path.as_ref(), mark.fill.as_ref());
                    self.hatch(mark, scene);
                }
                self.stroke(path.as_ref(), mark.stroke.as_ref());
            }
        }
    }

    fn fill(&mut self, path: Option<&Path>, fill: Option<&Fill>) {
        if let (Some(path), Some(colour)) = (path, fill.and_then(|f| f.colour)) {
            self.pixmap.fill_path(path, &paint(colour), FillRule::EvenOdd, self.scale, None);
        }
    }

    fn hatch(&mut self, mark: &Mark, scene: &Scene) {
        let Some(hatch) = mark.fill.as_ref().and_then(|f| f.hatch) else { return };
        let mut builder = PathBuilder::new();
        for line in hatch_lines(&mark.closed_contours(), &hatch, scene.region()) {
            trace(&mut builder, &line, false);
        }
        self.stroke(builder.finish().as_ref(), Some(&Stroke::new(hatch.colour, hatch.width_mm)));
    }

    fn stroke(&mut self, path: Option<&Path>, stroke: Option<&Stroke>) {
        self.stroke_at(path, stroke, self.scale);
    }

    fn stroke_at(&mut self, path: Option<&Path>, stroke: Option<&Stroke>, place: Transform) {
        let (Some(path), Some(stroke)) = (path, stroke.filter(|s| s.width_mm > 0.0)) else { return };
        let dash: Vec<f32> = stroke.dash_pattern().unwrap_or_default().into_iter().map(single).collect();
        let line_cap = if dash.is_empty() { LineCap::Round } else { LineCap::Butt };
        let pen = tiny_skia::Stroke {
            width: single(stroke.width_mm),
            line_cap,
            line_join: LineJoin::Round,
            dash: StrokeDash::new(dash, 0.0),
            ..tiny_skia::Stroke::default()
        };
        self.pixmap.stroke_path(path, &paint(stroke.colour), &pen, place, None);
    }

    fn text(&mut self, text: &Text) {
        let mut sink = Letters(PathBuilder::new());
        font::outline(&plain(&text.text), text.size_mm, text.weight, &mut sink);
        let place = self
            .scale
            .pre_translate(single(text.at[0]), single(text.at[1]))
            .pre_concat(Transform::from_rotate(single(text.turn_deg)))
            .pre_translate(single(text.shift_mm()), single(text.drop_mm()));
        if let Some(path) = sink.0.finish() {
            self.stroke_at(Some(&path), text.rim_stroke().as_ref(), place);
            self.pixmap.fill_path(&path, &paint(text.colour), FillRule::Winding, place, None);
        }
    }
}

fn trace(builder: &mut PathBuilder, points: &[[f64; 2]], closed: bool) {
    for (i, p) in points.iter().enumerate() {
        let (x, y) = (single(p[0]), single(p[1]));
        if i == 0 {
            builder.move_to(x, y);
        }
        // a lone point is a line of no length, drawn as a dot
        if i > 0 || points.len() == 1 {
            builder.line_to(x, y);
        }
    }
    if closed && !points.is_empty() {
        builder.close();
    }
}

fn paint(colour: Colour) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    let [r, g, b] = colour.rgb;
    paint.set_color_rgba8(r, g, b, colour.alpha);
    paint
}

struct Letters(PathBuilder);

impl Outline for Letters {
    fn move_to(&mut self, x: f64, y: f64) {
        self.0.move_to(single(x), single(y));
    }
    fn line_to(&mut self, x: f64, y: f64) {
        self.0.line_to(single(x), single(y));
    }
    fn quad_to(&mut self, cx: f64, cy: f64, x: f64, y: f64) {
        self.0.quad_to(single(cx), single(cy), single(x), single(y));
    }
    fn cubic_to(&mut self, ax: f64, ay: f64, bx: f64, by: f64, x: f64, y: f64) {
        self.0.cubic_to(single(ax), single(ay), single(bx), single(by), single(x), single(y));
    }
    fn close(&mut self) {
        self.0.close();
    }
}

fn encode(pixmap: &Pixmap, pixels_per_mm: f64) -> Result<Vec<u8>, DrawError> {
    let stopped = |e: png::EncodingError| DrawError::Encoder { format: "PNG", message: e.to_string() };
    // painted on white, so every pixel is opaque and the premultiplied colour is the colour
    let rgb: Vec<u8> = pixmap.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixmap.width(), pixmap.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Balanced);
    let per_metre = whole((pixels_per_mm * 1000.0).round());
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header().map_err(stopped)?;
    writer.write_image_data(&rgb).map_err(stopped)?;
    writer.finish().map_err(stopped)?;
    Ok(bytes)
}

/// Scene numbers are at most 1e5 mm: single precision keeps them to 0.01 mm, and to 0.0005 mm on a sheet.
#[allow(clippy::cast_possible_truncation, reason = "the drawing library takes f32; range checked by Scene::check")]
fn single(v: f64) -> f32 {
    v as f32
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a whole number of pixels already checked against MOST_PIXELS; the cast saturates"
)]
fn whole(v: f64) -> u32 {
    v as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pixels(bytes: &[u8]) -> (png::OutputInfo, Vec<u8>, Option<png::PixelDimensions>) {
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        let mut data = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut data).unwrap();
        let dims = reader.info().pixel_dims;
        (info, data, dims)
    }

    #[test]
    fn a_ten_millimetre_square_covers_a_hundred_pixels_each_way() {
        let mut scene = Scene::new(30.0, 20.0, "");
        let square = super::super::scene::Region::new(5.0, 5.0, 10.0, 10.0);
        scene.add(Mark::rectangle(square).filled(Colour::BLACK));
        let (info, data, dims) = pixels(&write(&scene, 10.0).unwrap());
        assert_eq!((info.width, info.height), (300, 200));
        assert_eq!(dims.unwrap().xppu, 10_000);
        let dark = data.chunks_exact(3).filter(|p| p[0] < 128).count();
        assert_eq!(dark, 100 * 100);
        assert!(data[(50 * 300 + 50) * 3] < 10 && data[(49 * 300 + 50) * 3] > 245);
    }

    #[test]
    fn text_is_drawn_where_the_width_says() {
        let mut scene = Scene::new(60.0, 20.0, "");
        scene.text(Text::new([5.0, 15.0], "HHHH", 10.0));
        let (info, data, _) = pixels(&write(&scene, 10.0).unwrap());
        let row = usize::try_from(info.width).unwrap();
        let dark: Vec<usize> = (0..data.len() / 3).filter(|&i| data[i * 3] < 128).collect();
        let (lo, hi) = (dark.iter().map(|i| i % row).min().unwrap(), dark.iter().map(|i| i % row).max().unwrap());
        // H has 201 units of 2048 bearing on the left and as much on the right: ink from 5.98 mm to 5 + w - 0.98
        let right = (5.0 + font::width_mm("HHHH", 10.0, font::Weight::Regular) - 0.98) * 10.0;
        let hi = f64::from(u32::try_from(hi).unwrap());
        assert!((59..=60).contains(&lo) && (hi - right).abs() <= 1.5, "{lo} {hi} {right}");
        let top = dark.iter().map(|i| i / row).min().unwrap();
        assert!((76..=78).contains(&top), "a capital of 7.29 mm starts at 7.71 mm: {top}");
    }

    #[test]
    fn absurd_resolutions_are_refused() {
        let scene = Scene::new(100.0, 100.0, "");
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e6] {
            assert!(matches!(write(&scene, bad), Err(DrawError::TooManyPixels { .. })), "{bad}");
        }
    }
}
