//! A lot of known truth as the files of a folder. The text is written here, by nothing that reads it.

use super::evaluator::{LINES, Rules};
use super::faults::{Fault, Often, Planted, Typed, deal};
use super::figures::{Figures, figures};
use super::form::Form;
use super::instruments::Foot;
use super::measuring::{Bench, Rig, Take, Taken, Tool};
use super::populations::Recipe;
use super::way::Way;
use super::yields::{Known, WANDER_DEG};
use rayon::prelude::*;
use serde::Serialize;
use std::fmt::Write as _;

/// Stations from which the figures of a tube are taken.
const STATIONS: usize = 41;
/// Half the width of a dial's flat foot, mm.
const FLAT_MM: f64 = 5.0;
/// The file of readings.
const READINGS: &str = "readings.csv";

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Order {
    /// The lot's name.
    pub name: String,
    /// The make.
    pub recipe: Recipe,
    /// Ways of measuring; tubes take them in turn. At least one.
    pub ways: Vec<Way>,
    /// Tubes.
    pub tubes: usize,
    /// Seed of tubes, readings and slips.
    pub seed: u64,
    /// What is off in every reading beside its noise.
    pub hand: Rig,
    /// Slips.
    pub faults: Vec<(Fault, Often)>,
}

/// Why no lot can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FolderError {
    /// A tube whose surface is none that cane has.
    #[error("tube {tube} cannot be: {why}")]
    NoTube {
        /// The tube.
        tube: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A slip has nothing to be made in.
    #[error("the slip '{fault}' cannot be made on so many tubes: there is no reading left that could have it")]
    NoSlip {
        /// The slip.
        fault: &'static str,
    },
    /// The truth cannot be written: a number that is none.
    #[error("truth.json cannot be written: {why}")]
    Unwritable {
        /// Why.
        why: String,
    },
}

/// What is true of a lot, as `truth.json` tells it.
#[derive(Debug, Serialize)]
pub struct Truth<'a> {
    says: &'static str,
    lot: &'a str,
    seed: u64,
    population: &'a Recipe,
    plans: Vec<&'a str>,
    rules: Rules,
    wander_deg: f64,
    grid: Grid,
    tubes: Vec<TubeTruth>,
    faults: usize,
}

/// How yields were counted.
#[derive(Debug, Serialize)]
struct Grid {
    says: &'static str,
    bark_lines: usize,
    stations_about_mm: f64,
    split_angles_every_deg: f64,
    wall: &'static str,
}

/// What is true of one tube.
#[derive(Debug, Serialize)]
struct TubeTruth {
    tube: String,
    plan: String,
    readings: usize,
    weight_g: f64,
    mean_wall_mm: f64,
    figures: Figures,
    blanks_best: f64,
    best_angle_deg: usize,
    blanks_arbitrary: f64,
    blanks_by_angle: Vec<f64>,
    station_step_mm: f64,
    split_lines_fall_off_deg: Vec<f64>,
    faults: Vec<FaultTruth>,
    surface: Form,
}

/// A slip by the lines of its file.
#[derive(Debug, Serialize)]
struct FaultTruth {
    fault: Fault,
    file: &'static str,
    lines: Vec<usize>,
    meant: Vec<Meant>,
}

/// What should have been written.
#[derive(Debug, Serialize)]
struct Meant {
    z_mm: f64,
    angle_deg: f64,
    value: f64,
}

struct One {
    known: Known,
    form: Form,
    way: usize,
    takes: Vec<Take>,
    taken: Vec<Taken>,
    planted: Vec<Planted>,
}

/// The names of the files of a folder.
pub const FILES: [&str; 5] = ["lot.toml", "tubes.csv", READINGS, "README.txt", "truth.json"];

/// A lot as files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// Name and text of each.
    pub files: Vec<(&'static str, String)>,
    /// How many slips are planted.
    pub slips: usize,
}

/// Rules of the lots: a wall is asked for only where walls are read, as the leading number of a plan has it.
#[must_use]
pub fn rules(ways: &[Way]) -> Rules {
    asking(&Rules::default(), ways)
}

fn asking(rules: &Rules, ways: &[Way]) -> Rules {
    Rules { wall_mm: if ways.iter().any(Way::reads_wall) { rules.thick_mm } else { 0.0 }, ..rules.clone() }
}

/// The files of a folder, name and text of each in the order of [`FILES`], and how many slips are planted in them. The same order
/// gives the same bytes.
///
/// # Errors
/// [`FolderError`]: a tube that cane cannot have, a slip that nothing can have.
pub fn files(order: &Order) -> Result<Made, FolderError> {
    let rules = order.recipe.rules.as_ref().map_or_else(|| rules(&order.ways), |own| asking(own, &order.ways));
    // all of them before the first is judged, which takes long
    for k in 0..order.tubes {
        let form = order.recipe.form(order.seed, k as u64);
        form.possible().map_err(|why| FolderError::NoTube { tube: form.name.clone(), why })?;
    }
    let mut all: Vec<One> =
        (0..order.tubes).into_par_iter().map(|k| one(order, &rules, k)).collect::<Result<_, _>>()?;
    let mut typed: Vec<Typed<'_>> = all
        .iter_mut()
        .map(|o| Typed { name: &o.form.name, takes: &o.takes, taken: &mut o.taken, planted: &mut o.planted })
        .collect();
    deal(&order.faults, &mut typed, order.seed)
        .map_err(|fault| FolderError::NoSlip { fault: Fault::ALL.iter().find(|f| f.1 == fault).map_or("", |f| f.0) })?;
    let rigs = rigs(&all);
    let (readings, first_lines) = readings(&all, &rigs);
    let slips = all.iter().map(|o| o.planted.len()).sum();
    let files = vec![
        ("lot.toml", lot_toml(order, &rules, &rigs)),
        ("tubes.csv", tubes(&all)),
        (READINGS, readings),
        ("README.txt", readme(order)),
        ("truth.json", truth(order, rules, all, &first_lines)?),
    ];
    Ok(Made { files, slips })
}

fn one(order: &Order, rules: &Rules, k: usize) -> Result<One, FolderError> {
    let form = order.recipe.form(order.seed, k as u64);
    let way = k % order.ways.len();
    let tube = form.clone().tube();
    let takes: Vec<Take> = order.ways[way]
        .takes(tube.length_mm, &order.hand)
        .into_iter()
        .map(|t| Take { tool: footed(t.tool), ..t })
        .collect();
    let mut bench = Bench::new(&tube, order.seed);
    takes.iter().for_each(|t| t.by(&mut bench));
    let taken = bench.taken;
    let known = Known::of(tube, rules, order.seed, k as u64)
        .ok_or_else(|| FolderError::NoTube { tube: form.name.clone(), why: "it is too short for a blank" })?;
    Ok(One { known, form, way, takes, taken, planted: Vec::new() })
}

/// A dial of a written lot stands on a real foot, a flat, which its rig states.
fn footed(tool: Tool) -> Tool {
    match tool {
        Tool::Dial(Foot::Height) => Tool::Dial(Foot::Flat(FLAT_MM)),
        Tool::Axis(Foot::Height) => Tool::Axis(Foot::Flat(FLAT_MM)),
        other => other,
    }
}

/// Every instrument of the lot once, by name.
fn rigs(all: &[One]) -> Vec<(String, Take)> {
    let mut out: Vec<(String, Take)> = Vec::new();
    for take in all.iter().flat_map(|o| &o.takes) {
        if out.iter().any(|(_, t)| same_rig(t, take)) {
            continue;
        }
        let word = take.tool.words().1;
        let many = out.iter().filter(|(_, t)| t.tool.words().1 == word).count();
        out.push((if many == 0 { word.to_string() } else { format!("{word}{}", many + 1) }, take.clone()));
    }
    out
}

fn same_rig(a: &Take, b: &Take) -> bool {
    a.tool == b.tool && a.rig == b.rig
}

/// Four decimals, without noughts behind them.
fn number(x: f64) -> String {
    let text = format!("{x:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.to_string() }
}

fn tubes(all: &[One]) -> String {
    let mut out = String::from("tube,length_mm,weight_g\n");
    for o in all {
        let _ = writeln!(out, "{},{},{}", o.form.name, number(o.form.length_mm), number(o.known.tube.weight_g));
    }
    out
}

/// The readings, and the line of the first one of every tube.
fn readings(all: &[One], rigs: &[(String, Take)]) -> (String, Vec<usize>) {
    let gauges = all.iter().flat_map(|o| &o.taken).any(|t| matches!(t.tool, Tool::Arc(_)));
    let mut out = String::from("tube,kind,z_mm,angle_deg,value,set,rig");
    out.push_str(if gauges { ",width_mm\n" } else { "\n" });
    let (mut line, mut first) = (2, Vec::new());
    for o in all {
        first.push(line);
        line += o.taken.len();
        let names = o.takes.iter().flat_map(|t| {
            let name = rigs.iter().find(|(_, r)| same_rig(r, t)).map_or("", |r| r.0.as_str());
            std::iter::repeat_n(name, t.angles_deg.len() * t.places_mm.len())
        });
        for (t, rig) in o.taken.iter().zip(names) {
            let (z, angle, value) = (number(t.z_mm), number(t.angle_deg), number(t.value));
            let _ = write!(out, "{},{},{z},{angle},{value},{},{rig}", o.form.name, t.tool.words().0, t.set);
            if let Tool::Arc(width) = t.tool {
                let _ = write!(out, ",{}", number(width));
            }
            out.push('\n');
        }
    }
    (out, first)
}

fn lot_toml(order: &Order, rules: &Rules, rigs: &[(String, Take)]) -> String {
    let mut out = format!(
        "# Invented: tubes, readings and yields of this lot were made by chance. No cane was measured.\n\
         [lot]\nname = \"{} (invented)\"\n",
        order.name.replace(['"', '\\'], "'")
    );
    let _ = writeln!(
        out,
        "\n[target]{}\npieces = {}\nblank_length = {:?}\nblank_width = {:?}\nblank_thickness = {:?}\narc_diameter = {:?}\n\
         arc_tolerance = {:?}\nhollow = {:?}\nrock = {:?}\nskew = {:?}\ngrain_drift = {:?}\nedge_margin = {:?}\nclean_up = 0.0",
        order.recipe.instrument.as_ref().map_or(String::new(), |name| format!("\ninstrument = \"{name}\"")),
        rules.pieces,
        rules.blank_mm[0],
        rules.blank_mm[1],
        rules.thick_mm,
        rules.arc_mm[0],
        rules.arc_mm[1],
        rules.hollow_mm,
        rules.rock_mm,
        rules.skew_mm,
        rules.drift_mm,
        rules.margin_mm
    );
    let _ = writeln!(out, "\n[saw]\nkerf = {:?}\ntrim = {:?}", rules.kerf_mm, rules.trim_mm);
    let _ = writeln!(out, "\n[split]\nwander_deg = {WANDER_DEG:?}");
    for (name, take) in rigs {
        let _ = writeln!(out, "\n[rig.{name}]");
        let Take { tool, rig, .. } = take;
        if rig.step > 0.0 {
            let _ = writeln!(out, "resolution = {}", number(rig.step));
        }
        // a fibre's noise is an angle, which no rig states
        if rig.sd >= 1e-4 && *tool != Tool::Fibre {
            let _ = writeln!(out, "sd = {}", number(rig.sd));
        }
        match tool {
            Tool::Dial(_) | Tool::Axis(_) => out.push_str("foot = \"flat\"\n"),
            Tool::Vee(v) => drop(writeln!(out, "vee_deg = {}", number(*v))),
            Tool::Bridge(span) => drop(writeln!(out, "span = {}", number(*span))),
            _ => {}
        }
    }
    out
}

fn readme(order: &Order) -> String {
    let ways: Vec<&str> = order.ways.iter().map(|w| w.name.as_str()).collect();
    format!(
        "This lot is invented. {} of the make '{}', seed {}, were grown by chance and read by plain\n\
         instruments in the ways: {}.\n\
         truth.json says what is true of every tube: its surface, its figures, the blanks it gives at every\n\
         split angle by brute force, and the slips that were planted in readings.csv, by line.\n",
        if order.tubes == 1 { "1 tube".to_string() } else { format!("{} tubes", order.tubes) },
        order.recipe.name,
        order.seed,
        ways.join(", ")
    )
}

fn truth(order: &Order, rules: Rules, all: Vec<One>, first: &[usize]) -> Result<String, FolderError> {
    let walls = rules.wall_mm > 0.0;
    let tubes: Vec<TubeTruth> = all
        .into_par_iter()
        .zip(first)
        .map(|(o, &first)| {
            let One { known, form, way, taken, planted, .. } = o;
            let best = known.best();
            let at = known.by_angle.iter().position(|b| *b >= best).unwrap_or(0);
            let faults = planted
                .into_iter()
                .map(|p| FaultTruth {
                    fault: p.fault,
                    file: READINGS,
                    lines: p.at.iter().map(|i| first + i).collect(),
                    meant: p.meant.iter().map(|&[z_mm, angle_deg, value]| Meant { z_mm, angle_deg, value }).collect(),
                })
                .collect();
            TubeTruth {
                tube: form.name.clone(),
                plan: order.ways[way].name.clone(),
                readings: taken.len(),
                weight_g: known.tube.weight_g,
                mean_wall_mm: form.mean_wall_mm(),
                figures: figures(&known.tube, STATIONS),
                blanks_best: best,
                best_angle_deg: at,
                blanks_arbitrary: known.arbitrary(),
                station_step_mm: known.judged.step_mm,
                split_lines_fall_off_deg: known.off,
                blanks_by_angle: known.by_angle,
                faults,
                surface: form,
            }
        })
        .collect();
    let truth = Truth {
        says: "invented: grown by chance, read by plain instruments, counted by brute force; lengths in mm, angles in degrees \
               but for turn, direction and angle of the surface's parts, which are radians",
        lot: &order.name,
        seed: order.seed,
        population: &order.recipe,
        plans: order.ways.iter().map(|w| w.name.as_str()).collect(),
        rules,
        wander_deg: WANDER_DEG,
        grid: Grid {
            says: "every window on every bark line and station; blanks_by_angle[i] is what splitting at i degrees gives on average \
                   over where its lines fall",
            bark_lines: LINES,
            stations_about_mm: 1.0,
            split_angles_every_deg: 1.0,
            wall: if walls { "checked" } else { "not checked: no wall was read" },
        },
        faults: tubes.iter().map(|t| t.faults.len()).sum(),
        tubes,
    };
    let mut text = serde_json::to_string_pretty(&truth).map_err(|e| FolderError::Unwritable { why: e.to_string() })?;
    text.push('\n');
    Ok(text)
}
