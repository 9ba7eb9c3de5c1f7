//! Times a scan from file to plan: `cargo run --release --example scan_time [points]`.
//!
//! The files are written to a temporary folder and read back as a lot, so reading is part of the time.

use quarterlight::decide::plan::PlanOptions;
use quarterlight::lot::Prepared;
use quarterlight::numeric::draws;
use quarterlight::readings::read_lot;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use std::fmt::Write as _;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let points = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(1_000_000);
    let truth = TrueTube::grow(&Stand::default(), 77, 0);
    let making = ScanMaking { points, ..ScanMaking::default() };
    let (cloud, mark) = truth.scan(&making, &mut draws::stream(5, "scan time", 0));
    for form in ["csv", "ply"] {
        let folder = tempfile::tempdir()?;
        let scans = folder.path().join("scans");
        std::fs::create_dir(&scans)?;
        let index = format!("tube,x,y,z\nA,{},{},{}\n", mark[0], mark[1], mark[2]);
        std::fs::write(scans.join("index.csv"), index)?;
        if form == "csv" {
            let mut out = "x_mm,y_mm,z_mm\n".to_string();
            for p in &cloud {
                writeln!(out, "{:.4},{:.4},{:.4}", p[0], p[1], p[2])?;
            }
            std::fs::write(scans.join("A.csv"), out)?;
        } else {
            let head = format!(
                "ply\nformat binary_little_endian 1.0\nelement vertex {}\nproperty double x\nproperty double y\n\
                 property double z\nend_header\n",
                cloud.len()
            );
            let body = cloud.iter().flatten().flat_map(|v| v.to_le_bytes());
            std::fs::write(scans.join("A.ply"), head.into_bytes().into_iter().chain(body).collect::<Vec<u8>>())?;
        }
        let start = Instant::now();
        let read = read_lot(folder.path())?;
        let reading = start.elapsed().as_secs_f64();
        let lot = Prepared::of_read(read, &[])?;
        let laying = start.elapsed().as_secs_f64() - reading;
        let assessed = lot.assess(PlanOptions::default(), &|_| ())?;
        let all = start.elapsed().as_secs_f64();
        let blanks = assessed.forecast.blanks.expected;
        println!(
            "{form}: {points} points: reading {reading:.2} s, laying out {laying:.2} s, fit and plan {:.2} s, in all \
             {all:.2} s; {blanks:.1} blanks, {} notes",
            all - reading - laying,
            lot.findings.len()
        );
    }
    Ok(())
}
