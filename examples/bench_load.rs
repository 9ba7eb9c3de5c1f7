//! How a running `bench` bears many hands, and requests that no page sends.
//!
//! ```text
//! quarterlight bench LOT --port 7245                                    in one window, LOT a copy
//! cargo run --release --example bench_load -- 7245 LOT type 50 30 1.0   50 clients type for 30 s, a reading a second each
//! cargo run --release --example bench_load -- 7245 LOT hostile 100000   so many odd requests
//! ```
//!
//! Typing says how long a save and the card after it took (median, 95 %, longest) and whether every reading that was answered
//! stands in the file. Odd requests are made from a seed; afterwards the page must answer and the lot's files be as before.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Tubes whose readings the clients type.
const TUBES: usize = 20;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize, or: f64| args.get(i).and_then(|a| a.parse().ok()).unwrap_or(or);
    let (port, lot) = (
        args.first().and_then(|p| p.parse().ok()).unwrap_or(7245),
        PathBuf::from(args.get(1).map_or(".", String::as_str)),
    );
    match args.get(2).map(String::as_str) {
        Some("hostile") => hostile(port, &lot, number(3, 1e5)),
        _ => typing(
            port,
            &lot,
            number(3, 50.0),
            Duration::from_secs_f64(number(4, 30.0)),
            Duration::from_secs_f64(number(5, 1.0)),
        ),
    }
}

/// A request on a connection of its own, and what came back.
fn ask(port: u16, bytes: &[u8]) -> Option<(u16, String)> {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(30))).ok()?;
    stream.write_all(bytes).ok()?;
    let mut all = Vec::new();
    stream.read_to_end(&mut all).ok()?;
    let text = String::from_utf8_lossy(&all).into_owned();
    let code = text.split(' ').nth(1)?.parse().ok()?;
    Some((code, text))
}

fn get(port: u16, path: &str) -> Option<(u16, String)> {
    let head = format!(
        "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\nCookie: bench-cautions=read\r\n\r\n"
    );
    ask(port, head.as_bytes())
}

fn token(port: u16) -> String {
    let page = get(port, "/").map(|p| p.1).unwrap_or_default();
    page.split("name=\"token\" content=\"").nth(1).and_then(|r| r.split('"').next()).unwrap_or("").to_string()
}

fn post(port: u16, path: &str, kind: &str, body: &str) -> Option<(u16, String)> {
    let n = body.len();
    let head = format!(
        "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\nContent-Type: {kind}\r\nContent-Length: {n}\r\n\r\n"
    );
    ask(port, format!("{head}{body}").as_bytes())
}

fn typing(port: u16, lot: &Path, clients: f64, long: Duration, pause: Duration) {
    let token = token(port);
    for t in 0..TUBES {
        let body = format!("token={token}&tube=L{t}&length=200");
        post(port, "/tubes", "application/x-www-form-urlencoded", &body);
    }
    let begun = Instant::now();
    let hands: Vec<_> = (0_u32..)
        .take_while(|c| f64::from(*c) < clients)
        .map(|c| {
            let token = token.clone();
            std::thread::spawn(move || {
                let tube = format!("L{}", c as usize % TUBES);
                let (mut saves, mut cards, mut rows, mut behind) = (Vec::new(), Vec::new(), Vec::new(), 0_u32);
                std::thread::sleep(pause.mul_f64(f64::from(c) / clients));
                for i in 0_u32.. {
                    if begun.elapsed() > long {
                        break;
                    }
                    let turn = Instant::now();
                    // a place of its own for every client and reading
                    let (z, deg) = (f64::from(5 + 10 * (i / 12)) + f64::from(c) / 10.0, f64::from(i % 12) * 15.0);
                    let value = format!("{:.2}", 25.4 + 0.3 * (2.0 * (deg - 40.0)).to_radians().cos());
                    let body = format!(
                        "{{\"token\":{token:?},\"tube\":{tube:?},\"cells\":[{{\"kind\":\"diameter\",\"z\":{z},\"angle\":{deg},\"set\":\"\",\"rig\":\"\",\"span\":null,\"text\":{value:?},\"was\":\"\"}}]}}"
                    );
                    let answer = post(port, "/cells", "application/json", &body);
                    saves.push(turn.elapsed().as_secs_f64());
                    if answer.is_some_and(|a| a.0 == 200 && a.1.contains("\"kept\"")) {
                        rows.push(format!("{tube},diameter,{z},{deg},"));
                    }
                    let after = Instant::now();
                    if let Some((200, card)) = get(port, &format!("/answer?tube={tube}")) {
                        cards.push(after.elapsed().as_secs_f64());
                        behind += u32::from(card.contains("x-stage: behind"));
                    }
                    std::thread::sleep(pause.saturating_sub(turn.elapsed()));
                }
                (saves, cards, rows, behind)
            })
        })
        .collect();
    let (mut saves, mut cards, mut rows, mut behind) = (Vec::new(), Vec::new(), Vec::new(), 0);
    for hand in hands {
        let (s, c, r, b) = hand.join().unwrap_or_default();
        behind += b;
        saves.extend(s);
        cards.extend(c);
        rows.extend(r);
    }
    let text = fs::read_to_string(lot.join("readings-bench.csv")).unwrap_or_default();
    let lost = rows.iter().filter(|r| !text.contains(r.as_str())).count();
    println!("{} readings sent, {} answered as kept, {lost} of those not in the file", saves.len(), rows.len());
    println!("save  {}", told(saves));
    println!("card  {}; {behind} of {} without the last readings, and saying so", told(cards.clone()), cards.len());
}

fn told(mut seconds: Vec<f64>) -> String {
    seconds.sort_by(f64::total_cmp);
    let at = |part: usize| {
        seconds.get((seconds.len() * part / 100).min(seconds.len().saturating_sub(1))).map_or(f64::NAN, |s| 1000.0 * s)
    };
    format!("median {:.0} ms, 95 % {:.0} ms, longest {:.0} ms", at(50), at(95), at(100))
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path());
    entries.filter_map(|p| Some((p.clone(), fs::read(&p).ok()?))).collect()
}

/// A word that a request may be made of.
fn word(r: &mut ChaCha8Rng) -> String {
    const WORDS: [&str; 24] = [
        "/",
        "/card",
        "/answer",
        "/cells",
        "/fell",
        "/ends/picture",
        "/../..",
        "%2e%2e/",
        "?tube=",
        "T02",
        "%00",
        "%ff",
        "&more=1",
        "=",
        "token",
        "\u{e9}",
        "{\"token\":",
        "[[[[",
        "\"",
        "1e999",
        "NaN",
        "-1",
        "lot.toml",
        "/strip.pdf",
    ];
    let n = r.random_range(0..WORDS.len());
    if r.random_range(0..12) == 0 { "A".repeat(r.random_range(1..5000)) } else { WORDS[n].to_string() }
}

fn hostile(port: u16, lot: &Path, many: f64) {
    let (before, token) = (files(lot), token(port));
    let mut codes: BTreeMap<u16, u64> = BTreeMap::new();
    let threads: Vec<_> = (0..4_u64)
        .map(|t| {
            let token = token.clone();
            std::thread::spawn(move || {
                let mut r = ChaCha8Rng::seed_from_u64(t);
                let mut codes: BTreeMap<u16, u64> = BTreeMap::new();
                let mut done = 0.0;
                while done < many / 4.0 {
                    done += 1.0;
                    let bytes = odd(&mut r, port, &token);
                    // some say nothing, or half of it, and go
                    if r.random_range(0..20) == 0 {
                        if let Ok(mut stream) = TcpStream::connect(("127.0.0.1", port)) {
                            let half = bytes.len() / 2;
                            let _ = stream.write_all(&bytes[..half]);
                        }
                        *codes.entry(0).or_default() += 1;
                        continue;
                    }
                    let code = ask(port, &bytes).map_or(1, |a| a.0);
                    *codes.entry(code).or_default() += 1;
                }
                codes
            })
        })
        .collect();
    for t in threads {
        for (code, n) in t.join().unwrap_or_default() {
            *codes.entry(code).or_default() += n;
        }
    }
    println!("answers by status (0: gone before it was sent, 1: closed without an answer): {codes:?}");
    println!(
        "the page answers: {}; files as before: {}",
        get(port, "/").is_some_and(|a| a.0 == 200),
        files(lot) == before
    );
}

/// One odd request; none of them is one that a page sends.
fn odd(r: &mut ChaCha8Rng, port: u16, token: &str) -> Vec<u8> {
    const METHODS: [&str; 8] = ["GET", "GET", "POST", "POST", "HEAD", "PUT", "OPTIONS", "\u{7f}"];
    const KINDS: [&str; 4] = ["application/json", "application/x-www-form-urlencoded", "text/plain", "\u{e9}"];
    let method = METHODS[r.random_range(0..METHODS.len())];
    let path: String = std::iter::once("/".to_string()).chain((0..r.random_range(0..4)).map(|_| word(r))).collect();
    let host = match r.random_range(0..8) {
        0 => "evil.test".to_string(),
        1 => String::new(),
        _ => format!("127.0.0.1:{port}"),
    };
    let body: String = match r.random_range(0..4) {
        // of the right form, with what cannot be
        0 => format!(
            "{{\"token\":\"{token}\",\"tube\":\"{}\",\"cells\":[{{\"kind\":\"{}\",\"z\":1e308,\"angle\":0,\"set\":\"\",\"rig\":\"\",\"span\":null,\"text\":\"{}\",\"was\":\"\"}}]}}",
            "T02",
            word(r).replace('"', ""),
            "x"
        ),
        1 => format!("token={token}&tube={}&length={}", word(r), "x"),
        _ => (0..r.random_range(0..6)).map(|_| word(r)).collect(),
    };
    let length = match r.random_range(0..10) {
        0 => "99999999999999999999".to_string(),
        1 => "-1".to_string(),
        _ => body.len().to_string(),
    };
    let kind = KINDS[r.random_range(0..KINDS.len())];
    let extra: String = (0..r.random_range(0..3))
        .map(|_| format!("{}: {}\r\n", word(r).replace(['/', '"', '{', '[', ' ', '='], "x"), word(r)))
        .collect();
    let mut bytes = format!("{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n{extra}\r\n{body}").into_bytes();
    if r.random_range(0..10) == 0 {
        let n = bytes.len();
        for _ in 0..4 {
            bytes[r.random_range(0..n)] = r.random_range(0..=255);
        }
    }
    bytes
}
