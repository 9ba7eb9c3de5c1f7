//! Sawn ends from a picture dropped on the page.

use super::super::replace::{Beside, PART, write_file};
use super::held::{Bench, Ends, asked, file, form, html, lock, onward, picture as body, refuse, work};
use super::writes::told_once;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use quarterlight::lot::ends::{EndName, name_ends, picture_stem, readings_table};
use quarterlight::output::bench_page::{EndsSeen, ends_drop, ends_seen};
use quarterlight::output::ends_picture::picture;
use quarterlight::output::ends_report as words;
use quarterlight::picture::{decode, find_rings, find_scale};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::sync::Arc;

/// Whom the words are for.
const FACE: words::Face = words::Face::Page;

/// Where a picture is dropped, or, while one waits for names, where it gets them.
pub async fn page(State(bench): State<Arc<Bench>>, request: Request) -> Response {
    if asked(&request, "seen").is_some() && lock(&bench.ends).is_some() {
        return work(&bench, |b| named_page(b, None, &[])).await.unwrap_or_else(|r| r);
    }
    html(ends_drop(&bench.desk(), told_once(&bench).as_deref()))
}

fn named_page(b: &Bench, refused: Option<&str>, chosen: &[String]) -> Response {
    let Some(held) = lock(&b.ends).clone() else { return onward("/ends") };
    let tubes: Vec<String> =
        b.known.last().map_or_else(Vec::new, |n| n.lot.tubes.iter().map(|t| t.name.clone()).collect());
    let said = words::scale_line(&held.scale, FACE) + &words::numbers_block(&held.found, b.desk().units);
    let seen =
        EndsSeen { stem: &held.stem, words: &said, rings: held.found.things.len(), tubes: &tubes, refused, chosen };
    html(ends_seen(&b.desk(), &seen))
}

/// A picture comes in: rings are looked for.
pub async fn take_picture(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let name = asked(&request, "name").unwrap_or_default();
    let bytes = body(&bench, request).await?;
    work(&bench, move |b| match looked_for(&name, &bytes) {
        Ok(ends) => {
            *lock(&b.ends) = Some(Arc::new(ends));
            // the names of its tubes are asked next
            let _ = b.known.now();
            (StatusCode::OK, "/ends?seen=1").into_response()
        }
        Err(why) => refuse(StatusCode::UNPROCESSABLE_ENTITY, why),
    })
    .await
}

fn looked_for(name: &str, bytes: &[u8]) -> Result<Ends, String> {
    let read = decode(Cursor::new(bytes)).map_err(|e| format!("{e}. {}", e.fix()))?;
    let scale = find_scale(&read, None, None).map_err(|e| {
        let (what, fix) = words::scale_fault(e, FACE);
        format!("{what}. {fix}")
    })?;
    let found = find_rings(&read.grey, scale.scale, scale.card.as_ref());
    if found.things.is_empty() {
        return Err("No ring found in it: is the resolution right, and do the rings stand out from the ground? A ring is 6 to 80 mm wide.".into());
    }
    let drawn = picture(&read.grey, scale.scale, &found, None).map_err(|e| format!("a fault of ours: {e}"))?;
    Ok(Ends { stem: picture_stem(name), read, scale, found, drawn })
}

/// The numbered picture.
pub async fn seen_picture(State(bench): State<Arc<Bench>>) -> Response {
    let held = lock(&bench.ends).clone();
    match held {
        Some(held) => file("image/png", held.drawn.clone()),
        None => refuse(StatusCode::NOT_FOUND, "no picture"),
    }
}

/// The rings have their names: their readings are written into the lot.
pub async fn take_names(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let fields = form(&bench, request).await?;
    work(&bench, move |b| match written(b, &fields) {
        Ok(said) => {
            *lock(&b.ends) = None;
            *lock(&b.ends_said) = Some(said);
            b.known.wrote();
            onward("/ends")
        }
        Err((why, chosen)) => named_page(b, Some(&why), &chosen),
    })
    .await
}

fn written(b: &Bench, fields: &BTreeMap<String, String>) -> Result<String, (String, Vec<String>)> {
    let held = lock(&b.ends).clone().ok_or_else(|| ("no picture waits for names".to_string(), Vec::new()))?;
    let n = held.found.things.len();
    let chosen: Vec<String> =
        (1..=n).map(|i| fields.get(&format!("ring{i}")).cloned().unwrap_or_else(|| "-".into())).collect();
    let fail = |why: String| (why, chosen.clone());
    let now = b.known.now().map_err(|e| fail(e.to_string()))?;
    let given = chosen
        .iter()
        .map(|c| match c.as_str() {
            "-" => Ok(None),
            key => EndName::of_key(key).map(Some).ok_or_else(|| fail(format!("'{key}' is no end of a tube"))),
        })
        .collect::<Result<Vec<_>, _>>()?;
    let seen = name_ends(&held.found, &given, &[], &now.lot)
        .map_err(|e| fail(format!("{e}. {}", words::names_fix(&e, FACE))))?;
    let kept: Vec<_> = seen.iter().enumerate().filter_map(|(i, s)| s.as_ref().ok().map(|e| (i + 1, e))).collect();
    if kept.is_empty() {
        return Err(fail("No ring that has a name and a tick: nothing was written.".into()));
    }
    let (table, facts) =
        readings_table(&kept, &held.scale, &held.stem).map_err(|e| fail(format!("a fault of ours: {e}")))?;
    let drawn = picture(&held.read.grey, held.scale.scale, &held.found, Some(&seen))
        .map_err(|e| fail(format!("a fault of ours: {e}")))?;
    let (readings, shown) = (format!("readings-ends-{}.csv", held.stem), format!("ends-{}.png", held.stem));
    let there = |e: super::super::diagnostics::Failure| {
        fail(format!("{e}. Give the picture another name, or take that file away: nothing is written over."))
    };
    let beside = Beside::write(&b.known.path(&shown), &drawn, PART, false).map_err(there)?;
    write_file(&b.known.path(&readings), table.as_bytes(), false).map_err(there)?;
    beside.take_place().map_err(there)?;
    Ok(format!(
        "{}{readings} written: {} readings.",
        words::named_block(&seen, &facts, b.desk().units, FACE),
        table.lines().count().saturating_sub(1)
    ))
}
