//! The ways tubes were measured, and what each of them sees.

use super::show::Units;
use crate::domain::{Kind, Lot, Reading, Tube, counted, units::decimal};
use crate::lot::FitOutcome;
use crate::tube::{FittedTube, span_mm, vee_deg};
use std::collections::{BTreeMap, BTreeSet};

/// Places nearer to each other than this are one, tenths of a millimetre.
const SAME_PLACE: i64 = 5;
/// Most tubes named one by one.
const MOST_NAMED: usize = 6;

/// One instrument of a way: kind, its size in thousandths of a millimetre or of a degree, lines or directions it was read in.
type Tool = (Kind, i64, usize);

/// Instruments, whether there is a scan beside them, what they see and what not.
type Way = (Vec<Tool>, bool, Vec<&'static str>, Vec<&'static str>);

/// A sentence for every way of measuring among these tubes: what it is, whose, what it sees and what not.
#[must_use]
pub fn ways(lot: &Lot, fits: &[FitOutcome], units: Units) -> Vec<String> {
    let mut groups: BTreeMap<Way, Vec<&Tube>> = BTreeMap::new();
    for (f, tube) in fits.iter().zip(&lot.tubes) {
        let Ok(fit) = &f.fit else { continue };
        let (sees, blind) = sights(fit);
        groups.entry((tools(tube, lot), tube.scan.is_some(), sees, blind)).or_default().push(tube);
    }
    let all = lot.tubes.len();
    groups
        .iter()
        .map(|((tools, scanned, sees, blind), tubes)| {
            let mut way: Vec<String> = tools.iter().map(|tool| told(*tool, tubes, lot, units)).collect();
            if *scanned {
                way.push("a scan".into());
            }
            let list = |words: &[&str]| if words.is_empty() { "nothing".to_string() } else { words.join(", ") };
            format!("{} ({}): sees {}; not seen: {}", way.join(" and "), whose(tubes, all), list(sees), list(blind))
        })
        .collect()
}

/// [`ways`] as lines for a terminal.
#[must_use]
pub fn way_lines(lot: &Lot, fits: &[FitOutcome], units: Units) -> String {
    ways(lot, fits, units).iter().map(|w| super::text::wrapped(w)).collect()
}

/// What is seen, and what is not, in words.
pub(super) fn sights(fit: &FittedTube) -> (Vec<&'static str>, Vec<&'static str>) {
    let s = fit.seen;
    let twist = fit.sight.iter().any(|q| q.quantity == "twist" && q.seen);
    let all = [
        (s.size, "mean size"),
        (s.taper, "taper"),
        (s.oval, "ovality"),
        (s.odd, "odd lobes"),
        (s.bow, "bow"),
        (s.wall, "wall"),
        (twist, "twist"),
    ];
    let of = |seen: bool| all.iter().filter(|q| q.0 == seen).map(|q| q.1).collect();
    (of(true), of(false))
}

/// Every instrument of a tube's readings.
fn tools(tube: &Tube, lot: &Lot) -> Vec<Tool> {
    let mut list: BTreeMap<(Kind, i64), BTreeSet<i64>> = BTreeMap::new();
    for r in &tube.readings {
        list.entry((r.kind, size(r, lot))).or_default().insert(thousandths(r.angle.wrapped().degrees()));
    }
    list.into_iter().map(|((kind, size), angles)| (kind, size, angles.len())).collect()
}

/// The size of the instrument that decides what it sees: span of a bar, angle of a V-block.
fn size(r: &Reading, lot: &Lot) -> i64 {
    let rig = lot.rigs.get(&r.rig);
    thousandths(match r.kind {
        Kind::Bridge => span_mm(r, rig).unwrap_or(0.0),
        Kind::Vee => vee_deg(r, rig).unwrap_or(0.0),
        _ => 0.0,
    })
}

fn told((kind, size, angles): Tool, tubes: &[&Tube], lot: &Lot, units: Units) -> String {
    let places = tubes.iter().map(|t| {
        let mut z: Vec<i64> = t
            .readings
            .iter()
            .filter(|r| r.kind == kind && self::size(r, lot) == size)
            .map(|r| thousandths(r.z_mm) / 100)
            .collect();
        z.sort_unstable();
        z.dedup_by(|a, b| *a - *b < SAME_PLACE);
        z.len()
    });
    let (least, most) = places.fold((usize::MAX, 0), |(a, b), n| (a.min(n), b.max(n)));
    let at = if least == most { counted(most, "place") } else { format!("{least} to {most} places") };
    let word = kind.word();
    let real = f64::from(i32::try_from(size).unwrap_or(i32::MAX)) / 1000.0;
    match kind {
        Kind::Bridge => format!("{word} of {} along {} at {at}", units.with_word(real, 1), counted(angles, "line")),
        Kind::Gap | Kind::Lifted => format!("{word} along {} at {at}", counted(angles, "line")),
        Kind::Vee => format!("{word} of {} deg at {} and {at}", decimal(real, 0), counted(angles, "angle")),
        Kind::Diameter => format!("{word} in {} at {at}", counted(angles, "direction")),
        Kind::Grain => format!("{word} at {at}"),
        _ => format!("{word} at {} and {at}", counted(angles, "angle")),
    }
}

fn whose(tubes: &[&Tube], all: usize) -> String {
    let names: Vec<&str> = tubes.iter().take(MOST_NAMED).map(|t| t.name.as_str()).collect();
    match tubes.len() {
        n if n == all && n > 1 => "all tubes".into(),
        n if n > MOST_NAMED => format!("{} and {} more", names.join(", "), n - MOST_NAMED),
        _ => names.join(", "),
    }
}

/// To tell sizes, angles and places apart.
#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
fn thousandths(x: f64) -> i64 {
    (1000.0 * x).round() as i64
}
