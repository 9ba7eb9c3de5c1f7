//! `learn`: what came of the tubes against what was promised.

use super::args::LearnArgs;
use super::diagnostics::{Failure, code_after};
use super::{job, sink};
use quarterlight::domain::{Finding, Tube};
use quarterlight::lot::{Assessed, BorneOut};
use quarterlight::output::borne_out;
use std::process::ExitCode;

/// Learns.
pub fn run(args: &LearnArgs) -> Result<ExitCode, Failure> {
    let lots = job::several(&args.lots, &args.plan, |path| job::prepared(path, &args.plan))?;
    let findings: Vec<Finding> = lots.iter().flat_map(|(_, _, a)| a.findings.clone()).collect();
    let lots: Vec<(String, Assessed, Vec<Tube>)> =
        lots.into_iter().map(|(name, lot, a)| (name, a, lot.lot.tubes)).collect();
    if !lots.iter().any(|(_, _, tubes)| tubes.iter().any(|t| t.cut.is_some())) {
        return Err(Failure::Choice {
            what: "nothing is written of what came of these tubes".into(),
            fix: "write it into cuts.csv: columns tube and blanks, one row a tube; split, the angles where its lines fell, if \
                  you looked"
                .into(),
        });
    }
    let learned = BorneOut::of(&lots);
    let text = if args.show.json {
        learned.to_json()
    } else if args.show.csv {
        borne_out::table(&learned).to_csv()
    } else {
        borne_out::lines(&learned)
    };
    sink::put(&text, &args.show)?;
    Ok(code_after(&findings))
}
