//! The command line of quarterlight: parse, run, report, exit code.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
