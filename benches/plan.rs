//! How long the parts of a plan take. Rivals: for the gauge stick, the convex hull of every window by the monotone
//! chain (`geometry::upper_hull`); for the whole, the count of windows checked.

use criterion::{Criterion, criterion_group, criterion_main};
use quarterlight::decide::bark_map::{BarkMap, Judge};
use quarterlight::decide::fan::{Fan, LINES};
use quarterlight::decide::piece::{Passing, PieceTable};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::{Kind, Lot, Saw, Target};
use quarterlight::geometry::upper_hull;
use quarterlight::lot::Prepared;
use quarterlight::numeric::draws;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::{Belief, Model, Sections};
use std::hint::black_box;
use std::time::Duration;

/// A tube of 216 mm: 101 stations, 66 starts, 11,880 windows.
fn example() -> (Judge, Sections) {
    let stand = Stand { length_mm: (216.0, 216.0), ..Stand::default() };
    let truth = TrueTube::grow(&stand, 1, 0);
    let fan = Fan::new(216.0, &Target::default(), &Saw::default()).expect("long enough");
    let sections = truth.sections(fan.z_mm());
    (Judge::new(fan, TrueTube::fields(), &Target::default(), 12.7, Vec::new()), sections)
}

/// Sixty tubes with 120 readings each.
fn sixty() -> Lot {
    let mut lot = Lot::default();
    for k in 0..60 {
        let stand = Stand { length_mm: (150.0, 250.0), ..Stand::default() };
        let truth = TrueTube::grow(&stand, 3, k);
        let mut rng = draws::stream(3, "read", k);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Runout, 12, truth.length_mm / 9.0, 0.02, &mut rng);
        tube.readings.truncate(116);
        tube.readings.extend(truth.rings(Kind::Diameter, 4, 1e9, 0.05, &mut rng).into_iter().take(4));
        lot.tubes.push(tube);
    }
    lot
}

fn maps(c: &mut Criterion) {
    let (judge, sections) = example();
    // also when only other figures are asked for
    let mut map = BarkMap::default();
    judge.judge(&sections, &mut map);
    c.bench_function("map: 180 lines x 101 stations, every window", |b| {
        b.iter(|| judge.judge(black_box(&sections), &mut map));
    });
    c.bench_function("rival: hulls of the same windows by monotone chain", |b| {
        let (fan, z) = (judge.fan(), judge.fan().z_mm());
        b.iter(|| {
            let mut edges = 0;
            for line in 0..LINES {
                let a = Fan::line_angle(line).radians();
                let points: Vec<[f64; 2]> =
                    (0..z.len()).map(|j| [z[j], sections.row(j)[0] + 0.1 * (a + z[j] * 0.01).cos()]).collect();
                for s in 0..fan.starts() {
                    edges += upper_hull(black_box(&points[s..=s + fan.window()])).len();
                }
            }
            edges
        });
    });
    let passing = Passing::of(&map, judge.fan());
    c.bench_function("pieces: runs of every piece of one draw", |b| {
        b.iter(|| PieceTable::of(black_box(&passing), 30, 35.5));
    });
}

fn tubes(c: &mut Criterion) {
    let lot = sixty();
    let model = Model::default();
    c.bench_function("fit: one tube, 120 readings", |b| {
        b.iter(|| Belief::fit(black_box(&lot.tubes[0]), &model));
    });
    let belief = Belief::fit(&lot.tubes[0], &model).expect("readings");
    let z: Vec<f64> = (0..90).map(|i| 2.0 * f64::from(i)).collect();
    // draws of the first seed are kept; of another each is made anew
    black_box(belief.draw_sections(0, 0, &z));
    c.bench_function("draw: one surface at 90 stations", |b| b.iter(|| belief.draw_sections(1, black_box(3), &z)));
    let lot = Prepared::of_lot(lot);
    let mut group = c.benchmark_group("lot");
    group.sample_size(10).measurement_time(Duration::from_secs(60));
    group.bench_function("plan: 60 tubes x 120 readings, 200 draws", |b| {
        b.iter(|| black_box(&lot).assess(PlanOptions::default(), &|_| ()));
    });
    group.finish();
}

criterion_group!(benches, maps, tubes);
criterion_main!(benches);
