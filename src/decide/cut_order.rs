//! In which order to saw a piece so that what must be held stays long.
//!
//! # How the sawing is pictured
//!
//! The piece lies bark-down in a trough against the fence. One end of it, the held end, butts against a stop; that
//! side is held. The other side is free: it falls away as a blank or as waste, and is never between stop and blade,
//! where it could be caught and thrown. Each cut takes away the outermost part at one end of what is left, so the
//! held side is all the rest. The piece may be turned end for end between cuts, at the price of setting the stop
//! anew from the other end.
//!
//! The trim at the ends of a tube is no cut of its own: it is the waste outside the first and the last run. Waste shorter
//! than the kerf is no part: a cut for it would only make dust, so the blank beside it keeps it and is trimmed with the
//! rest when it is worked.
//!
//! Where an end is so bent that the piece does not lie square, it comes off first, by a rough cut that leaves a little of
//! it outside the mark; the cut at the mark follows when what is left lies true.

use std::cmp::Ordering;

/// What decides whether a part can be held by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldRule {
    /// Width a cut takes away, mm, at most 10; 0 for a sharp knife or a break, which take nothing.
    pub kerf_mm: f64,
    /// No hand nearer to the blade than this, mm.
    pub no_hands_mm: f64,
    /// Length of the part that the hand itself covers, mm: the held part must be longer than the no-hands distance by
    /// this much for the whole hand to stay outside.
    pub hand_mm: f64,
}

impl Default for HoldRule {
    /// Kerf 1 mm; 150 mm as commonly taught (workshop procedures state 150 to 160 mm; common practice); a hand 100 mm
    /// across with a little over (own choice).
    fn default() -> Self {
        HoldRule { kerf_mm: 1.0, no_hands_mm: 150.0, hand_mm: 100.0 }
    }
}

/// One stretch to keep, mm from the index end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Its end nearer the index end.
    pub from_mm: f64,
    /// Its other end.
    pub to_mm: f64,
}

/// An end of the piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// The end nearer the index end of the tube.
    Index,
    /// The other one.
    Far,
}

/// Which ends come off first by a rough cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RoughEnds {
    /// The end nearer the index end.
    pub index: bool,
    /// The other one.
    pub far: bool,
}

/// What a part is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// A blank, numbered from 1 counting from the index end.
    Blank(usize),
    /// Waste.
    Waste,
}

/// How the held side can be held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holding {
    /// A whole hand fits outside the no-hands distance.
    HandsClear,
    /// The part reaches past the no-hands distance, but a hand on it would reach in.
    HandReachesIn,
    /// The part ends inside the no-hands distance: never by hand at a powered saw.
    TooShort,
}

/// One cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// What the saw takes away, mm from the index end of the tube.
    pub kerf: Stretch,
    /// Which end of what is left butts against the stop.
    pub held_end: End,
    /// True when the piece is to be turned end for end before this cut.
    pub turned: bool,
    /// Length of what is left before the cut, mm.
    pub before_mm: f64,
    /// Length of the held side after the cut, mm; this is also the distance of the stop from the near face of the
    /// blade. Where the far end is held it supposes that the piece is as long as stated.
    pub held_mm: f64,
    /// What falls.
    pub falls: Part,
    /// Length of what falls, mm; of waste at least the kerf. A blank beside waste that would be shorter keeps it and is
    /// up to two kerfs longer.
    pub falls_mm: f64,
    /// True for a cut that only takes a bent end off: its place need not be exact, and the cut at the mark follows.
    pub rough: bool,
    /// How the held side can be held.
    pub holding: Holding,
}

/// The cuts of one piece in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOrder {
    /// First cut first.
    pub cuts: Vec<Cut>,
    /// What is left in the end.
    pub remains: Part,
    /// Its length, mm.
    pub remains_mm: f64,
}

/// Why no order was made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CutError {
    /// Length, kerf, no-hands distance or hand is not a usable number.
    #[error("{what} is {value} mm: expected a number {expected}")]
    Number {
        /// Which.
        what: &'static str,
        /// As given.
        value: f64,
        /// Its range.
        expected: &'static str,
    },
    /// A run lies outside the piece, or its ends are the wrong way round.
    #[error("run {from_mm} to {to_mm} mm does not lie within the piece of {length_mm} mm")]
    Outside {
        /// Its start, mm.
        from_mm: f64,
        /// Its end, mm.
        to_mm: f64,
        /// Length of the piece, mm.
        length_mm: f64,
    },
    /// Two runs leave no room for the saw between them.
    #[error("the runs that end at {to_mm} mm and start at {from_mm} mm leave less than the kerf of {kerf_mm} mm")]
    TooClose {
        /// End of the first, mm.
        to_mm: f64,
        /// Start of the second, mm.
        from_mm: f64,
        /// The kerf, mm.
        kerf_mm: f64,
    },
    /// More runs than any piece holds.
    #[error("{got} runs on one piece: at most {most}")]
    TooMany {
        /// As given.
        got: usize,
        /// Most taken.
        most: usize,
    },
}

/// Most runs on one piece: with blanks of 60 mm more than any cane is long.
pub const MOST_RUNS: usize = 60;
/// Below this two places are the same, mm: far finer than a saw, far coarser than rounding.
const SAME_MM: f64 = 1e-6;
/// What a rough cut leaves outside the mark, mm: enough that the next cut runs in cane on both sides; own choice.
const ROUGH_LEAVES_MM: f64 = 5.0;
/// Least length of a bent end that is worth a rough cut, mm; own choice: about as wide as a guard's slot.
const ROUGH_LEAST_MM: f64 = 10.0;

/// The order of cuts that keeps the held side longest.
///
/// Of all orders that always take the outermost part of either end, the one with the fewest cuts whose held side is
/// [`Holding::TooShort`]; among these the fewest where a hand reaches in; then the fewest turns; then
/// the longest shortest held side; then holding the index end, so that the stop is set to the marks as measured.
///
/// # Arguments
/// * `length_mm` - length of the piece, above 0.
/// * `runs` - n stretches to keep, any order, n up to [`MOST_RUNS`]; at least one kerf apart.
///
/// # Returns
/// Up to 2 n cuts; none for no runs. Neighbours with less than a kerf of waste between their two cuts share one, beside the
/// end of the one nearer the index end; ends of the piece that near to a run need none. So no cut makes only dust. Without
/// a kerf only neighbours that touch share a cut.
///
/// # Errors
/// See [`CutError`].
///
/// # Accuracy
/// Exhaustive over those orders by dynamic programming; a test compares it with trying every order.
///
/// # Example
/// ```
/// use quarterlight::decide::cut_order::{End, HoldRule, Holding, Part, Stretch, order_cuts};
/// let run = Stretch { from_mm: 300.0, to_mm: 370.0 };
/// let order = order_cuts(400.0, &[run], &HoldRule::default()).unwrap();
/// // the far waste goes first, then the blank falls from 299 mm of held cane: no hand comes near
/// assert_eq!(order.cuts.len(), 2);
/// assert_eq!((order.cuts[1].held_end, order.cuts[1].falls), (End::Index, Part::Blank(1)));
/// assert!((order.cuts[1].held_mm - 299.0).abs() < 1e-9);
/// assert!(order.cuts.iter().all(|c| c.holding == Holding::HandsClear));
/// ```
pub fn order_cuts(length_mm: f64, runs: &[Stretch], rule: &HoldRule) -> Result<CutOrder, CutError> {
    order_cuts_rough(length_mm, runs, RoughEnds::default(), rule)
}

/// As [`order_cuts`], with a rough cut before all others at each of the ends named; where such an end is too short for a
/// cut of its own there is none.
///
/// # Errors
/// See [`CutError`].
///
/// # Example
/// ```
/// use quarterlight::decide::cut_order::{HoldRule, RoughEnds, Stretch, order_cuts_rough};
/// let run = Stretch { from_mm: 60.0, to_mm: 130.0 };
/// let bent = RoughEnds { index: true, far: false };
/// let order = order_cuts_rough(300.0, &[run], bent, &HoldRule::default()).unwrap();
/// // 5 mm and the kerf of the next cut stay before the mark at 60 mm
/// assert!(order.cuts[0].rough && (order.cuts[0].kerf.to_mm - 54.0).abs() < 1e-9);
/// assert_eq!(order.cuts.iter().filter(|c| c.rough).count(), 1);
/// ```
pub fn order_cuts_rough(
    length_mm: f64,
    runs: &[Stretch],
    rough: RoughEnds,
    rule: &HoldRule,
) -> Result<CutOrder, CutError> {
    check(length_mm, runs, rule)?;
    let pieces = divide(length_mm, runs, rule.kerf_mm)?.with_rough(rough, rule.kerf_mm);
    let table = Table::fill(&pieces, rule);
    Ok(table.read(&pieces, rule))
}

fn check(length_mm: f64, runs: &[Stretch], rule: &HoldRule) -> Result<(), CutError> {
    let number = |what, value: f64, good: bool, expected| {
        if value.is_finite() && good { Ok(()) } else { Err(CutError::Number { what, value, expected }) }
    };
    number("the length of the piece", length_mm, length_mm > 0.0, "above 0")?;
    number("the kerf", rule.kerf_mm, (0.0..=10.0).contains(&rule.kerf_mm), "from 0 to 10")?;
    number("the no-hands distance", rule.no_hands_mm, rule.no_hands_mm >= 0.0, "of 0 or more")?;
    number("the width of the hand", rule.hand_mm, rule.hand_mm >= 0.0, "of 0 or more")?;
    if runs.len() > MOST_RUNS {
        return Err(CutError::TooMany { got: runs.len(), most: MOST_RUNS });
    }
    let inside = |r: &Stretch| r.from_mm >= -SAME_MM && r.from_mm < r.to_mm && r.to_mm <= length_mm + SAME_MM;
    match runs.iter().find(|r| !inside(r)) {
        Some(r) => Err(CutError::Outside { from_mm: r.from_mm, to_mm: r.to_mm, length_mm }),
        None => Ok(()),
    }
}

/// The piece as parts from the index end, with one kerf between each two.
#[derive(Debug)]
struct Divided {
    parts: Vec<(Stretch, Part)>,
}

impl Divided {
    fn kerf(&self, after: usize) -> Stretch {
        Stretch { from_mm: self.parts[after].0.to_mm, to_mm: self.parts[after + 1].0.from_mm }
    }
    /// Whether the cut after this part goes through waste alone.
    fn is_rough(&self, after: usize) -> bool {
        self.parts[after].1 == Part::Waste && self.parts[after + 1].1 == Part::Waste
    }
    /// The same with bent ends in two parts each.
    fn with_rough(mut self, rough: RoughEnds, kerf: f64) -> Divided {
        if self.parts.len() < 2 {
            return self;
        }
        let leaves = ROUGH_LEAVES_MM.max(kerf);
        let least = ROUGH_LEAST_MM.max(kerf) + kerf + leaves;
        let enough = |w: &(Stretch, Part)| w.1 == Part::Waste && w.0.to_mm - w.0.from_mm >= least;
        let last = self.parts[self.parts.len() - 1];
        if rough.far && enough(&last) {
            let at = last.0.from_mm + leaves;
            self.parts.pop();
            self.parts.push((Stretch { to_mm: at, ..last.0 }, Part::Waste));
            self.parts.push((Stretch { from_mm: at + kerf, ..last.0 }, Part::Waste));
        }
        let first = self.parts[0];
        if rough.index && enough(&first) {
            let at = first.0.to_mm - leaves;
            self.parts[0].0.from_mm = at;
            self.parts.insert(0, (Stretch { to_mm: at - kerf, ..first.0 }, Part::Waste));
        }
        self
    }
    /// Length from the start of part i to the end of part j.
    fn length(&self, i: usize, j: usize) -> f64 {
        self.parts[j].0.to_mm - self.parts[i].0.from_mm
    }
}

fn divide(length_mm: f64, runs: &[Stretch], kerf: f64) -> Result<Divided, CutError> {
    let mut runs = runs.to_vec();
    runs.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let mut parts: Vec<(Stretch, Part)> = Vec::new();
    let Some(first) = runs.first() else {
        return Ok(Divided { parts: vec![(Stretch { from_mm: 0.0, to_mm: length_mm }, Part::Waste)] });
    };
    // a cut that leaves less waste than it takes away is a wasted one
    let worth_a_cut = |waste_mm: f64| waste_mm > SAME_MM && waste_mm >= kerf - SAME_MM;
    let head_mm = first.from_mm - kerf;
    let cut_head = worth_a_cut(head_mm);
    if cut_head {
        parts.push((Stretch { from_mm: 0.0, to_mm: head_mm }, Part::Waste));
    }
    for (i, run) in runs.iter().enumerate() {
        let mut keep = Stretch { from_mm: run.from_mm.max(0.0), to_mm: run.to_mm.min(length_mm) };
        if i == 0 && !cut_head {
            keep.from_mm = 0.0;
        }
        if let Some(before) = i.checked_sub(1).map(|b| runs[b]) {
            let gap = run.from_mm - before.to_mm;
            if gap < kerf - SAME_MM {
                return Err(CutError::TooClose { to_mm: before.to_mm, from_mm: run.from_mm, kerf_mm: kerf });
            }
            if worth_a_cut(gap - 2.0 * kerf) {
                let waste = Stretch { from_mm: before.to_mm + kerf, to_mm: run.from_mm - kerf };
                parts.push((waste, Part::Waste));
            } else {
                keep.from_mm = before.to_mm + kerf;
            }
        }
        parts.push((keep, Part::Blank(i + 1)));
    }
    let tail_from_mm = runs[runs.len() - 1].to_mm + kerf;
    if worth_a_cut(length_mm - tail_from_mm) {
        parts.push((Stretch { from_mm: tail_from_mm, to_mm: length_mm }, Part::Waste));
    } else if let Some(last) = parts.last_mut() {
        last.0.to_mm = length_mm;
    }
    Ok(Divided { parts })
}

/// What an order costs; smaller is better, first field first.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cost {
    too_short: u32,
    reaches_in: u32,
    turns: u32,
    least_held_mm: f64,
}

impl Cost {
    const NONE: Cost = Cost { too_short: 0, reaches_in: 0, turns: 0, least_held_mm: f64::INFINITY };

    fn and(self, held_mm: f64, turned: bool, rule: &HoldRule) -> Cost {
        let holding = holding(held_mm, rule);
        Cost {
            too_short: self.too_short + u32::from(holding == Holding::TooShort),
            reaches_in: self.reaches_in + u32::from(holding == Holding::HandReachesIn),
            turns: self.turns + u32::from(turned),
            least_held_mm: self.least_held_mm.min(held_mm),
        }
    }

    fn order(&self, other: &Cost) -> Ordering {
        let count = |c: &Cost| (c.too_short, c.reaches_in, c.turns);
        // lengths that differ only by rounding are equal, so that the stated tie rule decides
        let shorter = other.least_held_mm - self.least_held_mm;
        let by_length =
            if shorter.abs() < SAME_MM || shorter.is_nan() { Ordering::Equal } else { shorter.total_cmp(&0.0) };
        count(self).cmp(&count(other)).then(by_length)
    }
}

fn holding(held_mm: f64, rule: &HoldRule) -> Holding {
    if held_mm < rule.no_hands_mm - SAME_MM {
        Holding::TooShort
    } else if held_mm < rule.no_hands_mm + rule.hand_mm - SAME_MM {
        Holding::HandReachesIn
    } else {
        Holding::HandsClear
    }
}

/// Best cost of sawing what is left from part i to part j, by which end was held last.
struct Table {
    n: usize,
    best: Vec<Cost>,
}

impl Table {
    fn at(&self, i: usize, j: usize, last: Option<End>) -> usize {
        (i * self.n + j) * 3 + last.map_or(0, |e| 1 + usize::from(e == End::Far))
    }

    fn fill(pieces: &Divided, rule: &HoldRule) -> Table {
        let n = pieces.parts.len();
        let mut table = Table { n, best: vec![Cost::NONE; n * n * 3] };
        for span in 1..n {
            for i in 0..n - span {
                for last in [None, Some(End::Index), Some(End::Far)] {
                    let place = table.at(i, i + span, last);
                    table.best[place] = table.choose(pieces, rule, i, i + span, last).1;
                }
            }
        }
        table
    }

    /// The better of holding the index end and holding the far end, with its cost.
    fn choose(&self, pieces: &Divided, rule: &HoldRule, i: usize, j: usize, last: Option<End>) -> (End, Cost) {
        let cost = |end: End| {
            let (a, b) = if end == End::Index { (i, j - 1) } else { (i + 1, j) };
            let turned = last.is_some_and(|l| l != end);
            self.best[self.at(a, b, Some(end))].and(pieces.length(a, b), turned, rule)
        };
        // what keeps the piece from lying square goes first
        match (pieces.is_rough(i), pieces.is_rough(j - 1)) {
            (true, false) => return (End::Far, cost(End::Far)),
            (false, true) => return (End::Index, cost(End::Index)),
            _ => {}
        }
        let (index, far) = (cost(End::Index), cost(End::Far));
        if far.order(&index) == Ordering::Less { (End::Far, far) } else { (End::Index, index) }
    }

    fn read(&self, pieces: &Divided, rule: &HoldRule) -> CutOrder {
        let (mut i, mut j, mut last) = (0, pieces.parts.len() - 1, None);
        let mut cuts = Vec::with_capacity(j);
        while i < j {
            let (held_end, _) = self.choose(pieces, rule, i, j, last);
            let before_mm = pieces.length(i, j);
            let (fallen, before) = match held_end {
                End::Index => (j, j - 1),
                End::Far => (i, i),
            };
            let (kerf, rough) = (pieces.kerf(before), pieces.is_rough(before));
            match held_end {
                End::Index => j -= 1,
                End::Far => i += 1,
            }
            let held_mm = pieces.length(i, j);
            let (part, falls) = pieces.parts[fallen];
            cuts.push(Cut {
                kerf,
                held_end,
                turned: last.is_some_and(|l| l != held_end),
                before_mm,
                held_mm,
                falls,
                falls_mm: part.to_mm - part.from_mm,
                rough,
                holding: holding(held_mm, rule),
            });
            last = Some(held_end);
        }
        CutOrder { cuts, remains: pieces.parts[i].1, remains_mm: pieces.length(i, i) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(list: &[(f64, f64)]) -> Vec<Stretch> {
        list.iter().map(|&(from_mm, to_mm)| Stretch { from_mm, to_mm }).collect()
    }

    #[test]
    fn neighbours_a_kerf_apart_share_one_cut_and_lengths_add_up() {
        let order =
            order_cuts(300.0, &runs(&[(81.0, 151.0), (10.0, 80.0), (200.0, 270.0)]), &HoldRule::default()).unwrap();
        assert_eq!(order.cuts.len(), 5);
        let fallen: f64 = order.cuts.iter().map(|c| c.falls_mm).sum();
        let sawn: f64 = order.cuts.iter().map(|c| c.kerf.to_mm - c.kerf.from_mm).sum();
        assert!((fallen + sawn + order.remains_mm - 300.0).abs() < 1e-9, "{order:?}");
        assert!((sawn - 5.0).abs() < 1e-9, "{order:?}");
        let blanks = order.cuts.iter().filter(|c| matches!(c.falls, Part::Blank(_))).count();
        assert_eq!(blanks + usize::from(matches!(order.remains, Part::Blank(_))), 3);
        for c in &order.cuts {
            assert!((c.before_mm - c.held_mm - c.falls_mm - 1.0).abs() < 1e-9, "{c:?}");
        }
    }

    #[test]
    fn a_run_near_the_far_end_is_cut_from_a_long_index_side_and_the_other_way_round() {
        let rule = HoldRule::default();
        let far = order_cuts(500.0, &runs(&[(400.0, 470.0)]), &rule).unwrap();
        assert!(far.cuts.iter().all(|c| c.held_end == End::Index && c.holding == Holding::HandsClear), "{far:?}");
        let near = order_cuts(500.0, &runs(&[(30.0, 100.0)]), &rule).unwrap();
        assert!(near.cuts.iter().all(|c| c.held_end == End::Far && c.holding == Holding::HandsClear), "{near:?}");
        // 500 - 101 after the last cut
        assert!((near.cuts[1].held_mm - 399.0).abs() < 1e-9, "{near:?}");
    }

    #[test]
    fn the_last_cuts_of_a_short_quarter_are_always_flagged() {
        let order = order_cuts(180.0, &runs(&[(8.0, 78.0), (79.0, 149.0)]), &HoldRule::default()).unwrap();
        assert_eq!(order.cuts.last().map(|c| c.holding), Some(Holding::TooShort));
        // first cut holds at best 171 mm: past the zone, but a hand would reach in
        assert_eq!(order.cuts[0].holding, Holding::HandReachesIn, "{order:?}");
        let strict = HoldRule { no_hands_mm: 300.0, ..HoldRule::default() };
        let order = order_cuts(180.0, &runs(&[(8.0, 78.0)]), &strict).unwrap();
        assert!(order.cuts.iter().all(|c| c.holding == Holding::TooShort));
    }

    /// Every order that takes the outermost part of either end, one bit per cut.
    fn by_trying_all(pieces: &Divided, rule: &HoldRule) -> Cost {
        let n = pieces.parts.len();
        let all = (0..1_u32 << (n - 1)).map(|bits| {
            let (mut i, mut j, mut last) = (0, n - 1, None);
            let mut cost = Cost::NONE;
            for k in 0..n - 1 {
                let end = if bits >> k & 1 == 0 { End::Index } else { End::Far };
                match end {
                    End::Index => j -= 1,
                    End::Far => i += 1,
                }
                cost = cost.and(pieces.length(i, j), last.is_some_and(|l| l != end), rule);
                last = Some(end);
            }
            cost
        });
        all.fold(
            Cost { too_short: 99, ..Cost::NONE },
            |best, c| if c.order(&best) == Ordering::Less { c } else { best },
        )
    }

    #[test]
    fn no_order_does_better_than_the_one_found() {
        let layouts: [(f64, &[(f64, f64)]); 6] = [
            (300.0, &[(10.0, 80.0), (81.0, 151.0), (200.0, 270.0)]),
            (412.0, &[(0.0, 70.0), (90.0, 160.0), (161.0, 231.0), (300.0, 370.0)]),
            (260.0, &[(100.0, 170.0)]),
            (600.0, &[(20.0, 90.0), (500.0, 570.0)]),
            (231.0, &[(8.0, 78.0), (79.5, 149.5), (150.5, 220.5)]),
            (450.0, &[(0.5, 70.5), (379.0, 449.5)]),
        ];
        for (length, list) in layouts {
            for no_hands_mm in [0.0, 100.0, 150.0, 300.0] {
                let rule = HoldRule { no_hands_mm, ..HoldRule::default() };
                let order = order_cuts(length, &runs(list), &rule).unwrap();
                let mut got = Cost::NONE;
                for c in &order.cuts {
                    got = got.and(c.held_mm, c.turned, &rule);
                }
                let want = by_trying_all(&divide(length, &runs(list), rule.kerf_mm).unwrap(), &rule);
                assert_eq!(got.order(&want), Ordering::Equal, "{length} {no_hands_mm}: {got:?} against {want:?}");
            }
        }
    }

    #[test]
    fn run_ends_on_piece_ends_need_no_cut_and_no_cut_makes_only_dust() {
        let whole = order_cuts(70.0, &runs(&[(0.0, 70.0)]), &HoldRule::default()).unwrap();
        assert_eq!((whole.cuts.len(), whole.remains), (0, Part::Blank(1)));
        let shave = order_cuts(70.5, &runs(&[(0.5, 70.5)]), &HoldRule::default()).unwrap();
        assert_eq!((shave.cuts.len(), shave.remains), (0, Part::Blank(1)), "{shave:?}");
        assert!((shave.remains_mm - 70.5).abs() < 1e-9, "{shave:?}");
        // two kerfs apart: both cuts would touch, so one is enough, and the second blank keeps a millimetre
        let pair = order_cuts(142.0, &runs(&[(0.0, 70.0), (72.0, 142.0)]), &HoldRule::default()).unwrap();
        assert_eq!((pair.cuts.len(), pair.remains_mm + pair.cuts[0].falls_mm), (1, 141.0), "{pair:?}");
        let bare = order_cuts(200.0, &[], &HoldRule::default()).unwrap();
        assert_eq!((bare.cuts.len(), bare.remains), (0, Part::Waste));
    }

    #[test]
    fn a_knife_takes_nothing_and_touching_runs_share_one_cut() {
        let knife = HoldRule { kerf_mm: 0.0, ..HoldRule::default() };
        let order = order_cuts(300.0, &runs(&[(10.0, 80.0), (80.0, 150.0), (200.0, 270.0)]), &knife).unwrap();
        // cuts at 10, 80, 150, 200 and 270
        let mut places: Vec<f64> = order.cuts.iter().map(|c| c.kerf.from_mm).collect();
        places.sort_by(f64::total_cmp);
        assert_eq!(places, [10.0, 80.0, 150.0, 200.0, 270.0]);
        assert!(
            order.cuts.iter().all(|c| (c.kerf.to_mm - c.kerf.from_mm).abs() < 1e-12 && c.falls_mm > 1.0),
            "{order:?}"
        );
        let fallen: f64 = order.cuts.iter().map(|c| c.falls_mm).sum();
        assert!((fallen + order.remains_mm - 300.0).abs() < 1e-9, "{order:?}");
        // ends of the piece need no cut, a gap of half a millimetre falls as a sliver
        let ends = order_cuts(140.5, &runs(&[(0.0, 70.0), (70.5, 140.5)]), &knife).unwrap();
        assert_eq!(ends.cuts.len(), 2);
        assert!(ends.cuts.iter().any(|c| c.falls == Part::Waste && (c.falls_mm - 0.5).abs() < 1e-9), "{ends:?}");
        assert!(matches!(
            order_cuts(200.0, &runs(&[(0.0, 70.0), (69.0, 139.0)]), &knife),
            Err(CutError::TooClose { .. })
        ));
    }

    #[test]
    fn bad_input_is_an_error_that_names_it() {
        let rule = HoldRule::default();
        let one = runs(&[(10.0, 80.0)]);
        assert!(matches!(order_cuts(f64::NAN, &one, &rule), Err(CutError::Number { .. })));
        assert!(matches!(order_cuts(60.0, &one, &rule), Err(CutError::Outside { .. })));
        assert!(matches!(order_cuts(200.0, &runs(&[(80.0, 10.0)]), &rule), Err(CutError::Outside { .. })));
        assert!(matches!(order_cuts(200.0, &runs(&[(f64::NAN, 10.0)]), &rule), Err(CutError::Outside { .. })));
        let near = runs(&[(10.0, 80.0), (80.5, 150.0)]);
        assert!(matches!(order_cuts(200.0, &near, &rule), Err(CutError::TooClose { .. })));
        for kerf_mm in [-1.0, -1e-9, f64::NAN, 10.5, 50.0] {
            assert!(order_cuts(200.0, &one, &HoldRule { kerf_mm, ..rule }).is_err(), "{kerf_mm}");
        }
        let many = vec![one[0]; MOST_RUNS + 1];
        assert!(matches!(order_cuts(200.0, &many, &rule), Err(CutError::TooMany { .. })));
    }
}
