//! How much is lost by choosing the split angle from readings: draws against mean surface against an arbitrary angle.
use quarterlight::decide::bark_map::BarkMap;
use quarterlight::decide::piece::{Passing, PieceTable};
use quarterlight::decide::split::*;
use quarterlight::domain::*;
use quarterlight::tube::simulate::*;
use quarterlight::tube::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
fn main() {
    let tubes: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(200);
    let kind = std::env::args().nth(2).unwrap_or("runout".into());
    let e0 = |n: &str, d: f64| std::env::var(n).ok().and_then(|v| v.parse().ok()).unwrap_or(d);
    let mut stand = Stand::default();
    stand.lobe_mm = e0("LOBE", stand.lobe_mm);
    stand.wave_mm = e0("WAVE", stand.wave_mm);
    stand.bow_mm = e0("BOW", stand.bow_mm);
    stand.ovality_mm.0 = e0("OVAL", stand.ovality_mm.0);
    let mut lot = Lot::default();
    let e = |n: &str, d: f64| std::env::var(n).ok().and_then(|v| v.parse().ok()).unwrap_or(d);
    lot.target.hollow_mm = e("HOLLOW", lot.target.hollow_mm);
    lot.target.rock_mm = e("ROCK", lot.target.rock_mm);
    lot.target.skew_mm = e("SKEW", lot.target.skew_mm);
    lot.target.arc_tolerance_mm = e("ARC", lot.target.arc_tolerance_mm);
    lot.split.wander_deg = e("WANDER", lot.split.wander_deg);
    let over: BTreeMap<String, f64> =
        std::env::vars().filter_map(|(k, v)| Some((k.strip_prefix("POP_")?.to_string(), v.parse().ok()?))).collect();
    let pop = Population::with(&over).unwrap();
    let e1 = |n: &str, d: f64| std::env::var(n).ok().and_then(|v| v.parse().ok()).unwrap_or(d);
    let t0 = std::time::Instant::now();
    let res: Vec<[f64; 9]> = (0..tubes)
        .into_par_iter()
        .map(|k| {
            let truth = TrueTube::grow(&stand, 11, k);
            let mut rng = quarterlight::numeric::draws::stream(11, "read", k);
            let mut tube = truth.listed();
            if kind == "runout" {
                tube.readings =
                    truth.rings(Kind::Runout, e1("ANG", 12.0) as usize, e1("STEP", 17.0), e1("NOISE", 0.02), &mut rng);
                tube.readings
                    .extend(truth.rings(Kind::Diameter, 4, 1e9, e1("CAL", 0.05), &mut rng).into_iter().take(4));
            } else {
                tube.readings = truth.rings(Kind::Diameter, 6, 60.0, 0.05, &mut rng);
            }
            let b = Belief::fit(&tube, &BTreeMap::new(), &pop, 12.7).unwrap();
            let mut lot = lot.clone();
            lot.target.blank_thickness_mm = 0.0;
            let s = splitter_for(truth.length_mm, b.fields(), &lot, &[], 12.7).unwrap();
            let z = s.judge().fan().z_mm().to_vec();
            let ts = splitter_for(truth.length_mm, TrueTube::fields(), &lot, &[], 12.7).unwrap();
            let mut tm = BarkMap::default();
            ts.judge().judge(&truth.sections(&z), &mut tm);
            let tt = PieceTable::of(&Passing::of(&tm, ts.judge().fan()), 40, ts.need_steps());
            let _ = tt;
            let tdraw = ts.draw(truth.sections(&z), 0, "", 0);
            let tscore = ts.scores(&ts.mean_table(std::slice::from_ref(&tdraw)));
            let draws = judge_draws(&s, |k| b.draw_sections(1, k, &z), 1, &tube.name, e1("DRAWS", 200.0) as u64);
            let mut mm = BarkMap::default();
            let ms = b.mean_sections(&z);
            s.judge().judge(&ms, &mut mm);
            let c = s.choose(&draws, &mm);
            let md = s.draw(ms, 0, "", 0);
            let mc = s.choose(std::slice::from_ref(&md), &mm);
            let at = |deg: f64| tscore[(deg.round() as usize) % tscore.len()];
            let best = tscore.iter().copied().fold(0.0, f64::max);
            let arb = tscore.iter().sum::<f64>() / tscore.len() as f64;
            let tn = ts.runs_at(&tdraw, c.best.angle_deg.to_radians());
            let inside = (f64::from(tn) >= c.interval.0 && f64::from(tn) <= c.interval.1) as u8;
            [
                best,
                at(c.best.angle_deg),
                at(mc.best.angle_deg),
                arb,
                c.best.expected,
                truth.weight_g,
                f64::from(inside),
                c.interval.1 - c.interval.0,
                ts.aims().len() as f64,
            ]
        })
        .collect();
    let sum = |i: usize| res.iter().map(|r| r[i]).sum::<f64>();
    println!("{:?}", t0.elapsed());
    let best = sum(0);
    println!(
        "best {:.1} draws loss {:.2}% mean loss {:.2}% arbitrary loss {:.2}%",
        best,
        100.0 * (1.0 - sum(1) / best),
        100.0 * (1.0 - sum(2) / best),
        100.0 * (1.0 - sum(3) / best)
    );
    println!(
        "predicted {:.1} vs true at choice {:.1}; per kg best {:.0} arbitrary {:.0}; interval covers {:.1}% width {:.2}; blanks per tube {:.2}",
        sum(4),
        sum(1),
        best / sum(5) * 1000.0,
        sum(3) / sum(5) * 1000.0,
        100.0 * sum(6) / res.len() as f64,
        sum(7) / res.len() as f64,
        best / res.len() as f64
    );
}
