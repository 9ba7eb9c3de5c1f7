//! Which address is which page.

use super::held::{Bench, file, html};
use super::writes::{self};
use super::{ends_pages, lot_pages, tube_pages};
use axum::Router;
use axum::routing::{get, post};
use quarterlight::output::bench_page::{ICON, SCRIPT, code_page, style};
use std::sync::Arc;

/// All of them.
pub fn routes(bench: Arc<Bench>) -> Router {
    Router::new()
        .route("/", get(tube_pages::index))
        .route("/measure", get(tube_pages::measure_page))
        .route("/card", get(tube_pages::card_page))
        .route("/answer", get(tube_pages::answer))
        .route("/next", get(tube_pages::next_part))
        .route("/fell", get(tube_pages::fell_page).post(writes::fell))
        .route("/cells", post(writes::cells))
        .route("/tubes", post(writes::tubes))
        .route("/minutes", post(writes::minutes))
        .route("/cautions", post(writes::cautions))
        .route("/code", get(|| async { html(code_page(false)) }).post(writes::code))
        .route("/ends", get(ends_pages::page))
        .route("/ends/picture", post(ends_pages::take_picture))
        .route("/ends/seen.png", get(ends_pages::seen_picture))
        .route("/ends/take", post(ends_pages::take_names))
        .route("/piles", get(lot_pages::piles_page))
        .route("/lots", get(lot_pages::lots_page))
        .route("/print", get(lot_pages::print_page))
        .route("/bench-list.pdf", get(lot_pages::bench_list))
        .route("/strips.pdf", get(lot_pages::all_strips))
        .route("/strip.pdf", get(lot_pages::one_strip))
        .route("/report.html", get(lot_pages::report_page))
        .route("/plan.json", get(lot_pages::plan_json))
        .route("/bench.css", get(|| async { file("text/css; charset=utf-8", style()) }))
        .route("/bench.js", get(|| async { file("text/javascript; charset=utf-8", SCRIPT) }))
        .route("/icon.svg", get(|| async { file("image/svg+xml", ICON) }))
        .with_state(bench)
}
