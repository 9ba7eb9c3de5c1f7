//! Strips of paper that mark angles on a tube: as long as its girth, wrapped round it, no instrument needed.
//!
//! A strip is right for one girth only, so a page holds several, half a millimetre of diameter apart: the one whose two
//! index lines meet on the tube is the one to use. It lies as a wrap strip does ([`super::strip`]): print outwards, lower edge
//! flush with the index end, degrees growing to the right, which is clockwise seen looking at the index end.

use super::font::{Weight, break_lines, plain, shorten, width_mm};
use super::head::{MARGIN_MM, check_lines};
use super::palette::{GRID, INK, SOFT_INK};
use super::scene::{Across, Fill, Hatch, Mark, Paper, Point, Region, Scene, Stroke, Text, Upright};
use std::f64::consts::PI;

/// Height of a strip, mm.
const HEIGHT_MM: f64 = 14.0;
/// Free space below a strip, mm.
const GAP_MM: f64 = 3.5;
/// Paper beyond the second index line, to hold the strip by, mm.
const LAP_MM: f64 = 12.0;
/// Where the first strip stands, mm from the top.
const TOP_MM: f64 = 50.0;
/// Room kept at the foot of a page, mm.
const FOOT_ROOM_MM: f64 = 12.0;
/// Thinnest and thickest tube a strip is made for, mm.
const DIAMETERS_MM: (f64, f64) = (10.0, 80.0);
/// Most strips of one set.
const MOST_STRIPS: usize = 200;

/// What strips are wanted.
#[derive(Debug, Clone)]
pub struct AngleStrips {
    /// The sheet.
    pub paper: Paper,
    /// Diameters, mm.
    pub diameters_mm: Vec<f64>,
    /// The angles that are read, degrees: long ticks with their number.
    pub angles_deg: Vec<f64>,
    /// What stands above, such as the lot.
    pub heading: String,
    /// How diameters and girths are written.
    pub length_text: fn(f64) -> String,
}

/// Why no angle strips were made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AngleStripError {
    /// No diameter, or far too many.
    #[error("{found} angle strips: expected 1 to 200")]
    Count {
        /// How many.
        found: usize,
    },
    /// A diameter no tube has.
    #[error("a diameter of {found_mm} mm: expected 10 to 80 mm")]
    Diameter {
        /// As given.
        found_mm: f64,
    },
    /// An angle that is not a number.
    #[error("an angle that is not a number of degrees")]
    Angle,
}

/// Diameters round `diameter_mm` for one page: 2.5 mm to either side in steps of half a millimetre.
#[must_use]
pub fn diameters_round(diameter_mm: f64) -> Vec<f64> {
    let (least, most) = DIAMETERS_MM;
    (-5i32..=5).map(|k| diameter_mm + 0.5 * f64::from(k)).filter(|d| (least..=most).contains(d)).collect()
}

/// The strips as pages at true size, thinnest first.
///
/// # Errors
/// [`AngleStripError`].
///
/// # Example
/// ```
/// use quarterlight::paper::angle_strip::{AngleStrips, diameters_round, pages};
/// use quarterlight::paper::scene::Paper;
/// let strips = AngleStrips { paper: Paper::A4, diameters_mm: diameters_round(25.4), angles_deg: vec![0.0, 90.0, 180.0, 270.0],
///     heading: String::new(), length_text: quarterlight::paper::strip::millimetres };
/// assert_eq!(pages(&strips)?.len(), 1);
/// # Ok::<(), quarterlight::paper::angle_strip::AngleStripError>(())
/// ```
pub fn pages(strips: &AngleStrips) -> Result<Vec<Scene>, AngleStripError> {
    check(strips)?;
    let mut diameters = strips.diameters_mm.clone();
    diameters.sort_by(f64::total_cmp);
    let widest = PI * diameters.last().copied().unwrap_or(0.0) + LAP_MM;
    let upright = strips.paper.upright_mm();
    let size = if widest <= upright.0 - 2.0 * MARGIN_MM { upright } else { strips.paper.lying_mm() };
    let mut pages: Vec<Scene> = Vec::new();
    let mut at = [0.0, size.1];
    for d in diameters {
        let width = PI * d + LAP_MM;
        if at[0] + width > size.0 - MARGIN_MM + 1e-6 {
            at = [MARGIN_MM, at[1] + HEIGHT_MM + GAP_MM];
        }
        if pages.is_empty() || at[1] + HEIGHT_MM > size.1 - MARGIN_MM - FOOT_ROOM_MM {
            pages.push(blank(size, strips));
            at = [MARGIN_MM, TOP_MM];
        }
        if let Some(page) = pages.last_mut() {
            draw(page, at, d, strips);
        }
        at[0] += width + 4.0;
    }
    Ok(pages)
}

fn check(strips: &AngleStrips) -> Result<(), AngleStripError> {
    let found = strips.diameters_mm.len();
    if found == 0 || found > MOST_STRIPS {
        return Err(AngleStripError::Count { found });
    }
    let (least, most) = DIAMETERS_MM;
    if let Some(&found_mm) = strips.diameters_mm.iter().find(|d| !(least..=most).contains(*d)) {
        return Err(AngleStripError::Diameter { found_mm });
    }
    if strips.angles_deg.iter().all(|a| a.is_finite()) { Ok(()) } else { Err(AngleStripError::Angle) }
}

fn blank(size: (f64, f64), strips: &AngleStrips) -> Scene {
    let mut page = Scene::new(size.0, size.1, "Angle strips at true size");
    page.description = "Paper strips that mark angles round a tube, for several diameters.".into();
    let room = size.0 - 2.0 * MARGIN_MM;
    let heading = if strips.heading.is_empty() {
        "Angle strips".to_string()
    } else {
        format!("Angle strips, {}", plain(&strips.heading))
    };
    let heading = shorten(&heading, 4.0, Weight::Bold, room);
    page.text(Text::new([MARGIN_MM, MARGIN_MM + 4.0], heading, 4.0).bold().coloured(INK));
    check_lines(&mut page, MARGIN_MM + 10.0);
    let how = "Tubes differ: cut out strips along their grey edges and use the one whose two index lines meet on your tube, \
               pulled tight. Print outwards, lower edge flush with the index end, the index line of the strip on that of the \
               tube. Mark the angles with a pencil at the lower edge, take the strip off, and draw each line on along the tube \
               against a straight angle iron or the edge of a table.";
    for (i, line) in (0u32..).zip(break_lines(how, 2.7, Weight::Regular, room)) {
        page.text(Text::new([MARGIN_MM, MARGIN_MM + 24.0 + 3.7 * f64::from(i)], line, 2.7).coloured(INK));
    }
    page
}

fn draw(page: &mut Scene, at: Point, diameter_mm: f64, strips: &AngleStrips) {
    let ([left, top], girth) = (at, PI * diameter_mm);
    let bottom = top + HEIGHT_MM;
    let hatch = Hatch { turn_deg: 45.0, spacing_mm: 2.0, width_mm: 0.12, colour: GRID, crossed: false };
    let lap = Region::new(left + girth, top, LAP_MM, HEIGHT_MM);
    page.add(Mark::rectangle(lap).filled(Fill { colour: None, hatch: Some(hatch) }).titled("lap"));
    let middle = [lap.left + LAP_MM / 2.0, lap.top + HEIGHT_MM / 2.0];
    let word = Text::new(middle, "lap under", 2.4).anchored(Across::Middle, Upright::Middle);
    page.text(word.turned(-90.0).coloured(SOFT_INK));
    let outline = Region::new(left, top, girth + LAP_MM, HEIGHT_MM);
    page.add(Mark::rectangle(outline).stroked(Stroke::new(GRID, 0.15)));
    for x in [left, left + girth] {
        let line = Mark::path(vec![[x, top], [x, bottom]], false).stroked(Stroke::new(INK, 0.35));
        page.add(line.titled("index line"));
    }
    // every 15 deg a short tick, for angles of one's own
    for k in 1..24 {
        let x = left + girth * f64::from(k) / 24.0;
        page.line([x, bottom - 1.6], [x, bottom], Stroke::new(SOFT_INK, 0.12));
    }
    numbers(page, [left, bottom], girth, &strips.angles_deg);
    words(page, at, diameter_mm, strips);
}

/// A long tick and its number for every angle that is read; numbers stand at two heights where they are close.
fn numbers(page: &mut Scene, corner: Point, girth: f64, angles_deg: &[f64]) {
    let [left, bottom] = corner;
    let mut angles: Vec<f64> = angles_deg.iter().map(|a| a.rem_euclid(360.0)).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let mut last = [f64::NEG_INFINITY; 2];
    for a in angles {
        let x = left + girth * a / 360.0;
        let title = format!("{a} deg");
        let tick = Mark::path(vec![[x, bottom - 4.5], [x, bottom]], false).stroked(Stroke::new(INK, 0.25));
        page.add(tick.titled(title));
        let text = format!("{}°", (a * 10.0).round() / 10.0);
        let half = width_mm(&text, 2.2, Weight::Regular) / 2.0;
        // the number of the index line stands beside it
        let centre =
            if a.abs() < 1e-9 { x + half + 0.8 } else { x.clamp(left + half + 0.6, left + girth - half - 0.6) };
        // where ticks stand so close that neither height is free, the number is left out, never the tick
        let Some(row) = last.iter().position(|end| centre - half > end + 0.6) else { continue };
        last[row] = centre + half;
        let y = bottom - 5.3 - if row == 1 { 2.3 } else { 0.0 };
        page.text(Text::new([centre, y], text, 2.2).anchored(Across::Middle, Upright::Baseline).coloured(INK));
    }
}

fn words(page: &mut Scene, at: Point, diameter_mm: f64, strips: &AngleStrips) {
    let [left, top] = at;
    let girth = PI * diameter_mm;
    let text = |mm: f64| (strips.length_text)(mm);
    let name = format!("\u{2300} {}", text(diameter_mm));
    let name = shorten(&name, 2.9, Weight::Bold, girth - 3.0);
    let end = left + 1.5 + width_mm(&name, 2.9, Weight::Bold);
    page.text(Text::new([left + 1.5, top + 1.2], name, 2.9).bold().anchored(Across::Start, Upright::Top).coloured(INK));
    let sayings = [
        format!("girth {}; clockwise seen looking at the index end (lower edge) \u{2192}", text(girth)),
        format!("girth {}; clockwise, lower edge at the index end \u{2192}", text(girth)),
        "clockwise, lower edge at the index end \u{2192}".to_string(),
        "clockwise \u{2192}".to_string(),
    ];
    let room = left + girth - 1.0 - end - 2.0;
    if let Some(words) = sayings.iter().find(|s| width_mm(s, 2.1, Weight::Regular) <= room) {
        let place = Text::new([end + 2.0, top + 1.6], words.as_str(), 2.1);
        page.text(place.anchored(Across::Start, Upright::Top).coloured(SOFT_INK));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::strip::millimetres;

    fn strips(diameters_mm: Vec<f64>, angles_deg: Vec<f64>) -> AngleStrips {
        AngleStrips { paper: Paper::A4, diameters_mm, angles_deg, heading: "a".repeat(500), length_text: millimetres }
    }

    #[test]
    fn eleven_diameters_of_an_inch_tube_stand_on_one_page_of_either_paper_with_nothing_off_it() {
        for paper in Paper::ALL {
            let angles: Vec<f64> = (0..24).map(|i| 15.0 * f64::from(i)).collect();
            for d in [12.0, 25.4, 31.5, 60.0] {
                let made = pages(&AngleStrips { paper, ..strips(diameters_round(d), angles.clone()) }).expect("strips");
                assert!(d > 40.0 || made.len() == 1, "{paper:?} {d}: {} pages", made.len());
                for page in &made {
                    let texts = crate::paper::head::texts_outside(page);
                    assert!(texts.is_empty(), "{paper:?} {d}: {texts:?}");
                }
            }
        }
    }

    #[test]
    fn what_cannot_be_drawn_is_refused_with_its_number() {
        assert_eq!(pages(&strips(vec![], vec![])), Err(AngleStripError::Count { found: 0 }));
        assert_eq!(pages(&strips(vec![5.0], vec![])), Err(AngleStripError::Diameter { found_mm: 5.0 }));
        assert!(pages(&strips(vec![f64::NAN], vec![])).is_err());
        assert_eq!(pages(&strips(vec![25.0], vec![f64::INFINITY])), Err(AngleStripError::Angle));
    }
}
