//! The commands. Results go to standard output, everything else to standard error; exit code 0 when done, 1 when there
//! is something the user can mend, 2 when the fault is ours.

mod advise;
mod args;
mod batch;
mod bench;
mod built_in;
mod check;
mod diagnostics;
mod ends;
mod fit;
mod folder;
mod forecast;
mod job;
mod learn;
mod licences;
mod new;
mod picture;
mod plan;
mod records;
mod replace;
mod report;
mod say;
mod serves;
mod simulate;
mod sink;
mod typed;
mod typing_help;

use args::{Args, Command};
use clap::Parser;
use diagnostics::Failure;
use std::process::ExitCode;

/// Runs the command line.
pub fn main() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(e) => {
            // help and version are answers; anything else is the user's to mend
            return match (e.use_stderr(), e.print()) {
                (false, Ok(())) => ExitCode::SUCCESS,
                (false, Err(source)) => {
                    diagnostics::report(&Failure::Write { path: say::STANDARD_OUTPUT.into(), source })
                }
                (true, _) => ExitCode::from(1),
            };
        }
    };
    std::panic::set_hook(Box::new(|info| {
        sink::say(format_args!(
            "error: a fault of ours: {info}\n  hint: please report it with the files that caused it"
        ));
    }));
    let done = std::panic::catch_unwind(|| run(&args));
    match done {
        Ok(Ok(code)) => code,
        Ok(Err(failure)) => diagnostics::report(&failure),
        Err(_) => ExitCode::from(2),
    }
}

fn run(args: &Args) -> Result<ExitCode, Failure> {
    match &args.command {
        Command::Demo(a) => plan::demo(a),
        Command::New(a) => new::run(a),
        Command::Check(a) => check::run(a),
        Command::Fit(a) => fit::run(a),
        Command::Split(a) if a.jsonl => records::write(a),
        Command::Split(a) => plan::run(&a.view, plan::View::Split),
        Command::Screen(a) if !a.sets.is_empty() => serves::run(a),
        Command::Screen(a) => plan::run(&a.view, plan::View::Screen),
        Command::Forecast(a) => forecast::run(a),
        Command::Advise(a) => advise::run(a),
        Command::Batch(a) => batch::run(a),
        Command::Learn(a) => learn::run(a),
        Command::Report(a) => report::run(a),
        Command::Ends(a) => ends::run(a),
        Command::Bench(a) => bench::run(a),
        Command::Simulate(a) => simulate::run(a),
        Command::Licences => licences::run(),
        Command::Completions(a) => typing_help::completions(a.shell),
        Command::Manual => typing_help::manual(),
    }
}
