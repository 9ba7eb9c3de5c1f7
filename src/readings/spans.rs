//! Bars on two feet, once all files are read: every one has a span, and both its feet stand on the tube.

use super::book::Book;
use crate::domain::{Kind, Place, Reading, counted};
use std::collections::BTreeMap;

/// A foot may stand so far beyond an end by rounding, mm.
const END_ROUNDING_MM: f64 = 1e-6;

/// The farthest place a reading touches, mm.
pub(super) fn reach_mm(r: &Reading) -> f64 {
    r.z_mm + r.span_mm.filter(|_| r.kind == Kind::Bridge).unwrap_or(0.0) / 2.0
}

/// Reports bars without a span, once a tube and rig, and those of which a foot stands beyond an end, each by itself.
pub(super) fn check(book: &mut Book) {
    let mut wrong: Vec<(Place, String, String, String, String)> = Vec::new();
    for tube in &book.lot.tubes {
        let mut without: BTreeMap<&str, (&Place, usize)> = BTreeMap::new();
        for r in tube.readings.iter().filter(|r| r.kind == Kind::Bridge) {
            let Some(span) = r.span_mm else {
                without.entry(&r.rig).or_insert((&r.place, 0)).1 += 1;
                continue;
            };
            let (near, far) = (r.z_mm - span / 2.0, r.z_mm + span / 2.0);
            let beyond = if near < -END_ROUNDING_MM {
                near
            } else if tube.length_mm > 0.0 && far > tube.length_mm + END_ROUNDING_MM {
                far
            } else {
                continue;
            };
            let found = format!("a bar of {span} mm about {} mm: a foot at {} mm", r.z_mm, round(beyond));
            let expected = format!("both feet from 0 to {} mm", tube.length_mm);
            let fix = "the place of a bar is its middle, under the dial; check it, the span and the tube's length";
            wrong.push((r.place.clone(), tube.name.clone(), found, expected, fix.into()));
        }
        for (rig, (place, rows)) in without {
            let found = format!("no span of the bar ({})", counted(rows, "reading"));
            let fix = if rig.is_empty() {
                "add a column span_mm with the distance between its feet, or name a rig and write span = \"70 mm\" under it"
                    .to_string()
            } else {
                format!("write span = \"70 mm\", as it is, under [rig.{rig}] in lot.toml, or add a column span_mm")
            };
            let expected = "the distance between the two feet".to_string();
            wrong.push((place.clone(), tube.name.clone(), found, expected, fix));
        }
    }
    for (place, tube, found, expected, fix) in wrong {
        book.findings.error(place, Some(&tube), found, expected, fix);
    }
}

/// To a micrometre, as it is told.
fn round(mm: f64) -> f64 {
    (mm * 1000.0).round() / 1000.0
}
