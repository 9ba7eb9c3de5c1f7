//! `learn`: what came of the tubes against what was promised.

use super::args::LearnArgs;
use super::diagnostics::{Failure, code_after, print_findings};
use super::say::say;
use super::{job, sink};
use quarterlight::domain::Tube;
use quarterlight::lot::{Assessed, BorneOut};
use quarterlight::output::borne_out;
use std::process::ExitCode;

/// Learns.
pub fn run(args: &LearnArgs) -> Result<ExitCode, Failure> {
    let mut lots: Vec<(String, Assessed, Vec<Tube>)> = Vec::new();
    let mut findings = Vec::new();
    for path in &args.lots {
        let lot = job::prepared(path, &args.plan)?;
        let plan = job::plan(&lot, &args.plan)?;
        if !plan.findings.is_empty() {
            if args.lots.len() > 1 {
                say(format_args!("{}:", path.display()));
            }
            print_findings(&plan.findings, false);
            findings.extend(plan.findings.iter().cloned());
        }
        lots.push((lot.lot.name.clone(), plan, lot.lot.tubes));
    }
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
