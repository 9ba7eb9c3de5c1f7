//! Reference circles, ellipse and straightness of one tube, as text.

use super::fold::{fold, wrapped};
use super::show::{NOT_SEEN, Units};
use super::table::{Cell, Table};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::numeric::summary::count;
use crate::tube::direct::{AboutCircle, BarLine, DirectFigures, EllipseAt, Roundness, StationFit, Straightness};

/// Roundness of the stations that have it, then their ellipses; a line saying so where no station has either.
#[must_use]
pub(crate) fn roundness_block(d: &DirectFigures, units: Units) -> String {
    let round: Vec<(&StationFit, &Roundness)> =
        d.stations.iter().filter_map(|s| Some((s, s.roundness.as_ref()?))).collect();
    if round.is_empty() {
        return fold("roundness about reference circles: ", &[NOT_SEEN.to_string()], 2);
    }
    let u = units.word();
    let sized = round.iter().any(|(_, r)| r.least_squares.radius_mm.is_some());
    let mut titles =
        vec!["kind".to_string(), format!("z {u}"), "n".into(), "LSCI dev".into(), "MZCI dev".into(), "sd".into()];
    if sized {
        titles.extend(["MCCI dev", "MCCI diam", "MICI dev", "MICI diam"].map(String::from));
    }
    let mut t = Table::new(&titles.iter().map(String::as_str).collect::<Vec<&str>>());
    for (s, r) in &round {
        t.push(round_row(s, r, sized, units));
    }
    let more = if sized { "; MCCI minimum circumscribed, MICI maximum inscribed circle" } else { "" };
    let head = format!(
        "roundness, station by station (dev: from crest to valley about each circle's centre, {u}; LSCI least squares, \
         MZCI minimum zone{more}):"
    );
    let mut out = format!("\n{}{}", wrapped(&head), t.to_text());
    if !sized {
        out.push_str("circumscribed and inscribed circle, ellipse: not seen, since a dial does not know the size\n");
    }
    out.push_str(&foot_line(&round, units));
    out.push_str(&ellipse_block(d, units));
    out
}

/// What a pointed foot would falsify, where that is more than the doubt.
fn foot_line(round: &[(&StationFit, &Roundness)], units: Units) -> String {
    let most = round.iter().map(|(_, r)| r).filter(|r| r.pointed_foot_mm > r.deviation_sd_mm);
    let most = most.map(|r| r.pointed_foot_mm).fold(0.0, f64::max);
    if most > 0.0 {
        let size = units.length(most, 2);
        wrapped(&format!(
            "a flat foot is assumed: so far off the axis a pointed one can show {size} {} that is not there",
            units.word()
        ))
    } else {
        String::new()
    }
}

fn identity(s: &StationFit, units: Units) -> Vec<Cell> {
    vec![
        Cell::text(s.word()),
        Cell::Number(units.number(s.z_mm), units.decimals(1)),
        Cell::Number(count(s.readings), 0),
    ]
}

fn round_row(s: &StationFit, r: &Roundness, sized: bool, units: Units) -> Vec<Cell> {
    let size = |mm: Option<f64>| Cell::seen(mm.map(|v| units.number(v)), units.fine_decimals());
    let deviation = |c: Option<AboutCircle>| size(c.map(|c| c.deviation_mm));
    let diameter = |c: Option<AboutCircle>| size(c.and_then(|c| c.radius_mm).map(|r| 2.0 * r));
    let mut row = identity(s, units);
    row.extend([deviation(Some(r.least_squares)), deviation(r.minimum_zone), size(Some(r.deviation_sd_mm))]);
    if sized {
        let (round, within) = (r.minimum_circumscribed, r.maximum_inscribed);
        row.extend([deviation(round), diameter(round), deviation(within), diameter(within)]);
    }
    row
}

fn ellipse_block(d: &DirectFigures, units: Units) -> String {
    let all: Vec<(&StationFit, &EllipseAt)> =
        d.stations.iter().filter_map(|s| Some((s, s.ellipse.as_ref()?))).collect();
    if all.is_empty() {
        return String::new();
    }
    let u = units.word();
    let titles = [
        "kind".to_string(),
        format!("z {u}"),
        "n".into(),
        format!("largest {u}"),
        "sd".into(),
        format!("smallest {u}"),
        "sd".into(),
        "at deg".into(),
        "sd".into(),
        format!("rms off {u}"),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    let size = |mm: f64| Cell::Number(units.number(mm), units.fine_decimals());
    for (s, e) in all {
        let mut row = identity(s, units);
        row.extend([
            size(2.0 * e.semi_major_mm.value),
            size(2.0 * e.semi_major_mm.sd),
            size(2.0 * e.semi_minor_mm.value),
            size(2.0 * e.semi_minor_mm.sd),
            Cell::known(e.direction_deg.map(|m| m.value), 0),
            Cell::known(e.direction_deg.map(|m| m.sd), 1),
            size(e.rms_mm),
        ]);
        t.push(row);
    }
    format!(
        "\nellipse of least distances, station by station (its direction is that of the oval wave alone):\n{}",
        t.to_text()
    )
}

/// Bars on two feet, a line each; nothing where none was laid.
#[must_use]
pub(crate) fn bar_block(bars: &[BarLine], units: Units) -> String {
    if bars.is_empty() {
        return String::new();
    }
    let u = units.word();
    let titles = [
        "bar deg".to_string(),
        format!("span {u}"),
        "n".into(),
        format!("largest sag {u}"),
        "sd".into(),
        format!("at {u}"),
        format!("radius {u}"),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    for b in bars {
        t.push(vec![
            Cell::Number(b.angle_deg, 0),
            Cell::Number(units.number(b.span_mm), units.decimals(1)),
            Cell::Number(count(b.readings), 0),
            Cell::Number(units.number(b.sag_mm.value), units.fine_decimals()),
            Cell::Number(units.number(b.sag_mm.sd), units.fine_decimals()),
            Cell::Number(units.number(b.at_mm), units.decimals(1)),
            Cell::known(b.radius_mm().map(|r| units.number(r)), 0),
        ]);
    }
    format!("\nbars on two feet, line by line (sag positive where the bark stands high):\n{}", t.to_text())
}

/// Straightness of the centreline and of the bark line that is farthest from straight.
#[must_use]
pub(crate) fn straightness_lines(s: &Straightness, units: Units) -> String {
    let u = units.word();
    let centreline = match s.centreline_mm {
        Some(m) => format!("centreline {} {u} through {}", units.measured(Some(m), 2), counted(s.centres, "station")),
        None => format!("centreline {NOT_SEEN}"),
    };
    let worst = match s.worst() {
        Some(l) => format!(
            "worst of {}: {} {u} at {} deg ({}, {})",
            counted(s.lines.len(), "bark line"),
            units.measured(Some(l.deviation_mm), 2),
            decimal(l.angle_deg, 0),
            l.word(),
            counted(l.stations, "station"),
        ),
        None => format!("bark lines {NOT_SEEN}"),
    };
    fold("straightness (minimum zone): ", &[centreline, worst], 2)
}
