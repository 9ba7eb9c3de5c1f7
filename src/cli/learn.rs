//! `learn`: what came of the tubes against what was promised, and what that teaches.

use super::args::LearnArgs;
use super::diagnostics::{Failure, code_after};
use super::replace::{Beside, PART};
use super::{job, picture, sink};
use quarterlight::domain::Finding;
use quarterlight::lot::Kept;
use quarterlight::output::figures::calibration;
use quarterlight::output::{borne_out, own_file};
use std::path::Path;
use std::process::ExitCode;

/// Learns.
pub fn run(args: &LearnArgs) -> Result<ExitCode, Failure> {
    sink::free(&args.show)?;
    picture::free(args.picture.as_deref(), args.show.force)?;
    let lots = job::several(&args.lots, &args.plan, |path| {
        let mut lot = job::prepared(path, &args.plan)?;
        // planned as they were aimed, where that was written down
        lot.lot.tubes.iter_mut().for_each(|t| t.aim = t.cut.as_ref().and_then(|c| c.aim));
        Ok(lot)
    })?;
    let findings: Vec<Finding> = lots.iter().flat_map(|(_, _, a)| a.findings.clone()).collect();
    if !lots.iter().any(|(_, lot, _)| lot.lot.tubes.iter().any(|t| t.cut.is_some() || t.minutes.is_some())) {
        return Err(Failure::Choice {
            what: "nothing is written of what came of these tubes".into(),
            fix: "write it into cuts.csv: columns tube and blanks, one row a tube; split, the angles where its lines fell, if \
                  you looked"
                .into(),
        });
    }
    let units = lots.first().map(|(_, lot, _)| args.show.units(&lot.lot)).unwrap_or_default();
    let learned = job::learn(lots, &args.plan)?;
    let mut text = if args.show.json {
        learned.to_json()
    } else if args.show.csv {
        borne_out::table(&learned).to_csv()
    } else {
        borne_out::lines(&learned, units)
    };
    // what is the user's own takes its place last, when nothing can be refused any more
    let mut own = None;
    if let Some(file) = &args.keep {
        let (kept, told) = keep(file, &Kept::of(&learned))?;
        if !args.show.json && !args.show.csv {
            text.push_str(&told);
        }
        own = Some(kept);
    }
    if let Some(path) = &args.picture {
        picture::put(path, calibration::draw(&learned), "count the blanks of some tubes in cuts.csv", args.show.force)?;
    }
    sink::put(&text, &args.show)?;
    if let Some(kept) = own {
        kept.take_place()?;
    }
    Ok(code_after(&findings))
}

/// Writes what was learned beside the maker's own file, to take its place; says what changes.
fn keep(file: &Path, kept: &Kept) -> Result<(Beside, String), Failure> {
    let shown = file.display().to_string();
    if kept.is_empty() {
        return Err(Failure::Choice {
            what: "these lots say too little to keep anything of it".into(),
            fix: "cut and count five tubes, write where the lines of three fell, or judge ten stretches".into(),
        });
    }
    let text = match std::fs::read_to_string(file) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(e) => return Err(in_the_way(format!("{shown} cannot be read: {e}"))),
    };
    let (new, changes) = own_file::kept_in(&text, kept).map_err(|why| in_the_way(format!("{shown}: {why}")))?;
    let beside = Beside::write(file, new.as_bytes(), PART, true)?;
    Ok((beside, borne_out::kept_lines(&changes, &shown)))
}

/// Why nothing is kept.
fn in_the_way(why: String) -> Failure {
    Failure::Choice { what: format!("nothing was kept: {why}"), fix: "mend it, or keep it in another file".into() }
}
