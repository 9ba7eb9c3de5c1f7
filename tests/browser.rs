//! The report in a real browser: no console errors, nothing fetched, nothing wider than a phone.
//!
//! Skipped with a note where no Chromium is installed (name another one in `CHROMIUM`).

#[path = "support/browser_flags.rs"]
mod browser_flags;

use browser_flags::QUIET;
use std::path::Path;
use std::process::Command;

/// A Chromium that runs, if there is one.
fn chromium() -> Option<String> {
    let named = std::env::var("CHROMIUM").ok();
    let names = named.into_iter().chain(["chromium", "chromium-browser", "google-chrome"].map(String::from));
    names.into_iter().find(|n| Command::new(n).arg("--version").output().is_ok_and(|o| o.status.success()))
}

/// Opens `page` and returns the DOM after loading and what the browser wrote to its log.
fn open(browser: &str, page: &Path, width: u32) -> (String, String) {
    let profile = tempfile::tempdir().expect("a folder");
    let flags = ["--enable-logging=stderr", "--v=0", "--virtual-time-budget=3000", "--allow-file-access-from-files"];
    let out = Command::new(browser)
        .args(QUIET)
        .args(flags)
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--window-size={width},900"))
        .arg("--dump-dom")
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("the browser runs");
    (String::from_utf8_lossy(&out.stdout).into(), String::from_utf8_lossy(&out.stderr).into())
}

fn console(log: &str) -> Vec<&str> {
    log.lines().filter(|l| l.contains("CONSOLE")).collect()
}

/// Says what was not done; where the outside tools were promised (`QUARTERLIGHT_TOOLS=required`) that is a failure.
fn skip(why: &str) {
    assert!(std::env::var("QUARTERLIGHT_TOOLS").as_deref() != Ok("required"), "{why}");
    println!("skipped: {why}");
}

#[test]
fn the_report_opens_without_console_errors_and_fits_a_phone() {
    let Some(browser) = chromium() else {
        skip("no Chromium here");
        return;
    };
    let dir = tempfile::tempdir().expect("a folder");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .arg("report")
        .arg(root.join("data-samples/inches"))
        .arg("--out")
        .arg(dir.path())
        .args(["--draws", "40"])
        .status()
        .expect("runs");
    assert!(ran.success());
    let (dom, log) = open(&browser, &dir.path().join("report.html"), 1280);
    assert!(dom.contains("Splitting plan of lot"), "the page did not load:\n{log}");
    assert!(console(&log).is_empty(), "{:#?}", console(&log));
    // a window narrower than 500 px is not to be had without a frame: the frame measures the page and says so
    for width in [360, 390, 1280] {
        let frame = dir.path().join("frame.html");
        let text = format!(
            "<!DOCTYPE html><title>f</title><iframe id=f src=report.html style=\"width:{width}px;height:700px;border:0\">\
             </iframe><p id=said></p><script>onload=()=>{{const d=document.getElementById('f').contentDocument.documentElement;\
             document.getElementById('said').textContent='widest '+d.scrollWidth}}</script>"
        );
        std::fs::write(&frame, text).expect("written");
        let (dom, log) = open(&browser, &frame, 1400);
        assert!(console(&log).is_empty(), "{:#?}", console(&log));
        let said = dom.split("widest ").nth(1).and_then(|s| s.split('<').next()).unwrap_or("nothing");
        let widest: u32 = said.parse().unwrap_or_else(|_| panic!("the frame said {said:?}\n{log}"));
        assert!(widest <= width, "{width} px: the page is {widest} px wide");
    }
}

#[test]
fn the_browser_check_notices_an_error() {
    let Some(browser) = chromium() else {
        skip("no Chromium here");
        return;
    };
    let dir = tempfile::tempdir().expect("a folder");
    let page = dir.path().join("bad.html");
    std::fs::write(&page, "<!DOCTYPE html><title>b</title><script>null.x</script>").expect("written");
    let (_, log) = open(&browser, &page, 1280);
    assert!(!console(&log).is_empty(), "an error on the page went unnoticed:\n{log}");
}

/// Pages of a PDF whose objects stand in it as they are.
fn pages(pdf: &Path) -> usize {
    let bytes = std::fs::read(pdf).unwrap_or_else(|e| panic!("{}: {e}", pdf.display()));
    let text = String::from_utf8_lossy(&bytes);
    ["/Type /Page", "/Type/Page"]
        .iter()
        .map(|sign| text.matches(sign).count() - text.matches(&format!("{sign}s")).count())
        .sum()
}

#[test]
fn the_printed_report_of_the_demo_takes_thirty_pages_with_its_bench_list() {
    let Some(browser) = chromium() else {
        skip("no Chromium here");
        return;
    };
    let dir = tempfile::tempdir().expect("a folder");
    let lot = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples/demo");
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .arg("report")
        .arg(lot)
        .args(["--paper", "letter", "--out"])
        .arg(dir.path())
        .output()
        .expect("runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let (profile, pdf) = (tempfile::tempdir().expect("a folder"), dir.path().join("report.pdf"));
    let out = Command::new(browser)
        .args(QUIET)
        .arg("--no-pdf-header-footer")
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", dir.path().join("report.html").display()))
        .output()
        .expect("the browser runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let (report, list) = (pages(&pdf), pages(&dir.path().join("bench-list.pdf")));
    // 23 cards, and a page at least before and after them
    assert!(report >= 25 && list >= 1, "{report} and {list} pages are too few to be true");
    assert!(report + list <= 30, "{report} and {list} pages");
}
