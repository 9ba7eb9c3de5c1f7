//! The sheet with the scale card, at true size: to be cut out and laid beside sawn ends on a scanner's glass.

use super::font::{Weight, break_lines};
use super::palette::{GRID, INK, SOFT_INK};
use super::scene::{Across, Colour, Mark, Paper, Point, Region, Scene, Stroke, Text, Upright};
use crate::geometry::scale_card::{DISC_MM, PITCH_MM, SPAN_MM, discs};

/// Paper round the lattice as far as the cutting line, mm.
const RIM_MM: f64 = 9.0;
/// Left and top edge of the card on the sheet, mm.
const TOP_MM: f64 = 34.0;
/// Margin of the words, mm.
const MARGIN_MM: f64 = 15.0;

/// What is said below the card: how it is printed, measured and used, and how a tick is drawn.
const HOW: [&str; 6] = [
    "Print at 100 %, no fit to page, on plain white paper, and cut along the grey line. Measure the two lines below with a \
     caliper, from the left edge of one end mark to the left edge of the other, and from top edge to top edge: they are \
     meant to be 140 and 60 mm. Write what you measure onto the card and give it as --card 140.0x60.0.",
    "On the index line of each tube draw a pencil line across the sawn face, from the bark straight to the bore, half a \
     millimetre to a millimetre wide, soft and dark, at both ends. Nothing else on the face may look like it.",
    "Lay the card face down on the glass, stand the sawn ends beside it, none touching another, the card or the edge of the \
     picture. Leave the lid open and darken the room, or lay a black cloth over everything. Scan in grey or colour at 600 dpi \
     without sharpening, as PNG or TIFF.",
    "In a photograph the card must lie in the plane of the sawn faces, and the camera look square onto it from as far away \
     as it can: a card one centimetre below the faces, seen from half a metre, is 2 % off.",
    "An end sawn 2 degrees out of square is 0.06 % longer one way. Take off loose fibres before you scan.",
    "Mouldy tubes do not belong on the glass; clean it after raw cane. The tool maker's instructions and local rules for \
     sawing come first.",
];

/// The sheet.
///
/// # Example
/// ```
/// use quarterlight::paper::{pdf, scale_card::sheet, scene::Paper};
/// let bytes = pdf::write(&[sheet(Paper::A4)], "Scale card")?;
/// assert!(bytes.starts_with(b"%PDF"));
/// # Ok::<(), quarterlight::paper::scene::DrawError>(())
/// ```
#[must_use]
pub fn sheet(paper: Paper) -> Scene {
    let (width, height) = paper.upright_mm();
    let mut scene = Scene::new(width, height, "Scale card at true size");
    scene.description =
        "A lattice of black discs, 140 by 60 mm between the outer middles, with two check lines.".into();
    let text = |at: Point, words: &str, size: f64| Text::new(at, words, size).coloured(INK);
    scene.text(text([MARGIN_MM, 18.0], "Scale card for pictures of sawn ends", 5.0).bold());
    scene.text(text([MARGIN_MM, 25.0], "True size only when printed at 100 %, no fit to page.", 3.2));
    let size = [SPAN_MM[0] + 2.0 * RIM_MM, SPAN_MM[1] + 2.0 * RIM_MM];
    let left = (width - size[0]) / 2.0;
    card(&mut scene, [left, TOP_MM], size);
    let below = TOP_MM + size[1] + 8.0;
    check_line(&mut scene, [left + RIM_MM, below], [SPAN_MM[0], 0.0]);
    check_line(&mut scene, [left + RIM_MM, below + 8.0], [0.0, SPAN_MM[1]]);
    let label = "across: 140 mm when printed right; measured ________ mm";
    scene.text(text([left + RIM_MM + 4.0, below + 6.0], label, 3.2));
    let label = "down: 60 mm when printed right; measured ________ mm";
    scene.text(text([left + RIM_MM + 4.0, below + 13.0], label, 3.2));
    let (from, room) = (left + RIM_MM + 4.0, width - MARGIN_MM - (left + RIM_MM + 4.0));
    let mut y = below + 21.0;
    for words in HOW {
        for line in break_lines(words, 3.0, Weight::Regular, room) {
            scene.text(Text::new([from, y], line, 3.0).coloured(INK));
            y += 4.1;
        }
        y += 2.0;
    }
    scene
}

/// The card itself: cutting line, discs, a few words between the discs.
fn card(scene: &mut Scene, [left, top]: Point, [width, height]: [f64; 2]) {
    let cut = Region::new(left, top, width, height);
    scene.add(Mark::rectangle(cut).stroked(Stroke::new(GRID, 0.15)).titled("cut here"));
    let at = |i: usize, j: usize| [left + RIM_MM + PITCH_MM * i as f64, top + RIM_MM + PITCH_MM * j as f64];
    for (i, j) in discs() {
        let disc = Mark::circle(at(i, j), DISC_MM / 2.0).filled(Colour::BLACK);
        scene.add(disc.titled(format!("disc {} of row {}", i + 1, j + 1)));
    }
    let middle = [left + width / 2.0, top + RIM_MM + PITCH_MM / 2.0];
    let words = "scale card: 140 x 60 mm between the outer middles";
    scene.text(Text::new(middle, words, 2.4).anchored(Across::Middle, Upright::Middle).coloured(SOFT_INK));
    let middle = [middle[0], middle[1] + 2.0 * PITCH_MM];
    let words = "measured:            x            mm";
    scene.text(Text::new(middle, words, 2.4).anchored(Across::Middle, Upright::Middle).coloured(SOFT_INK));
}

/// A line with a mark across each end.
fn check_line(scene: &mut Scene, from: Point, along: [f64; 2]) {
    let pen = || Stroke::new(INK, 0.2);
    let to = [from[0] + along[0], from[1] + along[1]];
    let title = format!("{:.0} mm check line", along[0].hypot(along[1]));
    scene.add(Mark::path(vec![from, to], false).stroked(pen()).titled(title));
    let aside = if along[0] > 0.0 { [0.0, 2.0] } else { [2.0, 0.0] };
    for [x, y] in [from, to] {
        scene.line([x - aside[0], y - aside[1]], [x + aside[0], y + aside[1]], pen());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_stay_on_both_papers_and_the_discs_stand_20_mm_apart() {
        for paper in Paper::ALL {
            let scene = sheet(paper);
            assert!(scene.check().is_ok());
            let lowest = scene.marks.iter().filter_map(|m| match &m.shape {
                crate::paper::scene::Shape::Text(t) => Some(t.at[1]),
                _ => None,
            });
            assert!(lowest.fold(0.0, f64::max) < scene.height_mm - 8.0, "{paper:?}");
            let discs: Vec<Point> = scene
                .marks
                .iter()
                .filter_map(|m| match &m.shape {
                    crate::paper::scene::Shape::Circle { centre, .. } => Some(*centre),
                    _ => None,
                })
                .collect();
            assert_eq!(discs.len(), 31);
            assert!(
                (discs[1][0] - discs[0][0] - 20.0).abs() < 1e-9 && (discs[30][1] - discs[0][1] - 60.0).abs() < 1e-9
            );
        }
    }
}
