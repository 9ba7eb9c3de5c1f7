//! What is said about scans: how much was seen, what was left out, and where an arbitrary frame lies on the tube.

use super::json::num;
use super::show::Units;
use crate::domain::{FoundFrame, Lot};
use crate::tube::{FittedTube, ScanFigures};
use serde_json::{Value, json};
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
    let mut out = String::new();
    let _ = writeln!(
        out,
        "  scan: {} points in {} patches, {:.0} % of the bark seen; one point is good to {} {u}; left out: {} in the \
         bore, wall or on a sawn face, {} astray",
        s.points,
        s.cells,
        100.0 * s.seen_share,
        units.length(s.point_sd_mm, 3),
        s.inside,
        s.stray,
    );
    if let Some(f) = &s.found {
        out.push_str(&found_lines(f, units));
    }
    out
}

/// How to find the line that angles start at, where no index mark says it.
fn found_lines(f: &FoundFrame, units: Units) -> String {
    let u = units.word();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "  no index mark: angles start at an arbitrary line. To find it on the tube: the index end is the thicker end \
         ({} against {} {u} mean diameter); angle 0 is where that end is widest ({} {u}, narrowest {} {u}), on the side \
         toward which the tube bulges ({} {u}, toward {:.0} deg); angles run clockwise looking at that end.",
        units.length(f.index_diameter_mm, 2),
        units.length(f.far_diameter_mm, 2),
        units.length(f.widest_mm, 2),
        units.length(f.narrowest_mm, 2),
        units.length(f.bow_mm, 2),
        f.bow_deg,
    );
    if (f.index_diameter_mm - f.far_diameter_mm).abs() < ALIKE_MM {
        out.push_str("  The two ends are nearly of one size: take care which is which.\n");
    }
    if f.widest_sd_deg > VAGUE_DEG {
        let _ = writeln!(
            out,
            "  That end is nearly round: its widest direction is only good to {:.0} deg. Draw a line on the tube and give \
             a point of it in scans/index.csv.",
            f.widest_sd_deg
        );
    }
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
pub fn check_lines(lot: &Lot) -> String {
    let mut out = String::new();
    for tube in &lot.tubes {
        let Some(scan) = &tube.scan else { continue };
        let mark = if scan.index.is_some() { "index mark given" } else { "no index mark" };
        match ScanFigures::of(tube) {
            Some(s) => {
                let length = scan.unrolled.as_ref().map_or(0.0, |u| u.length_mm);
                let _ = writeln!(
                    out,
                    "scan {}: {} points, {:.1} mm long, {:.0} % of the bark, one point good to {:.3} mm, {mark}",
                    scan.place.file,
                    s.points,
                    length,
                    100.0 * s.seen_share,
                    s.point_sd_mm,
                );
            }
            None => {
                let _ = writeln!(out, "scan {}: {} points, not laid out", scan.place.file, scan.points.len());
            }
        }
    }
    out
}

/// A scan's figures as JSON; null without a scan.
#[must_use]
pub fn scan_json(scan: Option<&ScanFigures>) -> Value {
    let Some(s) = scan else { return Value::Null };
    json!({
        "points": s.points,
        "cells": s.cells,
        "inside": s.inside,
        "stray": s.stray,
        "point_sd_mm": num(s.point_sd_mm),
        "seen_share": num(s.seen_share),
        "index_mark": s.found.is_none(),
        "found": s.found.map(|f| json!({
            "index_diameter_mm": num(f.index_diameter_mm),
            "far_diameter_mm": num(f.far_diameter_mm),
            "widest_mm": num(f.widest_mm),
            "narrowest_mm": num(f.narrowest_mm),
            "widest_sd_deg": num(f.widest_sd_deg),
            "bow_mm": num(f.bow_mm),
            "bow_deg": num(f.bow_deg),
        })),
    })
}
