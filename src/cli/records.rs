//! `split --jsonl` and `forecast --from`: records of tubes, one a line, written on one machine and summed up on any.

use super::args::{ForecastArgs, PlanArgs, SplitArgs, UnitsArg};
use super::diagnostics::{Failure, code_after, print_findings};
use super::replace::{Beside, PART};
use super::say::{STANDARD_INPUT, STANDARD_OUTPUT, say};
use super::{job, sink};
use quarterlight::lot::{Counting, Gathered, Which};
use quarterlight::output::show::Units;
use quarterlight::output::together;
use std::fs::File;
use std::io::{BufReader, BufWriter, Write};
use std::path::Path;
use std::process::ExitCode;

/// Bytes that are read and written at a time.
const BLOCK: usize = 1 << 17;

/// Writes the lines of a lot, each as soon as its tube is planned.
pub fn write(args: &SplitArgs) -> Result<ExitCode, Failure> {
    let (of, fell) = (&args.view.lot, args.view.fell);
    // a lot teaches its scales and its line counts its tubes whichever of them are asked for
    let whole = PlanArgs { tubes: Vec::new(), ..of.plan.clone() };
    let lot = job::prepared_as(&of.lot, &whole, fell)?;
    print_findings(&lot.findings, false);
    let which = Which { tubes: of.plan.tubes.clone(), part: args.part };
    match &of.show.out {
        None => {
            let mut out = BufWriter::with_capacity(BLOCK, std::io::stdout().lock());
            let done = job::write_lines(&lot, of.plan.options(), &which, &mut out)?;
            done.map_err(|source| Failure::Write { path: STANDARD_OUTPUT.into(), source })?;
        }
        Some(path) => {
            let mut beside = Beside::begin(path, PART, of.show.force)?;
            let mut stopped = None;
            beside.fill(|file| {
                let mut out = BufWriter::with_capacity(BLOCK, file);
                match job::write_lines(&lot, of.plan.options(), &which, &mut out) {
                    Ok(done) => done.and_then(|()| out.flush()),
                    Err(why) => {
                        stopped = Some(why);
                        Ok(())
                    }
                }
            })?;
            if let Some(why) = stopped {
                return Err(why);
            }
            beside.take_place()?;
        }
    }
    Ok(code_after(&lot.findings))
}

/// Sums up files of lines.
pub fn sum_up(args: &ForecastArgs, counting: Counting) -> Result<ExitCode, Failure> {
    let gathered = job::gathered(&args.from, read)?;
    let sums = match gathered.summed_up(counting) {
        Ok(sums) => sums,
        Err(why) => {
            print_findings(&why.0, true);
            say(format_args!("error: {why}"));
            return Ok(ExitCode::from(1));
        }
    };
    let units = args.show.units.map_or(Units::Mm, UnitsArg::units);
    let text = if args.show.json {
        sums.to_json()
    } else if args.show.csv {
        together::table(&sums).to_csv()
    } else {
        together::lines(&sums, units)
    };
    sink::put(&text, &args.show)?;
    Ok(ExitCode::SUCCESS)
}

fn read(path: &Path) -> Result<Gathered, Failure> {
    if path == Path::new("-") {
        let got = Gathered::read(STANDARD_INPUT, BufReader::with_capacity(BLOCK, std::io::stdin().lock()));
        return got.map_err(|source| Failure::Records { path: STANDARD_INPUT.into(), source });
    }
    let shown = path.display().to_string();
    let got = File::open(path).and_then(|file| Gathered::read(&shown, BufReader::with_capacity(BLOCK, file)));
    got.map_err(|source| Failure::Records { path: shown, source })
}
