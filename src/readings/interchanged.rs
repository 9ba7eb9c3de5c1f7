//! Columns under each other's headings, where the reader already refuses most of their rows: said once, before the rows.
//!
//! What still can be read so is found later, from what the readings say of the tube (`tube::faults`).

use super::book::Book;
use super::columns::Columns;
use super::plausible::sizes;
use super::readings_row::known_length;
use super::table::{Row, Table};
use crate::domain::{
    Kind, counted,
    units::{DecimalMark, LengthUnit, MM_PER_INCH, Unit, parse_number},
};
use std::collections::BTreeMap;

/// Fewer rows of a tube and kind have no habits.
const LEAST_ROWS: usize = 6;
/// Of a right order at least this share of the rows must make sense, of a wrong one at most the other; own choice.
const RIGHT: f64 = 0.9;
const WRONG: f64 = 0.5;
/// Angles are set in whole steps of this, degrees.
const ANGLE_STEP_DEG: f64 = 5.0;
/// A place may lie so far off its tube, mm.
const OFF_TUBE_MM: f64 = 1.0;
/// Of a tube whose length nobody gave, mm.
const LONGEST_MM: f64 = 3000.0;

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Holds {
    Places,
    Angles,
    Values,
}

use Holds::{Angles as A, Places as P, Values as V};

/// What really stands under z, angle and value.
type Order = [Holds; 3];

const AS_HEADED: Order = [P, A, V];
const OTHERS: [Order; 5] = [[A, P, V], [V, A, P], [P, V, A], [A, V, P], [V, P, A]];

/// The readings of one tube and kind as they were typed.
struct Group {
    kind: Kind,
    length_mm: f64,
    rows: Vec<[f64; 3]>,
}

/// Says of which tubes the columns z, angle and value look interchanged.
pub(super) fn note(table: &Table, columns: &Columns, book: &mut Book) {
    let [Some(z), Some(angle), Some(value)] = ["z", "angle", "value"].map(|name| columns.get(name)) else { return };
    // figures that change their column change their unit with it: between inches and mm nothing can be told by size
    let (Some(along), Some(across)) = (mm_a_unit(z.unit), mm_a_unit(value.unit)) else { return };
    let same_unit = (along - across).abs() < f64::EPSILON;
    if !same_unit {
        return;
    }
    let mut groups: BTreeMap<(&str, &str), Group> = BTreeMap::new();
    for row in &table.rows {
        let cell = |name: &str| columns.get(name).map_or("", |f| row.cell(f.index));
        let (tube, word) = (cell("tube"), cell("kind"));
        let Some(kind) = Kind::from_word(word).filter(|k| !k.is_angle()) else { continue };
        let Some(figures) = figures(row, [z.index, angle.index, value.index], table.mark) else { continue };
        let length_mm = known_length(book, tube).unwrap_or(LONGEST_MM);
        groups.entry((tube, word)).or_insert(Group { kind, length_mm, rows: Vec::new() }).rows.push(figures);
    }
    let mut found: BTreeMap<Order, (Vec<&str>, usize)> = BTreeMap::new();
    for ((tube, _), group) in &groups {
        if let Some(order) = group.order(along) {
            let (tubes, rows) = found.entry(order).or_default();
            *rows += group.rows.len();
            if tubes.last() != Some(tube) {
                tubes.push(tube);
            }
        }
    }
    for (order, (tubes, rows)) in found {
        let moved = order.iter().zip(AS_HEADED).filter(|(is, headed)| **is != *headed);
        let told: Vec<String> =
            moved.map(|(is, headed)| format!("the {} under {}", is.word(), headed.heading())).collect();
        let more = if tubes.len() > 6 { format!(" and {} more", tubes.len() - 6) } else { String::new() };
        let of = tubes[..tubes.len().min(6)].join(", ");
        let text =
            format!("columns that look interchanged, {} ({} of {of}{more})", told.join(", "), counted(rows, "row"));
        let fix = "write each heading over its own column, and read again before anything else is looked at";
        let place = table.place(table.header_line, None);
        book.findings.note(place, None, text, "z, angle and value each under its own heading", fix);
    }
}

/// Millimetres in the unit of a column; `None` where it is none of length.
fn mm_a_unit(unit: Option<Unit>) -> Option<f64> {
    match unit {
        None | Some(Unit::Length(LengthUnit::Millimetre)) => Some(1.0),
        Some(Unit::Length(LengthUnit::Inch)) => Some(MM_PER_INCH),
        _ => None,
    }
}

/// The three figures of a row, where all are bare numbers.
fn figures(row: &Row, at: [usize; 3], mark: DecimalMark) -> Option<[f64; 3]> {
    let [a, b, c] = at.map(|i| parse_number(row.cell(i), &[], mark).ok());
    Some([a?, b?, c?])
}

impl Group {
    /// The order in which these rows make sense, where they do not as headed and only one other does.
    fn order(&self, unit_mm: f64) -> Option<Order> {
        if self.rows.len() < LEAST_ROWS || self.share(AS_HEADED, unit_mm) > WRONG {
            return None;
        }
        let fits: Vec<Order> = OTHERS.into_iter().filter(|o| self.share(*o, unit_mm) >= RIGHT).collect();
        let stepped: Vec<Order> = fits.iter().copied().filter(|o| self.in_steps(*o)).collect();
        match (fits.as_slice(), stepped.as_slice()) {
            ([one], _) | (_, [one]) => Some(*one),
            _ => None,
        }
    }

    fn share(&self, order: Order, unit_mm: f64) -> f64 {
        let sizes = sizes(self.kind);
        let sense = |row: &&[f64; 3]| {
            let of = |what: Holds| order.iter().position(|h| *h == what).map_or(f64::NAN, |i| row[i]);
            let place_mm = of(P) * unit_mm;
            (-OFF_TUBE_MM..=self.length_mm + OFF_TUBE_MM).contains(&place_mm)
                && of(A).abs() <= 360.0
                && (sizes.least..=sizes.most).contains(&(of(V) * unit_mm))
        };
        ratio(self.rows.iter().filter(sense).count(), self.rows.len())
    }

    /// Whether what this order takes for angles are multiples of a whole step, and not all one.
    fn in_steps(&self, order: Order) -> bool {
        let Some(at) = order.iter().position(|h| *h == A) else { return false };
        let whole = |x: f64| (x / ANGLE_STEP_DEG - (x / ANGLE_STEP_DEG).round()).abs() < 1e-9;
        let first = self.rows.first().map_or(0.0, |r| r[at]);
        self.rows.iter().all(|r| whole(r[at])) && self.rows.iter().any(|r| (r[at] - first).abs() > 1e-9)
    }
}

fn ratio(part: usize, of: usize) -> f64 {
    let number = |n: usize| u32::try_from(n).map_or(f64::MAX, f64::from);
    number(part) / number(of.max(1))
}

impl Holds {
    fn word(self) -> &'static str {
        match self {
            P => "places",
            A => "angles",
            V => "values",
        }
    }

    fn heading(self) -> &'static str {
        match self {
            P => "z",
            A => "angle",
            V => "value",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Radii of 12.7 mm every 30 deg at six places of a tube of 200 mm, typed in this order.
    fn group(kind: Kind, order: Order) -> Group {
        let mut rows = Vec::new();
        for station in [5.0, 42.5, 80.0, 117.5, 155.0, 192.5] {
            for turn in 0..12 {
                let deg = 30.0 * f64::from(turn);
                let value = if kind == Kind::Runout { 0.1 } else { 12.7 } + 0.2 * (2.0 * deg.to_radians()).cos();
                rows.push(order.map(|h| match h {
                    P => station,
                    A => deg,
                    V => value,
                }));
            }
        }
        Group { kind, length_mm: 200.0, rows }
    }

    #[test]
    fn an_order_that_makes_most_rows_refused_is_named() {
        // the places under value are no radii, the angles under z lie beyond the tube
        for order in [[A, V, P], [V, A, P]] {
            assert_eq!(group(Kind::Radius, order).order(1.0), Some(order), "{order:?}");
        }
        assert_eq!(group(Kind::Radius, AS_HEADED).order(1.0), None);
        assert_eq!(group(Kind::Runout, AS_HEADED).order(1.0), None);
        let few = Group { rows: group(Kind::Radius, [A, V, P]).rows[..5].to_vec(), ..group(Kind::Radius, AS_HEADED) };
        assert_eq!(few.order(1.0), None, "five rows have no habits");
    }
}
