//! What the maker's own limits cost: how many blanks a tube would give were one of them tighter or wider.

use super::bark_map::BarkMap;
use super::broken;
use super::piece::Passing;
use super::split::{DrawnSurface, Splitter};
use crate::domain::Target;
use crate::numeric::summary::count;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// Limits are tried at these shares of what they are.
const SHARES: [f64; 2] = [0.75, 1.25];
/// Draws it is counted on: the same ones with and without the change, so that few show it.
const DRAWS: usize = 8;

/// One limit changed, the others and the split angle as they are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitChange {
    /// The limit's word in `lot.toml`.
    pub limit: String,
    /// What it is changed to, mm.
    pub at_mm: f64,
    /// Blanks expected then.
    pub blanks: f64,
}

/// A limit that can be tried: its word, where it stands, the bits it breaks.
type Tried = (&'static str, fn(&Target) -> f64, u8);

/// The limits on shape, which need no reading of their own.
const LIMITS: [Tried; 4] = [
    ("hollow", |t| t.hollow_mm, broken::HOLLOW),
    ("rock", |t| t.rock_mm, broken::ROCK),
    ("arc_tolerance", |t| t.arc_tolerance_mm, broken::SMALL | broken::LARGE),
    ("skew", |t| t.skew_mm, broken::SKEW),
];

/// Every limit a quarter tighter and a quarter wider at one aim; `expected` is what the tube gives as the limits are.
#[must_use]
pub(super) fn changes(splitter: &Splitter, draws: &[DrawnSurface], aim: f64, expected: f64) -> Vec<LimitChange> {
    let judge = splitter.judge();
    let target = judge.target();
    let tried: Vec<(Tried, f64)> =
        LIMITS.into_iter().flat_map(|limit| SHARES.map(|share| (limit, share * (limit.1)(target)))).collect();
    let every = draws.len().div_ceil(DRAWS).max(1);
    let few: Vec<&DrawnSurface> = draws.iter().step_by(every).collect();
    let counts: Vec<Vec<usize>> = few
        .par_iter()
        .map(|d| {
            let mut map = BarkMap::default();
            judge.judge(&d.sections, &mut map);
            let kept = map.broken.clone();
            let counted = |map: &BarkMap| splitter.runs_of(&Passing::of(map, judge.fan()), aim, &d.wander);
            let mut runs = vec![counted(&map)];
            for ((_, _, bits), at_mm) in &tried {
                for (window, b) in map.broken.iter_mut().enumerate() {
                    *b = kept[window] & !bits;
                }
                add_broken(&mut map, *bits, *at_mm, target.arc_diameter_mm);
                runs.push(counted(&map));
            }
            runs
        })
        .collect();
    let sum = |i: usize| counts.iter().map(|c| count(c[i])).sum::<f64>();
    let as_is = sum(0);
    tried
        .iter()
        .enumerate()
        .map(|(i, ((limit, _, _), at_mm))| {
            let changed = sum(i + 1);
            let blanks = if as_is > 0.0 { expected * changed / as_is } else { changed / count(few.len().max(1)) };
            LimitChange { limit: (*limit).into(), at_mm: *at_mm, blanks }
        })
        .collect()
}

/// Marks the windows that break a limit at `at_mm`.
fn add_broken(map: &mut BarkMap, bits: u8, at_mm: f64, arc_mm: f64) {
    for (window, b) in map.broken.iter_mut().enumerate() {
        let value = f64::from(match bits {
            broken::HOLLOW => map.hollow[window],
            broken::ROCK => map.rock[window],
            broken::SKEW => map.skew[window].abs(),
            _ => (map.arc[window] - super::fan::single(arc_mm)).abs(),
        });
        *b |= if value > at_mm { bits } else { 0 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::split::{judge_draws, splitter_for};
    use crate::domain::Lot;
    use crate::tube::{Fields, Sections};

    #[test]
    fn a_limit_decides_where_it_is_crossed_and_nowhere_else() {
        // a tube of 160 mm bent 0.36 mm toward 90 deg: over 70 mm a sagitta of 0.36 (70 / 160)^2 = 0.069 mm, hollow on the
        // inner side within 0.08 and not within 0.06, and rocking by 0.069 on the outer one, within 0.09. Split at 45 deg
        // two of four quarters lie across the bow; pieces without a wander
        let mut lot = Lot::default();
        lot.split.wander_deg = 0.0;
        let fields = Fields { top: 4, wall: false, twist: false };
        let splitter = splitter_for(160.0, fields, &lot, &[], 12.7).expect("long enough");
        let z = splitter.judge().fan().z_mm().to_vec();
        let mut s = Sections::zeros(fields, &z);
        for (j, z) in z.iter().enumerate() {
            s.row_mut(j)[0] = 12.7;
            s.row_mut(j)[fields.centre() + 1] = 4.0 * 0.36 * z * (160.0 - z) / (160.0 * 160.0);
        }
        let draws = judge_draws(&splitter, |_| s.clone(), 1, "x", 4);
        let told = changes(&splitter, &draws, 45_f64.to_radians(), 7.0);
        let of = |limit: &str| -> Vec<(f64, f64)> {
            told.iter().filter(|c| c.limit == limit).map(|c| ((c.at_mm * 1e4).round() / 1e4, c.blanks)).collect()
        };
        // eight blanks as it is, told as 7; with the inner quarter gone six, told as 7 x 6 / 8
        assert_eq!(of("hollow"), [(0.06, 5.25), (0.1, 7.0)]);
        assert_eq!(of("rock"), [(0.09, 7.0), (0.15, 7.0)]);
        assert_eq!(of("skew"), [(4.5, 7.0), (7.5, 7.0)]);
        assert_eq!(of("arc_tolerance"), [(0.9, 7.0), (1.5, 7.0)]);
    }
}
