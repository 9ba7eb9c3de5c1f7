//! Writes the two lots of the README's walk anew: five invented tubes as first read, `data-samples/five`, and the same with what
//! `advise` asked for and what came of the split, `data-samples/five-cut`. Tubes, instruments and what the splits gave come from
//! the code that judges the tool (`src/known`); the tool itself is asked what to read and where to split, as its maker would be.
//!
//! Run from the crate's folder: `cargo run --release --example make_walk`. The same bytes come out every time.

use quarterlight::decide::packages::{Round, Way};
use quarterlight::decide::verdict::Verdict;
use quarterlight::known::evaluator::Rules;
use quarterlight::known::measuring::{Bench, Rig, Taken, Tool, half_round, round};
use quarterlight::known::plans::SPAN_MM;
use quarterlight::known::populations::Population;
use quarterlight::known::yields::Known;
use quarterlight::lot::{Options, Prepared};
use quarterlight::readings::{Form, Separator, TableWriter, WriteError};
use std::fmt::Display;
use std::io;
use std::path::Path;

/// Seed of the tubes and of what is read on them.
const SEED: u64 = 7;
const TUBES: u64 = 5;
const DIRECTIONS: u32 = 4;
const LINES: u32 = 8;

#[allow(dead_code, reason = "a test includes this file for `write_all` alone")]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    write_all(Path::new("data-samples"))
}

/// Writes both lots below `root`.
///
/// # Errors
/// When a file cannot be written, or the first lot cannot be planned.
pub fn write_all(root: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let tubes: Vec<Known> =
        (0..TUBES).map(|k| one(k).ok_or("a tube too short for a blank")).collect::<Result<_, _>>()?;
    let (first, cut) = (root.join("five"), root.join("five-cut"));
    as_first_read(&first, &tubes)?;
    as_first_read(&cut, &tubes)?;
    let advised = Prepared::read(&first, &[])?.advise(Options::default().plan, &[], None, None, &|_| ())?;
    let mut more = table(Form::Readings, "tube,kind,rig,z_mm,angle_deg,value_mm")?;
    for (outcome, known) in advised.tubes.iter().zip(&tubes) {
        let advice = outcome.advice.as_ref().map_err(|e| e.to_string())?;
        let mut bench = Bench::new(&known.tube, SEED + 1);
        for r in advice.next.iter().flat_map(|package| &package.rounds) {
            take(&mut bench, r);
        }
        for t in &bench.taken {
            let (kind, rig) = if t.tool == CALIPER { ("diameter", "caliper") } else { ("bridge", "bridge") };
            let cells = [&advice.tube as &dyn Display, &kind, &rig, &t.z_mm, &t.angle_deg, &format!("{:.2}", t.value)];
            row(&mut more, &cells)?;
        }
    }
    std::fs::write(cut.join("readings-advised.csv"), more.finish())?;
    std::fs::write(cut.join("cuts.csv"), cuts(&cut, &tubes)?)?;
    Ok(())
}

const CALIPER: Tool = Tool::Caliper(0.0);

/// Tube `k`; the saw's kerf and trims are as in any lot, walls are not read.
fn one(k: u64) -> Option<Known> {
    let mut tube = Population::Smooth.grow(SEED, k);
    tube.name = format!("T{:02}", k + 1);
    Known::of(tube, &Rules { wall_mm: 0.0, ..Rules::default() }, SEED, k)
}

/// The quick routine of a new lot, and nothing else.
fn as_first_read(folder: &Path, tubes: &[Known]) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let mut list = table(Form::Tubes, "tube,length_mm,weight_g")?;
    let mut widths = table(Form::ReadingsGrid, "tube,kind,rig,z_mm,0deg_mm,45deg_mm,90deg_mm,135deg_mm")?;
    let headers = "tube,kind,rig,z_mm,0deg_mm,45deg_mm,90deg_mm,135deg_mm,180deg_mm,225deg_mm,270deg_mm,315deg_mm";
    let mut bars = table(Form::ReadingsGrid, headers)?;
    let mut grams = 0.0;
    for known in tubes {
        let t = &known.tube;
        grams += t.weight_g;
        row(&mut list, &[&t.name, &format!("{:.1}", t.length_mm), &format!("{:.1}", t.weight_g)])?;
        let mut bench = Bench::new(t, SEED);
        let ends = [10.0, (t.length_mm - 10.0).round()];
        bench.take(CALIPER, &rig(CALIPER), &half_round(DIRECTIONS), &ends, "");
        let bar = Tool::Bridge(SPAN_MM);
        bench.take(bar, &rig(bar), &round(LINES), &[(t.length_mm / 2.0).round()], "");
        let (by_caliper, by_bar): (Vec<&Taken>, Vec<&Taken>) = bench.taken.iter().partition(|r| r.tool == CALIPER);
        let ring = |out: &mut TableWriter, word: &str, rig: &str, ring: &[&Taken]| {
            let values: Vec<String> = ring.iter().map(|r| format!("{:.2}", r.value)).collect();
            let mut cells: Vec<&dyn Display> = vec![&t.name, &word, &rig, &ring[0].z_mm];
            cells.extend(values.iter().map(|v| v as &dyn Display));
            row(out, &cells)
        };
        for four in by_caliper.chunks(DIRECTIONS as usize) {
            ring(&mut widths, "diameter", "caliper", four)?;
        }
        ring(&mut bars, "bridge", "bridge", &by_bar)?;
    }
    std::fs::write(folder.join("tubes.csv"), list.finish())?;
    std::fs::write(folder.join("readings-caliper.csv"), widths.finish())?;
    std::fs::write(folder.join("readings-bridge.csv"), bars.finish())?;
    let toml = format!(
        "# An invented scenario: no such delivery exists. Made by examples/make_walk.rs.\n\
         [lot]\nname = \"five\"\nbought_weight = \"{grams:.0} g\"\nprice = 11.5\ncurrency = \"EUR\"\n\n\
         [target]\ninstrument = \"clarinet\"\n\n[rig.caliper]\nresolution = 0.01\n\n\
         [rig.bridge]\nspan = {SPAN_MM}\nresolution = 0.01\n"
    );
    std::fs::write(folder.join("lot.toml"), toml)
}

/// Instruments that show hundredths, in a hand that is a degree off.
fn rig(tool: Tool) -> Rig {
    let sd = if tool == CALIPER { 0.05 } else { 0.02 };
    Rig { sd, step: 0.01, line_deg: 1.0, ..Rig::default() }
}

/// Reads what was asked for.
fn take(bench: &mut Bench<'_>, asked: &Round) {
    let tool = match (asked.way, asked.span_mm) {
        (Way::Caliper, _) => CALIPER,
        (Way::Bridge, Some(span)) => Tool::Bridge(span),
        _ => panic!("not at hand: {asked:?}"),
    };
    bench.take(tool, &rig(tool), &asked.angles_deg, &asked.places_mm, "");
}

/// What came of the tubes that are split: where the lines fell, and the blanks of every piece.
fn cuts(folder: &Path, tubes: &[Known]) -> Result<String, Box<dyn std::error::Error>> {
    let planned = quarterlight::assess(folder, &Options::default(), &|_| ())?;
    let mut out = table(Form::Cuts, "tube,piece,split_deg,blanks")?;
    for (outcome, known) in planned.outcomes.iter().zip(tubes) {
        let plan = outcome.plan.as_ref().map_err(|e| e.to_string())?;
        let Some(split) = plan.split.as_ref().filter(|_| plan.screen.verdict != Verdict::Leave) else { continue };
        let quarter = 360.0 / known.off.len() as f64;
        let line = |i: usize| (split.best.angle_deg + quarter * i as f64 + known.off[i]).rem_euclid(360.0);
        let lines: Vec<String> = (0..known.off.len()).map(|i| format!("{:.0}", line(i))).collect();
        row(&mut out, &[&known.tube.name, &"", &lines.join(" "), &""])?;
        for (i, blanks) in known.judged.runs_at(split.best.angle_deg, &known.off).into_iter().enumerate() {
            row(&mut out, &[&known.tube.name, &(i + 1), &"", &blanks])?;
        }
    }
    Ok(out.finish())
}

fn table(form: Form, headers: &str) -> io::Result<TableWriter> {
    TableWriter::new(form, &headers.split(',').collect::<Vec<_>>(), Separator::Comma).map_err(invalid)
}

fn row(table: &mut TableWriter, cells: &[&dyn Display]) -> io::Result<()> {
    table.row(&cells.iter().map(ToString::to_string).collect::<Vec<_>>()).map_err(invalid)
}

fn invalid(e: WriteError) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidInput, e)
}
