//! What `lot.toml`, or the sheet `lot` of a workbook, can set, with the range of every value.
//!
//! Lengths are mm and weights g when bare; texts with a unit (`"2 3/4 in"`, `"5 lb"`) and keys with a unit
//! (`blank_length_in`) do as well. What is not set keeps its default; what is wrong is an error and keeps it too. Keys
//! that are not known are ignored with a note.

use super::book::Book;
use super::findings::{quoted, unprintable};
use super::nearest::nearest;
use super::plausible::{SPAN, VEE_DEG};
use crate::domain::{
    Foot, Instrument, Lot, OneBlow, OwnSet, Place, Rig, SCALE_RANGE, ScreenRule, Target, same_name,
    units::{
        AngleUnit, DecimalMark, LengthUnit, Quantity, Unit, UnitError, WeightUnit, parse_angle, parse_header,
        parse_length, parse_number, parse_weight, weight_unit_beside,
    },
};

/// A value as found.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    /// A number.
    Number(f64),
    /// A text in `lot.toml`.
    Text(String),
    /// A spreadsheet cell, where numbers and texts are not told apart.
    Cell(String),
    /// Something else, by its name in words.
    Other(&'static str),
}

/// One setting as found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// `lot`, `target`, `rig.caliper` ...; empty when the file does not say.
    pub(super) section: String,
    pub(super) key: String,
    pub(super) value: Value,
    pub(super) place: Place,
    pub(super) mark: DecimalMark,
}

#[derive(Debug, Clone, Copy)]
enum Holds {
    Text,
    Number,
    Whole,
    Length,
    Weight,
    Angle,
}

impl Holds {
    fn quantity(self) -> Quantity {
        match self {
            Holds::Length => Quantity::Length,
            Holds::Weight => Quantity::Weight,
            Holds::Angle => Quantity::Angle,
            Holds::Text | Holds::Number | Holds::Whole => Quantity::Number,
        }
    }
}

type SetNumber = fn(&mut Lot, f64);

/// One setting that is known: section, key, what it holds, least, most, where it goes.
struct Key(&'static str, &'static str, Holds, f64, f64, SetNumber);

/// Smallest value of a limit that must be above zero, mm.
const TINY: f64 = 1e-4;

const KEYS: [Key; 41] = [
    Key("lot", "name", Holds::Text, 0.0, 200.0, |_, _| {}),
    Key("lot", "units", Holds::Text, 0.0, 20.0, |_, _| {}),
    Key("lot", "currency", Holds::Text, 0.0, 20.0, |_, _| {}),
    Key("lot", "maker", Holds::Text, 0.0, 1000.0, |_, _| {}),
    Key("lot", "bought_weight", Holds::Weight, 1.0, 1e7, |l, x| l.bought_weight_g = Some(x)),
    Key("lot", "price", Holds::Number, 0.0, 1e9, |l, x| l.price = Some(x)),
    Key("lot", "humidity_percent", Holds::Number, 0.0, 100.0, |l, x| l.humidity_percent = Some(x)),
    Key("lot", "bought_humidity_percent", Holds::Number, 0.0, 100.0, |l, x| l.bought_humidity_percent = Some(x)),
    Key("lot", "index_line_deg", Holds::Angle, 0.0, 45.0, |l, x| l.index_line_deg = Some(x)),
    Key("target", "instrument", Holds::Text, 0.0, 60.0, |_, _| {}),
    Key("target", "pieces", Holds::Whole, 2.0, 6.0, |l, x| l.target.pieces = pieces(x)),
    Key("target", "blank_length", Holds::Length, 10.0, 500.0, |l, x| l.target.blank_length_mm = x),
    Key("target", "blank_width", Holds::Length, 2.0, 60.0, |l, x| l.target.blank_width_mm = x),
    Key("target", "blank_thickness", Holds::Length, 0.2, 15.0, |l, x| l.target.blank_thickness_mm = x),
    Key("target", "arc_diameter", Holds::Length, 5.0, 100.0, |l, x| l.target.arc_diameter_mm = x),
    Key("target", "arc_tolerance", Holds::Length, TINY, 50.0, |l, x| l.target.arc_tolerance_mm = x),
    Key("target", "hollow", Holds::Length, TINY, 10.0, |l, x| l.target.hollow_mm = x),
    Key("target", "rock", Holds::Length, TINY, 10.0, |l, x| l.target.rock_mm = x),
    Key("target", "skew", Holds::Length, TINY, 100.0, |l, x| l.target.skew_mm = x),
    Key("target", "grain_drift", Holds::Length, TINY, 50.0, |l, x| l.target.grain_drift_mm = x),
    Key("target", "edge_margin", Holds::Length, 0.0, 20.0, |l, x| l.target.edge_margin_mm = x),
    Key("target", "clean_up", Holds::Length, 0.0, 10.0, |l, x| l.target.clean_up_mm = x),
    Key("target", "blank_value", Holds::Number, 0.0, 1e6, |l, x| l.blank_value = Some(x)),
    Key("saw", "kerf", Holds::Length, 0.0, 10.0, |l, x| l.saw.kerf_mm = x),
    Key("saw", "trim", Holds::Length, 0.0, 500.0, |l, x| l.saw.trim_mm = x),
    Key("split", "wander_deg", Holds::Angle, 0.0, 45.0, |l, x| l.split.wander_deg = x),
    Key("split", "one_blow", Holds::Text, 0.0, 20.0, |_, _| {}),
    // a piece that springs the other way is negative
    Key("split", "spring", Holds::Length, -2.0, 2.0, |l, x| l.split.spring_mm = x),
    Key("split", "minutes", Holds::Number, 0.0, 600.0, |l, x| l.split_minutes = Some(x)),
    Key("promise", "factor", Holds::Number, 0.05, 20.0, |l, x| l.promise.get_or_insert_default().factor = x),
    Key("promise", "log_sd", Holds::Number, 0.0, 2.0, |l, x| l.promise.get_or_insert_default().log_sd = x),
    Key("assumed", "lean_deg", Holds::Angle, 0.0, 10.0, |l, x| l.assumed.lean_deg = Some(x)),
    Key("assumed", "wall", Holds::Length, 0.2, 15.0, |l, x| l.assumed.wall_mm = Some(x)),
    Key("batch", "edge_life", Holds::Number, 1.0, 1e6, |l, x| l.edge_life = Some(x)),
    Key("screen", "least_blanks", Holds::Number, 0.0, 1000.0, |l, x| l.screen.least_blanks = x),
    Key("screen", "split_chance", Holds::Number, 0.0, 1.0, |l, x| l.screen.split_chance = x),
    Key("screen", "leave_chance", Holds::Number, 0.0, 1.0, |l, x| l.screen.leave_chance = x),
    Key("measure", "minute_blanks", Holds::Number, 0.0, 10.0, |l, x| l.minute_blanks = Some(x)),
    Key("measure", "pace", Holds::Number, 0.1, 20.0, |l, x| l.pace = Some(x)),
    Key("scan", "unit", Holds::Text, 0.0, 20.0, |_, _| {}),
    Key("scan", "accuracy", Holds::Length, TINY, 1.0, |l, x| l.scan.accuracy_mm = x),
];
/// The facts of a rig.
const RIG_KEYS: [&str; 12] = [
    "resolution",
    "sd",
    "vee_deg",
    "span",
    "line_deg",
    "setting_deg",
    "bias",
    "scale_percent",
    "foot",
    "foot_radius",
    "seconds",
    "setup_seconds",
];
/// Most seconds a reading or a setting-up may take: an hour.
const MOST_SECONDS: f64 = 3600.0;
/// An instrument's scale is never off by more than this, percent.
const MOST_SCALE_PERCENT: f64 = 5.0;
/// Most that a line or a setting may be off, sd in degrees.
const MOST_OFF_DEG: f64 = 45.0;
/// What to do about a value that cannot stand.
const DELETE_THE_LINE: &str = "correct the value, or delete the line to use the default";
/// Sections whose keys are names of the maker's or the model's own.
const OPEN_SECTIONS: [&str; 3] = ["instrument.NAME", "rig.NAME", "population"];

fn pieces(x: f64) -> usize {
    (2..=6).find(|n| (x - f64::from(*n)).abs() < 0.5).map_or(4, |n: u8| usize::from(n))
}

fn is_instrument(e: &&Entry) -> bool {
    e.key == "instrument" && (e.section == "target" || e.section.is_empty())
}

/// The set that the target is to start from, as it is named.
pub(super) fn instrument_named(entries: &[Entry]) -> Option<&str> {
    entries.iter().rfind(is_instrument).and_then(|e| match &e.value {
        Value::Text(t) | Value::Cell(t) => Some(t.as_str()),
        _ => None,
    })
}

/// Puts all entries into the lot; reports every one that cannot be used. `own` are sets that the target may start from beside
/// the starting sets, and `names` those of all sets.
pub(super) fn apply(entries: &[Entry], own: &[OwnSet], names: &[String], book: &mut Book) {
    // the starting set first, so that single limits replace its numbers wherever they stand in the file
    for entry in entries.iter().filter(is_instrument) {
        instrument(entry, own, names, book);
    }
    for entry in entries.iter().filter(|e| !is_instrument(e)) {
        match entry.section.split_once('.') {
            Some(("rig", name)) => rig(entry, name, book),
            _ if entry.section == "population" => population(entry, book),
            _ => plain(entry, book),
        }
    }
    check_chances(entries, book);
}

/// Puts one entry of a section `[instrument.NAME]` into its set.
pub(super) fn of_set(entry: &Entry, set: &mut OwnSet, book: &mut Book) {
    let Some((key, unit)) = known(entry, |k| k.0 == "target" && k.1 != "instrument") else {
        let names: Vec<&str> =
            KEYS.iter().filter(|k| k.0 == "target" && k.1 != "instrument").map(|k| k.1).chain(["like"]).collect();
        let fix = match nearest(&entry.key, names.iter().copied()) {
            Some(near) => format!("is {near} meant?"),
            None => format!("one of {}", names.join(", ")),
        };
        let found = format!("an unknown key {}", quoted(&entry.key));
        book.findings.error(entry.place.clone(), None, found, "a key of a set", fix);
        return;
    };
    if let Some(x) = number(entry, key.2, unit, (key.3, key.4), book) {
        let mut one = Lot { target: set.target.clone(), blank_value: set.blank_value, ..Lot::default() };
        (key.5)(&mut one, x);
        (set.target, set.blank_value) = (one.target, one.blank_value);
    }
}

/// The key that an entry is, of those that may be, and the unit that its name states.
fn known(entry: &Entry, may: impl Fn(&Key) -> bool) -> Option<(&'static Key, Option<Unit>)> {
    let header = parse_header(&entry.key);
    let exact = KEYS.iter().find(|k| may(k) && k.1 == entry.key);
    let with_unit = || KEYS.iter().find(|k| may(k) && k.1 == header.name && header.unit.is_some());
    exact.map(|k| (k, None)).or_else(|| with_unit().map(|k| (k, header.unit)))
}

fn plain(entry: &Entry, book: &mut Book) {
    let Some((key, unit)) = known(entry, |k| entry.section.is_empty() || k.0 == entry.section) else {
        note_unknown(entry, book);
        return;
    };
    if matches!(key.2, Holds::Text) {
        text(entry, key, book);
    } else if let Some(x) = number(entry, key.2, unit, (key.3, key.4), book) {
        (key.5)(&mut book.lot, x);
        if key.1 == "bought_weight" {
            book.bought_at = Some(entry.place.clone());
            book.bought_unit = weight_unit(entry, unit);
        }
    }
}

fn text(entry: &Entry, key: &Key, book: &mut Book) {
    let (Value::Text(text) | Value::Cell(text)) = &entry.value else {
        refuse(entry, "a text", "put it in quotes: \"...\"", book);
        return;
    };
    let text = text.trim();
    if text.chars().any(unprintable) || text.chars().count() as f64 > key.4 {
        refuse(entry, &format!("a text of at most {} printable characters", key.4), "type it again, shorter", book);
        return;
    }
    match key.1 {
        "name" if text.is_empty() => {}
        // it was read before the lot's own settings
        "maker" => {}
        "name" => book.lot.name = text.to_string(),
        "one_blow" => match OneBlow::from_word(text) {
            Some(blow) => book.lot.split.one_blow = blow,
            None => refuse(entry, "line, across or all", "write which split lines one blow makes", book),
        },
        "units" => match LengthUnit::from_word(text) {
            Some(unit @ (LengthUnit::Millimetre | LengthUnit::Inch)) => book.lot.units = Some(unit),
            _ => refuse(entry, "mm or in", "write the unit that lengths are to be told in", book),
        },
        "unit" => match LengthUnit::from_word(text) {
            Some(unit) => book.lot.scan.unit = unit,
            None => refuse(entry, "a unit of length", "write mm, cm, m, um, in or thou", book),
        },
        _ => book.lot.currency = text.to_string(),
    }
}

fn instrument(entry: &Entry, own: &[OwnSet], names: &[String], book: &mut Book) {
    let word = match &entry.value {
        Value::Text(t) | Value::Cell(t) => t.as_str(),
        _ => "",
    };
    if let Some(set) = own.iter().find(|s| same_name(&s.target.instrument, word)) {
        (book.lot.target, book.lot.blank_value) = (set.target.clone(), set.blank_value);
    } else if let Some(target) = Target::for_instrument(word) {
        book.lot.target = target;
    } else {
        let names: Vec<&str> = Instrument::names().into_iter().chain(names.iter().map(String::as_str)).collect();
        let fix = match nearest(word, names.iter().copied()) {
            Some(near) => format!("is {near} meant?"),
            None => "choose the nearest and set what differs below it".to_string(),
        };
        refuse(entry, &format!("one of {}", names.join(", ")), &fix, book);
    }
}

fn rig(entry: &Entry, name: &str, book: &mut Book) {
    if entry.key.is_empty() && super::name::bad_name(name).is_none() {
        book.lot.rigs.entry(name.trim().to_string()).or_default();
        return;
    }
    let header = parse_header(&entry.key);
    let (key, unit) = if RIG_KEYS.contains(&entry.key.as_str()) {
        (entry.key.as_str(), None)
    } else {
        (header.name.as_str(), header.unit)
    };
    if !RIG_KEYS.contains(&key) && key != "vee" {
        note_unknown(entry, book);
        return;
    }
    if key == "foot" {
        let word = match &entry.value {
            Value::Text(t) | Value::Cell(t) => t.as_str(),
            _ => "",
        };
        let foot = Foot::from_word(word);
        if foot.is_none() {
            refuse(entry, "flat, ball, point or edge", "write what the dial touches the bark with", book);
        }
        let rig: &mut Rig = book.lot.rigs.entry(name.to_string()).or_default();
        rig.foot = foot.or(rig.foot);
        return;
    }
    let x = match key {
        "vee_deg" | "vee" => number(entry, Holds::Angle, unit, VEE_DEG, book),
        // 0: a detent, an index plate, a gauge that was set against a standard
        "line_deg" | "setting_deg" => number(entry, Holds::Angle, unit, (0.0, MOST_OFF_DEG), book),
        "bias" => number(entry, Holds::Length, unit, (0.0, 5.0), book),
        "span" => number(entry, Holds::Length, unit, (SPAN.least, SPAN.most), book),
        "scale_percent" => number(entry, Holds::Number, None, (0.0, MOST_SCALE_PERCENT), book),
        "seconds" | "setup_seconds" => number(entry, Holds::Number, None, (0.0, MOST_SECONDS), book),
        _ => number(entry, Holds::Length, unit, (1e-6, 5.0), book),
    };
    // a rig with a wrong fact is declared all the same
    let rig: &mut Rig = book.lot.rigs.entry(name.to_string()).or_default();
    match key {
        "resolution" => rig.resolution_mm = x.or(rig.resolution_mm),
        "sd" => rig.sd_mm = x.or(rig.sd_mm),
        "line_deg" => rig.line_deg = x.or(rig.line_deg),
        "setting_deg" => rig.setting_deg = x.or(rig.setting_deg),
        "bias" => rig.bias_mm = x.or(rig.bias_mm),
        "scale_percent" => rig.scale_percent = x.or(rig.scale_percent),
        "span" => rig.span_mm = x.or(rig.span_mm),
        "seconds" => rig.seconds = x.or(rig.seconds),
        "setup_seconds" => rig.setup_seconds = x.or(rig.setup_seconds),
        "foot_radius" => rig.foot_radius_mm = x.or(rig.foot_radius_mm),
        _ => rig.vee_deg = x.or(rig.vee_deg),
    }
}

fn population(entry: &Entry, book: &mut Book) {
    if let Some(x) = number(entry, Holds::Number, None, SCALE_RANGE, book) {
        book.lot.population.insert(entry.key.clone(), x);
    }
}

/// The value as a number in mm, g, degrees or plain, within its range.
fn number(entry: &Entry, holds: Holds, unit: Option<Unit>, range: (f64, f64), book: &mut Book) -> Option<f64> {
    let (what, found) = match holds {
        Holds::Length => ("a length in mm, or a text with its unit", length(entry, unit)),
        Holds::Weight => ("a weight in g, or a text with its unit", weight(entry, unit)),
        Holds::Angle => ("an angle in degrees", angle(entry, unit)),
        Holds::Whole => ("a whole number", plain_number(entry)),
        Holds::Number | Holds::Text => ("a number", plain_number(entry)),
    };
    let unit_word = match holds {
        Holds::Length => " mm",
        Holds::Weight => " g",
        Holds::Angle => " deg",
        _ => "",
    };
    let (least, most) = range;
    match found {
        Some(Ok(x)) => {
            let whole = !matches!(holds, Holds::Whole) || (x - x.round()).abs() < 1e-9;
            if (least..=most).contains(&x) && whole {
                return Some(x);
            }
            let kind = if matches!(holds, Holds::Whole) { "a whole number " } else { "" };
            let expected = format!("{kind}from {least} to {most}{unit_word}");
            refuse(entry, &expected, DELETE_THE_LINE, book);
        }
        // no row of readings that could be left out
        Some(Err(UnitError::NotFinite)) => refuse(entry, what, DELETE_THE_LINE, book),
        Some(Err(e)) => refuse(entry, &e.expected(what), &e.fix(holds.quantity()), book),
        None => refuse(entry, what, "write a number without quotes", book),
    }
    None
}

fn length(entry: &Entry, unit: Option<Unit>) -> Option<Result<f64, UnitError>> {
    let bare = match unit {
        Some(Unit::Length(u)) => u,
        None => LengthUnit::Millimetre,
        Some(_) => return None,
    };
    of_text(entry, |text| parse_length(text, bare, entry.mark))
}

fn weight(entry: &Entry, unit: Option<Unit>) -> Option<Result<f64, UnitError>> {
    let bare = match unit {
        Some(Unit::Weight(u)) => u,
        None => WeightUnit::Gram,
        Some(_) => return None,
    };
    of_text(entry, |text| parse_weight(text, bare, entry.mark))
}

/// The unit a weight that could be read was typed in.
fn weight_unit(entry: &Entry, key: Option<Unit>) -> WeightUnit {
    let beside = match &entry.value {
        Value::Text(text) | Value::Cell(text) => weight_unit_beside(text),
        Value::Number(_) | Value::Other(_) => None,
    };
    match (beside, key) {
        (Some(unit), _) | (None, Some(Unit::Weight(unit))) => unit,
        _ => WeightUnit::Gram,
    }
}

fn angle(entry: &Entry, unit: Option<Unit>) -> Option<Result<f64, UnitError>> {
    let bare = match unit {
        Some(Unit::Angle(u)) => u,
        None => AngleUnit::Degree,
        Some(_) => return None,
    };
    of_text(entry, |text| parse_angle(text, bare, entry.mark).map(|a| a.degrees()))
}

/// A number as found goes through its shortest text, so that bare numbers and texts are read by one rule.
fn of_text<T>(entry: &Entry, parse: impl Fn(&str) -> Result<T, UnitError>) -> Option<Result<T, UnitError>> {
    match &entry.value {
        Value::Number(x) if x.is_finite() && x.abs() < 1e15 => Some(match parse(&format!("{x}")) {
            // such a text holds one point at most, so a comma mark would be the only doubt
            Err(UnitError::Grouped { .. }) => Err(UnitError::NotANumber),
            other => other,
        }),
        Value::Number(x) if x.is_finite() => Some(Err(UnitError::TooLarge { limit: "1e15" })),
        Value::Number(_) => Some(Err(UnitError::NotFinite)),
        Value::Text(text) | Value::Cell(text) => Some(parse(text)),
        Value::Other(_) => None,
    }
}

fn plain_number(entry: &Entry) -> Option<Result<f64, UnitError>> {
    match &entry.value {
        Value::Number(x) if x.is_finite() => Some(Ok(*x)),
        Value::Number(_) => Some(Err(UnitError::NotFinite)),
        Value::Cell(text) => Some(parse_number(text, &["%"], entry.mark)),
        Value::Text(_) | Value::Other(_) => None,
    }
}

/// The two chances of screening must be in order.
fn check_chances(entries: &[Entry], book: &mut Book) {
    if book.lot.screen.leave_chance <= book.lot.screen.split_chance {
        return;
    }
    let last = entries.iter().rfind(|e| e.key == "leave_chance" || e.key == "split_chance");
    if let Some(entry) = last {
        let both = format!(
            "leave_chance {} above split_chance {}",
            book.lot.screen.leave_chance, book.lot.screen.split_chance
        );
        let fix = "swap the two; until then the defaults hold";
        book.findings.error(entry.place.clone(), None, both, "leave_chance at most split_chance", fix);
    }
    let default = ScreenRule::default();
    book.lot.screen.split_chance = default.split_chance;
    book.lot.screen.leave_chance = default.leave_chance;
}

fn shown(value: &Value) -> String {
    match value {
        Value::Number(x) => format!("{x}"),
        Value::Text(t) | Value::Cell(t) => quoted(t),
        Value::Other(what) => (*what).to_string(),
    }
}

/// Reports an entry that cannot be used.
pub(super) fn refuse(entry: &Entry, expected: &str, fix: &str, book: &mut Book) {
    book.findings.error(entry.place.clone(), None, shown(&entry.value), expected, fix);
}

/// A key or section that is not known: what might have been meant.
fn note_unknown(entry: &Entry, book: &mut Book) {
    let sections: Vec<&str> = sections();
    let known_section = entry.section.is_empty() || sections.contains(&entry.section.as_str());
    let rig = entry.section.starts_with("rig.");
    let (found, fix) = if !known_section && !rig {
        let fix = match nearest(&entry.section, sections.iter().copied()) {
            Some(near) => format!("ignored; is [{near}] meant?"),
            None => "ignored".to_string(),
        };
        (format!("an unknown section [{}]", bare(&entry.section)), fix)
    } else {
        let names: Vec<&str> = if rig {
            RIG_KEYS.to_vec()
        } else {
            KEYS.iter().filter(|k| entry.section.is_empty() || k.0 == entry.section).map(|k| k.1).collect()
        };
        let elsewhere = KEYS.iter().find(|k| k.1 == entry.key).filter(|_| !rig);
        let fix = match (elsewhere, nearest(&entry.key, names.iter().copied())) {
            (Some(k), _) => format!("ignored here; it belongs under [{}]", k.0),
            (None, Some(near)) => format!("ignored; is {near} meant?"),
            (None, None) => "ignored".to_string(),
        };
        (format!("an unknown key {}", quoted(&entry.key)), fix)
    };
    let expected = if known_section || rig {
        "a key of this section".to_string()
    } else {
        format!("one of {}", sections.join(", "))
    };
    book.findings.note(entry.place.clone(), None, found, expected, fix);
}

/// The sections that are known.
pub(super) fn sections() -> Vec<&'static str> {
    let mut names: Vec<&str> = Vec::new();
    for key in KEYS.iter() {
        if !names.contains(&key.0) {
            names.push(key.0);
        }
    }
    names.extend(OPEN_SECTIONS);
    names
}

fn bare(text: &str) -> String {
    quoted(text).trim_matches('\'').to_string()
}
