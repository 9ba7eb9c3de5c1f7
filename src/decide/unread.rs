//! What a tube would give were the grain and the wall that nobody read as they usually are, or as the maker assumes.
//!
//! A limit on what was not read is not checked, so what is expected of such a tube takes its grain as true and its wall as
//! thick enough. That number leads, since readings carry it; this one stands beside it, since the tube may be neither.

use super::fan::Fan;
use super::room::Side;
use super::split::{DrawnSurface, Splitter};
use crate::numeric::summary::{mean, ninety, numbers};
use crate::tube::Unread;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// Blanks with what was not read taken as it may be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unchecked {
    /// True where no fibre was followed.
    pub grain: bool,
    /// True where no wall was read.
    pub wall: bool,
    /// Blanks expected at the chosen angle.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
    /// Blanks of every draw.
    pub draws: Vec<u16>,
}

/// Counts again, draw by draw at one aim, with the grain and wall of `unread` on those of the two that were not read.
///
/// `expected` is what the same draws give with a true grain and a wall thick enough, and `plain` its draws: the answer is
/// expected in the same proportion as its draws stand to these, which share surface and wander.
#[must_use]
pub(super) fn unchecked(
    splitter: &Splitter,
    draws: &[DrawnSurface],
    aim: f64,
    [grain, wall]: [bool; 2],
    unread: impl Fn(u64) -> Unread + Sync,
    (expected, plain): (f64, &[u16]),
) -> Unchecked {
    let one = |(k, d): (usize, &DrawnSurface)| {
        let u = unread(k as u64);
        let u = Unread { turn_per_mm: if grain { u.turn_per_mm } else { 0.0 }, ..u };
        runs_with(splitter, d, aim, &u, wall)
    };
    let counts: Vec<u16> = draws.par_iter().enumerate().map(one).collect();
    let (of_counts, of_plain) = (numbers(&counts), mean(&numbers(plain)));
    let share = if of_plain > 0.0 { mean(&of_counts) / of_plain } else { 0.0 };
    let (low, high) = ninety(&of_counts);
    Unchecked { grain, wall, expected: share * expected, low, high, draws: counts }
}

/// Runs of all pieces of one draw whose grain turns evenly and whose wall is this one.
fn runs_with(splitter: &Splitter, draw: &DrawnSurface, aim: f64, unread: &Unread, wall: bool) -> u16 {
    let (judge, fan) = (splitter.judge(), splitter.judge().fan());
    let target = judge.target();
    let turn = unread.turn_per_mm * fan.blank_mm();
    if (judge.radius_mm() * turn).abs() > target.grain_drift_mm {
        return 0;
    }
    let first_mm = fan.z_mm().first().copied().unwrap_or(0.0);
    let last_mm = fan.z_mm().last().copied().unwrap_or(0.0);
    let middle_mm = f64::midpoint(first_mm, last_mm);
    let side: Vec<Side> = (0..fan.starts())
        .map(|s| {
            let along = fan.start_mm(s) + fan.blank_mm() / 2.0 - first_mm;
            // the grain takes half its turn over the blank from either side
            Side::of(unread.turn_per_mm * along, turn.abs())
        })
        .collect();
    let need = target.blank_thickness_mm + target.clean_up_mm;
    let thick = |s: usize, line: usize| {
        if !wall {
            return true;
        }
        let (sin, cos) = Fan::line_angle(line).sin_cos();
        let ends = [fan.start_mm(s), fan.start_mm(s) + fan.blank_mm()];
        let along = ends.map(|z| unread.wall_taper * (z - middle_mm)).into_iter().fold(f64::MAX, f64::min);
        unread.wall_mm + along + unread.wall_lean_mm[0] * cos + unread.wall_lean_mm[1] * sin >= need
    };
    let passing = draw.passing.turned(&side, thick);
    let runs = splitter.runs_of(&passing, aim, &draw.wander);
    u16::try_from(runs).unwrap_or(u16::MAX)
}

impl Unchecked {
    /// Blanks of draw `k`; 0 beyond the last.
    #[must_use]
    pub fn blanks_of_draw(&self, k: usize) -> f64 {
        self.draws.get(k).map_or(0.0, |&n| f64::from(n))
    }

    /// What was not read, in words.
    #[must_use]
    pub fn what(&self) -> &'static str {
        unread_words(self.grain, self.wall)
    }
}

/// Grain, wall or both, in words.
#[must_use]
pub fn unread_words(grain: bool, wall: bool) -> &'static str {
    match (grain, wall) {
        (true, true) => "grain and wall",
        (true, false) => "grain",
        _ => "wall",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::split::{judge_draws, splitter_for};
    use crate::domain::Lot;
    use crate::tube::{Fields, Sections};

    const R: f64 = 12.7;

    /// A round straight tube of 160 mm: 70 and 1 and 70 mm lie between its trims, two blanks in each quarter.
    fn round() -> (Splitter, Vec<DrawnSurface>) {
        let mut lot = Lot::default();
        lot.split.wander_deg = 0.0;
        let fields = Fields { top: 4, wall: false, twist: false };
        let splitter = splitter_for(160.0, fields, &lot, &[], R).expect("long enough");
        let mut s = Sections::zeros(fields, splitter.judge().fan().z_mm());
        (0..s.len()).for_each(|j| s.row_mut(j)[0] = R);
        let draws = judge_draws(&splitter, |_| s.clone(), 1, "x", 2);
        (splitter, draws)
    }

    fn with(unread: Unread, what: [bool; 2]) -> Unchecked {
        let (splitter, draws) = round();
        let plain: Vec<u16> = draws.iter().map(|d| splitter.runs_at(d, 0.0)).collect();
        assert_eq!(plain, [8, 8]);
        unchecked(&splitter, &draws, 0.0, what, |_| unread, (7.6, &plain))
    }

    const TRUE: Unread = Unread { turn_per_mm: 0.0, wall_mm: 3.5, wall_taper: 0.0, wall_lean_mm: [0.0; 2] };

    #[test]
    fn a_lean_beyond_the_limit_leaves_nothing_and_one_below_it_takes_room() {
        // 1 mm over 70 mm is the limit: 0.818 deg
        for (lean_deg, runs) in [(0.0, 8), (0.80, 8), (0.84, 0)] {
            let turn_per_mm = f64::to_radians(lean_deg).tan() / R;
            let told = with(Unread { turn_per_mm, ..TRUE }, [true, true]);
            assert_eq!(told.draws, [runs, runs], "{lean_deg}");
            assert!((told.expected - 7.6 * f64::from(runs) / 8.0).abs() < 1e-12, "{told:?}");
        }
        // not asked for where a fibre was followed
        let turn_per_mm = 0.1 / R;
        assert_eq!(with(Unread { turn_per_mm, ..TRUE }, [false, true]).draws, [8, 8]);
    }

    #[test]
    fn a_thin_wall_leaves_nothing_a_leaning_one_half_and_a_thinning_one_one_end() {
        // 3.2 mm and 0.2 to clean up
        assert_eq!(with(Unread { wall_mm: 3.39, ..TRUE }, [true, true]).draws, [0, 0]);
        assert_eq!(with(Unread { wall_mm: 3.39, ..TRUE }, [true, false]).draws, [8, 8]);
        // once round by 0.3 mm about 0 deg: 3.5 + 0.3 cos a, below 3.4 from 109.5 to 250.5 deg. Of the quarters the first
        // and the last are thick, the others thick only up to 109.5 deg, whose blanks stand from 125 deg on
        let leaning = with(Unread { wall_lean_mm: [0.3, 0.0], ..TRUE }, [true, true]);
        assert_eq!(leaning.draws, [4, 4]);
        // 3.5 mm at the middle and 0.004 less for every mm: 3.4 is 25 mm beyond it, where the first blank ends short of
        let thinning = with(Unread { wall_taper: -0.004, ..TRUE }, [true, true]);
        assert_eq!(thinning.draws, [4, 4]);
        assert_eq!((thinning.what(), with(TRUE, [true, false]).what()), ("grain and wall", "grain"));
    }
}
