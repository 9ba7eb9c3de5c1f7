use quarterlight::decide::{bark_map::*, fan::*};
use quarterlight::domain::*;
use quarterlight::tube::*;
fn main() {
    let target = Target::default();
    let fan = Fan::new(216.0, &target, &Saw::default()).unwrap();
    println!("{} stations {} starts window {}", fan.z_mm().len(), fan.starts(), fan.window());
    let fields = Fields { top: 5, wall: true };
    let mut s = Sections::zeros(fields, fan.z_mm());
    for j in 0..s.len() {
        let z = fan.z_mm()[j];
        let row = s.row_mut(j);
        row[0] = 12.7 + 0.01 * (z / 9.0).sin();
        row[1] = 0.2;
        row[3] = 0.03;
        row[4] = 0.01 * (z / 20.0).sin();
        row[9] = 1.0 * (z / 216.0 * 3.14).sin();
        row[11] = 3.5;
    }
    let judge = Judge::new(fan, fields, &target, 12.7, vec![]);
    let mut m = BarkMap::default();
    let t = std::time::Instant::now();
    for _ in 0..300 {
        judge.judge(&s, &mut m);
    }
    println!("{:?} per map", t.elapsed() / 300);
    println!("{}", m.broken.iter().filter(|&&b| b == 0).count());
}
