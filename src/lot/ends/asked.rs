//! What the user types about a picture: names, resolution, lengths of the card's lines, ticks by hand.

use crate::domain::Angle;
use crate::domain::units::{DecimalMark, LengthUnit, parse_length};
use crate::geometry::scale_card::SPAN_MM;
use crate::picture::PixelScale;

/// How far a card's line may be off what it was meant to be, as a share: a page made to fit.
const MOST_OFF: f64 = 0.1;

/// What was typed is not what was asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("found '{found}'; expected {expected}")]
pub struct AskedError {
    /// As typed.
    pub found: String,
    /// What would have been right.
    pub expected: &'static str,
}

/// One end of one tube.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct EndName {
    /// The tube's name.
    pub tube: String,
    /// Whether it is the far end.
    pub far: bool,
}

impl EndName {
    /// As a form sends it: which end, then the whole name, whatever stands in it.
    #[must_use]
    pub fn key(&self) -> String {
        format!("{} {}", if self.far { "far" } else { "index" }, self.tube)
    }

    /// What such a key says.
    #[must_use]
    pub fn of_key(key: &str) -> Option<EndName> {
        let (end, tube) = key.split_once(' ')?;
        let far = match end {
            "far" => true,
            "index" => false,
            _ => return None,
        };
        (!tube.is_empty()).then(|| EndName { tube: tube.to_string(), far })
    }
}

/// Names in the order of the numbers on the picture, with commas between them: `T01,T02/far,-`. A tube's name alone is its
/// index end, or its far end where `far` holds; `/index` and `/far` behind it say which; `-` is a ring to be passed over.
///
/// # Errors
/// An empty name.
pub fn names(text: &str, far: bool) -> Result<Vec<Option<EndName>>, AskedError> {
    let wrong =
        || AskedError { found: text.to_string(), expected: "names with commas between them, such as T01,T02/far,-" };
    text.split(',')
        .map(str::trim)
        .map(|word| match word {
            "" => Err(wrong()),
            "-" => Ok(None),
            _ => {
                let (tube, far) = match (word.strip_suffix("/far"), word.strip_suffix("/index")) {
                    (Some(tube), _) => (tube, true),
                    (_, Some(tube)) => (tube, false),
                    _ => (word, far),
                };
                if tube.is_empty() { Err(wrong()) } else { Ok(Some(EndName { tube: tube.to_string(), far })) }
            }
        })
        .collect()
}

/// Two numbers with an x between them, or one.
fn pair(text: &str) -> Option<(f64, f64)> {
    let number = |t: &str| t.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    match text.split_once(['x', 'X']) {
        Some((a, b)) => number(a).zip(number(b)),
        None => number(text).map(|v| (v, v)),
    }
}

/// A resolution in pixels per inch: `600`, or across and down `600x598.5`.
///
/// # Errors
/// Anything else, and what no scanner has.
pub fn stated_scale(text: &str) -> Result<PixelScale, AskedError> {
    let expected = "pixels per inch from 100 to 9600, such as 600, or across and down such as 600x598.5";
    let scale = pair(text).and_then(|(x, y)| PixelScale::from_dpi(x, y));
    scale.ok_or_else(|| AskedError { found: text.to_string(), expected })
}

/// The measured lengths of the card's two lines: `140.2x60.1`, in mm, or each with its unit.
///
/// # Errors
/// Anything else, and lengths further than a tenth off 140 and 60 mm.
pub fn spans_mm(text: &str) -> Result<[f64; 2], AskedError> {
    let wrong = || AskedError {
        found: text.to_string(),
        expected: "the measured lengths of the card's lines of 140 and 60 mm, such as 140.2x60.1",
    };
    let (along, down) = text.split_once(['x', 'X']).ok_or_else(wrong)?;
    let length = |t: &str| parse_length(t.trim(), LengthUnit::Millimetre, DecimalMark::Point).map_err(|_| wrong());
    let spans = [length(along)?, length(down)?];
    let close = |k: usize| (spans[k] / SPAN_MM[k] - 1.0).abs() <= MOST_OFF;
    if close(0) && close(1) { Ok(spans) } else { Err(wrong()) }
}

/// A tick by hand: `3=120`, the number of the ring and where its index line stands, degrees clockwise on the picture from
/// straight up.
///
/// # Errors
/// Anything else.
pub fn tick(text: &str) -> Result<(usize, Angle), AskedError> {
    let wrong = || AskedError {
        found: text.to_string(),
        expected: "a ring and degrees clockwise from straight up, such as 3=120",
    };
    let (ring, degrees) = text.split_once('=').ok_or_else(wrong)?;
    let ring = ring.trim().parse::<usize>().ok().filter(|n| *n > 0).ok_or_else(wrong)?;
    let degrees = degrees.trim().parse::<f64>().ok().filter(|d| d.abs() <= 360.0).ok_or_else(wrong)?;
    Ok((ring, Angle::from_degrees(degrees - 90.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_their_end_and_a_dash_is_nobody() {
        let end = |tube: &str, far| Some(EndName { tube: tube.into(), far });
        assert_eq!(
            names("T1, T2/far,-,T3/index", false),
            Ok(vec![end("T1", false), end("T2", true), None, end("T3", false)])
        );
        assert_eq!(names("T1,T3/index", true), Ok(vec![end("T1", true), end("T3", false)]));
        assert!(names("T1,,T2", false).is_err() && names("/far", false).is_err() && names("", false).is_err());
    }

    #[test]
    fn a_form_sends_a_name_whole_whatever_stands_in_it() {
        for (tube, far) in [("A,B", false), ("X/far", false), ("X", true), ("far X", false), ("-", true), ("a b", true)]
        {
            let end = EndName { tube: tube.into(), far };
            assert_eq!(EndName::of_key(&end.key()), Some(end));
        }
        assert!(["-", "", "far", "far ", "T1", "T1/far"].iter().all(|k| EndName::of_key(k).is_none()));
    }

    #[test]
    fn resolutions_lines_and_ticks_are_read_or_refused() {
        assert_eq!(stated_scale("600x598.5"), PixelScale::from_dpi(600.0, 598.5).ok_or_else(|| unreachable!()));
        assert!(["72", "600x", "x", "1e9", "six"].iter().all(|t| stated_scale(t).is_err()));
        assert_eq!(spans_mm("140.2x60.1"), Ok([140.2, 60.1]));
        assert!(["140", "60x140", "150.1x60x1", "0x0"].iter().all(|t| spans_mm(t).is_err()));
        let (ring, angle) = tick("3=120").expect("good");
        assert!(ring == 3 && (angle.degrees() - 30.0).abs() < 1e-9);
        assert!(["3", "0=10", "3=north", "3=1000"].iter().all(|t| tick(t).is_err()));
    }
}
