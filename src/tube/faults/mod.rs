//! What went wrong with the readings: slips that have a likely cause, named.
//!
//! The readings are never changed. Every explanation (see [`Cause`]) is judged by how much its correction raises the
//! likelihood of all readings of the tube with the shape integrated out (`evidence`), less what the freedom of the
//! explanation is worth: twice the log of the number of explanations of its kind, and for a free amount its share of
//! doubt under a normal prior (the marginal likelihood itself; Schwarz, Annals of Statistics 6 (1978) 461-464, for the
//! asymptotic form). One reading off without a known cause competes with the rest, so that an ordinary slip is left to
//! the doubted readings. The best explanation is taken as true and the search goes on, until nothing gains enough; then
//! each is looked at once more with the others made, on the tube as it then is: were it as rough as that tube shows itself,
//! would it still be believed? Where the tube stays odd with all of them made ([`Belief::widened`]), it is the tube that is
//! odd and not its readings, and none is told.
//!
//! An instrument is accused only of what it has the mechanism for (`mechanism`), a reading only of what others could
//! contradict, and the search costs no more than stated (`effort`). Columns that stand under each other's headings are
//! looked for first (`columns`): with them nothing else can be judged.

mod columns;
mod effort;
mod evidence;
mod hypothesis;
mod mechanism;
mod ring;
mod suspicion;
mod words;

pub use suspicion::{Cause, Suspicion, Suspicions};

use super::belief::Belief;
use super::error::BeliefError;
use super::linearised::LinearEquations;
use super::model::Model;
use super::sample::MOST_READINGS;
use crate::domain::units::MM_PER_INCH;
use crate::domain::{Kind, Tube};
use crate::numeric::summary::count;
use effort::{Effort, MOST_LOOKS};
use evidence::Evidence;
use hypothesis::{Explanation, Groups, Known, What, explanations};
use std::collections::BTreeMap;

/// Gain an explanation must have beyond its tolls: e^(12/2), odds of four hundred to one against no fault, were both as
/// likely beforehand and the noise as stated (where it shows larger, the gain counts for less).
/// Chosen with `examples/fault_study.rs` so that less than 1 % of clean tubes are suspected.
const LEAST_GAIN: f64 = 12.0;
/// Most causes told of one tube; what comes after them is mostly their shadow.
pub const MOST_TOLD: usize = 2;
/// Another explanation whose score comes within this of the best is named beside it (odds of 20 to 1).
const NEAR_GAIN: f64 = 6.0;
/// Most explanations taken on one tube; beyond, its readings as a whole are not to be trusted.
const MOST_ROUNDS: usize = 12;
/// Fewer readings of a kind than this say nothing of how far its stated sd holds.
const LEAST_FOR_EXCESS: usize = 8;

/// Looks for slips with a likely cause among the readings `belief` was formed from.
///
/// # Arguments
/// The tube (its scan laid out) and the model that [`Belief::fit`] was given.
///
/// # Returns
/// The two likeliest causes, the strongest first, how many more there were, and whether anything was left out.
///
/// # Errors
/// [`BeliefError`] when the readings could not be searched: [`BeliefError::TooMany`] for more readings than anybody types,
/// [`BeliefError::OtherUnknowns`] for a belief of another tube, [`BeliefError::NotPositive`] when the equations could not
/// be solved with some correction made.
///
/// # What it cannot see
/// A fault that leaves the readings in agreement: all angles of the only kind turned by a step (that is a turned index
/// line), the only dial set with its sign reversed, a swap of two like stations, a slip below the noise. Columns of fewer
/// than six readings, or of a single station, that were interchanged.
pub fn suspicions(tube: &Tube, belief: &Belief, model: &Model) -> Result<Suspicions, BeliefError> {
    within(tube, belief, model, MOST_LOOKS)
}

/// The same with another cap on work.
fn within(tube: &Tube, belief: &Belief, model: &Model, looks: usize) -> Result<Suspicions, BeliefError> {
    let readings = tube.readings.len();
    if readings > MOST_READINGS {
        return Err(BeliefError::TooMany { tube: tube.name.clone(), readings, most: MOST_READINGS });
    }
    let effort = Effort::new(looks);
    // under the lot's own law where the belief was braked: the brake may be the fault's doing, which the end will show
    let rougher = if belief.widened().is_some() { 1.0 } else { belief.rougher() };
    Search { tube, belief, model, rougher, effort: &effort }.run()
}

struct Search<'a> {
    tube: &'a Tube,
    belief: &'a Belief,
    model: &'a Model,
    /// How much rougher than its lot the tube is taken for.
    rougher: f64,
    effort: &'a Effort,
}

/// An explanation with its score: gain over the noise as it shows, less its tolls.
type Scored = (f64, Explanation);

/// The readings as they would be were some explanations true.
struct State {
    tube: Tube,
    /// As measured: every correction made.
    values: Vec<f64>,
    /// As the dial or jaws showed them: faults of writing put right, but not a slipped zero or an unexplained reading.
    shown: Vec<f64>,
    groups: Groups,
    evidence: Evidence,
}

/// An explanation taken as true.
struct Taken {
    explanation: Explanation,
    touched: Vec<usize>,
    /// With what else it might be, and without; `None` for a reading off without a known cause.
    suspicion: Option<(Suspicion, Suspicion)>,
}

/// The likeliest causes: where there is one, what else it might be stands beside it.
fn told(taken: Vec<Taken>, stopped: Option<BeliefError>) -> Suspicions {
    let mut list: Vec<(Suspicion, Suspicion)> = taken.into_iter().filter_map(|t| t.suspicion).collect();
    list.sort_by(|a, b| b.0.gain.total_cmp(&a.0.gain));
    let untold = list.len().saturating_sub(MOST_TOLD);
    let alone = list.len() == 1;
    let told = list.into_iter().take(MOST_TOLD).map(|(full, plain)| if alone { full } else { plain }).collect();
    Suspicions { told, untold, stopped }
}

impl Search<'_> {
    fn run(&self) -> Result<Suspicions, BeliefError> {
        let readings = &self.tube.readings;
        let equations = self.belief.linear_equations(self.tube, self.model, self.rougher)?;
        if let Some(columns) = self.columns()? {
            return Ok(Suspicions { told: vec![columns], ..Suspicions::default() });
        }
        let mut state = State {
            tube: self.tube.clone(),
            values: readings.iter().map(|r| r.value_mm).collect(),
            shown: readings.iter().map(|r| r.value_mm).collect(),
            groups: Groups::of(readings),
            evidence: self.judged(&equations)?,
        };
        let mut taken: Vec<Taken> = Vec::new();
        self.take_all(&mut state, &mut taken)?;
        if taken.iter().any(|t| t.suspicion.is_some()) {
            // the belief the search began with was bent by all of them
            let belief = Belief::fit(&state.corrected(), self.model)?;
            if belief.widened().is_some() {
                taken.clear();
            } else {
                let again = Search { belief: &belief, rougher: belief.rougher(), ..*self };
                state.evidence = again.evidence(&state)?;
                again.reconsider(&mut state, &mut taken)?;
                again.take_all(&mut state, &mut taken)?;
            }
        }
        Ok(told(taken, self.effort.stopped().then(|| BeliefError::Stopped { tube: self.tube.name.clone() })))
    }

    /// Columns that stand under each other's headings, where the readings are likelier without.
    fn columns(&self) -> Result<Option<Suspicion>, BeliefError> {
        let worth = |belief: &Belief, tube: &Tube| -> Result<f64, BeliefError> {
            let equations = belief.linear_equations(tube, self.model, 1.0)?;
            Evidence::worth(&equations).ok_or_else(|| self.unsolved())
        };
        let mut best: Option<Suspicion> = None;
        for found in columns::interchanged(self.tube) {
            let mended = found.mended(self.tube);
            let belief = match Belief::fit(&mended, self.model) {
                Ok(belief) => belief,
                // a bar stands on both feet
                Err(BeliefError::Lacks { .. }) => continue,
                Err(other) => return Err(other),
            };
            let gain = worth(&belief, &mended)? - worth(self.belief, self.tube)?;
            if gain > LEAST_GAIN && best.as_ref().is_none_or(|b| gain > b.gain) {
                best = Some(words::of_columns(&found, gain));
            }
        }
        Ok(best)
    }

    /// Takes the best explanation as true, again and again, until nothing gains enough.
    fn take_all(&self, state: &mut State, taken: &mut Vec<Taken>) -> Result<(), BeliefError> {
        for _ in taken.len()..MOST_ROUNDS {
            let Some(next) = self.best(state)? else { break };
            let before = taken.iter_mut().find(|t| t.touched == next.touched);
            if before.as_ref().is_some_and(|t| t.suspicion.is_some() || next.suspicion.is_some()) {
                break;
            }
            self.make(state, &next.explanation)?;
            match before {
                // the same reading moved a little further, now that the rest has settled
                Some(t) => {
                    for (old, more) in t.explanation.change.iter_mut().zip(next.explanation.change) {
                        old.1 += more.1;
                    }
                }
                None => taken.push(next),
            }
        }
        Ok(())
    }

    /// With every other explanation made, is each still the best of its place? The first were chosen while the later ones
    /// still bent the surface.
    fn reconsider(&self, state: &mut State, taken: &mut Vec<Taken>) -> Result<(), BeliefError> {
        for _ in 0..taken.len() {
            if self.effort.stopped() {
                break;
            }
            let old = taken.remove(0);
            self.unmake(state, &old)?;
            let next = self.best(state)?;
            // what was found stands where the search was stopped before it had seen every rival
            if let Some(next) = if self.effort.stopped() { Some(old) } else { next } {
                self.make(state, &next.explanation)?;
                taken.push(next);
            }
        }
        Ok(())
    }

    /// The best explanation of what is still amiss; `None` when nothing gains enough.
    fn best(&self, state: &State) -> Result<Option<Taken>, BeliefError> {
        let State { tube, shown, groups, evidence, .. } = state;
        let known = Known { readings: &tube.readings, shown, groups, evidence };
        let mut list = explanations(&known, LEAST_GAIN, self.effort);
        if !list.is_empty() {
            list.extend(self.places_in_inches(state)?);
        }
        let scored = self.scored(groups, evidence, list);
        let Some((score, best)) = scored.first() else { return Ok(None) };
        let told = |rivals: &[What]| {
            let cause = words::cause(best.what)?;
            Some(words::suspicion(self.tube, groups, shown, *score, (cause, best.what), rivals))
        };
        let suspicion = told(&rivals(groups, &scored)).zip(told(&[]));
        Ok(Some(Taken { suspicion, touched: groups.touched(best.what), explanation: best.clone() }))
    }

    fn make(&self, state: &mut State, e: &Explanation) -> Result<(), BeliefError> {
        if let What::PlaceInInches(ring) = e.what {
            let members = state.groups.rings[ring].members.clone();
            return self.place_anew(state, &members, MM_PER_INCH);
        }
        state.shift(e, 1.0);
        Ok(())
    }

    fn unmake(&self, state: &mut State, old: &Taken) -> Result<(), BeliefError> {
        if matches!(old.explanation.what, What::PlaceInInches(_)) {
            return self.place_anew(state, &old.touched, MM_PER_INCH.recip());
        }
        state.shift(&old.explanation, -1.0);
        Ok(())
    }

    /// Multiplies the places of some readings and sets everything up anew.
    fn place_anew(&self, state: &mut State, members: &[usize], factor: f64) -> Result<(), BeliefError> {
        for &i in members {
            state.tube.readings[i].z_mm *= factor;
        }
        state.evidence = self.evidence(state)?;
        state.groups = Groups::of(&state.tube.readings);
        Ok(())
    }

    /// Explanations that still gain enough over the noise as it shows once they are made, best first.
    fn scored(&self, groups: &Groups, evidence: &Evidence, mut list: Vec<Explanation>) -> Vec<Scored> {
        list.sort_by(|a, b| (b.gain - b.toll).total_cmp(&(a.gain - a.toll)));
        list.truncate(40);
        let mut scored: Vec<Scored> = list
            .into_iter()
            .filter_map(|e| {
                let excess = match e.what {
                    What::PlaceInInches(_) => 1.0,
                    _ => self.excess(groups, evidence, &e),
                };
                // the excess decides whether to believe it; explanations are compared by what they gain
                (e.gain / excess - e.toll > LEAST_GAIN).then_some((e.gain - e.toll, e))
            })
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        scored
    }

    /// How much larger the noise shows than stated, over the kinds an explanation is about (all kinds where it is about
    /// one kind against another).
    fn excess(&self, groups: &Groups, evidence: &Evidence, e: &Explanation) -> f64 {
        let touched = groups.touched(e.what);
        let mut by_kind: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
        for (i, r) in self.tube.readings.iter().enumerate() {
            by_kind.entry(r.kind).or_default().push(i);
        }
        by_kind
            .iter()
            .filter(|(kind, list)| {
                let about = touched.iter().any(|&i| self.tube.readings[i].kind == **kind);
                list.len() >= LEAST_FOR_EXCESS && (about || matches!(e.what, What::TurnKind(..)))
            })
            .map(|(_, list)| evidence.excess_after(&e.change, list))
            .fold(1.0, f64::max)
    }

    /// Rings near the index end whose place may be inches: put where they would then lie, and fitted anew.
    fn places_in_inches(&self, state: &State) -> Result<Vec<Explanation>, BeliefError> {
        let groups = &state.groups;
        let near: Vec<usize> = (0..groups.rings.len())
            .filter(|&r| {
                let z = groups.rings[r].z_mm;
                z > 0.0 && z * MM_PER_INCH <= state.tube.length_mm
            })
            .collect();
        let mut out = Vec::new();
        let each = 10 * (state.tube.readings.len() + state.evidence.unknowns());
        for &r in &near {
            if !self.effort.spend(each) {
                break;
            }
            let mut moved = state.corrected();
            for &i in &groups.rings[r].members {
                moved.readings[i].z_mm *= MM_PER_INCH;
            }
            let equations = match self.belief.linear_equations(&moved, self.model, self.rougher) {
                Ok(equations) => equations,
                // a tracing that came to lie on another would share its point, and a bar stands on both feet: such a place
                // is no explanation
                Err(BeliefError::OtherUnknowns { .. } | BeliefError::Lacks { .. }) => continue,
                Err(other) => return Err(other),
            };
            let then = Evidence::deviance_of(&equations).ok_or_else(|| self.unsolved())?;
            let toll = 2.0 * count(near.len()).ln();
            let gain = state.evidence.deviance() - then;
            out.push(Explanation { what: What::PlaceInInches(r), change: Vec::new(), gain, toll });
        }
        Ok(out)
    }

    /// The evidence of the readings as corrected.
    fn evidence(&self, state: &State) -> Result<Evidence, BeliefError> {
        self.judged(&self.belief.linear_equations(&state.corrected(), self.model, self.rougher)?)
    }

    fn judged(&self, equations: &LinearEquations) -> Result<Evidence, BeliefError> {
        Evidence::new(equations, self.tube.readings.len()).ok_or_else(|| self.unsolved())
    }

    fn unsolved(&self) -> BeliefError {
        BeliefError::NotPositive { tube: self.tube.name.clone() }
    }
}

impl State {
    fn corrected(&self) -> Tube {
        let mut tube = self.tube.clone();
        for (r, v) in tube.readings.iter_mut().zip(&self.values) {
            r.value_mm = *v;
        }
        tube
    }

    fn shift(&mut self, e: &Explanation, by: f64) {
        let change: Vec<(usize, f64)> = e.change.iter().map(|&(i, amount)| (i, by * amount)).collect();
        self.evidence.apply(&change);
        for (i, amount) in change {
            self.values[i] += amount;
            if !matches!(e.what, What::Slip { .. } | What::Alone(_)) {
                self.shown[i] += amount;
            }
        }
    }
}

/// Explanations almost as good as the best that are about something else.
fn rivals(groups: &Groups, scored: &[Scored]) -> Vec<What> {
    let Some((top, best)) = scored.first() else { return Vec::new() };
    let same = |a: What, b: What| {
        let slips = matches!((a, b), (What::Slip { set: p, .. }, What::Slip { set: q, .. }) if p == q);
        let one = words::cause(a) == words::cause(b) && groups.touched(a) == groups.touched(b);
        slips || one
    };
    let mut out: Vec<What> = Vec::new();
    for (score, e) in &scored[1..] {
        let known = same(e.what, best.what) || out.iter().any(|&w| same(w, e.what));
        if top - score < NEAR_GAIN && !known {
            out.push(e.what);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Angle, Reading};

    /// A round straight tube of 25.4 mm, read by a dial whose zero stands at 12 mm: 0.7 everywhere, 12 angles at 6 stations,
    /// and its widths by caliper.
    fn tube() -> Tube {
        let mut tube = Tube { name: "F".into(), length_mm: 200.0, ..Tube::default() };
        for station in 0..6 {
            for turn in 0..12 {
                let (z, a) = (15.0 + 34.0 * f64::from(station), Angle::from_degrees(30.0 * f64::from(turn)));
                // a repeatable scatter of some 0.01 mm, so that no residual is exactly 0
                let off = 0.01 * (2.3 * f64::from(12 * station + turn)).sin();
                tube.readings.push(Reading::new(Kind::Runout, z, a, 0.7 + off));
            }
        }
        for z in [15.0, 100.0, 185.0] {
            for deg in [0.0, 45.0, 90.0, 135.0] {
                tube.readings.push(Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4));
            }
        }
        tube
    }

    fn look(tube: &Tube) -> Vec<Suspicion> {
        let belief = Belief::fit(tube, &Model::default()).expect("fits");
        suspicions(tube, &belief, &Model::default()).expect("searched").told
    }

    #[test]
    fn readings_that_agree_are_not_suspected() {
        assert_eq!(look(&tube()), Vec::new());
    }

    #[test]
    fn a_zero_that_slipped_is_named_with_its_readings_and_its_way() {
        // half way through the set the dial was bumped up by 0.4 mm
        let mut tube = tube();
        tube.readings[36..72].iter_mut().for_each(|r| r.value_mm += 0.4);
        let found = look(&tube);
        let [slip] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!(
            (slip.cause, slip.readings.as_slice()),
            (Cause::SlippedZero, (36..72).collect::<Vec<_>>().as_slice())
        );
        let words = slip.words.to_string();
        assert!(words.contains("+0.4") && slip.gain > LEAST_GAIN, "{words}");
    }

    #[test]
    fn a_reading_ten_times_too_large_is_a_decimal_slip_and_a_reversed_one_is_not() {
        let mut tube = tube();
        tube.readings[40].value_mm *= 10.0;
        let found = look(&tube);
        assert!(found.len() == 1 && found[0].cause == Cause::DecimalSlip && found[0].readings == [40], "{found:?}");
        tube.readings[40].value_mm /= -10.0;
        let found = look(&tube);
        assert!(found.len() == 1 && found[0].cause == Cause::SignReversed && found[0].readings == [40], "{found:?}");
    }

    #[test]
    fn a_search_that_cannot_be_made_says_so() {
        let tube = tube();
        let belief = Belief::fit(&tube, &Model::default()).expect("fits");
        let mut other = tube.clone();
        other.readings.push(Reading { set: "more".into(), ..tube.readings[0].clone() });
        let failed = suspicions(&other, &belief, &Model::default());
        assert_eq!(failed, Err(BeliefError::OtherUnknowns { tube: "F".into() }));
        let fit = super::super::FittedTube::of(&tube, &belief, 1, 20).suspecting(failed);
        assert!(fit.suspicions.is_empty() && fit.unsearched.is_some());
        // stored and read back it still says so
        let text = serde_json::to_string(&fit).expect("numbers and words");
        let back: super::super::FittedTube = serde_json::from_str(&text).expect("just written");
        assert_eq!(back.unsearched, fit.unsearched);
    }

    /// Eight gaps of a straightedge on blocks, one on every line, at mid-length.
    fn gaps(tube: &mut Tube, value: impl Fn(f64) -> f64) {
        for turn in 0..8 {
            let a = 45.0 * f64::from(turn);
            tube.readings.push(Reading::new(Kind::Lifted, 100.0, Angle::from_degrees(a), value(a)));
        }
    }

    #[test]
    fn nought_is_nought_in_every_unit_and_one_gap_of_a_line_contradicts_nothing() {
        let mut closed = tube();
        gaps(&mut closed, |_| 0.0);
        assert_eq!(look(&closed), Vec::new());
        let mut open = tube();
        gaps(&mut open, |a| 0.3 + 0.002 * a);
        assert_eq!(look(&open), Vec::new());
        // the reading is nevertheless judged where the line is held by others: three more gaps of it agree
        open.readings.retain(|r| r.kind != Kind::Lifted);
        for (z, off) in [(20.0, 0.02), (40.0, -0.03), (80.0, 0.01), (120.0, -0.02), (160.0, 0.0), (180.0, 0.03)] {
            open.readings.push(Reading::new(Kind::Lifted, z, Angle::ZERO, 0.5 + off));
        }
        let last = open.readings.len() - 2;
        open.readings[last].value_mm = 0.5 / MM_PER_INCH;
        assert_eq!(look(&open).first().map(|s| s.cause), Some(Cause::InchAsMm));
    }

    #[test]
    fn a_tracing_is_not_accused_of_a_zero_or_a_sign() {
        let mut tube = Tube { name: "O".into(), length_mm: 200.0, ..Tube::default() };
        for z in [0.0, 200.0] {
            for turn in 0..36 {
                let a = Angle::from_degrees(10.0 * f64::from(turn));
                // from the eighteenth angle on the outline stands 0.6 mm out: a natural flank
                let out = if turn >= 18 { 0.6 } else { 0.0 };
                tube.readings.push(Reading::new(Kind::Outline, z, a, 12.7 + out));
            }
        }
        let causes: Vec<Cause> = look(&tube).iter().map(|s| s.cause).collect();
        assert!(!causes.contains(&Cause::SlippedZero) && !causes.contains(&Cause::SignReversed), "{causes:?}");
    }

    #[test]
    fn two_causes_are_told_and_the_rest_are_counted() {
        let mut tube = tube();
        for i in [5, 29, 52] {
            tube.readings[i].value_mm *= 10.0;
        }
        let belief = Belief::fit(&tube, &Model::default()).expect("fits");
        let found = suspicions(&tube, &belief, &Model::default()).expect("searched");
        assert!(found.told.len() == 2 && found.untold == 1 && found.stopped.is_none(), "{found:?}");
        assert!(found.told.iter().all(|s| s.cause == Cause::DecimalSlip && !s.words.to_string().contains("likely")));
    }

    #[test]
    fn columns_under_each_others_headings_are_named_before_all_else() {
        let mut tube = tube();
        for r in tube.readings.iter_mut().filter(|r| r.kind == Kind::Runout) {
            // an oval, bowed tube: on a round, straight one every order of the columns reads the same
            let (s, c) = r.angle.sin_cos();
            r.value_mm += 0.2 * (c * c - s * s) + 0.4 * c * (1.0 - (r.z_mm / 100.0 - 1.0).powi(2));
            (r.z_mm, r.angle) = (r.angle.degrees(), Angle::from_degrees(r.z_mm));
        }
        let found = look(&tube);
        let [one] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!((one.cause, one.readings.len()), (Cause::SwappedColumns, 72));
        let words = one.words.to_string();
        assert!(words.contains("the angles stand under z, the places stand under angle"), "{words}");
    }

    #[test]
    fn a_search_that_costs_too_much_says_so() {
        let mut tube = tube();
        tube.readings[40].value_mm *= 10.0;
        let belief = Belief::fit(&tube, &Model::default()).expect("fits");
        // enough for every single reading but for nothing else
        let looks = 7 * tube.readings.len();
        let found = within(&tube, &belief, &Model::default(), looks).expect("searched");
        assert_eq!(found.stopped, Some(BeliefError::Stopped { tube: "F".into() }));
        assert_eq!(found.told.iter().map(|s| s.cause).collect::<Vec<Cause>>(), [Cause::DecimalSlip]);
        let fit = super::super::FittedTube::of(&tube, &belief, 1, 20).suspecting(Ok(found));
        assert!(fit.unsearched.is_some());
        let mut many = tube.clone();
        many.readings = vec![tube.readings[0].clone(); MOST_READINGS + 1];
        let refused = suspicions(&many, &belief, &Model::default());
        let (readings, most) = (MOST_READINGS + 1, MOST_READINGS);
        assert_eq!(refused, Err(BeliefError::TooMany { tube: "F".into(), readings, most }));
    }
}
