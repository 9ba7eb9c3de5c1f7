//! `simulate`: lots of known truth, and the study of what is promised on them.

use super::args::{ShowArgs, SimulateArgs};
use super::diagnostics::{Failure, print_findings};
use super::{job, new, sink};
use quarterlight::known::folder::{FILES, Order, files};
use quarterlight::known::measuring::Rig;
use quarterlight::known::plans::ordinary_hand;
use quarterlight::known::populations::Recipe;
use quarterlight::known::way::Way;
use quarterlight::output::simulated;
use quarterlight::study::asked::{self, Asked};
use quarterlight::study::whole::StudyOrder;
use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

/// The plan where none is named.
const USUAL_PLAN: &str = "dial 12x17mm";
/// Most of the names of a full folder that are told.
const MOST_TOLD: usize = 12;

/// Writes a lot, or studies.
pub fn run(args: &SimulateArgs) -> Result<ExitCode, Failure> {
    let Some((recipe, ways)) = choices(args)? else { return Ok(ExitCode::from(1)) };
    match &args.folder {
        Some(folder) => lot(args, folder, recipe, ways),
        None => study(args, recipe, ways),
    }
}

fn hand(args: &SimulateArgs) -> Rig {
    if args.hand { ordinary_hand() } else { Rig::default() }
}

/// The make and the plans; `None` where a file of them was told to be wrong.
fn choices(args: &SimulateArgs) -> Result<Option<(Recipe, Vec<Way>)>, Failure> {
    let mut own: Vec<Way> = Vec::new();
    let recipe = if is_file(&args.population) {
        let Some(Asked { recipe, ways }) = asked_in(&args.population)? else { return Ok(None) };
        own = ways;
        recipe.ok_or_else(|| Failure::Choice {
            what: format!("{} has no [population]", args.population),
            fix: "write [population] and from = \"smooth\" below it, or give the file as --plan".into(),
        })?
    } else {
        Recipe::of(asked::population(&args.population).map_err(|what| choice(what, "--population"))?)
    };
    let mut ways: Vec<Way> = Vec::new();
    for plan in &args.plans {
        let new = if is_file(plan) {
            let Some(Asked { ways, .. }) = asked_in(plan)? else { return Ok(None) };
            if ways.is_empty() {
                return Err(Failure::Choice {
                    what: format!("{plan} has no plan"),
                    fix: "write [[plan.NAME]] and the facts of a tool below it".into(),
                });
            }
            ways
        } else {
            vec![asked::way(plan, &own).map_err(|what| choice(what, "--plan"))?]
        };
        ways.extend(new);
    }
    if args.plans.is_empty() {
        ways = if own.is_empty() {
            vec![asked::way(USUAL_PLAN, &[]).map_err(|what| choice(what, "--plan"))?]
        } else {
            own
        };
    }
    Ok(Some((recipe, ways)))
}

fn choice(what: String, option: &str) -> Failure {
    Failure::Choice { what, fix: format!("give one of them as {option}, or a file that ends in .toml") }
}

fn is_file(text: &str) -> bool {
    Path::new(text).extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

/// What a file asks for; `None` once everything wrong in it was said.
fn asked_in(path: &str) -> Result<Option<Asked>, Failure> {
    let bytes = std::fs::read(path)
        .map_err(|e| Failure::Choice { what: format!("{path} cannot be read: {e}"), fix: "check its name".into() })?;
    match asked::read(&bytes, path) {
        Ok(asked) => Ok(Some(asked)),
        Err(findings) => {
            print_findings(&findings, true);
            Ok(None)
        }
    }
}

fn lot(args: &SimulateArgs, folder: &Path, recipe: Recipe, ways: Vec<Way>) -> Result<ExitCode, Failure> {
    empty(folder)?;
    let order = Order {
        name: new::name_of(folder),
        recipe,
        ways,
        tubes: usize::from(args.tubes),
        seed: args.seed,
        hand: hand(args),
        faults: args.faults.clone(),
    };
    let made = files(&order).map_err(|why| Failure::Choice {
        what: why.to_string(),
        fix: "change the numbers of the population, the plans or the slips".into(),
    })?;
    let slips = made.slips;
    let made: Vec<(String, Vec<u8>)> =
        made.files.into_iter().map(|(n, text)| (n.to_string(), text.into_bytes())).collect();
    new::write(folder, &made)?;
    sink::print(&simulated::written_lines(
        &folder.display().to_string(),
        &order.recipe.name,
        order.tubes,
        order.seed,
        slips,
        &FILES,
    ))?;
    Ok(ExitCode::SUCCESS)
}

/// Refuses a folder that holds anything.
fn empty(folder: &Path) -> Result<(), Failure> {
    let cannot = |source| Failure::Write { path: folder.display().to_string(), source };
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(cannot(e)),
    };
    let mut paths: Vec<String> = entries.filter_map(Result::ok).map(|e| e.path().display().to_string()).collect();
    if paths.is_empty() {
        return Ok(());
    }
    paths.sort();
    let more = paths.len().saturating_sub(MOST_TOLD);
    paths.truncate(MOST_TOLD);
    if more > 0 {
        paths.push(format!("and {more} more"));
    }
    Err(Failure::LotThere { paths })
}

fn study(args: &SimulateArgs, recipe: Recipe, ways: Vec<Way>) -> Result<ExitCode, Failure> {
    let begun = Instant::now();
    let order = StudyOrder {
        recipe,
        ways,
        tubes: usize::from(args.tubes),
        seed: args.seed,
        draws: args.draws,
        hand: hand(args),
        reference: args.scales_known,
    };
    for k in 0..order.tubes {
        let form = order.recipe.form(order.seed, k as u64);
        form.possible().map_err(|why| Failure::Choice {
            what: format!("tube {} cannot be: {why}", form.name),
            fix: "change the numbers of the population".into(),
        })?;
    }
    let study = job::study(&order)?;
    let text = if args.json {
        simulated::study_json(&study)
    } else if args.csv {
        simulated::study_table(&study).to_csv()
    } else {
        simulated::study_lines(&study)
    };
    let show = ShowArgs { json: args.json, csv: args.csv, out: args.out.clone(), force: args.force, units: None };
    sink::put(&text, &show)?;
    // how long it took is no part of the result, which is the same every time
    sink::say(simulated::took(begun.elapsed(), order.tubes, order.ways.len()));
    Ok(ExitCode::SUCCESS)
}
