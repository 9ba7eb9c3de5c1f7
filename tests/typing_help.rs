//! Completions are made for every shell, and the manual page names every command and every option.

use std::process::Command;

fn printed(args: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_quarterlight")).args(args).output().expect("runs");
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("utf-8")
}

/// The commands, from the help.
fn commands() -> Vec<String> {
    let help = printed(&["--help"]);
    let list = help.lines().skip_while(|l| *l != "Commands:").skip(1).take_while(|l| l.starts_with(' '));
    let names = list.filter(|l| !l.starts_with("   ")).filter_map(|l| l.split_whitespace().next()).map(String::from);
    let names: Vec<String> = names.filter(|n| n != "help").collect();
    assert!(names.len() >= 16 && names.contains(&"simulate".into()), "{names:?}");
    names
}

/// The long options of a command, from its help.
fn options(command: &str) -> Vec<String> {
    let help = printed(&[command, "--help"]);
    let lines = help.lines().map(str::trim).filter(|l| l.starts_with("--") || l.starts_with("-h, "));
    let words = lines.filter_map(|l| l.split([' ', ',', '=']).find(|w| w.starts_with("--")));
    words.map(|w| w.trim_end_matches("...").to_string()).collect()
}

#[test]
fn every_shell_completes_every_command() {
    for (shell, mark) in [
        ("bash", "complete -F"),
        ("zsh", "#compdef quarterlight"),
        ("fish", "complete -c quarterlight"),
        ("powershell", "Register-ArgumentCompleter"),
        ("elvish", "edit:completion"),
    ] {
        let script = printed(&["completions", shell]);
        assert!(script.contains(mark), "{shell}");
        for command in commands() {
            assert!(script.contains(&command), "{shell}: {command}");
        }
        for option in ["jsonl", "minute-blanks", "scale-sheet", "without-leave"] {
            assert!(script.contains(option), "{shell}: --{option}");
        }
    }
    let wrong =
        Command::new(env!("CARGO_BIN_EXE_quarterlight")).args(["completions", "abacus"]).output().expect("runs");
    assert_eq!(wrong.status.code(), Some(1));
}

#[test]
fn the_manual_page_names_every_command_and_option() {
    let page = printed(&["manual"]);
    assert!(page.contains(".TH quarterlight 1"), "{}", &page[..200]);
    assert_eq!(page, printed(&["manual"]));
    // roff writes a hyphen that is to stay one as \-
    let plain = page.replace("\\-", "-");
    let sections: Vec<&str> = plain.split("\n.SH ").collect();
    for command in commands() {
        let head = format!("\"QUARTERLIGHT {}\"", command.to_uppercase());
        let section = sections.iter().find(|s| s.starts_with(&head)).unwrap_or_else(|| panic!("no section {head}"));
        let options = options(&command);
        assert!(options.contains(&"--help".into()), "{command}: {options:?}");
        for option in options {
            assert!(section.contains(&option), "{command} {option}\n{section}");
        }
    }
}
