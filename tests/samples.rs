//! Every sample lot still loads, is what its generator makes, and every command in the README still runs.

#[path = "../examples/make_samples.rs"]
mod make_samples;

#[path = "../examples/make_walk.rs"]
mod make_walk;

use quarterlight::readings::read_lot;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples")
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut out = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(f) = open.pop() {
        for entry in std::fs::read_dir(&f).expect("folder") {
            let path = entry.expect("entry").path();
            if path.is_dir() { open.push(path) } else { out.push(path) }
        }
    }
    out.sort();
    out
}

#[test]
fn the_samples_are_what_their_generator_makes() {
    let dir = tempfile::tempdir().expect("folder");
    make_samples::write_all(dir.path()).expect("written");
    assert!(kept_as_made(dir.path()) >= 12);
}

#[test]
fn the_walk_of_five_tubes_is_what_its_maker_was_told_to_read_and_cut() {
    let dir = tempfile::tempdir().expect("folder");
    make_walk::write_all(dir.path()).expect("written");
    assert_eq!(kept_as_made(dir.path()), 10);
}

/// Compares every file below a folder with the one of its name below `data-samples`, and counts them.
fn kept_as_made(dir: &Path) -> usize {
    let made = files_below(dir);
    for path in &made {
        let name = path.strip_prefix(dir).expect("below");
        let kept = std::fs::read(root().join(name)).unwrap_or_else(|e| panic!("{}: {e}", name.display()));
        assert!(kept == std::fs::read(path).expect("made"), "{} differs: run the generator again", name.display());
    }
    made.len()
}

#[test]
fn every_sample_lot_loads_without_anything_to_mend_but_the_broken_one() {
    for (lot, tubes) in
        [("demo", 24), ("inches", 4), ("grid", 3), ("bars", 3), ("five", 5), ("five-cut", 5), ("lone-readings.csv", 1)]
    {
        let read = read_lot(&root().join(lot)).unwrap_or_else(|e| panic!("{lot}: {e}"));
        assert!(!read.has_errors(), "{lot}: {:?}", read.findings);
        assert_eq!(read.lot.tubes.len(), tubes, "{lot}");
    }
    assert!(read_lot(&root().join("broken")).expect("readable").has_errors());
}

#[test]
fn every_command_in_the_readme_runs() {
    let readme = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).expect("README.md");
    let mut run = 0;
    for line in readme.lines() {
        let Some(command) = line.trim().strip_prefix("quarterlight ") else { continue };
        let out = tempfile::tempdir().expect("folder");
        let mut said = Vec::new();
        // what one prints is what the next reads
        for stage in command.split('#').next().unwrap_or("").split(" | quarterlight ") {
            let words = stage
                .split_whitespace()
                .map(|w| if w == "OUT" { out.path().join("out").display().to_string() } else { w.to_string() });
            let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
            let c = c.current_dir(env!("CARGO_MANIFEST_DIR")).args(words);
            let mut c = c.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("runs");
            let mut to = c.stdin.take().expect("a pipe");
            let fed = std::thread::spawn(move || to.write_all(&said).is_ok());
            let done = c.wait_with_output().expect("ends");
            assert!(done.status.success(), "{command}: {}", String::from_utf8_lossy(&done.stderr));
            fed.join().expect("fed");
            said = done.stdout;
        }
        run += 1;
    }
    assert!(run >= 5, "only {run} commands found in the README");
}

/// Every block that shows a command and what it prints: each line shown is printed, in that order; what is left out is left out
/// at the beginning or the end.
#[test]
fn what_the_readme_shows_is_what_is_printed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).expect("README.md");
    let mut shown = 0;
    let mut blocks = readme.split("\n$ quarterlight ");
    blocks.next();
    for block in blocks {
        let (command, rest) = block.split_once('\n').expect("a command and what it prints");
        let block = rest.split("\n```").next().unwrap_or(rest).trim_end();
        let out = tempfile::tempdir().expect("folder");
        // what writes a folder does so in one that goes with the test
        let here = if command.starts_with("new ") { out.path() } else { root };
        let done = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
            .current_dir(here)
            .args(command.split_whitespace())
            .output()
            .expect("runs");
        assert!(done.status.success(), "{command}: {}", String::from_utf8_lossy(&done.stderr));
        let said = String::from_utf8(done.stdout).expect("text");
        let said: String = said.lines().map(|l| l.trim_end().to_string() + "\n").collect();
        assert!(said.contains(&format!("{block}\n")), "{command} prints\n{said}\nnot\n{block}");
        shown += 1;
    }
    assert!(shown >= 6, "only {shown} commands with what they print");
}
