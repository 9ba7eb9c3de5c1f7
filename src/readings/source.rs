//! Where the files of a lot come from, and in which order they are read.

use super::book::Book;
use super::catalogue::{is_angle_header, is_place_header};
use super::error::ReadError;
use super::findings::{quoted, whole_file};
use super::nearest::nearest;
use super::spreadsheet::{Workbook, first_row_is_setting, settings as sheet_settings};
use super::table::Table;
use super::{
    cuts, dialect, lot_toml, maker, marks, readings_grid, readings_line, readings_log, readings_long, scan, set_aside,
    spans, tubes, weights,
};
use crate::domain::{Finding, Lot, Severity, Tube, counted, units::parse_header};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A lot as read, with everything noticed on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct LotRead {
    /// The lot. Tubes with an error finding have `in_doubt` set, but for single readings that the rest of a file can do
    /// without: those are set aside, and a note says so.
    pub lot: Lot,
    /// Errors and notes by file, line and column.
    pub findings: Vec<Finding>,
    /// The files (or sheets) that were read, in reading order, named relative to the lot.
    pub files: Vec<String>,
}

impl LotRead {
    /// The findings that make a row, file or tube unusable.
    pub fn errors(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.severity == Severity::Error)
    }

    /// True when there is any error finding.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.errors().next().is_some()
    }
}

/// What a file name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Role {
    Settings,
    Tubes,
    Readings,
    Marks,
    Cuts,
    Scan,
    /// The index marks of the scans.
    ScanIndex,
    /// Designed for, not read by this version.
    Later,
    Other,
}

/// What was found under one name.
enum Content<'a> {
    Bytes(&'a [u8]),
    /// A file that is read only when its turn comes, because many of its kind would fill the memory.
    Waiting(PathBuf),
    /// Why there are no bytes.
    Unread(String),
}

/// Reads a lot from a folder, one file of readings, or one workbook.
///
/// # Errors
/// Only when there is nothing to read: the path is missing or refused by the system, or holds neither tubes nor
/// readings. Everything else is a finding in [`LotRead::findings`].
///
/// # Example
/// ```no_run
/// let read = quarterlight::readings::read_lot("spring delivery".as_ref())?;
/// for finding in read.errors() {
///     eprintln!("{finding}");
/// }
/// let usable = read.lot.tubes.iter().filter(|t| !t.in_doubt).count();
/// # Ok::<(), quarterlight::readings::ReadError>(())
/// ```
pub fn read_lot(path: &Path) -> Result<LotRead, ReadError> {
    let io = |source: std::io::Error| match source.kind() {
        ErrorKind::NotFound => ReadError::NotFound { path: path.to_path_buf() },
        _ => ReadError::Unreadable { path: path.to_path_buf(), source },
    };
    let meta = std::fs::metadata(path).map_err(io)?;
    if meta.is_dir() {
        return read_folder(path);
    }
    let name = path.file_name().map_or_else(|| "readings".to_string(), |n| n.to_string_lossy().into_owned());
    if !matches!(role_of(&name), Role::Readings | Role::Scan | Role::Other) {
        return Err(ReadError::PartOfALot { path: path.to_path_buf() });
    }
    let bytes = if meta.len() > dialect::MAX_BYTES {
        Content::Unread(too_large(meta.len()))
    } else {
        let bytes = std::fs::read(path).map_err(io)?;
        return read_single(&name, Content::Bytes(&bytes), path);
    };
    read_single(&name, bytes, path)
}

/// Reads a lot from files held in memory, as from a folder called `name`.
///
/// # Arguments
/// * `name`: the lot's name where its settings give none.
/// * `files`: file names (without folders, but `scans/TUBE.csv` for a scan) and their bytes, in any order.
///
/// # Errors
/// [`ReadError::NothingUsable`] when there are neither tubes nor readings among the files.
///
/// # Example
/// ```
/// use quarterlight::readings::read_lot_files;
/// let readings = "tube,kind,z,angle,value_in\nA,diameter,10,0,1\nA,diameter,10,90,1 1/64\n";
/// let read = read_lot_files("trial", &[("readings.csv", readings.as_bytes())]).unwrap();
/// let tube = &read.lot.tubes[0];
/// assert_eq!(tube.readings[1].value_mm, 25.796875);
/// assert!(tube.length_is_guess && !read.has_errors());
/// ```
pub fn read_lot_files(name: &str, files: &[(&str, &[u8])]) -> Result<LotRead, ReadError> {
    let files = files.iter().map(|(n, b)| ((*n).to_string(), Content::Bytes(b))).collect();
    read_files(name, files, &[], Path::new(name), Book::default())
}

fn too_large(bytes: u64) -> String {
    format!("a file of {} million bytes", bytes / 1_000_000)
}

fn role_of(name: &str) -> Role {
    let name = name.to_lowercase();
    if let Some(inner) = name.strip_prefix("scans/") {
        return match inner {
            "index.csv" => Role::ScanIndex,
            n if scan::is_scan_name(n) => Role::Scan,
            _ => Role::Other,
        };
    }
    match name.as_str() {
        "lot.toml" => Role::Settings,
        "tubes.csv" => Role::Tubes,
        "marks.csv" => Role::Marks,
        "cuts.csv" => Role::Cuts,
        n if scan::is_only_scan(n) => Role::Scan,
        n if n.starts_with("readings") && n.ends_with(".csv") => Role::Readings,
        _ => Role::Other,
    }
}

fn is_workbook(name: &str) -> bool {
    let name = name.to_lowercase();
    [".xlsx", ".xlsm", ".ods"].iter().any(|end| name.ends_with(end))
}

/// The name of a folder, also when it is given as `.`.
fn folder_name(path: &Path) -> String {
    let own = path.file_name().map(|n| n.to_string_lossy().into_owned());
    own.or_else(|| path.canonicalize().ok()?.file_name().map(|n| n.to_string_lossy().into_owned()))
        .unwrap_or_else(|| "lot".to_string())
}

fn read_folder(path: &Path) -> Result<LotRead, ReadError> {
    let unreadable = |source| ReadError::Unreadable { path: path.to_path_buf(), source };
    let mut names = entries(path, "").map_err(unreadable)?;
    let folders: Vec<(String, PathBuf, bool)> =
        names.iter().filter(|n| n.2 && n.0.eq_ignore_ascii_case("scans")).cloned().collect();
    for (_, inner, _) in folders {
        names.extend(entries(&inner, "scans/").map_err(unreadable)?);
    }
    names.sort();
    let others: Vec<String> =
        names.iter().filter(|n| wanted_role(&n.0, n.2) == Role::Other).map(|n| n.0.clone()).collect();
    let mut loaded: Vec<(String, Result<Vec<u8>, String>)> = Vec::new();
    let mut waiting = Vec::new();
    for (name, file, is_dir) in names.into_iter().filter(|n| wanted_role(&n.0, n.2) != Role::Other) {
        if role_of(&name) == Role::Scan {
            waiting.push((name, Content::Waiting(file)));
            continue;
        }
        let bytes = if is_dir || role_of(&name) == Role::Later { Ok(Vec::new()) } else { load(&file) };
        loaded.push((name, bytes));
    }
    let files = loaded
        .iter()
        .map(|(n, b)| match b {
            Ok(bytes) => (n.clone(), Content::Bytes(bytes)),
            Err(why) => (n.clone(), Content::Unread(why.clone())),
        })
        .chain(waiting)
        .collect();
    let book = Book::in_folder(Some(path));
    read_files(&folder_name(path), files, &others, path, book)
}

/// What stands in a folder, without hidden and temporary files: name behind `prefix`, path, whether it is a folder.
fn entries(folder: &Path, prefix: &str) -> std::io::Result<Vec<(String, PathBuf, bool)>> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if !name.starts_with(['.', '~']) {
            names.push((format!("{prefix}{name}"), entry.path(), entry.path().is_dir()));
        }
    }
    Ok(names)
}

/// A folder counts only where a folder belongs, a scan only among the scans.
fn wanted_role(name: &str, is_dir: bool) -> Role {
    match role_of(name) {
        Role::Later => Role::Later,
        Role::Scan if !name.starts_with("scans/") => Role::Other,
        _ if is_dir => Role::Other,
        role => role,
    }
}

fn load(file: &Path) -> Result<Vec<u8>, String> {
    match std::fs::metadata(file) {
        Ok(meta) if meta.len() > dialect::MAX_BYTES => Err(too_large(meta.len())),
        _ => std::fs::read(file).map_err(|e| format!("a file the system will not read ({})", e.kind())),
    }
}

/// Reads all files of a lot, settings and tubes first.
fn read_files(
    name: &str,
    files: Vec<(String, Content<'_>)>,
    others: &[String],
    path: &Path,
    mut book: Book,
) -> Result<LotRead, ReadError> {
    let mut files = files;
    files.sort_by(|a, b| (role_of(&a.0), a.0.to_lowercase(), &a.0).cmp(&(role_of(&b.0), b.0.to_lowercase(), &b.0)));
    if !files.iter().any(|f| matches!(role_of(&f.0), Role::Tubes | Role::Readings | Role::Scan)) {
        let mut found: Vec<String> = files.into_iter().map(|f| f.0).chain(others.iter().cloned()).collect();
        found.sort();
        return Err(ReadError::NothingUsable { path: path.to_path_buf(), found });
    }
    book.lot.name = name.to_string();
    let mut read: Vec<String> = Vec::new();
    for (file_name, content) in &files {
        let file: Arc<str> = file_name.as_str().into();
        let role = role_of(file_name);
        let twice = !matches!(role, Role::Readings | Role::Scan) && read.iter().any(|r| role_of(r) == role);
        match content {
            _ if role == Role::Later => note_later(&file, &mut book),
            _ if role == Role::Other => {}
            _ if twice => {
                let fix = "keep one of the two files";
                book.findings.error(whole_file(&file), None, "a second file of this name", "one", fix);
            }
            Content::Unread(why) => unread(&file, why.clone(), &mut book),
            Content::Waiting(path) => match load(path) {
                Ok(bytes) => {
                    read_one(role, &bytes, &file, &mut book);
                    read.push(file_name.clone());
                }
                Err(why) => unread(&file, why, &mut book),
            },
            Content::Bytes(bytes) => {
                read_one(role, bytes, &file, &mut book);
                read.push(file_name.clone());
            }
        }
    }
    let in_memory = files.iter().filter(|f| role_of(&f.0) == Role::Other).map(|f| f.0.clone());
    note_others(&in_memory.chain(others.iter().cloned()).collect::<Vec<_>>(), &mut book);
    let listed = read.iter().any(|r| role_of(r) == Role::Tubes);
    let first = read.iter().find(|r| role_of(r) == Role::Readings).or(read.first()).cloned().unwrap_or_default();
    Ok(finish(book, read, listed, &first))
}

fn unread(file: &Arc<str>, why: String, book: &mut Book) {
    let expected = "a file of at most 200 million bytes that can be read";
    book.findings.error(whole_file(file), None, why, expected, "look at the file");
}

fn read_one(role: Role, bytes: &[u8], file: &Arc<str>, book: &mut Book) {
    if role == Role::Settings {
        if let Some(entries) = lot_toml::entries(bytes, file, book) {
            book.has_settings = true;
            maker::settle(entries, load, book);
        }
    } else if role == Role::Scan {
        scan::read(bytes, file, book);
    } else if let Some(table) = Table::from_csv(bytes, file, &mut book.findings) {
        read_table(role, &table, book);
    }
}

fn read_table(role: Role, table: &Table, book: &mut Book) {
    match role {
        Role::Tubes => tubes::read(table, book),
        Role::Marks => marks::read(table, book),
        Role::Cuts => cuts::read(table, book),
        Role::ScanIndex => scan::index::read(table, book),
        _ => read_readings(table, book),
    }
}

/// Long, grid, line or log, by the columns.
fn read_readings(table: &Table, book: &mut Book) {
    match ReadingsForm::of(&table.headers) {
        Ok(ReadingsForm::Long) => readings_long::read(table, book),
        Ok(ReadingsForm::Grid) => readings_grid::read(table, book),
        Ok(ReadingsForm::Line) => readings_line::read(table, book),
        Ok(ReadingsForm::Log) => readings_log::read(table, book),
        Err((found, fix)) => {
            let place = table.place(table.header_line, None);
            book.findings.error(place, None, found, "one of the four forms (long, grid, line, log)", fix);
        }
    }
}

/// The ways of writing readings down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ReadingsForm {
    Long,
    Grid,
    Line,
    Log,
}

impl ReadingsForm {
    /// By the column headers; where they are of two forms, what was found and what to do.
    fn of(headers: &[String]) -> Result<ReadingsForm, (&'static str, &'static str)> {
        let names: Vec<String> = headers.iter().map(|h| parse_header(h).name).collect();
        let named = |name: &str| names.iter().any(|n| n == name);
        let (z, angle, value) = (named("z"), named("angle"), named("value"));
        let log = named("step") && (named("first") || !z);
        // `20 mm` may head a place, or the angle 20 with values in mm
        let may_be = |h: &String| (is_angle_header(h), is_place_header(h));
        let angles = headers.iter().any(|h| may_be(h) == (true, false));
        let places = headers.iter().any(|h| may_be(h) == (false, true));
        let either = headers.iter().any(|h| may_be(h) == (true, true));
        let two_files = "give the rows in the long form and those in the grid form as two files";
        match (angles, places || either) {
            (true, _) if places => {
                Err(("both columns of angles and columns of places", "give them as two files: a grid and a line form"))
            }
            (true, _) if angle && !value && !z => Err((
                "an angle column beside columns headed with bare numbers",
                "if they are places along the tube, write their unit, as in 20mm; if they are angles, put the place under z",
            )),
            (true, _) if value || angle => Err(("both a value column and angle columns", two_files)),
            (_, true) if value => Err((
                "both a value column and columns of places",
                "give the rows in the long form and those in the line form as two files",
            )),
            (_, true) if z && (places || angle) => Err((
                "a column z beside columns of places",
                "take away z where the columns are places; if they are angles, head them as in 20deg",
            )),
            (false, true) if !z => Ok(ReadingsForm::Line),
            (true, _) | (_, true) => Ok(ReadingsForm::Grid),
            _ if log && z => Err((
                "a column z beside the columns first and step",
                "the place follows from first and step: take away z, or give each reading its z and take away the two",
            )),
            _ if log => Ok(ReadingsForm::Log),
            _ => Ok(ReadingsForm::Long),
        }
    }
}

fn note_later(file: &Arc<str>, book: &mut Book) {
    let fix = "nothing to do: it is left alone";
    let found = "a part of the lot that this version does not read yet";
    book.findings.note(
        whole_file(file),
        None,
        found,
        "lot.toml, tubes.csv, readings*.csv, marks.csv, cuts.csv, scans",
        fix,
    );
}

/// One note on tables in the folder whose names say nothing to this tool.
fn note_others(others: &[String], book: &mut Book) {
    let is_table = |n: &&String| {
        let n = n.to_lowercase();
        is_workbook(&n)
            || scan::is_only_scan(&n)
            || n.ends_with(".csv")
            || n.ends_with(".tsv")
            || nearest(&n, ["lot.toml"]).is_some()
    };
    for name in others.iter().filter(is_table) {
        let fix = match nearest(name, ["tubes.csv", "readings.csv", "marks.csv", "cuts.csv", "lot.toml"]) {
            _ if scan::is_only_scan(name) => "not read; scans belong into the folder scans".to_string(),
            _ if is_workbook(name) => {
                "not read; give the workbook itself in place of the folder to read it".to_string()
            }
            Some(near) => format!("not read; is {near} meant? Rename it"),
            None => "not read; if it holds readings, let its name begin with readings and end with .csv".to_string(),
        };
        let expected = "lot.toml, tubes.csv, readings*.csv, marks.csv, cuts.csv";
        book.findings.note(whole_file(&name.as_str().into()), None, "another table in the folder", expected, fix);
    }
}

/// One file given alone: readings, or a workbook.
fn read_single(name: &str, content: Content<'_>, path: &Path) -> Result<LotRead, ReadError> {
    let stem = Path::new(name).file_stem().map_or_else(|| name.to_string(), |s| s.to_string_lossy().into_owned());
    let mut book = Book::in_folder(path.parent());
    book.lot.name = stem;
    let file: Arc<str> = name.into();
    let mut read = vec![name.to_string()];
    let mut listed = false;
    match content {
        Content::Unread(why) => {
            let fix = "leave out what is not readings, or give the readings in several files";
            book.findings.error(whole_file(&file), None, why, "at most 200 million bytes", fix);
        }
        Content::Bytes(bytes) if is_workbook(name) => {
            (read, listed) = read_workbook(bytes, &file, &mut book, path)?;
        }
        Content::Bytes(bytes) => {
            let role = if role_of(name) == Role::Scan { Role::Scan } else { Role::Readings };
            read_one(role, bytes, &file, &mut book);
        }
        Content::Waiting(_) => {}
    }
    let first = read.first().cloned().unwrap_or_default();
    Ok(finish(book, read, listed, &first))
}

/// The sheets of a workbook in the order of the files they stand for; the sheets read, and whether tubes were listed.
fn read_workbook(
    bytes: &[u8],
    file: &Arc<str>,
    book: &mut Book,
    path: &Path,
) -> Result<(Vec<String>, bool), ReadError> {
    let Some(workbook) = Workbook::open(bytes, file, &mut book.findings) else {
        return Ok((vec![file.to_string()], false));
    };
    let single = workbook.sheets.len() == 1;
    let mut sheets: Vec<(Role, String, _)> =
        workbook.sheets.into_iter().map(|(name, rows)| (sheet_role(&name), name, rows)).collect();
    if !sheets.iter().any(|s| matches!(s.0, Role::Tubes | Role::Readings)) {
        match sheets.first_mut() {
            Some(sheet) if single && sheet.0 == Role::Other => sheet.0 = Role::Readings,
            _ => {
                let found = sheets.into_iter().map(|s| format!("sheet {}", s.1)).collect();
                return Err(ReadError::NothingUsable { path: path.to_path_buf(), found });
            }
        }
    }
    sheets.sort_by_key(|s| (s.0, s.1.to_lowercase()));
    let (mut read, mut unread, mut listed) = (Vec::new(), Vec::new(), false);
    for (role, sheet, rows) in sheets {
        let label = format!("{file} [{sheet}]");
        let place: Arc<str> = label.as_str().into();
        match rows {
            _ if role == Role::Later => note_later(&place, book),
            _ if role == Role::Other => unread.push(sheet),
            Err(why) => {
                let fix = "open the workbook in the spreadsheet program and save it again";
                book.findings.error(
                    whole_file(&place),
                    None,
                    format!("a sheet that cannot be read ({why})"),
                    "a sheet",
                    fix,
                );
            }
            Ok(rows) => {
                if let Some(table) = Table::from_sheet(rows, &place, &mut book.findings) {
                    if role == Role::Settings { read_settings(&table, book) } else { read_table(role, &table, book) }
                }
                listed |= role == Role::Tubes;
                read.push(label);
            }
        }
    }
    if !unread.is_empty() {
        let found = format!("other sheets: {}", unread.iter().map(|s| quoted(s)).collect::<Vec<_>>().join(", "));
        book.findings.note(whole_file(file), None, found, "sheets tubes, readings*, marks, cuts, lot", "not read");
    }
    Ok((read, listed))
}

fn read_settings(table: &Table, book: &mut Book) {
    let entries = sheet_settings(table, first_row_is_setting(table), &mut book.findings);
    book.has_settings = true;
    maker::settle(entries, load, book);
}

fn sheet_role(name: &str) -> Role {
    let name = name.trim().to_lowercase();
    match name.as_str() {
        "lot" => Role::Settings,
        "tubes" => Role::Tubes,
        "marks" => Role::Marks,
        "cuts" => Role::Cuts,
        "scans" => Role::Later,
        n if n.starts_with("readings") => Role::Readings,
        _ => Role::Other,
    }
}

/// Tubes without readings that are told one by one: a large lot of which a sample was measured is told by their number.
const UNREAD_BY_NAME: usize = 24;

/// Lengths that no list gave, tubes without readings, tubes in doubt; then the answer.
fn finish(mut book: Book, files: Vec<String>, listed: bool, first: &str) -> LotRead {
    book.close();
    set_aside::decide(&mut book);
    let file: Arc<str> = first.into();
    guess_lengths(&mut book, listed, &file);
    spans::check(&mut book);
    weights::check(&mut book);
    let Book { mut lot, mut findings, .. } = book;
    let doubtful = findings.doubtful().clone();
    let empty = |t: &Tube| t.readings.is_empty() && t.scan.is_none() && !doubtful.contains(&t.name);
    let nothing = lot.tubes.len() > 1 && lot.tubes.iter().all(empty);
    if nothing {
        let found = format!("nothing measured yet of {}", counted(lot.tubes.len(), "tube"));
        let fix =
            "measure, and fill in readings*.csv; `quarterlight new DIR` makes forms to type into and sheets to print";
        findings.note(whole_file(&file), None, found, "readings", fix);
    }
    let mut unread = 0;
    for tube in &mut lot.tubes {
        tube.in_doubt = doubtful.contains(&tube.name);
        if !nothing && empty(tube) {
            unread += 1;
            if unread <= UNREAD_BY_NAME {
                let found = format!("no readings of {}", quoted(&tube.name));
                let fix = "nothing to do if it was not measured: it is listed and not planned; the whole lot is forecast with it";
                findings.note(whole_file(&file), Some(&tube.name), found, "readings", fix);
            }
        }
    }
    if unread > UNREAD_BY_NAME {
        let found = format!("no readings of {} more", counted(unread - UNREAD_BY_NAME, "tube"));
        let fix = "nothing to do if they were not measured: they are listed and not planned; the whole lot is forecast with them";
        findings.note(whole_file(&file), None, found, "readings", fix);
    }
    LotRead { lot, findings: findings.finish(), files }
}

/// The furthest reading or mark stands in for a length that no list gives.
fn guess_lengths(book: &mut Book, listed: bool, file: &Arc<str>) {
    let mut guessed = 0;
    for tube in book.lot.tubes.iter_mut().filter(|t| t.length_mm <= 0.0) {
        let furthest =
            tube.readings.iter().map(spans::reach_mm).chain(tube.marks.iter().map(|m| m.to_mm)).fold(0.0, f64::max);
        tube.length_is_guess = true;
        if tube.scan.is_some() {
            let place = tube.scan.as_ref().map(|s| s.place.clone()).unwrap_or_default();
            let fix = "nothing to do if the whole tube was scanned; else give its length in tubes.csv";
            let found = format!("no length for {}: it is taken from its scan", quoted(&tube.name));
            book.findings.note(place, Some(&tube.name), found, "a length in tubes.csv", fix);
            continue;
        }
        if let Some(place) = book.only_named.get(&tube.name) {
            let measured = !tube.readings.is_empty() || !tube.marks.is_empty();
            if measured && !book.findings.doubtful().contains(&tube.name) {
                let found = format!("no length for {}", quoted(&tube.name));
                let fix = "write its length, in the unit of the column or with its unit behind it";
                book.findings.error(place.clone(), Some(&tube.name), found, "the tube's length", fix);
            }
            continue;
        }
        tube.length_mm = furthest;
        guessed += usize::from(furthest > 0.0);
        if furthest <= 0.0 && !book.findings.doubtful().contains(&tube.name) {
            let fix = "give a list of tubes with lengths, or readings along the tube";
            let found = format!("no length for {}", quoted(&tube.name));
            book.findings.error(whole_file(file), Some(&tube.name), found, "a length", fix);
        }
    }
    if guessed > 0 && !listed {
        let found =
            format!("no list of tubes: the furthest readings stand in for the length of {}", counted(guessed, "tube"));
        let fix = "nothing to do if the last station is near the far end; else add tubes.csv with the lengths";
        book.findings.note(whole_file(file), None, found, "tubes.csv with tube, length, weight", fix);
    }
}
