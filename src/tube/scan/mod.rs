//! Scans laid out on their tubes: axis and ends found, points turned into patches of bark.
//!
//! 1. A fair share of the points (all of a small scan) without those that stand alone gives a first axis.
//! 2. A smooth surface fitted to them tells bark from bore, sawn face and stray.
//! 3. Every point is seen from it, in time linear in the points; the ends are found, the index line is laid.
//! 4. Bark points are gathered into patches of 5 degrees by 4 mm, each a robust mean with its sd from the points' own
//!    scatter, which enter the belief as radii about an axis that is only nearly the tube's.
//! 5. Bore points across from bark are gathered into patches of wall (see `wall`).
//!
//! What more points do not lessen: a scanner's error of scale and the thickness of a spray are common to the whole scan
//! and enter as one unknown on the radius with the sd `[scan] accuracy`, and another on the wall with twice that sd, since a
//! spray lies on both of its faces; no patch is surer than a quarter of it. Errors of form longer than a patch and shorter than the tube are not modelled: they look like the tube.
//!
//! A scan is taken as right-handed: a mirrored one cannot be told from a mirrored tube.

mod cells;
mod ends;
mod fault;
mod frame;
mod laid;
mod place;
mod rough;
mod smooth;
mod thin;
mod wall;

use crate::domain::{Finding, Kind, Lot, MarkAt, Place, Scan, Severity, Tube, Unrolled, counted};
use crate::numeric::summary::mean;
use ends::{Part, ends, part};
use fault::DIAMETERS_MM;
use laid::Laid;
use rayon::prelude::*;
use smooth::{Smooth, Spot};
use std::borrow::Cow;

pub use fault::{LEAST_POINTS, ScanFault};

/// Points that axis and smooth surface are found with.
const SHARE: usize = 12_000;
/// Scanned and listed length may differ by this much before it is more than a ragged end, mm.
const SAME_LENGTH_MM: f64 = 2.0;
/// Below this share of the bark a scan is called partial.
const WHOLE_SHARE: f64 = 0.95;

/// Lays one scan out. `listed_mm` is the tube's length where a list gives it; the second answer is the length to use.
///
/// # Errors
/// See [`ScanFault`].
pub fn unroll(scan: &Scan, listed_mm: Option<f64>) -> Result<(Unrolled, f64), ScanFault> {
    let points = &scan.points;
    if points.len() < LEAST_POINTS {
        return Err(ScanFault::TooFew { got: points.len() });
    }
    let some = thin::without_strays(thin::thin(points, SHARE));
    let rough = rough::rough_axis(&some).ok_or(ScanFault::NoTube)?;
    let smooth = Smooth::fit(&some, &rough).ok_or(ScanFault::NoTube)?;
    let diameter_mm = 2.0 * smooth.radius;
    if !(DIAMETERS_MM.0..=DIAMETERS_MM.1).contains(&diameter_mm) {
        return Err(ScanFault::Size { diameter_mm });
    }
    let mut spots: Vec<(Spot, Part)> = points
        .par_iter()
        .map(|p| {
            let spot = smooth.spot(*p);
            (spot, part(&spot, &smooth))
        })
        .collect();
    let ends = ends(&spots, &smooth).ok_or(ScanFault::NoTube)?;
    for (spot, part) in &mut spots {
        // bark beyond an end, other than by the roughness of the cut, is none
        if spot.z < ends.0 - SAME_LENGTH_MM || spot.z > ends.1 + SAME_LENGTH_MM {
            *part = Part::Stray;
        }
    }
    let turn = frame::turn(scan.index.as_ref(), &smooth, ends)?;
    let (start, length) = placed(listed_mm, ends.1 - ends.0);
    let floor = scan.accuracy_mm / 4.0;
    let laid = Laid { smooth: &smooth, ends, turn, start, length };
    let patches = cells::gather(&spots, &laid, floor);
    if patches.used < LEAST_POINTS / 2 {
        return Err(ScanFault::TooFew { got: patches.used });
    }
    let walls = wall::walls(&spots, &patches, &laid, floor);
    let stray = spots.iter().filter(|(_, p)| *p == Part::Stray).count();
    let inside = spots.iter().filter(|(_, p)| *p == Part::Inside).count();
    let near_end = crate::numeric::summary::count(patches.used) / 10.0;
    let oval_sd = patches.point_sd * (2.0 / near_end).sqrt();
    let unrolled = Unrolled {
        points: points.len(),
        used: patches.used,
        wall_points: walls.used,
        inside: inside - walls.used,
        stray: stray + patches.left_out,
        point_sd_mm: patches.point_sd,
        length_mm: ends.1 - ends.0,
        seen_share: cells::seen_share(&patches.cells, length),
        found: scan.index.is_none().then(|| frame::found(&smooth, ends, turn, oval_sd.hypot(floor))),
        cells: patches.cells,
        walls: walls.cells,
    };
    Ok((unrolled, length))
}

/// Where the index end of the scan stands on the tube, and the tube's length: the listed one, unless more was scanned.
fn placed(listed_mm: Option<f64>, scanned: f64) -> (f64, f64) {
    match listed_mm {
        Some(listed) if (listed - scanned).abs() <= SAME_LENGTH_MM => ((listed - scanned) / 2.0, listed),
        Some(listed) if listed > scanned => (0.0, listed),
        _ => (0.0, scanned),
    }
}

/// Lays out the scans of a lot. Tubes whose scan cannot be used are put in doubt; the findings say why, and whatever else
/// a maker should know. The points are then let go: the patches hold what they say.
pub fn unroll_lot(lot: &mut Lot) -> Vec<Finding> {
    let lists: Vec<Vec<Finding>> = lot.tubes.par_iter_mut().map(lay_out).collect();
    lists.into_iter().flatten().collect()
}

/// The tube with its scan laid out; borrowed when there is nothing to do.
///
/// # Errors
/// See [`ScanFault`].
pub fn ready(tube: &Tube) -> Result<Cow<'_, Tube>, ScanFault> {
    let Some(scan) = tube.scan.as_ref().filter(|s| s.unrolled.is_none()) else { return Ok(Cow::Borrowed(tube)) };
    let (unrolled, length) = unroll(scan, listed(tube))?;
    let mut own = tube.clone();
    take(&mut own, unrolled, length);
    Ok(Cow::Owned(own))
}

fn listed(tube: &Tube) -> Option<f64> {
    Some(tube.length_mm).filter(|mm| *mm > 0.0 && !tube.length_is_guess)
}

fn lay_out(tube: &mut Tube) -> Vec<Finding> {
    let Some(scan) = tube.scan.as_ref().filter(|s| s.unrolled.is_none() && !tube.in_doubt) else { return Vec::new() };
    let place = scan.place.clone();
    match unroll(scan, listed(tube)) {
        Ok((unrolled, length)) => {
            let mut out = notes(tube, &unrolled, &place);
            if let Some(note) = take(tube, unrolled, length) {
                out.push(finding(Severity::Note, tube, &place, note));
            }
            out
        }
        Err(fault) => {
            let place = match (&fault, &scan.index) {
                (ScanFault::MarkOff { .. }, Some(mark)) => mark.place.clone(),
                _ => place,
            };
            tube.in_doubt = true;
            vec![finding(Severity::Error, tube, &place, [fault.to_string(), fault.expected(), fault.fix()])]
        }
    }
}

/// Puts the patches in the place of the points, and sets aside what cannot be joined to them; says so.
fn take(tube: &mut Tube, unrolled: Unrolled, length: f64) -> Option<[String; 3]> {
    let free = unrolled.found.is_some();
    tube.length_mm = length;
    if let Some(scan) = &mut tube.scan {
        scan.points = Vec::new();
        scan.unrolled = Some(unrolled);
    }
    (free && !(tube.readings.is_empty() && tube.marks.is_empty())).then(|| set_aside(tube, length))
}

/// Without an index mark nobody knows how readings and marks are turned against the scan, nor from which end they were
/// measured: readings are set aside (of the wall their mean is kept), marks are kept clear all round and from both ends.
fn set_aside(tube: &mut Tube, length: f64) -> [String; 3] {
    let readings = std::mem::take(&mut tube.readings);
    let walls: Vec<f64> = readings.iter().filter(|r| r.kind == Kind::Wall).map(|r| r.value_mm).collect();
    if !walls.is_empty() && tube.wall_mm.is_none() {
        tube.wall_mm = Some(mean(&walls));
    }
    let marks = std::mem::take(&mut tube.marks);
    let count = marks.len();
    for mut mark in marks {
        (mark.from, mark.to) = (None, None);
        let mut mirrored = mark.clone();
        (mirrored.from_mm, mirrored.to_mm) = ((length - mark.to_mm).max(0.0), (length - mark.from_mm).max(0.0));
        tube.marks.push(mark);
        tube.marks.push(mirrored);
    }
    let wall = if walls.is_empty() { "" } else { ", of the wall only their mean is kept" };
    let mut parts = Vec::new();
    if !readings.is_empty() {
        let are = if readings.len() == 1 { "is" } else { "are" };
        parts.push(format!("{} besides it {are} set aside{wall}", counted(readings.len(), "reading")));
    }
    if count > 0 {
        let are = if count == 1 { "is" } else { "are" };
        parts.push(format!("{} {are} kept clear all round and from both ends", counted(count, "mark")));
    }
    [
        format!("a scan without an index mark: {}", parts.join("; ")),
        "the index line of the scan, without which it cannot be joined to anything else".into(),
        "give a point on the index line in scans/index.csv (tube, x, y, z)".into(),
    ]
}

fn finding(severity: Severity, tube: &Tube, place: &Place, [found, expected, fix]: [String; 3]) -> Finding {
    Finding { severity, place: place.clone(), found, expected, fix, tube: Some(tube.name.clone()) }
}

/// What a maker should know of a scan that was laid out.
fn notes(tube: &Tube, u: &Unrolled, place: &Place) -> Vec<Finding> {
    let mut out = Vec::new();
    if let Some(mm) = listed(tube)
        && (mm - u.length_mm).abs() > SAME_LENGTH_MM
    {
        let fix = if u.length_mm < mm {
            "taken to begin at the index end, the rest as not seen; scan the whole tube, or correct its length"
        } else {
            "the scanned length is used; correct the length in tubes.csv"
        };
        let found = format!("a scan {:.1} mm long", u.length_mm);
        out.push(finding(Severity::Note, tube, place, [found, format!("the tube's length, {mm:.1} mm"), fix.into()]));
    }
    if u.seen_share < WHOLE_SHARE {
        let found = format!("a scan of {:.0} % of the bark", 100.0 * u.seen_share);
        let fix = "nothing to do: what was not scanned stays in doubt; scan the other sides for a surer plan";
        out.push(finding(Severity::Note, tube, place, [found, "all of it".into(), fix.into()]));
    }
    if let Some(index) = tube.scan.as_ref().and_then(|s| s.index.as_ref())
        && let MarkAt::Angle(_) = index.at
    {
        let fix = "nothing to do while the file of the scan stays the same; a point on the line is safer";
        let found = "an index line given by its angle".to_string();
        out.push(finding(Severity::Note, tube, &index.place, [found, "a point on the line".into(), fix.into()]));
    }
    out
}
