//! The polygon file format 1.0: header in words, then elements as text or bytes.
//!
//! Source of the format: G. Turk, The PLY Polygon File Format (Stanford University, 1994).

use super::faults::{AXES, Faults, MOST_POINTS, mm_per, whole};
use crate::domain::{counted, units::LengthUnit};
use crate::readings::findings::quoted;

/// Longest header read, lines.
const MOST_HEADER_LINES: usize = 1000;
/// Longest line of a header, bytes.
const MOST_LINE: usize = 4096;

/// A kind of number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Number {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Number {
    fn from_word(word: &str) -> Option<Number> {
        Some(match word {
            "char" | "int8" => Number::I8,
            "uchar" | "uint8" => Number::U8,
            "short" | "int16" => Number::I16,
            "ushort" | "uint16" => Number::U16,
            "int" | "int32" => Number::I32,
            "uint" | "uint32" => Number::U32,
            "float" | "float32" => Number::F32,
            "double" | "float64" => Number::F64,
            _ => return None,
        })
    }

    fn size(self) -> usize {
        match self {
            Number::I8 | Number::U8 => 1,
            Number::I16 | Number::U16 => 2,
            Number::I32 | Number::U32 | Number::F32 => 4,
            Number::F64 => 8,
        }
    }

    /// The number in the first bytes; `None` when there are too few.
    fn read(self, bytes: &[u8], big: bool) -> Option<f64> {
        macro_rules! number {
            ($kind:ty) => {{
                let raw = *bytes.first_chunk()?;
                f64::from(if big { <$kind>::from_be_bytes(raw) } else { <$kind>::from_le_bytes(raw) })
            }};
        }
        Some(match self {
            Number::I8 => number!(i8),
            Number::U8 => number!(u8),
            Number::I16 => number!(i16),
            Number::U16 => number!(u16),
            Number::I32 => number!(i32),
            Number::U32 => number!(u32),
            Number::F32 => number!(f32),
            Number::F64 => number!(f64),
        })
    }
}

/// One property of an element; with `list` the kind of the number that says how long the list is.
#[derive(Debug, Clone)]
struct Property {
    name: String,
    kind: Number,
    list: Option<Number>,
}

#[derive(Debug, Clone)]
struct Element {
    name: String,
    count: usize,
    line: usize,
    properties: Vec<Property>,
}

impl Element {
    /// Fewest bytes one of it takes.
    fn least_bytes(&self, ascii: bool) -> usize {
        let sizes = self.properties.iter().map(|p| p.list.unwrap_or(p.kind).size());
        if ascii { self.properties.len() } else { sizes.sum() }
    }

    /// Places of x, y, z among the properties.
    fn axes(&self) -> Option<[usize; 3]> {
        let at = |name: &str| self.properties.iter().position(|p| p.name == name && p.list.is_none());
        Some([at("x")?, at("y")?, at("z")?])
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Ascii,
    Little,
    Big,
}

struct Header {
    form: Form,
    elements: Vec<Element>,
    /// Bytes of the header.
    bytes: usize,
    lines: usize,
}

/// Reads the vertices; faults go to `faults`.
pub(super) fn read(bytes: &[u8], unit: LengthUnit, faults: &mut Faults<'_>) -> Vec<[f64; 3]> {
    let Some(header) = header(bytes, faults) else { return Vec::new() };
    let body = &bytes[header.bytes..];
    let Some(at) = header.elements.iter().position(|e| e.name == "vertex") else {
        faults.add(0, "", || "no element vertex".into(), "an element vertex", "save the scan as points");
        return Vec::new();
    };
    let vertex = &header.elements[at];
    let Some(axes) = vertex.axes() else {
        let names = || vertex.properties.iter().map(|p| p.name.as_str()).collect::<Vec<_>>().join(", ");
        let found = || if vertex.properties.is_empty() { "a vertex without properties".into() } else { names() };
        faults.add(vertex.line, "vertex", found, "properties x, y and z", "save the scan with coordinates x, y, z");
        return Vec::new();
    };
    let fits = body.len() / vertex.least_bytes(header.form == Form::Ascii).max(1);
    if vertex.count > fits || vertex.count > MOST_POINTS || vertex.count == 0 {
        let found = || format!("element vertex {}", vertex.count);
        let expected = if vertex.count == 0 {
            "at least one point".to_string()
        } else {
            format!("at most {} in a file of this size", counted(fits.min(MOST_POINTS), "point"))
        };
        faults.add(vertex.line, "vertex", found, &expected, CUT_SHORT);
        return Vec::new();
    }
    let scale = [mm_per(unit); 3];
    let before = &header.elements[..at];
    match header.form {
        Form::Ascii => ascii(body, header.lines, before, vertex, axes, scale, faults),
        Form::Little => binary(body, false, before, vertex, axes, scale, faults),
        Form::Big => binary(body, true, before, vertex, axes, scale, faults),
    }
}

fn header(bytes: &[u8], faults: &mut Faults<'_>) -> Option<Header> {
    let fix = "save the scan again as .ply, ascii or binary";
    let mut at = 0;
    let mut form = None;
    let mut elements: Vec<Element> = Vec::new();
    for line in 1..=MOST_HEADER_LINES {
        let rest = &bytes[at..];
        let Some(end) = rest.iter().take(MOST_LINE).position(|b| *b == b'\n' || *b == b'\r') else {
            faults.add(line, "", || "a header without end_header".into(), "a line end_header", fix);
            return None;
        };
        let text = String::from_utf8_lossy(&rest[..end]).into_owned();
        at += end + if rest[end..].starts_with(b"\r\n") { 2 } else { 1 };
        let words: Vec<&str> = text.split_whitespace().collect();
        let good = match words.as_slice() {
            ["ply"] => line == 1,
            _ if line == 1 => false,
            [] | ["comment" | "obj_info", ..] => true,
            ["end_header"] => {
                let Some(form) = form else {
                    faults.add(line, "", || "no line format".into(), "a line format before end_header", fix);
                    return None;
                };
                return Some(Header { form, elements, bytes: at, lines: line });
            }
            ["format", word, "1.0"] => {
                form = match *word {
                    "ascii" => Some(Form::Ascii),
                    "binary_little_endian" => Some(Form::Little),
                    "binary_big_endian" => Some(Form::Big),
                    _ => None,
                };
                form.is_some()
            }
            ["element", name, number] => number.parse().is_ok_and(|count| {
                elements.push(Element { name: (*name).to_string(), count, line, properties: Vec::new() });
                true
            }),
            ["property", rest @ ..] => match (elements.last_mut(), property(rest)) {
                (Some(element), Some(p)) => {
                    element.properties.push(p);
                    true
                }
                _ => false,
            },
            _ => false,
        };
        if !good {
            let expected = if line == 1 { "the word ply" } else { "a line of a PLY 1.0 header" };
            faults.add(line, "", || quoted(&text), expected, fix);
            return None;
        }
    }
    faults.add(MOST_HEADER_LINES, "", || "a header of over 1000 lines".into(), "a line end_header", fix);
    None
}

fn property(words: &[&str]) -> Option<Property> {
    match words {
        ["list", length, kind, name] => {
            let list = Number::from_word(length).filter(|n| !matches!(n, Number::F32 | Number::F64))?;
            Some(Property { name: (*name).to_string(), kind: Number::from_word(kind)?, list: Some(list) })
        }
        [kind, name] => Some(Property { name: (*name).to_string(), kind: Number::from_word(kind)?, list: None }),
        _ => None,
    }
}

const CUT_SHORT: &str = "the file is cut short or damaged: save it again";

/// Tells that the file ends after `k` of its points.
fn ends_early(faults: &mut Faults<'_>, vertex: &Element, k: usize) {
    let expected = format!("{}, as the header says", counted(vertex.count, "point"));
    faults.add(0, "vertex", || format!("the file ends after {}", counted(k, "point")), &expected, CUT_SHORT);
}

fn ascii(
    body: &[u8],
    header_lines: usize,
    before: &[Element],
    vertex: &Element,
    axes: [usize; 3],
    scale: [f64; 3],
    faults: &mut Faults<'_>,
) -> Vec<[f64; 3]> {
    let end = if body.contains(&b'\n') { b'\n' } else { b'\r' };
    let all = body.split(move |&b| b == end).enumerate().map(|(i, l)| (i + 1 + header_lines, l.trim_ascii()));
    let mut lines = all.filter(|(_, l)| !l.is_empty());
    let mut passed = 0_usize;
    for e in before.iter().filter(|e| !e.properties.is_empty()) {
        while passed < e.count && lines.next().is_some() {
            passed += 1;
        }
        passed = 0;
    }
    let mut out = Vec::with_capacity(vertex.count);
    let mut cells: Vec<&[u8]> = Vec::new();
    for k in 0..vertex.count {
        let Some((line, text)) = lines.next() else {
            ends_early(faults, vertex, k);
            return out;
        };
        cells.clear();
        if vertex.properties.iter().all(|p| p.list.is_none()) {
            cells.extend(text.split(u8::is_ascii_whitespace).filter(|c| !c.is_empty()));
        } else {
            scalars(text, &vertex.properties, &mut cells);
        }
        let mut raw = [0.0; 3];
        let mut good = true;
        for axis in 0..3 {
            let cell = cells.get(axes[axis]).copied();
            match cell.and_then(|c| std::str::from_utf8(c).ok()?.parse::<f64>().ok()) {
                Some(x) => raw[axis] = x,
                None => {
                    good = false;
                    let found = || cell.map_or("no number".to_string(), |c| quoted(&String::from_utf8_lossy(c)));
                    faults.add(line, AXES[axis], found, "a number", "take the point out and correct the count");
                }
            }
        }
        if good {
            out.extend(faults.point(raw, scale, line, String::new));
        }
    }
    out
}

/// The cells of a line with lists in it, one per property; a list is stood for by its length.
fn scalars<'l>(text: &'l [u8], properties: &[Property], cells: &mut Vec<&'l [u8]>) {
    let mut words = text.split(u8::is_ascii_whitespace).filter(|c| !c.is_empty());
    for p in properties {
        let Some(word) = words.next() else { return };
        cells.push(word);
        if p.list.is_some() {
            let Some(n) = std::str::from_utf8(word).ok().and_then(|w| w.parse::<usize>().ok()) else { return };
            for _ in 0..n {
                if words.next().is_none() {
                    return;
                }
            }
        }
    }
}

fn binary(
    body: &[u8],
    big: bool,
    before: &[Element],
    vertex: &Element,
    axes: [usize; 3],
    scale: [f64; 3],
    faults: &mut Faults<'_>,
) -> Vec<[f64; 3]> {
    let mut at = 0_usize;
    for e in before {
        let fixed = e.properties.iter().all(|p| p.list.is_none());
        let end = if fixed {
            e.count.checked_mul(e.least_bytes(false)).and_then(|n| at.checked_add(n)).filter(|n| *n <= body.len())
        } else {
            // each one moves on by at least the length of its lists, so this ends with the file
            (0..e.count).try_fold(at, |from, _| walk(body, from, big, &e.properties, &mut |_, _| {}))
        };
        let Some(end) = end else {
            faults.add(e.line, &e.name, || "the file ends before its points".into(), "all elements", CUT_SHORT);
            return Vec::new();
        };
        at = end;
    }
    let mut out = Vec::with_capacity(vertex.count);
    for k in 0..vertex.count {
        let mut raw = [0.0; 3];
        let next = walk(body, at, big, &vertex.properties, &mut |i, x| {
            for axis in 0..3 {
                if axes[axis] == i {
                    raw[axis] = x;
                }
            }
        });
        let Some(next) = next else {
            ends_early(faults, vertex, k);
            return out;
        };
        at = next;
        out.extend(faults.point(raw, scale, 0, || format!("point {} of the file: ", k + 1)));
    }
    out
}

/// Passes over one element from byte `at`, handing each plain number to `each`; the byte behind it, or `None` at the
/// end of the file.
fn walk(
    body: &[u8],
    mut at: usize,
    big: bool,
    properties: &[Property],
    each: &mut dyn FnMut(usize, f64),
) -> Option<usize> {
    for (i, p) in properties.iter().enumerate() {
        let rest = body.get(at..)?;
        match p.list {
            None => {
                each(i, p.kind.read(rest, big)?);
                at += p.kind.size();
            }
            Some(length) => {
                let n = length.read(rest, big)?;
                if n < 0.0 {
                    return None;
                }
                let n = whole(n);
                at = n.checked_mul(p.kind.size())?.checked_add(at + length.size())?;
                if at > body.len() {
                    return None;
                }
            }
        }
    }
    Some(at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::findings::Findings;

    /// The points of a file, and what was found wrong with it.
    fn points(bytes: &[u8]) -> (Vec<[f64; 3]>, Vec<String>) {
        let mut findings = Findings::default();
        let file = "A.ply".into();
        let points = read(bytes, LengthUnit::Millimetre, &mut Faults::new(&file, "A", &mut findings));
        (points, findings.finish().iter().map(ToString::to_string).collect())
    }

    fn file(form: &str, header: &str, body: &[u8]) -> Vec<u8> {
        let mut bytes = format!("ply\nformat {form} 1.0\n{header}end_header\n").into_bytes();
        bytes.extend_from_slice(body);
        bytes
    }

    const XYZ: &str = "element vertex 1\nproperty float x\nproperty float y\nproperty float z\n";

    #[test]
    fn numbers_are_read_in_either_byte_order() {
        // 1.5 = 0x3FC00000 and -2 = 0xC0000000 in single precision
        let little = [0, 0, 0xc0, 0x3f, 0, 0, 0, 0xc0, 0, 0, 0, 0];
        let big = [0x3f, 0xc0, 0, 0, 0xc0, 0, 0, 0, 0, 0, 0, 0];
        for (form, body) in [("binary_little_endian", little), ("binary_big_endian", big)] {
            assert_eq!(points(&file(form, XYZ, &body)), (vec![[1.5, -2.0, 0.0]], vec![]), "{form}");
        }
        assert_eq!(Number::I16.read(&[0xff, 0xfe], true), Some(-2.0));
        assert_eq!(Number::U16.read(&[0xff, 0xfe], false), Some(65279.0));
        assert_eq!((Number::I8.read(&[0x80], false), Number::F64.read(&[0; 7], false)), (Some(-128.0), None));
    }

    #[test]
    fn axes_are_found_by_name_and_other_properties_are_passed_over() {
        let header = "comment invented\nelement vertex 2\nproperty double z\nproperty uchar red\nproperty double x\n\
                      property int y\n";
        assert_eq!(points(&file("ascii", header, b"3 255 1 2\n6 0 4 5\n")).0, [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]);
    }

    #[test]
    fn elements_with_lists_before_the_points_are_passed_over() {
        let header = format!("element face 2\nproperty list uchar short at\n{XYZ}");
        // two lists: of two numbers and of none
        let mut body = vec![2, 1, 0, 2, 0, 0];
        for x in [7.0_f32, 8.0, 9.0] {
            body.extend(x.to_le_bytes());
        }
        assert_eq!(points(&file("binary_little_endian", &header, &body)).0, [[7.0, 8.0, 9.0]]);
        assert_eq!(points(&file("ascii", &header, b"2 1 2\n0\n7 8 9\n")).0, [[7.0, 8.0, 9.0]]);
    }

    #[test]
    fn a_list_that_runs_past_the_end_is_told_and_not_followed() {
        let header = format!("element face 1\nproperty list uint double at\n{XYZ}");
        let mut body = u32::MAX.to_le_bytes().to_vec();
        body.extend([0; 40]);
        let (none, told) = points(&file("binary_little_endian", &header, &body));
        assert!(none.is_empty() && told.len() == 1 && told[0].contains("cut short"), "{told:?}");
    }

    #[test]
    fn bad_points_are_named_with_their_line_and_axis_and_a_count_too_large_is_refused() {
        let header = XYZ.replace("vertex 1", "vertex 3");
        // the header has seven lines, so the second point stands on line 9
        let (good, told) = points(&file("ascii", &header, b"1 2 3\n1 two 3\n4 5 6\n"));
        assert_eq!(good, [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]);
        assert!(told.len() == 1 && told[0].contains("line 9, column y: found 'two'"), "{told:?}");
        let many = XYZ.replace("vertex 1", "vertex 4000000000");
        let (none, told) = points(&file("binary_little_endian", &many, &[0; 24]));
        assert!(none.is_empty() && told[0].contains("at most 2 points"), "{told:?}");
        let (none, told) = points(b"plx\n");
        assert!(none.is_empty() && told[0].contains("the word ply"), "{told:?}");
    }
}
