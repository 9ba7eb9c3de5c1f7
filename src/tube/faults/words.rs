//! A suspicion in words: what looks wrong, where, and what to check.

use super::columns::{Column, Interchanged};
use super::hypothesis::{Groups, Span, What};
use super::suspicion::{Cause, Suspicion};
use crate::domain::units::MM_PER_INCH;
use crate::domain::{Phrase, Tube};

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

/// The suspicion of a cause by what it is about, with what else might be behind it; `shown` are the values as read.
pub(super) fn suspicion(
    tube: &Tube,
    groups: &Groups,
    shown: &[f64],
    gain: f64,
    (cause, what): (Cause, What),
    rivals: &[What],
) -> Suspicion {
    let speaker = Speaker { tube, groups, shown };
    let mut words = speaker.sentence(what);
    if let Some(&rival) = rivals.first() {
        words = words.words(" (almost as likely: ").then(speaker.sentence(rival)).words(")");
    }
    Suspicion {
        cause,
        readings: groups.touched(what),
        place: speaker.place(what),
        words,
        advice: speaker.check(what).into(),
        gain,
    }
}

/// The suspicion of columns that stand under each other's headings.
pub(super) fn of_columns(found: &Interchanged, gain: f64) -> Suspicion {
    let place = Phrase::new(format!("the table of {} readings", found.kind.word()));
    let mut words = place.clone().words(" looks as if its columns were interchanged:");
    let moved = found.order.iter().zip([Column::Place, Column::Angle, Column::Value]).filter(|(a, b)| **a != *b);
    for (n, (holds, heading)) in moved.enumerate() {
        let comma = if n == 0 { "" } else { "," };
        words = words.words(format!("{comma} {} stand under {}", holds.holds(), heading.word()));
    }
    let advice = "write each heading over its own column, and run again before anything else is looked at";
    Suspicion {
        cause: Cause::SwappedColumns,
        readings: found.members.clone(),
        place,
        words,
        advice: advice.into(),
        gain,
    }
}

struct Speaker<'a> {
    tube: &'a Tube,
    groups: &'a Groups,
    shown: &'a [f64],
}

impl Speaker<'_> {
    fn sentence(&self, what: What) -> Phrase {
        self.place(what).words(" ").then(self.looks(what))
    }

    fn reading(&self, i: usize) -> Phrase {
        let r = &self.tube.readings[i];
        Phrase::new(format!("the {} at ", r.kind.word()))
            .length(r.z_mm, 1)
            .words(format!(", {:.0} deg", r.angle.wrapped().degrees()))
    }

    fn ring(&self, ring: usize) -> Phrase {
        let r = &self.groups.rings[ring];
        Phrase::new(format!("{} station ", r.kind.word())).length(r.z_mm, 1)
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

    fn span(&self, span: Span) -> Phrase {
        match span {
            Span::One(i) => self.reading(i),
            Span::Ring(r) => self.ring(r),
            Span::Set(s) => Phrase::new(self.set(s)),
        }
    }

    /// Where.
    fn place(&self, what: What) -> Phrase {
        match what {
            What::Slip { set, from, .. } => {
                let first = self.reading(self.groups.sets[set].members[from]);
                Phrase::new(format!("{} from ", self.set(set))).then(first).words(" on")
            }
            What::Swap(a, b) => self.ring(a).words(" and ").length(self.groups.rings[b].z_mm, 1),
            What::Decimal(i, _) | What::Alone(i) => self.reading(i),
            What::Unit(span, _) | What::Sign(span) => self.span(span),
            What::Turn(r, _) | What::PlaceInInches(r) => self.ring(r),
            What::TurnKind(r, _) => Phrase::new(format!("all {} readings", self.groups.rings[r].kind.word())),
        }
    }

    /// How it looks.
    fn looks(&self, what: What) -> Phrase {
        let with = |words: &str, i: usize, factor: f64| {
            let now = self.shown[i];
            Phrase::new(format!("{words} (")).length(now, 3).words(" for ").length(factor * now, 3).words(")")
        };
        match what {
            What::Slip { by_mm, .. } => Phrase::new("look ").change(by_mm, 3).words(" off, as if the zero had slipped"),
            What::Swap(..) => Phrase::new("look interchanged"),
            What::Decimal(i, factor) => with("looks like a slip of the decimal mark", i, factor),
            What::Unit(Span::One(i), factor) if factor > 1.0 => with("looks like inches in a mm column", i, factor),
            What::Unit(Span::One(i), factor) => with("looks like mm in an inch column", i, factor),
            What::Unit(_, factor) if factor > 1.0 => Phrase::new("looks like inches in a mm column"),
            What::Unit(..) => Phrase::new("looks like mm in an inch column"),
            What::Turn(r, forward) | What::TurnKind(r, forward) => {
                let ring = &self.groups.rings[r];
                let step = ring.step_deg.unwrap_or(0.0) * if forward { 1.0 } else { -1.0 };
                let n = ring.members.len();
                Phrase::new(match what {
                    What::Turn(..) => format!("has its {n} angles shifted by one step ({step:+.0} deg), it seems"),
                    _ => format!("look shifted by one step ({step:+.0} deg) against the other readings"),
                })
            }
            What::Sign(_) => Phrase::new("looks to have its sign reversed"),
            What::PlaceInInches(r) => {
                let z = self.groups.rings[r].z_mm;
                Phrase::new(format!("looks like {z:.2} inches, which is ")).length(z * MM_PER_INCH, 1)
            }
            What::Alone(_) => Phrase::new("is off for no known cause"),
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
