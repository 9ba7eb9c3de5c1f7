//! Properties of the order of saw cuts, over runs laid out by chance.

use proptest::prelude::*;
use quarterlight::decide::cut_order::{Cut, HoldRule, Holding, Part, RoughEnds, Stretch, order_cuts_rough};

/// Spaces and lengths of up to five runs: (space before, length), and what is left at the end.
fn layout() -> impl Strategy<Value = (Vec<(f64, f64)>, f64)> {
    // gaps of no kerf, one, two and about three are as likely as any other
    let gap =
        prop_oneof![Just(0.0), Just(1.0), Just(2.0), (0_u32..40).prop_map(|k| f64::from(k) / 10.0), (0.0..90.0_f64)];
    let length = prop_oneof![Just(70.0), 20.0..120.0_f64];
    (proptest::collection::vec((gap.clone(), length), 1..6), gap)
}

/// Parts between the cuts, from the index end: their ends.
fn parts(length_mm: f64, cuts: &[Cut]) -> Vec<Stretch> {
    let mut kerfs: Vec<Stretch> = cuts.iter().map(|c| c.kerf).collect();
    kerfs.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let mut from_mm = 0.0;
    let mut parts = Vec::new();
    for k in kerfs {
        parts.push(Stretch { from_mm, to_mm: k.from_mm });
        from_mm = k.to_mm;
    }
    parts.push(Stretch { from_mm, to_mm: length_mm });
    parts
}

/// What an order costs: cuts too short to hold, cuts where a hand reaches in, turns, and the shortest held part.
type Cost = (usize, usize, usize, f64);

/// The least cost over every order that takes one end or the other, one bit a cut.
fn least(parts: &[Stretch], rule: &HoldRule) -> Cost {
    let n = parts.len() - 1;
    let cost = |bits: u32| {
        let (mut i, mut j, mut cost, mut last) = (0, n, (0, 0, 0, f64::INFINITY), None);
        for k in 0..n {
            let far_held = bits >> k & 1 == 1;
            if far_held {
                i += 1
            } else {
                j -= 1
            }
            let held = parts[j].to_mm - parts[i].from_mm;
            cost.0 += usize::from(held < rule.no_hands_mm - 1e-6);
            cost.1 += usize::from((rule.no_hands_mm - 1e-6..rule.no_hands_mm + rule.hand_mm - 1e-6).contains(&held));
            cost.2 += usize::from(last.is_some_and(|l| l != far_held));
            cost.3 = f64::min(cost.3, held);
            last = Some(far_held);
        }
        cost
    };
    (0..1_u32 << n)
        .map(cost)
        .min_by(|a, b| (a.0, a.1, a.2).cmp(&(b.0, b.1, b.2)).then(b.3.total_cmp(&a.3)))
        .expect("one")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn every_run_is_cut_once_at_each_end_no_cut_is_wasted_and_nothing_is_held_needlessly_short(
        (spaces, end) in layout(),
        kerf_mm in prop_oneof![Just(0.0), Just(1.0), 0.2..3.0_f64],
        no_hands_mm in prop_oneof![Just(150.0), 0.0..400.0_f64],
        bent in any::<(bool, bool)>(),
    ) {
        let rule = HoldRule { kerf_mm, no_hands_mm, ..HoldRule::default() };
        let mut runs = Vec::new();
        let mut z = 0.0;
        for (i, (gap, length)) in spaces.iter().enumerate() {
            z += if i == 0 { *gap } else { gap.max(kerf_mm) };
            runs.push(Stretch { from_mm: z, to_mm: z + length });
            z += length;
        }
        let length_mm = z + end;
        let rough = RoughEnds { index: bent.0, far: bent.1 };
        let order = order_cuts_rough(length_mm, &runs, rough, &rule).expect("runs a kerf apart");

        // all of the piece is accounted for
        let sawn = kerf_mm * f64::from(u32::try_from(order.cuts.len()).expect("few"));
        let fallen: f64 = order.cuts.iter().map(|c| c.falls_mm).sum();
        prop_assert!((fallen + sawn + order.remains_mm - length_mm).abs() < 1e-6, "{order:?}");

        // every run is one part, whole, and longer than asked by less than two kerfs at either end
        let between = parts(length_mm, &order.cuts);
        let mut blanks: Vec<(usize, f64)> = order.cuts.iter().map(|c| (c.falls, c.falls_mm))
            .chain([(order.remains, order.remains_mm)])
            .filter_map(|(part, mm)| match part { Part::Blank(n) => Some((n, mm)), Part::Waste => None })
            .collect();
        blanks.sort_by_key(|b| b.0);
        prop_assert_eq!(blanks.iter().map(|b| b.0).collect::<Vec<_>>(), (1..=runs.len()).collect::<Vec<_>>());
        for (run, (_, mm)) in runs.iter().zip(&blanks) {
            let own: Vec<&Stretch> = between.iter()
                .filter(|p| p.from_mm < run.to_mm - 1e-6 && p.to_mm > run.from_mm + 1e-6).collect();
            prop_assert_eq!(own.len(), 1, "{:?} in {:?}", run, between);
            prop_assert!((own[0].to_mm - own[0].from_mm - mm).abs() < 1e-6);
            for spare in [run.from_mm - own[0].from_mm, own[0].to_mm - run.to_mm] {
                prop_assert!((-1e-6..=2.0 * kerf_mm + 1e-6).contains(&spare), "{} beside {:?}", spare, run);
            }
        }

        // no cut is made for dust, and none is made twice
        for c in &order.cuts {
            prop_assert!(c.falls_mm > 1e-6 && c.falls_mm >= kerf_mm - 1e-6, "{c:?}");
            prop_assert!((c.kerf.to_mm - c.kerf.from_mm - kerf_mm).abs() < 1e-6, "{c:?}");
        }
        prop_assert_eq!(between.len(), order.cuts.len() + 1);
        prop_assert!(between.iter().all(|p| p.to_mm > p.from_mm));

        // bent ends go first, and are all that is cut roughly
        let first = order.cuts.iter().take_while(|c| c.rough).count();
        prop_assert_eq!(order.cuts.iter().filter(|c| c.rough).count(), first);
        prop_assert!(first <= usize::from(bent.0) + usize::from(bent.1));

        // after them no order does better
        let rest = &order.cuts[first..];
        let got: Cost = (
            rest.iter().filter(|c| c.holding == Holding::TooShort).count(),
            rest.iter().filter(|c| c.holding == Holding::HandReachesIn).count(),
            rest.iter().skip(usize::from(first == 0)).filter(|c| c.turned).count(),
            rest.iter().map(|c| c.held_mm).fold(f64::INFINITY, f64::min),
        );
        let left: Vec<Stretch> = match (first, order.cuts.first()) {
            (0, _) | (_, None) => between,
            _ => {
                let gone: f64 = length_mm - order.cuts[first - 1].held_mm;
                let held = &order.cuts[first - 1];
                // what is left after the rough cuts lies between the outermost places sawn later or the ends
                let index_gone = order.cuts[..first].iter().any(|c| c.kerf.to_mm < runs[0].from_mm);
                let from = usize::from(index_gone);
                let to = between.len() - (first - from);
                prop_assert!(gone > 0.0 && held.held_mm > 0.0);
                between[from..to].to_vec()
            }
        };
        let want = least(&left, &rule);
        prop_assert_eq!((got.0, got.1), (want.0, want.1));
        if first == 0 {
            prop_assert_eq!(got.2, want.2);
            prop_assert!(rest.is_empty() || (got.3 - want.3).abs() < 1e-6, "{got:?} {want:?}");
        }
    }
}
