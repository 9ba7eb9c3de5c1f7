//! Simulated tubes that are scanned, and how far what is believed of them is from the truth.

use quarterlight::domain::Tube;
use quarterlight::numeric::draws;
use quarterlight::tube::geometry::figures_of;
use quarterlight::tube::scan::ready;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use quarterlight::tube::{Belief, Measured, Model};

/// What [`departures`] are of, in its order.
pub const FIGURES: [&str; 6] = ["diameter", "ovality", "ovality deg", "bow", "bow deg", "taper"];

/// Tube number `k` of a population and its scan, with or without its index mark.
pub fn scanned(stand: &Stand, k: u64, making: &ScanMaking, marked: bool) -> (TrueTube, Tube) {
    let truth = TrueTube::grow(stand, 77, k);
    let mut rng = draws::stream(5, "scan tests", k);
    let scan = truth.scanned(making, marked, &mut rng);
    let tube = Tube { scan: Some(scan), ..truth.listed() };
    (truth, tube)
}

/// The belief from a tube's scan and readings, nothing being known of its instruments.
pub fn believed(tube: &Tube) -> Belief {
    let tube = ready(tube).unwrap_or_else(|e| panic!("{e}"));
    Belief::fit(&tube, &Model { index_line_deg: 0.0, ..Model::default() }).unwrap_or_else(|e| panic!("{e}"))
}

/// Departure from the truth of each of [`FIGURES`], in sd and in its own unit; `None` where it is not seen.
pub fn departures(truth: &TrueTube, belief: &Belief) -> [Option<(f64, f64)>; 6] {
    let z: Vec<f64> = (0..49).map(|i| truth.length_mm * f64::from(i) / 48.0).collect();
    let t = figures_of(&truth.sections(&z));
    let f = belief.figures(1, 200);
    let wrap = |x: f64, p: f64| (x + p / 2.0).rem_euclid(p) - p / 2.0;
    let pairs: [(Option<Measured>, f64, f64); 6] = [
        (f.diameter_mm, t.diameter, 1e9),
        (f.ovality_mm, t.ovality, 1e9),
        (f.ovality_deg, t.ovality_deg, 180.0),
        (f.bow_mm, t.bow, 1e9),
        (f.bow_deg, t.bow_deg, 360.0),
        (f.taper_mm_per_100mm, t.taper, 1e9),
    ];
    pairs.map(|(m, truth, period)| {
        m.map(|m| {
            let d = wrap(m.value - truth, period);
            (d / m.sd, d)
        })
    })
}
