//! What is said about scans: how much was seen, what was left out, and where an arbitrary frame lies on the tube.

use super::fold::fold;
use super::show::Units;
use crate::domain::units::decimal;
use crate::domain::{FoundFrame, Lot, counted};
use crate::tube::{FittedTube, ScanFigures};
use std::fmt::Write as _;

/// A direction less sure than this is no use for finding a line, degrees.
const VAGUE_DEG: f64 = 10.0;

/// Ends whose diameters differ by less than this are not told apart by a caliper on bark, mm; common practice, no source.
const ALIKE_MM: f64 = 0.15;

/// Lines about the scan of one tube, indented; empty without a scan.
#[must_use]
pub fn scan_lines(fit: &FittedTube, units: Units) -> String {
    let Some(s) = &fit.scan else { return String::new() };
    let u = units.word();
    let wall = match s.wall_cells {
        0 => "no wall from the bore".to_string(),
        n => format!("wall from {} of the bore in {}", counted(s.wall_points, "point"), patches(n)),
    };
    let facts = [
        format!("{} in {}", counted(s.points, "point"), patches(s.cells)),
        format!("{:.0} % of the bark seen", 100.0 * s.seen_share),
        format!("one point is good to {} {u}", units.length(s.point_sd_mm, 3)),
        wall,
        format!("left out {} in the bore, the wall or on a sawn face and {} astray", s.inside, s.stray),
    ];
    let mut out = fold("  scan: ", &facts, 4);
    if let Some(f) = &s.found {
        out.push_str(&found_lines(f, units));
    }
    out
}

/// A number of patches in words.
fn patches(n: usize) -> String {
    if n == 1 { "1 patch".into() } else { format!("{n} patches") }
}

/// How to find the line that angles start at, where no index mark says it.
fn found_lines(f: &FoundFrame, units: Units) -> String {
    let u = units.word();
    let length = |mm: f64| units.length(mm, 2);
    let (index, far) = (length(f.index_diameter_mm), length(f.far_diameter_mm));
    let (wide, narrow) = (length(f.widest_mm), length(f.narrowest_mm));
    let mut steps = vec![
        format!("the index end is the thicker end ({index} against {far} {u})"),
        format!("angle 0 is where that end is widest ({wide} {u}, narrowest {narrow} {u})"),
        format!(
            "on the side toward which the tube bulges ({} {u} toward {} deg)",
            length(f.bow_mm),
            decimal(f.bow_deg, 0)
        ),
        "angles run clockwise looking at that end".to_string(),
    ];
    if (f.index_diameter_mm - f.far_diameter_mm).abs() < ALIKE_MM {
        steps.push("the two ends are nearly of one size: take care which is which".into());
    }
    if f.widest_sd_deg > VAGUE_DEG {
        let sd = f.widest_sd_deg;
        steps.push(format!("that end is nearly round, its widest direction only good to {sd:.0} deg"));
        steps.push("draw a line on the tube and give a point of it in scans/index.csv".into());
    }
    let mut out = "  no index mark: angles start at an arbitrary line; to find it on the tube:\n".to_string();
    out.push_str(&fold("    ", &steps, 4));
    out
}

/// Lines about all scans of a set of fits, headed by the tubes' names; empty without any.
#[must_use]
pub fn scans_block<'a>(fits: impl IntoIterator<Item = &'a FittedTube>, units: Units) -> String {
    let mut out = String::new();
    for fit in fits.into_iter().filter(|f| f.scan.is_some()) {
        let _ = write!(out, "{}\n{}", fit.tube, scan_lines(fit, units));
    }
    out
}

/// One line a scan, for `check`.
#[must_use]
pub fn check_lines(lot: &Lot, units: Units) -> String {
    let mut out = String::new();
    for tube in &lot.tubes {
        let Some(scan) = &tube.scan else { continue };
        let mark = if scan.index.is_some() { "index mark given" } else { "no index mark" };
        match ScanFigures::of(tube) {
            Some(s) => {
                let length = scan.unrolled.as_ref().map_or(0.0, |u| u.length_mm);
                let facts = [
                    counted(s.points, "point"),
                    format!("{} long", units.with_word(length, 1)),
                    format!("{:.0} % of the bark", 100.0 * s.seen_share),
                    format!("one point good to {}", units.with_word(s.point_sd_mm, 3)),
                    mark.to_string(),
                ];
                out.push_str(&fold(&format!("scan {}: ", scan.place.file), &facts, 2));
            }
            None => {
                let _ =
                    writeln!(out, "scan {}: {}, not laid out", scan.place.file, counted(scan.points.len(), "point"));
            }
        }
    }
    out
}
