//! The user's files: replaced whole or not at all, only when asked, and never something that is no plain file. Results
//! survive whatever happens to standard error.
#![cfg(unix)]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::os::unix::fs::{FileTypeExt, MetadataExt, PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// Names of the note and of a report's files.
const NOTE: &str = "report-unfinished.txt";
const LOT: &str = "data-samples/grid";
/// One tube, whose report is soon made.
const TUBE: &str = "data-samples/lone-readings.csv";

fn command(args: &[&str]) -> Command {
    let mut c = Command::new(env!("CARGO_BIN_EXE_quarterlight"));
    c.current_dir(env!("CARGO_MANIFEST_DIR")).args(args).env("NO_COLOR", "1");
    c
}

fn run(args: &[&str]) -> Output {
    command(args).output().expect("the binary runs")
}

fn told(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// Names in a folder, hidden ones too.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name().into_string().expect("utf-8"))
        .collect();
    names.sort();
    names
}

fn forecast(path: &Path, force: bool) -> Output {
    let mut c = command(&["forecast", LOT, "--draws", "20", "--csv", "--out"]);
    c.arg(path);
    if force {
        c.arg("--force");
    }
    c.output().expect("the binary runs")
}

fn report(folder: &Path, seed: &str, force: bool) -> Command {
    let mut c = command(&["report", TUBE, "--draws", "20", "--seed", seed, "--out"]);
    c.arg(folder);
    if force {
        c.arg("--force");
    }
    c.stdout(Stdio::piped()).stderr(Stdio::piped());
    c
}

fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    names(folder).into_iter().map(|n| (n.clone(), fs::read(folder.join(n)).expect("read"))).collect()
}

#[test]
fn files_that_only_look_like_ours_are_left_alone() {
    let dir = tempfile::tempdir().expect("folder");
    let (out, other) = (dir.path().join("plan.csv"), dir.path().join("victim"));
    fs::write(&other, "mine").expect("write");
    fs::write(dir.path().join("plan.csv.tmp-quarterlight"), "mine too").expect("write");
    symlink(&other, dir.path().join(".quarterlight-part-aaaaaa.tmp")).expect("link");
    let done = forecast(&out, false);
    assert!(done.status.success(), "{}", told(&done));
    assert_eq!(fs::read(&other).expect("there"), b"mine");
    assert_eq!(fs::read(dir.path().join("plan.csv.tmp-quarterlight")).expect("there"), b"mine too");
    assert_eq!(names(dir.path()).len(), 4, "{:?}", names(dir.path()));
}

#[test]
fn a_link_is_followed_to_the_file_it_means_and_stays_a_link() {
    let dir = tempfile::tempdir().expect("folder");
    let (inner, link) = (dir.path().join("far"), dir.path().join("plan.csv"));
    fs::create_dir(&inner).expect("folder");
    fs::write(inner.join("real.csv"), "old").expect("write");
    symlink("far/real.csv", &link).expect("link");
    let refused = forecast(&link, false);
    assert!(refused.status.code() == Some(1) && told(&refused).contains("--force"), "{}", told(&refused));
    assert_eq!(fs::read(inner.join("real.csv")).expect("there"), b"old");
    assert!(forecast(&link, true).status.success());
    assert!(link.symlink_metadata().expect("there").is_symlink());
    assert!(fs::read_to_string(inner.join("real.csv")).expect("there").lines().count() > 3, "not replaced");
    assert_eq!((names(&inner).len(), names(dir.path()).len()), (1, 2));
}

#[test]
fn links_to_nothing_folders_devices_and_pipes_are_refused_and_stay() {
    let dir = tempfile::tempdir().expect("folder");
    let lost = dir.path().join("lost.csv");
    symlink("nowhere", &lost).expect("link");
    let to_device = dir.path().join("full.csv");
    symlink("/dev/full", &to_device).expect("link");
    let pipe = dir.path().join("pipe.csv");
    assert!(Command::new("mkfifo").arg(&pipe).status().is_ok_and(|s| s.success()), "mkfifo");
    let folder = dir.path().join("folder.csv");
    fs::create_dir(&folder).expect("folder");
    for force in [false, true] {
        for (path, what) in [
            (&lost, "a link that leads nowhere"),
            (&to_device, "a device"),
            (&pipe, "a pipe"),
            (&folder, "a folder"),
            (&PathBuf::from("/dev/null"), "a device"),
        ] {
            let out = forecast(path, force);
            assert_eq!(out.status.code(), Some(1), "{what}");
            assert!(told(&out).contains(what) && told(&out).contains("hint:"), "{what}: {}", told(&out));
        }
    }
    assert!(lost.symlink_metadata().expect("there").is_symlink() && !dir.path().join("nowhere").exists());
    assert!(pipe.symlink_metadata().expect("there").file_type().is_fifo() && folder.is_dir());
    assert!(fs::metadata("/dev/null").expect("there").file_type().is_char_device());
    assert_eq!(names(dir.path()).len(), 4, "{:?}", names(dir.path()));
}

#[test]
fn a_replaced_file_keeps_its_mode_and_a_new_one_gets_the_usual() {
    let dir = tempfile::tempdir().expect("folder");
    let (old, plain, new) = (dir.path().join("old.csv"), dir.path().join("plain"), dir.path().join("new.csv"));
    File::create(&plain).expect("write");
    fs::write(&old, "old").expect("write");
    for mode in [0o600, 0o640, 0o755] {
        fs::set_permissions(&old, fs::Permissions::from_mode(mode)).expect("mode");
        let done = forecast(&old, true);
        assert!(done.status.success(), "{}", told(&done));
        assert_eq!(fs::metadata(&old).expect("there").mode() & 0o7777, mode);
    }
    fs::set_permissions(&old, fs::Permissions::from_mode(0o444)).expect("mode");
    let before = fs::read(&old).expect("there");
    fs::write(dir.path().join("keep"), &before).expect("write");
    let refused = forecast(&old, true);
    assert!(refused.status.code() == Some(1) && told(&refused).contains("write-protected"), "{}", told(&refused));
    assert!(forecast(&new, false).status.success());
    assert_eq!(fs::metadata(&new).expect("there").mode(), fs::metadata(&plain).expect("there").mode());
}

#[test]
fn of_many_runs_at_once_without_force_exactly_one_gets_the_name() {
    let dir = tempfile::tempdir().expect("folder");
    let path = dir.path().join("plan.csv");
    let runs: Vec<_> = (0..6)
        .map(|_| {
            let mut c = command(&["forecast", LOT, "--draws", "20", "--csv", "--out"]);
            c.arg(&path).stderr(Stdio::null()).spawn().expect("the binary runs")
        })
        .collect();
    let codes: Vec<Option<i32>> = runs.into_iter().map(|mut c| c.wait().expect("ends").code()).collect();
    assert_eq!(codes.iter().filter(|c| **c == Some(0)).count(), 1, "{codes:?}");
    assert_eq!(codes.iter().filter(|c| **c == Some(1)).count(), 5, "{codes:?}");
    assert_eq!(names(dir.path()), ["plan.csv"]);
}

/// Runs the binary where no file can grow past 512 bytes: what a full disk does, without a disk.
fn on_a_full_disk(args: &str) -> Output {
    let binary = env!("CARGO_BIN_EXE_quarterlight");
    // signal 25 would end the program before it sees the error
    let script = format!("trap '' 25; ulimit -f 1; exec '{binary}' {args}");
    let mut c = Command::new("sh");
    c.current_dir(env!("CARGO_MANIFEST_DIR")).args(["-c", &script]).env("NO_COLOR", "1");
    c.output().expect("a shell")
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_leaves_the_old_file_and_nothing_else() {
    let dir = tempfile::tempdir().expect("folder");
    let path = dir.path().join("plan.json");
    fs::write(&path, "old").expect("write");
    let args = format!("split {LOT} --draws 20 --json --force --out '{}'", path.display());
    let out = on_a_full_disk(&args);
    assert!(out.status.code() == Some(1) && told(&out).contains("cannot be written"), "{}", told(&out));
    assert!(!told(&out).contains(".quarterlight-"), "a name nobody asked for: {}", told(&out));
    assert_eq!(fs::read(&path).expect("there"), b"old");
    assert_eq!(names(dir.path()), ["plan.json"]);
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_leaves_the_old_report_whole() {
    let dir = tempfile::tempdir().expect("folder");
    assert!(report(dir.path(), "1", false).status().expect("runs").success());
    let before = contents(dir.path());
    let out = on_a_full_disk(&format!("report {TUBE} --draws 20 --seed 2 --force --out '{}'", dir.path().display()));
    assert!(out.status.code() == Some(1) && told(&out).contains("cannot be written"), "{}", told(&out));
    assert!(contents(dir.path()) == before, "{:?}", names(dir.path()));
}

#[test]
fn a_picture_is_not_written_where_the_result_is_refused() {
    let dir = tempfile::tempdir().expect("folder");
    let (picture, there) = (dir.path().join("pic.svg"), dir.path().join("exists.txt"));
    fs::write(&there, "mine").expect("written");
    let place = |p: &Path| p.to_str().expect("utf-8").to_string();
    let out = run(&["forecast", LOT, LOT, "--draws", "20", "--picture", &place(&picture), "--out", &place(&there)]);
    assert!(out.status.code() == Some(1) && told(&out).contains("exists.txt"), "{}", told(&out));
    assert_eq!(names(dir.path()), ["exists.txt"]);
}

#[test]
fn scales_are_kept_behind_a_link_and_under_the_old_mode() {
    let dir = tempfile::tempdir().expect("folder");
    let lot = dir.path().join("lot");
    fs::create_dir(&lot).expect("folder");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join(LOT);
    for file in ["tubes.csv", "readings.csv"] {
        fs::copy(sample.join(file), lot.join(file)).expect("copy");
    }
    let real = dir.path().join("settings.toml");
    fs::copy(sample.join("lot.toml"), &real).expect("copy");
    fs::set_permissions(&real, fs::Permissions::from_mode(0o600)).expect("mode");
    symlink("../settings.toml", lot.join("lot.toml")).expect("link");
    let keep = ["fit", lot.to_str().expect("utf-8"), "--learn-population", "--keep"];
    // a result that may not be written leaves the settings as they are
    let (before, there) = (fs::read(&real).expect("there"), dir.path().join("exists.txt"));
    fs::write(&there, "mine").expect("written");
    let refused = run(&[&keep[..], &["--out", there.to_str().expect("utf-8")]].concat());
    assert!(refused.status.code() == Some(1) && fs::read(&real).expect("there") == before, "{}", told(&refused));
    let out = run(&keep);
    assert!(out.status.success(), "{}", told(&out));
    assert!(told(&out).contains("settings.toml now, under [population]"), "{}", told(&out));
    assert!(fs::read_to_string(&real).expect("there").contains("[population]"));
    assert!(lot.join("lot.toml").symlink_metadata().expect("there").is_symlink());
    assert_eq!(fs::metadata(&real).expect("there").mode() & 0o7777, 0o600);
    assert_eq!(names(&lot), ["lot.toml", "readings.csv", "tubes.csv"]);
}

/// Kills a `report --force` at the moment `when` says; `false` when it was done before.
fn killed(folder: &Path, seed: &str, when: impl Fn(Instant, &Path) -> bool) -> bool {
    let mut child = report(folder, seed, true).spawn().expect("runs");
    let begun = Instant::now();
    loop {
        if child.try_wait().expect("a state").is_some() {
            return false;
        }
        if when(begun, folder) {
            break;
        }
    }
    let _ = child.kill();
    child.wait().expect("ends");
    true
}

fn is_writing(folder: &Path) -> bool {
    folder.join(NOTE).symlink_metadata().is_ok()
}

#[test]
fn a_report_killed_at_any_moment_is_of_one_run_or_says_that_it_is_not() {
    let kills: u32 = std::env::var("QUARTERLIGHT_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let root = tempfile::tempdir().expect("folder");
    let whole = |seed: &str| {
        let folder = root.path().join(format!("seed-{seed}"));
        assert!(report(&folder, seed, false).status().expect("runs").success());
        contents(&folder)
    };
    let runs = [whole("1"), whole("2")];
    let folder = root.path().join("report");
    let (mut in_writing, mut mixed) = (0, 0);
    for k in 0..kills {
        // the older run whole, no note
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir(&folder).expect("folder");
        for (name, bytes) in &runs[0] {
            fs::write(folder.join(name), bytes).expect("write");
        }
        let stopped = if k % 4 == 0 {
            // anywhere in the run
            killed(&folder, "2", |begun, _| begun.elapsed() > Duration::from_millis(u64::from(5 * k % 200)))
        } else {
            // a moment after writing has begun
            let pause = Duration::from_micros(u64::from(k) * 7919 % 5_000);
            let seen = std::cell::Cell::new(None);
            killed(&folder, "2", |_, folder| {
                if seen.get().is_none() && is_writing(folder) {
                    seen.set(Some(Instant::now()));
                }
                seen.get().is_some_and(|s: Instant| s.elapsed() >= pause)
            })
        };
        let note = fs::read_to_string(folder.join(NOTE)).unwrap_or_default();
        let parts = names(&folder).iter().filter(|n| n.starts_with(".quarterlight-report-")).count();
        in_writing += u32::from(stopped && (parts > 0 || is_writing(&folder)));
        let now = contents(&folder);
        let is_whole = |run: &BTreeMap<String, Vec<u8>>| run.iter().all(|(n, b)| now.get(n) == Some(b));
        if runs.iter().any(is_whole) {
            continue;
        }
        mixed += 1;
        assert!(note.contains("two different runs"), "kill {k}: files of two runs and no note: {note:?}");
        let next = report(&folder, "2", false).output().expect("runs");
        assert!(next.status.code() == Some(1) && told(&next).contains("was not finished"), "{}", told(&next));
    }
    println!("{kills} kills, {in_writing} while writing, {mixed} left files of two runs, all of them told");
    assert!(
        in_writing >= kills / 10,
        "only {in_writing} of {kills} kills fell into the writing: the test shows nothing"
    );
    // whether a kill falls between two renames hangs on the machine; the next test brings that about for certain
    let last = report(&folder, "2", true).output().expect("runs");
    assert!(last.status.success() && contents(&folder) == runs[1], "{}", told(&last));
}

#[test]
fn a_report_that_breaks_off_between_two_renames_leaves_its_note() {
    // stopped while its note goes onto the disk, the run then finds a folder where its fourth file belongs
    const STOP: &str = r#"
        tries=0
        until [ -s "$1" ]; do tries=$((tries + 1)); [ $tries -lt 10000000 ] || exit 1; done
        kill -STOP $3
        rm -f "$2" && mkdir "$2"
        kill -CONT $3"#;
    let dir = tempfile::tempdir().expect("folder");
    let (note, fourth) = (dir.path().join(NOTE), dir.path().join("forecast.csv"));
    for _ in 0..20 {
        assert!(report(dir.path(), "1", true).output().expect("runs").status.success());
        let old = contents(dir.path());
        let child = report(dir.path(), "2", true).spawn().expect("runs");
        let pid = child.id().to_string();
        let shell = Command::new("sh").args(["-c", STOP, "sh"]).args([&note, &fourth]).arg(&pid).status();
        let stopped = shell.expect("a shell").success();
        let broken = child.wait_with_output().expect("ends");
        if fourth.is_dir() {
            fs::remove_dir(&fourth).expect("the folder");
        }
        if broken.status.success() {
            // it was through before it was stopped, or its note was never seen
            continue;
        }
        assert!(stopped, "{}", told(&broken));
        assert!(broken.status.code() == Some(1) && told(&broken).contains("forecast.csv"), "{}", told(&broken));
        let now = contents(dir.path());
        assert!(now["plan.json"] == old["plan.json"] && now["report.html"] != old["report.html"], "no mixture");
        assert_eq!(names(dir.path()).iter().filter(|n| n.ends_with(".tmp")).count(), 0);
        let next = report(dir.path(), "2", false).output().expect("runs");
        assert!(next.status.code() == Some(1) && told(&next).contains("two different runs"), "{}", told(&next));
        return;
    }
    panic!("the run was never stopped before its fourth file was in its place");
}

/// A folder with files of two runs and the note of the one that was stopped.
fn stopped_report(folder: &Path) {
    assert!(report(folder, "1", false).status().expect("runs").success());
    fs::write(folder.join(".quarterlight-report-abcdef.tmp"), "half").expect("write");
    let note = "A report was being written into this folder and was not finished.\nThese files ...\n";
    fs::write(folder.join(NOTE), note).expect("write");
}

#[test]
fn check_tells_of_an_unfinished_report_in_the_lot_and_the_next_report_mends_it() {
    let dir = tempfile::tempdir().expect("folder");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join(LOT);
    for file in names(&sample) {
        fs::copy(sample.join(&file), dir.path().join(&file)).expect("copy");
    }
    let (lot, folder) = (dir.path().to_str().expect("utf-8"), dir.path().join("bench"));
    stopped_report(&folder);
    let said = String::from_utf8(run(&["check", lot]).stdout).expect("utf-8");
    assert!(said.contains("bench/report-unfinished.txt: found a report that was not finished"), "{said}");
    let again = report(&folder, "1", true).output().expect("runs");
    assert!(again.status.success() && told(&again).matches("was not finished").count() == 1, "{}", told(&again));
    assert_eq!(names(&folder).len(), 8, "{:?}", names(&folder));
    assert!(!String::from_utf8(run(&["check", lot]).stdout).expect("utf-8").contains("not finished"));
}

#[test]
fn a_file_of_the_notes_name_that_is_not_ours_is_not_touched() {
    let dir = tempfile::tempdir().expect("folder");
    fs::write(dir.path().join(NOTE), "my own words").expect("write");
    let out = report(dir.path(), "1", true).output().expect("runs");
    assert!(out.status.code() == Some(1) && told(&out).contains(NOTE), "{}", told(&out));
    assert_eq!(contents(dir.path()).into_values().collect::<Vec<_>>(), [b"my own words"]);
}

#[test]
fn strips_of_an_older_report_do_not_stay_beside_a_newer_one_without_strips() {
    let dir = tempfile::tempdir().expect("folder");
    assert!(report(dir.path(), "1", false).status().expect("runs").success());
    assert!(dir.path().join("strips.pdf").exists());
    // a tube this short has no plan, so no strip
    let lot = tempfile::tempdir().expect("folder");
    fs::write(lot.path().join("readings.csv"), "tube,kind,z,angle,value\nA,diameter,40,0,25\n").expect("write");
    let mut c = command(&["report", lot.path().to_str().expect("utf-8"), "--draws", "20", "--force", "--out"]);
    let out = c.arg(dir.path()).output().expect("runs");
    assert!(out.status.success() && told(&out).contains("strips.pdf was not written"), "{}", told(&out));
    assert!(!dir.path().join("strips.pdf").exists() && !dir.path().join(NOTE).exists(), "{:?}", names(dir.path()));
}

/// A place that takes nothing.
fn full() -> File {
    File::options().write(true).open("/dev/full").expect("/dev/full")
}

#[test]
#[cfg(target_os = "linux")]
fn a_standard_error_that_takes_nothing_loses_no_result() {
    let args = ["split", "data-samples/broken", "--draws", "20"];
    let whole = run(&args);
    assert!(whole.status.code() == Some(1) && !whole.stderr.is_empty() && !whole.stdout.is_empty());
    let lost = command(&args).stderr(full()).output().expect("runs");
    assert_eq!((lost.status.code(), &lost.stdout), (Some(1), &whole.stdout));
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let shut = command(&args).stderr(writer).output().expect("runs");
    assert_eq!((shut.status.code(), &shut.stdout), (Some(1), &whole.stdout));
    let failure = command(&["split", "no-such-lot"]).stderr(full()).status().expect("runs");
    assert_eq!(failure.code(), Some(1));
}

#[test]
#[cfg(target_os = "linux")]
fn a_standard_output_that_takes_nothing_is_told_with_a_hint() {
    for args in [&["forecast", LOT, "--draws", "20"][..], &["--help"], &["--version"], &["check", LOT]] {
        let out = command(args).stdout(full()).output().expect("runs");
        assert_eq!(out.status.code(), Some(1), "{args:?}: {}", told(&out));
        assert!(told(&out).contains("standard output cannot be written"), "{args:?}: {}", told(&out));
        assert!(told(&out).contains("hint:"), "{args:?}: {}", told(&out));
    }
    let both = command(&["forecast", LOT, "--draws", "20"]).stdout(full()).stderr(full()).status().expect("runs");
    assert_eq!(both.code(), Some(1));
}

#[test]
fn a_reader_that_has_seen_enough_is_no_failure() {
    let mut c = command(&["split", LOT, "--draws", "20", "--json"]);
    let mut child = c.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("runs");
    let mut first = String::new();
    let mut reader = BufReader::with_capacity(16, child.stdout.take().expect("piped"));
    reader.read_line(&mut first).expect("a line");
    drop(reader);
    let out = child.wait_with_output().expect("ends");
    assert!(first.starts_with('{') && out.status.success() && out.stderr.is_empty(), "{}", told(&out));
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let help = command(&["--help"]).stdout(writer).output().expect("runs");
    assert!(help.status.success() && help.stderr.is_empty(), "{}", told(&help));
}
