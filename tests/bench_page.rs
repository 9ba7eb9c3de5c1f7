//! `bench` in a real browser: a tube added, measured as advised, split, cut; and a picture of ends dropped on the page.
//!
//! Skipped with a note where Chromium or its driver is not installed.

#[path = "support/browser_flags.rs"]
mod browser_flags;
#[path = "support/served.rs"]
mod served;

use browser_flags::QUIET;
use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder, Locator};
use served::{Served, copy_of};
use std::net::TcpListener;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const ENTER: &str = "\u{E007}";

/// The driver; ended when it is dropped.
struct Driver {
    child: Child,
    port: u16,
    // the browser's own folder
    _profile: tempfile::TempDir,
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn runs(name: &str) -> bool {
    Command::new(name).arg("--version").output().is_ok_and(|o| o.status.success())
}

/// A driver, or why there is none; where the outside tools were promised (`QUARTERLIGHT_TOOLS=required`) that is a failure.
fn driver() -> Option<Driver> {
    if !runs("chromedriver") || !runs("chromium") {
        let why = "no Chromium or no driver of it here";
        assert!(std::env::var("QUARTERLIGHT_TOOLS").as_deref() != Ok("required"), "{why}");
        println!("skipped: {why}");
        return None;
    }
    let port = TcpListener::bind("127.0.0.1:0").and_then(|l| l.local_addr()).expect("a free port").port();
    let child = Command::new("chromedriver")
        .arg(format!("--port={port}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the driver starts");
    Some(Driver { child, port, _profile: tempfile::tempdir().expect("a folder") })
}

/// A browser of this width; of a narrow one the screen of a phone.
async fn browser(driver: &Driver, width: u32) -> Client {
    let mut args: Vec<String> = QUIET.into_iter().chain(["--disable-dev-shm-usage"]).map(String::from).collect();
    args.push(format!("--window-size={width},900"));
    args.push(format!("--user-data-dir={}", driver._profile.path().join(width.to_string()).display()));
    let mut wanted = Capabilities::new();
    let mut options = serde_json::json!({ "args": args });
    if width < 500 {
        options["mobileEmulation"] =
            serde_json::json!({ "deviceMetrics": { "width": width, "height": 740, "pixelRatio": 2.0 } });
    }
    wanted.insert("goog:chromeOptions".into(), options);
    let begun = Instant::now();
    loop {
        match ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(wanted.clone())
            .connect(&format!("http://127.0.0.1:{}", driver.port))
            .await
        {
            Ok(client) => return client,
            Err(e) if begun.elapsed() < Duration::from_secs(30) => {
                let _ = e;
                tokio::time::sleep(Duration::from_millis(200)).await;
            }
            Err(e) => panic!("no browser: {e}"),
        }
    }
}

/// Looks until it is so.
async fn until(page: &Client, what: &str, script: &str) -> serde_json::Value {
    let begun = Instant::now();
    loop {
        let said = page.execute(&format!("return {script};"), vec![]).await.expect("the script runs");
        if said.as_bool() != Some(false) && !said.is_null() {
            return said;
        }
        if begun.elapsed() > Duration::from_secs(60) {
            let text = page.execute("return document.body.innerText", vec![]).await.expect("text");
            panic!("{what} does not come:\n{text}");
        }
        tokio::time::sleep(Duration::from_millis(40)).await;
    }
}

/// Presses a button that leads to another page, and waits until that is there.
async fn leave(page: &Client, button: &str) {
    page.execute("document.body.dataset.left = 'yes';", vec![]).await.expect("marked");
    page.find(Locator::Css(button)).await.expect("there").click().await.expect("pressed");
    until(page, "the next page", "document.readyState === 'complete' && !document.body.dataset.left").await;
}

/// What an instrument would read on a tube of our own: an oval that a bow goes through, 190 mm long.
fn reading(kind: &str, z: f64, deg: f64) -> f64 {
    let radius = |a: f64| 12.75 + 0.2 * (2.0 * (a - 40.0)).to_radians().cos();
    let centre = |z: f64| 0.8 * (4.0 * z * (190.0 - z) / (190.0 * 190.0) - 0.5);
    let height = |z: f64| radius(deg) + centre(z) * (deg - 70.0).to_radians().cos();
    match kind {
        // an oval is as wide across a direction as both radii along it, to second order
        "diameter" => 2.0 * radius(deg),
        "bridge" => height(z) - 0.5 * (height(z - 35.0) + height(z + 35.0)),
        "wall" => 3.6,
        _ => height(z) - 12.0,
    }
}

#[tokio::test(flavor = "current_thread")]
async fn a_tube_is_added_measured_as_advised_with_a_slip_split_and_cut() {
    let Some(driver) = driver() else { return };
    let lot = copy_of("grid");
    let served = Served::of(lot.path(), &["--draws", "40"]);
    let page = browser(&driver, 1000).await;
    let base = format!("http://127.0.0.1:{}", served.port);
    page.goto(&base).await.expect("the page");
    // by the keyboard alone: the form opens, is filled and sent
    page.find(Locator::Css("summary")).await.expect("there").send_keys(ENTER).await.expect("opened");
    for (name, text) in [("tube", "N1"), ("length", "190"), ("weight", "1 oz")] {
        let field = page.find(Locator::Css(&format!("input[name={name}]"))).await.expect("a field");
        field.send_keys(text).await.expect("typed");
    }
    page.find(Locator::Css("input[name=weight]")).await.expect("there").send_keys(ENTER).await.expect("sent");
    until(&page, "the first prompt", "!!document.querySelector('[data-step]:not(.hidden) input.cell')").await;
    let now = "document.querySelector('[data-step]:not(.hidden) input.cell')";
    let (mut typed, mut slipped) = (0, false);
    let begun = Instant::now();
    loop {
        assert!(begun.elapsed() < Duration::from_secs(240), "{typed} readings and no end");
        let at = until(
            &page,
            "a prompt or an end",
            &format!(
                "(() => {{ const c = {now}; if (c) return c.dataset.at; \
             const d = document.getElementById('done'); \
             const more = [...document.querySelectorAll('a.press')].find((a) => a.textContent.includes('take these')); \
             if (document.getElementById('stop')) return 'stop'; \
             if (more) return 'more'; return d && d.innerText.trim() ? 'over' : null; }})()"
            ),
        )
        .await;
        let at = at.as_str().expect("text");
        if at == "stop" || at == "over" || (at == "more" && typed > 40) {
            break;
        }
        if at == "more" {
            page.find(Locator::Css("a.press")).await.expect("there").click().await.expect("on");
            until(&page, "the next round", &format!("!!{now}")).await;
            continue;
        }
        let at: serde_json::Value = serde_json::from_str(at).expect("JSON");
        let (kind, z, deg) =
            (at["kind"].as_str().expect("a kind"), at["z"].as_f64().expect("z"), at["angle"].as_f64().expect("deg"));
        let value = reading(kind, z, deg);
        let step = until(&page, "a place", "document.getElementById('count').textContent").await;
        if !slipped {
            // a slip of the decimal mark is refused at once, with the reason, and the place is kept
            let slip = if kind == "diameter" { "2.55" } else { "255" };
            page.active_element()
                .await
                .expect("a cell has the keys")
                .send_keys(&format!("{slip}{ENTER}"))
                .await
                .expect("typed");
            let why = until(
                &page,
                "a reason",
                "document.querySelector('[data-step]:not(.hidden) .said').textContent || null",
            )
            .await;
            assert!(why.as_str().is_some_and(|w| w.starts_with("Not kept")), "{why}");
            let still = until(&page, "the place", "document.getElementById('count').textContent").await;
            assert_eq!(still, step, "the place is kept");
            page.execute(&format!("{now}.select()"), vec![]).await.expect("chosen");
            slipped = true;
        }
        // a decimal comma is one
        let text = format!("{value:.2}").replace('.', ",");
        page.active_element()
            .await
            .expect("a cell has the keys")
            .send_keys(&format!("{text}{ENTER}"))
            .await
            .expect("typed");
        typed += 1;
        until(&page, "the next place", &format!("document.getElementById('count').textContent !== {step} || !{now}"))
            .await;
    }
    assert!(typed >= 4, "{typed} readings were asked for");
    // the cautions come before the first card
    page.goto(&format!("{base}/card?tube=N1")).await.expect("the page");
    assert!(page.source().await.expect("a page").contains("Eyes"), "no cautions");
    page.find(Locator::Css("#read")).await.expect("there").click().await.expect("read");
    let angle = until(&page, "the split angle", "document.getElementById('angle')?.innerText ?? null").await;
    let angle: f64 =
        angle.as_str().and_then(|a| a.strip_prefix("Split at ")?.split('°').next()?.parse().ok()).expect("an angle");
    // what came of it, one reason by one tap
    page.goto(&format!("{base}/fell?tube=N1")).await.expect("the page");
    let lines: Vec<String> = (0..4).map(|i| format!("{}", (angle + 2.0 + 90.0 * f64::from(i)) % 360.0)).collect();
    page.find(Locator::Css("input[name=split]"))
        .await
        .expect("there")
        .send_keys(&lines.join(" "))
        .await
        .expect("typed");
    for (i, n) in [2, 1, 2, 0].iter().enumerate() {
        let field = page.find(Locator::Css(&format!("input[name=blanks{}]", i + 1))).await.expect("there");
        field.send_keys(&n.to_string()).await.expect("typed");
    }
    let reason = page.find(Locator::Css("input[name=got0][value=rock]")).await;
    if let Ok(reason) = &reason {
        reason.click().await.expect("tapped");
    }
    leave(&page, "form button.main").await;
    until(&page, "the page again", "document.querySelector('input[name=split]')?.value.includes(' ') ?? false").await;
    // all of it is there after another start of the program, and the command line says the same
    let stored = std::fs::read_to_string(lot.path().join("readings-bench.csv")).expect("kept");
    assert_eq!(stored.lines().count(), typed + 1, "{stored}");
    let plan = served.plan();
    served.kill();
    let again = Served::of(lot.path(), &["--draws", "40"]);
    let list = again.read("/").text();
    assert!(list.contains("5 got") && list.contains("N1"), "{list}");
    assert_eq!(again.plan(), plan);
    let ran = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
        .args(["split", "--json", "--draws", "40"])
        .arg(lot.path())
        .output()
        .expect("runs");
    assert_eq!(plan.trim_end(), String::from_utf8_lossy(&ran.stdout).trim_end());
    let page_now = again.read("/fell?tube=N1").text();
    assert!(page_now.contains(&lines.join(" ")), "{page_now}");
    if reason.is_ok() {
        let cuts = std::fs::read_to_string(lot.path().join("cuts.csv")).expect("cuts");
        assert!(cuts.contains(";no;rock"), "{cuts}");
    }
    // nothing of any page was wider than a phone, and no page's script failed
    let phone = browser(&driver, 360).await;
    for path in [
        "/card?tube=G1",
        "/",
        "/measure?tube=N1",
        "/measure?tube=G1&with=dial",
        "/fell?tube=G1",
        "/piles",
        "/lots",
        "/ends",
        "/print",
    ] {
        phone.goto(&format!("http://127.0.0.1:{}{path}", again.port)).await.expect("the page");
        if let Ok(read) = phone.find(Locator::Css("#read")).await {
            read.click().await.expect("read");
        }
        let wide = phone
            .execute("return [document.documentElement.scrollWidth, window.innerWidth];", vec![])
            .await
            .expect("measured");
        assert!(wide[0].as_f64().is_some_and(|w| w <= 360.0), "{path} is {wide} wide");
        // every field has a name for those who cannot see it, and nothing is smaller than a finger
        let bare = phone
            .execute(
                "return [...document.querySelectorAll('input:not([type=hidden]),select,button')].filter((e) => \
                 !(e.getAttribute('aria-label') || e.closest('label') || e.textContent)).map((e) => e.outerHTML);",
                vec![],
            )
            .await
            .expect("listed");
        assert_eq!(bare.as_array().map(Vec::len), Some(0), "{path}: {bare}");
    }
    phone.close().await.expect("closed");
    page.close().await.expect("closed");
}

#[tokio::test(flavor = "current_thread")]
async fn a_picture_of_ends_is_dropped_named_and_taken() {
    let Some(driver) = driver() else { return };
    let lot = copy_of("grid");
    let picture = lot.path().join("glass.png");
    std::fs::write(&picture, glass()).expect("a picture");
    let served = Served::of(lot.path(), &["--draws", "20"]);
    let page = browser(&driver, 1000).await;
    page.goto(&format!("http://127.0.0.1:{}/ends", served.port)).await.expect("the page");
    let chosen = page.find(Locator::Css("input[type=file]")).await.expect("there");
    chosen.send_keys(&picture.display().to_string()).await.expect("chosen");
    until(
        &page,
        "the numbered rings",
        "document.querySelectorAll('select').length === 2 && document.querySelector('img.glass').naturalWidth > 0",
    )
    .await;
    page.find(Locator::Css("select[name=ring2]"))
        .await
        .expect("there")
        .select_by_value("far G1")
        .await
        .expect("chosen");
    leave(&page, "form button.main").await;
    let said = until(&page, "what was written", "document.querySelector('pre')?.innerText ?? null").await;
    assert!(said.as_str().is_some_and(|s| s.contains("readings-ends-glass.csv written")), "{said}");
    let table = std::fs::read_to_string(lot.path().join("readings-ends-glass.csv")).expect("readings");
    assert!(table.contains("G1,outline,0") && table.contains("G1,outline,214.76"), "{table}");
    assert!(lot.path().join("ends-glass.png").exists());
    page.close().await.expect("closed");
}

/// Two rings on a dark glass at 300 dots an inch, each 25.4 mm wide with a bore, a tick at its right.
fn glass() -> Vec<u8> {
    let (width, height) = (900_u16, 450_u16);
    let at = |x: u16, y: u16| usize::from(y) * usize::from(width) + usize::from(x);
    let mut grey = vec![30_u8; usize::from(width) * usize::from(height)];
    for (cx, cy) in [(230.0, 225.0), (670.0, 225.0)] {
        for y in 0..height {
            for x in 0..width {
                let (dx, dy) = (f64::from(x) - cx, f64::from(y) - cy);
                let r = dx.hypot(dy);
                // edges one pixel soft, as a scanner sees them
                let inside = |edge: f64| (edge - r + 0.5).clamp(0.0, 1.0);
                let ring = inside(150.0) - inside(108.0);
                let tick = if dx > 112.0 && dx < 146.0 && dy.abs() < 3.0 { 0.75 } else { 0.0 };
                let light = 30.0 + ring * 190.0 * (1.0 - tick);
                if ring > 0.0 {
                    grey[at(x, y)] = (0..=255_u8).find(|g| f64::from(*g) >= light).unwrap_or(255);
                }
            }
        }
    }
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, u32::from(width), u32::from(height));
    encoder.set_color(png::ColorType::Grayscale);
    // 300 dots an inch are 11811 a metre
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: 11811, yppu: 11811, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header().expect("a head");
    writer.write_image_data(&grey).expect("pixels");
    writer.finish().expect("an end");
    out
}
