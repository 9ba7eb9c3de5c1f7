//! The tables of a new lot, before they are written as files or sheets.

use crate::domain::{
    NewLot, Task, Tool, goes_by_lines,
    units::{LengthUnit, MM_PER_INCH},
};
use crate::readings::catalogue::Form;

/// What may stand in a column of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Check {
    /// Whatever is typed.
    Free,
    /// A number in this range, or nothing.
    Number(f64, f64),
}

/// A table with its column names and the cells that are filled in already.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FormTable {
    /// Name of the file without its end, and of the sheet.
    pub(super) name: String,
    pub(super) form: Form,
    pub(super) headers: Vec<String>,
    /// What may be typed, column by column.
    pub(super) checks: Vec<Check>,
    pub(super) rows: Vec<Vec<String>>,
}

/// List of tubes first, then the readings of each instrument.
pub(super) fn all(lot: &NewLot) -> Vec<FormTable> {
    let mut tables = vec![tubes(lot)];
    tables.extend(lot.routine.tasks.iter().map(|t| readings(lot, *t)));
    tables
}

fn tubes(lot: &NewLot) -> FormTable {
    let (unit, weight) = (lot.unit.word(), if lot.unit == LengthUnit::Inch { "oz" } else { "g" });
    let range = |low: f64, high: f64| Check::Number(in_unit(lot, low), in_unit(lot, high));
    let most_weight = if weight == "oz" { 176.0 } else { 5000.0 };
    FormTable {
        name: "tubes".into(),
        form: Form::Tubes,
        headers: vec!["tube".into(), format!("length_{unit}"), format!("weight_{weight}"), "note".into()],
        checks: vec![Check::Free, range(30.0, 3000.0), Check::Number(0.05, most_weight), Check::Free],
        rows: lot.tubes.iter().map(|t| vec![t.clone()]).collect(),
    }
}

fn readings(lot: &NewLot, task: Task) -> FormTable {
    if goes_by_lines(task) { by_lines(lot, task) } else { by_stations(lot, task) }
}

/// A row for each place, a column for each angle.
fn by_stations(lot: &NewLot, task: Task) -> FormTable {
    let unit = lot.unit.word();
    let mut headers = vec!["tube".to_string(), "kind".into(), "rig".into(), format!("z_{unit}")];
    headers.extend(task.angles_deg().iter().map(|a| format!("{a}deg_{unit}")));
    let place = |z: f64| vec![task.tool.kind().word().into(), task.tool.word().into(), number(in_unit(lot, z))];
    let rows = lot.tubes.iter().flat_map(|tube| {
        let row = |z| std::iter::once(tube.clone()).chain(place(z)).collect();
        lot.places_mm(task).into_iter().map(row).collect::<Vec<Vec<String>>>()
    });
    of_readings(lot, task, Form::ReadingsGrid, headers, rows.collect())
}

/// A row for each line along the tube, a column for each place.
fn by_lines(lot: &NewLot, task: Task) -> FormTable {
    let unit = lot.unit.word();
    let mut headers = vec!["tube".to_string(), "kind".into(), "rig".into(), "angle_deg".into()];
    headers.extend(lot.places_mm(task).iter().map(|z| format!("{}{unit} ({unit})", number(in_unit(lot, *z)))));
    let line = |a: &f64| vec![task.tool.kind().word().into(), task.tool.word().into(), number(*a)];
    let rows = lot.tubes.iter().flat_map(|tube| {
        let row = |a: &f64| std::iter::once(tube.clone()).chain(line(a)).collect();
        task.angles_deg().iter().map(row).collect::<Vec<Vec<String>>>()
    });
    of_readings(lot, task, Form::ReadingsLine, headers, rows.collect())
}

fn of_readings(lot: &NewLot, task: Task, form: Form, headers: Vec<String>, rows: Vec<Vec<String>>) -> FormTable {
    FormTable { name: file_name(task.tool), form, checks: checks(lot, task, headers.len()), rows, headers }
}

fn file_name(tool: Tool) -> String {
    format!("readings-{}", tool.word())
}

/// Nothing is checked in the columns that are filled in; of values what a tube can give.
fn checks(lot: &NewLot, task: Task, columns: usize) -> Vec<Check> {
    let sizes = crate::readings::plausible::sizes(task.tool.kind());
    let value = Check::Number(in_unit(lot, sizes.least), in_unit(lot, sizes.most));
    (0..columns).map(|i| if i < 4 { Check::Free } else { value }).collect()
}

fn in_unit(lot: &NewLot, mm: f64) -> f64 {
    if lot.unit == LengthUnit::Inch { mm / MM_PER_INCH } else { mm }
}

/// The shortest text of a number to a ten-thousandth.
fn number(x: f64) -> String {
    ((x * 1e4).round() / 1e4).to_string()
}
