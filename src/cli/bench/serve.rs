//! The socket: connections taken, bounded in number and in time.

use super::gate::{self, Peer};
use super::held::Bench;
use super::routes::routes;
use axum::Extension;
use axum::middleware::from_fn_with_state;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::io;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::time::{sleep, timeout};

/// Connections at once; more wait.
const MOST: usize = 400;
/// The head of a request must be there by then; a connection that says nothing is closed.
const HEAD: Duration = Duration::from_secs(15);
/// No connection lasts longer: a page opens the next one.
const LONGEST: Duration = Duration::from_secs(600);
/// Bytes of the head of a request.
const HEAD_BYTES: usize = 32 * 1024;

/// Serves until the program ends.
pub async fn serve(listener: TcpListener, bench: Arc<Bench>) -> io::Result<()> {
    let gate = bench.gate.clone();
    let routes = routes(bench).layer(from_fn_with_state(gate, gate::through));
    let room = Arc::new(Semaphore::new(MOST));
    loop {
        let Ok(permit) = room.clone().acquire_owned().await else { return Ok(()) };
        let (stream, peer) = match listener.accept().await {
            Ok(met) => met,
            Err(_) => {
                // too many open files, or a client that went before it was met: there may be room in a moment
                sleep(Duration::from_millis(20)).await;
                continue;
            }
        };
        let service = TowerToHyperService::new(routes.clone().layer(Extension(Peer(peer.ip()))));
        tokio::spawn(async move {
            let _ = stream.set_nodelay(true);
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD)
                .max_buf_size(HEAD_BYTES)
                .serve_connection(TokioIo::new(stream), service);
            // what goes wrong here concerns that one client, who sees it
            let _ = timeout(LONGEST, connection).await;
            drop(permit);
        });
    }
}
