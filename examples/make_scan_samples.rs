//! Writes data-samples/scan anew: an invented scenario made by the simulator.
//!
//! Run from the crate's folder: `cargo run --release --example make_scan_samples`. The same bytes come out every time.

use quarterlight::numeric::draws;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use std::fmt::Write as _;
use std::path::Path;

/// Seed of the invented lot.
const SEED: u64 = 21;

fn main() -> std::io::Result<()> {
    let folder = Path::new("data-samples/scan");
    std::fs::create_dir_all(folder.join("scans"))?;
    let making = ScanMaking { points: 2000, noise_mm: 0.04, ..ScanMaking::default() };
    let mut tubes = "tube,length_mm,weight_g\n".to_string();
    let mut index = "# a point on the pencil line, in the frame of the scan\ntube,x_mm,y_mm,z_mm\n".to_string();
    for k in 0..2_u64 {
        let truth = TrueTube::grow(&Stand::default(), SEED, k);
        let mut rng = draws::stream(SEED, "scan sample", k);
        let (points, mark) = truth.scan(&making, &mut rng);
        let name = format!("C{}", k + 1);
        let _ = writeln!(tubes, "{name},{:.1},{:.1}", truth.length_mm, truth.weight_g);
        if k == 0 {
            let _ = writeln!(index, "{name},{:.2},{:.2},{:.2}", mark[0], mark[1], mark[2]);
            let mut out = "x_mm,y_mm,z_mm\n".to_string();
            for p in points {
                let _ = writeln!(out, "{:.3},{:.3},{:.3}", p[0], p[1], p[2]);
            }
            std::fs::write(folder.join("scans/C1.csv"), out)?;
        } else {
            let mut out = b"ply\nformat binary_little_endian 1.0\ncomment an invented tube\n".to_vec();
            out.extend_from_slice(format!("element vertex {}\n", points.len()).as_bytes());
            out.extend_from_slice(b"property float x\nproperty float y\nproperty float z\nend_header\n");
            for v in points.iter().flatten() {
                #[allow(clippy::cast_possible_truncation, reason = "the file holds single precision")]
                let v = *v as f32;
                out.extend_from_slice(&v.to_le_bytes());
            }
            std::fs::write(folder.join("scans/C2.ply"), out)?;
        }
    }
    std::fs::write(folder.join("tubes.csv"), tubes)?;
    std::fs::write(folder.join("scans/index.csv"), index)?;
    std::fs::write(
        folder.join("lot.toml"),
        "# An invented scenario: no such delivery exists. Made by examples/make_scan_samples.rs.\n\
         [lot]\nname = \"scan\"\n\n[scan]\nunit = \"mm\"\naccuracy = 0.02\n",
    )
}
