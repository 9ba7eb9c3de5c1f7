//! Slips of a hand at the keyboard, planted where the truth records them.

use super::chance::Chance;
use super::measuring::{Take, Taken, Tool};
use super::whole;
use serde::Serialize;

/// How far a reading is off, and a zero slips, mm.
const OFF_MM: f64 = 5.0;
const SLIPPED_MM: f64 = 0.3;
/// An inch, mm (by definition).
const INCH_MM: f64 = 25.4;

/// A slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Fault {
    /// One reading 5 mm off.
    Off,
    /// One reading typed in inches as if it were mm.
    Inches,
    /// Place and angle of all readings of one tool exchanged.
    Columns,
    /// The zero of one tool slips by 0.3 mm part of the way.
    Zero,
    /// All angles of one station one step off.
    Angle,
}

impl Fault {
    /// All of them, with a word and what they are.
    pub const ALL: [(&str, Fault, &str); 5] = [
        ("off", Fault::Off, "one reading 5 mm off"),
        ("inches", Fault::Inches, "one reading typed in inches"),
        ("columns", Fault::Columns, "place and angle of one tool exchanged"),
        ("zero", Fault::Zero, "a zero that slips by 0.3 mm part of the way"),
        ("angle", Fault::Angle, "the angles of one station one step off"),
    ];
}

/// On how many tubes of a lot a slip is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Often {
    /// So many tubes, each once.
    Tubes(usize),
    /// A share of the tubes, rounded up.
    Share(f64),
}

impl Often {
    fn tubes(self, of: usize) -> usize {
        match self {
            Often::Tubes(n) => n.min(of),
            Often::Share(s) => whole((s * of as f64).ceil()).min(of),
        }
    }
}

/// A slip as it was made: of which readings of the tube (in order), and what they should have been.
#[derive(Debug, Clone, PartialEq)]
pub struct Planted {
    /// Which slip.
    pub fault: Fault,
    /// Readings that are wrong.
    pub at: Vec<usize>,
    /// What was meant: place, angle and value of each.
    pub meant: Vec<[f64; 3]>,
}

/// The readings of one tube, how they were taken, and the slips made in them so far.
#[derive(Debug)]
pub struct Typed<'a> {
    /// The tube's name.
    pub name: &'a str,
    /// How they were taken.
    pub takes: &'a [Take],
    /// As written down.
    pub taken: &'a mut [Taken],
    /// Slips.
    pub planted: &'a mut Vec<Planted>,
}

/// Makes slips in the readings of a lot: tubes in an order of their own for the seed, one slip after another dealt out to the next
/// tube that can have it.
///
/// # Errors
/// The first slip that no tube can have as often as it is asked for.
pub fn deal(faults: &[(Fault, Often)], tubes: &mut [Typed<'_>], seed: u64) -> Result<(), Fault> {
    let mut order: Vec<(f64, usize)> =
        (0..tubes.len()).map(|k| (Chance::of(seed, "who slips", k as u64).even(0.0, 1.0), k)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut next = 0;
    for &(fault, often) in faults {
        for _ in 0..often.tubes(tubes.len()) {
            let able = (0..order.len()).find(|i| {
                let t = &mut tubes[order[(next + i) % order.len()].1];
                let once = t.planted.iter().all(|p| p.fault != fault);
                let made = once.then(|| plant(fault, t.taken, t.takes, t.planted, (seed, t.name))).flatten();
                made.map(|p| t.planted.push(p)).is_some()
            });
            next += able.ok_or(fault)? + 1;
        }
    }
    Ok(())
}

/// Makes a slip among the readings of one tube, which were taken as `takes` say. `None` where there is nothing to slip in: no
/// zero, one angle only, or slips made there before.
pub fn plant(
    fault: Fault,
    taken: &mut [Taken],
    takes: &[Take],
    before: &[Planted],
    (seed, name): (u64, &str),
) -> Option<Planted> {
    let mut c = Chance::of(seed, &format!("{fault:?} of {name}"), before.len() as u64);
    // the readings of every take, in order
    let mut from = 0;
    let spans: Vec<(usize, std::ops::Range<usize>)> = takes
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let n = t.angles_deg.len() * t.places_mm.len();
            from += n;
            (i, from - n..from)
        })
        .collect();
    let free = |i: &usize| before.iter().all(|p| !p.at.contains(i));
    let untouched = |r: &std::ops::Range<usize>| r.clone().all(|i| free(&i));
    let pick = |c: &mut Chance, n: usize| whole(c.even(0.0, n as f64)).min(n.saturating_sub(1));
    let meant = |taken: &[Taken], at: &[usize]| -> Vec<[f64; 3]> {
        at.iter().map(|&i| [taken[i].z_mm, taken[i].angle_deg, taken[i].value]).collect()
    };
    let at: Vec<usize> = match fault {
        Fault::Off | Fault::Inches => {
            // a value of nought is nought in inches too
            let list: Vec<usize> =
                (0..taken.len()).filter(free).filter(|&i| fault == Fault::Off || taken[i].value.abs() > 1.0).collect();
            if list.is_empty() {
                return None;
            }
            vec![list[pick(&mut c, list.len())]]
        }
        Fault::Columns => {
            let list: Vec<_> = spans.iter().filter(|(_, r)| r.len() > 1 && untouched(r)).collect();
            if list.is_empty() {
                return None;
            }
            list[pick(&mut c, list.len())].1.clone().collect()
        }
        Fault::Zero => {
            let has_zero = |t: Tool| {
                matches!(t, Tool::Dial(_) | Tool::Axis(_) | Tool::Vee(_) | Tool::Bridge(_) | Tool::Caliper(_))
            };
            let able: Vec<_> =
                spans.iter().filter(|(i, r)| has_zero(takes[*i].tool) && r.len() > 3 && untouched(r)).collect();
            // a dial rather than a caliper, which is closed at nought between readings
            let dials: Vec<_> =
                able.iter().filter(|(i, _)| !matches!(takes[*i].tool, Tool::Caliper(_))).copied().collect();
            let list = if dials.is_empty() { able } else { dials };
            if list.is_empty() {
                return None;
            }
            let span = &list[pick(&mut c, list.len())].1;
            let first = span.start + 1 + pick(&mut c, span.len() - 2);
            (first..span.end).collect()
        }
        Fault::Angle => {
            let list: Vec<_> = spans.iter().filter(|(i, r)| takes[*i].angles_deg.len() > 1 && untouched(r)).collect();
            if list.is_empty() {
                return None;
            }
            let (i, span) = list[pick(&mut c, list.len())];
            let n = takes[*i].angles_deg.len();
            let first = span.start + n * pick(&mut c, takes[*i].places_mm.len());
            (first..first + n).collect()
        }
    };
    let planted = Planted { fault, meant: meant(taken, &at), at };
    for (j, &i) in planted.at.iter().enumerate() {
        let t = &mut taken[i];
        match fault {
            // no gap is below nought
            Fault::Off if matches!(t.tool, Tool::Resting | Tool::Lifted) => t.value += OFF_MM,
            Fault::Off => t.value += OFF_MM * c.side(),
            Fault::Inches => t.value /= INCH_MM,
            Fault::Columns => std::mem::swap(&mut t.z_mm, &mut t.angle_deg),
            Fault::Zero => t.value += SLIPPED_MM,
            // every reading is written beside the next angle of its station
            Fault::Angle => t.angle_deg = planted.meant[(j + 1) % planted.meant.len()][1],
        }
    }
    Some(planted)
}
