//! The wall as a scan of bore and bark tells it: without bias, honest in its intervals, and not seen where no bore was.

#[path = "support/scan_truth.rs"]
mod scan_truth;

use quarterlight::decide::plan::{PlanOptions, plan_tube};
use quarterlight::domain::{Kind, Lot, Tube, Unrolled};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{count, mean};
use quarterlight::tube::scan::ready;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use quarterlight::tube::{Belief, Population};
use scan_truth::{FIGURES, believed, scanned};

/// Tubes whose wall changes along them.
fn stand() -> Stand {
    Stand { wall_taper_mm: 0.2, ..Stand::default() }
}

/// A scan that sees a bore rounder than the bark.
fn making() -> ScanMaking {
    ScanMaking { bore_lobe_mm: 0.08, ..ScanMaking::default() }
}

fn laid(tube: &Tube) -> Unrolled {
    let own = ready(tube).unwrap_or_else(|e| panic!("{e}"));
    own.scan.as_ref().and_then(|s| s.unrolled.clone()).expect("laid out")
}

/// Departure of mean (0), cos (1) or sin (2) part of the wall at a share of the length from the truth, in sd and in mm.
fn off(truth: &TrueTube, belief: &Belief, t: f64, part: usize) -> (f64, f64) {
    let z = t * truth.length_mm;
    let at = |s: &quarterlight::tube::Sections| s.row(0)[s.fields().wall_at().expect("carried") + part];
    let d = at(&belief.mean_sections(&[z])) - at(&truth.sections(&[z]));
    (d / wall_sd(belief, z, part), d)
}

fn wall_sd(belief: &Belief, z: f64, part: usize) -> f64 {
    belief.doubt_of(&[(z, belief.fields().wall_at().expect("carried") + part, 1.0)]).0
}

/// Departures at these places, in sd, of mean, cos and sin part: one list each.
fn departures(making: &ScanMaking, tubes: u64, places: &[f64]) -> [Vec<f64>; 3] {
    let mut out = [Vec::new(), Vec::new(), Vec::new()];
    for k in 0..tubes {
        let (truth, tube) = scanned(&stand(), k, making, true);
        let belief = believed(&tube);
        assert!(belief.wall_seen(), "{k}");
        for &t in places {
            for (part, list) in out.iter_mut().enumerate() {
                list.push(off(&truth, &belief, t, part).0);
            }
        }
    }
    out
}

/// Share of 90 % intervals that hold the truth.
fn held(lists: &[Vec<f64>; 3]) -> f64 {
    let all: Vec<f64> = lists.iter().flatten().copied().collect();
    count(all.iter().filter(|u| u.abs() < 1.645).count()) / count(all.len())
}

fn told(name: &str, lists: &[Vec<f64>; 3]) {
    let each: Vec<String> = lists
        .iter()
        .map(|l| {
            let one = [l.clone(), Vec::new(), Vec::new()];
            let rms = mean(&l.iter().map(|u| u * u).collect::<Vec<f64>>()).sqrt();
            format!("{:.1} % (mean {:+.2} sd, rms {rms:.2})", 100.0 * held(&one), mean(l))
        })
        .collect();
    println!("{name}: {:.1} % of {}; {}", 100.0 * held(lists), 3 * lists[0].len(), each.join(", "));
}

#[test]
fn the_wall_of_both_ends_is_found_without_bias_and_with_honest_intervals() {
    for (points, tubes) in [(2_000, 60), (10_000, 40)] {
        let lists = departures(&ScanMaking { points, ..making() }, tubes, &[0.03, 0.97]);
        told(&format!("{points} points"), &lists);
        assert!((0.86..=0.94).contains(&held(&lists)), "{}", held(&lists));
        for l in &lists {
            // both ends of a tube share their scan's common error: as if there were one departure a tube
            assert!(mean(l).abs() < 3.3 / count(l.len() / 2).sqrt(), "{} sd off on the whole", mean(l));
        }
    }
}

#[test]
fn many_points_leave_only_the_error_common_to_the_scan() {
    let making = ScanMaking { points: 100_000, bore: 0.2, ..making() };
    for k in 0..3 {
        let (truth, tube) = scanned(&stand(), k, &making, true);
        let belief = believed(&tube);
        let u = laid(&tube);
        assert!(u.walls.len() > 400 && u.wall_points > 15_000, "{k}: {} {}", u.walls.len(), u.wall_points);
        let (sds, mm) = off(&truth, &belief, 0.03, 0);
        let sd = wall_sd(&belief, 0.03 * truth.length_mm, 0);
        assert!(sds.abs() < 3.5 && sd > 0.039 && sd < 0.05, "{k}: {sds} sd, {mm} mm, sd {sd}");
        let (_, lean) = off(&truth, &belief, 0.97, 1);
        assert!(lean.abs() < 0.02, "{k}: {lean}");
    }
}

#[test]
fn without_bore_points_the_wall_is_not_seen() {
    let (_, tube) = scanned(&stand(), 1, &ScanMaking { bore: 0.0, ..making() }, true);
    let belief = believed(&tube);
    let u = laid(&tube);
    assert!(u.walls.is_empty() && u.wall_points == 0 && u.inside > 200, "{} {}", u.wall_points, u.inside);
    assert!(!belief.wall_seen() && belief.figures(1, 20).wall_mm.is_none());
    assert!(!belief.sight().iter().any(|s| s.quantity == "wall" && s.seen));
}

#[test]
fn half_a_bore_tells_the_wall_on_that_side_and_stays_honest_about_the_other() {
    let making = ScanMaking { points: 5_000, bore_side_deg: (0.0, 150.0), ..making() };
    let lists = departures(&making, 30, &[0.03, 0.97]);
    told("150 degrees of bore", &lists);
    assert!(held(&lists) >= 0.86, "{}", held(&lists));
    let (truth, tube) = scanned(&stand(), 2, &making, true);
    let belief = believed(&tube);
    let at = |deg: f64| {
        let (w, (s, c)) = (belief.fields().wall_at().expect("carried"), deg.to_radians().sin_cos());
        let z = 0.03 * truth.length_mm;
        belief.doubt_of(&[(z, w, 1.0), (z, w + 1, c), (z, w + 2, s)]).0
    };
    assert!(at(255.0) > 2.0 * at(75.0), "{} {}", at(255.0), at(75.0));
    assert!(laid(&tube).walls.iter().all(|w| (-20.0..170.0).contains(&w.angle.degrees())));
}

#[test]
fn bark_that_was_not_scanned_gives_no_wall() {
    let (_, tube) = scanned(&stand(), 2, &ScanMaking { side_deg: (-90.0, 90.0), ..making() }, true);
    let u = laid(&tube);
    assert!(!u.walls.is_empty());
    let behind = |deg: f64| (105.0..255.0).contains(&deg.rem_euclid(360.0));
    assert!(!u.walls.iter().any(|w| behind(w.angle.degrees())), "{:?}", u.walls);
}

#[test]
fn a_bore_at_one_end_leaves_the_other_in_doubt() {
    for (ends, seen, unseen) in [((true, false), 0.03, 0.97), ((false, true), 0.97, 0.03)] {
        let making = ScanMaking { points: 5_000, bore_ends: ends, ..making() };
        let lists = departures(&making, 20, &[0.03, 0.97]);
        told("one end", &lists);
        assert!(held(&lists) >= 0.86, "{}", held(&lists));
        let (truth, tube) = scanned(&stand(), 4, &making, true);
        let belief = believed(&tube);
        let sd = |t: f64| wall_sd(&belief, t * truth.length_mm, 0);
        assert!(sd(unseen) > 3.0 * sd(seen), "{} {}", sd(unseen), sd(seen));
        assert!(laid(&tube).walls.iter().all(|w| (w.z_mm / truth.length_mm - seen).abs() < 0.2));
    }
}

#[test]
fn points_strewn_through_the_hollow_are_no_wall() {
    for (points, strewn) in [(2_000, 0.05), (10_000, 0.02), (10_000, 0.2), (100_000, 0.1)] {
        for k in 0..4 {
            let making = ScanMaking { points, bore: 0.0, strewn, ..making() };
            let (_, tube) = scanned(&stand(), k, &making, true);
            let u = laid(&tube);
            assert!(u.walls.is_empty(), "{points} {strewn} {k}: {:?}", u.walls);
        }
    }
    // at one end a bore, at the other strewn points only
    let mut wrong = 0;
    for k in 0..6 {
        let bore = ScanMaking { bore_ends: (true, false), bore: 0.08, ..making() };
        let (truth, mut tube) = scanned(&stand(), k, &bore, true);
        let loose = ScanMaking { bore: 0.0, strewn: 0.08, bore_ends: (false, true), ..making() };
        let mut rng = draws::stream(5, "scan tests", k);
        let more = truth.scanned(&loose, true, &mut rng);
        // the same stream lays both scans into one position
        tube.scan.as_mut().expect("a scan").points.extend(more.points);
        let u = laid(&tube);
        assert!(!u.walls.is_empty());
        wrong += u.walls.iter().filter(|w| w.z_mm > 0.5 * truth.length_mm).count();
    }
    assert_eq!(wrong, 0);
}

#[test]
fn a_bore_among_strewn_points_is_still_found() {
    let making = ScanMaking { points: 5_000, bore: 0.10, strewn: 0.05, ..making() };
    let lists = departures(&making, 30, &[0.03, 0.97]);
    told("strewn", &lists);
    assert!(held(&lists) >= 0.86, "{}", held(&lists));
    assert!(lists.iter().flatten().all(|u| u.abs() < 5.0));
    // and the outside is what it was
    let (truth, tube) = scanned(&stand(), 7, &making, true);
    for (name, off) in FIGURES.iter().zip(scan_truth::departures(&truth, &believed(&tube))) {
        assert!(off.is_some_and(|o| o.0.abs() < 4.5), "{name}: {off:?}");
    }
}

#[test]
fn a_rod_through_the_hollow_is_taken_for_no_bore_where_the_bore_is_seen() {
    // a thin stand held in the bore: a true surface, but deeper than any wall
    let (truth, mut tube) = scanned(&stand(), 3, &ScanMaking { moved: false, ..making() }, true);
    let clean = laid(&tube);
    let scan = tube.scan.as_mut().expect("a scan");
    for i in 0..600 {
        let (s, c) = (2.4 * f64::from(i)).sin_cos();
        scan.points.push([3.0 * c, 3.0 * s, 25.0 * f64::from(i) / 600.0]);
    }
    let u = laid(&tube);
    assert_eq!(u.wall_points, clean.wall_points);
    assert!(u.inside >= clean.inside + 600);
    assert!(off(&truth, &believed(&tube), 0.03, 0).0.abs() < 4.0);
}

#[test]
fn the_plan_checks_the_wall_a_scan_has_seen() {
    let thin = Stand { wall_mm: (1.6, 0.02), ..stand() };
    let options = PlanOptions { seed: 1, draws: 60 };
    let lot = Lot::default();
    let plan = |stand: &Stand, making: &ScanMaking| {
        let (_, tube) = scanned(stand, 0, making, true);
        let tube = ready(&tube).unwrap_or_else(|e| panic!("{e}"));
        plan_tube(&tube, &lot, &Population::default(), options).unwrap_or_else(|e| panic!("{e:?}"))
    };
    let (thick, unseen, seen) =
        (plan(&stand(), &making()), plan(&thin, &ScanMaking { bore: 0.0, ..making() }), plan(&thin, &making()));
    assert!(thick.wall_checked && seen.wall_checked && !unseen.wall_checked);
    assert!(thick.expected() > 1.0 && seen.expected() < 0.1 * thick.expected(), "{}", seen.expected());
    assert!(thick.fit.figures.wall_mm.is_some_and(|w| w.sd < 0.2));
}

#[test]
fn a_caliper_and_the_bore_are_joined() {
    let (truth, mut tube) = scanned(&stand(), 5, &making(), true);
    let before = believed(&tube);
    let mut rng = draws::stream(6, "walls", 0);
    tube.readings = truth.rings(Kind::Wall, 6, 1e9, 0.05, &mut rng);
    let after = believed(&tube);
    let z = 0.03 * truth.length_mm;
    assert!(wall_sd(&after, z, 0) < 0.9 * wall_sd(&before, z, 0));
    assert!(off(&truth, &after, 0.03, 0).0.abs() < 4.0 && after.doubted().is_empty(), "{:?}", after.doubted());
}
