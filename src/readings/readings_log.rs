//! Readings at equal steps along a line, as a logger gives them: `readings*.csv` or the sheets `readings*`, in the log form.
//!
//! Columns `value` and, filled in the first row of each line only, `tube`, `kind`, `angle`, `first` (place of its first
//! value) and `step` (distance to the next, negative where it ran toward the index end); optional `set`, `sd`, `rig`, `vee`,
//! `width`, `span`, `unit`, likewise. The rows below hold a value and nothing else. A place that was not taken is a row
//! without a value, or `-`. A program that writes everything into every row is understood too: a row that repeats all of
//! the row above it goes on with its line.

use super::book::Book;
use super::catalogue::Form;
use super::columns::{Columns, Found};
use super::findings::quoted;
use super::readings_line::along;
use super::readings_row::{
    Cell, Common, Given, common, keep, known_length, note_mixed_units, on_tube, rig_known, value,
};
use super::row::{Need, RowReader};
use super::table::{Row, Table};
use crate::domain::Angle;

/// What a place that was not taken may be written as.
const NOT_TAKEN: &str = "-";
/// Steps shorter than this are none, mm.
const LEAST_STEP_MM: f64 = 1e-3;

/// A line under way.
struct Line<'a> {
    tube: String,
    /// Its first row.
    head: &'a Row,
    /// Its last row, and whether that one held the head again.
    last: (&'a Row, bool),
    /// What its values are read with; `None` where the head cannot be used.
    run: Option<Run>,
    /// Number of the next place.
    next: usize,
}

/// How a line runs.
struct Run {
    common: Common,
    given: Given,
    angle: Angle,
    first_mm: f64,
    step_mm: f64,
}

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// It begins a line.
    Head,
    /// It goes on with the one above; `true` where it repeats the head.
    More(bool),
    /// It changes something in the middle of a line.
    Torn(usize),
}

/// Reads a table of the log form into the book.
pub(super) fn read(table: &Table, book: &mut Book) {
    let Some(columns) = Columns::of(Form::ReadingsLog, table, &mut book.findings) else { return };
    let Some(at) = columns.get("value") else { return };
    note_mixed_units(table, &columns, &[at], book);
    let heads: Vec<usize> = (0..table.headers.len()).filter(|&i| i != at.index).collect();
    let mut line: Option<Line<'_>> = None;
    for row in &table.rows {
        let part = part(table, &columns, &heads, line.as_ref(), row);
        match (part, &mut line) {
            (Part::Head, _) => line = begin(table, &columns, row, book),
            (Part::More(_), None) => {
                let place = table.place(row.line, Some(at.index));
                let fix = "fill in tube, kind, angle, first and step in the first row of the line";
                book.findings.error(place, None, "a value without a line above it", "the first row of a line", fix);
                continue;
            }
            (Part::More(again), Some(line)) => go_on(table, row, again, line, book),
            (Part::Torn(column), Some(line)) => {
                let fix =
                    "only the first row of a line describes it: write all of it, the tube's name too, to begin another";
                let found = format!("{} in the middle of a line", quoted(row.cell(column)));
                let place = table.place(row.line, Some(column));
                book.findings.error(place, Some(&line.tube), found, "a value and nothing else", fix);
                line.run = None;
            }
            (Part::Torn(_), None) => {}
        }
        if let Some(line) = &mut line {
            take(table, &columns, row, at, line, book);
        }
    }
}

/// Whether a row begins a line or goes on with one.
fn part(table: &Table, columns: &Columns, heads: &[usize], line: Option<&Line<'_>>, row: &Row) -> Part {
    let Some(tube) = columns.get("tube") else { return Part::Head };
    let filled = heads.iter().find(|&&i| !row.cell(i).is_empty() && is_read(table, columns, i));
    let Some(line) = line else {
        return if filled.is_some() { Part::Head } else { Part::More(false) };
    };
    let same = |i: &&usize| !is_read(table, columns, **i) || row.cell(**i) == line.head.cell(**i);
    match filled {
        None => Part::More(false),
        // after rows of values alone, the same head begins the same line once more
        Some(_) if heads.iter().all(|i| same(&i)) && line.last.1 => Part::More(true),
        Some(_) if !row.cell(tube.index).is_empty() => Part::Head,
        Some(&column) => Part::Torn(column),
    }
}

/// Whether a column is one that is read.
fn is_read(table: &Table, columns: &Columns, index: usize) -> bool {
    debug_assert!(index < table.headers.len());
    columns.indices().any(|i| i == index)
}

/// Reads what the first row says of its line; `None` where not even its tube can be told.
fn begin<'a>(table: &Table, columns: &Columns, row: &'a Row, book: &mut Book) -> Option<Line<'a>> {
    let length_mm = known_length(book, columns.get("tube").map_or("", |f| row.cell(f.index)));
    let mut r = RowReader::new(table, columns, row, &mut book.findings);
    let started = r.start().is_some();
    let tube = r.tube.clone()?;
    let place = r.place(columns.get("tube").map(|f| f.index));
    let run = if started { run_of(&mut r, &tube, length_mm) } else { None };
    let bad = r.bad;
    book.mention(&tube, place);
    let run = run.filter(|run| rig_known(table, columns, row, book, &run.common) && !bad);
    Some(Line { tube, head: row, last: (row, true), run, next: 0 })
}

fn run_of(r: &mut RowReader<'_>, tube: &str, length_mm: Option<f64>) -> Option<Run> {
    let (common, given) = common(r, tube, length_mm);
    let angle = along(r, given.kind);
    let first = r.length("first", "the place of the first value", Need::Must);
    let index = r.columns.get("first").map(|f| f.index);
    let first = first.and_then(|z| {
        let cell = index.map_or(String::new(), |i| quoted(r.row.cell(i)));
        on_tube(r, index, cell, z, length_mm)
    });
    let step = r.length("step", "the distance from one value to the next", Need::Must);
    let step = step.filter(|step| {
        let none = step.abs() < LEAST_STEP_MM;
        if none && let Some(at) = r.columns.get("step") {
            let cell = quoted(r.row.cell(at.index));
            let fix = "write the distance from one value to the next, negative where it ran toward the index end";
            r.error(Some(at.index), cell, "a step other than 0", fix);
        }
        !none
    });
    Some(Run { common: common?, given, angle: angle?, first_mm: first?, step_mm: step? })
}

/// Passes over the places between the last row and this one.
fn go_on<'a>(table: &Table, row: &'a Row, again: bool, line: &mut Line<'a>, book: &mut Book) {
    let gap = table.gap(line.last.0.line, row.line);
    if let (Some(empty), true) = (gap.empty, line.run.is_some()) {
        let place = table.place(empty, None);
        let fix = "write - where a place was not taken, or delete the empty line";
        book.findings.error(place, Some(&line.tube), "an empty line between two values", "a value, or -", fix);
        line.run = None;
    }
    line.next += gap.blank;
    line.last = (row, again);
}

/// Reads the value of a row of a line.
fn take(table: &Table, columns: &Columns, row: &Row, at: Found, line: &mut Line<'_>, book: &mut Book) {
    let number = line.next;
    line.next += 1;
    let Some(run) = &line.run else { return };
    if row.cell(at.index).is_empty() || row.cell(at.index) == NOT_TAKEN {
        return;
    }
    let mut r = RowReader::new(table, columns, row, &mut book.findings);
    r.go_on(&line.tube);
    let z_mm = run.first_mm + run.step_mm * places(number);
    r.one_of_many = true;
    let value_mm = value(&mut r, at, run.given.kind, Need::Must, run.given.unit);
    r.one_of_many = false;
    let lost = r.lost;
    // a sum of steps may pass an end by rounding
    let z_mm = if z_mm.abs() < 1e-9 { 0.0 } else { z_mm };
    let told = format!("value {} of the line, at {} mm", number + 1, (1000.0 * z_mm).round() / 1000.0);
    let z_mm = on_tube(&mut r, Some(at.index), told, z_mm, run.given.length_mm);
    let beyond = z_mm.is_none();
    let bad = r.bad;
    if lost > 0 {
        book.findings.set_aside(&line.tube, &table.file, lost);
    }
    if let (Some(z_mm), Some(value_mm), false) = (z_mm, value_mm, bad) {
        keep(table, row, book, &run.common, &[Cell { at, z_mm, angle: run.angle, value_mm }]);
    }
    if beyond {
        // all further ones lie beyond as well: once is enough
        line.run = None;
    }
}

/// A number of places as a factor.
fn places(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::MAX, f64::from)
}
