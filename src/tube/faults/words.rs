//! A suspicion in words: what looks wrong, where, and what to check.

use super::hypothesis::{Groups, Span, What};
use super::{Cause, Suspicion, sorted};
use crate::domain::Tube;
use crate::domain::units::MM_PER_INCH;

/// The cause an explanation stands for; `None` where it has none.
pub(super) fn cause(what: What) -> Option<Cause> {
    Some(match what {
        What::Slip { .. } => Cause::SlippedZero,
        What::Swap(..) => Cause::SwappedStations,
        What::Decimal(..) => Cause::DecimalSlip,
        What::Unit(_, factor) if factor < 1.0 => Cause::MmAsInch,
        What::Unit(..) | What::PlaceInInches(_) => Cause::InchAsMm,
        What::Turn(..) | What::TurnKind(..) => Cause::AnglesShifted,
        What::Sign(_) => Cause::SignReversed,
        What::Alone(_) => return None,
    })
}

/// The suspicion that `what` is, with what else might be behind it.
pub(super) fn suspicion(
    tube: &Tube,
    groups: &Groups,
    values: &[f64],
    gain: f64,
    what: &What,
    rivals: &[What],
) -> Suspicion {
    let speaker = Speaker { tube, groups, values };
    let mut words = format!("{} {}; {}", speaker.place(*what), speaker.looks(*what), speaker.check(*what));
    let others: Vec<String> =
        rivals.iter().take(2).map(|&w| format!("{} {}", speaker.place(w), speaker.looks(w))).collect();
    if !others.is_empty() {
        words.push_str(&format!(" (almost as likely: {})", others.join(", or ")));
    }
    Suspicion {
        cause: cause(*what).unwrap_or(Cause::DecimalSlip),
        readings: sorted(groups.touched(*what)),
        place: speaker.place(*what),
        words,
        gain,
    }
}

struct Speaker<'a> {
    tube: &'a Tube,
    groups: &'a Groups,
    values: &'a [f64],
}

impl Speaker<'_> {
    fn reading(&self, i: usize) -> String {
        let r = &self.tube.readings[i];
        format!("the {} at {:.1} mm, {:.0} deg", r.kind.word(), r.z_mm, r.angle.wrapped().degrees())
    }

    fn ring(&self, ring: usize) -> String {
        let r = &self.groups.rings[ring];
        format!("{} station {:.1} mm", r.kind.word(), r.z_mm)
    }

    fn set(&self, set: usize) -> String {
        let s = &self.groups.sets[set];
        let word = s.kind.word();
        match (s.name.is_empty(), word) {
            (true, _) => format!("the {word} readings"),
            (false, "gap") => format!("gap line {}", s.name),
            (false, _) => format!("{word} set {}", s.name),
        }
    }

    fn span(&self, span: Span) -> String {
        match span {
            Span::One(i) => self.reading(i),
            Span::Ring(r) => self.ring(r),
            Span::Set(s) => self.set(s),
        }
    }

    /// Where.
    fn place(&self, what: What) -> String {
        match what {
            What::Slip { set, from, .. } => {
                format!("{} from {} on", self.set(set), self.reading(self.groups.sets[set].members[from]))
            }
            What::Swap(a, b) => format!("{} and {:.1} mm", self.ring(a), self.groups.rings[b].z_mm),
            What::Decimal(i, _) | What::Alone(i) => self.reading(i),
            What::Unit(span, _) | What::Sign(span) => self.span(span),
            What::Turn(r, _) | What::PlaceInInches(r) => self.ring(r),
            What::TurnKind(r, _) => format!("all {} readings", self.groups.rings[r].kind.word()),
        }
    }

    /// How it looks.
    fn looks(&self, what: What) -> String {
        let to = |i: usize, factor: f64| format!("{:.3} mm for {:.3}", self.values[i], factor * self.values[i]);
        match what {
            What::Slip { by_mm, .. } => format!("look {by_mm:+.3} mm off, as if the zero had slipped"),
            What::Swap(..) => "look interchanged".to_string(),
            What::Decimal(i, factor) => format!("looks like a slip of the decimal mark ({})", to(i, factor)),
            What::Unit(Span::One(i), factor) if factor > 1.0 => {
                format!("looks like inches in a mm column ({})", to(i, factor))
            }
            What::Unit(Span::One(i), factor) => format!("looks like mm in an inch column ({})", to(i, factor)),
            What::Unit(_, factor) if factor > 1.0 => "looks like inches in a mm column".to_string(),
            What::Unit(..) => "looks like mm in an inch column".to_string(),
            What::Turn(r, forward) | What::TurnKind(r, forward) => {
                let ring = &self.groups.rings[r];
                let step = ring.step_deg.unwrap_or(0.0) * if forward { 1.0 } else { -1.0 };
                let n = ring.members.len();
                match what {
                    What::Turn(..) => format!("has its {n} angles shifted by one step ({step:+.0} deg), it seems"),
                    _ => format!("look shifted by one step ({step:+.0} deg) against the other readings"),
                }
            }
            What::Sign(_) => "looks to have its sign reversed".to_string(),
            What::PlaceInInches(r) => {
                let z = self.groups.rings[r].z_mm;
                format!("looks like {z:.2} in ({:.1} mm)", z * MM_PER_INCH)
            }
            What::Alone(_) => "is off for no known cause".to_string(),
        }
    }

    /// What to do about it.
    fn check(&self, what: What) -> &'static str {
        match what {
            What::Slip { .. } => "measure one early reading again, and give what comes after the slip a set of its own",
            What::Swap(..) => "check the two places, and swap them if so",
            What::Decimal(..) => "check the decimal mark",
            What::Unit(..) | What::PlaceInInches(_) => "check the unit, and write it beside the number",
            What::Turn(..) => "check the column of angles",
            What::TurnKind(..) => "one of the two has its angles from another index line; which one cannot be told",
            What::Sign(Span::One(_)) => "check the sign",
            What::Sign(_) => "check which way the dial turned",
            What::Alone(_) => "measure it again",
        }
    }
}
