//! Points as text: comma-separated tables with or without a header, and plain lines of three numbers.

use super::faults::{AXES, Faults, MOST_POINTS, mm_per};
use crate::domain::units::{LengthUnit, Unit, parse_header};
use crate::readings::findings::quoted;

/// Lines looked at to find out how numbers are separated.
const SAMPLE: usize = 50;

/// How the cells of a line are separated, and how decimals are marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Cut {
    /// The separator; `None` for runs of blanks and tabs.
    mark: Option<u8>,
    decimal_comma: bool,
}

/// In the order of trust: a mark that separates nothing else first.
const CUTS: [Cut; 7] = [
    Cut { mark: Some(b';'), decimal_comma: false },
    Cut { mark: Some(b';'), decimal_comma: true },
    Cut { mark: Some(b'\t'), decimal_comma: false },
    Cut { mark: Some(b'\t'), decimal_comma: true },
    Cut { mark: Some(b','), decimal_comma: false },
    Cut { mark: None, decimal_comma: false },
    Cut { mark: None, decimal_comma: true },
];

impl Cut {
    /// Hands the trimmed cells of a line to `each` until it says stop.
    fn cells<'l>(self, line: &'l [u8], mut each: impl FnMut(&'l [u8]) -> bool) {
        match self.mark {
            Some(mark) => {
                for cell in line.split(|&b| b == mark) {
                    if !each(unquoted(cell.trim_ascii())) {
                        return;
                    }
                }
            }
            None => {
                for cell in line.split(u8::is_ascii_whitespace).filter(|c| !c.is_empty()) {
                    if !each(unquoted(cell)) {
                        return;
                    }
                }
            }
        }
    }

    fn list(self, line: &[u8]) -> Vec<&[u8]> {
        let mut out = Vec::new();
        self.cells(line, |c| {
            out.push(c);
            out.len() < 1000
        });
        out
    }

    fn number(self, cell: &[u8]) -> Option<f64> {
        if self.decimal_comma {
            if cell.contains(&b'.') || cell.iter().filter(|b| **b == b',').count() > 1 {
                return None;
            }
            let text = String::from_utf8_lossy(cell).replace(',', ".");
            return text.parse().ok();
        }
        std::str::from_utf8(cell).ok()?.parse().ok()
    }
}

fn unquoted(cell: &[u8]) -> &[u8] {
    cell.strip_prefix(b"\"").and_then(|c| c.strip_suffix(b"\"")).map_or(cell, <[u8]>::trim_ascii)
}

/// Reads points; faults of every line go to `faults`.
pub(super) fn read(bytes: &[u8], unit: LengthUnit, faults: &mut Faults<'_>) -> Vec<[f64; 3]> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") || bytes.contains(&0) {
        let fix = "save it as plain text (UTF-8), or as .ply if it is one";
        faults.add(0, "", || "a file that is not plain text".into(), "lines of numbers", fix);
        return Vec::new();
    }
    // the line ends of old systems
    let end = if bytes.contains(&b'\n') { b'\n' } else { b'\r' };
    let lines = || {
        let all = bytes.split(move |&b| b == end).enumerate().map(|(i, l)| (i + 1, l.trim_ascii()));
        all.filter(|(_, l)| !(l.is_empty() || l.starts_with(b"#") || l.starts_with(b"//") || l.starts_with(b"%")))
    };
    let mut start = lines().take(SAMPLE).collect::<Vec<_>>();
    let cut = choose_cut(&start);
    let mut skip = 0;
    if let [(line, first), (_, second), ..] = start.as_slice()
        && cut.list(first).len() == 1
        && std::str::from_utf8(first).is_ok_and(|t| t.parse::<u64>().is_ok())
        && cut.list(second).len() > 2
    {
        let found = format!("a first line with the one number {}", String::from_utf8_lossy(first));
        faults.note(*line, found, "a point", "nothing to do: it was taken as the number of points and passed over");
        start.remove(0);
        skip = 1;
    }
    let Some(&(first_line, first)) = start.first() else {
        faults.add(0, "", || "no points".into(), "lines of x, y, z", "scan the tube again, or take the file away");
        return Vec::new();
    };
    let mut columns = Columns { at: [0, 1, 2], scale: [mm_per(unit); 3] };
    let head = cut.list(first);
    if head.iter().take(3).filter(|c| cut.number(c).is_some()).count() < head.len().clamp(1, 3) && is_header(&head) {
        let rest = start.get(1).map_or(head.len(), |(_, l)| cut.list(l).len());
        let Some(found) = header(&head, rest, cut, unit, first_line, faults) else { return Vec::new() };
        columns = found;
        skip += 1;
    }
    points(lines().skip(skip), cut, columns, faults)
}

/// A line whose cells are words, not slips of numbers.
fn is_header(cells: &[&[u8]]) -> bool {
    cells.iter().take(3).all(|c| c.first().is_some_and(u8::is_ascii_alphabetic))
        || cells.iter().any(|c| axis(c).is_some())
}

fn axis(cell: &[u8]) -> Option<usize> {
    let name = parse_header(&String::from_utf8_lossy(cell)).name;
    AXES.iter().position(|a| *a == name)
}

/// The separator that makes most lines hold three numbers.
fn choose_cut(lines: &[(usize, &[u8])]) -> Cut {
    let mut best = (CUTS[4], 0);
    for cut in CUTS {
        let three = |l: &[u8]| cut.list(l).iter().filter(|c| cut.number(c).is_some()).count() >= 3;
        let good = lines.iter().filter(|(_, l)| three(l)).count();
        if good > best.1 {
            best = (cut, good);
        }
    }
    best.0
}

/// Where the coordinates stand, and their units.
#[derive(Debug, Clone, Copy)]
struct Columns {
    at: [usize; 3],
    scale: [f64; 3],
}

fn header(
    head: &[&[u8]],
    width: usize,
    cut: Cut,
    unit: LengthUnit,
    line: usize,
    faults: &mut Faults<'_>,
) -> Option<Columns> {
    let shown = || quoted(&head.iter().map(|c| String::from_utf8_lossy(c)).collect::<Vec<_>>().join(", "));
    let mut at = [None; 3];
    let mut scale = [mm_per(unit); 3];
    let before = faults.count();
    for (i, cell) in head.iter().enumerate() {
        let h = parse_header(&String::from_utf8_lossy(cell));
        let Some(axis) = AXES.iter().position(|a| *a == h.name) else { continue };
        let text = || quoted(&String::from_utf8_lossy(cell));
        if at[axis].is_some() {
            faults.add(line, AXES[axis], || format!("a second column {}", text()), "each column once", "delete one");
        }
        at[axis] = Some(i);
        match h.unit {
            Some(Unit::Length(u)) => scale[axis] = mm_per(u),
            None if h.unknown_unit.is_none() => {}
            _ => faults.add(line, AXES[axis], text, "a unit of length", "write mm, cm, m, um, in or thou"),
        }
    }
    let wanted = "columns x, y and z";
    if at.iter().any(Option::is_none) {
        faults.add(line, "", shown, wanted, "name the three columns, or leave the header row out");
    } else if cut.mark.is_none() && head.len() != width {
        let fix = "separate the cells of the file by commas, or write the unit without a blank: x_mm";
        faults.add(line, "", shown, "as many names as numbers", fix);
    }
    (faults.count() == before).then(|| Columns { at: at.map(Option::unwrap_or_default), scale })
}

fn points<'l>(
    lines: impl Iterator<Item = (usize, &'l [u8])>,
    cut: Cut,
    columns: Columns,
    faults: &mut Faults<'_>,
) -> Vec<[f64; 3]> {
    let last = columns.at.iter().copied().max().unwrap_or(2);
    let mut out = Vec::new();
    for (line, text) in lines {
        let mut cells: [Option<&[u8]>; 3] = [None; 3];
        let mut i = 0;
        cut.cells(text, |cell| {
            for (found, at) in cells.iter_mut().zip(columns.at) {
                if at == i {
                    *found = Some(cell);
                }
            }
            i += 1;
            i <= last
        });
        let mut raw = [0.0; 3];
        let mut good = true;
        for axis in 0..3 {
            match cells[axis].map(|c| (c, cut.number(c))) {
                Some((_, Some(x))) => raw[axis] = x,
                other => {
                    good = false;
                    let found = || other.map_or("no cell".to_string(), |(c, _)| quoted(&String::from_utf8_lossy(c)));
                    let fix = "write the point again, or take the line away";
                    faults.add(line, AXES[axis], found, "a number", fix);
                }
            }
        }
        if good && let Some(p) = faults.point(raw, columns.scale, line, String::new) {
            if out.len() == MOST_POINTS {
                let fix = "thin the scan out: a million points are plenty";
                faults.add(line, "", || "still more points".into(), "at most 20 million points", fix);
                return out;
            }
            out.push(p);
        }
    }
    if out.is_empty() && faults.count() == 0 {
        faults.add(0, "", || "no points".into(), "lines of x, y, z", "scan the tube again, or take the file away");
    }
    out
}
