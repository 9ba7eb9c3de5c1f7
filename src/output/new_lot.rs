//! What is printed for a new lot: the routines to choose from, sheets to measure by, strips that mark the angles.

use super::cautions::{self, CAUTIONS};
use super::report::bench::bench_fn;
use super::show::Units;
use super::table::{Cell, Table};
use super::words::plain_number;
use crate::domain::units::{LengthUnit, decimal};
use crate::domain::{Effort, Kind, NewLot, Routine, Task, Tool, counted, goes_by_lines};
use crate::paper::angle_strip::{self, AngleStripError, AngleStrips, diameters_round};
use crate::paper::measuring_sheet::{self, MeasuringSheet, SheetTable};
use crate::paper::scene::{Paper, Scene};
use std::fmt::Write as _;

fn units(lot: &NewLot) -> Units {
    if lot.unit == LengthUnit::Inch { Units::Inch } else { Units::Mm }
}

/// The three routines with these instruments, the chosen one marked: readings, minutes, and what choosing the split by them
/// loses.
#[must_use]
pub fn routine_lines(lot: &NewLot) -> String {
    let tools: Vec<Tool> = lot.routine.tasks.iter().map(|t| t.tool).collect();
    let words: Vec<&str> = tools.iter().map(|t| t.word()).collect();
    let measured = Effort::ALL.map(|e| Routine::of(e, &tools).lost_percent());
    let mut titles: Vec<String> = ["", "readings", "minutes"].map(String::from).to_vec();
    if measured[0].is_some() {
        titles.extend(Routine::MAKES.map(|m| format!("lost: {m}, %")));
    }
    let titles: Vec<&str> = titles.iter().map(String::as_str).collect();
    let (mut table, mut what) = (Table::new(&titles), String::new());
    for (effort, lost) in Effort::ALL.into_iter().zip(measured) {
        let routine = Routine::of(effort, &tools);
        let mark = if effort == lot.routine.effort { "* " } else { "  " };
        let tasks: Vec<String> = routine.tasks.iter().map(|t| task_words(*t)).collect();
        let _ = writeln!(what, "{mark}{}: {}", effort.word(), tasks.join(", "));
        let mut row = vec![
            Cell::text(format!("{mark}{}", effort.word())),
            Cell::text(routine.readings().to_string()),
            Cell::text(decimal(routine.minutes(), 1)),
        ];
        row.extend(lost.into_iter().flatten().map(|x| Cell::text(decimal(x, 0))));
        table.push(row);
    }
    let mut out = format!("New lot {}: {}, read with {}; a tube takes\n\n", lot.name, tubes(lot), words.join(" and "));
    let _ = writeln!(out, "{}", table.to_text());
    let _ = writeln!(out, "{what}");
    let seconds = |kind: Kind| plain_number(kind.seconds());
    let minutes = format!(
        "Minutes: {} s a caliper reading, {} s a bar, {} s a feeler gap, {} s a dial and {} s to move it; common practice, no source. \
         seconds and setup_seconds in lot.toml say yours.",
        seconds(Kind::Diameter),
        seconds(Kind::Bridge),
        seconds(Kind::Gap),
        seconds(Kind::Radius),
        plain_number(Kind::Radius.setup_seconds())
    );
    out.push_str(&super::text::wrapped(&minutes));
    let lost = if measured[0].is_some() {
        format!(
            "Lost: blanks lost by choosing the split from these readings, against perfect knowledge; an arbitrary angle loses {} %. \
             Measured on simulated tubes of about an inch, three makes, 100 of each: good to 1 point, of rough lobes 2.",
            Routine::ARBITRARY_PERCENT.map(|x| decimal(x, 0)).join(", ")
        )
    } else {
        "What is lost by choosing the split from these readings was not measured for these instruments together."
            .to_string()
    };
    out.push_str(&super::text::wrapped(&lost));
    out
}

/// What to do now.
#[must_use]
pub fn next_lines(folder: &str, lot: &str, workbook: bool) -> String {
    let forms = if workbook {
        format!("{lot} (sheets tubes and readings-...)")
    } else {
        format!("tubes.csv and readings-*.csv in {folder}")
    };
    let mut out = String::from("Then:\n");
    let _ = writeln!(out, "  1. print measuring-sheet.pdf and angle-strips.pdf at 100 %, mark the tubes, measure");
    let _ = writeln!(out, "     (scale-card.pdf only for ends laid on a scanner: quarterlight ends)");
    let _ = writeln!(out, "  2. type lengths, weights and readings into {forms}; leave empty what you did not take");
    let _ = writeln!(out, "  3. quarterlight check {lot}");
    let _ = writeln!(out, "  4. quarterlight advise {lot}   (which tubes deserve more readings)");
    let _ = writeln!(out, "  5. quarterlight split {lot}");
    out
}

fn tubes(lot: &NewLot) -> String {
    if lot.tubes.is_empty() { "tubes not named yet".into() } else { counted(lot.tubes.len(), "tube") }
}

fn task_words(t: Task) -> String {
    let round = match t.tool {
        Tool::Caliper => counted(t.angles, "direction"),
        _ if goes_by_lines(t) => counted(t.angles, "line"),
        _ => counted(t.angles, "angle"),
    };
    format!("{} {round} x {}", t.tool.word(), counted(t.places, "place"))
}

/// Every angle that any instrument reads, degrees, ascending.
#[must_use]
pub fn angles_deg(routine: &Routine) -> Vec<f64> {
    let mut all: Vec<f64> = routine.tasks.iter().flat_map(|t| t.angles_deg()).collect();
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    all
}

/// The sheets to measure by.
#[must_use]
pub fn sheet_pages(lot: &NewLot, paper: Paper) -> Vec<Scene> {
    let places = |t: &Task| {
        let at = |z: f64| (z, format!("{} {}", t.tool.word(), on_paper(lot, z)));
        lot.places_mm(*t).into_iter().map(at).collect::<Vec<(f64, String)>>()
    };
    let (unit, weight) = (units(lot).word(), if units(lot) == Units::Inch { "oz" } else { "g" });
    let wanted = ["Mould", "Hands"];
    let sheet = MeasuringSheet {
        paper,
        heading: format!("Measuring sheet, lot {}, {}", lot.name, lot.routine.effort.word()),
        facts: vec![
            format!("length, {unit}"),
            format!("weight, {weight}"),
            "nodes, cracks, holes: place and angle".into(),
        ],
        tubes: lot.tubes.clone(),
        tables: lot.routine.tasks.iter().map(|t| sheet_table(lot, *t)).collect(),
        angles_deg: angles_deg(&lot.routine),
        along: (lot.length_mm, lot.routine.tasks.iter().flat_map(places).collect()),
        how: how(lot),
        cautions: CAUTIONS.iter().filter(|c| wanted.contains(&c.topic)).map(|c| c.words.to_string()).collect(),
        foot: cautions::IN_ONE_LINE.to_string(),
    };
    measuring_sheet::pages(&sheet)
}

/// The strips that mark the angles, for tubes about this diameter.
///
/// # Errors
/// [`AngleStripError`] for a diameter no tube has.
pub fn strip_pages(lot: &NewLot, paper: Paper, diameter_mm: f64) -> Result<Vec<Scene>, AngleStripError> {
    let diameters_mm = if diameter_mm.is_finite() { diameters_round(diameter_mm) } else { Vec::new() };
    let length_text = match units(lot) {
        Units::Mm => bench_fn(Units::Mm),
        Units::Inch => thousandths,
    };
    let angles_deg = angles_deg(&lot.routine);
    angle_strip::pages(&AngleStrips {
        paper,
        diameters_mm,
        angles_deg,
        heading: format!("lot {}", lot.name),
        length_text,
    })
}

/// Diameters half a millimetre apart need more than a 32nd.
fn thousandths(mm: f64) -> String {
    format!("{} in", decimal(Units::Inch.number(mm), 3))
}

/// A place as a ruler shows it: whole millimetres, or an inch fraction.
fn on_paper(lot: &NewLot, mm: f64) -> String {
    match units(lot) {
        Units::Mm => format!("{} mm", decimal(mm, 0)),
        Units::Inch => bench_fn(Units::Inch)(mm),
    }
}

fn sheet_table(lot: &NewLot, task: Task) -> SheetTable {
    let places: Vec<String> = lot.places_mm(task).iter().map(|z| on_paper(lot, *z)).collect();
    let angles: Vec<String> = task.angles_deg().iter().map(|a| format!("{}°", decimal(*a, 0))).collect();
    let title = format!("{}: {}, {}", task.tool.word(), read_words(task.tool), units(lot).word());
    let how = tool_how(lot, task.tool);
    if goes_by_lines(task) {
        SheetTable { title, how, rows_are: "line".into(), rows: angles, columns: places }
    } else {
        SheetTable { title, how, rows_are: "place".into(), rows: places, columns: angles }
    }
}

/// What an instrument reads, in a word or two.
fn read_words(tool: Tool) -> &'static str {
    match tool {
        Tool::Caliper => "width",
        Tool::Bridge => "height of the middle",
        Tool::Dial => "what the dial shows",
        Tool::Straightedge => "gap",
        Tool::VBlock => "height of the summit",
        Tool::Wall => "thickness",
    }
}

fn how(lot: &NewLot) -> Vec<String> {
    let unit = if units(lot) == Units::Inch { "inches" } else { "millimetres" };
    vec![
        "Index line: choose one end of each tube as its index end and write the tube's name there. Draw one straight pencil \
         line along the whole tube: lay it in an angle iron, or against a straight block on a flat table, and draw along the \
         edge, so that the line does not wind round the tube. This line is 0°."
            .into(),
        "Angles grow clockwise as you look at the index end from outside. Mark them with the strip of angle-strips.pdf whose \
         index lines meet on the tube, and draw each line on along the tube in the same way."
            .into(),
        format!(
            "Places are measured from the index end; mark them across the lines. They suit tubes of {} and more: where a tube is \
             shorter, leave the box empty. Readings are in {unit}; write them as the instrument shows them, with their sign, \
             and never a 0 for what was not taken.",
            on_paper(lot, lot.length_mm)
        ),
    ]
}

fn tool_how(lot: &NewLot, tool: Tool) -> String {
    match tool {
        Tool::Caliper => "Close the jaws along the direction: at 0° one jaw touches the index line, the other the bark across from \
                          it. Rock the caliper along the tube and write the least it shows."
            .into(),
        Tool::Bridge => format!(
            "Set the dial to 0 with the bar on a flat, such as thick glass. Stand both feet, {} apart, on the line with the middle \
             at the place. Plus: the bark stands high in the middle; minus: it is hollow. Write the span of your own bar into \
             the form if it is another.",
            on_paper(lot, lot.span_mm)
        ),
        Tool::Dial => "Turn the tube about a fixed axis, such as two centres, and bring each angle under the dial. Leave the dial's \
                       zero alone from the first reading of a tube to the last. More outward is plus."
            .into(),
        Tool::Straightedge => "Lay a straightedge as long as the tube on the line and let it rest. Write the thickest feeler that \
                               goes in at the place; 0 where it touches."
            .into(),
        Tool::VBlock => "Rest the tube in the block at the place, turned so that the angle is on top under the dial. Leave the dial's \
                         zero alone from the first reading of a tube to the last. A higher summit is plus."
            .into(),
        Tool::Wall => "Measure the wall with the caliper over the rim, as far in as its jaws reach; of a tube of another length \
                       correct the far place in the form."
            .into(),
    }
}
