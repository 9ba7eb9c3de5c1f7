//! Who is let in, and what every answer carries.
//!
//! The pages are for whoever sits at this computer. A web page open in the same browser must not reach them: the name in
//! `Host` must be this computer's (a page that has its own name point here is turned away), what changes something must come
//! from these pages (`Origin`) and bring the token they hold. Where another address is asked for, every device that does not come
//! from this computer itself (127.0.0.1, `::1`) must first type a code; each code lets in one.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, PoisonError};

/// Longest address that is looked at; a name of 100 characters, each written as twelve, is shorter.
const LONGEST: usize = 4000;
/// The cookie that a device keeps once it typed the code.
const PASS: &str = "bench-pass";
/// Guesses of the code before none is taken any more.
const GUESSES: u32 = 20;

/// Who is let in.
#[derive(Debug)]
pub struct Gate {
    port: u16,
    /// Where others than this computer are let in.
    others: Option<Mutex<Others>>,
    /// What a request that changes something must bring.
    pub token: String,
}

#[derive(Debug)]
struct Others {
    code: Option<String>,
    passes: Vec<String>,
    guesses: u32,
}

/// Letters and digits that nobody can guess.
pub fn secret(bytes: usize) -> Result<String, getrandom::Error> {
    let mut raw = vec![0_u8; bytes];
    getrandom::fill(&mut raw)?;
    Ok(raw.iter().map(|b| format!("{b:02x}")).collect())
}

impl Gate {
    /// For a server at this address; with the code that lets in a device, where others than this computer may come.
    pub fn of(address: SocketAddr) -> Result<(Gate, Option<String>), getrandom::Error> {
        let code = if address.ip().is_loopback() { None } else { Some(secret(5)?) };
        let others = code.clone().map(|c| Mutex::new(Others { code: Some(c), passes: Vec::new(), guesses: 0 }));
        Ok((Gate { port: address.port(), others, token: secret(16)? }, code))
    }

    /// Whether a name in `Host` means this computer, or, where others are let in, is an address and no name that could be made
    /// to point here.
    fn is_ours(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) && !port.is_empty() => (name, Some(port)),
            _ => (host, None),
        };
        if port.map_or(self.port != 80, |p| p.parse() != Ok(self.port)) {
            return false;
        }
        let bare = name.strip_prefix('[').and_then(|n| n.strip_suffix(']')).unwrap_or(name);
        let loopback = |ip: IpAddr| ip.is_loopback();
        let address = bare.parse::<IpAddr>().ok();
        name.eq_ignore_ascii_case("localhost") || address.is_some_and(|ip| loopback(ip) || self.others.is_some())
    }

    /// Gives a pass for the code, which then is used up, and the code that lets in the next device.
    pub fn pass_for(&self, typed: &str) -> Option<(String, String)> {
        let mut others = self.others.as_ref()?.lock().unwrap_or_else(PoisonError::into_inner);
        others.guesses += 1;
        if others.guesses > GUESSES || others.code.as_deref() != Some(typed.trim()) {
            return None;
        }
        let (pass, next) = (secret(16).ok()?, secret(5).ok()?);
        others.code = Some(next.clone());
        others.guesses = 0;
        others.passes.push(pass.clone());
        Some((format!("{PASS}={pass}; HttpOnly; SameSite=Strict; Path=/"), next))
    }

    fn lets_in(&self, headers: &HeaderMap, peer: Option<Peer>) -> bool {
        let Some(others) = &self.others else { return true };
        if peer.is_some_and(|Peer(ip)| ip.to_canonical().is_loopback()) {
            return true;
        }
        let others = others.lock().unwrap_or_else(PoisonError::into_inner);
        cookie(headers, PASS).is_some_and(|pass| others.passes.iter().any(|p| same(p, pass)))
    }

    /// Whether a token is the one the pages hold.
    pub fn knows(&self, token: &str) -> bool {
        same(&self.token, token)
    }
}

/// Where a connection comes from.
#[derive(Debug, Clone, Copy)]
pub struct Peer(pub IpAddr);

/// Compared in a time that does not tell where they differ.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

/// The value of a cookie.
pub fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get_all("cookie").into_iter().filter_map(|v| v.to_str().ok());
    all.flat_map(|v| v.split(';')).find_map(|c| c.trim().strip_prefix(name)?.strip_prefix('='))
}

/// Every request comes through here.
pub async fn through(State(gate): State<Arc<Gate>>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&gate, &request) {
        Some(refused) => refused,
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (
            "content-security-policy",
            "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; \
             frame-ancestors 'none'; base-uri 'none'",
        ),
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        headers.entry(HeaderName::from_static(name)).or_insert(HeaderValue::from_static(value));
    }
    response
}

fn refusal(gate: &Gate, request: &Request) -> Option<Response> {
    let say = |code: StatusCode, words: &'static str| Some((code, words).into_response());
    let (method, headers) = (request.method(), request.headers());
    if ![Method::GET, Method::HEAD, Method::POST].contains(method) {
        return say(StatusCode::METHOD_NOT_ALLOWED, "only GET, HEAD and POST");
    }
    if request.uri().path_and_query().is_none_or(|p| p.as_str().len() > LONGEST) {
        return say(StatusCode::URI_TOO_LONG, "the address is too long");
    }
    let one = |name: HeaderName| {
        let mut all = headers.get_all(name).into_iter();
        (all.next().and_then(|v| v.to_str().ok()), all.next().is_some())
    };
    let host = match one(HOST) {
        (Some(host), false) if gate.is_ours(host) => host,
        _ => return say(StatusCode::MISDIRECTED_REQUEST, "this program answers under its own address only"),
    };
    if method == Method::POST {
        let own = |origin: &str| origin.strip_prefix("http://") == Some(host);
        let foreign = match one(ORIGIN) {
            (Some(origin), false) => !own(origin),
            (None, false) => headers.contains_key(ORIGIN),
            (_, true) => true,
        };
        let site = headers.get("sec-fetch-site").is_some_and(|s| s != "same-origin");
        if foreign || site {
            return say(StatusCode::FORBIDDEN, "this was not sent from the program's own pages");
        }
    }
    let path = request.uri().path();
    if !gate.lets_in(headers, request.extensions().get().copied())
        && !["/code", "/bench.css", "/icon.svg"].contains(&path)
    {
        let to_code = Response::builder().status(StatusCode::SEE_OTHER).header("location", "/code").body(Body::empty());
        return Some(if method == Method::POST {
            StatusCode::UNAUTHORIZED.into_response()
        } else {
            to_code.unwrap_or_default()
        });
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gate(address: &str) -> (Gate, Option<String>) {
        Gate::of(address.parse().expect("an address")).expect("random bytes")
    }

    #[test]
    fn only_this_computer_is_meant_and_no_name_that_could_point_here() {
        let (local, code) = gate("127.0.0.1:7245");
        assert_eq!(code, None);
        for host in ["127.0.0.1:7245", "localhost:7245", "LocalHost:7245", "[::1]:7245"] {
            assert!(local.is_ours(host), "{host}");
        }
        for host in [
            "",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.1:7245.evil.test",
            "evil.test:7245",
            "10.0.0.2:7245",
            "localhost:",
            "[::1]",
        ] {
            assert!(!local.is_ours(host), "{host}");
        }
        let (open, _) = gate("0.0.0.0:7245");
        assert!(open.is_ours("192.168.1.5:7245") && !open.is_ours("evil.test:7245"));
    }

    #[test]
    fn a_code_lets_in_one_device_and_cannot_be_guessed_for_ever() {
        let (open, code) = gate("0.0.0.0:7245");
        let code = code.expect("others may come");
        let none = HeaderMap::new();
        let far = Some(Peer([192, 168, 1, 9].into()));
        assert!(!open.lets_in(&none, far) && !open.lets_in(&none, None) && open.pass_for("no").is_none());
        let (pass, next) = open.pass_for(&format!(" {code} ")).expect("the code");
        assert!(open.pass_for(&code).is_none(), "once");
        let mut with = HeaderMap::new();
        let value = pass.split(';').next().expect("a cookie").to_string();
        with.insert("cookie", HeaderValue::from_str(&format!("a=b; {value}")).expect("plain"));
        assert!(open.lets_in(&with, far));
        assert!(next != code && open.pass_for(&next).is_some(), "the next device");
        let (other, code) = gate("0.0.0.0:1");
        (0..GUESSES).for_each(|_| assert!(other.pass_for("guess").is_none()));
        assert!(other.pass_for(&code.expect("a code")).is_none(), "too late");
    }

    #[test]
    fn this_computer_needs_no_code_and_every_other_does() {
        let (open, _) = gate("0.0.0.0:7245");
        let asked = |method: Method, from: &str| {
            let ip: IpAddr = from.parse().expect("an address");
            let request =
                Request::builder().method(method).uri("/").header(HOST, "192.168.1.5:7245").extension(Peer(ip));
            refusal(&open, &request.body(Body::empty()).expect("a request")).map(|r| r.status().as_u16())
        };
        for own in ["127.0.0.1", "127.3.2.1", "::1", "::ffff:127.0.0.1"] {
            assert_eq!(asked(Method::GET, own), None, "{own}");
        }
        for other in ["192.168.1.9", "::ffff:192.168.1.9", "fe80::1", "0.0.0.0"] {
            assert_eq!((asked(Method::GET, other), asked(Method::POST, other)), (Some(303), Some(401)), "{other}");
        }
    }

    #[test]
    fn tokens_are_compared_whole() {
        let (local, _) = gate("127.0.0.1:1");
        assert!(local.knows(&local.token.clone()) && !local.knows("") && !local.knows(&local.token[1..]));
        assert_ne!(local.token, gate("127.0.0.1:1").0.token);
    }
}
