//! The tubes of a lot added up: for one set alone, for the set each serves best.

use super::best::{Gives, ranked, valued};
use super::value::{Share, Split, TubeServes};
use crate::lot::Interval;
use crate::numeric::summary::{mean, ninety};

/// A tube and what it gives for each set.
pub(super) type Row<'a> = (&'a TubeServes, Vec<Gives<'a>>);

/// Draws of one thing over a lot, and what is expected of it.
#[derive(Debug, Clone, Default)]
struct Sum {
    expected: f64,
    draws: Vec<f64>,
}

impl Sum {
    /// Adds a tube's draws; what is common to the lot is the same in draw k of every tube.
    fn add(&mut self, expected: f64, draws: &[f64], times: f64) {
        self.expected += expected;
        if self.draws.len() < draws.len() {
            self.draws.resize(draws.len(), 0.0);
        }
        self.draws.iter_mut().zip(draws).for_each(|(s, d)| *s += times * d);
    }

    /// The interval of the draws, moved so that their mean stands where it is expected: draws that chose are kind to what they
    /// chose, what is expected comes from others.
    fn interval(&self) -> Interval {
        let expected = self.expected + 0.0;
        if self.draws.is_empty() {
            return Interval { expected, low: expected, high: expected };
        }
        let ((low, high), off) = (ninety(&self.draws), self.expected - mean(&self.draws));
        Interval { expected, low: low + off, high: high + off }
    }

    /// The same of what cannot be less than nothing.
    fn at_least_nothing(&self) -> Interval {
        let i = self.interval();
        Interval { low: i.low.max(0.0), ..i }
    }
}

fn share(tubes: Vec<String>, blanks: &Sum, value: Option<f64>) -> Share {
    let blanks = blanks.at_least_nothing();
    Share { tubes, blanks, value: value.map(|v| blanks.scaled(v).into()) }
}

/// The lot cut for set `j` alone: the tubes that the screening does not leave for it.
pub(super) fn alone(rows: &[Row<'_>], j: usize, value: Option<f64>) -> Share {
    let (mut tubes, mut blanks) = (Vec::new(), Sum::default());
    for (tube, gives) in rows {
        let g = Gives { each: Some(1.0), ..gives[j] };
        if let Some(draws) = g.counts().filter(|_| g.competes) {
            tubes.push(tube.tube.clone());
            blanks.add(g.expected, &draws, 1.0);
        }
    }
    share(tubes, &blanks, value)
}

/// The tubes that serve set `j` best.
pub(super) fn best_for(rows: &[Row<'_>], j: usize, value: Option<f64>) -> Share {
    let (mut tubes, mut blanks) = (Vec::new(), Sum::default());
    for (tube, gives) in rows {
        let Some(best) = tube.best.as_ref().filter(|b| b.set == j) else { continue };
        if let (Some(counts), Some(each)) = (gives[j].counts(), gives[j].each) {
            tubes.push(tube.tube.clone());
            blanks.add(best.counts / each, &counts, 1.0 / each);
        }
    }
    share(tubes, &blanks, value)
}

/// The lot split by worth, beside the best single set; `None` where fewer than two sets have a worth.
pub(super) fn split(rows: &[Row<'_>], values: &[Option<f64>], names: &[String]) -> Option<Split> {
    if values.iter().flatten().count() < 2 {
        return None;
    }
    let mut whole = Sum::default();
    let mut single: Vec<(usize, Sum)> =
        (0..values.len()).filter(|j| values[*j].is_some()).map(|j| (j, Sum::default())).collect();
    for (tube, gives) in rows {
        if let Some(best) = &tube.best {
            whole.add(best.counts, &gives[best.set].counts().unwrap_or_default(), 1.0);
        }
        for (j, sum) in &mut single {
            if let Some(counts) = gives[*j].counts() {
                sum.add(mean(&counts), &counts, 1.0);
            }
        }
    }
    let draws = single.iter().map(|s| s.1.draws.len()).max().unwrap_or(0);
    let sums: Vec<(usize, Vec<f64>)> = single
        .into_iter()
        .map(|(j, mut s)| {
            s.draws.resize(draws, 0.0);
            (j, s.draws)
        })
        .collect();
    let first = *ranked(&sums, &|_| true).first()?;
    let (best, drawn) = &sums[first];
    let one = Sum { expected: valued(&sums), draws: drawn.clone() };
    whole.draws.resize(draws, 0.0);
    let gain = Sum {
        expected: whole.expected - one.expected,
        draws: whole.draws.iter().zip(drawn).map(|(a, b)| a - b).collect(),
    };
    Some(Split {
        value: whole.at_least_nothing().into(),
        single: names[*best].clone(),
        single_value: one.at_least_nothing().into(),
        gain: gain.interval().into(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::best::best_of;
    use super::*;
    use crate::decide::plan::NoPlan;

    fn tubes(n: usize, best: impl Fn(usize) -> Vec<Gives<'static>>) -> Vec<(TubeServes, Vec<Gives<'static>>)> {
        (0..n)
            .map(|i| {
                let gives = best(i);
                let tube = TubeServes { tube: format!("T{i}"), served: Err(NoPlan::InDoubt), best: best_of(&gives) };
                (tube, gives)
            })
            .collect()
    }

    #[test]
    fn two_tubes_and_two_sets_by_hand() {
        // first tube: 4 blanks of 1.00 or 2 of 1.50; second: 3 or 4. 20 draws, all alike but the last two, one blank more
        let draws = |n: u16| -> &'static [u16] {
            Box::leak((0..20).map(|k| n + u16::from(k >= 18)).collect::<Vec<u16>>().into_boxed_slice())
        };
        let of = |n: u16, each: f64| Gives {
            expected: f64::from(n) + 0.1,
            draws: draws(n),
            each: Some(each),
            competes: true,
        };
        let all = tubes(2, |i| if i == 0 { vec![of(4, 1.0), of(2, 1.5)] } else { vec![of(3, 1.0), of(4, 1.5)] });
        let rows: Vec<Row<'_>> = all.iter().map(|(t, g)| (t, g.clone())).collect();
        let (first, second) = (alone(&rows, 0, Some(1.0)), alone(&rows, 1, Some(1.5)));
        assert_eq!((first.tubes.len(), second.tubes.len()), (2, 2));
        assert!((first.blanks.expected - 7.2).abs() < 1e-9 && (second.blanks.expected - 6.2).abs() < 1e-9);
        // of twenty draws two have two blanks more: the 95 % point lies among them
        assert!((first.blanks.low - 7.0).abs() < 1e-9 && (first.blanks.high - 9.0).abs() < 1e-9, "{first:?}");
        let piles = [best_for(&rows, 0, Some(1.0)), best_for(&rows, 1, Some(1.5))];
        assert_eq!((piles[0].tubes.clone(), piles[1].tubes.clone()), (vec!["T0".to_string()], vec!["T1".to_string()]));
        let split = split(&rows, &[Some(1.0), Some(1.5)], &["a".into(), "b".into()]).expect("two with a worth");
        // 4.1 x 1 + 4.1 x 1.5 = 10.25; the best alone is b: 6.2 x 1.5 = 9.3, a gives 7.2
        assert!((split.value.expected - 10.25).abs() < 1e-9, "{split:?}");
        assert!(split.single == "b" && (split.single_value.expected - 9.3).abs() < 1e-9, "{split:?}");
        assert!((split.gain.expected - 0.95).abs() < 1e-9, "{split:?}");
        let of_piles: f64 = piles.iter().filter_map(|p| p.value).map(|v| v.expected).sum();
        assert!((of_piles - split.value.expected).abs() < 1e-9, "what lies in the piles is what the lot is worth");
        assert!(super::split(&rows, &[Some(1.0), None], &["a".into(), "b".into()]).is_none());
    }

    #[test]
    fn no_other_way_of_sharing_tubes_out_is_worth_more() {
        let draws = |i: usize, j: usize| -> &'static [u16] {
            let of = |k: usize| u16::try_from((k * (i + 2) + 3 * j * (k + 1) + i * j) % 7).unwrap_or(0);
            Box::leak((0..40).map(of).collect::<Vec<u16>>().into_boxed_slice())
        };
        let values = [0.9, 1.1, 1.4];
        let of = |i: usize, j: usize| {
            let draws = draws(i, j);
            let expected = mean(&draws.iter().map(|n| f64::from(*n)).collect::<Vec<f64>>());
            // one set is left for one tube
            let competes = (i, j) != (1, 2);
            Gives { expected, draws, each: competes.then_some(values[j]), competes }
        };
        let all = tubes(4, |i| (0..3).map(|j| of(i, j)).collect());
        let worth = |way: &[usize]| -> f64 {
            way.iter().enumerate().map(|(i, &j)| all[i].1[j].each.map_or(0.0, |v| v * all[i].1[j].expected)).sum()
        };
        let most = (0..81).map(|n| worth(&[n % 3, n / 3 % 3, n / 9 % 3, n / 27])).fold(0.0, f64::max);
        let chosen: Vec<usize> = all.iter().map(|(t, _)| t.best.as_ref().expect("gives").set).collect();
        assert!((worth(&chosen) - most).abs() < 1e-9, "{chosen:?}: {} of {most}", worth(&chosen));
        let rows: Vec<Row<'_>> = all.iter().map(|(t, g)| (t, g.clone())).collect();
        let names = ["a".to_string(), "b".into(), "c".into()];
        let split = split(&rows, &values.map(Some), &names).expect("three with a worth");
        assert!(split.value.expected <= most + 1e-9 && split.value.expected > 0.9 * most, "{split:?} {most}");
        assert!(split.value.low < split.value.expected && split.value.expected < split.value.high);
    }
}
