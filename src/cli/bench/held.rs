//! What all pages share, and how they answer.

use super::gate::Gate;
pub use super::known::lock;
use super::known::{Known, Looked};
use super::store::Store;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse, Response};
use quarterlight::decide::tube_view::TubeView;
use quarterlight::domain::Lot;
use quarterlight::lot::Assessed;
use quarterlight::output::bench_page::{Asked, Desk};
use quarterlight::output::show::Units;
use quarterlight::picture::{Found, Picture, ScaleFound};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::sync::{Mutex as AsyncMutex, OwnedMutexGuard, Semaphore};
use tokio::time::timeout;

/// Bytes of a request that carries words.
const WORDS: usize = 256 * 1024;
/// Bytes of a picture.
pub const PICTURE: usize = 100_000_000;
/// A request must have said all it has to say by then.
const SAID: Duration = Duration::from_secs(60);
/// Longer without a reading is a break, which does not count as measuring.
const BREAK: Duration = Duration::from_secs(90);

/// How far threads that compute step back, of 19 at most.
#[cfg(target_os = "linux")]
const NICE: i32 = 10;

/// A picture of ends that waits for names.
pub struct Ends {
    pub stem: String,
    pub read: Picture,
    pub scale: ScaleFound,
    pub found: Found,
    pub drawn: Vec<u8>,
}

/// Time spent on a tube.
#[derive(Debug, Clone, Copy)]
struct Spent {
    last: Instant,
    seconds: f64,
}

/// Held by whoever looks at a tube just now.
type Turn = AsyncMutex<()>;

/// What all pages share.
pub struct Bench {
    pub known: Arc<Known>,
    pub store: Store,
    pub gate: Arc<Gate>,
    /// Lots to be set beside this one.
    pub others: Vec<PathBuf>,
    /// Their plans, once they were looked at.
    pub beside: Mutex<Option<Arc<Vec<Assessed>>>>,
    pub ends: Mutex<Option<Arc<Ends>>>,
    /// What was written last from a picture, in words.
    pub ends_said: Mutex<Option<String>>,
    queue: Mutex<BTreeMap<String, Vec<Asked>>>,
    spent: Mutex<BTreeMap<String, Spent>>,
    turns: Mutex<BTreeMap<String, Arc<Turn>>>,
    room: Semaphore,
}

impl Bench {
    pub fn new(known: Arc<Known>, store: Store, gate: Gate, others: Vec<PathBuf>) -> Bench {
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Bench {
            known,
            store,
            gate: Arc::new(gate),
            others,
            beside: Mutex::default(),
            ends: Mutex::default(),
            ends_said: Mutex::default(),
            queue: Mutex::default(),
            spent: Mutex::default(),
            turns: Mutex::default(),
            room: Semaphore::new(cores + 2),
        }
    }

    /// What stands round every page.
    pub fn desk(&self) -> Desk {
        let (lot, units) = self
            .known
            .last()
            .map_or_else(|| ("lot".to_string(), Units::Mm), |now| (now.lot.name.clone(), self.known.units(&now.lot)));
        Desk { lot, token: self.gate.token.clone(), units, doing: self.known.doing() }
    }

    /// The readings that are still to be taken in the round a tube is in, and all of that round.
    pub fn queue(&self, tube: &str) -> Vec<Asked> {
        lock(&self.queue).get(tube).cloned().unwrap_or_default()
    }

    /// A new round for a tube.
    pub fn set_queue(&self, tube: &str, asked: Vec<Asked>) {
        lock(&self.queue).insert(tube.to_string(), asked);
    }

    /// A reading of a tube came in: the clock goes on, but for a break.
    pub fn tick(&self, tube: &str, usual_seconds: f64) {
        let mut all = lock(&self.spent);
        let now = Instant::now();
        let spent = all.entry(tube.to_string()).or_insert(Spent { last: now, seconds: usual_seconds });
        let since = now.duration_since(spent.last);
        spent.seconds += if since > BREAK { usual_seconds } else { since.as_secs_f64() };
        spent.last = now;
    }

    /// Waits until nobody else looks at this tube: those who come meanwhile find it done, with the readings of all of them.
    pub async fn turn(&self, tube: &str) -> OwnedMutexGuard<()> {
        let known = self.known.last().is_some_and(|now| now.lot.tubes.iter().any(|t| t.name == tube));
        let turn = lock(&self.turns).entry(if known { tube.to_string() } else { String::new() }).or_default().clone();
        turn.lock_owned().await
    }

    /// Minutes spent on a tube since the program was started.
    pub fn minutes(&self, tube: &str) -> Option<f64> {
        lock(&self.spent).get(tube).map(|s| s.seconds / 60.0)
    }
}

/// A value of the address.
pub fn asked(request: &Request, name: &str) -> Option<String> {
    let query = request.uri().query()?;
    form_urlencoded::parse(query.as_bytes()).find(|(n, _)| n == name).map(|(_, value)| value.into_owned())
}

/// Work that takes a while, away from the socket, at most so much of it at once.
pub async fn work<T: Send + 'static>(
    bench: &Arc<Bench>,
    what: impl FnOnce(&Bench) -> T + Send + 'static,
) -> Result<T, Response> {
    let _room = bench.room.acquire().await.map_err(|_| StatusCode::SERVICE_UNAVAILABLE.into_response())?;
    let own = bench.clone();
    let what = move |b: &Bench| {
        steps_back();
        what(b)
    };
    let fault = "a fault of ours: what it was stands where the program was started";
    tokio::task::spawn_blocking(move || what(&own))
        .await
        .map_err(|_| (StatusCode::INTERNAL_SERVER_ERROR, fault).into_response())
}

/// The thread that computes lets those go first that keep what is typed; where the system knows no such thing all are alike.
pub fn steps_back() {
    #[cfg(target_os = "linux")]
    {
        thread_local! {
            static DONE: std::cell::Cell<bool> = const { std::cell::Cell::new(false) };
        }
        if !DONE.replace(true) {
            // one that the system will not move computes as before
            let _ = rustix::process::setpriority_process(Some(rustix::thread::gettid()), NICE);
        }
    }
}

/// A page.
pub fn html(page: String) -> Response {
    Html(page).into_response()
}

/// A file of another kind.
pub fn file(kind: &'static str, bytes: impl Into<Body>) -> Response {
    ([(CONTENT_TYPE, kind)], bytes.into()).into_response()
}

/// On to another page.
pub fn onward(to: &str) -> Response {
    (StatusCode::SEE_OTHER, [("location", to)]).into_response()
}

/// What cannot be done, in words.
pub fn refuse(code: StatusCode, words: impl Into<String>) -> Response {
    (code, words.into()).into_response()
}

/// What a request brings, read to its end, of at most so many bytes.
async fn body(request: Request, most: usize) -> Result<Bytes, Response> {
    match timeout(SAID, to_bytes(request.into_body(), most)).await {
        Ok(Ok(bytes)) => Ok(bytes),
        Ok(Err(_)) => Err(refuse(StatusCode::PAYLOAD_TOO_LARGE, "more than is taken here, or broken off")),
        Err(_) => Err(refuse(StatusCode::REQUEST_TIMEOUT, "it took too long")),
    }
}

/// The fields of a form.
pub async fn fields(request: Request) -> Result<BTreeMap<String, String>, Response> {
    let bytes = body(request, WORDS).await?;
    Ok(form_urlencoded::parse(&bytes).into_owned().collect())
}

/// The fields of a form, its token found good.
pub async fn form(bench: &Bench, request: Request) -> Result<BTreeMap<String, String>, Response> {
    let fields = fields(request).await?;
    let token = fields.get("token").map_or("", String::as_str);
    if bench.gate.knows(token) { Ok(fields) } else { Err(stale()) }
}

/// A request that carries values of JSON.
pub async fn json<T: serde::de::DeserializeOwned>(request: Request) -> Result<T, Response> {
    let is_json = request.headers().get(CONTENT_TYPE).is_some_and(|t| t.as_bytes().starts_with(b"application/json"));
    if !is_json {
        return Err(refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "application/json is expected"));
    }
    let bytes = body(request, WORDS).await?;
    serde_json::from_slice(&bytes).map_err(|e| refuse(StatusCode::BAD_REQUEST, format!("not understood: {e}")))
}

/// The bytes of a picture, its token found good.
pub async fn picture(bench: &Bench, request: Request) -> Result<Bytes, Response> {
    let token = request.headers().get("x-token").and_then(|t| t.to_str().ok()).unwrap_or("").to_string();
    if !bench.gate.knows(&token) {
        return Err(stale());
    }
    body(request, PICTURE).await
}

/// The page is of an earlier start of the program.
pub fn stale() -> Response {
    refuse(StatusCode::FORBIDDEN, "this page is of an earlier start of the program: load it again")
}

/// A look at a tube as an answer of the pages wants it.
pub fn parts(looked: &Looked) -> (&Assessed, &Lot, &[Option<TubeView>], usize) {
    match looked {
        Looked::Quick(q) => (&q.plan, &q.lot, &q.views, 0),
        Looked::Whole { whole, at, .. } => (&whole.plan, &whole.prepared.lot, &whole.views, *at),
    }
}
