//! `bench`: a local page to measure, type and see the split at once.
//!
//! ```text
//! serve --> gate --> routes --> tube_pages, lot_pages, ends_pages    what is seen
//!                         \--> writes --> store (changes)            what is written down, one hand for all pages
//!                                known <-- keep_looking              what is known of the lot, renewed behind the pages
//! ```

mod changes;
mod ends_pages;
mod gate;
mod held;
mod known;
mod lot_pages;
mod routes;
mod serve;
mod store;
mod tube_pages;
mod writes;

use super::args::BenchArgs;
use super::diagnostics::Failure;
use super::sink::{print, say};
use gate::Gate;
use held::Bench;
use known::Known;
use std::io::{self, ErrorKind};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, UdpSocket};
use std::process::ExitCode;
use std::sync::Arc;
use store::Store;
use tokio::net::TcpListener;

/// The port that is tried first where none is asked for: any will do, and one that stays the same can be bookmarked.
const PORT: u16 = 7245;

/// Serves the pages of a lot until the program is ended.
pub fn run(args: &BenchArgs) -> Result<ExitCode, Failure> {
    if !args.lot.is_dir() {
        // a path that is nothing says so itself
        quarterlight::readings::read_lot(&args.lot)?;
        return Err(Failure::Choice {
            what: format!("{} is no folder", args.lot.display()),
            fix: "what is typed is written into a lot's folder: put the file into one, as readings.csv, and give that"
                .into(),
        });
    }
    quarterlight::readings::read_lot(&args.lot)?;
    let fault = |source| Failure::Write { path: format!("the page at {}", args.address), source };
    let taken = |source: io::Error| match source.kind() {
        ErrorKind::AddrInUse => Failure::Choice {
            what: format!("port {} of {} is in use", args.port.unwrap_or(PORT), args.address),
            fix: "is a bench open already? Else choose another --port, or leave it out".into(),
        },
        ErrorKind::AddrNotAvailable => Failure::Choice {
            what: format!("{} is no address of this computer", args.address),
            fix: "leave --address out, or 0.0.0.0 for all of its addresses".into(),
        },
        _ => fault(source),
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(fault)?;
    runtime.block_on(serve(args)).map_err(taken)?;
    Ok(ExitCode::SUCCESS)
}

async fn serve(args: &BenchArgs) -> io::Result<()> {
    let listener = listen(args).await?;
    let address = listener.local_addr()?;
    let (gate, code) = Gate::of(address).map_err(|e| io::Error::other(e.to_string()))?;
    let known = Known::new(
        args.lot.clone(),
        args.options(),
        args.units.map(super::args::UnitsArg::units),
        args.paper.paper(),
        args.no_hands_mm,
    );
    let known = Arc::new(known);
    let told = known.clone();
    let store = Store::start(args.lot.clone(), move || told.wrote())?;
    let looking = known.clone();
    // where another pool is there already, its threads are as they are
    let _ = rayon::ThreadPoolBuilder::new().start_handler(|_| held::steps_back()).build_global();
    let look = move || {
        held::steps_back();
        looking.keep_looking(held::steps_back);
    };
    std::thread::Builder::new().name("looking".into()).spawn(look)?;
    let bench = Arc::new(Bench::new(known, store, gate, args.others.clone()));
    let shown = format!("http://{}/", at_this_computer(address));
    let mut words =
        format!("The bench of {} is at {shown}  (Ctrl+C ends it; what was typed is on the disk)", args.lot.display());
    if let Some(code) = code {
        let who = match seen_from_outside(address) {
            Some(at) if at == address => "Every device must type a code, this computer too".to_string(),
            Some(at) => format!("Other devices in this network reach it at http://{at}/ and must type a code"),
            None => format!(
                "Other devices in this network reach it at port {} of this computer's address, which its network settings \
                 tell, and must type a code",
                address.port()
            ),
        };
        words += &format!("\n{who}; each code lets in one, then the next is printed: {code}");
    }
    print(&words).map_err(|e| io::Error::other(e.to_string()))?;
    if args.open
        && let Err(e) = open::that_detached(&shown)
    {
        say(format_args!("note: no browser could be opened ({e}): type the address"));
    }
    serve::serve(listener, bench).await
}

/// The address at which this computer's own browser finds the page.
fn at_this_computer(address: SocketAddr) -> SocketAddr {
    match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => (Ipv4Addr::LOCALHOST, address.port()).into(),
        IpAddr::V6(ip) if ip.is_unspecified() => (Ipv6Addr::LOCALHOST, address.port()).into(),
        _ => address,
    }
}

/// The address at which other devices find it, where one can be told. Nothing is sent: the system only says from which of its
/// addresses it would send to an address that is kept for examples (RFC 5737).
fn seen_from_outside(address: SocketAddr) -> Option<SocketAddr> {
    if !address.ip().is_unspecified() {
        return Some(address);
    }
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(203, 0, 113, 1), 9)).ok()?;
    let own = socket.local_addr().ok()?.ip();
    (!own.is_loopback() && !own.is_unspecified()).then(|| (own, address.port()).into())
}

async fn listen(args: &BenchArgs) -> io::Result<TcpListener> {
    let at = |port| SocketAddr::new(args.address, port);
    match args.port {
        Some(port) => TcpListener::bind(at(port)).await,
        None => match TcpListener::bind(at(PORT)).await {
            Err(e) if e.kind() == ErrorKind::AddrInUse => TcpListener::bind(at(0)).await,
            other => other,
        },
    }
}
