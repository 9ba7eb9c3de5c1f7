//! `completions` and `manual`: what a shell and `man` need to know of this program, made from the arguments themselves.

use super::args::Args;
use super::diagnostics::Failure;
use super::say::STANDARD_OUTPUT;
use super::sink;
use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;
use std::io::{self, Write};
use std::process::ExitCode;

const NAME: &str = "quarterlight";

/// Prints the script that completes arguments in `shell`.
pub fn completions(shell: Shell) -> Result<ExitCode, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), NAME, &mut script);
    sink::print(&String::from_utf8_lossy(&script))?;
    Ok(ExitCode::SUCCESS)
}

/// Prints the manual page.
pub fn manual() -> Result<ExitCode, Failure> {
    let mut page = Vec::new();
    write_page(&mut page).map_err(|source| Failure::Write { path: STANDARD_OUTPUT.into(), source })?;
    sink::print(&String::from_utf8_lossy(&page))?;
    Ok(ExitCode::SUCCESS)
}

/// One page for the whole program: what stands over all, then each command with its synopsis and options.
fn write_page(to: &mut impl Write) -> io::Result<()> {
    let mut command = Args::command();
    command.build();
    // the name of a program and nothing of the day, so that the same version prints the same page
    let page = Man::new(command.clone()).title(NAME).section("1").date("");
    page.render_title(to)?;
    page.render_name_section(to)?;
    page.render_synopsis_section(to)?;
    page.render_description_section(to)?;
    page.render_options_section(to)?;
    let known = |c: &&Command| !c.is_hide_set() && c.get_name() != "help";
    for sub in command.get_subcommands().filter(known) {
        let mut text = Vec::new();
        let part = Man::new(sub.clone());
        part.render_synopsis_section(&mut text)?;
        part.render_description_section(&mut text)?;
        part.render_options_section(&mut text)?;
        writeln!(to, ".SH \"{} {}\"", NAME.to_uppercase(), sub.get_name().to_uppercase())?;
        to.write_all(String::from_utf8_lossy(&text).replace(".SH ", ".SS ").as_bytes())?;
    }
    page.render_version_section(to)
}
