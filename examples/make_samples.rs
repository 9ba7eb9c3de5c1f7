//! Writes the lots under data-samples/ anew: invented scenarios made by the simulator, faults included.
//!
//! Run from the crate's folder: `cargo run --release --example make_samples`. The same bytes come out every time.

use quarterlight::domain::{Angle, Kind, Reading, units::G_PER_OUNCE};
use quarterlight::numeric::draws;
use quarterlight::readings::{Form, Separator, TableWriter, WriteError};
use quarterlight::tube::simulate::{Stand, TrueTube};
use std::io;
use std::path::Path;

/// Seed of the invented lots.
const SEED: u64 = 20;

#[allow(dead_code, reason = "a test includes this file for `write_all` alone")]
fn main() -> io::Result<()> {
    write_all(Path::new("data-samples"))
}

/// Writes every lot below `root`.
///
/// # Errors
/// When a file cannot be written.
pub fn write_all(root: &Path) -> io::Result<()> {
    demo(&root.join("demo"))?;
    inches(&root.join("inches"))?;
    grid(&root.join("grid"))?;
    bars(&root.join("bars"))?;
    lone(&root.join("lone-readings.csv"))?;
    broken(&root.join("broken"))
}

/// Rounds as an instrument with this step shows it.
fn step(x: f64, by: f64) -> f64 {
    (x / by).round() * by
}

/// A table with these headers, which the readers would refuse if they were wrong.
fn table(form: Form, headers: &str, separator: Separator) -> io::Result<TableWriter> {
    let mark = if separator == Separator::Semicolon { ';' } else { ',' };
    TableWriter::new(form, &headers.split(mark).collect::<Vec<_>>(), separator).map_err(invalid)
}

fn put(table: &mut TableWriter, cells: &[&str]) -> io::Result<()> {
    table.row(cells).map_err(invalid)
}

fn invalid(e: WriteError) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidInput, e)
}

fn long(out: &mut TableWriter, tube: &str, r: &Reading, set: &str, rig: &str) -> io::Result<()> {
    let value = format!("{:.2}", step(r.value_mm, 0.01));
    let (z, deg) = (step(r.z_mm, 0.5).to_string(), format!("{:.0}", r.angle.degrees()));
    put(out, &[tube, r.kind.word(), &z, &deg, &value, set, rig])
}

/// The tubes of the demo: most read by dial and caliper, some otherwise, with honest faults.
fn demo(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let readings = || table(Form::Readings, "tube,kind,z_mm,angle_deg,value_mm,set,rig", Separator::Comma);
    let (mut dial, mut caliper) = (readings()?, readings()?);
    let mut tubes = table(Form::Tubes, "tube,length_mm,weight_g,note", Separator::Comma)?;
    let mut weight = 0.0;
    for k in 0..24_u64 {
        let mut stand = Stand::default();
        let note = match k {
            5 => {
                stand.bow_mm = 2.2;
                "visibly bent"
            }
            9 => {
                stand.wall_mm = (3.2, 0.02);
                "thin"
            }
            13 => {
                stand.length_mm = (92.0, 96.0);
                "offcut"
            }
            17 => {
                stand.ovality_mm = (2.0, 0.1);
                "flattened"
            }
            23 => "not measured yet",
            _ => "",
        };
        let truth = TrueTube::grow(&stand, SEED, k);
        let name = format!("T{:02}", k + 1);
        let mut rng = draws::stream(SEED, "demo readings", k);
        weight += truth.weight_g;
        let (length, grams) = (format!("{:.0}", truth.length_mm), format!("{:.1}", truth.weight_g));
        put(&mut tubes, &[&name, &length, &grams, note])?;
        if k == 23 {
            continue;
        }
        match k % 8 {
            // a caliper is all there was time for
            3 => {
                for r in truth.rings(Kind::Diameter, 8, 60.0, 0.05, &mut rng) {
                    if r.angle.degrees() < 180.0 - 1e-9 {
                        long(&mut caliper, &name, &r, "", "caliper")?;
                    }
                }
            }
            // between known centres
            6 => {
                for r in truth.rings(Kind::Radius, 12, 20.0, 0.02, &mut rng) {
                    long(&mut dial, &name, &r, "", "centres")?;
                }
            }
            // straightedge lifted on blocks and feeler on eight lines, and a caliper
            7 => {
                for r in truth.rings(Kind::Lifted, 8, 20.0, 0.03, &mut rng) {
                    long(&mut dial, &name, &r, "", "feeler")?;
                }
                for r in truth.rings(Kind::Diameter, 8, 60.0, 0.05, &mut rng) {
                    if r.angle.degrees() < 180.0 - 1e-9 {
                        long(&mut caliper, &name, &r, "", "caliper")?;
                    }
                }
            }
            _ => {
                for (i, mut r) in truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng).into_iter().enumerate() {
                    // two honest slips: a dial bumped while reading, and a wrong digit noted
                    if k == 1 && i == 40 {
                        r.value_mm += 0.31;
                    }
                    if k == 10 && i == 77 {
                        r.value_mm += 1.0;
                    }
                    long(&mut dial, &name, &r, "a", "dial")?;
                }
                for r in truth.rings(Kind::Diameter, 4, 1e6, 0.05, &mut rng) {
                    if r.angle.degrees() < 180.0 - 1e-9 {
                        long(&mut caliper, &name, &r, "", "caliper")?;
                    }
                }
            }
        }
        if k % 5 != 4 {
            for z in [3.0, truth.length_mm - 3.0] {
                for deg in [0.0, 90.0, 180.0, 270.0] {
                    let a = quarterlight::domain::Angle::from_degrees(deg);
                    let noise = 0.08 * draws::normals(&mut rng, 1)[0];
                    let mut r = truth.read(Kind::Wall, z, a, 0.0, noise);
                    r.z_mm = step(z, 0.5).min(truth.length_mm.round());
                    long(&mut caliper, &name, &r, "", "caliper")?;
                }
            }
        }
    }
    std::fs::write(folder.join("readings-dial.csv"), dial.finish())?;
    std::fs::write(folder.join("readings-caliper.csv"), caliper.finish())?;
    std::fs::write(folder.join("tubes.csv"), tubes.finish())?;
    let mut marks = table(Form::Marks, "tube,from_mm,to_mm,angle_from_deg,angle_to_deg,why", Separator::Comma)?;
    put(&mut marks, &["T03", "0", "22", "0", "360", "node"])?;
    put(&mut marks, &["T08", "120", "140", "200", "250", "wormhole"])?;
    put(&mut marks, &["T15", "60", "150", "340", "20", "crack"])?;
    put(&mut marks, &["T21", "30", "48", "90", "130", "wrinkle"])?;
    std::fs::write(folder.join("marks.csv"), marks.finish())?;
    let toml = format!(
        "# An invented scenario: no such delivery exists. Made by examples/make_samples.rs.\n\
         [lot]\n\
         name = \"demo\"\n\
         bought_weight = \"{:.0} g\"\n\
         price = 96.0\n\
         currency = \"EUR\"\n\
         humidity_percent = 48\n\n\
         [target]\n\
         instrument = \"clarinet\"\n\n\
         [saw]\n\
         kerf = 1.0\n\
         trim = 8.0\n\n\
         [split]\n\
         wander_deg = 3.0\n\n\
         [batch]\n\
         edge_life = 60\n\n\
         [rig.dial]\n\
         resolution = 0.01\n\
         sd = 0.02\n\n\
         [rig.centres]\n\
         resolution = 0.01\n\
         sd = 0.02\n\n\
         [rig.feeler]\n\
         sd = 0.03\n\n\
         [rig.caliper]\n\
         resolution = 0.01\n\
         sd = 0.05\n",
        weight
    );
    std::fs::write(folder.join("lot.toml"), toml)
}

/// Inches to the nearest thousandth, places in quarter inches, fractions as people write them.
fn inches(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let mut readings = table(Form::Readings, "tube,kind,z_in,angle,value_in,rig", Separator::Comma)?;
    let mut tubes = table(Form::Tubes, "tube,length,weight", Separator::Comma)?;
    for k in 0..4_u64 {
        let truth = TrueTube::grow(&Stand::default(), SEED, 100 + k);
        let mut rng = draws::stream(SEED, "inch readings", k);
        let name = ["Ash", "Birch", "Cedar", "Dogwood"][usize::try_from(k).unwrap_or(0)];
        // the maker measured the length to the nearest sixteenth
        let sixteenths = (truth.length_mm / 25.4 * 16.0).floor();
        let whole = (sixteenths / 16.0).floor();
        let rest = sixteenths - 16.0 * whole;
        let length = if rest > 0.0 { format!("{whole} {rest}/16 in") } else { format!("{whole} in") };
        put(&mut tubes, &[name, &length, &format!("{:.2} oz", truth.weight_g / G_PER_OUNCE)])?;
        let quarters = ((sixteenths / 4.0 - 1.0) / 3.0).floor();
        let mut q = 1.0;
        while q <= quarters * 3.0 {
            for i in 0..12 {
                let a = quarterlight::domain::Angle::from_degrees(30.0 * f64::from(i));
                let noise = 0.02 * draws::normals(&mut rng, 1)[0];
                let r = truth.read(Kind::Radius, q * 25.4 / 4.0, a, 0.0, noise);
                let z = if q % 4.0 == 0.0 {
                    format!("{}", q / 4.0)
                } else if q % 2.0 == 0.0 {
                    mixed(q / 2.0, 2.0)
                } else {
                    mixed(q, 4.0)
                };
                let (deg, inches) = (format!("{:.0}", a.degrees()), format!("{:.3}", r.value_mm / 25.4));
                put(&mut readings, &[name, "radius", &z, &deg, &inches, "centres"])?;
            }
            q += 3.0;
        }
    }
    std::fs::write(folder.join("readings.csv"), readings.finish())?;
    std::fs::write(folder.join("tubes.csv"), tubes.finish())?;
    std::fs::write(
        folder.join("lot.toml"),
        "# An invented scenario in inches, ounces and dollars. Made by examples/make_samples.rs.\n\
         [lot]\nname = \"inches\"\nunits = \"in\"\nbought_weight = \"1/4 lb\"\nprice = 12.5\ncurrency = \"USD\"\n\n\
         [target]\ninstrument = \"clarinet\"\nblank_length = \"2 3/4 in\"\narc_diameter = \"1 in\"\n\n\
         [saw]\nkerf = \"1/32 in\"\ntrim = \"5/16 in\"\n\n[rig.centres]\nresolution = \"0.001 in\"\nsd = 0.02\n",
    )
}

fn mixed(n: f64, d: f64) -> String {
    let whole = (n / d).floor();
    let rest = n - whole * d;
    if whole > 0.0 { format!("{whole}-{rest}/{d}") } else { format!("{rest}/{d}") }
}

/// Grid form with semicolons and decimal commas, as a spreadsheet of many countries writes it.
fn grid(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let comma = |x: f64| format!("{x:.2}").replace('.', ",");
    let headers = "tube;kind;z (mm);0deg;45deg;90deg;135deg;180deg;225deg;270deg;315deg";
    let mut readings = table(Form::ReadingsGrid, headers, Separator::Semicolon)?;
    let mut tubes = table(Form::Tubes, "tube;length (mm);weight (g);wall (mm)", Separator::Semicolon)?;
    for k in 0..3_u64 {
        let truth = TrueTube::grow(&Stand::default(), SEED, 200 + k);
        let mut rng = draws::stream(SEED, "grid readings", k);
        let name = format!("G{}", k + 1);
        put(&mut tubes, &[&name, &comma(truth.length_mm), &comma(truth.weight_g), &comma(3.8)])?;
        let mut row = |kind: Kind, ring: &[Reading]| {
            let mut cells = vec![name.clone(), kind.word().to_string(), comma(ring[0].z_mm)];
            cells.extend(ring.iter().map(|r| comma(r.value_mm)));
            readings.row(&cells).map_err(invalid)
        };
        for ring in truth.rings(Kind::Runout, 8, 15.0, 0.02, &mut rng).chunks(8) {
            row(Kind::Runout, ring)?;
        }
        for ring in truth.rings(Kind::Diameter, 8, 80.0, 0.05, &mut rng).chunks(8) {
            row(Kind::Diameter, &ring[..4])?;
        }
    }
    std::fs::write(folder.join("readings.csv"), readings.finish())?;
    std::fs::write(folder.join("tubes.csv"), tubes.finish())?;
    // what came of two of them, written down as makers do: one in a row, one piece by piece
    let headers = "tube;piece;split (deg);back (mm);blanks;from (mm);to (mm);got;why";
    let mut cuts = table(Form::Cuts, headers, Separator::Semicolon)?;
    put(&mut cuts, &["G1", "", "80 164 259 351", "", "5", "", "", "", ""])?;
    for (piece, back, blanks) in [("1", "17,4", "3"), ("2", "18,3", "2"), ("3", "17,9", "3"), ("4", "18,1", "2")] {
        put(&mut cuts, &["G3", piece, "", back, blanks, "", "", "", ""])?;
    }
    put(&mut cuts, &["G3", "2", "", "", "", "152,0", "222,0", "no", "rocks"])?;
    std::fs::write(folder.join("cuts.csv"), cuts.finish())?;
    let toml = "# An invented scenario. Made by examples/make_samples.rs.\n[lot]\nname = \"grid\"\n";
    std::fs::write(folder.join("lot.toml"), toml)
}

/// Three tubes read with a bar of 70 mm, written down line by line, and a caliper; of the third the bar was run along four
/// lines by a logger.
fn bars(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let headers = "tube,kind,angle,rig,40mm,60mm,80mm,100mm,120mm,140mm,160mm,180mm";
    let places: Vec<f64> = (0..8).map(|i| 40.0 + 20.0 * f64::from(i)).collect();
    let mut lines = table(Form::ReadingsLine, headers, Separator::Comma)?;
    let mut log = table(Form::ReadingsLog, "value_mm,tube,kind,angle,first_mm,step_mm,rig", Separator::Comma)?;
    let mut widths = table(Form::ReadingsGrid, "tube,kind,z_mm,0deg,45deg,90deg,135deg", Separator::Comma)?;
    let mut tubes = table(Form::Tubes, "tube,length_mm,weight_g", Separator::Comma)?;
    for k in 0..3_u64 {
        let truth = TrueTube::grow(&Stand { length_mm: (195.0, 235.0), ..Stand::default() }, SEED, 400 + k);
        let mut rng = draws::stream(SEED, "bar readings", k);
        let name = format!("S{}", k + 1);
        put(&mut tubes, &[&name, &format!("{:.1}", truth.length_mm), &format!("{:.1}", truth.weight_g)])?;
        let mut sag = |z: f64, deg: f64| {
            let noise = 0.02 * draws::normals(&mut rng, 1)[0];
            let value = truth.read(Kind::Bridge, z, Angle::from_degrees(deg), 0.0, noise).value_mm;
            // a bar so short of an end that a foot would hang over it is not laid
            (z + 35.0 <= truth.length_mm).then(|| format!("{:.2}", step(value, 0.01)))
        };
        if k < 2 {
            for deg in (0..8).map(|i| 45.0 * f64::from(i)) {
                let mut cells = vec![name.clone(), "bridge".into(), format!("{deg:.0}"), "bar".into()];
                cells.extend(places.iter().map(|&z| sag(z, deg).unwrap_or_default()));
                lines.row(&cells).map_err(invalid)?;
            }
        } else {
            for deg in [0.0, 90.0, 180.0, 270.0] {
                for (n, z) in (0..24).map(|i| 38.0 + 5.0 * f64::from(i)).enumerate() {
                    // one place the logger missed
                    let value = if deg > 80.0 && deg < 100.0 && n == 7 { None } else { sag(z, deg) };
                    let value = value.unwrap_or_else(|| "-".into());
                    let angle = format!("{deg:.0}");
                    let head = [value.as_str(), &name, "bridge", &angle, "38", "5", "bar"];
                    put(&mut log, if n == 0 { &head } else { &head[..1] })?;
                }
            }
        }
        let rings = truth.rings(Kind::Diameter, 8, 90.0, 0.05, &mut rng);
        for ring in rings.chunks(8) {
            let mut cells = vec![name.clone(), "diameter".into(), format!("{:.0}", ring[0].z_mm)];
            cells.extend(ring[..4].iter().map(|r| format!("{:.2}", r.value_mm)));
            widths.row(&cells).map_err(invalid)?;
        }
    }
    std::fs::write(folder.join("readings-bar.csv"), lines.finish())?;
    std::fs::write(folder.join("readings-log.csv"), log.finish())?;
    std::fs::write(folder.join("readings-caliper.csv"), widths.finish())?;
    std::fs::write(folder.join("tubes.csv"), tubes.finish())?;
    let toml = "# An invented scenario. Made by examples/make_samples.rs.\n[lot]\nname = \"bars\"\n\n\
                [rig.bar]\nspan = \"70 mm\"\nresolution = \"0.01 mm\"\n";
    std::fs::write(folder.join("lot.toml"), toml)
}

/// Twelve caliper readings of one tube and nothing else.
fn lone(path: &Path) -> io::Result<()> {
    let truth = TrueTube::grow(&Stand::default(), SEED, 300);
    let mut rng = draws::stream(SEED, "lone readings", 0);
    let mut out = table(Form::Readings, "tube,kind,z,angle,value", Separator::Comma)?;
    for r in truth.rings(Kind::Diameter, 8, 90.0, 0.05, &mut rng) {
        if r.angle.degrees() < 180.0 - 1e-9 {
            let cells = [r.z_mm, r.angle.degrees()].map(|x| format!("{x:.0}"));
            put(&mut out, &["A", r.kind.word(), &cells[0], &cells[1], &format!("{:.2}", r.value_mm)])?;
        }
    }
    std::fs::write(path, out.finish())
}

/// The grid lot with a handful of ordinary mistakes, to see how they are told.
fn broken(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let rows: &[&str] = &[
        "tube,kind,z,angle,value,set",
        "B1,diameter,10,0,25.41,",
        "B1,diametre,10,90,25.02,",
        "B1,diameter,ten,45,25.20,",
        "B2,diameter,10,0,25.30,",
        "B2,diameter,10,90,25.36,",
        "B2,diameter,90,0,25.32,",
        "B2,diameter,90,90,25.38,",
        "B3,diameter,10,0,1.001,",
        "B3,diameter,400,90,25.10,",
        ",diameter,10,90,25.10,",
    ];
    std::fs::write(folder.join("readings.csv"), rows.join("\n") + "\n")?;
    std::fs::write(folder.join("tubes.csv"), "tube,length,weight\nB1,180,24\nB2,181,25\nB3,176,23.5\nB3,176,23.5\n")?;
    let toml = "# An invented scenario with mistakes in it, to see how they are told. Made by examples/make_samples.rs.\n\
                [lot]\nname = \"broken\"\nprise = 12\n";
    std::fs::write(folder.join("lot.toml"), toml)
}
