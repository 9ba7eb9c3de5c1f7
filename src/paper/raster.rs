//! Scenes painted over a grey picture, as PNG: for notes on what a scanner saw.

use super::font::{glyph_outlines, plain};
use super::scene::{Colour, DrawError, Fill, Mark, Point, Scene, Shape, Stroke, Text, hatch_lines};
use super::trace::{Step, single, trace};
use tiny_skia::{FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform};

/// A grey picture that fills the whole scene, rows from the top.
#[derive(Debug, Clone, Copy)]
pub struct Backdrop<'a> {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// One byte a pixel.
    pub grey: &'a [u8],
}

/// `scene` painted over `backdrop`, with the pixels of the backdrop. The same scene always gives the same bytes.
///
/// # Errors
/// What [`Scene::check`] finds; [`DrawError::Encoder`] for a backdrop without pixels, or one that is no picture of its size.
pub fn write(scene: &Scene, backdrop: Backdrop<'_>) -> Result<Vec<u8>, DrawError> {
    scene.check()?;
    let failed = |message: String| DrawError::Encoder { format: "PNG", message };
    let side = |n: usize| u32::try_from(n).ok();
    let sides = side(backdrop.width).zip(side(backdrop.height));
    let made = sides.and_then(|(w, h)| Some((w, h, Pixmap::new(w, h)?)));
    let (width, height, mut map) = made.ok_or_else(|| failed("a picture of no size".into()))?;
    if backdrop.grey.len() != backdrop.width * backdrop.height {
        return Err(failed("the backdrop has another number of pixels than its size says".into()));
    }
    for (to, &v) in map.data_mut().chunks_exact_mut(4).zip(backdrop.grey) {
        to.copy_from_slice(&[v, v, v, 255]);
    }
    let place =
        Transform::from_scale(single(f64::from(width) / scene.width_mm), single(f64::from(height) / scene.height_mm));
    for mark in &scene.marks {
        draw(&mut map, mark, scene, place);
    }
    let rgb: Vec<u8> = map.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let written = encoder.write_header().and_then(|mut w| w.write_image_data(&rgb));
    written.map_err(|e| failed(e.to_string()))?;
    Ok(out)
}

fn draw(map: &mut Pixmap, mark: &Mark, scene: &Scene, place: Transform) {
    let (path, closed) = match &mark.shape {
        Shape::Text(text) => return draw_text(map, text, place),
        Shape::Circle { centre, radius_mm } => {
            (PathBuilder::from_circle(single(centre[0]), single(centre[1]), single(*radius_mm)), true)
        }
        Shape::Path { contours, closed } => (polyline(contours.iter().map(Vec::as_slice), *closed), *closed),
    };
    let Some(path) = path else { return };
    if let Some(fill) = mark.fill.as_ref().filter(|_| closed) {
        fill_path(map, &path, fill, place);
        if let Some(hatch) = fill.hatch {
            let lines = hatch_lines(&mark.closed_contours(), &hatch, scene.region());
            if let Some(lines) = polyline(lines.iter().map(|l| &l[..]), false) {
                stroke_path(map, &lines, &Stroke::new(hatch.colour, hatch.width_mm), place);
            }
        }
    }
    if let Some(stroke) = &mark.stroke {
        stroke_path(map, &path, stroke, place);
    }
}

fn paint(c: Colour) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    let [r, g, b] = c.rgb;
    paint.set_color_rgba8(r, g, b, c.alpha);
    paint
}

fn fill_path(map: &mut Pixmap, path: &Path, fill: &Fill, place: Transform) {
    if let Some(colour) = fill.colour {
        map.fill_path(path, &paint(colour), FillRule::EvenOdd, place, None);
    }
}

fn stroke_path(map: &mut Pixmap, path: &Path, stroke: &Stroke, place: Transform) {
    if stroke.width_mm <= 0.0 {
        return;
    }
    let dash: Vec<f32> = stroke.dash_pattern().unwrap_or_default().into_iter().map(single).collect();
    let pen = tiny_skia::Stroke {
        width: single(stroke.width_mm),
        line_cap: if dash.is_empty() { LineCap::Round } else { LineCap::Butt },
        line_join: LineJoin::Round,
        dash: StrokeDash::new(dash, 0.0),
        ..tiny_skia::Stroke::default()
    };
    map.stroke_path(path, &paint(stroke.colour), &pen, place, None);
}

fn draw_text(map: &mut Pixmap, text: &Text, place: Transform) {
    let size = text.size_mm;
    let [x, y] = text.at;
    let mut builder = PathBuilder::new();
    for (at, curves) in glyph_outlines(&plain(&text.text), text.weight) {
        let to = |p: [f64; 2]| {
            let px = x + text.shift_mm() + (at + p[0]) * size;
            // letters stand up, paper runs down
            let py = y + text.drop_mm() - p[1] * size;
            (single(px), single(py))
        };
        curves.draw(&mut builder, &to);
    }
    let Some(path) = builder.finish() else { return };
    let turned = place.pre_concat(Transform::from_rotate_at(single(text.turn_deg), single(x), single(y)));
    if let Some(rim) = text.rim_stroke() {
        stroke_path(map, &path, &rim, turned);
    }
    map.fill_path(&path, &paint(text.colour), FillRule::Winding, turned, None);
}

fn polyline<'a>(contours: impl Iterator<Item = &'a [Point]>, closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    trace(contours, closed, |step| match step {
        Step::Move(x, y) => builder.move_to(x, y),
        Step::Line(x, y) => builder.line_to(x, y),
        Step::Close => builder.close(),
    });
    builder.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::font::Weight;

    fn read(bytes: &[u8]) -> (usize, Vec<u8>) {
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().expect("a PNG");
        let mut pixels = vec![0; reader.output_buffer_size().expect("small")];
        reader.next_frame(&mut pixels).expect("pixels");
        (reader.info().width as usize, pixels)
    }

    #[test]
    fn marks_and_letters_stand_where_the_scene_has_them() {
        let mut scene = Scene::new(20.0, 10.0, "");
        scene.add(Mark::circle([5.0, 5.0], 2.0).filled(Colour::solid(255, 0, 0)));
        scene.text(Text { weight: Weight::Bold, ..Text::new([12.0, 8.0], "H", 8.0) });
        let grey = vec![200; 200 * 100];
        let bytes = write(&scene, Backdrop { width: 200, height: 100, grey: &grey }).expect("drawn");
        assert_eq!(bytes, write(&scene, Backdrop { width: 200, height: 100, grey: &grey }).expect("drawn"));
        let (w, pixels) = read(&bytes);
        let at = |x: usize, y: usize| &pixels[3 * (y * w + x)..][..3];
        assert_eq!((at(50, 50), at(75, 50)), (&[255, 0, 0][..], &[200, 200, 200][..]));
        // a capital H of 8 mm is 5.8 mm high and has a stem at its left: dark pixels from 2.2 to 8.0 mm down
        let dark = |y: usize| (120..190).any(|x| at(x, y)[0] < 60);
        assert!(dark(26) && dark(78) && !dark(18) && !dark(84));
    }

    #[test]
    fn a_backdrop_of_another_size_is_refused() {
        let scene = Scene::new(20.0, 10.0, "");
        for (width, height) in [(0, 0), (3, 3)] {
            assert!(write(&scene, Backdrop { width, height, grey: &[0; 4] }).is_err());
        }
    }
}
