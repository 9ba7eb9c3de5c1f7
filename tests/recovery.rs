//! Do we find the truth? Tubes of known shape are read by plain instruments with noise, fitted and compared with figures
//! taken from points of the true surface; neither shares code with the crate (`quarterlight::known`).

#[path = "support/tool.rs"]
mod tool;

use quarterlight::domain::{Angle, Tube};
use quarterlight::known as truth;
use quarterlight::tube::Quantity;
use rayon::prelude::*;
use tool::{believe, believe_all};
use truth::chance::Chance;
use truth::figures::figures;
use truth::instruments::Foot;
use truth::measuring::{Bench, Rig, Taken, Tool, half_round, places_every, round};
use truth::plans::Plan;
use truth::populations::Population as Make;
use truth::shape::TrueTube;
use truth::{mean, spread};

/// Half-width of a 90 % interval in standard deviations.
const NINETY: f64 = 1.645;

/// Runout at 12 angles every 17 mm with 0.02 mm noise, and four caliper diameters with 0.05 mm.
fn read_by_dial(truth: &TrueTube, seed: u64) -> Tube {
    tool::tube_of(truth, &Plan::Dial12.read(truth, seed))
}

/// Errors in units of the stated doubt, one list per quantity.
fn scores(n: u64, seed: u64, read: impl Fn(&TrueTube) -> Tube + Sync) -> Vec<(&'static str, Vec<f64>)> {
    let truths: Vec<TrueTube> = (0..n).map(|k| Make::Smooth.grow(seed, k)).collect();
    let tubes: Vec<Tube> = truths.par_iter().map(&read).collect();
    let rows: Vec<Vec<Option<f64>>> = truths
        .par_iter()
        .zip(believe_all(&tubes))
        .map(|(truth, b)| {
            let f = b.figures(1, 120);
            let t = figures(truth, 49);
            let z = |m: Option<quarterlight::tube::Measured>, true_value: f64| m.map(|m| (m.value - true_value) / m.sd);
            let turn = |m: Option<quarterlight::tube::Measured>, true_value: f64, period: f64| {
                m.map(|m| {
                    let d = (m.value - true_value).rem_euclid(period);
                    (if d > period / 2.0 { d - period } else { d }) / m.sd
                })
            };
            vec![
                z(f.diameter_mm, t.diameter_mm),
                z(f.ovality_mm, t.ovality_mm),
                turn(f.ovality_deg, t.ovality_deg, 180.0),
                z(f.bow_mm, t.bow_mm),
                turn(f.bow_deg, t.bow_deg, 360.0),
                z(f.taper_mm_per_100mm, t.taper_mm),
            ]
        })
        .collect();
    let names = ["diameter", "ovality", "ovality direction", "bow", "bow direction", "taper"];
    names.iter().enumerate().map(|(q, name)| (*name, rows.iter().filter_map(|r| r[q]).collect())).collect()
}

fn coverage(z: &[f64]) -> f64 {
    z.iter().filter(|z| z.abs() <= NINETY).count() as f64 / z.len() as f64
}

#[test]
fn dial_readings_give_unbiased_figures_with_honest_intervals() {
    let all = scores(150, 31, |truth| read_by_dial(truth, 31));
    let mut pooled = Vec::new();
    for (name, z) in &all {
        println!(
            "{name}: n {}, mean z {:+.2}, sd {:.2}, covered {:.1} %",
            z.len(),
            mean(z),
            spread(z),
            100.0 * coverage(z)
        );
        assert_eq!(z.len(), 150, "{name} is seen on every tube");
        // five standard errors of the mean of 150
        assert!(mean(z).abs() < 0.41, "{name} is off by {:.2} of its doubt on average", mean(z));
        // 150 tubes: +-4 % is one and a half standard errors about the 86 to 94 % asked for
        assert!((0.82..=0.98).contains(&coverage(z)), "{name}: 90 % intervals cover {:.3}", coverage(z));
        pooled.extend_from_slice(z);
    }
    let c = coverage(&pooled);
    assert!((0.86..=0.94).contains(&c), "over all figures 90 % intervals cover {c:.3}");
}

#[test]
fn the_height_of_the_bark_is_covered_anywhere() {
    let truths: Vec<TrueTube> = (0..60).map(|k| Make::Smooth.grow(32, k)).collect();
    let tubes: Vec<Tube> = truths.par_iter().map(|truth| read_by_dial(truth, 32)).collect();
    let inside: Vec<bool> = truths
        .par_iter()
        .zip(believe_all(&tubes))
        .enumerate()
        .flat_map_iter(|(k, (truth, b))| {
            let mut c = Chance::of(32, "where", k as u64);
            (0..8)
                .map(|_| {
                    let z = truth.length_mm * c.even(0.1, 0.9);
                    let a = c.direction();
                    // the middle of a 70 mm stretch against its ends: what the gauge stick feels, free of the frame
                    let span = [z, (z - 35.0).max(0.0), (z + 35.0).min(truth.length_mm)];
                    let weight = [1.0, -(span[2] - z) / (span[2] - span[1]), -(z - span[1]) / (span[2] - span[1])];
                    let sections = b.mean_sections(&span);
                    let believed: f64 =
                        (0..3).map(|j| weight[j] * sections.section(j).height_mm(Angle::from_radians(a))).sum();
                    let off = believed - (0..3).map(|j| weight[j] * truth.height(a, span[j])).sum::<f64>();
                    let add = |q: Quantity, j: usize| q.height(span[j], Angle::from_radians(a), weight[j]);
                    off.abs() <= NINETY * b.doubt_of(&(0..3).fold(Quantity::of(b.fields()), add)).sd
                })
                .collect::<Vec<bool>>()
        })
        .collect();
    let c = inside.iter().filter(|i| **i).count() as f64 / inside.len() as f64;
    println!("gap under a stick: {} places, covered {:.1} %", inside.len(), 100.0 * c);
    assert!((0.85..=0.96).contains(&c), "{c:.3} of 480 intervals");
}

#[test]
fn radius_and_gap_readings_are_covered_too() {
    type Take = (Tool, fn(u32) -> Vec<f64>, u32, f64, f64, &'static str);
    let ways: [(&str, u64, Vec<Take>); 2] = [
        ("radius", 33, vec![(Tool::Axis(Foot::Height), round, 12, 20.0, 0.02, "")]),
        (
            "gap and caliper",
            34,
            vec![
                (Tool::Lifted, round, 8, 20.0, 0.03, "edge "),
                (Tool::Caliper(0.0), half_round, 4, 60.0, 0.05, ""),
                (Tool::Caliper(0.0), half_round, 4, 60.0, 0.05, ""),
            ],
        ),
    ];
    for (name, seed, takes) in ways {
        let all = scores(80, seed, |truth| {
            let mut b = Bench::new(truth, seed);
            for &(tool, angles, n, step, noise, set) in &takes {
                b.take(tool, &Rig::noisy(noise), &angles(n), &places_every(truth.length_mm, 5.0, step), set);
            }
            tool::tube_of(truth, &b.taken)
        });
        let pooled: Vec<f64> = all.iter().flat_map(|(_, z)| z.iter().copied()).collect();
        for (what, z) in &all {
            println!("{name}, {what}: n {}, mean z {:+.2}, covered {:.1} %", z.len(), mean(z), 100.0 * coverage(z));
        }
        let c = coverage(&pooled);
        assert!((0.86..=0.95).contains(&c), "{name}: 90 % intervals cover {c:.3}");
    }
}

#[test]
fn slipped_readings_are_named_and_hardly_move_the_figures() {
    for k in 0..12_u64 {
        let clean = read_by_dial(&Make::Smooth.grow(35, k), 35);
        let mut slipped = clean.clone();
        slipped.readings[40].value_mm += 0.4;
        slipped.readings[75].value_mm *= 10.0;
        let (a, b) = (believe(&clean), believe(&slipped));
        let named: Vec<usize> = b.doubted().iter().map(|d| d.index).collect();
        assert!(named.contains(&40) && named.contains(&75), "tube {k}: {named:?}");
        let (fa, fb) = (a.figures(1, 40), b.figures(1, 40));
        let (bow_a, bow_b) = (fa.bow_mm.expect("seen"), fb.bow_mm.expect("seen"));
        assert!((bow_a.value - bow_b.value).abs() < 2.0 * bow_a.sd, "tube {k}: {bow_a:?} {bow_b:?}");
    }
}

#[test]
fn good_readings_are_seldom_doubted() {
    let (mut doubted, mut readings) = (0, 0);
    for k in 0..40_u64 {
        let tube = read_by_dial(&Make::Smooth.grow(36, k), 36);
        readings += tube.readings.len();
        doubted += believe(&tube).doubted().len();
    }
    // a normal reading lies beyond 3.7 sd once in 4,600; allow for the fit's own roughness
    assert!(doubted * 1000 <= readings, "{doubted} of {readings}");
}

#[test]
fn twelve_caliper_readings_work_and_say_how_little_they_know() {
    let truth = Make::Smooth.grow(37, 0);
    let taken: Vec<Taken> = Plan::Caliper.read(&truth, 37);
    let tube = tool::tube_of(&truth, &taken);
    assert_eq!(tube.readings.len(), 12);
    let b = believe(&tube);
    let (seen, f) = (b.seen(), b.figures(1, 60));
    assert!(seen.size && seen.oval && !seen.bow && !seen.odd && !seen.wall);
    assert!(f.bow_mm.is_none() && f.wall_mm.is_none() && f.diameter_mm.is_some());
}
