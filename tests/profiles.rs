//! Profiles along a tube as they are written down: a line to a row, or a log of equal steps; and bars on two feet.

use quarterlight::domain::{Finding, Kind, Lot, Severity};
use quarterlight::readings::{Form, LotRead, Separator, TableWriter, lot_tables, read_lot, read_lot_files};
use std::io::Write as _;

const TUBES: &str = "tube,length,weight\nA1,200,31.5\nA2,205,29\n";
const RIG: &str = "[rig.bar]\nspan = \"70 mm\"\nbias = \"0.005 mm\"\n";

fn lot(files: &[(&str, &str)]) -> LotRead {
    let files: Vec<(&str, &[u8])> = files.iter().map(|(n, t)| (*n, t.as_bytes())).collect();
    read_lot_files("trial", &files).unwrap_or_else(|e| panic!("{e}"))
}

fn readings(text: &str) -> LotRead {
    lot(&[("lot.toml", RIG), ("tubes.csv", TUBES), ("readings.csv", text)])
}

/// The lot without the places in the files.
fn bare(read: &LotRead) -> Lot {
    let mut lot = read.lot.clone();
    lot.tubes.iter_mut().flat_map(|t| &mut t.readings).for_each(|r| r.place = Default::default());
    lot
}

fn all(read: &LotRead) -> String {
    read.findings.iter().map(|f| format!("{f}\n")).collect()
}

/// The only error at a line says `words`, and there is something to do.
fn says(read: &LotRead, line: u64, words: &str) {
    let hits: Vec<&Finding> =
        read.errors().filter(|f| &*f.place.file == "readings.csv" && f.place.line == line).collect();
    assert_eq!(hits.len(), 1, "line {line}:\n{}", all(read));
    assert!(hits[0].to_string().contains(words) && !hits[0].fix.is_empty(), "wanted '{words}' in: {}", hits[0]);
    if let Some(name) = &hits[0].tube {
        assert!(read.lot.tubes.iter().any(|t| t.name == *name && t.in_doubt), "{name} should be in doubt");
    }
}

/// (z, angle, value) of the readings of the first tube.
fn shown(read: &LotRead) -> Vec<(f64, f64, f64)> {
    read.lot.tubes[0].readings.iter().map(|r| (r.z_mm, r.angle.degrees().round(), r.value_mm)).collect()
}

// ---- the line form

#[test]
fn the_line_form_equals_the_long_form() {
    let long = "tube,kind,z,angle,value,rig,set,span\nA1,bridge,40,0,0.02,bar,,\nA1,bridge,60,0,-0.01,bar,,\nA1,bridge,40,90,0.03,bar,,\n\
        A1,radius,40,45,12.7,,s,\nA1,radius,60,45,12.8,,s,\nA2,bridge,60,0,0.05,bar,,50\n";
    let line = "tube,kind,angle,40mm,60 mm,rig,set,span_mm\nA1,bridge,0,0.02,-0.01,bar,,\nA1,bridge,90,0.03,,bar,,\n\
        A1,radius,45,12.7,12.8,,s,\nA2,bridge,0,,0.05,bar,,50\n";
    let want = readings(long);
    let read = readings(line);
    assert!(!read.has_errors() && read.findings.is_empty(), "{}", all(&read));
    assert_eq!(bare(&read), bare(&want));
    let spans: Vec<Option<f64>> = read.lot.tubes.iter().flat_map(|t| &t.readings).map(|r| r.span_mm).collect();
    assert_eq!(spans, [Some(70.0), Some(70.0), Some(70.0), None, None, Some(50.0)]);
}

#[test]
fn every_spelling_of_a_place_and_of_the_unit_of_its_values_is_read() {
    for (header, z, value) in [
        ("20mm", 20.0, 0.1),
        ("20 mm", 20.0, 0.1),
        ("20_mm", 20.0, 0.1),
        ("2 cm", 20.0, 0.1),
        ("1.25in", 31.75, 0.1),
        ("1 1/4 in", 31.75, 0.1),
        ("1-1/4in", 31.75, 0.1),
        ("\"1 1/4\"\"\"", 31.75, 0.1),
        ("20mm_in", 20.0, 2.54),
        ("20 mm (um)", 20.0, 1e-4),
        ("1.25 in (in)", 31.75, 2.54),
        ("0mm", 0.0, 0.1),
    ] {
        let read = readings(&format!("tube,kind,angle,{header},50 mm (mm)\nA1,runout,30,0.1,0.2\n"));
        assert!(!read.has_errors(), "{header}: {}", all(&read));
        let got = shown(&read)[0];
        assert!((got.0 - z).abs() < 1e-9 && (got.2 - value).abs() < 1e-9, "{header}: {got:?}");
    }
    // bare values beside a place in inches are mm, and that is said
    let read = readings("tube,kind,angle,1 1/4 in,2 in\nA1,runout,30,0.1,0.2\n");
    assert!(
        read.findings.iter().any(|f| f.severity == Severity::Note && f.found.contains("1 1/4 in")),
        "{}",
        all(&read)
    );
    let read = readings("tube,kind,angle,unit,1 1/4 in,2 in\nA1,runout,30,in,0.1,0.2\n");
    assert!(!all(&read).contains("without a unit") && (shown(&read)[1].2 - 5.08).abs() < 1e-9, "{}", all(&read));
    // decimal commas
    let read = readings("tube;kind;angle;40mm;60,5mm\nA1;runout;30;0,1;0,25\n");
    assert!(!read.has_errors() && (shown(&read)[1].0 - 60.5).abs() < 1e-9 && (shown(&read)[1].2 - 0.25).abs() < 1e-9);
}

#[test]
fn every_kind_may_be_written_along_a_line() {
    for kind in Kind::ALL {
        let value = match kind {
            Kind::Diameter | Kind::Arc => "25.4",
            Kind::Radius | Kind::Outline => "12.7",
            Kind::Wall => "3.5",
            _ => "0.1",
        };
        let word = kind.word();
        let read =
            readings(&format!("tube,kind,angle,vee,width,span,50mm,100mm\nA1,{word},30,90,13,60,{value},{value}\n"));
        assert!(!read.has_errors(), "{word}: {}", all(&read));
        let r = &read.lot.tubes[0].readings;
        assert!(r.len() == 2 && r.iter().all(|r| r.kind == kind), "{word}");
        assert_eq!(r[0].span_mm.is_some(), kind == Kind::Bridge, "{word}");
    }
    // a fibre needs no angle
    let read = readings("tube,kind,angle,50mm,100mm\nA1,grain,,10,14 deg\n");
    assert!(!read.has_errors() && (shown(&read)[1].2 - 14.0).abs() < 1e-9, "{}", all(&read));
}

#[test]
fn what_is_wrong_with_a_line_is_told_all_at_once() {
    let read = readings(
        "tube,kind,angle,40mm,210mm,rig\nA1,bridge,0,0.02,0.01,bar\nA1,bridge,x,0.02,,bar\nA1,brige,0,0.02,,bar\nA1,bridge,30,y,,bar\n,bridge,0,1,,bar\n",
    );
    says(&read, 2, "at most the tube's length, 200 mm");
    says(&read, 3, "an angle");
    says(&read, 4, "is bridge meant?");
    says(&read, 5, "a length");
    says(&read, 6, "no tube name");
    for (header, words) in [
        ("tube,kind,angle,40mm,40 mm", "a second column for 40 mm"),
        ("tube,kind,angle,-40mm,60mm", "a place of 0 mm or more"),
        ("tube,kind,40mm,60mm", "also angle"),
    ] {
        let read = readings(&format!("{header}\nA1,runout,1,2,3\n"));
        says(&read, 1, words);
    }
}

#[test]
fn a_table_of_two_forms_is_told_so_plainly() {
    for (header, words) in [
        ("tube,kind,z,40mm,60mm", "a column z beside columns of places"),
        ("tube,kind,z,angle,40mm", "a column z beside columns of places"),
        ("tube,kind,angle,value,40mm", "both a value column and columns of places"),
        ("tube,kind,angle,40mm,45deg", "both columns of angles and columns of places"),
        ("tube,kind,angle,40,60", "write their unit, as in 20mm"),
        ("tube,kind,z,angle,value,45deg", "both a value column and angle columns"),
        ("tube,kind,z,angle,first,step,value", "take away z"),
    ] {
        let read = readings(&format!("{header}\nA1,runout,1,2,3,4,5\n"));
        says(&read, 1, words);
        assert!(read.lot.tubes.iter().all(|t| t.readings.is_empty()), "{header}");
    }
    // `45 (in)` beside z has always been the angle 45 with values in inches
    let read = readings("tube,kind,z,45 (in),90_in\nA1,diameter,10,1,1\n");
    assert!(!read.has_errors() && (shown(&read)[0].2 - 25.4).abs() < 1e-9, "{}", all(&read));
}

// ---- the log form

#[test]
fn a_log_is_described_in_its_first_row_and_a_row_without_a_value_is_a_place_not_taken() {
    let log = "tube,kind,angle,first_mm,step_mm,rig,value_mm\nA1,bridge,0,40,5,bar,0.010\n,,,,,,0.011\n,,,,,,\n,,,,,,0.013\n,,,,,,-\n\
        ,,,,,,0.015\nA1,bridge,90,60 mm,-5,bar,0.020\n,,,,,,0.021\n";
    let read = readings(log);
    assert!(!read.has_errors(), "{}", all(&read));
    let want = [
        (40.0, 0.0, 0.010),
        (45.0, 0.0, 0.011),
        (55.0, 0.0, 0.013),
        (65.0, 0.0, 0.015),
        (60.0, 90.0, 0.020),
        (55.0, 90.0, 0.021),
    ];
    assert_eq!(shown(&read), want);
    assert!(read.lot.tubes[0].readings.iter().all(|r| r.rig == "bar" && r.span_mm == Some(70.0)));
    assert_eq!(read.lot.tubes[0].readings[3].place.line, 7);
    // the value first: no more typing than the values themselves
    let short = "value,tube,kind,angle,first,step,rig\n0.010,A1,bridge,0,40,5,bar\n0.011\n-\n0.013\n# a pause\n-\n0.015\n\
        0.020,A1,bridge,90,60,-5,bar\n0.021\n";
    assert_eq!(bare(&readings(short)), bare(&read));
    // a program that fills in every row
    let full = "tube,kind,angle,first,step,rig,value\nA1,bridge,0,40,5,bar,0.010\nA1,bridge,0,40,5,bar,0.011\nA1,bridge,0,40,5,bar,\n\
        A1,bridge,0,40,5,bar,0.013\nA1,bridge,0,40,5,bar,-\nA1,bridge,0,40,5,bar,0.015\nA1,bridge,90,60,-5,bar,0.020\nA1,bridge,90,60,-5,bar,0.021\n";
    assert_eq!(bare(&readings(full)), bare(&read));
    // inches, and the first place not taken
    let inches = "value_in,tube,kind,angle,first_in,step_in\n,A1,runout,0,1 1/2,1/4\n0.01\n";
    assert_eq!(shown(&readings(inches)), [(44.45, 0.0, 0.254)]);
}

#[test]
fn the_same_line_logged_twice_is_two_lines() {
    let read = readings("value,tube,kind,angle,first,step\n1,A1,runout,0,40,5\n2\n3,A1,runout,0,40,5\n4\n");
    assert_eq!(shown(&read), [(40.0, 0.0, 1.0), (45.0, 0.0, 2.0), (40.0, 0.0, 3.0), (45.0, 0.0, 4.0)]);
}

#[test]
fn what_is_wrong_with_a_log_is_told_once_and_where() {
    let head = "value,tube,kind,angle,first,step\n";
    for (rows, line, words) in [
        ("1,A1,runout,0,40,0\n2\n", 2, "a step other than 0"),
        ("1,A1,runout,0,210,5\n2\n", 2, "at most the tube's length"),
        ("1,A1,runout,0,,5\n2\n", 2, "the place of the first value"),
        ("1,A1,runout,0,190,5\n2\n3\n4\n5\n", 5, "value 4 of the line, at 205 mm"),
        ("1,A1,runout,0,8,-5\n2\n3\n4\n", 4, "value 3 of the line, at -2 mm"),
        ("1\n2,A1,runout,0,40,5\n", 2, "a value without a line above it"),
        ("1,A1,runout,0,40,5\n2,,,30\n3\n", 3, "in the middle of a line"),
        ("1,A1,runout,0,40,5\n\n3\n", 3, "an empty line between two values"),
        ("1,A1,runout,0,40,5\nx\n3\n", 3, "a length"),
        ("1,A1,runout,0,40,5\n2,,,,,,9\n", 3, "more cells than columns"),
    ] {
        let read = readings(&format!("{head}{rows}"));
        says(&read, line, words);
        assert_eq!(read.errors().count(), 1, "{rows}: {}", all(&read));
        // a value without a line is nobody's
        assert!(read.lot.tubes[0].in_doubt || words.contains("without a line"), "{rows}");
    }
    // what stands between two lines is no matter, nor what stands behind the last
    let read = readings(&format!("{head}1,A1,runout,0,40,5\n2\n\n,,,,,\n3,A1,runout,90,40,5\n4\n\n\n"));
    assert!(!read.has_errors() && shown(&read).len() == 4, "{}", all(&read));
    // up to the very end, where steps add up to a little more than the length
    let read = readings(&format!("{head}1,A1,runout,0,199.7,0.1\n2\n3\n4\n"));
    assert!(!read.has_errors() && shown(&read).len() == 4 && shown(&read)[3].0 <= 200.0, "{}", all(&read));
}

// ---- bars

#[test]
fn a_bar_without_a_span_or_with_a_foot_beyond_the_end_is_told() {
    let read =
        readings("tube,kind,z,angle,value,rig\nA1,bridge,100,0,0.1,\nA1,bridge,100,90,0.1,\nA2,bridge,100,0,0.1,bar\n");
    says(&read, 2, "no span of the bar (2 readings)");
    assert_eq!(read.errors().count(), 1, "{}", all(&read));
    assert!(!read.lot.tubes[1].in_doubt);
    let read = readings(
        "tube,kind,z,angle,value,rig,span_in\nA1,bridge,34,0,0.1,bar,\nA1,bridge,35,0,0.1,bar,\nA1,bridge,165,0,0.1,bar,\n\
         A1,bridge,165.1,0,0.1,bar,\nA1,bridge,100,0,0.1,bar,8\nA1,bridge,100,0,0.1,bar,7\n",
    );
    says(&read, 2, "a foot at -1 mm");
    says(&read, 5, "a foot at 200.1 mm");
    says(&read, 6, "a foot at -1.6 mm");
    assert_eq!(read.errors().count(), 3, "{}", all(&read));
    let read = readings("tube,kind,z,angle,value,span\nA1,bridge,100,0,0.1,2.75\nA1,bridge,100,0,30,70\n");
    says(&read, 2, "are these inches typed in a mm column?");
    says(&read, 3, "a bridge of -20 to 20 mm");
    // lot.toml as other lengths of a rig are written
    for (text, want) in [("span = \"2 3/4 in\"", 69.85), ("span = 70", 70.0), ("span_in = 2.75", 69.85)] {
        let toml = format!("[rig.bar]\n{text}\n");
        let rows = "tube,kind,z,angle,value,rig\nA1,bridge,100,0,0.1,bar\n";
        let read = lot(&[("lot.toml", &toml), ("tubes.csv", TUBES), ("readings.csv", rows)]);
        assert!(!read.has_errors(), "{text}: {}", all(&read));
        assert!((read.lot.tubes[0].readings[0].span_mm.expect("a span") - want).abs() < 1e-9, "{text}");
    }
    let read = lot(&[
        ("lot.toml", "[rig.bar]\nspan = 2\n"),
        ("tubes.csv", TUBES),
        ("readings.csv", "tube,kind,z,angle,value\n"),
    ]);
    assert!(read.errors().any(|f| f.expected.contains("5 to 3000 mm")), "{}", all(&read));
}

#[test]
fn a_length_that_nobody_lists_reaches_to_the_last_foot() {
    let rows = "tube,kind,z,angle,value,span\nA,bridge,40,0,0.1,60\nA,bridge,150,0,0.1,60\n";
    let read = lot(&[("readings.csv", rows)]);
    assert!(!read.has_errors() && (read.lot.tubes[0].length_mm - 180.0).abs() < 1e-9, "{}", all(&read));
}

#[test]
fn bars_are_written_and_read_back() {
    let read = readings("tube,kind,angle,40mm,60mm,rig,span\nA1,bridge,0,0.02,-0.01,bar,\nA2,bridge,90,0.03,,,50\n");
    let tables = lot_tables(&read.lot).expect("written");
    let mut files: Vec<(&str, &[u8])> = tables.iter().map(|(n, t)| (*n, t.as_bytes())).collect();
    files.push(("lot.toml", RIG.as_bytes()));
    assert_eq!(bare(&read_lot_files("trial", &files).expect("read")), bare(&read));
    // the writer takes the headers of both forms, and no others
    let new = |form, headers: &[&str]| TableWriter::new(form, headers, Separator::Comma);
    let mut table =
        new(Form::ReadingsLine, &["tube", "kind", "angle", "span_mm", "40mm", "1 1/4 in"]).expect("good headers");
    table.row(&["A1", "bridge", "0", "60", "0.1", "0.2"]).expect("a row");
    assert_eq!(readings(&table.finish()).lot.tubes[0].readings.len(), 2);
    assert!(new(Form::ReadingsLog, &["tube", "kind", "angle", "first", "step_mm", "value"]).is_ok());
    assert!(new(Form::ReadingsLine, &["tube", "kind", "angle"]).is_err());
    assert!(new(Form::ReadingsLine, &["tube", "kind", "angle", "40mm", "40 mm"]).is_err());
    assert!(new(Form::ReadingsLine, &["tube", "kind", "angle", "45deg"]).is_err());
}

// ---- sheets

/// A packed file of stored parts.
fn packed(parts: &[(&str, String)]) -> Vec<u8> {
    let (mut out, mut list) = (Vec::new(), Vec::new());
    for (name, text) in parts {
        let mut crc = flate2::Crc::new();
        crc.update(text.as_bytes());
        let size = u32::try_from(text.len()).expect("small");
        let at = u32::try_from(out.len()).expect("small");
        let mut common = vec![20, 0, 0, 0, 0, 0, 0, 0, 0x21, 0];
        for n in [crc.sum(), size, size] {
            common.extend(n.to_le_bytes());
        }
        common.extend(u16::try_from(name.len()).expect("short").to_le_bytes());
        common.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&common);
        out.extend(name.as_bytes());
        out.extend(text.as_bytes());
        list.extend(b"PK\x01\x02\x14\x00");
        list.extend(&common);
        list.extend([0; 10]);
        list.extend(at.to_le_bytes());
        list.extend(name.as_bytes());
    }
    let at = u32::try_from(out.len()).expect("small");
    let n = u16::try_from(parts.len()).expect("few").to_le_bytes();
    out.extend(&list);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend([n, n].concat());
    out.extend(u32::try_from(list.len()).expect("small").to_le_bytes());
    out.extend(at.to_le_bytes());
    out.extend([0, 0]);
    out
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('"', "&quot;")
}

/// A workbook of text cells; a cell that is empty is not there, as spreadsheets store it.
fn xlsx(sheets: &[(&str, &str)]) -> Vec<u8> {
    let ns = "http://schemas.openxmlformats.org";
    let rel = format!("{ns}/officeDocument/2006/relationships");
    let mut parts = vec![
        (
            "[Content_Types].xml".to_string(),
            format!(
                r#"<Types xmlns="{ns}/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/></Types>"#
            ),
        ),
        (
            "_rels/.rels".into(),
            format!(
                r#"<Relationships xmlns="{ns}/package/2006/relationships"><Relationship Id="r1" Type="{rel}/officeDocument" Target="xl/workbook.xml"/></Relationships>"#
            ),
        ),
    ];
    let (mut names, mut links) = (String::new(), String::new());
    for (i, (name, text)) in sheets.iter().enumerate() {
        names += &format!(r#"<sheet name="{name}" sheetId="{0}" r:id="s{0}"/>"#, i + 1);
        links +=
            &format!(r#"<Relationship Id="s{0}" Type="{rel}/worksheet" Target="worksheets/sheet{0}.xml"/>"#, i + 1);
        let mut rows = String::new();
        for (r, line) in text.lines().enumerate() {
            let cells: String = line
                .split(',')
                .enumerate()
                .filter(|(_, c)| !c.is_empty())
                .map(|(c, cell)| {
                    let column = char::from(b'A' + u8::try_from(c).expect("few columns"));
                    format!(r#"<c r="{column}{}" t="inlineStr"><is><t>{}</t></is></c>"#, r + 1, escaped(cell))
                })
                .collect();
            if !cells.is_empty() {
                rows += &format!(r#"<row r="{}">{cells}</row>"#, r + 1);
            }
        }
        parts.push((
            format!("xl/worksheets/sheet{}.xml", i + 1),
            format!(r#"<worksheet xmlns="{ns}/spreadsheetml/2006/main"><sheetData>{rows}</sheetData></worksheet>"#),
        ));
    }
    parts.push((
        "xl/workbook.xml".into(),
        format!(
            r#"<workbook xmlns="{ns}/spreadsheetml/2006/main" xmlns:r="{rel}"><sheets>{names}</sheets></workbook>"#
        ),
    ));
    parts.push((
        "xl/_rels/workbook.xml.rels".into(),
        format!(r#"<Relationships xmlns="{ns}/package/2006/relationships">{links}</Relationships>"#),
    ));
    packed(&parts.iter().map(|(n, t)| (n.as_str(), t.clone())).collect::<Vec<_>>())
}

/// The same as an open document.
fn ods(sheets: &[(&str, &str)]) -> Vec<u8> {
    let ns = "urn:oasis:names:tc:opendocument:xmlns";
    let mut tables = String::new();
    for (name, text) in sheets {
        let row = |line: &str| -> String {
            let cell = |c: &str| match c {
                "" => "<table:table-cell/>".to_string(),
                c => format!(
                    r#"<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>"#,
                    escaped(c)
                ),
            };
            format!("<table:table-row>{}</table:table-row>", line.split(',').map(cell).collect::<String>())
        };
        tables +=
            &format!(r#"<table:table table:name="{name}">{}</table:table>"#, text.lines().map(row).collect::<String>());
    }
    packed(&[
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet".into()),
        ("META-INF/manifest.xml", format!(r#"<manifest:manifest xmlns:manifest="{ns}:manifest:1.0"/>"#)),
        (
            "content.xml",
            format!(
                r#"<office:document-content xmlns:office="{ns}:office:1.0" xmlns:table="{ns}:table:1.0" xmlns:text="{ns}:text:1.0"><office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"#
            ),
        ),
    ])
}

#[test]
fn sheets_hold_lines_and_logs_as_files_do() {
    let line = "tube,kind,angle,40mm,1 1/2 in (mm),span\nA1,bridge,0,0.02,,60\nA1,bridge,90,0.03,0.04,60\n";
    let log = "value,tube,kind,angle,first,step\n0.1,A2,runout,0,40,5\n0.2,,,,,\n,,,,,\n# a pause,,,,,\n0.4,,,,,\n";
    let want = lot(&[("tubes.csv", TUBES), ("readings a.csv", line), ("readings b.csv", log)]);
    assert!(!want.has_errors(), "{}", all(&want));
    assert!((want.lot.tubes[1].readings[2].z_mm - 55.0).abs() < 1e-9);
    let sheets = [("tubes", TUBES), ("readings a", line), ("readings b", log)];
    let dir = tempfile::tempdir().expect("folder");
    for (name, bytes) in [("trial.xlsx", xlsx(&sheets)), ("trial.ods", ods(&sheets))] {
        let path = dir.path().join(name);
        std::fs::File::create(&path).and_then(|mut f| f.write_all(&bytes)).expect("temp file");
        let read = read_lot(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(!read.has_errors(), "{name}: {}", all(&read));
        assert_eq!(bare(&read).tubes, bare(&want).tubes, "{name}");
    }
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 300, failure_persistence: None, ..Default::default() })]

    #[test]
    fn no_line_and_no_log_makes_the_reader_panic(
        line in "tube,kind,angle(,(-?[0-9]{0,3}(mm| in|_mm|deg|)|span|value|z)){0,4}\n(A[12]?,(bridge|runout|x),[0-9]{0,3}(,-?[0-9.]{0,4}){0,5}\n){0,4}",
        log in "value,tube,kind,angle,first,step\n((-?[0-9.]{0,3}|x|-)(,A1?,(bridge|runout|grain)?,[0-9]{0,3},-?[0-9]{0,3},-?[0-9]{0,3})?(,)?\n|,,\n|#\n|\n){0,8}",
    ) {
        for text in [&line, &log] {
            let read = readings(text);
            for t in &read.lot.tubes {
                for r in &t.readings {
                    proptest::prop_assert!((0.0..=t.length_mm).contains(&r.z_mm) && r.value_mm.is_finite(), "{r:?}");
                }
            }
        }
    }
}
