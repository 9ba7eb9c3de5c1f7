//! The other order: sawing the tube into two sections first and giving each its own split angle.

use super::piece::{Passing, PieceTable};
use super::split::{DrawnSurface, Splitter};
use crate::domain::Angle;
use crate::numeric::summary::{count, mean, sd, to_index};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// Places for the cut are tried this far apart, mm.
const CUT_STEP_MM: f64 = 12.0;
/// Draws that choose cut and angles; others, which had no say, tell what the choice is worth.
const CHOOSING_DRAWS: usize = 30;
/// A lot may say once in so many times that sawing first wins where it does not.
const ONE_IN: f64 = 20.0;
/// A whole split that already expects this share of the tube's capacity leaves nothing to gain.
const NEARLY_FULL: f64 = 0.95;

/// What sawing first would give.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", from = "Stored")]
pub struct SawFirst {
    /// Where the cut begins, mm from the index end; the kerf lies beyond it.
    pub cut_mm: f64,
    /// Split angles of the section at the index end and of the far one, degrees.
    pub angles_deg: [f64; 2],
    /// Blanks expected of both sections, from draws that did not choose.
    pub expected: f64,
    /// Blanks more than splitting whole gives on the same draws; may be negative.
    pub gain: f64,
    /// Standard error of the gain from the number of draws.
    pub gain_error: f64,
    /// So many times its error the gain has to be: more where a lot has more tubes to try it on.
    pub needed_errors: f64,
}

impl SawFirst {
    /// True when the gain is worth a word: a tenth of a blank, and as many times its own error as are needed.
    #[must_use]
    pub fn wins(&self) -> bool {
        self.gain >= 0.1 && self.gain >= self.needed_errors * self.gain_error
    }
}

/// How many standard errors one gain of `tries` must reach so that all of them together mislead once in [`ONE_IN`] lots
/// (C. E. Bonferroni's bound on the normal law).
fn needed_errors(tries: usize) -> f64 {
    Normal::standard().inverse_cdf(1.0 - 1.0 / (ONE_IN * count(tries.max(1))))
}

/// A [`SawFirst`] as stored, with its verdict told.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    cut_mm: f64,
    angles_deg: [f64; 2],
    expected_blanks: f64,
    gain_blanks: f64,
    gain_error: f64,
    needed_errors: f64,
    #[serde(skip_deserializing)]
    wins: bool,
}

impl From<SawFirst> for Stored {
    fn from(s: SawFirst) -> Stored {
        let SawFirst { cut_mm, angles_deg, expected, gain, gain_error, needed_errors } = s;
        let (expected_blanks, gain_blanks, wins) = (expected, gain, s.wins());
        Stored { cut_mm, angles_deg, expected_blanks, gain_blanks, gain_error, needed_errors, wins }
    }
}

impl From<Stored> for SawFirst {
    fn from(s: Stored) -> SawFirst {
        let Stored { cut_mm, angles_deg, expected_blanks, gain_blanks, gain_error, needed_errors, .. } = s;
        SawFirst { cut_mm, angles_deg, expected: expected_blanks, gain: gain_blanks, gain_error, needed_errors }
    }
}

/// The best single cut before splitting, or `None` where there is no room for a blank on either side of a cut, where
/// splitting whole already fills the tube, or where there are too few draws to judge by.
///
/// Cut and angles are chosen on the first draws and valued on the rest, against the whole split chosen and valued on the
/// same ones: choosing the best of many would otherwise flatter itself. `tries` is the number of tubes of the lot it is
/// tried on.
#[must_use]
pub fn saw_first(
    splitter: &Splitter,
    draws: &[DrawnSurface],
    capacity: usize,
    expected: f64,
    tries: usize,
) -> Option<SawFirst> {
    if draws.len() < 2 * CHOOSING_DRAWS || expected >= NEARLY_FULL * count(capacity) {
        return None;
    }
    let (choosing, valuing) = draws.split_at(CHOOSING_DRAWS);
    let fan = splitter.judge().fan();
    let last = fan.starts() - 1;
    let step = fan.step_mm();
    // a section ends at start `s` plus one blank, the next begins a kerf further on
    let every = to_index((CUT_STEP_MM / step).round()).max(1);
    let need = to_index((splitter.need_steps() - 1e-6).ceil());
    let cuts: Vec<usize> = (0..=last).step_by(every).filter(|s| s + need <= last).collect();
    let halves = |d: &DrawnSurface, s: usize| {
        [d.passing.between(0, s), d.passing.between(s + need, last)].map(|p| splitter.table_of(&p))
    };
    let tried: Vec<(f64, usize, [f64; 2])> = cuts
        .par_iter()
        .map(|&s| {
            let tables: Vec<[PieceTable; 2]> = choosing.iter().map(|d| halves(d, s)).collect();
            let best = [0, 1].map(|side| best_aim(splitter, tables.iter().map(|t| &t[side])));
            (best[0].0 + best[1].0, s, [best[0].1, best[1].1])
        })
        .collect();
    let (_, s, aims) = tried.into_iter().reduce(|a, b| if b.0 > a.0 { b } else { a })?;
    let whole_aim = best_aim(splitter, choosing.iter().map(|d| &d.table)).1;
    let valued: Vec<(f64, f64)> = valuing
        .par_iter()
        .map(|d| {
            let sections = halves(d, s);
            let of = |side: usize| splitter.expected_at(&sections[side], aims[side]);
            (of(0) + of(1), splitter.expected_at(&d.table, whole_aim))
        })
        .collect();
    let gains: Vec<f64> = valued.iter().map(|v| v.0 - v.1).collect();
    let sawn: Vec<f64> = valued.iter().map(|v| v.0).collect();
    Some(SawFirst {
        cut_mm: fan.start_mm(s) + fan.blank_mm(),
        angles_deg: aims.map(|a| Angle::from_radians(a).degrees().round()),
        expected: mean(&sawn),
        gain: mean(&gains),
        gain_error: sd(&gains) / count(gains.len()).sqrt(),
        needed_errors: needed_errors(tries),
    })
}

/// Best score and aim over the average of some tables.
fn best_aim<'a>(splitter: &Splitter, tables: impl ExactSizeIterator<Item = &'a PieceTable>) -> (f64, f64) {
    let scores = splitter.scores(&splitter.mean_of_tables(tables));
    let aims = splitter.aims();
    (0..aims.len()).fold((f64::MIN, 0.0), |best, i| if scores[i] > best.0 { (scores[i], aims[i]) } else { best })
}

impl Passing {
    /// The same with only the starts `from..=to` left.
    #[must_use]
    pub fn between(&self, from: usize, to: usize) -> Passing {
        self.with_starts(|s| s >= from && s <= to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::split::{judge_draws, splitter_for};
    use crate::domain::Lot;
    use crate::tube::simulate::{Stand, TrueTube};
    use crate::tube::{Fields, Sections};

    /// An oval whose long axis turns by 45 degrees half-way along: no one split suits both ends.
    fn turned_oval(splitter: &Splitter, fields: Fields) -> Sections {
        let z = splitter.judge().fan().z_mm().to_vec();
        let mut s = Sections::zeros(fields, &z);
        for (j, z) in z.iter().enumerate() {
            let row = s.row_mut(j);
            row[0] = 12.7;
            // lobes that keep the height smooth along: the turn happens within 20 mm about the middle
            let t = ((z - 90.0) / 20.0).clamp(0.0, 1.0);
            let turn = std::f64::consts::FRAC_PI_2 * t * t * (3.0 - 2.0 * t);
            row[1] = 0.40 * turn.cos();
            row[2] = 0.40 * turn.sin();
        }
        s
    }

    #[test]
    fn a_gain_has_to_hold_over_the_tries_of_a_lot() {
        // one-sided points of the normal law (any table): 1.645 of 5 %, 3.144 of 5 % shared by 60
        for (tries, errors) in [(1, 1.645), (60, 3.144)] {
            assert!((needed_errors(tries) - errors).abs() < 1e-3, "{tries}: {}", needed_errors(tries));
        }
        let gain = |needed_errors| SawFirst {
            cut_mm: 100.0,
            angles_deg: [0.0, 45.0],
            expected: 6.0,
            gain: 0.25,
            gain_error: 0.1,
            needed_errors,
        };
        assert!(gain(needed_errors(1)).wins() && !gain(needed_errors(60)).wins());
    }

    #[test]
    fn an_oval_that_turns_half_way_is_better_sawn_first() {
        let mut lot = Lot::default();
        (lot.target.hollow_mm, lot.target.rock_mm, lot.target.arc_tolerance_mm) = (1.0, 1.0, 0.6);
        let fields = Fields { top: 4, wall: false, twist: false };
        let splitter = splitter_for(200.0, fields, &lot, &[], 12.7).expect("long enough");
        let draws = judge_draws(&splitter, |_| turned_oval(&splitter, fields), 1, "x", 90);
        let found = saw_first(&splitter, &draws, 8, 0.0, 1).expect("room on both sides");
        assert!(found.wins() && found.gain > 0.5, "{found:?}");
        // one blank before the turn and one behind it: any cut from 78 mm, the first there is, to the end of the turn
        assert!((78.0 - 1e-6..=120.0).contains(&found.cut_mm), "{found:?}");
    }

    #[test]
    fn the_gain_is_valued_on_draws_that_did_not_choose_cut_and_angles() {
        let mut lot = Lot::default();
        (lot.target.hollow_mm, lot.target.rock_mm, lot.target.arc_tolerance_mm) = (1.0, 1.0, 0.6);
        let fields = Fields { top: 4, wall: false, twist: false };
        let splitter = splitter_for(200.0, fields, &lot, &[], 12.7).expect("long enough");
        let round = |radius_mm: f64| {
            let mut s = Sections::zeros(fields, splitter.judge().fan().z_mm());
            (0..s.len()).for_each(|j| s.row_mut(j)[0] = radius_mm);
            s
        };
        let turned = turned_oval(&splitter, fields);
        let found = |choosing: &Sections, rest: &Sections| {
            let of = |k: u64| if k < CHOOSING_DRAWS as u64 { choosing.clone() } else { rest.clone() };
            let draws = judge_draws(&splitter, of, 1, "x", 90);
            saw_first(&splitter, &draws, 8, 0.0, 1).expect("room on both sides")
        };
        // the choosing draws say half a blank or more (see above); the rest, 3 mm too thick, hold no blank at all
        let none = found(&turned, &round(14.2));
        assert!((78.0 - 1e-6..=120.0).contains(&none.cut_mm), "chosen by the first draws: {none:?}");
        assert_eq!((none.expected, none.gain, none.gain_error, none.wins()), (0.0, 0.0, 0.0, false));
        // the choosing draws hold no blank; on the rest, round and of the right size, every one of four pieces holds two
        // blanks, sawn first or not: 8 + 70 + 1 + 70 is less than 192, and 71 more is beyond it
        let all = found(&round(14.2), &round(12.7));
        assert!((all.expected - 8.0).abs() < 1e-4 && all.gain.abs() < 1e-6 && !all.wins(), "{all:?}");
        // and where only the rest turn, cut and angles chosen on an even round tube are worth what they are there
        let blind = found(&round(12.7), &turned);
        assert!(blind.expected < 7.9 && blind.gain < 0.5, "{blind:?}");
    }

    #[test]
    fn a_cut_never_wins_where_the_surface_is_even_along_the_tube() {
        let lot = Lot::default();
        let fields = Fields { top: 4, wall: false, twist: false };
        let splitter = splitter_for(200.0, fields, &lot, &[], 12.7).expect("long enough");
        let mut s = Sections::zeros(fields, splitter.judge().fan().z_mm());
        for j in 0..s.len() {
            s.row_mut(j)[0] = 12.7;
            s.row_mut(j)[1] = 0.3;
        }
        let draws = judge_draws(&splitter, |_| s.clone(), 1, "x", 90);
        let found = saw_first(&splitter, &draws, 8, 0.0, 1).expect("tried");
        assert!(!found.wins() && found.gain.abs() < 1e-6, "{found:?}");
        let truth = TrueTube::grow(&Stand { length_mm: (120.0, 120.0), ..Stand::default() }, 1, 1);
        let short = splitter_for(truth.length_mm, TrueTube::fields(), &lot, &[], 12.7).expect("one blank");
        let draws = judge_draws(&short, |_| truth.sections(short.judge().fan().z_mm()), 1, "x", 90);
        assert!(saw_first(&short, &draws, 4, 0.0, 1).is_none(), "no room for two blanks");
    }
}
