//! `bench` without a browser: what is kept, what is refused, who is let in.

#[path = "support/served.rs"]
mod served;

use served::{Served, at, copy_of};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

const TYPED: &str = "readings-bench.csv";

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let all = fs::read_dir(folder).expect("the lot").map(|e| e.expect("an entry").path());
    all.map(|p| (p.file_name().expect("a name").to_string_lossy().into_owned(), fs::read(&p).expect("a file")))
        .collect()
}

#[test]
fn what_is_typed_is_kept_and_the_command_line_plans_the_same_lot_alike() {
    let lot = copy_of("grid");
    let before = files(lot.path());
    let served = Served::of(lot.path(), &["--draws", "40"]);
    let token = served.token();
    // a tube is added in the manner of its list: semicolons, decimal commas
    let added = served.form("/tubes", "tube=N+1&length=7+7%2F8+in&weight=25%2C5");
    assert_eq!((added.code, added.header("location").as_deref()), (303, Some("/measure?tube=N%201")));
    let list = fs::read_to_string(lot.path().join("tubes.csv")).expect("the list");
    assert!(list.ends_with("N 1;200,025;25,5;\n"), "{list}");
    for (refused, why) in
        [("tube=N+1&length=200", "already"), ("tube=&length=200", "name"), ("tube=X&length=2", "unit")]
    {
        let said = served.form("/tubes", refused).header("location").expect("back");
        assert!(said.starts_with("/?refused=") && said.contains(why), "{said}");
    }
    for (deg, text) in [(0.0, "25,61"), (45.0, "25.72"), (90.0, "1.013 in"), (135.0, "25.55")] {
        let kept = served.cell(&token, "N 1", &at("diameter", 100.0, deg), text, "");
        assert!(kept["kept"].is_string(), "{kept}");
    }
    let slip = served.cell(&token, "N 1", &at("diameter", 40.0, 0.0), "2.56", "");
    assert!(slip["why"].as_str().is_some_and(|w| w.contains("decimal mark")), "{slip}");
    let text = fs::read_to_string(lot.path().join(TYPED)).expect("kept");
    assert!(text.contains("N 1,diameter,100,90,1.013 in,") && !text.contains("2.56"), "{text}");
    // files that nobody asked to change are as they were
    let after = files(lot.path());
    for name in ["readings.csv", "cuts.csv", "lot.toml"] {
        assert_eq!(before.get(name), after.get(name), "{name}");
    }
    // on a busy machine the look before the last reading comes first, and says so
    let answers = std::iter::repeat_with(|| served.read("/answer?tube=N%201")).take(30);
    let first =
        answers.into_iter().find(|a| a.header("x-stage").as_deref() != Some("behind")).expect("the last readings");
    assert!(first.text().contains("Split at"), "{}", first.text());
    assert!(["first", "full", "whole"].contains(&first.header("x-stage").expect("a stage").as_str()));
    let page = served.plan();
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .args(["split", "--json", "--draws", "40"])
        .arg(lot.path())
        .output()
        .expect("runs");
    assert_eq!(
        page.trim_end(),
        String::from_utf8_lossy(&ran.stdout).trim_end(),
        "the page and the command line differ"
    );
}

#[test]
fn what_was_changed_by_hand_or_on_another_page_is_never_written_over() {
    let lot = copy_of("grid");
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let token = served.token();
    let here = at("diameter", 100.0, 0.0);
    let type_it = |text: &str, was: &str| served.cell(&token, "G2", &here, text, was);
    assert_eq!(type_it("25.6", "")["kept"], "25.6");
    // another page that saw nothing there
    assert_eq!(type_it("25.7", "")["now"], "25.6");
    // both typed the same
    assert_eq!(type_it("25.6", "")["kept"], "25.6");
    // by hand: a comment, another reading, and this one changed
    let path = lot.path().join(TYPED);
    let by_hand =
        fs::read_to_string(&path).expect("kept").replace("25.6", "25.9") + "# mine\nG3,diameter,50,0,24.9,,,\n";
    fs::write(&path, &by_hand).expect("saved");
    assert_eq!(type_it("25.8", "25.6")["now"], "25.9");
    assert_eq!(fs::read_to_string(&path).expect("there"), by_hand);
    assert_eq!(type_it("25.8", "25.9")["kept"], "25.8");
    assert_eq!(fs::read_to_string(&path).expect("there"), by_hand.replace("25.9", "25.8"));
    assert_eq!(type_it("", "25.8")["kept"], "");
    let left = fs::read_to_string(&path).expect("there");
    assert!(left.contains("# mine\nG3,diameter,50,0,24.9,,,\n") && !left.contains("25.8"), "{left}");
    // a file that cannot be changed says so and stays
    fs::write(&path, "tube,kind,z,angle,value\nG2,diameter,\"1\n").expect("saved");
    let refused = type_it("25.8", "");
    assert!(refused["why"].as_str().is_some_and(|w| w.contains("quotation mark")), "{refused}");
    assert!(fs::read_to_string(&path).expect("there").ends_with("\"1\n"));
}

#[test]
fn what_became_of_a_tube_is_written_down_and_read_again() {
    let lot = copy_of("grid");
    let was = fs::read_to_string(lot.path().join("cuts.csv")).expect("cuts");
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let told = "tube=G2&aim=30&split=31+122+214+300,5&back=&blanks=&blanks1=2&blanks2=1&blanks3=0&blanks4=0&run0=1+12+82&got0=yes&run1=1+84+154&got1=rock";
    let done = served.form("/fell", told);
    assert_eq!(done.header("location").as_deref(), Some("/fell?tube=G2"), "{}", done.text());
    let now = fs::read_to_string(lot.path().join("cuts.csv")).expect("cuts");
    let rows: Vec<&str> = now.lines().filter(|l| l.starts_with("G2")).collect();
    assert_eq!(rows.len(), 7, "{now}");
    // what the file held stays; a column it had not is put behind the others
    let header = now.lines().next().expect("a header");
    assert!(header.ends_with(";aim"), "{header}");
    assert!(was.lines().skip(1).all(|l| now.contains(l)), "{now}");
    let checked = Command::new(env!("CARGO_BIN_EXE_quarterlight")).arg("check").arg(lot.path()).output().expect("runs");
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stdout));
    served.plan();
    let page = served.read("/fell?tube=G2").text();
    assert!(page.contains("31 122 214 300.5") && page.contains("On the pieces as they fell"), "{page}");
    let bad = served.form("/fell", "tube=G2&split=31+122").header("location").expect("back");
    assert!(bad.contains("refused=2%20split%20lines"), "{bad}");
    assert_eq!(fs::read_to_string(lot.path().join("cuts.csv")).expect("cuts"), now);
    assert!(served.read("/").text().contains("3 got"), "{}", served.read("/").text());
}

#[test]
fn strangers_are_turned_away() {
    let lot = copy_of("grid");
    let before = files(lot.path());
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let (port, token) = (served.port, served.token());
    let raw = |text: String| served.raw(text.as_bytes()).map_or(0, |a| a.code);
    // a page elsewhere that has its own name point here
    for host in ["evil.test", &format!("evil.test:{port}"), "127.0.0.1:1", ""] {
        assert_eq!(raw(format!("GET / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")), 421, "{host}");
    }
    let twice = format!("GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: evil.test\r\nConnection: close\r\n\r\n");
    assert!([400, 421].contains(&raw(twice)));
    let cell = format!(
        "{{\"token\":{token:?},\"tube\":\"G2\",\"cells\":[{{{},\"text\":\"25\",\"was\":\"\"}}]}}",
        at("diameter", 100.0, 0.0)
    );
    let post = |head: &str, kind: &str, body: &str| served.post_with("/cells", kind, body.as_bytes(), head).code;
    // sent from another site, with the token even
    for head in ["Origin: http://evil.test\r\n", "Origin: null\r\n", "Sec-Fetch-Site: cross-site\r\n"] {
        assert_eq!(post(head, "application/json", &cell), 403, "{head}");
    }
    assert_eq!(post("", "text/plain", &cell), 415, "a form can send that from anywhere");
    assert_eq!(post("", "application/json", &cell.replace(&token, "0123")), 403);
    assert_eq!(post("", "application/json", "{"), 400);
    assert_eq!(post("", "application/json", &"x".repeat(300_000)), 413);
    for path in ["/tubes", "/minutes", "/fell", "/cautions", "/ends/take"] {
        let refused = served.post_with(path, "application/x-www-form-urlencoded", b"tube=X&length=200&token=no", "");
        assert_eq!(refused.code, 403, "{path}");
    }
    assert_eq!(served.post_with("/ends/picture?name=x.png", "image/png", b"x", "X-Token: no\r\n").code, 403);
    assert_eq!(raw(format!("DELETE / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n")), 405);
    for path in [
        "/../../etc/passwd",
        "/%2e%2e/lot.toml",
        "/lot.toml",
        "/card?tube=../../etc/passwd",
        "/strip.pdf?tube=%00",
        "/measure?tube=",
    ] {
        assert_eq!(served.read(path).code, 404, "{path}");
    }
    let policy = served.get("/").header("content-security-policy").expect("a policy");
    assert!(!policy.contains("unsafe") && policy.contains("frame-ancestors 'none'"), "{policy}");
    // back from the cautions within these pages only
    for back in ["http%3A%2F%2Fevil.test", "%2F%2Fevil.test", "%2F%5Cevil.test"] {
        assert_eq!(served.form("/cautions", &format!("back={back}")).header("location").as_deref(), Some("/"));
    }
    assert_eq!(files(lot.path()), before, "nothing was written");
}

#[test]
fn another_device_needs_the_code_and_the_code_works_once() {
    let lot = copy_of("grid");
    let served = Served::of(lot.path(), &["--draws", "20", "--address", "0.0.0.0"]);
    let code = served.said.trim_end().rsplit(' ').next().expect("a code").to_string();
    // this computer itself needs none, and its address is one that a browser opens
    assert!(served.said.contains("http://127.0.0.1:"), "{}", served.said);
    assert_eq!(served.get("/").code, 200);
    // where this computer has another address a connection to it comes from there: as one of another device does
    let outside = served.said.split("http://").nth(2).and_then(|r| r.split('/').next());
    if let Some(outside) = outside {
        let shut = served.raw_at(outside, &format!("GET / HTTP/1.1\r\nHost: {outside}\r\nConnection: close\r\n\r\n"));
        assert_eq!((shut.code, shut.header("location").as_deref()), (303, Some("/code")));
        let post = "Content-Type: application/json\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{}";
        assert_eq!(served.raw_at(outside, &format!("POST /cells HTTP/1.1\r\nHost: {outside}\r\n{post}")).code, 401);
    }
    assert!(served.get("/code").text().contains("Type the code"));
    let try_it = |code: &str| {
        served.post_with("/code", "application/x-www-form-urlencoded", format!("code={code}").as_bytes(), "")
    };
    assert_eq!(try_it("0000000000").code, 403);
    let pass = try_it(&code).header("set-cookie").expect("a pass");
    assert!(pass.contains("HttpOnly") && pass.contains("SameSite=Strict"), "{pass}");
    let cookie = pass.split(';').next().expect("a cookie").to_string();
    assert_eq!(served.get_with("/", &format!("Cookie: {cookie}\r\n")).code, 200);
    if let Some(outside) = outside {
        let head = format!("GET / HTTP/1.1\r\nHost: {outside}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n");
        assert_eq!(served.raw_at(outside, &head).code, 200);
    }
    assert_eq!(try_it(&code).code, 403, "once");
}

#[test]
fn a_lot_that_is_broken_while_it_is_open_says_so_and_goes_on_when_it_is_mended() {
    let lot = copy_of("grid");
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let path = lot.path().join("readings.csv");
    let good = fs::read_to_string(&path).expect("readings");
    fs::write(&path, good.replace("G1;runout;5,00;-1,04", "G1;runout;500;-1,04")).expect("saved");
    let page = served.get("/").text();
    assert!(page.contains("at most the tube") && page.contains("readings.csv, line 2"), "{page}");
    fs::write(&path, &good).expect("saved");
    assert!(!served.get("/").text().contains("at most the tube"));
    let begun = Instant::now();
    while !served.read("/answer?tube=G1").text().contains("Split at") {
        assert!(begun.elapsed() < Duration::from_secs(60));
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn papers_of_files_as_they_were_are_refused_with_the_reason() {
    let lot = copy_of("grid");
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let until = |what: &str, holds: &dyn Fn() -> bool| {
        let begun = Instant::now();
        while !holds() {
            assert!(begun.elapsed() < Duration::from_secs(60), "{what}");
            std::thread::sleep(Duration::from_millis(100));
        }
    };
    until("a plan", &|| served.get("/bench-list.pdf").code == 200);
    let toml = lot.path().join("lot.toml");
    let good = fs::read_to_string(&toml).expect("settings");
    fs::write(&toml, format!("{good}\n[population]\nnosuch = 1.0\n")).expect("saved");
    until("the fault on the page of papers", &|| served.get("/print").text().contains("nosuch"));
    for paper in ["/bench-list.pdf", "/strips.pdf", "/report.html", "/plan.json"] {
        let refused = served.get(paper);
        assert!(refused.code == 503 && refused.text().contains("nosuch"), "{paper}: {}", refused.text());
    }
}

#[test]
fn stopped_at_any_moment_the_lot_is_whole_and_holds_all_that_was_answered() {
    let lot = copy_of("grid");
    let mut kept: Vec<(u32, String)> = Vec::new();
    for round in 0..6_u32 {
        let served = Served::of(lot.path(), &["--draws", "20"]);
        let token = served.token();
        let typed = std::thread::scope(|s| {
            let writer = s.spawn(|| {
                let mut done = Vec::new();
                for i in 0..400_u32 {
                    let z = f64::from(round * 10 + i % 10) * 2.0 + 1.0;
                    let deg = f64::from(i / 10) * 4.0;
                    let body = format!(
                        "{{\"token\":{token:?},\"tube\":\"G2\",\"cells\":[{{{},\"text\":\"25.{i:03}\",\"was\":\"\"}}]}}",
                        at("diameter", z, deg)
                    );
                    let head = format!(
                        "POST /cells HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
                        served.port,
                        body.len()
                    );
                    match served.raw(format!("{head}{body}").as_bytes()) {
                        Some(a) if a.code == 200 && a.text().contains("kept") => done.push((i, format!("{z},{deg},25.{i:03}"))),
                        _ => break,
                    }
                }
                done
            });
            std::thread::sleep(Duration::from_millis(u64::from(60 + 55 * round)));
            let _ = Command::new("kill").args(["-9", &served.id().to_string()]).status();
            writer.join().expect("typed")
        });
        kept.extend(typed);
        let text = fs::read_to_string(lot.path().join(TYPED)).unwrap_or_default();
        for (_, row) in &kept {
            assert!(text.contains(row), "{row} was answered and is gone");
        }
        assert!(text.is_empty() || text.ends_with('\n'), "half a row");
    }
    assert!(kept.len() > 20, "only {} readings were typed", kept.len());
    let checked = Command::new(env!("CARGO_BIN_EXE_quarterlight")).arg("check").arg(lot.path()).output().expect("runs");
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stdout));
}

#[test]
fn a_new_lot_asks_for_lengths_and_then_for_first_readings() {
    let dir = tempfile::tempdir().expect("a folder");
    let lot = dir.path().join("new");
    let made = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .arg("new")
        .arg(&lot)
        .args(["--tubes", "2"])
        .output()
        .expect("runs");
    assert!(made.status.success());
    let served = Served::of(&lot, &["--draws", "20"]);
    let page = served.read("/measure?tube=T01").text();
    assert!(page.contains("its length") && !page.contains("data-step"), "{page}");
    let kept = served.form("/tubes", "tube=T01&length=205&weight=30");
    assert_eq!(kept.header("location").as_deref(), Some("/measure?tube=T01"), "{}", kept.text());
    let page = served.read("/measure?tube=T01").text();
    assert!(page.contains("data-step") && !page.contains("id=\"stop\""), "nobody stops before he began: {page}");
    assert!(page.contains("bar of 70 mm"), "the bar that the lot names: {page}");
}

#[test]
fn what_is_no_folder_of_a_lot_is_refused_before_a_page_is_promised() {
    let sample = |name: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(name);
    for (path, why) in [(sample("lone-readings.csv"), "is no folder"), (sample("nothing here"), "no file or folder")] {
        let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight")).arg("bench").arg(path).output().expect("runs");
        let said = String::from_utf8_lossy(&ran.stderr);
        assert!(ran.status.code() == Some(1) && said.contains(why), "{said}");
    }
}
