//! `new`: a folder to start from.

use super::args::{NewArgs, UnitsArg};
use super::diagnostics::Failure;
use super::replace::{place_of, write_file};
use super::sink;
use quarterlight::domain::units::LengthUnit;
use quarterlight::domain::{Effort, NewLot, Routine, Tool};
use quarterlight::output::new_lot::{next_lines, routine_lines, sheet_pages, strip_pages};
use quarterlight::paper::scene::Scene;
use quarterlight::paper::{pdf, scale_card};
use quarterlight::readings::{form_files, form_workbook};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The workbook's name in the folder.
const WORKBOOK: &str = "lot.xlsx";
/// Room that a bar needs beside its feet, mm.
const BESIDE_FEET_MM: f64 = 10.0;

/// Makes the folder; nothing is written when any of its files is there already.
pub fn run(args: &NewArgs) -> Result<ExitCode, Failure> {
    let lot = new_lot(args)?;
    let files = files(args, &lot)?;
    let rest = to_write(&args.folder, &files)?;
    write(&args.folder, &rest)?;
    let mut said = format!("{}\nWritten into {}:\n", routine_lines(&lot), args.folder.display());
    for (name, _) in &files {
        said.push_str(&format!("  {name}\n"));
    }
    let folder = args.folder.display().to_string();
    let whole = if args.workbook { args.folder.join(WORKBOOK).display().to_string() } else { folder.clone() };
    said.push_str(&format!("\n{}", next_lines(&folder, &whole, args.workbook)));
    sink::print(&said)?;
    Ok(ExitCode::SUCCESS)
}

fn new_lot(args: &NewArgs) -> Result<NewLot, Failure> {
    let tools: &[Tool] = if args.with.is_empty() { &Tool::USUAL } else { &args.with };
    let effort = match (args.quick, args.thorough) {
        (true, _) => Effort::Quick,
        (_, true) => Effort::Thorough,
        _ => Effort::Usual,
    };
    if tools.contains(&Tool::Bridge) && args.span_mm + BESIDE_FEET_MM > args.length_mm {
        return Err(Failure::Choice {
            what: format!("a bar of {} mm does not stand on a tube of {} mm", args.span_mm, args.length_mm),
            fix: "give --length of your tubes, or --span of your bar".into(),
        });
    }
    Ok(NewLot {
        name: name_of(&args.folder),
        tubes: NewLot::numbered(args.tubes.map_or(0, usize::from)),
        target: args.instrument.clone().unwrap_or_default(),
        routine: Routine::of(effort, tools),
        length_mm: args.length_mm,
        span_mm: args.span_mm,
        unit: match args.units {
            UnitsArg::Mm => LengthUnit::Millimetre,
            UnitsArg::In => LengthUnit::Inch,
        },
    })
}

/// The folder's own name, without what a name cannot hold.
pub fn name_of(folder: &Path) -> String {
    let own = folder.file_name().map(|n| n.to_string_lossy().into_owned());
    let name = own.or_else(|| folder.canonicalize().ok()?.file_name().map(|n| n.to_string_lossy().into_owned()));
    let name: String = name.unwrap_or_default().chars().filter(|c| !c.is_control()).take(100).collect();
    if name.trim().is_empty() { "lot".into() } else { name }
}

fn files(args: &NewArgs, lot: &NewLot) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let forms = |source| Failure::Forms { source };
    let mut files: Vec<(String, Vec<u8>)> = if args.workbook {
        vec![(WORKBOOK.to_string(), form_workbook(lot).map_err(forms)?)]
    } else {
        form_files(lot).map_err(forms)?.into_iter().map(|(name, text)| (name, text.into_bytes())).collect()
    };
    let paper = args.paper.paper();
    let pdf = |pages: &[Scene], title: &str| pdf::write(pages, title).map_err(|source| Failure::Draw { source });
    files.push(("measuring-sheet.pdf".into(), pdf(&sheet_pages(lot, paper), "Measuring sheet")?));
    let diameter = args.diameter_mm.unwrap_or(lot.target.arc_diameter_mm);
    let strips = strip_pages(lot, paper, diameter).map_err(|why| Failure::Choice {
        what: why.to_string(),
        fix: "give --diameter of your tubes, such as 25.4 or \"1 in\"".into(),
    })?;
    files.push(("angle-strips.pdf".into(), pdf(&strips, "Angle strips")?));
    files.push(("scale-card.pdf".into(), pdf(&[scale_card::sheet(paper)], "Scale card at true size")?));
    Ok(files)
}

/// The files that are not there yet. All that are in the way are told in one error; upper and lower case are one, as for
/// whoever reads the lot. A file that is there to the byte is no hindrance while another is missing: an earlier run was
/// stopped, and this one goes on.
fn to_write(folder: &Path, files: &[(String, Vec<u8>)]) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    if folder.exists() && !folder.is_dir() {
        let source = io::Error::new(ErrorKind::NotADirectory, "it is a file, not a folder");
        return Err(Failure::Write { path: folder.display().to_string(), source });
    }
    let there: Vec<String> = std::fs::read_dir(folder)
        .map(|d| d.filter_map(Result::ok).map(|e| e.file_name().to_string_lossy().into_owned()).collect())
        .unwrap_or_default();
    let (mut rest, mut in_the_way) = (Vec::new(), Vec::new());
    for file in files {
        let (name, bytes) = file;
        match there.iter().find(|t| t.eq_ignore_ascii_case(name)) {
            Some(old) => {
                let path = folder.join(old);
                let alike = old == name && std::fs::read(&path).is_ok_and(|b| b == *bytes);
                in_the_way.push((path.display().to_string(), alike));
            }
            None => {
                place_of(&folder.join(name), false)?;
                rest.push(file.clone());
            }
        }
    }
    if !rest.is_empty() {
        in_the_way.retain(|(_, alike)| !alike);
    }
    let in_the_way: Vec<String> = in_the_way.into_iter().map(|(path, _)| path).collect();
    if in_the_way.is_empty() { Ok(rest) } else { Err(Failure::LotThere { paths: in_the_way }) }
}

/// Writes all of them, or takes away again what it wrote.
pub fn write(folder: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Failure> {
    let is_new = !folder.exists();
    std::fs::create_dir_all(folder).map_err(|source| Failure::Write { path: folder.display().to_string(), source })?;
    let mut done: Vec<PathBuf> = Vec::new();
    for (name, bytes) in files {
        let path = folder.join(name);
        if let Err(e) = write_file(&path, bytes, false) {
            for made in done {
                let _ = std::fs::remove_file(made);
            }
            if is_new {
                let _ = std::fs::remove_dir(folder);
            }
            return Err(e);
        }
        done.push(path);
    }
    Ok(())
}
