//! From the user's files to a lot: every ordinary way of writing them, and every slip reported at once.

use quarterlight::domain::{Angle, Finding, Kind, Lot, OneBlow, Reading, Rig, Severity, Tube};
use quarterlight::readings::{LotRead, ReadError, lot_tables, read_lot, read_lot_files};
use std::path::Path;

const TUBES: &str = "tube,length,weight\nA1,200,31.5\nA2,205,29\n";
const LONG: &str = "tube,kind,z,angle,value\nA1,diameter,10,0,25.4\nA1,diameter,10,90,25.1\nA2,runout,20,45,-0.12\n";

fn lot(files: &[(&str, &str)]) -> LotRead {
    let files: Vec<(&str, &[u8])> = files.iter().map(|(n, t)| (*n, t.as_bytes())).collect();
    read_lot_files("trial", &files).unwrap_or_else(|e| panic!("{e}"))
}

fn readings(text: &str) -> LotRead {
    lot(&[("tubes.csv", TUBES), ("readings.csv", text)])
}

/// The lot without the places in the files, for comparing two ways of writing the same.
fn bare(read: &LotRead) -> Lot {
    let mut lot = read.lot.clone();
    for t in &mut lot.tubes {
        for r in &mut t.readings {
            r.place = Default::default();
        }
        for m in &mut t.marks {
            m.place = Default::default();
        }
    }
    lot
}

fn all(read: &LotRead) -> String {
    read.findings.iter().map(|f| format!("{f}\n")).collect()
}

/// Nothing found.
fn clean(read: &LotRead) {
    assert!(read.findings.is_empty(), "{}", all(read));
}

/// The only finding at a line of a file.
fn at<'a>(read: &'a LotRead, file: &str, line: u64) -> &'a Finding {
    let hits: Vec<&Finding> = read.findings.iter().filter(|f| &*f.place.file == file && f.place.line == line).collect();
    assert_eq!(hits.len(), 1, "{file} {line}:\n{}", all(read));
    hits[0]
}

fn tube<'a>(read: &'a LotRead, name: &str) -> &'a Tube {
    read.lot.tubes.iter().find(|t| t.name == name).unwrap_or_else(|| panic!("no tube {name}"))
}

/// The only error at a line says `words`, and its tube is in doubt.
fn says(read: &LotRead, file: &str, line: u64, words: &str) {
    let hits: Vec<&Finding> = read.errors().filter(|f| &*f.place.file == file && f.place.line == line).collect();
    assert_eq!(hits.len(), 1, "{file} {line}:\n{}", all(read));
    let f = hits[0];
    assert!(f.to_string().contains(words), "wanted '{words}' in: {f}");
    assert!(!f.fix.is_empty() && !f.expected.is_empty() && !f.found.is_empty(), "{f:?}");
    if let Some(name) = &f.tube {
        assert!(tube(read, name).in_doubt, "{name} should be in doubt: {f}");
    }
}

fn write(folder: &Path, files: &[(&str, &str)]) {
    for (name, text) in files {
        std::fs::write(folder.join(name), text).expect("temp file");
    }
}

// ---- what is read

#[test]
fn a_folder_is_a_lot() {
    let dir = tempfile::tempdir().expect("temp folder");
    let toml = "[lot]\nname = \"Spring\"\nbought_weight = \"2 lb\"\nprice = 40\ncurrency = \"EUR\"\nhumidity_percent = 45\n\
        [target]\ninstrument = \"alto saxophone\"\nblank_length = \"2 3/4 in\"\npieces = 3\n[saw]\nkerf = 0.8\ntrim = 5\n\
        [split]\nwander_deg = 2\n[batch]\nedge_life = 60\n[screen]\nleast_blanks = 2\n\
        [rig.caliper]\nresolution = \"1/64 in\"\nsd = 0.04\n[rig.block]\nvee_deg = 90\n[population]\nbow = 0.5\n";
    let marks = "tube,from,to,angle_from,angle_to,why\nA1,100,110,,,node\nA2,5,9,350,20,crack\n";
    write(dir.path(), &[("Lot.TOML", toml), ("TUBES.csv", TUBES), ("Readings-1.csv", LONG), ("marks.csv", marks)]);
    let read = read_lot(dir.path()).expect("a lot");
    clean(&read);
    assert_eq!(read.files, ["Lot.TOML", "TUBES.csv", "Readings-1.csv", "marks.csv"]);
    let l = &read.lot;
    assert_eq!(
        (l.name.as_str(), l.price, l.currency.as_str(), l.humidity_percent),
        ("Spring", Some(40.0), "EUR", Some(45.0))
    );
    assert_eq!(l.bought_weight_g, Some(907.18474));
    assert_eq!((l.target.instrument.as_str(), l.target.pieces), ("alto saxophone", 3));
    assert!((l.target.blank_length_mm - 69.85).abs() < 1e-12 && (l.target.blank_width_mm - 15.4).abs() < 1e-12);
    assert!((l.saw.kerf_mm - 0.8).abs() < 1e-12 && (l.split.wander_deg - 2.0).abs() < 1e-12);
    assert_eq!(
        (l.edge_life, l.rigs["caliper"].resolution_mm, l.rigs["block"].vee_deg),
        (Some(60.0), Some(0.396875), Some(90.0))
    );
    assert_eq!(l.population.get("bow"), Some(&0.5));
    assert_eq!(l.tubes.iter().map(|t| t.name.as_str()).collect::<Vec<_>>(), ["A1", "A2"]);
    assert_eq!(tube(&read, "A1").readings.len(), 2);
    assert_eq!(tube(&read, "A2").marks[0].why, "crack");
    assert_eq!(tube(&read, "A1").marks[0].from, None);
    let r = &tube(&read, "A2").readings[0];
    assert_eq!((r.kind, r.z_mm, r.value_mm, r.place.line), (Kind::Runout, 20.0, -0.12, 4));
}

#[test]
fn a_rig_states_its_angles_and_its_zero_and_a_lot_its_index_line() {
    let toml = "[lot]\nindex_line_deg = 0\n[rig.dial]\nline_deg = 0.1\nsetting_deg = \"0.5 deg\"\nbias = 0\n\
        [rig.caliper]\nbias_in = 0.001\nscale_percent = 0.2\n";
    let read = lot(&[("lot.toml", toml), ("tubes.csv", TUBES), ("readings.csv", LONG)]);
    clean(&read);
    let (dial, caliper) = (&read.lot.rigs["dial"], &read.lot.rigs["caliper"]);
    assert_eq!(read.lot.index_line_deg, Some(0.0));
    assert_eq!((dial.line_deg, dial.setting_deg, dial.bias_mm), (Some(0.1), Some(0.5), Some(0.0)));
    assert_eq!((dial.scale_percent, caliper.scale_percent), (None, Some(0.2)));
    assert!(caliper.bias_mm.is_some_and(|b| (b - 0.0254).abs() < 1e-12) && caliper.line_deg.is_none());
    let bad = "[lot]\nindex_line_deg = 90\n[rig.dial]\nline_deg = -1\nsetting_deg = \"far\"\nbias = 8\nbiass = 1\n";
    let read = lot(&[("lot.toml", bad), ("tubes.csv", TUBES), ("readings.csv", LONG)]);
    assert_eq!(read.findings.len(), 5, "{:?}", read.findings);
    assert!(read.lot.index_line_deg.is_none() && read.lot.rigs["dial"] == Rig::default());
    assert!(read.findings[4].fix.contains("bias"), "{:?}", read.findings[4]);
}

#[test]
fn a_single_file_takes_its_name_and_lengths_from_the_readings() {
    let dir = tempfile::tempdir().expect("temp folder");
    write(dir.path(), &[("quick look.csv", LONG)]);
    let read = read_lot(&dir.path().join("quick look.csv")).expect("a lot");
    assert_eq!(read.lot.name, "quick look");
    let a2 = tube(&read, "A2");
    assert!(a2.length_is_guess && (a2.length_mm - 20.0).abs() < 1e-12 && !a2.in_doubt);
    assert!(!read.has_errors() && all(&read).contains("furthest readings"), "{}", all(&read));
    assert!((read.lot.target.arc_diameter_mm - 25.4).abs() < 1e-12);
}

#[test]
fn every_dialect_gives_the_same_lot() {
    let want = bare(&readings(LONG));
    let semicolons = LONG.replace(',', ";").replace('.', ",");
    let reordered = "value,z,angle,kind,tube\n25.4,10,0,diameter,A1\n25.1,10,90,diameter,A1\n-0.12,20,45,runout,A2\n";
    let quoted = LONG
        .lines()
        .map(|l| l.split(',').map(|c| format!("\"{c}\"")).collect::<Vec<_>>().join(","))
        .collect::<Vec<_>>()
        .join("\n");
    let blanks = LONG.replace(',', " , ").replace('\n', ",,  \n\n   \n# a remark\n");
    let ways: [(&str, String); 11] = [
        ("byte-order mark", format!("\u{feff}{LONG}")),
        ("CRLF", LONG.replace('\n', "\r\n")),
        ("CR", LONG.replace('\n', "\r")),
        ("semicolons and commas", semicolons.clone()),
        ("all of these", format!("\u{feff}{}", semicolons.replace('\n', "\r\n"))),
        ("sep line", format!("sep=;\n{semicolons}")),
        ("tabs", LONG.replace(',', "\t")),
        ("reordered", reordered.to_string()),
        ("quoted", quoted),
        ("trailing blanks", blanks),
        ("upper case", LONG.replace("tube,kind", "TUBE,Kind").replace("diameter", "Diameter")),
    ];
    for (way, text) in ways {
        let read = readings(&text);
        assert!(!read.has_errors(), "{way}: {}", all(&read));
        assert_eq!(bare(&read), want, "{way}");
    }
    let quoted_commas =
        "tube,kind,z,angle,value\nA1,diameter,10,0,\"25,4\"\nA1,diameter,10,90,\"25,1\"\nA2,runout,20,45,\"-0,12\"\n";
    assert_eq!(bare(&readings(quoted_commas)), want);
    let utf16: Vec<u8> = [0xff, 0xfe].into_iter().chain(LONG.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let read = read_lot_files("trial", &[("tubes.csv", TUBES.as_bytes()), ("readings.csv", &utf16)]).expect("a lot");
    assert_eq!(bare(&read), want);
    assert!(all(&read).contains("UTF-16"));
}

#[test]
fn names_in_latin_1_are_read_with_a_note() {
    let tubes = b"tube,length,weight,note\nB\xe9,200,30,25\xbd\n";
    let read = read_lot_files("trial", &[("tubes.csv", tubes)]).expect("a lot");
    assert_eq!((read.lot.tubes[0].name.as_str(), read.lot.tubes[0].note.as_str()), ("Bé", "25½"));
    assert!(all(&read).contains("Windows-1252") && !read.has_errors());
}

#[test]
fn the_grid_form_equals_the_long_form() {
    let long = "tube,kind,z,angle,value,set,rig\nA1,diameter,10,0,25.4,s,\nA1,diameter,10,90,25.1,s,\nA1,diameter,60,45,25.3,t,\n";
    let grid = "tube,set,kind,z,0deg,45 deg,90°\nA1,s,diameter,10,25.4,,25.1\nA1,t,diameter,60,,25.3,\n";
    let inches = "tube,set,kind,z_in,0deg_in,45 deg (in),90 deg [in]\nA1,s,diameter,10 mm,1,,25.1 mm\nA1,t,diameter,60 mm,,25.3mm,\n";
    let want = bare(&readings(long));
    let read = readings(grid);
    assert!(!read.has_errors(), "{}", all(&read));
    assert_eq!(read.findings.len(), 1, "only the note that A2 was not measured: {}", all(&read));
    assert_eq!(bare(&readings(grid)), want);
    assert_eq!(bare(&readings(inches)), want);
}

#[test]
fn inches_equal_millimetres_and_may_be_mixed() {
    let tubes_in = "tube,length (in),weight_oz\nA1,7 7/8,1\nA2,8 in,31 g\n";
    let tubes_mm = "tube,length,weight\nA1,200.025,28.349523125\nA2,203.2,31\n";
    let long_in = "tube,kind,z in,angle,value_in,sd um\nA1,diameter,1/2,0,1 1/64,50\nA1,wall,2½,90,3.5 mm,\nA2,diameter,\"8\"\"\",0,2-5/8\",\n";
    let long_mm = "tube,kind,z,angle,value,sd\nA1,diameter,12.7,0,25.796875,0.05\nA1,wall,63.5,90,3.5,\nA2,diameter,203.2,0,66.675,\n";
    let a = lot(&[("tubes.csv", tubes_in), ("readings.csv", long_in)]);
    let b = lot(&[("tubes.csv", tubes_mm), ("readings.csv", long_mm)]);
    clean(&a);
    clean(&b);
    assert_eq!(bare(&a), bare(&b));
    let unit_column = "tube,kind,z,angle,value,unit\nA1,diameter,10,0,1,in\nA1,diameter,10,90,25.4,mm\n";
    let read = readings(unit_column);
    assert_eq!(tube(&read, "A1").readings.iter().map(|r| r.value_mm).collect::<Vec<_>>(), [25.4, 25.4]);
}

#[test]
fn a_unit_stated_in_one_header_only_is_pointed_out() {
    let read = readings("tube,kind,z,angle,value_in,sd\nA1,diameter,10,0,1,0.002\nA2,diameter,10,0,1,\n");
    assert!(!read.has_errors(), "{}", all(&read));
    assert!(all(&read).contains("write z_in or z_mm") && all(&read).contains("write sd_in or sd_mm"), "{}", all(&read));
}

#[test]
fn several_readings_files_join_and_places_may_be_read_twice() {
    let read = lot(&[("tubes.csv", TUBES), ("readings2.csv", LONG), ("readings_1.csv", LONG)]);
    clean(&read);
    assert_eq!(read.files, ["tubes.csv", "readings2.csv", "readings_1.csv"]);
    assert_eq!(tube(&read, "A1").readings.len(), 4);
}

#[test]
fn workbooks_equal_csv_files() {
    let toml = "[lot]\nname = \"Kitchen table lot\"\nbought_weight = \"2 lb\"\nhumidity_percent = 45\n[target]\nblank_length = 70.5\n\
        [saw]\nkerf = 0.8\n[rig.caliper]\nsd = 0.04\n";
    let tubes =
        "tube,length (in),weight_g,note\nA1,7 7/8,31.5,straight\nA2,205 mm,29,\n3,8,30.25,a number for a name\n";
    let long = "tube,kind,z,angle,value,set,rig\nA1,diameter,10,0,25.4,,caliper\nA1,diameter,10,90,1 1/64 in,,caliper\n\
        A1,runout,20,45 deg,\"0,12\",first,\n3,wall,5,0,3.5,,\n";
    let grid = "tube,kind,z,0deg,45 deg,90\nA2,diameter,12.5,25.1,,\"25,3\"\n";
    let marks = "tube,from,to,why\nA2,100,110,node\n";
    let files = [
        ("lot.toml", toml),
        ("tubes.csv", tubes),
        ("readings.csv", long),
        ("readings grid.csv", grid),
        ("marks.csv", marks),
    ];
    let want = lot(&files);
    clean(&want);
    for name in ["small_lot.xlsx", "small_lot.ods"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(name);
        let read = read_lot(&path).expect("a lot");
        assert!(!read.has_errors(), "{name}: {}", all(&read));
        assert_eq!(bare(&read), bare(&want), "{name}");
        // the sheet
        assert_eq!(read.findings.len(), 1, "{name}: {}", all(&read));
        assert!(all(&read).contains("other sheets: 'Sheet7'"), "{name}: {}", all(&read));
        let place = &tube(&read, "A2").marks[0].place;
        assert_eq!((&*place.file, place.line), (format!("{name} [marks]").as_str(), 3));
        assert_eq!(tube(&read, "A1").readings[0].place.column, "value (E2)");
    }
}

#[test]
fn a_fraction_that_became_a_date_is_named_as_such() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/dates.xlsx");
    let read = read_lot(&path).expect("a lot: one sheet of any name is taken for readings");
    let errors: Vec<&Finding> = read.errors().collect();
    assert_eq!(errors.len(), 1, "{}", all(&read));
    assert!(errors[0].fix.contains("turned a fraction into a date"), "{}", errors[0]);
    assert_eq!((errors[0].place.line, errors[0].place.column.as_str()), (3, "value_in (E3)"));
    assert!(tube(&read, "A").in_doubt && !tube(&read, "B").in_doubt);
}

// ---- what is refused, all at once

#[test]
fn every_bad_row_of_every_file_is_reported_in_one_pass() {
    let toml = "[lot]\nprice = \"dear\"\n[target]\nblank_lenght = 70\npieces = 9\n[rig.caliper]\nsd = -1\n";
    let tubes =
        "tube,length,weight\nA1,200,31.5\nA2,,29\nA3,8,30\nA4,200,-3\nA1,200,30\n,200,30\nA5,200,30\nA6,1/2,30\n";
    let rows = [
        ("A1,diameter,10,0,1.0,,", "are these inches typed in a mm column?"),
        ("A1,diametre,10,0,25,,", "is diameter meant?"),
        ("A1,vee,10,0,25,,", "no angle of the V-block"),
        ("A1,diameter,-1,0,25,,", "0 or more"),
        ("A1,diameter,200.1,0,25,,", "at most the tube's length, 200 mm"),
        ("A1,diameter,10,400,25,,", "are the columns for z and angle swapped?"),
        ("A1,diameter,10,0,,,", "an empty cell"),
        ("A1,diameter,10,0,abc,,", "write a number such as"),
        ("A1,diameter,10,0,-25,,", "nothing was measured"),
        ("A1,diameter,10,0,5/8,,", "are inches meant?"),
        ("A1,diameter,10,0,25.4,0,", "more than 0"),
        ("A1,diameter,10,0,25.4,,calliper", "is caliper meant?"),
        ("A1,diameter,10,0,25,4,1,7", "more cells than columns"),
        (",diameter,10,0,25,,", "no tube name"),
        ("a-1,diameter,10,0,25,,", "is A1 meant?"),
        ("A1,diameter,NaN,0,25,,", "not a finite"),
        ("A1,diameter,10,0,\"1,234.5\",,", "thousands separators"),
        ("A1,diameter,10,0,25 furlongs,,", "mm, cm, m, um, in, ft, thou"),
    ];
    let mut text = String::from("tube,kind,z,angle,value,sd,rig\nA5,diameter,10,0,25.4,,caliper\n");
    for (row, _) in rows {
        text.push_str(row);
        text.push('\n');
    }
    let marks = "tube,from,to,why\nA5,100,90,crack\nA5,-1,2,node\nA4,1,900,node\n";
    let read = lot(&[("lot.toml", toml), ("tubes.csv", tubes), ("readings.csv", &text), ("marks.csv", marks)]);
    for (i, (row, words)) in rows.iter().enumerate() {
        let line = 3 + i as u64;
        let words = if *words == "not a finite" { "leave out the row" } else { words };
        let f = at(&read, "readings.csv", line);
        assert!(f.severity == Severity::Error && f.to_string().contains(words), "{row}: wanted '{words}' in {f}");
    }
    says(&read, "lot.toml", 2, "a number");
    assert!(at(&read, "lot.toml", 4).fix.contains("is blank_length meant?"));
    says(&read, "lot.toml", 5, "a whole number from 2 to 6");
    says(&read, "lot.toml", 7, "from 0.000001 to 5 mm");
    says(&read, "tubes.csv", 3, "fill in the cell");
    says(&read, "tubes.csv", 4, "are these inches typed in a mm column?");
    says(&read, "tubes.csv", 5, "more than 0");
    says(&read, "tubes.csv", 6, "a second time");
    says(&read, "tubes.csv", 7, "no tube name");
    says(&read, "tubes.csv", 9, "are inches meant?");
    says(&read, "marks.csv", 2, "are from and to swapped?");
    says(&read, "marks.csv", 3, "0 or more");
    says(&read, "marks.csv", 4, "at most the tube's length");
    let mut sorted = read.findings.clone();
    sorted.sort_by(|a, b| a.place.cmp(&b.place));
    assert_eq!(
        sorted.iter().map(|f| &f.place).collect::<Vec<_>>(),
        read.findings.iter().map(|f| &f.place).collect::<Vec<_>>()
    );
    assert!(at(&read, "readings.csv", 16).tube.is_none());
    let doubt: Vec<(&str, bool)> = read.lot.tubes.iter().map(|t| (t.name.as_str(), t.in_doubt)).collect();
    let want = [("A1", true), ("A2", true), ("A3", true), ("A4", true), ("A5", true), ("A6", true), ("a-1", true)];
    assert_eq!(doubt, want);
}

#[test]
fn the_other_tubes_go_on() {
    let read = readings(&format!("{LONG}A1,diameter,10,45,nonsense\n"));
    assert!(tube(&read, "A1").in_doubt && !tube(&read, "A2").in_doubt);
    assert_eq!(read.errors().count(), 1, "{}", all(&read));
    assert_eq!(at(&read, "readings.csv", 5).place.column, "value");
}

#[test]
fn a_lot_states_its_unit_and_remembers_what_its_weights_were_typed_in() {
    use quarterlight::domain::units::{LengthUnit, WeightUnit};
    let tubes = |text: &str, toml: &str| lot(&[("lot.toml", toml), ("tubes.csv", text)]);
    for (toml, units) in [
        ("[lot]\nunits = \"in\"\n", Some(LengthUnit::Inch)),
        ("[lot]\nunits = \"mm\"\n", Some(LengthUnit::Millimetre)),
        ("[lot]\n", None),
    ] {
        let read = tubes(TUBES, toml);
        assert!(!read.has_errors() && read.lot.units == units, "{toml}: {}", all(&read));
        // what a bare number means does not change
        assert!((tube(&read, "A1").length_mm - 200.0).abs() < 1e-9);
    }
    let read = tubes(TUBES, "[lot]\nunits = \"cm\"\n");
    says(&read, "lot.toml", 2, "mm or in");
    for (text, toml, unit) in [
        ("tube,length,weight_oz\nA,200,0.8\nB,200,1.1\n", "[lot]\nbought_weight = \"5 lb\"\n", WeightUnit::Ounce),
        ("tube,length,weight\nA,200,7/8 oz\nB,200,24 g\nC,200,1 oz\n", "", WeightUnit::Ounce),
        ("tube,length,weight\nA,200,24\n", "[lot]\nbought_weight = \"5 lb\"\n", WeightUnit::Gram),
        ("tube,length\nA,200\n", "[lot]\nbought_weight_lb = 5\n", WeightUnit::Pound),
        ("tube,length\nA,200\n", "", WeightUnit::Gram),
    ] {
        assert_eq!(tubes(text, toml).lot.weight_unit, unit, "{text} {toml}");
    }
    // the note on too much weight speaks the unit of the purchase
    let read = tubes("tube,length,weight_oz\nA,200,20\n", "[lot]\nbought_weight = \"1 lb\"\n");
    assert!(all(&read).contains("1.000 lb bought, but 1 tube of 1.250 lb together"), "{}", all(&read));
}

/// Widths at twelve angles of A1, the cell of this row (from 0) as given, and two of A2.
fn widths_with(row: usize, cell: &str) -> LotRead {
    let mut rows = String::from("tube,kind,z,angle,value\n");
    for i in 0..12 {
        let value = if i == row { cell } else { "25.4" };
        rows += &format!("A1,diameter,10,{},{value}\n", 15 * i);
    }
    readings(&format!("{rows}A2,diameter,10,0,25.4\nA2,diameter,10,90,25.4\n"))
}

#[test]
fn one_bad_cell_sets_its_reading_aside_and_the_rest_of_the_tube_goes_on() {
    let read = widths_with(3, "nonsense");
    let errors: Vec<&Finding> = read.errors().collect();
    assert_eq!(errors.len(), 1, "{}", all(&read));
    assert_eq!((errors[0].place.line, errors[0].place.column.as_str()), (5, "value"));
    let a1 = tube(&read, "A1");
    assert!(!a1.in_doubt && a1.readings.len() == 11, "{}", all(&read));
    let note = read.findings.iter().find(|f| f.severity == Severity::Note).expect("a note");
    assert_eq!(note.found, "1 reading of A1 set aside");
    assert!(note.fix.contains("the other 11 of this file decide"), "{note}");
    // 11 + 1 = 12 rows, of which 2 may be lost (10 / 5), not 3
    for (bad, doubt) in [(2, false), (3, true)] {
        let mut rows = String::from("tube,kind,z,angle,value\n");
        (0..12).for_each(|i| rows += &format!("A1,diameter,10,{},{}\n", 15 * i, if i < bad { "x" } else { "25.4" }));
        assert_eq!(tube(&readings(&rows), "A1").in_doubt, doubt, "{bad} of 12");
    }
    // the readings of another file do not decide for those of this one
    let two = lot(&[
        ("tubes.csv", TUBES),
        (
            "readings-a.csv",
            &(0..12).fold("tube,kind,z,angle,value\n".to_string(), |t, i| t + &format!("A1,diameter,10,{i},25.4\n")),
        ),
        ("readings-b.csv", "tube,kind,z,angle,value\nA1,runout,10,0,x\nA1,runout,10,90,0.1\n"),
    ]);
    assert!(tube(&two, "A1").in_doubt, "{}", all(&two));
}

#[test]
fn a_bad_cell_of_a_grid_sets_its_station_aside() {
    let mut rows = String::from("tube,kind,z,0deg,45deg,90deg,135deg\n");
    for i in 0..8 {
        rows += &format!("A1,diameter,{},25.1,{},25.3,25.4\n", 10 + 20 * i, if i == 2 { "2.52" } else { "25.2" });
    }
    let read = readings(&rows);
    let a1 = tube(&read, "A1");
    assert!(!a1.in_doubt && a1.readings.len() == 28 && a1.readings.iter().all(|r| (r.z_mm - 50.0).abs() > 1.0));
    let f = read.errors().next().expect("an error");
    assert_eq!(f.fix, "is the decimal mark in the right place?", "2.52 for 25.2 is no inch");
    assert!(all(&read).contains("4 readings of A1 set aside"), "{}", all(&read));
}

#[test]
fn a_unit_that_is_written_is_not_asked_for() {
    for (header, cell, words) in [
        ("value", "1.01", "Write the unit in the header or the cell"),
        ("value_mm", "1.01", "The header says mm: correct it, or write in behind the number"),
        ("value", "1.01 mm", "mm stands behind the number: write in there"),
        ("value_in", "25.4", "are these mm typed in an inch column? The header says in"),
    ] {
        let read = readings(&format!("tube,kind,z,angle,{header}\nA1,diameter,10,0,{cell}\n"));
        assert!(at(&read, "readings.csv", 2).fix.contains(words), "{header} {cell}: {}", all(&read));
    }
    let read = lot(&[("tubes.csv", "tube,length,weight\nA1,200,light\n")]);
    assert_eq!(at(&read, "tubes.csv", 2).fix, "write a number such as 24.5, 24.5 g or 7/8 oz");
}

#[test]
fn header_faults_name_what_is_missing_and_what_was_found() {
    let read = readings("tube,kind,zz,angel,value\nA1,diameter,1,2,25\n");
    let errors: String = read.errors().map(|f| f.to_string()).collect();
    for words in ["also z, angle", "columns tube, kind, zz, angel, value", "is 'angel' meant to be angle?"] {
        assert!(errors.contains(words), "'{words}' missing in {errors}");
    }
    assert!(tube(&read, "A1").in_doubt && !tube(&read, "A2").in_doubt);

    let twice = readings("tube,kind,z,angle,value,value_in\nA1,diameter,1,2,25,1\n");
    says(&twice, "readings.csv", 1, "two columns for value");
    let both = readings("tube,kind,z,angle,value,90deg\nA1,diameter,1,2,25,25\n");
    says(&both, "readings.csv", 1, "one of the four forms");
    let wrong = lot(&[("tubes.csv", "tube,length_g,weight\nA1,200,30\n")]);
    says(&wrong, "tubes.csv", 1, "a unit of length");
    let neither = readings("tube,kind,z\nA1,diameter,1\n");
    says(&neither, "readings.csv", 1, "angle, value");
}

#[test]
fn unknown_columns_are_ignored_with_one_note() {
    let read =
        readings("tube,kind,z,angle,value,who,,wind\nA1,diameter,10,0,25.4,me,x,none\nA2,diameter,10,0,25.4,me,,\n");
    assert!(!read.has_errors());
    let f = at(&read, "readings.csv", 1);
    assert!(f.found.contains("'who', column 7 without a name, 'wind'"), "{f}");
}

#[test]
fn a_broken_lot_toml_leaves_the_tubes_readable() {
    let read = lot(&[
        ("lot.toml", "[lot\nname = \"x\"\nprice = = 3\n[target]\npieces = 3\n"),
        ("tubes.csv", TUBES),
        ("readings.csv", LONG),
    ]);
    assert!(read.errors().count() >= 1 && read.errors().all(|f| f.tube.is_none()), "{}", all(&read));
    assert!(read.errors().any(|f| f.place.line == 1), "{}", all(&read));
    assert_eq!((read.lot.tubes.len(), read.lot.target.pieces, read.lot.name.as_str()), (2, 4, "trial"));
    assert!(read.lot.tubes.iter().all(|t| !t.in_doubt));
}

#[test]
fn settings_are_checked_with_their_lines() {
    let toml = "loose = 1\n[lot]\nname = 7\nbought_weight = \"5 stone\"\nhumidity_percent = 145\ncurrency = \"€\"\n\
        [target]\ninstrument = \"clarnet\"\nblank_length_in = \"2 3/4\"\nhollow = 0\nrock = nan\nskew = [1]\nedge_life = 3\n\
        [screen]\nsplit_chance = 0.2\nleave_chance = 0.9\n[sow]\nkerf = 1\n[rig]\ncaliper = 3\n[rig.dial]\nsdd = 1\n[saw]\nkerf = \"1/2\"\n";
    let read = lot(&[("lot.toml", toml), ("tubes.csv", TUBES)]);
    for (line, words) in [
        (3, "a text"),
        (4, "g, kg, oz, lb"),
        (5, "from 0 to 100"),
        (8, "is clarinet meant?"),
        (10, "from 0.0001 to 10 mm"),
        (11, "delete the line to use the default"),
        (12, "a list"),
        (16, "leave_chance"),
        (20, "a section [rig.NAME]"),
        (24, "are inches meant?"),
    ] {
        says(&read, "lot.toml", line, words);
    }
    for (line, words) in
        [(1, "a [section] before it"), (13, "it belongs under [batch]"), (18, "is [saw] meant?"), (22, "is sd meant?")]
    {
        let f = at(&read, "lot.toml", line);
        assert!(f.severity == Severity::Note && f.to_string().contains(words), "{f}");
    }
    assert_eq!(read.lot.currency, "€");
    assert!((read.lot.target.blank_length_mm - 69.85).abs() < 1e-12);
    assert!((read.lot.screen.split_chance - 0.75).abs() < 1e-12);
}

#[test]
fn the_starting_set_never_overrides_single_limits() {
    let read =
        lot(&[("lot.toml", "[target]\nblank_length = 71\ninstrument = \"tenor saxophone\"\n"), ("tubes.csv", TUBES)]);
    assert!((read.lot.target.blank_length_mm - 71.0).abs() < 1e-12 && read.lot.target.instrument == "tenor saxophone");
}

#[test]
fn rigs_are_looked_up_only_where_some_are_declared() {
    let rows = "tube,kind,z,angle,value,rig\nA1,diameter,10,0,25.4,dail\nA2,diameter,10,0,25.4,dail\n";
    let undeclared = readings(rows);
    assert!(!undeclared.has_errors());
    assert!(at(&undeclared, "readings.csv", 2).found.contains("'dail' (2 rows)"));
    let declared = lot(&[("lot.toml", "[rig.dial]\nsd = 0.02\n"), ("tubes.csv", TUBES), ("readings.csv", rows)]);
    says(&declared, "readings.csv", 2, "is dial meant?");
    says(&declared, "readings.csv", 3, "is dial meant?");
}

#[test]
fn a_tube_without_readings_or_not_in_the_list_is_pointed_out() {
    let read = readings("tube,kind,z,angle,value\nA1,diameter,10,0,25\nA11,diameter,15,0,25\nA11,diameter,16,0,25\n");
    says(&read, "readings.csv", 3, "is A1 meant?");
    assert!(at(&read, "readings.csv", 3).found.contains("2 rows"));
    let stranger = tube(&read, "A11");
    assert!(stranger.length_is_guess && (stranger.length_mm - 16.0).abs() < 1e-12);
    assert!(all(&read).contains("no readings of 'A2'"), "{}", all(&read));
}

#[test]
fn names_are_free_text_and_control_characters_are_refused() {
    let tubes = "tube,length,weight\n<script>,200,30\n\"#1\",200,30\nroter; Ast,200,30\nb\u{202e}ad,200,30\n";
    let read = lot(&[("tubes.csv", tubes)]);
    let names: Vec<&str> = read.lot.tubes.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(names, ["<script>", "#1", "roter; Ast"]);
    says(&read, "tubes.csv", 5, "printable characters");
    assert!(!at(&read, "tubes.csv", 5).found.contains('\u{202e}'));
}

#[test]
fn empty_tables_and_strange_files_are_left_alone_with_a_note() {
    let dir = tempfile::tempdir().expect("temp folder");
    write(
        dir.path(),
        &[
            ("tubes.csv", TUBES),
            ("readings.csv", LONG),
            ("cuts.csv", "tube,piece,blanks\n"),
            ("marcs.csv", ""),
            ("notes.txt", ""),
            (".hidden.csv", ""),
        ],
    );
    std::fs::create_dir(dir.path().join("scans")).expect("temp folder");
    let read = read_lot(dir.path()).expect("a lot");
    assert!(!read.has_errors(), "{}", all(&read));
    let files: Vec<&str> = read.findings.iter().map(|f| &*f.place.file).collect();
    assert_eq!(files, ["cuts.csv", "marcs.csv"]);
    assert!(all(&read).contains("is marks.csv meant?"), "{}", all(&read));
    assert_eq!(read.files, ["tubes.csv", "readings.csv", "cuts.csv"]);
    assert_eq!(read.lot.name, dir.path().file_name().expect("name").to_string_lossy());
}

#[test]
fn what_is_no_lot_at_all_is_an_error() {
    let dir = tempfile::tempdir().expect("temp folder");
    assert!(matches!(read_lot(&dir.path().join("nowhere")), Err(ReadError::NotFound { .. })));
    assert!(matches!(read_lot(dir.path()), Err(ReadError::NothingUsable { .. })));
    write(dir.path(), &[("lot.toml", ""), ("holiday.csv", "a,b\n")]);
    let e = read_lot(dir.path()).expect_err("nothing usable").to_string();
    assert!(e.contains("holiday.csv, lot.toml"), "{e}");
    assert!(matches!(read_lot(&dir.path().join("lot.toml")), Err(ReadError::PartOfALot { .. })));
    let read = read_lot(&dir.path().join("holiday.csv")).expect("findings, not an error");
    assert!(read.has_errors() && read.lot.tubes.is_empty(), "{}", all(&read));
}

#[test]
fn a_file_far_too_large_is_refused_without_reading_it() {
    let dir = tempfile::tempdir().expect("temp folder");
    write(dir.path(), &[("tubes.csv", TUBES)]);
    let path = dir.path().join("readings.csv");
    std::fs::File::create(&path).and_then(|f| f.set_len(300_000_000)).expect("temp file");
    for lot in [dir.path(), path.as_path()] {
        let read = read_lot(lot).expect("a lot");
        let errors: Vec<&Finding> = read.errors().collect();
        assert!(errors.len() == 1 && errors[0].found.contains("300 million bytes"), "{}", all(&read));
    }
}

#[test]
fn empty_files_say_so() {
    for text in ["", "\n\n", "# nothing\n", "\u{feff}"] {
        let read = readings(text);
        assert!(read.errors().any(|f| f.found == "no rows"), "{text:?}: {}", all(&read));
    }
    let read = readings("tube,kind,z,angle,value\n");
    assert!(!read.has_errors() && all(&read).contains("nothing below them"), "{}", all(&read));
}

// ---- hostile input

fn random_file() -> impl proptest::strategy::Strategy<Value = Vec<u8>> {
    use proptest::prelude::*;
    let pieces = prop::sample::select(vec![
        "tube",
        "kind",
        "z",
        "angle",
        "value",
        "length",
        "weight",
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "\"",
        "#",
        "A1",
        "diameter",
        "25.4",
        "1,5",
        "5/8",
        "0deg",
        "45°",
        "(in)",
        "_mm",
        "=",
        "[",
        "]",
        "[rig.x]\n",
        "[target]\n",
        "pieces",
        "1e999",
        "nan",
        "\u{feff}",
        "é",
        "\0",
        "\u{202e}",
        "{",
        "}",
        "'",
        "'''",
        ".",
        "-",
        " ",
    ]);
    prop_oneof![
        prop::collection::vec(any::<u8>(), 0..300),
        prop::collection::vec(pieces, 0..80).prop_map(|p| p.concat().into_bytes()),
    ]
}

/// A valid file with some bytes replaced, removed or doubled.
fn mutated(valid: &'static [u8]) -> impl proptest::strategy::Strategy<Value = Vec<u8>> {
    use proptest::prelude::*;
    prop::collection::vec((0..valid.len(), 0u8..4, any::<u8>()), 1..8).prop_map(move |changes| {
        let mut bytes = valid.to_vec();
        for (at, what, byte) in changes {
            if bytes.is_empty() {
                break;
            }
            let at = at.min(bytes.len() - 1);
            match what {
                0 => bytes[at] = byte,
                1 => drop(bytes.remove(at)),
                2 => bytes.insert(at, bytes[at]),
                _ => bytes.truncate(at + 1),
            }
        }
        bytes
    })
}

/// Whatever was read holds together: finite numbers, places on the tube, every error shown.
fn holds_together(read: &LotRead) {
    for t in &read.lot.tubes {
        assert!(t.length_mm.is_finite() && t.length_mm >= 0.0, "{t:?}");
        for r in &t.readings {
            let Reading { z_mm, value_mm, angle, .. } = r;
            assert!(z_mm.is_finite() && value_mm.is_finite() && Angle::is_finite(*angle), "{r:?}");
            assert!((0.0..=t.length_mm).contains(z_mm), "{r:?}");
        }
        for m in &t.marks {
            assert!(m.from_mm >= 0.0 && m.to_mm >= m.from_mm && m.from.is_some() == m.to.is_some(), "{m:?}");
        }
    }
    for f in read.errors() {
        if let Some(name) = &f.tube {
            assert!(read.lot.tubes.iter().any(|t| t.name == *name && t.in_doubt), "{f}");
        }
        assert!(!f.to_string().chars().any(|c| c.is_control() && c != '\n'), "{f:?}");
    }
}

fn try_all(bytes: &[u8]) {
    for name in ["lot.toml", "tubes.csv", "readings.csv", "marks.csv"] {
        let mut files: Vec<(&str, &[u8])> = vec![("tubes.csv", TUBES.as_bytes()), ("readings.csv", LONG.as_bytes())];
        files.retain(|f| f.0 != name);
        files.push((name, bytes));
        holds_together(&read_lot_files("trial", &files).unwrap_or_else(|e| panic!("{name}: {e}")));
    }
}

const GRID: &[u8] = b"tube;kind;z;0deg;90deg;note\nA1;diameter;10;25,4;\"25,1\";\"x\ny\"\n#A2;runout;1;2;3;4\nA2;runout;20;0,1;-0,12;\n";
const TOML: &[u8] = b"[lot]\nname = \"x\"\nbought_weight = \"5 lb\"\n[target]\npieces = 4\nblank_length = 70.0\n[rig.dial]\nsd = 0.02\n";

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 300, failure_persistence: None, ..Default::default() })]

    #[test]
    fn random_bytes_never_panic_any_reader(bytes in random_file()) {
        try_all(&bytes);
    }

    #[test]
    fn mutated_tables_never_panic_any_reader(long in mutated(LONG.as_bytes()), grid in mutated(GRID), toml in mutated(TOML)) {
        for bytes in [&long, &grid, &toml] {
            try_all(bytes);
        }
    }
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 60, failure_persistence: None, ..Default::default() })]

    #[test]
    fn mutated_workbooks_never_panic(xlsx in mutated(include_bytes!("fixtures/small_lot.xlsx")), ods in mutated(include_bytes!("fixtures/small_lot.ods"))) {
        let dir = tempfile::tempdir().expect("temp folder");
        for (name, bytes) in [("a.xlsx", &xlsx), ("a.ods", &ods), ("b.csv", &xlsx)] {
            let path = dir.path().join(name);
            std::fs::write(&path, bytes).expect("temp file");
            if let Ok(read) = read_lot(&path) {
                holds_together(&read);
            }
        }
    }
}

#[test]
fn many_rows_of_nonsense_end_in_a_bounded_report() {
    let text = format!("tube,kind,z,angle,value\n{}", "A1,diameter,x,y,z\n".repeat(200_000));
    let read = readings(&text);
    // three bad cells a row; the note that A2 was not measured is nothing to mend
    assert!(read.findings.len() < 2100, "{}", read.findings.len());
    assert!(all(&read).contains("600000 things to mend"), "{}", read.findings[0]);
}

// ---- found by the random tests

#[test]
fn a_header_with_control_characters_is_shown_without_them() {
    let read = readings("tube;kind;z;9\tdeg\nA1;diameter;10;x\n");
    assert_eq!(read.errors().next().map(|f| f.place.column.as_str()), Some("9 deg"), "{}", all(&read));
}

#[test]
fn a_tube_named_only_in_a_broken_row_is_listed_in_doubt() {
    let read = readings("tube,kind,z,angle,value\nA9,diameter,10,0,\"x\ny\"\nA1,diameter,10,0,25\n");
    assert!(tube(&read, "A9").in_doubt && !tube(&read, "A1").in_doubt, "{}", all(&read));
}

// ---- V-blocks, radius gauges, fibres, tracings

#[test]
fn every_kind_is_read_with_its_own_sizes_and_units() {
    let toml = "[target]\nblank_width = 14\n[rig.block]\nvee_deg = 60\n";
    let rows = "tube,kind,z,angle,value_in,set,sd,rig,vee,width\n\
        A1,vee,10,0,0.5,one,,block,,\nA1,vee,10,30,0.5,one,,block,108,\nA1,arc,10,0,1,,,,,0.5 in\nA1,arc,10,90,1,,,,,\n\
        A1,grain,10,,350,f,2,,,\nA1,grain,90,,12 deg,f,,,,\nA1,outline,0,15,1/2,end,,,,\nA1,diameter,10,0,1,,,,,\n";
    let read = lot(&[("lot.toml", toml), ("tubes.csv", "tube,length,weight\nA1,200,30\n"), ("readings.csv", rows)]);
    assert!(!read.has_errors(), "{}", all(&read));
    let r = &read.lot.tubes[0].readings;
    let near = |x: Option<f64>, want: f64| x.is_some_and(|x| (x - want).abs() < 1e-9);
    assert!(near(r[0].vee_deg, 60.0) && near(r[1].vee_deg, 108.0) && r[2].vee_deg.is_none());
    assert!((r[2].width_mm.expect("given") - 12.7).abs() < 1e-9 && r[3].width_mm == Some(14.0));
    // a fibre's value and sd are degrees whatever the header says of lengths
    assert!((r[4].value_mm - 350.0).abs() < 1e-9 && (r[5].value_mm - 12.0).abs() < 1e-9 && r[4].sd_mm == Some(2.0));
    assert!((r[6].value_mm - 12.7).abs() < 1e-9 && (r[7].value_mm - 25.4).abs() < 1e-9);
}

#[test]
fn what_the_new_kinds_lack_or_cannot_be_is_told() {
    let rows = "tube,kind,z,angle,value,vee,width\nA1,vee,10,0,3,5,\nA1,vee,10,0,3,,\nA1,arc,10,0,25,,900\n\
        A1,grain,10,,400,,\nA1,grain,10,,25 mm,,\nA1,arc,10,,25,,\nA1,outline,10,0,-3,,\n";
    let read = lot(&[("tubes.csv", "tube,length,weight\nA1,200,30\n"), ("readings.csv", rows)]);
    for (line, word) in [
        (2, "10 to 170 deg"),
        (3, "no angle of the V-block"),
        (4, "1 to 60 mm"),
        (5, "-360 to 360 deg"),
        (6, "an angle"),
        (7, "an angle"),
        (8, "an outline of"),
    ] {
        says(&read, "readings.csv", line, word);
    }
    assert!(read.lot.tubes[0].in_doubt);
}

#[test]
fn the_grid_holds_the_new_kinds_too() {
    let rows = "tube,kind,z,0deg,90deg,vee\nA1,vee,10,3.0,3.1,90\nA1,grain,10,1,91,\nA1,grain,90,6,96,\nA1,outline,0,12.6,12.8,\n\
        A1,wall,0,3.5,3.6,\n";
    let read = lot(&[("tubes.csv", "tube,length,weight\nA1,200,30\n"), ("readings.csv", rows)]);
    assert!(!read.has_errors(), "{}", all(&read));
    let r = &read.lot.tubes[0].readings;
    assert_eq!(r.len(), 10);
    assert!(r[1].vee_deg == Some(90.0) && (r[3].value_mm - 91.0).abs() < 1e-9 && r[3].angle.degrees() > 89.0);
}

#[test]
fn every_sample_lot_written_by_its_tables_reads_back_as_the_same_tubes() {
    for lot in ["demo", "inches", "grid", "bars", "lone-readings.csv"] {
        let read = read_lot(&Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(lot)).expect("a sample");
        let settings = std::fs::read(format!("data-samples/{lot}/lot.toml")).unwrap_or_default();
        let tables = lot_tables(&read.lot).expect("written");
        let mut files: Vec<(&str, &[u8])> = tables.iter().map(|(n, t)| (*n, t.as_bytes())).collect();
        files.push(("lot.toml", &settings));
        let again = read_lot_files(&read.lot.name, &files).expect("read back");
        assert!(!again.has_errors(), "{lot}: {:?}", again.findings);
        assert_eq!(again.lot.tubes.len(), read.lot.tubes.len(), "{lot}");
        for (a, b) in read.lot.tubes.iter().zip(&again.lot.tubes) {
            assert_eq!((&a.name, a.length_mm, a.weight_g, a.wall_mm), (&b.name, b.length_mm, b.weight_g, b.wall_mm));
            assert_eq!((&a.note, a.readings.len(), a.marks.len()), (&b.note, b.readings.len(), b.marks.len()), "{lot}");
            // the order within a tube is that of the files, which are one now
            let sorted = |t: &quarterlight::domain::Tube| {
                let mut rows: Vec<String> = t
                    .readings
                    .iter()
                    .map(|r| {
                        let at = format!("{:.9} {:.9}", r.z_mm, r.angle.degrees());
                        let sizes = (r.width_mm, r.span_mm);
                        format!("{:?} {at} {:?} {:?} {sizes:?} {} {}", r.kind, r.value_mm, r.sd_mm, r.set, r.rig)
                    })
                    .collect();
                rows.sort();
                rows
            };
            assert_eq!(sorted(a), sorted(b), "{lot}, {}", a.name);
            for (m, n) in a.marks.iter().zip(&b.marks) {
                let angles =
                    |m: &quarterlight::domain::Mark| [m.from, m.to].map(|x| x.map(|x| format!("{:.9}", x.degrees())));
                assert_eq!((m.from_mm, m.to_mm, angles(m), &m.why), (n.from_mm, n.to_mm, angles(n), &n.why));
            }
        }
    }
}

#[test]
fn how_a_maker_splits_and_what_he_assumes_stand_in_lot_toml() {
    let toml = "[split]\nwander_deg = 2\none_blow = \"across\"\nspring = \"-0.03 mm\"\n\
        [assumed]\nlean_deg = 0.7\nwall_in = 0.14\n";
    let read = lot(&[("lot.toml", toml), ("tubes.csv", TUBES), ("readings.csv", LONG)]);
    clean(&read);
    let (split, assumed) = (read.lot.split, read.lot.assumed);
    assert_eq!((split.one_blow, split.wander_deg, split.spring_mm), (OneBlow::Across, 2.0, -0.03));
    assert_eq!(assumed.lean_deg, Some(0.7));
    assert!(assumed.wall_mm.is_some_and(|w| (w - 3.556).abs() < 1e-12));
    let bad = "[split]\none_blow = \"hammer\"\nspring = 9\n[assumed]\nlean_deg = 40\nwall = 0\n";
    let read = lot(&[("lot.toml", bad), ("tubes.csv", TUBES), ("readings.csv", LONG)]);
    let errors = read.findings.iter().filter(|f| f.severity == Severity::Error).count();
    assert_eq!((errors, read.lot.split.one_blow), (4, OneBlow::Line), "{:?}", read.findings);
    assert!(read.findings.iter().any(|f| f.expected == "line, across or all"), "{:?}", read.findings);
}

#[test]
fn a_bought_weight_of_another_humidity_is_set_against_the_weights_in_their_own() {
    // 3 x 35 g = 105 g on 100 g is too much; but what weighed 100 g at 30 % weighs 105.5 g at 65 %
    let tubes = "tube,length_mm,weight_g\nA,180,35\nB,180,35\nC,180,35\n";
    let read = |more: &str| {
        let toml = format!("[lot]\nbought_weight = 100\nhumidity_percent = 65\n{more}");
        read_lot_files("x", &[("lot.toml", toml.as_bytes()), ("tubes.csv", tubes.as_bytes())]).expect("read")
    };
    let noted = |read: &LotRead| read.findings.iter().any(|f| f.found.contains("g bought, but 3 tubes"));
    assert!(noted(&read("")) && !noted(&read("bought_humidity_percent = 30\n")));
    let bought = read("bought_humidity_percent = 30\n").lot.bought_as_weighed_g().expect("stated");
    assert!((bought - 105.5).abs() < 0.1, "{bought}");
    // one humidity alone brings nothing to anything, and says so
    let toml = "[lot]\nbought_weight = 100\nbought_humidity_percent = 30\n";
    let alone = read_lot_files("x", &[("lot.toml", toml.as_bytes()), ("tubes.csv", tubes.as_bytes())]).expect("read");
    assert!(alone.findings.iter().any(|f| f.found == "bought_humidity_percent alone"), "{}", all(&alone));
    assert_eq!(alone.lot.bought_as_weighed_g(), Some(100.0));
}

#[test]
fn what_happened_at_the_bench_is_read_however_little_of_it_is_written() {
    let base = [
        ("tubes.csv", "tube,length_mm\nA,180\nB,180\nC,180\nD,180\n"),
        ("readings.csv", "tube,kind,z,angle,value\nA,diameter,90,0,25\n"),
    ];
    let read = |cuts: &str| {
        let mut files: Vec<(&str, &[u8])> = base.iter().map(|(n, t)| (*n, t.as_bytes())).collect();
        files.push(("cuts.csv", cuts.as_bytes()));
        read_lot_files("x", &files).expect("read")
    };
    let good = read(
        "tube,piece,split_deg,back_in,blanks,from,to,got,why\n\
         A,,33 121 214 301,,6,,,,\n\
         B,1,30,,2,,,,\nB,1,,,,20,90,yes,\nB,2,,,1,100,170,no,hollow\nB,2,,,,20 mm,3 1/2 in,,\nB,3,,,0,5,75,,rocks\n\
         C,,,0.7; 0.71; 0.72; 0.7,,,,,\n\
         D,,,,,,,,broke\n",
    );
    assert!(!good.has_errors(), "{}", all(&good));
    let cut = |name: &str| tube(&good, name).cut.clone().expect("written");
    let degrees = |name: &str| cut(name).lines.iter().map(|a| a.degrees().round()).collect::<Vec<f64>>();
    assert_eq!((degrees("A"), cut("A").got(4)), (vec![33.0, 121.0, 214.0, 301.0], Some(6)));
    // of one piece of B nobody wrote what it gave
    assert_eq!((degrees("B"), cut("B").got(4), cut("B").got(3)), (vec![30.0], None, Some(3)));
    let judged: Vec<(Option<usize>, bool, String)> =
        cut("B").stretches.iter().map(|s| (s.piece, s.got, s.why.clone())).collect();
    let want = [(1, true, ""), (2, false, "hollow"), (2, true, ""), (3, false, "rocks")];
    assert_eq!(judged, want.map(|(p, g, w)| (Some(p), g, w.to_string())));
    assert!((cut("B").stretches[2].to_mm - 88.9).abs() < 1e-9);
    assert!((cut("C").backs_mm[1] - 18.034).abs() < 1e-9 && cut("C").backs_mm.len() == 4);
    assert_eq!((cut("D").got(4), cut("D").lines.len()), (None, 0));
    // inches as they are read off a rule: of each piece, and side by side
    let rule = read("tube,piece,back\nA,1,11/16 in\nA,2,\"3/4 in\"\nA,3,11/16 in\nA,4,1 1/16 in\n");
    assert!(!rule.has_errors(), "{}", all(&rule));
    let backs = tube(&rule, "A").cut.clone().expect("written").backs_mm;
    assert!((backs[1] - 19.05).abs() < 1e-9 && (backs[3] - 26.9875).abs() < 1e-9, "{backs:?}");
    let side_by_side = read("tube,back_in\nA,11/16 3/4 11/16 0.7\n");
    assert!(!side_by_side.has_errors(), "{}", all(&side_by_side));
    for (row, words) in [
        ("A,,33 121 214,,,,,,", "3 numbers in '33 121 214'"),
        ("A,5,,,,,,,", "a whole number from 1 to 4"),
        ("A,,,,many,,,,", "a whole number from 0 to 1000"),
        ("A,,33 214 121 301,,,,,,", "clockwise one after the other"),
        ("A,,,60 10 10 10,,,,,", "none of which is as large"),
        ("A,,,,,90,20,,", "beyond it"),
        ("A,,,,,90,,,", "both ends"),
        ("A,,,,,20,90,perhaps,", "yes or no"),
        ("A,2,30,,,,,,", "split lines of 1 of 4 pieces"),
        ("A,,,18,,,,,", "4 widths"),
        ("A,,,,-1,,,,", "a whole number from 0"),
    ] {
        let bad = read(&format!("tube,piece,split_deg,back_mm,blanks,from,to,got,why\n{row}\n"));
        assert!(bad.has_errors() && all(&bad).contains(words), "{row}: {}", all(&bad));
    }
    let both = read("tube,piece,split_deg\nA,,33 121 214 301\nA,1,30\n");
    assert!(all(&both).contains("of the whole tube and of its pieces"), "{}", all(&both));
    let twice = read("tube,blanks\nA,5\nA,6\n");
    assert!(all(&twice).contains("it stands in a row above already"), "{}", all(&twice));
}
