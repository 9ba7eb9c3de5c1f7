//! What the pages write down: readings, tubes, minutes, what became of a tube.

use super::super::sink::print;
use super::changes::{BARE_WEIGHT, Change, Done, Fell};
use super::held::{Bench, file, form, html, json, lock, onward, refuse, stale, work};
use super::known::Now;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse, Response};
use quarterlight::domain::units::{
    AngleUnit, DecimalMark, LengthUnit, Quantity, UnitError, parse_angle, parse_length, parse_weight,
};
use quarterlight::domain::{Angle, Cut, Kind, Lot, Pace};
use quarterlight::output::bench_page::{code_page, encoded, plain_words};
use quarterlight::output::show::Units;
use quarterlight::readings::{TypedAt, pointed, typed};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Most readings of one request: a long column pasted.
const MOST: usize = 2000;
/// Longest name, characters.
const NAME: usize = 100;
/// The cookie that says that the cautions were read on this visit.
pub const READ: &str = "bench-cautions=read; HttpOnly; SameSite=Strict; Path=/";

/// Readings as the page sends them.
#[derive(Debug, Deserialize)]
struct Sent {
    token: String,
    tube: String,
    cells: Vec<SentCell>,
}

#[derive(Debug, Deserialize)]
struct SentCell {
    kind: String,
    z: f64,
    angle: f64,
    set: String,
    rig: String,
    span: Option<f64>,
    text: String,
    was: String,
}

/// What became of one, one of three.
#[derive(Debug, Default, Serialize)]
struct Answered {
    #[serde(skip_serializing_if = "Option::is_none")]
    kept: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    now: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<String>,
}

impl From<Done> for Answered {
    fn from(done: Done) -> Answered {
        match done {
            Done::Kept(kept) => Answered { kept: Some(kept), ..Answered::default() },
            Done::Now(now) => Answered { now: Some(now), ..Answered::default() },
            Done::Refused(why) => Answered { why: Some(why), ..Answered::default() },
        }
    }
}

#[derive(Debug, Serialize)]
struct AllAnswered {
    cells: Vec<Answered>,
}

/// The unit a bare number is typed in.
pub fn bare(units: Units) -> LengthUnit {
    if units == Units::Inch { LengthUnit::Inch } else { LengthUnit::Millimetre }
}

/// The lot as it is, from what was read last where that has the tube.
async fn lot_with(bench: &Arc<Bench>, tube: &str) -> Result<Arc<Lot>, Response> {
    let has = |now: &Arc<Now>| now.lot.tubes.iter().any(|t| t.name == tube);
    if let Some(now) = bench.known.last().filter(has) {
        return Ok(now.lot.clone());
    }
    let now = work(bench, |b| b.known.now()).await?;
    match now {
        Ok(now) if has(&now) => Ok(now.lot.clone()),
        Ok(_) => Err(refuse(StatusCode::NOT_FOUND, "the lot has no such tube")),
        Err(e) => Err(refuse(StatusCode::CONFLICT, e.to_string())),
    }
}

/// Readings of a tube.
pub async fn cells(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let sent: Sent = json(request).await?;
    if !bench.gate.knows(&sent.token) {
        return Err(stale());
    }
    if sent.cells.len() > MOST {
        return Err(refuse(StatusCode::PAYLOAD_TOO_LARGE, format!("more than {MOST} readings at once")));
    }
    let lot = lot_with(&bench, &sent.tube).await?;
    let unit = bare(bench.known.units(&lot));
    let mut answers: Vec<Option<Answered>> = Vec::new();
    let mut changes = Vec::new();
    for c in &sent.cells {
        match change(&lot, &sent.tube, c, unit) {
            Ok(change) => {
                answers.push(None);
                changes.push(change);
            }
            Err(why) => answers.push(Some(Answered { why: Some(why), ..Answered::default() })),
        }
    }
    let seconds = |kind: Kind, rig: &str| Pace::of(kind, lot.rigs.get(rig)).seconds;
    let first = changes.first().map(|c| if let Change::Cell { at, .. } = c { seconds(at.kind, &at.rig) } else { 0.0 });
    let done = if changes.is_empty() { Vec::new() } else { bench.store.make(changes, lot.clone()).await };
    if let Some(seconds) = first.filter(|_| done.iter().any(|d| matches!(d, Done::Kept(_)))) {
        bench.tick(&sent.tube, seconds);
    }
    let mut done = done.into_iter().map(Answered::from);
    let cells = answers.into_iter().map(|a| a.or_else(|| done.next()).unwrap_or_default()).collect();
    let said = serde_json::to_string(&AllAnswered { cells }).unwrap_or_else(|e| unreachable!("plain texts: {e}"));
    Ok(file("application/json", said))
}

fn change(lot: &Lot, tube: &str, c: &SentCell, unit: LengthUnit) -> Result<Change, String> {
    let kind = Kind::from_word(&c.kind).ok_or("no kind of reading")?;
    let sound = c.z.is_finite() && c.angle.is_finite() && (0.0..=10_000.0).contains(&c.z) && c.angle.abs() <= 3600.0;
    let short = |t: &str| t.chars().count() <= NAME && !t.chars().any(char::is_control);
    if !sound || !short(&c.set) || !short(&c.rig) || !short(&c.text) || !c.span.is_none_or(f64::is_finite) {
        return Err("no place on a tube".into());
    }
    let at = TypedAt {
        tube: tube.to_string(),
        kind,
        z_mm: c.z,
        angle_deg: c.angle,
        set: c.set.trim().to_string(),
        rig: c.rig.trim().to_string(),
        span_mm: c.span,
    };
    let cell = if c.text.trim().is_empty() {
        String::new()
    } else {
        typed(lot, &at, &c.text, unit).map_err(|e| e.to_string())?.cell
    };
    Ok(Change::Cell { at, cell, was: c.was.clone() })
}

/// A field, trimmed.
pub fn field<'a>(fields: &'a BTreeMap<String, String>, name: &str) -> &'a str {
    fields.get(name).map_or("", |f| f.trim())
}

fn why(what: &str, text: &str, e: &UnitError, of: Quantity) -> String {
    format!("{what} '{}': expected {}. {}", text.chars().take(40).collect::<String>(), e.expected(what), e.fix(of))
}

fn length(what: &str, text: &str, unit: LengthUnit) -> Result<f64, String> {
    parse_length(&pointed(text), unit, DecimalMark::Point).map_err(|e| why(what, text, &e, Quantity::Length))
}

/// A new tube.
pub async fn tubes(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let fields = form(&bench, request).await?;
    let now = work(&bench, |b| b.known.now()).await?.map_err(|e| refuse(StatusCode::CONFLICT, e.to_string()))?;
    let unit = bare(bench.known.units(&now.lot));
    match new_tube(&fields, unit) {
        Err(why) => Ok(onward(&format!("/?refused={}", encoded(&why)))),
        Ok((tube, length_mm, weight_g)) => {
            let change = Change::Tube { tube: tube.clone(), length_mm, weight_g };
            match bench.store.make(vec![change], now.lot.clone()).await.pop() {
                Some(Done::Kept(_)) => Ok(onward(&format!("/measure?tube={}", encoded(&tube)))),
                Some(Done::Refused(why) | Done::Now(why)) => Ok(onward(&format!("/?refused={}", encoded(&why)))),
                None => Err(refuse(StatusCode::INTERNAL_SERVER_ERROR, "a fault of ours: no answer")),
            }
        }
    }
}

fn new_tube(fields: &BTreeMap<String, String>, unit: LengthUnit) -> Result<(String, f64, Option<f64>), String> {
    let tube = field(fields, "tube");
    if tube.is_empty() || tube.chars().count() > NAME || tube.chars().any(char::is_control) {
        return Err("a tube's name is 1 to 100 characters on one line".into());
    }
    let mm = length("length", field(fields, "length"), unit)?;
    if !(30.0..=3000.0).contains(&mm) {
        return Err(format!("a tube of {mm:.0} mm: expected 30 to 3000 mm. Is the unit right?"));
    }
    let weight = match field(fields, "weight") {
        "" => None,
        text => {
            let grams = parse_weight(&pointed(text), BARE_WEIGHT, DecimalMark::Point)
                .map_err(|e| why("weight", text, &e, Quantity::Weight))?;
            if grams <= 0.0 {
                return Err("a weight above 0 is expected; leave it empty where it was not weighed".into());
            }
            Some(grams)
        }
    };
    Ok((tube.to_string(), mm, weight))
}

/// Minutes that measuring a tube took; then on to the next tube.
pub async fn minutes(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let fields = form(&bench, request).await?;
    let tube = field(&fields, "tube").to_string();
    let lot = lot_with(&bench, &tube).await?;
    let text = pointed(field(&fields, "minutes"));
    if !text.is_empty() {
        let minutes = text.parse::<f64>().ok().filter(|m| (0.0..=600.0).contains(m));
        let Some(minutes) = minutes else {
            let words =
                format!("'{}' minutes: expected a number from 0 to 600.", text.chars().take(40).collect::<String>());
            return Ok(
                (StatusCode::BAD_REQUEST, html(plain_words(&bench.desk(), "Not written down", &words))).into_response()
            );
        };
        let change = Change::Minutes { tube: tube.clone(), minutes };
        if let Some(Done::Refused(why)) = bench.store.make(vec![change], lot).await.pop() {
            return Ok(
                (StatusCode::CONFLICT, html(plain_words(&bench.desk(), "Not written down", &why))).into_response()
            );
        }
    }
    let next = work(&bench, move |b| next_tube(b, &tube)).await?;
    Ok(onward(&next.map_or_else(|| "/".into(), |t| format!("/measure?tube={}", encoded(&t)))))
}

/// The tube to be measured next: behind this one the first that nobody read, else the one that may gain most.
pub fn next_tube(bench: &Bench, tube: &str) -> Option<String> {
    let now = bench.known.now().ok()?;
    let tubes = &now.lot.tubes;
    let here = tubes.iter().position(|t| t.name == tube).unwrap_or(0);
    let later = tubes[here + 1..].iter().chain(&tubes[..here]);
    let open = || later.clone().filter(|t| !t.in_doubt && t.cut.is_none());
    if let Some(unread) = open().find(|t| t.readings.is_empty() && t.scan.is_none()) {
        return Some(unread.name.clone());
    }
    let gain = |name: &str| bench.known.advice(name, false).and_then(|a| a.next).map(|p| p.gain_blanks);
    let gains = open().filter_map(|t| Some((t.name.clone(), gain(&t.name)?)));
    gains.reduce(|a, b| if b.1 > a.1 { b } else { a }).map(|g| g.0)
}

/// What became of a tube.
pub async fn fell(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let fields = form(&bench, request).await?;
    let tube = field(&fields, "tube").to_string();
    let lot = lot_with(&bench, &tube).await?;
    let to = format!("/fell?tube={}", encoded(&tube));
    let written = match became(&fields, &tube, &lot, bench.known.units(&lot)) {
        Ok(fell) => bench.store.make(vec![Change::Fell(Box::new(fell))], lot).await.pop(),
        Err(why) => Some(Done::Refused(why)),
    };
    match written {
        Some(Done::Kept(_)) => Ok(onward(&to)),
        Some(Done::Refused(why) | Done::Now(why)) => Ok(onward(&format!("{to}&refused={}", encoded(&why)))),
        None => Err(refuse(StatusCode::INTERNAL_SERVER_ERROR, "a fault of ours: no answer")),
    }
}

/// Numbers that stand apart by spaces or semicolons, a comma behind one too.
fn list(text: &str) -> impl Iterator<Item = &str> {
    text.split([' ', ';']).map(|t| t.trim_matches(',')).filter(|t| !t.is_empty())
}

/// Degrees as the page shows and keeps them: to a hundredth.
fn shown_degrees(angle: Angle) -> f64 {
    (angle.wrapped().degrees() * 100.0).round() / 100.0
}

/// The angle that was aimed at as the page shows it, degrees.
pub fn aim_text(cut: Option<&Cut>) -> Option<String> {
    Some(shown_degrees(cut?.aim?).to_string())
}

/// Where the lines of a tube fell as the page shows it, degrees, with blanks between.
pub fn lines_text(cut: Option<&Cut>) -> String {
    let one = |a: &Angle| shown_degrees(*a).to_string();
    cut.map_or(String::new(), |c| c.lines.iter().map(one).collect::<Vec<_>>().join(" "))
}

/// Widths of its backs as the page shows them.
pub fn backs_text(cut: Option<&Cut>, units: Units) -> String {
    cut.map_or(String::new(), |c| c.backs_mm.iter().map(|mm| units.length(*mm, 2)).collect::<Vec<_>>().join(" "))
}

fn became(fields: &BTreeMap<String, String>, tube: &str, lot: &Lot, units: Units) -> Result<Fell, String> {
    let (pieces, unit) = (lot.target.pieces, bare(units));
    let cut = lot.tubes.iter().find(|t| t.name == tube).and_then(|t| t.cut.as_ref());
    // what still reads as it was shown is left as it was written, to the last digit
    let changed = |name: &str, shown: String| field(fields, name) != shown;
    let angles = |name: &str| -> Result<Vec<f64>, String> {
        let one = |t: &str| {
            let angle = parse_angle(&pointed(t), AngleUnit::Degree, DecimalMark::Point);
            Ok(shown_degrees(angle.map_err(|e| why("angle", t, &e, Quantity::Angle))?))
        };
        list(field(fields, name)).map(one).collect()
    };
    let (aim, split_deg) = (angles("aim")?, angles("split")?);
    if aim.len() > 1 {
        return Err("one angle was aimed at: write one".into());
    }
    if ![0, 1, pieces].contains(&split_deg.len()) {
        return Err(format!("{} split lines: expected one, or {pieces}, one for each piece", split_deg.len()));
    }
    let back_mm = list(field(fields, "back"))
        .map(|t| length("width of a back", t, unit))
        .collect::<Result<Vec<f64>, String>>()?;
    if ![0, pieces].contains(&back_mm.len()) {
        return Err(format!("{} widths of backs: expected {pieces}, one for each piece", back_mm.len()));
    }
    let whole = |text: &str| match text {
        "" => Ok(None),
        t => match t.parse::<u32>() {
            Ok(n) if n <= 1000 => Ok(Some(n)),
            _ => Err(format!("'{t}' blanks: expected a whole number")),
        },
    };
    let of_piece = (1..=pieces)
        .map(|p| whole(field(fields, &format!("blanks{p}"))))
        .collect::<Result<Vec<Option<u32>>, String>>()?;
    let mut stretches = Vec::new();
    for i in 0..200 {
        let run = field(fields, &format!("run{i}"));
        let numbers: Vec<f64> = run.split(' ').filter_map(|n| n.parse().ok()).collect();
        let [piece, from, to] = numbers[..] else { continue };
        let is_piece = (1..=pieces).find(|p| (*p as f64 - piece).abs() < 1e-9);
        let got: String = field(fields, &format!("got{i}")).chars().filter(|c| !c.is_control()).take(200).collect();
        if let Some(piece) = is_piece.filter(|_| from >= 0.0 && to > from && to <= 10_000.0) {
            stretches.push((piece, from, to, got));
        }
    }
    let blanks = whole(field(fields, "blanks"))?;
    let aim_deg = aim.first().copied();
    let split_deg = changed("split", lines_text(cut)).then_some(split_deg);
    let back_mm = changed("back", backs_text(cut, units)).then_some(back_mm);
    Ok(Fell { tube: tube.into(), aim_deg, split_deg, back_mm, blanks, of_piece, stretches })
}

/// The cautions were read.
pub async fn cautions(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let fields = form(&bench, request).await?;
    // back within these pages only
    let back = field(&fields, "back");
    let back = if back.starts_with('/')
        && !back.starts_with("//")
        && !back.contains('\\')
        && back.is_ascii()
        && !back.contains(char::is_control)
    {
        back
    } else {
        "/"
    };
    let mut on = onward(back);
    if let Ok(cookie) = READ.parse() {
        on.headers_mut().insert(SET_COOKIE, cookie);
    }
    Ok(on)
}

/// The code of another device.
pub async fn code(State(bench): State<Arc<Bench>>, request: Request) -> Response {
    let fields = match super::held::fields(request).await {
        Ok(fields) => fields,
        Err(refused) => return refused,
    };
    let pass = bench.gate.pass_for(field(&fields, "code"));
    match pass.and_then(|(cookie, next)| Some((cookie.parse().ok()?, next))) {
        Some((cookie, next)) => {
            // where nobody reads what the program says, nobody can be let in either
            let _ = print(&format!("A device was let in. The next one must type this code: {next}"));
            let mut on = onward("/");
            on.headers_mut().insert(SET_COOKIE, cookie);
            on
        }
        None => (StatusCode::FORBIDDEN, html(code_page(true))).into_response(),
    }
}

/// What was written from a picture last, to be told once.
pub fn told_once(bench: &Bench) -> Option<String> {
    lock(&bench.ends_said).take()
}
