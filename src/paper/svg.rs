//! A scene as SVG: millimetres inside and out, text that stays text.

use super::font::{self, FAMILY, Weight};
use super::scene::{Across, DrawError, Fill, Mark, Point, Scene, Shape, Stroke, Text, hatch_lines};
use std::fmt::Write as _;

/// `scene` as one SVG element that can stand alone in a file or inline in an HTML page.
///
/// # Arguments
/// * `prefix` - starts every id in the element, so that several drawings can share one page: an ASCII letter,
///   then letters, digits, `-` or `_`.
///
/// # Returns
/// SVG 1.1 text without an XML declaration; width and height in mm, `viewBox` in mm; numbers to a thousandth of a
/// millimetre. The same scene and prefix always give the same bytes.
///
/// # Errors
/// [`DrawError::Prefix`] for another prefix, else what [`Scene::check`] finds.
///
/// # Example
/// ```
/// use quarterlight::paper::scene::{Colour, Scene, Stroke};
/// let mut scene = Scene::new(100.0, 20.0, "a line");
/// scene.line([0.0, 10.0], [100.0, 10.0], Stroke::new(Colour::BLACK, 0.3));
/// let svg = quarterlight::paper::svg::write(&scene, "fig1").unwrap();
/// assert!(svg.contains(r#"width="100mm" height="20mm" viewBox="0 0 100 20""#));
/// assert!(quarterlight::paper::svg::write(&scene, "1 2").is_err());
/// ```
pub fn write(scene: &Scene, prefix: &str) -> Result<String, DrawError> {
    let plain_name = prefix.starts_with(|c: char| c.is_ascii_alphabetic())
        && prefix.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
    if !plain_name {
        return Err(DrawError::Prefix { prefix: prefix.to_string() });
    }
    scene.check()?;
    let mut out = String::with_capacity(200 * scene.marks.len() + 600);
    head(&mut out, scene, prefix);
    for mark in &scene.marks {
        write_mark(&mut out, mark, scene);
    }
    out.push_str("</svg>\n");
    Ok(out)
}

fn head(out: &mut String, scene: &Scene, prefix: &str) {
    let (w, h) = (number(scene.width_mm), number(scene.height_mm));
    let described = if scene.description.is_empty() { String::new() } else { format!(" {prefix}-desc") };
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
         role=\"img\" aria-labelledby=\"{prefix}-title{described}\" font-family=\"{FAMILY}\" fill=\"none\" \
         stroke-linecap=\"round\" stroke-linejoin=\"round\">\n<title id=\"{prefix}-title\">{}</title>\n",
        escape(&scene.title)
    );
    if !scene.description.is_empty() {
        let _ = writeln!(out, "<desc id=\"{prefix}-desc\">{}</desc>", escape(&scene.description));
    }
    if let Some(colour) = scene.background {
        let _ = write!(out, "<rect width=\"{w}\" height=\"{h}\" fill=\"{}\"", colour.hex());
        opacity(out, "fill-opacity", colour.alpha);
        out.push_str("/>\n");
    }
}

fn write_mark(out: &mut String, mark: &Mark, scene: &Scene) {
    let hatch = mark.fill.as_ref().and_then(|f| f.hatch);
    let titled = !mark.title.is_empty();
    if titled {
        let _ = writeln!(out, "<g><title>{}</title>", escape(&mark.title));
    }
    match &mark.shape {
        Shape::Text(text) => write_text(out, text),
        Shape::Circle { centre, radius_mm } => {
            let _ = write!(
                out,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"",
                number(centre[0]),
                number(centre[1]),
                number(*radius_mm)
            );
            paint(out, mark.fill.as_ref(), mark.stroke.as_ref());
        }
        Shape::Path { contours, closed } => {
            out.push_str("<path d=\"");
            for contour in contours {
                path_data(out, contour, *closed);
            }
            out.push('"');
            paint(out, mark.fill.as_ref().filter(|_| *closed), mark.stroke.as_ref());
        }
    }
    if let Some(hatch) = hatch {
        let lines = hatch_lines(&mark.closed_contours(), &hatch, scene.region());
        if !lines.is_empty() {
            out.push_str("<path d=\"");
            for line in &lines {
                path_data(out, line, false);
            }
            out.push('"');
            paint(out, None, Some(&Stroke::new(hatch.colour, hatch.width_mm)));
        }
    }
    if titled {
        out.push_str("</g>\n");
    }
}

fn path_data(out: &mut String, points: &[Point], closed: bool) {
    for (i, p) in points.iter().enumerate() {
        // after M, further pairs are taken as line ends
        let _ = write!(out, "{}{} {}", if i == 0 { "M" } else { " " }, number(p[0]), number(p[1]));
    }
    if points.len() == 1 && !closed {
        out.push_str("h0"); // a lone point shows as a dot with round ends, as in the other writers
    }
    if closed && !points.is_empty() {
        out.push('Z');
    }
}

fn paint(out: &mut String, fill: Option<&Fill>, stroke: Option<&Stroke>) {
    if let Some(colour) = fill.and_then(|f| f.colour) {
        let _ = write!(out, " fill=\"{}\" fill-rule=\"evenodd\"", colour.hex());
        opacity(out, "fill-opacity", colour.alpha);
    }
    if let Some(stroke) = stroke.filter(|s| s.width_mm > 0.0) {
        let _ = write!(out, " stroke=\"{}\" stroke-width=\"{}\"", stroke.colour.hex(), number(stroke.width_mm));
        opacity(out, "stroke-opacity", stroke.colour.alpha);
        let dash = stroke.dash_pattern().unwrap_or_default();
        if !dash.is_empty() {
            let list: Vec<String> = dash.iter().map(|&d| number(d)).collect();
            let _ = write!(out, " stroke-dasharray=\"{}\" stroke-linecap=\"butt\"", list.join(" "));
        }
    }
    out.push_str("/>\n");
}

fn write_text(out: &mut String, text: &Text) {
    let (s, c) = text.turn_deg.to_radians().sin_cos();
    let drop = text.drop_mm();
    let (x, y) = (text.at[0] - s * drop, text.at[1] + c * drop);
    let _ = write!(out, "<text x=\"{}\" y=\"{}\" font-size=\"{}\"", number(x), number(y), number(text.size_mm));
    match text.across {
        Across::Start => {}
        Across::Middle => out.push_str(" text-anchor=\"middle\""),
        Across::End => out.push_str(" text-anchor=\"end\""),
    }
    if text.weight == Weight::Bold {
        out.push_str(" font-weight=\"bold\"");
    }
    if let Some(rim) = text.rim_stroke() {
        let (colour, width) = (rim.colour.hex(), number(rim.width_mm));
        let _ = write!(out, " stroke=\"{colour}\" stroke-width=\"{width}\" paint-order=\"stroke\"");
        opacity(out, "stroke-opacity", rim.colour.alpha);
    }
    let turn = number(text.turn_deg);
    if turn != "0" {
        let _ = write!(out, " transform=\"rotate({turn} {} {})\"", number(x), number(y));
    }
    let _ = write!(out, " fill=\"{}\"", text.colour.hex());
    opacity(out, "fill-opacity", text.colour.alpha);
    let _ = writeln!(out, ">{}</text>", escape(&text.text));
}

fn opacity(out: &mut String, name: &str, alpha: u8) {
    if alpha < 255 {
        let _ = write!(out, " {name}=\"{}\"", number(f64::from(alpha) / 255.0));
    }
}

/// A number with at most three decimals, no trailing zeros and no "-0".
#[must_use]
pub fn number(value: f64) -> String {
    let mut text = format!("{value:.3}");
    let kept = text.trim_end_matches('0').trim_end_matches('.').len();
    text.truncate(kept);
    if text == "-0" { "0".to_string() } else { text }
}

/// Text safe as XML or HTML content and inside quoted attributes; see [`font::plain`] for what becomes of control
/// signs.
#[must_use]
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in font::plain(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::scene::{Colour, Upright};
    use super::*;

    #[test]
    fn numbers_have_no_more_than_three_decimals_and_no_minus_zero() {
        for (value, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (-0.0004, "0"),
            (12.0, "12"),
            (0.1 + 0.2, "0.3"),
            (-1.23456, "-1.235"),
            (1e3, "1000"),
        ] {
            assert_eq!(number(value), text);
        }
    }

    #[test]
    fn hostile_text_is_only_text() {
        let mut scene = Scene::new(50.0, 10.0, "<script>alert(1)</script> & \"x\"");
        scene.description = "]]></desc>".to_string();
        scene.text(Text::new([1.0, 5.0], "<b onload='x'>\u{0}\n&amp;", 3.0));
        scene.add(Mark::circle([5.0, 5.0], 1.0).titled("</title><script>"));
        let svg = write(&scene, "f").unwrap();
        assert!(!svg.contains("<script") && !svg.contains("<b ") && !svg.contains('\u{0}'), "{svg}");
        assert!(svg.contains("&lt;b onload=&#39;x&#39;&gt;\u{FFFD}\u{FFFD}&amp;amp;"), "{svg}");
        assert_eq!(svg.matches("</desc>").count(), 1);
    }

    #[test]
    fn turned_text_is_dropped_along_its_own_down() {
        let mut scene = Scene::new(50.0, 50.0, "");
        let text = Text::new([20.0, 20.0], "x", 10.0).anchored(Across::Middle, Upright::Top).turned(-90.0);
        scene.text(text);
        let svg = write(&scene, "f").unwrap();
        // capital height 7.29 mm; "down" for text read upwards is to the right
        assert!(svg.contains("x=\"27.29\" y=\"20\"") && svg.contains("rotate(-90 27.29 20)"), "{svg}");
    }

    #[test]
    fn ids_start_with_the_prefix_and_dashes_are_even() {
        let mut scene = Scene::new(50.0, 50.0, "t");
        scene.line([0.0, 0.0], [9.0, 0.0], Stroke::new(Colour::BLACK.with_alpha(51), 0.2).dashed(&[2.0, 1.0, 0.5]));
        let svg = write(&scene, "tube-3_a").unwrap();
        assert!(svg.contains("id=\"tube-3_a-title\"") && svg.contains("aria-labelledby=\"tube-3_a-title\""), "{svg}");
        assert!(
            svg.contains("stroke-dasharray=\"2 1 0.5 2 1 0.5\"") && svg.contains("stroke-opacity=\"0.2\""),
            "{svg}"
        );
        for bad in ["", "1a", "a b", "é", "a\"", "-a"] {
            assert!(matches!(write(&scene, bad), Err(DrawError::Prefix { .. })), "{bad}");
        }
    }
}
