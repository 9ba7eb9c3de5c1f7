//! Scenes as the pages of a PDF at true size.

use super::font::{self, Weight, font_file, plain};
use super::scene::{Colour, DrawError, Fill, Mark, Point, Scene, Shape, Stroke, Text, hatch_lines};
use super::trace::{Step, single, trace};
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point as PdfPoint, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{FillRule, LineCap, LineJoin, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

/// Default user space units (points, 1/72 in) in a millimetre; ISO 32000-1:2008, 8.3.2.3.
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// `pages` as one PDF, each page exactly as large as its scene, 1 mm = 72/25.4 points.
///
/// Text is real text in a subset of the built-in type, so it can be searched and copied. The file names no date, no
/// path and no machine: the same pages always give the same bytes.
///
/// # Arguments
/// * `title` - the document's title, shown by viewers.
///
/// # Errors
/// [`DrawError::NoPages`]; what [`Scene::check`] finds on any page; [`DrawError::Encoder`] when the PDF library
/// refuses the document.
pub fn write(pages: &[Scene], title: &str) -> Result<Vec<u8>, DrawError> {
    if pages.is_empty() {
        return Err(DrawError::NoPages);
    }
    pages.iter().try_for_each(Scene::check)?;
    let settings = SerializeSettings { compress_content_streams: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let title = plain(title).into_owned();
    document.set_metadata(Metadata::new().title(title).language("en".to_string()));
    let fonts = Fonts { regular: load(Weight::Regular)?, bold: load(Weight::Bold)? };
    for scene in pages {
        let (w, h) = (single(scene.width_mm * POINTS_PER_MM), single(scene.height_mm * POINTS_PER_MM));
        let size = PageSettings::from_wh(w, h)
            .ok_or(DrawError::Size { width_mm: scene.width_mm, height_mm: scene.height_mm })?;
        let mut page = document.start_page_with(size);
        let mut surface = page.surface();
        // one scale at the top: everything below is drawn in millimetres
        surface.push_transform(&Transform::from_scale(single(POINTS_PER_MM), single(POINTS_PER_MM)));
        if let Some(colour) = scene.background {
            draw(&mut surface, &Mark::rectangle(scene.region()).filled(colour), scene, &fonts);
        }
        for mark in &scene.marks {
            draw(&mut surface, mark, scene, &fonts);
        }
        surface.pop();
        surface.finish();
        page.finish();
    }
    document.finish().map_err(|e| DrawError::Encoder { format: "PDF", message: format!("{e:?}") })
}

struct Fonts {
    regular: Font,
    bold: Font,
}

fn load(weight: Weight) -> Result<Font, DrawError> {
    Font::new(font_file(weight).to_vec().into(), 0)
        .ok_or_else(|| DrawError::Encoder { format: "PDF", message: "the built-in type was not taken".to_string() })
}

fn draw(surface: &mut Surface<'_>, mark: &Mark, scene: &Scene, fonts: &Fonts) {
    let (path, closed) = match &mark.shape {
        Shape::Text(text) => return draw_text(surface, text, fonts),
        Shape::Circle { centre, radius_mm } => (circle(*centre, *radius_mm), true),
        Shape::Path { contours, closed } => (polyline(contours.iter().map(Vec::as_slice), *closed), *closed),
    };
    let Some(path) = path else { return };
    if closed {
        if let Some(fill) = mark.fill.as_ref() {
            fill_path(surface, &path, fill);
        }
        if let Some(hatch) = mark.fill.as_ref().and_then(|f| f.hatch) {
            let lines = hatch_lines(&mark.closed_contours(), &hatch, scene.region());
            if let Some(lines) = polyline(lines.iter().map(|l| &l[..]), false) {
                stroke_path(surface, &lines, &Stroke::new(hatch.colour, hatch.width_mm));
            }
        }
    }
    if let Some(stroke) = &mark.stroke {
        stroke_path(surface, &path, stroke);
    }
}

fn fill_path(surface: &mut Surface<'_>, path: &Path, fill: &Fill) {
    let Some(colour) = fill.colour else { return };
    surface.set_stroke(None);
    surface.set_fill(Some(paint(colour, FillRule::EvenOdd)));
    surface.draw_path(path);
}

fn stroke_path(surface: &mut Surface<'_>, path: &Path, stroke: &Stroke) {
    if stroke.width_mm <= 0.0 {
        return;
    }
    surface.set_fill(None);
    surface.set_stroke(Some(pen(stroke)));
    surface.draw_path(path);
}

fn pen(stroke: &Stroke) -> krilla::paint::Stroke {
    let array: Vec<f32> = stroke.dash_pattern().unwrap_or_default().into_iter().map(single).collect();
    krilla::paint::Stroke {
        paint: colour(stroke.colour).into(),
        width: single(stroke.width_mm),
        line_cap: if array.is_empty() { LineCap::Round } else { LineCap::Butt },
        line_join: LineJoin::Round,
        opacity: opacity(stroke.colour),
        dash: (!array.is_empty()).then_some(StrokeDash { array, offset: 0.0 }),
        ..krilla::paint::Stroke::default()
    }
}

fn draw_text(surface: &mut Surface<'_>, text: &Text, fonts: &Fonts) {
    let words = plain(&text.text);
    let glyphs: Vec<KrillaGlyph> = font::set_line(&words, text.weight)
        .into_iter()
        .map(|g| KrillaGlyph::new(GlyphId::new(g.id), single(g.advance), 0.0, 0.0, 0.0, g.bytes, None))
        .collect();
    if glyphs.is_empty() || text.size_mm <= 0.0 {
        return;
    }
    let face = match text.weight {
        Weight::Regular => fonts.regular.clone(),
        Weight::Bold => fonts.bold.clone(),
    };
    let (x, y) = (single(text.at[0]), single(text.at[1]));
    surface.push_transform(&Transform::from_rotate_at(single(text.turn_deg), x, y));
    let start = PdfPoint::from_xy(single(text.at[0] + text.shift_mm()), single(text.at[1] + text.drop_mm()));
    if let Some(rim) = text.rim_stroke() {
        surface.set_fill(None);
        surface.set_stroke(Some(pen(&rim)));
        // as outlines, so that a search does not find the words twice
        surface.draw_glyphs(start, &glyphs, face.clone(), &words, single(text.size_mm), true);
    }
    surface.set_stroke(None); // fill and stroke together would draw fat letters
    surface.set_fill(Some(paint(text.colour, FillRule::NonZero)));
    surface.draw_glyphs(start, &glyphs, face, &words, single(text.size_mm), false);
    surface.pop();
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

/// Four cubic curves; the handle 4/3 tan(pi/8) of the radius departs from the circle by at most 0.03 %.
fn circle(centre: Point, r: f64) -> Option<Path> {
    let k = 4.0 / 3.0 * (std::f64::consts::PI / 8.0).tan() * r;
    let at = |dx: f64, dy: f64| (single(centre[0] + dx), single(centre[1] + dy));
    let mut builder = PathBuilder::new();
    let (x, y) = at(r, 0.0);
    builder.move_to(x, y);
    for [a, b, e] in [
        [(r, k), (k, r), (0.0, r)],
        [(-k, r), (-r, k), (-r, 0.0)],
        [(-r, -k), (-k, -r), (0.0, -r)],
        [(k, -r), (r, -k), (r, 0.0)],
    ] {
        let ((ax, ay), (bx, by), (x, y)) = (at(a.0, a.1), at(b.0, b.1), at(e.0, e.1));
        builder.cubic_to(ax, ay, bx, by, x, y);
    }
    builder.close();
    builder.finish()
}

fn colour(c: Colour) -> rgb::Color {
    let [r, g, b] = c.rgb;
    rgb::Color::new(r, g, b)
}

fn opacity(c: Colour) -> NormalizedF32 {
    NormalizedF32::new(f32::from(c.alpha) / 255.0).unwrap_or(NormalizedF32::ONE)
}

fn paint(c: Colour, rule: FillRule) -> krilla::paint::Fill {
    krilla::paint::Fill { paint: colour(c).into(), opacity: opacity(c), rule }
}
