//! Every column of every table, entered once: readers find their columns here, the writer checks its own against it, and
//! the separator and the decimal mark of a file are told from these names.

use crate::domain::{
    Angle,
    units::{AngleUnit, DecimalMark, Header, LengthUnit, Unit, parse_angle, parse_header, parse_length},
};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    /// A name or word.
    Text,
    /// Free text, which may run over several lines.
    Free,
    Length,
    Weight,
    Angle,
}

impl Holds {
    /// True for what is not a number.
    pub(super) fn is_text(self) -> bool {
        matches!(self, Holds::Text | Holds::Free)
    }

    /// True when a header may name this unit.
    pub(super) fn takes(self, unit: Unit) -> bool {
        match self {
            Holds::Text | Holds::Free => true,
            Holds::Length => matches!(unit, Unit::Length(_)),
            Holds::Weight => matches!(unit, Unit::Weight(_)),
            Holds::Angle => matches!(unit, Unit::Angle(_)),
        }
    }
}

/// A column a file may have.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    pub(super) name: &'static str,
    aliases: &'static [&'static str],
    pub(super) holds: Holds,
    pub(super) required: bool,
}

impl Column {
    pub(super) const fn must(name: &'static str, holds: Holds) -> Column {
        Column { name, aliases: &[], holds, required: true }
    }

    pub(super) const fn may(name: &'static str, holds: Holds) -> Column {
        Column { name, aliases: &[], holds, required: false }
    }

    const fn also(mut self, aliases: &'static [&'static str]) -> Column {
        self.aliases = aliases;
        self
    }

    /// True when a header of this name means the column.
    pub(super) fn is_named(&self, name: &str) -> bool {
        self.name == name || self.aliases.contains(&name)
    }
}

/// The tables a lot is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Form {
    /// The list of tubes: `tubes.csv`.
    Tubes,
    /// Readings, one to a row: `readings*.csv`.
    Readings,
    /// Readings, one station to a row, a column for each angle: `readings*.csv`.
    ReadingsGrid,
    /// Readings, one line along the tube to a row, a column for each place: `readings*.csv`.
    ReadingsLine,
    /// Readings at equal steps along a line, one to a row, the line described in its first row: `readings*.csv`.
    ReadingsLog,
    /// Places no run may touch: `marks.csv`.
    Marks,
    /// What happened at the bench: `cuts.csv`.
    Cuts,
    /// Index marks of scans: `scans/index.csv`.
    ScanIndex,
    /// The settings of a workbook: its sheet `lot`.
    Settings,
}

impl Form {
    /// Every form.
    pub const ALL: [Form; 9] = [
        Form::Tubes,
        Form::Readings,
        Form::ReadingsGrid,
        Form::ReadingsLine,
        Form::ReadingsLog,
        Form::Marks,
        Form::Cuts,
        Form::ScanIndex,
        Form::Settings,
    ];

    /// Its columns, besides those of angles or places.
    pub(super) fn columns(self) -> &'static [Column] {
        match self {
            Form::Tubes => &TUBES,
            Form::Readings => &READINGS,
            Form::ReadingsGrid => &READINGS_GRID,
            Form::ReadingsLine => &READINGS_LINE,
            Form::ReadingsLog => &READINGS_LOG,
            Form::Marks => &MARKS,
            Form::Cuts => &CUTS,
            Form::ScanIndex => &SCAN_INDEX,
            Form::Settings => &SETTINGS,
        }
    }

    /// What it has a column each for.
    pub(super) fn across(self) -> Option<Across> {
        match self {
            Form::ReadingsGrid => Some(Across::Angles),
            Form::ReadingsLine => Some(Across::Places),
            _ => None,
        }
    }
}

/// What stands side by side in a wide form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Across {
    /// A column for each angle.
    Angles,
    /// A column for each place along the tube.
    Places,
}

impl Across {
    /// What is missing where there is no such column.
    pub(super) fn missing(self) -> &'static str {
        match self {
            Across::Angles => "angle columns such as 0deg",
            Across::Places => "columns of places such as 20mm",
        }
    }

    /// What a column of values is headed with, and what to do where it is not.
    pub(super) fn headed(self) -> (&'static str, &'static str) {
        match self {
            Across::Angles => (
                "an angle in deg or rad",
                "write it as 90deg or 1.57 rad; a column that is no reading begins with a letter",
            ),
            Across::Places => (
                "a place in one of the units mm, cm, m, um, in, ft, thou",
                "write it as 20mm or 3/4 in; a column that is no reading begins with a letter",
            ),
        }
    }
}

const TUBES: [Column; 6] = [
    Column::must("tube", Holds::Text),
    Column::must("length", Holds::Length),
    Column::may("weight", Holds::Weight),
    Column::may("wall", Holds::Length),
    Column::may("minutes", Holds::Text),
    Column::may("note", Holds::Free),
];

/// How a reading was taken, whatever the form of its table.
const HOW: [Column; 7] = [
    Column::may("set", Holds::Text),
    Column::may("sd", Holds::Length),
    Column::may("rig", Holds::Text),
    Column::may("vee", Holds::Angle),
    Column::may("width", Holds::Length),
    Column::may("span", Holds::Length),
    Column::may("unit", Holds::Text),
];

/// The columns of a form of readings: its own, then how they were taken.
const fn with_how<const OWN: usize, const ALL: usize>(own: [Column; OWN]) -> [Column; ALL] {
    assert!(OWN + HOW.len() == ALL);
    let mut all = [HOW[0]; ALL];
    let mut i = 0;
    while i < ALL {
        all[i] = if i < OWN { own[i] } else { HOW[i - OWN] };
        i += 1;
    }
    all
}

const READINGS: [Column; 12] = with_how([
    Column::must("tube", Holds::Text),
    Column::must("kind", Holds::Text),
    Column::must("z", Holds::Length),
    Column::must("angle", Holds::Angle),
    Column::must("value", Holds::Length),
]);

const READINGS_GRID: [Column; 10] =
    with_how([Column::must("tube", Holds::Text), Column::must("kind", Holds::Text), Column::must("z", Holds::Length)]);

const READINGS_LINE: [Column; 10] = with_how([
    Column::must("tube", Holds::Text),
    Column::must("kind", Holds::Text),
    Column::must("angle", Holds::Angle),
]);

const READINGS_LOG: [Column; 13] = with_how([
    Column::must("tube", Holds::Text),
    Column::must("kind", Holds::Text),
    Column::must("angle", Holds::Angle),
    Column::must("first", Holds::Length),
    Column::must("step", Holds::Length),
    Column::must("value", Holds::Length),
]);

const MARKS: [Column; 6] = [
    Column::must("tube", Holds::Text),
    Column::must("from", Holds::Length).also(&["z_from", "from_z", "z"]),
    Column::may("to", Holds::Length).also(&["z_to", "to_z"]),
    Column::may("angle_from", Holds::Angle).also(&["from_angle", "angle"]),
    Column::may("angle_to", Holds::Angle).also(&["to_angle"]),
    Column::may("why", Holds::Free),
];

const CUTS: [Column; 10] = [
    Column::must("tube", Holds::Text),
    Column::may("piece", Holds::Text),
    Column::may("aim", Holds::Angle),
    Column::may("split", Holds::Angle),
    Column::may("back", Holds::Length),
    Column::may("blanks", Holds::Text),
    Column::may("from", Holds::Length),
    Column::may("to", Holds::Length),
    Column::may("got", Holds::Text),
    Column::may("why", Holds::Free),
];

const SCAN_INDEX: [Column; 6] = [
    Column::must("tube", Holds::Text),
    Column::may("x", Holds::Length),
    Column::may("y", Holds::Length),
    Column::may("z", Holds::Length),
    Column::may("angle", Holds::Angle),
    Column::may("end", Holds::Text),
];

const SETTINGS: [Column; 3] =
    [Column::may("section", Holds::Text), Column::must("key", Holds::Text), Column::must("value", Holds::Text)];

/// The columns that a header may mean, of whatever form.
fn meant(text: &str) -> impl Iterator<Item = &'static Column> {
    let name = parse_header(text).name;
    Form::ALL.into_iter().flat_map(Form::columns).filter(move |c| c.is_named(&name))
}

/// True for a header of any column that the readers know.
pub(super) fn is_known_header(text: &str) -> bool {
    meant(text).next().is_some() || is_angle_header(text) || is_place_header(text)
}

/// True for a known header whose cells are names or numbers, which stand on one line.
pub(super) fn is_key_header(text: &str) -> bool {
    meant(text).any(|c| c.holds != Holds::Free) || is_angle_header(text) || is_place_header(text)
}

/// True for a known header whose cells are numbers.
pub(super) fn is_number_header(text: &str) -> bool {
    meant(text).any(|c| !c.holds.is_text()) || is_angle_header(text) || is_place_header(text)
}

/// True for the header of a grid column.
pub(super) fn is_angle_header(text: &str) -> bool {
    grid_angle(&parse_header(text)).is_some()
}

/// True for the header of a column of the line form.
pub(super) fn is_place_header(text: &str) -> bool {
    grid_place(&parse_header(text)).is_some()
}

/// The place, mm, a column of the line form is headed with, and the unit of its values where one is stated behind it: `20mm`,
/// `1 1/4 in`, `1.25in`, `20mm_in` (values in inches), `20 mm (um)`. A number without a unit is no place.
pub(super) fn grid_place(header: &Header) -> Option<(f64, Option<Unit>)> {
    let stem = header.stem.replace('_', " ");
    let read = |bare: LengthUnit| parse_length(&stem, bare, DecimalMark::Point).ok();
    // what reads alike whatever the unit of a bare number states its own
    match (read(LengthUnit::Inch), read(LengthUnit::Thou)) {
        (Some(a), Some(b)) if (a - b).abs() < 1e-12 && a.abs() > 0.0 => Some((a, header.unit)),
        (Some(_), Some(_)) if stem.chars().any(char::is_alphabetic) || stem.contains(['"', '\'']) => {
            Some((0.0, header.unit))
        }
        _ => match header.unit {
            Some(Unit::Length(bare)) => read(bare).map(|mm| (mm, None)),
            _ => None,
        },
    }
}

/// The angle a grid column is headed with: `0`, `45deg`, `45 deg`, `90°`, `45deg_in` (values in inches).
pub(super) fn grid_angle(header: &Header) -> Option<Angle> {
    let stem = header.stem.replace('_', " ");
    if stem.contains(['/', '"', '\'']) {
        return None;
    }
    let bare = match header.unit {
        Some(Unit::Angle(unit)) => unit,
        _ => AngleUnit::Degree,
    };
    parse_angle(&stem, bare, DecimalMark::Point).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_known_by_what_their_columns_hold() {
        assert!(is_known_header("length (mm)") && is_known_header("z_from") && is_known_header("45deg"));
        assert!(is_known_header("note") && !is_key_header("note") && is_key_header("rig") && !is_key_header("colour"));
        assert!(is_number_header("value_in") && is_number_header("0") && !is_number_header("tube"));
    }

    #[test]
    fn no_form_has_two_columns_that_one_header_could_mean() {
        for form in Form::ALL {
            let names: Vec<&str> =
                form.columns().iter().flat_map(|c| c.aliases.iter().chain(std::iter::once(&c.name))).copied().collect();
            for (i, name) in names.iter().enumerate() {
                assert!(!names[..i].contains(name), "{form:?}: {name}");
                assert_eq!(parse_header(name).name, *name, "{form:?}: a name that reads as a unit");
            }
        }
    }
}
