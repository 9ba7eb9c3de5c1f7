use quarterlight::decide::bark_map::BarkMap;
use quarterlight::decide::split::*;
use quarterlight::domain::*;
use quarterlight::tube::simulate::*;
use quarterlight::tube::*;
use std::collections::BTreeMap;
fn main() {
    let stand = Stand::default();
    let lot = Lot::default();
    let mut acc = [[0.0f64; 2]; 6];
    let mut n = 0.0;
    let mut fe = vec![[0.0f64; 3]; 11];
    for k in 0..40 {
        let truth = TrueTube::grow(&stand, 11, k);
        let mut rng = quarterlight::numeric::draws::stream(11, "read", k);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
        tube.readings.extend(truth.rings(Kind::Diameter, 4, 1e9, 0.05, &mut rng).into_iter().take(4));
        let b = Belief::fit(&tube, &BTreeMap::new(), &Population::default(), 12.7).unwrap();
        let s = splitter_for(truth.length_mm, b.fields(), &lot, &[], 12.7).unwrap();
        let z = s.judge().fan().z_mm().to_vec();
        let ts = splitter_for(truth.length_mm, TrueTube::fields(), &lot, &[], 12.7).unwrap();
        let (mut tm, mut mm, mut dm) = (BarkMap::default(), BarkMap::default(), BarkMap::default());
        ts.judge().judge(&truth.sections(&z), &mut tm);
        s.judge().judge(&b.mean_sections(&z), &mut mm);
        s.judge().judge(&b.draw_sections(1, 0, &z), &mut dm);
        let p = |v: &BarkMap, i: usize| [v.hollow[i], v.rock[i], v.arc[i], v.skew[i]].map(f64::from);
        for i in 0..tm.hollow.len() {
            for q in 0..4 {
                acc[q][0] += (p(&tm, i)[q] - p(&mm, i)[q]).powi(2);
                acc[q][1] += (p(&dm, i)[q] - p(&mm, i)[q]).powi(2);
            }
        }
        n += tm.hollow.len() as f64;
        let (a, t, d) = (b.mean_sections(&z), truth.sections(&z), b.draw_sections(1, 0, &z));
        for j in 0..z.len() {
            for f in 0..9 {
                let tf = f;
                let bend = |s: &Sections, f: usize| {
                    if j >= 17 && j + 17 < z.len() {
                        s.row(j)[f] - 0.5 * (s.row(j - 17)[f] + s.row(j + 17)[f])
                    } else {
                        0.0
                    }
                };
                fe[f][0] += (a.row(j)[f] - t.row(j)[tf]).powi(2) / z.len() as f64 / 40.0;
                fe[f][1] += (bend(&a, f) - bend(&t, tf)).powi(2) / (z.len() - 34) as f64 / 40.0;
                fe[f][2] += (bend(&a, f) - bend(&d, f)).powi(2) / (z.len() - 34) as f64 / 40.0;
            }
        }
    }
    for q in 0..4 {
        println!(
            "{}: error rms {:.4} draw rms {:.4}",
            ["hollow", "rock", "arc", "skew"][q],
            (acc[q][0] / n).sqrt(),
            (acc[q][1] / n).sqrt()
        );
    }
    for f in 0..9 {
        println!(
            "field {f}: rms {:.4}, bend rms {:.4} draw bend {:.4}",
            fe[f][0].sqrt(),
            fe[f][1].sqrt(),
            fe[f][2].sqrt()
        );
    }
}
