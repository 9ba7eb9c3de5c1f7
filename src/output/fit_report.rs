//! The report of `fit`: stations one by one, and what the readings cannot see.

use super::roundness_block::{bar_block, roundness_block, straightness_lines};
use super::show::{NOT_SEEN, Units};
use super::table::{Cell, Table};
use crate::domain::units::{MM_PER_INCH, decimal};
use crate::domain::{Lot, Tube};
use crate::lot::FitOutcome;
use crate::numeric::summary::count;
use crate::tube::direct::{DirectFigures, StationFit, direct_figures};
use crate::tube::{FittedTube, Measured, Sight};
use std::fmt::Write as _;

/// Lobes told in the text; the JSON has all that the angles carry.
const TOLD_LOBES: std::ops::RangeInclusive<usize> = 3..=5;

/// Stations of one tube as a table, then what they say together.
#[must_use]
pub fn station_block(tube: &Tube, d: &DirectFigures, units: Units) -> String {
    let u = units.word();
    let mut out = if d.stations.is_empty() {
        format!("\n{}, measured directly: no readings round any station\n", tube.name)
    } else {
        station_table(tube, d, units)
    };
    let bow = match d.bow_mm {
        Some(b) => format!(
            "{} {u} toward {}",
            units.measured(Some(b), 2),
            d.bow_deg.map_or("no direction".into(), |a| format!("{} deg", decimal(a, 0)))
        ),
        None => NOT_SEEN.into(),
    };
    let _ = writeln!(out, "bow through the section centres: {bow}");
    if let (Some(r), Some(s)) = (d.bow_radius_mm, d.s_bend_mm) {
        let _ = writeln!(
            out,
            "  radius of that arc {} {u}; to the other side of the chord {} {u}",
            units.length(r, 0),
            units.length(s, 2)
        );
    }
    let _ = writeln!(out, "taper of the diameter: {}", units.measured_taper(d.taper_mm_per_100mm));
    out.push_str(&straightness_lines(&d.straightness, units));
    out.push_str(&bar_block(&d.bars, units));
    if let Some((wall, z, deg)) = d.least_wall {
        let _ = writeln!(
            out,
            "least wall read: {} {u} at {} {u}, {} deg",
            units.length(wall, 2),
            units.length(z, 1),
            decimal(deg, 0)
        );
    }
    out.push_str(&roundness_block(d, units));
    out
}

/// The stations one by one.
fn station_table(tube: &Tube, d: &DirectFigures, units: Units) -> String {
    let u = units.word();
    let titles = [
        "kind".to_string(),
        format!("z {u}"),
        "n".into(),
        format!("diam {u}"),
        "sd".into(),
        format!("x {u}"),
        format!("y {u}"),
        "sd".into(),
        format!("oval {u}"),
        "sd".into(),
        "deg".into(),
        "lobes".into(),
    ];
    let mut t = Table::new(&titles.each_ref().map(String::as_str));
    for s in &d.stations {
        t.push(station_row(s, units));
    }
    let mut out = format!(
        "\n{}\n(centre x, y from the axis; lobes: heights of 3, 4 and 5 waves a turn, in {})\n",
        super::text::wrapped(&format!("{}, measured directly, station by station", tube.name)).trim_end(),
        match units {
            Units::Mm => "um",
            Units::Inch => "0.0001 in",
        }
    );
    out.push_str(&t.to_text());
    out
}

fn station_row(s: &StationFit, units: Units) -> Vec<Cell> {
    let size = |mm: Option<f64>| Cell::seen(mm.map(|v| units.number(v)), units.fine_decimals());
    let known = |mm: Option<f64>| Cell::known(mm.map(|v| units.number(v)), units.fine_decimals());
    // the geometric circle where there is one, else the first harmonic
    let centre = s.circle.map(|c| [c.x, c.y]).or(s.centre);
    let diameter = s.circle.map(|c| (2.0 * c.r.value, 2.0 * c.r.sd)).or(s.diameter_mm.map(|m| (m.value, m.sd)));
    let fine = match units {
        Units::Mm => 1000.0,
        Units::Inch => 10_000.0,
    };
    // a lobe between two that are seen may be one the V-block hides
    let height = |n: usize| s.lobes.iter().find(|l| l.0 == n).map(|l| decimal(fine * units.number(l.1), 0));
    let top = s.lobes.iter().map(|l| l.0).filter(|n| TOLD_LOBES.contains(n)).max().unwrap_or(0);
    let lobes: Vec<String> = TOLD_LOBES.filter(|n| *n <= top).map(|n| height(n).unwrap_or("-".into())).collect();
    vec![
        Cell::text(s.word()),
        Cell::Number(units.number(s.z_mm), units.decimals(1)),
        Cell::Number(count(s.readings), 0),
        size(diameter.map(|d| d.0)),
        known(diameter.map(|d| d.1)),
        size(centre.map(|c| c[0].value)),
        known(centre.map(|c| c[1].value)),
        known(centre.map(|c| c[0].sd)),
        size(s.ovality.map(|o| o.difference())),
        known(s.ovality_sd_mm),
        Cell::known(s.ovality_deg, 0),
        Cell::text(lobes.join(" ")),
    ]
}

/// [`blind`] as lines for a terminal.
#[must_use]
pub fn blind_lines(lot: &Lot, fits: &[FitOutcome]) -> String {
    blind(lot, fits).iter().map(|b| super::text::wrapped(b)).collect()
}

/// What the readings of each tube cannot see, a sentence for each group of tubes that share it.
#[must_use]
pub fn blind(lot: &Lot, fits: &[FitOutcome]) -> Vec<String> {
    let mut groups: std::collections::BTreeMap<String, Vec<&str>> = std::collections::BTreeMap::new();
    for f in fits {
        let Ok(fit) = &f.fit else { continue };
        let told = |what: &str| match what {
            "twist" => "twist (the grain is taken as running true)".to_string(),
            other => other.to_string(),
        };
        let unseen: Vec<String> = super::ways::sights(fit).1.into_iter().map(told).collect();
        if !unseen.is_empty() {
            groups.entry(unseen.join(", ")).or_default().push(&f.tube);
        }
    }
    groups
        .into_iter()
        .map(|(what, tubes)| {
            let who = if tubes.len() == lot.tubes.len() { "all tubes".to_string() } else { tubes.join(", ") };
            format!("not seen by these readings: {what} ({who})")
        })
        .collect()
}

/// How well each quantity is seen, tube by tube: the standard deviation with the readings, where they see it; the first row
/// is the doubt before any reading.
#[must_use]
pub fn sight_table(fits: &[FitOutcome], units: Units) -> Table {
    let good: Vec<&FittedTube> = fits.iter().filter_map(|f| f.fit.as_ref().ok()).collect();
    let list = good.first().map_or(&[][..], |f| &f.sight);
    let titles: Vec<String> = std::iter::once("sd of".to_string())
        .chain(list.iter().map(|s| format!("{} {}", s.quantity, sight_unit(s, units).0)))
        .collect();
    let cells = |name: &str, sights: &[Sight], before: bool| -> Vec<Cell> {
        let one = |s: &Sight| {
            let value = if before { Some(s.prior_sd) } else { s.seen.then_some(s.sd) };
            let (_, a_unit, decimals) = sight_unit(s, units);
            Cell::seen(value.map(|sd| sd * a_unit), decimals)
        };
        std::iter::once(Cell::text(name)).chain(sights.iter().map(one)).collect()
    };
    let mut t = Table::new(&titles.iter().map(String::as_str).collect::<Vec<&str>>());
    if !list.is_empty() {
        t.push(cells("(before)", list, true));
    }
    for fit in good {
        t.push(cells(&fit.tube, &fit.sight, false));
    }
    t
}

/// The word of the unit that a doubt is told in, how much of it one of the doubt's own is, and the decimals it is told with.
fn sight_unit(s: &Sight, units: Units) -> (&'static str, f64, usize) {
    match (s.unit, units) {
        ("mm per 100 mm", _) => (units.taper_word(), units.taper(1.0), units.taper_decimals() + 1),
        // a hundred millimetres to a foot
        ("deg per 100 mm", Units::Inch) => ("deg per ft", 12.0 * MM_PER_INCH / 100.0, 1),
        ("mm", Units::Inch) => ("in", 1.0 / MM_PER_INCH, units.fine_decimals()),
        (unit, _) => (unit, 1.0, if unit.starts_with("deg") { 1 } else { 3 }),
    }
}

/// The figures of every tube with its straightness as measured, for a spreadsheet. Every bark line stands in the JSON only.
#[must_use]
pub fn fit_table(lot: &Lot, fits: &[FitOutcome], units: Units) -> Table {
    let u = units.word();
    let mut table = super::tables::figures_table(fits, units);
    let size = |m: Option<Measured>| {
        let number = |mm: f64| Cell::Number(units.number(mm), units.decimals(2));
        [m.map_or(Cell::NotSeen, |m| number(m.value)), m.map_or(Cell::Empty, |m| number(m.sd))]
    };
    let rows = fits.iter().zip(&lot.tubes).filter(|(f, _)| f.fit.is_ok()).map(|(_, tube)| {
        let s = direct_figures(tube, &lot.rigs).straightness;
        let worst = s.worst();
        let mut row = size(s.centreline_mm).to_vec();
        row.extend(size(worst.map(|l| l.deviation_mm)));
        row.push(Cell::known(worst.map(|l| l.angle_deg), 0));
        row
    });
    let titles = [
        format!("centreline straightness {u}"),
        "sd".into(),
        format!("worst bark line {u}"),
        "sd".into(),
        "line deg".into(),
    ];
    table.widen(&titles.each_ref().map(String::as_str), rows.collect::<Vec<_>>());
    table
}
