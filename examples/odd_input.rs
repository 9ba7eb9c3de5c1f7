//! Odd input for every parser, counted: `cargo run --release --example odd_input [PER_MILLE] [SEED]`.
//!
//! Valid texts and files with bytes replaced, taken out, doubled, spliced and cut short, and texts put together from the
//! words and marks that files hold. 1000 per mille is ten million inputs in all. For every parser it prints how many it took, how
//! many were understood, the longest that one of them took, and how many ended the parser, which must be none; at the end the
//! largest memory of the whole run. The same seed makes the same inputs.

use quarterlight::Assessed;
use quarterlight::domain::units::{AngleUnit, DecimalMark, LengthUnit, WeightUnit};
use quarterlight::domain::units::{parse_angle, parse_header, parse_length, parse_number, parse_weight};
use quarterlight::picture::decode;
use quarterlight::readings::{LotRead, read_lot, read_lot_files};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

const WORDS: [&str; 48] = [
    "tube",
    "A1",
    "kind",
    "radius",
    "diameter",
    "gap",
    "outline",
    "z",
    "angle",
    "value",
    "_mm",
    " in",
    "\"",
    "'",
    ",",
    ";",
    "\t",
    "\n",
    "\r\n",
    "#",
    "25.4",
    "1/64",
    "1 3/8",
    "-",
    "+",
    "1e9",
    "1e-300",
    "NaN",
    "inf",
    "°",
    "deg",
    "12,5",
    "1.000,5",
    "=",
    "[rig.x]\n",
    "[target]\n",
    "pieces",
    "{",
    "}",
    "'''",
    "\u{feff}",
    "é",
    "\0",
    "\u{202e}",
    "０",
    " ",
    "set",
    "oz",
];

struct Maker {
    rng: ChaCha8Rng,
}

impl Maker {
    fn below(&mut self, n: usize) -> usize {
        self.rng.random_range(0..n.max(1))
    }

    /// A valid input with one to eight changes, or, one time in five, words by chance.
    fn bytes(&mut self, valid: &[u8]) -> Vec<u8> {
        if self.below(5) == 0 {
            return (0..self.below(40)).flat_map(|_| WORDS[self.below(WORDS.len())].bytes()).collect();
        }
        let mut out = valid.to_vec();
        for _ in 0..=self.below(8) {
            let at = self.below(out.len());
            match self.below(7) {
                0 | 1 if !out.is_empty() => out[at] = u8::try_from(self.below(256)).unwrap_or(0),
                2 if !out.is_empty() => drop(out.remove(at)),
                3 if !out.is_empty() => out.insert(at, out[at]),
                4 => {
                    let word = WORDS[self.below(WORDS.len())];
                    out.splice(at..at, word.bytes());
                }
                5 => {
                    let piece = out[at..(at + self.below(40)).min(out.len())].to_vec();
                    let to = self.below(out.len());
                    out.splice(to..to, piece);
                }
                _ if self.below(4) == 0 => out.truncate(at),
                _ => {}
            }
        }
        out
    }
}

type Take<'a> = Box<dyn Fn(&[u8]) -> bool + 'a>;

struct Parser<'a> {
    name: &'a str,
    inputs: u64,
    valid: Vec<Vec<u8>>,
    /// true when it was understood
    take: Take<'a>,
}

fn main() {
    let mut args = std::env::args().skip(1);
    let per_mille: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(10);
    let seed: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(1);
    std::panic::set_hook(Box::new(|_| ()));
    let folder = tempfile::tempdir().expect("a folder");
    let (mut all, mut ended) = (0, 0);
    for parser in parsers(folder.path()) {
        let mut maker = Maker { rng: ChaCha8Rng::seed_from_u64(seed) };
        let mut longest = Duration::ZERO;
        let (mut understood, mut died) = (0, 0);
        let inputs = (per_mille * parser.inputs / 1000).max(10);
        for _ in 0..inputs {
            let valid = &parser.valid[maker.below(parser.valid.len())];
            let bytes = maker.bytes(valid);
            let start = Instant::now();
            match catch_unwind(AssertUnwindSafe(|| (parser.take)(&bytes))) {
                Ok(yes) => understood += u64::from(yes),
                Err(_) => {
                    died += 1;
                    println!("{} ended on {:?}", parser.name, String::from_utf8_lossy(&bytes));
                }
            }
            longest = longest.max(start.elapsed());
        }
        println!(
            "{:<18} {inputs:>9} taken, {understood:>9} understood, longest {:>8.2} ms, {died} ended it",
            parser.name,
            longest.as_secs_f64() * 1e3
        );
        (all, ended) = (all + inputs, ended + died);
    }
    let peak = std::fs::read_to_string("/proc/self/status").ok();
    let peak = peak.and_then(|s| s.lines().find(|l| l.starts_with("VmHWM")).map(str::to_string));
    println!("{all} inputs, {ended} ended a parser; {}", peak.as_deref().unwrap_or("memory not told by this system"));
    assert_eq!(ended, 0);
}

fn parsers(folder: &std::path::Path) -> Vec<Parser<'_>> {
    let texts = |list: &[&str]| list.iter().map(|t| t.as_bytes().to_vec()).collect::<Vec<_>>();
    let utf8 = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let amounts =
        texts(&["25.4", "2 5/8 in", "1' 3 1/2\"", "12,5 mm", "1.234,5", "45°", "3 lb 4 oz", "1/4 turn", "22.5 deg"]);
    let marks = [DecimalMark::Point, DecimalMark::Comma];
    let table =
        |name: &'static str| move |bytes: &[u8]| read_lot_files("trial", &with(name, bytes)).is_ok_and(|r| sound(&r));
    let sample =
        |path: &str| std::fs::read(path).unwrap_or_else(|e| panic!("{path}: {e}; run it in the project's folder"));
    let record = {
        let lot = quarterlight::assess(
            "data-samples/grid".as_ref(),
            &quarterlight::Options { tubes: vec!["G1".into()], ..quarterlight::Options::default() },
            &|_| (),
        );
        lot.expect("a sample").to_json().into_bytes()
    };
    let workbook = |name: &'static str| {
        let path = folder.join(name);
        move |bytes: &[u8]| {
            std::fs::write(&path, bytes).expect("written");
            read_lot(&path).is_ok_and(|r| sound(&r))
        }
    };
    vec![
        Parser {
            name: "lengths",
            inputs: 2_400_000,
            valid: amounts.clone(),
            take: Box::new(move |b| {
                marks.iter().any(|m| parse_length(&utf8(b), LengthUnit::Inch, *m).is_ok_and(finite))
            }),
        },
        Parser {
            name: "weights",
            inputs: 1_800_000,
            valid: amounts.clone(),
            take: Box::new(move |b| {
                marks.iter().any(|m| parse_weight(&utf8(b), WeightUnit::Gram, *m).is_ok_and(finite))
            }),
        },
        Parser {
            name: "angles",
            inputs: 1_800_000,
            valid: amounts.clone(),
            take: Box::new(move |b| {
                marks.iter().any(|m| parse_angle(&utf8(b), AngleUnit::Degree, *m).is_ok_and(|a| finite(a.degrees())))
            }),
        },
        Parser {
            name: "numbers",
            inputs: 1_500_000,
            valid: amounts,
            take: Box::new(move |b| marks.iter().any(|m| parse_number(&utf8(b), &["%"], *m).is_ok_and(finite))),
        },
        Parser {
            name: "headers",
            inputs: 1_500_000,
            valid: texts(&["value_mm", "z (in)", "blank length [mm]", "angle_deg", "20mm"]),
            take: Box::new(move |b| parse_header(&utf8(b)).unit.is_some()),
        },
        Parser {
            name: "lot.toml",
            inputs: 150_000,
            valid: vec![TOML.as_bytes().to_vec()],
            take: Box::new(table("lot.toml")),
        },
        Parser { name: "tubes.csv", inputs: 150_000, valid: texts(&[TUBES]), take: Box::new(table("tubes.csv")) },
        Parser {
            name: "readings.csv",
            inputs: 250_000,
            valid: texts(&[LONG, GRID, LINE]),
            take: Box::new(table("readings.csv")),
        },
        Parser { name: "marks.csv", inputs: 100_000, valid: texts(&[MARKS]), take: Box::new(table("marks.csv")) },
        Parser { name: "cuts.csv", inputs: 100_000, valid: texts(&[CUTS]), take: Box::new(table("cuts.csv")) },
        Parser { name: "scans/A1.ply", inputs: 100_000, valid: texts(&[PLY]), take: Box::new(table("scans/A1.ply")) },
        Parser {
            name: "scans/A1.csv",
            inputs: 60_000,
            valid: texts(&["x,y,z\n12.7,0,1\n0,12.7,2\n-12.7,0,3\n"]),
            take: Box::new(table("scans/A1.csv")),
        },
        Parser {
            name: "record",
            inputs: 20_000,
            valid: vec![record],
            take: Box::new(move |b| Assessed::from_json(&utf8(b)).is_ok()),
        },
        Parser {
            name: "a.xlsx",
            inputs: 20_000,
            valid: vec![sample("tests/fixtures/small_lot.xlsx")],
            take: Box::new(workbook("a.xlsx")),
        },
        Parser {
            name: "a.ods",
            inputs: 20_000,
            valid: vec![sample("tests/fixtures/small_lot.ods")],
            take: Box::new(workbook("a.ods")),
        },
        Parser {
            name: "pictures",
            inputs: 30_000,
            valid: small_pictures().to_vec(),
            take: Box::new(|b| decode(Cursor::new(b)).is_ok()),
        },
    ]
}

/// A picture of 128 by 128 as PNG, JPEG and TIFF. The sums of a PNG guard it against nearly every change.
fn small_pictures() -> [Vec<u8>; 3] {
    let grey: Vec<u8> = (0..=255_u8).cycle().take(128 * 128).collect();
    let [mut png, mut jpeg, mut tiff] = [Vec::new(), Vec::new(), Vec::new()];
    let mut encoder = png::Encoder::new(&mut png, 128, 128);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.write_header().and_then(|mut w| w.write_image_data(&grey)).expect("a picture");
    jpeg_encoder::Encoder::new(&mut jpeg, 80)
        .encode(&grey, 128, 128, jpeg_encoder::ColorType::Luma)
        .expect("a picture");
    let mut encoder = tiff::encoder::TiffEncoder::new(Cursor::new(&mut tiff)).expect("a file");
    encoder.write_image::<tiff::encoder::colortype::Gray8>(128, 128, &grey).expect("a picture");
    [png, jpeg, tiff]
}

fn finite(x: f64) -> bool {
    assert!(x.is_finite(), "understood as {x}");
    true
}

/// A usual lot with one of its files in place of the usual one.
fn with<'a>(name: &'a str, bytes: &'a [u8]) -> Vec<(&'a str, &'a [u8])> {
    let mut files: Vec<(&str, &[u8])> = vec![("tubes.csv", TUBES.as_bytes()), ("readings.csv", LONG.as_bytes())];
    files.retain(|f| f.0 != name);
    files.push((name, bytes));
    files
}

/// True without errors; what was read must hold together.
fn sound(read: &LotRead) -> bool {
    for t in read.lot.tubes.iter().filter(|t| !t.in_doubt) {
        assert!(t.length_mm.is_finite() && t.length_mm >= 0.0, "{t:?}");
        for r in &t.readings {
            assert!(r.z_mm.is_finite() && r.value_mm.is_finite() && (0.0..=t.length_mm).contains(&r.z_mm), "{r:?}");
        }
    }
    !read.has_errors()
}

const TUBES: &str = "tube,length_mm,weight_g,note\nA1,200,30,x\nA2,180 mm,1 oz,\n";
const LONG: &str = "tube,kind,z_mm,angle_deg,value_mm,set,rig\nA1,radius,10,0,12.7,,\nA1,diameter,20,45,25.4,,cal\nA2,gap,90,10,0.3,a,\n";
const GRID: &str =
    "tube;kind;z;0deg;90deg;note\nA1;diameter;10;25,4;\"25,1\";\"x\ny\"\n#A2;runout;1;2;3;4\nA2;runout;20;0,1;-0,12;\n";
const LINE: &str = "tube,kind,angle,20mm,30mm,40mm\nA1,radius,0,12.7,12.8,12.7\nA1,radius,90,12.6,12.7,12.6\n";
const MARKS: &str = "tube,from_mm,to_mm,angle_from,angle_to,why\nA1,0,20,300,30,worm\nA2,10,12,,,crack\n";
const CUTS: &str = "tube,angle,blanks,why\nA1,12.5,4,\nA2,300,2,rock\n";
const TOML: &str = "[lot]\nname = \"x\"\nbought_weight = \"5 lb\"\n[target]\npieces = 4\nblank_length = 70.0\n[rig.dial]\nsd = 0.02\n[population]\nlobe2_rough = 0.02\n";
const PLY: &str = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nend_header\n12 0 1\n0 12 2\n-12 0 3\n";
