//! The other order: sawing the tube into lengths first and giving each its own split angle.

use super::choice::middle_of_top;
use super::cross_cuts::{best_lengths, lines_turned};
use super::fan::LINES;
use super::piece::{PieceTable, StartRange};
use super::split::{DrawnSurface, Splitter};
use crate::domain::{Angle, Lot, MINUTE_BLANKS, SPLIT_MINUTES};
use crate::numeric::summary::{count, mean, ninety, sd};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};
use std::f64::consts::TAU;

/// Draws that choose cuts and angles; others, which had no say, tell what the choice is worth.
const CHOOSING_DRAWS: usize = 40;
/// A lot may say once in so many times that sawing first wins where it does not.
const ONE_IN: f64 = 20.0;
/// A whole split that already expects this share of the tube's capacity leaves nothing to gain.
const NEARLY_FULL: f64 = 0.95;
/// A further length is handled for no less than this many blanks, whatever its minutes are worth.
const LEAST_HANDLING: f64 = 0.1;

/// One of the lengths that a tube is sawn into before it is split.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SawnLength {
    /// Its first end, mm from the index end of the tube.
    pub from_mm: f64,
    /// Its second end, mm from the index end of the tube; the kerf lies beyond it.
    pub to_mm: f64,
    /// Its split angle as seen at its own first end, degrees clockwise from the index line.
    pub angle_deg: f64,
    /// How far along the bark of its first end line 1 lies from the index line, clockwise, mm.
    pub along_mm: f64,
    /// Blanks expected of it, from draws that did not choose.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
}

/// What sawing first would give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(into = "Stored", from = "Stored")]
pub struct SawFirst {
    /// The lengths, from the index end: two or more.
    pub lengths: Vec<SawnLength>,
    /// Blanks expected of all of them.
    pub expected: f64,
    /// Blanks more than splitting whole gives on the same draws; may be negative.
    pub gain: f64,
    /// 5 % and 95 % points of what it gives more, over the draws.
    pub interval: (f64, f64),
    /// Standard error of the gain from the number of draws.
    pub gain_error: f64,
    /// So many times its error the gain has to be beyond its handling: more where a lot has more tubes to try it on.
    pub needed_errors: f64,
    /// What marking and splitting the further lengths costs, in blanks.
    pub handling: f64,
}

impl SawFirst {
    /// True when the gain is worth a word: when it is beyond what the handling costs by as many times its own error as are
    /// needed.
    #[must_use]
    pub fn wins(&self) -> bool {
        self.lengths.len() > 1 && self.gain - self.handling >= self.needed_errors * self.gain_error
    }
}

/// What marking and splitting one more length of a tube costs, in blanks: the minutes that a tube takes, each worth what a
/// minute of the maker's should bring. The saw cut itself is counted with them.
#[must_use]
pub fn handling_of(lot: &Lot) -> f64 {
    let (minutes, worth) = (lot.split_minutes.unwrap_or(SPLIT_MINUTES), lot.minute_blanks.unwrap_or(MINUTE_BLANKS));
    (minutes * worth).max(LEAST_HANDLING)
}

/// How many standard errors one gain of `tries` must reach so that all of them together mislead once in [`ONE_IN`] lots
/// (C. E. Bonferroni's bound on the normal law).
fn needed_errors(tries: usize) -> f64 {
    Normal::standard().inverse_cdf(1.0 - 1.0 / (ONE_IN * count(tries.max(1))))
}

/// A [`SawFirst`] as stored, with its verdict told, and in two columns where it cuts and the angles.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Stored {
    #[serde(skip_deserializing)]
    cut_mm: Option<f64>,
    #[serde(skip_deserializing)]
    angles_deg: Vec<f64>,
    #[serde(default)]
    lengths: Vec<SawnLength>,
    expected_blanks: f64,
    gain_blanks: f64,
    #[serde(default)]
    gain_low: f64,
    #[serde(default)]
    gain_high: f64,
    gain_error: f64,
    needed_errors: f64,
    #[serde(default)]
    handling_blanks: f64,
    #[serde(skip_deserializing)]
    wins: bool,
}

impl From<SawFirst> for Stored {
    fn from(s: SawFirst) -> Stored {
        Stored {
            cut_mm: s.lengths.first().map(|l| l.to_mm),
            angles_deg: s.lengths.iter().map(|l| l.angle_deg).collect(),
            wins: s.wins(),
            expected_blanks: s.expected,
            gain_blanks: s.gain,
            gain_low: s.interval.0,
            gain_high: s.interval.1,
            gain_error: s.gain_error,
            needed_errors: s.needed_errors,
            handling_blanks: s.handling,
            lengths: s.lengths,
        }
    }
}

impl From<Stored> for SawFirst {
    fn from(s: Stored) -> SawFirst {
        SawFirst {
            lengths: s.lengths,
            expected: s.expected_blanks,
            gain: s.gain_blanks,
            interval: (s.gain_low, s.gain_high),
            gain_error: s.gain_error,
            needed_errors: s.needed_errors,
            handling: s.handling_blanks,
        }
    }
}

/// The tube that it is tried on.
#[derive(Debug, Clone, Copy)]
pub struct Tried {
    /// Most blanks that it could hold.
    pub capacity: usize,
    /// Blanks expected when it is split whole.
    pub expected: f64,
    /// Its length, mm.
    pub length_mm: f64,
    /// Number of tubes of the lot that it is tried on.
    pub tries: usize,
    /// What one more length costs in handling, blanks; see [`handling_of`].
    pub handling: f64,
}

/// The best cross-cuts before splitting, or `None` where no set of cuts is worth its handling, where splitting whole already
/// fills the tube, or where there are too few draws to judge by.
///
/// Cuts and angles are chosen on the first draws (`cross_cuts::best_lengths`) and valued on the rest, against the whole split chosen
/// and valued on the same ones: choosing the best of many would otherwise flatter itself. `along_mm` tells how far
/// along the bark a direction lies from the index line, mm, at a place, mm from the index end, in degrees.
#[must_use]
pub fn saw_first(
    splitter: &Splitter,
    draws: &[DrawnSurface],
    tube: Tried,
    along_mm: impl Fn(f64, f64) -> f64,
) -> Option<SawFirst> {
    if draws.len() < 2 * CHOOSING_DRAWS || tube.expected >= NEARLY_FULL * count(tube.capacity) {
        return None;
    }
    let (choosing, valuing) = draws.split_at(CHOOSING_DRAWS);
    let lengths = best_lengths(splitter, choosing, tube.handling);
    if lengths.len() < 2 {
        return None;
    }
    let aims: Vec<f64> = splitter.aims();
    let aim = |scores: Vec<f64>| aims[middle_of_top(&scores)];
    let chosen: Vec<f64> = lengths.iter().map(|&l| aim(score_of(splitter, choosing, l))).collect();
    let whole_aim = aim(splitter.scores(&splitter.mean_of_tables(choosing.iter().map(|d| &d.table))));
    // of every draw what each length gives, and the whole tube
    let valued: Vec<(Vec<f64>, f64)> = valuing
        .par_iter()
        .map(|d| {
            let of = |(l, aim): (&StartRange, &f64)| given(splitter, d, *l, *aim);
            (lengths.iter().zip(&chosen).map(of).collect(), splitter.expected_at(&d.table, whole_aim))
        })
        .collect();
    let gains: Vec<f64> = valued.iter().map(|v| v.0.iter().sum::<f64>() - v.1).collect();
    let fan = splitter.judge().fan();
    let last = lengths.len() - 1;
    let lengths: Vec<SawnLength> = lengths
        .iter()
        .zip(&chosen)
        .enumerate()
        .map(|(i, (l, aim))| {
            let from_mm = if i == 0 { 0.0 } else { fan.start_mm(0) + l.from * fan.step_mm() };
            let to_mm = if i == last { tube.length_mm } else { fan.start_mm(l.last) + fan.blank_mm() };
            let angle_deg = Angle::from_radians(*aim).degrees().round();
            let expected = mean(&valued.iter().map(|v| v.0[i]).collect::<Vec<f64>>());
            SawnLength { from_mm, to_mm, angle_deg, along_mm: along_mm(from_mm, angle_deg), expected }
        })
        .collect();
    Some(SawFirst {
        expected: lengths.iter().map(|l| l.expected).sum(),
        gain: mean(&gains),
        interval: ninety(&gains),
        gain_error: sd(&gains) / count(gains.len()).sqrt(),
        needed_errors: needed_errors(tube.tries),
        handling: tube.handling * count(last),
        lengths,
    })
}

/// What every split angle of a length gives on the average of draws, as an angle is chosen.
pub(super) fn score_of(splitter: &Splitter, draws: &[DrawnSurface], length: StartRange) -> Vec<f64> {
    let table = |d: &DrawnSurface| splitter.table_of_range(&d.passing, length).turned(lines_turned(d, length.from));
    let tables: Vec<PieceTable> = draws.iter().map(table).collect();
    splitter.scores(&splitter.mean_of_tables(tables.iter()))
}

/// Blanks expected of a length of one draw split at `aim`, radians as seen at its own first end, averaged over the wander.
fn given(splitter: &Splitter, draw: &DrawnSurface, length: StartRange, aim: f64) -> f64 {
    let turned = count(lines_turned(draw, length.from)) * TAU / count(LINES);
    splitter.expected_at(&splitter.table_of_range(&draw.passing, length), aim - turned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::split::{judge_draws, splitter_for};
    use crate::numeric::summary::to_index;
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
    fn a_gain_has_to_hold_over_the_tries_of_a_lot_and_to_pay_for_the_handling() {
        // one-sided points of the normal law (any table): 1.645 of 5 %, 3.144 of 5 % shared by 60
        for (tries, errors) in [(1, 1.645), (60, 3.144)] {
            assert!((needed_errors(tries) - errors).abs() < 1e-3, "{tries}: {}", needed_errors(tries));
        }
        let length = SawnLength { from_mm: 0.0, to_mm: 100.0, angle_deg: 0.0, along_mm: 0.0, expected: 3.0 };
        let gain = |needed_errors, handling| SawFirst {
            lengths: vec![length; 2],
            expected: 6.0,
            gain: 0.45,
            interval: (-1.0, 2.0),
            gain_error: 0.1,
            needed_errors,
            handling,
        };
        assert!(gain(needed_errors(1), 0.2).wins() && !gain(needed_errors(60), 0.2).wins());
        assert!(!gain(needed_errors(1), 0.3).wins());
        assert!(!SawFirst { lengths: vec![length], ..gain(0.0, 0.0) }.wins());
        // 4 minutes of a twentieth of a blank each; ten minutes of a fifth; a minute that is worth nothing
        let mut lot = Lot::default();
        assert!((handling_of(&lot) - 0.2).abs() < 1e-12);
        (lot.split_minutes, lot.minute_blanks) = (Some(10.0), Some(0.2));
        assert!((handling_of(&lot) - 2.0).abs() < 1e-12);
        lot.minute_blanks = Some(0.0);
        assert!((handling_of(&lot) - LEAST_HANDLING).abs() < 1e-12);
    }

    /// Bark round 12.7 mm everywhere.
    fn round_bark(_: f64, deg: f64) -> f64 {
        12.7 * deg.to_radians()
    }

    const TRIED: Tried = Tried { capacity: 8, expected: 0.0, length_mm: 200.0, tries: 1, handling: 0.2 };

    const FIELDS: Fields = Fields { top: 4, wall: false, twist: false };

    fn wide() -> Splitter {
        let mut lot = Lot::default();
        (lot.target.hollow_mm, lot.target.rock_mm, lot.target.arc_tolerance_mm) = (1.0, 1.0, 0.6);
        splitter_for(TRIED.length_mm, FIELDS, &lot, &[], 12.7).expect("long enough")
    }

    #[test]
    fn an_oval_that_turns_half_way_is_better_sawn_first() {
        let splitter = wide();
        let draws = judge_draws(&splitter, |_| turned_oval(&splitter, FIELDS), 1, "x", 90);
        let found = saw_first(&splitter, &draws, TRIED, round_bark).expect("room on both sides");
        assert!(found.wins() && found.gain > 0.5, "{found:?}");
        // one blank before the turn and one behind it: any cut from 78 mm, the first there is, to the end of the turn
        let [first, second] = found.lengths[..] else { panic!("{found:?}") };
        assert!((78.0 - 1e-6..=120.0).contains(&first.to_mm), "{found:?}");
        // a kerf between them, and nothing left over
        assert!(first.from_mm.abs() < 1e-12 && (second.from_mm - first.to_mm - 1.0).abs() < 1e-9);
        assert!((second.to_mm - TRIED.length_mm).abs() < 1e-12);
        assert!((first.expected + second.expected - found.expected).abs() < 1e-9);
        // along a circle radius times angle, and no draw is unlike another
        let along = second.angle_deg.to_radians() * 12.7;
        assert!((second.along_mm - along).abs() < 0.01 && found.interval.1 - found.interval.0 < 1e-9, "{found:?}");
    }

    #[test]
    fn the_gain_is_valued_on_draws_that_did_not_choose_cuts_and_angles() {
        let splitter = wide();
        let round = |radius_mm: f64| {
            let mut s = Sections::zeros(FIELDS, splitter.judge().fan().z_mm());
            (0..s.len()).for_each(|j| s.row_mut(j)[0] = radius_mm);
            s
        };
        let turned = turned_oval(&splitter, FIELDS);
        let found = |choosing: &Sections, rest: &Sections| {
            let of = |k: u64| if k < CHOOSING_DRAWS as u64 { choosing.clone() } else { rest.clone() };
            let draws = judge_draws(&splitter, of, 1, "x", 90);
            saw_first(&splitter, &draws, TRIED, round_bark)
        };
        // the choosing draws say half a blank or more (see above); the rest, 3 mm too thick, hold no blank at all
        let none = found(&turned, &round(14.2)).expect("chosen by the first draws");
        assert_eq!((none.expected, none.gain, none.gain_error, none.wins()), (0.0, 0.0, 0.0, false));
        // on the rest, round and of the right size, every one of four pieces holds two blanks, sawn first or not: 8 + 70 + 1
        // + 70 is less than 192, and 71 more is beyond it
        let all = found(&turned, &round(12.7)).expect("chosen by the first draws");
        assert!((all.expected - 8.0).abs() < 1e-4 && all.gain.abs() < 1e-5 && !all.wins(), "{all:?}");
        // choosing draws that hold no blank, or whose bark is even along the tube, saw nothing whatever the rest do
        assert_eq!(found(&round(14.2), &round(12.7)), None);
        assert_eq!(found(&round(12.7), &turned), None);
    }

    /// A turn of the grain alone moves what a split at the far length's own face has to aim at: by as much as the grain has
    /// turned up to there.
    #[test]
    fn a_length_is_aimed_at_its_own_face() {
        let mut lot = Lot::default();
        (lot.target.hollow_mm, lot.target.rock_mm, lot.target.arc_tolerance_mm) = (1.0, 1.0, 0.6);
        (lot.target.grain_drift_mm, lot.split.wander_deg) = (9.0, 1.0);
        let fields = Fields { twist: true, ..FIELDS };
        let splitter = splitter_for(TRIED.length_mm, fields, &lot, &[], 12.7).expect("long enough");
        let of = |deg_per_mm: f64| {
            let mut s = turned_oval(&splitter, fields);
            let z = splitter.judge().fan().z_mm().to_vec();
            z.iter().enumerate().for_each(|(j, z)| s.row_mut(j)[fields.turn_at().expect("asked for")] = deg_per_mm * z);
            judge_draws(&splitter, |_| s.clone(), 1, "x", 2)
        };
        let last = splitter.judge().fan().starts() - 1;
        let length = StartRange { from: count(last) - 3.0, last };
        let best =
            |draws: &[DrawnSurface]| splitter.aims()[middle_of_top(&score_of(&splitter, draws, length))].to_degrees();
        let (straight, turning) = (best(&of(0.0)), best(&of(0.12)));
        // the bark passes where it did; what is left of the turn is that within the length, to the middle of its window:
        // 0.12 x 35 mm = 4 deg, against the 13 deg up to its face
        let off = (turning - straight + 45.0).rem_euclid(90.0) - 45.0;
        assert!((-7.0..=-1.0).contains(&off), "{straight} {turning}");
        // and what a draw gives there is what its score says where no hand wanders beyond the least
        let draws = of(0.12);
        let told = given(&splitter, &draws[0], length, turning.to_radians());
        let score = score_of(&splitter, &draws[..1], length)[to_index(turning.round())];
        assert!((told - score).abs() < 1e-9, "{told} {score}");
    }

    #[test]
    fn a_cut_is_not_thought_of_where_the_surface_is_even_along_the_tube() {
        let lot = Lot::default();
        let splitter = splitter_for(200.0, FIELDS, &lot, &[], 12.7).expect("long enough");
        let mut s = Sections::zeros(FIELDS, splitter.judge().fan().z_mm());
        for j in 0..s.len() {
            s.row_mut(j)[0] = 12.7;
            s.row_mut(j)[1] = 0.3;
        }
        let draws = judge_draws(&splitter, |_| s.clone(), 1, "x", 90);
        assert_eq!(saw_first(&splitter, &draws, TRIED, round_bark), None);
        let truth = TrueTube::grow(&Stand { length_mm: (120.0, 120.0), ..Stand::default() }, 1, 1);
        let short = splitter_for(truth.length_mm, TrueTube::fields(), &lot, &[], 12.7).expect("one blank");
        let draws = judge_draws(&short, |_| truth.sections(short.judge().fan().z_mm()), 1, "x", 90);
        let tried = Tried { capacity: 4, length_mm: 120.0, ..TRIED };
        assert!(saw_first(&short, &draws, tried, round_bark).is_none(), "no room for two blanks");
    }

    #[test]
    fn what_was_stored_before_lengths_were_is_read_and_wins_nothing() {
        let old = r#"{"cut_mm":100.0,"angles_deg":[0.0,45.0],"expected_blanks":6.0,"gain_blanks":1.0,"gain_error":0.1,
            "needed_errors":2.0,"wins":true}"#;
        let read: SawFirst = serde_json::from_str(old).expect("readable");
        assert!(!read.wins() && (read.gain - 1.0).abs() < 1e-12);
    }
}
