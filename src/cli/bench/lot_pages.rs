//! Pages and papers of the whole lot.

use super::held::{Bench, asked, file, html, lock, parts, refuse, work};
use super::known::Whole;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use quarterlight::lot::{Assessed, Compared, Counting, HumidityUnknown, LotError, Prepared, QUIETLY, names_apart};
use quarterlight::output::bench_page::{lots, piles, plain_words, prints};
use quarterlight::output::report::{report, strips};
use quarterlight::paper::pdf;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Said while the plan that is there is of files that changed since.
const AGAIN: &str = "the lot is being looked at again: ask in a moment";

/// Does something with the plan of the whole lot; says so where it is not there yet.
fn with_whole(b: &Bench, what: impl FnOnce(&Whole) -> Response) -> Response {
    match b.known.whole() {
        Some(whole) => what(&whole),
        None => {
            let words = b.known.fault().unwrap_or_else(|| {
                "The lot is being looked at for the first time: load this page again in a moment.".into()
            });
            (StatusCode::SERVICE_UNAVAILABLE, html(plain_words(&b.desk(), "Not yet", &words))).into_response()
        }
    }
}

/// The same, only where it is the plan of the lot's files as they are: nothing is cut from an old one.
fn with_current(b: &Bench, what: impl FnOnce(&Whole) -> Response) -> Response {
    match not_current(b) {
        None => with_whole(b, what),
        Some(words) => {
            (StatusCode::SERVICE_UNAVAILABLE, html(plain_words(&b.desk(), "Not yet", &words))).into_response()
        }
    }
}

/// Why the plan that is there is not that of the lot's files as they are, where it is not.
fn not_current(b: &Bench) -> Option<String> {
    let whole = b.known.whole()?;
    match b.known.now() {
        Ok(now) if b.known.is_current(&whole, &now) => None,
        Ok(_) => Some(b.known.fault().unwrap_or_else(|| AGAIN.into())),
        Err(e) => Some(e.to_string()),
    }
}

fn fault(e: &dyn std::error::Error) -> Response {
    refuse(StatusCode::INTERNAL_SERVER_ERROR, format!("a fault of ours: {e}"))
}

/// Piles, forecast, board.
pub async fn piles_page(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    work(&bench, |b| {
        with_whole(b, |w| {
            let input = b.known.input(&w.plan, &w.prepared.lot, &w.views);
            piles(&b.desk(), &input).map_or_else(|e| fault(&e), html)
        })
    })
    .await
}

/// Lots side by side.
pub async fn lots_page(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    work(&bench, |b| {
        if b.others.is_empty() {
            return html(lots(&b.desk(), None));
        }
        with_whole(b, |w| match beside(b).and_then(|others| Ok(compared(b, w, &others)?)) {
            Ok(compared) => html(lots(&b.desk(), Some(&compared))),
            Err(e) => {
                let page = plain_words(&b.desk(), "A lot cannot be read", &e.to_string());
                (StatusCode::CONFLICT, html(page)).into_response()
            }
        })
    })
    .await
}

/// This lot and those beside it, as `forecast` compares them.
fn compared(b: &Bench, whole: &Whole, others: &[Assessed]) -> Result<Compared, HumidityUnknown> {
    let paths = std::iter::once(&b.known.folder).chain(&b.others);
    let plans: Vec<Assessed> = std::iter::once(&whole.plan).chain(others).cloned().collect();
    let known: Vec<(String, &Path)> =
        plans.iter().zip(paths).map(|(p, at)| (p.lot.name.clone(), at.as_path())).collect();
    let names = names_apart(&known);
    Compared::counted(names.into_iter().zip(plans).collect(), Counting::default())
}

/// The plans of the lots beside this one, as they were when they were first asked for.
fn beside(b: &Bench) -> Result<Arc<Vec<Assessed>>, LotError> {
    if let Some(held) = &*lock(&b.beside) {
        return Ok(held.clone());
    }
    let one = |path: &PathBuf| Prepared::read(path, &[])?.assess(b.known.options, QUIETLY);
    let all = Arc::new(b.others.iter().map(one).collect::<Result<Vec<Assessed>, LotError>>()?);
    *lock(&b.beside) = Some(all.clone());
    Ok(all)
}

/// What can be printed.
pub async fn print_page(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    work(&bench, |b| {
        with_whole(b, |w| {
            let input = b.known.input(&w.plan, &w.prepared.lot, &w.views);
            html(prints(&b.desk(), &strips(&input).1, not_current(b).as_deref()))
        })
    })
    .await
}

/// One file of the report.
async fn paper(bench: &Arc<Bench>, name: &'static str, kind: &'static str) -> Result<Response, Response> {
    work(bench, move |b| {
        with_current(b, |w| {
            let input = b.known.input(&w.plan, &w.prepared.lot, &w.views);
            match report(&input) {
                Ok(made) => match made.files.into_iter().find(|f| f.name == name) {
                    Some(found) => file(kind, found.bytes),
                    None => (
                        StatusCode::NOT_FOUND,
                        html(plain_words(&b.desk(), "Nothing to print", "No tube has a strip yet.")),
                    )
                        .into_response(),
                },
                Err(e) => fault(&e),
            }
        })
    })
    .await
}

/// The bench list.
pub async fn bench_list(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    paper(&bench, "bench-list.pdf", "application/pdf").await
}

/// The strips of all tubes.
pub async fn all_strips(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    paper(&bench, "strips.pdf", "application/pdf").await
}

/// The report, whose style stands in it: its own policy lets that in and nothing else.
pub async fn report_page(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    let mut page = paper(&bench, "report.html", "text/html; charset=utf-8").await?;
    let policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";
    page.headers_mut().insert("content-security-policy", axum::http::HeaderValue::from_static(policy));
    Ok(page)
}

/// The plan, as the command line writes it.
pub async fn plan_json(State(bench): State<Arc<Bench>>) -> Result<Response, Response> {
    work(&bench, |b| match not_current(b) {
        None => with_whole(b, |w| file("application/json", w.plan.to_json())),
        Some(words) => refuse(StatusCode::SERVICE_UNAVAILABLE, words),
    })
    .await
}

/// The strip of one tube, as it stands.
pub async fn one_strip(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let tube = asked(&request, "tube").unwrap_or_default();
    work(&bench, move |b| {
        let looked = match b.known.look(&tube, true, std::time::Instant::now()) {
            Ok(Some(looked)) => looked,
            Ok(None) => return refuse(StatusCode::NOT_FOUND, "the lot has no such tube"),
            Err(e) => return super::tube_pages::unread(b, &e),
        };
        let (plan, lot, views, at) = parts(&looked);
        let mut one = plan.clone();
        one.outcomes = one.outcomes.into_iter().skip(at).take(1).collect();
        let mut own = lot.clone();
        own.tubes = own.tubes.into_iter().skip(at).take(1).collect();
        let input = b.known.input(&one, &own, &views[at..=at]);
        let (pages, without) = strips(&input);
        if pages.is_empty() {
            return (StatusCode::NOT_FOUND, html(plain_words(&b.desk(), "No strip", &without.join("; "))))
                .into_response();
        }
        match pdf::write(&pages, &format!("Strip of tube {tube}")) {
            Ok(bytes) => file("application/pdf", bytes),
            Err(e) => fault(&e),
        }
    })
    .await
}
