//! How long a scan takes to lay out. Rival: the neighbour distances of every point by a k-d tree (kiddo), which finds
//! stray points and nothing else, in time n log n.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use quarterlight::numeric::draws;
use quarterlight::tube::scan::unroll;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::simulate_scan::ScanMaking;
use std::hint::black_box;
use std::num::NonZero;
use std::time::Duration;

fn scans(c: &mut Criterion) {
    let mut group = c.benchmark_group("scan");
    group.sample_size(10).measurement_time(Duration::from_secs(10));
    for (name, points) in [("10^4", 10_000), ("10^5", 100_000)] {
        let truth = TrueTube::grow(&Stand::default(), 77, 0);
        let making = ScanMaking { points, ..ScanMaking::default() };
        let scan = truth.scanned(&making, true, &mut draws::stream(5, "bench", 0));
        group.throughput(Throughput::Elements(points as u64));
        group.bench_function(format!("lay out {name} points"), |b| {
            b.iter(|| unroll(black_box(&scan), Some(truth.length_mm)));
        });
        group.bench_function(format!("rival: five neighbours of each of {name} points"), |b| {
            b.iter(|| {
                let tree = ImmutableKdTree::<f64, 3>::new_from_slice(black_box(&scan.points)).expect("points");
                let six = NonZero::new(6).expect("six");
                let far = |p: &[f64; 3]| {
                    let near = tree.query(p).nearest_n::<SquaredEuclidean<f64>>(six).execute();
                    near.iter().map(|n| n.distance).fold(0.0, f64::max)
                };
                scan.points.iter().map(far).sum::<f64>()
            });
        });
    }
    group.finish();
}

criterion_group!(benches, scans);
criterion_main!(benches);
