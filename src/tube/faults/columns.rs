//! Columns that were interchanged: the angle where the place belongs, the place where the value belongs, and so on.
//!
//! Found before anything is fitted, from what each column holds, for then no reading says anything of the tube: values of
//! one kind lie close together, places lie on the tube, angles go round in even steps. A column that is none of this in
//! its own place but is so in another is suspected, and `super` asks the evidence of all readings whether it is so.

use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::summary::{count, median};
use std::collections::BTreeMap;

/// Fewer readings than this have no habits.
const LEAST: usize = 6;
/// Values of a kind from a dial or straightedge lie at most so far apart (median distance from their median), mm: the bow
/// of a very crooked tube.
const SPREAD_MM: f64 = 5.0;
/// A size lies at most this share from the median size.
const SIZE_SHARE: f64 = 0.25;
/// A place may lie so far off the tube, mm.
const OFF_TUBE_MM: f64 = 1.0;
/// A share of readings that may be odd in a column of the right meaning.
const ODD_SHARE: f64 = 0.1;
/// Figures this close count as one.
const SAME: f64 = 0.2;
/// Angles are set in steps of at least this, degrees.
const ANGLE_STEP_DEG: f64 = 5.0;

/// What a column means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    /// Distance from the index end.
    Place,
    /// Direction round the tube.
    Angle,
    /// The reading itself.
    Value,
}

use Column::{Angle as A, Place as P, Value as V};

impl Column {
    /// As it is called in a table.
    pub(super) fn word(self) -> &'static str {
        match self {
            Column::Place => "z",
            Column::Angle => "angle",
            Column::Value => "value",
        }
    }

    /// What it holds.
    pub(super) fn holds(self) -> &'static str {
        match self {
            Column::Place => "the places",
            Column::Angle => "the angles",
            Column::Value => "the values",
        }
    }
}

/// What really stands under the headings z, angle and value.
pub(super) type Order = [Column; 3];

/// Every wrong order: first two columns interchanged, then all three.
const WRONG: [Order; 5] = [[A, P, V], [V, A, P], [P, V, A], [A, V, P], [V, P, A]];

/// Readings of one kind and rig whose columns look interchanged.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Interchanged {
    pub(super) kind: Kind,
    pub(super) members: Vec<usize>,
    pub(super) order: Order,
}

impl Interchanged {
    /// The tube as it would read with every column in its place.
    pub(super) fn mended(&self, tube: &Tube) -> Tube {
        let mut out = tube.clone();
        for &i in &self.members {
            let r = &mut out.readings[i];
            let written = figures(r);
            let of = |meaning: Column| self.order.iter().position(|&c| c == meaning).map_or(0.0, |at| written[at]);
            let [z, angle, value] = [P, A, V].map(of);
            (r.z_mm, r.angle, r.value_mm) = (z, Angle::from_degrees(angle), value);
        }
        if out.length_is_guess {
            out.length_mm = out.readings.iter().map(|r| r.z_mm).fold(0.0, f64::max);
        }
        out
    }
}

/// The figures under z, angle and value. An angle is read as what may have been written: up to half a turn either way.
fn figures(r: &Reading) -> [f64; 3] {
    let deg = r.angle.degrees();
    [r.z_mm, if deg > 340.0 && deg < 360.0 && deg.fract().abs() > 1e-6 { deg - 360.0 } else { deg }, r.value_mm]
}

/// Every kind whose columns look interchanged, with the likeliest order of each.
pub(super) fn interchanged(tube: &Tube) -> Vec<Interchanged> {
    let mut groups: BTreeMap<(Kind, &str), Vec<usize>> = BTreeMap::new();
    for (i, r) in tube.readings.iter().enumerate().filter(|(_, r)| r.kind.is_outside()) {
        groups.entry((r.kind, r.rig.as_str())).or_default().push(i);
    }
    let one = |((kind, _), members): ((Kind, &str), Vec<usize>)| {
        let columns = [0, 1, 2].map(|c| members.iter().map(|&i| figures(&tube.readings[i])[c]).collect::<Vec<f64>>());
        let order = order(kind, &columns, tube.length_mm, tube.length_is_guess)?;
        Some(Interchanged { kind, members, order })
    };
    groups.into_iter().filter(|(_, m)| m.len() >= LEAST).filter_map(one).collect()
}

fn order(kind: Kind, columns: &[Vec<f64>; 3], length_mm: f64, guessed: bool) -> Option<Order> {
    let [z, angle, value] = columns;
    let is_value = |c: &[f64]| is_value(kind, c);
    let is_place = |c: &[f64]| is_place(c, if guessed { f64::MAX } else { length_mm });
    let plain = is_value(value) && is_place(z);
    // where all are possible, only places that go once round and angles that do not tell
    if plain && (is_round(angle) || !goes_round(z) || distinct(angle).len() < 3 || in_steps(angle)) {
        return None;
    }
    let at = |order: &Order, meaning: Column| {
        let place = order.iter().position(|&c| c == meaning).unwrap_or(0);
        columns[place].as_slice()
    };
    let possible = |o: &&Order| {
        let round = at(o, A);
        (!plain || o[2] == V) && is_value(at(o, V)) && is_place(at(o, P)) && (is_round(round) || in_steps(round))
    };
    WRONG.iter().filter(possible).max_by_key(|o| (is_round(at(o, A)), std::cmp::Reverse(moved(o)))).copied()
}

fn moved(order: &Order) -> usize {
    order.iter().zip([P, A, V]).filter(|(a, b)| **a != *b).count()
}

/// Values of one kind are alike, whatever the tube; a share of them may have slipped.
fn is_value(kind: Kind, c: &[f64]) -> bool {
    let middle = median(c);
    let off: Vec<f64> = c.iter().map(|v| (v - middle).abs()).collect();
    match kind {
        Kind::Runout | Kind::Vee | Kind::Gap | Kind::Lifted | Kind::Bridge => median(&off) <= SPREAD_MM,
        _ => middle > 0.0 && median(&off) <= SIZE_SHARE * middle,
    }
}

fn is_place(c: &[f64], length_mm: f64) -> bool {
    let off = c.iter().filter(|&&z| !(-OFF_TUBE_MM..=length_mm + OFF_TUBE_MM).contains(&z)).count();
    count(off) <= ODD_SHARE * count(c.len())
}

fn distinct(c: &[f64]) -> Vec<f64> {
    let mut list = c.to_vec();
    list.sort_by(f64::total_cmp);
    list.dedup_by(|a, b| (*a - *b).abs() < SAME);
    list
}

/// Even steps that close after a whole or half turn.
fn is_round(c: &[f64]) -> bool {
    turn_of(c).is_some()
}

/// Even steps from 0 that close after a whole turn, or half a turn in six or more.
fn goes_round(c: &[f64]) -> bool {
    let list = distinct(c);
    list.first().is_some_and(|a| a.abs() < SAME) && list.len() >= 6 && is_round(c)
}

fn turn_of(c: &[f64]) -> Option<f64> {
    let list = distinct(c);
    let step = list.get(1)? - list[0];
    let even = list.windows(2).all(|w| (w[1] - w[0] - step).abs() < SAME);
    let turn = step * count(list.len());
    [180.0, 360.0].into_iter().find(|t| even && (turn - t).abs() < SAME)
}

/// Figures as angles are set: multiples of a whole step, within one turn.
fn in_steps(c: &[f64]) -> bool {
    c.iter()
        .all(|v| (v / ANGLE_STEP_DEG - (v / ANGLE_STEP_DEG).round()).abs() * ANGLE_STEP_DEG < 1e-6 && v.abs() <= 360.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Widths in six directions at six places of a tube of 200 mm, the columns written in this order.
    fn tube(kind: Kind, order: Order, listed: bool) -> Tube {
        let mut tube = Tube { name: "C".into(), length_mm: if listed { 200.0 } else { 0.0 }, ..Tube::default() };
        tube.length_is_guess = !listed;
        for station in 0..6 {
            for turn in 0..12 {
                let (z, a) = (5.0 + 37.0 * f64::from(station), 30.0 * f64::from(turn));
                let size = if kind == Kind::Runout { 0.3 } else { 12.7 };
                let v = size + 0.2 * (2.0 * a.to_radians()).cos() + 0.01 * f64::from(station);
                let at = order.map(|c| match c {
                    Column::Place => z,
                    Column::Angle => a,
                    Column::Value => v,
                });
                tube.readings.push(Reading::new(kind, at[0], Angle::from_degrees(at[1]), at[2]));
                tube.length_mm = if listed { 200.0 } else { tube.length_mm.max(at[0]) };
            }
        }
        tube
    }

    #[test]
    fn every_wrong_order_is_recognised_and_mended() {
        for kind in [Kind::Runout, Kind::Radius] {
            for order in WRONG {
                for listed in [true, false] {
                    let wrong = tube(kind, order, listed);
                    let found = interchanged(&wrong);
                    let [one] = found.as_slice() else { panic!("{kind:?} {order:?} {listed}: {found:?}") };
                    assert_eq!(one.order, order, "{kind:?} {listed}");
                    let mended = one.mended(&wrong);
                    let right = tube(kind, [P, A, V], listed);
                    assert!((mended.length_mm - right.length_mm).abs() < 1e-9);
                    for (a, b) in mended.readings.iter().zip(&right.readings) {
                        let angle = (a.angle.degrees() - b.angle.degrees()).abs();
                        let apart = [a.z_mm - b.z_mm, angle, a.value_mm - b.value_mm];
                        assert!(apart.iter().all(|d| d.abs() < 1e-9), "{apart:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn columns_in_their_place_are_left_alone() {
        for kind in [Kind::Runout, Kind::Radius, Kind::Diameter, Kind::Gap] {
            for listed in [true, false] {
                assert_eq!(interchanged(&tube(kind, [P, A, V], listed)), Vec::new(), "{kind:?}");
            }
        }
        // stations 30 mm apart from 0 go round as angles do, and irregular angles do not
        let mut odd = tube(Kind::Runout, [P, A, V], true);
        odd.length_mm = 400.0;
        for (n, r) in odd.readings.iter_mut().enumerate() {
            r.z_mm = 30.0 * count(n / 6);
            r.angle = Angle::from_degrees([0.0, 30.0, 90.0, 180.0, 200.0, 250.0][n % 6]);
        }
        assert_eq!(interchanged(&odd), Vec::new());
        // half the decimal marks slipped still leaves values alike
        let mut slipped = tube(Kind::Diameter, [P, A, V], true);
        slipped.readings.iter_mut().step_by(3).for_each(|r| r.value_mm *= 10.0);
        assert_eq!(interchanged(&slipped), Vec::new());
    }
}
