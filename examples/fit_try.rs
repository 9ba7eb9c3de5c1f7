use quarterlight::domain::*;
use quarterlight::tube::simulate::*;
use quarterlight::tube::*;
use std::collections::BTreeMap;
fn main() {
    let stand = Stand::default();
    let t = std::time::Instant::now();
    let n = 40;
    let mut z = vec![];
    for k in 0..n {
        let truth = TrueTube::grow(&stand, 1, k);
        let mut rng = quarterlight::numeric::draws::stream(1, "read", k);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
        let d = truth.rings(Kind::Diameter, 4, 1e9, 0.05, &mut rng);
        tube.readings.extend(d.into_iter().take(4));
        let b = Belief::fit(&tube, &BTreeMap::new(), &Population::default(), 12.7).unwrap();
        let zz: Vec<f64> = (0..50).map(|i| i as f64 / 49.0 * truth.length_mm).collect();
        let (m, tr) = (b.mean_sections(&zz), truth.sections(&zz));
        let mid = 25;
        let bowm = |s: &Sections, p| {
            s.row(mid)[s.fields().centre() + p]
                - 0.5 * (s.row(0)[s.fields().centre() + p] + s.row(49)[s.fields().centre() + p])
        };
        let c = b.fields().centre();
        let (sd, prior) = b.doubt_of(&[(zz[mid], c, 1.0), (0.0, c, -0.5), (truth.length_mm, c, -0.5)]);
        z.push((bowm(&m, 0) - bowm(&tr, 0)) / sd);
        if k < 6 {
            println!(
                "L {:.0} D {:.3} true {:.3}; a2 {:.4} true {:.4}; bowx {:.4} true {:.4} sd {:.4} prior {:.3}; doubted {} settled {}",
                truth.length_mm,
                2.0 * m.mean_of(0),
                2.0 * tr.mean_of(0),
                m.mean_of(1),
                tr.mean_of(1),
                bowm(&m, 0),
                bowm(&tr, 0),
                sd,
                prior,
                b.doubted().len(),
                b.settled()
            );
        }
    }
    println!("{:?} per tube, z sd {:.3}", t.elapsed() / n as u32, quarterlight::numeric::summary::sd(&z));
}
