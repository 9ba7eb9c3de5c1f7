//! Whether the words of a picture stand inside it.

use quarterlight::paper::font::{Weight, width_mm};
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// Rounding of numbers in the file, and what a letter may overhang, mm.
const SLACK_MM: f64 = 0.15;
/// Height of a capital as a share of the size: 1493 of 2048 units in the font that is measured with.
const CAPITAL: f64 = 0.729;

fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let value = tag.attributes().flatten().find(|a| a.key.as_ref() == name)?;
    Some(value.value.into_owned())
}

/// The words of one SVG that reach beyond its edge, with where they lie. Words that are turned at a slant are not looked at.
pub fn words_outside(svg: &str) -> Vec<String> {
    let mut reader = Reader::from_str(svg);
    let (mut out, mut size, mut open) = (Vec::new(), (0.0, 0.0), None);
    loop {
        match reader.read_event().expect("well formed") {
            Event::Eof => return out,
            Event::Start(tag) if tag.name().as_ref() == "svg" => {
                let of = |name: &str| {
                    let text = attribute(&tag, name).expect("a size");
                    text.trim_end_matches("mm").parse::<f64>().expect("mm")
                };
                size = (of("width"), of("height"));
            }
            Event::Start(tag) if tag.name().as_ref() == "text" => open = Some((tag.into_owned(), String::new())),
            Event::Text(words) => {
                if let Some((_, said)) = &mut open {
                    said.push_str(words.as_ref());
                }
            }
            Event::GeneralRef(sign) => {
                if let Some((_, said)) = &mut open {
                    said.push(match sign.as_ref() {
                        "lt" => '<',
                        "gt" => '>',
                        "quot" => '"',
                        "amp" => '&',
                        _ => '\'',
                    });
                }
            }
            Event::End(tag) if tag.name().as_ref() == "text" => {
                let (tag, said) = open.take().expect("opened");
                out.extend(outside(&tag, &said, size));
            }
            _ => {}
        }
    }
}

fn outside(tag: &BytesStart<'_>, said: &str, (width, height): (f64, f64)) -> Option<String> {
    let number = |name: &str| attribute(tag, name).and_then(|v| v.parse::<f64>().ok()).expect("a number");
    let (x, y, size) = (number("x"), number("y"), number("font-size"));
    let weight = if attribute(tag, "font-weight").is_some() { Weight::Bold } else { Weight::Regular };
    let long = width_mm(said, size, weight);
    let from = match attribute(tag, "text-anchor").as_deref() {
        Some("middle") => -long / 2.0,
        Some("end") => -long,
        _ => 0.0,
    };
    let tall = CAPITAL * size;
    let turn = attribute(tag, "transform").map_or(0.0, |t| {
        t.trim_start_matches("rotate(").split(' ').next().and_then(|d| d.parse::<f64>().ok()).expect("an angle")
    });
    let [left, right, top, low] = match turn {
        0.0 => [x + from, x + from + long, y - tall, y],
        -90.0 => [x - tall, x, y - from - long, y - from],
        90.0 => [x, x + tall, y + from, y + from + long],
        _ => return None,
    };
    let inside = left >= -SLACK_MM && top >= -SLACK_MM && right <= width + SLACK_MM && low <= height + SLACK_MM;
    (!inside).then(|| format!("{said:?}: {left:.1} to {right:.1}, {top:.1} to {low:.1} of {width} by {height}"))
}
