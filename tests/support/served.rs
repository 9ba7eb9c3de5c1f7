//! The page of a lot served by the real program, and plain requests to it.

#![allow(dead_code, reason = "every test uses its own part of it")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A running `bench`; ended when it is dropped.
pub struct Served {
    child: Child,
    /// Its port.
    pub port: u16,
    /// What it said on standard output when it began.
    pub said: String,
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    /// Status.
    pub code: u16,
    /// Head, in lines.
    pub head: String,
    /// Body.
    pub body: Vec<u8>,
}

impl Answer {
    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// A line of the head.
    pub fn header(&self, name: &str) -> Option<String> {
        let line = self.head.lines().find(|l| l.to_lowercase().starts_with(&format!("{name}:")))?;
        Some(line.split_once(':')?.1.trim().to_string())
    }
}

impl Served {
    /// Starts it on a lot, on a port of its own.
    pub fn of(lot: &Path, more: &[&str]) -> Served {
        let mut child = Command::new(env!("CARGO_BIN_EXE_quarterlight"))
            .args(["bench", "--port", "0"])
            .args(more)
            .arg(lot)
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stdout.take().expect("piped"));
        let mut said = String::new();
        while !said.contains("/  (") {
            assert!(lines.read_line(&mut said).expect("a line") > 0, "it ended: {said}");
        }
        if more.contains(&"--address") {
            lines.read_line(&mut said).expect("the code");
        }
        let address = said.split("http://").nth(1).and_then(|r| r.split('/').next()).expect("an address");
        let port = address.rsplit(':').next().and_then(|p| p.parse().ok()).expect("a port");
        Served { child, port, said }
    }

    /// Ends it as hard as the system can.
    pub fn kill(mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("gone");
    }

    /// Its process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// False once it has ended by itself.
    pub fn lives(&mut self) -> bool {
        self.child.try_wait().expect("asked").is_none()
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// A request as it is; nothing where the connection was closed without an answer.
    pub fn raw(&self, bytes: &[u8]) -> Option<Answer> {
        heard(TcpStream::connect(("127.0.0.1", self.port)).ok()?, bytes)
    }

    /// The same at another of this computer's addresses.
    pub fn raw_at(&self, address: &str, text: &str) -> Answer {
        heard(TcpStream::connect(address).expect("a connection"), text.as_bytes()).expect("an answer")
    }

    /// GET with lines of the head.
    pub fn get_with(&self, path: &str, head: &str) -> Answer {
        let request = format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n{head}\r\n", self.host());
        self.raw(request.as_bytes()).expect("an answer")
    }

    /// GET.
    pub fn get(&self, path: &str) -> Answer {
        self.get_with(path, "")
    }

    /// GET by one who read the cautions.
    pub fn read(&self, path: &str) -> Answer {
        self.get_with(path, "Cookie: bench-cautions=read\r\n")
    }

    /// POST with lines of the head.
    pub fn post_with(&self, path: &str, kind: &str, body: &[u8], head: &str) -> Answer {
        let (host, n) = (self.host(), body.len());
        let begin = format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: {kind}\r\nContent-Length: {n}\r\n{head}\r\n"
        );
        self.raw(&[begin.as_bytes(), body].concat()).expect("an answer")
    }

    /// A form as one of its own pages sends it.
    pub fn form(&self, path: &str, fields: &str) -> Answer {
        let origin = format!("Origin: http://{}\r\n", self.host());
        let body = format!("token={}&{fields}", self.token());
        self.post_with(path, "application/x-www-form-urlencoded", body.as_bytes(), &origin)
    }

    /// The token of its pages.
    pub fn token(&self) -> String {
        let page = self.get("/").text();
        page.split("name=\"token\" content=\"").nth(1).and_then(|r| r.split('"').next()).expect("a token").to_string()
    }

    /// One reading, as a page sends it: the JSON of what became of it.
    pub fn cell(&self, token: &str, tube: &str, at: &str, text: &str, was: &str) -> serde_json::Value {
        let body =
            format!("{{\"token\":{token:?},\"tube\":{tube:?},\"cells\":[{{{at},\"text\":{text:?},\"was\":{was:?}}}]}}");
        let answer = self.post_with("/cells", "application/json", body.as_bytes(), "");
        assert_eq!(answer.code, 200, "{}", answer.text());
        let all: serde_json::Value = serde_json::from_slice(&answer.body).expect("JSON");
        all["cells"][0].clone()
    }

    /// The plan of the whole lot, once it is that of the files as they are.
    pub fn plan(&self) -> String {
        let begun = Instant::now();
        loop {
            let answer = self.get("/plan.json");
            if answer.code == 200 {
                return answer.text();
            }
            assert!(begun.elapsed() < Duration::from_secs(180), "no plan: {}", answer.text());
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

/// What a connection answers to these bytes.
fn heard(mut stream: TcpStream, bytes: &[u8]) -> Option<Answer> {
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("set");
    // it may close before it has heard all
    let _ = stream.write_all(bytes);
    let mut all = Vec::new();
    let _ = stream.read_to_end(&mut all);
    let end = all.windows(4).position(|w| w == b"\r\n\r\n")?;
    let head = String::from_utf8_lossy(&all[..end]).into_owned();
    let code = head.split(' ').nth(1)?.parse().ok()?;
    Some(Answer { code, head, body: all[end + 4..].to_vec() })
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Where a reading belongs, as the page writes it.
pub fn at(kind: &str, z: f64, angle: f64) -> String {
    let set = if kind == "runout" { format!("at {z:.1}") } else { String::new() };
    format!("\"kind\":{kind:?},\"z\":{z},\"angle\":{angle},\"set\":{set:?},\"rig\":\"\",\"span\":null")
}

/// A copy of a sample lot in a folder of its own.
pub fn copy_of(sample: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(sample);
    for entry in std::fs::read_dir(from).expect("the sample") {
        let path = entry.expect("an entry").path();
        if path.is_file() {
            std::fs::copy(&path, dir.path().join(path.file_name().expect("a name"))).expect("copied");
        }
    }
    dir
}
