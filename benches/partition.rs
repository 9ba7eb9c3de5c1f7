//! How long a division into piles takes: 200 tubes of 0 to 16 expected blanks. Beside the time stands what it is measured
//! against: how far its spread lies above the bound that no division can beat.

use criterion::{Criterion, criterion_group, criterion_main};
use quarterlight::numeric::draws::stream;
use quarterlight::numeric::partition::divide;
use rand::RngExt;
use std::hint::black_box;

fn piles(c: &mut Criterion) {
    let mut rng = stream(1, "blanks", 0);
    let sizes: Vec<f64> = (0..200).map(|_| rng.random_range(0.0..16.0)).collect();
    for piles in [2, 5, 10, 20] {
        let d = divide(&sizes, piles).expect("sizes");
        println!("{piles} piles: spread {:.6}, bound {:.6}", d.spread, d.spread_bound);
        c.bench_function(&format!("200 tubes in {piles} piles"), |b| b.iter(|| divide(black_box(&sizes), piles)));
    }
    let few = &sizes[..24];
    c.bench_function("24 tubes in 4 piles, every division looked at", |b| b.iter(|| divide(black_box(few), 4)));
}

criterion_group!(benches, piles);
criterion_main!(benches);
