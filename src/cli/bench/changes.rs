//! What a page asks to be written down, and how it goes into the lot's tables.

use quarterlight::domain::units::WeightUnit;
use quarterlight::domain::{Kind, Lot};
use quarterlight::readings::{EditError, Form, TYPED_FILE, TYPED_HEADERS, TableText, TypedAt};
use std::collections::BTreeMap;

/// One thing to write down.
#[derive(Debug, Clone)]
pub enum Change {
    /// A reading: what goes into its cell (nothing: the row is taken out), and what the page last saw there.
    Cell { at: TypedAt, cell: String, was: String },
    /// A new tube.
    Tube { tube: String, length_mm: f64, weight_g: Option<f64> },
    /// Minutes that measuring a tube took.
    Minutes { tube: String, minutes: f64 },
    /// What became of a tube.
    Fell(Box<Fell>),
}

/// What became of a tube.
#[derive(Debug, Clone, Default)]
pub struct Fell {
    pub tube: String,
    /// The angle aimed at, degrees.
    pub aim_deg: Option<f64>,
    /// Where the lines fell, degrees: all of them, the first alone, or none; `None` where what is written stays.
    pub split_deg: Option<Vec<f64>>,
    /// Widths of the backs, mm; none, or one for each piece; `None` where what is written stays.
    pub back_mm: Option<Vec<f64>>,
    pub blanks: Option<u32>,
    /// Blanks of each piece, from the first.
    pub of_piece: Vec<Option<u32>>,
    /// Piece, from and to in mm, and what became of it: `yes`, a reason, or nothing.
    pub stretches: Vec<(usize, f64, f64, String)>,
}

/// What became of a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Done {
    /// It is written; what stands there now.
    Kept(String),
    /// Something else was written there meanwhile: nothing was changed.
    Now(String),
    /// It cannot be written, and why.
    Refused(String),
}

/// The tables of a lot as they are being changed, by the names the forms have.
pub struct Tables<'a> {
    /// The lot as it was read last: for the list of tubes where there is none yet.
    pub lot: &'a Lot,
    /// The bytes of a file of that name; `None` where there is none.
    pub load: &'a dyn Fn(&str) -> std::io::Result<Option<Vec<u8>>>,
    open: BTreeMap<&'static str, TableText>,
    was: BTreeMap<&'static str, Option<Vec<u8>>>,
    changed: Vec<&'static str>,
}

const TUBES: &str = "tubes.csv";
const CUTS: &str = "cuts.csv";
const CUT_HEADERS: [&str; 10] =
    ["tube", "piece", "aim_deg", "split_deg", "back_mm", "blanks", "from_mm", "to_mm", "got", "why"];
/// Two places along a tube that are marked as one, mm.
const SAME_MM: f64 = 0.06;

impl<'a> Tables<'a> {
    pub fn new(lot: &'a Lot, load: &'a dyn Fn(&str) -> std::io::Result<Option<Vec<u8>>>) -> Tables<'a> {
        Tables { lot, load, open: BTreeMap::new(), was: BTreeMap::new(), changed: Vec::new() }
    }

    /// The texts of the files that changed.
    pub fn changed(&self) -> impl Iterator<Item = (&'static str, String)> + '_ {
        self.changed.iter().map(|name| (*name, self.open[name].text()))
    }

    /// The bytes of a file as the changes found it.
    pub fn found(&self, name: &str) -> Option<&[u8]> {
        self.was.get(name)?.as_deref()
    }

    /// Makes one change.
    pub fn make(&mut self, change: &Change) -> Done {
        match change {
            Change::Cell { at, cell, was } => self.cell(at, cell, was),
            Change::Tube { tube, length_mm, weight_g } => self.tube(tube, *length_mm, *weight_g),
            Change::Minutes { tube, minutes } => self.minutes(tube, *minutes),
            Change::Fell(fell) => self.fell(fell),
        }
    }

    fn table(&mut self, name: &'static str) -> Result<&mut TableText, Done> {
        if !self.open.contains_key(name) {
            let form = match name {
                TUBES => Form::Tubes,
                CUTS => Form::Cuts,
                _ => Form::Readings,
            };
            let refused = |why: String| Done::Refused(format!("{name} cannot be changed: {why}"));
            let bytes = (self.load)(name).map_err(|e| refused(e.to_string()))?;
            let empty = |b: &Vec<u8>| b.iter().all(u8::is_ascii_whitespace);
            let bytes = &*self.was.entry(name).or_insert(bytes);
            let table = match bytes.as_ref().filter(|b| !empty(b)) {
                Some(bytes) => TableText::open(bytes, form).map_err(|e: EditError| refused(e.to_string()))?,
                None => match name {
                    TUBES => listed(self.lot),
                    CUTS => TableText::new(form, &CUT_HEADERS),
                    _ => TableText::new(form, &TYPED_HEADERS),
                },
            };
            self.open.insert(name, table);
        }
        Ok(self.open.get_mut(name).unwrap_or_else(|| unreachable!("just put there")))
    }

    fn note(&mut self, name: &'static str) {
        if !self.changed.contains(&name) {
            self.changed.push(name);
        }
    }

    fn cell(&mut self, at: &TypedAt, cell: &str, was: &str) -> Done {
        let table = match self.table(TYPED_FILE) {
            Ok(table) => table,
            Err(done) => return done,
        };
        let row = table.rows().filter(|r| at.is_row(table, *r)).last();
        let now = row.map_or("", |r| table.cell(r, "value")).to_string();
        if now == cell {
            return Done::Kept(now);
        }
        if now != was {
            return Done::Now(now);
        }
        match (row, cell) {
            (None, "") => return Done::Kept(String::new()),
            (Some(row), "") => table.remove(row),
            (Some(row), cell) => table.set(row, &[("value", cell.to_string())]),
            (None, cell) => {
                for column in ["set", "rig", "span"] {
                    table.have(column);
                }
                let cells = at.cells(table, cell);
                table.push(&cells);
            }
        }
        self.note(TYPED_FILE);
        Done::Kept(cell.to_string())
    }

    fn tube(&mut self, name: &str, length_mm: f64, weight_g: Option<f64>) -> Done {
        let table = match self.table(TUBES) {
            Ok(table) => table,
            Err(done) => return done,
        };
        if weight_g.is_some() {
            table.have("weight");
        }
        let row = table.rows().find(|r| table.cell(*r, "tube") == name);
        // a form of names alone waits for lengths
        if row.is_some_and(|r| !table.cell(r, "length").is_empty()) {
            return Done::Refused(format!("{name} is in the list already"));
        }
        let mut cells = vec![("tube", name.to_string()), ("length", table.length(length_mm, "length"))];
        cells.extend(weight_g.map(|g| ("weight", table.weight(g, "weight"))));
        match row {
            Some(row) => table.set(row, &cells),
            None => table.push(&cells),
        }
        self.note(TUBES);
        Done::Kept(name.to_string())
    }

    fn minutes(&mut self, tube: &str, minutes: f64) -> Done {
        let table = match self.table(TUBES) {
            Ok(table) => table,
            Err(done) => return done,
        };
        let Some(row) = table.rows().find(|r| table.cell(*r, "tube") == tube) else {
            return Done::Refused(format!("{tube} is not in the list of tubes"));
        };
        table.have("minutes");
        let cell = table.number(minutes);
        table.set(row, &[("minutes", cell.clone())]);
        self.note(TUBES);
        Done::Kept(cell)
    }

    fn fell(&mut self, f: &Fell) -> Done {
        let table = match self.table(CUTS) {
            Ok(table) => table,
            Err(done) => return done,
        };
        for column in ["piece", "aim", "split", "back", "blanks", "from", "to", "got", "why"] {
            table.have(column);
        }
        // one row of the whole tube, one of each piece, one of each stretch
        let split: Option<Vec<String>> =
            f.split_deg.as_ref().map(|all| all.iter().map(|deg| table.angle(*deg, "split")).collect());
        let back: Option<Vec<String>> =
            f.back_mm.as_ref().map(|all| all.iter().map(|mm| table.length(*mm, "back")).collect());
        let mut whole: Vec<(&'static str, String)> =
            vec![("aim", f.aim_deg.map_or(String::new(), |deg| table.angle(deg, "aim")))];
        let mut of_piece: Vec<Vec<(&'static str, String)>> =
            f.of_piece.iter().map(|blanks| vec![("blanks", whole_number(*blanks))]).collect();
        for (column, cells) in [("split", split), ("back", back)] {
            let Some(cells) = cells else { continue };
            // in the form they stand in already: of the whole tube, or of its pieces
            let by_piece = rows_of(table, &f.tube)
                .any(|r| !table.cell(r, "piece").is_empty() && !table.cell(r, column).is_empty());
            let mut cells = if by_piece { cells } else { vec![cells.join(" ")] };
            if by_piece {
                cells.resize(cells.len().max(of_piece.len()), String::new());
                of_piece.iter_mut().zip(cells).for_each(|(piece, cell)| piece.push((column, cell)));
                whole.push((column, String::new()));
            } else {
                whole.extend(cells.pop().map(|cell| (column, cell)));
            }
        }
        whole.push(("blanks", whole_number(f.blanks)));
        put_told(table, &f.tube, "", whole);
        for (i, cells) in of_piece.into_iter().enumerate() {
            put_told(table, &f.tube, &(i + 1).to_string(), cells);
        }
        for (piece, from, to, what) in &f.stretches {
            let (number, from_text, to_text) =
                (piece.to_string(), table.length(*from, "from"), table.length(*to, "to"));
            let near = |t: &TableText, r: usize, column: &'static str, text: &str| {
                let read = |s: &str| s.replace(',', ".").parse::<f64>().ok();
                let per = t.length(1.0, column).replace(',', ".").parse::<f64>().unwrap_or(1.0);
                read(t.cell(r, column)).zip(read(text)).is_some_and(|(a, b)| (a - b).abs() < SAME_MM * per)
            };
            let (got, why) = match what.as_str() {
                "" => (String::new(), String::new()),
                "yes" => ("yes".to_string(), String::new()),
                why => ("no".to_string(), why.to_string()),
            };
            let is = |t: &TableText, r: usize| {
                t.cell(r, "piece") == number && near(t, r, "from", &from_text) && near(t, r, "to", &to_text)
            };
            if got.is_empty() {
                // a stretch without a word would be read as got
                let row = table.rows().find(|r| table.cell(*r, "tube") == f.tube && is(table, *r));
                row.into_iter().for_each(|r| table.remove(r));
            } else {
                let cells = vec![
                    ("piece", number.clone()),
                    ("from", from_text.clone()),
                    ("to", to_text.clone()),
                    ("got", got),
                    ("why", why),
                ];
                put(table, &f.tube, cells, is);
            }
        }
        self.note(CUTS);
        Done::Kept(f.tube.clone())
    }
}

fn whole_number(n: Option<u32>) -> String {
    n.map_or(String::new(), |n| n.to_string())
}

/// The rows of a tube.
fn rows_of<'t>(table: &'t TableText, tube: &'t str) -> impl Iterator<Item = usize> + 't {
    table.rows().filter(move |r| table.cell(*r, "tube") == tube)
}

/// Writes what is told of a piece, or with no piece of the whole tube: each cell where it stands already, the others into the
/// row that is of no stretch.
fn put_told(table: &mut TableText, tube: &str, piece: &str, cells: Vec<(&'static str, String)>) {
    let is_piece = |t: &TableText, r: usize| t.cell(r, "piece").trim_end_matches(".0") == piece;
    let mut rest = Vec::new();
    for (column, cell) in cells {
        let standing = rows_of(table, tube).find(|r| is_piece(table, *r) && !table.cell(*r, column).is_empty());
        match standing {
            Some(row) => table.set(row, &[(column, cell)]),
            None if cell.is_empty() => {}
            None => rest.push((column, cell)),
        }
    }
    if rest.is_empty() {
        return;
    }
    rest.insert(0, ("piece", piece.to_string()));
    put(table, tube, rest, |t, r| is_piece(t, r) && t.cell(r, "from").is_empty() && t.cell(r, "to").is_empty());
}

/// Writes cells into the row of a tube that `is` the one meant, or into a new one; a row that would be empty is not made.
fn put(table: &mut TableText, tube: &str, cells: Vec<(&'static str, String)>, is: impl Fn(&TableText, usize) -> bool) {
    let row = table.rows().find(|r| table.cell(*r, "tube") == tube && is(table, *r));
    match row {
        Some(row) => table.set(row, &cells),
        None if cells.iter().all(|c| c.1.is_empty() || c.0 == "piece") => {}
        None => {
            let mut all = vec![("tube", tube.to_string())];
            all.extend(cells);
            table.push(&all);
        }
    }
}

/// A list of the tubes that are known from readings alone: a new list must name them too, or they would be strangers to it.
fn listed(lot: &Lot) -> TableText {
    let mut table = TableText::new(Form::Tubes, &["tube", "length_mm", "weight_g", "minutes", "note"]);
    for t in &lot.tubes {
        let weight = t.weight_g.map_or(String::new(), |g| table.weight(g, "weight"));
        let note = if t.length_is_guess { "length taken from the furthest reading" } else { "" };
        let cells = [
            ("tube", t.name.clone()),
            ("length", table.length(t.length_mm, "length")),
            ("weight", weight),
            ("note", note.to_string()),
        ];
        table.push(&cells);
    }
    table
}

/// The readings of a tube that stand in a table of typed ones: where each belongs, and its cell.
pub fn typed_of(bytes: &[u8], tube: &str) -> Vec<(TypedAt, String)> {
    let Ok(table) = TableText::open(bytes, Form::Readings) else { return Vec::new() };
    let one = |r: usize| {
        let at = TypedAt {
            tube: tube.to_string(),
            kind: Kind::from_word(table.cell(r, "kind"))?,
            z_mm: table.length_mm(r, "z")?,
            angle_deg: table.angle_deg(r, "angle")?,
            set: table.cell(r, "set").to_string(),
            rig: table.cell(r, "rig").to_string(),
            span_mm: table.length_mm(r, "span"),
        };
        Some((at, table.cell(r, "value").to_string()))
    };
    table.rows().filter(|r| table.cell(*r, "tube") == tube).filter_map(one).collect()
}

/// The unit that weights without one are typed in.
pub const BARE_WEIGHT: WeightUnit = WeightUnit::Gram;

#[cfg(test)]
mod tests {
    use super::*;
    use quarterlight::domain::Tube;

    fn at(z_mm: f64) -> TypedAt {
        let (set, rig) = (String::new(), String::new());
        TypedAt { tube: "A".into(), kind: Kind::Diameter, z_mm, angle_deg: 90.0, set, rig, span_mm: None }
    }

    fn cell(z_mm: f64, cell: &str, was: &str) -> Change {
        Change::Cell { at: at(z_mm), cell: cell.into(), was: was.into() }
    }

    fn make(was: Option<&str>, lot: &Lot, changes: &[Change]) -> (Vec<Done>, Vec<(&'static str, String)>) {
        let load = |_: &str| Ok(was.map(|w| w.as_bytes().to_vec()));
        let mut tables = Tables::new(lot, &load);
        let done = changes.iter().map(|c| tables.make(c)).collect();
        (done, tables.changed().collect())
    }

    #[test]
    fn a_cell_is_kept_changed_taken_out_and_never_written_over_what_the_page_did_not_see() {
        let lot = Lot::default();
        let (done, files) =
            make(None, &lot, &[cell(60.0, "25.8", ""), cell(60.0, "25.9", "25.8"), cell(20.0, "25.1", "")]);
        assert!(done.iter().all(|d| matches!(d, Done::Kept(_))), "{done:?}");
        let text =
            "tube,kind,z_mm,angle_deg,value,set,rig,span_mm\nA,diameter,60,90,25.9,,,\nA,diameter,20,90,25.1,,,\n";
        assert_eq!(files, [(TYPED_FILE, text.to_string())]);
        // by hand meanwhile, with other spellings of the same numbers
        let by_hand = text.replace("60,90,25.9", "60.0,90.00,26.4");
        let (done, files) = make(Some(&by_hand), &lot, &[cell(60.0, "25.7", "25.9")]);
        assert_eq!((done, files.len()), (vec![Done::Now("26.4".into())], 0));
        let (done, files) = make(Some(&by_hand), &lot, &[cell(60.0, "26.4", "25.9"), cell(20.0, "", "25.1")]);
        assert_eq!(done, [Done::Kept("26.4".into()), Done::Kept(String::new())]);
        assert!(!files[0].1.contains(",20,"), "{files:?}");
        let typed = typed_of(by_hand.as_bytes(), "A");
        assert_eq!((typed.len(), typed[0].0.z_mm, typed[0].1.as_str()), (2, 60.0, "26.4"));
    }

    #[test]
    fn a_first_list_names_the_tubes_that_are_known_already() {
        let known = Tube { name: "old".into(), length_mm: 150.0, length_is_guess: true, ..Tube::default() };
        let lot = Lot { tubes: vec![known], ..Lot::default() };
        let add = Change::Tube { tube: "new".into(), length_mm: 180.0, weight_g: Some(20.0) };
        let (done, files) = make(None, &lot, &[add.clone(), add]);
        assert_eq!(done[0], Done::Kept("new".into()));
        assert!(matches!(&done[1], Done::Refused(why) if why.contains("already")), "{done:?}");
        assert!(files[0].1.contains("old,150,") && files[0].1.contains("new,180,20,"), "{files:?}");
        let add = Change::Tube { tube: "T1".into(), length_mm: 180.0, weight_g: None };
        let (_, files) = make(Some("tube,length_in,weight_oz\nT1,,2\nT2,,\n"), &lot, &[add]);
        assert_eq!(files[0].1, "tube,length_in,weight_oz\nT1,7.086614,2\nT2,,\n");
    }

    #[test]
    fn what_became_of_a_tube_is_written_once_and_changed_in_its_place() {
        let lot = Lot::default();
        let mut fell = Fell {
            tube: "A".into(),
            aim_deg: Some(34.0),
            split_deg: Some(vec![31.0, 122.0, 214.0, 300.5]),
            of_piece: vec![Some(2), None],
            stretches: vec![
                (1, 12.0, 82.0, "yes".into()),
                (1, 84.0, 154.0, "rock".into()),
                (2, 12.0, 82.0, String::new()),
            ],
            ..Fell::default()
        };
        let (_, files) = make(None, &lot, &[Change::Fell(Box::new(fell.clone()))]);
        let text = files[0].1.clone();
        assert_eq!(text.lines().count(), 5, "{text}");
        assert!(text.contains("A,1,,,,,84,154,no,rock\n") && text.contains("A,,34,31 122 214 300.5,,,,,,\n"), "{text}");
        fell.stretches[1].3 = "yes".into();
        fell.stretches[0].3 = String::new();
        fell.of_piece[0] = Some(1);
        let (_, files) = make(Some(&text), &lot, &[Change::Fell(Box::new(fell))]);
        let again = &files[0].1;
        assert_eq!(again.lines().count(), 4, "{again}");
        assert!(again.contains("A,1,,,,1,,,,\n") && again.contains("A,1,,,,,84,154,yes,\n"), "{again}");
        // in a file of another manner
        let inches = "tube;aim;split (deg);back (in);blanks;from (in);to (in)\nB;12,5;;;;;\n";
        let fell = Fell {
            tube: "A".into(),
            split_deg: Some(vec![300.5]),
            back_mm: Some(vec![25.4, 19.05]),
            stretches: vec![(1, 12.7, 82.55, "yes".into())],
            ..Fell::default()
        };
        let (_, files) = make(Some(inches), &lot, &[Change::Fell(Box::new(fell))]);
        let rows = "\nA;;300,5;1 0,75;;;;;;\nA;;;;;0,5;3,25;1;yes;\n";
        assert!(files[0].1.ends_with(rows), "{}", files[0].1);
    }

    #[test]
    fn lines_and_backs_stay_in_the_rows_they_stand_in() {
        let lot = Lot::default();
        let was = "tube;piece;aim (deg);split (deg);back (mm);blanks;from (mm);to (mm);got;why\n\
                   G3;1;;;17,4;3;;;;\nG3;2;;;18,3;;;;;\nG3;2;;;;2;152,0;222,0;no;rocks\n";
        let of_piece = vec![Some(3), Some(2)];
        let fell = Fell { tube: "G3".into(), of_piece, ..Fell::default() };
        let (done, files) = make(Some(was), &lot, &[Change::Fell(Box::new(fell.clone()))]);
        assert_eq!((done.len(), files[0].1.as_str()), (1, was), "unchanged");
        let changed = Fell { back_mm: Some(vec![17.5, 18.3]), split_deg: Some(vec![31.0]), ..fell.clone() };
        let (_, files) = make(Some(was), &lot, &[Change::Fell(Box::new(changed))]);
        assert_eq!(files[0].1, was.replace("17,4", "17,5") + "G3;;;31;;;;;;\n");
        let none = Fell { back_mm: Some(Vec::new()), ..fell };
        let (_, files) = make(Some(was), &lot, &[Change::Fell(Box::new(none))]);
        assert_eq!(files[0].1, was.replace("17,4", "").replace("18,3", ""));
    }
}
