//! Scans with known truth: how far off the figures are, how often the stated intervals hold, and how long it takes.
//!
//! `cargo run --release --example scan_study [tubes] [points] [short|bent|flat|arc|bore]`: the last word makes the tubes
//! short, much bent or flattened, or the scan one of a narrow side or mostly of the bore.

#[path = "../tests/support/scan_truth.rs"]
mod scan_truth;

use quarterlight::domain::Lot;
use quarterlight::numeric::summary::{count, mean, sd};
use quarterlight::tube::scan;
use quarterlight::tube::simulate::Stand;
use quarterlight::tube::simulate_scan::ScanMaking;
use scan_truth::{FIGURES, believed, departures, scanned};
use std::time::Instant;

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let tubes = args.next().unwrap_or(40);
    let points = args.next().unwrap_or(10_000);
    let mut making = ScanMaking { points, ..ScanMaking::default() };
    let mut stand = Stand::default();
    match std::env::args().nth(3).as_deref() {
        Some("short") => stand.length_mm = (45.0, 95.0),
        Some("bent") => stand.bow_mm = 4.0,
        Some("flat") => stand.ovality_mm = (2.0, 0.1),
        Some("arc") => making.side_deg = (-50.0, 50.0),
        Some("bore") => (making.bore, making.face) = (0.5, 0.1),
        _ => {}
    }
    let mut off: Vec<Vec<f64>> = vec![Vec::new(); FIGURES.len()];
    let mut raw: Vec<Vec<f64>> = vec![Vec::new(); FIGURES.len()];
    let mut length = Vec::new();
    let (mut unroll_s, mut fit_s) = (0.0, 0.0);
    let mut rows = 0;
    for k in 0..tubes as u64 {
        let (truth, tube) = scanned(&stand, k, &making, true);
        let t = Instant::now();
        let mut lot = Lot { tubes: vec![tube], ..Lot::default() };
        for f in scan::unroll_lot(&mut lot) {
            println!("{k}: {f}");
        }
        unroll_s += t.elapsed().as_secs_f64();
        let tube = &lot.tubes[0];
        if tube.in_doubt {
            continue;
        }
        let u = tube.scan.as_ref().and_then(|s| s.unrolled.as_ref());
        let u = u.unwrap_or_else(|| panic!("not laid out"));
        rows = u.cells.len();
        length.push(u.length_mm - truth.length_mm);
        let t = Instant::now();
        let belief = believed(tube);
        fit_s += t.elapsed().as_secs_f64();
        for (i, d) in departures(&truth, &belief).into_iter().enumerate() {
            let Some((of_sd, own)) = d else { continue };
            raw[i].push(own);
            off[i].push(of_sd);
        }
        if k < 3 {
            println!(
                "{k}: point sd {:.4}, used {}, in the wall {}, inside {}, stray {}, settled {}",
                u.point_sd_mm,
                u.used,
                u.wall_points,
                u.inside,
                u.stray,
                belief.settled()
            );
        }
    }
    println!(
        "{tubes} tubes, {points} points, {rows} cells in the last; length off {:.3} +- {:.3}",
        mean(&length),
        sd(&length)
    );
    for (i, name) in FIGURES.iter().enumerate() {
        let hit = count(off[i].iter().filter(|u| u.abs() < 1.645).count()) / count(off[i].len().max(1));
        println!(
            "{name:12} mean off {:+.4}, sd {:.4}, z mean {:+.2} sd {:.2}, 90 % holds {:.0} %",
            mean(&raw[i]),
            sd(&raw[i]),
            mean(&off[i]),
            sd(&off[i]),
            100.0 * hit
        );
    }
    println!("laying out {:.3} s, fit {:.3} s a tube", unroll_s / count(tubes), fit_s / count(tubes));
}
