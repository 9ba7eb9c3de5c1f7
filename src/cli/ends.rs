//! `ends`: readings of sawn ends from pictures of them.

use super::args::{EndsArgs, UnitsArg};
use super::diagnostics::Failure;
use super::folder::in_the_way;
use super::replace::{Beside, PART, write_file};
use super::sink::{print, say};
use quarterlight::domain::{Angle, Lot};
use quarterlight::lot::ends::{
    AskedError, EndName, Seen, name_ends, names, picture_stem, readings_table, spans_mm, stated_scale, tick,
};
use quarterlight::output::cautions;
use quarterlight::output::ends_picture::picture;
use quarterlight::output::ends_report as words;
use quarterlight::output::show::Units;
use quarterlight::output::text::wrapped;
use quarterlight::paper::scale_card::sheet;
use quarterlight::paper::{pdf, scene::DrawError};
use quarterlight::picture::{Found, Picture, PixelScale, ScaleFound, find_rings, find_scale, read_picture};
use quarterlight::readings::read_lot;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Whom the words are for.
const FACE: words::Face = words::Face::CommandLine;

/// What holds for every picture of a run.
struct Asked {
    spans: Option<[f64; 2]>,
    given: Option<PixelScale>,
    ticks: Vec<(usize, Angle)>,
}

/// How its results are told and written.
#[derive(Clone, Copy)]
struct How {
    units: Units,
    force: bool,
}

/// Writes the scale sheet, or reads every picture.
pub fn run(args: &EndsArgs) -> Result<ExitCode, Failure> {
    if let Some(path) = &args.scale_sheet {
        return scale_sheet(path, args);
    }
    let asked = asked(args)?;
    let lot = lot_of(args)?;
    let stems = stems(&args.images)?;
    if !args.tubes.is_empty() && args.tubes.len() != args.images.len() {
        return Err(Failure::Ends {
            what: format!("{} --tubes for {} pictures", args.tubes.len(), args.images.len()),
            fix: "give --tubes once for each picture, in their order".into(),
        });
    }
    if !asked.ticks.is_empty() && args.images.len() != 1 {
        let fix = "read that picture in a run of its own".to_string();
        return Err(Failure::Ends { what: "--tick with several pictures".into(), fix });
    }
    let mut all_well = true;
    for (i, (image, stem)) in args.images.iter().zip(&stems).enumerate() {
        all_well &= one(args, &asked, &lot, image, stem, args.tubes.get(i))?;
    }
    Ok(if all_well { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn scale_sheet(path: &Path, args: &EndsArgs) -> Result<ExitCode, Failure> {
    let draw = |source| Failure::Draw { source };
    let bytes = pdf::write(&[sheet(args.paper.paper())], "Scale card at true size").map_err(draw)?;
    write_file(path, &bytes, args.force)?;
    print(&wrapped(&format!(
        "{}: print it at 100 %, cut the card out and measure its two lines (--card)",
        path.display()
    )))?;
    Ok(ExitCode::SUCCESS)
}

fn asked(args: &EndsArgs) -> Result<Asked, Failure> {
    let spans = args.card.as_deref().map(spans_mm).transpose().map_err(typed("--card"))?;
    let given = args.dpi.as_deref().map(stated_scale).transpose().map_err(typed("--dpi"))?;
    let ticks = args.ticks.iter().map(|t| tick(t)).collect::<Result<_, _>>().map_err(typed("--tick"))?;
    Ok(Asked { spans, given, ticks })
}

fn typed(option: &'static str) -> impl Fn(AskedError) -> Failure {
    move |e| Failure::Ends { what: format!("{option}: found '{}'", e.found), fix: format!("expected {}", e.expected) }
}

/// The lot's folder and what is in it.
fn lot_of(args: &EndsArgs) -> Result<Lot, Failure> {
    let folder = args.lot.as_deref().unwrap_or(Path::new("."));
    if !folder.is_dir() {
        let what = format!("{} is no folder", folder.display());
        return Err(Failure::Ends { what, fix: "readings are written into a lot's folder: give it with --lot".into() });
    }
    Ok(read_lot(folder)?.lot)
}

/// What the files of each picture are called after: its own name, in letters every system takes.
fn stems(images: &[PathBuf]) -> Result<Vec<String>, Failure> {
    let mut stems: Vec<String> = Vec::with_capacity(images.len());
    for image in images {
        let stem = picture_stem(&image.file_name().unwrap_or_default().to_string_lossy());
        if stems.contains(&stem) {
            let what = format!("two pictures called {stem}");
            return Err(Failure::Ends { what, fix: "their readings would have one name: rename one of them".into() });
        }
        stems.push(stem);
    }
    Ok(stems)
}

/// One picture; false where something of it was left out that the user can mend.
fn one(
    args: &EndsArgs,
    asked: &Asked,
    lot: &Lot,
    image: &Path,
    stem: &str,
    tubes: Option<&String>,
) -> Result<bool, Failure> {
    let folder = args.lot.as_deref().unwrap_or(Path::new("."));
    let how = How { units: UnitsArg::or_of(args.units, lot), force: args.force };
    let named = tubes.is_some() || args.all_tubes;
    let (seen_name, readings_name) = (
        if named { format!("ends-{stem}.png") } else { format!("ends-{stem}-numbers.png") },
        format!("readings-ends-{stem}.csv"),
    );
    // before the work, so that nobody waits for a refusal
    let wanted = if named { vec![seen_name.clone(), readings_name.clone()] } else { vec![seen_name.clone()] };
    free(folder, &wanted, args.force)?;
    let fault = |what: String, fix: String| Failure::Ends { what: format!("{}: {what}", image.display()), fix };
    let read = read_picture(image).map_err(|e| fault(e.to_string(), e.fix().into()))?;
    let scale = find_scale(&read, asked.spans, asked.given).map_err(|e| {
        let (what, fix) = words::scale_fault(e, FACE);
        fault(what, fix)
    })?;
    let found = find_rings(&read.grey, scale.scale, scale.card.as_ref());
    if found.things.is_empty() {
        let fix = "is the resolution right, and do the rings stand out from the ground? A ring is 6 to 80 mm wide";
        return Err(fault("no ring found in it".into(), fix.into()));
    }
    let head = format!(
        "{}: {} {}\n{}",
        image.display(),
        found.things.len(),
        rings(found.things.len()),
        words::scale_line(&scale, FACE)
    );
    if !named {
        return numbers(how, folder, &seen_name, &read, &scale, &found, &head);
    }
    let given = match tubes {
        Some(text) => names(text, args.far).map_err(typed("--tubes"))?,
        None => lot.tubes.iter().map(|t| Some(EndName { tube: t.name.clone(), far: args.far })).collect(),
    };
    let seen = name_ends(&found, &given, &asked.ticks, lot).map_err(|e| {
        let fix = words::names_fix(&e, FACE);
        fault(e.to_string(), fix.into())
    })?;
    written(how, folder, [&seen_name, &readings_name], stem, (&read, &scale, &found), &seen, &head)
}

fn rings(n: usize) -> &'static str {
    if n == 1 { "ring" } else { "rings" }
}

/// Before names are known: the picture with numbers, and what to type next.
fn numbers(
    how: How,
    folder: &Path,
    name: &str,
    read: &Picture,
    scale: &ScaleFound,
    found: &Found,
    head: &str,
) -> Result<bool, Failure> {
    let drawn = picture(&read.grey, scale.scale, found, None).map_err(draw)?;
    let path = folder.join(name);
    write_file(&path, &drawn, how.force)?;
    let block = words::numbers_block(found, how.units);
    let n = found.things.len();
    let next = wrapped(&format!(
        "{}: look which number is which tube, then give the {n} names in that order, - for one to be passed over, /far behind \
         the name of a far end: --tubes T01,T02/far,... ; --all-tubes takes the lot's tubes in their order. No readings were \
         written.",
        path.display()
    ));
    print(&format!("{head}{block}{next}"))?;
    Ok(true)
}

/// With names: the readings and the picture.
fn written(
    how: How,
    folder: &Path,
    [seen_name, readings_name]: [&str; 2],
    stem: &str,
    (read, scale, found): (&Picture, &ScaleFound, &Found),
    seen: &[Seen],
    head: &str,
) -> Result<bool, Failure> {
    let units = how.units;
    let kept: Vec<_> = seen.iter().enumerate().filter_map(|(i, s)| s.as_ref().ok().map(|e| (i + 1, e))).collect();
    let (table, facts) = readings_table(&kept, scale, stem)
        .map_err(|e| draw(DrawError::Encoder { format: "CSV", message: e.to_string() }))?;
    let drawn = picture(&read.grey, scale.scale, found, Some(seen)).map_err(draw)?;
    let (seen_path, readings_path) = (folder.join(seen_name), folder.join(readings_name));
    let picture_file = Beside::write(&seen_path, &drawn, PART, how.force)?;
    let mut said =
        format!("{head}{}{}", words::named_block(seen, &facts, units, FACE), words::large_line(found, units));
    if kept.is_empty() {
        picture_file.take_place()?;
        print(&format!("{said}{}: no readings were written", seen_path.display()))?;
        return Ok(false);
    }
    write_file(&readings_path, table.as_bytes(), how.force)?;
    picture_file.take_place()?;
    let rows = table.lines().count() - 1;
    said.push_str(&format!("{} ({rows} readings)\n{}\n", readings_path.display(), seen_path.display()));
    said.push_str(&wrapped(words::LOOK_AT_IT));
    said.push_str(&wrapped(cautions::ON_THE_GLASS));
    print(&said)?;
    let mendable = seen.iter().filter(|s| matches!(s, Err(why) if !why.is_asked_for())).count();
    if mendable > 0 {
        say(format_args!("note: nothing was written of {mendable} of {} rings", seen.len()));
    }
    Ok(mendable == 0)
}

fn draw(source: DrawError) -> Failure {
    Failure::Draw { source }
}

/// Sees to it that no file of these names is in the way.
fn free(folder: &Path, names: &[String], force: bool) -> Result<(), Failure> {
    let in_the_way = in_the_way(folder, names, force)?;
    if in_the_way.is_empty() {
        return Ok(());
    }
    let what = format!("files of an earlier run are there already: {}", in_the_way.join(", "));
    Err(Failure::Ends { what, fix: "rename the picture, or add --force to replace them".into() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_whose_files_would_have_one_name_are_refused() {
        let long = |end: &str| PathBuf::from(format!("{}{end}.png", "x".repeat(85)));
        let both = stems(&[long("a"), long("b")]);
        assert!(matches!(&both, Err(Failure::Ends { what, .. }) if what.starts_with("two pictures")), "{both:?}");
        let apart = stems(&["a/1.png".into(), "a/2.png".into()]).expect("two names");
        assert_eq!(apart, ["1", "2"]);
    }
}
